package main

import (
	"fmt"
	"math"
	"math/rand/v2"

	"plybook/analysis/regress"
)

// clusteredScenarios are the limbs of fewLimbs by least squares, with errors
// that allow for limbs and with errors that do not.
func clusteredScenarios(limbs int) []scenario {
	one := func(name string, column int, robust bool) scenario {
		return scenario{"linear, " + name, fmt.Sprintf("%d limbs, %d visits", limbs, limbs*11/2), []float64{fallML, smallerML}[column], func(rng *rand.Rand) (interval, error) {
			v := fewLimbs(rng, limbs)
			d := regress.LinearData{Y: v.Y, X: v.X, Names: v.Names, Intercept: true}
			if robust {
				d.Cluster = v.Group
			}
			m, err := regress.FitLinear(d, regress.LinearOptions{})
			if err != nil {
				return interval{}, err
			}
			return ofCoefficient(m.Coef[1+column])
		}}
	}
	return []scenario{
		one("change a month, by limb (CR2)", 0, true),
		one("difference between limbs, by limb (CR2)", 1, true),
		one("difference between limbs, limbs left out of account", 1, false),
	}
}

func ofCoefficient(b regress.Coefficient) (interval, error) {
	if !b.Tested {
		return interval{}, errNone
	}
	return interval{b.Estimate, b.SE, b.Low, b.High}, nil
}

// Truth of what happens at visits: the log odds that a socket fits rise by
// 0.15 a month and are 0.6 lower in half the persons; those of counts likewise
// in their logarithm. Persons go together by a factor that leaves the odds, and
// the mean, over all persons as they are; that of counts is gamma with
// variance 0.5.
const (
	riseLog, lowerLog = 0.15, -0.6
	together          = 0.3 // correlation of the normal numbers behind yes and no
)

// outcomes draws persons seen three to nine times, at irregular months: yes
// and no, or counts.
func outcomes(rng *rand.Rand, persons int, family regress.Family) regress.GLMData {
	d := regress.GLMData{X: make([][]float64, 2), Names: []string{"month", "other"}}
	for u := range persons {
		shared, factor := rng.NormFloat64(), gamma(rng, 2)
		at := 2 * rng.Float64()
		for range 3 + rng.IntN(7) {
			other := float64(u % 2)
			eta := riseLog*at + lowerLog*other
			y := 0.0
			if family == regress.Logistic {
				z := math.Sqrt(together)*shared + math.Sqrt(1-together)*rng.NormFloat64()
				if 0.5*math.Erfc(-z/math.Sqrt2) < 1/(1+math.Exp(-eta)) {
					y = 1
				}
			} else {
				mean := factor * math.Exp(eta)
				for sum := rng.ExpFloat64(); sum < mean; sum += rng.ExpFloat64() {
					y++
				}
			}
			d.Y, d.X[0], d.X[1] = append(d.Y, y), append(d.X[0], at), append(d.X[1], other)
			d.Cluster = append(d.Cluster, u)
			at += 0.3 + 1.2*rng.ExpFloat64()
		}
	}
	d.Order = d.X[0]
	return d
}

// outcomeScenarios are generalised estimating equations with exchangeable
// rows and CR2.
func outcomeScenarios(persons int, family regress.Family) []scenario {
	one := func(name string, column int) scenario {
		return scenario{fmt.Sprintf("%v, %s, exchangeable, by person (CR2)", family, name), fmt.Sprintf("%d persons, %d visits", persons, 6*persons), []float64{riseLog, lowerLog}[column], func(rng *rand.Rand) (interval, error) {
			m, err := regress.FitGLM(family, outcomes(rng, persons, family), regress.GLMOptions{Correlation: regress.Exchangeable})
			if err != nil {
				return interval{}, err
			}
			return ofCoefficient(m.Coef[1+column])
		}}
	}
	return []scenario{one("change a month", 0), one("difference between persons", 1)}
}
