package answer

import (
	"math"

	"plybook/analysis/survival"
	"plybook/analysis/table"
)

// Where a curve crosses a share is the day on which one life ended, and where
// it stops is the day up to which one life was watched. Public reports give
// such times in whole months (half months up to three), and not at all for
// groups in which few had the event: their curve is one life after another.

// tellsTimes says whether times at which a group's curve crosses a share may
// be given.
func (w *work) tellsTimes(events int) bool { return !w.smallCount(events) }

// wholeMonths is a time as a public report gives it.
func (w *work) wholeMonths(days float64) float64 {
	if !w.public() {
		return days
	}
	unit := table.DaysPerYear / 12
	if days < 3*unit {
		unit /= 2
	}
	return math.Max(1, math.Round(days/unit)) * unit
}

func (w *work) limitInMonths(l survival.Limit) survival.Limit {
	if l.OK && l.Value > 0 {
		l.Value = w.wholeMonths(l.Value)
	}
	return l
}

// quantile is that of a curve as it may be told.
func (w *work) quantile(c *survival.Curve, p float64) survival.Quantile {
	q := c.Quantile(p)
	q.Estimate, q.Low, q.High = w.limitInMonths(q.Estimate), w.limitInMonths(q.Low), w.limitInMonths(q.High)
	return q
}

// intervalQuantile is that of a curve known from visits, as it may be told.
func (w *work) intervalQuantile(c *survival.IntervalCurve, p float64) survival.IntervalQuantile {
	q := c.Quantile(p)
	q.Left, q.Right = w.limitInMonths(q.Left), w.limitInMonths(q.Right)
	q.Low, q.High = w.limitInMonths(q.Low), w.limitInMonths(q.High)
	return q
}

const aQuarter = table.DaysPerYear / 4

// wholeQuarters is the end of a curve as a public report gives it: the last
// quarter of a year before it.
func (w *work) wholeQuarters(last float64) float64 {
	if !w.public() || math.IsInf(last, 1) || last < aQuarter {
		return last
	}
	return math.Floor(last/aQuarter) * aQuarter
}

// periodEnd is the end of the period over which times in use are averaged where
// none is asked for: the end of the shortest curve, and for the public the last
// quarter of a year before it at which the curve of every group may be shown,
// those left out of which nothing can be.
func (w *work) periodEnd(fits []fitted, last float64) float64 {
	ends := w.wholeQuarters(last)
	if ends == last {
		return last
	}
	for at := ends; at > 0; at -= aQuarter {
		some, all := false, true
		for _, f := range fits {
			if !w.tellsTimes(f.counted()) {
				continue
			}
			p, ok := f.curve.At(at)
			open := ok && f.open.allow(at, p.AtRisk)
			some, all = some || open, all && open
		}
		if some && all {
			return at
		}
	}
	return ends
}

// meanTold says whether the mean time in use within a period may be given: an
// area up to a time tells what the curve does there.
func (w *work) meanTold(f fitted, until float64) bool {
	if !w.public() {
		return true
	}
	p, ok := f.curve.At(until)
	return !ok || f.open.allow(until, p.AtRisk)
}
