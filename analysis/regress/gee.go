package regress

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"plybook/analysis/stats"
)

// Correlation is how rows of one cluster are taken to resemble each other,
// beyond their columns.
type Correlation int

// The working correlations. Estimates hold up, and so do their errors, where
// the truth is another; the nearer it is, the surer they are.
const (
	Independent  Correlation = iota
	Exchangeable             // any two rows of a cluster alike
	Serial                   // falling by the same share from row to row in their order
)

var correlationNames = [...]string{"independent", "exchangeable", "serial"}

func (c Correlation) String() string {
	if c < 0 || int(c) >= len(correlationNames) {
		return fmt.Sprintf("Correlation(%d)", int(c))
	}
	return correlationNames[c]
}

// gee solves the generalised estimating equations of Liang & Zeger 1986,
// Biometrika 73:13, from the fit that takes rows as independent. The scale is
// the mean squared Pearson residual; the correlation a solves, over all pairs
// of rows of a cluster that stand t apart, the sum of (r r'/scale - a) = 0, or
// of t a^(t-1) (r r'/scale - a^t) = 0 (as geese of geepack: Yan & Fine 2004,
// Stat Med 23:859).
type gee struct {
	g      *glmModel
	kind   Correlation
	member [][]int // rows of each cluster, in order
	pairs  float64
	alpha  float64
	scale  float64
	bound  bool
}

// checkCorrelation refuses what does not go with a working correlation.
func (g *glmModel) checkCorrelation(o *GLMOptions) error {
	d := g.data
	switch {
	case o.Correlation == Independent:
		return nil
	case o.Correlation < Independent || o.Correlation > Serial:
		return fmt.Errorf("%v is not known: %w", o.Correlation, ErrInput)
	case d.Cluster == nil:
		return fmt.Errorf("a working correlation: %w", ErrNoClusters)
	case g.family == NegativeBinomial || g.firth || o.Profile || d.Weight != nil || o.Robust == ModelBased:
		return fmt.Errorf("a working correlation goes with no negative binomial, penalty, profile, weights or model-based errors: %w", ErrInput)
	case d.Order != nil && len(d.Order) != len(d.Y):
		return fmt.Errorf("%d places for %d rows: %w", len(d.Order), len(d.Y), ErrInput)
	}
	return nil
}

// correlate replaces the estimates by those with the working correlation.
func (m *GLM) correlate(at *glmPoint, kind Correlation) (*glmPoint, error) {
	g := m.model
	e := &gee{g: g, kind: kind, member: make([][]int, g.clusters)}
	for i, c := range g.cluster {
		e.member[c] = append(e.member[c], i)
	}
	for _, rows := range e.member {
		if g.data.Order != nil {
			slices.SortStableFunc(rows, func(a, b int) int { return cmp.Compare(g.data.Order[a], g.data.Order[b]) })
		}
		n := float64(len(rows))
		e.pairs += n * (n - 1) / 2
	}
	if e.pairs == 0 {
		return at, nil // nobody repeats
	}
	for range g.most {
		m.Iterations++
		e.moments(at.beta)
		next := e.equations(at.beta)
		if _, ok := next.factor(); !ok {
			return nil, fmt.Errorf("the equations cannot be solved: %w", stats.ErrConvergence)
		}
		step, gain := next.step()
		to := append([]float64(nil), at.beta...)
		floats.Add(to, step)
		at = &glmPoint{beta: to}
		if gain < 1e-22*(1+g.total) {
			e.moments(to)
			at = e.equations(to)
			if _, ok := at.factor(); !ok {
				return nil, fmt.Errorf("the equations cannot be solved: %w", stats.ErrConvergence)
			}
			m.Correlation, m.Alpha, m.Scale, m.gee = kind, e.alpha, e.scale, e
			if e.bound {
				m.warn("correlation-bound", "The correlation between rows came out beyond what is possible for so many, and was held at its limit: the working correlation does not suit these rows.", "")
			}
			return at, nil
		}
		if math.IsNaN(gain) {
			break
		}
	}
	return nil, fmt.Errorf("the estimating equations: %w", stats.ErrConvergence)
}

// residuals are the Pearson residuals and the roots of the working weights.
func (e *gee) residuals(beta []float64) (r, root []float64) {
	g := e.g
	eta := g.etas(beta)
	r, root = make([]float64, len(g.data.Y)), make([]float64, len(g.data.Y))
	for i, y := range g.data.Y {
		mu, w, slope := g.mean(eta[g.of[i]])
		root[i] = math.Sqrt(w)
		r[i] = (y - mu) * root[i] / slope
	}
	return r, root
}

