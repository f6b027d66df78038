package mixed

import (
	"encoding/json"
	"errors"
	"math"
	"math/rand/v2"
	"os"
	"reflect"
	"strings"
	"testing"

	"plybook/analysis/internal/lsq/lsqtest"
)

// R 4.2.2, nlme 3.1-162, gls with corAR1 and corExp and no random effects
// (see expected.json). Visits are two years apart, so that the correlation
// per visit is that at two years. gls scales the ML variance of the fixed
// effects by n/(n-p), which is taken out.
func TestPublishedCorrelationInTime(t *testing.T) {
	var want struct {
		Entries map[string]struct {
			Coef, SE   map[string]float64
			Sigma, Phi float64
			Range      float64
			LogLik     float64
		}
	}
	lsqtest.Expected(t, published, "orthodont", "expected.json", &want)
	d, _ := ortho(t)
	d.Time, d.Z, d.ZNames, d.RandomIntercept = d.X[0], nil, nil, false
	for name, o := range map[string]Options{"reml": {Correlation: ContinuousAR1}, "ml": {Correlation: ContinuousAR1, ML: true}} {
		m, err := Fit(d, o)
		if err != nil {
			t.Fatal(name, err)
		}
		finite(t, name, reflect.ValueOf(m))
		ar, ex := want.Entries[name+"_gls_ar1"], want.Entries[name+"_gls_exp"]
		if m.LogLikelihood < ar.LogLik-1e-9 {
			t.Errorf("%s: log-likelihood %.12f is below the reference's %.12f", name, m.LogLikelihood, ar.LogLik)
		}
		lsqtest.Close(t, name+" log-likelihood", m.LogLikelihood, ar.LogLik, 1e-10)
		lsqtest.Close(t, name+" range", m.Range, ex.Range, 1e-5)
		lsqtest.Close(t, name+" correlation per visit", m.Phi*m.Phi, ar.Phi, 1e-6)
		lsqtest.Close(t, name+" sigma", m.Sigma, ar.Sigma, 1e-6)
		scale := 1.0
		if o.ML {
			scale = math.Sqrt(104.0 / 108)
		}
		for _, b := range m.Coef {
			n := b.Name
			if n == "intercept" {
				n = "(Intercept)"
			}
			lsqtest.Close(t, name+" "+n, b.Estimate, ar.Coef[n], 1e-6)
			lsqtest.Close(t, name+" standard error "+n, b.SE, ar.SE[n]*scale, 1e-6)
		}
		if m.Parameters != 6 || len(m.RandomNames) != 0 || m.ICC != 0 {
			t.Errorf("%s: %d parameters, random effects %v, ICC %g", name, m.Parameters, m.RandomNames, m.ICC)
		}
	}
}

// R 4.2.2, nlme 3.1-162, lme with corCAR1 (testdata/serial.R). lme stops at a
// log-likelihood 7e-9 below the optimum, which leaves its variances good to
// about 3e-5.
func TestRandomInterceptWithCorrelationInTime(t *testing.T) {
	text, err := os.ReadFile("testdata/serial.json")
	if err != nil {
		t.Fatal(err)
	}
	var want map[string]struct {
		Coef, SE               []float64
		Sigma, SD, Phi, LogLik float64
		Modes                  []float64
		Groups                 []string
	}
	if err := json.Unmarshal(text, &want); err != nil {
		t.Fatal(err)
	}
	d, labels, _ := thinned(t, "sleep_reml_int")
	d.Time = d.X[0]
	for name, w := range want {
		m, err := Fit(d, Options{Correlation: ContinuousAR1, ML: name == "ml"})
		if err != nil {
			t.Fatal(name, err)
		}
		if m.LogLikelihood < w.LogLik-1e-9 {
			t.Errorf("%s: log-likelihood %.12f is below the reference's %.12f", name, m.LogLikelihood, w.LogLik)
		}
		lsqtest.Close(t, name+" log-likelihood", m.LogLikelihood, w.LogLik, 1e-9)
		lsqtest.Close(t, name+" phi", m.Phi, w.Phi, 5e-5)
		lsqtest.Close(t, name+" sigma", m.Sigma, w.Sigma, 5e-5)
		lsqtest.Close(t, name+" sd", m.Variance[0].SD, w.SD, 5e-5)
		for j, b := range m.Coef {
			lsqtest.Close(t, name+" "+b.Name, b.Estimate, w.Coef[j], 1e-6)
			lsqtest.Close(t, name+" standard error of "+b.Name, b.SE, w.SE[j], 5e-5)
			if b.DF < 10 || b.DF > float64(len(d.Y)) {
				t.Errorf("%s: %g degrees of freedom of %s", name, b.DF, b.Name)
			}
		}
		at := map[string]float64{}
		for i, g := range w.Groups {
			at[g] = w.Modes[i]
		}
		number := map[int]string{}
		for i, g := range d.Group {
			number[g] = labels[i]
		}
		for _, e := range m.Effects {
			if diff := math.Abs(e.Mode[0] - at[number[e.Group]]); diff > 1e-4*w.SD {
				t.Errorf("%s effect of %s = %g, want %g", name, number[e.Group], e.Mode[0], at[number[e.Group]])
			}
		}
	}
}

