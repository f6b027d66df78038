package survival

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"plybook/analysis/stats"
)

// Weighting is what a time of the log-rank family counts for.
type Weighting int

// The weightings. S is the survival of all groups together (of the stratum).
const (
	EqualWeights  Weighting = iota // 1: the log-rank test (Mantel 1966, Cancer Chemother Rep 50:163)
	GehanBreslow                   // number at risk: early differences count most (Gehan 1965, Biometrika 52:203)
	TaroneWare                     // root of the number at risk (Tarone and Ware 1977, Biometrika 64:156)
	PetoPeto                       // S just before the time (Peto and Peto 1972, J R Stat Soc A 135:185)
	PetoPrentice                   // product of 1-d/(Y+1) up to and including the time (Prentice 1978, Biometrika 65:167)
	MiddleWeights                  // S(1-S): differences around the middle count most (Fleming and Harrington 1991, Counting processes and survival analysis, chapter 7)
	LateWeights                    // 1-S: late differences count most (the same)
)

func (w Weighting) String() string {
	switch w {
	case EqualWeights:
		return "log-rank test"
	case GehanBreslow:
		return "Gehan-Breslow test"
	case TaroneWare:
		return "Tarone-Ware test"
	case PetoPeto:
		return "Peto-Peto test"
	case PetoPrentice:
		return "Peto-Prentice test"
	case MiddleWeights:
		return "Fleming-Harrington test of middle differences"
	case LateWeights:
		return "Fleming-Harrington test of late differences"
	}
	return fmt.Sprintf("weighting %d", int(w))
}

// LogRankOptions are the settings of a log-rank test. The zero value is the
// unstratified log-rank test.
type LogRankOptions struct {
	Weighting Weighting
	Strata    [][]int // per group, per row: compare only within a stratum; nil: one stratum
}

// GroupCount is what a test expects of one group.
type GroupCount struct {
	Name     string
	Rows     float64 // sum of the weights
	Observed float64 // events, each times the weight of its time
	Expected float64 // events expected if all groups were alike, weighted likewise
}

// LogRankResult is a test of the log-rank family. Clusters are not allowed
// for.
type LogRankResult struct {
	stats.Test
	Groups   []GroupCount
	Variance [][]float64 // of Observed - Expected
}

// ErrNoComparison reports that no event was seen while two groups were at
// risk, so that they cannot be compared.
var ErrNoComparison = errors.New("no event was seen while more than one group was at risk")

// LogRank tests whether groups share one survival curve, any cause above 0
// being the event. With late entry a row counts at risk only once it has
// entered. Variances are hypergeometric, so ties are allowed for. There are
// as many degrees of freedom as groups that could have had an event, less 1;
// in strata less 1 for each set of groups that meet one another.
func LogRank(groups []Data, names []string, o LogRankOptions) (*LogRankResult, error) {
	if err := checkGroups(groups, names, o); err != nil {
		return nil, fmt.Errorf("%v: %w", o.Weighting, err)
	}
	k := len(groups)
	r := &LogRankResult{Groups: make([]GroupCount, k), Variance: square(k)}
	r.Name = o.Weighting.String()
	for g := range groups {
		r.Groups[g].Name = names[g]
		for i := range groups[g].Time {
			r.Groups[g].Rows += groups[g].weight(i)
		}
	}
	events := 0.0
	for _, s := range strataOf(groups, o.Strata) {
		events += r.addStratum(s, o.Weighting)
	}
	if events == 0 {
		return nil, fmt.Errorf("%v: %w", o.Weighting, stats.ErrNoEvents)
	}
	var use []int
	for g, c := range r.Groups {
		if c.Expected > 0 {
			use = append(use, g)
		}
	}
	if len(use) < 2 {
		return nil, fmt.Errorf("%v: %w", o.Weighting, ErrNoComparison)
	}
	// The differences add up to 0, and so do those of groups that within strata
	// meet only one another: as many are left out.
	use = independent(r.Variance, use)
	u := make([]float64, len(use))
	v := square(len(use))
	for a, g := range use {
		u[a] = r.Groups[g].Observed - r.Groups[g].Expected
		for b, h := range use {
			v[a][b] = r.Variance[g][h]
		}
	}
	x, ok := quadratic(v, u)
	if !ok {
		return nil, fmt.Errorf("%v: %w", o.Weighting, ErrNoComparison)
	}
	r.Statistic, r.DF = x, float64(len(use))
	r.P = stats.ChiSquareP(x, r.DF)
	return r, nil
}

