package mixed

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"

	"plybook/analysis/stats"
)

// ErrNotComparable reports two fits whose likelihoods cannot be compared.
var ErrNotComparable = errors.New("the two models cannot be compared")

// Compare tests by likelihood ratio whether the larger of two nested models
// describes the data better than the smaller; which is which is found from
// their parameters. Models with different fixed effects must both be fitted
// by maximum likelihood, since restricted likelihoods then are those of
// different data. ErrNotComparable says what else stands in the way: other
// rows or groups, one likelihood restricted and the other not, the fixed or
// random effects of one not among those of the other.
//
// A variance cannot be below zero, so that where variances are tested the
// chi-square p-value is too large, up to twice; a warning says so (Self &
// Liang 1987, J Am Stat Assoc 82:605).
func Compare(a, b *Model) (stats.Test, []stats.Warning, error) {
	if a.Parameters > b.Parameters {
		a, b = b, a
	}
	fail := func(why string) (stats.Test, []stats.Warning, error) {
		return stats.Test{}, nil, fmt.Errorf("%s: %w", why, ErrNotComparable)
	}
	switch {
	case a.Parameters == b.Parameters:
		return fail("they have the same number of parameters")
	case !equal(a.p.data.Y, b.p.data.Y) || !sameGroups(a, b):
		return fail("they are fitted to different rows or groups")
	case a.ML != b.ML:
		return fail("one is fitted by restricted likelihood, the other is not")
	case !spans(b, a):
		return fail("the fixed effects of the smaller are not among those of the larger")
	case !a.ML && a.f.P != b.f.P:
		return fail("their fixed effects differ, which restricted likelihood does not allow; fit both by maximum likelihood")
	case !randomWithin(b, a):
		return fail("the random effects of the smaller are not among those of the larger")
	}
	var warnings []stats.Warning
	t := stats.Test{Name: "likelihood ratio", DF: float64(b.Parameters - a.Parameters)}
	t.Statistic = math.Max(0, 2*(b.LogLikelihood-a.LogLikelihood))
	t.P = stats.ChiSquareP(t.Statistic, t.DF)
	if len(a.RandomNames) < len(b.RandomNames) {
		warnings = append(warnings, stats.Warning{Code: "boundary",
			Text: "A variance cannot be below zero, so that the p-value of this comparison is too large, at most twice the right one."})
	}
	return t, warnings, nil
}

func equal(a, b []float64) bool {
	if len(a) != len(b) {
		return false
	}
	for i, v := range a {
		if v != b[i] {
			return false
		}
	}
	return true
}

func sameGroups(a, b *Model) bool {
	for i, g := range a.p.data.Group {
		if g != b.p.data.Group[i] {
			return false
		}
	}
	return true
}

// spans says whether every fixed-effect direction of small lies among those
// of large.
func spans(large, small *Model) bool {
	for _, q := range small.f.Q {
		rest := append([]float64(nil), q...)
		for _, u := range large.f.Q {
			floats.AddScaled(rest, -floats.Dot(u, rest), u)
		}
		if floats.Norm(rest, 2) > 1e-7 {
			return false
		}
	}
	return true
}

// randomWithin says whether the random effects of small are among those of
// large, and correlated only if those are; the same for residuals.
func randomWithin(large, small *Model) bool {
	if small.p.opts.Correlation != Independent && (large.p.opts.Correlation == Independent || !equal(small.p.data.Time, large.p.data.Time)) {
		return false
	}
	if large.p.opts.Uncorrelated && !small.p.opts.Uncorrelated && len(small.p.z) > 1 {
		return false
	}
	for _, z := range small.p.z {
		found := false
		for _, w := range large.p.z {
			found = found || equal(z, w)
		}
		if !found {
			return false
		}
	}
	return true
}
