package main

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"

	"plybook/analysis/regress"
	"plybook/analysis/survival"
)

var errNone = errors.New("no interval")

func scenarios() []scenario {
	var out []scenario
	for _, n := range []int{20, 40, 100, 300} {
		out = append(out, coxScenarios(n)...)
	}
	for _, n := range []int{20, 40, 100, 300} {
		out = append(out, meanDifference(n))
	}
	for _, n := range []int{20, 40, 100, 300} {
		out = append(out, incidence(n))
	}
	for _, n := range []int{20, 40, 100, 300} {
		out = append(out, repeated(n, false), repeated(n, true))
	}
	for _, n := range []int{30, 60, 150} {
		out = append(out, visits(n)...)
	}
	for _, n := range []int{8, 12, 20, 60} {
		out = append(out, fewLimbsScenarios(n)...)
		out = append(out, spreadScenarios(n)...)
	}
	for _, n := range []int{8, 20, 60} {
		out = append(out, clusteredScenarios(n)...)
		out = append(out, outcomeScenarios(n, regress.Logistic)...)
		out = append(out, outcomeScenarios(n, regress.Poisson)...)
	}
	for _, n := range []int{8, 20, 60} {
		out = append(out, foretoldScenarios(n)...)
	}
	for _, n := range []int{8, 30} {
		out = append(out, settlingScenarios(n, false)...)
		out = append(out, settlingScenarios(n, true)...)
	}
	return out
}

// coxScenarios are the log ratio of sockets within persons and that of
// persons, with the errors that allow for persons and with those that do not.
func coxScenarios(persons int) []scenario {
	fit := func(rng *rand.Rand, column int, robust bool) (interval, error) {
		rows := lives(rng, persons, true, true)
		d := survival.CoxData{X: make([][]float64, 2), Names: []string{"second", "other"}}
		number := map[bool]float64{true: 1}
		for _, s := range rows {
			d.Time, d.Event, d.Cluster = append(d.Time, s.time), append(d.Event, s.cause > 0), append(d.Cluster, s.person)
			d.X[0], d.X[1] = append(d.X[0], number[s.second]), append(d.X[1], number[s.other])
		}
		c, err := survival.FitCox(d, survival.CoxOptions{})
		if err != nil {
			return interval{}, err
		}
		se := c.RobustStdErr()[column]
		if !robust {
			se = c.StdErr()[column]
		}
		return interval{c.Coef[column], se, c.Coef[column] - z975*se, c.Coef[column] + z975*se}, nil
	}
	one := func(name string, truth float64, column int, robust bool) scenario {
		return scenario{name, fmt.Sprintf("%d persons, %d sockets", persons, persons*5/2), truth, func(rng *rand.Rand) (interval, error) { return fit(rng, column, robust) }}
	}
	return []scenario{
		one("Cox, log hazard ratio of sockets, by person", logSecond, 0, true),
		one("Cox, log hazard ratio of persons, by person", logOther, 1, true),
		one("Cox, log hazard ratio of persons, persons left out of account", logOther, 1, false),
	}
}

// meanDifference compares two groups, in which the same persons have
// sockets, by the mean time in use within the horizon.
func meanDifference(persons int) scenario {
	truth := integral(func(t float64) float64 { return alive(t, logSecond) - alive(t, 0) }, horizon)
	return scenario{"difference of mean time in use (365 days), by person", fmt.Sprintf("%d persons, %d sockets", persons, persons*5/2), truth, func(rng *rand.Rand) (interval, error) {
		var groups [2]survival.Data
		for _, s := range lives(rng, persons, true, false) {
			g := &groups[0]
			if s.second {
				g = &groups[1]
			}
			g.Time, g.Cause, g.Cluster = append(g.Time, s.time), append(g.Cause, s.cause), append(g.Cluster, s.person)
		}
		var curves [2]*survival.Curve
		for k := range groups {
			var err error
			if curves[k], err = survival.KaplanMeier(groups[k], survival.CurveOptions{}); err != nil {
				return interval{}, err
			}
		}
		d, err := survival.RMSTDifference(curves[0], curves[1], horizon, 0)
		switch {
		case err != nil:
			return interval{}, err
		case !d.HasTest:
			return interval{}, errNone
		}
		return interval{d.Estimate, d.StdErr, d.Low, d.High}, nil
	}}
}

