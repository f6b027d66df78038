package answer

import (
	"errors"
	"fmt"
	"sort"
	"strings"

	"plybook/analysis/cohort"
	"plybook/analysis/quality"
	"plybook/analysis/stats"
	"plybook/analysis/table"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// paretoJob is a count of categories in the making.
type paretoJob struct {
	*work
	by        *table.Column
	weight    *table.Column // nil without one
	separator string        // between the values of a cell; "": one value a cell
	inUse     bool
}

// pareto answers which categories make up most of the rows.
func pareto(w *work) error {
	j := &paretoJob{work: w}
	var err error
	if j.by, err = w.column("by", w.ask.By); err != nil {
		return err
	}
	if j.by.Kind != table.Text {
		return w.at("by", w.ask.By, notebook.CodeImpossible, "%s is %s; bars need a column of categories", w.ask.By, map[table.Kind]string{table.Number: "a number", table.Date: "a date"}[j.by.Kind])
	}
	if err := w.paretoEvent(); err != nil {
		return err
	}
	j.inUse = w.dropInUse(j.by)
	if err := j.weigh(); err != nil {
		return err
	}
	if err := j.separate(); err != nil {
		return err
	}
	j.onlyTheFirst()
	if len(w.rows) == 0 {
		return stats.ErrNoRows
	}
	d, err := j.changeOf()
	if err != nil {
		return err
	}
	if d != nil {
		return j.pairs(d)
	}
	return j.bars()
}

// weigh finds the column that rows weigh, and leaves out those without it.
func (j *paretoJob) weigh() error {
	w := j.work
	if w.ask.Weights == "" {
		return nil
	}
	c, err := w.column("weights", w.ask.Weights)
	if err != nil {
		return err
	}
	if c.Kind != table.Number {
		return w.at("weights", w.ask.Weights, notebook.CodeImpossible, "%s is %s; weights are a number, such as minutes or money", c.Name, kindWords(c.Kind))
	}
	j.weight = c
	var rows []int
	for _, i := range w.rows {
		switch {
		case c.Missing[i]:
		case c.Num[i] < 0:
			return w.at("weights", w.ask.Weights, notebook.CodeImpossible, "%s is below 0 in some row, and a weight cannot be", c.Name)
		default:
			rows = append(rows, i)
		}
	}
	if gone := len(w.rows) - len(rows); gone > 0 {
		one, many := w.nouns()
		w.caution("missing", "%s left out because %s is not recorded.", words.Capital(w.n(gone, one+" was", many+" were")), label(c))
		w.steps = append(w.steps, cohort.Step{Step: "with a weight", Rows: len(rows), Excluded: gone, Reason: label(c) + " not recorded"})
	}
	w.rows = rows
	return nil
}

// onlyTheFirst warns where rows have several actions, or reasons, and the
// question counts the first alone.
func (j *paretoJob) onlyTheFirst() {
	whole := wholeList[j.by.Name]
	all, ok := j.work.table.Col(whole)
	if whole == "" || !ok || all.Own || j.by.Own {
		return
	}
	n := 0
	for _, i := range j.work.rows {
		if strings.Contains(all.Text[i], ";") {
			n++
		}
	}
	if n > 0 {
		one, many := j.nouns()
		what := map[string]string{"actions": "actions", "end_reasons": "reasons"}[whole]
		j.caution("first-of-several", "%s several %s, of which the first alone is counted. Write by: %s to count them all.", words.Capital(j.of(n, len(j.work.rows), one, many))+plural(n, " has", " have"), what, whole)
	}
}

// cases are some rows as cases that name their categories.
func (j *paretoJob) cases(rows []int) []quality.ParetoCase {
	out := make([]quality.ParetoCase, len(rows))
	for k, i := range rows {
		out[k] = quality.ParetoCase{Categories: []string{j.by.Text[i]}, Weight: 1}
		if j.separator != "" {
			out[k].Categories = nil
			for _, v := range strings.Split(j.by.Text[i], j.separator) {
				out[k].Categories = append(out[k].Categories, strings.TrimSpace(v))
			}
		}
		if j.weight != nil {
			out[k].Weight = j.weight.Num[i]
		}
	}
	return out
}

func (j *paretoJob) options() quality.ParetoOptions {
	return quality.ParetoOptions{Unknown: []string{"unknown"}, PoolBelow: j.ask.PoolBelow}
}

// count counts some rows, or says why they cannot be.
func (j *paretoJob) count(rows []int) (*quality.ParetoChart, error) {
	p, err := quality.ParetoOf(j.cases(rows), j.weight != nil, j.options())
	if errors.Is(err, stats.ErrNoEvents) {
		return nil, j.at("weights", j.ask.Weights, "no-variation", "%s is 0 in every row, so the bars would have no length", label(j.weight))
	}
	return p, err
}

// what is what a bar shows: "visits", or "length of visit".
func (j *paretoJob) what() (name, unit string) {
	if j.weight != nil {
		return label(j.weight), j.weight.Unit
	}
	_, many := j.nouns()
	return many, ""
}

func (j *paretoJob) barName(b quality.Bar) string {
	name := words.Capital(causeLabel(b.Category))
	if len(b.Pooled) > 0 {
		name = fmt.Sprintf("All others (%d)", len(b.Pooled))
	}
	return name
}

// bars draws one row of bars.
func (j *paretoJob) bars() error {
	w := j.work
	w.Answer.Rows = len(w.rows)
	p, err := j.count(w.rows)
	if err != nil {
		return err
	}
	one, many := w.nouns()
	if len(w.rows) < 20 {
		w.caution("few-rows", "%s: the order of the bars is largely chance.", w.only(len(w.rows), one, many))
	}
	what, unit := j.what()
	t := tableOf("bars", text("category"), count("count"), number("weight", unit), number("percent", "%"), number("cumulative_percent", "%"))
	spec := figure.BarsSpec{ID: w.ask.ID, Title: words.Capital(what) + " by " + label(j.by), CountAxis: words.Capital(what), Weighted: j.weight != nil, Unit: unit,
		Cases: p.Rows, Given: true}
	cols := []document.TableColumn{{Head: words.Capital(label(j.by)), Wide: true}, {Head: words.Capital(many), Align: document.Right}}
	if j.weight != nil {
		cols = append(cols, document.TableColumn{Head: words.Capital(what) + bracketed(unit), Align: document.Right})
	}
	cols = append(cols, document.TableColumn{Head: "Share", Align: document.Right}, document.TableColumn{Head: "Running total", Align: document.Right})
	out := document.Table{ID: w.ask.ID + "-bars", Caption: words.Capital(what) + " by " + label(j.by), Columns: cols}
	hide := w.hiddenBars(p)
	var hidden []string
	for k, b := range p.Bars {
		t.row(b.Category, b.Count, when(j.weight != nil, b.Weight), b.Percent, b.CumulativePercent)
		spec.Bars = append(spec.Bars, figure.Bar{Name: j.barName(b), Count: b.Count, Value: b.Weight, Cumulative: b.CumulativePercent / 100, Hidden: hide[k], Unknown: b.Unknown, Pooled: len(b.Pooled) > 0})
		if hide[k] {
			hidden = append(hidden, j.barName(b))
			continue
		}
		row := []string{j.barName(b), w.cell(b.Count)}
		if j.weight != nil {
			row = append(row, words.Plain(b.Weight))
		}
		out.Rows = append(out.Rows, append(row, words.Percent(b.Percent/100, p.Rows), words.Percent(b.CumulativePercent/100, p.Rows)))
	}
	hideBars(&out, hidden)
	spec.Note = j.sumNote(p)
	if note := j.pooledNote(p); note != "" {
		out.Notes = append(out.Notes, note)
	}
	if p.Several > 0 && len(hidden) == 0 {
		out.Notes = append(out.Notes, j.severalNote(p))
	}
	w.addTable(t)
	w.Figures = append(w.Figures, figure.Bars(spec))
	w.print(out)
	w.Reading = j.paretoReading(p, one, many)
	j.attendLargest(p, one, many)
	j.unknownCaution(p.Unknown, p.Rows)
	j.skinCaution(p)
	j.paretoMethods(p.Several > 0)
	return nil
}

func bracketed(unit string) string {
	if unit == "" {
		return ""
	}
	return " (" + unit + ")"
}

// sumNote says beneath the figure what the bars come to.
func (j *paretoJob) sumNote(p *quality.ParetoChart) string {
	one, many := j.nouns()
	all := words.N(p.Rows, one, many)
	switch {
	case p.Several > 0 && j.weight == nil:
		return fmt.Sprintf("%s in all; one can stand in several bars.", all)
	case j.weight != nil:
		_, unit := j.what()
		return fmt.Sprintf("%s in all, of %s.", words.Plain(p.Total)+unitWords(unit), all)
	}
	return words.Fixed(float64(p.Rows), 0) + " in all."
}

// severalNote says how cases with several reasons are counted.
func (j *paretoJob) severalNote(p *quality.ParetoChart) string {
	one, many := j.nouns()
	text := fmt.Sprintf("%s several (%s are named in all).", words.Capital(j.of(p.Several, p.Rows, one, many))+plural(p.Several, " names", " name"), words.Fixed(float64(p.Named), 0))
	if j.weight != nil {
		return text + " The weight of such a " + one + " is split evenly between them."
	}
	return text + fmt.Sprintf(" Each counts: shares are of the %s and add up to more than 100%%; the running total is of the %s that name one so far.", many, many)
}

func (j *paretoJob) pooledNote(p *quality.ParetoChart) string {
	for _, b := range p.Bars {
		if len(b.Pooled) == 0 {
			continue
		}
		var names []string
		for _, n := range b.Pooled {
			names = append(names, causeLabel(n))
		}
		if j.public() {
			sort.Strings(names) // their order would tell of their size
		}
		return fmt.Sprintf("All others, each below %s: %s.", words.Percent(j.ask.PoolBelow, 10), strings.Join(names, "; "))
	}
	return ""
}

func (j *paretoJob) unknownCaution(unknown, rows int) {
	if unknown == 0 {
		return
	}
	one, many := j.nouns()
	text := fmt.Sprintf("For %s the %s is not known. They are kept apart, last, and could belong to any bar.", j.of(unknown, rows, one, many), label(j.by))
	if 10*unknown > rows {
		text += " That is more than one in ten: the true order of the bars may be another."
	}
	j.caution("unknown", "%s", text)
}

func (j *paretoJob) skinCaution(p *quality.ParetoChart) {
	for _, b := range p.Bars {
		for _, c := range append([]string{b.Category}, b.Pooled...) {
			if brokenSkin[c] {
				j.caution("skin", skinText)
			}
		}
	}
}

func (j *paretoJob) paretoMethods(several bool) {
	w := j.work
	_, many := w.nouns()
	m := fmt.Sprintf("%s were counted by %s, each once, and set in order of size; those without one are kept apart and last. Shares are of all rows counted.", words.Capital(many), label(j.by))
	if several {
		m = fmt.Sprintf("%s were counted by %s, each once for every value it names, and set in order of size; those without one are kept apart and last. Shares are of all rows counted.", words.Capital(many), label(j.by))
	}
	if j.weight != nil {
		m = fmt.Sprintf("The %s of %s was summed by %s and set in order of size, split evenly where several are named; what belongs to none is kept apart and last. Shares are of the whole sum.", label(j.weight), many, label(j.by))
	}
	if w.ask.PoolBelow > 0 {
		m += fmt.Sprintf(" Bars below %s were pooled.", words.Percent(w.ask.PoolBelow, 10))
	}
	if j.inUse {
		m += " Sockets still in use are not counted."
	}
	w.Methods = m
	w.References = append(w.References, "Juran JM. The non-Pareto principle; mea culpa. Quality Progress 1975; 8(5): 8-9.")
}

// hideBars names the bars that are not shown, and takes out the running
// total, from which a hidden count could be worked out. They stand in the
// order of the alphabet, since their order would tell of their size.
func hideBars(t *document.Table, hidden []string) {
	if len(hidden) == 0 {
		return
	}
	last := len(t.Columns) - 1
	t.Columns = t.Columns[:last]
	for k := range t.Rows {
		t.Rows[k] = t.Rows[k][:last]
	}
	sort.Strings(hidden)
	t.Notes = append(t.Notes, "Not given, since each stands for few people: "+strings.Join(hidden, "; ")+".")
}

// hiddenBars are the bars that stand for few, and where only one does the
// next smallest as well, since the total would tell the one.
func (w *work) hiddenBars(p *quality.ParetoChart) []bool {
	out := make([]bool, len(p.Bars))
	n, next := 0, -1
	for k, b := range p.Bars {
		if w.hiddenCount(b.Count) {
			out[k] = true
			n++
		} else if b.Count > 0 && (next < 0 || b.Count < p.Bars[next].Count) {
			next = k
		}
	}
	if n == 1 && next >= 0 {
		out[next] = true
	}
	return out
}

func (j *paretoJob) paretoReading(p *quality.ParetoChart, one, many string) string {
	w := j.work
	var parts []string
	k, sum, cum := 0, 0.0, 0.0
	hide := w.hiddenBars(p)
	for i, b := range p.Bars {
		if b.Unknown || len(b.Pooled) > 0 || k == 3 || hide[i] {
			break
		}
		size := words.Fixed(float64(b.Count), 0)
		if j.weight != nil {
			_, unit := j.what()
			size = amount(b.Weight, unit)
		}
		parts = append(parts, fmt.Sprintf("%s (%s, %s)", causeLabel(b.Category), size, words.Percent(b.Percent/100, p.Rows)))
		sum += b.Percent / 100
		cum = b.CumulativePercent / 100
		k++
	}
	of := w.n(p.Rows, one, many)
	if j.weight != nil {
		_, unit := j.what()
		of = amount(p.Total, unit) + " (" + label(j.weight) + ") of " + of
	}
	if p.Several > 0 && j.weight == nil {
		sum = cum
	}
	together := fmt.Sprintf("Together they make up %s.", words.Percent(sum, p.Rows))
	if p.Several > 0 && j.weight == nil {
		together = fmt.Sprintf("%s name one of them.", words.Percent(sum, p.Rows))
	}
	switch k {
	case 0:
		return fmt.Sprintf("Of %s, no single %s is common enough to be named.", of, label(j.by))
	case 1:
		return fmt.Sprintf("Of %s, the most common by %s is %s.", of, label(j.by), parts[0])
	}
	most := "most common"
	if j.weight != nil {
		most = "largest"
	}
	return fmt.Sprintf("Of %s, the %s %s by %s are %s. %s", of, map[int]string{2: "two", 3: "three"}[k], most, label(j.by), words.List(parts), together)
}
