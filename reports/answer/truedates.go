package answer

import (
	"fmt"
	"slices"

	"plybook/analysis/table"
	"plybook/reports/notebook"
)

// codeTrueDates is the code of an error of what needs days of the calendar.
const codeTrueDates = "needs-true-dates"

// needsTrueDates refuses what cannot be answered where the dates of each
// person are moved by days of their own: what places rows on the calendar, or
// takes a date for a value. Starts, ends and entries are times between dates
// of one person and stay as they are.
func (w *work) needsTrueDates() error {
	if w.ctx.Front.ShiftDates == 0 {
		return nil
	}
	a := w.ask
	if a.Method == "control-chart" {
		return w.at("method", a.Method, codeTrueDates, "a control-chart places what happened on the calendar, and with shift_dates no true day is known; ask it in a notebook without shift_dates")
	}
	tables := []*table.Table{w.table}
	for _, name := range []string{"visits", "findings"} {
		t, err := w.ctx.Cohort.Rows(name)
		if err != nil {
			return err
		}
		tables = append(tables, t)
	}
	isDate := func(name string) bool {
		return slices.ContainsFunc(tables, func(t *table.Table) bool {
			c, err := t.Lookup(name)
			return err == nil && c.Kind == table.Date
		})
	}
	for _, k := range columnsUsed(a) {
		if isDate(k.name) {
			return w.at(k.key, k.name, codeTrueDates, "%s", takenForValue(k.name))
		}
	}
	for _, k := range conditionsUsed(a) {
		for _, cl := range allClauses(k.condition) {
			if cl.Test == table.IsMissing || cl.Test == table.IsKnown || !isDate(cl.Column) {
				continue
			}
			pos := w.ask.At(k.key, cl.Column)
			if cl.Line > 0 {
				pos.Line, pos.Column = cl.Line, cl.Col
			}
			return &notebook.Error{Pos: pos, Code: codeTrueDates, Text: takenForValue(cl.Column)}
		}
	}
	return nil
}

func takenForValue(name string) string {
	return fmt.Sprintf("%s is a date and is taken for a day of the calendar here; with shift_dates no true day is known, only the time between two dates of one person", name)
}

// usedColumn is a column that an ask takes for a value, and the key under
// which it stands.
type usedColumn struct{ key, name string }

func columnsUsed(a *notebook.Ask) []usedColumn {
	var out []usedColumn
	add := func(key string, names ...string) {
		for _, n := range names {
			if n != "" {
				out = append(out, usedColumn{key, n})
			}
		}
	}
	add("by", a.By)
	add("adjust", a.Adjust...)
	add("columns", a.Columns...)
	add("factors", a.Factors...)
	add("strata", a.Strata...)
	add("varying", a.Varying...)
	add("weights", a.Weights)
	add("offset", a.Offset)
	add("cluster", a.Cluster)
	add("outcome", a.Outcome)
	add("time", a.Time)
	add("within", a.Within)
	add("slopes", a.Slopes...)
	add("dated", a.Dated)
	for _, pair := range a.Interact {
		add("interact", pair[:]...)
	}
	for _, t := range a.Spline {
		add("spline", t.Column)
	}
	for _, c := range a.Contrasts {
		add("contrasts", c.Column)
	}
	return out
}

// usedCondition is a condition of an ask and the key under which it stands.
type usedCondition struct {
	key       string
	condition table.Condition
}

func conditionsUsed(a *notebook.Ask) []usedCondition {
	out := []usedCondition{{"keep", a.Keep}}
	for _, e := range []struct {
		key  string
		spec *notebook.EventSpec
	}{{"event", a.Event}, {"competing", a.Competing}} {
		if e.spec != nil && e.spec.Condition != nil {
			out = append(out, usedCondition{e.key, *e.spec.Condition})
		}
	}
	for _, c := range []struct {
		key   string
		count *notebook.Count
	}{{"numerator", a.Numerator}, {"denominator", a.Denominator}} {
		if c.count != nil && !c.count.All {
			out = append(out, usedCondition{c.key, c.count.Condition})
		}
	}
	return out
}
