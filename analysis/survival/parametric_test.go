package survival

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"plybook/analysis/stats"
)

var lifeOf = map[string]Distribution{"weibull": WeibullLife, "exponential": ExponentialLife, "lognormal": LogNormalLife, "loglogistic": LogLogisticLife}

// exactOrOpen are rows whose event is known to the day, or which are
// censored.
func exactOrOpen(time []float64, event []float64) ParametricData {
	d := ParametricData{}
	for i, t := range time {
		d.Left = append(d.Left, t)
		if event[i] > 0 {
			d.Right = append(d.Right, t)
		} else {
			d.Right = append(d.Right, math.Inf(1))
		}
	}
	return d
}

func (d ParametricData) with(names []string, x ...[]float64) ParametricData {
	d.Names, d.X = names, x
	return d
}

// checkParametric holds a fit against an entry of a reference file.
func checkParametric(t *testing.T, name string, f *Parametric, want map[string]any, columns []string, tol float64) {
	t.Helper()
	coef := get(want, "fit", "coef").(map[string]any)
	near(t, name+" constant", f.Coef[0], number(coef["(Intercept)"]), tol)
	for j, c := range columns {
		near(t, name+" "+c, f.Coef[j+1], number(coef[c]), tol)
	}
	near(t, name+" scale", f.Scale, numbers(get(want, "fit", "scale"))[0], tol)
	near(t, name+" log scale", f.LogScale, numbers(get(want, "fit", "log_scale"))[0], tol)
	v := matrix(get(want, "fit", "vcov"))
	if len(v) != len(f.Var) {
		t.Fatalf("%s: covariance of %d, want %d", name, len(f.Var), len(v))
	}
	for i := range v {
		nears(t, name+" covariance", f.Var[i], v[i], tol)
	}
	near(t, name+" log likelihood", f.LogLik, number(get(want, "fit", "loglik", "model")), 1e-10)
	near(t, name+" log likelihood without terms", f.LogLikNull, number(get(want, "fit", "loglik", "null")), 1e-10)
	near(t, name+" likelihood ratio", f.LikelihoodRatio.Statistic, number(get(want, "fit", "lrt")), 1e-8)
	near(t, name+" aic", f.AIC, number(get(want, "fit", "aic")), 1e-10)
	near(t, name+" parameters", float64(f.Parameters), number(get(want, "fit", "df_model")), 0)
}

// R 4.2.2, survival 3.5-3, survreg; the calls stand in the sets' files.
func TestParametricPublished(t *testing.T) {
	fr, ve, lu, ov, co := load(t, "freireich"), load(t, "veteran"), load(t, "lung"), load(t, "ovarian"), load(t, "cosmesis")
	lu = lu.keep(func(r map[string]string) bool { return r["ph.ecog"] != "" && r["ph.ecog"] != "NA" })
	interval := ParametricData{Left: co.num("left")}
	for _, r := range co.rows {
		v := math.Inf(1)
		if r["right"] != "" {
			if _, err := fmt.Sscan(r["right"], &v); err != nil {
				t.Fatal(err)
			}
		}
		interval.Right = append(interval.Right, v)
	}
	cell := func(name string) []float64 { return ve.is("celltype", name) }
	for _, c := range []struct {
		set     *set
		data    ParametricData
		columns []string
		dists   []string
	}{
		{fr, exactOrOpen(fr.num("time"), fr.num("cens")).with([]string{"control"}, fr.is("treat", "control")),
			[]string{"control"}, []string{"weibull", "exponential", "lognormal", "loglogistic"}},
		{ve, exactOrOpen(ve.num("time"), ve.num("status")).with([]string{"trt2", "smallcell", "adeno", "large", "karno", "diagtime", "age", "prior10"},
			plus(ve.num("trt"), -1), cell("smallcell"), cell("adeno"), cell("large"), ve.num("karno"), ve.num("diagtime"), ve.num("age"), scaleBy(ve.num("prior"), 0.1)),
			[]string{"trt2", "smallcell", "adeno", "large", "karno", "diagtime", "age", "prior10"}, []string{"weibull", "exponential", "lognormal", "loglogistic"}},
		{lu, exactOrOpen(lu.num("time"), plus(lu.num("status"), -1)).with([]string{"age", "female", "ph.ecog"}, lu.num("age"), plus(lu.num("sex"), -1), lu.num("ph.ecog")),
			[]string{"age", "female", "ph.ecog"}, []string{"weibull", "lognormal", "loglogistic"}},
		{ov, exactOrOpen(ov.num("futime"), ov.num("fustat")).with([]string{"age", "rx2"}, ov.num("age"), plus(ov.num("rx"), -1)),
			[]string{"age", "rx2"}, []string{"weibull", "exponential"}},
		{co, interval.with([]string{"chemo"}, co.num("chemo")),
			[]string{"chemo"}, []string{"weibull", "lognormal", "loglogistic", "exponential"}},
	} {
		for _, dist := range c.dists {
			f := must(FitParametric(c.data, ParametricOptions{Distribution: lifeOf[dist]}))(t)
			// The files' rel_tol is 1e-6; their own optimum was found to 1e-13,
			// so 1e-7 holds, covariances included.
			checkParametric(t, dist, f, c.set.entry("aft_"+dist), c.columns, 1e-7)
		}
	}
}

