package survival

import (
	"fmt"
	"sort"

	"plybook/analysis/stats"
)

// MeanTest compares the mean number of events of groups (Cook, Lawless and
// Nadeau 1996, Biometrics 52:557; with deaths as in Ghosh and Lin 2000): with
// Y(k) of group k watched, Y of all, and dm(k) the step of its mean, the
// statistics are the sums of Y(k) (dm(k) - sum of Y(j) dm(j) / Y) over the
// times at which more than one group is watched. Their covariance is robust:
// it takes the events of a subject, and the subjects of a cluster across
// groups, as going together. The degrees of freedom are the groups less one.
//
// data and clusters of all groups must number clusters alike. Errors: those
// of Validate; ErrNoComparison with fewer than two groups, or if no event
// fell while two were watched; stats.ErrSingular.
func MeanTest(data []RecurrentData) (stats.Test, error) {
	t, err := meanTest(data)
	if err != nil {
		return t, fmt.Errorf("comparison of mean numbers of events: %w", err)
	}
	return t, nil
}

func meanTest(data []RecurrentData) (stats.Test, error) {
	out := stats.Test{Name: "robust test of mean numbers"}
	groups := len(data)
	if groups < 2 {
		return out, ErrNoComparison
	}
	tallies := make([]*meanTally, groups)
	distinct := map[float64]bool{}
	var all []int
	for g, d := range data {
		if err := d.Validate(); err != nil {
			return out, err
		}
		tallies[g] = tallyMean(d)
		for _, s := range tallies[g].steps {
			distinct[s.time] = true
		}
		for i := range d.Exit {
			c := -1 - len(all) // its own cluster
			if len(d.Cluster) > 0 {
				c = d.Cluster[i]
			}
			all = append(all, c)
		}
	}
	times := make([]float64, 0, len(distinct))
	for t := range distinct {
		times = append(times, t)
	}
	sort.Float64s(times)
	of, clusters, _ := numberClusters(all, len(all))
	if clusters < groups {
		// The moves of the clusters sum to 0, so that their covariance has no
		// more ranks than clusters less one.
		return out, stats.ErrSingular
	}

	u := make([]float64, groups)
	moved := square(groups) // of each statistic by each subject, summed by cluster
	for k := range moved {
		moved[k] = make([]float64, clusters)
	}
	at := riskOver(data, times)
	total := make([]float64, len(times))
	compared := false
	for g := range data {
		for k := range times {
			total[k] += at[g][k]
		}
	}
	offset := 0
	for g, d := range data {
		j := newMeanJackknife(d, tallies[g])
		add := make([]float64, len(d.Exit))
		m := 0
		for k, s := range tallies[g].steps {
			for times[m] != s.time {
				m++
			}
			j.step(k, add)
			if total[m] == at[g][m] {
				continue // nobody to compare with
			}
			dm := s.alive * s.rate()
			compared = compared || dm > 0
			for q := range data {
				c := -at[q][m] * at[g][m] / total[m]
				if q == g {
					c += at[g][m]
				}
				if c == 0 {
					continue
				}
				u[q] += c * dm
				for i, x := range add {
					moved[q][of[offset+i]] += c * x
				}
			}
		}
		offset += len(d.Exit)
	}
	if !compared {
		return out, ErrNoComparison
	}
	v := square(groups - 1)
	for a := range v {
		for b := range v {
			for c := range clusters {
				v[a][b] += moved[a][c] * moved[b][c]
			}
		}
	}
	x, ok := quadratic(v, u[:groups-1])
	if !ok {
		return out, stats.ErrSingular
	}
	out.Statistic, out.DF = x, float64(groups-1)
	out.P = stats.ChiSquareP(x, out.DF)
	return out, nil
}

// riskOver is the weight of each group watched at each of the times.
func riskOver(data []RecurrentData, times []float64) [][]float64 {
	out := make([][]float64, len(data))
	for g, d := range data {
		out[g] = make([]float64, len(times))
		for i := range d.Exit {
			a := sort.Search(len(times), func(k int) bool { return times[k] > riskFrom(d.entry(i)) })
			for k := a; k < len(times) && times[k] <= d.Exit[i]; k++ {
				out[g][k] += d.weight(i)
			}
		}
	}
	return out
}
