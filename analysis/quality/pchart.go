package quality

import (
	"fmt"
	"math"
)

// PChart is the chart of a proportion: of denominator[i] rows in period i,
// numerator[i] count. The centre of a phase is the sum of its numerators over
// the sum of its denominators; the limits of each point use its own
// denominator, centre +- 3 sqrt(centre (1-centre) / denominator), kept within
// 0 and 1. A period with denominator 0 is a gap.
//
// Source: Montgomery DC. Introduction to Statistical Quality Control, section
// on the control chart for fraction nonconforming.
//
// Options.Overdispersed widens the distance of the limits from the centre by
// SigmaZ of the points that set them, where that is above 1. Source: Laney
// DB. Improved control charts for attributes. Quality Engineering
// 2002;14:531-537 (which narrows the limits below 1 too; here they are never
// narrower than chance alone makes them).
//
// Where no row or every row of the baseline counts, the phase has a centre
// but no limits, and a warning says so.
func PChart(numerator, denominator []float64, o Options) (*Chart, error) {
	return countChart(KindP, numerator, denominator, o)
}

// UChart is the chart of a rate: numerator[i] events in period i over an
// exposure of denominator[i]. The centre of a phase is the sum of its
// numerators over the sum of its exposures; the limits of each point use its
// own exposure, centre +- 3 sqrt(centre / exposure), not below 0. A period
// with exposure 0 is a gap. The unit of the exposure is that of the rate: in
// hundreds of months, the values are per 100 months.
//
// Source: Montgomery DC, as for PChart, section on control charts for
// nonconformities. Options.Overdispersed: as for PChart.
//
// Where nothing was counted in the baseline, the phase has a centre but no
// limits, and a warning says so.
func UChart(numerator, exposure []float64, o Options) (*Chart, error) {
	return countChart(KindU, numerator, exposure, o)
}

// CChart is the chart of a count that has the same chance to come about in
// each period: centre +- 3 sqrt(centre), not below 0.
//
// Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.3.1.
func CChart(counts []float64, o Options) (*Chart, error) {
	if o.Overdispersed {
		return nil, fmt.Errorf("c chart: limits that allow for overdispersion: %w", ErrOptions)
	}
	ones := make([]float64, len(counts))
	for i := range ones {
		ones[i] = 1
	}
	return countChart(KindC, counts, ones, o)
}

func countChart(kind Kind, numerator, denominator []float64, o Options) (*Chart, error) {
	if len(numerator) != len(denominator) {
		return nil, fmt.Errorf("%s chart: %d numerators and %d denominators: %w", kind, len(numerator), len(denominator), ErrBadValue)
	}
	with, rows := 0, 0.0
	for i, d := range denominator {
		n := numerator[i]
		if !(n >= 0) || !(d >= 0) || d > largest || n > largest || kind == KindP && n > d || d == 0 && n > 0 {
			return nil, fmt.Errorf("%s chart: %v of %v in period %d: %w", kind, n, d, i+1, ErrBadValue)
		}
		if d > 0 {
			with++
		}
		rows += d
	}
	if len(denominator) > 0 && rows == 0 {
		return nil, fmt.Errorf("%s chart of %s: %w", kind, periods(len(denominator)), ErrNoDenominator)
	}
	if with < MinPoints {
		return nil, fmt.Errorf("%s chart: %s with a value, %d are needed: %w", kind, periods(with), MinPoints, ErrFewPoints)
	}
	c, err := newChart(kind, len(numerator), o)
	if err != nil {
		return nil, fmt.Errorf("%s chart: %w", kind, err)
	}
	for i := range c.Points {
		p := &c.Points[i]
		p.Numerator, p.Denominator = numerator[i], denominator[i]
		if p.Denominator > 0 {
			p.Value, p.HasValue = p.Numerator/p.Denominator, true
		}
	}
	for k := range c.Phases {
		c.countLimits(k, o)
	}
	c.finish()
	c.dispersion()
	return c, nil
}

func (c *Chart) countLimits(k int, o Options) {
	pts := c.baseline(k, o)
	if len(pts) == 0 {
		c.warn("short-phase", c.about(k), "No period of this phase has a value yet.")
		return
	}
	var num, den float64
	for _, i := range pts {
		num += c.Points[i].Numerator
		den += c.Points[i].Denominator
	}
	ph := &c.Phases[k]
	ph.Centre = num / den
	switch {
	case len(pts) < MinPoints:
		c.warn("short-phase", c.about(k), "This phase has %s with a value so far: limits are drawn from %d on.", periods(len(pts)), MinPoints)
		return
	case num == 0:
		c.warn("no-variation", c.about(k), "Nothing was counted in the periods that set the limits, so there are no limits.")
		return
	case c.Kind == KindP && num == den:
		c.warn("no-variation", c.about(k), "Every row was counted in the periods that set the limits, so there are no limits.")
		return
	}
	ph.HasLimits = true
	if c.Overdispersed {
		spread, n := c.movingSpread(pts, ph.Centre)
		ph.Widened = 1
		if n > 0 {
			ph.Widened = math.Max(1, spread/float64(n)/d2)
		}
	}
	e := num / float64(len(pts))
	what := "rows that count are"
	if c.Kind == KindP && num > den/2 {
		e, what = (den-num)/float64(len(pts)), "rows that do not count are"
	}
	if c.Kind != KindP {
		what = "events are"
	}
	if e < MinExpected {
		c.warn("few-expected", c.about(k), "On average %.1f %s expected in a period, fewer than %d, so the limits are crude: a longer period would serve better.",
			e, what, MinExpected)
	}
}

// movingSpread is the sum of the absolute differences between the
// standardised values of consecutive points, and how many there are.
func (c *Chart) movingSpread(pts []int, centre float64) (sum float64, n int) {
	prev := 0.0
	for j, i := range pts {
		p := c.Points[i]
		z := (p.Value - centre) / c.standardError(centre, p.Denominator)
		if j > 0 {
			sum += math.Abs(z - prev)
			n++
		}
		prev = z
	}
	return sum, n
}

// dispersion compares the spread of the points about their centres with
// what chance alone gives. It only warns: the limits stay.
func (c *Chart) dispersion() {
	var sum float64
	n, points := 0, 0
	for k := range c.Phases {
		if !c.Phases[k].HasLimits {
			continue
		}
		pts := c.measured(k)
		s, m := c.movingSpread(pts, c.Phases[k].Centre)
		sum, n, points = sum+s, n+m, points+len(pts)
	}
	if n == 0 {
		return
	}
	c.SigmaZ, c.HasSigmaZ = sum/float64(n)/d2, true
	// The mean moving range of k independent standard normal values, over
	// d2, has variance near 0.826/k.
	sd := math.Sqrt(0.826 / float64(points))
	c.WiderThanChance, c.MuchWider = c.SigmaZ > 1+1.645*sd, c.SigmaZ > 1+2.326*sd
	if c.WiderThanChance && !c.Overdispersed {
		c.warn("overdispersed", "", "The periods differ from one another %.1f times as much as chance alone would make them, so points outside the limits "+
			"are likelier than the limits suggest: periods may mix different kinds of work.", c.SigmaZ)
	}
}