func TestParametricFreireichDerived(t *testing.T) {
	s := load(t, "freireich")
	d := exactOrOpen(s.num("time"), s.num("cens")).with([]string{"control"}, s.is("treat", "control"))
	f := must(FitParametric(d, ParametricOptions{}))(t)
	want := s.entry("weibull_derived")
	hr, ok := f.HazardRatio()
	if !ok {
		t.Fatal("Weibull hazards are proportional")
	}
	near(t, "log hazard ratio", hr[0].Estimate, number(want["log_hr_control"]), 1e-8)
	near(t, "shape", 1/f.Scale, number(want["shape"]), 1e-8)
	for g, key := range []string{"q_6mp", "q_control"} {
		for i, p := range []float64{.1, .5, .9} {
			q := must(f.Quantile([]float64{float64(g)}, p, 0))(t)
			near(t, key, q.Time, numbers(want[key])[i], 1e-8)
		}
	}
	if _, ok := must(FitParametric(d, ParametricOptions{Distribution: LogLogisticLife}))(t).HazardRatio(); ok {
		t.Error("log-logistic hazards are not proportional")
	}
}

// McGilchrist and Aisbett 1991's kidney data without columns. The
// exponential rate is 58/7724 in closed form; the Weibull figures are from
// survreg (R 4.2.2, survival 3.5-3).
func TestParametricKidney(t *testing.T) {
	s := load(t, "kidney")
	d := exactOrOpen(s.num("time"), s.num("status"))
	e := must(FitParametric(d, ParametricOptions{Distribution: ExponentialLife}))(t)
	near(t, "exponential mean", math.Exp(e.Coef[0]), 7724.0/58, 1e-12)
	near(t, "exponential error", e.StdErr()[0], 1/math.Sqrt(58), 1e-12)
	if e.LikelihoodRatio.DF != 0 || e.LogLik != e.LogLikNull {
		t.Errorf("without columns: %+v", e)
	}
	f := must(FitParametric(d, ParametricOptions{}))(t)
	near(t, "shape", 1/f.Scale, 0.888584, 1e-6)
	near(t, "scale", math.Exp(f.Coef[0]), 128.0324, 1e-6)
	near(t, "constant", f.Coef[0], 4.852283, 1e-6)
	near(t, "sigma", f.Scale, 1.125386, 1e-6)
	near(t, "log likelihood", f.LogLik, -340.93744, 1e-7)
	near(t, "median", must(f.Quantile(nil, 0.5, 0))(t).Time, 84.759, 1e-5)
}

