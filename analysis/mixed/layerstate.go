package mixed

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// layerState is the criterion of several groupings worked out at a point.
type layerState struct {
	m        *layers
	point    []float64
	crossed  []float64   // relative standard deviation of each crossed level
	top      [][]float64 // crossproducts of crossed levels, fixed effects and response, all else taken out; lower triangle
	a        [][]float64 // Cholesky factor of the crossproduct of the fixed effects
	gamma    []float64
	rss      float64
	logK     float64
	logA     float64
	constant float64
	value    float64
}

func (m *layers) free() float64 {
	if m.p.opts.ML {
		return float64(m.rows)
	}
	return float64(m.rows - m.f.P)
}

// value of the profiled criterion at a point; infinite where it has none.
func (m *layers) value(t []float64) float64 { return m.at(t).value }

// at works out the criterion at a point. The groups' effects are taken out
// first, then those of the groups above, then the crossed ones, each by the
// Cholesky factor of its own block (Bates et al. 2015 order a sparse matrix to
// the same end).
func (m *layers) at(t []float64) *layerState {
	m.evaluations++
	s := &layerState{m: m, point: t}
	if m.outside(t) {
		s.value = math.Inf(1)
		return s
	}
	inner, above, sd := m.lambdas(t)
	red := m.reduce(t)
	s.constant = red.constant
	c, p := m.first[len(m.first)-1], m.f.P
	s.crossed = make([]float64, c)
	for k, v := range sd {
		for l := m.first[k]; l < m.first[k+1]; l++ {
			s.crossed[l] = v
		}
	}
	s.top = square(c + p + 1)
	lots := m.folders()
	together(len(lots), func(k int) { lots[k].run(red, inner, above) })
	ok := true
	for _, f := range lots {
		for j := range s.top {
			add(s.top[j][:j+1], 1, f.top[j])
		}
		s.logK += f.logK
		ok = ok && f.ok
	}
	for j := range p {
		s.top[c+j][c+j] += m.ridge
	}
	if !ok || !s.solve() {
		s.value = math.Inf(1)
		return s
	}
	free := m.free()
	s.value = free*(math.Log(2*math.Pi*s.rss/free)+1) + s.logK + s.constant
	if !m.p.opts.ML {
		s.value += s.logA
	}
	if !(s.rss > 0) || math.IsNaN(s.value) {
		s.value = math.Inf(1)
	}
	return s
}

// outside says whether the range or the size of residuals is out of bounds.
func (m *layers) outside(t []float64) bool {
	logRange, logs := m.residual(t)
	if m.serial && (logRange < math.Log(m.p.gap/100) || logRange > math.Log(1e4*m.p.span)) {
		return true
	}
	for _, l := range logs {
		if math.Abs(l) > 25 {
			return true
		}
	}
	return false
}

// solve takes the crossed effects out of the top matrix and solves for the
// fixed ones.
func (s *layerState) solve() bool {
	c, p := len(s.crossed), s.m.f.P
	left := s.top
	if c > 0 {
		_, w, logM, ok := s.crossedOut()
		if !ok {
			return false
		}
		s.logK += logM
		left = square(c + p + 1)
		for j := range p + 1 {
			for k := range j + 1 {
				left[c+j][c+k] = s.top[c+j][c+k] - floats.Dot(w[j], w[k])
			}
		}
	}
	s.a = square(p)
	s.gamma = make([]float64, p)
	for j := range p {
		copy(s.a[j][:j+1], left[c+j][c:c+j+1])
		s.gamma[j] = left[c+p][c+j]
	}
	if !cholesky(s.a) {
		return false
	}
	lower(s.a, s.gamma)
	s.rss = left[c+p][c+p] - floats.Dot(s.gamma, s.gamma)
	upper(s.a, s.gamma)
	for j := range s.a {
		s.logA += 2 * math.Log(s.a[j][j])
	}
	return true
}

// crossedOut is eliminate for the crossed levels, whose Lambda is diagonal.
func (s *layerState) crossedOut() (l, w [][]float64, logM float64, ok bool) {
	c := len(s.crossed)
	l = square(c)
	for j := range c {
		for k := range j + 1 {
			l[j][k] = s.crossed[j] * s.top[j][k] * s.crossed[k]
		}
		l[j][j]++
	}
	if !cholesky(l) {
		return nil, nil, 0, false
	}
	for j := range l {
		logM += 2 * math.Log(l[j][j])
	}
	w = make([][]float64, len(s.top)-c)
	for k := range w {
		w[k] = append([]float64(nil), s.top[c+k][:c]...)
		floats.Mul(w[k], s.crossed)
		lower(l, w[k])
	}
	return l, w, logM, true
}

// unprofiled is the criterion at a residual variance of s2.
func (s *layerState) unprofiled(s2 float64) float64 {
	v := s.m.free()*math.Log(2*math.Pi*s2) + s.rss/s2 + s.logK + s.constant
	if !s.m.p.opts.ML {
		v += s.logA
	}
	return v
}
