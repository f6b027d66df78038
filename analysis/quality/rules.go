package quality

import "math"

// MinUseful is the fewest points off the centre on which runs and crossings
// are judged.
const MinUseful = 10

// applyRules looks for signals in a phase. A point on the centre is on
// neither side: it neither breaks a run nor makes a crossing.
//
// Source: Anhoej J, Olesen AV. Run charts revisited: a simulation study of
// run chart rules for detection of non-random variation in health care
// processes. PLoS ONE 2014;9:e113825. A run is too long above
// round(log2 n) + 3 useful points; crossings are too few below the 5% point
// of the binomial distribution with n-1 trials of one half. Points beyond
// the limits are Shewhart's rule.
func (c *Chart) applyRules(k int) {
	ph := &c.Phases[k]
	if ph.LimitPoints == 0 {
		return
	}
	for _, i := range c.measured(k) {
		p := &c.Points[i]
		if p.HasLimits && (p.Value > p.Upper || p.Value < p.Lower) {
			p.Signal = BeyondLimits
			c.Signals = append(c.Signals, Signal{Rule: BeyondLimits, Phase: k, From: i, To: i, Count: 1, Above: p.Value > p.Upper})
		}
	}
	run := c.runs(k)
	if ph.Useful < MinUseful || ph.LimitPoints < MinPoints {
		return
	}
	ph.RunsTested = true
	ph.LongestAllowed = longestAllowed(ph.Useful)
	ph.FewestAllowed = fewestAllowed(ph.Useful)
	if ph.LongestRun > ph.LongestAllowed {
		for _, i := range run {
			if c.Points[i].Signal == NoSignal {
				c.Points[i].Signal = LongRun
			}
		}
		c.Signals = append(c.Signals, Signal{Rule: LongRun, Phase: k, From: run[0], To: run[len(run)-1],
			Count: ph.LongestRun, Limit: ph.LongestAllowed, Above: c.Points[run[0]].Value > ph.Centre})
	}
	if ph.Crossings < ph.FewestAllowed {
		c.Signals = append(c.Signals, Signal{Rule: FewCrossings, Phase: k, From: ph.From, To: ph.To,
			Count: ph.Crossings, Limit: ph.FewestAllowed})
	}
}

// runs counts the useful points and crossings of a phase and returns the
// points of its longest run, the first of equals.
func (c *Chart) runs(k int) []int {
	ph := &c.Phases[k]
	var cur, best []int
	side := 0
	for _, i := range c.measured(k) {
		s := sideOf(c.Points[i].Value, ph.Centre)
		if s == 0 {
			continue
		}
		ph.Useful++
		if s != side {
			if side != 0 {
				ph.Crossings++
			}
			cur, side = nil, s
		}
		cur = append(cur, i)
		if len(cur) > len(best) {
			best = append(best[:0:0], cur...)
		}
	}
	ph.LongestRun = len(best)
	return best
}

// sideOf is 1 above the centre, -1 below and 0 on it. A difference in the
// last digits is rounding of the mean, not a side.
func sideOf(v, centre float64) int {
	if math.Abs(v-centre) <= 1e-12*math.Max(math.Abs(v), math.Abs(centre)) {
		return 0
	}
	if v > centre {
		return 1
	}
	return -1
}

// longestAllowed is the longest run on one side that n useful points may show.
func longestAllowed(n int) int { return int(math.Round(math.Log2(float64(n)))) + 3 }

// fewestAllowed is the smallest number of crossings that n useful points may
// show: the smallest k with P(X <= k) >= 0.05 for X binomial(n-1, 1/2).
func fewestAllowed(n int) int {
	m := float64(n - 1)
	logTotal, _ := math.Lgamma(m + 1)
	var cdf float64
	for k := 0.0; k <= m; k++ {
		a, _ := math.Lgamma(k + 1)
		b, _ := math.Lgamma(m - k + 1)
		cdf += math.Exp(logTotal - a - b - m*math.Ln2)
		if cdf >= 0.05 {
			return int(k)
		}
	}
	return n - 1
}