// testdata/parametric.R holds the calls.
func TestParametricRandom(t *testing.T) {
	all := readJSON(t, filepath.Join("testdata", "parametric.json"))
	col := func(set, name string) []float64 { return numbers(get(all, set, "data", name)) }
	ints := func(x []float64) []int {
		var out []int
		for _, v := range x {
			out = append(out, int(v))
		}
		return out
	}
	right := exactOrOpen(col("right", "time"), col("right", "dead")).with([]string{"x", "g"}, col("right", "x"), col("right", "g"))
	mixed := ParametricData{Left: col("mixed", "left"), Right: col("mixed", "right"), Cluster: ints(col("mixed", "id"))}.with([]string{"x", "g"}, col("mixed", "x"), col("mixed", "g"))
	for i, r := range mixed.Right {
		if math.IsNaN(r) {
			mixed.Right[i] = math.Inf(1)
		}
	}
	for name, dist := range lifeOf {
		for _, how := range []string{"", "_weighted", "_clustered", "_grouped"} {
			d := right
			if how == "_weighted" || how == "_clustered" {
				d.Weight = col("right", "w")
			}
			if how == "_clustered" || how == "_grouped" {
				d.Cluster = ints(col("right", "id"))
			}
			checkRandom(t, name+how, d, dist, get(all, "right", name+how).(map[string]any))
		}
		checkRandom(t, name+" mixed", mixed, dist, get(all, "mixed", name).(map[string]any))
	}
}

func checkRandom(t *testing.T, name string, d ParametricData, dist Distribution, want map[string]any) {
	t.Helper()
	f := must(FitParametric(d, ParametricOptions{Distribution: dist}))(t)
	nears(t, name+" coefficients", f.Coef, numbers(want["coef"]), 1e-8)
	near(t, name+" scale", f.Scale, number(want["scale"]), 1e-8)
	for i, v := range matrix(want["var"]) {
		nears(t, name+" covariance", f.Var[i], v, 1e-7)
	}
	if d.Cluster != nil {
		for i, v := range matrix(want["robust"]) {
			nears(t, name+" robust covariance", f.Robust[i], v, 1e-7)
		}
	} else if f.Robust != nil {
		t.Errorf("%s: robust without clusters", name)
	}
	nears(t, name+" log likelihood", []float64{f.LogLikNull, f.LogLik}, numbers(want["loglik"]), 1e-10)
	near(t, name+" aic", f.AIC, number(want["aic"]), 1e-10)
	for i, p := range []float64{.1, .5, .9} {
		q := must(f.Quantile([]float64{.5, 1}, p, 0))(t)
		near(t, name+" quantile", q.Time, numbers(want["quantile"])[i], 1e-8)
		near(t, name+" error of the quantile", q.StdErr, numbers(want["quantile_se"])[i], 1e-7)
		// The share predicted at a quantile is the quantile, and their
		// intervals answer one another where the delta method is on one scale.
		s := must(f.Survival([]float64{.5, 1}, []float64{q.Time}, 0))(t)[0]
		near(t, name+" survival at the quantile", s.Survival, 1-p, 1e-9)
		density, _, _ := dist.law(0).density(dist.law(0).quantile(p))
		near(t, name+" error of the share", s.StdErr, math.Exp(density)*q.StdErr/q.Time/f.Scale, 1e-9)
	}
}

// The likelihood with late entry written as a formula and maximised by optim
// (testdata/parametric.R), whose numerical derivatives limit the agreement.
func TestParametricLateEntry(t *testing.T) {
	all := readJSON(t, filepath.Join("testdata", "parametric.json"))
	col := func(name string) []float64 { return numbers(get(all, "late", "data", name)) }
	d := exactOrOpen(col("time"), col("dead")).with([]string{"x", "g"}, col("x"), col("g"))
	d.Entry = col("entry")
	for name, dist := range lifeOf {
		want := get(all, "late", name).(map[string]any)
		f := must(FitParametric(d, ParametricOptions{Distribution: dist}))(t)
		got := append([]float64(nil), f.Coef...)
		if !dist.FixedScale() {
			got = append(got, f.LogScale)
		}
		for i, v := range numbers(want["par"]) {
			if math.Abs(got[i]-v) > 2e-5 {
				t.Errorf("%s: parameter %d is %.10g, want %.10g", name, i, got[i], v)
			}
		}
		near(t, name+" log likelihood", f.LogLik, number(want["loglik"]), 1e-9)
		if f.LogLik < number(want["loglik"])-1e-9 {
			t.Errorf("%s: the reference climbed higher: %.12g, %.12g", name, f.LogLik, number(want["loglik"]))
		}
		for i, v := range matrix(want["var"]) {
			near(t, name+" variance", f.Var[i][i], v[i], 2e-4)
		}
	}
	// Without columns the exponential rate is events over time at risk.
	d.X, d.Names = nil, nil
	f := must(FitParametric(d, ParametricOptions{Distribution: ExponentialLife}))(t)
	risk, events := 0.0, 0.0
	for i := range d.Left {
		risk += d.Left[i] - d.Entry[i]
		events += col("dead")[i]
	}
	near(t, "mean with late entry", math.Exp(f.Coef[0]), risk/events, 1e-12)
	if f.Late == 0 {
		t.Error("nobody entered late")
	}
}

