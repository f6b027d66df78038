package answer

import (
	"fmt"
	"math"
	"strings"

	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/words"
)

// mask says which of the counts of a group are withheld: over, open, wrong
// order, not recorded. They add up to the sockets, which are shown.
func (j *turnaroundJob) mask(g *waits) [4]bool {
	grid := maskGrid([][]int{{g.over}, {g.open}, {g.disorder}, {g.skipped}}, j.ctx.Front.HideBelow)
	var out [4]bool
	for i := range out {
		out[i] = grid[i][0]
	}
	return out
}

func (j *turnaroundJob) tables() {
	rows := tableOf("rows", text("step"), text("from"), text("to"), text("group"), count("sockets"), count("over"), count("open"), count("wrong_order"), count("not_recorded"), text("limits"))
	qs := tableOf("quantiles", text("step"), text("group"), number("quantile", ""), number("estimate", "days"), number("low", "days"), number("high", "days"))
	for _, g := range j.waits {
		if g.withheld {
			continue
		}
		limits := any(nil)
		if g.got != nil {
			limits = map[bool]string{true: "order-statistics", false: "kaplan-meier"}[g.got.Exact]
		}
		rows.row(j.pairLabel(g), j.steps[g.from].column, j.steps[g.to].column, g.group, g.sockets(), g.over, g.open, g.disorder, g.skipped, limits)
		for i, name := range []string{"over", "open", "wrong_order", "not_recorded"} {
			if j.mask(g)[i] {
				j.drop(rows, name)
			}
		}
		if g.got == nil {
			continue
		}
		for k, p := range waitQuantiles {
			est, low, high := j.quantile(g, k)
			qs.row(j.pairLabel(g), g.group, p, est, low, high)
			if !j.told(g, p) {
				j.Hidden = append(j.Hidden, HiddenCell{"quantiles", len(qs.Rows) - 1, "estimate"})
			}
		}
	}
	j.addTable(rows)
	j.addTable(qs)
}

// waitDays prints a number of days; a dash where there is none.
func waitDays(x float64) string {
	if math.IsNaN(x) {
		return "–"
	}
	if x == math.Trunc(x) {
		return words.Fixed(x, 0)
	}
	return words.Fixed(x, 1)
}

// limitsIn prints an interval in which a side may be open.
func limitsIn(low, high float64) string {
	switch {
	case math.IsNaN(low) && math.IsNaN(high):
		return ""
	case math.IsNaN(low):
		return " (up to " + waitDays(high) + ")"
	case math.IsNaN(high):
		return " (" + waitDays(low) + " or more)"
	}
	return " (" + waitDays(low) + " to " + waitDays(high) + ")"
}

func (j *turnaroundJob) printed() {
	grouped := j.ask.By != "" || j.ask.Period != ""
	level := percentOf(j.ask.Confidence)
	t := document.Table{ID: j.ask.ID + "-waits", Caption: "Waiting time in days: median and centiles, with " + level + " intervals", Columns: []document.TableColumn{{Head: "From one step to the next", Wide: true}}}
	if grouped {
		t.Columns = append(t.Columns, document.TableColumn{Head: j.groupHead()})
	}
	for _, h := range []string{"Over", "Open", "Lower quartile", "Median", "Upper quartile", "90th centile"} {
		t.Columns = append(t.Columns, document.TableColumn{Head: h, Align: document.Right})
	}
	spec := figure.SpansSpec{ID: j.ask.ID, Title: "Waits at each step", Axis: "Wait", Unit: "days", DetailHead: "Waits"}
	last := ""
	few := false
	for _, g := range j.waits {
		if g.withheld {
			continue
		}
		m := j.mask(g)
		cell := func(i, n int) string {
			if m[i] {
				return j.hiddenCell(n)
			}
			return j.cell(n)
		}
		step := words.Capital(j.pairLabel(g))
		head := step
		if grouped && step == last {
			head = ""
		}
		last = step
		row := []string{head}
		if grouped {
			row = append(row, words.Capital(j.groupLabel(g.group)))
		}
		row = append(row, cell(0, g.over), cell(1, g.open))
		drawn := figure.SpanRow{Name: step, Detail: j.cell(len(g.days)), Few: len(g.days) < 10}
		if grouped {
			drawn.Group, drawn.Name = step, words.Capital(j.groupLabel(g.group))
		}
		few = few || drawn.Few
		for k := range waitQuantiles {
			est, low, high := j.quantile(g, k)
			*[]*float64{&drawn.Lower, &drawn.Median, &drawn.Upper, &drawn.Tail}[k] = est
			text := waitDays(est) + limitsIn(low, high)
			if math.IsNaN(est) && j.told(g, waitQuantiles[k]) {
				text = "not reached"
			}
			row = append(row, text)
		}
		if m[1] { // the number of waits less those that are over would tell the open ones
			drawn.Detail = "≥ " + words.Fixed(float64(j.ctx.Front.HideBelow), 0)
		}
		t.Rows = append(t.Rows, row)
		spec.Rows = append(spec.Rows, drawn)
	}
	t.Notes = []string{"Over: the wait has ended. Open: it had not, by the end of what is known; it counts for as long as it has lasted."}
	if j.public() {
		t.Notes = append(t.Notes, fmt.Sprintf("Counts from 1 to %d are not given, nor a centile with fewer than five waits on one side of it, nor the shortest and the longest wait.", j.ctx.Front.HideBelow-1))
	}
	if few {
		spec.Note = "Faint: fewer than 10 waits."
	}
	j.Figures = append(j.Figures, figure.Spans(spec))
	j.print(t)
}

