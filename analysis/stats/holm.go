package stats

import (
	"math"
	"slices"
)

// Holm adjusts p values for their number (Holm 1979, Scand J Stat 6:65): the
// chance that any true hypothesis of the family is rejected stays below the
// level, whatever their dependence. A NaN is not of the family and stays NaN.
func Holm(p []float64) []float64 {
	var at []int
	out := make([]float64, len(p))
	for i, v := range p {
		out[i] = math.NaN()
		if !math.IsNaN(v) {
			at = append(at, i)
		}
	}
	slices.SortStableFunc(at, func(a, b int) int {
		switch {
		case p[a] < p[b]:
			return -1
		case p[a] > p[b]:
			return 1
		}
		return 0
	})
	most := 0.0
	for k, i := range at {
		most = math.Max(most, math.Min(1, float64(len(at)-k)*p[i]))
		out[i] = most
	}
	return out
}
