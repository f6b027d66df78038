package withhold

import "slices"

// equation says that the unknowns, each with its sign, add up to right.
type equation struct {
	terms []term
	right int
}

type term struct{ unknown, sign int }

// part is what hangs together with one unknown: the unknowns of a system that
// are tied to it by sums, with the sums left of them once what is shown has
// been put in.
type part struct {
	of   map[int]int // cell to unknown
	low  []int
	high []int // -1: nothing holds it
	sums []equation
}

// part gathers the unknowns around a cell.
func (s *System) part(i int) *part {
	p := &part{of: map[int]int{}}
	add := func(c int) {
		if _, ok := p.of[c]; ok || s.Cells[c].Shown {
			return
		}
		low, high := s.bounds(c)
		if high == 0 {
			high = -1
		}
		p.of[c] = len(p.low)
		p.low, p.high = append(p.low, low), append(p.high, high)
	}
	add(i)
	used := make([]bool, len(s.Relations))
	for again := true; again; {
		again = false
		for k, r := range s.Relations {
			if used[k] {
				continue
			}
			cells := append([]int{r.Whole}, r.Parts...)
			if !slices.ContainsFunc(cells, func(c int) bool { _, ok := p.of[c]; return ok }) {
				continue
			}
			used[k], again = true, true
			var e equation
			for n, c := range cells {
				sign := -1
				if n == 0 {
					sign = 1
				}
				if s.Cells[c].Shown {
					e.right -= sign * s.Cells[c].Count
					continue
				}
				add(c)
				e.terms = append(e.terms, term{p.of[c], sign})
			}
			p.sums = append(p.sums, e)
		}
	}
	return p
}

// narrow draws the bounds in as far as each sum by itself does.
func (p *part) narrow() {
	for again, round := true, 0; again && round < mostRounds; round++ {
		again = false
		for _, e := range p.sums {
			for _, t := range e.terms {
				again = p.tighten(e, t) || again
			}
		}
	}
}

// mostRounds ends a drawing in that goes on by ones; what it comes to is not
// wrong for that, only wider.
const mostRounds = 200

// tighten draws in the bounds of one unknown by what a sum leaves for it.
func (p *part) tighten(e equation, t term) bool {
	least, most, noLeast, noMost := 0, 0, false, false // of the others
	for _, o := range e.terms {
		switch {
		case o.unknown == t.unknown:
		case o.sign > 0:
			least += p.low[o.unknown]
			noMost = noMost || p.high[o.unknown] < 0
			most += p.high[o.unknown]
		default:
			most -= p.low[o.unknown]
			noLeast = noLeast || p.high[o.unknown] < 0
			least -= p.high[o.unknown]
		}
	}
	low, high := e.right-most, e.right-least
	noLow, noHigh := noMost, noLeast
	if t.sign < 0 {
		low, high, noLow, noHigh = -high, -low, noHigh, noLow
	}
	changed := false
	if v := t.unknown; !noLow && low > p.low[v] {
		p.low[v], changed = low, true
	}
	if v := t.unknown; !noHigh && (p.high[v] < 0 || high < p.high[v]) {
		p.high[v], changed = max(0, high), true
	}
	return changed
}
