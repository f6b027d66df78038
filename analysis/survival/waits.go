package survival

import (
	"fmt"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
)

// WaitTimes describes waits, some of which may not be over.
type WaitTimes struct {
	Waits, Over, Open int
	Exact             bool // nothing is open: the limits are order statistics
	Least, Greatest   float64
	Quantiles         []Quantile
}

// Waits estimates quantiles of waits in days with limits at the given level,
// cause 0 being a wait that is still open at its time.
//
// Where every wait is over, a quantile is that of the sample (the inverse of
// its distribution, the middle where that runs flat: type 2 of Hyndman and Fan
// 1996, Am Stat 50:361), and its limits are the order statistics of
// OrderLimits, exact whatever the distribution. Where some are open, quantiles
// and limits are read from the Kaplan-Meier curve, the errors grouped by
// cluster; without open waits that curve has the same quantiles. Least and
// Greatest are those of the waits that are over.
//
// Errors are those of KaplanMeier.
func Waits(d Data, ps []float64, level float64) (*WaitTimes, error) {
	c, err := KaplanMeier(d, CurveOptions{Level: level})
	if err != nil {
		return nil, fmt.Errorf("waits: %w", err)
	}
	w := &WaitTimes{Waits: len(d.Time)}
	var over []float64
	for i, x := range d.Time {
		if d.Cause[i] > 0 {
			over = append(over, x)
		}
	}
	slices.Sort(over)
	w.Over, w.Open = len(over), len(d.Time)-len(over)
	w.Exact = w.Open == 0
	if w.Over > 0 {
		w.Least, w.Greatest = over[0], over[w.Over-1]
	}
	for _, p := range ps {
		q := c.Quantile(p)
		if w.Exact {
			low, high, _ := OrderLimits(len(over), p, c.Level)
			q.Low, q.High = Limit{}, Limit{}
			if low > 0 {
				q.Low = Limit{over[low-1], true}
			}
			if high > 0 {
				q.High = Limit{over[high-1], true}
			}
		}
		w.Quantiles = append(w.Quantiles, q)
	}
	return w, nil
}

// OrderLimits are the places, from 1, of the two values among n in order that
// hold the p-quantile between them with at least the given level, each side
// missing it with at most half of the rest; coverage is what they reach. With
// B binomial(n, p), the r-th value lies above the quantile with chance
// P(B < r), whatever the distribution (Conover 1999, Practical Nonparametric
// Statistics, 3rd ed., 3.2; Hahn and Meeker 1991, Statistical Intervals, 5.2).
// 0 stands for a side without limit: n is too small.
func OrderLimits(n int, p, level float64) (low, high int, coverage float64) {
	if n < 1 || !(p > 0 && p < 1) || !(level > 0 && level < 1) {
		return 0, 0, 1
	}
	b := distuv.Binomial{N: float64(n), P: p}
	tail := (1 - level) / 2
	below := func(r int) float64 { // P(B < r)
		if r <= 0 {
			return 0
		}
		return b.CDF(float64(r - 1))
	}
	for low < n && below(low+1) <= tail {
		low++
	}
	for r := n; r > low && 1-below(r) <= tail; r-- {
		high = r
	}
	coverage = 1
	if high > 0 {
		coverage = below(high)
	}
	return low, high, coverage - below(low)
}