func (j *turnaroundJob) groupHead() string {
	if j.ask.Period != "" {
		return "Began in"
	}
	return words.Capital(j.columnLabel(j.ask.By))
}

// main is the wait that the reading begins with: the whole way where there
// is one, of the last group that may be shown.
func (j *turnaroundJob) main() (first, last *waits) {
	p := j.pairs[len(j.pairs)-1]
	for _, g := range j.waits {
		if g.from != p[0] || g.to != p[1] || g.withheld || g.got == nil {
			continue
		}
		if est, _, _ := j.quantile(g, 1); math.IsNaN(est) {
			continue
		}
		if first == nil {
			first = g
		}
		last = g
	}
	return first, last
}

func (j *turnaroundJob) reading() {
	first, last := j.main()
	if first == nil {
		j.Reading = fmt.Sprintf("So few waits from %s are over that their median is not known.", j.steps[0].label+" to "+j.steps[len(j.steps)-1].label)
		return
	}
	say := func(g *waits) string {
		est, low, high := j.quantile(g, 1)
		return spanOf(est) + strings.ReplaceAll(limitsIn(low, high), " (", " ("+percentOf(j.ask.Confidence)+" interval ")
	}
	where := ""
	if j.ask.Period != "" {
		where = ", where it began in " + first.group
	} else if j.ask.By != "" {
		where = ", for " + j.groupLabel(first.group)
	}
	out := fmt.Sprintf("From %s half of the waits were over within %s%s", j.pairLabel(first), say(first), where)
	if last != first {
		prep := "for "
		if j.ask.Period != "" {
			prep = "in "
		}
		out += "; " + prep + j.groupLabel(last.group) + " within " + say(last)
	}
	out += "."
	if t, low, high := j.quantile(last, 3); !math.IsNaN(t) {
		out += fmt.Sprintf(" Nine in ten were over within %s%s.", spanOf(t), limitsIn(low, high))
	}
	if most := j.longest(last); len(most) > 0 {
		est, _, _ := j.quantile(most[0], 1)
		var from []string
		for _, g := range most {
			from = append(from, "from "+j.pairLabel(g))
		}
		out += fmt.Sprintf(" The longest single %s %s, with a median of %s%s.", plural(len(from), "step is", "steps are"), words.List(from), spanOf(est), plural(len(from), "", " each"))
	}
	j.Reading = out
}

func spanOf(days float64) string { return words.Count(days, "day", "days") }

// longest are the steps with the longest median as it is printed, within the
// group of the whole.
func (j *turnaroundJob) longest(of *waits) []*waits {
	if !j.whole {
		return nil
	}
	var out []*waits
	most := 0.0
	for _, g := range j.waits {
		if g.withheld || g.got == nil || g.to-g.from != 1 || g.group != of.group {
			continue
		}
		switch est, _, _ := j.quantile(g, 1); {
		case !(est > 0):
		case len(out) > 0 && spanOf(est) == spanOf(most):
			out = append(out, g)
		case est > most:
			out, most = []*waits{g}, est
		}
	}
	return out
}

