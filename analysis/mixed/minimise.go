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
func (o *objective) minimise() (*state, int, error) {
	best, steps := (*state)(nil), 0
	for _, start := range o.starts() {
		s, n := o.newton(o.at(start))
		steps += n
		if best == nil || s.value < best.value-1e-9*(1+math.Abs(best.value)) {
			best = s
		}
	}
	if best == nil || math.IsInf(best.value, 0) {
		return nil, steps, stats.ErrConvergence
	}
	best, n := o.settleZeros(best)
	return best, steps + n, nil
}

// steepness is the largest slope of the criterion at s, by the relative size
// of the coordinates.
func (o *objective) steepness(s *state) float64 {
	steep := 0.0
	for j, g := range o.gradient(s) {
		steep = math.Max(steep, math.Abs(g)*o.size(s.point, j))
	}
	return steep
}

// starts are the two best points of a grid: one relative size for the first
// random effect, one for all others, and ranges from the shortest gap to the
// longest span.
func (o *objective) starts() [][]float64 {
	sizes := []float64{0.1, 0.3, 1, 3, 10}
	ranges := []float64{0}
	if o.serial {
		ranges = nil
		for k := range 6 {
			ranges = append(ranges, math.Log(o.p.gap/2)+float64(k)/5*math.Log(4*o.p.span/o.p.gap))
		}
	}
	type point struct {
		t     []float64
		value float64
	}
	top := [2]point{{value: math.Inf(1)}, {value: math.Inf(1)}}
	for _, r := range ranges {
		c := o.criterion(r)
		for a, first := range sizes {
			for b, rest := range sizes {
				if c.q == 0 && a > 0 || c.q < 2 && b > 0 {
					break
				}
				l := square(c.q)
				for j := range l {
					l[j][j] = rest
				}
				if c.q > 0 {
					l[0][0] = first
				}
				t := c.gather(l)
				if o.serial {
					t = append(t, r)
				}
				p := point{t, o.at(t).value}
				switch {
				case p.value < top[0].value:
					top[0], top[1] = p, top[0]
				case p.value < top[1].value:
					top[1] = p
				}
			}
		}
	}
	var out [][]float64
	for _, p := range top {
		if p.t != nil {
			out = append(out, p.t)
		}
	}
	return out
}

// newton descends from s and returns where it settles and how many steps it
// took.
func (o *objective) newton(s *state) (*state, int) {
	const limit = 100
	for step := range limit {
		if math.IsInf(s.value, 0) || len(s.point) == 0 {
			return s, step
		}
		g := o.gradient(s)
		h := differences(s.point, o.steps(s.point), func(t []float64) []float64 { return o.gradient(o.at(t)) })
		d, sure := descent(h, g)
		if d == nil {
			return s, step
		}
		size := 0.0
		for j := range d {
			size = math.Max(size, math.Abs(d[j])/o.size(s.point, j))
		}
		if size < 1e-11 {
			return s, step
		}
		// Far from the end a step may not change a component more than
		// fivefold or so; the criterion is logarithmic there.
		most := 2 * (floats.Norm(s.theta, 2) + 0.1)
		if o.serial {
			most = math.Min(most, 1)
		}
		if n := floats.Norm(d, 2); n > most {
			floats.Scale(most/n, d)
		}
		next, ok := o.search(s, d, g, sure)
		if !ok {
			return s, step
		}
		s = next
	}
	return s, limit
}

// search shortens the step d until the criterion falls. Where the fall is
// within rounding a full step is taken if it makes the gradient smaller.
func (o *objective) search(s *state, d, g []float64, sure bool) (*state, bool) {
	expected := floats.Dot(d, g)
	rounding := 1e-11 * (1 + math.Abs(s.value))
	for f := 1.0; f > 1e-10; f /= 2 {
		t := append([]float64(nil), s.point...)
		floats.AddScaled(t, f, d)
		next := o.at(t)
		if next.value < s.value+1e-4*f*expected && s.value-next.value > rounding {
			return next, true
		}
		if sure && f == 1 && math.Abs(next.value-s.value) <= rounding {
			return next, floats.Norm(o.gradient(next), 2) < 0.9*floats.Norm(g, 2)
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

// differences is the Jacobian of a gradient by central differences at two
// multiples of the widths, extrapolated, and made symmetric.
func differences(at, widths []float64, gradient func([]float64) []float64) [][]float64 {
	h := square(len(at))
	t := append([]float64(nil), at...)
	for j := range at {
		diff := func(w float64) []float64 {
			t[j] = at[j] + w
			a := gradient(append([]float64(nil), t...))
			t[j] = at[j] - w
			floats.Sub(a, gradient(append([]float64(nil), t...)))
			t[j] = at[j]
			floats.Scale(1/(2*w), a)
			return a
		}
		narrow, wide := diff(widths[j]), diff(2*widths[j])
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
func (o *objective) settleZeros(s *state) (*state, int) {
	steps := 0
	for j := range s.lambda {
		if s.lambda[j][j] == 0 || math.Abs(s.lambda[j][j]) > zero {
			continue
		}
		l := s.c.lambda(s.theta)
		l[j][j] = 0
		t := s.c.gather(l)
		next, n := o.newton(o.at(append(t, s.point[len(t):]...)))
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
