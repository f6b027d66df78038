package lsq

import (
	"math"

	"gonum.org/v1/gonum/mathext"

	"plybook/analysis/stats"
)

// FP is the upper tail of Fisher's F with d1 and d2 degrees of freedom; d2
// may be infinite. It is worked out from the tail, so that small values keep
// their digits.
func FP(f, d1, d2 float64) float64 {
	if f <= 0 {
		return 1
	}
	if math.IsInf(d2, 1) || d2 > 1e9 {
		return stats.ChiSquareP(f*d1, d1)
	}
	return mathext.RegIncBeta(d2/2, d1/2, d2/(d2+d1*f))
}

// TQuantile is the quantile of Student's t for p above one half. Above a
// million degrees of freedom, where the inverse beta function loses digits,
// it expands about the normal quantile (Fisher & Cornish 1960, Technometrics
// 2:209).
func TQuantile(p, df float64) float64 {
	z := stats.NormalQuantile(p)
	if math.IsInf(df, 1) {
		return z
	}
	if df > 1e6 {
		return z + (z*z*z+z)/(4*df) + (5*math.Pow(z, 5)+16*z*z*z+3*z)/(96*df*df)
	}
	return stats.StudentQuantile(p, df)
}

// TP is the two-sided p-value of a t statistic; df may be infinite.
func TP(t, df float64) float64 {
	if math.IsInf(df, 1) || df > 1e9 {
		return stats.NormalP(t)
	}
	return stats.StudentP(t, df)
}