func incidence(persons int) scenario {
	truth := causeOne * (1 - alive(horizon, 0))
	return scenario{"cumulative incidence at 365 days, by person", fmt.Sprintf("%d persons, %d sockets", persons, persons*5/2), truth, func(rng *rand.Rand) (interval, error) {
		var d survival.Data
		for _, s := range lives(rng, persons, false, false) {
			d.Time, d.Cause, d.Cluster = append(d.Time, s.time), append(d.Cause, s.cause), append(d.Cluster, s.person)
		}
		r, err := survival.CumulativeIncidence(d, 2, survival.CurveOptions{})
		if err != nil {
			return interval{}, err
		}
		causes, _, ok := r.At(horizon)
		if !ok || !causes[0].HasBounds {
			return interval{}, errNone
		}
		p := causes[0]
		return interval{p.Estimate, p.StdErr, p.Low, p.High}, nil
	}}
}

// repeated is the mean number of events of a limb by two years; persons have
// one limb or two.
func repeated(persons int, dying bool) scenario {
	const until = 730.0
	truth, name := eventRate*until, "mean number of events by 730 days, by person"
	if dying {
		truth, name = eventRate*(1-math.Exp(-deathRate*until))/deathRate, "mean number of events by 730 days, deaths counted, by person"
	}
	return scenario{name, fmt.Sprintf("%d persons, %d limbs", persons, persons*4/3), truth, func(rng *rand.Rand) (interval, error) {
		var d survival.RecurrentData
		for p := range persons {
			rate, death := eventRate*gamma(rng, 2), math.Inf(1)
			if dying {
				death = rng.ExpFloat64() / deathRate
			}
			limbs := 1
			if rng.IntN(3) == 0 {
				limbs = 2
			}
			for range limbs {
				c := 365 + 1095*rng.Float64()
				exit := math.Min(c, death)
				var at []float64
				for t := rng.ExpFloat64() / rate; t <= exit; t += rng.ExpFloat64() / rate {
					at = append(at, t)
				}
				d.Exit, d.Events, d.Died, d.Cluster = append(d.Exit, exit), append(d.Events, at), append(d.Died, death <= c), append(d.Cluster, p)
			}
		}
		c, err := survival.MeanCumulative(d, survival.CurveOptions{})
		if err != nil {
			return interval{}, err
		}
		p, ok := c.At(until)
		if !ok || !p.HasBounds {
			return interval{}, errNone
		}
		return interval{p.Estimate, p.StdErr, p.Low, p.High}, nil
	}}
}

// bootstrapDraws are fewer than the 500 that a report makes, so that 2,000
// data sets can be worked through; the limits are a little rougher for it.
const bootstrapDraws = 200

// visits are quantiles of lives seen at visits only, about every 60 days.
func visits(persons int) []scenario {
	one := func(share float64) scenario {
		truth := scale * math.Pow(-math.Log(1-share), 1/tie)
		return scenario{fmt.Sprintf("time by which %g%% had the event, seen at visits, by person", 100*share), fmt.Sprintf("%d persons, %d sockets, %d samples", persons, persons*5/2, bootstrapDraws), truth, func(rng *rand.Rand) (interval, error) {
			var d survival.IntervalData
			for _, s := range unwatched(rng, persons) {
				left, right := 0.0, math.Inf(1)
				for t := 0.0; ; {
					t += math.Ceil(20 + 80*rng.Float64())
					if t > s.until {
						break
					}
					if t >= s.end {
						right = t
						break
					}
					left = t
				}
				d.Left, d.Right, d.Cluster = append(d.Left, left), append(d.Right, right), append(d.Cluster, s.person)
			}
			c, err := survival.Turnbull(d, survival.TurnbullOptions{Draws: bootstrapDraws, Seed: rng.Uint64() | 1})
			if err != nil {
				return interval{}, err
			}
			q := c.Quantile(share)
			out := interval{math.NaN(), math.NaN(), 0, math.Inf(1)}
			if q.Left.OK && q.Right.OK {
				out.estimate = (q.Left.Value + q.Right.Value) / 2
			}
			if q.Low.OK {
				out.low = q.Low.Value
			}
			if q.High.OK {
				out.high = q.High.Value
			}
			return out, nil
		}}
	}
	return []scenario{one(0.25), one(0.5)}
}

// unseen is a life whose end nobody sees as it comes.
type unseen struct {
	person     int
	end, until float64
}

func unwatched(rng *rand.Rand, persons int) []unseen {
	var out []unseen
	for p := range persons {
		f := factor(rng)
		for range 1 + rng.IntN(4) {
			out = append(out, unseen{p, scale * rng.ExpFloat64() / f, 180 + 1280*rng.Float64()})
		}
	}
	return out
}
