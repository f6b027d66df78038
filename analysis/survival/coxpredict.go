package survival

import (
	"fmt"
	"math"
	"slices"
	"sort"
)

// Baseline is the cumulative hazard of one stratum with all columns and the
// offset at 0.
type Baseline struct {
	Stratum  int
	Points   []BaselinePoint // time 0, then each time with events
	LastTime float64         // last time at which anybody of the stratum was at risk
}

// BaselinePoint is a baseline at one time.
type BaselinePoint struct {
	Time             float64
	CumulativeHazard float64
	Survival         float64
}

// Baseline is the baseline of each stratum, in the order of Cox.Strata, with
// ties treated as in the fit (Breslow's estimate or Efron's version of it).
// With discrete ties it is not available (ErrNotDiscrete). The hazard at 0
// may be far outside the data; where it is too large for a number the error
// says so.
func (c *Cox) Baseline() ([]Baseline, error) {
	hs, err := c.hazards()
	if err != nil {
		return nil, fmt.Errorf("baseline: %w", err)
	}
	m := c.model
	var out []Baseline
	for b, h := range hs {
		eta := -m.shift
		for j, x := range m.blocks[b].mean {
			eta -= c.Coef[j] * x
		}
		f := math.Exp(eta)
		base := Baseline{Stratum: m.strata[b], LastTime: h.last}
		if len(h.time) == 0 || h.time[0] > 0 {
			base.Points = append(base.Points, BaselinePoint{Survival: 1})
		}
		for k, t := range h.time {
			x := h.sum[k] * f
			if !finite(x) {
				return nil, fmt.Errorf("baseline: %w", errOverflow)
			}
			base.Points = append(base.Points, BaselinePoint{t, x, math.Exp(-x)})
		}
		out = append(out, base)
	}
	return out, nil
}

// At is the baseline at time at; not known (false) before 0 and after
// LastTime.
func (b *Baseline) At(at float64) (BaselinePoint, bool) {
	if math.IsNaN(at) || at < 0 || at > b.LastTime {
		return BaselinePoint{}, false
	}
	k := sort.Search(len(b.Points), func(k int) bool { return b.Points[k].Time > at })
	p := b.Points[k-1]
	p.Time = at
	return p, true
}

// hazards is the hazard of one stratum at the means of its columns and of
// the offset, over its times with events, ascending.
type hazards struct {
	time     []float64
	sum      []float64   // cumulative hazard
	variance []float64   // of it, were the coefficients known
	mean     [][]float64 // sum of the hazard times the mean of each scaled column
	last     float64
}

func (c *Cox) hazards() ([]hazards, error) {
	m := c.model
	if m.ties == Discrete {
		return nil, ErrNotDiscrete
	}
	risk, ok := m.risks(c.beta)
	if !ok {
		return nil, errOverflow
	}
	out := make([]hazards, len(m.blocks))
	for b := range out {
		out[b].last = m.data.Time[m.full().byTime[b][0]]
	}
	m.sweep(risk, func(r *riskSet) {
		h := &out[r.stratum]
		sum, variance, mean := 0.0, 0.0, make([]float64, m.p)
		for _, x := range r.pieces {
			sum += x.count / x.s0
			variance += x.count / (x.s0 * x.s0)
			for j := range mean {
				mean[j] += x.count / x.s0 * r.mean(x, j)
			}
		}
		h.time, h.sum, h.variance, h.mean = append(h.time, r.time), append(h.sum, sum), append(h.variance, variance), append(h.mean, mean)
	})
	for b := range out {
		h := &out[b]
		slices.Reverse(h.time)
		slices.Reverse(h.sum)
		slices.Reverse(h.variance)
		slices.Reverse(h.mean)
		for k := 1; k < len(h.time); k++ {
			h.sum[k] += h.sum[k-1]
			h.variance[k] += h.variance[k-1]
			for j := range m.p {
				h.mean[k][j] += h.mean[k-1][j]
			}
		}
	}
	return out, nil
}

