package mixed

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"plybook/analysis/stats"
)

// zero is the relative standard deviation, on columns scaled to a root mean
// square of one, below which a random effect is taken to be none.
const zero = 1e-4

// minimise finds the theta of the smallest criterion. The criterion is smooth
// and even in each column of Lambda, so that a component of zero is an
// interior stationary point and no bound is needed; Newton steps (analytic
// gradient, its differences as curvature, negative curvature reversed)
// therefore settle to rounding. They start from the two best points of a
// coarse grid, so that the answer hangs on no single start.
func (c *criterion) minimise() (*state, int, error) {
	best, steps := (*state)(nil), 0
	for _, start := range c.starts() {
		s, n := c.newton(c.at(start))
		steps += n
		if best == nil || s.value < best.value-1e-9*(1+math.Abs(best.value)) {
			best = s
		}
	}
	if math.IsInf(best.value, 0) {
		return nil, steps, stats.ErrConvergence
	}
	best, n := c.settleZeros(best)
	steps += n
	// The gradient of a criterion of this size cannot be told from zero below
	// its rounding; what is far above it has not settled.
	g := c.gradient(best)
	for j, t := range best.theta {
		if math.Abs(g[j])*math.Max(math.Abs(t), zero) > 1e-4 {
			return nil, steps, stats.ErrConvergence
		}
	}
	return best, steps, nil
}

// starts are the two best points of a grid of diagonal factors: one relative
// size for the first random effect, one for all others.
func (c *criterion) starts() [][]float64 {
	sizes := []float64{0.1, 0.3, 1, 3, 10}
	type point struct {
		theta []float64
		value float64
	}
	top := []point{{value: math.Inf(1)}, {value: math.Inf(1)}}
	for _, first := range sizes {
		for _, rest := range sizes {
			if c.q == 1 && rest != sizes[0] {
				break
			}
			l := square(c.q)
			for j := range l {
				l[j][j] = rest
			}
			l[0][0] = first
			p := point{theta: c.gather(l)}
			p.value = c.at(p.theta).value
			switch {
			case top[0].theta == nil || p.value < top[0].value:
				top[0], top[1] = p, top[0]
			case top[1].theta == nil || p.value < top[1].value:
				top[1] = p
			}
		}
	}
	return [][]float64{top[0].theta, top[1].theta}
}

// newton descends from s and returns where it settles and how many steps it
// took.
func (c *criterion) newton(s *state) (*state, int) {
	const limit = 100
	for step := range limit {
		if math.IsInf(s.value, 0) {
			return s, step
		}
		g := c.gradient(s)
		h := c.curvature(s.theta)
		d, sure := descent(h, g)
		if d == nil {
			return s, step
		}
		size := 0.0
		for j := range d {
			size = math.Max(size, math.Abs(d[j])/math.Max(math.Abs(s.theta[j]), zero))
		}
		if size < 1e-11 {
			return s, step
		}
		// Far from the end a step may not change a component more than
		// fivefold or so; the criterion is logarithmic there.
		if most := 2 * (floats.Norm(s.theta, 2) + 0.1); floats.Norm(d, 2) > most {
			floats.Scale(most/floats.Norm(d, 2), d)
		}
		next, ok := c.search(s, d, g, sure)
		if !ok {
			return s, step
		}
		s = next
	}
	return s, limit
}

// search shortens the step d until the criterion falls. Where the fall is
// within rounding a full step is taken if it makes the gradient smaller.
func (c *criterion) search(s *state, d, g []float64, sure bool) (*state, bool) {
	expected := floats.Dot(d, g)
	rounding := 1e-11 * (1 + math.Abs(s.value))
	for f := 1.0; f > 1e-10; f /= 2 {
		t := append([]float64(nil), s.theta...)
		floats.AddScaled(t, f, d)
		next := c.at(t)
		if next.value < s.value+1e-4*f*expected && s.value-next.value > rounding {
			return next, true
		}
		if sure && f == 1 && math.Abs(next.value-s.value) <= rounding {
			return next, floats.Norm(c.gradient(next), 2) < 0.9*floats.Norm(g, 2)
		}
	}
	return s, false
}

// descent solves H d = -g with the size of every curvature, so that the step
// goes down even where the criterion curves down. sure says that H was
// positive throughout.
func descent(h [][]float64, g []float64) (d []float64, sure bool) {
	values, vectors, ok := eigen(h)
	if !ok {
		return nil, false
	}
	largest := 0.0
	for _, v := range values {
		largest = math.Max(largest, math.Abs(v))
	}
	if largest == 0 {
		return nil, false
	}
	d, sure = make([]float64, len(g)), true
	for k, v := range values {
		if v < 1e-9*largest {
			sure = false
		}
		floats.AddScaled(d, -floats.Dot(vectors[k], g)/math.Max(math.Abs(v), 1e-9*largest), vectors[k])
	}
	return d, sure
}

// curvature is the matrix of second derivatives of the profiled criterion.
func (c *criterion) curvature(theta []float64) [][]float64 {
	return differences(theta, func(t []float64) []float64 { return c.gradient(c.at(t)) })
}

// differences is the Jacobian of a gradient by central differences at two
// widths, extrapolated, and made symmetric.
func differences(at []float64, gradient func([]float64) []float64) [][]float64 {
	h := square(len(at))
	t := append([]float64(nil), at...)
	for j := range at {
		w := 1e-3 * math.Max(math.Abs(at[j]), 0.01)
		diff := func(w float64) []float64 {
			t[j] = at[j] + w
			a := gradient(append([]float64(nil), t...))
			t[j] = at[j] - w
			floats.Sub(a, gradient(append([]float64(nil), t...)))
			t[j] = at[j]
			floats.Scale(1/(2*w), a)
			return a
		}
		narrow, wide := diff(w), diff(2*w)
		for k := range narrow {
			h[j][k] = (4*narrow[k] - wide[k]) / 3
		}
	}
	for j := range h {
		for k := range j {
			m := (h[j][k] + h[k][j]) / 2
			h[j][k], h[k][j] = m, m
		}
	}
	return h
}

// settleZeros sets components that came out as next to nothing to exactly none,
// where that costs nothing, and settles the rest again.
func (c *criterion) settleZeros(s *state) (*state, int) {
	steps := 0
	for j := range s.lambda {
		if s.lambda[j][j] == 0 || math.Abs(s.lambda[j][j]) > zero {
			continue
		}
		l := c.lambda(s.theta)
		l[j][j] = 0
		next, n := c.newton(c.at(c.gather(l)))
		steps += n
		if next.value <= s.value+1e-9*(1+math.Abs(s.value)) {
			s = next
		}
	}
	return s, steps
}

// eigen returns eigenvalues and eigenvectors of a symmetric matrix.
func eigen(m [][]float64) (values []float64, vectors [][]float64, ok bool) {
	sym := mat.NewSymDense(len(m), nil)
	for j := range m {
		for k := j; k < len(m); k++ {
			if math.IsNaN(m[j][k]) || math.IsInf(m[j][k], 0) {
				return nil, nil, false
			}
			sym.SetSym(j, k, m[j][k])
		}
	}
	var e mat.EigenSym
	if !e.Factorize(sym, true) {
		return nil, nil, false
	}
	var v mat.Dense
	e.VectorsTo(&v)
	vectors = make([][]float64, len(m))
	for k := range vectors {
		vectors[k] = mat.Col(nil, k, &v)
	}
	return e.Values(nil), vectors, true
}
