package answer

import (
	"fmt"
	"math"
	"sort"

	"plybook/analysis/cohort"
	"plybook/analysis/quality"
	"plybook/analysis/stats"
	"plybook/analysis/table"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// split is a change before and since which bars are compared.
type split struct {
	day   float64
	dated *table.Column
}

// changeOf is the change that the question names, or that of the only
// decision that follows it; nil where there is none.
func (j *paretoJob) changeOf() (*split, error) {
	w := j.work
	made := w.followed()
	var day float64
	switch {
	case w.ask.Change != nil:
		day = *w.ask.Change
	case len(made) == 1:
		day = made[0].On
	case len(made) > 1:
		return nil, &notebook.Error{Pos: w.ask.Pos, Code: notebook.CodeMissingKey, Text: fmt.Sprintf("%d decisions follow this question; write under change which one is measured", len(made))}
	default:
		if w.ask.Dated != "" {
			return nil, w.at("dated", w.ask.Dated, notebook.CodeImpossible, "dated places rows before or since a change, and there is none: write change")
		}
		return nil, nil
	}
	name := w.ask.Dated
	if name == "" && w.table.Name == "sockets" && ofEndReasons(j.by) {
		name = "ended"
	}
	if name != "" {
		c, err := w.column("dated", name)
		if err != nil {
			return nil, err
		}
		if c.Kind != table.Date {
			return nil, w.at("dated", name, notebook.CodeImpossible, "%s is not a date", name)
		}
		return &split{day, c}, nil
	}
	c, err := w.datedColumn()
	if err != nil {
		return nil, err
	}
	return &split{day, c}, nil
}

// side is what was counted before the change, or since.
type side struct {
	rows  []int
	years float64
	chart *quality.ParetoChart
	count map[string]int
	sum   map[string]float64
}

// pairs draws two bars a category, before a change and since.
func (j *paretoJob) pairs(d *split) error {
	w := j.work
	var sides [2]side
	first, last := math.Inf(1), w.ctx.Today+1
	undated := 0
	for _, i := range w.rows {
		if d.dated.Missing[i] {
			undated++
			continue
		}
		first = math.Min(first, d.dated.Num[i])
	}
	if begin, ok := w.begin(); ok {
		first = begin
	}
	early := 0
	for _, i := range w.rows {
		switch {
		case d.dated.Missing[i]:
		case d.dated.Num[i] < first:
			early++
		case d.dated.Num[i] < d.day:
			sides[0].rows = append(sides[0].rows, i)
		default:
			sides[1].rows = append(sides[1].rows, i)
		}
	}
	if undated > 0 {
		w.caution("undated", "%s left out because the %s is not recorded.", words.Capital(w.n(undated, "row was", "rows were")), dateWords(d.dated))
	}
	n := len(sides[0].rows) + len(sides[1].rows)
	w.steps = append(w.steps, cohort.Step{Step: "dated in the period of the report", Rows: n, Excluded: undated + early, Reason: "not dated, or before " + words.ISODate(first)})
	if n == 0 {
		return stats.ErrNoRows
	}
	w.Answer.Rows = n
	sides[0].years, sides[1].years = (d.day-first)/table.DaysPerYear, (last-d.day)/table.DaysPerYear
	one, many := w.nouns()
	for k := range sides {
		s := &sides[k]
		if len(s.rows) == 0 || w.smallCount(len(s.rows)) || s.years <= 0 {
			return &notebook.Error{Pos: w.ask.At("change", ""), Code: "too-few-to-compare", Text: fmt.Sprintf("%s the change of %s there are %s, too few to compare", []string{"before", "since"}[k], words.ISODate(d.day), w.n(len(s.rows), one, many))}
		}
		if len(s.rows) < 20 {
			w.caution("few-rows", "%s the change: what changed is largely chance.", w.only(len(s.rows), one, many)+[]string{" before", " since"}[k])
		}
	}
	return j.pairedBars(d, &sides)
}

// pairedBars counts both sides over one list of categories, in order of what
// both come to, those not known last.
func (j *paretoJob) pairedBars(d *split, sides *[2]side) error {
	w := j.work
	both, err := j.count(append(append([]int{}, sides[0].rows...), sides[1].rows...))
	if err != nil {
		return err
	}
	pooled := map[string]bool{}
	for _, b := range both.Bars {
		for _, n := range b.Pooled {
			pooled[n] = true
		}
	}
	for k := range sides {
		s := &sides[k]
		s.count, s.sum = map[string]int{}, map[string]float64{}
		cases := j.cases(s.rows)
		for i := range cases {
			for c := range cases[i].Categories {
				if pooled[cases[i].Categories[c]] {
					cases[i].Categories[c] = "all others"
				}
			}
		}
		if s.chart, err = quality.ParetoOf(cases, j.weight != nil, quality.ParetoOptions{Unknown: []string{"unknown"}}); err != nil {
			return j.at("weights", j.ask.Weights, "no-variation", "%s is 0 in every row before the change, or since", label(j.weight))
		}
		for _, b := range s.chart.Bars {
			s.count[b.Category], s.sum[b.Category] = b.Count, b.Weight
		}
	}
	var hide [2][][]bool
	for k := range sides {
		var grid [][]int
		for _, b := range both.Bars {
			grid = append(grid, []int{sides[k].count[b.Category]})
		}
		hide[k] = maskGrid(grid, w.ctx.Front.HideBelow)
	}
	what, unit := j.what()
	t := tableOf("pairs", text("category"), count("before"), number("before_weight", unit), number("before_percent", "%"), number("before_a_year", unit), count("since"), number("since_weight", unit), number("since_percent", "%"), number("since_a_year", unit),
		number("difference", "percentage points"), number("low", "percentage points"), number("high", "percentage points"))
	spec := figure.PairsSpec{ID: w.ask.ID, Title: words.Capital(what) + " by " + label(j.by) + ", before and since", Axis: words.Capital(what) + " a year" + bracketed(unit),
		BeforeName: "before " + words.ISODate(d.day), SinceName: "since"}
	out := document.Table{ID: w.ask.ID + "-pairs", Caption: words.Capital(what) + " by " + label(j.by) + ", before and since " + words.Date(d.day), Columns: []document.TableColumn{
		{Head: words.Capital(label(j.by)), Wide: true}, {Head: "Before", Align: document.Right}, {Head: "a year", Align: document.Right}, {Head: "Since", Align: document.Right}, {Head: "a year", Align: document.Right}, {Head: "Change of share", Align: document.Right}, {Head: words.Capital(w.confidenceWords()), Align: document.Right}}}
	var told []pairTold
	for r, b := range both.Bars {
		row := []any{b.Category}
		line := []string{j.barName(b)}
		bar := figure.PairBar{Name: j.barName(b), Unknown: b.Unknown}
		for k := range sides {
			s := &sides[k]
			n, sum := s.count[b.Category], s.sum[b.Category]
			a := sum / s.years
			percent := 100 * sum / s.chart.Total
			row = append(row, n, when(j.weight != nil, sum), percent, a)
			shown := fmt.Sprintf("%s (%s)", words.Plain(sum), words.Percent(percent/100, len(s.rows)))
			year := yearly(a)
			if hide[k][r][0] {
				shown, year = w.hiddenCell(n), "hidden"
			}
			line = append(line, shown, year)
			beside := fmt.Sprintf("%s (%s)", year, words.Percent(percent/100, len(s.rows)))
			if k == 0 {
				bar.Before, bar.BeforeText, bar.BeforeHidden = a, beside, hide[k][r][0]
			} else {
				bar.Since, bar.SinceText, bar.SinceHidden = a, beside, hide[k][r][0]
			}
		}
		diff, low, high := math.NaN(), math.NaN(), math.NaN()
		if j.weight == nil {
			diff, low, high = quality.ShareDifference(float64(sides[0].count[b.Category]), float64(len(sides[0].rows)), float64(sides[1].count[b.Category]), float64(len(sides[1].rows)), w.ask.Confidence)
		}
		hidden := hide[0][r][0] || hide[1][r][0]
		if hidden && w.public() {
			diff, low, high = math.NaN(), math.NaN(), math.NaN()
		}
		row = append(row, 100*diff, 100*low, 100*high)
		t.row(row...)
		if math.IsNaN(diff) {
			line = append(line, "", "")
		} else {
			line = append(line, words.Signed(100*diff, 100*low, 100*high), words.Interval(100*low, 100*high))
		}
		out.Rows = append(out.Rows, line)
		spec.Bars = append(spec.Bars, bar)
		if !hidden && !b.Unknown && len(b.Pooled) == 0 {
			told = append(told, pairTold{b, sides[0].sum[b.Category] / sides[0].years, sides[1].sum[b.Category] / sides[1].years, diff, low, high})
		}
	}
	if note := j.pooledNote(both); note != "" {
		out.Notes = append(out.Notes, note)
	}
	if both.Several > 0 {
		out.Notes = append(out.Notes, j.severalNote(both))
	}
	p := tableOf("periods", text("period"), text("from"), text("to"), number("years", ""), count("rows"), number("weight", unit))
	p.row("before", words.ISODate(d.day-sides[0].years*table.DaysPerYear), words.ISODate(d.day-1), sides[0].years, len(sides[0].rows), when(j.weight != nil, sides[0].chart.Total))
	p.row("since", words.ISODate(d.day), words.ISODate(w.ctx.Today), sides[1].years, len(sides[1].rows), when(j.weight != nil, sides[1].chart.Total))
	w.addTable(t)
	w.addTable(p)
	spec.Note = fmt.Sprintf("In brackets: share of all %s of the time.", what)
	w.Figures = append(w.Figures, figure.Pairs(spec))
	w.print(out)
	j.pairWords(d, sides, both, told)
	return nil
}

// pairTold is a pair that the reading may tell of.
type pairTold struct {
	bar             quality.Bar
	before, since   float64 // a year
	diff, low, high float64 // of shares; NaN where cases are weighed
}

// yearly prints a number a year.
func yearly(x float64) string {
	if x >= 100 {
		return words.Fixed(x, 0)
	}
	return words.Fixed(x, 1)
}

func (j *paretoJob) pairWords(d *split, sides *[2]side, both *quality.ParetoChart, told []pairTold) {
	w := j.work
	what, unit := j.what()
	year := func(x float64) string { return yearly(x) + unitWords(unit) }
	text := fmt.Sprintf("Before the change of %s %s %s a year were counted, since then %s.", words.Date(d.day), year(sides[0].chart.Total/sides[0].years), what, year(sides[1].chart.Total/sides[1].years))
	if j.weight != nil {
		text = fmt.Sprintf("Before the change of %s the %s came to %s a year, since then to %s.", words.Date(d.day), what, year(sides[0].chart.Total/sides[0].years), year(sides[1].chart.Total/sides[1].years))
	}
	for k, x := range told {
		if k == 3 {
			break
		}
		text += fmt.Sprintf(" %s went from %s to %s a year", words.Capital(causeLabel(x.bar.Category)), year(x.before), year(x.since))
		switch {
		case math.IsNaN(x.diff):
			text += "."
		case x.low <= 0 && x.high >= 0:
			text += fmt.Sprintf("; the change of its share (%s, %s %s) is no more than chance could give.", percentPoints(x.diff, x.low, x.high), w.confidenceWords(), words.Interval(100*x.low, 100*x.high))
		default:
			text += fmt.Sprintf("; its share changed by %s (%s %s).", percentPoints(x.diff, x.low, x.high), w.confidenceWords(), words.Interval(100*x.low, 100*x.high))
		}
	}
	w.Reading = text
	j.unknownCaution(both.Unknown, both.Rows)
	j.skinCaution(both)
	if len(told) > 2 && j.weight == nil {
		w.caution("many-comparisons", "%d shares are compared at once: one in twenty would lie outside its interval by chance alone. A share also falls when another rises; look at the numbers a year beside it.", len(told))
	}
	for k, s := range sides {
		if whole := math.Round(s.years); math.Abs(s.years-whole) > 0.1 || whole == 0 {
			w.caution("seasons", "The time %s the change is not whole years (%s), so that seasons weigh differently on the two sides.", []string{"before", "since"}[k], words.Span(s.years*table.DaysPerYear))
			break
		}
	}
	j.paretoMethods(both.Several > 0)
	w.Methods += fmt.Sprintf(" The time before %s was compared with that since, as numbers a year", words.Date(d.day))
	if j.weight == nil {
		w.Methods += " and as shares, with intervals of their difference by Newcombe's method"
		w.References = append(w.References, "Newcombe RG. Interval estimation for the difference between independent proportions: comparison of eleven methods. Statistics in Medicine 1998; 17: 873-890.")
	}
	w.Methods += "."
	for _, m := range w.followed() {
		if w.Since == nil {
			w.Since = map[int]string{}
		}
		if m.On != d.day {
			w.Since[m.Pos.Line] = "not the change that is measured"
			continue
		}
		w.Since[m.Pos.Line] = fmt.Sprintf("%s %s a year; before %s", year(sides[1].chart.Total/sides[1].years), what, year(sides[0].chart.Total/sides[0].years))
		for k, x := range sortedByChange(told) {
			if k == 2 {
				break
			}
			w.Since[m.Pos.Line] += fmt.Sprintf("; %s %s, before %s", causeLabel(x.bar.Category), year(x.since), year(x.before))
		}
	}
}

// sortedByChange sets what changed most first.
func sortedByChange(told []pairTold) []pairTold {
	out := append([]pairTold(nil), told...)
	sort.SliceStable(out, func(a, b int) bool {
		return math.Abs(out[a].since-out[a].before) > math.Abs(out[b].since-out[b].before)
	})
	return out
}
