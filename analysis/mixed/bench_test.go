package mixed

import (
	"math"
	"math/rand/v2"
	"testing"

	"plybook/analysis/internal/peers"
)

// visits are volumes (ml) of limbs at irregular months after delivery, 5 to 15
// of each, the limbs' rows apart from one another if shuffled. The limbs
// differ in level (40 ml) and in their slope (2 ml a month).
func visits(limbs int, shuffled bool) Data {
	r := rand.New(rand.NewPCG(11, 4))
	var limb []int
	for g := range limbs {
		for range 10 + (g%11-5)*(1-g%2*2) {
			limb = append(limb, g)
		}
	}
	n := len(limb)
	level, slope := make([]float64, limbs), make([]float64, limbs)
	for g := range level {
		level[g], slope[g] = 1200+40*r.NormFloat64(), -6+2*r.NormFloat64()
	}
	if shuffled {
		r.Shuffle(n, func(i, j int) { limb[i], limb[j] = limb[j], limb[i] })
	}
	month, y := make([]float64, n), make([]float64, n)
	for i, g := range limb {
		month[i] = math.Round(365*r.Float64()) / 30.4375
		y[i] = level[g] + slope[g]*month[i] + 12*r.NormFloat64()
	}
	x := [][]float64{month}
	return Data{Y: y, X: x, Names: []string{"month"}, Intercept: true, Group: limb, Z: x, ZNames: []string{"month"}, RandomIntercept: true}
}

func benchmarkVisits(b *testing.B, d Data, before, call string) {
	size := 8 * len(d.Y) * (2 + len(d.X))
	held := peers.HeldTimes(size, func() {
		if _, err := Fit(d, Options{}); err != nil {
			b.Fatal(err)
		}
	})
	b.ResetTimer()
	for range b.N {
		if _, err := Fit(d, Options{}); err != nil {
			b.Fatal(err)
		}
	}
	b.StopTimer()
	b.ReportMetric(held, "times-data-held")
	limb := make([]float64, len(d.Y))
	for i, g := range d.Group {
		limb[i] = float64(g)
	}
	peers.Against(b, append([][]float64{d.Y, limb}, d.X...), "lme4", before, call)
}

const (
	oneColumn = `d <- data.frame(y = m[, 1], limb = m[, 2], t = m[, 3]); rm(m)`
	slopes4   = "suppressWarnings(lmer(y ~ t + (t | limb), d))"
)

// The size of the largest registers: a random intercept and slope of 100,000
// limbs with 1,000,000 visits, everything a report prints made (degrees of
// freedom, each limb's effects with their errors), with the time of R's
// package lme4 1.1-31 for the same rows beside it: go test -run - -bench Visits
// ./analysis/mixed. The bounds are a 50th of lme4's time, and three times the
// data (volume, month, limb) held.
//
// Measured on two cores with other work beside it: 0.36 s and 20.1 s, 56 times
// as long; with much other work 0.68 s and 71 s, 105 times. 2.2 times the data
// are held, 2.4 times where the rows are shuffled.
func BenchmarkVisits1M(b *testing.B) {
	benchmarkVisits(b, visits(100_000, false), oneColumn, slopes4)
}

func BenchmarkVisitsShuffled1M(b *testing.B) {
	benchmarkVisits(b, visits(100_000, true), oneColumn, slopes4)
}
