package answer

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"plybook/analysis/cohort"
	"plybook/analysis/design"
	"plybook/analysis/stats"
	"plybook/analysis/table"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// designSpec gathers the terms of a model: `by` first, then `adjust`.
func (w *work) designSpec() (design.Spec, error) {
	s := design.Spec{Factors: w.ask.Factors, Reference: w.ask.Reference, Interact: w.ask.Interact}
	for _, x := range w.ask.Spline {
		if s.Spline == nil {
			s.Spline = map[string]int{}
		}
		s.Spline[x.Column] = x.Knots
	}
	add := func(key, name string) error {
		// Of a socket's life a column may come from the visits; lifeColumn
		// finds it, or says that it is known too late.
		if w.ask.Event == nil {
			if _, err := w.column(key, name); err != nil {
				return err
			}
		}
		for _, have := range s.Terms {
			if have == name {
				return w.at(key, name, notebook.CodeImpossible, "%s is given twice, in by and in adjust", name)
			}
		}
		s.Terms = append(s.Terms, name)
		return nil
	}
	if w.ask.By != "" {
		if err := add("by", w.ask.By); err != nil {
			return s, err
		}
	}
	for _, n := range w.ask.Adjust {
		if err := add("adjust", n); err != nil {
			return s, err
		}
	}
	for _, n := range w.ask.Varying {
		if err := add("varying", n); err != nil {
			return s, err
		}
	}
	for _, n := range w.ask.Factors {
		found := false
		for _, t := range s.Terms {
			found = found || t == n
		}
		if !found {
			return s, w.at("factors", n, notebook.CodeImpossible, "%s is among factors but not among the terms; name it in by or adjust too", n)
		}
	}
	return s, nil
}

// missingCaution counts the rows that missing values cost.
func (w *work) missingCaution(d *design.Design) {
	if d.Dropped == 0 {
		return
	}
	one, many := w.nouns()
	var parts []string
	for _, m := range d.Missing {
		parts = append(parts, fmt.Sprintf("%s %s", w.columnLabel(m.Column), w.cell(m.Rows)))
	}
	total := d.Dropped + len(d.Rows)
	lost := words.Capital(w.of(d.Dropped, total, one, many)) + " " + plural(total, "was", "were")
	if w.hiddenCount(d.Dropped) {
		lost = words.Capital(w.n(d.Dropped, one, many)) + " were" // the total would tell how many
	}
	w.caution("missing", "%s left out because a value is missing (%s). The answer holds for all only if what is missing does not depend on the outcome.", lost, strings.Join(parts, ", "))
	w.steps = append(w.steps, cohort.Step{Step: "complete for the model", Rows: len(d.Rows), Excluded: d.Dropped, Reason: "a value is missing: " + strings.Join(parts, ", ")})
}

// termColumns are the columns of a table of terms. ratio and df are there
// where they apply.
func termColumns(clustered bool) []Column {
	c := []Column{text("term"), text("category"), text("reference"), number("estimate", ""), number("std_error", "")}
	if clustered {
		c = append(c, number("robust_std_error", ""))
	}
	return append(c, number("df", ""), number("ratio", ""), number("low", ""), number("high", ""), number("z", ""), number("p", ""))
}

// estimate is one row of a table of terms.
type estimate struct {
	column     design.Column
	intercept  bool
	value      float64
	stdErr     float64 // model-based
	robust     float64 // NaN: none
	df         float64 // NaN: normal
	low, high  float64 // of value
	stat, p    float64
	ratio      bool // read as exp(value)
	noInterval bool
}

func (w *work) termTable(es []estimate, clustered bool) {
	columns, split := termColumns(clustered), false
	for _, e := range es {
		split = split || e.column.Part != ""
	}
	if split {
		columns = append(columns, text("part"))
	}
	t := tableOf("terms", columns...)
	for _, e := range es {
		row := termRow(e, clustered)
		if split {
			row = append(row, orNil(e.column.Part))
		}
		t.row(row...)
	}
	w.addTable(t)
}

// termRow is an estimate as a row of a table of terms.
func termRow(e estimate, clustered bool) []any {
	term := e.column.Term
	if e.intercept {
		term = "intercept"
	}
	row := []any{term, orNil(e.column.Category + e.column.PieceName()), orNil(e.column.Reference), e.value, e.stdErr}
	if clustered {
		row = append(row, e.robust)
	}
	low, high, ratio := e.low, e.high, math.NaN()
	if e.ratio {
		ratio, low, high = math.Exp(e.value), math.Exp(e.low), math.Exp(e.high)
	}
	return append(row, e.df, ratio, low, high, e.stat, e.p)
}

