package survival

import (
	"errors"
	"math"
	"path/filepath"
	"strconv"
	"testing"
)

// R's own pgamma and dgamma (testdata/gammalaw.R), through q = 0 and far into
// the tails.
func TestGammaLaw(t *testing.T) {
	rows := matrix(readJSON(t, filepath.Join("testdata", "gammalaw.json"))["law"])
	if len(rows) < 140 {
		t.Fatalf("%d rows", len(rows))
	}
	for _, r := range rows {
		g := newGammaLaw(r[0])
		density, _, _ := g.density(r[1])
		above, _, _ := g.survival(r[1])
		below, _, _ := g.below(r[1])
		for i, x := range []float64{density, above, below} {
			if want := r[2+i]; math.Abs(x-want) > 2e-12*math.Abs(want) {
				t.Errorf("q %g z %g: %d is %.16g, want %.16g", r[0], r[1], i, x, want)
			}
		}
	}
	// The laws that it holds: Weibull at 1, log-normal at 0; and no step
	// there, nor where Stirling's series takes over.
	for z := -5.0; z < 3; z += 0.37 {
		for _, c := range []struct {
			q float64
			w law
		}{{1, extremeLaw{}}, {0, normalLaw{}}} {
			g := newGammaLaw(c.q)
			for i, pair := range [][2]func(float64) (float64, float64, float64){{g.density, c.w.density}, {g.survival, c.w.survival}, {g.below, c.w.below}} {
				a0, a1, a2 := pair[0](z)
				b0, b1, b2 := pair[1](z)
				if math.Abs(a0-b0) > 1e-12*(1+math.Abs(b0)) || math.Abs(a1-b1) > 1e-12*(1+math.Abs(b1)) || math.Abs(a2-b2) > 1e-11*(1+math.Abs(b2)) {
					t.Errorf("q %g z %g: %d is %v, want %v", c.q, z, i, []float64{a0, a1, a2}, []float64{b0, b1, b2})
				}
			}
		}
		for _, q := range []float64{0, 0.25, -0.25} {
			a, _, _ := newGammaLaw(q - 1e-9).survival(z)
			b, _, _ := newGammaLaw(q + 1e-9).survival(z)
			if slope := newGammaLaw(q).survivalByShape(z).q; math.Abs(b-a-2e-9*slope) > 1e-13*(1+math.Abs(a)) {
				t.Errorf("a step at q %g, z %g: %g, slope %g", q, z, b-a, slope)
			}
		}
	}
}

// Derivatives by the shape against differences of the law itself.
func TestGammaLawByShape(t *testing.T) {
	slopes := func(f func(q float64) float64, q, z float64) (first, second float64) {
		h := 1e-3 * math.Max(1, math.Abs(q)) / (1 + math.Abs(z))
		a, b, c, d, e := f(q-2*h), f(q-h), f(q), f(q+h), f(q+2*h)
		return (a - 8*b + 8*d - e) / (12 * h), (-a + 16*b - 30*c + 16*d - e) / (12 * h * h)
	}
	for _, q := range []float64{-4, -1, -0.25, -0.1, 0, 1e-4, 0.1, 0.2501, 0.5, 1, 2, 5} {
		for _, z := range []float64{-4, -1, -0.2, 0, 0.3, 1, 2} {
			g := newGammaLaw(q)
			if log, _, _ := g.survival(z); log < -100 {
				continue
			}
			for name, c := range map[string]struct {
				of   func(*gammaLaw) (log, first float64)
				want shapeSlopes
			}{
				"density":  {func(g *gammaLaw) (float64, float64) { a, b, _ := g.density(z); return a, b }, g.densityByShape(z)},
				"survival": {func(g *gammaLaw) (float64, float64) { a, b, _ := g.survival(z); return a, -b }, g.survivalByShape(z)},
				"below":    {func(g *gammaLaw) (float64, float64) { a, b, _ := g.below(z); return a, b }, g.belowByShape(z)},
			} {
				q1, qq := slopes(func(x float64) float64 { a, _ := c.of(newGammaLaw(x)); return a }, q, z)
				qz, _ := slopes(func(x float64) float64 { _, b := c.of(newGammaLaw(x)); return b }, q, z)
				// Differences leave about 1e-9 of the first and 1e-5 of the second.
				if math.Abs(q1-c.want.q) > 1e-7*(1+math.Abs(q1)) || math.Abs(qz-c.want.qz) > 1e-7*(1+math.Abs(qz)) || math.Abs(qq-c.want.qq) > 1e-4*(1+math.Abs(qq)) {
					t.Errorf("%s at q %g z %g: %+v, differences say %g %g %g", name, q, z, c.want, q1, qz, qq)
				}
			}
			for _, p := range []float64{1e-6, 0.1, 0.5, 0.9, 1 - 1e-6} {
				x := g.quantile(p)
				log, _, _ := g.below(x)
				near(t, "quantile", math.Exp(log), p, 1e-9)
				moved, _ := slopes(func(q float64) float64 { return newGammaLaw(q).quantile(p) }, q, x)
				if math.Abs(moved-g.shift(x)) > 1e-6*(1+math.Abs(moved)) {
					t.Errorf("q %g: the quantile %g moves by %g, differences say %g", q, p, g.shift(x), moved)
				}
			}
		}
	}
}

