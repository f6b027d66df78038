package survival

import (
	"errors"
	"fmt"
	"math"

	"plybook/analysis/stats"
)

// ParametricData holds the rows of a parametric regression, one entry per
// row. The event of a row came about after Left and by Right:
//
//   - Left = Right: on that very time;
//   - Left < Right: some time in between (Left = 0: any time up to Right);
//   - Right = +Inf: not by Left, which is all that is known.
type ParametricData struct {
	Entry       []float64   // when the row came under observation; nil: all 0, nobody enters late
	Left, Right []float64   // at least Entry; see above
	X           [][]float64 // one slice per column, each as long as Left; none: only the distribution is estimated
	Names       []string    // of the columns
	Cluster     []int       // rows of one person share a number; nil: each row on its own, no robust errors
	Weight      []float64   // above 0; nil: all 1
}

// ParametricOptions are the settings of a parametric regression. The zero
// value is the default.
type ParametricOptions struct {
	Distribution Distribution
	// Zero is the time at which a life of 0, which has no logarithm, enters
	// when it ended with the event or was censored there. 0: half a unit.
	Zero          float64
	MaxIterations int // 0: 100
}

// Parametric is a fitted parametric regression
//
//	log T = Coef[0] + x1 Coef[1] + ... + Scale W
//
// with W of the Distribution: an accelerated failure time model, in which
// exp(Coef) is the ratio of times. It is never changed after the fit, and
// keeps the slices it was fitted to: they must not be changed either.
//
// Covariances are ordered as Coef, then log Scale unless the scale is fixed,
// then the shape where the distribution has one.
type Parametric struct {
	Distribution Distribution
	Names        []string // of the columns

	Rows      int
	Events    float64 // weight of rows whose event came about
	Exact     int     // rows whose event is known to the day
	Intervals int     // rows whose event lies in an interval
	Late      int     // rows that entered late
	Zeros     int     // lives of 0 that entered at Options.Zero
	Clusters  int     // 0 without clusters
	LastTime  float64 // the last time at which anything is known of a row

	Coef     []float64 // the constant first
	Scale    float64
	LogScale float64     // 0 where the scale is fixed
	Shape    float64     // q of a generalised gamma distribution, else 0
	Var      [][]float64 // model-based, from the observed information
	Robust   [][]float64 // grouped by cluster, no small-sample factor; nil without Cluster

	LogLik, LogLikNull float64 // of times, not of their logarithms; null: without columns
	Parameters         int
	AIC                float64
	BIC                float64    // with the weight of events for the number of rows (Volinsky and Raftery 2000, Biometrics 56:256)
	LikelihoodRatio    stats.Test // of all columns; without columns 0 on 0 degrees of freedom
	Wald               stats.Test // the same, robust where clustered

	Iterations int

	data ParametricData
}

// ErrNoSpread reports times that do not say how much lives differ, or how
// long they last at all, as when every event fell on one day.
var ErrNoSpread = errors.New("the times do not say how long lives last and how much they differ")

// FitParametric fits an accelerated failure time model with exact, right-,
// left- and interval-censored times and late entry by maximum likelihood
// (Kalbfleisch and Prentice 2002, The statistical analysis of failure time
// data, chapter 3; Lawless 2003, Statistical models and methods for lifetime
// data, chapter 6). A row that entered late counts given that it had lasted
// until then.
//
// Newton's method works on 1/s and b/s, in which the likelihood of every
// distribution here is concave without late entry (Burridge 1981, J R Stat
// Soc B 43:41), so that there is one maximum and it is found from anywhere;
// for the generalised gamma distribution that is so for each shape, and the
// shape is sought among those maxima (Lawless 1980, Technometrics 22:409).
// With clusters the robust covariance is the grouped sandwich (Lin and Wei
// 1989 for Cox; White 1982, Econometrica 50:1).
//
// Its errors are stats.ErrNoRows, stats.ErrNoEvents, *RowError,
// *ColumnsError (stats.ErrSingular), *SeparationError (ErrSeparation),
// ErrNoSpread, ErrShape and stats.ErrConvergence.
func FitParametric(d ParametricData, o ParametricOptions) (*Parametric, error) {
	f, err := fitParametric(d, o)
	if err != nil {
		return nil, fmt.Errorf("%v regression: %w", o.Distribution, err)
	}
	return f, nil
}

