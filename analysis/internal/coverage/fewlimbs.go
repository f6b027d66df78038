package main

import (
	"fmt"
	"math"
	"math/rand/v2"

	"plybook/analysis/mixed"
)

// Truth of few limbs: a volume falls by 6 ml a month, and that of every third
// limb is 30 ml smaller; limbs differ in their level (40 ml) and in their slope
// (3 ml a month), and readings scatter by 12 ml.
const (
	fallML, smallerML         = -6.0, -30.0
	sdLevelML, sdFallML, sdML = 40.0, 3.0, 12.0
)

// fewLimbs draws limbs seen two to nine times, at irregular months of a year.
func fewLimbs(rng *rand.Rand, limbs int) mixed.Data {
	d := mixed.Data{X: make([][]float64, 2), Names: []string{"month", "other"}, Intercept: true, RandomIntercept: true}
	for u := range limbs {
		level, slope, other := 1200+sdLevelML*rng.NormFloat64(), fallML+sdFallML*rng.NormFloat64(), 0.0
		if u%3 == 0 {
			other = 1
		}
		for range 2 + rng.IntN(8) {
			t := 12 * rng.Float64()
			d.Y = append(d.Y, level+smallerML*other+slope*t+sdML*rng.NormFloat64())
			d.X[0], d.X[1], d.Group = append(d.X[0], t), append(d.X[1], other), append(d.Group, u)
		}
	}
	d.Z, d.ZNames = d.X[:1], d.Names[:1]
	return d
}

// fewLimbsScenarios are the intervals of a mixed model of few limbs by both
// ways of finding degrees of freedom.
func fewLimbsScenarios(limbs int) []scenario {
	var out []scenario
	for _, how := range []struct {
		name    string
		freedom mixed.Freedom
	}{{"Satterthwaite", mixed.Satterthwaite}, {"Kenward and Roger", mixed.KenwardRoger}} {
		for column, what := range []string{"change a month", "difference between limbs"} {
			out = append(out, scenario{"mixed, " + what + ", " + how.name, fmt.Sprintf("%d limbs, %d visits", limbs, limbs*11/2), []float64{fallML, smallerML}[column],
				func(rng *rand.Rand) (interval, error) {
					m, err := mixed.Fit(fewLimbs(rng, limbs), mixed.Options{Freedom: how.freedom})
					if err != nil {
						return interval{}, err
					}
					c := m.Coef[1+column]
					return interval{c.Estimate, c.SE, c.Low, c.High}, nil
				}})
		}
	}
	return out
}

// spreadScenarios are how far limbs differ in level and in slope, and readings
// within one, and what is told of the fixed effects where slopes that differ
// are taken to be the same.
func spreadScenarios(limbs int) []scenario {
	setting := fmt.Sprintf("%d limbs, %d visits", limbs, limbs*11/2)
	var out []scenario
	for row, c := range []struct {
		name  string
		truth float64
	}{{"sd of levels", sdLevelML}, {"sd of slopes", sdFallML}, {"sd of readings", sdML}} {
		out = append(out, scenario{"mixed, " + c.name, setting, c.truth, func(rng *rand.Rand) (interval, error) {
			m, err := mixed.Fit(fewLimbs(rng, limbs), mixed.Options{})
			if err != nil {
				return interval{}, err
			}
			at := []int{0, 1, len(m.Variance) - 1}[row]
			l := m.VarianceLimits()[at]
			if l.DF == 0 {
				return interval{}, errNone
			}
			return interval{m.Variance[at].SD, math.NaN(), math.Sqrt(l.Low), math.Sqrt(l.High)}, nil
		}})
	}
	return append(out, scenario{"mixed, change a month, slopes taken to be the same", setting, fallML, func(rng *rand.Rand) (interval, error) {
		d := fewLimbs(rng, limbs)
		d.Z, d.ZNames = nil, nil
		m, err := mixed.Fit(d, mixed.Options{Freedom: mixed.KenwardRoger})
		if err != nil {
			return interval{}, err
		}
		c := m.Coef[1]
		return interval{c.Estimate, c.SE, c.Low, c.High}, nil
	}})
}
