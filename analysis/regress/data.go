package regress

import (
	"errors"
	"fmt"
	"math"

	"plybook/analysis/internal/lsq"
	"plybook/analysis/stats"
)

// Errors of FitLinear beside those of package stats. Test with errors.Is.
var (
	// ErrInput reports lengths that differ, values that are not finite,
	// weights below zero or a confidence level outside 0 to 1.
	ErrInput = lsq.ErrInput
	// ErrTooFewRows reports that there are not more rows than coefficients.
	ErrTooFewRows = errors.New("not more rows than coefficients")
	// ErrOneCluster reports that all rows belong to one cluster, so that
	// nothing shows how clusters differ.
	ErrOneCluster = errors.New("all rows belong to one cluster")
	// ErrConstantResponse reports a response with one value only.
	ErrConstantResponse = errors.New("the response has the same value in every row")
	// ErrNoClusters reports that a clustered covariance was asked for
	// without clusters.
	ErrNoClusters = errors.New("a clustered covariance needs clusters")
)

// SingularError names the columns that repeat one another or never vary. It
// wraps stats.ErrSingular; reach it with errors.As.
type SingularError = lsq.SingularError

// LinearData is the data of a linear model. Rows must be complete.
type LinearData struct {
	Y         []float64
	X         [][]float64 // one slice per column, each as long as Y
	Names     []string    // one per column of X
	Terms     []int       // term of each column of X, so that a factor is one term; nil: each column its own
	TermNames []string    // names of the terms, by number; nil: the columns' names
	Intercept bool        // adds a constant as the first coefficient, named "intercept"

	// Weight counts rows: a row of weight 2 is two rows in estimate,
	// residual degrees of freedom and every covariance. Rows of weight 0 are
	// left out of the fit but get a fitted value. Nil: 1 each. For sampling
	// weights, give every row a cluster of its own and ask for CR0.
	Weight []float64
	// Cluster numbers the cluster of each row; any numbers will do. Nil: none.
	Cluster []int
	// Order places the rows in time, for NeweyWest. Rows of one moment stand
	// in the order given. Nil: none.
	Order []float64
}

// Robust chooses the covariance from which errors, intervals and tests are
// made.
type Robust int

// The covariances. RobustDefault is HC3, or CR2 where clusters are given.
const (
	RobustDefault Robust = iota
	ModelBased
	HC0
	HC1
	HC2
	HC3
	NeweyWest // neighbours in Order may lean on one another
	CR0
	CR1 // CR0 times G/(G-1)
	CR2
)

var robustNames = [...]string{"default", "model-based", "HC0", "HC1", "HC2", "HC3", "Newey-West", "CR0", "CR1", "CR2"}

func (r Robust) String() string {
	if r < 0 || int(r) >= len(robustNames) {
		return fmt.Sprintf("Robust(%d)", int(r))
	}
	return robustNames[r]
}

// LinearOptions are the settings of FitLinear.
type LinearOptions struct {
	Level  float64 // confidence level of the intervals; 0 means 0.95
	Robust Robust
}

// problem is the data made ready: rows of weight 0 out, clusters numbered
// from 0 in order of appearance.
type problem struct {
	data    LinearData
	names   []string // with the intercept
	terms   []int    // with the intercept as -1
	y       []float64
	x       [][]float64
	weight  []float64 // nil for none
	cluster []int     // nil for none
	groups  int
	used    []int // rows of the data used
	total   float64
}