// addForest draws the terms with their intervals, where any can be read one
// by one.
func (w *work) addForest(es []estimate, d *design.Design, spec figure.ForestSpec) {
	if es = whole(es); len(es) > 0 {
		w.Figures = append(w.Figures, w.forest(es, d, spec))
	}
}

// forest draws the terms with their intervals.
func (w *work) forest(es []estimate, d *design.Design, spec figure.ForestSpec) *figure.Figure {
	spec.ID, spec.Title, spec.Confidence = w.ask.ID, spec.Measure+", term by term", w.ask.Confidence
	var terms []figure.ForestTerm
	at := map[string]int{}
	for _, e := range es {
		if e.intercept {
			continue
		}
		k, ok := at[e.column.Term]
		if !ok {
			k = len(terms)
			at[e.column.Term] = k
			name := words.Capital(e.column.Label)
			if e.column.Category == "" && e.column.Unit != "" {
				name += ", per " + perUnit(e.column.Unit)
			}
			terms = append(terms, figure.ForestTerm{Name: name})
			if e.column.Reference != "" {
				terms[k].Rows = append(terms[k].Rows, figure.ForestRow{Label: e.column.Reference, Reference: true, Detail: w.categoryCount(d, e.column.Term, e.column.Reference)})
			}
		}
		label := e.column.Category
		switch {
		case label == "":
			label = words.Capital(e.column.Part)
		case e.column.Part != "":
			label += ", " + e.column.Part
		}
		r := figure.ForestRow{Label: label, Estimate: e.value, Low: e.low, High: e.high, Detail: w.categoryCount(d, e.column.Term, e.column.Category)}
		if e.column.Part != "" {
			r.Detail = w.partCount(e.column)
		}
		if e.noInterval {
			r.Low, r.High = math.NaN(), math.NaN()
		}
		if e.ratio {
			r.Estimate, r.Low, r.High = math.Exp(e.value), math.Exp(r.Low), math.Exp(r.High)
		}
		terms[k].Rows = append(terms[k].Rows, r)
	}
	spec.Terms = terms
	_, many := w.nouns()
	spec.DetailHead = words.Capital(many)
	return figure.Forest(spec)
}

func perUnit(unit string) string {
	switch unit {
	case "years":
		return "year"
	case "days":
		return "day"
	case "months":
		return "month"
	case "socks":
		return "sock"
	case "of 10", "0 to 3":
		return "point"
	}
	return unit
}

func (w *work) categoryCount(d *design.Design, term, category string) string {
	if category == "" {
		return ""
	}
	for k, name := range d.TermNames {
		if name != term {
			continue
		}
		for c, v := range d.Cats[k] {
			if v == category {
				return w.cell(d.Counts[k][c])
			}
		}
	}
	return ""
}

// termsPrint is the printed table of terms.
func (w *work) termsPrint(es []estimate, measure string, ratio bool) document.Table {
	t := document.Table{ID: w.ask.ID + "-terms", Caption: measure + ", term by term, all terms in the model together", Columns: []document.TableColumn{
		{Head: "Term", Wide: true}, {Head: "Compared with"}, {Head: measure, Align: document.Right},
		{Head: words.Capital(w.confidenceWords()), Align: document.Right}, {Head: "p", Align: document.Right}}}
	for _, e := range es {
		if e.column.Piece > 1 {
			continue
		}
		name, ref := words.Capital(e.column.Label), e.column.Reference
		if e.column.Piece == 1 {
			t.Rows = append(t.Rows, []string{name + ", as a curve", "", "see its table", "", w.curveP(e.column.Term)})
			continue
		}
		switch {
		case e.intercept:
			name = "Constant"
		case e.column.Category != "":
			name += ": " + e.column.Category
		case e.column.Unit != "":
			name += ", per " + perUnit(e.column.Unit)
		}
		if e.column.Part != "" {
			name += ", " + e.column.Part
		}
		val, iv := words.Value(e.value, e.low, e.high), words.Interval(e.low, e.high)
		if ratio {
			val, iv = words.RatioWithin(math.Exp(e.value), math.Exp(e.low), math.Exp(e.high)), words.RatioRange(math.Exp(e.low), math.Exp(e.high))
		}
		p := words.P(e.p)
		if e.noInterval {
			val, iv = words.Plain(e.value), words.NotComputed
			if ratio {
				val = words.Ratio(math.Exp(e.value))
			}
		}
		t.Rows = append(t.Rows, []string{name, ref, val, iv, p})
	}
	return t
}

