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
	events, rows := "", w.rows
	if key := w.clockKey(); key != "" {
		if w.table.Name != "sockets" {
			return w.at(key, "", notebook.CodeImpossible, "`%s` belongs to the lives of sockets, and the rows here are %s", key, w.table.Name)
		}
		l, err := w.buildLives(false)
		if err != nil {
			return err
		}
		rows = make([]int, len(l.Row))
		for k, i := range l.Row {
			rows[k] = w.rows[i]
		}
		events = fmt.Sprintf(" Of the sockets, %s had the event.", w.countOnly(w.Events))
	}
	w.Answer.Rows = lastStep(w.steps)
	t := tableOf("steps", text("step"), count("rows"), count("excluded"), text("reason"))
	spec := figure.FlowSpec{ID: w.ask.ID, Title: "From the log to the " + many + " analysed", Rows: many, HideBelow: w.ctx.Front.HideBelow}
	out := document.Table{ID: w.ask.ID + "-steps", Caption: "From the log to the " + many + " analysed", Columns: []document.TableColumn{
		{Head: "Step"}, {Head: words.Capital(many) + " left", Align: document.Right}, {Head: "Excluded", Align: document.Right}, {Head: "Why", Wide: true}}}
	lost := 0
	for _, s := range w.steps {
		t.row(s.Step, s.Rows, s.Excluded, orNil(s.Reason))
	}
	steps := telling(w.steps)
	hide, keep := w.maskedSteps(steps)
	for i, s := range steps {
		st := figure.FlowStep{Label: words.Capital(s.Step), Rows: s.Rows}
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
		w.Reading = strings.TrimSuffix(w.Reading, ".") + w.ownersOf(rows) + "." + events
	}
	if most > 0 {
		w.Reading += fmt.Sprintf(" The step that takes most away excludes %s: %s.", w.n(most, one, many), strings.TrimSuffix(biggest, "."))
	}
	w.Methods = fmt.Sprintf("Rows that could not be read were set aside before these steps; the appendix counts them. Each step counts %s.", many)
	return nil
}

// ownersOf says, and gives in a table, of how many limbs and persons the rows
// analysed are. A number is withheld where it, or the difference to the next,
// stands for few people.
func (w *work) ownersOf(rows []int) string {
	distinct := func(column string) int {
		c, ok := w.table.Col(column)
		if !ok || c.Text == nil || w.table.Name == column+"s" {
			return 0
		}
		seen := map[string]bool{}
		for _, i := range rows {
			if !c.Missing[i] {
				seen[c.Text[i]] = true
			}
		}
		return len(seen)
	}
	n, limbs, persons := len(rows), distinct("limb"), distinct("person")
	t := tableOf("units", count("rows"), count("limbs"), count("persons"))
	t.row(n, when(limbs > 0, float64(limbs)), when(persons > 0, float64(persons)))
	may := func(k int, than ...int) bool {
		if k == 0 || w.hiddenCount(k) {
			return false
		}
		for _, x := range than {
			if w.smallCount(x - k) {
				return false
			}
		}
		return true
	}
	var of []string
	told := []int{n}
	if may(limbs, told...) {
		of = append(of, words.N(limbs, "limb", "limbs"))
		told = append(told, limbs)
	} else {
		w.drop(t, "limbs")
	}
	if may(persons, told...) {
		of = append(of, words.N(persons, "person", "persons"))
	} else {
		w.drop(t, "persons")
	}
	if w.hiddenCount(n) {
		w.drop(t, "rows")
	}
	w.addTable(t)
	if len(of) == 0 {
		return ""
	}
	return ", of " + words.List(of)
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
