// Package withhold says which counts of a report have to be withheld so
// that small ones, withheld themselves, cannot be worked out from the others:
// by taking one from another, or by solving what is known of all together.
// It knows counts and how they add up, and nothing of where they stand.
//
// The rule is the one known for tables of counts as interval protection:
// whoever knows every count that is shown, how the counts add up, that counts
// are whole and not negative, and what is said of those withheld, must be
// left with a choice of several values for each small count (Willenborg L,
// de Waal T. Elements of statistical disclosure control. New York: Springer;
// 2001, chapters 4 and 6; Fischetti M, Salazar JJ. Solving the cell
// suppression problem on tabular data with linear constraints. Management
// Science 2001; 47: 1008-1027). Which further counts are withheld is settled
// step by step, the least loss first, and not by the exact search of the
// latter paper: no more is promised than that what is left is safe.
package withhold

import (
	"cmp"
	"slices"
)

// Cell is a number of rows that a report tells, withholds or implies.
type Cell struct {
	Count int
	// Shown: printed or written somewhere. A cell that is not shown may
	// still be known from others.
	Shown bool
	// Printed cells say something where they are withheld: one of 1 to
	// below-1 that it is such, another one that it is not, or about how many
	// it is. The others are differences that stand nowhere.
	Printed bool
	// Loss is what withholding the cell costs, in any unit; above 0.
	Loss int
	// Guarded: to be protected though the count is not small, since with
	// what is known from elsewhere it tells of few.
	Guarded bool
	// Coarse: withheld by a round number (see Coarsen), not altogether.
	Coarse bool
	// Low and High are bounds known from elsewhere; High 0 is none.
	Low, High int
}

// Relation says that the cell Whole is the sum of the cells Parts.
type Relation struct {
	Whole int
	Parts []int
}

// System is what is known of all counts of a report together.
type System struct {
	Below     int // counts of 1 to Below-1 are small
	Cells     []Cell
	Relations []Relation

	around [][]int // see neighbours
	known  int
}

// Width is how many values have to stay open for a small count: half of the
// numbers 1 to below-1, and at least 2. Two alone would let a reader say "3 or
// 4 persons" where a rule against counts below 11 is meant to leave him with
// "a few"; all of them would withhold what protects nobody, since whether a
// count is 1 to 5 or 6 to 10 tells of no person. Zero need not be among them:
// zero is shown where it is true, so that a count withheld is known not to be.
func Width(below int) int { return max(2, below/2) }

// Step is the unit of round numbers for withheld counts: the least of 5, 10,
// 20, 50, 100, ... that covers all small counts, so that a difference of few
// is not told by it.
func Step(below int) int {
	for k := 1; ; k *= 10 {
		for _, m := range []int{5, 10, 20} {
			if m*k >= below-1 {
				return m * k
			}
		}
	}
}

// Coarsen is a count to the nearest Step, halves up; false for counts that
// are too few to be said so (under five steps).
func Coarsen(count, below int) (int, bool) {
	s := Step(below)
	if count < 5*s {
		return 0, false
	}
	return (count + s/2) / s * s, true
}

func (s *System) small(n int) bool { return n > 0 && n < s.Below }

// sensitive says whether a cell has to be protected.
func (s *System) sensitive(i int) bool { return s.small(s.Cells[i].Count) || s.Cells[i].Guarded }

// bounds are what is said of a cell that is not shown.
func (s *System) bounds(i int) (low, high int) {
	c := s.Cells[i]
	low, high = c.Low, c.High
	upTo := func(n int) {
		if high == 0 || n < high {
			high = n
		}
	}
	if !c.Printed {
		return low, high
	}
	if s.small(c.Count) {
		upTo(s.Below - 1)
		return max(low, 1), high
	}
	low = max(low, s.Below)
	if c.Coarse {
		if about, ok := Coarsen(c.Count, s.Below); ok {
			low = max(low, about-Step(s.Below)/2)
			upTo(about + (Step(s.Below)-1)/2)
		}
	}
	return low, high
}

// Interval is what a reader can work out of a cell: every whole number that
// it can be lies between low and high, ends included. bounded is false where
// nothing holds it from above.
func (s *System) Interval(i int) (low, high int, bounded bool) {
	if s.Cells[i].Shown {
		return s.Cells[i].Count, s.Cells[i].Count, true
	}
	p := s.part(i)
	v := p.of[i]
	low, high, bounded = p.low[v], p.high[v], p.high[v] >= 0
	if bounded && high-low+1 < Width(s.Below) {
		return low, high, bounded
	}
	return p.solve(v)
}

// safe says whether a cell that has to be protected is.
func (s *System) safe(i int) bool {
	low, high, bounded := s.Interval(i)
	return !bounded || high-low+1 >= Width(s.Below)
}

