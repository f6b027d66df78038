package withhold

import (
	"math/rand/v2"
	"slices"
	"testing"
)

// list is a total and its parts, all printed.
func list(below int, parts ...int) *System {
	s := &System{Below: below}
	total := 0
	r := Relation{Whole: 0}
	s.Cells = append(s.Cells, Cell{})
	for _, n := range parts {
		total += n
		r.Parts = append(r.Parts, len(s.Cells))
		s.Cells = append(s.Cells, Cell{Count: n, Shown: true, Printed: true, Loss: 1})
	}
	s.Cells[0] = Cell{Count: total, Shown: true, Printed: true, Loss: 5}
	s.Relations = []Relation{r}
	return s
}

func shown(s *System) []int {
	var out []int
	for i, c := range s.Cells {
		if !c.Shown {
			out = append(out, i)
		}
	}
	return out
}

func TestProtectLists(t *testing.T) {
	for _, c := range []struct {
		name  string
		parts []int
		gone  []int
	}{
		{"nothing small", []int{40, 30, 0}, nil},
		{"one small takes the next smallest", []int{50, 20, 4}, []int{2, 3}},
		{"two ones are known from their sum", []int{50, 1, 1, 20}, []int{2, 3, 4}},
		{"two tens are known from their sum", []int{50, 10, 10, 20}, []int{2, 3, 4}},
		{"five and six are not", []int{50, 5, 6, 20}, []int{2, 3}},
		{"few together though unknown apart", []int{50, 3, 4, 20}, []int{2, 3, 4}},
		{"zero hides nothing", []int{50, 0, 4}, []int{1, 3}},
	} {
		s := list(11, c.parts...)
		_, exposed := s.Protect()
		if got := shown(s); !slices.Equal(got, c.gone) || len(exposed) > 0 {
			t.Errorf("%s: withheld %v, want %v; exposed %v", c.name, got, c.gone, exposed)
		}
	}
	// Where nothing but the small one and its total is there, the total goes.
	s := list(11, 4)
	s.Protect()
	if got := shown(s); !slices.Equal(got, []int{0, 1}) {
		t.Errorf("a total of one part: withheld %v", got)
	}
}

// Two counts of nearly the same rows: their difference stands nowhere and is
// protected all the same, by a round number for the one with less to lose.
func TestProtectDifferences(t *testing.T) {
	s := &System{Below: 11, Cells: []Cell{
		{Count: 375, Shown: true, Printed: true, Loss: 9},
		{Count: 372, Shown: true, Printed: true, Loss: 2},
		{Count: 3},
	}, Relations: []Relation{{Whole: 0, Parts: []int{1, 2}}}}
	if low, high, ok := s.Interval(2); low != 3 || high != 3 || !ok {
		t.Errorf("before: %d to %d", low, high)
	}
	gone, exposed := s.Protect()
	if !slices.Equal(gone, []int{1}) || len(exposed) > 0 || !s.Cells[1].Coarse {
		t.Errorf("withheld %v, exposed %v, %+v", gone, exposed, s.Cells[1])
	}
	if low, high, ok := s.Interval(2); low != 1 || high != 10 || !ok {
		t.Errorf("after: %d to %d", low, high) // 370 stands for 365 to 374
	}
	// Where a round number would still tell, of 375 among 377 rows (about 380,
	// and so 375 to 384), it is the other that is given so, and 375 stays.
	s.Cells[0].Count, s.Cells[1].Count, s.Cells[1].Shown, s.Cells[2].Count = 377, 375, true, 2
	s.Cells[1].Coarse = false
	if gone, exposed = s.Protect(); !slices.Equal(gone, []int{0}) || len(exposed) > 0 || !s.Cells[0].Coarse || !s.Cells[1].Shown {
		t.Errorf("withheld %v, exposed %v: %+v", gone, exposed, s.Cells)
	}
	if low, high, ok := s.Interval(2); low != 0 || high != 9 || !ok {
		t.Errorf("375 of about 380 leaves %d to %d", low, high)
	}
}

