package mixed

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"

	"plybook/analysis/internal/lsq"
)

// satterthwaite holds what is needed for the degrees of freedom of any
// contrast: the covariance of the variance parameters (theta, with correlation
// in time the log range, and the log of the residual standard deviation), and the derivatives of the covariance of
// the fixed effects in them.
type satterthwaite struct {
	c *criterion
	s *state
	// free is the covariance of the variance parameters: twice the inverse
	// of the second derivatives of the unprofiled criterion. Directions in
	// which it has no positive curvature (a component of zero has none to
	// speak of) are taken as known. Nil if there is none at all.
	free [][]float64
	// sums has the sums over groups of V_i V_j'.
	sums *slopes
	// along is the derivative of the inverse crossproduct of the fixed
	// effects in the log range; nil without correlation in time.
	along [][]float64
}

func newSatterthwaite(o *objective, s *state) *satterthwaite {
	c := s.c
	t := &satterthwaite{c: c, s: s, sums: s.slopes(true)}
	h := c.curvature(s)
	if o.serial {
		t.along = middleSlope(o, s.point)
		h = o.unprofiledCurvature(s)
	}
	t.free = inverted(h)
	return t
}

func (t *satterthwaite) known() bool { return t.free != nil }

// middle is s2 times the inverse of the crossproduct of the fixed effects,
// their covariance in the coordinates of the factored design.
func (t *satterthwaite) middle(s2 float64) [][]float64 {
	m := square(t.c.p)
	for j := range m {
		m[j][j] = s2
		lower(t.s.a, m[j])
		upper(t.s.a, m[j])
	}
	return m
}

// solve is A^-1 d.
func (t *satterthwaite) solve(d []float64) []float64 {
	u := append([]float64(nil), d...)
	lower(t.s.a, u)
	upper(t.s.a, u)
	return u
}

// df are the degrees of freedom of the variance of the direction d: twice
// its square over the variance of its estimate. 0 means not known.
func (t *satterthwaite) df(d []float64) float64 {
	if t.free == nil {
		return 0
	}
	c := t.c
	u := append([]float64(nil), d...)
	lower(t.s.a, u)
	v := floats.Dot(u, u) // for a residual variance of 1; it cancels
	w := square(c.q)
	for i := range c.q {
		for j := range i + 1 {
			b := t.sums.b[i*c.q+j]
			for a, x := range u {
				w[i][j] += x * floats.Dot(b[a*c.p:(a+1)*c.p], u)
			}
			w[j][i] = w[i][j]
		}
	}
	g := c.gather(product(w, t.s.lambda, 2))
	if t.along != nil {
		slope := 0.0
		for a, x := range d {
			slope += x * floats.Dot(t.along[a], d)
		}
		g = append(g, slope)
	}
	g = append(g, 2*v)
	return freedomOf(v, g, t.free)
}

// freedomOf is twice the square of a variance over the variance of its
// estimate: slopes are its derivatives by the parameters, whose covariance is
// free. 0 means not known.
func freedomOf(variance float64, slopes []float64, free [][]float64) float64 {
	sum := 0.0
	for a := range slopes {
		sum += slopes[a] * floats.Dot(free[a], slopes)
	}
	if !(sum > 0) {
		return 0
	}
	return 2 * variance * variance / sum
}

// Contrast is a weighted sum of fixed effects with its error. DF is 0 where
// the normal distribution stands in.
type Contrast struct {
	Estimate  float64
	SE, DF    float64
	T, P      float64
	Low, High float64
}

// Contrast returns the sum of c times the fixed effects, c in the order of
// Coef, with degrees of freedom of its own. With KenwardRoger it can be
// ErrFewToAdjust.
func (m *Model) Contrast(c []float64) (Contrast, error) {
	if len(c) != m.f.P {
		return Contrast{}, fmt.Errorf("contrast of %d numbers for %d fixed effects: %w", len(c), m.f.P, ErrInput)
	}
	for _, v := range c {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return Contrast{}, fmt.Errorf("contrast holds a value that is not a number: %w", ErrInput)
		}
	}
	d := m.direction(c)
	if floats.Norm(d, 2) == 0 {
		return Contrast{}, fmt.Errorf("contrast holds nothing but zeros: %w", ErrInput)
	}
	out := Contrast{Estimate: floats.Dot(c, m.beta), DF: m.sat.df(d)}
	if _, ok := m.sat.(*kenward); ok && !(out.DF >= leastFreedom) {
		return Contrast{}, ErrFewToAdjust
	}
	out.SE = m.unit * math.Sqrt(floats.Dot(d, m.sat.solve(d)))
	df := out.DF
	if df == 0 {
		df = math.Inf(1)
	}
	out.T = out.Estimate / out.SE
	out.P = lsq.TP(out.T, df)
	half := lsq.TQuantile(0.5+m.Level/2, df) * out.SE
	out.Low, out.High = out.Estimate-half, out.Estimate+half
	return out, nil
}

