package figure

import (
	"math"
	"sort"

	"gonum.org/v1/plot/vg"
)

// nudge moves marks that cover one another apart, none further than a few
// points from where it belongs.
func nudge(marks []limbSpot) {
	const far = 5.5
	for range 60 {
		moved := false
		for i := range marks {
			for k := range marks[:i] {
				a, b := &marks[i], &marks[k]
				dx, dy := float64(a.at.X-b.at.X), float64(a.at.Y-b.at.Y)
				gap := math.Hypot(dx, dy)
				over := float64(a.r+b.r)*1.08 - gap
				if over <= 0.05 {
					continue
				}
				if gap < 1e-6 {
					dx, dy, gap = 0, 1, 1
				}
				moved = true
				step := vg.Length(over / 2 / gap)
				a.at.X, a.at.Y = a.at.X+vg.Length(dx)*step, a.at.Y+vg.Length(dy)*step
				b.at.X, b.at.Y = b.at.X-vg.Length(dx)*step, b.at.Y-vg.Length(dy)*step
				for _, m := range []*limbSpot{a, b} {
					if off := math.Hypot(float64(m.at.X-m.home.X), float64(m.at.Y-m.home.Y)); off > far {
						k := vg.Length(far / off)
						m.at.X, m.at.Y = m.home.X+(m.at.X-m.home.X)*k, m.home.Y+(m.at.Y-m.home.Y)*k
					}
				}
			}
		}
		if !moved {
			return
		}
	}
}

// balance says which labels stand at the left: those of marks on the left
// half, and of the middle so many that the sides are about as full.
func balance(marks []limbSpot) {
	order := make([]int, len(marks))
	for i := range order {
		order[i] = i
	}
	sort.SliceStable(order, func(a, b int) bool { return marks[order[a]].at.X < marks[order[b]].at.X })
	var sum [2]vg.Length
	for _, i := range order {
		if !marks[i].fixed {
			marks[i].left = marks[i].at.X < -4
		}
		switch {
		case marks[i].left:
			sum[0] += marks[i].tall()
		case marks[i].fixed || marks[i].at.X > 4:
			sum[1] += marks[i].tall()
		}
	}
	// Those of the middle from above, each to the emptier side.
	sort.SliceStable(order, func(a, b int) bool { return marks[order[a]].at.Y > marks[order[b]].at.Y })
	for _, i := range order {
		if x := marks[i].at.X; x < -4 || x > 4 || marks[i].fixed {
			continue
		}
		marks[i].left = sum[0] < sum[1]
		if marks[i].left {
			sum[0] += marks[i].tall()
		} else {
			sum[1] += marks[i].tall()
		}
	}
}

// settle sets the labels of both sides, and moves those of marks near the
// middle to the other side while that keeps leaders clear of other marks and
// labels near to their marks.
func (c *limbCell) settle(tall vg.Length) {
	lay := func() float64 {
		c.height = max(tall, c.labels(true, tall), c.labels(false, tall))
		return c.trouble() + 2*float64(c.height-tall)
	}
	best := lay()
	for range 3 {
		better := false
		for i := range c.marks {
			m := &c.marks[i]
			if m.fixed || m.at.X < -c.edge/2 || m.at.X > c.edge/2 {
				continue
			}
			m.left = !m.left
			if now := lay(); now < best-1e-6 {
				best, better = now, true
			} else {
				m.left = !m.left
			}
		}
		if !better {
			break
		}
	}
	lay()
}

// trouble is how far the leaders run, and how many marks of others they meet.
func (c *limbCell) trouble() float64 {
	sum := 0.0
	for i, m := range c.marks {
		from := vg.Point{X: c.edge, Y: m.label}
		if m.left {
			from.X = -c.edge
		}
		sum += 0.3 * hypot(from.X-m.at.X, from.Y-m.at.Y)
		for k, o := range c.marks {
			if k != i && nearest(o.at, from, m.at) < float64(o.r) {
				sum += 25
			}
		}
	}
	return sum
}

// nearest is the distance of a point from a stretch of line.
func nearest(p, a, b vg.Point) float64 {
	dx, dy := float64(b.X-a.X), float64(b.Y-a.Y)
	t := 0.0
	if l := dx*dx + dy*dy; l > 0 {
		t = min(max((float64(p.X-a.X)*dx+float64(p.Y-a.Y)*dy)/l, 0), 1)
	}
	return math.Hypot(float64(p.X-a.X)-t*dx, float64(p.Y-a.Y)-t*dy)
}

// labels sets the labels of a side apart and returns the height they need.
func (c *limbCell) labels(left bool, tall vg.Length) vg.Length {
	var on []int
	var sum vg.Length
	for i, m := range c.marks {
		if m.left == left {
			on = append(on, i)
			sum += m.tall()
		}
	}
	if len(on) == 0 {
		return 0
	}
	high := max(tall, sum)
	slots := make([]slot, len(on))
	for k, i := range on {
		slots[k] = slot{want: c.marks[i].at.Y, height: c.marks[i].tall()}
	}
	x := c.edge
	if left {
		x = -c.edge
	}
	for range 40 {
		apart(slots, -tall-(high-tall)/2, (high-tall)/2)
		crossed := false
		for a := range on {
			for b := range a {
				p, q := c.marks[on[a]].at, c.marks[on[b]].at
				if crossing(vg.Point{X: x, Y: slots[a].at}, p, vg.Point{X: x, Y: slots[b].at}, q) {
					slots[a].want, slots[b].want = slots[b].at, slots[a].at
					crossed = true
					break
				}
			}
			if crossed {
				break
			}
		}
		if !crossed {
			break
		}
	}
	for k, i := range on {
		c.marks[i].label = slots[k].at
	}
	return high
}

// crossing says whether two stretches of line cross.
func crossing(a, b, c, d vg.Point) bool {
	turn := func(p, q, r vg.Point) float64 {
		return float64((q.X-p.X)*(r.Y-p.Y) - (q.Y-p.Y)*(r.X-p.X))
	}
	return turn(a, b, c)*turn(a, b, d) < 0 && turn(c, d, a)*turn(c, d, b) < 0
}
