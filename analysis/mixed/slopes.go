package mixed

import (
	"gonum.org/v1/gonum/floats"
)

// slopes are the sums over groups of which the first and second derivatives
// of the criterion are made. With S = Lambda Lambda', K = I + R S R',
//
//	P = R'K^-1 R,  u = R'K^-1 (U'y - U'X gamma),  V = R'K^-1 U'X A^-1/2
//
// of a group, A being the profiled crossproduct of the fixed effects, a
// change dS changes the summed log det K by the sum of tr(P dS), the residual
// sum of squares by less the sum of u'dS u, and log det A by less the sum of
// tr(V'dS V). The second derivatives in two changes E and F are
//
//	log det K:  -sum tr(P E P F)
//	rss:        2 sum u'E P F u - 2 c(E)'c(F),        c(E) = sum V'E u
//	log det A:  2 sum tr(V'E P F V) - tr(B(E) B(F)),  B(E) = sum V'E V.
//
// Symmetric matrices of the random effects stand as their lower triangles,
// row by row.
type slopes struct {
	p, u, v    []float64   // sums of P, uu' and VV'
	pp, up, vp [][]float64 // sums of P x P, uu' x P and VV' x P
	c          [][]float64 // [i*q+j]: sum of u_j V_i
	b          [][]float64 // [i*q+j]: sum of V_i V_j', p x p row by row
}

func newSlopes(q, p int, second bool) *slopes {
	m := q * (q + 1) / 2
	s := &slopes{p: make([]float64, m), u: make([]float64, m), v: make([]float64, m)}
	if second {
		s.pp, s.up, s.vp = square(m), square(m), square(m)
		s.c, s.b = make([][]float64, q*q), make([][]float64, q*q)
		for k := range s.c {
			s.c[k], s.b[k] = make([]float64, p), make([]float64, p*p)
		}
	}
	return s
}

func (s *slopes) add(t *slopes) {
	floats.Add(s.p, t.p)
	floats.Add(s.u, t.u)
	floats.Add(s.v, t.v)
	for k := range t.pp {
		floats.Add(s.pp[k], t.pp[k])
		floats.Add(s.up[k], t.up[k])
		floats.Add(s.vp[k], t.vp[k])
	}
	for k := range t.c {
		floats.Add(s.c[k], t.c[k])
		floats.Add(s.b[k], t.b[k])
	}
}

// slopes works out the sums, those of second derivatives only if asked for.
func (s *state) slopes(second bool) *slopes {
	if s.kept != nil && (s.kept.pp != nil || !second) {
		return s.kept
	}
	c := s.c
	q, p := c.q, c.p
	lot := make([]*slopes, len(c.lots))
	together(len(lot), func(k int) {
		t := newSlopes(q, p, second)
		w := s.sloping()
		c.parts(c.lots[k], func(_ int, pt part) { w.group(pt, t) })
		lot[k] = t
	})
	s.kept = newSlopes(q, p, second)
	for _, t := range lot {
		s.kept.add(t)
	}
	return s.kept
}

// sloping adds one group after another, in memory that it uses again.
type sloping struct {
	*scratch
	s         *state
	p, uu, vv []float64
	u, v      []float64
}

func (s *state) sloping() *sloping {
	q, p := s.c.q, s.c.p
	m := q * (q + 1) / 2
	return &sloping{scratch: s.scratch(), s: s, p: make([]float64, m), uu: make([]float64, m), vv: make([]float64, m),
		u: make([]float64, q), v: make([]float64, q*p)}
}

// own works out P and u of a group, and leaves L^-1 R in w.r.
func (w *sloping) own(pt part) {
	q, p, k := w.s.c.q, w.s.c.p, pt.k
	w.solve(pt, q, p)
	for a := range k {
		row := w.r[a*q : (a+1)*q]
		copy(row, pt.r[a*q:(a+1)*q])
		for d := range a {
			subtract(row, w.l[a*k+d], w.r[d*q:(d+1)*q])
		}
		d := 1 / w.l[a*k+a]
		for j := range row {
			row[j] *= d
		}
		w.y[a] -= dot(w.x[a*p:(a+1)*p], w.s.gamma)
	}
	at := 0
	for i := range q {
		w.u[i] = 0
		for a := range k {
			w.u[i] += w.r[a*q+i] * w.y[a]
		}
		for j := range i + 1 {
			v := 0.0
			for a := range k {
				v += w.r[a*q+i] * w.r[a*q+j]
			}
			w.p[at] = v
			at++
		}
	}
}

// design works out V of a group after own.
func (w *sloping) design(pt part) {
	q, p := w.s.c.q, w.s.c.p
	for i := range q {
		row := w.v[i*p : (i+1)*p]
		clear(row)
		for a := range pt.k {
			add(row, w.r[a*q+i], w.x[a*p:(a+1)*p])
		}
		// lower, without its checks of lengths
		for j := range row {
			l := w.s.a[j]
			v := row[j]
			for m := range j {
				v -= l[m] * row[m]
			}
			row[j] = v / l[j]
		}
	}
}

