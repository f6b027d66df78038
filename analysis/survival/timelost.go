package survival

import (
	"fmt"
	"math"

	"plybook/analysis/stats"
)

// TimeLost is the mean time lost before a limit: the limit less the
// restricted mean, or the ratio of two such.
type TimeLost struct {
	Estimate  float64
	StdErr    float64 // of the estimate; of the logarithm of a ratio. 0 without HasBounds
	Low, High float64 // 0 without HasBounds
	P         float64 // of a ratio, that it is 1
	HasBounds bool
}

// TimeLost is the mean time lost to the event within the first until, with
// an interval made on its logarithm. The interval of the restricted mean that
// follows from it, until less its limits, leans away from the limit as the
// mean does, and covers better in small groups than the symmetric one of
// RMST. Errors: those of RMST.
func (c *Curve) TimeLost(until float64) (TimeLost, error) {
	e, se, err := c.RMST(until)
	if err != nil {
		return TimeLost{}, err
	}
	return timeLost(until-e, se, until, c.Level), nil
}

func timeLost(lost, stdErr, until, level float64) TimeLost {
	t := TimeLost{Estimate: lost}
	if stdErr > 0 && finite(stdErr) && lost > 1e-12*until {
		f := math.Exp(stats.NormalQuantile(0.5+level/2) * stdErr / lost)
		t.StdErr, t.HasBounds = stdErr, true
		t.Low, t.High = lost/f, math.Min(until, lost*f)
	}
	return t
}

// TimeLostRatio is the time lost in b over that in a within the first until,
// with an interval and a test made on the logarithm (Royston and Parmar 2013,
// BMC Med Res Methodol 13:152). Clusters are allowed for as in
// RMSTDifference. ok is false where either lost none.
func TimeLostRatio(a, b *Curve, until, level float64) (r TimeLost, ok bool, err error) {
	level, err = levelOrDefault(level)
	if err != nil {
		return r, false, fmt.Errorf("ratio of time lost: %w", err)
	}
	for _, c := range []*Curve{a, b} {
		if err := c.checkUntil(until); err != nil {
			return r, false, err
		}
	}
	aa, ba := a.area(until), b.area(until)
	la, lb := until-aa.total, until-ba.total
	if !(la > 1e-12*until) || !(lb > 1e-12*until) {
		return r, false, nil
	}
	r.Estimate = lb / la
	of, n, repeats := sharedClusters(a.data.Cluster, b.data.Cluster, len(a.data.Time), len(b.data.Time))
	repeats = repeats || a.Clustered || b.Clustered
	switch {
	case repeats && n < 2:
		return r, true, nil
	case repeats:
		u := ba.influence(of[len(a.data.Time):], n)
		for g := range u {
			u[g] /= lb
		}
		for g, x := range aa.influence(of[:len(a.data.Time)], n) {
			u[g] -= x / la
		}
		r.StdErr = rootSquares(u)
	default:
		r.StdErr = math.Hypot(aa.greenwood()/la, ba.greenwood()/lb)
	}
	if r.StdErr > 0 {
		r.HasBounds = true
		f := math.Exp(stats.NormalQuantile(0.5+level/2) * r.StdErr)
		r.Low, r.High = r.Estimate/f, r.Estimate*f
		r.P = stats.NormalP(math.Log(r.Estimate) / r.StdErr)
	}
	return r, true, nil
}

// TimeLost is the mean time lost to a cause (1, 2, ...) within the first
// until: the area under its curve (Andersen 2013, Stat Med 32:5278). Cause 0
// is the mean time without any event, which with the causes adds up to until.
// The error is the infinitesimal jackknife, grouped by cluster where clusters
// repeat; the interval is made on the logarithm, that of cause 0 on that of
// the time lost to all causes. ErrBeyondFollowUp where until is after
// LastTime, unless nobody was left.
func (r *Incidence) TimeLost(cause int, until float64) (TimeLost, error) {
	switch {
	case cause < 0 || cause > len(r.Causes):
		return TimeLost{}, fmt.Errorf("time lost: cause %d of %d", cause, len(r.Causes))
	case !finite(until) || until <= 0:
		return TimeLost{}, fmt.Errorf("time lost: the limit %g is not above 0", until)
	case until > r.LastTime && r.EventFree[len(r.EventFree)-1].Estimate > 0:
		return TimeLost{}, fmt.Errorf("time lost until %g, but nobody was at risk after %g: %w", until, r.LastTime, ErrBeyondFollowUp)
	}
	if cause > 0 {
		area, u := r.lost(cause, until)
		return timeLost(area, r.clusterError(u), until, r.Level), nil
	}
	lost, all := 0.0, make([]float64, r.Clusters)
	for k := range r.Causes {
		area, u := r.lost(k+1, until)
		lost += area
		for g, x := range u {
			all[g] += x
		}
	}
	t := timeLost(lost, r.clusterError(all), until, r.Level)
	t.Estimate, t.Low, t.High = until-t.Estimate, until-t.High, until-t.Low
	if !t.HasBounds {
		t.Low, t.High = 0, 0
	}
	return t, nil
}

func (r *Incidence) clusterError(u []float64) float64 {
	if r.Clusters < 2 {
		return 0
	}
	return rootSquares(u)
}

// lost is the area under the curve of a cause, and what each cluster moves
// it by. Between steps a cluster moves the curve itself by N B + C F + E (see
// stateJackknife), with B and F constant there, so that over time it gathers
// N, C and E times what B, F and 1 gather. What it gathers is kept as
// N IB + C IF + E t + G, in which G takes up each change of N, C and E.
func (r *Incidence) lost(cause int, until float64) (area float64, u []float64) {
	d, t := r.data, r.tally
	of, clusters, _ := d.clusters()
	n, c, e := make([]float64, clusters), make([]float64, clusters), make([]float64, clusters)
	u = make([]float64, clusters)
	var a, b, f, ib, now float64
	surv := 1.0
	pass := func(to float64) {
		ib += b * (to - now)
		area += f * (to - now)
		now = to
	}
	move := func(g int32, dn, dc, jump float64) {
		de := jump - dn*b - dc*f
		n[g] += dn
		c[g] += dc
		e[g] += de
		u[g] -= dn*ib + dc*area + de*now
	}
	in := t.entrants()
	for k := range t.steps {
		s := &t.steps[k]
		if s.time > until || surv == 0 {
			break
		}
		pass(s.time)
		in.before(s.time, func(i int) { move(of[i], d.weight(i), -d.weight(i)*a, 0) })
		fall, before := 0.0, surv
		if s.events > 0 {
			h := surv * s.byCause[cause-1] / s.atRisk
			b += h * (a - 1/s.atRisk)
			f += h
			if s.exhausted() {
				surv = 0
			} else {
				surv *= 1 - s.events/s.atRisk
				a += s.events / (s.atRisk * (s.atRisk - s.events))
				fall = 1 / (s.atRisk - s.events)
			}
		}
		for _, i := range t.rowsOf(k) {
			w := d.weight(int(i))
			gain, jump := w*a, 0.0
			if d.Cause[i] > 0 {
				gain -= w * fall
			}
			if d.Cause[i] == cause {
				jump = w * before / s.atRisk
			}
			move(of[i], -w, gain, jump)
		}
	}
	pass(until)
	for g := range u {
		u[g] += n[g]*ib + c[g]*area + e[g]*now
	}
	return area, u
}
