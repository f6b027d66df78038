package stats

import "gonum.org/v1/gonum/mathext"

// ExactShare gives the limits of a binomial share, k of n, that hold the true
// share with at least the given confidence: those of Clopper CJ, Pearson ES.
// Biometrika 1934; 26: 404-413, as quantiles of the beta distribution. k and n
// need not be whole, n being above 0 and k from 0 to n: where rows are not
// independent they are effective numbers. With k = 0 low is 0, with k = n high
// is 1.
func ExactShare(k, n, level float64) (low, high float64) {
	tail := (1 - level) / 2
	low, high = 0, 1
	if k > 0 {
		low = mathext.InvRegIncBeta(k, n-k+1, tail)
	}
	if k < n {
		// The upper quantile by the lower one of the rest, which keeps the
		// figures of a small tail.
		high = 1 - mathext.InvRegIncBeta(n-k, k+1, tail)
	}
	return low, high
}
