package mixed

import (
	"encoding/json"
	"math"
	"os"
	"strings"
	"testing"

	"plybook/analysis/internal/lsq/lsqtest"
)

// thinned are the data of testdata/lmer.R: published sets with rows left out
// by rule, so that nothing is balanced.
func thinned(t testing.TB, name string) (Data, []string, Options) {
	o := Options{ML: strings.Contains(name, "_ml_"), Uncorrelated: strings.Contains(name, "uncorrelated")}
	d, labels := sleep(t)
	keep := func(i int) bool { return (i+1)*7%11 > 2 }
	if strings.HasPrefix(name, "ortho") {
		d, labels = ortho(t)
		full, l := d, labels
		keep = func(i int) bool { return (i+1)%7 != 0 && !(l[i] == "M01" && full.X[0][i] > 8) }
	}
	cut := func(v []float64) []float64 {
		var out []float64
		for i, x := range v {
			if keep(i) {
				out = append(out, x)
			}
		}
		return out
	}
	var group []int
	var left []string
	for i, g := range d.Group {
		if keep(i) {
			group, left = append(group, g), append(left, labels[i])
		}
	}
	d.Y, d.Group = cut(d.Y), group
	x := make([][]float64, len(d.X))
	for j, c := range d.X {
		x[j] = cut(c)
	}
	d.X, d.Z = x, [][]float64{x[0]}
	if strings.HasPrefix(name, "ortho") {
		d.Terms, d.TermNames = []int{0, 0, 0}, []string{"age by sex"}
	}
	if name == "ortho_reml_int" {
		age, male := d.X[0], d.X[1]
		d.X, d.Names = make([][]float64, 4), []string{"10", "12", "14", "male"}
		d.Terms, d.TermNames = []int{0, 0, 0, 1}, []string{"age", "male"}
		for i, a := range age {
			for j, at := range []float64{10, 12, 14} {
				v := 0.0
				if a == at {
					v = 1
				}
				d.X[j] = append(d.X[j], v)
			}
			d.X[3] = append(d.X[3], male[i])
		}
	}
	if strings.HasSuffix(name, "_int") {
		d.Z, d.ZNames = nil, nil
	}
	return d, left, o
}

// R 4.2.2, lme4 1.1-31 driven to its limit, lmerTest 3.1-3 for the
// Satterthwaite degrees of freedom; ICC and R2 by formula (testdata/lmer.R).
// Estimates agree to 1e-6; lmerTest takes its derivatives by differences and
// its degrees of freedom hold to about 1e-5.
func TestUnbalancedFits(t *testing.T) {
	text, err := os.ReadFile("testdata/lmer.json")
	if err != nil {
		t.Fatal(err)
	}
	var want map[string]struct {
		Coef, SE, DF, P    []float64
		Tests              [][]float64
		Cov                []float64
		Sigma, LogLik, AIC float64
		Modes              []float64 `json:"modes"`
		ModeSE             []float64 `json:"mode_se"`
		Groups             []string
		ICC                float64
		R2Marginal         float64 `json:"r2_marginal"`
		R2Conditional      float64 `json:"r2_conditional"`
	}
	if err := json.Unmarshal(text, &want); err != nil {
		t.Fatal(err)
	}
	if len(want) != 7 {
		t.Fatalf("%d cases, want 7", len(want))
	}
	for name, w := range want {
		t.Run(name, func(t *testing.T) {
			d, labels, o := thinned(t, name)
			m, err := Fit(d, o)
			if err != nil {
				t.Fatal(err)
			}
			if m.LogLikelihood < w.LogLik-1e-10 {
				t.Errorf("log-likelihood %.13f is below the reference's %.13f", m.LogLikelihood, w.LogLik)
			}
			lsqtest.Close(t, "log-likelihood", m.LogLikelihood, w.LogLik, 1e-11)
			lsqtest.Close(t, "AIC", m.AIC, w.AIC, 1e-11)
			lsqtest.Close(t, "sigma", m.Sigma, w.Sigma, 1e-6)
			for j, b := range m.Coef {
				lsqtest.Close(t, b.Name, b.Estimate, w.Coef[j], 1e-6)
				lsqtest.Close(t, "standard error of "+b.Name, b.SE, w.SE[j], 1e-6)
				lsqtest.Close(t, "df of "+b.Name, b.DF, w.DF[j], 2e-5)
				lsqtest.Close(t, "p of "+b.Name, b.P, w.P[j], 2e-4)
			}
			if len(m.Terms) != len(w.Tests) {
				t.Fatalf("%d tests, want %d", len(m.Terms), len(w.Tests))
			}
			for j, f := range m.Terms {
				lsqtest.Close(t, "F", f.Statistic, w.Tests[j][0], 1e-6)
				lsqtest.Close(t, "df1", f.DF1, w.Tests[j][1], 0)
				lsqtest.Close(t, "df2", f.DF2, w.Tests[j][2], 2e-5)
				lsqtest.Close(t, "p of F", f.P, w.Tests[j][3], 2e-4)
			}
			q := len(m.RandomNames)
			for j := range q {
				for k := range q {
					// In units of the two standard deviations: a covariance near
					// zero has no size of its own.
					diff := (m.RandomCov[j][k] - w.Cov[j*q+k]) / (m.Variance[j].SD * m.Variance[k].SD)
					if math.Abs(diff) > 2e-6 {
						t.Errorf("covariance %d,%d = %.12g, want %.12g", j, k, m.RandomCov[j][k], w.Cov[j*q+k])
					}
				}
			}
			lsqtest.Close(t, "ICC", m.ICC, w.ICC, 1e-6)
			lsqtest.Close(t, "marginal R2", m.R2Marginal, w.R2Marginal, 1e-6)
			lsqtest.Close(t, "conditional R2", m.R2Conditional, w.R2Conditional, 1e-6)
			at := map[string]int{}
			for i, g := range w.Groups {
				at[g] = i
			}
			number := map[int]string{}
			for i, g := range d.Group {
				number[g] = labels[i]
			}
			for _, e := range m.Effects {
				i := at[number[e.Group]]
				for j := range e.Mode {
					if diff := math.Abs(e.Mode[j] - w.Modes[i*q+j]); diff > 1e-6*m.Variance[j].SD {
						t.Errorf("%s effect %d = %.10g, want %.10g", number[e.Group], j, e.Mode[j], w.Modes[i*q+j])
					}
					lsqtest.Close(t, "standard error of a mode", e.SE[j], w.ModeSE[i*q+j], 2e-6)
				}
			}
		})
	}
}
