package rtest

import (
	"math"

	"plybook/analysis/survival"
)

func (j *judge) repeated() {
	s := j.set
	if _, asked := j.answers["mean"]; !asked {
		return
	}
	d := survival.RecurrentData{Exit: s.Time, Events: s.Events}
	if s.Late {
		d.Entry = s.Entry
	}
	if s.Weights != NoWeights {
		d.Weight = s.Weight
	}
	if s.Clustered {
		d.Cluster = s.Cluster
	}
	curve := func(name string) {
		c, err := survival.MeanCumulative(d, survival.CurveOptions{})
		if err != nil {
			j.errorf(name, "%v", err)
			return
		}
		var time, mean, se []float64
		for _, p := range c.Points {
			if p.Time > 0 {
				time, mean, se = append(time, p.Time), append(mean, p.Estimate), append(se, errorOf(p))
			}
		}
		j.list("mean_time", time, j.answers["mean_time"].Values)
		j.same(name, mean)
		j.same(name+"_se", se)
	}
	curve("mean")
	if _, asked := j.answers["death_mean"]; asked {
		d.Died = make([]bool, len(s.Time))
		for i, c := range s.Cause {
			d.Died[i] = c > 0
		}
		curve("death_mean")
	}
}

func (j *judge) visits() {
	s := j.set
	if s.Late { // R has no late entry there
		return
	}
	settled, ok := j.want("visits_settled")
	if !ok {
		return
	}
	d := survival.IntervalData{Left: s.Left, Right: s.Right}
	if s.Weights != NoWeights {
		d.Weight = s.Weight
	}
	c, err := survival.Turnbull(d, survival.TurnbullOptions{Draws: -1})
	if err != nil {
		j.errorf("visits", "%v", err)
		return
	}
	// Where steps of self-consistency have not settled after 2,000 and more, as
	// at a maximum with places that only just come to nothing, they have at
	// least not got higher.
	j.compared["visits_loglik"]++
	gap := c.LogLikelihood - settled[1]
	if gap < -1e-9*math.Abs(settled[1]) {
		j.errorf("visits_loglik", "%.12g, R has %.12g", c.LogLikelihood, settled[1])
	}
	if settled[0] > 1e-12 {
		j.refused["visits (not settled)"]++
		return
	}
	if gap > near {
		j.errorf("visits_loglik", "%.12g, R has %.12g", c.LogLikelihood, settled[1])
	}
	if !c.Unique {
		j.refused["visits (not unique)"]++
		return
	}
	times, shares := j.answers["visits_time"].Values, j.answers["visits_share"].Values
	for k, t := range times {
		// R puts the mass between two looks in their middle: after it, all of it
		// is gone.
		want := 1.0
		if k < len(shares) {
			want = shares[k]
		}
		got := 1.0
		for _, m := range c.Masses {
			if m.Left < t || m.Left == m.Right && m.Right <= t {
				got = m.After
			}
		}
		j.compared["visits_share"]++
		if math.Abs(got-want) > near {
			j.errorf("visits_share", "%.9g at %g, R has %.9g", got, t, want)
			return
		}
	}
}