func TestParametricProperties(t *testing.T) {
	s := load(t, "lung")
	s = s.keep(func(r map[string]string) bool { return r["ph.ecog"] != "" && r["ph.ecog"] != "NA" })
	d := exactOrOpen(s.num("time"), plus(s.num("status"), -1)).with([]string{"age", "sex"}, s.num("age"), s.num("sex"))
	n := len(d.Left)
	for _, dist := range Distributions() {
		o := ParametricOptions{Distribution: dist}
		f := must(FitParametric(d, o))(t)
		// Order of rows.
		r := ParametricData{Names: d.Names, X: [][]float64{nil, nil}}
		for i := n - 1; i >= 0; i-- {
			r.Left, r.Right = append(r.Left, d.Left[i]), append(r.Right, d.Right[i])
			for j := range d.X {
				r.X[j] = append(r.X[j], d.X[j][i])
			}
		}
		g := must(FitParametric(r, o))(t)
		nears(t, dist.String()+" in another order", g.Coef, f.Coef, 1e-9)
		// Units of time and of a column.
		u := d
		u.Left, u.Right = scaleBy(d.Left, 1/30.4375), scaleBy(d.Right, 1/30.4375)
		u.X = [][]float64{plus(scaleBy(d.X[0], 12), 1e4), d.X[1]}
		g = must(FitParametric(u, o))(t)
		near(t, dist.String()+" per month", g.Coef[1]*12, f.Coef[1], 1e-8)
		near(t, dist.String()+" other column", g.Coef[2], f.Coef[2], 1e-8)
		near(t, dist.String()+" scale", g.Scale, f.Scale, 1e-9)
		near(t, dist.String()+" error", g.StdErr()[1]*12, f.StdErr()[1], 1e-8)
		q1, q2 := must(f.Quantile([]float64{60, 1}, .5, 0))(t), must(g.Quantile([]float64{60*12 + 1e4, 1}, .5, 0))(t)
		near(t, dist.String()+" median", q2.Time*30.4375, q1.Time, 1e-8)
		near(t, dist.String()+" low end of the median", q2.Low*30.4375, q1.Low, 1e-7)
		// A weight of 2 is two rows.
		twice, weighted := d, d
		twice.Left, twice.Right = append(append([]float64(nil), d.Left...), d.Left...), append(append([]float64(nil), d.Right...), d.Right...)
		twice.X = [][]float64{append(append([]float64(nil), d.X[0]...), d.X[0]...), append(append([]float64(nil), d.X[1]...), d.X[1]...)}
		for range n {
			weighted.Weight = append(weighted.Weight, 2)
		}
		a, b := must(FitParametric(twice, o))(t), must(FitParametric(weighted, o))(t)
		nears(t, dist.String()+" weights", b.Coef, a.Coef, 1e-10)
		nears(t, dist.String()+" errors of weights", b.StdErr(), a.StdErr(), 1e-9)
		near(t, dist.String()+" likelihood of weights", b.LogLik, a.LogLik, 1e-12)
		// Each row its own cluster, twice: the sandwich of pairs.
		for i := range 2 * n {
			twice.Cluster = append(twice.Cluster, i%n)
		}
		a = must(FitParametric(twice, o))(t)
		if a.Clusters != n || len(a.RobustStdErr()) != len(a.StdErr()) {
			t.Errorf("%v: %d clusters", dist, a.Clusters)
		}
		// A share at its own median, and a mean over rows that are alike.
		same := must(f.Survival([]float64{60, 1}, []float64{q1.Time}, 0.9))(t)[0]
		if !(same.Low < 0.5 && same.High > 0.5 && math.Abs(same.Survival-0.5) < 1e-9) {
			t.Errorf("%v: at the median %+v", dist, same)
		}
		half := must(f.MeanQuantile(everyRow(n), 0.5))(t)
		near(t, dist.String()+" half of all rows", f.MeanSurvival(everyRow(n), []float64{half})[0], 0.5, 1e-9)
		mean := 0.0
		for i := range n {
			mean += must(f.Survival([]float64{d.X[0][i], d.X[1][i]}, []float64{300}, 0))(t)[0].Survival / float64(n)
		}
		near(t, dist.String()+" mean over rows", f.MeanSurvival(everyRow(n), []float64{300})[0], mean, 1e-12)
	}
}