// modelError turns a fault of a fit into one at its place in the notebook.
func (w *work) modelError(err error, d *design.Design, name string, columns []int) error {
	where := w.ask.Pos
	term := ""
	if len(columns) > 0 && columns[0] < len(d.Columns) {
		term = d.Columns[columns[0]].Term
		for _, key := range []string{"by", "adjust", "varying", "slopes"} {
			if p := w.ask.At(key, term); p != w.ask.Pos && p != w.ask.KeyPos[key] {
				where = p
				break
			}
			if key == "by" && w.ask.By == term {
				where = w.ask.KeyPos["by"]
				break
			}
		}
	}
	code := "model"
	if text := tooFewRows(err, d); text != "" {
		return &notebook.Error{Pos: where, Code: "few-rows", Text: text}
	}
	if errors.Is(err, stats.ErrSingular) {
		code = "singular"
	}
	text := err.Error()
	if i := strings.LastIndex(text, name+": "); i >= 0 {
		text = text[i+len(name)+2:]
	}
	text = strings.ReplaceAll(strings.TrimPrefix(text, "column "), "; column ", "; ")
	return &notebook.Error{Pos: where, Code: code, Text: text}
}

// tooFewRows says that a model has more coefficients than rows can bear,
// where that is what is wrong.
func tooFewRows(err error, d *design.Design) string {
	if n := len(d.Rows); !errors.Is(err, stats.ErrSingular) && n <= len(d.X)+1 {
		return fmt.Sprintf("%s with all values known: too few for a model of %s and a constant; use fewer columns, or columns recorded more often",
			words.Capital(words.N(n, "row", "rows")), words.N(len(d.X), "term", "terms"))
	}
	return ""
}

// manyEstimates is the number of estimates from which one in twenty being
// odd by chance alone is to be expected soon.
const manyEstimates = 6

// modelCautions raises what the terms of any model leave in doubt.
func (w *work) modelCautions(d *design.Design) {
	for _, p := range w.ask.Interact {
		a, b := w.columnLabel(p[0]), w.columnLabel(p[1])
		w.caution("interaction", "The model has a product of %s and %s, so neither has one effect of its own: the row of each is its effect where the other is 0 or in its reference category. Read the means or shares expected for profiles instead.", a, b)
	}
	if n := len(d.X); n >= manyEstimates {
		w.caution("many-comparisons", "%s are looked at together: about one in twenty would look like a difference by chance alone.", words.Capital(words.N(n, "estimate", "estimates")))
	}
}

// The share of its volume by which two measurements of an unchanged limb
// with a tape commonly differ, by one measurer and by two.
const (
	sameMeasurer  = 5
	otherMeasurer = 10
)

// repeatability warns where changes of volume are within what measuring twice
// would give. Columns are the outcome and terms of a model over rows of t.
func (w *work) repeatability(t *table.Table, rows []int, columns ...string) {
	for _, name := range columns {
		c, ok := t.Col(name)
		if !ok || name != "volume_change_pct" {
			continue
		}
		least := float64(sameMeasurer)
		if w.ctx.Front.VolumeRepeatability > 0 {
			least = w.ctx.Front.VolumeRepeatability
		}
		n, small := 0, 0
		for _, i := range rows {
			if !c.Missing[i] {
				n++
				if math.Abs(c.Num[i]) < least {
					small++
				}
			}
		}
		if 2*small > n {
			one, many := w.nouns()
			if w.ctx.Front.VolumeRepeatability > 0 {
				w.caution("repeatability", "In %s the limb's volume changed by less than %s%%, the smallest change that measuring in this lab tells from none. Single changes of that size say nothing; means of many may.",
					w.of(small, n, one, many), words.AsWritten(least))
				continue
			}
			w.caution("repeatability", "In %s the limb's volume changed by less than %d%%, which measuring an unchanged limb twice with a tape commonly gives (%d%% where another person measures). Single changes of that size say nothing; means of many may.",
				w.of(small, n, one, many), sameMeasurer, otherMeasurer)
		}
	}
}
