package main

import (
	"fmt"
	"math"
	"math/rand/v2"

	"plybook/analysis/maturation"
)

// Truth of settling limbs: they come to rest at about 1150 ml (sd 160), 34
// percent more (sd 7) at amputation; of what is left a share of 1/e is left
// after 110 days, and readings scatter by 14 ml. Where paces differ, so do the
// logarithms of those days, by 0.25.
const (
	plateauML, sdPlateauML = 1150.0, 160.0
	dropShare, sdDropShare = 0.34, 0.07
	settlingDays, sdRate   = 110.0, 0.25
	sdSettledML            = 14.0
	ahead                  = 60.0 // days from the last reading to the next
	little                 = 0.02
)

// settlers are limbs that settle, and the truth of the first of them.
type settlers struct {
	data                maturation.Data
	plateau, drop, days float64
	last                float64
}

// volume of the first limb.
func (s settlers) volume(t float64) float64 { return s.plateau * (1 + s.drop*math.Exp(-t/s.days)) }

func settle(rng *rand.Rand, limbs int, ownRates bool) settlers {
	var s settlers
	for g := range limbs {
		a, d, days := plateauML+sdPlateauML*rng.NormFloat64(), dropShare+sdDropShare*rng.NormFloat64(), settlingDays
		if ownRates {
			days *= math.Exp(sdRate * rng.NormFloat64())
		}
		at := 20 + 40*rng.Float64()
		for k := range 4 + rng.IntN(5) {
			if k > 0 {
				at += 15 + 100*rng.Float64()
			}
			s.data.Y = append(s.data.Y, a*(1+d*math.Exp(-at/days))+sdSettledML*rng.NormFloat64())
			s.data.Time, s.data.Group = append(s.data.Time, at), append(s.data.Group, g)
		}
		if g == 0 {
			s.plateau, s.drop, s.days, s.last = a, d, days, at
		}
	}
	return s
}

// settlingScenarios are what is told of the average limb, and of one limb:
// limits less that limb's own truth hold 0.
func settlingScenarios(limbs int, ownRates bool) []scenario {
	setting := fmt.Sprintf("%d limbs, %d readings", limbs, 6*limbs)
	if ownRates {
		setting += ", rates of their own"
	}
	one := func(name string, truth float64, read func(*rand.Rand, settlers, *maturation.Model) (maturation.Value, float64, error)) scenario {
		return scenario{"settling, " + name, setting, truth, func(rng *rand.Rand) (interval, error) {
			s := settle(rng, limbs, ownRates)
			m, err := maturation.Fit(s.data, maturation.Options{VaryInitial: true, VaryRate: ownRates})
			if err != nil {
				return interval{}, err
			}
			v, own, err := read(rng, s, m)
			return interval{v.Estimate - own, v.SE, v.Low - own, v.High - own}, err
		}}
	}
	coefficient := func(column int) func(*rand.Rand, settlers, *maturation.Model) (maturation.Value, float64, error) {
		return func(_ *rand.Rand, _ settlers, m *maturation.Model) (maturation.Value, float64, error) {
			c := m.Coef[column]
			return maturation.Value{Estimate: c.Estimate, SE: c.SE, Low: c.Low, High: c.High}, 0, nil
		}
	}
	left := little / (1 - little)
	return []scenario{
		one("plateau of the average limb", plateauML, coefficient(0)),
		one("drop of the average limb", dropShare, coefficient(1)),
		one("log rate of the average limb", -math.Log(settlingDays), coefficient(2)),
		one("time by which 2% is left, average limb", settlingDays*math.Log(dropShare/left), func(_ *rand.Rand, _ settlers, m *maturation.Model) (maturation.Value, float64, error) {
			v, err := m.AverageSettled(nil, little)
			return v, 0, err
		}),
		one("a limb's plateau", 0, func(_ *rand.Rand, s settlers, m *maturation.Model) (maturation.Value, float64, error) {
			v, err := m.Plateau(0)
			return v, s.plateau, err
		}),
		one("what a limb has still to lose", 0, func(_ *rand.Rand, s settlers, m *maturation.Model) (maturation.Value, float64, error) {
			v, err := m.Amount(0, s.last)
			return v, s.plateau - s.volume(s.last), err
		}),
		one("a limb's volume 60 days on", 0, func(_ *rand.Rand, s settlers, m *maturation.Model) (maturation.Value, float64, error) {
			v, err := m.At(0, s.last+ahead)
			return v, s.volume(s.last + ahead), err
		}),
		one("a limb's next reading 60 days on", 0, func(rng *rand.Rand, s settlers, m *maturation.Model) (maturation.Value, float64, error) {
			v, err := m.Next(0, s.last+ahead)
			return v, s.volume(s.last+ahead) + sdSettledML*rng.NormFloat64(), err
		}),
	}
}
