package mixed

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"
)

// reduced is what the rows come to for one range and one set of residual
// standard deviations.
type reduced struct {
	constant float64
	blocks   []reducedBlock
}

// reducedBlock holds the groups of a block and the crossproducts of what is
// orthogonal to their effects. Columns are the effects of the group above, the
// crossed levels of the block, the fixed effects and the response.
type reducedBlock struct {
	parts []groupPart
	rest  [][]float64 // lower triangle
}

// groupPart is a group whose columns of random effects are U R, U
// orthonormal: r is R, k x q, and lead is U' times the columns, k rows.
type groupPart struct {
	k    int
	r    []float64
	lead []float64
}

func (m *layers) reduce(t []float64) *reduced {
	logRange, logs := m.residual(t)
	key := fmt.Sprint(logRange, logs)
	if r, ok := m.kept[key]; ok {
		return r
	}
	if len(m.kept) > 30 {
		clear(m.kept)
	}
	p := m.p
	r := &reduced{constant: m.base, blocks: make([]reducedBlock, len(m.blocks))}
	q, qa := len(p.z), 0
	if m.above != nil {
		qa = len(m.above.z)
	}
	for b, bl := range m.blocks {
		width := qa + len(bl.levels) + m.f.P + 1
		rb := reducedBlock{rest: square(width)}
		for _, g := range bl.groups {
			rows := p.rowsOf(g)
			cols := make([][]float64, q+width)
			flat := make([]float64, (q+width)*len(rows))
			for j := range cols {
				cols[j] = flat[j*len(rows) : (j+1)*len(rows)]
			}
			for i, row := range rows {
				for j, z := range p.z {
					cols[j][i] = p.scaled(j, z, row)
				}
				for j := range qa {
					cols[q+j][i] = m.above.scaled(j, m.above.z[j], row)
				}
				for k, c := range m.cross {
					at, _ := slices.BinarySearch(bl.levels, m.first[k]+c[row])
					cols[q+qa+at][i] = 1
				}
				for j := range m.f.P {
					cols[q+qa+len(bl.levels)+j][i] = m.f.Q[j][row]
				}
				cols[q+width-1][i] = m.y[row]
				if logs != nil {
					l := logs[m.spread[row]]
					r.constant += 2 * l
					w := math.Exp(-l)
					for _, c := range cols {
						c[i] *= w
					}
				}
			}
			if m.serial {
				r.constant += p.whiten(g, cols, math.Exp(logRange))
			}
			rb.add(cols, q)
		}
		r.blocks[b] = rb
	}
	m.kept[key] = r
	return r
}

// add takes a group's columns, the first q of them its random effects.
func (b *reducedBlock) add(cols [][]float64, q int) {
	u, factor := factorGroup(cols[:q], len(cols[0]))
	rest := cols[q:]
	pt := groupPart{k: len(u), r: factor, lead: make([]float64, len(u)*len(rest))}
	for a := range u {
		for j, c := range rest {
			d := floats.Dot(u[a], c)
			floats.AddScaled(c, -d, u[a])
			pt.lead[a*len(rest)+j] = d
		}
	}
	for j, c := range rest {
		for k := range j + 1 {
			b.rest[j][k] += floats.Dot(c, rest[k])
		}
	}
	b.parts = append(b.parts, pt)
}

// rowsOf are the rows of group g, in the order of their places.
func (g *grouping) rowsOf(k int) []int {
	out := make([]int, 0, g.size(k))
	for at := g.start[k]; at < g.start[k+1]; at++ {
		out = append(out, g.row(at))
	}
	return out
}

// factorGroup factors the random-effect columns of a group of n rows: k
// orthonormal columns and the k x q factor R.
func factorGroup(z [][]float64, n int) (u [][]float64, r []float64) {
	q := len(z)
	coef := make([][]float64, 0, q) // rows of R
	for j := range z {
		col := append([]float64(nil), z[j]...)
		size := floats.Norm(col, 2)
		for range 2 {
			for a := range u {
				d := floats.Dot(u[a], col)
				floats.AddScaled(col, -d, u[a])
				coef[a][j] += d
			}
		}
		norm := floats.Norm(col, 2)
		if norm <= 1e-10*size || len(u) == n {
			continue
		}
		floats.Scale(1/norm, col)
		line := make([]float64, q)
		line[j] = norm
		u, coef = append(u, col), append(coef, line)
	}
	r = make([]float64, 0, len(u)*q)
	for _, line := range coef {
		r = append(r, line...)
	}
	return u, r
}
