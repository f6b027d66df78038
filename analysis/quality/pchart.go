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
// Where no row or every row of the baseline counts, the phase has a centre
// but no limits, and a warning says so.
func PChart(numerator, denominator []float64, o Options) (*Chart, error) {
	if len(numerator) != len(denominator) {
		return nil, fmt.Errorf("p chart: %d numerators and %d denominators: %w", len(numerator), len(denominator), ErrBadValue)
	}
	with, rows := 0, 0.0
	for i, d := range denominator {
		n := numerator[i]
		if !(n >= 0) || !(d >= n) || d > largest {
			return nil, fmt.Errorf("p chart: %v of %v in period %d: %w", n, d, i+1, ErrBadValue)
		}
		if d > 0 {
			with++
		}
		rows += d
	}
	if len(denominator) > 0 && rows == 0 {
		return nil, fmt.Errorf("p chart of %s: %w", periods(len(denominator)), ErrNoDenominator)
	}
	if with < MinPoints {
		return nil, fmt.Errorf("p chart: %s with a value, %d are needed: %w", periods(with), MinPoints, ErrFewPoints)
	}
	c, err := newChart(KindP, len(numerator), o)
	if err != nil {
		return nil, fmt.Errorf("p chart: %w", err)
	}
	for i := range c.Points {
		p := &c.Points[i]
		p.Numerator, p.Denominator = numerator[i], denominator[i]
		if p.Denominator > 0 {
			p.Value, p.HasValue = p.Numerator/p.Denominator, true
		}
	}
	for k := range c.Phases {
		c.proportionLimits(k, o)
	}
	c.finish()
	c.dispersion()
	return c, nil
}

func (c *Chart) proportionLimits(k int, o Options) {
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
	case num == den:
		c.warn("no-variation", c.about(k), "Every row was counted in the periods that set the limits, so there are no limits.")
		return
	}
	ph.HasLimits = true
	mean := den / float64(len(pts))
	if e := mean * math.Min(ph.Centre, 1-ph.Centre); e < MinExpected {
		what := "that count"
		if ph.Centre > 0.5 {
			what = "that do not count"
		}
		c.warn("few-expected", c.about(k), "On average %.1f rows %s are expected in a period, fewer than %d, so the limits are crude: a longer period would serve better.",
			e, what, MinExpected)
	}
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
		prev, first := 0.0, true
		for _, i := range c.measured(k) {
			p := c.Points[i]
			z := (p.Value - p.Centre) / math.Sqrt(p.Centre*(1-p.Centre)/p.Denominator)
			if !first {
				sum += math.Abs(z - prev)
				n++
			}
			prev, first = z, false
			points++
		}
	}
	if n == 0 {
		return
	}
	c.SigmaZ, c.HasSigmaZ = sum/float64(n)/d2, true
	// The mean moving range of k independent standard normal values, over
	// d2, has variance near 0.826/k.
	if c.SigmaZ > 1+1.645*math.Sqrt(0.826/float64(points)) {
		c.warn("overdispersed", "", "The periods differ from one another %.1f times as much as chance alone would make them, so points outside the limits "+
			"are likelier than the limits suggest: periods may mix different kinds of work.", c.SigmaZ)
	}
}
