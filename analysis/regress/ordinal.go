package regress

import (
	"errors"
	"fmt"
	"math"

	"plybook/analysis/internal/lsq"
	"plybook/analysis/stats"
)

// ErrEmptyLevel reports a level that no row has.
var ErrEmptyLevel = errors.New("a level without rows")

// OrdinalData is the data of a model of ordered levels. Rows must be complete.
type OrdinalData struct {
	Y       []int       // level of each row, from 0 up; every level up to Levels-1 must occur
	Levels  int         // at least 2
	X       [][]float64 // one slice per column, each as long as Y
	Names   []string    // one per column of X
	Terms   []int       // term of each column of X; nil: each column its own
	Unequal []bool      // columns whose coefficient differs from cut to cut; nil: none

	Weight  []float64 // counts rows; nil: 1 each; all must be above 0
	Cluster []int     // numbers the cluster of each row; nil: none
}

// OrdinalOptions are the settings of FitOrdinal.
type OrdinalOptions struct {
	Level float64 // confidence level of the intervals; 0 means 0.95
	// Robust is ModelBased, CR0 or CR1; the default is model-based, or CR1
	// where clusters are given.
	Robust        Robust
	MaxIterations int // 0 means 100
}

// OrdinalCoefficient is a coefficient, or a threshold, of a model of levels.
type OrdinalCoefficient struct {
	Coefficient
	Column int // of X; -1 for a threshold
	Cut    int // between level Cut and Cut+1; -1 for a coefficient that all cuts share
}

// Ordinal is a finished model of ordered levels.
type Ordinal struct {
	// Coef has the thresholds first, then the coefficients that all cuts share
	// in the order of X, then those of Unequal columns, cut by cut. DF is 0 for
	// the normal distribution.
	Coef  []OrdinalCoefficient
	Cov   Covariances // Model, CR0, CR1
	Used  Robust
	Level float64

	Rows               int
	Total              float64
	Count              []float64 // weighted rows of each level
	Clusters           int
	LogLik, LogLikNull float64
	AIC                float64
	LikelihoodRatio    stats.Test // of all columns
	Iterations         int
	Warnings           []stats.Warning

	model *ordinalModel
	sums  *sums
}

// FitOrdinal fits the proportional-odds model of McCullagh 1980, J R Stat Soc
// B 42:109: the log odds of a level above cut k are b'x less the threshold of
// the cut, the same b for all cuts, but for Unequal columns (partial
// proportional odds: Peterson & Harrell 1990, Appl Stat 39:205). The
// likelihood is concave, and is climbed by Newton's method; errors are of the
// observed information. Unusable data give *SingularError, *SeparationError,
// ErrEmptyLevel, ErrTooFewRows, ErrOneCluster, ErrInput, stats.ErrNoRows or
// stats.ErrConvergence.
func FitOrdinal(d OrdinalData, o OrdinalOptions) (*Ordinal, error) {
	m, err := fitOrdinal(d, o)
	if err != nil {
		return nil, fmt.Errorf("ordinal model: %w", err)
	}
	return m, nil
}

func fitOrdinal(d OrdinalData, o OrdinalOptions) (*Ordinal, error) {
	g, err := newOrdinalModel(d, &o)
	if err != nil {
		return nil, err
	}
	m := &Ordinal{Used: o.Robust, Level: o.Level, Rows: len(d.Y), Total: g.total, Count: g.count, Clusters: g.clusters, model: g}
	start := g.start()
	m.LogLikNull = g.likelihood(start).loglik
	at, err := g.climb(start, &m.Iterations)
	if err != nil {
		return nil, err
	}
	m.LogLik = at.loglik
	m.AIC = -2*m.LogLik + 2*float64(g.p)
	if k := float64(g.p - g.cuts); k > 0 {
		stat := math.Max(0, 2*(m.LogLik-m.LogLikNull))
		m.LikelihoodRatio = stats.Test{Name: "likelihood-ratio test", Statistic: stat, DF: k, P: stats.ChiSquareP(stat, k)}
	}
	return m, m.inference(at)
}

