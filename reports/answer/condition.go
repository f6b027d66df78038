package answer

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"plybook/analysis/table"
	"plybook/reports/notebook"
)

// matches says of each row of a table whether a condition of the ask holds.
// Columns that name single people or staff may be asked of only where they
// may be shown. A value that no row has raises a caution with the nearest.
func (w *work) matches(key string, c table.Condition, t *table.Table) ([]bool, error) {
	for _, cl := range allClauses(c) {
		if err := w.mayTest(key, cl); err != nil {
			return nil, err
		}
	}
	hit, err := c.Match(t)
	if err != nil {
		return nil, w.conditionError(key, err, t)
	}
	for _, u := range c.Unseen(t) {
		w.caution("unseen-value", "%s.", unseenWords(w, u, t))
	}
	return hit, nil
}

// mayTest refuses a test of the values of a column that names staff, or
// single people or sockets, where these may not be shown: the condition is
// printed beside the answer.
func (w *work) mayTest(key string, cl table.Clause) error {
	pos := w.ask.At(key, cl.Column)
	if cl.Line > 0 {
		pos.Line, pos.Column = cl.Line, cl.Col
	}
	switch {
	case cl.Test == table.IsMissing || cl.Test == table.IsKnown:
		return nil
	case staffColumns[cl.Column] && !w.ctx.Names.Staff:
		return &notebook.Error{Pos: pos, Code: "staff-hidden", Text: w.staffHidden(cl.Column)}
	case identifiers[cl.Column] && !w.ctx.Names.Show:
		return &notebook.Error{Pos: pos, Code: "identifying", Text: w.identifying(cl.Column)}
	}
	return w.mustBeThere(pos, key, cl)
}

// mustBeThere refuses a name or code of a person, socket or member of staff
// that the log does not have. Where codes were made, what was written could
// be the name behind one, and it would be printed with the condition.
func (w *work) mustBeThere(pos notebook.Pos, key string, cl table.Clause) error {
	if cl.Test != table.OneOf || !staffColumns[cl.Column] && !identifiers[cl.Column] {
		return nil
	}
	c, ok := w.table.Col(cl.Column)
	if !ok { // a condition that is an event is on visits
		if t, err := w.ctx.Cohort.Rows("visits"); err == nil {
			c, ok = t.Col(cl.Column)
		}
	}
	if !ok || c.Kind != table.Text {
		return nil
	}
	has := map[string]bool{}
	for _, l := range c.Levels() {
		has[table.Fold(l.Value)] = true
	}
	for _, v := range cl.Values {
		if has[table.Fold(v)] {
			continue
		}
		return &notebook.Error{Pos: pos, Code: "unknown-code",
			Text: fmt.Sprintf("%s asks for a %s that is not there; where plybook inspect has made codes, write the code instead of the name", key, plainName(cl.Column))}
	}
	return nil
}

func (w *work) staffHidden(column string) string {
	if w.ctx.Front.Audience == notebook.Quality {
		return fmt.Sprintf("%s names staff, who are shown by code only; run plybook inspect on the log once, which makes the codes", column)
	}
	return fmt.Sprintf("%s names staff, who are not shown in a report for this audience (%s)", column, w.ctx.Front.Audience)
}

func (w *work) identifying(column string) string {
	return fmt.Sprintf("%s would name single persons, limbs or sockets. %s", column, w.ctx.Names.Why)
}

// kept says whether a name is that of an own column kept from this audience.
func (w *work) kept(name string) bool {
	return slices.Contains(w.ctx.Kept, strings.TrimPrefix(name, table.OwnPrefix))
}

func (w *work) keptWords(name string) string {
	return fmt.Sprintf("codes stand for the values of %s, and such a column is not shown in a report for this audience (%s)", name, w.ctx.Front.Audience)
}

// conditionError says what is wrong with a condition at its place.
func (w *work) conditionError(key string, err error, t *table.Table) error {
	var ce *table.ConditionError
	if !errors.As(err, &ce) {
		return err
	}
	pos := w.ask.At(key, ce.Column)
	if ce.Line > 0 {
		pos.Line, pos.Column = ce.Line, ce.Col
	}
	if w.kept(ce.Column) {
		return &notebook.Error{Pos: pos, Code: "identifying", Text: w.keptWords(ce.Column)}
	}
	if !t.Has(ce.Column) && !t.Has(table.OwnPrefix+ce.Column) {
		return &notebook.Error{Pos: pos, Code: "unknown-column", Text: noColumn(ce.Column, t.Name, ce.Nearest), Nearest: ce.Nearest}
	}
	code := "bad-condition"
	if ce.Nearest == table.OwnPrefix+ce.Column {
		code = "ambiguous-column"
	}
	return &notebook.Error{Pos: pos, Code: code, Text: fmt.Sprintf("%s: %s", ce.Column, ce.Text), Nearest: ce.Nearest}
}

// noColumn says that a table has no such column.
func noColumn(name, rows, nearest string) string {
	text := fmt.Sprintf("there is no column %q among the %s", name, rows)
	if nearest != "" {
		text += fmt.Sprintf("; did you mean %q?", nearest)
	}
	return text
}

// unseenWords says that no row has a value, and which is nearest.
func unseenWords(w *work, u *table.ConditionError, t *table.Table) string {
	name := plainName(u.Column)
	if c, ok := t.Col(u.Column); ok {
		name = label(c)
	}
	value := strings.TrimSuffix(strings.TrimPrefix(u.Text, "no row has the value "), ".")
	text := fmt.Sprintf("None of the %s has the %s %s", t.Name, name, value)
	if u.Nearest != "" {
		text += fmt.Sprintf("; the nearest value there is %q", u.Nearest)
	}
	return text
}

// unseenHint adds to an error about no rows what was asked for and never
// found.
func (w *work) unseenHint() string {
	for _, c := range w.Cautions {
		if c.Code == "unseen-value" {
			return ". " + strings.TrimSuffix(c.Text, ".")
		}
	}
	return ""
}

// usesAge says whether the ask names age or the year of birth.
func (w *work) usesAge() bool {
	a := w.ask
	names := append([]string{a.By, a.Outcome}, a.Adjust...)
	names = append(append(append(names, a.Columns...), a.Strata...), a.Keep.Columns()...)
	for _, n := range names {
		if n == "age" || n == "born" {
			return true
		}
	}
	return false
}