// Rows and units of time do not matter.
func TestCorrelationInTimeUnits(t *testing.T) {
	d, _, _ := thinned(t, "sleep_reml_int")
	d.Time = d.X[0]
	o := Options{Correlation: ContinuousAR1}
	a := mustFit(t, d, o)
	e := d
	e.Y, e.Group, e.Time = nil, nil, nil
	days := []float64{}
	for _, i := range rand.New(rand.NewPCG(5, 6)).Perm(len(d.Y)) {
		e.Y, e.Group, e.Time = append(e.Y, d.Y[i]), append(e.Group, d.Group[i]), append(e.Time, 24*d.Time[i]+1e5)
		days = append(days, d.X[0][i])
	}
	e.X = [][]float64{days}
	b := mustFit(t, e, o)
	same(t, "hours, shuffled", a, b, 1, 0, 1)
	lsqtest.Close(t, "range", b.Range, 24*a.Range, 1e-7)
	lsqtest.Close(t, "log-likelihood", b.LogLikelihood, a.LogLikelihood, 1e-12)
}

func TestCorrelationInTimeDegenerate(t *testing.T) {
	d, _, _ := thinned(t, "sleep_reml_int")
	o := Options{Correlation: ContinuousAR1}
	for name, c := range map[string]struct {
		time []float64
		want error
	}{
		"no times":     {nil, ErrInput},
		"not a number": {append([]float64{math.NaN()}, d.X[0][1:]...), ErrInput},
		"tied times":   {make([]float64, len(d.Y)), ErrTiedTimes},
	} {
		e := d
		e.Time = c.time
		if _, err := Fit(e, o); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", name, err, c.want)
		}
	}
	if _, err := Fit(d, Options{Correlation: 9}); !errors.Is(err, ErrInput) {
		t.Error("an unknown correlation is accepted")
	}
	// Independent rows: the correlation comes out as none and is left out.
	r := rand.New(rand.NewPCG(2, 3))
	e := Data{Intercept: true, RandomIntercept: true}
	for g := range 12 {
		u, last := 2*r.NormFloat64(), 0.0
		for i := range 6 {
			z := r.NormFloat64()
			e.Y, e.Group, e.Time = append(e.Y, u+z-0.6*last), append(e.Group, g), append(e.Time, float64(i))
			last = z
		}
	}
	m := mustFit(t, e, o)
	if m.Range != 0 || m.Phi != 0 || len(m.Warnings) != 1 || m.Warnings[0].Code != "no-serial-correlation" {
		t.Errorf("range %g, warnings %+v", m.Range, m.Warnings)
	}
	lsqtest.Close(t, "log-likelihood", m.LogLikelihood, mustFit(t, e, Options{}).LogLikelihood, 1e-14)
	// Random walks: no end to the correlation in sight.
	e = Data{Intercept: true}
	for g := range 6 {
		y := 100 * r.NormFloat64()
		for i := range 5 {
			y += r.NormFloat64()
			e.Y, e.Group, e.Time = append(e.Y, y), append(e.Group, g), append(e.Time, float64(i))
		}
	}
	if _, err := Fit(e, o); !errors.Is(err, ErrLongRange) || !strings.Contains(err.Error(), "outlasts") {
		t.Errorf("random walks: %v", err)
	}
}
