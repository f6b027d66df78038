package answer

import (
	"fmt"
	"strings"

	"plybook/analysis/quality"
	"plybook/reports/words"
)

// kindWords is what the chart is called.
func (j *chartJob) kindWords() string {
	if j.over {
		return j.kind.String() + ", allowing for overdispersion"
	}
	return j.kind.String()
}

// hitWords is what is counted: "visits with ...", or "visits".
func (j *chartJob) hitWords() string {
	_, many := j.nouns()
	if n := j.ask.Numerator; n != nil && !n.All {
		return many + " with " + j.conditionWords(n.Condition)
	}
	return many
}

// value says what a point of the chart is, and in which unit.
func (j *chartJob) value() (what, unit string) {
	one, many := j.nouns()
	event := one
	if n := j.ask.Numerator; n != nil && !n.All {
		event = j.conditionWords(n.Condition)
	}
	switch {
	case j.kind == quality.KindG && j.ask.Between == "days", j.kind == quality.KindT:
		return "days from one " + event + " to the next", "days"
	case j.kind == quality.KindG:
		return many + " between one " + event + " and the next", ""
	case j.kind == quality.KindU:
		what := j.hitWords()
		if j.y != nil {
			what = label(j.y)
		}
		return what + " per " + j.perWords(), ""
	case j.y != nil && j.singly():
		return label(j.y), j.y.Unit
	case j.y != nil:
		return "mean " + label(j.y), j.y.Unit
	case j.kind == quality.KindP:
		return j.conditionWords(j.ask.Numerator.Condition), ""
	}
	return "number of " + j.hitWords(), ""
}

// perWords is the unit of the exposure of a rate.
func (j *chartJob) perWords() string {
	if j.expo != nil {
		return j.expo.words
	}
	one, _ := j.nouns()
	if d := j.ask.Denominator; d != nil && !d.All {
		return one + " with " + j.conditionWords(d.Condition)
	}
	return one
}

// things are what several points are.
func (j *chartJob) things() string {
	switch {
	case j.gaps():
		return "gaps"
	case j.singly():
		return "cases"
	}
	return "periods"
}

// periodWords is "quarter" or "quarters"; of a chart of gaps, "event".
func (j *chartJob) periodWords(n int) string {
	if j.gaps() {
		return words.N(n, "gap", "gaps")
	}
	return words.N(n, j.ask.Period, j.ask.Period+"s")
}

// signalWords says a signal in words.
func (j *chartJob) signalWords(g quality.Signal) string {
	s := j.s
	side := "below"
	if g.Above {
		side = "above"
	}
	verdict := ""
	switch j.better() {
	case "higher":
		verdict = map[bool]string{true: ", the better side", false: ", the worse side"}[g.Above]
	case "lower":
		verdict = map[bool]string{true: ", the worse side", false: ", the better side"}[g.Above]
	}
	switch g.Rule {
	case quality.BeyondLimits:
		return fmt.Sprintf("%s lies %s the limits%s", s.periods[g.To].name, side, verdict)
	case quality.LongRun:
		return fmt.Sprintf("%d %s in a row, %s to %s, lie %s the centre line%s (chance seldom gives more than %d)", g.Count, j.things(), s.periods[g.From].name, s.periods[g.To].name, side, verdict, g.Limit)
	default:
		often := map[int]string{0: "never crosses the centre", 1: "crosses the centre only once"}[g.Count]
		if often == "" {
			often = fmt.Sprintf("crosses the centre only %d times", g.Count)
		}
		return fmt.Sprintf("the line %s (chance seldom gives fewer than %d crossings)", often, g.Limit)
	}
}

// show prints a value of the chart.
func (j *chartJob) show(x float64) string {
	if j.kind == quality.KindP {
		return words.Percent(x, j.Answer.Rows)
	}
	_, unit := j.value()
	return amount(x, unit)
}

// read writes the reading.
func (j *chartJob) read() {
	w := j.work
	what, _ := j.value()
	var level string
	switch {
	case j.kind == quality.KindP:
		level = fmt.Sprintf("Across %s, %s of %s had %s; the centre line is at %s", j.periodWords(len(j.s.periods)),
			words.Percent(float64(w.Events)/float64(max(1, w.Answer.Rows)), w.Answer.Rows), w.rowsCounted(), w.conditionWords(w.ask.Numerator.Condition), j.centreWords())
	case j.gaps():
		level = fmt.Sprintf("Across %s, the %s have their middle at %s", j.periodWords(len(j.s.periods)), what, j.centreWords())
	case j.kind == quality.KindU && j.y == nil:
		one, many := w.nouns()
		with := ""
		if n := w.ask.Numerator; !n.All {
			with = " with " + w.conditionWords(n.Condition)
		}
		level = fmt.Sprintf("Across %s, there were %s%s; the centre line is at %s", j.periodWords(len(j.s.periods)), w.n(w.Events, one, many), with, j.centreWords())
	case j.kind == quality.KindU:
		level = fmt.Sprintf("Across %s, the %s have their centre line at %s", j.periodWords(len(j.s.periods)), what, j.centreWords())
	case j.singly():
		level = fmt.Sprintf("Across %s, the %s has its centre line at %s", j.periodWords(len(j.s.periods)), what, j.centreWords())
	default:
		level = fmt.Sprintf("Across %s, the %s per %s has its centre line at %s", j.periodWords(len(j.s.periods)), what, w.ask.Period, j.centreWords())
	}
	level += "." + j.goalWords() + j.openWords()
	of := what
	if j.kind == quality.KindU && j.y == nil {
		of = j.hitWords() // the level says of what
	}
	short := fmt.Sprintf("%s: the centre line is at %s.%s", words.Capital(of), j.centreWords(), j.goalWords()+j.openWords())
	verdict := j.verdict()
	w.Reading, w.Short = level+verdict, short+verdict
	j.attention()
	if verdict == calm {
		w.Short = short + " Nothing on the chart is more than noise."
	}
}

