package regress

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"

	"plybook/analysis/internal/lsq"
	"plybook/analysis/stats"
)

// Average is a share, or a count per unit of exposure, averaged over the rows
// of the data, with its interval: of a share made on the scale of log odds, of
// a count on that of its logarithm.
type Average struct {
	Estimate  float64
	SE        float64 // of Estimate, by the delta method; the rows are taken as they are
	DF        float64 // 0: the normal distribution
	Low, High float64
	Tested    bool // false: only Estimate holds

	gradient []float64
}

// AverageContrast compares two averages: their difference, on its own scale,
// and their ratio, whose interval is made on the scale of its logarithm.
type AverageContrast struct {
	Difference Contrast
	// Ratio has the ratio as Estimate, Low and High; SE, T and P are of its
	// logarithm.
	Ratio Contrast
}

// Standardise averages what the model expects of the rows, with the columns x
// in place of their own (one slice per column of GLMData.X), and their own
// weights and offsets. Of counts it is the sum of what is expected over the
// sum of exp(offset). The error is that of the coefficients alone.
func (m *GLM) Standardise(x [][]float64) (Average, error) {
	g := m.model
	if len(x) != len(g.z) {
		return Average{}, fmt.Errorf("%d columns for %d: %w", len(x), len(g.z), ErrInput)
	}
	n := len(g.data.Y)
	for j, c := range x {
		if len(c) != n {
			return Average{}, fmt.Errorf("column %s has %d rows, not %d: %w", g.data.Names[j], len(c), n, ErrInput)
		}
	}
	gradient := make([]float64, g.p)
	sum, over := 0.0, 0.0
	for i := range n {
		eta := m.sums.coef[0]
		for j, c := range x {
			eta += m.sums.coef[j+1] * c[i]
		}
		w := g.weight(i)
		if g.data.Offset != nil {
			eta += g.data.Offset[i]
		}
		mu, _, slope := g.mean(eta)
		sum += w * mu
		if g.family == Logistic || g.data.Offset == nil {
			over += w
		} else {
			over += w * math.Exp(g.data.Offset[i])
		}
		gradient[0] += w * slope
		for j, c := range x {
			gradient[j+1] += w * slope * c[i]
		}
	}
	floats.Scale(1/over, gradient)
	return m.average(sum/over, gradient)
}

// Predict is the share, or the count per unit of exposure, where the columns
// have the values x (without the constant) and the offset is 0.
func (m *GLM) Predict(x []float64) (Average, error) {
	if len(x)+1 != len(m.sums.coef) {
		return Average{}, fmt.Errorf("%d values for %d columns: %w", len(x), len(m.sums.coef)-1, ErrInput)
	}
	c := append([]float64{1}, x...)
	eta, err := m.sums.value(c)
	if err != nil {
		return Average{}, err
	}
	mu, _, slope := m.model.mean(eta)
	floats.Scale(slope, c)
	return m.average(mu, c)
}

// average is the estimate with its interval.
func (m *GLM) average(value float64, gradient []float64) (Average, error) {
	if m.Family == Logistic {
		return m.sums.averaged(value, gradient, shareScale)
	}
	return m.sums.averaged(value, gradient, countScale)
}

// scaleOf is the scale on which an interval is made.
type scaleOf int

const (
	plainScale scaleOf = iota
	shareScale         // log odds
	countScale         // logarithm
)

// averaged is an estimate with its interval, from the gradient by the
// coefficients.
func (s *sums) averaged(value float64, gradient []float64, scale scaleOf) (Average, error) {
	out := Average{Estimate: value, gradient: gradient}
	c, err := s.contrast(gradient)
	if err != nil {
		return out, err
	}
	if !c.Tested || scale != plainScale && !(value > 0) || scale == shareScale && !(value < 1) {
		return out, nil
	}
	out.SE, out.DF, out.Tested = c.SE, c.DF, true
	half := s.quantile(c.DF) * c.SE
	switch scale {
	case shareScale:
		half /= value * (1 - value)
		odds := math.Log(value) - math.Log1p(-value)
		out.Low, out.High = expit(odds-half), expit(odds+half)
	case countScale:
		out.Low, out.High = value*math.Exp(-half/value), value*math.Exp(half/value)
	default:
		out.Low, out.High = value-half, value+half
	}
	return out, nil
}

// quantile is by how many errors an interval reaches to either side.
func (s *sums) quantile(df float64) float64 {
	if df == 0 {
		return stats.NormalQuantile(0.5 + s.level/2)
	}
	return lsq.TQuantile(0.5+s.level/2, df)
}

func expit(x float64) float64 {
	if x < 0 {
		e := math.Exp(x)
		return e / (1 + e)
	}
	return 1 / (1 + math.Exp(-x))
}

// Compare compares average a with b.
func (m *GLM) Compare(a, b Average) (AverageContrast, error) { return m.sums.compareAverages(a, b) }

func (s *sums) compareAverages(a, b Average) (AverageContrast, error) {
	var out AverageContrast
	if len(a.gradient) != len(s.coef) || len(b.gradient) != len(s.coef) {
		return out, fmt.Errorf("averages of another model: %w", ErrInput)
	}
	c := append([]float64(nil), a.gradient...)
	floats.Sub(c, b.gradient)
	d, err := s.reestimated(c, a.Estimate-b.Estimate)
	if err != nil {
		return out, err
	}
	out.Difference = d
	if !(a.Estimate > 0) || !(b.Estimate > 0) {
		return out, nil
	}
	for j := range c {
		c[j] = a.gradient[j]/a.Estimate - b.gradient[j]/b.Estimate
	}
	if out.Ratio, err = s.reestimated(c, math.Log(a.Estimate/b.Estimate)); err != nil {
		return out, err
	}
	r := &out.Ratio
	r.Estimate = math.Exp(r.Estimate)
	if r.Tested {
		r.Low, r.High = math.Exp(r.Low), math.Exp(r.High)
	}
	return out, nil
}

// reestimated is the contrast of a gradient about a value that is not that of
// the linear sum.
func (s *sums) reestimated(gradient []float64, value float64) (Contrast, error) {
	c, err := s.contrast(gradient)
	if err != nil || !c.Tested {
		return Contrast{Estimate: value}, err
	}
	half := s.quantile(c.DF) * c.SE
	c.Estimate, c.T = value, value/c.SE
	c.Low, c.High = value-half, value+half
	if c.DF == 0 {
		c.P = stats.NormalP(c.T)
	} else {
		c.P = lsq.TP(c.T, c.DF)
	}
	return c, nil
}
