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
// interior stationary point and no bound is needed; Newton steps (negative
// curvature reversed) therefore settle to rounding. They start from the best points of a coarse
// grid, and once more from the best optimum with each component that came out
// as zero opened again and each other one closed, since a criterion of
// several components can have more than one valley.
//
// Of many groups all that is done on a sample of them, which has the same
// valleys; from where it settles the search goes on with all, and once more
// with each component opened that the sample had as zero.
func (o *objective) minimise() (*state, int, error) {
	best, steps := (*state)(nil), 0
	var found []*state
	starts, few := [][]float64(nil), true
	if sample := o.sample(); sample != nil {
		if s, n, err := sample.minimise(); err == nil {
			starts, few, steps = [][]float64{s.point}, false, n
		}
	}
	if few {
		starts = o.starts()
	}
	for _, start := range starts {
		s, n := o.newton(o.at(start), found...)
		steps += n
		found = append(found, s)
		if best == nil || s.value < best.value-1e-9*(1+math.Abs(best.value)) {
			best = s
		}
	}
	if best == nil || math.IsInf(best.value, 0) {
		return nil, steps, stats.ErrConvergence
	}
	for j := range best.lambda {
		t := append([]float64(nil), best.point...)
		l := best.c.lambda(best.theta)
		if l[j][j] = 0; floats.Norm(best.lambda[j], 2) < 0.01 {
			l[j][j] = 1
		} else if !few {
			continue
		}
		copy(t, best.c.gather(l))
		s, n := o.newton(o.at(t), found...)
		steps += n
		if s.value < best.value-1e-9*(1+math.Abs(best.value)) {
			best = s
		}
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

// newton descends from s and returns where it settles and how many steps it
// took. It ends early, at the optimum found before, if it comes close to one.
func (o *objective) newton(s *state, found ...*state) (*state, int) {
	const limit = 100
	for step := range limit {
		for _, f := range found {
			if o.close(s, f) {
				return f, step
			}
		}
		if math.IsInf(s.value, 0) || len(s.point) == 0 {
			return s, step
		}
		h, g := o.curvature(s), o.gradient(s)
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

// close says whether s is within the last steps of settling at f: a
// hundredth in every coordinate and next to nothing in the criterion.
func (o *objective) close(s, f *state) bool {
	if math.Abs(s.value-f.value) > 1e-3 {
		return false
	}
	for j, t := range s.point {
		if math.Abs(t-f.point[j]) > 0.01*math.Max(o.size(f.point, j), 0.01) {
			return false
		}
	}
	return true
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

// differences is the Jacobian of a gradient by central differences, made
// symmetric. fine takes them at two widths and extrapolates; without it they
// are good to about six digits, which is enough to steer by.
func differences(at, widths []float64, fine bool, gradient func([]float64) []float64) [][]float64 {
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
		copy(h[j], diff(widths[j]))
		if fine {
			wide := diff(2 * widths[j])
			for k := range wide {
				h[j][k] += (h[j][k] - wide[k]) / 3
			}
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
