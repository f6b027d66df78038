package survival

import (
	"errors"
	"math"
	"testing"

	"plybook/analysis/stats"
)

func TestSplitRows(t *testing.T) {
	got := must(SplitRows([]float64{0, 5, 10, 0}, []float64{25, 10, 12, 0}, []bool{true, true, false, true}, []float64{10, 20}))(t)
	want := []Stretch{{0, 0, 0, 10, false}, {0, 1, 10, 20, false}, {0, 2, 20, 25, true}, // an event at the very time is of the part before
		{1, 0, 5, 10, true}, {2, 1, 10, 12, false}, {3, 0, 0, 0, true}}
	if len(got) != len(want) {
		t.Fatalf("%v", got)
	}
	for k := range want {
		if got[k] != want[k] {
			t.Errorf("stretch %d is %+v, want %+v", k, got[k], want[k])
		}
	}
	for name, f := range map[string]func() error{
		"times that fall": func() error { _, err := SplitRows(nil, []float64{5}, []bool{true}, []float64{3, 2}); return err },
		"a time of 0":     func() error { _, err := SplitRows(nil, []float64{5}, []bool{true}, []float64{0}); return err },
		"no number":       func() error { _, err := SplitRows(nil, []float64{5}, []bool{true}, []float64{math.NaN()}); return err },
		"lengths":         func() error { _, err := SplitRows(nil, []float64{5}, nil, []float64{1}); return err },
		"never at risk":   func() error { _, err := SplitRows([]float64{5}, []float64{5}, []bool{true}, []float64{1}); return err },
	} {
		if f() == nil {
			t.Errorf("%s is taken", name)
		}
	}
}

// Cut rows tell as much as whole ones, with whatever ties.
func TestSplitRowsChangeNoLikelihood(t *testing.T) {
	s := load(t, "veteran")
	d := CoxData{Time: s.num("time"), X: [][]float64{s.num("karno"), s.num("age")}, Names: []string{"karno", "age"}}
	for _, e := range s.ints("status") {
		d.Event = append(d.Event, e == 1)
	}
	cut := CoxData{X: make([][]float64, 2), Names: d.Names}
	for _, x := range must(SplitRows(nil, d.Time, d.Event, []float64{20, 90, 91, 400}))(t) {
		cut.Entry, cut.Time, cut.Event = append(cut.Entry, x.Entry), append(cut.Time, x.Time), append(cut.Event, x.Event)
		for j := range cut.X {
			cut.X[j] = append(cut.X[j], d.X[j][x.Row])
		}
	}
	for _, ties := range []Ties{Efron, Breslow, Discrete} {
		a, b := must(FitCox(d, CoxOptions{Ties: ties}))(t), must(FitCox(cut, CoxOptions{Ties: ties}))(t)
		nears(t, ties.String()+" coefficients", b.Coef, a.Coef, 1e-9)
		nears(t, ties.String()+" errors", b.StdErr(), a.StdErr(), 1e-9)
		near(t, ties.String()+" log likelihood", b.LogLik, a.LogLik, 1e-12)
	}
}

// R 4.2.2, survival 3.5-3 (testdata/published/split): effects of a column in
// three stretches of time, and of one in four recurrences, drawn together.
func TestSameAndPooled(t *testing.T) {
	e := readJSON(t, "../../testdata/published/split/expected.json")["entries"].(map[string]any)
	s := load(t, "veteran")
	var event []bool
	for _, x := range s.ints("status") {
		event = append(event, x == 1)
	}
	time, trt, prior, karno := s.num("time"), s.num("trt"), s.num("prior"), s.num("karno")
	d := CoxData{X: make([][]float64, 5), Names: []string{"trt", "prior", "karno 1", "karno 2", "karno 3"}}
	for _, x := range must(SplitRows(nil, time, event, []float64{90, 180}))(t) {
		d.Entry, d.Time, d.Event = append(d.Entry, x.Entry), append(d.Time, x.Time), append(d.Event, x.Event)
		row := []float64{trt[x.Row], prior[x.Row], 0, 0, 0}
		row[2+x.Period] = karno[x.Row]
		for j := range row {
			d.X[j] = append(d.X[j], row[j])
		}
	}
	c := must(FitCox(d, CoxOptions{}))(t)
	k := e["karno"].(map[string]any)
	nears(t, "coefficients", c.Coef, numbers(k["coef"]), 1e-9)
	same := must(c.SameTest("same", [][]int{{2}, {3}, {4}}))(t)
	near(t, "same", same.Statistic, number(k["same"]), 1e-8)
	near(t, "df", same.DF, 2, 0)

	// One estimate draws nothing together; equal and independent ones are
	// averaged.
	b, se, w, err := c.Pooled([]int{3})
	if err != nil || b != c.Coef[3] || math.Abs(se-c.StdErr()[3]) > 1e-12 || w[0] != 1 {
		t.Errorf("one estimate: %g (%g) %v %v", b, se, w, err)
	}
	for name, err := range map[string]error{
		"one group":   func() error { _, err := c.SameTest("x", [][]int{{2}}); return err }(),
		"other sizes": func() error { _, err := c.SameTest("x", [][]int{{2}, {3, 4}}); return err }(),
	} {
		if !errors.Is(err, ErrNotCompared) {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := c.SameTest("x", [][]int{{2}, {2}}); !errors.Is(err, stats.ErrSingular) {
		t.Errorf("a column against itself: %v", err)
	}
	if _, err := c.SameTest("x", [][]int{{2}, {9}}); err == nil {
		t.Error("a column that is not there")
	}
	if _, _, _, err := c.Pooled([]int{2, 9}); err == nil {
		t.Error("a column that is not there is drawn together")
	}
}