func fitParametric(d ParametricData, o ParametricOptions) (*Parametric, error) {
	if o.MaxIterations == 0 {
		o.MaxIterations = 100
	}
	if o.Zero == 0 {
		o.Zero = 0.5
	}
	m, err := newParametricModel(d, o)
	if err != nil {
		return nil, err
	}
	if err := m.checkColumns(); err != nil {
		return nil, err
	}
	climb := (*parametricModel).newton
	if o.Distribution.Shaped() {
		climb = (*parametricModel).shapedNewton
		// What no shape could mend is told as it is, not as a shape that
		// cannot be found.
		if err := m.withoutShape(o.MaxIterations); err != nil {
			return nil, err
		}
	}
	null := m.without()
	nullEnd, nullAt, iterations, err := climb(null, null.start(), o.MaxIterations)
	if err != nil {
		return nil, err
	}
	end, at := nullEnd, nullAt
	if m.p == 0 {
		m = null
	} else {
		if end, at, iterations, err = climb(m, m.from(nullAt), o.MaxIterations); err != nil {
			return nil, err
		}
	}
	cov, ok := inverse(end.info)
	if !ok {
		return nil, fmt.Errorf("the information cannot be inverted: %w", stats.ErrConvergence)
	}
	f := m.result(at, cov)
	f.LogLikNull, f.LogLik, f.Iterations = nullEnd.loglik, end.loglik, iterations
	f.AIC = 2*float64(f.Parameters) - 2*f.LogLik
	f.BIC = math.Log(f.Events)*float64(f.Parameters) - 2*f.LogLik
	f.LikelihoodRatio.Name, f.Wald.Name, f.LikelihoodRatio.P, f.Wald.P = "likelihood-ratio test", "Wald test", 1, 1
	if m.p > 0 {
		f.LikelihoodRatio = chiSquare("likelihood-ratio test", math.Max(0, 2*(f.LogLik-f.LogLikNull)), float64(m.p))
		if f.Wald, err = f.wald(); err != nil {
			return nil, err
		}
	}
	for _, x := range append(append([]float64{f.Scale, f.LogLik, f.LogLikNull, f.AIC}, f.Coef...), f.StdErr()...) {
		if !finite(x) {
			return nil, errOverflow
		}
	}
	return f, nil
}

// wald tests all columns together. Where persons are too few for a robust
// covariance of full rank the test is not made: its P is NaN.
func (f *Parametric) wald() (stats.Test, error) {
	p := len(f.Names)
	v, all := square(p), f.Covariance()
	for i := range p {
		for j := range p {
			v[i][j] = all[i+1][j+1]
		}
	}
	x, ok := quadratic(v, f.Coef[1:])
	if !ok {
		if f.Robust == nil {
			return stats.Test{}, fmt.Errorf("test of all columns: %w", stats.ErrSingular)
		}
		return stats.Test{Name: "Wald test", Statistic: math.NaN(), DF: float64(p), P: math.NaN()}, nil
	}
	return chiSquare("Wald test", x, float64(p)), nil
}

// Covariance is the robust one where clustered, else the model-based one.
func (f *Parametric) Covariance() [][]float64 {
	if f.Robust != nil {
		return f.Robust
	}
	return f.Var
}

// StdErr are the model-based standard errors, ordered as the covariance.
func (f *Parametric) StdErr() []float64 { return rootDiagonal(f.Var) }

// RobustStdErr are the robust standard errors; nil without clusters.
func (f *Parametric) RobustStdErr() []float64 {
	if f.Robust == nil {
		return nil
	}
	return rootDiagonal(f.Robust)
}
