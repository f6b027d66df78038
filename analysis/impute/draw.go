package impute

import (
	"cmp"
	"errors"
	"math"
	"math/rand/v2"
	"slices"
	"sort"

	"gonum.org/v1/gonum/mat"
	"gonum.org/v1/gonum/stat/distuv"
)

// ErrNoModel reports a column of which no model could be fitted.
var ErrNoModel = errors.New("the other columns give no model of it")

// ridge is by how much the diagonal of the products is raised, so that
// columns that repeat one another do no harm.
const ridge = 1e-5

// fillNumber draws the missing values of a number.
func (s *filling) fillNumber(j int, x [][]float64) error {
	c, kept, p := &s.cols[j], s.kept[j], len(x)
	a, b := mat.NewSymDense(p, nil), mat.NewVecDense(p, nil)
	for k := range p {
		for l := k; l < p; l++ {
			sum := 0.0
			for _, i := range kept {
				sum += x[k][i] * x[l][i]
			}
			if k == l {
				sum *= 1 + ridge
			}
			a.SetSym(k, l, sum)
		}
		sum := 0.0
		for _, i := range kept {
			sum += x[k][i] * c.Num[i]
		}
		b.SetVec(k, sum)
	}
	var chol mat.Cholesky
	if !chol.Factorize(a) {
		return ErrNoModel
	}
	var beta mat.VecDense
	if err := chol.SolveVecTo(&beta, b); err != nil {
		return ErrNoModel
	}
	predict := func(beta *mat.VecDense, i int) float64 {
		y := 0.0
		for k := range p {
			y += beta.AtVec(k) * x[k][i]
		}
		return y
	}
	rss := 0.0
	type donor struct{ at, value float64 }
	donors := make([]donor, len(kept))
	for k, i := range kept {
		y := predict(&beta, i)
		rss += (c.Num[i] - y) * (c.Num[i] - y)
		donors[k] = donor{y, c.Num[i]}
	}
	df := float64(max(len(kept)-p, 1))
	sigma := math.Sqrt(rss / distuv.ChiSquared{K: df, Src: s.rng}.Rand())
	drawn, err := drawNormal(&chol, s.rng)
	if err != nil {
		return err
	}
	for k := range p {
		drawn.SetVec(k, beta.AtVec(k)+sigma*drawn.AtVec(k))
	}
	// Rows of one prediction stand in random order, so that none of them is
	// taken more often than the others.
	s.rng.Shuffle(len(donors), func(a, b int) { donors[a], donors[b] = donors[b], donors[a] })
	slices.SortStableFunc(donors, func(a, b donor) int { return cmp.Compare(a.at, b.at) })
	k := min(s.o.Donors, len(donors))
	for _, i := range s.gone[j] {
		y := predict(drawn, i)
		hi := sort.Search(len(donors), func(d int) bool { return donors[d].at >= y })
		lo := hi
		for hi-lo < k {
			switch {
			case lo == 0:
				hi++
			case hi == len(donors) || y-donors[lo-1].at <= donors[hi].at-y:
				lo--
			default:
				hi++
			}
		}
		c.Num[i] = donors[lo+s.rng.IntN(k)].value
	}
	return nil
}

// drawNormal is a normal draw with the inverse of a matrix as covariance.
func drawNormal(chol *mat.Cholesky, rng *rand.Rand) (*mat.VecDense, error) {
	n := chol.SymmetricDim()
	z := mat.NewVecDense(n, nil)
	for k := range n {
		z.SetVec(k, rng.NormFloat64())
	}
	var u mat.TriDense
	chol.UTo(&u)
	out := mat.NewVecDense(n, nil)
	if err := out.SolveVec(&u, z); err != nil {
		var cond mat.Condition
		if !errors.As(err, &cond) {
			return nil, ErrNoModel
		}
	}
	return out, nil
}

