package quality

import (
	"fmt"
	"math"
)

// d2 is the mean absolute difference of two independent standard normal
// values, 2/sqrt(pi) = 1.128379...; 3/d2 = 2.6586808 is the factor usually
// rounded to 2.66. d3 is the standard deviation of that difference, so that
// the moving range has its upper limit at (1 + 3 d3/d2) times its mean, the
// factor usually rounded to 3.267.
var (
	d2 = 2 / math.Sqrt(math.Pi)
	d3 = math.Sqrt(2 - 4/math.Pi)
)

// XmR is the chart of one value a period. NaN marks a period without a
// value, a gap. The centre of a phase is the mean of its values, and the
// limits lie 3/d2 = 2.6587 mean moving ranges from it, d2 = 1.128379 exactly
// 2/sqrt(pi) (tables round it to 1.128). The moving range is the
// absolute difference of a value and the one before it in the same phase,
// across gaps: the step into a new phase is not used.
//
// Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2.
//
// Values that never vary give ErrNoVariation; a later phase without variation
// gets a centre but no limits and a warning.
func XmR(values []float64, o Options) (*Chart, error) {
	with := 0
	for i, v := range values {
		if math.Abs(v) > largest {
			return nil, fmt.Errorf("xmr chart: %v in period %d: %w", v, i+1, ErrBadValue)
		}
		if !math.IsNaN(v) {
			with++
		}
	}
	if with < MinPoints {
		return nil, fmt.Errorf("xmr chart: %s with a value, %d are needed: %w", periods(with), MinPoints, ErrFewPoints)
	}
	c, err := newChart(KindXmR, len(values), o)
	if err != nil {
		return nil, fmt.Errorf("xmr chart: %w", err)
	}
	for i, v := range values {
		if !math.IsNaN(v) {
			c.Points[i].Value, c.Points[i].HasValue = v, true
		}
	}
	limits := false
	for k := range c.Phases {
		c.rangeLimits(k, o)
		limits = limits || c.Phases[k].HasLimits
	}
	if !limits && len(c.Phases) == 1 {
		return nil, fmt.Errorf("xmr chart of %s: %w", periods(c.Phases[0].LimitPoints), ErrNoVariation)
	}
	c.finish()
	return c, nil
}

func (c *Chart) rangeLimits(k int, o Options) {
	pts := c.baseline(k, o)
	if len(pts) == 0 {
		c.warn("short-phase", c.about(k), "No period of this phase has a value yet.")
		return
	}
	ph := &c.Phases[k]
	// The mean is taken about the first value, so that a large constant does
	// not cost digits.
	first := c.Points[pts[0]].Value
	var sum, moving float64
	for j, i := range pts {
		sum += c.Points[i].Value - first
		if j > 0 {
			moving += math.Abs(c.Points[i].Value - c.Points[pts[j-1]].Value)
		}
	}
	ph.Centre = first + sum/float64(len(pts))
	if len(pts) < MinPoints {
		c.warn("short-phase", c.about(k), "This phase has %s with a value so far: limits are drawn from %d on.", periods(len(pts)), MinPoints)
		return
	}
	if moving == 0 {
		c.warn("no-variation", c.about(k), "The values that set the limits never change, so there are no limits.")
		return
	}
	ph.MeanMovingRange = moving / float64(len(pts)-1)
	ph.MovingRangeUpper = ph.MeanMovingRange * (1 + c.Sigmas*d3/d2)
	ph.Sigma = ph.MeanMovingRange / d2
	ph.HasLimits = true
}
