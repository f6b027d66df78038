package mixed

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// freedom are the degrees of freedom of contrasts of a fitted model, with
// what is solved on the way to them.
type freedom interface {
	// df of the direction d in the coordinates of the factored design; 0
	// where not known.
	df(d []float64) float64
	// solve is A^-1 d, A the crossproduct of the fixed effects.
	solve(d []float64) []float64
	// middle is s2 A^-1.
	middle(s2 float64) [][]float64
	known() bool
}

// layerFreedom is Satterthwaite's method where derivatives are taken by
// differences.
type layerFreedom struct {
	s    *layerState
	free [][]float64 // covariance of the point and of the log residual standard deviation; nil: not known
	// along[k] is the derivative of A^-1 in coordinate k of the point.
	along [][][]float64
}

func newLayerFreedom(s *layerState) *layerFreedom {
	t := &layerFreedom{s: s}
	m := s.m
	n := len(s.point)
	free := m.free()
	s2 := s.rss / free
	o := slope{size: m.size, value: func(t []float64) float64 {
		u := m.at(t)
		if math.IsInf(u.value, 0) {
			return u.value
		}
		return u.unprofiled(s2)
	}}
	inner := o.curvature(s.point, true)
	h := square(n + 1)
	sums := slope{size: m.size, value: func(t []float64) float64 { return m.at(t).rss }}.gradient(s.point)
	for j := range n {
		copy(h[j], inner[j])
		h[j][n], h[n][j] = -2*sums[j]/s2, -2*sums[j]/s2
	}
	h[n][n] = 4 * free
	t.free = inverted(h)
	for k := range n {
		t.along = append(t.along, m.inverseSlope(s.point, k))
	}
	return t
}

// inverseSlope is the derivative of A^-1 in coordinate k.
func (m *layers) inverseSlope(point []float64, k int) [][]float64 {
	w := 0.01 * m.size(point, k)
	out := square(m.f.P)
	for _, c := range []struct{ step, weight float64 }{{1, 8}, {-1, -8}, {2, -1}, {-2, 1}} {
		t := append([]float64(nil), point...)
		t[k] += c.step * w
		s := m.at(t)
		if math.IsInf(s.value, 0) {
			continue
		}
		for j := range out {
			e := make([]float64, m.f.P)
			e[j] = 1
			lower(s.a, e)
			upper(s.a, e)
			floats.AddScaled(out[j], c.weight/(12*w), e)
		}
	}
	return out
}

// inverted is twice the inverse of second derivatives of a criterion.
// Directions without positive curvature (a component of zero has none to speak
// of) are taken as known; nil if there is no other.
func inverted(h [][]float64) [][]float64 {
	n := len(h)
	unit := make([]float64, n) // unit curvatures, so that a cut-off has one meaning
	for j := range unit {
		if h[j][j] > 0 {
			unit[j] = 1 / math.Sqrt(h[j][j])
		}
	}
	scaled := square(n)
	for i := range h {
		for j := range h {
			scaled[i][j] = h[i][j] * unit[i] * unit[j]
		}
	}
	values, vectors, ok := eigen(scaled)
	if !ok || values[n-1] <= 0 {
		return nil
	}
	out := square(n)
	for j, v := range values {
		if v < 1e-6 {
			continue
		}
		for a := range out {
			for b := range out {
				out[a][b] += 2 / v * vectors[j][a] * unit[a] * vectors[j][b] * unit[b]
			}
		}
	}
	return out
}

func (t *layerFreedom) known() bool { return t.free != nil }

func (t *layerFreedom) solve(d []float64) []float64 {
	u := append([]float64(nil), d...)
	lower(t.s.a, u)
	upper(t.s.a, u)
	return u
}

func (t *layerFreedom) middle(s2 float64) [][]float64 {
	m := square(t.s.m.f.P)
	for j := range m {
		m[j][j] = s2
		lower(t.s.a, m[j])
		upper(t.s.a, m[j])
	}
	return m
}

func (t *layerFreedom) df(d []float64) float64 {
	if t.free == nil {
		return 0
	}
	v := floats.Dot(d, t.solve(d))
	g := make([]float64, 0, len(t.free))
	for _, m := range t.along {
		slope := 0.0
		for a, x := range d {
			slope += x * floats.Dot(m[a], d)
		}
		g = append(g, slope)
	}
	g = append(g, 2*v)
	return freedomOf(v, g, t.free)
}