// shapeSets are the sets of testdata/published/shape with their columns and
// the profile to predict for.
func shapeSets(t *testing.T) map[string]struct {
	data    ParametricData
	profile []float64
} {
	rows := func(name string) *set { return &set{t: t, rows: readRows(t, name)} }
	bearings, larynx, freireich, lung, kidney, cosmesis := rows("ball_bearings"), rows("larynx"), rows("freireich"), rows("lung"), rows("kidney"), rows("cosmesis")
	channing := rows("channing").keep(func(r map[string]string) bool { return r["age"] != r["ageentry"] })
	rounded := func(x []float64) []float64 {
		var out []float64
		for _, v := range x {
			out = append(out, math.Round(10*v))
		}
		return out
	}
	ones := make([]float64, len(bearings.rows))
	for i := range ones {
		ones[i] = 1
	}
	late := exactOrOpen(channing.num("age"), channing.num("death")).with([]string{"male"}, channing.is("gender", "1"))
	late.Entry = channing.num("ageentry")
	interval := ParametricData{Left: cosmesis.num("left")}
	for i, r := range cosmesis.rows {
		interval.Right = append(interval.Right, math.Inf(1))
		if v, err := strconv.ParseFloat(r["right"], 64); err == nil {
			interval.Right[i] = v
		}
	}
	grouped := exactOrOpen(kidney.num("time"), kidney.num("status"))
	for _, v := range kidney.num("id") {
		grouped.Cluster = append(grouped.Cluster, int(v))
	}
	return map[string]struct {
		data    ParametricData
		profile []float64
	}{
		"ball_bearings":      {exactOrOpen(bearings.num("revolutions"), ones), nil},
		"ball_bearings_days": {exactOrOpen(rounded(bearings.num("revolutions")), ones), nil},
		"larynx": {exactOrOpen(rounded(larynx.num("time")), larynx.num("delta")).with([]string{"s2", "s3", "s4", "age"},
			larynx.is("stage", "2"), larynx.is("stage", "3"), larynx.is("stage", "4"), larynx.num("age")), []float64{0, 1, 0, 60}},
		"freireich": {exactOrOpen(freireich.num("time"), freireich.num("cens")).with([]string{"control"}, freireich.is("treat", "control")), []float64{0}},
		"lung":      {exactOrOpen(lung.num("time"), plus(lung.num("status"), -1)).with([]string{"age", "female"}, lung.num("age"), plus(lung.num("sex"), -1)), []float64{60, 1}},
		"kidney":    {grouped, nil},
		"cosmesis":  {interval.with([]string{"chemo"}, cosmesis.num("chemo")), []float64{0}},
		"channing":  {late, []float64{0}},
	}
}

