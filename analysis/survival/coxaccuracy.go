package survival

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"
)

// Accuracy says how well a Cox regression tells, at its start, which rows
// will have had the event by a time.
type Accuracy struct {
	Time      float64
	Cases     int     // rows with the event by then
	Controls  int     // rows watched beyond it
	AUC       float64 // chance that the model puts a row with the event above one without
	HasAUC    bool    // false without rows of both kinds
	Brier     float64 // mean squared distance of the predicted share from what came
	BrierNull float64 // the same of one share for all, the Kaplan-Meier estimate
	HasBrier  bool
}

// ErrLateEntry reports rows that enter late, for which the chance of not yet
// being censored is not known.
var ErrLateEntry = errors.New("rows enter late")

// Accuracy compares the predictions for the rows of the fit with what came of
// them by each time. Rows censored before are made up for by weighting the
// others by the inverse of the chance of not yet being censored (Graf and
// others 1999, Stat Med 18:2529; Uno and others 2007, J Am Stat Assoc
// 102:527), a Kaplan-Meier estimate over all rows, events at a time coming
// before censorings at it. Rows are those that the model was fitted to, which
// flatters it. Rows that enter late are ErrLateEntry.
func (c *Cox) Accuracy(times []float64) ([]Accuracy, error) {
	m := c.model
	d := m.data
	for i := range m.n {
		if d.entry(i) > 0 {
			return nil, fmt.Errorf("accuracy: %w", ErrLateEntry)
		}
	}
	hs, err := c.hazards()
	if err != nil {
		return nil, fmt.Errorf("accuracy: %w", err)
	}
	risk, ok := m.risks(c.beta)
	if !ok {
		return nil, fmt.Errorf("accuracy: %w", errOverflow)
	}
	free, alive := m.curvesOf()
	last := c.LastStandard()
	lp := c.Predictor()
	var out []Accuracy
	for _, t := range times {
		if !(t > 0 && t < last) {
			return nil, fmt.Errorf("accuracy: nobody is watched beyond time %g", t)
		}
		a := Accuracy{Time: t}
		survival := make([]float64, m.n)
		for b := range hs {
			k := sort.Search(len(hs[b].time), func(k int) bool { return hs[b].time[k] > t }) - 1
			for _, i := range m.full().byTime[b] {
				survival[i] = 1
				if k >= 0 {
					survival[i] = math.Exp(-risk[i] * hs[b].sum[k])
				}
			}
		}
		none := alive.at(t)
		total := 0.0
		var cases, controls []weighted
		for i := range m.n {
			total += m.weight(i)
			switch {
			case d.Time[i] > t:
				a.Controls++
				w := m.weight(i) / free.at(t)
				controls = append(controls, weighted{lp[i], w})
				a.Brier += w * (1 - survival[i]) * (1 - survival[i])
				a.BrierNull += w * (1 - none) * (1 - none)
			case d.Event[i]:
				a.Cases++
				w := m.weight(i) / free.before(d.Time[i])
				cases = append(cases, weighted{lp[i], w})
				a.Brier += w * survival[i] * survival[i]
				a.BrierNull += w * none * none
			}
		}
		a.Brier, a.BrierNull = a.Brier/total, a.BrierNull/total
		a.HasBrier = a.Controls > 0
		a.AUC, a.HasAUC = concordantShare(cases, controls)
		out = append(out, a)
	}
	return out, nil
}

type weighted struct{ value, weight float64 }

// concordantShare is the weighted share of pairs in which the case has the
// higher value, ties counting half.
func concordantShare(cases, controls []weighted) (float64, bool) {
	if len(cases) == 0 || len(controls) == 0 {
		return 0, false
	}
	slices.SortStableFunc(controls, func(a, b weighted) int {
		switch {
		case a.value < b.value:
			return -1
		case a.value > b.value:
			return 1
		}
		return 0
	})
	sums := make([]float64, len(controls)+1)
	for i, c := range controls {
		sums[i+1] = sums[i] + c.weight
	}
	good, all := 0.0, 0.0
	for _, c := range cases {
		below := sort.Search(len(controls), func(k int) bool { return controls[k].value >= c.value })
		upTo := sort.Search(len(controls), func(k int) bool { return controls[k].value > c.value })
		good += c.weight * (sums[below] + (sums[upTo]-sums[below])/2)
		all += c.weight * sums[len(controls)]
	}
	return good / all, all > 0
}

// stepCurve is a curve that falls at times, ascending.
type stepCurve struct{ times, values []float64 }

// at is the curve at a time, before just before it.
func (s *stepCurve) at(t float64) float64 {
	return s.upTo(sort.Search(len(s.times), func(k int) bool { return s.times[k] > t }))
}

func (s *stepCurve) before(t float64) float64 {
	return s.upTo(sort.Search(len(s.times), func(k int) bool { return s.times[k] >= t }))
}

func (s *stepCurve) upTo(k int) float64 {
	if k == 0 {
		return 1
	}
	return s.values[k-1]
}

// curvesOf are the Kaplan-Meier curves of not being censored and of not
// having had the event.
func (m *coxModel) curvesOf() (free, alive *stepCurve) {
	x := Data{Time: m.data.Time, Weight: m.data.Weight, Cause: make([]int, m.n)}
	for i, e := range m.data.Event {
		if e {
			x.Cause[i] = 1
		}
	}
	free, alive = &stepCurve{}, &stepCurve{}
	g, s := 1.0, 1.0
	t := count(x, 0)
	for k := range t.steps {
		q := &t.steps[k]
		s *= 1 - q.events/q.atRisk
		if q.exhausted() {
			s = 0
		} else if q.censored > 0 {
			g *= math.Max(0, 1-q.censored/(q.atRisk-q.events))
		}
		free.times, free.values = append(free.times, q.time), append(free.values, g)
		alive.times, alive.values = append(alive.times, q.time), append(alive.values, s)
	}
	return free, alive
}