// Prediction is the survival that a Cox regression predicts for one profile.
type Prediction struct {
	Stratum  int
	Points   []PredictedPoint // time 0, then each time with events of the stratum
	LastTime float64          // last time at which anybody of the stratum was at risk
	Level    float64
}

// PredictedPoint is a prediction at one time.
type PredictedPoint struct {
	Time             float64
	CumulativeHazard float64
	Survival         float64
	StdErr           float64 // of Survival; 0 without HasBounds
	Low, High        float64
	HasBounds        bool
}

// Predict is the survival of somebody in the stratum with the values x, one
// per column, the offset being 0. The values stay the same for all time. The
// error allows for that of the coefficients, robust where clustered, and of
// the baseline (Tsiatis 1981, Ann Stat 9:93).
func (c *Cox) Predict(x []float64, stratum int, o CurveOptions) (*Prediction, error) {
	p, err := c.predict(x, stratum, o)
	if err != nil {
		return nil, fmt.Errorf("predicted survival: %w", err)
	}
	return p, nil
}

func (c *Cox) predict(x []float64, stratum int, o CurveOptions) (*Prediction, error) {
	m := c.model
	o, err := o.withDefaults()
	if err != nil {
		return nil, err
	}
	if len(x) != m.p {
		return nil, fmt.Errorf("%d values, but there are %d columns", len(x), m.p)
	}
	for j, v := range x {
		if !finite(v) {
			return nil, fmt.Errorf("%s is not a finite number", c.Names[j])
		}
	}
	b, ok := slices.BinarySearch(m.strata, stratum)
	if !ok {
		return nil, fmt.Errorf("there is no stratum %d", stratum)
	}
	hs, err := c.hazards()
	if err != nil {
		return nil, err
	}
	h := hs[b]
	z := make([]float64, m.p)
	eta := -m.shift
	for j := range x {
		z[j] = (x[j] - m.blocks[b].mean[j]) / m.scale[j]
		eta += z[j] * c.beta[j]
	}
	f := math.Exp(eta)
	v, blank := c.Covariance(), c.vanished()
	out := &Prediction{Stratum: stratum, LastTime: h.last, Level: o.Level}
	if len(h.time) == 0 || h.time[0] > 0 {
		out.Points = append(out.Points, PredictedPoint{Survival: 1, Low: 1, High: 1, HasBounds: true})
	}
	q := make([]float64, m.p)
	for k, t := range h.time {
		for j := range q {
			q[j] = (h.mean[k][j] - z[j]*h.sum[k]) * m.scale[j]
		}
		spread := 0.0
		for i := range q {
			for j := range q {
				spread += q[i] * v[i][j] * q[j]
			}
		}
		if blank {
			spread = 0
		}
		hazard, se := f*h.sum[k], f*math.Sqrt(math.Max(0, h.variance[k]+spread))
		if !finite(hazard) || !finite(se) {
			return nil, errOverflow
		}
		s := Point{Time: t, Events: 1, Estimate: math.Exp(-hazard)}
		if !blank {
			s.bound(s.Estimate*se, o)
		}
		out.Points = append(out.Points, PredictedPoint{
			Time: t, CumulativeHazard: hazard, Survival: s.Estimate,
			StdErr: s.StdErr, Low: s.Low, High: s.High, HasBounds: s.HasBounds,
		})
	}
	return out, nil
}

// At is the prediction at time at; not known (false) before 0 and after
// LastTime.
func (p *Prediction) At(at float64) (PredictedPoint, bool) {
	if math.IsNaN(at) || at < 0 || at > p.LastTime {
		return PredictedPoint{}, false
	}
	k := sort.Search(len(p.Points), func(k int) bool { return p.Points[k].Time > at })
	x := p.Points[k-1]
	x.Time = at
	return x, true
}
