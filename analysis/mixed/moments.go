package mixed

import "gonum.org/v1/gonum/floats"

// moments are the sums over rows of which errors adjusted for small samples
// are made. The rows have covariance H times the residual variance, which is
// linear in its parameters: H is the sum of each times its G. The first
// parameter is the residual variance, whose G is the identity; the others are
// the entries of S = Lambda Lambda' of the random effects taken in so far. N are the columns that are not: further random
// effects, crossed levels, and fixed effects. Matrices are n x n, row by row.
type moments struct {
	n int
	a []float64     // N'H^-1 N
	t [][]float64   // by parameter: N'H^-1 G H^-1 N
	q [][][]float64 // by pair, the second not after the first: N'H^-1 G_r H^-1 G_s H^-1 N
	k [][]float64   // by pair: tr(H^-1 G_r H^-1 G_s)
}

func newMoments(n, parameters int) *moments {
	m := &moments{n: n, a: make([]float64, n*n), t: make([][]float64, parameters), q: make([][][]float64, parameters), k: square(parameters)}
	for r := range m.t {
		m.t[r], m.q[r] = make([]float64, n*n), make([][]float64, r+1)
		for s := range m.q[r] {
			m.q[r][s] = make([]float64, n*n)
		}
	}
	return m
}

// rows is what rows come to that have no random effect yet, from the lower
// triangle of the crossproduct of their columns.
func (m *moments) rows(count int, cross [][]float64) {
	for i := range m.n {
		for j := range m.n {
			v := cross[max(i, j)][min(i, j)]
			m.a[i*m.n+j] += v
			m.t[0][i*m.n+j] += v
			m.q[0][0][i*m.n+j] += v
		}
	}
	m.k[0][0] += float64(count)
}

// add adds those of other rows; place says which column each of them is, nil:
// the same.
func (m *moments) add(o *moments, place []int) {
	put := func(to, from []float64) {
		if place == nil {
			floats.Add(to, from)
			return
		}
		for i, a := range place {
			for j, b := range place {
				to[a*m.n+b] += from[i*o.n+j]
			}
		}
	}
	put(m.a, o.a)
	for r := range m.t {
		put(m.t[r], o.t[r])
		for s := range m.q[r] {
			put(m.q[r][s], o.q[r][s])
		}
		floats.Add(m.k[r], o.k[r])
	}
}

// entry is a parameter of S: the places, row and column, that it sets to 1.
type entry [][2]int

// entries are those of the lower triangle of S.
func entries(q int, diagonal bool) []entry {
	var out []entry
	for i := range q {
		for j := range i + 1 {
			switch {
			case i == j:
				out = append(out, entry{{i, i}})
			case !diagonal:
				out = append(out, entry{{i, j}, {j, i}})
			}
		}
	}
	return out
}

// alikeEntry is the one parameter of S where it is a multiple of the identity.
func alikeEntry(q int) entry {
	var out entry
	for i := range q {
		out = append(out, [2]int{i, i})
	}
	return out
}

// trace of E times a q x q matrix.
func (e entry) trace(m []float64, q int) float64 {
	v := 0.0
	for _, p := range e {
		v += m[p[1]*q+p[0]]
	}
	return v
}

// trace2 is tr(A E A F) for a q x q matrix A.
func trace2(a []float64, e, f entry, q int) float64 {
	v := 0.0
	for _, x := range e {
		for _, y := range f {
			v += a[y[1]*q+x[0]] * a[x[1]*q+y[0]]
		}
	}
	return v
}

// between adds left'E right to out, left and right being q rows of n.
func between(out, left []float64, e entry, right []float64, n int) {
	for _, p := range e {
		outer(out, 1, left[p[0]*n:(p[0]+1)*n], right[p[1]*n:(p[1]+1)*n])
	}
}

// chain adds V'E P F V to out, V being q rows of n and P q x q.
func chain(out, v []float64, e entry, p []float64, f entry, q, n int) {
	if len(e) <= 2 && len(f) <= 2 {
		for _, x := range e {
			for _, y := range f {
				outer(out, p[x[1]*q+y[0]], v[x[0]*n:(x[0]+1)*n], v[y[1]*n:(y[1]+1)*n])
			}
		}
		return
	}
	pfv := make([]float64, q*n)
	for _, y := range f {
		for i := range q {
			add(pfv[i*n:(i+1)*n], p[i*q+y[0]], v[y[1]*n:(y[1]+1)*n])
		}
	}
	between(out, v, e, pfv, n)
}

// outer adds w times u v' to out.
func outer(out []float64, w float64, u, v []float64) {
	n := len(v)
	for i, x := range u {
		if x != 0 {
			add(out[i*n:(i+1)*n], w*x, v)
		}
	}
}