func prepare(d LinearData, o *LinearOptions) (*problem, error) {
	n := len(d.Y)
	if o.Level == 0 {
		o.Level = 0.95
	}
	switch {
	case !(o.Level > 0 && o.Level < 1):
		return nil, fmt.Errorf("confidence level %g: %w", o.Level, ErrInput)
	case o.Robust < RobustDefault || o.Robust > CR2:
		return nil, fmt.Errorf("covariance %v is not known: %w", o.Robust, ErrInput)
	case o.Robust >= CR0 && d.Cluster == nil:
		return nil, fmt.Errorf("%v: %w", o.Robust, ErrNoClusters)
	case o.Robust == NeweyWest && (len(d.Order) != n || d.Weight != nil || d.Cluster != nil):
		return nil, fmt.Errorf("%v needs rows in order, without weights or clusters: %w", o.Robust, ErrInput)
	case n == 0:
		return nil, stats.ErrNoRows
	case len(d.Names) != len(d.X):
		return nil, fmt.Errorf("%d names for %d columns: %w", len(d.Names), len(d.X), ErrInput)
	case len(d.X) == 0 && !d.Intercept:
		return nil, fmt.Errorf("no column and no intercept: %w", ErrInput)
	case d.Terms != nil && len(d.Terms) != len(d.X):
		return nil, fmt.Errorf("%d terms for %d columns: %w", len(d.Terms), len(d.X), ErrInput)
	case d.Weight != nil && len(d.Weight) != n:
		return nil, fmt.Errorf("%d weights for %d rows: %w", len(d.Weight), n, ErrInput)
	case d.Cluster != nil && len(d.Cluster) != n:
		return nil, fmt.Errorf("%d cluster numbers for %d rows: %w", len(d.Cluster), n, ErrInput)
	}
	for j, c := range d.X {
		if len(c) != n {
			return nil, fmt.Errorf("column %s has %d rows, not %d: %w", d.Names[j], len(c), n, ErrInput)
		}
	}
	for j, t := range d.Terms {
		if t < 0 || d.TermNames != nil && t >= len(d.TermNames) {
			return nil, fmt.Errorf("column %s: term %d is out of range: %w", d.Names[j], t, ErrInput)
		}
	}
	if d.Terms == nil && d.TermNames != nil && len(d.TermNames) != len(d.X) {
		return nil, fmt.Errorf("%d term names for %d columns: %w", len(d.TermNames), len(d.X), ErrInput)
	}
	if o.Robust == RobustDefault {
		o.Robust = HC3
		if d.Cluster != nil {
			o.Robust = CR2
		}
	}
	p := &problem{data: d}
	if d.Intercept {
		p.names, p.terms = []string{"intercept"}, []int{-1}
	}
	p.names = append(p.names, d.Names...)
	for j := range d.X {
		t := j
		if d.Terms != nil {
			t = d.Terms[j]
		}
		p.terms = append(p.terms, t)
	}
	return p, p.rows()
}

// rows takes out the rows of weight 0 and numbers the clusters.
func (p *problem) rows() error {
	d := p.data
	for i := range d.Y {
		w := 1.0
		if d.Weight != nil {
			w = d.Weight[i]
		}
		if !(w >= 0) || math.IsInf(w, 1) {
			return fmt.Errorf("row %d: the weight is not a number from 0 up: %w", i, ErrInput)
		}
		if w > 0 {
			p.used = append(p.used, i)
			p.total += w
		}
	}
	if len(p.used) == 0 {
		return fmt.Errorf("every row has weight 0: %w", stats.ErrNoRows)
	}
	p.y, p.x, p.weight = d.Y, d.X, d.Weight
	if len(p.used) < len(d.Y) {
		p.y, p.weight = pick(d.Y, p.used), pick(d.Weight, p.used)
		p.x = make([][]float64, len(d.X))
		for j, c := range d.X {
			p.x[j] = pick(c, p.used)
		}
	}
	if d.Cluster != nil {
		number := map[int]int{}
		p.cluster = make([]int, len(p.used))
		for k, i := range p.used {
			g, ok := number[d.Cluster[i]]
			if !ok {
				g = len(number)
				number[d.Cluster[i]] = g
			}
			p.cluster[k] = g
		}
		p.groups = len(number)
		if p.groups == 1 {
			return ErrOneCluster
		}
	}
	k := len(p.names)
	if len(p.used) < k || p.total <= float64(k) {
		return fmt.Errorf("%d rows for %d coefficients: %w", len(p.used), k, ErrTooFewRows)
	}
	lo, hi := p.y[0], p.y[0]
	for _, v := range p.y {
		lo, hi = math.Min(lo, v), math.Max(hi, v)
	}
	if lo == hi {
		return fmt.Errorf("it is %g: %w", lo, ErrConstantResponse)
	}
	return nil
}

func pick(v []float64, rows []int) []float64 {
	out := make([]float64, len(rows))
	for k, i := range rows {
		out[k] = v[i]
	}
	return out
}
