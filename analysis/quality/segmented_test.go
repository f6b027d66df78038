package quality

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

type segmentedWant struct {
	Coef       []float64
	StdError   []float64 `json:"std_error"`
	NeweyWest  []float64 `json:"newey_west"`
	SlopeAfter []float64 `json:"slope_after_newey_west"`
	Lag        []float64
	Sigma      []float64
	RSquared   []float64 `json:"r_squared"`
	GLS        []float64
	GLSError   []float64 `json:"gls_std_error"`
	Rho        []float64 `json:"gls_rho"`
}

func segmentedData(t *testing.T, drop ...int) SegmentedData {
	d := SegmentedData{Start: 25, Cycle: 12}
	value, rows := column(t, "segmented", "value"), column(t, "segmented", "rows")
next:
	for i := range value {
		for _, k := range drop {
			if i == k {
				continue next
			}
		}
		d.Value, d.Weight, d.Index = append(d.Value, value[i]), append(d.Weight, rows[i]), append(d.Index, i)
	}
	return d
}

// lm, sandwich::NeweyWest and nlme::gls, R 4.2.2.
func TestSegmentedAgainstR(t *testing.T) {
	var want map[string]any
	expected(t, "segmented", &want)
	var all struct {
		Plain, Weighted, Season, Gaps segmentedWant
	}
	expected(t, "segmented", &all)
	for name, w := range map[string]segmentedWant{"plain": all.Plain, "weighted": all.Weighted, "season": all.Season, "gaps": all.Gaps} {
		d := segmentedData(t)
		if name == "gaps" {
			d = segmentedData(t, 9, 31)
		}
		if name == "plain" {
			d.Weight = nil
		}
		d.Season = name == "season" || name == "gaps"
		f, err := Segmented(d)
		if err != nil {
			t.Fatal(err)
		}
		for j := range w.Coef {
			what := name + " " + SegmentedTerms[j]
			near(t, what, f.NeweyWest.Coef[j].Value, w.Coef[j], 1e-9)
			near(t, what+" plain error", f.Independent.Coef[j].StdErr, w.StdError[j], 1e-9)
			if w.NeweyWest != nil {
				near(t, what+" Newey-West", f.NeweyWest.Coef[j].StdErr, w.NeweyWest[j], 1e-9)
			}
			// nlme stops where its likelihood no longer changes.
			near(t, what+" gls", f.AR1.Coef[j].Value, w.GLS[j], 2e-5)
			near(t, what+" gls error", f.AR1.Coef[j].StdErr, w.GLSError[j], 2e-5)
		}
		near(t, name+" rho", f.Rho, w.Rho[0], 2e-5)
		near(t, name+" sigma", f.Sigma, w.Sigma[0], 1e-9)
		near(t, name+" r squared", f.RSquared, w.RSquared[0], 1e-9)
		if w.SlopeAfter != nil {
			near(t, name+" slope after", f.NeweyWest.SlopeAfter().StdErr, w.SlopeAfter[0], 1e-9)
		}
		if float64(f.Lag) != w.Lag[0] || f.Before != 25-btoi(name == "gaps") || f.After != 23-btoi(name == "gaps") {
			t.Errorf("%s: lag %d, %d before, %d after", name, f.Lag, f.Before, f.After)
		}
	}
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// The counterfactual is the old line carried on; the effect is what lies
// between, and in the first period the level change.
func TestSegmentedLines(t *testing.T) {
	d := segmentedData(t)
	d.Season = true
	f, err := Segmented(d)
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range []int{25, 30, 47, 60} {
		for _, l := range []*SegmentedLines{f.NeweyWest, f.AR1} {
			near(t, fmt.Sprint("effect in ", k), l.Effect(k).Value, l.At(k, true)-l.At(k, false), 1e-9)
		}
	}
	near(t, "first effect", f.AR1.Effect(25).StdErr, f.AR1.Coef[2].StdErr, 1e-12)
	for i, k := range d.Index {
		near(t, "fitted", f.Fitted[i], f.Independent.At(k, k >= d.Start), 1e-12)
	}
	// Adding a constant and a straight line moves what is old, not what is new.
	moved := segmentedData(t)
	moved.Season = true
	for i := range moved.Value {
		moved.Value[i] = 10*moved.Value[i] + 3 + 0.7*float64(moved.Index[i])
	}
	g, err := Segmented(moved)
	if err != nil {
		t.Fatal(err)
	}
	for _, j := range []int{2, 3} {
		near(t, "moved "+SegmentedTerms[j], g.NeweyWest.Coef[j].Value, 10*f.NeweyWest.Coef[j].Value, 1e-9)
		near(t, "moved error "+SegmentedTerms[j], g.NeweyWest.Coef[j].StdErr, 10*f.NeweyWest.Coef[j].StdErr, 1e-9)
		near(t, "moved gls "+SegmentedTerms[j], g.AR1.Coef[j].Value, 10*f.AR1.Coef[j].Value, 1e-6)
	}
}

// 400 series of 60 months with a step of known size and errors that lean on
// the month before: the intervals of gls cover nearly as often as they say,
// those of least squares do not, with errors of Newey and West or without.
func TestSegmentedCoverage(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 14))
	const n, start, rho, step = 60, 30, 0.4, 1.5
	var nw, plain, ar int
	const runs = 400
	for range runs {
		d := SegmentedData{Start: start, Cycle: 12}
		e := r.NormFloat64() / math.Sqrt(1-rho*rho)
		for k := range n {
			v := 5 + 0.02*float64(k) + e
			if k >= start {
				v += step
			}
			d.Value, d.Index = append(d.Value, v), append(d.Index, k)
			e = rho*e + r.NormFloat64()
		}
		f, err := Segmented(d)
		if err != nil {
			t.Fatal(err)
		}
		for _, x := range []struct {
			e *SegmentedLines
			n *int
		}{{f.NeweyWest, &nw}, {f.Independent, &plain}, {f.AR1, &ar}} {
			if x.e == nil {
				continue
			}
			if lo, hi := x.e.Coef[2].Interval(0.95); lo <= step && step <= hi {
				*x.n++
			}
		}
	}
	t.Logf("covered of %d: Newey-West %d, independent %d, gls %d", runs, nw, plain, ar)
	if ar < 368 || ar > 392 || nw > ar || plain > ar {
		t.Errorf("covered of %d: Newey-West %d, independent %d, gls %d", runs, nw, plain, ar)
	}
}

