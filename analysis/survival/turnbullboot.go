package survival

import (
	"math/rand/v2"
	"runtime"
	"sync"
)

// bootstrapIntervals fits samples of clusters drawn with replacement. Each
// draw has a stream of its own, so that the outcome does not hang on how many
// run at once. Fits that do not settle are left out.
func bootstrapIntervals(rows []intervalRow, of []int32, clusters, draws int, seed uint64) ([][]Mass, error) {
	if seed == 0 {
		seed = 1
	}
	fits, errs := make([][]Mass, draws), make([]error, draws)
	next := make(chan int)
	var wait sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), draws) {
		wait.Go(func() {
			times := make([]int, clusters)
			sample := make([]intervalRow, 0, len(rows))
			for k := range next {
				rng := rand.New(rand.NewPCG(seed, uint64(k)))
				clear(times)
				for range clusters {
					times[rng.IntN(clusters)]++
				}
				sample = sample[:0]
				for i, r := range rows {
					if n := times[of[i]]; n > 0 {
						r.weight *= float64(n)
						sample = append(sample, r)
					}
				}
				if fit, err := fitIntervals(sample, false); err != nil {
					errs[k] = err
				} else {
					fits[k] = fit.masses
				}
			}
		})
	}
	for k := range draws {
		next <- k
	}
	close(next)
	wait.Wait()
	var out [][]Mass
	var failed error
	for k, f := range fits {
		if errs[k] != nil {
			failed = errs[k]
			continue
		}
		out = append(out, f)
	}
	if len(out) < draws*9/10 {
		return nil, failed
	}
	return out, nil
}