// fillCategory draws the missing values of a category from a multinomial
// logistic model with the first category as base.
func (s *filling) fillCategory(j int, x [][]float64) error {
	c, p := &s.cols[j], len(x)
	if c.Cats < 2 {
		for _, i := range s.gone[j] {
			c.Cat[i] = 0
		}
		return nil
	}
	m := multinomial{p: p, cats: c.Cats}
	for _, i := range s.kept[j] {
		row := make([]float64, p)
		for k := range p {
			row[k] = x[k][i]
		}
		m.add(row, c.Cat[i], 1)
	}
	// Two rows for each column and category, a deviation above and below the
	// mean, that weigh together as much as the model has columns.
	extra := float64(p) / float64(2*max(p-1, 1)*c.Cats)
	for k := 1; k < p; k++ {
		for v := range c.Cats {
			for _, side := range []float64{-1, 1} {
				row := make([]float64, p)
				row[0], row[k] = 1, side
				m.add(row, v, extra)
			}
		}
	}
	beta, chol, err := m.fit()
	if err != nil {
		return err
	}
	drawn, err := drawNormal(chol, s.rng)
	if err != nil {
		return err
	}
	for k := range beta {
		beta[k] += drawn.AtVec(k)
	}
	row, share := make([]float64, p), make([]float64, c.Cats)
	for _, i := range s.gone[j] {
		for k := range p {
			row[k] = x[k][i]
		}
		m.shares(beta, row, share)
		u := s.rng.Float64()
		v := 0
		for ; v < c.Cats-1 && u >= share[v]; v++ {
			u -= share[v]
		}
		c.Cat[i] = v
	}
	return nil
}

// multinomial is a multinomial logistic model. Its coefficients stand by
// category after the first, each with all columns.
type multinomial struct {
	p, cats int
	x       [][]float64
	y       []int
	w       []float64
}

func (m *multinomial) add(x []float64, y int, w float64) {
	m.x, m.y, m.w = append(m.x, x), append(m.y, y), append(m.w, w)
}

// shares are the probabilities of the categories at x.
func (m *multinomial) shares(beta, x, out []float64) {
	out[0] = 0
	top := 0.0
	for v := 1; v < m.cats; v++ {
		eta := 0.0
		for k, b := range beta[(v-1)*m.p : v*m.p] {
			eta += b * x[k]
		}
		out[v] = eta
		top = max(top, eta)
	}
	sum := 0.0
	for v := range out {
		out[v] = math.Exp(out[v] - top)
		sum += out[v]
	}
	for v := range out {
		out[v] /= sum
	}
}

// fit climbs to the estimate by Newton's method.
func (m *multinomial) fit() ([]float64, *mat.Cholesky, error) {
	n := m.p * (m.cats - 1)
	beta, share := make([]float64, n), make([]float64, m.cats)
	loglik := func(beta []float64) float64 {
		sum := 0.0
		for i, x := range m.x {
			m.shares(beta, x, share)
			sum += m.w[i] * math.Log(max(share[m.y[i]], 1e-300))
		}
		return sum
	}
	at := loglik(beta)
	for range 50 {
		info, score := mat.NewSymDense(n, nil), mat.NewVecDense(n, nil)
		for i, x := range m.x {
			m.shares(beta, x, share)
			for v := 1; v < m.cats; v++ {
				r := -share[v]
				if m.y[i] == v {
					r++
				}
				for k := range m.p {
					a := (v-1)*m.p + k
					score.SetVec(a, score.AtVec(a)+m.w[i]*r*x[k])
					for u := v; u < m.cats; u++ {
						h := -share[v] * share[u]
						if u == v {
							h += share[v]
						}
						from := 0
						if u == v {
							from = k
						}
						for l := from; l < m.p; l++ {
							b := (u-1)*m.p + l
							info.SetSym(a, b, info.At(a, b)+m.w[i]*h*x[k]*x[l])
						}
					}
				}
			}
		}
		for k := range n {
			info.SetSym(k, k, info.At(k, k)*(1+ridge)+1e-10)
		}
		var chol mat.Cholesky
		if !chol.Factorize(info) {
			return nil, nil, ErrNoModel
		}
		var step mat.VecDense
		if err := chol.SolveVecTo(&step, score); err != nil {
			return nil, nil, ErrNoModel
		}
		gain := mat.Dot(&step, score)
		if gain < 1e-10 {
			return beta, &chol, nil
		}
		moved := make([]float64, n)
		next := math.Inf(-1)
		for f := 1.0; f > 1e-4; f /= 2 {
			for k := range moved {
				moved[k] = beta[k] + f*step.AtVec(k)
			}
			if next = loglik(moved); next >= at {
				break
			}
		}
		if next < at {
			if gain < 1e-6 {
				return beta, &chol, nil
			}
			return nil, nil, ErrNoModel
		}
		beta, at = moved, next
	}
	return nil, nil, ErrNoModel
}
