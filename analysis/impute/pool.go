package impute

import (
	"errors"
	"fmt"
	"math"

	"plybook/analysis/stats"
)

// Pooled is an estimate put together from several completed tables.
type Pooled struct {
	Estimate, StdErr float64
	DF               float64 // +Inf: normal
	Within, Between  float64 // variances
	// Increase is by how much the variance grows for what is missing, over
	// Within; Share is the share of the variance that is due to it, and
	// Information the share of information that is missing.
	Increase, Share, Information float64
	// MonteCarlo is the error of Estimate from the number of tables alone.
	MonteCarlo float64
}

// ErrFewSets reports fewer than two completed tables.
var ErrFewSets = errors.New("fewer than two completed tables")

// Pool puts estimates and their variances together by the rules of Rubin
// (Multiple Imputation for Nonresponse in Surveys, 1987, section 3.3): the
// mean of the estimates; the mean of the variances, plus 1 + 1/m times the
// variance between the m estimates. Degrees of freedom are those of Barnard
// and Rubin 1999 (Biometrika 86:948), complete being those without anything
// missing (+Inf: many). Errors: ErrFewSets.
func Pool(estimates, variances []float64, complete float64) (Pooled, error) {
	m := float64(len(estimates))
	if len(estimates) < 2 || len(variances) != len(estimates) {
		return Pooled{}, fmt.Errorf("pooling %d estimates and %d variances: %w", len(estimates), len(variances), ErrFewSets)
	}
	var p Pooled
	for k := range estimates {
		p.Estimate += estimates[k] / m
		p.Within += variances[k] / m
	}
	for _, x := range estimates {
		p.Between += (x - p.Estimate) * (x - p.Estimate) / (m - 1)
	}
	extra := (1 + 1/m) * p.Between
	total := p.Within + extra
	p.StdErr = math.Sqrt(total)
	p.MonteCarlo = math.Sqrt(p.Between / m)
	if total > 0 {
		p.Share = extra / total
	}
	if p.Within > 0 {
		p.Increase = extra / p.Within
	}
	p.DF = math.Inf(1)
	if p.Share > 0 {
		p.DF = (m - 1) / (p.Share * p.Share)
	}
	if !math.IsInf(complete, 1) {
		seen := (complete + 1) / (complete + 3) * complete * (1 - p.Share)
		if math.IsInf(p.DF, 1) {
			p.DF = seen
		} else {
			p.DF = p.DF * seen / (p.DF + seen)
		}
	}
	p.Information = p.Share
	if !math.IsInf(p.DF, 1) {
		p.Information = (p.Increase + 2/(p.DF+3)) / (1 + p.Increase)
	}
	return p, nil
}

// Interval is the interval of a level, and the two-sided p of an estimate of
// 0. It is not ok without an error.
func (p Pooled) Interval(level float64) (low, high, statistic, pValue float64, ok bool) {
	if !(p.StdErr > 0) || !(p.DF > 0) {
		return 0, 0, 0, 0, false
	}
	q, t := 0.5+level/2, p.Estimate/p.StdErr
	if math.IsInf(p.DF, 1) {
		z := stats.NormalQuantile(q)
		return p.Estimate - z*p.StdErr, p.Estimate + z*p.StdErr, t, stats.NormalP(t), true
	}
	z := stats.StudentQuantile(q, p.DF)
	return p.Estimate - z*p.StdErr, p.Estimate + z*p.StdErr, t, stats.StudentP(t, p.DF), true
}
