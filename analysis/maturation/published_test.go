package maturation

import (
	"encoding/json"
	"io/fs"
	"math"
	"os"
	"testing"

	"plybook/analysis/internal/lsq/lsqtest"
	"plybook/analysis/stats"
)

// published is the folder of the published data sets.
var published = os.DirFS("../../testdata/published")

// pines are the heights of Loblolly pines (Kung 1986), which grow towards a
// plateau as limbs shrink towards one.
func pines(t testing.TB) (Data, []string) {
	c := lsqtest.Columns(t, published, "loblolly")
	return Data{Y: lsqtest.Numbers(t, c["height"]), Time: lsqtest.Numbers(t, c["age"]), Group: lsqtest.Groups(c["Seed"]), GroupName: "seed"}, c["Seed"]
}

func close(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol*math.Max(math.Abs(want), 1e-3)) {
		t.Errorf("%s = %.12g, want %.12g", what, got, want)
	}
}

// adjustedPines are errors and degrees of freedom by the method of Kenward and
// Roger on the tangent (testdata/published/loblolly/adjusted.R).
type adjustedPines struct {
	Entries map[string]struct {
		SE, DF    map[string]float64
		CurveSE   []float64 `json:"curve_se"`
		CurveDF   []float64 `json:"curve_df"`
		ReadingSE []float64 `json:"reading_se"`
		ReadingDF []float64 `json:"reading_df"`
	}
}

// R 4.2.2, nlme: the same alternation of steps (testdata/published/loblolly).
// Both searches stop at about 1e-7 of what they look for.
func TestPublishedPines(t *testing.T) {
	raw, err := fs.ReadFile(published, "loblolly/expected.json")
	if err != nil {
		t.Fatal(err)
	}
	var want struct {
		Entries map[string]struct {
			Fit struct {
				Fixed, SE map[string]float64
				Cov       [][]float64
				Sigma     float64
				LogLik    float64
				Seeds     []string
				Modes     [][]float64
				Foretold  struct{ Ages, Heights []float64 }
			}
		}
	}
	if err := json.Unmarshal(raw, &want); err != nil {
		t.Fatal(err)
	}
	var adjusted adjustedPines
	if raw, err = fs.ReadFile(published, "loblolly/adjusted.json"); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(raw, &adjusted); err != nil {
		t.Fatal(err)
	}
	d, seeds := pines(t)
	label := map[string]int{}
	for i, s := range seeds {
		label[s] = d.Group[i]
	}
	for name, o := range map[string]Options{"initial_plateau": {Form: Initial}, "share_plateau": {Form: Share},
		"initial_plateau_rate": {Form: Initial, VaryRate: true}, "share_plateau_rate": {Form: Share, VaryRate: true}} {
		m, err := Fit(d, o)
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		w, ok := want.Entries[name]
		if !ok {
			t.Fatalf("no values for %s", name)
		}
		for _, c := range m.Coef {
			close(t, name+" "+c.Name, c.Estimate, w.Fit.Fixed[c.Name], 1e-6)
			close(t, name+" error of "+c.Name, c.SE, adjusted.Entries[name].SE[c.Name], 1e-6)
			close(t, name+" degrees of freedom of "+c.Name, c.DF, adjusted.Entries[name].DF[c.Name], 1e-5)
			if !(c.SE > w.Fit.SE[c.Name]) { // what the likelihood alone gives
				t.Errorf("%s: error of %s is %g, no larger than %g", name, c.Name, c.SE, w.Fit.SE[c.Name])
			}
		}
		for k, age := range w.Fit.Foretold.Ages {
			a := adjusted.Entries[name]
			curve, err := m.At(label["301"], age)
			if err != nil {
				t.Fatal(err)
			}
			next, err := m.Next(label["301"], age)
			if err != nil {
				t.Fatal(err)
			}
			for what, v := range map[string]struct {
				got    Value
				se, df float64
			}{"curve": {curve, a.CurveSE[k], a.CurveDF[k]}, "next": {next, a.ReadingSE[k], a.ReadingDF[k]}} {
				close(t, name+" "+what, v.got.Estimate, w.Fit.Foretold.Heights[k], 1e-6)
				close(t, name+" error of "+what, v.got.SE, v.se, 1e-5)
				close(t, name+" half of the interval of "+what, v.got.High-v.got.Estimate, v.se*stats.StudentQuantile(0.975, v.df), 1e-5)
			}
		}
		close(t, name+" sigma", m.Sigma, w.Fit.Sigma, 1e-6)
		close(t, name+" log-likelihood", m.LogLikelihood, w.Fit.LogLik, 1e-8)
		for j := range m.RandomCov {
			for k := range m.RandomCov {
				close(t, name+" covariance", m.RandomCov[j][k], w.Fit.Cov[j][k], 1e-5)
			}
		}
		for i, s := range w.Fit.Seeds {
			for k, v := range w.Fit.Modes[i] {
				g, _ := m.limbAt(label[s])
				if e := m.Limbs[g].Effect[k]; math.Abs(e-v) > 1e-5*math.Sqrt(m.RandomCov[k][k]) {
					t.Errorf("%s: effect %d of %s = %g, want %g", name, k, s, e, v)
				}
			}
		}
	}
}
