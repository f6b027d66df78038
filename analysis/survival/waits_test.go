package survival

import (
	"errors"
	"math"
	"math/rand/v2"
	"testing"

	"plybook/analysis/stats"
)

// The places agree with R: qbinom((1-level)/2, n, p), and
// qbinom((1+level)/2, n, p) + 1, coverage by pbinom. Those of the median are
// in every table of the sign test (2 and 9 of 10, 6 and 15 of 20).
func TestOrderLimitsAgainstR(t *testing.T) {
	for _, c := range []struct {
		n         int
		p, level  float64
		low, high int
		coverage  float64
	}{
		{16, 0.75, 0.9, 9, 16, 0.962847447954118},
		{10, 0.5, 0.95, 2, 9, 0.978515625},
		{20, 0.5, 0.95, 6, 15, 0.958610534667969},
		{5, 0.5, 0.95, 0, 0, 1},
		{6, 0.5, 0.95, 1, 6, 0.96875},
		{50, 0.9, 0.95, 41, 50, 0.970308289088088},
		{30, 0.25, 0.95, 3, 13, 0.967810488436724},
		{30, 0.9, 0.95, 23, 0, 0.992216380762079},
		{100, 0.9, 0.95, 84, 96, 0.955690107191223},
		{200, 0.75, 0.99, 134, 166, 0.991241228639506},
	} {
		low, high, coverage := OrderLimits(c.n, c.p, c.level)
		if low != c.low || high != c.high || math.Abs(coverage-c.coverage) > 1e-12 {
			t.Errorf("%+v: %d, %d, %.15g", c, low, high, coverage)
		}
	}
	if low, high, _ := OrderLimits(0, 0.5, 0.95); low != 0 || high != 0 {
		t.Error("limits of no values")
	}
}

// Drawn from a distribution with ties, the limits hold the true quantile at
// least as often as they say.
func TestOrderLimitsCover(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 8))
	const draws, n = 4000, 25
	truth := math.Ceil(-20 * math.Log(0.25)) // upper quartile of rounded-up exponential waits
	in := 0
	for range draws {
		d := Data{}
		for range n {
			d.Time, d.Cause = append(d.Time, math.Ceil(20*r.ExpFloat64())), append(d.Cause, 1)
		}
		w, err := Waits(d, []float64{0.75}, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		q := w.Quantiles[0]
		if (!q.Low.OK || q.Low.Value <= truth) && (!q.High.OK || truth <= q.High.Value) {
			in++
		}
	}
	if share := float64(in) / draws; share < 0.945 {
		t.Errorf("%.3f of the intervals hold the true quartile", share)
	}
}

// With nothing open the curve's quantiles are R's quantile(type = 2); a wait
// of 0 days counts, and open waits move the centiles up.
func TestWaits(t *testing.T) {
	d := Data{Time: []float64{0, 4, 4, 9, 10, 21}, Cause: []int{1, 1, 1, 1, 1, 1}}
	w, err := Waits(d, []float64{0.25, 0.5, 0.75, 0.9}, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	// R: quantile(c(0, 4, 4, 9, 10, 21), c(.25, .5, .75, .9), type = 2)
	for k, want := range []float64{4, 6.5, 10, 21} {
		if q := w.Quantiles[k].Estimate; !q.OK || q.Value != want {
			t.Errorf("quantile %g: %+v, want %g", w.Quantiles[k].P, q, want)
		}
	}
	if q := w.Quantiles[1]; q.Low.Value != 0 || q.High.Value != 21 || !w.Exact || w.Least != 0 || w.Greatest != 21 {
		t.Errorf("%+v", w)
	}
	d.Cause = []int{1, 1, 1, 1, 0, 0}
	if w, err = Waits(d, []float64{0.5, 0.9}, 0.95); err != nil {
		t.Fatal(err)
	}
	// 5/6, 3/6 and 2/6 are left after 0, 4 and 9 days: half lies flat from 4 to 9.
	if q := w.Quantiles; q[0].Estimate.Value != 6.5 || q[1].Estimate.OK || w.Exact || w.Over != 4 || w.Open != 2 {
		t.Errorf("%+v", w)
	}
	d.Cause = make([]int, 6)
	if w, err = Waits(d, []float64{0.5}, 0.95); err != nil || w.Quantiles[0].Estimate.OK || w.Over != 0 {
		t.Errorf("%+v, %v", w, err)
	}
	if _, err = Waits(Data{}, []float64{0.5}, 0.95); !errors.Is(err, stats.ErrNoRows) {
		t.Errorf("no waits: %v", err)
	}
}
