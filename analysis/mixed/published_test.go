package mixed

import (
	"os"
	"strings"
	"testing"

	"plybook/analysis/internal/lsq/lsqtest"
)

// published is the folder of the published data sets.
var published = os.DirFS("../../testdata/published")

func sleep(t testing.TB) (Data, []string) {
	c := lsqtest.Columns(t, published, "sleepstudy")
	days := lsqtest.Numbers(t, c["Days"])
	return Data{Y: lsqtest.Numbers(t, c["Reaction"]), X: [][]float64{days}, Names: []string{"Days"}, Intercept: true,
		Group: lsqtest.Groups(c["Subject"]), GroupName: "subject", Z: [][]float64{days}, ZNames: []string{"Days"}, RandomIntercept: true}, c["Subject"]
}

func ortho(t testing.TB) (Data, []string) {
	c := lsqtest.Columns(t, published, "orthodont")
	age := lsqtest.Numbers(t, c["age"])
	male, both := make([]float64, len(age)), make([]float64, len(age))
	for i := range age {
		if c["Sex"][i] == "Male" {
			male[i], both[i] = 1, age[i]
		}
	}
	return Data{Y: lsqtest.Numbers(t, c["distance"]), X: [][]float64{age, male, both}, Names: []string{"age", "male", "age_male"},
		Intercept: true, Group: lsqtest.Groups(c["Subject"]), GroupName: "child", Z: [][]float64{age}, ZNames: []string{"age"},
		RandomIntercept: true}, c["Subject"]
}

type reference struct {
	Fixed  map[string]float64 `json:"fixed"`
	SE     map[string]float64 `json:"se"`
	VarCov map[string]float64 `json:"varcov"`
	SDCor  map[string]float64 `json:"sdcor"`
	LogLik float64            `json:"loglik"`
	N      int                `json:"n"`
	BLUP   struct {
		Rows, Cols []string
		Values     [][]float64
	} `json:"blup"`
}

// R 4.2.2, lme4 1.1-31, lmer; the calls are in expected.json. Its optimiser
// stops at about 1e-6 of the variances (1e-5 in the correlated orthodont
// fits), so those are compared at the case's tolerance; that the estimates
// here are the better ones shows in the log-likelihood, which must not be
// lower, and in the gradient.
func TestPublishedFits(t *testing.T) {
	for _, set := range []string{"sleepstudy", "orthodont"} {
		var want struct {
			Entries map[string]struct {
				RelTol float64 `json:"rel_tol"`
				Fit    reference
			} `json:"entries"`
		}
		file := "expected.json"
		lsqtest.Expected(t, published, set, file, &want)
		full, labels := sleep(t)
		if set == "orthodont" {
			full, labels = ortho(t)
		}
		cases := 0
		for name, e := range want.Entries {
			if strings.Contains(name, "gls") {
				continue
			}
			cases++
			d := full
			o := Options{ML: strings.HasPrefix(name, "ml"), Uncorrelated: strings.Contains(name, "uncorrelated")}
			if strings.HasSuffix(name, "_int") {
				d.Z, d.ZNames = nil, nil
			}
			t.Run(set+" "+name, func(t *testing.T) { checkFit(t, d, o, labels, e.Fit, e.RelTol) })
		}
		if cases < 4 {
			t.Errorf("%s: only %d cases", set, cases)
		}
	}
}

func checkFit(t *testing.T, d Data, o Options, labels []string, want reference, tol float64) {
	m, err := Fit(d, o)
	if err != nil {
		t.Fatal(err)
	}
	if m.LogLikelihood < want.LogLik-1e-9 {
		t.Errorf("log-likelihood %.12f is below the reference's %.12f", m.LogLikelihood, want.LogLik)
	}
	if m.Convergence.Gradient > 1e-7 {
		t.Errorf("gradient %g at the optimum", m.Convergence.Gradient)
	}
	lsqtest.Close(t, "log-likelihood", m.LogLikelihood, want.LogLik, 1e-9)
	if m.Rows != want.N || m.Singular || len(m.Warnings) > 0 {
		t.Errorf("%d rows, singular %v, warnings %v", m.Rows, m.Singular, m.Warnings)
	}
	for _, b := range m.Coef {
		n := b.Name
		if n == "intercept" {
			n = "(Intercept)"
		}
		lsqtest.Close(t, n, b.Estimate, want.Fixed[n], 1e-9)
		lsqtest.Close(t, "standard error of "+n, b.SE, want.SE[n], tol)
	}
	seen := 0
	for name, v := range want.VarCov {
		c := component(m, name)
		if c == nil {
			t.Errorf("no component for %s", name)
			continue
		}
		seen++
		lsqtest.Close(t, "variance "+name, c.Variance, v, tol)
		if c.With == "" {
			lsqtest.Close(t, "sd "+name, c.SD, want.SDCor[name], tol)
		} else {
			lsqtest.Close(t, "correlation "+name, c.Correlation, want.SDCor[name], tol)
		}
	}
	if seen != len(m.Variance) {
		t.Errorf("%d components, the reference has %d", len(m.Variance), seen)
	}
	at := map[string][]float64{}
	for i, r := range want.BLUP.Rows {
		at[r] = want.BLUP.Values[i]
	}
	number := map[int]string{}
	for i, g := range d.Group {
		number[g] = labels[i]
	}
	for _, e := range m.Effects {
		w := at[number[e.Group]]
		if len(w) != len(e.Mode) {
			t.Fatalf("%s: %d effects, want %d", number[e.Group], len(e.Mode), len(w))
		}
		for j := range w {
			// The absolute size of the modes, not of one that is near zero,
			// sets what their difference means.
			scale := 1 + m.Variance[j].SD
			if diff := (e.Mode[j] - w[j]) / scale; diff > tol || diff < -tol {
				t.Errorf("%s effect %d = %.12g, want %.12g", number[e.Group], j, e.Mode[j], w[j])
			}
		}
	}
}

// component finds the component that the reference calls name: "Subject
// Days", "Subject (Intercept) Days", "residual".
func component(m *Model, name string) *Component {
	words := strings.Fields(strings.ReplaceAll(name, "(Intercept)", "intercept"))
	term, with := "", ""
	if len(words) > 1 {
		term = words[1]
	}
	if len(words) > 2 {
		with = words[2]
	}
	for i, c := range m.Variance {
		if c.Term == term && c.With == with {
			return &m.Variance[i]
		}
	}
	return nil
}
