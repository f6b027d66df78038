package regress

import (
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"
)

// full is the leverage above which a row, or a direction within a cluster,
// is taken to fix coefficients by itself.
const full = 1 - 1e-9

func square(p int) [][]float64 {
	m := make([][]float64, p)
	flat := make([]float64, p*p)
	for j := range m {
		m[j] = flat[j*p : (j+1)*p]
	}
	return m
}

// addOuter adds s v v' to m.
func addOuter(m [][]float64, s float64, v []float64) {
	for j, a := range v {
		floats.AddScaled(m[j], s*a, v)
	}
}

// leverages returns the hat values, one per row of the problem: for a row
// with a weight, the leverage of one of the rows it stands for.
func (k *kernel) leverages() []float64 {
	h := make([]float64, k.f.N)
	for _, q := range k.f.Q {
		for i, v := range q {
			h[i] += v * v
		}
	}
	if k.p.weight != nil {
		for i, w := range k.p.weight {
			h[i] /= w
		}
	}
	for i := range h {
		h[i] = math.Min(h[i], 1)
	}
	return h
}

// heteroscedastic returns the middle matrices of HC0, HC2 and HC3 in the
// coordinates of Q. Rows of leverage 1 have no residual and are returned.
func (k *kernel) heteroscedastic(h []float64) (hc0, hc2, hc3 [][]float64, fixed []int) {
	p := k.f.P
	hc0, hc2, hc3 = square(p), square(p), square(p)
	q := make([]float64, p)
	for i, e := range k.residual {
		k.f.Row(i, q)
		addOuter(hc0, e*e, q)
		if h[i] > full {
			fixed = append(fixed, i)
			continue
		}
		addOuter(hc2, e*e/(1-h[i]), q)
		addOuter(hc3, e*e/((1-h[i])*(1-h[i])), q)
	}
	return hc0, hc2, hc3, fixed
}

// block is what one cluster brings to CR2, in the coordinates of Q. With B
// the rows of Q of the cluster, the adjustment (I - BB')^(-1/2) acts on the
// span of B only, where it is adjust = (I - B'B)^(-1/2); so nothing larger
// than P x P is ever formed, however large the cluster.
type block struct {
	gram   [][]float64 // B'B
	adjust [][]float64
	score  []float64 // B' sqrt(w) e
	// fixed holds the directions in which the cluster alone decides; the
	// adjustment is the generalised inverse there, that is, none (Pustejovsky
	// & Tipton 2018, section 2.2).
	fixed [][]float64
}

// blocksOf sums the rows of Q by cluster.
func (k *kernel) blocksOf() []block {
	p := k.f.P
	return blocksOf(k.p.cluster, k.p.groups, p, func(i int, q []float64) float64 {
		k.f.Row(i, q)
		if k.p.weight != nil {
			return k.residual[i] * math.Sqrt(k.p.weight[i])
		}
		return k.residual[i]
	})
}

// blocksOf sums rows by cluster. row writes row i of Q and returns the
// residual that goes with it.
func blocksOf(cluster []int, groups, p int, row func(i int, q []float64) float64) []block {
	out := make([]block, groups)
	first := make([]int, groups)
	size := make([]int, groups)
	for i, g := range cluster {
		if size[g] == 0 {
			first[g] = i
			out[g].gram, out[g].score = square(p), make([]float64, p)
		}
		size[g]++
	}
	q := make([]float64, p)
	for i, g := range cluster {
		e := row(i, q)
		addOuter(out[g].gram, 1, q)
		floats.AddScaled(out[g].score, e, q)
	}
	for g := range out {
		if size[g] == 1 {
			row(first[g], q)
			out[g].one(q)
		} else {
			out[g].many(p)
		}
	}
	return out
}

// one is the adjustment of a cluster of a single row q.
func (b *block) one(q []float64) {
	b.adjust = square(len(q))
	h := floats.Dot(q, q)
	if h > full {
		b.fixed = [][]float64{append([]float64(nil), q...)}
		for j := range q {
			b.adjust[j][j] = 1
		}
		addOuter(b.adjust, -1/h, q)
		return
	}
	for j := range q {
		b.adjust[j][j] = 1
	}
	// (1-h)^(-1/2) - 1 over h, written so that a small h costs no digits.
	r := math.Sqrt(1 - h)
	addOuter(b.adjust, 1/(r*(1+r)), q)
}

