package answer

import (
	"plybook/analysis/design"
	"plybook/analysis/table"
	"plybook/reports/document"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// mean is a mean expected for a profile.
type mean struct {
	estimate, stdErr, low, high float64
	hasInterval                 bool
}

// meansFor adds the table of means expected for the profiles. of works out
// the mean for a row of the model, the constant first.
func (w *work) meansFor(d *design.Design, of func(x []float64) (mean, error)) error {
	t := tableOf("predicted", text("profile"), number("time", "days"), number("estimate", ""), number("std_error", ""), number("low", ""), number("high", ""))
	for _, p := range w.ask.Profiles {
		x, err := w.profileRow(p, d)
		if err != nil {
			return err
		}
		m, err := of(append([]float64{1}, x...))
		if err != nil {
			return &notebook.Error{Pos: p.Pos, Code: "profile", Text: "the mean for " + profileName(p) + " could not be worked out: " + err.Error()}
		}
		t.row(profileName(p), nil, m.estimate, when(m.hasInterval, m.stdErr), when(m.hasInterval, m.low), when(m.hasInterval, m.high))
	}
	w.addTable(t)
	return nil
}

// meansPrint prints the means expected for the profiles, if any.
func (w *work) meansPrint(y *table.Column) {
	out := document.Table{ID: w.ask.ID + "-predicted", Caption: "Mean " + label(y) + " expected" + inUnit(y.Unit), Columns: []document.TableColumn{
		{Head: "For", Wide: true}, {Head: "Mean", Align: document.Right}, {Head: words.Capital(w.confidenceWords()), Align: document.Right}},
		Notes: []string{"What is not named has its reference category, or the mean of the rows used. The interval is of the mean, not of one person."}}
	for _, t := range w.Tables {
		if t.Name != "predicted" {
			continue
		}
		for _, r := range t.Rows {
			estimate, ok := r[2].(float64)
			if !ok {
				continue
			}
			row := []string{r[0].(string), words.Plain(estimate), words.NotComputed}
			low, ok1 := r[4].(float64)
			high, ok2 := r[5].(float64)
			if ok1 && ok2 {
				row[1], row[2] = words.Value(estimate, low, high), words.Interval(low, high)
			}
			out.Rows = append(out.Rows, row)
		}
	}
	if len(out.Rows) > 0 {
		w.print(out)
	}
}
