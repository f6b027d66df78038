package answer

import (
	"fmt"
	"math"
	"strings"

	"plybook/analysis/table"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/words"
)

func (j *sumJob) sumTables() {
	w := j.work
	t := tableOf("points", integer("case"), Column{Name: "date", Type: TypeDate}, flag("event"), number("expected", ""), number("excess", ""), number("more", ""), number("fewer", ""), text("signal"))
	excess := 0.0
	for k, i := range j.rows {
		excess -= j.chance[k]
		if j.events[k] {
			excess++
		}
		var signal []string
		for _, s := range j.sides {
			if s.points[k].Signal {
				signal = append(signal, s.name)
			}
		}
		t.row(k+1, j.dated.Num[i], j.events[k], j.chance[k], excess, j.sides[0].points[k].Sum, j.sides[1].points[k].Sum, orNil(strings.Join(signal, " ")))
	}
	w.addTable(t)
	t = tableOf("sums", text("sum"), number("odds", ""), number("limit", ""), number("false_alarm_chance", ""), number("cases_to_false_alarm", ""), number("cases_to_seen", ""), number("at_end", ""), integer("signals"))
	for _, s := range j.sides {
		t.row(s.name, s.odds, s.limit, s.chance, finite(s.run), s.seen, s.points[len(s.points)-1].Sum, len(s.signals))
	}
	w.addTable(t)
	t = tableOf("fit", count("rows"), count("events"), number("expected", ""), integer("baseline"), text("expected_from"), number("concordance", ""), number("cases_a_year", ""), number("false_alarm_chance", ""), integer("seed"))
	t.row(len(j.rows), w.Events, j.expectedUpTo(len(j.rows)), j.base, j.how, j.auc, j.pace, j.alarms.Either, w.ask.Seed)
	w.addTable(t)
	j.sumSince()
	out := document.Table{ID: w.ask.ID + "-sums", Caption: "What the sums look for, and how far they are", Columns: []document.TableColumn{
		{Head: "Sum for", Wide: true}, {Head: "Odds looked for", Align: document.Right}, {Head: "Seen after", Align: document.Right}, {Head: "False alarm after", Align: document.Right}, {Head: "in such a series", Align: document.Right}, {Head: "Now at", Align: document.Right}, {Head: "Signals", Align: document.Right}}}
	for _, s := range j.sides {
		now := s.points[len(s.points)-1]
		at := words.Percent(now.Sum/s.limit, 10) + " of its limit"
		if now.Signal {
			at = "its limit"
		}
		out.Rows = append(out.Rows, []string{words.Capital(s.name) + " events", words.Plain(s.odds) + " times", j.cases(s.seen), j.cases(s.run), words.Percent(s.chance, 100), at, fmt.Sprint(len(s.signals))})
	}
	out.Notes = append(out.Notes, fmt.Sprintf("On average, by simulation of such cases; in cases, and the time in which they come. In a series such as this one, in which nothing changes, either sum comes to its limit with a chance of %s.", words.Percent(j.alarms.Either, 100)))
	w.print(out)
}

// cases prints a number of cases with the time in which they come.
func (j *sumJob) cases(n float64) string {
	if math.IsNaN(n) {
		return "hardly ever"
	}
	return words.Fixed(n, 0) + " (" + words.Span(n/j.pace*table.DaysPerYear) + ")"
}

// sumSince says what was seen since each decision, and whether a sum
// signalled.
func (j *sumJob) sumSince() {
	w := j.work
	if len(j.made) == 0 {
		return
	}
	w.Since = map[int]string{}
	for _, d := range j.made {
		n, seen, signals, expected := 0, 0, 0, 0.0
		for k, i := range j.rows {
			if j.dated.Num[i] < d.On {
				continue
			}
			n++
			expected += j.chance[k]
			if j.events[k] {
				seen++
			}
			for _, s := range j.sides {
				if s.points[k].Signal {
					signals++
				}
			}
		}
		text := "no complete case since"
		if n > 0 {
			text = fmt.Sprintf("%d of %d, where %s were expected", seen, n, words.Fixed(expected, 1))
			if signals > 0 {
				text += "; " + words.N(signals, "signal", "signals")
			} else {
				text += "; no signal"
			}
		}
		w.Since[d.Pos.Line] = text
	}
}

