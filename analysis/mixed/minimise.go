package mixed

import (
	"math"
	"sort"

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
// therefore settle to rounding. They start from the best points of a coarse
// grid, and once more from the best optimum with each component that came out
// as zero opened again and each other one closed, since a criterion of
// several components can have more than one valley.
func (o *objective) minimise() (*state, int, error) {
	best, steps := (*state)(nil), 0
	var found []*state
	for _, start := range o.starts() {
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

// starts are moment estimates and the three best points of a grid over the
// relative sizes of the random effects and ranges from the shortest gap to
// the longest span, no two of them neighbours, so that they do not all lie in
// one valley.
func (o *objective) starts() [][]float64 {
	c0 := o.criterion(o.firstRange())
	sizes := []float64{0.1, 0.3, 1, 3, 10, 30}
	if c0.q > 2 {
		sizes = []float64{0.1, 1, 10, 50}
	}
	ranges := []float64{0}
	if o.serial {
		ranges = nil
		for k := range 6 {
			ranges = append(ranges, o.firstRange()+float64(k)/5*math.Log(4*o.p.span/o.p.gap))
		}
	}
	type point struct {
		t     []float64
		value float64
	}
	var grid []point
	for _, r := range ranges {
		c := o.criterion(r)
		each(c.q, len(sizes), func(index []int) {
			l := square(c.q)
			for j := range l {
				l[j][j] = sizes[index[j]]
			}
			t := c.gather(l)
			if o.serial {
				t = append(t, r)
			}
			grid = append(grid, point{t, o.at(t).value})
		})
	}
	sort.SliceStable(grid, func(a, b int) bool { return grid[a].value < grid[b].value })
	var out [][]float64
	for _, t := range c0.moments() {
		if o.serial {
			t = append(t, grid[0].t[len(t)])
		}
		out = append(out, t)
	}
	most := len(out) + 3
	for _, p := range grid {
		near := false
		for _, other := range out {
			near = near || neighbours(p.t, other)
		}
		if !near && !math.IsInf(p.value, 0) && len(out) < most {
			out = append(out, p.t)
		}
	}
	return out
}

// moments are starts from the groups' own least-squares effects: the median
// of the square of each, against the scatter within groups, by itself and
// with what that scatter alone would give taken off. They find the narrow
// valleys of effects that are large and nearly cancel. Nothing where no group
// has an estimate of every effect.
func (c *criterion) moments() [][]float64 {
	if c.q == 0 || c.n <= c.rank {
		return nil
	}
	s2 := c.syy / float64(c.n-c.rank)
	raw, net := make([][]float64, c.q), make([][]float64, c.q)
	for _, pt := range c.parts {
		if pt.k < c.q {
			continue
		}
		// R is upper triangular: b = R^-1 y, noise of b_j is s2 |row j of R^-1|^2.
		b := append([]float64(nil), pt.y...)
		inv := square(c.q)
		for j := c.q - 1; j >= 0; j-- {
			inv[j][j] = 1
			for m := j + 1; m < c.q; m++ {
				b[j] -= pt.r[j*c.q+m] * b[m]
				floats.AddScaled(inv[j], -pt.r[j*c.q+m], inv[m])
			}
			b[j] /= pt.r[j*c.q+j]
			floats.Scale(1/pt.r[j*c.q+j], inv[j])
		}
		for j, v := range b {
			raw[j] = append(raw[j], v*v/s2)
			net[j] = append(net[j], v*v/s2-floats.Dot(inv[j], inv[j]))
		}
	}
	var out [][]float64
	for _, squares := range [][][]float64{raw, net} {
		l := square(c.q)
		for j, v := range squares {
			if len(v) == 0 {
				return nil
			}
			sort.Float64s(v)
			// The median of a squared normal is 0.455 of its mean.
			l[j][j] = math.Sqrt(math.Min(math.Max(v[len(v)/2]/0.455, 1e-2), 1e8))
		}
		out = append(out, c.gather(l))
	}
	return out
}

// firstRange is the shortest log range of the grid, 0 without correlation.
func (o *objective) firstRange() float64 {
	if !o.serial {
		return 0
	}
	return math.Log(o.p.gap / 2)
}

// each calls fn with every choice of one of k values for each of the first
// three of q places; places after the third follow it, which keeps the number
// of choices in hand.
func each(q, k int, fn func([]int)) {
	free := min(q, 3)
	total := 1
	for range free {
		total *= k
	}
	for n := range total {
		index := make([]int, q)
		for j, m := 0, n; j < q; j++ {
			if j < free {
				index[j], m = m%k, m/k
			} else {
				index[j] = index[free-1]
			}
		}
		fn(index)
	}
}

// neighbours says whether no coordinate of two grid points is more than about
// one step of the finer grid apart.
func neighbours(a, b []float64) bool {
	for j := range a {
		if math.Abs(a[j]-b[j]) > 2.5*math.Min(math.Abs(a[j]), math.Abs(b[j])) && a[j] != b[j] {
			return false
		}
	}
	return true
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
		g := o.gradient(s)
		h := differences(s.point, o.steps(s.point), false, func(t []float64) []float64 { return o.gradient(o.at(t)) })
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
