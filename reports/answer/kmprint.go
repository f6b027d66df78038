package answer

import (
	"plybook/analysis/survival"
	"plybook/analysis/table"
	"plybook/reports/document"
	"plybook/reports/words"
)

// groupName heads a group in print.
func (w *work) groupName(name string) string {
	if name == "all" && w.ask.By == "" {
		return "All together"
	}
	return words.Capital(w.display(name))
}

// display is how a group is called in print: yes and no say nothing without
// the column they belong to, nor do bare numbers.
func (w *work) display(name string) string {
	if w.ask.By == "" {
		return name
	}
	if c, err := w.table.Lookup(w.ask.By); err != nil || c.Kind == table.Number {
		if x, err := parseNumber(name); err == nil {
			return w.numbered(w.ask.By, x)
		}
	}
	what := w.columnLabel(w.ask.By)
	if _, err := parseNumber(name); err == nil {
		return what + " " + name
	}
	switch name {
	case "yes":
		return what
	case "no":
		return "no " + what
	}
	return name
}

// numbered is a group that a number makes.
func (w *work) numbered(column string, x float64) string {
	n := words.Plain(x)
	switch column {
	case "sequence", "number":
		return "socket no. " + n + " of the limb"
	case "fittings":
		return words.Count(x, "check fitting", "check fittings")
	case "age":
		if w.agesGrouped && x == oldest+1 {
			return "age 90 or over"
		}
	}
	return plainName(column) + " " + n
}

// byWords says the groups of a figure's title.
func byWords(column string) string {
	if column == "" {
		return ""
	}
	return ", by " + plainName(column)
}

func (w *work) timeAxis() string { return "Time since " + w.timeZero() }

// timeZero is what the clock starts at.
func (w *work) timeZero() string {
	zero := "delivery"
	switch {
	case w.ask.Start != "":
		zero = startWords(w.ask.Start)
	case w.onlyChecks():
		zero = "the first check fitting"
	}
	if w.ask.Landmark != nil {
		return words.At(w.ask.Landmark.Days) + " after " + zero
	}
	return zero
}

// startWords is a date column as the thing that happened then.
func startWords(column string) string {
	switch column {
	case "cast_on":
		return "casting"
	case "delivered":
		return "delivery"
	case "referred":
		return "referral"
	case "ordered":
		return "the order"
	}
	return plainName(column)
}

func (w *work) onlyChecks() bool {
	c, ok := w.table.Col("kind")
	if !ok || len(w.rows) == 0 {
		return false
	}
	for _, i := range w.rows {
		if c.Text[i] != "check" {
			return false
		}
	}
	return true
}

// survivalPrint is the printed table: groups side by side where they are few,
// one under the other where they are many.
func (w *work) survivalPrint(fits []fitted, until float64) document.Table {
	heads := []string{"", "Sockets", "Events", "Half had the event by"}
	for _, at := range w.ask.Times {
		heads = append(heads, "Not yet at "+words.At(at.Days))
	}
	heads = append(heads, "Mean time within "+words.Span(until))
	cells := [][]string{heads}
	for _, f := range fits {
		cells = append(cells, w.survivalCells(f, until, longestMedian(fits)))
	}
	t := document.Table{ID: w.ask.ID + "-table", Caption: "Time in use" + byWords(w.ask.By)}
	if len(fits) <= 3 {
		cells = transposed(cells)
	}
	t.Columns, t.Rows = headed(cells)
	t.Notes = []string{"In brackets: " + w.confidenceWords() + ". Mean time within a period: the mean time in use during it."}
	return t
}

// headed are the columns and rows of a table whose first row is its head: the
// first column takes the room that is left, the others stand at the right.
func headed(cells [][]string) ([]document.TableColumn, [][]string) {
	var out []document.TableColumn
	for j, h := range cells[0] {
		c := document.TableColumn{Head: h, Align: document.Right}
		if j == 0 {
			c.Align, c.Wide = document.Left, true
		}
		out = append(out, c)
	}
	return out, cells[1:]
}

func transposed(in [][]string) [][]string {
	out := make([][]string, len(in[0]))
	for j := range out {
		for i := range in {
			out[j] = append(out[j], in[i][j])
		}
	}
	return out
}

func (w *work) survivalCells(f fitted, until, like float64) []string {
	row := []string{w.groupName(f.name), w.cell(f.curve.Rows), w.cell(f.counted()), "hidden"}
	if w.tellsTimes(f.counted()) {
		row[3] = quantileText(w.quantile(f.curve, 0.5), like)
	}
	for _, at := range w.ask.Times {
		p, ok := f.curve.At(at.Days)
		switch {
		case !ok:
			row = append(row, "no one at risk")
		case !f.shown[at.Days]:
			row = append(row, "hidden")
		case !hasWidth(p):
			row = append(row, words.Percent(p.Estimate, f.curve.Rows)+w.stillAtRisk(p))
		default:
			row = append(row, words.PercentWithin(p.Estimate, p.Low, p.High)+" ("+words.PercentRange(p.Low, p.High)+")"+w.stillAtRisk(p))
		}
	}
	if until > 0 && !w.meanTold(f, until) {
		return append(row, "hidden")
	}
	e, _, err := f.curve.RMST(until)
	if err != nil {
		return append(row, words.NotComputed)
	}
	cell := words.SpanIn(e, until)
	if x, err := f.curve.TimeLost(until); err == nil && x.HasBounds {
		show := words.TimesWithin(until-x.High, until-x.Low, until)
		cell = show.Of(e) + " (" + show.Range(until-x.High, until-x.Low) + ")"
	}
	return append(row, cell)
}

// stillAtRisk says on a line of its own how many a share rests on; nothing of
// weighted rows, which are no number of sockets, or where it is withheld.
func (w *work) stillAtRisk(p survival.Point) string {
	if w.ask.Weights != "" || w.hiddenCount(int(p.AtRisk)) {
		return ""
	}
	return "\n" + words.Fixed(p.AtRisk, 0) + " at risk"
}

func quantileText(q survival.Quantile, like float64) string {
	if !q.Estimate.OK {
		return "not reached"
	}
	switch {
	case q.Low.OK && q.High.OK:
		show := words.TimesWithin(q.Low.Value, q.High.Value, like)
		return show.Of(q.Estimate.Value) + " (" + show.Range(q.Low.Value, q.High.Value) + ")"
	case q.Low.OK:
		show := words.TimesFrom(q.Estimate.Value, q.Low.Value, like)
		return show.Of(q.Estimate.Value) + " (from " + show.Of(q.Low.Value) + ")"
	}
	return words.SpanIn(q.Estimate.Value, like)
}
