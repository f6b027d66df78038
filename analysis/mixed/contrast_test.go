package mixed

import (
	"errors"
	"math"
	"testing"

	"plybook/analysis/internal/lsq/lsqtest"
)

func TestContrasts(t *testing.T) {
	d, _, _ := thinned(t, "ortho_reml_slope")
	d.TermNames = nil
	m := mustFit(t, d, Options{})
	if len(m.Terms) != 1 || m.Terms[0].Name != "age, male, age_male" {
		t.Errorf("terms %+v", m.Terms)
	}
	c, err := m.Contrast([]float64{0, 0, 0, 3})
	if err != nil {
		t.Fatal(err)
	}
	b := m.Coef[3]
	lsqtest.Close(t, "estimate", c.Estimate, 3*b.Estimate, 1e-14)
	lsqtest.Close(t, "SE", c.SE, 3*b.SE, 1e-13)
	lsqtest.Close(t, "df", c.DF, b.DF, 1e-12)
	lsqtest.Close(t, "low", c.Low, 3*b.Low, 1e-12)
	lsqtest.Close(t, "p", c.P, b.P, 1e-12)
	f, err := m.FTest([][]float64{{0, 0, 0, 3}})
	if err != nil {
		t.Fatal(err)
	}
	lsqtest.Close(t, "F of one row", f.Statistic, b.T*b.T, 1e-12)
	lsqtest.Close(t, "df of one row", f.DF2, b.DF, 1e-12)
	lsqtest.Close(t, "p of one row", f.P, b.P, 1e-9)
	for name, c := range map[string][]float64{"short": {1}, "not a number": {0, 0, math.NaN(), 0}, "zeros": {0, 0, 0, 0}} {
		if _, err := m.Contrast(c); !errors.Is(err, ErrInput) {
			t.Errorf("%s: %v", name, err)
		}
	}
	for name, c := range map[string][][]float64{"none": {}, "short": {{1}}, "twice": {{0, 1, 0, 0}, {0, 2, 0, 0}}} {
		if _, err := m.FTest(c); !errors.Is(err, ErrInput) {
			t.Errorf("F test, %s: %v", name, err)
		}
	}
}

// Columns of one term in units far apart (an age and a power of it) are
// tested as well as in units alike.
func TestTermWithUnitsFarApart(t *testing.T) {
	d, _, _ := thinned(t, "ortho_reml_slope")
	a := mustFit(t, d, Options{})
	tiny := make([]float64, len(d.Y))
	for i, v := range d.X[2] {
		tiny[i] = v * 1e9
	}
	d.X = [][]float64{d.X[0], d.X[1], tiny}
	b := mustFit(t, d, Options{})
	lsqtest.Close(t, "F", b.Terms[0].Statistic, a.Terms[0].Statistic, 1e-8)
	lsqtest.Close(t, "df", b.Terms[0].DF2, a.Terms[0].DF2, 1e-5)
}

// Fai & Cornelius 1996: E = sum of v/(v-2), df = 2E/(E-q); by hand.
func TestCombinedDegreesOfFreedom(t *testing.T) {
	for _, c := range []struct {
		df   []float64
		want float64
	}{
		{[]float64{7}, 7},
		{[]float64{7, 7, 7}, 7},
		{[]float64{4, 10}, 2 * (2 + 1.25) / (2 + 1.25 - 2)},
		{[]float64{10, 1.5}, 2},
		{[]float64{10, 0}, 0},
	} {
		lsqtest.Close(t, "df", combined(c.df), c.want, 1e-14)
	}
}