// testdata/published/shape holds the calls: R's own maximisers on its own
// incomplete gamma function.
func TestGeneralisedGammaPublished(t *testing.T) {
	all := readJSON(t, filepath.Join("..", "..", "testdata", "published", "shape", "expected.json"))
	lives := map[string]Distribution{"gengamma": GeneralisedGammaLife, "weibull": WeibullLife, "exponential": ExponentialLife, "lognormal": LogNormalLife, "loglogistic": LogLogisticLife}
	for name, s := range shapeSets(t) {
		for kind, dist := range lives {
			if _, ok := all[name].(map[string]any)[kind]; !ok {
				continue
			}
			want := get(all, name, kind).(map[string]any)
			f := must(FitParametric(s.data, ParametricOptions{Distribution: dist}))(t)
			name := name + " " + kind
			got := append([]float64(nil), f.Coef...)
			if !dist.FixedScale() {
				got = append(got, f.LogScale)
			}
			if dist.Shaped() {
				got = append(got, f.Shape)
			}
			se := numbers(want["se"])
			for i, v := range numbers(want["par"]) {
				if math.Abs(got[i]-v) > 1e-6*se[i] {
					t.Errorf("%s: parameter %d is %.12g, want %.12g", name, i, got[i], v)
				}
			}
			near(t, name+" log likelihood", f.LogLik, number(want["loglik"]), 1e-11)
			near(t, name+" log likelihood without columns", f.LogLikNull, number(want["loglik_null"]), 1e-11)
			near(t, name+" aic", f.AIC, number(want["aic"]), 1e-11)
			near(t, name+" bic", f.BIC, number(want["bic"]), 1e-11)
			// Second derivatives by differences: 1e-6.
			nears(t, name+" errors", f.StdErr(), se, 1e-6)
			if f.Robust != nil {
				nears(t, name+" robust errors", f.RobustStdErr(), numbers(want["robust_se"]), 1e-6)
			}
			for i, p := range []float64{.25, .5, .75} {
				q := must(f.Quantile(s.profile, p, 0))(t)
				nears(t, name+" quantile", []float64{q.Time, q.StdErr, q.Low, q.High}, matrix(want["quantiles"])[i], 1e-6)
			}
			for _, w := range matrix(want["shares"]) {
				q := must(f.Survival(s.profile, w[:1], 0))(t)[0]
				nears(t, name+" share", []float64{q.Time, q.Survival, q.StdErr, q.Low, q.High}, w, 1e-6)
			}
		}
	}
	// Lawless 1980, Technometrics 22:409, as printed (from memory): k 10.6,
	// mu 4.230, sigma 0.5100.
	f := must(FitParametric(shapeSets(t)["ball_bearings"].data, ParametricOptions{Distribution: GeneralisedGammaLife}))(t)
	for _, c := range [][3]float64{{1 / (f.Shape * f.Shape), 10.6, 0.05}, {f.Coef[0], 4.230, 0.0005}, {f.Scale, 0.5100, 0.00005}} {
		if math.Abs(c[0]-c[1]) > c[2] {
			t.Errorf("ball bearings: %g, printed %g", c[0], c[1])
		}
	}
}

// With the shape held at 1 and 0 the likelihood is that of the Weibull and the
// log-normal curve, and the best shape is at least as good as both.
func TestGeneralisedGammaHoldsOthers(t *testing.T) {
	for name, s := range shapeSets(t) {
		m, err := newParametricModel(s.data, ParametricOptions{Distribution: GeneralisedGammaLife, Zero: 0.5})
		if err != nil {
			t.Fatal(err)
		}
		best := must(FitParametric(s.data, ParametricOptions{Distribution: GeneralisedGammaLife}))(t)
		for q, dist := range map[float64]Distribution{1: WeibullLife, 0: LogNormalLife} {
			held := must(FitParametric(s.data, ParametricOptions{Distribution: dist}))(t)
			f, _, err := m.withShape(q, m.from(m.without().start()), 100)
			if err != nil {
				t.Fatal(err)
			}
			near(t, name+" "+dist.String(), f.now.loglik, held.LogLik, 1e-12)
			if best.LogLik < held.LogLik {
				t.Errorf("%s: %v is better than the best shape", name, dist)
			}
		}
	}
}

// Tobin 1958: durable goods as the logarithm of a left-censored time. survreg
// with a normal error is the log-normal curve; as printed: 15.145, -0.129,
// -0.0455, scale 5.57.
func TestLeftCensoredTobin(t *testing.T) {
	s := &set{t: t, rows: readRows(t, "tobin")}
	want := get(readJSON(t, filepath.Join("..", "..", "testdata", "published", "shape", "expected.json")), "tobin").(map[string]any)
	d, logs := ParametricData{X: [][]float64{s.num("age"), s.num("quant")}, Names: []string{"age", "quant"}}, 0.0
	for _, v := range s.num("durable") {
		left := 0.0
		if v > 0 {
			left = math.Exp(v)
			logs += v
		}
		d.Left, d.Right = append(d.Left, left), append(d.Right, math.Exp(v))
	}
	f := must(FitParametric(d, ParametricOptions{Distribution: LogNormalLife}))(t)
	nears(t, "coefficients", f.Coef, numbers(want["coef"]), 1e-8)
	near(t, "scale", f.Scale, number(want["scale"]), 1e-8)
	nears(t, "errors", f.StdErr(), numbers(want["se"]), 1e-7)
	near(t, "log likelihood of the logarithms", f.LogLik+logs, number(want["loglik"]), 1e-10)
	if f.Intervals != 13 {
		t.Errorf("%d of 20 left-censored", f.Intervals)
	}
}

// Times that run against a wall tell no shape, and it is said.
func TestShapeNotTold(t *testing.T) {
	d := ParametricData{Left: []float64{1, 60, 99, 99.5, 100}, Right: []float64{1, 60, 99, 99.5, 100}}
	f, err := FitParametric(d, ParametricOptions{Distribution: GeneralisedGammaLife})
	if !errors.Is(err, ErrShape) {
		t.Errorf("fit %+v, error %v", f, err)
	}
	if _, err := FitParametric(d, ParametricOptions{Distribution: WeibullLife}); err != nil {
		t.Error(err)
	}
}
