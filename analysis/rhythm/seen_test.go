package rhythm

import (
	"math"
	"testing"
)

func TestSeen(t *testing.T) {
	repeat := func(n int, xs ...float64) []float64 {
		var out []float64
		for range n {
			out = append(out, xs...)
		}
		return out
	}
	for _, c := range []struct {
		name            string
		x               []float64
		count, distinct int
		from, to        float64
		whole           bool
	}{
		{"working hours", repeat(5, 8, 10.5, 13, 16.25), 4, 4, 8, 16.25, false},
		{"one visit at night", append(repeat(5, 8, 10.5, 13), 2), 3, 4, 8, 13, false},
		{"across midnight", repeat(3, 22.5, 0.5, 3), 3, 3, 22.5, 27, false},
		{"round the clock", repeat(2, 1, 3, 5, 7, 9, 11, 13, 15, 17, 19, 21, 23), 12, 12, 0, 24, true},
		{"a turn on", repeat(2, 25, 32), 2, 2, 1, 8, false},
		{"each time once", []float64{1, 9, 17}, 0, 3, 0, 0, false},
		{"none", nil, 0, 0, 0, 0, false},
		{"one time", repeat(9, 9), 1, 1, 9, 9, false},
	} {
		s := SeenOf(c.x, 24)
		if s.Count != c.count || s.Distinct != c.distinct || s.Arc.Whole != c.whole || math.Abs(s.Arc.From-c.from) > 1e-12 || math.Abs(s.Arc.To-c.to) > 1e-12 {
			t.Errorf("%s: %+v", c.name, s)
		}
	}
	// A part with less than one row in a hundred is not seen.
	if s := SeenOf(append(repeat(200, 8, 10.5, 13), 20, 20, 20), 24); s.Count != 3 || s.Rows[10] != 3 {
		t.Errorf("rare: %+v", s)
	}
	a := Arc{From: 22, To: 30}
	if !a.Holds(2, 24) || a.Holds(12, 24) || a.In(2, 24) != 26 || a.In(23, 24) != 23 || !(Arc{Whole: true}).Holds(12, 24) {
		t.Errorf("arc across midnight: %g %g", a.In(2, 24), a.In(23, 24))
	}
	for _, x := range []float64{-1e-300, 24, 48, -24} {
		if p := PartOf(x, 24); p != 0 {
			t.Errorf("part of %g is %d", x, p)
		}
	}
}
