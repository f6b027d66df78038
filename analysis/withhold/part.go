package withhold

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
	of    map[int]int // cell to unknown
	cells []int       // of the unknowns
	low   []int
	high  []int // -1: nothing holds it
	truth []int
	sums  []equation
}

// neighbours gives the relations in which each cell stands.
func (s *System) neighbours() [][]int {
	if s.around != nil && s.known == len(s.Relations) {
		return s.around
	}
	s.around, s.known = make([][]int, len(s.Cells)), len(s.Relations)
	for k, r := range s.Relations {
		s.around[r.Whole] = append(s.around[r.Whole], k)
		for _, i := range r.Parts {
			s.around[i] = append(s.around[i], k)
		}
	}
	return s.around
}

// part gathers the unknowns around a cell, and draws their bounds in as far
// as each sum by itself does.
func (s *System) part(i int) *part {
	around := s.neighbours()
	p := &part{of: map[int]int{}}
	add := func(c int) int {
		v, ok := p.of[c]
		if !ok {
			low, high := s.bounds(c)
			if high == 0 {
				high = -1
			}
			v = len(p.cells)
			p.of[c] = v
			p.cells, p.truth = append(p.cells, c), append(p.truth, s.Cells[c].Count)
			p.low, p.high = append(p.low, low), append(p.high, high)
		}
		return v
	}
	add(i)
	used := map[int]bool{}
	for next := 0; next < len(p.cells); next++ {
		for _, k := range around[p.cells[next]] {
			if used[k] {
				continue
			}
			used[k] = true
			r := s.Relations[k]
			var e equation
			put := func(c, sign int) {
				if s.Cells[c].Shown {
					e.right -= sign * s.Cells[c].Count
					return
				}
				e.terms = append(e.terms, term{add(c), sign})
			}
			put(r.Whole, 1)
			for _, c := range r.Parts {
				put(c, -1)
			}
			p.sums = append(p.sums, e)
		}
	}
	p.narrow()
	return p
}

// narrow draws the bounds in.
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
