package rtest

import (
	"math"
	"slices"
)

// Outnumbered says whether at some time the tied events of a cause are more
// than the sum over groups of Y/S, times the S of a group, of which Gray's test
// takes them to be a sample. R's variance of such events falls below 0, where
// that of this project stays 0. within compares inside strata.
func (s *Set) Outnumbered(cause int, within bool) bool {
	for stratum := range 3 {
		here := func(i int) bool { return !within || s.Stratum[i] == stratum }
		sum, least := map[float64]float64{}, map[float64]float64{}
		events := map[float64]float64{}
		for g := range s.Groups() {
			share := 1.0
			for _, t := range s.times() {
				risk, ended := 0.0, 0.0
				for i := range s.Time {
					if s.Group[i] != g || !here(i) || s.Time[i] < t {
						continue
					}
					w := 1.0
					if s.Weights == Counts {
						w = s.Weight[i]
					}
					risk += w
					if s.Time[i] == t && s.Cause[i] > 0 {
						ended += w
					}
					if s.Time[i] == t && s.Cause[i] == cause {
						events[t] += w
					}
				}
				if risk == 0 || share <= 0 {
					break
				}
				if _, seen := least[t]; !seen {
					least[t] = 1
				}
				sum[t] += risk / share
				least[t] = math.Min(least[t], share)
				share *= 1 - ended/risk
			}
		}
		for t, dead := range events {
			if dead > 1 && sum[t]*least[t] < dead-1e-9 {
				return true
			}
		}
		if !within {
			break
		}
	}
	return false
}

// times are the distinct times, ascending.
func (s *Set) times() []float64 {
	out := slices.Clone(s.Time)
	slices.Sort(out)
	return slices.Compact(out)
}
