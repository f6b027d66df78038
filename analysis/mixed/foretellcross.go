package mixed

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// believed is what is believed of one group together with the group above it,
// every crossed level and the fixed effects: joint, so that it holds for any
// reading of the group whoever takes it.
type believed struct {
	setting
	belief  // effects of the group, of the one above, of the crossed levels, then the factored design's
	m       *Model
	rows    []int     // of the group
	q, qa   int       // how many effects of the group, of the one above
	crossed []float64 // relative standard deviation of each crossed grouping
}

// newBelieved is false where the equations have no solution.
func (m *Model) newBelieved(s *layerState, label int) (*believed, bool) {
	if math.IsInf(s.value, 0) {
		return nil, false
	}
	l := m.layers
	inner, above, crossed := l.lambdas(s.point)
	top, ok := s.topBelief(false)
	if !ok {
		return nil, false
	}
	out := &believed{setting: m.ofLayers(s), m: m, crossed: crossed, q: len(inner), qa: len(above)}
	red := l.reduce(s.point)
	for b, bl := range l.blocks {
		for k, g := range bl.groups {
			if l.p.labels[g] != label {
				continue
			}
			rb := &red.blocks[b]
			parent := top
			// The columns of a block are those of the levels that its rows
			// have; here all levels stand.
			spread := func(w [][]float64, before int) [][]float64 {
				full := make([][]float64, before+len(top.at)+1)
				copy(full, w[:before])
				q := len(w[0])
				for j := range full {
					if full[j] == nil {
						full[j] = make([]float64, q)
					}
				}
				for j, at := range bl.place {
					full[before+at] = w[before+j]
				}
				return full
			}
			if above != nil {
				f := new(folder)
				sum, ok := f.groupsOut(rb, inner, &logProduct{v: 1})
				if !ok {
					return nil, false
				}
				la, wa, ok := f.eliminate(sum, above, &logProduct{v: 1})
				if !ok {
					return nil, false
				}
				parent = parent.below(la, spread(wa, 0), above)
			}
			if len(inner) > 0 {
				lg, wg, ok := rb.parts[k].partOut(inner, len(rb.rest))
				if !ok {
					return nil, false
				}
				parent = parent.below(lg, spread(wg, len(above)), inner)
			}
			out.belief, out.rows = parent, l.p.rowsOf(g)
			return out, true
		}
	}
	return nil, false
}

func (b *believed) scatter() float64 { return b.s2 }

// columns are those of a row or reading in the order of the effects believed.
func (b *believed) columns(z, up []float64, levels []int, x []float64) []float64 {
	l := b.m.layers
	c := make([]float64, len(b.at))
	copy(c, z)
	copy(c[b.q:], up)
	for _, at := range levels {
		if at >= 0 {
			c[b.q+b.qa+at] = 1
		}
	}
	copy(c[b.q+b.qa+l.first[len(l.first)-1]:], b.m.direction(x))
	return c
}

func (b *believed) predict(r Reading, reading bool) (at, variance float64) {
	m, l := b.m, b.m.layers
	var levels []int
	for k := range l.cross {
		if !reading {
			break
		}
		place := -1
		if r.Crossed != nil && r.Crossed[k] != Unknown {
			place = slices.Index(l.names[k], r.Crossed[k])
		}
		if place < 0 {
			variance += b.crossed[k] * b.crossed[k]
			continue
		}
		levels = append(levels, l.first[k]+place)
	}
	c := b.columns(m.p.zOfReading(r.Z), m.upOfReading(r.Above), levels, r.X)
	x := append([]float64(nil), r.X...)
	if reading {
		size := b.sizeOfReading(m, r)
		variance += size * size
		if b.length > 0 {
			// What is left of the residuals of the group's own rows: they are
			// known but for the effects.
			w, off := b.carried(r, size)
			variance -= off
			for a, i := range b.rows {
				at += w[a] * m.p.data.Y[i]
				var theirs []int
				for k := range l.cross {
					theirs = append(theirs, l.first[k]+l.cross[k][i])
				}
				row := make([]float64, m.f.P)
				for j := range row {
					row[j] = m.fixedOf(i, j)
				}
				floats.AddScaled(c, -w[a], b.columns(m.p.zOf(i), m.upOf(i), theirs, row))
				floats.AddScaled(x, -w[a], row)
			}
		}
	}
	at += floats.Dot(x, m.ols) + m.size*floats.Dot(c, b.at)
	return at, variance + form(c, b.cov, c)
}

// carried are the weights with which the residuals of the group's own rows
// foretell that of a reading, and what they take off its variance.
func (b *believed) carried(r Reading, size float64) (w []float64, off float64) {
	n := len(b.rows)
	chol, c := square(n), make([]float64, n)
	sizeOf := func(i int) float64 {
		if b.logs == nil {
			return 1
		}
		return math.Exp(b.logs[b.m.layers.spread[i]])
	}
	t := b.m.p.data.Time
	for a, i := range b.rows {
		c[a] = b.serial(false, t[i], r.Time) * size * sizeOf(i)
		for e, j := range b.rows[:a+1] {
			chol[a][e] = b.serial(i == j, t[i], t[j]) * sizeOf(i) * sizeOf(j)
		}
	}
	cholesky(chol)
	w = append([]float64(nil), c...)
	lower(chol, w)
	upper(chol, w)
	return w, floats.Dot(c, w)
}
