package quality

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"testing"
)

// Binomial quantiles and Spiegelhalter's interpolated limits, R 4.2.2.
func TestFunnelLimitsOfShares(t *testing.T) {
	b, err := os.ReadFile(filepath.Join(published, "funnel", "limits.json"))
	if err != nil {
		t.Fatal(err)
	}
	var want struct {
		RelTol float64 `json:"rel_tol"`
		R      map[string]json.RawMessage
	}
	if err := json.Unmarshal(b, &want); err != nil {
		t.Fatal(err)
	}
	list := func(name string) []float64 {
		var out []float64
		if err := json.Unmarshal(want.R[name], &out); err != nil {
			t.Fatal(err)
		}
		return out
	}
	for i, n := range list("n") {
		r := FunnelLimits(int(n), 0.1, 1)
		for _, l := range []struct {
			prob  string
			got   float64
			above float64
		}{{"0.025", r.Lower95, 0}, {"0.975", r.Upper95, 1}, {"0.001", r.Lower998, 0}, {"0.999", r.Upper998, 1}} {
			at := math.Max(0, list("spiegelhalter_" + l.prob)[i]*n+l.above)
			near(t, fmt.Sprintf("n = %g, %s", n, l.prob), l.got, at, 1e-9)
			// The first whole number outside.
			if first := math.Ceil(l.got - 1e-9); l.above == 1 && first != list("quantile_" + l.prob)[i]+1 {
				t.Errorf("n = %g: %g is the first outside above, the quantile is %g", n, first, list("quantile_" + l.prob)[i])
			}
		}
	}
}

type funnelWant struct {
	Poisson struct {
		Mean     []float64
		Lower95  []float64 `json:"lower_95"`
		Upper95  []float64 `json:"upper_95"`
		Lower998 []float64 `json:"lower_998"`
		Upper998 []float64 `json:"upper_998"`
	}
	Units struct {
		Chances               [][]float64
		Observed, Expected, Z []float64
		Lower95               []float64 `json:"lower_95"`
		Upper95               []float64 `json:"upper_95"`
		Lower998              []float64 `json:"lower_998"`
		Upper998              []float64 `json:"upper_998"`
		TailBelow             []float64 `json:"tail_below"`
		TailAbove             []float64 `json:"tail_above"`
		Dispersion            []float64
		SpreadP               []float64 `json:"spread_p"`
	}
}

// Poisson limits, unequal trials and the spread between units, R 4.2.2.
func TestFunnelAgainstR(t *testing.T) {
	var want funnelWant
	expected(t, "funnel", &want)
	for i, m := range want.Poisson.Mean {
		r := FunnelLimitsPoisson(m, 1)
		near(t, "lower 95", r.Lower95, want.Poisson.Lower95[i], 1e-9)
		near(t, "upper 95", r.Upper95, want.Poisson.Upper95[i], 1e-9)
		near(t, "lower 99.8", r.Lower998, want.Poisson.Lower998[i], 1e-8)
		near(t, "upper 99.8", r.Upper998, want.Poisson.Upper998[i], 1e-9)
	}
	u := want.Units
	var units []FunnelUnit
	for i, c := range u.Chances {
		units = append(units, FunnelUnit{Name: string(rune('A' + i)), Observed: u.Observed[i], Chances: c})
	}
	f, err := CompareUnits(units, FunnelOptions{})
	if err != nil {
		t.Fatal(err)
	}
	for i, r := range f.Units {
		near(t, r.Name+" expected", r.Expected, u.Expected[i], 1e-12)
		near(t, r.Name+" z", r.Z, u.Z[i], 1e-10)
		near(t, r.Name+" lower 95", r.Lower95, u.Lower95[i], 1e-9)
		near(t, r.Name+" upper 95", r.Upper95, u.Upper95[i], 1e-9)
		near(t, r.Name+" lower 99.8", r.Lower998, u.Lower998[i], 1e-7)
		near(t, r.Name+" upper 99.8", r.Upper998, u.Upper998[i], 1e-9)
		// The transform there leaves an error near 1e-15 in every sum.
		if math.Abs(r.TailBelow-u.TailBelow[i]) > 1e-13 || math.Abs(r.TailAbove-u.TailAbove[i]) > 1e-13 {
			t.Errorf("%s: tails %g and %g, want %g and %g", r.Name, r.TailBelow, r.TailAbove, u.TailBelow[i], u.TailAbove[i])
		}
		if out := u.TailBelow[i] < TailAct || u.TailAbove[i] <= TailAct; out != (r.Beyond == Act) {
			t.Errorf("%s: %v, tails %g and %g", r.Name, r.Beyond, u.TailBelow[i], u.TailAbove[i])
		}
	}
	near(t, "dispersion", f.Dispersion, u.Dispersion[0], 1e-10)
	near(t, "spread p", f.SpreadP, u.SpreadP[0], 1e-8)
	if f.Judged != 10 || f.Widened != 1 {
		t.Errorf("%d judged, widened by %g", f.Judged, f.Widened)
	}
	wide, err := CompareUnits(units, FunnelOptions{Auto: true})
	if err != nil {
		t.Fatal(err)
	}
	near(t, "widened", wide.Widened, math.Sqrt(u.Dispersion[0]), 1e-10)
	w, r := wide.Units[4], f.Units[4]
	near(t, "wide limit", w.Upper998-w.Expected, wide.Widened*(r.Upper998-r.Expected), 1e-10)
}

