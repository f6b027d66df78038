package mixed

import (
	"math"

	"gonum.org/v1/gonum/floats"

	"plybook/analysis/stats"
)

// Limits of a variance are those of a chi-square distribution with as many
// degrees of freedom as give an estimate its error: twice the square of the
// variance over the variance of its estimate (Satterthwaite 1946, Biometrics
// Bull 2:110; Burdick & Graybill 1992, Confidence intervals on variance
// components, section 2.3). The variance of the estimate is from the expected
// information of the restricted likelihood, as in the method of Kenward and
// Roger; with residuals correlated in time or of several sizes from the
// curvature of the likelihood, by differences. A variance of zero has none.

// leastForLimits is the fewest degrees of freedom with which limits are given:
// with one the upper is a thousand times the variance.
const leastForLimits = 1

// VarianceLimits are limits of a variance with its degrees of freedom.
type VarianceLimits struct{ DF, Low, High float64 }

// VarianceLimits are those of each row of Variance; all 0 for covariances, for
// a variance of zero, and where too little is known.
func (m *Model) VarianceLimits() []VarianceLimits {
	out := make([]VarianceLimits, len(m.Variance))
	var slopes, cov [][]float64 // of each variance in the parameters, and their covariance
	if m.Range == 0 && len(m.Spread) == 0 {
		slopes, cov = m.closeSlopes()
	} else {
		slopes, cov = m.differenceSlopes()
	}
	if cov == nil {
		return out
	}
	at := 0
	for k, c := range m.Variance {
		if c.With != "" {
			continue
		}
		g := slopes[at]
		at++
		// Slopes are those of the variance over that of the residual.
		df := freedomOf(c.Variance/(m.unit*m.unit), g, cov)
		if !(df >= leastForLimits) {
			continue
		}
		tail := (1 - m.Level) / 2
		out[k] = VarianceLimits{df, df * c.Variance / stats.ChiSquareQuantile(1-tail, df), df * c.Variance / stats.ChiSquareQuantile(tail, df)}
	}
	return out
}

// closeSlopes are for a covariance linear in its parameters, which are the
// residual variance and the entries of S of each grouping, over it.
func (m *Model) closeSlopes() (slopes, cov [][]float64) {
	k := m.adjustment()
	if k == nil {
		return nil, nil
	}
	n := len(k.w)
	at := 1
	nested := func(p *problem) {
		if len(p.z) == 0 {
			return
		}
		back := p.back()
		params := entries(len(p.z), p.opts.Uncorrelated)
		for j := range p.z {
			g := make([]float64, n)
			for r, e := range params {
				g[at+r] = e.of(back[j], back[j])
			}
			slopes = append(slopes, g)
		}
		at += len(params)
	}
	nested(m.p)
	if m.layers != nil {
		if m.layers.above != nil {
			nested(m.layers.above)
		}
		for range m.layers.cross {
			g := make([]float64, n)
			g[at] = 1
			at++
			slopes = append(slopes, g)
		}
	}
	residual := make([]float64, n)
	residual[0] = 1
	return append(slopes, residual), k.w
}

// differenceSlopes are in the coordinates of the search and the log of the
// residual standard deviation.
func (m *Model) differenceSlopes() (slopes, cov [][]float64) {
	point, size, free := m.uncertain()
	if free == nil {
		return nil, nil
	}
	base := m.relative(point)
	for range base {
		slopes = append(slopes, make([]float64, len(point)+1))
	}
	for j := range point {
		step := 1e-4 * math.Max(size(point, j), 0.01)
		for _, side := range []float64{1, -1} {
			t := append([]float64(nil), point...)
			t[j] += side * step
			for k, v := range m.relative(t) {
				slopes[k][j] += side * v / (2 * step)
			}
		}
	}
	for k, v := range base {
		slopes[k][len(point)] = 2 * v
	}
	return slopes, free
}

// relative are the variances of the table over that of the residual at a point
// of the search.
func (m *Model) relative(t []float64) []float64 {
	var out []float64
	nested := func(p *problem, lambda [][]float64) {
		back := p.back()
		for j := range p.z {
			half := make([]float64, len(p.z))
			for i, b := range back[j] {
				floats.AddScaled(half, b, lambda[i])
			}
			out = append(out, floats.Dot(half, half))
		}
	}
	if m.layers == nil {
		theta, _ := m.obj.split(t)
		nested(m.p, m.stateAt.c.lambda(theta))
		return append(out, 1)
	}
	l := m.layers
	inner, above, crossed := l.lambdas(t)
	nested(l.p, inner)
	if l.above != nil {
		nested(l.above, above)
	}
	for _, c := range crossed {
		out = append(out, c*c)
	}
	_, logs := l.residual(t)
	if logs == nil {
		return append(out, 1)
	}
	for _, v := range logs {
		out = append(out, math.Exp(2*v))
	}
	return out
}

// uncertain is where the search ended, the scale of its coordinates, and the
// covariance of them and of the log residual standard deviation; nil where that
// is not known.
func (m *Model) uncertain() (point []float64, size func([]float64, int) float64, free [][]float64) {
	if m.layers != nil {
		point, size = m.layerAt.point, m.layers.size
	} else {
		point, size = m.stateAt.point, m.obj.size
	}
	switch s := m.sat.(type) {
	case *satterthwaite:
		return point, size, s.free
	case *layerFreedom:
		return point, size, s.free
	}
	return point, size, newLayerFreedom(m.layerAt).free
}
