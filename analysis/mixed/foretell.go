package mixed

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"

	"plybook/analysis/internal/lsq"
)

// ErrNotForetold reports a model from which no reading of one group is
// foretold: groupings that cut across make every row hang on every other, and
// with residuals of several sizes it is not known which a new reading has.
var ErrNotForetold = errors.New("readings of one group are not foretold with crossed groupings or residuals of several sizes")

// Foretold is a reading to come of one group.
type Foretold struct {
	// Estimate is the best linear unbiased prediction of the reading: the fixed
	// effects, the group's conditional modes and, where residuals are correlated
	// in time, what is left of its last ones.
	Estimate float64
	// Line is what the group's own line says, without the residual, and LineSE
	// its error; SE is the error of a new reading. Both let the fixed effects
	// and the group's own be uncertain and take the variances as known.
	Line, LineSE, SE float64
	// DF are those of the scatter within groups: rows less groups and less
	// fixed effects, the intercept apart. The limits are Student's on them.
	DF                float64
	Low, High         float64 // of a new reading
	LineLow, LineHigh float64 // of the line
}

// Foretell predicts new readings of a group that is among those fitted, by
// its label. x[k] are the fixed effects' columns of the k-th reading, with the
// constant where the model has one, in the order of Coef; z[k] the columns of
// the group's random slopes (Data.Z), above[k] of those of the group above
// (Data.Above.Z), nil without; time[k] is its time, which only ContinuousAR1
// reads.
//
// With V the covariance of the group's rows (with a group above, of that
// group's rows), c theirs with the new reading and v its own, the prediction
// is x'b + c'V^-1 (y - Xb) and its error v - c'V^-1 c + d' Cov(b) d with
// d = x - X'V^-1 c (Goldberger 1962, J Am Stat Assoc 57:369; Henderson 1975,
// Biometrics 31:423). Errors: ErrInput, ErrNotForetold.
func (m *Model) Foretell(label int, x, z, above [][]float64, time []float64) ([]Foretold, error) {
	d := &m.p.data
	if len(d.Crossed) > 0 || d.Spread != nil {
		return nil, ErrNotForetold
	}
	own := false
	for _, l := range m.p.labels {
		own = own || l == label
	}
	if !own {
		return nil, fmt.Errorf("no row is of %s %d: %w", d.GroupName, label, ErrInput)
	}
	b := m.kinOf(label)
	df := math.Max(1, float64(m.Rows-m.Groups-m.f.P+1))
	half := lsq.TQuantile(0.5+m.Level/2, df)
	out := make([]Foretold, len(x))
	for k := range x {
		f := to{x: x[k], z: pick(z, k), above: pick(above, k)}
		if m.Range > 0 {
			if k >= len(time) {
				return nil, fmt.Errorf("reading %d has no time: %w", k+1, ErrInput)
			}
			f.time = time[k]
		}
		if err := m.fits(f); err != nil {
			return nil, err
		}
		line, lineVar := b.predict(f, false)
		next, nextVar := b.predict(f, true)
		o := Foretold{Estimate: next, Line: line, LineSE: math.Sqrt(math.Max(0, lineVar)), SE: math.Sqrt(math.Max(0, nextVar)), DF: df}
		o.Low, o.High = next-half*o.SE, next+half*o.SE
		o.LineLow, o.LineHigh = line-half*o.LineSE, line+half*o.LineSE
		out[k] = o
	}
	return out, nil
}

func pick(m [][]float64, k int) []float64 {
	if k < len(m) {
		return m[k]
	}
	return nil
}

// to is a reading to come.
type to struct {
	x, z, above []float64
	time        float64
}

// fits says whether a reading has as many columns as the model.
func (m *Model) fits(f to) error {
	d := &m.p.data
	upper := 0
	if d.Above != nil {
		upper = len(d.Above.Z)
	}
	if len(f.x) != m.f.P || len(f.z) != len(d.Z) || len(f.above) != upper {
		return fmt.Errorf("a reading of %d, %d and %d columns for a model of %d, %d and %d: %w", len(f.x), len(f.z), len(f.above), m.f.P, len(d.Z), upper, ErrInput)
	}
	for _, v := range append(append(append([]float64{f.time}, f.x...), f.z...), f.above...) {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("a reading holds a value that is not a number: %w", ErrInput)
		}
	}
	return nil
}

