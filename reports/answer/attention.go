package answer

import (
	"fmt"
	"slices"

	"plybook/analysis/quality"
	"plybook/reports/words"
)

// Urgency orders what asks for a decision, the most urgent first.
type Urgency int

// The urgencies. Between Worse and Missed stand reviews that are due.
const (
	Act    Urgency = iota + 1 // beyond limits that chance seldom passes: it is time to look why
	Worse                     // a signal on the worse side, or a change for the worse
	Review                    // a decision whose day of review has come
	Missed                    // a goal not reached, a unit to be watched
	Data                      // too little recorded to decide by
	Known                     // nothing wrong: what the largest part is
)

// attend says what in the answer asks for a decision; of several things the
// most urgent gives the rank.
func (w *work) attend(u Urgency, text string) {
	if text == "" {
		return
	}
	if w.Attention == "" {
		w.Attention, w.Urgency = words.Capital(text), u
		return
	}
	w.Attention += "; " + text
	w.Urgency = min(w.Urgency, u)
}

// lookFirst is said of every unit outside its limits: it is a code, and there
// are reasons to look for before anybody's work.
const lookFirst = "look at case-mix and records first"

// attendUnits says which units lie outside their limits: beyond 99.8% to act,
// beyond 95% to watch. Where a side is the better one, only the other is told.
func (j *funnelJob) attendUnits() {
	var act, watch []string
	for k, u := range j.f.Units {
		better := j.ask.Better == "higher" && u.Above || j.ask.Better == "lower" && !u.Above
		if j.withold[k] || better {
			continue
		}
		said := fmt.Sprintf("%s (%s, where %s were expected, %s)", j.display(u.Name), words.Fixed(u.Observed, 0), words.Fixed(u.Expected, 1), map[bool]string{true: "above", false: "below"}[u.Above])
		switch u.Beyond {
		case quality.Act:
			act = append(act, said)
		case quality.Watch:
			watch = append(watch, said)
		}
	}
	if len(act) > 0 {
		j.attend(Act, fmt.Sprintf("outside the 99.8%% limits: %s; %s", words.List(act), lookFirst))
	}
	if len(watch) > 0 {
		text := "to be watched, outside the 95% limits: " + words.List(watch)
		if len(act) == 0 {
			text += "; " + lookFirst
		}
		j.attend(Missed, text)
	}
}

// attendSums says which sum came to its limit on the worse side, or on either
// where no side is the better one, since the last decision that follows.
func (j *sumJob) attendSums() {
	since := 0.0
	for i, d := range j.made {
		if i == 0 || d.On > since {
			since = d.On
		}
	}
	for _, s := range j.sides {
		if j.ask.Better != "" && (s.name == "more") == (j.ask.Better == "higher") {
			continue
		}
		var on []float64
		for _, k := range s.signals {
			if day := j.dated.Num[j.rows[k]]; len(j.made) == 0 || day >= since {
				on = append(on, day)
			}
		}
		if len(on) == 0 {
			continue
		}
		text := fmt.Sprintf("the sum for %s %s came to its limit on %s", s.name, j.eventWords(), words.Date(on[len(on)-1]))
		if n := len(on) - 1; n > 0 {
			text += fmt.Sprintf(" and %s before", words.N(n, "time", "times"))
		}
		if j.ask.Better != "" {
			text += ", the worse side"
		}
		j.attend(Act, text+": "+lookFirst)
	}
}

// attendChange says that a change made things worse than they would have been.
func (j *segmentedJob) attendChange() {
	e := j.lines.Effect(j.atEnd())
	lo, hi := e.Interval(j.ask.Confidence)
	if j.ask.Better == "" || lo <= 0 && hi >= 0 || (e.Value > 0) == (j.ask.Better == "higher") {
		return
	}
	_, unit := j.scaled()
	end, in := j.amount(e)
	j.attend(Worse, fmt.Sprintf("since the change, in %s the line lies %s%s from where the old one would have led (%s %s), the worse side", j.nameOf(j.atEnd()), end, unit, j.confidenceWords(), in))
}

// attendLargest says which known bar is the largest. One that is hidden is not
// told, nor is any where all stand for few.
func (j *paretoJob) attendLargest(p *quality.ParetoChart, one, many string) {
	if len(p.Bars) == 0 {
		return
	}
	b := p.Bars[0]
	if b.Unknown || len(b.Pooled) > 0 || j.hiddenBars(p)[0] {
		return
	}
	size := words.Fixed(float64(b.Count), 0)
	of := j.n(p.Rows, one, many)
	if j.weight != nil {
		_, unit := j.what()
		size = amount(b.Weight, unit)
		of = amount(p.Total, unit) + " (" + label(j.weight) + ")"
	}
	j.attend(Known, fmt.Sprintf("of %s, %s (%s, %s)", of, causeLabel(b.Category), size, words.Percent(b.Percent/100, p.Rows)))
}

// enough is the share recorded under which an answer is not to be decided by.
const enough = 0.8

// attendRecorded says which columns are recorded too seldom to decide by, and
// which miss the goal, in the last whole period or, without periods, at all.
func (j *completenessJob) attendRecorded() {
	at := 0
	for k, p := range j.periods {
		if !slices.Contains(j.partly, p.name) {
			at = 1 + k
		}
	}
	var few, under []string
	for c, cells := range j.cells {
		k := cells[at]
		if k.rows == 0 || k.mask || j.hiddenCount(k.rows) {
			continue
		}
		text := label(j.columns[c]) + " (" + j.shown(k) + ")"
		switch {
		case k.share() < enough:
			few = append(few, text)
		case j.under(k):
			under = append(under, text)
		}
	}
	when := ""
	if at > 0 {
		when = "in " + j.periods[at-1].words() + " "
	}
	if len(few) > 0 {
		j.attend(Data, when+"recorded too seldom to decide by: "+words.List(few))
	}
	if len(under) > 0 {
		j.attend(Missed, when+fmt.Sprintf("under the goal of %s: %s", words.Percent(*j.ask.Goal, 50), words.List(under)))
	}
}
