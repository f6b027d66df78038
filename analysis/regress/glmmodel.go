package regress

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"

	"plybook/analysis/internal/lsq"
	"plybook/analysis/stats"
)

// mostCount is the largest count that a model takes.
const mostCount = 1e6

// glmModel is the data made ready: rows alike in columns and offset stand
// together as a pattern, and columns are centred and scaled.
type glmModel struct {
	family   Family
	data     GLMData
	firth    bool
	most     int // iterations
	p        int // coefficients
	theta    float64
	total    float64 // of the weights
	sum      float64 // of the outcome
	exposure float64
	constant float64   // of the log likelihood: what no coefficient changes
	at       []float64 // at[y]: weight of the rows whose count is y; nil of Logistic
	above    []float64 // above[j]: weight of the rows whose count is over j
	cluster  []int     // by row; nil for none
	clusters int

	size          int         // patterns
	of            []int32     // pattern of each row
	n, s, q       []float64   // by pattern: sums of the weights, of the outcome, of its square
	z             [][]float64 // by column: scaled values of the patterns
	offset        []float64   // by pattern
	centre, scale []float64   // of the columns
	span          []float64   // of the scaled columns
}

func newGLMModel(family Family, d GLMData, o *GLMOptions) (*glmModel, error) {
	g := &glmModel{family: family, data: d, firth: o.Firth, most: o.MaxIterations, p: len(d.X) + 1, theta: math.Inf(1)}
	if err := g.check(o); err != nil {
		return nil, err
	}
	if err := g.outcome(); err != nil {
		return nil, err
	}
	if d.Cluster != nil {
		g.number()
		if g.clusters == 1 {
			return nil, ErrOneCluster
		}
	}
	if g.total < float64(g.p) || len(d.Y) < g.p {
		return nil, fmt.Errorf("%d rows for %d coefficients: %w", len(d.Y), g.p, ErrTooFewRows)
	}
	if err := g.collapse(); err != nil {
		return nil, err
	}
	return g, g.scaleColumns()
}

func (g *glmModel) check(o *GLMOptions) error {
	d, n := g.data, len(g.data.Y)
	if o.Level == 0 {
		o.Level = 0.95
	}
	if g.most == 0 {
		g.most = 100
		if g.firth || g.family == NegativeBinomial {
			g.most = 1000 // their steps are not Newton's, so that they shrink by a share each time
		}
	}
	switch o.Robust {
	case RobustDefault:
		o.Robust = ModelBased
		if d.Cluster != nil && !o.Firth {
			o.Robust = CR2
		}
	case ModelBased, CR0, CR1, CR2:
	default:
		return fmt.Errorf("covariance %v is not one of this model: %w", o.Robust, ErrInput)
	}
	switch {
	case g.family < Logistic || g.family > NegativeBinomial:
		return fmt.Errorf("%v is not known: %w", g.family, ErrInput)
	case g.firth && g.family == NegativeBinomial:
		return ErrPenalty
	case g.firth && o.Robust != ModelBased:
		return fmt.Errorf("%v errors of penalised estimates: %w", o.Robust, ErrInput)
	case !(o.Level > 0 && o.Level < 1):
		return fmt.Errorf("confidence level %g: %w", o.Level, ErrInput)
	case o.Robust >= CR0 && d.Cluster == nil:
		return fmt.Errorf("%v: %w", o.Robust, ErrNoClusters)
	case n == 0:
		return stats.ErrNoRows
	case n > math.MaxInt32:
		return fmt.Errorf("%d rows: %w", n, ErrInput)
	case len(d.Names) != len(d.X):
		return fmt.Errorf("%d names for %d columns: %w", len(d.Names), len(d.X), ErrInput)
	case d.Terms != nil && len(d.Terms) != len(d.X):
		return fmt.Errorf("%d terms for %d columns: %w", len(d.Terms), len(d.X), ErrInput)
	case d.Weight != nil && len(d.Weight) != n:
		return fmt.Errorf("%d weights for %d rows: %w", len(d.Weight), n, ErrInput)
	case d.Offset != nil && len(d.Offset) != n:
		return fmt.Errorf("%d offsets for %d rows: %w", len(d.Offset), n, ErrInput)
	case d.Cluster != nil && len(d.Cluster) != n:
		return fmt.Errorf("%d cluster numbers for %d rows: %w", len(d.Cluster), n, ErrInput)
	}
	if err := g.checkCorrelation(o); err != nil {
		return err
	}
	for j, c := range d.X {
		if len(c) != n {
			return fmt.Errorf("column %s has %d rows, not %d: %w", d.Names[j], len(c), n, ErrInput)
		}
	}
	for i, v := range d.Offset {
		if !(math.Abs(v) < 300) {
			return fmt.Errorf("row %d: the offset is not a number within 300: %w", i, ErrInput)
		}
	}
	return nil
}

func (g *glmModel) weight(i int) float64 {
	if g.data.Weight == nil {
		return 1
	}
	return g.data.Weight[i]
}

