// Package stats holds the result types that every method shares, and the few
// distribution helpers that more than one of them needs.
package stats

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Warning is a doubt about a result, raised by the data themselves. It
// travels with the result into every output.
type Warning struct {
	Code  string // stable, for programs: "few-events", "separation", ...
	Text  string // one or two plain sentences
	About string // term or group concerned; empty for the whole answer
}

// Test is the result of a significance test. DF is 0 where none applies.
type Test struct {
	Name      string
	Statistic float64
	DF        float64
	P         float64
}

// Errors that more than one method returns; wrap them with what was asked.
var (
	// ErrNoRows reports that no usable row was left.
	ErrNoRows = errors.New("no rows to analyse")
	// ErrNoEvents reports that no event was seen, so that nothing can be
	// estimated from when events happen.
	ErrNoEvents = errors.New("no events were seen")
	// ErrSingular reports columns that repeat one another or never vary.
	ErrSingular = errors.New("columns repeat one another or never vary")
	// ErrConvergence reports that an iteration did not settle.
	ErrConvergence = errors.New("the estimate did not settle")
)

// NormalQuantile is the standard normal quantile.
func NormalQuantile(p float64) float64 { return distuv.UnitNormal.Quantile(p) }

// NormalP is the two-sided p-value of a standard normal statistic.
func NormalP(z float64) float64 { return math.Erfc(math.Abs(z) / math.Sqrt2) }

// StudentQuantile is the quantile of Student's t with df degrees of freedom.
func StudentQuantile(p, df float64) float64 {
	return distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Quantile(p)
}

// StudentP is the two-sided p-value of a t statistic.
func StudentP(t, df float64) float64 {
	return 2 * distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}.Survival(math.Abs(t))
}

// ChiSquareP is the upper tail of the chi-square distribution.
func ChiSquareP(x, df float64) float64 {
	if df <= 0 {
		return math.NaN()
	}
	if x <= 0 {
		return 1
	}
	return distuv.ChiSquared{K: df}.Survival(x)
}

// ChiSquareQuantile is the value below which a chi-square distribution with df
// degrees of freedom, any above 0, has the share p.
func ChiSquareQuantile(p, df float64) float64 { return distuv.ChiSquared{K: df}.Quantile(p) }
