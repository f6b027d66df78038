package quality

import (
	"math"

	"plybook/analysis/regress"
)

// ShareDifference is the difference of two shares, x2 of n2 less x1 of n1,
// with an interval from the Wilson intervals of the two.
//
// Source: Newcombe RG. Interval estimation for the difference between
// independent proportions: comparison of eleven methods. Stat Med
// 1998;17:873-890, method 10. Both n are above 0.
func ShareDifference(x1, n1, x2, n2, confidence float64) (difference, low, high float64) {
	p1, p2 := x1/n1, x2/n2
	l1, u1 := regress.Wilson(x1, n1, confidence)
	l2, u2 := regress.Wilson(x2, n2, confidence)
	d := p2 - p1
	return d, d - math.Hypot(p2-l2, u1-p1), d + math.Hypot(u2-p2, p1-l1)
}
