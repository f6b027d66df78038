package survival

import (
	"errors"
	"fmt"
	"math"

	"plybook/analysis/stats"
)

// Ties is how events at one time are treated.
type Ties int

// The treatments of ties.
const (
	Efron    Ties = iota // Efron 1977, J Am Stat Assoc 72:557
	Breslow              // Breslow 1974, Biometrics 30:89
	Discrete             // exact partial likelihood for times that are discrete (Cox 1972, J R Stat Soc B 34:187)
)

func (t Ties) String() string {
	if t < Efron || t > Discrete {
		return fmt.Sprintf("ties %d", int(t))
	}
	return [...]string{"Efron", "Breslow", "discrete"}[t]
}

// Term is a group of columns that belong together, as the categories of one
// factor or the pieces of one spline do.
type Term struct {
	Name    string
	Columns []int
}

// CoxData holds the rows of a Cox regression, one entry per row. One person
// may have several rows, each covering (Entry, Time] with the covariates of
// that stretch.
type CoxData struct {
	Entry   []float64   // nil: all 0
	Time    []float64   // end of the row
	Event   []bool      // whether it ended with the event
	X       [][]float64 // one slice per column, each as long as Time
	Names   []string    // of the columns
	Terms   []Term      // nil: every column is a term
	Strata  []int       // rows are compared only within a stratum; nil: one
	Cluster []int       // rows of one person share a number; nil: each row on its own, no robust errors
	Weight  []float64   // above 0; nil: all 1
	Offset  []float64   // added to the linear predictor; nil: all 0

	competing []bool // rows that stay at risk after their end; nil: none
}

// CoxOptions are the settings of a Cox regression. The zero value is the
// default.
type CoxOptions struct {
	Ties Ties
	// SamplingWeights takes the weights as unequal chances of being sampled
	// rather than as numbers of equal rows: events at one time then share
	// their mean weight. Use it with Cluster, for the model-based errors
	// know nothing of sampling. It matters only for Efron's ties.
	SamplingWeights bool
	MaxIterations   int // 0: 50

	rowwise bool // make no patterns of rows
}

// Cox is a fitted Cox regression. It is never changed after the fit, and
// keeps the slices it was fitted to: they must not be changed either.
type Cox struct {
	Names []string
	Terms []Term
	Ties  Ties

	Rows     int
	Events   float64 // weight of events
	Clusters int     // 0 without clusters
	Strata   []int   // the strata, ascending

	Coef   []float64
	Var    [][]float64 // model-based covariance
	Robust [][]float64 // grouped by cluster, no small-sample factor; nil without Cluster; NaN where the scores cancel out within every cluster

	LogLikNull, LogLik float64
	AIC                float64
	LikelihoodRatio    stats.Test
	Wald               stats.Test // robust where clustered
	Score              stats.Test
	RobustScore        stats.Test // HasRobustScore says whether it could be made
	HasRobustScore     bool

	Concordance    Concordance
	HasConcordance bool // false where no pair of rows can be compared

	Iterations int
	Warnings   []stats.Warning

	model *coxModel
	beta  []float64 // coefficients of the scaled columns
}

// ErrSeparation is what errors.Is finds in a *SeparationError.
var ErrSeparation = errors.New("a coefficient has no finite estimate")

// SeparationError reports that the likelihood keeps growing as coefficients
// run away, as when nobody of a category had the event.
type SeparationError struct {
	Columns []int // indices into CoxData.X
	Names   []string
}

func (e *SeparationError) Error() string {
	return fmt.Sprintf("%v: %s", ErrSeparation, list(e.Names))
}

// Unwrap gives ErrSeparation.
func (e *SeparationError) Unwrap() error { return ErrSeparation }

// ColumnsError reports columns that cannot be estimated.
type ColumnsError struct {
	Columns  []int // indices into CoxData.X
	Names    []string
	Constant bool // the column never varies among those at risk; else the first repeats the others
	// Everywhere goes with Constant: it varies among no rows at all.
	Everywhere bool
}

func (e *ColumnsError) Error() string {
	if e.Constant && e.Everywhere {
		return fmt.Sprintf("%s never varies among the rows used", e.Names[0])
	}
	if e.Constant {
		return fmt.Sprintf("%s never varies among those at risk when an event was seen", e.Names[0])
	}
	return fmt.Sprintf("%s repeats what is in %s", e.Names[0], list(e.Names[1:]))
}

// Unwrap gives stats.ErrSingular.
func (e *ColumnsError) Unwrap() error { return stats.ErrSingular }

func list(names []string) string {
	out := ""
	for i, n := range names {
		switch {
		case i == 0:
		case i == len(names)-1:
			out += " and "
		default:
			out += ", "
		}
		out += n
	}
	return out
}

// ErrNotDiscrete reports what the exact treatment of ties does not offer.
var ErrNotDiscrete = errors.New("not available with discrete ties")

// FitCox fits proportional hazards (Cox 1972, J R Stat Soc B 34:187) by
// Newton's method. Its errors are stats.ErrNoRows, stats.ErrNoEvents,
// *RowError, *ColumnsError (stats.ErrSingular), *SeparationError
// (ErrSeparation) and stats.ErrConvergence.
//
// With clusters the robust covariance is the grouped sandwich of Lin and
// Wei 1989 (J Am Stat Assoc 84:1074); with discrete ties it is not
// available (ErrNotDiscrete).
func FitCox(d CoxData, o CoxOptions) (*Cox, error) {
	c, err := fitCox(d, o)
	if err != nil {
		return nil, fmt.Errorf("Cox regression: %w", err)
	}
	return c, nil
}

