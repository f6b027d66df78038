package mixed

import (
	"math"
	"math/rand/v2"
	"testing"

	"plybook/analysis/internal/lsq/lsqtest"
)

// same compares two fits; the response of b is scale times that of a plus
// add, and its slope column is stretch times that of a.
func same(t *testing.T, what string, a, b *Model, scale, add, stretch float64) {
	t.Helper()
	unit := make([]float64, len(a.Coef))
	for j := range unit {
		unit[j] = scale
	}
	unit[1] /= stretch
	for j := range a.Coef {
		x, y := a.Coef[j], b.Coef[j]
		want := x.Estimate * unit[j]
		if j == 0 {
			want += add
		}
		lsqtest.Close(t, what+" estimate", y.Estimate, want, 1e-8)
		lsqtest.Close(t, what+" SE", y.SE, x.SE*unit[j], 1e-8)
		lsqtest.Close(t, what+" df", y.DF, x.DF, 1e-6)
	}
	lsqtest.Close(t, what+" sigma", b.Sigma, a.Sigma*scale, 1e-8)
	lsqtest.Close(t, what+" intercept variance", b.RandomCov[0][0], a.RandomCov[0][0]*scale*scale, 1e-7)
	if len(a.RandomCov) > 1 {
		lsqtest.Close(t, what+" slope variance", b.RandomCov[1][1], a.RandomCov[1][1]*scale*scale/stretch/stretch, 1e-7)
		lsqtest.Close(t, what+" covariance", b.RandomCov[0][1], a.RandomCov[0][1]*scale*scale/stretch, 1e-6)
	}
	lsqtest.Close(t, what+" ICC", b.ICC, a.ICC, 1e-8)
}

func TestRowOrderUnitsAndConstantsDoNotMatter(t *testing.T) {
	d, _, _ := thinned(t, "ortho_reml_slope")
	d.Terms, d.TermNames = nil, nil
	d.X, d.Names = d.X[:2], d.Names[:2]
	for _, o := range []Options{{}, {ML: true}, {Uncorrelated: true}} {
		a, err := Fit(d, o)
		if err != nil {
			t.Fatal(err)
		}
		rows := rand.New(rand.NewPCG(1, 2)).Perm(len(d.Y))
		e := d
		e.Y, e.Group, e.X = nil, nil, make([][]float64, 2)
		for _, i := range rows {
			e.Y, e.Group = append(e.Y, d.Y[i]), append(e.Group, 1000-7*d.Group[i])
			for j := range e.X {
				e.X[j] = append(e.X[j], d.X[j][i])
			}
		}
		e.Z = e.X[:1]
		b, err := Fit(e, o)
		if err != nil {
			t.Fatal(err)
		}
		same(t, "shuffled", a, b, 1, 0, 1)
		lsqtest.Close(t, "log-likelihood", b.LogLikelihood, a.LogLikelihood, 1e-12)

		e = d
		e.Y = make([]float64, len(d.Y))
		for i, y := range d.Y {
			e.Y[i] = 1e-6*y + 5
		}
		if b, err = Fit(e, o); err != nil {
			t.Fatal(err)
		}
		same(t, "other units and a constant", a, b, 1e-6, 5, 1)

		e = d
		days := make([]float64, len(d.Y))
		for i, v := range d.X[0] {
			days[i] = 365.25 * v
		}
		e.X, e.Z = [][]float64{days, d.X[1]}, [][]float64{days}
		if b, err = Fit(e, o); err != nil {
			t.Fatal(err)
		}
		same(t, "days for years", a, b, 1, 0, 365.25)
	}
}

