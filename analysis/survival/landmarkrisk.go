package survival

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"
)

// from takes the baseline hazards of two fits, or, where there is no fit of
// the competing ending, of its count alone.
func (b *landmarkBase) from(d LandmarkData, event, competing *Cox, ahead float64, timeColumns int, weight []float64) error {
	b.ahead, b.timeColumns = ahead, timeColumns
	t1, h1, err := event.centred()
	if err != nil {
		return err
	}
	b.event = linear{event.Coef, event.model.blocks[0].mean}
	var t2, h2 []float64
	if competing != nil {
		if t2, h2, err = competing.centred(); err != nil {
			return err
		}
		b.competing = linear{competing.Coef, competing.model.blocks[0].mean}
	} else {
		t2, h2 = d.counted(ahead, weight)
	}
	b.time = append(slices.Clone(t1), t2...)
	slices.Sort(b.time)
	b.time = slices.Compact(b.time)
	b.d1, b.d2 = make([]float64, len(b.time)), make([]float64, len(b.time))
	put := func(to, at, h []float64) {
		before := 0.0
		for k, t := range at {
			i, _ := slices.BinarySearch(b.time, t)
			to[i] = h[k] - before
			before = h[k]
		}
	}
	put(b.d1, t1, h1)
	put(b.d2, t2, h2)
	return nil
}

// centred is the cumulative hazard with every column at its mean.
func (c *Cox) centred() (time, sum []float64, err error) {
	hs, err := c.hazards()
	if err != nil {
		return nil, nil, err
	}
	return hs[0].time, hs[0].sum, nil
}

// counted is the cumulative hazard of the competing ending among all rows.
func (d LandmarkData) counted(ahead float64, weight []float64) (time, sum []float64) {
	x := Data{Entry: d.Landmark, Weight: weight, Time: make([]float64, len(d.Time)), Cause: make([]int, len(d.Time))}
	for i, t := range d.Time {
		if end := d.Landmark[i] + ahead; t <= end {
			x.Time[i], x.Cause[i] = t, d.Cause[i]
		} else {
			x.Time[i] = end
		}
	}
	h := 0.0
	tally := count(x, 2)
	for k := range tally.steps {
		if s := &tally.steps[k]; s.byCause[1] > 0 {
			h += s.byCause[1] / s.atRisk
			time, sum = append(time, s.time), append(sum, h)
		}
	}
	return time, sum
}

// window is the first and last place of times above s and up to ahead later.
func (b *landmarkBase) window(s float64) (from, to int) {
	from = sort.Search(len(b.time), func(k int) bool { return b.time[k] > s })
	to = sort.Search(len(b.time), func(k int) bool { return b.time[k] > s+b.ahead })
	return from, to
}

// at is the risk of the event in the window of s. In each step both hazards
// act together, as in the product integral of the matrix of hazards, so that
// without a competing ending it is 1 less exp of the cumulative hazard.
func (b *landmarkBase) at(s float64, x func(j int) float64) float64 {
	with := func(l linear) float64 {
		n := len(l.coef) - b.timeColumns
		return math.Exp(l.at(func(j int) float64 {
			if j < n {
				return x(j)
			}
			return math.Pow(s/b.ahead, float64(j-n+1))
		}))
	}
	r1, r2 := with(b.event), with(b.competing)
	from, to := b.window(s)
	share, free := 0.0, 1.0
	for k := from; k < to; k++ {
		h1 := r1 * b.d1[k]
		h := h1 + r2*b.d2[k]
		if h > 0 {
			ended := endedBy(h)
			share += free * ended * (h1 / h)
			free *= 1 - ended
		}
	}
	return share
}

// endedBy is 1 less exp(-h): of small hazards, which most steps are, by so
// many terms of its series that the rest is below rounding.
func endedBy(h float64) float64 {
	if h > 0.01 {
		return -math.Expm1(-h)
	}
	return h * (1 - h/2*(1-h/3*(1-h/4*(1-h/5*(1-h/6)))))
}

