package survival

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"plybook/analysis/stats"
)

// Curve is a Kaplan-Meier survival curve. It keeps the slices it was made
// from: they must not be changed afterwards.
type Curve struct {
	Points    []Point // time 0, then each distinct time of an event or a censoring
	Rows      int
	Weight    float64 // sum of the weights; the rows where there are none
	Events    float64 // weight of events
	Clusters  int     // distinct clusters; Rows where none were given
	Clustered bool    // errors are by the jackknife grouped by cluster, since clusters repeat or it was asked for
	LastTime  float64 // last time at which anybody was at risk
	Level     float64
	Warnings  []stats.Warning

	data    Data
	tally   *tally
	options CurveOptions
}

// KaplanMeier estimates the share of rows still without an event over time,
// any cause above 0 being the event (Kaplan and Meier 1958, J Am Stat Assoc
// 53:457). With late entry it is the product-limit estimate of Tsai, Jewell
// and Wang 1987 (Biometrika 74:883).
//
// The error is Greenwood's. Where clusters repeat it is the infinitesimal
// jackknife grouped by cluster: with A the sum of d/(Y(Y-d)), a row at risk
// over (a, b] moves log S(t) by A(min(b,t)) - A(a), less 1/(Y-d) at its own
// event.
//
// No events is not an error: the curve then stays at 1.
func KaplanMeier(d Data, o CurveOptions) (*Curve, error) {
	o, err := o.withDefaults()
	if err != nil {
		return nil, fmt.Errorf("Kaplan-Meier curve: %w", err)
	}
	if err := d.Validate(); err != nil {
		return nil, fmt.Errorf("Kaplan-Meier curve: %w", err)
	}
	c := &Curve{Rows: len(d.Time), Level: o.Level, data: d, tally: count(d, 0), options: o}
	t := c.tally
	c.LastTime = t.lastTime
	c.Weight = t.weight()
	c.Clusters, c.Clustered = c.Rows, o.Jackknife
	var relative []float64 // standard error of log S after each step
	if len(d.Cluster) > 0 || o.Jackknife {
		of, clusters, repeats := d.clusters()
		if c.Clusters, c.Clustered = clusters, repeats || o.Jackknife; c.Clustered {
			relative = groupedLogError(d, t, of, clusters)
		}
	}
	if relative == nil {
		relative = greenwood(t)
	}

	if t.steps[0].time > 0 {
		p := Point{AtRisk: t.atRisk(0), Estimate: 1}
		p.bound(0, o)
		c.Points = append(c.Points, p)
	}
	c.Points = slices.Grow(c.Points, len(t.steps))
	surv := 1.0
	for k := range t.steps {
		s := &t.steps[k]
		if s.exhausted() {
			surv = 0
		} else if s.events > 0 {
			surv *= 1 - s.events/s.atRisk
		}
		c.Events += s.events
		p := Point{Time: s.time, AtRisk: s.atRisk, Events: s.events, Censored: s.censored, Estimate: surv}
		p.bound(surv*relative[k], o)
		c.Points = append(c.Points, p)
	}
	c.Warnings = riskSetWarnings(t)
	return c, nil
}

// greenwood is the standard error of log S after each step.
func greenwood(t *tally) []float64 {
	out := make([]float64, len(t.steps))
	sum := 0.0
	for k := range t.steps {
		s := &t.steps[k]
		if s.exhausted() {
			sum = math.Inf(1)
		} else if s.events > 0 {
			sum += s.events / (s.atRisk * (s.atRisk - s.events))
		}
		out[k] = math.Sqrt(sum)
	}
	return out
}

// groupedLogError is the grouped jackknife error of log S after each step.
//
// The rows of cluster g move log S(t) by N A(t) + C, where N is their weight
// now at risk and C what they gathered when entering and leaving. The sums
// of N², NC and C² over clusters are kept up to date, so that all times
// together cost one pass over the rows.
func groupedLogError(d Data, t *tally, of []int32, clusters int) []float64 {
	out := make([]float64, len(t.steps))
	n, c := make([]float64, clusters), make([]float64, clusters)
	var nn, nc, cc, a float64
	add := func(g int32, dn, dc float64) {
		nn -= n[g] * n[g]
		nc -= n[g] * c[g]
		cc -= c[g] * c[g]
		n[g] += dn
		c[g] += dc
		nn += n[g] * n[g]
		nc += n[g] * c[g]
		cc += c[g] * c[g]
	}
	in := t.entrants()
	dead := false
	for k := range t.steps {
		s := &t.steps[k]
		in.before(s.time, func(i int) { add(of[i], d.weight(i), -d.weight(i)*a) })
		if s.exhausted() {
			dead = true
		}
		if dead || clusters < 2 {
			out[k] = math.Inf(1)
			continue
		}
		jump := 0.0
		if s.events > 0 {
			a += s.events / (s.atRisk * (s.atRisk - s.events))
			jump = 1 / (s.atRisk - s.events)
		}
		for _, i := range t.rowsOf(k) {
			w := d.weight(int(i))
			gain := w * a
			if d.Cause[i] > 0 {
				gain -= w * jump
			}
			add(of[i], -w, gain)
		}
		out[k] = math.Sqrt(math.Max(0, nn*a*a+2*nc*a+cc))
	}
	return out
}

func riskSetWarnings(t *tally) []stats.Warning {
	var out []stats.Warning
	for k := range t.steps {
		if t.steps[k].exhausted() && t.atRiskAfter(t.steps[k].time) {
			out = append(out, stats.Warning{
				Code: "early-zero",
				Text: "Early on, everybody who was under observation had the event while others had yet to enter. " +
					"The curve falls to 0 there and stays at 0, whatever happens later; start it later instead.",
			})
			break
		}
	}
	if t.nobodyAtStart() {
		out = append(out, stats.Warning{
			Code: "nobody-at-start",
			Text: "Nobody was under observation at the start. The curve is taken as 1 until the first entry, " +
				"so it holds only for those who had no event before.",
		})
	}
	return out
}

// At is the curve at time at: AtRisk just before it, Events and Censored up
// to and including it. It is not known (false) before 0 and after the last
// time at which anybody was at risk, unless the curve has fallen to 0.
func (c *Curve) At(at float64) (Point, bool) {
	p, ok := stepAt(c.Points, c.tally, c.LastTime, at)
	if !ok && at > c.LastTime && c.Points[len(c.Points)-1].Estimate == 0 {
		p = c.Points[len(c.Points)-1]
		p.Time, p.AtRisk = at, 0
		p.Events, p.Censored = soFar(c.Points)
		ok = true
	}
	return p, ok
}

func stepAt(points []Point, t *tally, lastTime, at float64) (Point, bool) {
	if math.IsNaN(at) || at < 0 || at > lastTime {
		return Point{}, false
	}
	k := sort.Search(len(points), func(k int) bool { return points[k].Time > at })
	p := points[k-1]
	p.Time, p.AtRisk = at, t.atRisk(at)
	p.Events, p.Censored = soFar(points[:k])
	return p, true
}

func soFar(points []Point) (events, censored float64) {
	for _, p := range points {
		events += p.Events
		censored += p.Censored
	}
	return events, censored
}