// Counting time from another zero changes the intercept and what goes with
// it, not the slope, the fit or the effects at a given time.
func TestZeroOfTimeDoesNotMatter(t *testing.T) {
	d, _, _ := thinned(t, "sleep_reml_slope")
	a, err := Fit(d, Options{})
	if err != nil {
		t.Fatal(err)
	}
	e := d
	later := make([]float64, len(d.Y))
	for i, v := range d.X[0] {
		later[i] = v + 20454 // a date as days since 1970
	}
	e.X, e.Z = [][]float64{later}, [][]float64{later}
	b, err := Fit(e, Options{})
	if err != nil {
		t.Fatal(err)
	}
	lsqtest.Close(t, "slope", b.Coef[1].Estimate, a.Coef[1].Estimate, 1e-8)
	lsqtest.Close(t, "SE of the slope", b.Coef[1].SE, a.Coef[1].SE, 1e-8)
	lsqtest.Close(t, "df of the slope", b.Coef[1].DF, a.Coef[1].DF, 1e-6)
	lsqtest.Close(t, "slope variance", b.RandomCov[1][1], a.RandomCov[1][1], 1e-7)
	lsqtest.Close(t, "log-likelihood", b.LogLikelihood, a.LogLikelihood, 1e-11)
	lsqtest.Close(t, "ICC", b.ICC, a.ICC, 1e-6)
	fitted, fixed, residuals := a.Fitted(), a.FittedFixed(), a.Residuals()
	bFitted, bFixed := b.Fitted(), b.FittedFixed()
	for i := range d.Y {
		lsqtest.Close(t, "fitted", bFitted[i], fitted[i], 1e-8)
		lsqtest.Close(t, "fixed part", bFixed[i], fixed[i], 1e-8)
		lsqtest.Close(t, "row", fitted[i]+residuals[i], d.Y[i], 1e-14)
	}
}

// The analytic gradient is the derivative of the criterion.
func TestGradient(t *testing.T) {
	for _, o := range []Options{{}, {ML: true}, {Uncorrelated: true}} {
		d, _, _ := thinned(t, "sleep_reml_slope")
		m, err := Fit(d, o)
		if err != nil {
			t.Fatal(err)
		}
		c := m.sat.(*satterthwaite).s.c
		at := make([]float64, c.parameters())
		for j := range at {
			at[j] = 0.7 + 0.3*float64(j)
		}
		g := c.gradient(c.at(at))
		for j := range at {
			const w = 1e-5
			up, down := append([]float64(nil), at...), append([]float64(nil), at...)
			up[j] += w
			down[j] -= w
			lsqtest.Close(t, "derivative", g[j], (c.at(up).value-c.at(down).value)/(2*w), 1e-6)
		}
	}
}

// simulate draws groups of rows with random intercept and slope.
func simulate(seed uint64, groups, rows int, sd0, sd1, sigma float64) Data {
	r := rand.New(rand.NewPCG(seed, 7))
	d := Data{X: make([][]float64, 1), Names: []string{"x"}, Intercept: true, RandomIntercept: true}
	for g := range groups {
		b0, b1 := sd0*r.NormFloat64(), sd1*r.NormFloat64()
		for range rows {
			x := r.Float64() * 2
			d.X[0] = append(d.X[0], x)
			d.Y = append(d.Y, 1+b0+(0.5+b1)*x+sigma*r.NormFloat64())
			d.Group = append(d.Group, g)
		}
	}
	d.Z, d.ZNames = d.X, d.Names
	return d
}

// 95% intervals of a slope that varies between a few groups hold the truth in
// 95% of 600 simulated data sets: 4 standard errors of that share are 3.6%.
func TestIntervalsCover(t *testing.T) {
	const sets = 600
	hit := 0
	for s := range sets {
		m, err := Fit(simulate(uint64(s), 8, 6, 1, 0.7, 0.5), Options{})
		if err != nil {
			t.Fatal(err)
		}
		if b := m.Coef[1]; b.Low <= 0.5 && 0.5 <= b.High {
			hit++
		}
	}
	if share := float64(hit) / sets; math.Abs(share-0.95) > 0.036 {
		t.Errorf("the intervals hold the truth in %.1f%% of sets", 100*share)
	}
}

func BenchmarkFit20000Rows2000Groups(b *testing.B) {
	d := simulate(1, 2000, 10, 1, 0.5, 0.7)
	for b.Loop() {
		if _, err := Fit(d, Options{}); err != nil {
			b.Fatal(err)
		}
	}
}
