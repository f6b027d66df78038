package quality

import (
	"fmt"
	"math"
	"sort"

	"plybook/analysis/stats"
)

// GChart is the chart of rare events among cases: each value is the number of
// cases between one event and the next, those with the event not counted (0
// where two follow one another), or of days between. With a steady chance of
// the event the counts are geometric.
//
// The centre of a phase is the median of its counts, about which runs are
// judged: the distribution is skewed, and more than half of it lies below
// its mean m. The limits are quantiles of the geometric distribution of mean
// m at the tails of three normal standard deviations, 0.00135 and 0.99865:
// P(X > upper) <= 0.00135 and P(X < lower) <= 0.00135. The usual m + 3
// sqrt(m (m+1)) is passed by about 18 in 1000 counts by chance alone.
//
// Sources: Kaminsky FC, Benneyan JC, Davis RD, Burke RJ. Statistical control
// charts based on a geometric distribution. Journal of Quality Technology
// 1992;24:63-69; probability limits: Benneyan JC. Number-between g-type
// statistical quality control charts. Health Care Management Science
// 2001;4:305-318.
//
// Counts that are all 0 in the baseline give a phase without limits and a
// warning. Options.Overdispersed is refused.
func GChart(between []float64, o Options) (*Chart, error) {
	for i, v := range between {
		if !(v >= 0) || v > largest || v != math.Trunc(v) {
			return nil, fmt.Errorf("g chart: %v before event %d: %w", v, i+1, ErrBadValue)
		}
	}
	c, err := gapChart(KindG, between, o)
	if err != nil {
		return nil, err
	}
	for k := range c.Phases {
		pts, ok := c.gapBaseline(k, o)
		if len(pts) == 0 {
			continue
		}
		ph := &c.Phases[k]
		values := make([]float64, len(pts))
		for j, i := range pts {
			values[j] = c.Points[i].Value
			ph.Mean += values[j] / float64(len(pts))
		}
		ph.Centre = median(values)
		switch {
		case !ok:
		case ph.Mean == 0:
			c.warn("no-variation", c.about(k), "Every case was an event where the limits are set, so there are no limits.")
		default:
			ph.HasLimits = true
		}
	}
	c.finish()
	return c, nil
}

// TChart is the chart of the time from one event to the next, all above 0. The
// times are raised to the power 1/3.6, which makes exponential times nearly
// normal; centre and limits are those of an xmr chart of the powers, taken
// back to times.
//
// Source: Nelson LS. A control chart for parts-per-million nonconforming
// items. Journal of Quality Technology 1994;26:239-240.
//
// A time of 0 gives ErrZeroGap, times that never vary ErrNoVariation.
// Options.Overdispersed is refused.
func TChart(times []float64, o Options) (*Chart, error) {
	for i, v := range times {
		switch {
		case v == 0:
			return nil, fmt.Errorf("t chart: before event %d: %w", i+1, ErrZeroGap)
		case !(v > 0) || v > largest:
			return nil, fmt.Errorf("t chart: %v before event %d: %w", v, i+1, ErrBadValue)
		}
	}
	c, err := gapChart(KindT, times, o)
	if err != nil {
		return nil, err
	}
	limits := false
	for k := range c.Phases {
		pts, ok := c.gapBaseline(k, o)
		if len(pts) == 0 {
			continue
		}
		ph := &c.Phases[k]
		moving, prev := 0.0, 0.0
		for j, i := range pts {
			y := math.Pow(c.Points[i].Value, 1/nelson)
			ph.Mean += y / float64(len(pts))
			if j > 0 {
				moving += math.Abs(y - prev)
			}
			prev = y
		}
		ph.Centre = untransformed(ph.Mean)
		switch {
		case !ok:
		case moving == 0:
			c.warn("no-variation", c.about(k), "The times that set the limits never change, so there are no limits.")
		default:
			ph.MeanMovingRange = moving / float64(len(pts)-1)
			ph.Sigma = ph.MeanMovingRange / d2
			ph.HasLimits, limits = true, true
		}
	}
	if !limits && len(c.Phases) == 1 {
		return nil, fmt.Errorf("t chart of %d times: %w", c.Phases[0].LimitPoints, ErrNoVariation)
	}
	c.finish()
	return c, nil
}

// nelson is the power of which times between events are the nearly normal
// root.
const nelson = 3.6

// untransformed takes a value of the transformed scale back to time.
func untransformed(y float64) float64 { return math.Pow(math.Max(0, y), nelson) }

// gapChart lays out a chart whose points are the gaps between events.
func gapChart(kind Kind, values []float64, o Options) (*Chart, error) {
	if o.Overdispersed {
		return nil, fmt.Errorf("%s chart: limits that allow for overdispersion: %w", kind, ErrOptions)
	}
	if len(values) < MinPoints {
		return nil, fmt.Errorf("%s chart: %d gaps between events, %d are needed: %w", kind, len(values), MinPoints, ErrFewPoints)
	}
	c, err := newChart(kind, len(values), o)
	if err != nil {
		return nil, fmt.Errorf("%s chart: %w", kind, err)
	}
	for i, v := range values {
		c.Points[i].Value, c.Points[i].HasValue = v, true
	}
	return c, nil
}

// gapBaseline are the points from which the limits of a phase follow, and
// whether they are enough.
func (c *Chart) gapBaseline(k int, o Options) ([]int, bool) {
	pts := c.baseline(k, o)
	switch {
	case len(pts) == 0:
		c.warn("short-phase", c.about(k), "No gap between two events lies in this phase yet.")
	case len(pts) < MinPoints:
		c.warn("short-phase", c.about(k), "This phase has %d of the %d gaps between events from which limits are drawn.", len(pts), MinPoints)
	}
	return pts, len(pts) >= MinPoints
}

// geometricLimits are the limits of counts between events of mean m: the
// quantiles of the geometric distribution at the tails of a normal
// distribution beyond so many standard deviations.
func geometricLimits(m, sigmas float64) (lower, upper float64) {
	tail := stats.NormalP(sigmas) / 2
	return geometricQuantile(tail, m), geometricQuantile(1-tail, m)
}

// geometricQuantile is the smallest x with P(X <= x) >= prob, X geometric on
// 0, 1, 2, ... with mean m: P(X <= x) = 1 - (m/(m+1))^(x+1).
func geometricQuantile(prob, m float64) float64 {
	if m <= 0 {
		return 0
	}
	logQ := -math.Log1p(1 / m)
	x := math.Ceil(math.Log1p(-prob)/logQ - 1)
	// The division may land a unit off where the quotient is whole.
	for x > 0 && -math.Expm1(x*logQ) >= prob {
		x--
	}
	for x < 0 || -math.Expm1((x+1)*logQ) < prob {
		x++
	}
	return x
}

// median of values, which it sorts.
func median(values []float64) float64 {
	sort.Float64s(values)
	n := len(values)
	if n%2 == 1 {
		return values[n/2]
	}
	return (values[n/2-1] + values[n/2]) / 2
}
