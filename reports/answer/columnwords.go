package answer

import (
	"errors"
	"strings"

	"plybook/analysis/cohort"
	"plybook/analysis/table"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

func hasCondition(c table.Condition) bool { return len(c.Clauses) > 0 || len(c.Any) > 0 }

// conditionWords says a condition as a reader would, with the labels of the
// columns.
func (w *work) conditionWords(c table.Condition) string {
	var parts []string
	for _, cl := range c.Clauses {
		parts = append(parts, w.clauseWords(cl))
	}
	if len(c.Any) > 0 {
		alt := make([]string, len(c.Any))
		for i, a := range c.Any {
			alt[i] = w.conditionWords(a)
		}
		parts = append(parts, "either "+strings.Join(alt, " or "))
	}
	return strings.Join(parts, ", ")
}

func (w *work) clauseWords(cl table.Clause) string {
	name := plainName(cl.Column)
	if col, err := w.table.Lookup(cl.Column); err == nil {
		name = label(col)
	}
	if cl.Column == cohort.EarlyRemake {
		name = "a remake within " + words.At(w.ctx.Front.EarlyRemakeDays)
	}
	switch {
	case cl.Test == table.IsMissing:
		return name + " not recorded"
	case cl.Test == table.IsKnown:
		return name + " recorded"
	case cl.Test == table.Between && cl.Low == "":
		return name + " up to " + cl.High
	case cl.Test == table.Between && cl.High == "":
		return name + " of " + cl.Low + " or more"
	case cl.Test == table.Between:
		return name + " " + cl.Low + " to " + cl.High
	case len(cl.Values) == 1 && strings.EqualFold(cl.Values[0], "yes"):
		return name
	case len(cl.Values) == 1 && strings.EqualFold(cl.Values[0], "no"):
		return "no " + name
	}
	return name + " " + strings.Join(cl.Values, " or ")
}

func plainName(column string) string {
	return strings.ReplaceAll(strings.TrimPrefix(column, "own."), "_", " ")
}

// staffColumns name a member of staff.
var staffColumns = map[string]bool{"cast_by": true, "shaped_by": true, "seen_by": true, "measured_by": true, "formed_by": true}

// identifiers name a single person, limb, socket or visit.
var identifiers = map[string]bool{"person": true, "limb": true, "socket": true, "visit": true, "replaces": true}

// shownNowhere are the keys whose values reach no output.
var shownNowhere = map[string]bool{"within": true, "cluster": true, "same": true, "shared_by": true, "nested_in": true, "crossed": true}

// column finds a column for a key of the ask.
func (w *work) column(key, name string) (*table.Column, error) {
	c, err := w.table.Lookup(name)
	if err == nil {
		if staffColumns[name] && !w.ctx.Names.Staff && key != "crossed" {
			return nil, w.at(key, name, "staff-hidden", "%s", w.staffHidden(name))
		}
		if identifiers[name] && !w.ctx.Names.Show && !shownNowhere[key] {
			return nil, w.at(key, name, "identifying", "%s", w.identifying(name))
		}
		return c, nil
	}
	var ce *table.ConditionError
	if !errors.As(err, &ce) {
		return nil, err
	}
	if w.table.Has(name) || w.table.Has(table.OwnPrefix+name) {
		return nil, &notebook.Error{Pos: w.ask.At(key, name), Code: "ambiguous-column", Text: ce.Text, Nearest: ce.Nearest}
	}
	if w.kept(name) {
		return nil, w.at(key, name, "identifying", "%s", w.keptWords(name))
	}
	return nil, &notebook.Error{Pos: w.ask.At(key, name), Code: "unknown-column", Text: noColumn(name, w.table.Name, ce.Nearest), Nearest: ce.Nearest}
}

// dateWords is what a column of dates is called behind an article.
func dateWords(c *table.Column) string {
	if name := label(c); !strings.HasPrefix(name, "date") {
		return "date " + name
	}
	return label(c)
}

// label is what a column is called in print.
func label(c *table.Column) string {
	if c.Label != "" && !c.Own {
		return c.Label
	}
	return plainName(c.Name)
}
