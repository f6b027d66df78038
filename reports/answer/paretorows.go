package answer

import (
	"fmt"
	"strings"

	"plybook/analysis/cohort"
	"plybook/analysis/table"
	"plybook/reports/notebook"
)

// dropInUse leaves out the sockets still in use where bars are made of why
// sockets ended: they have no reason yet, which is not to say that it is not
// known. It says whether there were any.
func (w *work) dropInUse(c *table.Column) bool {
	if w.table.Name != "sockets" || !ofEndReasons(c) {
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

// ofEndReasons says whether a column tells why sockets ended.
func ofEndReasons(c *table.Column) bool {
	return !c.Own && (c.Name == "end_reason" || c.Name == "end_reasons")
}

// separate settles how the values of a cell that names several are told apart,
// and refuses a mark that does nothing: on a column whose values are read as
// one word each, or that no cell has.
func (j *paretoJob) separate() error {
	w := j.work
	j.separator = w.ask.Separator
	list := !j.by.Own && (j.by.Name == "actions" || j.by.Name == "end_reasons")
	switch {
	case list && j.separator != "" && j.separator != ";":
		return w.at("separator", "", notebook.CodeImpossible, "the values of %s have been told apart already, whatever stood between them; leave separator out", j.by.Name)
	case list:
		j.separator = ";"
	case j.separator == "":
	case !j.by.Own && wholeList[j.by.Name] != "":
		return w.at("separator", "", notebook.CodeImpossible, "%s holds the first value of each cell alone, so that nothing is to be separated; write by: %s, which has them all", j.by.Name, wholeList[j.by.Name])
	default:
		for i, v := range j.by.Text {
			if !j.by.Missing[i] && strings.Contains(v, j.separator) {
				return nil
			}
		}
		return w.at("separator", "", notebook.CodeImpossible, "no %s has %q in it, so that nothing is to be separated; leave separator out, or write the mark that stands between the values", label(j.by), j.separator)
	}
	return nil
}

// wholeList names, for a column that holds the first of several values, the
// one that holds them all.
var wholeList = map[string]string{"action": "actions", "end_reason": "end_reasons"}

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
