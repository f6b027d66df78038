package survival

import (
	"errors"
	"fmt"
	"math"
	"sort"

	"plybook/analysis/stats"
)

// Standardised is the survival that a Cox regression predicts for the rows it
// was fitted to, were their columns others, averaged over them.
type Standardised struct {
	Estimate, StdErr, Low, High float64
	HasBounds                   bool
}

// StandardisedTime is what Cox.Standardise says of one time.
type StandardisedTime struct {
	Time        float64
	Groups      []Standardised       // in the order of the groups asked for
	Differences []StandardDifference // of each group after the first from the first
}

// StandardDifference is the difference of two averages that come from one model.
type StandardDifference struct {
	Estimate, StdErr, Low, High, P float64
	HasBounds                      bool
}

// Standardise averages the predicted survival over the rows of the fit, by
// weight, each in its own stratum and with its own offset, as if their
// columns were those of each group: groups holds, for each, the columns as in
// CoxData.X. times must not lie after LastStandard.
//
// The errors are by the delta method, for the coefficients (robust where
// clustered) and the baseline together (Tsiatis 1981, Ann Stat 9:93, summed
// over rows); the rows are taken as they are, not as a sample of others.
// Intervals are made on the scale of o; those of differences are plain.
func (c *Cox) Standardise(groups [][][]float64, times []float64, o CurveOptions) ([]StandardisedTime, error) {
	out, err := c.standardise(groups, times, o)
	if err != nil {
		return nil, fmt.Errorf("standardised survival: %w", err)
	}
	return out, nil
}

// LastStandard is the last time that can be standardised: the earliest, over
// strata, at which nobody is at risk any longer.
func (c *Cox) LastStandard() float64 {
	last := math.Inf(1)
	for _, rows := range c.model.full().byTime {
		last = math.Min(last, c.model.data.Time[rows[0]])
	}
	return last
}

// standardPart is an average with its slopes: by the baseline hazard of each
// stratum and by each coefficient.
type standardPart struct {
	survival float64
	hazard   []float64
	coef     []float64
}

func (c *Cox) standardise(groups [][][]float64, times []float64, o CurveOptions) ([]StandardisedTime, error) {
	m := c.model
	o, err := o.withDefaults()
	if err != nil {
		return nil, err
	}
	if len(groups) == 0 {
		return nil, errors.New("no groups")
	}
	for _, g := range groups {
		if len(g) != m.p {
			return nil, fmt.Errorf("%d columns, but the model has %d", len(g), m.p)
		}
		for j, x := range g {
			if len(x) != m.n {
				return nil, fmt.Errorf("%d values of %s for %d rows", len(x), c.Names[j], m.n)
			}
			for i, v := range x {
				if !finite(v) {
					return nil, &RowError{i, c.Names[j] + " is not a finite number"}
				}
			}
		}
	}
	hs, err := c.hazards()
	if err != nil {
		return nil, err
	}
	last, cov := c.LastStandard(), c.Covariance()
	z := stats.NormalQuantile(0.5 + o.Level/2)
	var out []StandardisedTime
	for _, t := range times {
		if !(t >= 0 && t <= last) {
			return nil, fmt.Errorf("nobody is at risk at time %g", t)
		}
		at := make([]int, len(hs)) // index of the last time with events, from 1
		for b := range hs {
			at[b] = sort.Search(len(hs[b].time), func(k int) bool { return hs[b].time[k] > t })
		}
		now := StandardisedTime{Time: t}
		parts := make([]*standardPart, len(groups))
		for g := range groups {
			if parts[g], err = c.standardAt(groups[g], hs, at); err != nil {
				return nil, err
			}
			p := Point{Time: t, Events: 1, Estimate: parts[g].survival}
			if !c.vanished() {
				p.bound(math.Sqrt(parts[g].variance(nil, hs, at, cov)), o)
			}
			now.Groups = append(now.Groups, Standardised{p.Estimate, p.StdErr, p.Low, p.High, p.HasBounds})
			if g == 0 {
				continue
			}
			d := StandardDifference{Estimate: parts[g].survival - parts[0].survival}
			if se := math.Sqrt(parts[g].variance(parts[0], hs, at, cov)); se > 0 {
				d.StdErr, d.HasBounds = se, true
				d.Low, d.High = math.Max(-1, d.Estimate-z*se), math.Min(1, d.Estimate+z*se)
				d.P = stats.NormalP(d.Estimate / se)
			}
			now.Differences = append(now.Differences, d)
		}
		out = append(out, now)
	}
	return out, nil
}

// standardAt averages over the rows at one time.
func (c *Cox) standardAt(x [][]float64, hs []hazards, at []int) (*standardPart, error) {
	m := c.model
	out := &standardPart{hazard: make([]float64, len(hs)), coef: make([]float64, m.p)}
	total := 0.0
	z := make([]float64, m.p)
	for b := range hs {
		k := at[b] - 1
		for _, i := range m.full().byTime[b] {
			total += m.weight(i)
			if k < 0 {
				out.survival += m.weight(i)
				continue
			}
			eta := m.offset(i)
			for j := range z {
				z[j] = (x[j][i] - m.blocks[b].mean[j]) / m.scale[j]
				eta += z[j] * c.beta[j]
			}
			f := math.Exp(eta)
			hazard := f * hs[b].sum[k]
			if !finite(hazard) {
				return nil, errOverflow
			}
			s := math.Exp(-hazard)
			out.survival += m.weight(i) * s
			out.hazard[b] += m.weight(i) * s * f
			for j := range z {
				out.coef[j] += m.weight(i) * s * f * (hs[b].mean[k][j] - z[j]*hs[b].sum[k]) * m.scale[j]
			}
		}
	}
	out.survival /= total
	for b := range out.hazard {
		out.hazard[b] /= total
	}
	for j := range out.coef {
		out.coef[j] /= total
	}
	return out, nil
}

// variance is that of the average, or of its difference from another.
func (p *standardPart) variance(less *standardPart, hs []hazards, at []int, cov [][]float64) float64 {
	v := 0.0
	for b := range hs {
		a := p.hazard[b]
		if less != nil {
			a -= less.hazard[b]
		}
		if at[b] > 0 {
			v += a * a * hs[b].variance[at[b]-1]
		}
	}
	slope := make([]float64, len(p.coef))
	for j := range slope {
		slope[j] = p.coef[j]
		if less != nil {
			slope[j] -= less.coef[j]
		}
	}
	for i := range slope {
		for j := range slope {
			v += slope[i] * cov[i][j] * slope[j]
		}
	}
	return math.Max(0, v)
}
