package maturation

import (
	"encoding/json"
	"io/fs"
	"math"
	"os"
	"testing"

	"plybook/analysis/internal/lsq/lsqtest"
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
			}
		}
	}
	if err := json.Unmarshal(raw, &want); err != nil {
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
			close(t, name+" error of "+c.Name, c.SE, w.Fit.SE[c.Name], 1e-6)
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
