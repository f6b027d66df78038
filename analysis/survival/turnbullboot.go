package survival

import "math/rand/v2"

// bootstrapIntervals fits samples of clusters drawn with replacement. Fits
// that do not settle are left out.
func bootstrapIntervals(rows []intervalRow, of []int, clusters, draws int, seed uint64) ([][]Mass, error) {
	if seed == 0 {
		seed = 1
	}
	rng := rand.New(rand.NewPCG(seed, 0))
	times := make([]int, clusters)
	var out [][]Mass
	var failed error
	sample := make([]intervalRow, 0, len(rows))
	for range draws {
		clear(times)
		for range clusters {
			times[rng.IntN(clusters)]++
		}
		sample = sample[:0]
		for i, r := range rows {
			if k := times[of[i]]; k > 0 {
				r.weight *= float64(k)
				sample = append(sample, r)
			}
		}
		fit, err := fitIntervals(sample, false)
		if err != nil {
			failed = err
			continue
		}
		out = append(out, fit.masses)
	}
	if len(out) < draws*9/10 {
		return nil, failed
	}
	return out, nil
}
