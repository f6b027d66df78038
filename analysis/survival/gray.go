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
// group k at risk as R_k = Y_k (1-F_k(t-))/S_k(t-), F being its incidence of
// the cause and S its share without any event: those who ended for another
// reason stay at risk. strata, where given, has a number per group and row;
// groups are then compared only within strata.
//
// The variance is that of the paper, worked out as if all groups had one
// incidence F, of all of them together: dF = d1/h with h the sum of h_k =
// Y_k/S_k(t-), and d1 the events of the cause in all groups. With
// a_kr = h_r ([k=r] - h_k/h) and C_kr(t) the sum of a_kr dF/(1-F) after t,
// an event of the cause in group r moves the difference of group k by
// a_kr + (1-Q) C_kr, another event by -Q C_kr, where Q = (1-F(t))/S_r(t).
// Both are summed over squares of that times what such events vary by:
// dF/h_r for the cause, d2 (S_r(t-)/Y_r)^2 for the others, with the usual
// factor 1-(d-1)/(m-1) for d tied events among m, m being h S_r(t-) for the
// cause and Y_r for the others.
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
	t, err := r.test(name, independent(r.Variance, use))
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
	risk, h            []float64 // R and Y/S
	before, after      []float64 // S just before and at the time
	total, hTotal      float64   // sums of R and of h
	dead               float64   // events of the cause in all groups
	incidence, rise    float64   // of all groups together: F(t), and dF
}

func (r *GrayResult) addStratum(groups []Data, cause int) {
	times := grayTimes(groups, cause)
	n := len(groups)
	// C is a sum over later times: go backwards.
	c := square(n)
	for _, x := range slices.Backward(times) {
		if x.total == 0 {
			continue
		}
		for g := range n {
			r.Groups[g].Observed += x.own[g]
			r.Groups[g].Expected += x.risk[g] * x.dead / x.total
		}
		for g := range n {
			if x.h[g] > 0 {
				r.addMoves(x, g, c)
			}
		}
		left := 1 - (x.incidence - x.rise)
		for k := range n {
			for g := range n {
				if left > 0 {
					c[k][g] += x.weight(k, g) * x.rise / left
				}
			}
		}
	}
}

// addMoves adds the variance that one time's events in group g bring.
func (r *GrayResult) addMoves(x grayTime, g int, c [][]float64) {
	n := len(c)
	add := func(size float64, move func(k int) float64) {
		for a := range n {
			for b := range n {
				r.Variance[a][b] += move(a) * move(b) * size
			}
		}
	}
	q := 0.0 // what is moved of the others, where nobody is left
	if x.after[g] > 0 {
		q = (1 - x.incidence) / x.after[g]
	}
	if x.dead > 0 {
		stay := 1.0
		if x.after[g] > 0 {
			stay = 1 - q
		}
		add(x.rise/x.h[g]*tieFactor(x.dead, x.hTotal*x.before[g]), func(k int) float64 { return x.weight(k, g) + stay*c[k][g] })
	}
	if x.other[g] > 0 && q > 0 {
		s := x.before[g] / x.atRisk[g]
		add(x.other[g]*s*s*tieFactor(x.other[g], x.atRisk[g]), func(k int) float64 { return -q * c[k][g] })
	}
}

// weight is a: by how much the incidence of group g moves the difference of
// group k.
func (x grayTime) weight(k, g int) float64 {
	if x.h[g] == 0 || x.h[k] == 0 {
		return 0
	}
	d := -x.h[k] / x.hTotal
	if k == g {
		d++
	}
	return d * x.h[g]
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
	together := 0.0
	for _, time := range slices.Compact(at) {
		x := grayTime{}
		for _, p := range []*[]float64{&x.atRisk, &x.own, &x.other, &x.risk, &x.h, &x.before, &x.after} {
			*p = make([]float64, n)
		}
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
			x.before[g] = surv[g]
			if x.atRisk[g] > 0 && surv[g] > 0 {
				x.h[g] = x.atRisk[g] / surv[g]
				x.risk[g] = x.h[g] * (1 - inc[g])
				x.total += x.risk[g]
				x.hTotal += x.h[g]
				x.dead += x.own[g]
			}
			if s != nil && s.events > 0 {
				inc[g] += surv[g] * x.own[g] / s.atRisk
				if s.exhausted() {
					surv[g] = 0
				} else {
					surv[g] *= 1 - s.events/s.atRisk
				}
			}
			x.after[g] = surv[g]
		}
		if x.hTotal > 0 {
			x.rise = x.dead / x.hTotal
			together += x.rise
		}
		x.incidence = together
		out = append(out, x)
	}
	return out
}
