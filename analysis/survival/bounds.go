package survival

import (
	"fmt"
	"math"

	"plybook/analysis/stats"
)

// Scale is the scale on which the interval of a probability is made, before
// it is turned back into a probability.
type Scale int

// The scales. The default keeps the interval within 0 and 1 and covers well
// in small groups.
const (
	ComplementaryLogLog Scale = iota // log(-log p)
	Log                              // log p; cut at 1
	Untransformed                    // p itself; cut at 0 and 1
	Logit                            // log(p/(1-p))
)

// CurveOptions are the settings of a curve. The zero value is the default.
type CurveOptions struct {
	Level  float64 // confidence of the intervals, between 0 and 1; 0: 0.95
	Bounds Scale
	// Jackknife takes the errors of a Kaplan-Meier curve or a cumulative
	// hazard from the infinitesimal jackknife even where no cluster repeats, as weights that
	// do not count rows need. Elsewhere it changes nothing.
	Jackknife bool

	z float64 // quantile of the normal distribution for Level
}

func (o CurveOptions) withDefaults() (CurveOptions, error) {
	level, err := levelOrDefault(o.Level)
	if err != nil {
		return o, err
	}
	if o.Bounds < ComplementaryLogLog || o.Bounds > Logit {
		return o, fmt.Errorf("unknown scale %d for the bounds", o.Bounds)
	}
	o.Level, o.z = level, stats.NormalQuantile(0.5+level/2)
	return o, nil
}

func levelOrDefault(level float64) (float64, error) {
	if level == 0 {
		return 0.95, nil
	}
	if !(level > 0 && level < 1) {
		return 0, fmt.Errorf("confidence %g is not between 0 and 1", level)
	}
	return level, nil
}

// Point is a curve at one time.
type Point struct {
	Time      float64
	AtRisk    float64 // weight under observation just before Time
	Events    float64 // weight of events; of the row's own cause for an incidence
	Censored  float64
	Estimate  float64
	StdErr    float64 // on the scale of Estimate; 0 without HasBounds
	Low, High float64 // 0 without HasBounds
	HasBounds bool    // StdErr, Low and High could be computed
}

// rounding is how far sums of many numbers may be off, in shares of them.
const rounding = 1e-12

// bound fills the error and the interval of p. A probability of 0 or 1 has
// no usable error, except at time 0 where it is so by definition. Nor has
// an error of 0, as when all rows belong to one cluster.
func (p *Point) bound(stdErr float64, o CurveOptions) {
	e := p.Estimate
	if !finite(stdErr) || stdErr <= rounding*math.Min(e, 1-e) || e <= 0 || e >= 1-rounding {
		if p.Time == 0 && p.Events == 0 {
			p.Low, p.High, p.HasBounds = e, e, true
		}
		return
	}
	z := o.z
	if z == 0 {
		z = stats.NormalQuantile(0.5 + o.Level/2)
	}
	p.StdErr, p.HasBounds = stdErr, true
	switch o.Bounds {
	case Log:
		h := z * stdErr / e
		p.Low, p.High = e*math.Exp(-h), math.Min(1, e*math.Exp(h))
	case Untransformed:
		p.Low, p.High = math.Max(0, e-z*stdErr), math.Min(1, e+z*stdErr)
	case Logit:
		l, h := math.Log(e)-math.Log1p(-e), z*stdErr/(e*(1-e))
		p.Low, p.High = 1/(1+math.Exp(h-l)), 1/(1+math.Exp(-h-l))
	default:
		l := math.Log(e)
		h := z * stdErr / math.Abs(e*l)
		p.Low, p.High = math.Exp(l*math.Exp(h)), math.Exp(l*math.Exp(-h))
	}
}
