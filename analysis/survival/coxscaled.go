package survival

import "fmt"

// ScaledResidual is a Schoenfeld residual on the scale of the coefficients:
// about what the coefficients would be at its time.
type ScaledResidual struct {
	Row   int
	Time  float64
	Clock float64 // the time on the scale of the test, up to a linear change
	Value []float64
}

// ScaledSchoenfeld are the residuals of Grambsch and Therneau 1994
// (Biometrika 81:515): the coefficients and the number of events times the
// covariance times the Schoenfeld residual. The mean of them at a time
// estimates the coefficients at that time. Variance is that of one of them.
func (c *Cox) ScaledSchoenfeld(scale TimeScale) (residuals []ScaledResidual, variance [][]float64, err error) {
	m := c.model
	plain, err := c.Schoenfeld()
	if err != nil {
		return nil, nil, err
	}
	g, err := m.timeFunction(scale)
	if err != nil {
		return nil, nil, fmt.Errorf("Schoenfeld residuals: %w", err)
	}
	variance = square(m.p)
	for i := range variance {
		for j := range variance {
			variance[i][j] = float64(len(plain)) * c.Var[i][j]
		}
	}
	for _, r := range plain {
		v := make([]float64, m.p)
		for j := range v {
			v[j] = c.Coef[j]
			for k, x := range r.Value {
				v[j] += variance[j][k] * x
			}
		}
		residuals = append(residuals, ScaledResidual{r.Row, r.Time, g[r.Time], v})
	}
	return residuals, variance, nil
}
