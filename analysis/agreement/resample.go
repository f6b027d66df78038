package agreement

import (
	"math"
	"math/rand/v2"
	"slices"
)

// Draws is how many samples Resample is best given: percentiles of 95 percent
// then rest on 25 samples at either end.
const Draws = 1000

// Resample returns the percentile interval of a statistic over samples of
// whole clusters, drawn with replacement (Efron and Tibshirani 1993, An
// introduction to the bootstrap, chapter 13). clusters numbers the cluster of
// each thing; stat is given the things drawn, a thing as often as its cluster
// was. Samples in which it is not a number are passed over; both ends are not
// numbers where more than one in ten is. The same seed draws the same samples.
func Resample(clusters []int, draws int, seed uint64, level float64, stat func(things []int) float64) (low, high float64) {
	n := 0
	for _, c := range clusters {
		n = max(n, c+1)
	}
	members := make([][]int, n)
	for i, c := range clusters {
		members[c] = append(members[c], i)
	}
	members = slices.DeleteFunc(members, func(m []int) bool { return len(m) == 0 })
	rng := rand.New(rand.NewPCG(seed, 0))
	var values []float64
	var pick []int
	for range draws {
		pick = pick[:0]
		for range members {
			pick = append(pick, members[rng.IntN(len(members))]...)
		}
		if v := stat(pick); !math.IsNaN(v) {
			values = append(values, v)
		}
	}
	if 10*len(values) < 9*draws || len(values) == 0 {
		return math.NaN(), math.NaN()
	}
	slices.Sort(values)
	at := func(p float64) float64 { // linear between order statistics
		h := p * float64(len(values)-1)
		k := int(h)
		if k+1 == len(values) {
			return values[k]
		}
		return values[k] + (h-float64(k))*(values[k+1]-values[k])
	}
	return at((1 - level) / 2), at((1 + level) / 2)
}
