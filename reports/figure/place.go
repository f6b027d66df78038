package figure

import (
	"sort"

	"gonum.org/v1/plot/vg"
)

// slot is something of a height that wants to stand at a place along a line.
type slot struct {
	want   vg.Length // centre wanted
	height vg.Length
	at     vg.Length // centre given
}

// apart moves the slots so that none overlaps within [lo, hi], each as near
// as it can to where it wants to be: overlapping neighbours are merged into
// one run centred on the mean of their wishes. It reports false where the
// slots are higher together than the room; they are then packed from lo.
func apart(slots []slot, lo, hi vg.Length) bool {
	order := make([]int, len(slots))
	var total vg.Length
	for i := range slots {
		order[i] = i
		total += slots[i].height
	}
	sort.SliceStable(order, func(a, b int) bool { return slots[order[a]].want < slots[order[b]].want })
	if total > hi-lo+1e-6 {
		y := lo
		for _, i := range order {
			slots[i].at = y + slots[i].height/2
			y += slots[i].height
		}
		return false
	}
	type run struct {
		first, last int
		height      vg.Length
		wish        vg.Length // sum of the wished lower ends, each shifted to the run's start
		low         vg.Length
	}
	settle := func(r *run) {
		r.low = r.wish / vg.Length(r.last-r.first+1)
		r.low = min(max(r.low, lo), hi-r.height)
	}
	var runs []run
	for k, i := range order {
		r := run{first: k, last: k, height: slots[i].height, wish: slots[i].want - slots[i].height/2}
		settle(&r)
		for len(runs) > 0 {
			p := runs[len(runs)-1]
			if p.low+p.height <= r.low+1e-9 {
				break
			}
			r = run{first: p.first, last: r.last, height: p.height + r.height,
				wish: p.wish + r.wish - p.height*vg.Length(r.last-r.first+1)}
			settle(&r)
			runs = runs[:len(runs)-1]
		}
		runs = append(runs, r)
	}
	for _, r := range runs {
		y := r.low
		for k := r.first; k <= r.last; k++ {
			i := order[k]
			slots[i].at = y + slots[i].height/2
			y += slots[i].height
		}
	}
	return true
}

// rect is a stretch of the page that a mark takes.
type rect struct{ x0, y0, x1, y1 vg.Length }

func (r rect) meets(o rect) bool {
	return r.x0 < o.x1 && o.x0 < r.x1 && r.y0 < o.y1 && o.y0 < r.y1
}

func meetsAny(r rect, others []rect) bool {
	for _, o := range others {
		if r.meets(o) {
			return true
		}
	}
	return false
}