func newOrdinalModel(d OrdinalData, o *OrdinalOptions) (*ordinalModel, error) {
	n := len(d.Y)
	if o.Level == 0 {
		o.Level = 0.95
	}
	switch o.Robust {
	case RobustDefault:
		o.Robust = ModelBased
		if d.Cluster != nil {
			o.Robust = CR1
		}
	case ModelBased, CR0, CR1:
	default:
		return nil, fmt.Errorf("covariance %v is not one of this model: %w", o.Robust, ErrInput)
	}
	switch {
	case !(o.Level > 0 && o.Level < 1):
		return nil, fmt.Errorf("confidence level %g: %w", o.Level, ErrInput)
	case o.Robust >= CR0 && d.Cluster == nil:
		return nil, fmt.Errorf("%v: %w", o.Robust, ErrNoClusters)
	case n == 0:
		return nil, stats.ErrNoRows
	case d.Levels < 2 || d.Levels > n+1:
		return nil, fmt.Errorf("%d levels of %d rows: %w", d.Levels, n, ErrInput)
	case len(d.Names) != len(d.X) || d.Terms != nil && len(d.Terms) != len(d.X) || d.Unequal != nil && len(d.Unequal) != len(d.X):
		return nil, fmt.Errorf("%d columns, %d names, %d terms: %w", len(d.X), len(d.Names), len(d.Terms), ErrInput)
	case d.Weight != nil && len(d.Weight) != n || d.Cluster != nil && len(d.Cluster) != n:
		return nil, fmt.Errorf("weights or clusters for %d rows: %w", n, ErrInput)
	}
	g := &ordinalModel{data: d, cuts: d.Levels - 1, most: o.MaxIterations, count: make([]float64, d.Levels)}
	if g.most == 0 {
		g.most = 100
	}
	for i, y := range d.Y {
		w := 1.0
		if d.Weight != nil {
			w = d.Weight[i]
		}
		if y < 0 || y >= d.Levels || !(w > 0) || math.IsInf(w, 1) {
			return nil, fmt.Errorf("row %d: level %d, weight %g: %w", i, y, w, ErrInput)
		}
		g.w = append(g.w, w)
		g.total += w
		g.count[y] += w
	}
	for k, c := range g.count {
		if c == 0 {
			return nil, fmt.Errorf("level %d: %w", k, ErrEmptyLevel)
		}
	}
	g.lay()
	if n < g.p {
		return nil, fmt.Errorf("%d rows for %d coefficients: %w", n, g.p, ErrTooFewRows)
	}
	if d.Cluster != nil {
		g.number()
		if g.clusters == 1 {
			return nil, ErrOneCluster
		}
	}
	if len(d.X) > 0 {
		if _, err := lsq.New(d.X, d.Names, n, true, g.w); err != nil {
			return nil, err
		}
	}
	g.scaleColumns()
	return g, nil
}

// number gives the clusters numbers from 0 in order of appearance.
func (g *ordinalModel) number() {
	seen := map[int]int{}
	for _, c := range g.data.Cluster {
		k, ok := seen[c]
		if !ok {
			k = len(seen)
			seen[c] = k
		}
		g.cluster = append(g.cluster, k)
	}
	g.clusters = len(seen)
}

// inference fills Cov, Coef and what sums of coefficients need.
func (m *Ordinal) inference(at *glmPoint) error {
	g := m.model
	identity := square(g.p)
	for j := range identity {
		identity[j][j] = 1
	}
	s := &sums{coef: g.unscaled(at.beta), l: g.unscaledRoot(at.root), middle: identity, used: m.Used, level: m.Level, clusters: g.clusters, tiny: 1e-24}
	m.sums = s
	m.Cov.Model = s.covariance(identity)
	if m.Used >= CR0 {
		cr0 := g.scores(at)
		c := float64(g.clusters)
		cr1 := scaled(cr0, c/(c-1))
		m.Cov.CR0, m.Cov.CR1 = s.covariance(cr0), s.covariance(cr1)
		s.middle = map[Robust][][]float64{CR0: cr0, CR1: cr1}[m.Used]
		if g.clusters < 40 {
			m.Warnings = append(m.Warnings, stats.Warning{Code: "few-clusters", Text: fmt.Sprintf("Only %d clusters: their differences, on which the errors rest, are known roughly, and are mostly taken too small.", g.clusters)})
		}
	}
	for j := range g.p {
		c := make([]float64, g.p)
		c[j] = 1
		e, err := s.contrast(c)
		if err != nil {
			return err
		}
		row := OrdinalCoefficient{Column: g.column[j], Cut: g.cut[j], Coefficient: Coefficient{Name: "threshold", Term: -1, Estimate: e.Estimate, Tested: e.Tested,
			ModelSE: math.Sqrt(m.Cov.Model[j][j]), SE: e.SE, DF: e.DF, T: e.T, P: e.P, Low: e.Low, High: e.High}}
		if k := row.Column; k >= 0 {
			row.Name, row.Term = g.data.Names[k], k
			if g.data.Terms != nil {
				row.Term = g.data.Terms[k]
			}
		}
		m.Coef = append(m.Coef, row)
	}
	return nil
}

