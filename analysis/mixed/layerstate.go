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
		return float64(m.f.N)
	}
	return float64(m.f.N - m.f.P)
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
	ok := true
	for b, rb := range red.blocks {
		logK, good := rb.fold(inner, above, m.place(b), s.top)
		s.logK += logK
		ok = ok && good
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

// place says where in the top matrix the columns of a block belong, after the
// effects of the group above.
func (m *layers) place(b int) []int {
	levels := m.blocks[b].levels
	c := m.first[len(m.first)-1]
	out := append([]int(nil), levels...)
	for j := range m.f.P + 1 {
		out = append(out, c+j)
	}
	return out
}

// fold takes the effects of groups and of the group above out of a block and
// adds what is left to the top matrix. It returns the log determinant.
func (b *reducedBlock) fold(inner, above [][]float64, place []int, top [][]float64) (logK float64, ok bool) {
	s, logK, ok := b.groupsOut(inner)
	if !ok {
		return 0, false
	}
	qa := len(above)
	if qa > 0 {
		_, w, logM, ok := eliminate(s, above)
		if !ok {
			return 0, false
		}
		logK += logM
		for j := range place {
			for k := range j + 1 {
				s[qa+j][qa+k] -= floats.Dot(w[j], w[k])
			}
		}
	}
	for j, pj := range place { // ascending, so that the lower triangle stays one
		for k := range j + 1 {
			top[pj][place[k]] += s[qa+j][qa+k]
		}
	}
	return logK, true
}

// groupsOut is the crossproduct of a block without the groups' own effects.
func (b *reducedBlock) groupsOut(inner [][]float64) (s [][]float64, logK float64, ok bool) {
	width := len(b.rest)
	s = square(width)
	for j := range s {
		copy(s[j][:j+1], b.rest[j][:j+1])
	}
	q := len(inner)
	for _, pt := range b.parts {
		k := pt.k
		if k == 0 {
			continue
		}
		rl := make([][]float64, k)
		for a := range rl {
			rl[a] = make([]float64, q)
			for j := range q {
				floats.AddScaled(rl[a], pt.r[a*q+j], inner[j])
			}
		}
		kk := square(k)
		for a := range k {
			for d := range a + 1 {
				kk[a][d] = floats.Dot(rl[a], rl[d])
			}
			kk[a][a]++
		}
		if !cholesky(kk) {
			return nil, 0, false
		}
		x := append([]float64(nil), pt.lead...)
		for a := range k {
			logK += 2 * math.Log(kk[a][a])
			row := x[a*width : (a+1)*width]
			for d := range a {
				floats.AddScaled(row, -kk[a][d], x[d*width:(d+1)*width])
			}
			floats.Scale(1/kk[a][a], row)
			for j, v := range row {
				if v != 0 {
					floats.AddScaled(s[j][:j+1], v, row[:j+1])
				}
			}
		}
	}
	return s, logK, true
}

// eliminate factors I + Lambda'S Lambda = L L' for the leading columns of S
// and returns W = L^-1 Lambda' S for each further column. S is a lower triangle.
func eliminate(s, lambda [][]float64) (l, w [][]float64, logM float64, ok bool) {
	q := len(lambda)
	l = square(q)
	sl := square(q) // S Lambda, the leading part
	full := func(j, k int) float64 {
		if j < k {
			j, k = k, j
		}
		return s[j][k]
	}
	for j := range q {
		for k := range q {
			for i := range q {
				sl[j][k] += full(j, i) * lambda[i][k]
			}
		}
	}
	for j := range q {
		for k := range j + 1 {
			for i := range q {
				l[j][k] += lambda[i][j] * sl[i][k]
			}
		}
		l[j][j]++
	}
	if !cholesky(l) {
		return nil, nil, 0, false
	}
	for j := range l {
		logM += 2 * math.Log(l[j][j])
	}
	w = make([][]float64, len(s)-q)
	for c := range w {
		w[c] = make([]float64, q)
		for i := range q {
			floats.AddScaled(w[c], s[q+c][i], lambda[i])
		}
		lower(l, w[c])
	}
	return l, w, logM, true
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