// risks are those of the rows of a stack.
func (b *landmarkBase) risks(d LandmarkData) []float64 {
	out := make([]float64, len(d.Time))
	for i, s := range d.Landmark {
		out[i] = b.at(s, func(j int) float64 { return d.X[j][i] })
	}
	return out
}

// ErrBeyond reports a time of which the landmarks can tell nothing.
var ErrBeyond = errors.New("no landmark is near this time")

// ErrNoneThen reports a window in which no event was ever seen.
var ErrNoneThen = errors.New("no event was seen at such times")

// Risk is the risk of the event within Ahead of s for a life still at risk at
// s with the values x, one per column of X. It is known from the first
// landmark to one step beyond the last (ErrBeyond), where the window held an
// event of some life (ErrNoneThen).
func (l *Landmark) Risk(s float64, x []float64) (float64, error) {
	if len(x) != len(l.data.X) {
		return 0, fmt.Errorf("risk: %d values, but there are %d columns", len(x), len(l.data.X))
	}
	for j, v := range x {
		if !finite(v) {
			return 0, fmt.Errorf("risk: %s is not a finite number", l.data.Names[j])
		}
	}
	first, last := l.Reach()
	if !(s >= first && s < last) {
		return 0, fmt.Errorf("risk at %g: %w", s, ErrBeyond)
	}
	if l.Hazard(s) == 0 {
		return 0, fmt.Errorf("risk at %g: %w", s, ErrNoneThen)
	}
	p := l.base.at(s, func(j int) float64 { return x[j] })
	if !finite(p) {
		return 0, fmt.Errorf("risk at %g: %w", s, errOverflow)
	}
	return p, nil
}

// Reach is from when to when, since the start of a life, a risk can be told:
// from the first landmark to one step beyond the last, a step being the
// smallest between two landmarks (Ahead where there is one only).
func (l *Landmark) Reach() (from, to float64) {
	step := math.Inf(1)
	for k := 1; k < len(l.Landmarks); k++ {
		step = min(step, l.Landmarks[k]-l.Landmarks[k-1])
	}
	if math.IsInf(step, 1) {
		step = l.Ahead
	}
	return l.Landmarks[0], l.Landmarks[len(l.Landmarks)-1] + step
}

// Hazard is the cumulative hazard of the event within Ahead of s with every
// column of X at its mean over the rows: how the time worn alone bears on the
// risk.
func (l *Landmark) Hazard(s float64) float64 {
	b := &l.base
	from, to := b.window(s)
	h := 0.0
	for k := from; k < to; k++ {
		h += b.d1[k]
	}
	n := len(b.event.coef) - b.timeColumns
	return h * math.Exp(b.event.at(func(j int) float64 {
		if j < n {
			return b.event.centre[j]
		}
		return math.Pow(s/b.ahead, float64(j-n+1))
	}))
}

// BaselineStep is a jump of both baselines of a landmark model.
type BaselineStep struct{ Time, Event, Competing float64 }

// Baseline lists the jumps of the hazards with every column at 0, those of
// the landmark included; an error where a number cannot hold them.
func (l *Landmark) Baseline() ([]BaselineStep, error) {
	none := func(int) float64 { return 0 }
	f1, f2 := math.Exp(l.base.event.at(none)), math.Exp(l.base.competing.at(none))
	var out []BaselineStep
	for k, t := range l.base.time {
		s := BaselineStep{t, f1 * l.base.d1[k], f2 * l.base.d2[k]}
		if !finite(s.Event) || !finite(s.Competing) {
			return nil, fmt.Errorf("baseline: %w", errOverflow)
		}
		out = append(out, s)
	}
	return out, nil
}

// Risks are the risks of the rows of the stack.
func (l *Landmark) Risks() []float64 { return slices.Clone(l.risk) }

// nearlyNone and nearlyAll hold a risk within what its complementary log-log
// can bear.
const nearlyNone, nearlyAll = 1e-6, 1 - 1e-6

// logLog is the complementary log-log of a risk.
func logLog(p float64) float64 {
	p = min(max(p, nearlyNone), nearlyAll)
	return math.Log(-math.Log1p(-p))
}

// backLogLog turns it back.
func backLogLog(x float64) float64 { return -math.Expm1(-math.Exp(x)) }