// Protect withholds cells until every small one is safe, and those of one sum
// that are withheld are not few together. It returns the cells that it
// withheld, in order, and those that stay exposed though all around them is
// withheld.
func (s *System) Protect() (withheld, exposed []int) {
	hide := func(i int) {
		if s.Cells[i].Shown {
			s.Cells[i].Shown = false
			_, s.Cells[i].Coarse = Coarsen(s.Cells[i].Count, s.Below)
			withheld = append(withheld, i)
		} else {
			s.Cells[i].Coarse = false
		}
	}
	for i := range s.Cells {
		if s.sensitive(i) {
			hide(i)
		}
	}
	// Withholding leaves a reader with more choices, never fewer: once safe, a
	// cell stays so, and each is looked at once.
	for i := range s.Cells {
		if s.Cells[i].Shown || !s.sensitive(i) {
			continue
		}
		for !s.safe(i) {
			next := s.next(i)
			if next < 0 {
				exposed = append(exposed, i)
				break
			}
			hide(next)
		}
	}
	// Where sums lie over each other, what was withheld first may no longer be
	// needed.
	again := slices.Clone(withheld)
	slices.SortStableFunc(again, func(i, k int) int { return -s.compare(i, k) })
	var guarded []int
	for i := range s.Cells {
		if s.sensitive(i) && !slices.Contains(exposed, i) {
			guarded = append(guarded, i)
		}
	}
	known := proofs{}
	for _, i := range again {
		s.restore(i, guarded, known)
	}
	withheld = slices.DeleteFunc(withheld, func(i int) bool { return s.Cells[i].Shown })
	for _, r := range s.Relations {
		for next := s.few(r); next >= 0; next = s.few(r) {
			hide(next)
		}
	}
	return withheld, exposed
}

// restore shows a withheld cell again, or gives its round number, if every
// guarded cell stays safe, as it is.
func (s *System) restore(i int, guarded []int, known proofs) {
	c := s.Cells[i]
	if s.sensitive(i) {
		return
	}
	p := s.part(i)
	var near []int
	for _, k := range guarded {
		if _, in := p.of[k]; in {
			near = append(near, k)
		}
	}
	s.Cells[i].Shown = true
	if s.stillSafe(near, i, known) {
		return
	}
	s.Cells[i] = c
	if _, ok := Coarsen(c.Count, s.Below); ok && !c.Coarse {
		s.Cells[i].Coarse = true
		if !s.stillSafe(near, i, known) {
			s.Cells[i] = c
		}
	}
}

// few gives a part to withhold where the withheld parts of a sum are small
// together though none need be by itself; -1 where they are not, or nothing
// is left to withhold.
func (s *System) few(r Relation) int {
	if !s.Cells[r.Whole].Shown {
		return -1
	}
	sum, n, next := 0, 0, -1
	for _, i := range r.Parts {
		c := s.Cells[i]
		switch {
		case !c.Shown:
			sum, n = sum+c.Count, n+1
		case c.Count > 0 && (next < 0 || s.cheaper(i, next)):
			next = i
		}
	}
	if n < 2 || !s.small(sum) {
		return -1
	}
	if next < 0 {
		return r.Whole
	}
	return next
}

// cheaper orders cells by what is lost with them.
func (s *System) cheaper(i, k int) bool {
	a, b := s.Cells[i], s.Cells[k]
	return cmp.Or(cmp.Compare(a.Loss, b.Loss), cmp.Compare(a.Count, b.Count), cmp.Compare(i, k)) < 0
}

// next is the cell to withhold next where cell i is not safe: of those shown
// that stand in a sum with it the one with the least loss; where there is
// none, one that stands in a sum with a withheld one that does, and so on.
// Where all are withheld, a round number is withheld altogether.
func (s *System) next(i int) int {
	around := s.neighbours()
	seen := map[int]bool{i: true}
	ring := []int{i}
	var coarse []int
	for len(ring) > 0 {
		var found, further []int
		for _, a := range ring {
			for _, k := range around[a] {
				r := s.Relations[k]
				for _, b := range append([]int{r.Whole}, r.Parts...) {
					if seen[b] {
						continue
					}
					seen[b] = true
					switch c := s.Cells[b]; {
					case c.Shown && c.Count > 0:
						found = append(found, b)
					case !c.Shown:
						further = append(further, b)
						if c.Coarse {
							coarse = append(coarse, b)
						}
					}
				}
			}
		}
		for _, some := range [][]int{found, coarse} {
			if len(some) > 0 {
				return slices.MinFunc(some, s.compare)
			}
		}
		ring = further
	}
	return -1
}

func (s *System) compare(i, k int) int {
	if s.cheaper(i, k) {
		return -1
	}
	return 1
}
