package survival

import (
	"fmt"
	"math"

	"plybook/analysis/stats"
)

// Incidence is the share of rows ended by each cause over time, the causes
// competing. At every time the causes and EventFree add up to 1. It keeps the
// slices it was made from: they must not be changed afterwards.
type Incidence struct {
	Causes    [][]Point // Causes[k-1] is the curve of cause k, at the times of EventFree
	EventFree []Point   // still without any event; Events counts every cause
	Rows      int
	Weight    float64
	Events    []float64 // weight of events by cause
	Clusters  int
	Clustered bool // errors are grouped by cluster, since clusters repeat
	LastTime  float64
	Level     float64
	Warnings  []stats.Warning

	data  Data
	tally *tally
}

// CumulativeIncidence is the Aalen-Johansen estimate for causes 1 to causes
// (Aalen and Johansen 1978, Scand J Stat 5:141): the curve of a cause rises
// at each of its events by S(t-) d/Y, S being the share without any event.
//
// Standard errors are the infinitesimal jackknife, grouped by cluster where
// clusters repeat. A weight counts there as the size of one unit, not as
// several units.
func CumulativeIncidence(d Data, causes int, o CurveOptions) (*Incidence, error) {
	o, err := o.withDefaults()
	if err != nil {
		return nil, fmt.Errorf("cumulative incidence: %w", err)
	}
	if err := d.Validate(); err != nil {
		return nil, fmt.Errorf("cumulative incidence: %w", err)
	}
	if causes < 1 {
		return nil, fmt.Errorf("cumulative incidence: %d causes asked for", causes)
	}
	for i, c := range d.Cause {
		if c > causes {
			return nil, fmt.Errorf("cumulative incidence: %w", &RowError{i, fmt.Sprintf("cause %d, but there are %d causes", c, causes)})
		}
	}
	t := count(d, causes)
	of, clusters, repeats := d.clusters()
	r := &Incidence{
		Causes: make([][]Point, causes), Events: make([]float64, causes),
		Rows: len(d.Time), Weight: t.weight(),
		Clusters: clusters, Clustered: repeats,
		LastTime: t.lastTime, Level: o.Level, data: d, tally: t,
	}
	if t.steps[0].time > 0 {
		free := Point{AtRisk: t.atRisk(0), Estimate: 1}
		free.bound(0, o)
		r.EventFree = append(r.EventFree, free)
		none := Point{AtRisk: free.AtRisk}
		none.bound(0, o)
		for k := range r.Causes {
			r.Causes[k] = append(r.Causes[k], none)
		}
	}
	j := newStateJackknife(clusters, causes)
	in := t.entrants()
	surv, share := 1.0, make([]float64, causes)
	for n := range t.steps {
		s := &t.steps[n]
		in.before(s.time, func(i int) { j.enter(of[i], d.weight(i)) })
		j.step(d, s, surv, of, t.rowsOf(n))
		if s.events > 0 {
			for k, e := range s.byCause {
				share[k] += surv * e / s.atRisk
				r.Events[k] += e
			}
			if s.exhausted() {
				surv = 0
			} else {
				surv *= 1 - s.events/s.atRisk
			}
		}
		free := Point{Time: s.time, AtRisk: s.atRisk, Events: s.events, Censored: s.censored, Estimate: surv}
		free.bound(surv*j.logSurvivalError(), o)
		r.EventFree = append(r.EventFree, free)
		for k := range r.Causes {
			p := Point{Time: s.time, AtRisk: s.atRisk, Events: s.byCause[k], Censored: s.censored, Estimate: math.Min(1, share[k])}
			p.bound(j.causeError(k), o)
			r.Causes[k] = append(r.Causes[k], p)
		}
	}
	r.Warnings = riskSetWarnings(t)
	return r, nil
}

// At is every curve at time at: the causes in order, and the share without
// an event. AtRisk is just before it, Events and Censored are up to and
// including it. It is not known (false) before 0 and after the last time at
// which anybody was at risk, unless nobody was left without an event.
func (r *Incidence) At(at float64) (causes []Point, eventFree Point, ok bool) {
	last := r.LastTime
	if at > last && finite(at) && r.EventFree[len(r.EventFree)-1].Estimate == 0 {
		last = at
	}
	eventFree, ok = stepAt(r.EventFree, r.tally, last, at)
	if !ok {
		return nil, Point{}, false
	}
	for _, c := range r.Causes {
		p, _ := stepAt(c, r.tally, last, at)
		causes = append(causes, p)
	}
	return causes, eventFree, true
}