// many is the adjustment of a cluster of several rows, by the eigenvectors
// of B'B.
func (b *block) many(p int) {
	sym := mat.NewSymDense(p, nil)
	for j := range p {
		for l := j; l < p; l++ {
			sym.SetSym(j, l, b.gram[j][l])
		}
	}
	b.adjust = square(p)
	var eig mat.EigenSym
	if !eig.Factorize(sym, true) {
		// Not reached for finite input; without an adjustment CR2 is CR0.
		for j := range p {
			b.adjust[j][j] = 1
		}
		return
	}
	values := eig.Values(nil)
	var vec mat.Dense
	eig.VectorsTo(&vec)
	v := make([]float64, p)
	for m, lambda := range values {
		mat.Col(v, m, &vec)
		if lambda > full {
			b.fixed = append(b.fixed, append([]float64(nil), v...))
			continue
		}
		addOuter(b.adjust, 1/math.Sqrt(1-math.Max(lambda, 0)), v)
	}
}

// clustered returns the middle matrices of CR0 and CR2.
func clustered(blocks []block, p int) (cr0, cr2 [][]float64) {
	cr0, cr2 = square(p), square(p)
	s := make([]float64, p)
	for _, b := range blocks {
		addOuter(cr0, 1, b.score)
		times(b.adjust, b.score, s)
		addOuter(cr2, 1, s)
	}
	return cr0, cr2
}

func times(m [][]float64, v, out []float64) {
	for j := range m {
		out[j] = floats.Dot(m[j], v)
	}
}

// moments are the pieces from which degrees of freedom of CR2 are made, for
// directions a_1..a_q in the coordinates of Q: with the working model of
// independent rows, the covariance of the clusters' contributions s and t is
// diag(d_st) - Z_s Z_t', whose traces need only the sums below.
type moments struct {
	q     int
	d     [][]float64   // d[s*q+t][g]
	zz    [][]float64   // z_s . z_t of each cluster, zz[s*q+t][g]
	cross [][][]float64 // Z_s'Z_t, P x P
}

func newMoments(blocks []block, dirs [][]float64, p int) moments {
	q := len(dirs)
	m := moments{q: q, d: make([][]float64, q*q), zz: make([][]float64, q*q), cross: make([][][]float64, q*q)}
	for st := range m.d {
		m.d[st], m.zz[st], m.cross[st] = make([]float64, len(blocks)), make([]float64, len(blocks)), square(p)
	}
	w, z := make([][]float64, q), make([][]float64, q)
	for s := range dirs {
		w[s], z[s] = make([]float64, p), make([]float64, p)
	}
	for g, b := range blocks {
		for s, a := range dirs {
			times(b.adjust, a, w[s])
			times(b.gram, w[s], z[s])
		}
		for s := range dirs {
			for t := range dirs {
				st := s*q + t
				m.d[st][g] = floats.Dot(w[s], z[t])
				m.zz[st][g] = floats.Dot(z[s], z[t])
				for j, v := range z[s] {
					floats.AddScaled(m.cross[st][j], v, z[t])
				}
			}
		}
	}
	return m
}

// trace is the sum over clusters of the expected contribution of s with t.
func (m moments) trace(s, t int) float64 {
	return floats.Sum(m.d[s*m.q+t]) - floats.Sum(m.zz[s*m.q+t])
}

// product is the sum over all pairs of clusters of the products of the
// entries of the matrices of (s,t) and (u,v).
func (m moments) product(s, t, u, v int) float64 {
	st, uv := s*m.q+t, u*m.q+v
	sum := 0.0
	for g := range m.d[st] {
		sum += m.d[st][g]*m.d[uv][g] - m.d[st][g]*m.zz[uv][g] - m.d[uv][g]*m.zz[st][g]
	}
	// sum over g, h of (z_gs . z_ht)(z_gu . z_hv)
	a, b := m.cross[s*m.q+u], m.cross[t*m.q+v]
	for j := range a {
		sum += floats.Dot(a[j], b[j])
	}
	return sum
}
