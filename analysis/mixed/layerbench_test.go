package mixed

import (
	"math/rand/v2"
	"testing"

	"plybook/analysis/internal/peers"
)

// pairs are visits of persons, every fourth of whom has two limbs, each limb
// seen four times, in part with ten clinicians who cut across them, or with three kinds
// of rows that scatter by different amounts.
func pairs(persons int, clinicians, kinds bool) Data {
	r := rand.New(rand.NewPCG(5, 5))
	d := Data{X: make([][]float64, 2), Names: []string{"t", "g"}, Intercept: true, RandomIntercept: true, GroupName: "limb"}
	who := make([]float64, 10)
	for k := range who {
		who[k] = 3 * r.NormFloat64()
	}
	limb := 0
	var person, by []int
	for p := range persons {
		up := 5 * r.NormFloat64()
		for range 1 + max(0, 1-p%4) {
			level, pace := 3*r.NormFloat64(), 0.4*r.NormFloat64()
			for range 4 {
				t, k := float64(r.IntN(365))/30.4375, r.IntN(10)
				y, scatter := 100+up+level+(pace-0.8)*t+1.2*float64(p%2), 1.5
				if clinicians {
					y += who[k]
				}
				if kinds {
					scatter *= 1 + 0.4*float64(k%3)
					d.Spread = append(d.Spread, k%3)
				}
				d.Y = append(d.Y, y+scatter*r.NormFloat64())
				d.Group, person, by = append(d.Group, limb), append(person, p), append(by, k)
				d.X[0], d.X[1] = append(d.X[0], t), append(d.X[1], float64(p%2))
			}
			limb++
		}
	}
	d.Z, d.ZNames = d.X[:1], d.Names[:1]
	d.Above = &Level{Name: "person", Labels: person}
	if clinicians {
		d.Crossed = []Level{{Name: "clinician", Labels: by}}
	}
	return d
}

func benchmarkLayers(b *testing.B, d Data, pkg, call string) {
	b.ResetTimer()
	for range b.N {
		if _, err := Fit(d, Options{}); err != nil {
			b.Fatal(err)
		}
	}
	b.StopTimer()
	number := func(labels []int) []float64 {
		out := make([]float64, len(d.Y))
		for i := range labels {
			out[i] = float64(labels[i])
		}
		return out
	}
	var by []int
	if len(d.Crossed) > 0 {
		by = d.Crossed[0].Labels
	}
	peers.Against(b, [][]float64{d.Y, number(d.Group), number(d.Above.Labels), number(by), number(d.Spread), d.X[0], d.X[1]}, pkg,
		`d <- data.frame(y = m[, 1], limb = m[, 2], person = m[, 3], by = m[, 4], kind = factor(m[, 5]), t = m[, 6], g = m[, 7]); rm(m)`, call)
}

// 20,000 visits of 5,000 limbs of 4,000 persons: persons above limbs, with clinicians who cut across them, and with scatter
// of three sizes, everything a report prints made, with the time of R's
// packages lme4 1.1-31 and nlme 3.1-162 for the same rows beside it: go test
// -run - -bench Layers ./analysis/mixed.
//
// Measured on two cores with four to ten other processes at work: nested 0.6 to
// 1.1 s beside 2.0 to 2.4 s, crossed 1.8 to 4.1 s beside 4.5 to 7.9 s, scatter 3.1
// s beside 16 to 20 s; of processor time 0.5, 1.1 and 1.9 s.
func BenchmarkLayersNested(b *testing.B) {
	benchmarkLayers(b, pairs(4000, false, false), "lme4", "suppressWarnings(lmer(y ~ t + g + (1 | person) + (t | limb), d))")
}

func BenchmarkLayersCrossed(b *testing.B) {
	benchmarkLayers(b, pairs(4000, true, false), "lme4", "suppressWarnings(lmer(y ~ t + g + (1 | person) + (t | limb) + (1 | by), d))")
}

func BenchmarkLayersSpread(b *testing.B) {
	benchmarkLayers(b, pairs(4000, false, true), "nlme", "lme(y ~ t + g, random = list(person = ~ 1, limb = ~ t), weights = varIdent(form = ~ 1 | kind), data = d)")
}

// Adjusted errors beside the fit that they belong to.
func BenchmarkKenwardRoger(b *testing.B) {
	for name, d := range map[string]Data{"visits": visits(100_000, false), "crossed": pairs(4000, true, false)} {
		b.Run(name, func(b *testing.B) {
			for range b.N {
				if _, err := Fit(d, Options{Freedom: KenwardRoger}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
