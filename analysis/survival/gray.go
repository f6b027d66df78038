package survival

import (
	"fmt"
	"math"
	"slices"

	"plybook/analysis/stats"
)

// GrayResult is the result of GrayTest. Clusters are not allowed for.
type GrayResult struct {
	stats.Test
	Groups   []GroupCount // events of the cause, and those expected if its incidence were alike
	Variance [][]float64  // of Observed - Expected
}

// GrayTest tests whether groups share one cumulative incidence of a cause,
// the other causes competing (Gray 1988, Ann Stat 16:1141, with rho 0). It
// compares events with those expected as the log-rank test does, but counts
// group r at risk as R = Y (1-F(t-))/S(t-), F being its incidence of the
// cause and S its share without any event: those who ended for another
// reason stay at risk. strata, where given, has a number per group and row;
// groups are then compared only within strata.
//
// The variance is that of the martingales behind Observed - Expected. With
// D = [k=r] - R_k/(sum of R), h = Y/S(t-), L the common hazard
// of the incidence, Q = (1-F)/S(t-) and C(t) the sum of D h dL after t, an
// event of the cause in group r moves the difference of group k by
// D + (1-Q) C/h, another event by -Q C/h; both are summed over squares of
// that times the (expected, observed) events, with the usual factor
// 1-(d-1)/(Y-1) for ties. Each group's own F and S are used, so that without
// other causes the test is the log-rank test; formulas that use the incidence
// of all groups together differ by a percent or so of the statistic.
func GrayTest(groups []Data, names []string, cause int, strata [][]int) (*GrayResult, error) {
	const name = "Gray's test"
	if err := checkGroups(groups, names, LogRankOptions{Strata: strata}); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	if cause < 1 {
		return nil, fmt.Errorf("%s: there is no cause %d", name, cause)
	}
	n := len(groups)
	r := &GrayResult{Groups: make([]GroupCount, n), Variance: square(n)}
	r.Name = name
	for g, d := range groups {
		r.Groups[g].Name = names[g]
		for i := range d.Time {
			r.Groups[g].Rows += d.weight(i)
		}
	}
	for _, s := range strataOf(groups, strata) {
		r.addStratum(s, cause)
	}
	observed := 0.0
	var use []int
	for g, c := range r.Groups {
		observed += c.Observed
		if c.Expected > 0 {
			use = append(use, g)
		}
	}
	switch {
	case observed == 0:
		return nil, fmt.Errorf("%s: %w", name, stats.ErrNoEvents)
	case len(use) < 2:
		return nil, fmt.Errorf("%s: %w", name, ErrNoComparison)
	}
	use = use[:len(use)-1]
	t, err := r.test(name, use)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, ErrNoComparison)
	}
	r.Test = t
	return r, nil
}

func (r *GrayResult) test(name string, use []int) (stats.Test, error) {
	u := make([]float64, len(r.Groups))
	for g, c := range r.Groups {
		u[g] = c.Observed - c.Expected
	}
	return subTest(name, r.Variance, u, use)
}

// grayTime is one time with events, as each group stands just before it.
type grayTime struct {
	atRisk, own, other []float64 // weight at risk; of events of the cause; of other events
	risk, h, q         []float64 // R, Y/S and (1-F)/S
	total              float64   // sum of R
	hazard             float64   // dL
}

func (r *GrayResult) addStratum(groups []Data, cause int) {
	times := grayTimes(groups, cause)
	n := len(groups)
	for _, x := range times {
		for g := range n {
			r.Groups[g].Observed += x.own[g]
			r.Groups[g].Expected += x.risk[g] * x.hazard
		}
	}
	// C is a sum over later times: go backwards.
	c := square(n)
	move, other := make([]float64, n), make([]float64, n)
	for _, x := range slices.Backward(times) {
		if x.total == 0 {
			continue
		}
		own, all := 0.0, 0.0
		for g := range n {
			own += x.own[g]
			all += x.atRisk[g]
		}
		for g := range n {
			if x.h[g] == 0 {
				continue
			}
			for k := range n {
				move[k] = share(k, g, x) + (1-x.q[g])*c[k][g]/x.h[g]
				other[k] = -x.q[g] * c[k][g] / x.h[g]
			}
			v1 := x.risk[g] * x.hazard * tieFactor(own, all)
			v2 := x.other[g] * tieFactor(x.other[g], x.atRisk[g])
			for a := range n {
				for b := range n {
					r.Variance[a][b] += move[a]*move[b]*v1 + other[a]*other[b]*v2
				}
			}
		}
		for k := range n {
			for g := range n {
				c[k][g] += share(k, g, x) * x.h[g] * x.hazard
			}
		}
	}
}

// share is D: by how much an event in group g moves the difference of group k.
func share(k, g int, x grayTime) float64 {
	d := -x.risk[k] / x.total
	if k == g {
		d++
	}
	return d
}

func tieFactor(events, atRisk float64) float64 {
	if events <= 1 || atRisk <= 1 {
		return 1
	}
	return math.Max(0, 1-(events-1)/(atRisk-1))
}

func grayTimes(groups []Data, cause int) []grayTime {
	n := len(groups)
	tallies := make([]*tally, n)
	next := make([]int, n)
	surv, inc := make([]float64, n), make([]float64, n)
	var at []float64
	for g, d := range groups {
		surv[g] = 1
		if len(d.Time) == 0 {
			continue
		}
		two := d
		two.Cause = make([]int, len(d.Cause))
		for i, c := range d.Cause {
			switch {
			case c == cause:
				two.Cause[i] = 1
			case c > 0:
				two.Cause[i] = 2
			}
		}
		tallies[g] = count(two, 2)
		for _, s := range tallies[g].steps {
			if s.events > 0 {
				at = append(at, s.time)
			}
		}
	}
	slices.Sort(at)
	var out []grayTime
	for _, time := range slices.Compact(at) {
		x := grayTime{}
		for _, p := range []*[]float64{&x.atRisk, &x.own, &x.other, &x.risk, &x.h, &x.q} {
			*p = make([]float64, n)
		}
		dead := 0.0
		for g, t := range tallies {
			if t == nil {
				continue
			}
			for next[g] < len(t.steps) && t.steps[next[g]].time < time {
				next[g]++
			}
			x.atRisk[g] = t.atRisk(time)
			var s *step
			if k := next[g]; k < len(t.steps) && t.steps[k].time == time {
				s = &t.steps[k]
				x.atRisk[g], x.own[g], x.other[g] = s.atRisk, s.byCause[0], s.byCause[1]
			}
			if x.atRisk[g] > 0 && surv[g] > 0 {
				x.h[g] = x.atRisk[g] / surv[g]
				x.q[g] = (1 - inc[g]) / surv[g]
				x.risk[g] = x.atRisk[g] * x.q[g]
				x.total += x.risk[g]
				dead += x.own[g]
			}
			if s != nil && s.events > 0 {
				inc[g] += surv[g] * x.own[g] / s.atRisk
				if s.exhausted() {
					surv[g] = 0
				} else {
					surv[g] *= 1 - s.events/s.atRisk
				}
			}
		}
		if x.total > 0 {
			x.hazard = dead / x.total
		}
		out = append(out, x)
	}
	return out
}
