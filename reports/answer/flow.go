package answer

import (
	"fmt"
	"strings"

	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/words"
)

// flow answers how the rows of the log became the rows analysed.
func flow(w *work) error {
	one, many := w.nouns()
	if w.table.Name == "sockets" && w.ask.Event != nil && (!w.ask.Event.Default || w.ask.KeyPos["start"].Line > 0 || w.ask.KeyPos["entry"].Line > 0 || w.ask.Landmark != nil) {
		l, err := w.buildLives(false)
		if err != nil {
			return err
		}
		w.caution("event-count", "Of the %s analysed, %s.", w.n(len(l.Time), one, many), w.n(w.Events, one+" had the event", many+" had the event"))
	}
	w.Answer.Rows = lastStep(w.steps)
	t := tableOf("steps", text("step"), count("rows"), count("excluded"), text("reason"))
	spec := figure.FlowSpec{ID: w.ask.ID, Title: w.title("From the log to the " + many + " analysed"), Rows: many}
	out := document.Table{ID: w.ask.ID + "-steps", Caption: "From the log to the " + many + " analysed", Columns: []document.TableColumn{
		{Head: "Step"}, {Head: words.Capital(many) + " left", Align: document.Right}, {Head: "Excluded", Align: document.Right}, {Head: "Why", Wide: true}}}
	lost := 0
	for _, s := range w.steps {
		t.row(s.Step, s.Rows, s.Excluded, orNil(s.Reason))
		st := figure.FlowStep{Label: words.Capital(s.Step), Rows: s.Rows}
		if s.Excluded > 0 {
			st.Excluded = []figure.FlowExclusion{{Rows: s.Excluded, Reason: s.Reason, Hidden: w.hiddenCount(s.Excluded)}}
		}
		spec.Steps = append(spec.Steps, st)
		lost += s.Excluded
		out.Rows = append(out.Rows, []string{words.Capital(s.Step), w.cell(s.Rows), w.cell(s.Excluded), s.Reason})
	}
	w.addTable(t)
	w.Figures = append(w.Figures, figure.Flow(spec))
	w.print(out)
	var biggest string
	most := 0
	for _, s := range w.steps {
		if s.Excluded > most {
			most, biggest = s.Excluded, s.Reason
		}
	}
	w.Reading = fmt.Sprintf("%s of %s are analysed.", words.Capital(w.n(w.Answer.Rows, one, many)), w.n(w.Answer.Rows+lost, one, many))
	if most > 0 {
		w.Reading += fmt.Sprintf(" The step that takes most away excludes %s: %s.", w.n(most, one, many), strings.TrimSuffix(biggest, "."))
	}
	w.Methods = fmt.Sprintf("Rows that could not be read were set aside before these steps; the appendix counts them. Each step counts %s.", many)
	return nil
}