func everyRow(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

// Narrow intervals are nearly exact: the score and the information of
// intervals turn into those of densities.
func TestParametricNarrowIntervals(t *testing.T) {
	s := load(t, "ovarian")
	d := exactOrOpen(s.num("futime"), s.num("fustat")).with([]string{"age"}, s.num("age"))
	narrow := d
	narrow.Left, narrow.Right = append([]float64(nil), d.Left...), append([]float64(nil), d.Right...)
	for i := range d.Left {
		if d.Left[i] == d.Right[i] {
			narrow.Left[i], narrow.Right[i] = d.Left[i]-1e-4, d.Left[i]+1e-4
		}
	}
	for _, dist := range Distributions() {
		a, b := must(FitParametric(d, ParametricOptions{Distribution: dist}))(t), must(FitParametric(narrow, ParametricOptions{Distribution: dist}))(t)
		nears(t, dist.String()+" narrow", b.Coef, a.Coef, 1e-9)
		nears(t, dist.String()+" errors of narrow", b.StdErr(), a.StdErr(), 1e-9)
		if a.Intervals != 0 || b.Intervals != int(a.Events) || a.Exact != b.Intervals {
			t.Errorf("%v: %d exact and %d intervals of %g", dist, a.Exact, b.Intervals, a.Events)
		}
	}
}

// The laws' logarithms, hazards and derivatives agree with one another, far
// into the tails too.
func TestLaws(t *testing.T) {
	for _, dist := range Distributions() {
		w := dist.law(0)
		for z := -37.0; z <= 37; z += 0.37 {
			if dist.Proportional() && z > 6 {
				break // nothing is left of it
			}
			density, f1, f2 := w.density(z)
			s, h, h1 := w.survival(z)
			b, v, v1 := w.below(z)
			const e = 1e-5
			slope := func(f func(float64) float64) float64 { return (f(z+e) - f(z-e)) / (2 * e) }
			near := func(what string, got, want, tol float64) {
				t.Helper()
				if math.IsNaN(got) || math.Abs(got-want) > tol*(1+math.Abs(want)) {
					t.Errorf("%v at %g: %s %g, want %g", dist, z, what, got, want)
				}
			}
			near("hazard", math.Log(h), density-s, 1e-9)
			near("reversed hazard", math.Log(v), density-b, 1e-9)
			near("slope of log survival", slope(func(z float64) float64 { x, _, _ := w.survival(z); return x }), -h, 1e-6)
			near("slope of hazard", slope(func(z float64) float64 { _, x, _ := w.survival(z); return x }), h1, 1e-6)
			near("slope of log below", slope(func(z float64) float64 { x, _, _ := w.below(z); return x }), v, 1e-6)
			near("slope of reversed hazard", slope(func(z float64) float64 { _, x, _ := w.below(z); return x }), v1, 1e-6)
			near("slope of log density", slope(func(z float64) float64 { x, _, _ := w.density(z); return x }), f1, 1e-6)
			near("second slope", slope(func(z float64) float64 { _, x, _ := w.density(z); return x }), f2, 1e-6)
			middle, _, _ := w.density(z + 5e-5)
			if d := between(w, z, z+1e-4) - (middle + math.Log(1e-4)); math.Abs(d) > 1e-4 {
				t.Errorf("%v at %g: log of a narrow interval off by %g", dist, z, d)
			}
		}
		for _, p := range []float64{1e-9, .1, .5, .9, 1 - 1e-9} {
			x, _, _ := w.below(w.quantile(p))
			near(t, dist.String()+" quantile", math.Exp(x), p, 1e-6)
		}
	}
}

func TestParametricDegenerate(t *testing.T) {
	inf := math.Inf(1)
	base := func() ParametricData {
		return ParametricData{Left: []float64{5, 8, 12, 20, 33}, Right: []float64{5, 8, inf, 20, inf}}
	}
	change := func(f func(*ParametricData)) ParametricData { d := base(); f(&d); return d }
	col := func(d ParametricData, x ...float64) ParametricData { return d.with([]string{"a"}, x) }
	var row *RowError
	var sep *SeparationError
	var same *ColumnsError
	isRow := func(err error) bool { return errors.As(err, &row) }
	is := func(e error) func(error) bool { return func(err error) bool { return errors.Is(err, e) } }
	for _, c := range []struct {
		name  string
		d     ParametricData
		fixed bool // the exponential distribution is at fault too
		ok    func(error) bool
	}{
		{"no rows", ParametricData{}, true, is(stats.ErrNoRows)},
		{"no events", change(func(d *ParametricData) { d.Right = []float64{inf, inf, inf, inf, inf} }), true, is(stats.ErrNoEvents)},
		{"lengths", change(func(d *ParametricData) { d.Right = d.Right[:2] }), true, isRow},
		{"clusters", change(func(d *ParametricData) { d.Cluster = []int{1} }), true, isRow},
		{"not a number", change(func(d *ParametricData) { d.Left[0] = math.NaN() }), true, isRow},
		{"right is no number", change(func(d *ParametricData) { d.Right[0] = math.NaN() }), true, isRow},
		{"infinite", change(func(d *ParametricData) { d.Left[2] = inf }), true, isRow},
		{"below 0", change(func(d *ParametricData) { d.Left[2] = -1 }), true, isRow},
		{"the wrong way round", change(func(d *ParametricData) { d.Right[0] = 3 }), true, isRow},
		{"before entry", change(func(d *ParametricData) { d.Entry = []float64{6, 0, 0, 0, 0} }), true, isRow},
		{"at entry", change(func(d *ParametricData) { d.Entry = []float64{5, 0, 0, 0, 0} }), true, isRow},
		{"weight", change(func(d *ParametricData) { d.Weight = []float64{0, 1, 1, 1, 1} }), true, isRow},
		{"column not a number", col(base(), 1, 2, 3, 4, math.NaN()), true, isRow},
		{"column too short", col(base(), 1, 2), true, isRow},
		{"constant column", col(base(), 3, 3, 3, 3, 3), true, func(err error) bool {
			return errors.As(err, &same) && same.Constant && errors.Is(err, stats.ErrSingular)
		}},
		{"repeated column", base().with([]string{"a", "b"}, []float64{1, 2, 3, 4, 6}, []float64{3, 5, 7, 9, 13}), true, func(err error) bool {
			return errors.As(err, &same) && !same.Constant && len(same.Columns) == 2
		}},
		{"a group without events", col(base(), 0, 0, 1, 0, 1), true, func(err error) bool { return errors.As(err, &sep) && len(sep.Columns) == 1 }},
		{"one day for all", ParametricData{Left: []float64{9, 9, 9}, Right: []float64{9, 9, 9}}, false, is(ErrNoSpread)},
		{"one event", ParametricData{Left: []float64{9}, Right: []float64{9}}, false, is(ErrNoSpread)},
		{"two events, two groups", ParametricData{Left: []float64{9, 20}, Right: []float64{9, 20}}.with([]string{"a"}, []float64{0, 1}), false, is(ErrNoSpread)},
		{"nothing but upper ends", ParametricData{Left: []float64{0, 0, 0}, Right: []float64{5, 9, 30}}, true, is(ErrNoSpread)},
		{"intervals that share a day", ParametricData{Left: []float64{2, 4, 5}, Right: []float64{10, 12, 8}}, false, is(ErrNoSpread)},
	} {
		for _, dist := range Distributions() {
			f, err := FitParametric(c.d, ParametricOptions{Distribution: dist})
			if dist.FixedScale() && !c.fixed {
				if err != nil {
					t.Errorf("%s: exponential: %v", c.name, err)
				}
				continue
			}
			if err == nil || !c.ok(err) {
				t.Errorf("%s: %v: error %v (fit %+v)", c.name, dist, err, f)
			} else if err.Error() == "" {
				t.Errorf("%s: an empty error", c.name)
			}
		}
	}
	for _, o := range []ParametricOptions{{Distribution: -1}, {Distribution: 9}, {MaxIterations: -1}, {Zero: -1}, {Zero: inf}} {
		if _, err := FitParametric(base(), o); err == nil {
			t.Errorf("%+v: no error", o)
		}
	}
	if _, err := FitParametric(base(), ParametricOptions{MaxIterations: 1}); !errors.Is(err, stats.ErrConvergence) {
		t.Errorf("one iteration: %v", err)
	}
	// Columns that nearly repeat one another have huge errors, not none.
	near2 := exactOrOpen([]float64{3, 9, 4, 12, 30, 22, 17, 5}, []float64{1, 1, 0, 1, 1, 0, 1, 1}).with([]string{"a", "b"},
		[]float64{1, 2, 3, 4, 5, 6, 7, 8}, []float64{1, 2.0001, 3, 3.9999, 5, 6, 7.0001, 8})
	for _, dist := range Distributions() {
		f, err := FitParametric(near2, ParametricOptions{Distribution: dist})
		if dist.Shaped() && errors.Is(err, ErrShape) {
			continue // six events do not tell a shape beside three numbers
		}
		if err != nil {
			t.Fatal(err)
		}
		if f.StdErr()[1] < 100 {
			t.Errorf("%v: error %g", dist, f.StdErr()[1])
		}
	}
	// A life of 0 enters at half a day, whether it ended or was censored.
	zero := change(func(d *ParametricData) { d.Left[0], d.Right[0], d.Left[2] = 0, 0, 0 })
	half := change(func(d *ParametricData) { d.Left[0], d.Right[0], d.Left[2] = .5, .5, .5 })
	a, b := must(FitParametric(zero, ParametricOptions{}))(t), must(FitParametric(half, ParametricOptions{}))(t)
	nears(t, "lives of 0", a.Coef, b.Coef, 1e-12)
	if a.Zeros != 2 || b.Zeros != 0 {
		t.Errorf("%d and %d lives of 0", a.Zeros, b.Zeros)
	}
	// One event and the rest censored can be fitted.
	one := must(FitParametric(ParametricData{Left: []float64{4, 9, 15}, Right: []float64{inf, 9, inf}}, ParametricOptions{Distribution: ExponentialLife}))(t)
	near(t, "one event", math.Exp(one.Coef[0]), 28, 1e-12)
	for _, bad := range []error{
		second(a.Survival([]float64{1}, []float64{1}, 0)), second(a.Survival(nil, []float64{0}, 0)), second(a.Survival(nil, []float64{1}, 2)),
		second(a.Quantile([]float64{1}, .5, 0)), second(a.Quantile(nil, 0, 0)), second(a.Quantile(nil, .5, -1)),
	} {
		if bad == nil {
			t.Error("a prediction that cannot be made has no error")
		}
	}
}

// Intervals of the coefficients, of log scale and of the median cover as they
// should, with censoring, late entry and visits every 40 days mixed.
func TestParametricCovers(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 14))
	const b0, b1, s = 5.0, 0.5, 0.7
	for _, dist := range Distributions() {
		runs, n, scale := 400, 120, s
		if dist.Shaped() {
			runs, n = 200, 400 // fewer rows hardly tell a shape
		}
		if dist.FixedScale() {
			scale = 1
		}
		w := dist.law(0.6)
		truth := []float64{b0, b1, math.Log(scale), b0 + b1 + scale*w.quantile(0.5)}
		if dist.Shaped() {
			truth = append(truth, 0.6)
		}
		cover := make([]int, len(truth))
		for range runs {
			d := ParametricData{X: [][]float64{nil}, Names: []string{"x"}}
			for len(d.Left) < n {
				x := float64(r.IntN(2))
				life, entry, end := math.Exp(b0+b1*x+scale*w.quantile(r.Float64())), 0.0, 60+500*r.Float64()
				if r.IntN(3) == 0 {
					entry = 80 * r.Float64()
				}
				if life <= entry || end <= entry {
					continue
				}
				left, right := end, math.Inf(1)
				if life <= end {
					left, right = life, life
					if r.IntN(2) == 0 {
						left, right = math.Max(entry, 40*math.Floor(life/40)), 40*math.Ceil(life/40)
					}
				}
				d.Entry, d.Left, d.Right, d.X[0] = append(d.Entry, entry), append(d.Left, left), append(d.Right, right), append(d.X[0], x)
			}
			f := must(FitParametric(d, ParametricOptions{Distribution: dist}))(t)
			q := must(f.Quantile([]float64{1}, 0.5, 0))(t)
			got, se := append(append([]float64(nil), f.Coef...), f.LogScale, math.Log(q.Time)), append([]float64(nil), f.StdErr()...)
			if dist.FixedScale() {
				se = append(se, 0)
			}
			if n := len(f.Coef) + 1; dist.Shaped() {
				got, se = append(got, f.Shape), []float64{se[0], se[1], se[2], q.StdErr / q.Time, se[n]}
			} else {
				se = append(se, q.StdErr/q.Time)
			}
			for k := range truth {
				if math.Abs(got[k]-truth[k]) <= 1.96*se[k] {
					cover[k]++
				}
			}
		}
		for k, c := range cover {
			// 4 standard errors of a share of 0.95 in 400 are 4.4 percent.
			if share := float64(c) / float64(runs); (share < 0.905 || share > 0.99) && !(dist.FixedScale() && k == 2) {
				t.Errorf("%v: interval %d covers %.3f of the time", dist, k, share)
			}
		}
	}
}