func (j *turnaroundJob) cautions() {
	var disorder, open, long int
	skipped := map[int]int{} // by step
	var fewest *waits
	repeats := false
	for _, g := range j.waits {
		if g.withheld {
			continue
		}
		if !j.whole || g.to-g.from == 1 { // the whole way would count its parts again
			disorder += g.disorder
			skipped[g.to] += g.skipped
		}
		if p := j.pairs[len(j.pairs)-1]; g.from == p[0] && g.to == p[1] {
			open, long = open+g.open, long+g.longOpen
		}
		if n := len(g.days); n < 20 && (fewest == nil || n < len(fewest.days)) {
			fewest = g
		}
		repeats = repeats || g.got != nil && g.got.Exact && 5*g.repeats > len(g.days)
	}
	var lacking []string
	for k := range j.steps {
		n := 0
		for i, p := range j.pairs[:len(j.steps)-1] {
			if p[0] == k {
				n = j.undated[i]
			} else if p[1] == k && k == len(j.steps)-1 {
				n = skipped[k]
			}
		}
		if n > 0 {
			lacking = append(lacking, j.without(j.steps[k].label, n))
		}
	}
	if fewest != nil {
		where := ""
		if len(j.groups) > 1 {
			where = " (" + j.groupLabel(fewest.group) + ")"
		}
		j.caution("few-waits", "%s from %s%s: centiles of so few are rough, and the 90th hangs on one or two people.", j.only(len(fewest.days), "wait is known", "waits are known"), j.pairLabel(fewest), where)
	}
	if open > 0 {
		j.caution("open-waits", "Of the waits from %s, %s not over yet. They count for as long as they have lasted, since leaving them out would make the wait look short: the long ones are those that are still open.",
			j.steps[0].label+" to "+j.steps[len(j.steps)-1].label, j.some(open, "was", "were"))
	}
	if long > 0 {
		j.caution("long-open", "%s been open for longer than any that is over took. Either somebody is still waiting, or the order was dropped or the delivery not recorded: look them up, since they lengthen every centile.", words.Capital(j.some(long, "wait has", "waits have")))
	}
	if disorder > 0 {
		j.caution("wrong-order", "For %s the dates stand in the wrong order, so that no wait can be told. They are counted apart, not among the waits: mend the dates in the log.", j.some(disorder, "wait", "waits"))
	}
	if len(lacking) > 0 {
		j.caution("no-date", "The day of a step is not recorded for every socket (%s). If those without are mostly old, urgent or late ones, the waits shown are not those of everybody.", strings.Join(lacking, "; "))
	}
	if n := len(j.early); n > 0 {
		j.caution("began-earlier", "Of %s, waits that began before %s are left out: of those so old not all are known, or they lie before the period of the report.", j.some(n, "socket", "sockets"), words.Date(j.since))
	}
	if j.lost > 0 {
		j.caution("group-known-late", "For %s that were not delivered the %s is not recorded, so they are in no group. Where it becomes known only with time, the waits of the groups look shorter than they are; ask by what is known at the start.", j.some(j.lost, "socket", "sockets"), j.columnLabel(j.ask.By))
	}
	if repeats {
		j.caution("repeated-persons", "More than one in five waits of a group belong to a person with another wait there. The exact intervals take waits as independent and may be too narrow.")
	}
}

// without says of how many sockets the day of a step is not recorded.
func (j *turnaroundJob) without(step string, n int) string {
	if j.public() {
		return step
	}
	return fmt.Sprintf("%s of %s", step, words.Fixed(float64(n), 0))
}

// some prints a count; without it where small counts are hidden, since the
// counts of the groups are shown and it would tell the one that is not.
func (j *turnaroundJob) some(n int, one, many string) string {
	if j.public() {
		return "some " + many
	}
	return words.N(n, one, many)
}

func (j *turnaroundJob) methods() {
	var names []string
	for _, s := range j.steps {
		names = append(names, s.label)
	}
	m := fmt.Sprintf("Waits were measured in days between the recorded dates of %s.", words.List(names))
	exact, censored := false, false
	for _, g := range j.waits {
		if g.got != nil && !g.withheld {
			exact = exact || g.got.Exact
			censored = censored || !g.got.Exact
		}
	}
	if exact {
		lead := " Quantiles"
		if censored {
			lead = " Where all waits were over, quantiles"
		}
		m += lead + " are those of the sample (the middle of the two values where the distribution runs flat) with exact binomial intervals from order statistics."
		j.References = append(j.References, "Conover WJ. Practical Nonparametric Statistics. 3rd ed. Wiley; 1999: section 3.2.", "Hahn GJ, Meeker WQ. Statistical Intervals. Wiley; 1991: section 5.2.")
	}
	if censored {
		m += " Waits that were not over by the data cut, or by the socket's end or the person's death, were censored then, and quantiles were read from Kaplan-Meier curves with complementary log-log intervals; errors are grouped by person."
		j.References = append(j.References, "Kaplan EL, Meier P. Nonparametric estimation from incomplete observations. J Am Stat Assoc 1958; 53: 457-481.", "Brookmeyer R, Crowley J. A confidence interval for the median survival time. Biometrics 1982; 38: 29-41.")
	}
	m += " Waits with dates in the wrong order were left out and counted."
	if j.ask.Period != "" {
		m += fmt.Sprintf(" Waits stand in the %s in which they began.", j.ask.Period)
	}
	j.Methods = m
}
