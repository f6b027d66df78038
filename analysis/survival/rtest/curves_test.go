package rtest

import (
	"errors"
	"math"
	"slices"

	"plybook/analysis/survival"
)

var scales = []survival.Scale{survival.ComplementaryLogLog, survival.Log, survival.Untransformed, survival.Logit}

func (j *judge) curves() {
	s := j.set
	o := survival.CurveOptions{Bounds: scales[s.Scales], Jackknife: s.Clustered || s.Weights == Shares}
	c, err := survival.KaplanMeier(j.data(), o)
	if err != nil {
		j.errorf("km", "%v", err)
		return
	}
	points := c.Points
	if slices.Min(s.Time) > 0 { // R's begins with the first end of a row
		points = points[1:]
	}
	j.points("km", points)
	j.quantiles(c)
	h, err := survival.NelsonAalen(j.data(), survival.CurveOptions{Jackknife: s.Clustered || s.Weights == Shares})
	if err != nil {
		j.errorf("na", "%v", err)
		return
	}
	hp := h.Points
	if slices.Min(s.Time) > 0 {
		hp = hp[1:]
	}
	var hazard, se []float64
	for _, p := range hp {
		hazard, se = append(hazard, p.Estimate), append(se, errorOf(p))
	}
	j.same("na_hazard", hazard)
	j.same("na_se", se)
	j.restricted(c)
}

// errorOf is the error where one is claimed.
func errorOf(p survival.Point) float64 {
	if !p.HasBounds {
		return math.NaN()
	}
	return p.StdErr
}

func (j *judge) points(name string, points []survival.Point) {
	var time, risk, events, censored, share, se, low, high []float64
	for _, p := range points {
		time, risk, events, censored = append(time, p.Time), append(risk, p.AtRisk), append(events, p.Events), append(censored, p.Censored)
		share, se = append(share, p.Estimate), append(se, errorOf(p))
		l, h := p.Low, p.High
		if !p.HasBounds {
			l, h = math.NaN(), math.NaN()
		}
		low, high = append(low, l), append(high, h)
	}
	j.same(name+"_time", time)
	j.same(name+"_risk", risk)
	j.same(name+"_events", events)
	j.same(name+"_censored", censored)
	j.same(name+"_surv", share)
	j.same(name+"_se", se)
	j.same(name+"_low", low)
	j.same(name+"_high", high)
}

// quantiles are the same but for two kinds of limits. With errors of the
// jackknife a limit of the curve can rise again; here the first time at which
// it is low enough counts, while R looks it up among the limits sorted by size.
// And where the jackknife finds an error of 0, as when the curve comes to 0 or
// all rows are of one cluster, R takes it at its word; here there is no limit.
func (j *judge) quantiles(c *survival.Curve) {
	want, ok := j.want("km_quantiles")
	if !ok {
		return
	}
	rises := [3]bool{}
	none := map[float64]bool{} // times at which the curve has no limits
	for k, b := range c.Points {
		none[b.Time] = !b.HasBounds && c.Clustered
		if k > 0 && b.HasBounds && c.Points[k-1].HasBounds {
			rises[1] = rises[1] || b.Low > c.Points[k-1].Low
			rises[2] = rises[2] || b.High > c.Points[k-1].High
		}
	}
	for k, p := range []float64{0.25, 0.5, 0.75} {
		q := c.Quantile(p)
		for m, l := range []survival.Limit{q.Estimate, q.Low, q.High} {
			w := want[3*m+k]
			if rises[m] || m > 0 && none[w] {
				continue
			}
			j.compared["km_quantiles"]++
			if l.OK == math.IsNaN(w) || l.OK && l.Value != w {
				j.errorf("km_quantiles", "quantile %g part %d is %+v, R has %g", p, m, l, w)
			}
		}
	}
}

func (j *judge) restricted(c *survival.Curve) {
	s := j.set
	until, ok := j.want("rmst_until")
	if !ok || until[0] == 0 {
		return
	}
	if mean, se, err := c.RMST(until[0]); err != nil {
		j.errorf("rmst", "%v", err)
	} else {
		j.same("rmst", []float64{mean, se})
	}
	var two [2]*survival.Curve
	for g := range two {
		var err error
		if two[g], err = survival.KaplanMeier(part(j.data(), func(i int) bool { return s.Group[i] == g }), survival.CurveOptions{Jackknife: s.Clustered || s.Weights == Shares}); err != nil {
			j.errorf("rmst_difference", "%v", err)
			return
		}
	}
	d, err := survival.RMSTDifference(two[0], two[1], until[0], 0)
	if err != nil {
		j.errorf("rmst_difference", "%v", err)
		return
	}
	se := d.StdErr
	if !d.HasTest {
		se = math.NaN()
	}
	j.same("rmst_difference", []float64{d.Estimate, se})
}

var weightings = []survival.Weighting{survival.EqualWeights, survival.GehanBreslow, survival.TaroneWare, survival.PetoPeto, survival.PetoPrentice, survival.MiddleWeights, survival.LateWeights}

func (j *judge) comparisons() {
	s := j.set
	if s.Weights == Shares {
		return
	}
	var groups []survival.Data
	var names []string
	var scores []float64
	var strata [][]int
	for g := range s.Groups() {
		in := func(i int) bool { return s.Group[i] == g }
		groups, names, scores = append(groups, part(j.data(), in)), append(names, string(rune('a'+g))), append(scores, float64(g))
		var of []int
		for i := range s.Time {
			if in(i) {
				of = append(of, s.Stratum[i])
			}
		}
		strata = append(strata, of)
	}
	for _, within := range []bool{false, true} {
		name := ""
		o := survival.LogRankOptions{}
		if within {
			name, o.Strata = "within_", strata
		}
		tests, trends := make([]float64, len(weightings)), make([]float64, len(weightings))
		for k, w := range weightings {
			o.Weighting = w
			tests[k], trends[k] = math.NaN(), math.NaN()
			r, err := survival.LogRank(groups, names, o)
			if err != nil {
				j.refusal("logrank_"+name+"family", k, err)
				continue
			}
			tests[k] = r.Statistic
			if t, err := r.Trend(scores); err == nil {
				trends[k] = t.Statistic
			} else {
				j.refusal("logrank_"+name+"trend", k, err)
			}
			if rho, ok := map[survival.Weighting]string{survival.EqualWeights: "0", survival.PetoPeto: "1"}[w]; ok && !s.Late {
				j.same("survdiff_"+name+rho, []float64{r.Statistic, r.DF})
			}
		}
		j.same("logrank_"+name+"family", tests)
		j.same("logrank_"+name+"trend", trends)
	}
}

// refusal checks that where a comparison is refused R's statistic is 0 or
// none: no event, or none while two groups were at risk.
func (j *judge) refusal(name string, k int, err error) {
	a := j.answers[name]
	if len(a.Values) == 0 || math.IsNaN(a.Values[k]) || math.Abs(a.Values[k]) < 1e-9 {
		return
	}
	if errors.Is(err, survival.ErrNoComparison) {
		j.errorf(name, "test %d is refused (%v), R has %g", k, err, a.Values[k])
	}
}