func fitCox(d CoxData, o CoxOptions) (*Cox, error) {
	if o.MaxIterations == 0 {
		o.MaxIterations = 50
	}
	m, err := newCoxModel(d, o)
	if err != nil {
		return nil, err
	}
	c, err := m.fit(o)
	if err != nil {
		return nil, err
	}
	if m.fast != nil {
		c.Concordance, c.HasConcordance = m.fast.concordance(c.Coef)
		return c, nil
	}
	compared := m.data
	if o.SamplingWeights && len(compared.Cluster) == 0 {
		compared.Cluster = order(m.n) // each row is one, whatever its weight
	}
	c.Concordance, c.HasConcordance = compare(compared, c.Predictor(), nil)
	return c, nil
}

// fit climbs to the estimate and makes all that follows from it but the
// concordance.
func (m *coxModel) fit(o CoxOptions) (*Cox, error) {
	d := m.data
	start := m.likelihood(make([]float64, m.p))
	if err := m.checkColumns(start.info); err != nil {
		return nil, err
	}
	end, beta, iterations, err := m.newton(start, o.MaxIterations)
	if err != nil {
		return nil, err
	}
	cov, ok := inverse(end.info)
	if !ok {
		return nil, fmt.Errorf("the information cannot be inverted: %w", stats.ErrConvergence)
	}
	c := &Cox{
		Names: d.Names, Terms: m.terms, Ties: o.Ties,
		Rows: m.n, Events: m.events, Strata: m.strata, Iterations: iterations,
		Coef: make([]float64, m.p), Var: m.unscaled(cov),
		LogLikNull: start.loglik, LogLik: end.loglik,
		AIC:   2*float64(m.p) - 2*end.loglik,
		model: m, beta: beta,
	}
	for j, b := range beta {
		c.Coef[j] = b / m.scale[j]
	}
	df := float64(m.p)
	c.LikelihoodRatio = chiSquare("likelihood-ratio test", math.Max(0, 2*(end.loglik-start.loglik)), df)
	x, ok := quadratic(start.info, start.score)
	if !ok {
		return nil, fmt.Errorf("score test: %w", stats.ErrSingular)
	}
	c.Score = chiSquare("score test", x, df)
	wald := c.Var
	if d.Cluster != nil {
		if err := c.addRobust(start, cov); err != nil {
			return nil, err
		}
		wald = c.Robust
	}
	if x, ok = quadratic(wald, c.Coef); !ok || d.Cluster != nil && c.Clusters <= m.p {
		// Fewer clusters than columns: no joint test on the robust scale.
		c.Warnings = append(c.Warnings, stats.Warning{Code: "few-clusters",
			Text: "There are too few clusters for a joint test that allows for them; the joint Wald test ignores clustering."})
		if x, ok = quadratic(c.Var, c.Coef); !ok {
			return nil, fmt.Errorf("testing all columns: %w", stats.ErrSingular)
		}
	}
	c.Wald = chiSquare("Wald test", x, df)
	return c, nil
}

func chiSquare(name string, x, df float64) stats.Test {
	return stats.Test{Name: name, Statistic: x, DF: df, P: stats.ChiSquareP(x, df)}
}

// Covariance is the covariance to use for intervals: robust where clustered.
func (c *Cox) Covariance() [][]float64 {
	if c.Robust != nil {
		return c.Robust
	}
	return c.Var
}

// StdErr is the model-based standard error of each coefficient.
func (c *Cox) StdErr() []float64 { return rootDiagonal(c.Var) }

// RobustStdErr is the robust standard error of each coefficient; nil without
// clusters.
func (c *Cox) RobustStdErr() []float64 {
	if c.Robust == nil {
		return nil
	}
	return rootDiagonal(c.Robust)
}

func rootDiagonal(v [][]float64) []float64 {
	out := make([]float64, len(v))
	for i := range v {
		out[i] = math.Sqrt(v[i][i])
	}
	return out
}

// WaldTest tests that the coefficients of the columns given are all 0, on
// the robust scale where clustered. It serves for a factor as a whole or for
// the nonlinear part of a spline.
func (c *Cox) WaldTest(name string, columns []int) (stats.Test, error) {
	v, u := square(len(columns)), make([]float64, len(columns))
	all := c.Covariance()
	for a, i := range columns {
		if i < 0 || i >= len(c.Coef) {
			return stats.Test{}, fmt.Errorf("testing %s: there is no column %d", name, i)
		}
		u[a] = c.Coef[i]
		for b, j := range columns {
			if j >= 0 && j < len(c.Coef) {
				v[a][b] = all[i][j]
			}
		}
	}
	x, ok := quadratic(v, u)
	if !ok {
		return stats.Test{}, fmt.Errorf("testing %s: %w", name, stats.ErrSingular)
	}
	return chiSquare(name, x, float64(len(columns))), nil
}

// Predictor is the linear predictor of each row: its columns times the
// coefficients, plus its offset.
func (c *Cox) Predictor() []float64 {
	m := c.model
	lp := make([]float64, m.n)
	for i := range lp {
		if len(m.data.Offset) > 0 {
			lp[i] = m.data.Offset[i]
		}
		for j, x := range m.data.X {
			lp[i] += c.Coef[j] * x[i]
		}
	}
	return lp
}

// Contrast is the sum of the coefficients times by, and its standard error,
// robust where clustered. by has one number per column.
func (c *Cox) Contrast(by []float64) (estimate, stdErr float64, err error) {
	if len(by) != len(c.Coef) {
		return 0, 0, fmt.Errorf("contrast of %d numbers, but there are %d columns", len(by), len(c.Coef))
	}
	v := c.Covariance()
	sum := 0.0
	for i := range by {
		estimate += by[i] * c.Coef[i]
		for j := range by {
			sum += by[i] * v[i][j] * by[j]
		}
	}
	return estimate, math.Sqrt(math.Max(0, sum)), nil
}