func TestSegmentedRefusals(t *testing.T) {
	d := segmentedData(t)
	cut := func(from, to int) SegmentedData {
		return SegmentedData{Value: d.Value[from:to], Weight: d.Weight[from:to], Index: d.Index[from:to], Start: 25, Cycle: 12}
	}
	constant := cut(0, 48)
	constant.Value = repeat(0.5, 48)
	bad := cut(0, 48)
	bad.Value = append([]float64{math.NaN()}, d.Value[1:]...)
	order := cut(0, 48)
	order.Index = repeat2(3, 48)
	light := cut(0, 48)
	light.Weight = repeat(0, 48)
	for _, c := range []struct {
		name string
		d    SegmentedData
		want error
	}{
		{"seven before", cut(18, 48), ErrFewSegment}, {"seven since", cut(0, 32), ErrFewSegment}, {"nothing", SegmentedData{}, ErrFewSegment},
		{"constant", constant, ErrNoVariation}, {"not a number", bad, ErrBadValue}, {"out of order", order, ErrBadValue}, {"no weight", light, ErrBadValue},
		{"season of a year", SegmentedData{Season: true, Cycle: 1}, ErrBadValue},
	} {
		if _, err := Segmented(c.d); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", c.name, err, c.want)
		}
	}
	if _, err := Segmented(cut(17, 33)); err != nil {
		t.Errorf("eight and eight: %v", err)
	}
	exact := cut(0, 48)
	exact.Value = append([]float64(nil), exact.Value...)
	for i, k := range exact.Index {
		exact.Value[i] = 3 + 0.25*float64(max(k, 25))
	}
	if _, err := Segmented(exact); !errors.Is(err, ErrExact) {
		t.Errorf("two lines exactly: %v", err)
	}
}

func repeat2(v, n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = v
	}
	return out
}
