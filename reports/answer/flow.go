package answer

import (
	"fmt"
	"strings"

	"plybook/analysis/cohort"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// flow answers how the rows of the log became the rows analysed.
func flow(w *work) error {
	one, many := w.nouns()
	events, before := "", len(w.steps)
	if key := w.clockKey(); key != "" {
		if w.table.Name != "sockets" {
			return w.at(key, "", notebook.CodeImpossible, "`%s` belongs to the lives of sockets, and the rows here are %s", key, w.table.Name)
		}
		if _, err := w.buildLives(false); err != nil {
			return err
		}
		events = fmt.Sprintf(" Of the sockets, %s had the event.", w.countOnly(w.Events))
	}
	w.Answer.Rows = lastStep(w.steps)
	t := tableOf("steps", text("step"), count("rows"), count("excluded"), text("reason"), count("persons"), count("limbs"), count("sockets"))
	units := w.flowUnits(before)
	spec := figure.FlowSpec{ID: w.ask.ID, Title: "From the log to the " + many + " analysed", Rows: many, HideBelow: w.ctx.Front.HideBelow}
	out := document.Table{ID: w.ask.ID + "-steps", Caption: "From the log to the " + many + " analysed", Columns: []document.TableColumn{
		{Head: "Step"}, {Head: words.Capital(many) + " left", Align: document.Right}, {Head: "Excluded", Align: document.Right}, {Head: "Why", Wide: true}}}
	for _, name := range unitNames {
		if name[1] != many {
			out.Columns = append(out.Columns, document.TableColumn{Head: words.Capital(name[1]) + " left", Align: document.Right})
		}
	}
	lost := 0
	may := w.shownUnits(units)
	for i, s := range w.steps {
		row := []any{s.Step, s.Rows, s.Excluded, orNil(s.Reason), nil, nil, nil}
		for u, n := range units[i] {
			if n >= 0 {
				row[4+u] = n
			}
		}
		t.row(row...)
		for u, name := range unitNames {
			if !may[i][u] {
				w.drop(t, name[1])
			}
		}
	}
	steps, units := tellingUnits(w.steps, units)
	may = w.shownUnits(units)
	hide, keep := w.maskedSteps(steps)
	for i, s := range steps {
		st := figure.FlowStep{Label: words.Capital(s.Step), Rows: s.Rows, Also: w.unitWords(units[i], may[i])}
		if w.withheld(s.Rows) != Told {
			st.Said = w.n(s.Rows, one, many)
		}
		if s.Excluded > 0 { // the figure withholds by the same rule
			st.Excluded = []figure.FlowExclusion{{Rows: s.Excluded, Reason: s.Reason, Withheld: w.withheld(s.Excluded) != Told}}
		}
		spec.Steps = append(spec.Steps, st)
		lost += s.Excluded
		row := []string{words.Capital(s.Step), w.cell(s.Rows), w.cell(s.Excluded), s.Reason}
		if hide[i] {
			row[2] = "hidden"
		}
		if !keep[i] && w.withheld(s.Rows) == Told {
			row[1] = "hidden"
		}
		for u, name := range unitNames {
			switch n := units[i][u]; {
			case name[1] == many:
			case n < 0:
				row = append(row, "")
			case !may[i][u]:
				row = append(row, w.hiddenCell(n))
			default:
				row = append(row, w.cell(n))
			}
		}
		out.Rows = append(out.Rows, row)
	}
	w.addTable(t)
	w.Figures = append(w.Figures, figure.Flow(spec))
	w.print(out)
	var biggest string
	most := 0
	for i, s := range steps {
		if s.Excluded > most && !hide[i] && w.withheld(s.Excluded) == Told {
			most, biggest = s.Excluded, s.Reason
		}
	}
	total := w.Answer.Rows + lost
	w.Reading = fmt.Sprintf("%s %s analysed.", words.Capital(w.of(w.Answer.Rows, total, one, many)), plural(total, "is", "are"))
	if w.smallCount(total) {
		w.Reading = fmt.Sprintf("%s in the log, and how many of them are analysed is hidden.", words.Capital(w.n(total, one+" is", many+" are")))
	}
	if w.Answer.Rows > 0 {
		w.Reading = strings.TrimSuffix(w.Reading, ".") + w.ownersAtEnd(units, may) + "." + events
	}
	if most > 0 {
		w.Reading += fmt.Sprintf(" The step that takes most away excludes %s: %s.", w.n(most, one, many), strings.TrimSuffix(biggest, "."))
	}
	w.Methods = fmt.Sprintf("Rows that could not be read were set aside before these steps; the appendix counts them. Each step counts %s, and the persons, limbs and sockets among them where they can be followed.", many)
	return nil
}

// clockKey is the first key by which the question asks about the lives of
// sockets; empty where it asks about rows alone.
func (w *work) clockKey() string {
	for _, key := range []string{"event", "start", "end", "entry", "landmark"} {
		if w.ask.KeyPos[key].Line > 0 {
			return key
		}
	}
	return ""
}

// telling are the steps worth showing: the first, those that exclude rows,
// and the last.
func telling(steps []cohort.Step) []cohort.Step {
	var out []cohort.Step
	for i, s := range steps {
		if i == 0 || s.Excluded > 0 || i == len(steps)-1 {
			out = append(out, s)
		}
	}
	return out
}

// tellingUnits are the steps worth showing, with what they leave.
func tellingUnits(steps []cohort.Step, units unitCounts) (out []cohort.Step, left unitCounts) {
	out = telling(steps)
	k := 0
	for i, s := range steps {
		if k < len(out) && s.Step == out[k].Step && s.Rows == out[k].Rows && (i == 0 || s.Excluded > 0 || i == len(steps)-1) {
			left = append(left, units[i])
			k++
		}
	}
	return out, left
}

// maskedSteps says which exclusions are withheld and which numbers left may
// still be printed, so that no count that stands for few can be worked out.
func (w *work) maskedSteps(steps []cohort.Step) (hide, keep []bool) {
	var excluded []int
	shown := []bool{true}
	for _, s := range steps {
		excluded = append(excluded, s.Excluded)
		shown = append(shown, w.withheld(s.Rows) == Told)
	}
	hide, keep = figure.MaskExclusions(excluded, shown, w.ctx.Front.HideBelow)
	return hide, keep[1:]
}

// lastStep is how many rows the last step left.
func lastStep(steps []cohort.Step) int {
	if len(steps) == 0 {
		return 0
	}
	return steps[len(steps)-1].Rows
}
