package survival

import (
	"errors"
	"math"

	"plybook/analysis/stats"
)

// ErrRateRows reports rows of a rate that do not go together.
var ErrRateRows = errors.New("rates need an event count, a time watched, a group and a cluster for each row")

// GroupRate is the rate of events of a group, and how it compares with that
// of the first.
type GroupRate struct {
	Rate
	LogStdErr float64 // of the logarithm of the rate
	Clusters  int
	// Exact says that the interval is that of a Poisson count, since no event
	// was seen; HasBounds that there is one.
	Exact, HasBounds bool

	Ratio, RatioLow, RatioHigh, P float64
	HasRatio, HasRatioBounds      bool
}

// ClusteredRates are rates of events by group, with intervals that allow for
// events of one cluster (a person) going together: the errors are those of a
// Poisson regression on the groups with the logarithm of the time watched as
// offset, its scores summed within clusters and G/(G-1) applied, G being the
// clusters of the rows looked at (Liang KY, Zeger SL. Biometrika 1986; 73:
// 13-22). Intervals are made on the logarithm. A group without events has the
// exact Poisson interval; one cluster gives none, nor do clusters all alike. Rows are parallel; groups
// are numbered from 0, and all of 0 to groups-1 are answered.
func ClusteredRates(events, watched []float64, group, cluster []int, groups int, level float64) ([]GroupRate, error) {
	level, err := levelOrDefault(level)
	if err != nil {
		return nil, err
	}
	n := len(events)
	if len(watched) != n || len(group) != n || len(cluster) != n {
		return nil, ErrRateRows
	}
	out := make([]GroupRate, groups)
	in := make([]map[int]bool, groups)
	for i := range n {
		if !(events[i] >= 0) || !(watched[i] >= 0) || !finite(events[i]) || !finite(watched[i]) || group[i] < 0 || group[i] >= groups {
			return nil, &RowError{i, "a rate needs a number of events and a time watched of at least 0"}
		}
		g := &out[group[i]]
		g.Events, g.Watched = g.Events+events[i], g.Watched+watched[i]
		if in[group[i]] == nil {
			in[group[i]] = map[int]bool{}
		}
		in[group[i]][cluster[i]] = true
	}
	z := stats.NormalQuantile(1 - (1-level)/2)
	for k := range out {
		g := &out[k]
		g.Clusters = len(in[k])
		r, err := PoissonRate(g.Events, g.Watched, level)
		if err != nil {
			return nil, err
		}
		g.Rate = r
		switch {
		case !r.HasRate:
		case g.Events == 0:
			g.Exact, g.HasBounds = true, true
		default:
			g.Low, g.High = 0, 0
			if v, ok := logVariance(events, watched, group, cluster, out, k, -1); ok && v > 0 {
				g.LogStdErr, g.HasBounds = math.Sqrt(v), true
				g.Low, g.High = g.Estimate*math.Exp(-z*g.LogStdErr), g.Estimate*math.Exp(z*g.LogStdErr)
			}
		}
	}
	for k := 1; k < groups; k++ {
		g, first := &out[k], &out[0]
		if !g.HasRate || !first.HasRate || g.Events == 0 || first.Events == 0 {
			continue
		}
		g.Ratio, g.HasRatio = g.Estimate/first.Estimate, true
		if v, ok := logVariance(events, watched, group, cluster, out, k, 0); ok && v > 0 {
			s := math.Sqrt(v)
			g.RatioLow, g.RatioHigh, g.HasRatioBounds = g.Ratio*math.Exp(-z*s), g.Ratio*math.Exp(z*s), true
			g.P = stats.NormalP(math.Log(g.Ratio) / s)
		}
	}
	return out, nil
}

// logVariance is the variance of the logarithm of the rate of a group, or of
// its ratio to that of another (against -1: none). ok is false with one
// cluster.
func logVariance(events, watched []float64, group, cluster []int, rates []GroupRate, of, against int) (v float64, ok bool) {
	sum := map[int]float64{}
	var order []int // sums in one order
	for i := range events {
		sign := 0.0
		switch group[i] {
		case of:
			sign = 1
		case against:
			sign = -1
		default:
			continue
		}
		if _, seen := sum[cluster[i]]; !seen {
			order = append(order, cluster[i])
		}
		r := rates[group[i]]
		sum[cluster[i]] += sign * (events[i] - r.Estimate*watched[i]) / r.Events
	}
	if len(order) < 2 {
		return 0, false
	}
	for _, c := range order {
		v += sum[c] * sum[c]
	}
	g := float64(len(order))
	return v * g / (g - 1), true
}