// calm is the verdict on a chart without signals.
const calm = " Nothing on the chart is more than the noise of such numbers."

// verdict says what on the chart is more than noise.
func (j *chartJob) verdict() string {
	c := j.chart
	if len(c.Signals) == 0 {
		for _, p := range c.Phases {
			if !p.RunsTested {
				return " No point lies beyond the limits; there are too few points to judge runs by."
			}
		}
		return calm
	}
	var parts []string
	for i, g := range c.Signals {
		if i == 3 {
			parts = append(parts, words.N(len(c.Signals)-3, "further signal", "further signals"))
			break
		}
		parts = append(parts, j.signalWords(g))
	}
	return " More than noise: " + strings.Join(parts, "; ") + "."
}

// attention says what in the last phase asks for a decision: signals on the
// worse side, and a goal that is not reached.
func (j *chartJob) attention() {
	c, last := j.chart, len(j.chart.Phases)-1
	var parts []string
	for _, g := range c.Signals {
		worse := j.better() == "higher" && !g.Above || j.better() == "lower" && g.Above
		if worse && g.Rule != quality.FewCrossings && c.Points[g.To].Phase == last {
			parts = append(parts, j.signalWords(g))
		}
	}
	if n := len(parts); n > 2 {
		parts = append(parts[:1], words.N(n-1, "further signal on that side", "further signals on that side"))
	}
	j.attend(Worse, strings.Join(parts, "; "))
	if text := j.goalWords(); strings.Contains(text, " not reached ") {
		j.attend(Missed, strings.TrimSuffix(strings.Replace(strings.TrimSpace(text), "The goal", "the goal", 1), "."))
	}
}

// goalWords says how the level stands to the goal.
func (j *chartJob) goalWords() string {
	g := j.goal()
	last := j.chart.Phases[len(j.chart.Phases)-1]
	if g == nil || last.LimitPoints == 0 {
		return ""
	}
	reached := last.Centre >= *g
	if j.better() == "lower" {
		reached = last.Centre <= *g
	}
	switch {
	case j.better() == "":
		return fmt.Sprintf(" The goal is %s.", j.show(*g))
	case reached:
		return fmt.Sprintf(" The goal of %s is reached by the centre line.", j.show(*g))
	}
	return fmt.Sprintf(" The goal of %s is not reached by the centre line.", j.show(*g))
}

// openWords says how long the last event lies back, which the chart does not
// show: the gap is not closed.
func (j *chartJob) openWords() string {
	s := j.s
	if !j.gaps() || !s.hasOpen {
		return ""
	}
	one, many := j.nouns()
	n := int(s.open)
	text := words.N(n, one, many)
	if j.kind == quality.KindT || j.ask.Between == "days" {
		text = words.N(n, "day", "days")
	}
	last := j.chart.Phases[len(j.chart.Phases)-1]
	_, upper, ok := j.chart.LimitsOf(len(j.chart.Phases)-1, len(s.periods)-1)
	if ok && last.HasLimits && s.open > upper {
		return fmt.Sprintf(" Since the last event, on %s, there have been %s without another: already more than the upper limit of %s.", words.ISODate(s.openFrom), text, j.show(upper))
	}
	return fmt.Sprintf(" Since the last event, on %s, there have been %s without another.", words.ISODate(s.openFrom), text)
}

// centreWords says where the centre line is now and, where a decision has
// started a new phase, where it was before.
func (j *chartJob) centreWords() string {
	c := j.chart
	value := func(p quality.Phase) string {
		if p.LimitPoints == 0 {
			return "a level not yet known"
		}
		if j.kind == quality.KindU && j.y == nil {
			return j.show(p.Centre) + " per " + j.perWords()
		}
		return j.show(p.Centre)
	}
	n := len(c.Phases)
	last := c.Phases[n-1]
	out := value(last)
	if j.ask.BaselinePoints > 0 && last.LimitPoints < last.Points {
		things := j.things()
		out += fmt.Sprintf(", from the first %d %s", last.LimitPoints, things)
		if n > 1 {
			out += " of the phase"
		}
	}
	if n > 1 {
		out += fmt.Sprintf(" since %s, and was at %s before", j.s.periods[last.From].name, value(c.Phases[n-2]))
	}
	return out
}

func (w *work) rowsCounted() string {
	one, many := w.nouns()
	return w.n(w.Answer.Rows, one, many)
}