// outcome checks the outcome and gathers what the likelihood needs of it
// beside the sums by pattern.
func (g *glmModel) outcome() error {
	largest := 0.0
	for i, y := range g.data.Y {
		w := g.weight(i)
		if !(w > 0) || math.IsInf(w, 1) {
			return fmt.Errorf("row %d: the weight is not a number above 0: %w", i, ErrInput)
		}
		switch {
		case g.family == Logistic && y != 0 && y != 1:
			return fmt.Errorf("row %d: the outcome %g is not 0 or 1: %w", i, y, ErrInput)
		case !(y >= 0 && y <= mostCount) || y != math.Trunc(y):
			return fmt.Errorf("row %d: %g is not a count up to %g: %w", i, y, mostCount, ErrInput)
		}
		g.total += w
		g.sum += w * y
		largest = math.Max(largest, y)
	}
	if g.sum == 0 || g.family == Logistic && g.sum == g.total {
		return fmt.Errorf("it is %g: %w", g.data.Y[0], ErrConstantResponse)
	}
	if g.family == Logistic {
		return nil
	}
	g.at = make([]float64, int(largest)+1)
	for i, y := range g.data.Y {
		g.at[int(y)] += g.weight(i)
	}
	for y, w := range g.at {
		if w > 0 {
			lg, _ := math.Lgamma(float64(y) + 1)
			g.constant -= w * lg
		}
	}
	g.above = make([]float64, len(g.at)-1)
	left := 0.0
	for j := len(g.above) - 1; j >= 0; j-- {
		left += g.at[j+1]
		g.above[j] = left
	}
	return nil
}

// number gives the clusters numbers from 0 in order of appearance.
func (g *glmModel) number() {
	seen := map[int]int{}
	g.cluster = make([]int, len(g.data.Cluster))
	for i, c := range g.data.Cluster {
		k, ok := seen[c]
		if !ok {
			k = len(seen)
			seen[c] = k
		}
		g.cluster[i] = k
	}
	g.clusters = len(seen)
}

// scaleColumns centres and scales the columns of the patterns, and refuses
// those that never vary or repeat others.
func (g *glmModel) scaleColumns() error {
	k := len(g.z)
	g.centre, g.scale, g.span = make([]float64, k), make([]float64, k), make([]float64, k)
	constant := make([]bool, k)
	both(k, func(_, lo, hi int) {
		for j := lo; j < hi; j++ {
			constant[j] = g.scaleColumn(j)
		}
	})
	bad := &SingularError{}
	for j, c := range constant {
		if c {
			bad.Constant = append(bad.Constant, g.data.Names[j])
		}
	}
	for i := range g.offset {
		g.exposure += g.n[i] * math.Exp(g.offset[i])
	}
	if len(bad.Constant) > 0 {
		return bad
	}
	return g.repeated()
}

// scaleColumn does so to one column, and says whether it never varies.
func (g *glmModel) scaleColumn(j int) (constant bool) {
	c := g.z[j]
	lo, hi, first, sum := c[0], c[0], c[0], 0.0
	for i, v := range c {
		lo, hi = min(lo, v), max(hi, v)
		sum += g.n[i] * (v - first)
	}
	m := first + sum/g.total
	sum = 0 // once more about what the first pass found, so that a large common part costs no digits
	for i, v := range c {
		c[i] = v - m
		sum += g.n[i] * c[i]
	}
	sum /= g.total
	ss := 0.0
	for i := range c {
		c[i] -= sum
		ss += g.n[i] * c[i] * c[i]
	}
	if hi-lo <= 1.6e-15*math.Max(math.Abs(lo), math.Abs(hi)) || !(ss > 0) {
		return true
	}
	g.centre[j], g.scale[j] = m+sum, math.Sqrt(ss/g.total)
	floats.Scale(1/g.scale[j], c)
	g.span[j] = (hi - lo) / g.scale[j]
	return false
}

// repeated refuses columns that others give. A sound correlation matrix
// spares the careful look at every row.
func (g *glmModel) repeated() error {
	if g.p == 1 {
		return nil
	}
	at := &glmPoint{info: square(g.p)}
	g.products(g.n, at.info)
	if cond, ok := at.factor(); ok && cond < 1e10 {
		return nil
	}
	_, err := lsq.New(g.z, g.data.Names, g.size, true, g.n)
	return err
}

// products adds the weighted products of the columns, the constant first.
func (g *glmModel) products(w []float64, to [][]float64) {
	var part [2][][]float64
	both(g.size, func(half, lo, hi int) {
		m := square(g.p)
		buf := make([]float64, chunk)
		for ; lo < hi; lo += chunk {
			g.chunkProducts(lo, min(lo+chunk, hi), w[lo:min(lo+chunk, hi)], buf, m)
		}
		part[half] = m
	})
	for i := range to {
		for j := i; j < g.p; j++ {
			to[i][j] = part[0][i][j] + part[1][i][j]
			to[j][i] = to[i][j]
		}
	}
}

// chunkProducts adds the products of the patterns lo to hi, upper triangle.
func (g *glmModel) chunkProducts(lo, hi int, w, buf []float64, to [][]float64) {
	buf = buf[:hi-lo]
	to[0][0] += floats.Sum(w)
	for a, x := range g.z {
		x := x[lo:hi]
		for i, v := range x {
			buf[i] = w[i] * v
		}
		to[0][a+1] += floats.Sum(buf)
		row := to[a+1]
		for b := a; b < len(g.z); b++ {
			row[b+1] += floats.Dot(buf, g.z[b][lo:hi])
		}
	}
}

// unscaled turns coefficients of the scaled columns into those of the data.
func (g *glmModel) unscaled(beta []float64) []float64 {
	out := append([]float64(nil), beta...)
	for j := range g.z {
		out[j+1] /= g.scale[j]
		out[0] -= out[j+1] * g.centre[j]
	}
	return out
}

// unscaledRoot does the same to the columns of a root of the covariance.
func (g *glmModel) unscaledRoot(l [][]float64) [][]float64 {
	out := square(g.p)
	copy(out[0], l[0])
	for j := range g.z {
		copy(out[j+1], l[j+1])
		floats.Scale(1/g.scale[j], out[j+1])
		floats.AddScaled(out[0], -g.centre[j], out[j+1])
	}
	return out
}
