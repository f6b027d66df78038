package survival

import (
	"fmt"
	"math"
	"sort"
)

// PredictIncidence is the cumulative incidence of the cause for somebody
// with the values x, one per column, at each of the times. It is not known
// (HasEstimate false) after the last time at which anybody was at risk. The
// error is the infinitesimal jackknife, grouped by cluster where given, the
// weights taken as known.
func (f *FineGray) PredictIncidence(x, times []float64, o CurveOptions) ([]PredictedIncidence, error) {
	p, err := f.predict(x, times, o)
	if err != nil {
		return nil, fmt.Errorf("predicted incidence: %w", err)
	}
	return p, nil
}

// PredictedIncidence is a predicted cumulative incidence at one time.
type PredictedIncidence struct {
	Time        float64
	Estimate    float64
	HasEstimate bool
	StdErr      float64 // 0 without HasBounds
	Low, High   float64
	HasBounds   bool
}

func (f *FineGray) predict(x, times []float64, o CurveOptions) ([]PredictedIncidence, error) {
	c := f.cox
	m := c.model
	o, err := o.withDefaults()
	if err != nil {
		return nil, err
	}
	if len(x) != m.p {
		return nil, fmt.Errorf("%d values, but there are %d columns", len(x), m.p)
	}
	z, eta := make([]float64, m.p), 0.0
	for j, v := range x {
		if !finite(v) {
			return nil, fmt.Errorf("%s is not a finite number", c.Names[j])
		}
		z[j] = (v - m.blocks[0].mean[j]) / m.scale[j]
		eta += z[j] * c.beta[j]
	}
	h, err := c.hazards()
	if err != nil {
		return nil, err
	}
	res, err := c.Residuals()
	if err != nil {
		return nil, err
	}
	moves, err := c.baselineMoves(times)
	if err != nil {
		return nil, err
	}
	of, clusters := m.clusters()
	ratio := math.Exp(eta)
	var out []PredictedIncidence
	for k, at := range times {
		p := PredictedIncidence{Time: at}
		if math.IsNaN(at) || at < 0 || at > h[0].last {
			out = append(out, p)
			continue
		}
		p.HasEstimate = true
		e := sort.Search(len(h[0].time), func(e int) bool { return h[0].time[e] > at }) - 1
		sum, mean := 0.0, make([]float64, m.p)
		if e >= 0 {
			sum, mean = h[0].sum[e], h[0].mean[e]
		}
		by := make([]float64, clusters)
		for i := range m.n {
			d := moves[k][i]
			for j := range m.p {
				d += (z[j]*sum - mean[j]) * res.DFBeta[i][j] * m.scale[j]
			}
			by[of[i]] += m.weight(i) * d
		}
		square := 0.0
		for _, d := range by {
			square += d * d
		}
		hazard := ratio * sum
		if !finite(hazard) || !finite(square) {
			return nil, errOverflow
		}
		q := Point{Time: at, Events: 1, Estimate: -math.Expm1(-hazard)}
		q.bound(math.Exp(-hazard)*ratio*math.Sqrt(square), o)
		if e < 0 {
			q = Point{}
		}
		p.Estimate, p.StdErr, p.Low, p.High, p.HasBounds = q.Estimate, q.StdErr, q.Low, q.High, q.HasBounds
		out = append(out, p)
	}
	return out, nil
}

// baselineMoves is, for each time asked and each row, how much a unit more
// of the row's weight moves the cumulative hazard at the columns' means, the
// coefficients staying as they are.
func (c *Cox) baselineMoves(times []float64) ([][]float64, error) {
	m := c.model
	risk, ok := m.risks(c.beta)
	if !ok {
		return nil, errOverflow
	}
	// Sums from the first time on of dL/S, and of the same times stays; and
	// what each event adds for itself.
	type at struct{ time, square, stays float64 }
	var ts []at
	own := make([]float64, m.n)
	m.sweep(risk, func(r *riskSet) {
		now := at{time: r.time}
		add, spared := 0.0, 0.0
		for _, x := range r.pieces {
			now.square += x.count / (x.s0 * x.s0)
			add += x.count / r.weight / x.s0
			spared += x.count * x.share / (x.s0 * x.s0)
		}
		now.stays = m.lingering.stays(r.time) * now.square
		for _, i := range r.events {
			own[i] = add + risk[i]*spared
		}
		ts = append(ts, now)
	})
	for k := len(ts) - 2; k >= 0; k-- {
		ts[k].square += ts[k+1].square
		ts[k].stays += ts[k+1].stays
	}
	upTo := func(t float64) at {
		k := sort.Search(len(ts), func(k int) bool { return ts[k].time <= t })
		if k == len(ts) {
			return at{}
		}
		return ts[k]
	}
	out := make([][]float64, len(times))
	for k, t := range times {
		out[k] = make([]float64, m.n)
		for i, end := range m.data.Time {
			if end <= t {
				out[k][i] += own[i]
			}
			if m.from(i) < t {
				out[k][i] -= risk[i] * (upTo(math.Min(end, t)).square - upTo(m.from(i)).square)
			}
		}
		last := upTo(t).stays
		for e, i := range m.lingering.rows {
			if s := m.data.Time[i]; s < t {
				out[k][i] -= risk[i] / m.lingering.stayed[e] * (last - upTo(s).stays)
			}
		}
	}
	return out, nil
}