// absorbed takes in the first l columns as random effects with the relative
// covariance S = Lambda Lambda' (l x l), of which the parameters given are
// estimated.
//
// With M = S(I + A S)^-1, A the block of the columns taken in, the inverse of
// the new covariance is H^-1 - H^-1 L M L'H^-1, L those columns, so that H^-1 N
// becomes H^-1 N J for J = I with M times the first rows of A taken off.
func (m *moments) absorbed(l int, lambda [][]float64, params []entry) *moments {
	n, rest, old := m.n, m.n-l, len(m.t)
	out := newMoments(rest, old+len(params))
	mm := shrunk(m.a, n, l, lambda)
	ma := make([]float64, l*n) // M times the first rows of A
	times(ma, mm, m.a, l, l, n)
	// turned is J'X J; its first rows are needed for the new parameters.
	turned := func(x []float64) []float64 {
		y := append([]float64(nil), x...)
		for i := range l { // X J
			for a := range n {
				subtract(y[a*n:(a+1)*n], x[a*n+i], ma[i*n:(i+1)*n])
			}
		}
		z := append([]float64(nil), y...)
		for i := range l { // J'(X J)
			outer(z, -1, ma[i*n:(i+1)*n], y[i*n:(i+1)*n])
		}
		return z
	}
	a := append([]float64(nil), m.a...)
	for i := range l {
		outer(a, -1, m.a[i*n:(i+1)*n], ma[i*n:(i+1)*n])
	}
	t := make([][]float64, old)
	for r := range t {
		t[r] = turned(m.t[r])
		keep(out.t[r], t[r], n, l)
	}
	keep(out.a, a, n, l)
	mt := make([]float64, l*n)
	for r := range old {
		for s := range r + 1 {
			// T_r[:, first] M T_s[first, :]
			x := append([]float64(nil), m.q[r][s]...)
			times(mt, mm, m.t[s], l, l, n)
			for i := range l {
				outer(x, -1, m.t[r][i*n:(i+1)*n], mt[i*n:(i+1)*n])
			}
			keep(out.q[r][s], turned(x), n, l)
			k := m.k[r][s]
			for i := range l {
				for j := range l {
					k -= 2 * mm[i*l+j] * m.q[r][s][j*n+i]
				}
			}
			k += tracedTwice(mm, m.t[r], m.t[s], l, n)
			out.k[r][s], out.k[s][r] = k, k
		}
	}
	first := lead(a, n, l)
	rows := make([]float64, l*rest) // A' of the first rows and the rest
	for i := range l {
		copy(rows[i*rest:], a[i*n+l:(i+1)*n])
	}
	for x, e := range params {
		r := old + x
		between(out.t[r], rows, e, rows, rest)
		for s := range old {
			across := make([]float64, l*rest)
			for i := range l {
				copy(across[i*rest:], t[s][i*n+l:(i+1)*n])
			}
			between(out.q[r][s], rows, e, across, rest)
			k := e.trace(lead(t[s], n, l), l)
			out.k[r][s], out.k[s][r] = k, k
		}
		for y, f := range params[:x+1] {
			chain(out.q[r][old+y], rows, e, first, f, l, rest)
			k := trace2(first, e, f, l)
			out.k[r][old+y], out.k[old+y][r] = k, k
		}
	}
	return out
}

// keep copies all but the first l rows and columns of an n x n matrix.
func keep(to, from []float64, n, l int) {
	for i := l; i < n; i++ {
		copy(to[(i-l)*(n-l):(i-l+1)*(n-l)], from[i*n+l:(i+1)*n])
	}
}

// lead is the block of the first l rows and columns.
func lead(m []float64, n, l int) []float64 {
	out := make([]float64, l*l)
	for i := range l {
		copy(out[i*l:(i+1)*l], m[i*n:i*n+l])
	}
	return out
}

// tracedTwice is tr(M X M Y) of the leading blocks of symmetric X and Y.
func tracedTwice(mm, x, y []float64, l, n int) float64 {
	v := 0.0
	mx, my := make([]float64, l*l), make([]float64, l*l)
	for i := range l {
		for k := range l {
			add(mx[i*l:(i+1)*l], mm[i*l+k], x[k*n:])
			add(my[i*l:(i+1)*l], mm[i*l+k], y[k*n:])
		}
	}
	for i := range l {
		for j := range l {
			v += mx[i*l+j] * my[j*l+i]
		}
	}
	return v
}

// shrunk is S(I + A S)^-1 for the leading block A of a. The whole of it is
// symmetric: Lambda (I + Lambda'A Lambda)^-1 Lambda' for S = Lambda Lambda'.
func shrunk(a []float64, n, l int, lambda [][]float64) []float64 {
	al := square(l) // A Lambda
	for i := range l {
		for k := range l {
			floats.AddScaled(al[i], a[i*n+k], lambda[k])
		}
	}
	inner := square(l)
	for i := range l {
		inner[i][i] = 1
		for k := range l {
			floats.AddScaled(inner[i], lambda[k][i], al[k])
		}
	}
	cholesky(inner)
	half := square(l) // rows of Lambda times the inverse factor
	out := make([]float64, l*l)
	for i := range l {
		copy(half[i], lambda[i])
		lower(inner, half[i])
	}
	for i := range l {
		for j := range l {
			out[i*l+j] = dot(half[i], half[j])
		}
	}
	return out
}