func (j *sumJob) eventWords() string {
	if n := j.ask.Numerator; !n.All {
		return j.conditionWords(n.Condition)
	}
	return "event"
}

func (j *sumJob) sumFigure() {
	w := j.work
	spec := figure.SumSpec{ID: w.ask.ID, Title: "Evidence that " + j.eventWords() + " comes more or less often than expected", ValueAxis: "Evidence: " + j.eventWords(),
		LimitMore: j.sides[0].limit, LimitFewer: j.sides[1].limit}
	switch w.ask.Better {
	case "lower":
		spec.Better = figure.BetterLower
	case "higher":
		spec.Better = figure.BetterHigher
	}
	for k, i := range j.rows {
		spec.Points = append(spec.Points, figure.SumPoint{Day: int(j.dated.Num[i]), More: j.sides[0].points[k].Sum, Fewer: j.sides[1].points[k].Sum,
			SignalMore: j.sides[0].points[k].Signal, SignalFewer: j.sides[1].points[k].Signal, Baseline: j.base < len(j.rows) && k < j.base})
	}
	for _, d := range j.made {
		spec.Decisions = append(spec.Decisions, figure.Decision{Day: int(d.On), Text: d.What})
	}
	w.Figures = append(w.Figures, figure.Sum(spec))
}

func (j *sumJob) sumRead() {
	w := j.work
	o, many := w.nouns()
	level := fmt.Sprintf("Of %s, %d had %s where %s were expected.", w.n(len(j.rows), o, many), w.Events, j.eventWords(), words.Fixed(j.expectedUpTo(len(j.rows)), 1))
	var parts []string
	for _, s := range j.sides {
		if len(s.signals) == 0 {
			continue
		}
		var on []string
		for _, k := range s.signals {
			on = append(on, words.ISODate(j.dated.Num[j.rows[k]]))
		}
		if len(on) > 4 {
			on = append(on[:3], words.N(len(on)-3, "further time", "further times"))
		}
		side := ""
		switch {
		case w.ask.Better == "":
		case (s.name == "more") == (w.ask.Better == "higher"):
			side = ", the better side"
		default:
			side = ", the worse side"
		}
		parts = append(parts, fmt.Sprintf("the sum for %s came to its limit on %s%s", s.name, words.List(on), side))
	}
	by := words.Percent(j.alarms.Either, 100)
	switch {
	case len(parts) == 0:
		level += " Neither sum came to its limit: nothing is more than the noise of such cases."
	case j.alarms.Either > mostAlarms:
		level += " " + words.Capital(strings.Join(parts, "; ")) + fmt.Sprintf(". With these limits %s of such series do so though nothing has changed, so that this alone is no more than noise.", by)
	default:
		level += " More than noise: " + strings.Join(parts, "; ") + fmt.Sprintf(" (where nothing has changed, either sum does so in %s of such series).", by)
	}
	w.Reading = level
	w.Methods = fmt.Sprintf("Cases were followed in order of %s by two risk-adjusted cumulative sums of log likelihood ratios, one for odds of the event %s times those expected and one for %s times; each starts again from 0 after a signal. Expected of each case was %s.",
		label(j.dated), words.Plain(j.odds), words.Plain(1/j.odds), j.how)
	limits := fmt.Sprintf(" Limits (%s and %s) were simulated so that ", words.Fixed(j.sides[0].limit, 2), words.Fixed(j.sides[1].limit, 2))
	if w.ask.FalseAlarm == nil {
		w.Methods += limits + fmt.Sprintf("in %s of series of these cases in which nothing changes, and of no more than %s, either sum signals", by, words.Percent(mostAlarms, 100))
	} else {
		run := j.sides[0].run
		w.Methods += limits + fmt.Sprintf("each sum gives a false alarm once in %s cases on average, %s at the pace of the log; within a series of these cases in which nothing changes either sum signals with a chance of %s", words.Fixed(math.Round(run), 0), words.Span(run/j.pace*table.DaysPerYear), by)
	}
	if j.base > 0 {
		w.Methods += ", what is expected learnt anew from the first cases of each"
	}
	w.Methods += "."
	w.References = append(w.References, "Steiner SH, Cook RJ, Farewell VT, Treasure T. Monitoring surgical performance using risk-adjusted cumulative sum charts. Biostatistics 2000; 1: 441-452.")
}
