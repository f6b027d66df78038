package answer

import (
	"errors"
	"fmt"
	"math"
	"sort"

	"plybook/analysis/cohort"
	"plybook/analysis/table"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// The exposures of a rate that are not a column of the rows.
const (
	exposureMonths = "socket-months"
	exposureVisits = "checked-visits"
)

// exposure is what a rate is a rate of.
type exposure struct {
	words  string        // "100 socket-months"
	scale  float64       // units of the exposure in one of the rate: 100
	column *table.Column // summed over rows; nil otherwise
	table  *table.Table  // the sockets or visits that make it up
	spans  []stretch     // stretches during which a socket was in use
	days   []float64     // of single units: visits
	rows   []int         // of the table of the exposure: those of spans, or of days
	units  int           // sockets, visits

	owner   *table.Column    // of the rows counted: the visit, socket, limb or person
	byOwner map[string][]int // what makes up the exposure, by that
}

// stretch is a run of days, the end not part of it.
type stretch struct{ from, to float64 }

// exposureOf reads the exposure that the question names.
func (j *chartJob) exposureOf() (*exposure, error) {
	w := j.work
	switch w.ask.Exposure {
	case exposureMonths:
		return j.socketMonths()
	case exposureVisits:
		return j.checkedVisits()
	}
	c, err := w.column("exposure", w.ask.Exposure)
	if err != nil {
		return nil, err
	}
	if c.Kind != table.Number {
		return nil, w.at("exposure", w.ask.Exposure, notebook.CodeImpossible, "an exposure is a number to be summed, but %s is %s; it can also be socket-months or checked-visits", c.Name, kindWords(c.Kind))
	}
	unit := c.Unit
	if unit == "" {
		unit = "unit"
	}
	return &exposure{words: unit + " of " + label(c), scale: 1, column: c}, nil
}

// exposedRows are the sockets or visits that make up an exposure: those of the denominator,
// else those that keep chooses, where it can.
func (j *chartJob) exposedRows(name string) (*table.Table, []bool, error) {
	w := j.work
	t, err := w.ctx.Cohort.Rows(name)
	if err != nil {
		return nil, nil, err
	}
	if d := w.ask.Denominator; d != nil && !d.All {
		hit, err := w.matches("denominator", d.Condition, t)
		return t, hit, err
	}
	for _, cl := range allClauses(w.ask.Keep) {
		if _, err := t.Lookup(cl.Column); err != nil {
			return nil, nil, w.at("keep", cl.Column, notebook.CodeMissingKey,
				"the %s that make up the exposure have no %s, so keep cannot choose among them; write under denominator which of them count", name, cl.Column)
		}
	}
	hit, err := w.matches("keep", w.ask.Keep, t)
	return t, hit, err
}

// socketMonths are the months during which sockets were in use: from delivery
// to the end, else to the data cut unless the person is known to have moved
// away, been lost or died.
func (j *chartJob) socketMonths() (*exposure, error) {
	w := j.work
	t, hit, err := j.exposedRows("sockets")
	if err != nil {
		return nil, err
	}
	var rows []int
	for i, h := range hit {
		if h {
			rows = append(rows, i)
		}
	}
	l, err := w.ctx.Cohort.Lives(t.Pick(rows), cohort.LifeSpec{})
	if err != nil {
		if errors.Is(err, cohort.ErrNotSockets) {
			return nil, fmt.Errorf("sockets in use: %w", err)
		}
		return nil, err
	}
	e := &exposure{words: "100 socket-months", scale: 100, table: t, units: l.Len()}
	for k := range l.Len() {
		to := l.Start[k] + math.Max(l.Time[k], l.IfPresent[k])
		if l.EndReason[k] == "" && l.Cause[k] == 0 {
			to++ // in use on the last day too
		}
		e.spans = append(e.spans, stretch{l.Start[k] + l.Entry[k], to})
		e.rows = append(e.rows, rows[l.Row[k]])
	}
	return e, nil
}

// checkedVisits are the visits at which the skin was looked at, or at which
// anything was found.
func (j *chartJob) checkedVisits() (*exposure, error) {
	w := j.work
	t, hit, err := j.exposedRows("visits")
	if err != nil {
		return nil, err
	}
	found := map[string]bool{}
	if f, err := w.ctx.Cohort.Rows("findings"); err == nil {
		if v, ok := f.Col("visit"); ok {
			for i, id := range v.Text {
				if !v.Missing[i] {
					found[id] = true
				}
			}
		}
	}
	id, _ := t.Col("visit")
	date, _ := t.Col("date")
	checked, _ := t.Col("skin_checked")
	if id == nil || date == nil || checked == nil {
		return nil, w.at("exposure", exposureVisits, notebook.CodeImpossible, "the visits do not say whether the skin was checked")
	}
	e := &exposure{words: "100 visits with the skin checked", scale: 100, table: t}
	for i, h := range hit {
		if h && !date.Missing[i] && (checked.Text[i] == "yes" || found[id.Text[i]]) {
			e.days = append(e.days, date.Num[i])
			e.rows = append(e.rows, i)
		}
	}
	e.units = len(e.days)
	return e, nil
}

// over is the exposure of a stretch of days, in units of the rate.
func (e *exposure) over(from, to float64) float64 {
	sum := 0.0
	for _, s := range e.spans {
		if d := math.Min(to, s.to) - math.Max(from, s.from); d > 0 {
			sum += d / table.DaysPerMonth
		}
	}
	for _, d := range e.days {
		if d >= from && d < to {
			sum++
		}
	}
	return sum / e.scale
}

// share is what one socket or visit adds to the exposure, in units of the
// rate.
func (e *exposure) share(k int) float64 {
	if e.spans == nil {
		return 1 / e.scale
	}
	return math.Max(0, e.spans[k].to-e.spans[k].from) / table.DaysPerMonth / e.scale
}

// addRate adds a row to the rate of its period.
func (j *chartJob) addRate(s *series, k, i int) error {
	switch {
	case j.y != nil:
		v := j.y.Num[i]
		if v < 0 || v != math.Trunc(v) {
			return j.at("outcome", j.y.Name, notebook.CodeImpossible, "a u chart sums counts, whole numbers from 0 on, but %s has %s; for its mean write chart: xmr", j.y.Name, words.Plain(v))
		}
		s.num[k] += v
		s.events += int(v)
	case j.hit[i]:
		s.num[k]++
		s.events++
	}
	switch {
	case j.expo == nil:
		if j.among[i] {
			s.den[k]++
		}
	case j.expo.column != nil && j.among[i] && !j.expo.column.Missing[i]:
		if v := j.expo.column.Num[i]; v >= 0 {
			s.den[k] += v
		}
	}
	return nil
}

// finishRate sets the exposures that rows do not carry, and takes out what
// happened where there was none.
func (j *chartJob) finishRate(s *series) error {
	without, lost := 0, 0
	for k, p := range s.periods {
		if j.expo != nil && j.expo.column == nil {
			s.den[k] = j.expo.over(p.start, p.end)
		}
		if s.den[k] == 0 && s.num[k] > 0 {
			without++
			lost += int(s.num[k])
			s.events -= int(s.num[k])
			s.num[k] = 0
		}
	}
	if without > 0 {
		j.caution("no-exposure", "In %s there was something to count but no exposure, so %s left out.", words.N(without, j.ask.Period, j.ask.Period+"s"), j.n(lost, "event was", "events were"))
	}
	return nil
}

// lateEntry is how long after its date a row may be written down: as the
// question says, or such that 95 in 100 rows were written down within it.
func (j *chartJob) lateEntry() (float64, error) {
	w := j.work
	if d := w.ask.LateEntry; d != nil {
		return d.Days, nil
	}
	if w.ask.Entered == "" {
		return 0, nil
	}
	c, err := w.column("late_entry", w.ask.Entered)
	if err != nil {
		return 0, err
	}
	if c.Kind != table.Date {
		return 0, w.at("late_entry", w.ask.Entered, notebook.CodeImpossible, "late_entry takes a length of time such as 30d, or the date column that says when a row was written down; %s holds no dates", w.ask.Entered)
	}
	var delays []float64
	for _, i := range w.rows {
		if !c.Missing[i] && !j.dated.Missing[i] && j.dated.Num[i] <= w.ctx.Today-settled {
			delays = append(delays, math.Max(0, c.Num[i]-j.dated.Num[i]))
		}
	}
	if len(delays) < 20 {
		return 0, w.at("late_entry", w.ask.Entered, notebook.CodeImpossible, "only %s of half a year ago or more say when they were written down, too few to tell how late rows come; write a length of time, such as late_entry: 30d", w.n(len(delays), "row", "rows"))
	}
	sort.Float64s(delays)
	return delays[int(math.Ceil(0.95*float64(len(delays))))-1], nil
}

// settled is the age in days at which rows are taken to be all written down.
const settled = 183
