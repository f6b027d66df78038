package main

import (
	"fmt"
	"math"
	"math/rand/v2"

	"plybook/analysis/mixed"
)

// Truth of readings to come: limbs at 5 (sd 2) change by 0.1 a month (sd 0.08)
// and are read 4 to 7 times, with a scatter of 1, the last time 6 months before
// the reading foretold. Four who measure differ by an sd of 0.7 where they do,
// the fourth scatters twice as far where sizes differ, and what is left of a
// reading after a month is a share of 1/e^(1/3) where readings go together.
const (
	sdTaker   = 0.7
	rough     = 2.0
	rangeOf   = 3.0
	sdPaceOf  = 0.08
	sdLevelOf = 2.0
)

// nextReading draws limbs and the reading of the first of them to come, taken
// by the fourth who measures or by one not yet seen.
func nextReading(rng *rand.Rand, limbs int, kind string) (mixed.Data, mixed.Options, mixed.Reading, float64) {
	d := mixed.Data{Intercept: true, RandomIntercept: true, X: make([][]float64, 1), Names: []string{"month"}}
	var o mixed.Options
	var takers [4]float64
	for k := range takers {
		takers[k] = sdTaker * rng.NormFloat64()
	}
	var by []int
	var truth float64
	next := mixed.Reading{Kind: mixed.Unknown}
	for g := range limbs {
		level, pace, at, left := 5+sdLevelOf*rng.NormFloat64(), 0.1, 0.0, rng.NormFloat64()
		if kind != "readings that go together" {
			pace += sdPaceOf * rng.NormFloat64()
		}
		step := func(months float64) float64 {
			if kind != "readings that go together" {
				return rng.NormFloat64()
			}
			r := math.Exp(-months / rangeOf)
			left = r*left + math.Sqrt(1-r*r)*rng.NormFloat64()
			return left
		}
		read := func(who int, months float64) float64 {
			y, e := level+pace*at, step(months)
			if kind == "of one who measures" || kind == "of any who measures" {
				y += takers[who]
			}
			if kind == "by size of scatter" && who == 3 {
				e *= rough
			}
			return y + e
		}
		for range 4 + g%4 {
			months := 1 + 4*rng.Float64()
			at += months
			who := rng.IntN(4)
			d.X[0], d.Group, by = append(d.X[0], at), append(d.Group, g), append(by, who)
			d.Y = append(d.Y, read(who, months))
		}
		if g == 0 {
			at += 6
			next.X, next.Time = []float64{1, at}, at
			if kind == "of any who measures" {
				known := takers[3]
				takers[3] = sdTaker * rng.NormFloat64() // somebody new
				truth = read(3, 6)
				takers[3] = known
				continue
			}
			truth = read(3, 6)
		}
	}
	switch kind {
	case "of one who measures", "of any who measures":
		d.Crossed = []mixed.Level{{Name: "measurer", Labels: by}}
		if kind == "of one who measures" {
			next.Crossed = []int{3}
		}
	case "by size of scatter":
		d.Spread, next.Kind = by, 3
	case "readings that go together":
		o.Correlation, d.Time = mixed.ContinuousAR1, d.X[0]
		return d, o, next, truth
	}
	d.Z, d.ZNames, next.Z = d.X, d.Names, next.X[1:]
	return d, o, next, truth
}

// foretoldScenarios are limits of the next reading of a limb less that reading,
// which hold 0.
func foretoldScenarios(limbs int) []scenario {
	var out []scenario
	for _, kind := range []string{"paces differ", "of one who measures", "of any who measures", "by size of scatter", "readings that go together"} {
		out = append(out, scenario{"foretold, next reading, " + kind, fmt.Sprintf("%d limbs", limbs), 0, func(rng *rand.Rand) (interval, error) {
			d, o, next, truth := nextReading(rng, limbs, kind)
			m, err := mixed.Fit(d, o)
			if err != nil {
				return interval{}, err
			}
			f, err := m.Foreteller(0)
			if err != nil {
				return interval{}, err
			}
			v, err := f.At(next)
			return interval{v.Estimate - truth, v.SE, v.Low - truth, v.High - truth}, err
		}})
	}
	return out
}