// Contrast returns the sum of c times the coefficients, c in the order of
// Coef, with the covariance used.
func (m *Ordinal) Contrast(c []float64) (Contrast, error) { return m.sums.contrast(c) }

// Wald tests that all the weighted sums of coefficients in the rows of c are
// 0; see GLM.Wald.
func (m *Ordinal) Wald(c [][]float64) (FTest, error) { return m.sums.wald(c) }

// At is where in Coef the coefficient of a column stands: of a cut, or -1 for
// that which all cuts share.
func (m *Ordinal) At(column, cut int) int {
	for j := range m.model.column {
		if m.model.column[j] == column && m.model.cut[j] == cut {
			return j
		}
	}
	return -1
}

// OddsTest is a test that the coefficients of a term are the same at every
// cut: a chi-square where DF2 is 0, else F.
type OddsTest struct {
	Term int // number of the term; -1: all columns together
	FTest
	Tested bool // false where the model with a coefficient for each cut cannot be fitted
}

// Proportional tests term by term, and of all columns together, whether the
// coefficients are the same at every cut: likelihood-ratio tests against the
// model that lets them differ; with clusters Wald tests of that model, on their
// errors. A model of two levels has nothing to test.
func (m *Ordinal) Proportional() ([]OddsTest, error) {
	d := m.model.data
	if d.Levels < 3 || len(d.X) == 0 {
		return nil, nil
	}
	var order []int
	of := map[int][]int{}
	for j := range d.X {
		t := j
		if d.Terms != nil {
			t = d.Terms[j]
		}
		if len(of[t]) == 0 {
			order = append(order, t)
		}
		of[t] = append(of[t], j)
	}
	fixed := d.Unequal
	one := func(term int, columns []int) (OddsTest, error) {
		out := OddsTest{Term: term}
		e := d
		e.Unequal = make([]bool, len(d.X))
		copy(e.Unequal, fixed)
		more := 0
		for _, j := range columns {
			if !e.Unequal[j] {
				more++
			}
			e.Unequal[j] = true
		}
		if more == 0 { // already let differ: against the model that holds it equal
			for _, j := range columns {
				e.Unequal[j] = false
			}
			more = -len(columns)
		}
		if more < 0 && d.Cluster != nil { // the Wald test is of the model as it is
			for _, j := range columns {
				e.Unequal[j] = true
			}
		}
		f, err := FitOrdinal(e, OrdinalOptions{Level: m.Level, Robust: m.Used})
		var sep *SeparationError
		switch {
		case errors.As(err, &sep) || errors.Is(err, stats.ErrConvergence) || errors.Is(err, ErrTooFewRows) || errors.Is(err, stats.ErrSingular):
			return out, nil
		case err != nil:
			return out, err
		}
		if d.Cluster != nil {
			if out.FTest, err = f.Wald(f.differences(columns)); err != nil {
				return OddsTest{Term: term}, nil
			}
			out.Tested = true
			return out, nil
		}
		stat, df := math.Abs(2*(f.LogLik-m.LogLik)), math.Abs(float64(more))*float64(d.Levels-2)
		out.FTest, out.Tested = FTest{Name: "likelihood-ratio test", Statistic: stat, DF1: df, P: stats.ChiSquareP(stat, df)}, true
		return out, nil
	}
	var out []OddsTest
	for _, t := range order {
		x, err := one(t, of[t])
		if err != nil {
			return nil, err
		}
		out = append(out, x)
	}
	if fixed == nil {
		var all []int
		for j := range d.X {
			all = append(all, j)
		}
		x, err := one(-1, all)
		if err != nil {
			return nil, err
		}
		out = append(out, x)
	}
	return out, nil
}

// differences are the hypotheses that coefficients of columns are at each
// further cut what they are at the first.
func (m *Ordinal) differences(columns []int) [][]float64 {
	var out [][]float64
	for _, j := range columns {
		for k := 1; k < m.model.cuts; k++ {
			r := make([]float64, m.model.p)
			r[m.At(j, 0)], r[m.At(j, k)] = -1, 1
			out = append(out, r)
		}
	}
	return out
}
