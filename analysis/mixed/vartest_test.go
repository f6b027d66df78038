package mixed

import (
	"encoding/json"
	"math"
	"os"
	"slices"
	"strings"
	"testing"

	"plybook/analysis/internal/lsq/lsqtest"
	"plybook/analysis/stats"
)

func mustFit(t testing.TB, d Data, o Options) *Model {
	t.Helper()
	m, err := Fit(d, o)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// R 4.2.2, lme4 1.1-31 and nlme 3.1-162 (testdata/parts.R): errors of the
// predicted random effects by the inverse of the mixed model equations, and
// likelihood ratios of smaller models. nlme stops a little short of the
// optimum, so that ratios with a correlation in time hold to 1e-6.
func TestPartsOfWhatIsRandom(t *testing.T) {
	text, err := os.ReadFile("testdata/parts.json")
	if err != nil {
		t.Fatal(err)
	}
	var want map[string]struct {
		SE    []float64   `json:"se_all"`
		Tests [][]float64 // ratio, degrees of freedom of the lower part, p
	}
	if err := json.Unmarshal(text, &want); err != nil {
		t.Fatal(err)
	}
	for name, w := range want {
		d, labels, o := thinned(t, strings.Replace(name, "_serial", "_int", 1))
		tol := 1e-7
		if strings.HasSuffix(name, "_serial") {
			d.Time, o.Correlation, tol = d.X[0], ContinuousAR1, 1e-6
		}
		m := mustFit(t, d, o)
		order := append([]string(nil), labels...)
		slices.Sort(order)
		order = slices.Compact(order)
		of := map[int]string{}
		for i, g := range d.Group {
			of[g] = labels[i]
		}
		for _, e := range m.Effects {
			q := len(m.RandomNames)
			for j := range e.SEAll {
				if len(w.SE) > 0 {
					lsqtest.Close(t, name+" error", e.SEAll[j], w.SE[slices.Index(order, of[e.Group])*q+j], 1e-6)
				}
				if !(e.SEAll[j] >= e.SE[j]) {
					t.Errorf("%s: with uncertain fixed effects the error is %g, without %g", name, e.SEAll[j], e.SE[j])
				}
			}
		}
		tests, err := m.VarianceTests()
		if err != nil {
			t.Fatal(name, err)
		}
		if len(tests) != len(w.Tests) {
			t.Fatalf("%s: %d tests, want %d", name, len(tests), len(w.Tests))
		}
		for k, v := range w.Tests {
			x := tests[k]
			lsqtest.Close(t, name+" ratio of "+x.Term, x.Statistic, v[0], tol)
			lsqtest.Close(t, name+" p of "+x.Term, x.P, v[2], 20*tol)
			if x.DFLow != int(v[1]) || x.DFHigh != x.DFLow+1 {
				t.Errorf("%s: degrees of freedom %d and %d", name, x.DFLow, x.DFHigh)
			}
		}
	}
}

// The 5% points of the half-and-half mixtures: that of chi-square 0:1 is the
// 10% point of chi-square 1; those of 1:2 and 2:3 by R 4.2.2, uniroot over pchisq.
func TestMixture(t *testing.T) {
	for low, x := range []float64{2.70554345409542, 5.138380785, 7.045059653} {
		lsqtest.Close(t, "p", Mixture(x, low), 0.05, 1e-9)
	}
	if Mixture(0, 0) != 1 || Mixture(0, 1) != 1 || !math.IsNaN(Mixture(math.NaN(), 1)) {
		t.Error("a ratio of 0 has a p of 1, an unknown one none")
	}
	if p := Mixture(3, 0); p != stats.ChiSquareP(3, 1)/2 {
		t.Errorf("p %g", p)
	}
}

// Groups that do not differ: the variance is zero, and the test says so.
func TestVarianceThatIsNone(t *testing.T) {
	d := Data{Intercept: true, RandomIntercept: true, GroupName: "limb"}
	for g := range 12 {
		for k := range 4 {
			d.Y = append(d.Y, float64((g+k)%4)) // every group has the same mean
			d.Group = append(d.Group, g)
		}
	}
	m := mustFit(t, d, Options{})
	tests, err := m.VarianceTests()
	if err != nil || len(tests) != 1 || tests[0].Statistic != 0 || tests[0].P != 1 || !m.Singular {
		t.Errorf("%+v, %v, singular %v", tests, err, m.Singular)
	}
}
