package survival

import "math"

// place puts the rows in the order of the sweep, and makes its bins. of is the
// pattern of each row; nil: each place is its own. Whole
// times that span little more than there are rows, as days do, are counted
// into their places; others are sorted.
func (f *coxFast) place(of []int32) {
	m := f.m
	f.where, f.rows, f.code = make([]rowPlace, m.n), make([]int32, m.n), make([]int32, m.n)
	bin, bins := f.binOfWhole()
	if bin == nil {
		bin, bins = f.binOfAny()
	}
	// Rows of each bin, with the event and without, of each half of the data.
	var counts [2][]int32
	both(m.n, func(half, lo, hi int) {
		c := make([]int32, 2*bins)
		for i := lo; i < hi; i++ {
			k := 2 * bin[i]
			if !m.data.Event[i] {
				k++
			}
			c[k]++
		}
		counts[half] = c
	})
	number := make([]uint32, bins) // of the bins that hold rows
	at := int32(0)
	for b := range bins {
		events, others := counts[0][2*b]+counts[1][2*b], counts[0][2*b+1]+counts[1][2*b+1]
		if events+others == 0 {
			continue
		}
		number[b] = uint32(len(f.bins))
		f.bins = append(f.bins, coxBin{lo: at, mid: at + events, hi: at + events + others, tied: -1})
		for _, k := range []int{2 * b, 2*b + 1} {
			counts[0][k], counts[1][k], at = at, at+counts[0][k], at+counts[0][k]+counts[1][k]
		}
	}
	if len(m.data.Weight) > 0 {
		f.w = make([]float64, m.n)
	}
	both(m.n, func(half, lo, hi int) {
		next := counts[half]
		for i := lo; i < hi; i++ {
			b, none := bin[i], uint32(0)
			if !m.data.Event[i] {
				none = 1
			}
			c := 2*b + int32(none)
			k := next[c]
			next[c]++
			q := k
			if of != nil {
				q = of[i]
			}
			f.rows[k], f.code[k] = int32(i), q
			f.where[i] = rowPlace{q, 2*number[b] + none}
			if f.w != nil {
				f.w[k] = m.data.Weight[i]
			}
		}
	})
	if m.stratum != nil {
		for b := range f.bins {
			f.bins[b].stratum = m.stratum[f.rows[f.bins[b].lo]]
		}
	}
}

// binOfWhole numbers bins by stratum, latest time first, some of them empty;
// nil where the times are not whole or span too much.
func (f *coxFast) binOfWhole() (bin []int32, bins int) {
	m := f.m
	var from, to [2]float64
	var whole [2]bool
	both(m.n, func(half, lo, hi int) {
		a, b, w := math.Inf(1), math.Inf(-1), true
		for _, t := range m.data.Time[lo:hi] {
			if t != math.Trunc(t) {
				w = false
				break
			}
			a, b = min(a, t), max(b, t)
		}
		from[half], to[half], whole[half] = a, b, w
	})
	first, last := min(from[0], from[1]), max(to[0], to[1])
	if width := (last - first + 1) * float64(len(m.blocks)); !whole[0] || !whole[1] || width > float64(2*m.n+1024) {
		return nil, 0
	}
	bin = make([]int32, m.n)
	width := int32(last - first + 1)
	both(m.n, func(_, lo, hi int) {
		for i := lo; i < hi; i++ {
			bin[i] = int32(last - m.data.Time[i])
			if m.stratum != nil {
				bin[i] += m.stratum[i] * width
			}
		}
	})
	return bin, int(width) * len(m.blocks)
}

// binOfAny numbers bins by stratum, latest time first.
func (f *coxFast) binOfAny() (bin []int32, bins int) {
	m := f.m
	by := sortedPlaces(m.n, func(i int) float64 { return -m.data.Time[i] })
	if m.stratum != nil {
		next := make([]int32, len(m.blocks)+1)
		for _, s := range m.stratum {
			next[s+1]++
		}
		for s := range m.blocks {
			next[s+1] += next[s]
		}
		sorted := make([]int32, m.n)
		for _, i := range by {
			s := m.stratum[i]
			sorted[next[s]] = i
			next[s]++
		}
		by = sorted
	}
	bin = make([]int32, m.n)
	for k, i := range by {
		if k > 0 && (m.data.Time[i] != m.data.Time[by[k-1]] || m.blockOf(int(i)) != m.blockOf(int(by[k-1]))) {
			bins++
		}
		bin[i] = int32(bins)
	}
	return bin, bins + 1
}
