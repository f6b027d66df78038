package answer

import (
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

// pareto answers which categories make up most of the rows.
func pareto(w *work) error {
	c, err := w.column("by", w.ask.By)
	if err != nil {
		return err
	}
	if c.Kind != table.Text {
		return w.at("by", w.ask.By, notebook.CodeImpossible, "%s is %s; bars need a column of categories", w.ask.By, map[table.Kind]string{table.Number: "a number", table.Date: "a date"}[c.Kind])
	}
	if err := w.paretoEvent(); err != nil {
		return err
	}
	inUse := w.dropInUse(c)
	if len(w.rows) == 0 {
		return stats.ErrNoRows
	}
	w.Answer.Rows = len(w.rows)
	var cats []string
	for _, i := range w.rows {
		cats = append(cats, c.Text[i])
	}
	p, err := quality.Pareto(cats, quality.ParetoOptions{Unknown: []string{"unknown"}})
	if err != nil {
		return err
	}
	one, many := w.nouns()
	if len(w.rows) < 20 {
		w.caution("few-rows", "%s: the order of the bars is largely chance.", w.only(len(w.rows), one, many))
	}
	t := tableOf("bars", text("category"), count("count"), number("percent", "%"), number("cumulative_percent", "%"))
	spec := figure.BarsSpec{ID: w.ask.ID, Title: words.Capital(many) + " by " + label(c), CountAxis: words.Capital(many)}
	out := document.Table{ID: w.ask.ID + "-bars", Caption: words.Capital(many) + " by " + label(c), Columns: []document.TableColumn{
		{Head: words.Capital(label(c)), Wide: true}, {Head: words.Capital(many), Align: document.Right}, {Head: "Share", Align: document.Right}, {Head: "Running total", Align: document.Right}}}
	hide := w.hiddenBars(p)
	var hidden []string
	for k, b := range p.Bars {
		t.row(b.Category, b.Count, b.Percent, b.CumulativePercent)
		spec.Bars = append(spec.Bars, figure.Bar{Name: words.Capital(causeLabel(b.Category)), Count: b.Count, Hidden: hide[k], Unknown: b.Unknown})
		if hide[k] {
			hidden = append(hidden, words.Capital(causeLabel(b.Category)))
			continue
		}
		out.Rows = append(out.Rows, []string{words.Capital(causeLabel(b.Category)), w.cell(b.Count), words.Percent(b.Percent/100, p.Rows), words.Percent(b.CumulativePercent/100, p.Rows)})
	}
	hideBars(&out, hidden)
	w.addTable(t)
	w.Figures = append(w.Figures, figure.Bars(spec))
	w.print(out)
	w.Reading = w.paretoReading(p, one, many, c)
	if p.Unknown > 0 {
		text := fmt.Sprintf("For %s the %s is not known. They are kept apart, last, and could belong to any bar.", w.of(p.Unknown, p.Rows, one, many), label(c))
		if 10*p.Unknown > p.Rows {
			text += " That is more than one in ten: the true order of the bars may be another."
		}
		w.caution("unknown", "%s", text)
	}
	for _, b := range p.Bars {
		if brokenSkin[b.Category] {
			w.caution("skin", skinText)
		}
	}
	w.Methods = fmt.Sprintf("%s were counted by %s, each once, and set in order of size; those without one are kept apart and last. Shares are of all rows counted.", words.Capital(many), label(c))
	if inUse {
		w.Methods += " Sockets still in use are not counted."
	}
	w.References = append(w.References, "Juran JM. The non-Pareto principle; mea culpa. Quality Progress 1975; 8(5): 8-9.")
	return nil
}

// dropInUse leaves out the sockets still in use where bars are made of why
// sockets ended: they have no reason yet, which is not to say that it is not
// known. It says whether there were any.
func (w *work) dropInUse(c *table.Column) bool {
	if w.table.Name != "sockets" || c.Name != "end_reason" {
		return false
	}
	replaced := map[string]bool{}
	if r, ok := w.table.Col("replaces"); ok {
		for _, id := range r.Text {
			replaced[id] = true
		}
	}
	socket, _ := w.table.Col("socket")
	ended, hasEnd := w.table.Col("ended")
	var rows []int
	for _, i := range w.rows {
		if !c.Missing[i] || hasEnd && !ended.Missing[i] || replaced[socket.Text[i]] {
			rows = append(rows, i)
		}
	}
	gone := len(w.rows) - len(rows)
	if gone > 0 {
		w.steps = append(w.steps, cohort.Step{Step: "ended", Rows: len(rows), Excluded: gone, Reason: "still in use"})
	}
	w.rows = rows
	return gone > 0
}

// paretoEvent keeps the sockets that ended with one of the event's reasons,
// where an event is asked for.
func (w *work) paretoEvent() error {
	if w.ask.Event == nil || w.ask.Event.Default {
		return nil
	}
	if w.table.Name != "sockets" || w.ask.Event.Condition != nil {
		return &notebook.Error{Pos: w.ask.Event.Pos, Code: notebook.CodeImpossible, Text: "an event by end reasons chooses among sockets; use keep for other rows"}
	}
	named, err := w.named("event", w.ask.Event)
	if err != nil {
		return err
	}
	is := map[string]bool{}
	for _, r := range mergeCauses(named).reasons {
		is[r] = true
	}
	for _, c := range w.ask.Event.Causes {
		if c.Name == "early-remake" {
			return &notebook.Error{Pos: w.ask.Event.Pos, Code: notebook.CodeImpossible, Text: "early-remake depends on time; keep {early_remake: yes} instead"}
		}
	}
	reason, ok := w.table.Col("end_reason")
	if !ok {
		return fmt.Errorf("the %s have no end_reason", w.table.Name)
	}
	var rows []int
	for _, i := range w.rows {
		if is[reason.Text[i]] {
			rows = append(rows, i)
		}
	}
	w.steps = append(w.steps, cohort.Step{Step: "ended with the event", Rows: len(rows), Excluded: len(w.rows) - len(rows), Reason: "still in use or ended otherwise"})
	w.rows = rows
	return nil
}

// hideBars names the bars that are not shown, and takes out the running
// total, from which a hidden count could be worked out. They stand in the
// order of the alphabet, since their order would tell of their size.
func hideBars(t *document.Table, hidden []string) {
	if len(hidden) == 0 {
		return
	}
	t.Columns = t.Columns[:3]
	for k := range t.Rows {
		t.Rows[k] = t.Rows[k][:3]
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

func (w *work) paretoReading(p *quality.ParetoChart, one, many string, c *table.Column) string {
	var parts []string
	k, sum := 0, 0
	hide := w.hiddenBars(p)
	for i, b := range p.Bars {
		if b.Unknown || k == 3 || hide[i] {
			break
		}
		parts = append(parts, fmt.Sprintf("%s (%s, %s)", causeLabel(b.Category), words.Fixed(float64(b.Count), 0), words.Percent(b.Percent/100, p.Rows)))
		sum += b.Count
		k++
	}
	switch k {
	case 0:
		return fmt.Sprintf("Of %s, no single %s is common enough to be named.", w.n(p.Rows, one, many), label(c))
	case 1:
		return fmt.Sprintf("Of %s, the most common by %s is %s.", w.n(p.Rows, one, many), label(c), parts[0])
	}
	return fmt.Sprintf("Of %s, the %s most common by %s are %s. Together they make up %s.", w.n(p.Rows, one, many),
		map[int]string{2: "two", 3: "three"}[k], label(c), words.List(parts), words.Percent(float64(sum)/float64(p.Rows), p.Rows))
}
