package mixed

import (
	"math"

	"gonum.org/v1/gonum/floats"

	"plybook/analysis/internal/lsq"
)

// part is one group reduced to what the criterion needs. With the columns of
// random effects of the group factored as Z = U R, U orthonormal, r is R, x
// is U'X and y is U'y; all row-major with k rows.
type part struct {
	k       int
	r, x, y []float64
}

// criterion is -2 log likelihood, profiled over the fixed effects and the
// residual variance, in the lower triangle theta of the relative covariance
// factor: the random effects have covariance sigma^2 Lambda Lambda'.
//
// The fixed effects enter through the orthonormal columns of their factored
// design and the response as its least-squares residual divided by its own
// spread, so that neither units nor added constants touch the arithmetic.
type criterion struct {
	n, p, q  int
	free     float64 // n, or n - p with REML
	reml     bool
	diagonal bool // uncorrelated random effects
	parts    []part
	rank     int // summed ranks of the groups' columns
	// Sums over what is orthogonal to the random effects of every group.
	sxx [][]float64
	sxy []float64
	syy float64
	// constant of the criterion: units of the response and of the design.
	constant float64
}

// reduce builds the criterion from the factored design f and the scaled
// residual y. A range above 0 takes the correlation in time of that range out
// of the rows first.
func (p *problem) reduce(f *lsq.Factor, y []float64, length float64) *criterion {
	q, np := len(p.z), f.P
	c := &criterion{n: f.N, p: np, q: q, free: float64(f.N), reml: !p.opts.ML, diagonal: p.opts.Uncorrelated,
		parts: make([]part, len(p.rows)), sxx: square(np), sxy: make([]float64, np)}
	if c.reml {
		c.free -= float64(np)
	}
	for g, rows := range p.rows {
		// Columns of the group: random effects, fixed effects, response.
		n := len(rows)
		cols := make([][]float64, q+np+1)
		for j := range cols {
			cols[j] = make([]float64, n)
			for i, row := range rows {
				switch {
				case j < q:
					cols[j][i] = (p.z[j][row] - p.shift[j]) / p.scale[j]
				case j < q+np:
					cols[j][i] = f.Q[j-q][row]
				default:
					cols[j][i] = y[row]
				}
			}
		}
		if length > 0 {
			c.constant += p.whiten(rows, cols, length)
		}
		u, r := factorGroup(cols[:q], n)
		k := len(u)
		c.rank += k
		pt := part{k: k, r: r, x: make([]float64, k*np), y: make([]float64, k)}
		for a := range u {
			for j, col := range cols[q:] {
				d := floats.Dot(u[a], col)
				floats.AddScaled(col, -d, u[a])
				if j < np {
					pt.x[a*np+j] = d
				} else {
					pt.y[a] = d
				}
			}
		}
		rest := cols[q+np]
		for j, col := range cols[q : q+np] {
			for m := range j + 1 {
				c.sxx[j][m] += floats.Dot(col, cols[q+m])
			}
			c.sxy[j] += floats.Dot(col, rest)
		}
		c.syy += floats.Dot(rest, rest)
		c.parts[g] = pt
	}
	for j := range c.sxx {
		for m := range j {
			c.sxx[m][j] = c.sxx[j][m]
		}
	}
	return c
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

// parameters is the number of entries of theta.
func (c *criterion) parameters() int {
	if c.diagonal {
		return c.q
	}
	return c.q * (c.q + 1) / 2
}

// lambda spreads theta over the lower triangle, row by row.
func (c *criterion) lambda(theta []float64) [][]float64 {
	l := square(c.q)
	k := 0
	for j := range l {
		for m := 0; m <= j; m++ {
			if c.diagonal && m < j {
				continue
			}
			l[j][m] = theta[k]
			k++
		}
	}
	return l
}

// gather is the inverse of lambda, for gradients.
func (c *criterion) gather(l [][]float64) []float64 {
	out := make([]float64, 0, c.parameters())
	for j := range l {
		for m := 0; m <= j; m++ {
			if c.diagonal && m < j {
				continue
			}
			out = append(out, l[j][m])
		}
	}
	return out
}

// state is the criterion worked out at one theta.
type state struct {
	c      *criterion
	point  []float64 // theta and, with correlation in time, the log range
	theta  []float64
	lambda [][]float64
	chols  []float64   // Cholesky factors of the groups' K = I + R Lambda Lambda' R', one after another
	xw, yw []float64   // groups' L^-1 x and L^-1 y, one after another
	a      [][]float64 // Cholesky factor of the crossproduct of the fixed effects
	gamma  []float64   // fixed effects in the coordinates of the factored design
	rss    float64
	logK   float64
	logA   float64
	value  float64 // the profiled criterion
}

// at works out the criterion at theta.
func (c *criterion) at(theta []float64) *state {
	q, p := c.q, c.p
	s := &state{c: c, theta: theta, lambda: c.lambda(theta), a: square(p),
		chols: make([]float64, 0, c.rank*q), xw: make([]float64, 0, c.rank*p), yw: make([]float64, 0, c.rank)}
	for j := range s.a {
		copy(s.a[j], c.sxx[j])
	}
	b := append([]float64(nil), c.sxy...)
	yy := c.syy
	rl := make([]float64, q*q)
	for _, pt := range c.parts {
		k := pt.k
		for a := range k {
			for m := range q {
				v := 0.0
				for j := m; j < q; j++ {
					v += pt.r[a*q+j] * s.lambda[j][m]
				}
				rl[a*q+m] = v
			}
		}
		at := len(s.chols)
		for a := range k { // Cholesky factor of I + (R Lambda)(R Lambda)'
			for d := range k {
				if d > a {
					s.chols = append(s.chols, 0)
					continue
				}
				v := floats.Dot(rl[a*q:(a+1)*q], rl[d*q:(d+1)*q])
				if a == d {
					v++
				}
				l := s.chols[at:]
				for m := range d {
					v -= l[a*k+m] * l[d*k+m]
				}
				if a == d {
					v = math.Sqrt(v)
					s.logK += 2 * math.Log(v)
				} else {
					v /= l[d*k+d]
				}
				s.chols = append(s.chols, v)
			}
		}
		l := s.chols[at:]
		for a := range k {
			x0 := len(s.xw)
			s.xw = append(s.xw, pt.x[a*p:(a+1)*p]...)
			row, y := s.xw[x0:], pt.y[a]
			for m := range a {
				floats.AddScaled(row, -l[a*k+m], s.xw[x0-(a-m)*p:x0-(a-m-1)*p])
				y -= l[a*k+m] * s.yw[len(s.yw)-(a-m)]
			}
			floats.Scale(1/l[a*k+a], row)
			y /= l[a*k+a]
			s.yw = append(s.yw, y)
			for j, v := range row {
				floats.AddScaled(s.a[j], v, row)
			}
			floats.AddScaled(b, y, row)
			yy += y * y
		}
	}
	if !cholesky(s.a) {
		s.value = math.Inf(1)
		return s
	}
	lower(s.a, b)
	s.rss = yy - floats.Dot(b, b)
	s.gamma = b
	upper(s.a, s.gamma)
	for j := range s.a {
		s.logA += 2 * math.Log(s.a[j][j])
	}
	s.value = c.free*(math.Log(2*math.Pi*s.rss/c.free)+1) + s.logK + c.constant
	if c.reml {
		s.value += s.logA
	}
	if !(s.rss > 0) || math.IsNaN(s.value) {
		s.value = math.Inf(1)
	}
	return s
}

// slope returns the half gradient matrix: the derivative of the criterion
// with respect to Lambda is twice M Lambda, with
//
//	M = sum over groups of R'K^-1 R - v v'/s2 - V A^-1 V' (the last with REML only),
//
// v = R'K^-1(y - X gamma), V = R'K^-1 X, and s2 the residual variance, here
// passed so that the unprofiled criterion can use it too. each, if not nil,
// is given v and V of every group.
func (c *criterion) slope(s *state, s2 float64, each func(g int, v, vx []float64)) [][]float64 {
	q, p := c.q, c.p
	m := square(q)
	vx, v := make([]float64, q*p), make([]float64, q)
	e, x, lr := make([]float64, q), make([]float64, q*p), make([]float64, q*q)
	at, row := 0, 0
	for g, pt := range c.parts {
		k := pt.k
		l := s.chols[at : at+k*k]
		copy(x[:k*p], s.xw[row*p:(row+k)*p])
		for a := range k {
			e[a] = s.yw[row+a] - floats.Dot(x[a*p:(a+1)*p], s.gamma)
			copy(lr[a*q:(a+1)*q], pt.r[a*q:(a+1)*q])
			for d := range a {
				floats.AddScaled(lr[a*q:(a+1)*q], -l[a*k+d], lr[d*q:(d+1)*q])
			}
			floats.Scale(1/l[a*k+a], lr[a*q:(a+1)*q])
		}
		// R'K^-1 w = (L^-1 R)' L^-1 w
		for j := range q {
			v[j] = 0
			line := vx[j*p : (j+1)*p]
			clear(line)
			for a := range k {
				v[j] += lr[a*q+j] * e[a]
				floats.AddScaled(line, lr[a*q+j], x[a*p:(a+1)*p])
			}
		}
		for a := range k {
			for i := range q {
				floats.AddScaled(m[i], lr[a*q+i], lr[a*q:(a+1)*q])
			}
		}
		for i := range q {
			floats.AddScaled(m[i], -v[i]/s2, v)
		}
		if each != nil {
			each(g, v, vx)
		}
		if c.reml {
			for j := range q {
				lower(s.a, vx[j*p:(j+1)*p])
			}
			for i := range q {
				for j := range q {
					m[i][j] -= floats.Dot(vx[i*p:(i+1)*p], vx[j*p:(j+1)*p])
				}
			}
		}
		at += k * k
		row += k
	}
	return m
}

// unprofiled is the criterion at a residual variance of s2.
func (s *state) unprofiled(s2 float64) float64 {
	v := s.c.free*math.Log(2*math.Pi*s2) + s.rss/s2 + s.logK + s.c.constant
	if s.c.reml {
		v += s.logA
	}
	return v
}

// gradient of the profiled criterion in theta.
func (c *criterion) gradient(s *state) []float64 {
	return c.gather(product(c.slope(s, s.rss/c.free, nil), s.lambda, 2))
}

// product is scale times a b.
func product(a, b [][]float64, scale float64) [][]float64 {
	out := square(len(a))
	for i := range a {
		for k, v := range a[i] {
			floats.AddScaled(out[i], scale*v, b[k])
		}
	}
	return out
}

// cholesky overwrites the lower triangle of a with its Cholesky factor.
func cholesky(a [][]float64) bool {
	for j := range a {
		for i := j; i < len(a); i++ {
			v := a[i][j] - floats.Dot(a[i][:j], a[j][:j])
			if i == j {
				if !(v > 0) {
					return false
				}
				a[j][j] = math.Sqrt(v)
			} else {
				a[i][j] = v / a[j][j]
			}
		}
	}
	return true
}

// lower solves L x = b in place, upper L'x = b.
func lower(l [][]float64, b []float64) {
	for i := range b {
		b[i] = (b[i] - floats.Dot(l[i][:i], b[:i])) / l[i][i]
	}
}

func upper(l [][]float64, b []float64) {
	for i := len(b) - 1; i >= 0; i-- {
		v := b[i]
		for k := i + 1; k < len(b); k++ {
			v -= l[k][i] * b[k]
		}
		b[i] = v / l[i][i]
	}
}
