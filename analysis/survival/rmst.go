package survival

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"plybook/analysis/stats"
)

// ErrBeyondFollowUp reports that a curve was asked for a time after its last
// time at risk, where the data say nothing.
var ErrBeyondFollowUp = errors.New("the time is after the last time at which anybody was at risk")

// RMST is the restricted mean survival time: the mean time without an event
// within the first until, which is the area under the curve (Irwin 1949, J
// Hyg 47:188). The error is Greenwood's; where clusters repeat it is the
// infinitesimal jackknife grouped by cluster. An error of 0 means that none
// could be made: no events by then, or a single cluster.
//
// It returns ErrBeyondFollowUp where until is after LastTime, unless the
// curve has fallen to 0.
func (c *Curve) RMST(until float64) (estimate, stdErr float64, err error) {
	if err := c.checkUntil(until); err != nil {
		return 0, 0, err
	}
	a := c.area(until)
	if !c.Clustered {
		return a.total, a.greenwood(), nil
	}
	of, n, _ := c.data.clusters()
	if n < 2 {
		return a.total, 0, nil
	}
	return a.total, rootSquares(a.influence(of, n)), nil
}

func (c *Curve) checkUntil(until float64) error {
	if !finite(until) || until <= 0 {
		return fmt.Errorf("restricted mean: the limit %g is not above 0", until)
	}
	if until > c.LastTime && c.Points[len(c.Points)-1].Estimate > 0 {
		return fmt.Errorf("restricted mean until %g, but nobody was at risk after %g: %w", until, c.LastTime, ErrBeyondFollowUp)
	}
	return nil
}

// Difference is the restricted mean of a second curve less that of a first.
type Difference struct {
	Until     float64
	Estimate  float64
	StdErr    float64
	Low, High float64
	P         float64
	HasTest   bool // StdErr is above 0, so that Low, High and P hold
}

// RMSTDifference compares two curves by their restricted means: b - a, with
// a normal interval at the level given (0: 0.95). Where clusters repeat,
// within a curve or across the two, the error is the infinitesimal jackknife
// grouped by cluster, and a person in both groups counts once.
func RMSTDifference(a, b *Curve, until, level float64) (Difference, error) {
	level, err := levelOrDefault(level)
	if err != nil {
		return Difference{}, fmt.Errorf("difference of restricted means: %w", err)
	}
	for _, c := range []*Curve{a, b} {
		if err := c.checkUntil(until); err != nil {
			return Difference{}, err
		}
	}
	aa, ba := a.area(until), b.area(until)
	d := Difference{Until: until, Estimate: ba.total - aa.total}
	na, nb := len(a.data.Time), len(b.data.Time)
	of, n, repeats := sharedClusters(a.data.Cluster, b.data.Cluster, na, nb)
	if (repeats || a.Clustered || b.Clustered) && n < 2 {
		return d, nil
	} else if repeats || a.Clustered || b.Clustered {
		u := ba.influence(of[na:], n)
		for g, x := range aa.influence(of[:na], n) {
			u[g] -= x
		}
		d.StdErr = rootSquares(u)
	} else {
		d.StdErr = math.Hypot(aa.greenwood(), ba.greenwood())
	}
	if d.StdErr > 0 {
		d.HasTest = true
		z := stats.NormalQuantile(0.5 + level/2)
		d.Low, d.High = d.Estimate-z*d.StdErr, d.Estimate+z*d.StdErr
		d.P = stats.NormalP(d.Estimate / d.StdErr)
	}
	return d, nil
}

// sharedClusters numbers the clusters of two groups together. Only where
// both were given clusters can the same number mean the same person.
func sharedClusters(a, b []int, na, nb int) (of []int32, n int, repeats bool) {
	if len(a) > 0 && len(b) > 0 {
		return numberClusters(slices.Concat(a, b), na+nb)
	}
	oa, ca, ra := numberClusters(a, na)
	ob, cb, rb := numberClusters(b, nb)
	of = oa
	for _, g := range ob {
		of = append(of, g+int32(ca))
	}
	return of, ca + cb, ra || rb
}

// area is the area under a curve up to a limit, with what its error needs.
type area struct {
	c     *Curve
	until float64
	total float64

	// After each step up to until: the area so far (m), the area under the
	// curve times A so far (p), the curve and A. Entry 0 is time 0.
	time, m, p, surv, a []float64
	dead                int // entry from which the curve is 0; len if never
}

func (c *Curve) area(until float64) *area {
	r := &area{c: c, until: until}
	r.push(0, 1, 0)
	surv, a := 1.0, 0.0
	r.dead = -1
	for k := range c.tally.steps {
		s := &c.tally.steps[k]
		if s.time > until {
			break
		}
		switch {
		case s.exhausted():
			surv = 0
		case s.events > 0 && surv > 0:
			surv *= 1 - s.events/s.atRisk
			a += s.events / (s.atRisk * (s.atRisk - s.events))
		}
		r.push(s.time, surv, a)
		if surv == 0 && r.dead < 0 {
			r.dead = len(r.time) - 1
		}
	}
	if r.dead < 0 {
		r.dead = len(r.time)
	}
	r.total, _ = r.upTo(until)
	return r
}

func (r *area) push(time, surv, a float64) {
	m, p := 0.0, 0.0
	if len(r.time) > 0 {
		m, p = r.upTo(time)
	}
	r.time, r.surv, r.a = append(r.time, time), append(r.surv, surv), append(r.a, a)
	r.m, r.p = append(r.m, m), append(r.p, p)
}

// upTo is the area, and the area of the curve times A, up to the time at.
func (r *area) upTo(at float64) (m, p float64) {
	k := r.index(at)
	h := at - r.time[k]
	return r.m[k] + r.surv[k]*h, r.p[k] + r.surv[k]*r.a[k]*h
}

// index is the last step at or before the time at, which is not below 0.
func (r *area) index(at float64) int {
	lo, hi := 0, len(r.time)
	for hi-lo > 1 {
		if mid := (lo + hi) / 2; r.time[mid] <= at {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

func (r *area) greenwood() float64 {
	sum := 0.0
	for k := range r.c.tally.steps {
		s := &r.c.tally.steps[k]
		if s.time > r.until || s.exhausted() {
			break
		}
		if s.events == 0 {
			continue
		}
		m, _ := r.upTo(s.time)
		rest := r.total - m
		sum += rest * rest * s.events / (s.atRisk * (s.atRisk - s.events))
	}
	return math.Sqrt(sum)
}

// influence is what each cluster's rows move the area by.
func (r *area) influence(of []int32, clusters int) []float64 {
	out := make([]float64, clusters)
	d, t := r.c.data, r.c.tally
	for i := range d.Time {
		from := math.Max(0, d.from(i))
		if from >= r.until {
			continue
		}
		to := math.Min(d.Time[i], r.until)
		mf, pf := r.upTo(from)
		mt, pt := r.upTo(to)
		aFrom := 0.0
		if d.from(i) >= 0 {
			aFrom = r.a[r.index(from)]
		}
		u := pt - pf - aFrom*(mt-mf)
		if k := r.index(to); d.Time[i] <= r.until && k < r.dead {
			left := r.a[k] - aFrom
			if d.Cause[i] > 0 {
				s := &t.steps[t.last(d.Time[i])]
				left -= 1 / (s.atRisk - s.events)
			}
			u += left * (r.total - mt)
		}
		out[of[i]] += d.weight(i) * u
	}
	return out
}

func rootSquares(u []float64) float64 {
	sum := 0.0
	for _, x := range u {
		sum += x * x
	}
	return math.Sqrt(sum)
}
