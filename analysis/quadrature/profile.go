package quadrature

import (
	"math"

	"plybook/analysis/stats"
)

// limits finds the ends of the interval of the standard deviation: where the
// likelihood, all else fitted anew, has fallen by half a chi-square quantile.
func (m *Model) limits(o Options) {
	modes := append([]float64(nil), m.problem.mode...)
	z := stats.NormalQuantile(0.5 + m.Level/2)
	if m.AtZero || math.Sqrt(2*math.Max(0, m.LogLik-m.LogLikPlain)) <= z {
		m.Low = Limit{0, true}
	} else {
		m.Low = m.seek(-z, o)
	}
	m.High = m.seek(z, o)
	copy(m.problem.mode, modes)
}

// seek looks for the standard deviation at which the signed root of twice the
// fall of the profile is z. That root is nearly straight, and its slope is
// known from the gradient: Newton's method, kept between what is known to be
// too near and too far, takes few steps.
func (m *Model) seek(z float64, o Options) Limit {
	g := m.problem
	last := g.dim - 1
	nodes := m.Nodes
	if o.Nodes == 0 { // half as many gave the same
		nodes = (nodes - 1) / 2
	}
	r := hermite(nodes)
	at := m.at
	near, far := m.SD, math.Inf(1)
	if z < 0 {
		far = 0
	}
	x := 0.7 // where the likelihood is highest at 0
	if !m.AtZero {
		x = m.SD + z*math.Sqrt(m.cov[last][last])
		if z < 0 {
			x = m.SD * math.Exp(z*math.Sqrt(m.cov[last][last])/m.SD)
		}
	}
	for range 60 {
		if x > furthest {
			return Limit{}
		}
		to := append([]float64(nil), at.theta...)
		if rest, err := at.inverse(last); err == nil { // the way that the rest will move
			for j := range rest {
				for k, v := range rest[j] {
					to[j] -= v * at.info[k][last] * (x - at.theta[last])
				}
			}
		}
		to[last] = x
		p, err := g.climb(to, last, r, 1e-9, o.MaxIterations, &m.Iterations)
		if err != nil {
			to = append([]float64(nil), m.plain...) // cuts may have changed places on the way
			to[last] = x
			if p, err = g.climb(to, last, r, 1e-9, o.MaxIterations, &m.Iterations); err != nil {
				return Limit{}
			}
		}
		at = p
		root := math.Copysign(math.Sqrt(2*math.Max(0, m.LogLik-at.ll)), z)
		if math.Abs(root-z) < 1e-7 {
			return Limit{x, true}
		}
		if math.Abs(root) < math.Abs(z) {
			near = x
		} else {
			far = x
		}
		slope := -at.grad[last] / root
		next := x + (z-root)/slope
		lo, hi := min(near, far), max(near, far)
		switch {
		case slope > 0 && next > lo && next < hi && next < 3*x+1:
		case math.IsInf(hi, 1):
			next = 2*x + 0.5
		default:
			next = (lo + hi) / 2
		}
		if hi-lo < 1e-9*(1+lo) {
			return Limit{x, true}
		}
		x = next
	}
	return Limit{}
}
