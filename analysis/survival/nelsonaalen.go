package survival

import (
	"fmt"
	"math"

	"plybook/analysis/stats"
)

// Hazard is a cumulative hazard. It keeps the slices it was made from: they
// must not be changed afterwards.
type Hazard struct {
	Points    []Point // time 0, then each distinct time of an event or a censoring
	Clustered bool    // errors are grouped by cluster, since clusters repeat
	LastTime  float64 // last time at which anybody was at risk
	Level     float64

	data     Data
	tally    *tally
	of       []int32
	clusters int
}

// NelsonAalen is the cumulative hazard of any event: the sum of d/Y (Nelson
// 1972, Technometrics 14:945), with the variance of Aalen 1978 (Ann Stat
// 6:701), the sum of d/Y². Where clusters repeat the error is the
// infinitesimal jackknife grouped by cluster: a row at risk over (a, b] moves
// the hazard by 1/Y at its own event, less the sum of d/Y² over (a, b].
//
// Limits are made on the logarithm: Bounds of the options must be the zero
// value or Log, which are the same here. No events is not an error: the
// hazard then stays at 0.
func NelsonAalen(d Data, o CurveOptions) (*Hazard, error) {
	o, err := o.withDefaults()
	if err != nil {
		return nil, fmt.Errorf("cumulative hazard: %w", err)
	}
	if o.Bounds != ComplementaryLogLog && o.Bounds != Log {
		return nil, fmt.Errorf("cumulative hazard: limits are made on the logarithm only")
	}
	if err := d.Validate(); err != nil {
		return nil, fmt.Errorf("cumulative hazard: %w", err)
	}
	h := &Hazard{Level: o.Level, data: d, tally: count(d, 0)}
	h.of, h.clusters, h.Clustered = d.clusters()
	t := h.tally
	h.Clustered = h.Clustered || o.Jackknife
	h.LastTime = t.lastTime
	errs := t.aalenError()
	if h.Clustered {
		errs = h.groupedError()
	}
	if t.steps[0].time > 0 {
		h.Points = append(h.Points, Point{AtRisk: t.atRisk(0), HasBounds: true})
	}
	z, sum := stats.NormalQuantile(0.5+o.Level/2), 0.0
	for k := range t.steps {
		s := &t.steps[k]
		if s.events > 0 {
			sum += s.events / s.atRisk
		}
		p := Point{Time: s.time, AtRisk: s.atRisk, Events: s.events, Censored: s.censored, Estimate: sum}
		p.boundRate(errs[k], z)
		h.Points = append(h.Points, p)
	}
	return h, nil
}

// boundRate fills the error and the interval of a rate or a hazard, made on
// the logarithm. An error of 0 but for rounding is none.
func (p *Point) boundRate(stdErr, z float64) {
	if !finite(stdErr) || stdErr <= rounding*p.Estimate || p.Estimate <= 0 {
		return
	}
	f := math.Exp(z * stdErr / p.Estimate)
	if !finite(p.Estimate * f) {
		return
	}
	p.StdErr, p.HasBounds = stdErr, true
	p.Low, p.High = p.Estimate/f, p.Estimate*f
}

func (t *tally) aalenError() []float64 {
	out, sum := make([]float64, len(t.steps)), 0.0
	for k := range t.steps {
		if s := &t.steps[k]; s.events > 0 {
			sum += s.events / (s.atRisk * s.atRisk)
		}
		out[k] = math.Sqrt(sum)
	}
	return out
}

// groupedError is the grouped jackknife error after each step. The rows of a
// cluster move the hazard by C - N B, with B the sum of d/Y², N their weight
// now at risk and C what they gathered when entering and leaving; the sums of
// N², NC and C² over clusters cost one pass over the rows.
func (h *Hazard) groupedError() []float64 {
	d, t := h.data, h.tally
	out := make([]float64, len(t.steps))
	n, c := make([]float64, h.clusters), make([]float64, h.clusters)
	var nn, nc, cc, b float64
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
	for k := range t.steps {
		s := &t.steps[k]
		in.before(s.time, func(i int) { add(h.of[i], d.weight(i), d.weight(i)*b) })
		if s.events > 0 {
			b += s.events / (s.atRisk * s.atRisk)
		}
		for _, i := range t.rowsOf(k) {
			w := d.weight(int(i))
			gain := -w * b
			if d.Cause[i] > 0 {
				gain += w / s.atRisk
			}
			add(h.of[i], -w, gain)
		}
		if h.clusters < 2 {
			out[k] = math.Inf(1)
			continue
		}
		out[k] = math.Sqrt(math.Max(0, nn*b*b-2*nc*b+cc))
	}
	return out
}
