package mixed

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

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
	// Of each group, one after the other: R (rank x q), U'X (rank x p) and
	// U'y (rank), row by row.
	numbers []float64
	ranks   []uint16
	lots    []lot
	rank    int // sum of ranks
	// Sums over what is orthogonal to the random effects of every group.
	sxx [][]float64
	sxy []float64
	syy float64
	// constant of the criterion: units of the response and of the design.
	constant float64
}

// part is one group reduced to what the criterion needs. With the columns of
// random effects of the group factored as Z = U R, U orthonormal, r is R, x
// is U'X and y is U'y; all row-major with k rows.
type part struct {
	k       int
	r, x, y []float64
}

// parts calls fn with each group of a lot in turn.
func (c *criterion) parts(l lot, fn func(g int, pt part)) {
	at := l.at
	for g := l.from; g < l.to; g++ {
		k := int(c.ranks[g])
		x := at + k*c.q
		y := x + k*c.p
		fn(g, part{k: k, r: c.numbers[at:x], x: c.numbers[x:y], y: c.numbers[y : y+k]})
		at = y + k
	}
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
	c *criterion
	// point is what the search moves: theta, and the log of the range where
	// residuals are correlated in time.
	point  []float64
	theta  []float64
	lambda [][]float64
	value  float64
	rss    float64     // profiled residual sum of squares
	gamma  []float64   // coefficients of the orthonormal design
	a      [][]float64 // Cholesky factor of the profiled crossproduct of the fixed effects
	logK   float64     // summed log determinants of the groups
	logA   float64
	kept   *slopes // once they have been asked for
}

// scratch holds one group at one theta, in memory that is used again. L is
// the Cholesky factor of K = I + (R Lambda)(R Lambda)'.
type scratch struct {
	lambda []float64 // row by row
	l      []float64 // L, k x k
	r      []float64 // R Lambda, and then L^-1 R, k x q
	x      []float64 // L^-1 U'X, k x p
	y      []float64 // L^-1 U'y
}

func (s *state) scratch() *scratch {
	q, p := s.c.q, s.c.p
	w := &scratch{lambda: make([]float64, 0, q*q), l: make([]float64, q*q), r: make([]float64, q*q), x: make([]float64, q*p), y: make([]float64, q)}
	for _, row := range s.lambda {
		w.lambda = append(w.lambda, row...)
	}
	return w
}

// solve works out L and what it is multiplied with, and returns the square
// root of the determinant of K.
func (w *scratch) solve(pt part, q, p int) float64 {
	k := pt.k
	for a := range k {
		r := pt.r[a*q : (a+1)*q]
		for m := range q {
			v := 0.0
			for j := m; j < q; j++ {
				v += r[j] * w.lambda[j*q+m]
			}
			w.r[a*q+m] = v
		}
	}
	det := 1.0
	for a := range k {
		for d := range a + 1 {
			v := dot(w.r[a*q:(a+1)*q], w.r[d*q:(d+1)*q])
			if a == d {
				v++
			}
			for m := range d {
				v -= w.l[a*k+m] * w.l[d*k+m]
			}
			if a == d {
				v = math.Sqrt(v)
				det *= v
			} else {
				v /= w.l[d*k+d]
			}
			w.l[a*k+d] = v
		}
	}
	for a := range k {
		y, row := pt.y[a], w.x[a*p:(a+1)*p]
		copy(row, pt.x[a*p:(a+1)*p])
		for m := range a {
			l := w.l[a*k+m]
			subtract(row, l, w.x[m*p:(m+1)*p])
			y -= l * w.y[m]
		}
		d := 1 / w.l[a*k+a]
		for j := range row {
			row[j] *= d
		}
		w.y[a] = y * d
	}
	return det
}

// sums are what a lot adds to the profiled sums over groups.
type sums struct {
	a    [][]float64 // lower triangle
	b    []float64
	yy   float64
	logK float64
}

func (c *criterion) at(theta []float64) *state {
	p := c.p
	s := &state{c: c, theta: theta, lambda: c.lambda(theta), a: square(p)}
	lot := make([]sums, len(c.lots))
	together(len(lot), func(k int) {
		t := sums{a: square(p), b: make([]float64, p)}
		w := s.scratch()
		det := 1.0
		c.parts(c.lots[k], func(_ int, pt part) {
			det *= w.solve(pt, c.q, p)
			// Logarithms cost more than all else: one for many groups.
			if !(det < 1e100) {
				t.logK += 2 * math.Log(det)
				det = 1
			}
			for a := range pt.k {
				row, y := w.x[a*p:(a+1)*p], w.y[a]
				for j, v := range row {
					add(t.a[j][:j+1], v, row)
					t.b[j] += y * v
				}
				t.yy += y * y
			}
		})
		t.logK += 2 * math.Log(det)
		lot[k] = t
	})
	for j := range s.a {
		copy(s.a[j], c.sxx[j])
	}
	b := append([]float64(nil), c.sxy...)
	yy := c.syy
	for _, t := range lot {
		for j := range t.a {
			floats.Add(s.a[j][:j+1], t.a[j][:j+1])
		}
		floats.Add(b, t.b)
		yy += t.yy
		s.logK += t.logK
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

// unprofiled is the criterion at a residual variance of s2.
func (s *state) unprofiled(s2 float64) float64 {
	v := s.c.free*math.Log(2*math.Pi*s2) + s.rss/s2 + s.logK + s.c.constant
	if s.c.reml {
		v += s.logA
	}
	return v
}

// add adds d times b, which may be longer, to a.
func add(a []float64, d float64, b []float64) {
	b = b[:len(a)]
	for i := range a {
		a[i] += d * b[i]
	}
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