// stateJackknife keeps, for every cluster, by how much its rows move the
// estimates, and the sums of squares of that over clusters.
//
// Let A be the sum of d/(Y(Y-d)), F the incidence of the cause, and B the
// sum of S(t-) h (A(t-) - 1/Y) over its events, h = d_k/Y. Between events of
// its own a cluster moves log S by N A + C, and the incidence by
// N B + C F + E: N is its weight now at risk, C and E are what its rows
// gathered when entering, leaving and having events. All times together so
// cost one pass over the rows.
type stateJackknife struct {
	n, c []float64
	e    [][]float64 // by cause, by cluster

	nn, nc, cc float64
	ne, ce, ee []float64 // by cause

	a    float64
	b, f []float64 // by cause
	dead bool
}

func newStateJackknife(clusters, causes int) *stateJackknife {
	j := &stateJackknife{n: make([]float64, clusters), c: make([]float64, clusters)}
	j.e = make([][]float64, causes)
	for k := range j.e {
		j.e[k] = make([]float64, clusters)
	}
	j.ne, j.ce, j.ee = make([]float64, causes), make([]float64, causes), make([]float64, causes)
	j.b, j.f = make([]float64, causes), make([]float64, causes)
	return j
}

// move changes the numbers of cluster g: N and C by dn and dc, and E of
// every cause so that what the cluster moves F by stays as it is, apart from
// a jump for one cause (0: none).
func (j *stateJackknife) move(g int32, dn, dc float64, cause int, jump float64) {
	n, c := j.n[g]+dn, j.c[g]+dc
	for k := range j.e {
		old := j.e[k][g]
		e := old - dn*j.b[k] - dc*j.f[k]
		if k == cause-1 {
			e += jump
		}
		j.ne[k] += n*e - j.n[g]*old
		j.ce[k] += c*e - j.c[g]*old
		j.ee[k] += e*e - old*old
		j.e[k][g] = e
	}
	j.nn += n*n - j.n[g]*j.n[g]
	j.nc += n*c - j.n[g]*j.c[g]
	j.cc += c*c - j.c[g]*j.c[g]
	j.n[g], j.c[g] = n, c
}

func (j *stateJackknife) enter(g int32, w float64) {
	if !j.dead {
		j.move(g, w, -w*j.a, 0, 0)
	}
}

// step moves on over one time: surv is the share without an event just
// before it, rows are those that end at it.
func (j *stateJackknife) step(d Data, s *step, surv float64, of []int32, rows []int32) {
	if j.dead {
		return
	}
	fall := 0.0
	if s.events > 0 {
		for k, e := range s.byCause {
			j.b[k] += surv * e / s.atRisk * (j.a - 1/s.atRisk)
			j.f[k] += surv * e / s.atRisk
		}
		if s.exhausted() {
			j.dead = true
		} else {
			j.a += s.events / (s.atRisk * (s.atRisk - s.events))
			fall = 1 / (s.atRisk - s.events)
		}
	}
	for _, i := range rows {
		w := d.weight(int(i))
		gain, jump := w*j.a, 0.0
		if d.Cause[i] > 0 {
			gain -= w * fall
			jump = w * surv / s.atRisk
		}
		j.move(of[i], -w, gain, d.Cause[i], jump)
	}
}

func (j *stateJackknife) logSurvivalError() float64 {
	if j.dead || len(j.n) < 2 {
		return math.Inf(1)
	}
	return math.Sqrt(math.Max(0, j.nn*j.a*j.a+2*j.nc*j.a+j.cc))
}

func (j *stateJackknife) causeError(k int) float64 {
	if len(j.n) < 2 {
		return math.Inf(1)
	}
	b, f := j.b[k], j.f[k]
	return math.Sqrt(math.Max(0, j.nn*b*b+j.cc*f*f+j.ee[k]+2*(j.nc*b*f+j.ne[k]*b+j.ce[k]*f)))
}
