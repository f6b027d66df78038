package quality

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"plybook/analysis/stats"
)

func bars(p *ParetoChart) string {
	var out []string
	for _, b := range p.Bars {
		out = append(out, fmt.Sprintf("%s %d %.4g %.4g %.4g", b.Category, b.Count, b.Weight, b.Percent, b.CumulativePercent))
	}
	return strings.Join(out, "; ")
}

// Ten visits by hand: four name two things, one names nothing.
func TestParetoOfSeveral(t *testing.T) {
	cases := []ParetoCase{{[]string{"grind", "heat"}, 30}, {[]string{"grind"}, 10}, {[]string{"heat", "grind", "grind"}, 20}, {[]string{"sock"}, 5}, {[]string{""}, 8},
		{[]string{"grind", "sock"}, 12}, {[]string{"pad"}, 40}, {[]string{"heat", "unknown"}, 10}, {[]string{"sock", "pad"}, 15}, {[]string{"grind"}, 0}}
	p, err := ParetoOf(cases, false, ParetoOptions{Unknown: []string{"unknown"}})
	if err != nil {
		t.Fatal(err)
	}
	// grind 5; heat 3, of whom two grind too; sock 3, of whom one grinds; pad 2,
	// of whom one is a sock.
	if got, want := bars(p), "grind 5 5 50 50; heat 3 3 30 60; sock 3 3 30 80; pad 2 2 20 90; not known 1 1 10 100"; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	if p.Several != 4 || p.Named != 13 || p.Unknown != 1 || p.Total != 10 {
		t.Errorf("%+v", p)
	}
	// Minutes, split evenly: grind 15+10+10+6+0, heat 15+10+10, sock 5+6+7.5,
	// pad 40+7.5, of 150.
	p, err = ParetoOf(cases, true, ParetoOptions{Unknown: []string{"unknown"}})
	if err != nil {
		t.Fatal(err)
	}
	if got, want := bars(p), "pad 2 47.5 31.67 31.67; grind 5 41 27.33 59; heat 3 35 23.33 82.33; sock 3 18.5 12.33 94.67; not known 1 8 5.333 100"; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	// Pooled below 35 percent: seven cases name one of the three.
	p, err = ParetoOf(cases, false, ParetoOptions{Unknown: []string{"unknown"}, PoolBelow: 0.35, PooledLabel: "rest"})
	if err != nil {
		t.Fatal(err)
	}
	if got, want := bars(p), "grind 5 5 50 50; rest 7 7 70 90; not known 1 1 10 100"; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
	if strings.Join(p.Bars[1].Pooled, " ") != "heat sock pad" {
		t.Errorf("pooled %v", p.Bars[1].Pooled)
	}
	// One small bar alone is left as it is.
	if p, err = ParetoOf(cases, false, ParetoOptions{PoolBelow: 0.25}); err != nil || len(p.Bars) != 5 {
		t.Errorf("%v %s", err, bars(p))
	}
	for name, c := range map[string]struct {
		cases []ParetoCase
		want  error
	}{"none": {nil, stats.ErrNoRows}, "all 0": {[]ParetoCase{{[]string{"a"}, 0}}, stats.ErrNoEvents}, "below 0": {[]ParetoCase{{[]string{"a"}, -1}}, ErrBadValue},
		"no number": {[]ParetoCase{{[]string{"a"}, math.NaN()}}, ErrBadValue}} {
		if _, err := ParetoOf(c.cases, true, ParetoOptions{}); !errors.Is(err, c.want) {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// Newcombe 1998, method 10, R 4.2.2 by formula and as printed.
func TestShareDifference(t *testing.T) {
	var want struct {
		RelTol    float64 `json:"rel_tol"`
		Published map[string][]float64
		Table     struct{ X1, N1, X2, N2, Diff, Lower, Upper []float64 }
	}
	expected(t, "shares", &want)
	for i, x := range want.Table.X1 {
		// There the first less the second.
		d, lo, hi := ShareDifference(want.Table.X2[i], want.Table.N2[i], x, want.Table.N1[i], 0.95)
		near(t, "difference", d, want.Table.Diff[i], want.RelTol)
		near(t, "low", lo, want.Table.Lower[i], want.RelTol)
		near(t, "high", hi, want.Table.Upper[i], want.RelTol)
	}
	_, lo, hi := ShareDifference(48, 80, 56, 70, 0.95)
	if p := want.Published["newcombe_56_70_48_80"]; math.Abs(lo-p[0]) > 5e-5 || math.Abs(hi-p[1]) > 5e-5 {
		t.Errorf("%.4f to %.4f, printed %v", lo, hi, p)
	}
}
