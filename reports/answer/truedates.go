package answer

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
	"unicode"

	"plybook/analysis/cohort"
	"plybook/analysis/table"
	"plybook/reports/notebook"
)

// codeTrueDates is the code of an error of what needs days of the calendar.
const codeTrueDates = "needs-true-dates"

// timesAlone are the methods that rest on times between dates of one person.
// Any other is refused where dates are shifted: charts over time, and what is
// asked of a day such as the sockets in use today.
var timesAlone = map[string]bool{"limb-volume": true, "sock-volume": true, "kaplan-meier": true, "turnbull": true, "cox": true, "weibull": true, "exponential": true, "log-normal": true, "log-logistic": true,
	"generalised-gamma": true, "cumulative-incidence": true, "fine-gray": true, "mean-cumulative": true, "linear": true, "logistic": true, "poisson": true,
	"negative-binomial": true, "ordinal": true, "mixed": true, "mixed-logistic": true, "mixed-poisson": true, "mixed-ordinal": true, "rhythm": true, "maturation": true, "pareto": true, "summary": true, "flow": true, "agreement": true, "sample-size": true, "turnaround": true, "follow-up": true, "forming-log": true, "findings-map": true, "reduction": true}

// needsTrueDates refuses what cannot be answered where the dates of each
// person are moved by days of their own: what places rows on the calendar, or
// takes a date for a value. Starts, ends and entries are times between dates
// of one person and stay as they are.
func (w *work) needsTrueDates() error {
	if w.ctx.Front.ShiftDates == 0 {
		return nil
	}
	a := w.ask
	if !timesAlone[a.Method] {
		return w.at("method", a.Method, codeTrueDates, "%s asks what was so on days of the calendar, and with shift_dates no true day is known; ask it in a notebook without shift_dates", a.Method)
	}
	if a.Change != nil || slices.Contains(notebook.AcceptedKeys(a.Method), "change") && len(w.followed()) > 0 {
		return w.at("change", "", codeTrueDates, "a change is a day of the calendar, before or since which rows are to lie; with shift_dates no true day is known")
	}
	if a.Cycle == "year" {
		return w.at("cycle", a.Cycle, codeTrueDates, "a season is a part of the calendar's year; with shift_dates no true day is known, only the time of the day (`cycle: day`)")
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
		return name == cohort.YearDelivered || name == cohort.MonthOfYear || slices.ContainsFunc(tables, func(t *table.Table) bool {
			c, err := t.Lookup(name)
			return err == nil && c.Kind == table.Date
		})
	}
	ofOne := slices.ContainsFunc(a.Same, func(n string) bool { return identifiers[n] }) // readings of one person on one day
	for _, k := range columnsUsed(a) {
		if k.key == "same" && ofOne {
			continue
		}
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

// timesBetween are the keys whose columns of dates only mark times.
var timesBetween = map[string]bool{"start": true, "end": true, "entry": true, "steps": true}

// columnsUsed are all texts of an ask that could name a column, those of keys
// to come included: a word that names no date is none.
func columnsUsed(a *notebook.Ask) []usedColumn {
	var out []usedColumn
	each(a, func(key string, v reflect.Value) {
		if timesBetween[key] {
			return
		}
		switch x := v.Interface().(type) {
		case string:
			out = append(out, usedColumn{key, x})
		case []string:
			for _, n := range x {
				out = append(out, usedColumn{key, n})
			}
		case [][2]string:
			for _, pair := range x {
				out = append(out, usedColumn{key, pair[0]}, usedColumn{key, pair[1]})
			}
		case []notebook.SplineTerm:
			for _, t := range x {
				out = append(out, usedColumn{key, t.Column})
			}
		case []notebook.Comparison:
			for _, c := range x {
				out = append(out, usedColumn{key, c.Column})
			}
		}
	})
	return out
}

// usedCondition is a condition of an ask and the key under which it stands.
type usedCondition struct {
	key       string
	condition table.Condition
}

func conditionsUsed(a *notebook.Ask) []usedCondition {
	var out []usedCondition
	each(a, func(key string, v reflect.Value) {
		switch x := v.Interface().(type) {
		case table.Condition:
			out = append(out, usedCondition{key, x})
		case *table.Condition:
			if x != nil {
				out = append(out, usedCondition{key, *x})
			}
		case *notebook.EventSpec:
			if x != nil && x.Condition != nil {
				out = append(out, usedCondition{key, *x.Condition})
			}
		case *notebook.Count:
			if x != nil && !x.All {
				out = append(out, usedCondition{key, x.Condition})
			}
		}
	})
	return out
}

// each hands over the fields of an ask with the keys that they are written by.
func each(a *notebook.Ask, do func(key string, v reflect.Value)) {
	v := reflect.ValueOf(a).Elem()
	for i := range v.NumField() {
		field := v.Type().Field(i)
		if !field.IsExported() {
			continue
		}
		var key strings.Builder
		for k, r := range strings.TrimSuffix(field.Name, "When") {
			if unicode.IsUpper(r) && k > 0 {
				key.WriteByte('_')
			}
			key.WriteRune(unicode.ToLower(r))
		}
		do(key.String(), v.Field(i))
	}
}