// moments estimates the scale and the correlation at some coefficients.
func (e *gee) moments(beta []float64) {
	r, _ := e.residuals(beta)
	e.scale = 0
	for _, v := range r {
		e.scale += v * v
	}
	e.scale /= float64(len(r))
	most := 0
	for _, rows := range e.member {
		most = max(most, len(rows))
	}
	lowest := -0.98 / float64(most-1)
	if e.kind == Exchangeable {
		sum := 0.0
		for _, rows := range e.member {
			s, ss := 0.0, 0.0
			for _, i := range rows {
				s += r[i]
				ss += r[i] * r[i]
			}
			sum += (s*s - ss) / 2
		}
		e.hold(sum/e.scale/e.pairs, lowest)
		return
	}
	// Sums of products and numbers of pairs by how far apart they stand.
	apart, pairs := make([]float64, most), make([]float64, most)
	for _, rows := range e.member {
		for a := range rows {
			for b := a + 1; b < len(rows); b++ {
				apart[b-a] += r[rows[a]] * r[rows[b]] / e.scale
				pairs[b-a]++
			}
		}
	}
	f := func(a float64) float64 {
		sum := 0.0
		for t := 1; t < most; t++ {
			sum += float64(t) * math.Pow(a, float64(t-1)) * (apart[t] - pairs[t]*math.Pow(a, float64(t)))
		}
		return sum
	}
	// The sum is of the pairs next to each other at 0, and falls beyond the
	// root nearest to it.
	start := 0.0
	if pairs[1] > 0 {
		start = apart[1] / pairs[1]
	}
	lo, hi := 0.0, 0.9999
	if start < 0 {
		lo, hi = -0.9999, 0
	}
	if f(lo) <= 0 && start >= 0 || f(hi) >= 0 && start < 0 {
		e.hold(0, -0.98)
		return
	}
	if f(hi) > 0 {
		e.hold(1, -0.98)
		return
	}
	if f(lo) < 0 {
		e.hold(-1, -0.98)
		return
	}
	for range 200 {
		mid := (lo + hi) / 2
		if f(mid) > 0 {
			lo = mid
		} else {
			hi = mid
		}
	}
	e.hold((lo+hi)/2, -0.98)
}

// hold keeps the correlation within what is possible.
func (e *gee) hold(alpha, lowest float64) {
	e.alpha = math.Max(lowest, math.Min(0.98, alpha))
	e.bound = e.alpha != alpha
}

// whiten turns values of the rows of a cluster, in order, into ones that are
// uncorrelated under the working correlation.
func (e *gee) whiten(v []float64) {
	n := float64(len(v))
	if e.kind == Exchangeable {
		m := floats.Sum(v) / n
		a, b := 1/math.Sqrt(1-e.alpha), 1/math.Sqrt(1+(n-1)*e.alpha)
		for i := range v {
			v[i] = (v[i]-m)*a + m*b
		}
		return
	}
	c := 1 / math.Sqrt(1-e.alpha*e.alpha)
	for i := len(v) - 1; i > 0; i-- {
		v[i] = (v[i] - e.alpha*v[i-1]) * c
	}
}

// rows hands over the rows of the scaled columns times the root of their
// weights, and their residuals, whitened cluster by cluster.
func (e *gee) rows(beta []float64, do func(cluster int, x [][]float64, r []float64)) {
	g := e.g
	r, root := e.residuals(beta)
	for c, rows := range e.member {
		x, res := make([][]float64, g.p), make([]float64, len(rows))
		for j := range x {
			x[j] = make([]float64, len(rows))
		}
		for k, i := range rows {
			res[k] = r[i]
			x[0][k] = root[i]
			for j := range g.z {
				x[j+1][k] = root[i] * g.z[j][g.of[i]]
			}
		}
		e.whiten(res)
		for j := range x {
			e.whiten(x[j])
		}
		do(c, x, res)
	}
}

// equations are the estimating equations and their information, of scale 1.
func (e *gee) equations(beta []float64) *glmPoint {
	p := e.g.p
	at := &glmPoint{ok: true, beta: beta, score: make([]float64, p), info: square(p)}
	e.rows(beta, func(_ int, x [][]float64, r []float64) {
		for j := range p {
			at.score[j] += floats.Dot(x[j], r)
			for k := j; k < p; k++ {
				at.info[j][k] += floats.Dot(x[j], x[k])
			}
		}
	})
	for j := range p {
		for k := range j {
			at.info[j][k] = at.info[k][j]
		}
	}
	return at
}

// blocks are what the clusters bring to CR2: the working correlation takes the
// place of independence.
func (e *gee) blocks(at *glmPoint) []block {
	p := e.g.p
	out := make([]block, len(e.member))
	e.rows(at.beta, func(c int, x [][]float64, r []float64) {
		b := block{gram: square(p), score: make([]float64, p)}
		q := make([]float64, p)
		for k := range r {
			for j := range q {
				q[j] = 0
			}
			for j := range p {
				floats.AddScaled(q, x[j][k], at.root[j])
			}
			addOuter(b.gram, 1, q)
			floats.AddScaled(b.score, r[k], q)
		}
		if len(r) == 1 {
			b.one(q)
		} else {
			b.many(p)
		}
		out[c] = b
	})
	return out
}