func checkGroups(groups []Data, names []string, o LogRankOptions) error {
	switch {
	case len(groups) < 2:
		return errors.New("a comparison needs at least two groups")
	case len(names) != len(groups):
		return fmt.Errorf("%d groups but %d names", len(groups), len(names))
	case o.Weighting < EqualWeights || o.Weighting > LateWeights:
		return fmt.Errorf("unknown weighting %d", o.Weighting)
	case o.Strata != nil && len(o.Strata) != len(groups):
		return fmt.Errorf("%d groups but strata for %d", len(groups), len(o.Strata))
	}
	for g := range groups {
		if err := groups[g].Validate(); err != nil {
			return fmt.Errorf("group %s: %w", names[g], err)
		}
		if o.Strata != nil && len(o.Strata[g]) != len(groups[g].Time) {
			return fmt.Errorf("group %s: %d rows but strata for %d", names[g], len(groups[g].Time), len(o.Strata[g]))
		}
	}
	return nil
}

// strataOf splits the groups by stratum, in ascending order of stratum.
func strataOf(groups []Data, strata [][]int) [][]Data {
	if strata == nil {
		return [][]Data{groups}
	}
	var all []int
	for _, s := range strata {
		all = append(all, s...)
	}
	slices.Sort(all)
	all = slices.Compact(all)
	out := make([][]Data, len(all))
	for k, s := range all {
		out[k] = make([]Data, len(groups))
		for g, d := range groups {
			out[k][g] = d.where(func(i int) bool { return strata[g][i] == s })
		}
	}
	return out
}

// where is the rows of d that keep accepts.
func (d Data) where(keep func(i int) bool) Data {
	var out Data
	for i := range d.Time {
		if !keep(i) {
			continue
		}
		out.Entry = append(out.Entry, d.entry(i))
		out.Time = append(out.Time, d.Time[i])
		out.Cause = append(out.Cause, d.Cause[i])
		out.Weight = append(out.Weight, d.weight(i))
		if len(d.Cluster) > 0 {
			out.Cluster = append(out.Cluster, d.Cluster[i])
		}
	}
	return out
}

// addStratum adds the times of one stratum and returns its weight of events.
func (r *LogRankResult) addStratum(groups []Data, w Weighting) float64 {
	k := len(groups)
	tallies := make([]*tally, k)
	next := make([]int, k)
	var times []float64
	for g, d := range groups {
		if len(d.Time) == 0 {
			continue
		}
		tallies[g] = count(d, 0)
		for _, s := range tallies[g].steps {
			if s.events > 0 {
				times = append(times, s.time)
			}
		}
	}
	slices.Sort(times)
	events, before, modified := 0.0, 1.0, 1.0
	y, e := make([]float64, k), make([]float64, k)
	for _, at := range slices.Compact(times) {
		total, dead := 0.0, 0.0
		for g, t := range tallies {
			y[g], e[g] = 0, 0
			if t == nil {
				continue
			}
			for next[g] < len(t.steps) && t.steps[next[g]].time < at {
				next[g]++
			}
			if n := next[g]; n < len(t.steps) && t.steps[n].time == at {
				y[g], e[g] = t.steps[n].atRisk, t.steps[n].events
			} else {
				y[g] = t.atRisk(at)
			}
			total += y[g]
			dead += e[g]
		}
		events += dead
		modified *= 1 - dead/(total+1)
		r.addTime(y, e, total, dead, w.at(total, before, modified))
		before *= math.Max(0, 1-dead/total)
	}
	return events
}

func (w Weighting) at(atRisk, before, modified float64) float64 {
	switch w {
	case GehanBreslow:
		return atRisk
	case TaroneWare:
		return math.Sqrt(atRisk)
	case PetoPeto:
		return before
	case PetoPrentice:
		return modified
	case MiddleWeights:
		return before * (1 - before)
	case LateWeights:
		return 1 - before
	default:
		return 1
	}
}

func (r *LogRankResult) addTime(y, e []float64, total, dead, weight float64) {
	for g := range y {
		r.Groups[g].Observed += weight * e[g]
		r.Groups[g].Expected += weight * dead * y[g] / total
	}
	if total <= 1 {
		return
	}
	f := weight * weight * dead * math.Max(0, total-dead) / (total - 1)
	for g := range y {
		pg := y[g] / total
		r.Variance[g][g] += f * pg
		for h := range y {
			r.Variance[g][h] -= f * pg * y[h] / total
		}
	}
}
