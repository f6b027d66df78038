package quadrature

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"plybook/analysis/stats"
)

// Contrast is a sum of coefficients with its test.
type Contrast struct {
	Estimate, SE, Z, P, Low, High float64
	Tested                        bool // false: no error
}

func (m *Model) tested(value, se float64) Contrast {
	out := Contrast{Estimate: value}
	if se > 0 {
		half := stats.NormalQuantile(0.5+m.Level/2) * se
		out = Contrast{value, se, value / se, stats.NormalP(value / se), value - half, value + half, true}
	}
	return out
}

// Contrast is the sum of coefficients of the columns, each times its c.
func (m *Model) Contrast(c []float64) (Contrast, error) {
	g := m.problem
	if len(c) != g.p {
		return Contrast{}, fmt.Errorf("%d values for %d columns: %w", len(c), g.p, ErrInput)
	}
	full, value := make([]float64, g.dim), 0.0
	for j, v := range c {
		full[g.cuts+j] = v
		value += v * m.theta[g.cuts+j]
	}
	return m.tested(value, m.error(full)), nil
}

// Wald tests that the coefficients of some columns are all 0.
func (m *Model) Wald(which []int) (stats.Test, error) {
	g := m.problem
	k := len(which)
	if k == 0 {
		return stats.Test{}, fmt.Errorf("no columns to test: %w", ErrInput)
	}
	b, c := mat.NewVecDense(k, nil), mat.NewSymDense(k, nil)
	for i, j := range which {
		if j < 0 || j >= g.p {
			return stats.Test{}, fmt.Errorf("column %d of %d: %w", j, g.p, ErrInput)
		}
		b.SetVec(i, m.theta[g.cuts+j])
		for l, o := range which {
			c.SetSym(i, l, m.cov[g.cuts+j][g.cuts+o])
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(c) {
		return stats.Test{}, fmt.Errorf("the test: %w", stats.ErrSingular)
	}
	var x mat.VecDense
	if err := chol.SolveVecTo(&x, b); err != nil {
		return stats.Test{}, fmt.Errorf("the test: %w", stats.ErrSingular)
	}
	s := mat.Dot(b, &x)
	return stats.Test{Name: "Wald test", Statistic: s, DF: float64(k), P: stats.ChiSquareP(s, float64(k))}, nil
}

// MedianRatio is the median odds ratio, of Poisson the median rate ratio: by
// how much the odds of the higher of two groups drawn at random exceed those of
// the lower, in the median (Larsen & Merlo 2005, Am J Epidemiol 161:81).
func MedianRatio(sd float64) float64 {
	return math.Exp(math.Sqrt2 * sd * stats.NormalQuantile(0.75))
}

// Correlation is the intraclass correlation of the scale behind yes and no, or
// behind the levels, on which rows of one group scatter with the variance
// pi^2/3 of a logistic distribution.
func Correlation(sd float64) float64 {
	return sd * sd / (sd*sd + math.Pi*math.Pi/3)
}
