package mixed

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// kin are the rows that a reading of one group hangs on, where nothing cuts
// across the groups: those of the group, or of the group above it.
type kin struct {
	setting
	m        *Model
	label    int
	rows     []int
	chol     [][]float64 // of H, the covariance of the rows over the residual variance
	residual []float64   // y - Xb
}

// kinOf gathers the rows of a group, or of the group above it.
func (m *Model) kinOf(s setting, label int) *kin {
	d := &m.p.data
	b := &kin{setting: s, m: m, label: label}
	g, _ := slices.BinarySearch(m.p.labels, label)
	b.rows = m.p.rowsOf(g)
	if d.Above != nil {
		above := m.layers.above
		g, _ := slices.BinarySearch(above.labels, d.Above.Labels[b.rows[0]])
		b.rows = above.rowsOf(g)
	}
	n := len(b.rows)
	b.chol, b.residual = square(n), make([]float64, n)
	for a, i := range b.rows {
		b.residual[a] = d.Y[i]
		for j, v := range b.beta {
			b.residual[a] -= v * m.fixedOf(i, j)
		}
		for c, k := range b.rows[:a+1] {
			same := d.Group[i] == d.Group[k]
			v := b.shared(same, m.p.zOf(i), m.p.zOf(k), m.upOf(i), m.upOf(k))
			if same {
				v += b.serial(i == k, b.timeOf(i), b.timeOf(k)) * b.sizeOf(i) * b.sizeOf(k)
			}
			b.chol[a][c] = v
		}
	}
	cholesky(b.chol) // a covariance with scatter of its own in every row
	return b
}

func (b *kin) scatter() float64 { return b.s2 }

func (b *kin) timeOf(i int) float64 {
	if b.length > 0 {
		return b.m.p.data.Time[i]
	}
	return 0
}

// sizeOf is the residual standard deviation of a row over that of the first
// kind of rows.
func (b *kin) sizeOf(i int) float64 {
	if b.logs == nil {
		return 1
	}
	return math.Exp(b.logs[b.m.layers.spread[i]])
}

// sizeOfReading is that of a reading to come.
func (s *setting) sizeOfReading(m *Model, r Reading) float64 {
	if s.logs == nil {
		return 1
	}
	mean := 0.0
	for k, l := range s.logs {
		if m.layers.kinds[k] == r.Kind {
			return math.Exp(l)
		}
		mean += math.Exp(2*l) * float64(m.Spread[k].Rows) / float64(m.Rows)
	}
	return math.Sqrt(mean)
}

// zOf are the scaled random-effect columns of a row, the intercept first.
func (p *problem) zOf(i int) []float64 {
	out := make([]float64, len(p.z))
	for j, c := range p.z {
		out[j] = p.scaled(j, c, i)
	}
	return out
}

// zOfReading scales the columns of a reading, the intercept put first.
func (p *problem) zOfReading(z []float64) []float64 {
	var out []float64
	if p.data.RandomIntercept {
		out = append(out, 1)
	}
	for _, v := range z {
		j := len(out)
		out = append(out, (v-p.shift[j])/p.scale[j])
	}
	return out
}

// upOf are those of a row for the group above, nil without.
func (m *Model) upOf(i int) []float64 {
	if m.layers == nil || m.layers.above == nil {
		return nil
	}
	return m.layers.above.zOf(i)
}

func (m *Model) upOfReading(z []float64) []float64 {
	if m.layers == nil || m.layers.above == nil {
		return nil
	}
	return m.layers.above.zOfReading(z)
}

// shared is the covariance by random effects of two rows.
func (s *setting) shared(sameGroup bool, z, w, up, wp []float64) float64 {
	v := 0.0
	if sameGroup && len(s.own) > 0 {
		v = form(z, s.own, w)
	}
	if s.up != nil {
		v += form(up, s.up, wp)
	}
	return v
}

// serial is the correlation of the residuals of two rows of one group.
func (s *setting) serial(same bool, a, b float64) float64 {
	switch {
	case same:
		return 1
	case s.length > 0:
		return math.Exp(-math.Abs(a-b) / s.length)
	}
	return 0
}

func form(a []float64, g [][]float64, b []float64) float64 {
	v := 0.0
	for i, x := range a {
		v += x * floats.Dot(g[i], b)
	}
	return v
}

// fixedOf is column j of the fixed effects in a row.
func (m *Model) fixedOf(i, j int) float64 {
	if m.p.data.Intercept {
		if j--; j < 0 {
			return 1
		}
	}
	return m.p.data.X[j][i]
}

// weights are those of the rows in a prediction, H^-1 c, and the variance of
// its error with the fixed effects known as well, over the residual variance.
func (b *kin) weights(r Reading, reading bool) (w []float64, variance float64) {
	m, d := b.m, &b.m.p.data
	z, up := m.p.zOfReading(r.Z), m.upOfReading(r.Above)
	variance = b.shared(true, z, z, up, up)
	size := b.sizeOfReading(m, r)
	if reading {
		variance += size * size
	}
	c := make([]float64, len(b.rows))
	for a, i := range b.rows {
		same := d.Group[i] == b.label
		c[a] = b.shared(same, m.p.zOf(i), z, m.upOf(i), up)
		if same && reading {
			c[a] += b.serial(false, b.timeOf(i), r.Time) * size * b.sizeOf(i)
		}
	}
	w = append([]float64(nil), c...)
	lower(b.chol, w)
	upper(b.chol, w)
	return w, variance - floats.Dot(c, w)
}

func (b *kin) predict(r Reading, reading bool) (at, variance float64) {
	w, variance := b.weights(r, reading)
	at = floats.Dot(r.X, b.beta) + floats.Dot(w, b.residual)
	d := b.m.direction(b.left(r.X, w))
	lower(b.a, d)
	return at, variance + floats.Dot(d, d)
}

// left is x - X'w.
func (b *kin) left(x, w []float64) []float64 {
	out := append([]float64(nil), x...)
	for a, i := range b.rows {
		for j := range out {
			out[j] -= w[a] * b.m.fixedOf(i, j)
		}
	}
	return out
}
