package mixed

// groupMoments takes in one group after another, in memory that it uses again.
type groupMoments struct {
	q, n   int
	lambda [][]float64
	params []entry
	rl, k  [][]float64
	inv    []float64 // K^-1, k x k
	ir, in []float64 // K^-1 times R and times the columns N
	half   []float64 // K^-1 times that, k x n
	v, v2  []float64 // R' K^-1 N and R' K^-2 N
	p, p2  []float64 // R' K^-1 R and R' K^-2 R
}

func newGroupMoments(n int, lambda [][]float64, params []entry) *groupMoments {
	q := len(lambda)
	return &groupMoments{q: q, n: n, lambda: lambda, params: params, rl: square(q), k: square(q), inv: make([]float64, q*q), ir: make([]float64, q*q),
		in: make([]float64, q*n), half: make([]float64, q*n), v: make([]float64, q*n), v2: make([]float64, q*n), p: make([]float64, q*q), p2: make([]float64, q*q)}
}

// add takes in a group whose columns of random effects are U R, U
// orthonormal, r being R (k x q) and lead U'N (k x n). What is orthogonal to U
// is not counted here, but by moments.rows. With K = I + R S R' the inverse of
// the rows' covariance within U is U K^-1 U'.
func (w *groupMoments) add(to *moments, k int, r, lead []float64) {
	q, n := w.q, w.n
	if k == 0 {
		return
	}
	w.invert(k, r)
	times(w.ir, w.inv, r, k, k, q)
	times(w.in, w.inv, lead, k, k, n)
	times(w.half, w.inv, w.in, k, k, n)
	crossed(w.v, w.ir, lead, k, q, n)
	crossed(w.v2, w.ir, w.in, k, q, n)
	crossed(w.p, r, w.ir, k, q, q)
	crossed(w.p2, w.ir, w.ir, k, q, q)
	for a := range k {
		outer(to.a, 1, lead[a*n:(a+1)*n], w.in[a*n:(a+1)*n])
		outer(to.t[0], 1, w.in[a*n:(a+1)*n], w.in[a*n:(a+1)*n])
		outer(to.q[0][0], 1, w.in[a*n:(a+1)*n], w.half[a*n:(a+1)*n])
	}
	to.k[0][0] += dot(w.inv[:k*k], w.inv[:k*k])
	for x, e := range w.params {
		between(to.t[x+1], w.v, e, w.v, n)
		between(to.q[x+1][0], w.v, e, w.v2, n)
		t := e.trace(w.p2, q)
		to.k[x+1][0] += t
		to.k[0][x+1] += t
		for y, f := range w.params[:x+1] {
			chain(to.q[x+1][y+1], w.v, e, w.p, f, q, n)
			t := trace2(w.p, e, f, q)
			to.k[x+1][y+1] += t
			if y < x {
				to.k[y+1][x+1] += t
			}
		}
	}
}

// invert works out K^-1.
func (w *groupMoments) invert(k int, r []float64) {
	q := w.q
	rl, kk := w.rl[:k], w.k[:k]
	for a := range k {
		clear(rl[a])
		for j := range q {
			add(rl[a], r[a*q+j], w.lambda[j])
		}
		for b := range a + 1 {
			kk[a][b] = dot(rl[a], rl[b])
		}
		kk[a][a]++
	}
	cholesky(kk)
	for a := range k {
		row := w.inv[a*k : (a+1)*k]
		clear(row)
		row[a] = 1
		lower(kk, row)
		upper(kk, row)
	}
}

// times sets out to x y for x a x b and y b x c, row by row.
func times(out, x, y []float64, a, b, c int) {
	for i := range a {
		row := out[i*c : (i+1)*c]
		clear(row)
		for j := range b {
			add(row, x[i*b+j], y[j*c:])
		}
	}
}

// crossed sets out to x'y for x k x a and y k x b, row by row.
func crossed(out, x, y []float64, k, a, b int) {
	for i := range a {
		row := out[i*b : (i+1)*b]
		clear(row)
		for j := range k {
			add(row, x[j*a+i], y[j*b:(j+1)*b])
		}
	}
}

// moments of the fixed effects, at one theta.
func (s *state) moments() *moments {
	c := s.c
	params := entries(c.q, c.diagonal)
	lot := make([]*moments, len(c.lots))
	together(len(lot), func(k int) {
		m := newMoments(c.p, 1+len(params))
		w := newGroupMoments(c.p, s.lambda, params)
		c.parts(c.lots[k], func(_ int, pt part) { w.add(m, pt.k, pt.r, pt.x) })
		lot[k] = m
	})
	out := newMoments(c.p, 1+len(params))
	out.rows(c.n-c.rank, c.sxx)
	for _, m := range lot {
		out.add(m, nil)
	}
	return out
}

// moments of the fixed effects, at one point: those of each group, without
// its effects; of each group above, without those; of all, without the
// crossed ones.
func (s *layerState) moments() *moments {
	l := s.m
	inner, above, sd := l.lambdas(s.point)
	red := l.reduce(s.point)
	own := entries(len(inner), l.p.opts.Uncorrelated)
	higher := entries(len(above), l.p.opts.Uncorrelated)
	c := len(s.crossed)
	n := c + l.f.P
	total := newMoments(n, 1+len(own)+len(higher))
	for b, rb := range red.blocks {
		width := len(rb.rest) - 1 // without the response
		m := newMoments(width, 1+len(own))
		w := newGroupMoments(width, inner, own)
		rows := 0
		for k, pt := range rb.parts {
			lead := make([]float64, 0, pt.k*width)
			for a := range pt.k {
				lead = append(lead, pt.lead[a*(width+1):a*(width+1)+width]...)
			}
			w.add(m, pt.k, pt.r, lead)
			rows += l.p.size(l.blocks[b].groups[k]) - pt.k
		}
		m.rows(rows, rb.rest)
		if len(above) > 0 {
			m = m.absorbed(len(above), above, higher)
		}
		place := l.blocks[b].place
		total.add(m, place[:len(place)-1])
	}
	for k, v := range sd { // one grouping after another, each then standing first
		levels := l.first[k+1] - l.first[k]
		lambda := square(levels)
		for j := range lambda {
			lambda[j][j] = v
		}
		total = total.absorbed(levels, lambda, []entry{alikeEntry(levels)})
	}
	return total
}
