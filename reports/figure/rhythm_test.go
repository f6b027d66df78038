package figure

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"
)

// sampleRhythm is a curve over working hours or the year, with means of its
// parts or with values of 20 limbs.
func sampleRhythm(c Cycle, limbs bool) RhythmSpec {
	r := rand.New(rand.NewPCG(9, 1))
	lo, hi, step := 8.0, 17.0, 2.0
	if c == Year {
		lo, hi, step = 0, 12, 1
	}
	curve := func(x float64) float64 { return 0.8 * math.Cos(2*math.Pi*(x-c.Length()/3)/c.Length()) }
	s := RhythmSpec{ID: "rhythm", Cycle: c, YAxis: "Comfort, difference from the average", YUnit: "of 10"}
	for k := range 61 {
		x := lo + (hi-lo)*float64(k)/60
		s.Line = append(s.Line, BandPoint{x, curve(x), curve(x) - 0.2, curve(x) + 0.2})
	}
	for x := lo + step/2; x < hi; x += step {
		y := curve(x) + 0.15*r.NormFloat64()
		s.Parts = append(s.Parts, BandPoint{x, y, y - 0.3, y + 0.3})
	}
	if !limbs {
		return s
	}
	s.Parts = nil
	for range 20 {
		var p Path
		for x := lo + 2*r.Float64(); x < hi; x += 3 * r.Float64() {
			p.Points = append(p.Points, XY{x, curve(x) + 0.6*r.NormFloat64()})
		}
		s.Paths = append(s.Paths, p)
	}
	return s
}

func TestCycleWords(t *testing.T) {
	for _, c := range []struct {
		cycle Cycle
		at    float64
		want  string
	}{
		{Day, 9.5, "9:30"}, {Day, 24, "0:00"}, {Day, 26.25, "2:15"}, {Day, -1, "23:00"}, {Day, 23.9999, "0:00"},
		{Year, 0, "early January"}, {Year, 6.5, "mid-July"}, {Year, 11.9, "late December"}, {Year, 12.5, "mid-January"}, {Year, -0.2, "late December"},
	} {
		if got := c.cycle.Words(c.at); got != c.want {
			t.Errorf("%g is %q, want %q", c.at, got, c.want)
		}
	}
}

// Hours and months stand at the axis, across midnight too, and none overlaps.
func TestCycleAxis(t *testing.T) {
	for _, c := range []struct {
		cycle  Cycle
		lo, hi float64
		n      int
		want   string
	}{
		{Day, 8, 16, 8, "8:00 9:00 10:00 11:00 12:00 13:00 14:00 15:00 16:00"},
		{Day, 0, 24, 6, "0:00 4:00 8:00 12:00 16:00 20:00 0:00"},
		{Day, 21, 31, 5, "22:00 0:00 2:00 4:00 6:00"},
		{Year, 0, 12, 8, "Jan Feb Mar Apr May Jun Jul Aug Sep Oct Nov Dec"},
		{Year, 0, 12, 3, "Jan Mar May Jul Sep Nov"},
		{Year, 10, 14, 8, "Nov Dec Jan Feb"},
	} {
		if got := strings.Join(labels(c.cycle.ticks(c.lo, c.hi, c.n)), " "); got != c.want {
			t.Errorf("from %g to %g: %s, want %s", c.lo, c.hi, got, c.want)
		}
	}
	if lo, hi := Day.range0(9, 9); lo != 9 || hi != 10 {
		t.Errorf("one hour: %g to %g", lo, hi)
	}
}

func ExampleRhythm() {
	f := Rhythm(sampleRhythm(Year, true))
	fmt.Println(f.Description)
	fmt.Println(Rhythm(RhythmSpec{Points: []XY{{math.NaN(), 1}}}).Description)
	// Output:
	// Comfort, difference from the average by month of the year: 166 values; the curve is highest in early May (0.80 of 10) and lowest in early November (−0.80 of 10).
	// There are no values to draw.
}