// direction is L'c, the contrast in the coordinates of the factored design.
func (m *Model) direction(c []float64) []float64 {
	d := make([]float64, m.f.P)
	for j, v := range c {
		floats.AddScaled(d, v, m.f.L[j])
	}
	return d
}

// fixed fills Coef and Terms.
func (m *Model) fixed() error {
	columns := map[int][]int{}
	var order []int
	for j, name := range m.p.names {
		c := make([]float64, m.f.P)
		c[j] = 1
		e, err := m.Contrast(c)
		if err != nil {
			return err
		}
		m.Coef = append(m.Coef, Coefficient{Name: name, Term: m.p.terms[j], Estimate: e.Estimate, SE: e.SE, DF: e.DF,
			T: e.T, P: e.P, Low: e.Low, High: e.High})
		t := m.p.terms[j]
		if t < 0 {
			continue
		}
		if len(columns[t]) == 0 {
			order = append(order, t)
		}
		columns[t] = append(columns[t], j)
	}
	for _, t := range order {
		if len(columns[t]) < 2 {
			continue
		}
		c := make([][]float64, len(columns[t]))
		name := ""
		for s, j := range columns[t] {
			c[s] = make([]float64, m.f.P)
			c[s][j] = 1
			if s > 0 {
				name += ", "
			}
			name += m.p.names[j]
		}
		if m.p.data.TermNames != nil {
			name = m.p.data.TermNames[t]
		}
		f, err := m.FTest(c)
		switch {
		case errors.Is(err, ErrFewToAdjust):
			continue // Terms says so
		case err != nil:
			return err
		}
		f.Name = name
		m.Terms = append(m.Terms, f)
	}
	return nil
}

// FTest tests that all the weighted sums of fixed effects in the rows of c
// are 0. The statistic is Wald's over the number of rows; its denominator
// degrees of freedom are those of Fai & Cornelius 1996, from Satterthwaite's
// for each uncorrelated part; the parts are those of the rows divided by their
// standard errors, so that units do not matter. Rows that repeat one another are ErrInput.
func (m *Model) FTest(c [][]float64) (FTest, error) {
	q := len(c)
	if q == 0 {
		return FTest{}, fmt.Errorf("nothing to test: %w", ErrInput)
	}
	dirs, value := make([][]float64, q), make([]float64, q)
	for s, row := range c {
		if len(row) != m.f.P {
			return FTest{}, fmt.Errorf("row of %d numbers for %d fixed effects: %w", len(row), m.f.P, ErrInput)
		}
		dirs[s], value[s] = m.direction(row), floats.Dot(row, m.beta)
	}
	cov, unit := square(q), square(q)
	for s := range dirs {
		u := m.sat.solve(dirs[s])
		for t := range dirs {
			cov[s][t] = floats.Dot(u, dirs[t])
		}
	}
	for s := range unit {
		for t := range unit {
			unit[s][t] = cov[s][t] / math.Sqrt(cov[s][s]*cov[t][t])
		}
	}
	values, vectors, ok := eigen(unit)
	if !ok || !(values[0] > 1e-12*values[q-1]) {
		return FTest{}, fmt.Errorf("the sums of fixed effects repeat one another: %w", ErrInput)
	}
	for s := range dirs {
		floats.Scale(1/math.Sqrt(cov[s][s]), dirs[s])
		value[s] /= math.Sqrt(cov[s][s])
	}
	out := FTest{Name: "F test", DF1: float64(q)}
	df := make([]float64, q)
	for k, v := range vectors {
		d, b := make([]float64, m.f.P), floats.Dot(v, value)
		for s := range dirs {
			floats.AddScaled(d, v[s], dirs[s])
		}
		out.Statistic += b * b / (values[k] * m.unit * m.unit) / float64(q)
		df[k] = m.sat.df(d)
	}
	out.DF2, out.Scale = combined(df), 1
	if k, ok := m.sat.(*kenward); ok {
		scale, df, err := k.joint(dirs)
		if err != nil {
			return FTest{}, err
		}
		out.DF2, out.Scale = df, scale
		out.Statistic *= scale
	}
	d2 := out.DF2
	if d2 == 0 {
		d2 = math.Inf(1)
	}
	out.P = lsq.FP(out.Statistic, out.DF1, d2)
	return out, nil
}

// combined are the denominator degrees of freedom whose F has the mean of the
// sum of the squared t with degrees of freedom df.
func combined(df []float64) float64 {
	e, q := 0.0, float64(len(df))
	for _, v := range df {
		switch {
		case v == 0:
			return 0
		case v <= 2:
			return 2
		}
		e += v / (v - 2)
	}
	if floats.Max(df)-floats.Min(df) < 1e-8 {
		return floats.Sum(df) / q
	}
	return 2 * e / (e - q)
}
