package survival

import (
	"math"

	"gonum.org/v1/gonum/mathext"

	"plybook/analysis/stats"
)

// Quantile is the frailty below which a share p of groups lies, p between 0
// and 1, both excluded.
func (f Frailty) Quantile(p, variance float64) float64 {
	switch {
	case !(variance > 0):
		return 1
	case f == GammaFrailty:
		return mathext.GammaIncRegInv(1/variance, p) * variance
	}
	return math.Exp(math.Sqrt(variance) * stats.NormalQuantile(p))
}

// Above is the frailty of a group one standard deviation above the middle: of
// the frailty itself above its mean where it is gamma, of its logarithm where
// it is log-normal.
func (f Frailty) Above(variance float64) float64 {
	if f == GammaFrailty {
		return 1 + math.Sqrt(variance)
	}
	return math.Exp(math.Sqrt(variance))
}

// MedianRatio is the median, over pairs of groups drawn at random, of the
// larger frailty divided by the smaller (Austin, Wagner and Merlo 2017, Stat
// Med 36:928, for the log-normal): the ratio of two gamma frailties has an F
// distribution with twice 1/variance degrees of freedom above and below.
func (f Frailty) MedianRatio(variance float64) float64 {
	switch {
	case !(variance > 0):
		return 1
	case f == GammaFrailty:
		n := 1 / variance
		return mathext.InvRegIncBeta(n, n, 0.75) / mathext.InvRegIncBeta(n, n, 0.25)
	}
	return math.Exp(math.Sqrt(2*variance) * stats.NormalQuantile(0.75))
}
