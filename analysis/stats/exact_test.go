package stats

import (
	"math"
	"testing"
)

// Newcombe RG. Two-sided confidence intervals for the single proportion. Stat
// Med 1998; 17: 857-872, table I, method 5, prints 0.2527 to 0.3676, 0.0578 to
// 0.1617, 0 to 0.1684 and 0.0009 to 0.1776 (from memory); more figures are those
// of R 4.2.2, binom.test(k, n)$conf.int.
func TestExactShare(t *testing.T) {
	for _, c := range []struct{ k, n, level, low, high float64 }{
		{81, 263, 0.95, 0.252736745585271, 0.367621922601351},
		{15, 148, 0.95, 0.0578440100834486, 0.1616504903494790},
		{0, 20, 0.95, 0, 0.168433470983085},
		{1, 29, 0.95, 0.000872646883579923, 0.177644295488722848},
		{29, 29, 0.95, 0.880555130930497, 1},
		{81, 263, 0.9, 0.261055746009, 0.358178495576},
	} {
		low, high := ExactShare(c.k, c.n, c.level)
		if math.Abs(low-c.low) > 1e-11 || math.Abs(high-c.high) > 1e-11 {
			t.Errorf("%g of %g: %.15f to %.15f, want %.15f to %.15f", c.k, c.n, low, high, c.low, c.high)
		}
	}
}