func (w *sloping) group(pt part, t *slopes) {
	q, p := w.s.c.q, w.s.c.p
	w.own(pt)
	w.design(pt)
	at := 0
	for i := range q {
		for j := range i + 1 {
			w.uu[at] = w.u[i] * w.u[j]
			w.vv[at] = dot(w.v[i*p:(i+1)*p], w.v[j*p:(j+1)*p])
			at++
		}
	}
	add(t.p, 1, w.p)
	add(t.u, 1, w.uu)
	add(t.v, 1, w.vv)
	if t.pp == nil {
		return
	}
	for a := range w.p {
		add(t.pp[a], w.p[a], w.p)
		add(t.up[a], w.uu[a], w.p)
		add(t.vp[a], w.vv[a], w.p)
	}
	for i := range q {
		v := w.v[i*p : (i+1)*p]
		for j := range q {
			add(t.c[i*q+j], w.u[j], v)
			if j > i {
				continue // the transpose of what stands below the diagonal
			}
			other := w.v[j*p : (j+1)*p]
			b := t.b[i*q+j]
			for m, x := range v {
				add(b[m*p:(m+1)*p], x, other)
			}
		}
	}
}

// spread turns a lower triangle into the symmetric matrix.
func spread(q int, v []float64) [][]float64 {
	out := square(q)
	at := 0
	for i := range q {
		for j := range i + 1 {
			out[i][j], out[j][i] = v[at], v[at]
			at++
		}
	}
	return out
}

// middle is M, for which the derivative of the criterion at a residual
// variance of s2 is tr(M dS): the sum of P - uu'/s2 - VV', the last with
// REML only.
func (s *state) middle(s2 float64) [][]float64 {
	t := s.slopes(false)
	v := append([]float64(nil), t.p...)
	floats.AddScaled(v, -1/s2, t.u)
	if s.c.reml {
		floats.Sub(v, t.v)
	}
	return spread(s.c.q, v)
}

// gradient of the profiled criterion in theta: 2 M Lambda.
func (c *criterion) gradient(s *state) []float64 {
	return c.gather(product(s.middle(s.rss/c.free), s.lambda, 2))
}

// curvature is the second derivative of the unprofiled criterion in theta and
// the log of the residual standard deviation, at the profiled one.
func (c *criterion) curvature(s *state) [][]float64 {
	q, k := c.q, c.parameters()
	t := s.slopes(true)
	s2 := s.rss / c.free
	// The entries of theta as places in Lambda, and what each does to S.
	var places [][2]int
	for i := range q {
		for j := range i + 1 {
			if !c.diagonal || i == j {
				places = append(places, [2]int{i, j})
			}
		}
	}
	change := make([][][]float64, k)
	cs, bs := make([][]float64, k), make([][]float64, k)
	for a, at := range places {
		change[a] = square(q)
		for i := range q {
			change[a][at[0]][i] += s.lambda[i][at[1]]
			change[a][i][at[0]] += s.lambda[i][at[1]]
		}
		cs[a], bs[a] = make([]float64, c.p), make([]float64, c.p*c.p)
		for i := range q {
			for j, e := range change[a][i] {
				floats.AddScaled(cs[a], e, t.c[i*q+j])
				floats.AddScaled(bs[a], e, t.cross(c.p, i, j, q))
			}
		}
	}
	h := square(k + 1)
	m, u := s.middle(s2), product(spread(q, t.u), s.lambda, 1)
	for a, at := range places {
		for b, by := range places[:a+1] {
			e, f := change[a], change[b]
			v := -chained(t.pp, e, f) + 2/s2*chained(t.up, e, f) - 2/s2*floats.Dot(cs[a], cs[b])
			if c.reml {
				v += 2*chained(t.vp, e, f) - floats.Dot(bs[a], bs[b])
			}
			if at[1] == by[1] {
				v += 2 * m[at[0]][by[0]]
			}
			h[a][b], h[b][a] = v, v
		}
		h[a][k] = 4 / s2 * u[at[0]][at[1]]
		h[k][a] = h[a][k]
	}
	h[k][k] = 4 * s.rss / s2
	return h
}

// cross is the sum of V_i V_j', of which slopes keep only those with j <= i.
func (t *slopes) cross(p, i, j, q int) []float64 {
	if j <= i {
		return t.b[i*q+j]
	}
	out, b := make([]float64, p*p), t.b[j*q+i]
	for a := range p {
		for d := range p {
			out[a*p+d] = b[d*p+a]
		}
	}
	return out
}

// chained is the sum of tr(G E P F) from that of the products of the entries
// of G and P, made the same for E and F.
func chained(gp, e, f [][]float64) float64 {
	at := func(i, j int) int {
		if i < j {
			i, j = j, i
		}
		return i*(i+1)/2 + j
	}
	v := 0.0
	for i := range e {
		for j := range e {
			for k := range e {
				for l := range e { // G_ij E_jk P_kl F_li
					if w := e[j][k]*f[l][i] + f[j][k]*e[l][i]; w != 0 {
						v += w / 2 * gp[at(i, j)][at(k, l)]
					}
				}
			}
		}
	}
	return v
}

// profiled takes the residual variance out of the curvature.
func profiled(h [][]float64) [][]float64 {
	k := len(h) - 1
	out := square(k)
	for a := range out {
		for b := range out {
			out[a][b] = h[a][b] - h[a][k]*h[b][k]/h[k][k]
		}
	}
	return out
}