func second[T any](_ T, err error) error { return err }

func BenchmarkParametric(b *testing.B) {
	n := 20000
	d := ParametricData{X: [][]float64{nil, nil}, Names: []string{"a", "b"}}
	for i := range n {
		t := math.Ceil(400 * math.Pow(-math.Log((float64(i*7919%20011)+0.5)/20011), 0.8))
		d.Left, d.Right = append(d.Left, t), append(d.Right, t)
		if i%3 == 0 {
			d.Right[i] = math.Inf(1)
		}
		d.X[0], d.X[1] = append(d.X[0], float64(i%5)), append(d.X[1], float64(i*31%97))
		d.Cluster = append(d.Cluster, i/2)
	}
	for _, dist := range []Distribution{LogNormalLife, GeneralisedGammaLife} {
		b.Run(dist.String(), func(b *testing.B) {
			for b.Loop() {
				if _, err := FitParametric(d, ParametricOptions{Distribution: dist}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

func ExampleFitParametric() {
	open := math.Inf(1)
	d := ParametricData{
		Left:  []float64{90, 200, 340, 365, 120, 410, 520, 610},
		Right: []float64{90, 200, 340, open, 180, open, 520, open},
		X:     [][]float64{{0, 0, 0, 0, 1, 1, 1, 1}}, Names: []string{"vacuum"},
	}
	f, err := FitParametric(d, ParametricOptions{Distribution: LogLogisticLife})
	if err != nil {
		fmt.Println(err)
		return
	}
	q, err := f.Quantile([]float64{0}, 0.5, 0.95)
	fmt.Printf("ratio of times %.2f; median without %.0f days (%.0f to %.0f) %v\n", math.Exp(f.Coef[1]), q.Time, q.Low, q.High, err)
	// Output: ratio of times 2.18; median without 248 days (112 to 549) <nil>
}
