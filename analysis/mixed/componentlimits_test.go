package mixed

import (
	"math"
	"testing"

	"plybook/analysis/stats"
)

// Yields of dyestuff from six batches of five (Davies 1947, Statistical methods
// in research and production, table 6.4), in grams. In balanced data the limits
// are those of the analysis of variance: the difference of the mean squares
// between and within batches has Satterthwaite's degrees of freedom (1946), the
// one within is chi-square itself.
func TestVarianceLimitsAreThoseOfTheAnalysisOfVariance(t *testing.T) {
	yields := [][]float64{{1545, 1440, 1440, 1520, 1580}, {1540, 1555, 1490, 1560, 1495}, {1595, 1550, 1605, 1510, 1560},
		{1445, 1440, 1595, 1465, 1545}, {1595, 1630, 1515, 1635, 1625}, {1520, 1455, 1450, 1480, 1445}}
	d := Data{Intercept: true, RandomIntercept: true}
	within, between, grand := 0.0, 0.0, 0.0
	for _, b := range yields {
		for _, y := range b {
			grand += y / 30
		}
	}
	for g, b := range yields {
		mean := 0.0
		for _, y := range b {
			d.Y, d.Group = append(d.Y, y), append(d.Group, g)
			mean += y / 5
		}
		for _, y := range b {
			within += (y - mean) * (y - mean) / 24
		}
		between += 5 * (mean - grand) * (mean - grand) / 5
	}
	m, err := Fit(d, Options{Level: 0.9})
	if err != nil {
		t.Fatal(err)
	}
	batch := (between - within) / 5
	df := batch * batch / (between*between/25/5 + within*within/25/24)
	for k, w := range []struct{ variance, df float64 }{{batch, df}, {within, 24}} {
		l := m.VarianceLimits()[k]
		for what, v := range map[string][2]float64{"variance": {m.Variance[k].Variance, w.variance}, "degrees of freedom": {l.DF, w.df},
			"lower limit":                      {stats.ChiSquareP(w.df*w.variance/l.Low, w.df), 0.05},
			"upper limit":                      {stats.ChiSquareP(w.df*w.variance/l.High, w.df), 0.95},
			"mean squares, as in the textbook": {math.Round(100 * []float64{between, within}[k]), []float64{1127150, 245125}[k]}} {
			if math.Abs(v[0]-v[1]) > 1e-6*v[1] {
				t.Errorf("row %d, %s: %.10g, want %.10g", k, what, v[0], v[1])
			}
		}
	}
}

// A variance of zero has no limits, and none of it is not a number.
func TestVarianceLimitsOfNone(t *testing.T) {
	d := Data{Intercept: true, RandomIntercept: true}
	for g := range 6 {
		for k, e := range []float64{-1, 1, 0.5, -0.5} {
			d.Y, d.Group = append(d.Y, e*(1+0.1*float64(g))+0.01*float64(k)), append(d.Group, g)
		}
	}
	m, err := Fit(d, Options{})
	if err != nil {
		t.Fatal(err)
	}
	l := m.VarianceLimits()
	if !m.Singular || l[0].DF != 0 || !(l[1].DF > 0 && l[1].Low < m.Variance[1].Variance && m.Variance[1].Variance < l[1].High) {
		t.Errorf("%v, limits %v", m.Variance, l)
	}
}
