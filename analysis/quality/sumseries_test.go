package quality

import (
	"errors"
	"fmt"
	"math"
	"testing"
)

type seriesWant struct {
	Series []struct {
		Chance, Limits, Reached []float64
		Cases, Learnt           int
		Odds                    float64
	}
}

func alike(p float64, n int) SumSeries {
	return SumSeries{Chance: repeat(p, n), Strata: make([]int, n)}
}

// How often sums come to given limits within a series in which nothing has
// changed: exactly, or with chances learnt from the first cases by 100,000
// draws, R 4.2.2 (testdata/published/cumulative_sum).
func TestAlarmsOfASeriesAgainstR(t *testing.T) {
	var want seriesWant
	expected(t, "cumulative_sum", &want)
	if len(want.Series) != 5 {
		t.Fatalf("%d series", len(want.Series))
	}
	for _, w := range want.Series {
		s := alike(w.Chance[0], w.Cases)
		s.Learnt = w.Learnt
		got, err := s.Alarms(w.Odds, [2]float64{w.Limits[0], w.Limits[1]}, 1)
		if err != nil {
			t.Fatal(err)
		}
		// Three standard errors of 20,000 series, and of R's 100,000 where it drew.
		for k, x := range []float64{got.More, got.Fewer, got.Either}[:len(w.Reached)] {
			if tol := 3.5 * math.Sqrt(w.Reached[k]*(1-w.Reached[k])/20000); math.Abs(x-w.Reached[k]) > tol {
				t.Errorf("%v of %d, learnt from %d, %d: %g, want %g within %g", w.Chance, w.Cases, w.Learnt, k, x, w.Reached[k], tol)
			}
		}
	}
}

// Limits leave either sum a chance of at most the share asked for, and come
// near it where the cases are many.
func TestLimitsOfASeries(t *testing.T) {
	for _, c := range []struct {
		s    SumSeries
		near bool
	}{
		{alike(0.3, 215), true},
		{SumSeries{Chance: repeat(0.3, 215), Strata: make([]int, 215), Learnt: 80}, true},
		{SumSeries{Chance: repeat(0.3, 215), Learnt: 80}, true}, // by a shift of log odds, which is the same
		{alike(0.02, 100), false}, // too few events for the one side
		{alike(0.9, 60), false},
	} {
		limits, err := c.s.Limits(2, 0.05, 1)
		if err != nil {
			t.Fatal(err)
		}
		for seed := range uint64(3) {
			got, err := c.s.Alarms(2, limits, seed+1)
			if err != nil {
				t.Fatal(err)
			}
			what := fmt.Sprintf("%g of %d, learnt from %d: limits %v, %+v", c.s.Chance[0], len(c.s.Chance), c.s.Learnt, limits, got)
			// Of another seed within three and a half standard errors of both.
			if slack := map[bool]float64{true: 1e-12, false: 0.0076}[seed == 0]; got.Either > 0.05+slack {
				t.Error(what)
			}
			if c.near && (got.Either < 0.04 || got.More < 0.015 || got.Fewer < 0.015) {
				t.Errorf("too far from what was asked for: %s", what)
			}
		}
	}
	a, _ := SumSeries{Chance: repeat(0.3, 100), Strata: make([]int, 100), Learnt: 50}.Limits(2, 0.05, 3)
	b, _ := SumSeries{Chance: repeat(0.3, 100), Learnt: 50}.Limits(2, 0.05, 3)
	for k := range a {
		near(t, "learnt as a share and by a shift", a[k], b[k], 1e-4)
	}
	// What is learnt from few cases is known worse, so that limits are higher.
	given, _ := alike(0.3, 215).Limits(2, 0.05, 1)
	learnt, _ := SumSeries{Chance: repeat(0.3, 215), Strata: make([]int, 215), Learnt: 40}.Limits(2, 0.05, 1)
	if learnt[0] <= given[0] || learnt[1] <= given[1] {
		t.Errorf("limits of %v where the chances are learnt, %v where given", learnt, given)
	}
	// No event among so few is nothing out of the common: no limit can be reached.
	few := alike(0.02, 100)
	limits, _ := few.Limits(2, 0.05, 1)
	if top := few.Highest(2); limits[1] <= top[1] || limits[0] >= top[0] {
		t.Errorf("limits %v, at most %v", limits, top)
	}
	near(t, "no event", few.Highest(2)[1], -100*math.Log(0.99), 1e-9)
}

func TestLearntShares(t *testing.T) {
	got := LearntShares([]bool{true, false, false, false, false, true}, []int{0, 0, 1, 1, 2, 0}, 4)
	for i, want := range []float64{0.5, 0.5, 0.25 / 3, 0.25 / 3, 0.25, 0.5} {
		near(t, fmt.Sprint("case ", i), got[i], want, 1e-12)
	}
}

func TestSumSeriesRefusals(t *testing.T) {
	for _, s := range []SumSeries{{}, {Chance: []float64{0.1}, Learnt: 2}, {Chance: []float64{0.1}, Strata: []int{0, 0}}, {Chance: []float64{1}}} {
		if _, err := s.Limits(2, 0.05, 1); !errors.Is(err, ErrBadValue) {
			t.Errorf("%+v: %v", s, err)
		}
		if _, err := s.Alarms(2, [2]float64{1, 1}, 1); !errors.Is(err, ErrBadValue) {
			t.Errorf("%+v: %v", s, err)
		}
	}
	for _, share := range []float64{0, 1, math.NaN()} {
		if _, err := alike(0.1, 10).Limits(2, share, 1); !errors.Is(err, ErrBadValue) {
			t.Error(err)
		}
	}
	if _, err := alike(0.1, 10).Limits(1, 0.05, 1); !errors.Is(err, ErrOdds) {
		t.Error(err)
	}
}
