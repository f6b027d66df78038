package withhold

import (
	"math/rand/v2"
	"slices"
	"testing"
)

// crossed is a table of several ways with all its margins, and some counts
// of nearly all of a margin, whose difference stands nowhere.
func crossed(rng *rand.Rand, below int, sizes ...int) *System {
	s := &System{Below: below}
	type at = [3]int
	cells := map[at]int{}
	cell := func(n, loss int) int {
		s.Cells = append(s.Cells, Cell{Count: n, Shown: true, Printed: true, Loss: loss})
		return len(s.Cells) - 1
	}
	var fill func(way int, k at) int
	fill = func(way int, k at) int {
		if way == len(sizes) {
			i := cell(rng.IntN(4*below)*rng.IntN(2), 1+rng.IntN(3))
			cells[k] = i
			return s.Cells[i].Count
		}
		n := 0
		for c := range sizes[way] {
			k[way] = c + 1
			n += fill(way+1, k)
		}
		return n
	}
	fill(0, at{})
	// Margins: a way summed over has 0 in the place of its category.
	for way := range sizes {
		parts := map[at][]int{}
		var order []at
		for k := range cells {
			order = append(order, k)
		}
		slices.SortFunc(order, func(a, b at) int { return slices.Compare(a[:], b[:]) })
		for _, k := range order {
			m := k
			m[way] = 0
			parts[m] = append(parts[m], cells[k])
		}
		for _, k := range order {
			k[way] = 0
			if _, ok := cells[k]; ok {
				continue
			}
			n := 0
			for _, i := range parts[k] {
				n += s.Cells[i].Count
			}
			cells[k] = cell(n, 3)
			s.Relations = append(s.Relations, Relation{cells[k], parts[k]})
		}
	}
	for i, c := range s.Cells {
		if rest := rng.IntN(below); c.Count > 6*below && rest > 0 {
			part := cell(c.Count-rest, 2)
			s.Cells = append(s.Cells, Cell{Count: rest})
			s.Relations = append(s.Relations, Relation{i, []int{part, part + 1}})
		}
	}
	return s
}

// What Protect comes to is held against Interval, which starts anew each time:
// small counts that are not exposed are safe, and no count is withheld that
// could be shown.
func TestProtectWithholdsWhatIsNeeded(t *testing.T) {
	rng := rand.New(rand.NewPCG(6, 11))
	protected, needed := 0, 0
	for round := range 30 {
		s := crossed(rng, 3+rng.IntN(9), 3, 3, 2+rng.IntN(2))
		gone, exposed := s.Protect()
		var guarded []int
		for i, c := range s.Cells {
			if !c.Shown && s.sensitive(i) && !slices.Contains(exposed, i) {
				guarded = append(guarded, i)
			}
		}
		open := func() int {
			return slices.IndexFunc(guarded, func(i int) bool { return !s.safe(i) })
		}
		if k := open(); k >= 0 {
			low, high, _ := s.Interval(guarded[k])
			t.Fatalf("round %d: cell %d is %d to %d", round, guarded[k], low, high)
		}
		protected += len(guarded)
		for _, i := range gone {
			if s.sensitive(i) {
				continue
			}
			few := slices.ContainsFunc(s.Relations, func(r Relation) bool {
				sum := 0
				for _, k := range r.Parts {
					if !s.Cells[k].Shown && k != i {
						sum += s.Cells[k].Count
					}
				}
				return slices.Contains(r.Parts, i) && s.Cells[r.Whole].Shown && s.small(sum)
			})
			s.Cells[i].Shown = true
			if open() < 0 && !few {
				t.Errorf("round %d: cell %d is withheld and need not be", round, i)
			}
			s.Cells[i].Shown = false
			needed++
		}
	}
	t.Logf("%d protected, %d withheld for them", protected, needed)
	if protected < 100 || needed < 100 {
		t.Error("too little to protect")
	}
}