// Of units that are alike, no more lie outside than the limits say: 0.2 in
// 100 at 99.8%, 5 at 95%, somewhat fewer since numbers are whole.
func TestFunnelFalseFlags(t *testing.T) {
	r := rand.New(rand.NewPCG(9, 9))
	act, watch, runs := 0, 0, 4000
	for range runs {
		n := 30 + r.IntN(120)
		c := make([]float64, n)
		o := 0.0
		for i := range c {
			c[i] = 0.2 + 0.3*float64(i%3)/2
			if r.Float64() < c[i] {
				o++
			}
		}
		f, err := CompareUnits([]FunnelUnit{{Name: "A", Observed: o, Chances: c}}, FunnelOptions{})
		if err != nil {
			t.Fatal(err)
		}
		switch f.Units[0].Beyond {
		case Act:
			act++
		case Watch:
			watch++
		}
	}
	if share := float64(act) / float64(runs); share > 0.004 {
		t.Errorf("%.4f outside the 99.8%% limits", share)
	}
	if share := float64(act+watch) / float64(runs); share > 0.05 || share < 0.025 {
		t.Errorf("%.4f outside the 95%% limits", share)
	}
}

func TestFunnelRefusals(t *testing.T) {
	for name, u := range map[string]FunnelUnit{
		"more than all":     {Observed: 3, Chances: []float64{0.5, 0.5}},
		"half a row":        {Observed: 0.5, Chances: []float64{0.5, 0.5}},
		"a certain chance":  {Observed: 1, Chances: []float64{0.5, 1}},
		"nothing expected":  {Observed: 1},
		"not a number":      {Observed: math.NaN(), Mean: 3},
		"a chance of none":  {Observed: 0, Chances: []float64{0}},
		"expected too many": {Observed: 1, Mean: math.Inf(1)},
	} {
		if _, err := CompareUnits([]FunnelUnit{u}, FunnelOptions{}); !errors.Is(err, ErrBadValue) {
			t.Errorf("%s: %v", name, err)
		}
	}
	f, err := CompareUnits([]FunnelUnit{{Name: "A", Observed: 40, Chances: repeat(0.02, 50)}, {Name: "B", Observed: 1, Mean: 4}, {Name: "C", Observed: 50, Chances: repeat(0.95, 50)}}, FunnelOptions{Overdispersed: true})
	if err != nil {
		t.Fatal(err)
	}
	for _, u := range f.Units {
		if !u.TooFew || u.Beyond != Within {
			t.Errorf("%+v", u)
		}
	}
	if empty, err := CompareUnits(nil, FunnelOptions{Auto: true}); err != nil || empty.Judged != 0 || empty.HasSpread {
		t.Errorf("%v %+v", err, empty)
	}
	// A large unit of unequal rows is quick, and its limits are those of its
	// own spread.
	big := make([]float64, 60000)
	for i := range big {
		big[i] = 0.1 + 0.3*float64(i%7)/6
	}
	f, err = CompareUnits([]FunnelUnit{{Name: "A", Observed: 15000, Chances: big}}, FunnelOptions{})
	if err != nil {
		t.Fatal(err)
	}
	a := f.Units[0]
	near(t, "upper 95 of a large unit", (a.Upper95-a.Expected)/math.Sqrt(a.Variance), 1.96, 0.01)
}
