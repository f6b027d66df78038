package mixed

import (
	"math"
	"sync"

	"gonum.org/v1/gonum/floats"
)

// adjusted is the method of Kenward and Roger for a model that was fitted
// without, made when it is first needed.
type adjusted struct {
	once sync.Once
	k    *kenward
}

// adjustment is nil where the data tell too little for it.
func (m *Model) adjustment() *kenward {
	if k, ok := m.sat.(*kenward); ok {
		return k
	}
	m.later.once.Do(func() {
		var k *kenward
		var err error
		if m.layers != nil {
			k, err = newLayerKenward(m.layerAt)
		} else {
			k, err = newKenward(m.stateAt.moments())
		}
		if err == nil {
			m.later.k = k
		}
	})
	return m.later.k
}

// closely is the allowance for a covariance that is linear in its parameters.
type closely struct {
	b *kin
	k *kenward
}

// parameter is one parameter: what it does to the covariance of the rows and of the
// reading.
type parameter struct {
	alike bool  // the residual variance
	above bool  // of the group above
	entry entry // of the effects' covariance
}

func (c *closely) parameters() []parameter {
	b, out := c.b, []parameter{{alike: true}}
	for _, e := range entries(len(b.own), b.m.p.opts.Uncorrelated) {
		out = append(out, parameter{entry: e})
	}
	for _, e := range entries(len(b.up), b.m.p.opts.Uncorrelated) {
		out = append(out, parameter{above: true, entry: e})
	}
	return out
}

// of is z'E w.
func (e entry) of(z, w []float64) float64 {
	v := 0.0
	for _, p := range e {
		v += z[p[0]] * w[p[1]]
	}
	return v
}

func (c *closely) allow(r Reading, reading bool) (more, df float64) {
	b, m, d := c.b, c.b.m, &c.b.m.p.data
	w, own := b.weights(r, reading)
	z, up := m.p.zOfReading(r.Z), m.upOfReading(r.Above)
	n := len(b.rows)
	lead := m.direction(b.left(r.X, w))
	solved := append([]float64(nil), lead...) // A^-1 d
	lower(b.a, solved)
	half := append([]float64(nil), solved...)
	plain := floats.Dot(half, half)
	upper(b.a, solved)
	var turns, covered [][]float64 // l_r, and H l_r
	var slopes []float64
	for k, p := range c.parameters() {
		// The derivatives of c and of Hw, by p.
		dc, dh, dv := make([]float64, n), make([]float64, n), 0.0
		switch {
		case p.alike:
			copy(dh, w)
			if reading {
				dv = 1
			}
		case p.above:
			dv = p.entry.of(up, up)
		default:
			dv = p.entry.of(z, z)
		}
		for a, i := range b.rows {
			if p.alike {
				break
			}
			if p.above {
				dc[a] = p.entry.of(m.upOf(i), up)
			} else if d.Group[i] == b.label {
				dc[a] = p.entry.of(m.p.zOf(i), z)
			}
			for e, j := range b.rows {
				if p.above {
					dh[a] += p.entry.of(m.upOf(i), m.upOf(j)) * w[e]
				} else if d.Group[i] == d.Group[j] {
					dh[a] += p.entry.of(m.p.zOf(i), m.p.zOf(j)) * w[e]
				}
			}
		}
		hl := make([]float64, n)
		floats.SubTo(hl, dc, dh)
		l := append([]float64(nil), hl...)
		lower(b.chol, l)
		upper(b.chol, l)
		turns, covered = append(turns, l), append(covered, hl)
		g := dv - 2*floats.Dot(w, dc) + floats.Dot(w, dh) + form(half, c.k.t[k], half)
		g += 2 * floats.Dot(solved, m.direction(b.left(make([]float64, m.f.P), l)))
		slopes = append(slopes, g)
	}
	for r := range turns {
		for s := range turns {
			more += 2 * c.k.w[r][s] * floats.Dot(turns[r], covered[s])
		}
	}
	more = math.Max(0, more) + floats.Dot(lead, c.k.solve(lead)) - plain
	return more, freedomOf(own+plain+more, slopes, c.k.w)
}

// differing is the allowance where derivatives are taken by differences.
type differing struct {
	at     outlook
	around [][4]outlook // of each coordinate of the point, at 1, -1, 2 and -2 steps; nil where there is none
	steps  []float64
	free   [][]float64 // covariance of the point and of the log residual standard deviation
}

// byDifferences is nil where the covariance of the variances is not known.
func (m *Model) byDifferences(at outlook, look func(t []float64) outlook) allowance {
	point, size, free := m.uncertain()
	if free == nil {
		return nil
	}
	out := &differing{at: at, free: free}
	for j := range point {
		step := 0.01 * math.Max(size(point, j), 0.01)
		out.steps = append(out.steps, step)
		var four [4]outlook
		for k, by := range []float64{1, -1, 2, -2} {
			t := append([]float64(nil), point...)
			t[j] += by * step
			four[k] = look(t)
		}
		out.around = append(out.around, four)
	}
	return out
}

func (f *differing) allow(r Reading, reading bool) (more, df float64) {
	_, own := f.at.predict(r, reading)
	var moves, slopes []float64
	for j, four := range f.around {
		move, slope := 0.0, 0.0
		for k, weight := range []float64{8, -8, -1, 1} {
			if four[k] == nil {
				continue
			}
			at, v := four[k].predict(r, reading)
			move += weight * at / (12 * f.steps[j])
			slope += weight * v / (12 * f.steps[j])
		}
		moves, slopes = append(moves, move), append(slopes, slope)
	}
	moves, slopes = append(moves, 0), append(slopes, 2*own)
	more = 2 * math.Max(0, form(moves, f.free, moves)) / f.at.scatter()
	return more, freedomOf(own+more, slopes, f.free)
}