// kin are the rows that a reading of one group hangs on.
type kin struct {
	m        *Model
	label    int
	rows     []int
	chol     [][]float64 // of V
	residual []float64   // V^-1 (y - Xb)
	own, up  [][]float64 // covariances of the random effects; nil without
}

// kinOf gathers the rows of a group, or of the group above it.
func (m *Model) kinOf(label int) *kin {
	d := &m.p.data
	b := &kin{m: m, label: label}
	for i, g := range d.Group {
		if g == label {
			b.rows = append(b.rows, i)
		}
	}
	at := 0
	if len(m.p.z) > 0 {
		b.own = m.Layers[0].Cov
		at = 1
	}
	if d.Above != nil {
		b.up = m.Layers[at].Cov
		whose := d.Above.Labels[b.rows[0]]
		b.rows = b.rows[:0]
		for i, g := range d.Above.Labels {
			if g == whose {
				b.rows = append(b.rows, i)
			}
		}
	}
	n := len(b.rows)
	b.chol = square(n)
	for a, i := range b.rows {
		for c, k := range b.rows[:a+1] {
			v := b.shared(d.Group[i] == d.Group[k], b.zOf(i), b.zOf(k), b.upOf(i), b.upOf(k))
			if d.Group[i] == d.Group[k] {
				v += b.serial(i == k, b.timeOf(i), b.timeOf(k))
			}
			b.chol[a][c] = v
		}
	}
	cholesky(b.chol) // a covariance with scatter of its own in every row
	fitted := m.FittedFixed()
	b.residual = make([]float64, n)
	for a, i := range b.rows {
		b.residual[a] = d.Y[i] - fitted[i]
	}
	lower(b.chol, b.residual)
	upper(b.chol, b.residual)
	return b
}

func (b *kin) timeOf(i int) float64 {
	if b.m.Range > 0 {
		return b.m.p.data.Time[i]
	}
	return 0
}

// zOf are the random-effect columns of a row, the intercept first.
func (b *kin) zOf(i int) []float64 {
	out := make([]float64, len(b.m.p.z))
	for j, c := range b.m.p.z {
		if out[j] = 1; c != nil {
			out[j] = c[i]
		}
	}
	return out
}

func (b *kin) upOf(i int) []float64 {
	a := b.m.p.data.Above
	if a == nil {
		return nil
	}
	out := []float64{1}
	for _, c := range a.Z {
		out = append(out, c[i])
	}
	return out
}

// shared is the covariance by random effects of two rows.
func (b *kin) shared(sameGroup bool, z, w, up, wp []float64) float64 {
	v := 0.0
	if sameGroup {
		v = form(z, b.own, w)
	}
	if b.up != nil {
		v += form(up, b.up, wp)
	}
	return v
}

// serial is the covariance of the residuals of two rows of one group.
func (b *kin) serial(same bool, s, t float64) float64 {
	s2 := b.m.Sigma * b.m.Sigma
	switch {
	case same:
		return s2
	case b.m.Range > 0:
		return s2 * math.Exp(-math.Abs(s-t)/b.m.Range)
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

// predict is the prediction of a reading, or of the group's line without the
// residual, and its variance of error.
func (b *kin) predict(f to, reading bool) (at, variance float64) {
	m, d := b.m, &b.m.p.data
	z := append([]float64(nil), f.z...)
	if d.RandomIntercept {
		z = append([]float64{1}, z...)
	}
	up := append([]float64{1}, f.above...)
	variance = b.shared(true, z, z, up, up)
	if reading {
		variance += m.Sigma * m.Sigma
	}
	c := make([]float64, len(b.rows))
	for a, i := range b.rows {
		same := d.Group[i] == b.label
		c[a] = b.shared(same, b.zOf(i), z, b.upOf(i), up)
		if same && reading {
			c[a] += b.serial(false, b.timeOf(i), f.time)
		}
	}
	at = floats.Dot(f.x, m.beta) + floats.Dot(c, b.residual)
	lower(b.chol, c)
	variance -= floats.Dot(c, c)
	upper(b.chol, c)
	diff := append([]float64(nil), f.x...)
	for a, i := range b.rows {
		for j := range diff {
			diff[j] -= c[a] * b.fixedOf(i, j)
		}
	}
	return at, variance + form(diff, m.Cov, diff)
}

// fixedOf is column j of the fixed effects in a row.
func (b *kin) fixedOf(i, j int) float64 {
	if b.m.p.data.Intercept {
		if j--; j < 0 {
			return 1
		}
	}
	return b.m.p.data.X[j][i]
}
