// Package planning says how many events and how many sockets a comparison of
// times to an event needs, and what a given number can tell.
//
// All of it rests on the large-sample distribution of the score of a
// proportional-hazards model: with D events, a column of variance V and a
// hazard ratio R, the estimated log R has variance about 1/(D V)
// (Schoenfeld 1983, Biometrics 39:499; for columns that are numbers and for
// other columns in the model, Hsieh and Lavori 2000, Control Clin Trials
// 21:552; for the subdistribution ratio of one competing cause, Latouche,
// Porcher and Chevret 2004, Stat Med 23:3263).
package planning

import (
	"errors"
	"fmt"
	"math"

	"plybook/analysis/stats"

	"gonum.org/v1/gonum/stat/distuv"
)

// Errors of a plan that cannot be worked out.
var (
	ErrRatio  = errors.New("the ratio to be seen is above 0 and not 1")
	ErrRange  = errors.New("outside its range")
	ErrEvents = errors.New("no event is expected within the follow-up")
)

// Plan is a comparison that is thought of.
type Plan struct {
	Ratio        float64 // hazard ratio (or subdistribution ratio) to be seen, for one unit of the column
	Confidence   float64 // of the two-sided interval; 0: 0.95
	Variance     float64 // of the column among the sockets: p(1-p) where it is one of two groups
	Explained    float64 // share of that variance that the model's other columns explain, from 0 to below 1
	EventShare   float64 // share of sockets with the event within the follow-up, above 0, at most 1
	DesignEffect float64 // times as many sockets as if all were of different persons; 0: 1
	Lost         float64 // share of sockets lost from sight before they can tell, from 0 to below 1
}

func (p Plan) withDefaults() Plan {
	if p.Confidence == 0 {
		p.Confidence = 0.95
	}
	if p.DesignEffect == 0 {
		p.DesignEffect = 1
	}
	return p
}

// Validate reports the first value out of its range (ErrRatio, ErrRange,
// ErrEvents).
func (p Plan) Validate() error {
	p = p.withDefaults()
	out := func(what string) error { return fmt.Errorf("%s: %w", what, ErrRange) }
	switch {
	case !(p.Ratio > 0) || math.IsInf(p.Ratio, 1) || p.Ratio == 1:
		return ErrRatio
	case !(p.Confidence > 0 && p.Confidence < 1):
		return out("the confidence")
	case !(p.Variance > 0) || math.IsInf(p.Variance, 1):
		return out("the variance of the column")
	case !(p.Explained >= 0 && p.Explained < 1):
		return out("the share explained by other columns")
	case !(p.EventShare > 0):
		return ErrEvents
	case !(p.EventShare <= 1):
		return out("the share of events")
	case !(p.DesignEffect >= 1) || math.IsInf(p.DesignEffect, 1):
		return out("the design effect")
	case !(p.Lost >= 0 && p.Lost < 1):
		return out("the share lost")
	}
	return nil
}

// perEvent is the information of one event about the log of the ratio.
func (p Plan) perEvent() float64 { return p.Variance * (1 - p.Explained) / p.DesignEffect }

// Events is the number of events needed to see the ratio with the power,
// D = DE (z(1-a/2) + z(power))^2 / (V (1-R2) log(ratio)^2), not rounded.
func (p Plan) Events(power float64) (float64, error) {
	if err := p.Validate(); err != nil {
		return 0, err
	}
	if !(power > 0 && power < 1) {
		return 0, fmt.Errorf("the power: %w", ErrRange)
	}
	p = p.withDefaults()
	z := stats.NormalQuantile((1+p.Confidence)/2) + stats.NormalQuantile(power)
	if z <= 0 {
		return 0, fmt.Errorf("the power is no greater than chance gives: %w", ErrRange)
	}
	log := math.Log(p.Ratio)
	return z * z / (p.perEvent() * log * log), nil
}

// Sockets is the number of sockets to watch so that the events needed,
// rounded up, are expected among those not lost.
func (p Plan) Sockets(power float64) (int, error) {
	d, err := p.Events(power)
	if err != nil {
		return 0, err
	}
	n := math.Ceil(d-1e-9) / (p.EventShare * (1 - p.Lost))
	if n > math.MaxInt32 {
		return 0, fmt.Errorf("the number of sockets: %w", ErrRange)
	}
	return int(math.Ceil(n - 1e-9)), nil
}

// Power is the power with which a number of sockets would show the ratio.
// The chance of an estimate beyond the limits on the wrong side is left out.
func (p Plan) Power(sockets float64) (float64, error) {
	if err := p.Validate(); err != nil {
		return 0, err
	}
	if !(sockets >= 0) || math.IsInf(sockets, 1) {
		return 0, fmt.Errorf("the number of sockets: %w", ErrRange)
	}
	p = p.withDefaults()
	d := p.EventsFrom(sockets)
	z := math.Sqrt(d*p.perEvent())*math.Abs(math.Log(p.Ratio)) - stats.NormalQuantile((1+p.Confidence)/2)
	return distuv.UnitNormal.CDF(z), nil
}

// EventsFrom is the number of events expected among sockets.
func (p Plan) EventsFrom(sockets float64) float64 { return sockets * p.EventShare * (1 - p.Lost) }

// EventShares is the share of sockets with the event in a group whose share
// without it by t is free(t), and in one whose hazard is ratio times that.
// Sockets come in evenly over accrual and the last is followed for follow:
// the mean over that stretch is taken by Simpson's rule as Schoenfeld does.
// free reports false where the share is not known.
func EventShares(free func(t float64) (float64, bool), ratio, follow, accrual float64) (group, other float64, err error) {
	if !(ratio > 0) || math.IsInf(ratio, 1) {
		return 0, 0, ErrRatio
	}
	if !(follow > 0) || !(accrual >= 0) {
		return 0, 0, fmt.Errorf("the follow-up: %w", ErrRange)
	}
	at := []struct{ t, weight float64 }{{follow, 1}}
	if accrual > 0 {
		at = []struct{ t, weight float64 }{{follow, 1.0 / 6}, {follow + accrual/2, 4.0 / 6}, {follow + accrual, 1.0 / 6}}
	}
	for _, x := range at {
		s, ok := free(x.t)
		if !ok || !(s >= 0 && s <= 1) {
			return 0, 0, fmt.Errorf("the share without the event after %g days is not known: %w", x.t, ErrRange)
		}
		group += x.weight * (1 - s)
		other += x.weight * (1 - math.Pow(s, ratio))
	}
	return group, other, nil
}

// DesignEffect is how many times as many sockets are needed where some are
// of one person: 1 + (m-1) r, with m the mean size of the cluster that a
// socket stands in and r the correlation within (Kish 1965, Survey Sampling,
// chapter 5). It holds for columns that do not vary within a person, and is
// on the safe side for those that do.
func DesignEffect(sizes []int, correlation float64) (float64, error) {
	var n, sq float64
	for _, m := range sizes {
		if m < 1 {
			return 0, fmt.Errorf("a person with %d sockets: %w", m, ErrRange)
		}
		n, sq = n+float64(m), sq+float64(m)*float64(m)
	}
	if n == 0 {
		return 0, stats.ErrNoRows
	}
	if !(correlation >= 0 && correlation <= 1) {
		return 0, fmt.Errorf("the correlation: %w", ErrRange)
	}
	return 1 + (sq/n-1)*correlation, nil
}