// every lists the values that a cell can have, by trying them all.
func (s *System) every(i, most int) []int {
	var open []int
	for k, c := range s.Cells {
		if !c.Shown {
			open = append(open, k)
		}
	}
	at := map[int]int{}
	seen := map[int]bool{}
	var try func(k int)
	try = func(k int) {
		if k == len(open) {
			for _, r := range s.Relations {
				sum := 0
				for n, c := range append([]int{r.Whole}, r.Parts...) {
					x := s.Cells[c].Count
					if !s.Cells[c].Shown {
						x = at[c]
					}
					if n == 0 {
						x = -x
					}
					sum += x
				}
				if sum != 0 {
					return
				}
			}
			seen[at[i]] = true
			return
		}
		low, high := s.bounds(open[k])
		if high == 0 {
			high = most
		}
		for x := low; x <= high; x++ {
			at[open[k]] = x
			try(k + 1)
		}
	}
	try(0)
	var out []int
	for x := range seen {
		out = append(out, x)
	}
	slices.Sort(out)
	return out
}

// TestIntervalAgainstEveryValue holds the interval against all values tried
// one by one, on two-way tables with margins.
func TestIntervalAgainstEveryValue(t *testing.T) {
	rng := rand.New(rand.NewPCG(2, 7))
	wider := 0
	for round := range 200 {
		s := &System{Below: 4}
		rows, cols := 2+rng.IntN(2), 2+rng.IntN(2)
		grid := make([][]int, rows)
		cell := func(n int) int {
			s.Cells = append(s.Cells, Cell{Count: n, Shown: n == 0 || rng.IntN(5) > 1, Printed: true, Loss: 1 + rng.IntN(3)})
			return len(s.Cells) - 1
		}
		for r := range grid {
			for range cols {
				grid[r] = append(grid[r], cell(rng.IntN(6)))
			}
		}
		sum := func(parts []int) {
			n := 0
			for _, i := range parts {
				n += s.Cells[i].Count
			}
			whole := cell(n)
			s.Cells[whole].Shown = true
			s.Relations = append(s.Relations, Relation{whole, parts})
		}
		for r := range grid {
			sum(grid[r])
		}
		for c := range cols {
			var parts []int
			for r := range grid {
				parts = append(parts, grid[r][c])
			}
			sum(parts)
		}
		if len(shown(s)) > 5 {
			continue
		}
		for _, i := range shown(s) {
			want := s.every(i, 11)
			low, high, bounded := s.Interval(i)
			if len(want) == 0 {
				t.Fatalf("round %d: no value fits", round)
			}
			if !bounded || low > want[0] || high < want[len(want)-1] {
				t.Fatalf("round %d: %d to %d (%v), values %v", round, low, high, bounded, want)
			}
			if low < want[0] || high > want[len(want)-1] {
				wider++
			}
		}
		// Once protected, trying every value finds enough of them.
		_, exposed := s.Protect()
		if len(shown(s)) > 5 {
			continue
		}
		for _, i := range shown(s) {
			if s.sensitive(i) && !slices.Contains(exposed, i) && len(s.every(i, 12)) < Width(4) {
				t.Fatalf("round %d: cell %d can only be %v", round, i, s.every(i, 12))
			}
		}
	}
	if wider > 0 {
		t.Errorf("%d intervals are wider than they need be", wider)
	}
}

func TestCoarsen(t *testing.T) {
	for _, c := range []struct{ below, step int }{{11, 10}, {6, 5}, {5, 5}, {2, 5}, {16, 20}, {40, 50}, {3, 5}} {
		if got := Step(c.below); got != c.step {
			t.Errorf("below %d: step %d, want %d", c.below, got, c.step)
		}
	}
	if n, ok := Coarsen(365, 11); n != 370 || !ok {
		t.Error(n, ok)
	}
	if _, ok := Coarsen(49, 11); ok {
		t.Error("49 is said by a round number")
	}
}
