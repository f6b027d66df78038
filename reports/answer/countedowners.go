package answer

import (
	"regexp"
	"slices"
	"strings"

	"plybook/analysis/table"
	"plybook/reports/notebook"
)

// kindOf says what a count is of, by the name of its column.
func kindOf(column string) string {
	switch {
	case column == "persons" || column == "clusters":
		return "person"
	case column == "limbs" || column == "groups":
		return "limb"
	case strings.Contains(column, "missing") || strings.Contains(column, "not_"):
		return "missing"
	case strings.Contains(column, "event") || column == "observed" || column == "numerator" || column == "over" || column == "cases":
		return "event"
	}
	return ""
}

// tries are the sets that a count may be of, the likeliest first.
func (c *counter) tries(kind string, s Set, by []string, subject string) []base {
	plain := []base{{by: by, rows: s}}
	known, with := s, slices.Clone(by)
	for _, n := range c.known {
		known, with = known.And(c.column(n).known), append(with, n)
	}
	whole := base{by: with, rows: known}
	var missing []base
	for _, n := range append([]string{subject}, c.known...) {
		x := c.column(n)
		if n == "" || x == nil {
			continue
		}
		here := append(slices.Clone(by), n)
		plain = append(plain, base{by: here, rows: s.And(x.known)})
		missing = append(missing, base{by: here, rows: s.Less(x.known)})
	}
	plain = append(plain, whole)
	switch kind {
	case "missing":
		return append(missing, base{by: with, rows: s.Less(known)})
	case "event":
		var out []base
		for _, e := range c.events {
			for _, p := range plain {
				out = append(out, base{by: append(slices.Clone(p.by), e.by...), rows: p.rows.And(e.rows)})
			}
		}
		return append(out, plain...)
	}
	return append(plain, missing...)
}

// owners are the persons or limbs of rows, as rows of their own table.
func (c *counter) owners(kind string, rows Set) (Set, string) {
	name := kind + "s"
	if c.table.Name == name {
		return rows, name
	}
	col, ok := c.table.Col(kind)
	if !ok || col.Text == nil {
		return nil, ""
	}
	if c.places == nil {
		c.places = map[string]map[string]int{}
	}
	if c.places[name] == nil {
		c.places[name] = map[string]int{}
		t, err := c.ctx.Cohort.Rows(name)
		if err != nil {
			return nil, ""
		}
		own, ok := t.Col(kind)
		if !ok || own.Text == nil {
			return nil, ""
		}
		for i, s := range own.Text {
			c.places[name][s] = i
		}
	}
	place := c.places[name]
	out := make(Set, (len(place)+63)/64)
	for i := range col.Text {
		if rows[i/64]&(1<<(i%64)) == 0 {
			continue
		}
		p, ok := place[col.Text[i]]
		if !ok {
			return nil, ""
		}
		out[p/64] |= 1 << (p % 64)
	}
	return out, name
}

// askedConditions are the conditions under which the ask counts a row.
func (w *work) askedConditions() []table.Condition {
	var out []table.Condition
	for _, n := range []*notebook.Count{w.ask.Numerator, w.ask.Denominator} {
		if n != nil && !n.All {
			out = append(out, n.Condition)
		}
	}
	if w.ask.OutcomeWhen != nil {
		out = append(out, *w.ask.OutcomeWhen)
	}
	return out
}

var periodForm = regexp.MustCompile(`^\d{4}( Q[1-4]|-\d\d|/\d\d)?$`)

// period are the rows of a month, quarter or year, where a text is one.
func (c *counter) period(name string) (base, bool) {
	if !periodForm.MatchString(name) {
		return base{}, false
	}
	kind := ""
	switch {
	case strings.Contains(name, "Q"):
		kind = "quarter"
	case !strings.Contains(name, "-"):
		kind = "year"
	}
	for _, dated := range []string{c.ask.Dated, "delivered", "date"} {
		col, ok := c.table.Col(dated)
		if !ok || col.Kind != table.Date {
			continue
		}
		var rows []int
		for i, gone := range col.Missing {
			if !gone && periodOf(col.Num[i], kind, c.ctx.Front.YearBegins).name == name {
				rows = append(rows, i)
			}
		}
		return base{by: []string{dated}, rows: NewSet(c.table.Rows(), rows)}, true
	}
	return base{}, false
}
