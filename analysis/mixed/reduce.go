package mixed

import (
	"math"

	"gonum.org/v1/gonum/floats"

	"plybook/analysis/internal/lsq"
)

// reduce builds the criterion from the factored design f and the residual of
// least squares, which it divides by size. A range above 0 takes the
// correlation in time of that range out of the rows first.
//
// Once it is done the rows are not needed any more: with the columns of
// random effects of a group factored as Z = U R, U orthonormal, the criterion
// knows R, U'X and U'y of each group, and the products of what of X and y is
// orthogonal to U, summed over groups. Those are the cross-products Z'Z, Z'X,
// Z'y, X'X, X'y and y'y, in a form that keeps all their digits.
func (p *problem) reduce(f *lsq.Factor, residual []float64, size, length float64) *criterion {
	q, np := len(p.z), f.P
	c := &criterion{n: f.N, p: np, q: q, free: float64(f.N), reml: !p.opts.ML, diagonal: p.opts.Uncorrelated,
		lots: lots(p.count()), ranks: make([]uint16, p.count()), sxx: square(np), sxy: make([]float64, np)}
	if c.reml {
		c.free -= float64(np)
	}
	total := 0
	for k := range c.lots {
		l := &c.lots[k]
		l.at = total
		for g := l.from; g < l.to; g++ {
			total += min(p.size(g), q) * (q + np + 1)
		}
	}
	c.numbers = make([]float64, total)
	rests := make([]*rest, len(c.lots))
	together(len(c.lots), func(k int) {
		r := &rest{sxx: square(np), sxy: make([]float64, np)}
		work := &reducing{problem: p, f: f, residual: residual, unit: 1 / size, length: length}
		at := c.lots[k].at
		for g := c.lots[k].from; g < c.lots[k].to; g++ {
			rank := work.group(g, c.numbers[at:], r)
			c.ranks[g] = uint16(rank)
			at += rank * (q + np + 1)
		}
		rests[k] = r
	})
	for _, r := range rests {
		for j := range r.sxx {
			floats.Add(c.sxx[j], r.sxx[j])
		}
		floats.Add(c.sxy, r.sxy)
		c.syy += r.syy
		c.rank += r.rank
		c.constant += r.constant
	}
	for j := range c.sxx {
		for m := range j {
			c.sxx[m][j] = c.sxx[j][m]
		}
	}
	return c
}

// rest is what a lot of groups adds to the sums over groups.
type rest struct {
	sxx      [][]float64
	sxy      []float64
	syy      float64
	rank     int
	constant float64
}

// reducing reduces one group after another, in memory that it uses again.
type reducing struct {
	*problem
	f            *lsq.Factor
	residual     []float64
	unit, length float64
	flat         []float64
	cols         [][]float64 // random effects, fixed effects, response
}

// group reduces group g: it writes R, U'X and U'y to out, adds to r, and
// returns the rank of the group's random effects.
func (w *reducing) group(g int, out []float64, r *rest) int {
	q, p, n := len(w.z), w.f.P, w.size(g)
	if len(w.flat) < n*(q+p+1) {
		w.flat = make([]float64, 2*n*(q+p+1))
		w.cols = make([][]float64, q+p+1)
	}
	for j := range w.cols {
		col := w.flat[j*n : (j+1)*n]
		w.cols[j] = col
		switch {
		case j < q:
			w.take(col, w.z[j], g)
			if w.z[j] != nil {
				for i, v := range col {
					col[i] = (v - w.shift[j]) / w.scale[j]
				}
			}
		case j < q+p:
			w.take(col, w.fixed(j-q), g)
		default:
			w.take(col, w.residual, g)
			for i := range col {
				col[i] *= w.unit
			}
		}
	}
	if w.f.Q == nil {
		w.f.Orthonormal(w.cols[q : q+p])
	}
	if w.length > 0 {
		r.constant += w.whiten(g, w.cols, w.length)
	}
	kept := w.factor(n, out)
	k := len(kept)
	x, y := out[k*q:k*(q+p)], out[k*(q+p):k*(q+p+1)]
	for a, u := range kept {
		for j, col := range w.cols[q:] {
			d := dot(u, col)
			subtract(col, d, u)
			if j < p {
				x[a*p+j] = d
			} else {
				y[a] = d
			}
		}
	}
	left := w.cols[q+p]
	for j, col := range w.cols[q : q+p] {
		for m := range j + 1 {
			r.sxx[j][m] += dot(col, w.cols[q+m])
		}
		r.sxy[j] += dot(col, left)
	}
	r.syy += dot(left, left)
	r.rank += k
	return k
}

// fixed is column j of the factored design, or of the design where the factor
// does not keep it; nil stands for the constant.
func (w *reducing) fixed(j int) []float64 {
	switch {
	case w.f.Q != nil:
		return w.f.Q[j]
	case !w.data.Intercept:
		return w.data.X[j]
	case j == 0:
		return nil
	}
	return w.data.X[j-1]
}

// factor turns the columns of random effects of a group of n rows into
// orthonormal ones, of which it returns those that are new directions, and
// writes the rows of R to out.
func (w *reducing) factor(n int, out []float64) [][]float64 {
	q := len(w.z)
	kept := w.cols[:0:q] // columns left out make room for those that follow
	for j := range q {
		col := w.cols[j]
		size := math.Sqrt(dot(col, col))
		row := len(kept)
		for range 2 {
			for a, u := range kept {
				d := dot(u, col)
				subtract(col, d, u)
				out[a*q+j] += d
			}
		}
		norm := math.Sqrt(dot(col, col))
		if norm <= 1e-10*size || row == n {
			continue
		}
		for i := range col {
			col[i] /= norm
		}
		clear(out[row*q : (row+1)*q])
		out[row*q+j] = norm
		kept = append(kept, col)
	}
	return kept
}

// dot and subtract are the inner product of two short columns, and col less d
// times u.
func dot(a, b []float64) float64 {
	s := 0.0
	b = b[:len(a)]
	for i, v := range a {
		s += v * b[i]
	}
	return s
}

func subtract(col []float64, d float64, u []float64) {
	u = u[:len(col)]
	for i := range col {
		col[i] -= d * u[i]
	}
}
