package survival

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"plybook/analysis/stats"
)

// TimeScale is the function of time with which effects are let change in a
// test of proportional hazards.
type TimeScale int

// The time scales.
const (
	SurvivalTime TimeScale = iota // 1 - S(t-), S being the Kaplan-Meier curve of all rows: not swayed by a few late times
	PlainTime
	RankTime // rank of the time among the ends of all rows, ties sharing their mean rank
	LogTime
)

// Proportionality is the result of Cox.Proportionality.
type Proportionality struct {
	Terms  []stats.Test // one per term, in the order of Cox.Terms; Name is that of the term
	Global stats.Test
}

// Proportionality tests whether the effects change with time: the score test
// of adding, for the columns of a term, their products with g(t) to the
// fitted model (Grambsch and Therneau 1994, Biometrika 81:515, with the
// exact information in place of its average over time). It ignores
// clustering.
func (c *Cox) Proportionality(scale TimeScale) (*Proportionality, error) {
	r, err := c.proportionality(scale)
	if err != nil {
		return nil, fmt.Errorf("test of proportional hazards: %w", err)
	}
	return r, nil
}

func (c *Cox) proportionality(scale TimeScale) (*Proportionality, error) {
	m := c.model
	if m.ties == Discrete {
		return nil, ErrNotDiscrete
	}
	g, err := m.timeFunction(scale)
	if err != nil {
		return nil, err
	}
	risk, ok := m.risks(c.beta)
	if !ok {
		return nil, errOverflow
	}
	// Score and information for the products with g, and between them and
	// the columns themselves.
	u, here := make([]float64, m.p), make([]float64, m.p)
	mixed, own := square(m.p), square(m.p)
	m.sweep(risk, func(r *riskSet) {
		clear(here)
		m.scoreAt(r, risk, here)
		at := g[r.time]
		for j := range u {
			u[j] += at * here[j]
		}
		m.informationAt(r, func(i, j int, v float64) {
			mixed[i][j] += at * v
			own[i][j] += at * at * v
		})
	})
	for i := range m.p {
		for j := range i {
			mixed[i][j], own[i][j] = mixed[j][i], own[j][i]
		}
	}
	// What is left of the information once the columns are allowed for.
	cov := square(m.p)
	for i := range cov {
		for j := range cov {
			cov[i][j] = c.Var[i][j] * m.scale[i] * m.scale[j]
		}
	}
	for i := range m.p {
		for j := range m.p {
			for a := range m.p {
				for b := range m.p {
					own[i][j] -= mixed[i][a] * cov[a][b] * mixed[b][j]
				}
			}
		}
	}
	r := &Proportionality{}
	for _, t := range c.Terms {
		x, err := subTest(t.Name, own, u, t.Columns)
		if err != nil {
			return nil, err
		}
		r.Terms = append(r.Terms, x)
	}
	all := order(m.p)
	r.Global, err = subTest("global", own, u, all)
	return r, err
}

func subTest(name string, v [][]float64, u []float64, columns []int) (stats.Test, error) {
	sub, su := square(len(columns)), make([]float64, len(columns))
	for a, i := range columns {
		su[a] = u[i]
		for b, j := range columns {
			sub[a][b] = v[i][j]
		}
	}
	x, ok := quadratic(sub, su)
	if !ok {
		return stats.Test{}, fmt.Errorf("%s: the events are too few or too close in time: %w", name, stats.ErrSingular)
	}
	return chiSquare(name, x, float64(len(columns))), nil
}

// timeFunction is g at each time with events, less its mean over events: a
// constant would change nothing but cost digits.
func (m *coxModel) timeFunction(scale TimeScale) (map[float64]float64, error) {
	d := Data{Entry: m.data.Entry, Time: m.data.Time, Weight: m.data.Weight, Cause: make([]int, m.n)}
	for i, e := range m.data.Event {
		if e {
			d.Cause[i] = 1
		}
	}
	t := count(d, 0)
	g := map[float64]float64{}
	surv, before, mean := 1.0, 0.0, 0.0
	for k := range t.steps {
		s := &t.steps[k]
		rank := before + (s.events+s.censored+1)/2
		before += s.events + s.censored
		if s.events == 0 {
			continue
		}
		switch scale {
		case SurvivalTime:
			g[s.time] = 1 - surv
		case PlainTime:
			g[s.time] = s.time
		case RankTime:
			g[s.time] = rank
		case LogTime:
			if s.time == 0 {
				return nil, fmt.Errorf("an event at time 0 has no logarithm")
			}
			g[s.time] = math.Log(s.time)
		default:
			return nil, fmt.Errorf("unknown time scale %d", scale)
		}
		if s.exhausted() {
			surv = 0
		} else {
			surv *= 1 - s.events/s.atRisk
		}
		mean += g[s.time] * s.events / m.events
	}
	spread := 0.0
	for _, k := range sortedKeys(g) {
		g[k] -= mean
		spread = math.Max(spread, math.Abs(g[k]))
	}
	if spread == 0 {
		return nil, fmt.Errorf("all events are at one time: %w", stats.ErrSingular)
	}
	for k := range g {
		g[k] /= spread
	}
	return g, nil
}

func sortedKeys(g map[float64]float64) []float64 {
	out := make([]float64, 0, len(g))
	for k := range g {
		out = append(out, k)
	}
	slices.SortFunc(out, cmp.Compare[float64])
	return out
}
