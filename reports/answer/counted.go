package answer

import (
	"slices"
	"sort"

	"plybook/analysis/table"
)

// Counted is a number of an answer with the rows of the log that it counts,
// so that the counts of a whole report can be held against each other. It is
// filled in for public audiences alone, and written nowhere.
type Counted struct {
	Table  string // of the numbers; empty for the answer's own rows and events
	Row    int    // of the table; -1 for the answer's own; Printed
	Column string
	Count  int
	Of     string   // what the rows are: the name of a rows-table
	By     []string // the columns that say which rows are meant, sorted
	Rows   Set
}

// LookedAt begins what stands among the columns of By and is none: what visits
// had to tell for a row to be counted. Which rows that leaves out is said
// nowhere, and readers may not think of it.
const LookedAt = "looked at: "

// Printed is the row of a count that is printed and stands in no table.
const Printed = -2

// base is a set of rows that an answer rests on, with the columns that say
// which they are.
type base struct {
	by   []string
	rows Set
	part bool // one of the categories of what the row is about
}

// rests notes rows of the rows-table as a set that the answer rests on: those
// chosen, those with a life, those with the event. A method that counts rows
// which neither `keep` and `by` nor missing values say notes them so.
func (w *work) rests(rows []int, by ...string) {
	if w.public() {
		w.bases = append(w.bases, base{by: by, rows: NewSet(w.table.Rows(), rows)})
	}
}

// happened notes the rows that had what the answer counts as an event.
func (w *work) happened(rows []int, by ...string) {
	if w.public() {
		w.events = append(w.events, base{by: by, rows: NewSet(w.table.Rows(), rows)})
	}
}

// keepColumns are the columns that `keep` names.
func (w *work) keepColumns() []string {
	var out []string
	for _, c := range allClauses(w.ask.Keep) {
		out = append(out, c.Column)
	}
	return out
}

// askedColumns are the columns of the rows-table whose missing values may
// cost rows.
func (w *work) askedColumns() []string {
	a := w.ask
	out := append([]string{a.By, a.Outcome, a.Time, a.Weights, a.Offset, a.Cluster}, a.Adjust...)
	out = append(append(append(out, a.Factors...), a.Strata...), a.Slopes...)
	if a.By == "" && len(a.Columns) == 1 {
		out = append(out, a.Columns...)
	}
	return slices.DeleteFunc(out, func(n string) bool { return n == "" })
}

// counter finds the rows that the counts of an answer stand for.
type counter struct {
	*work
	index  map[string]*columnIndex
	bases  []base
	known  []string // of askedColumns, those that the table has
	places map[string]map[string]int
}

// columnIndex are the rows of each value of a column.
type columnIndex struct {
	known  Set
	values map[string]Set
}

// mostValues is how many values of a column are told apart: a column with
// more makes no groups.
const mostValues = 400

// noteCounts notes, for a public audience, which rows the numbers of the answer
// count. Each count is held against what its labels say (a value of `by`, a
// category of a column, a period) among the rows that the answer rests on;
// only where that comes to the same number is it noted.
func (w *work) noteCounts() {
	if !w.public() || w.table == nil {
		return
	}
	c := &counter{work: w, index: map[string]*columnIndex{}}
	c.bases = append([]base{{by: w.keepColumns(), rows: NewSet(w.table.Rows(), w.rows)}}, w.bases...)
	for _, n := range w.askedColumns() {
		if c.column(n) != nil {
			c.known = append(c.known, n)
		}
	}
	c.outcomes()
	add := func(t string, row int, column string, n int, cl []base, subject string) {
		if n <= 0 {
			return
		}
		if s, ok := c.find(column, n, cl, subject); ok {
			s.Table, s.Row, s.Column, s.Count = t, row, column, n
			w.Counted = append(w.Counted, s)
		}
	}
	add("", -1, "rows", w.Answer.Rows, nil, "")
	if w.HasEvents {
		add("", -1, "events", w.Events, nil, "")
	}
	for _, t := range w.Tables {
		for r, values := range t.Rows {
			var cl []base
			subject, read := "", false
			for j, col := range t.Columns {
				if n, ok := c.CountAt(&t, r, j); ok {
					if !read {
						cl, subject = c.labels(t, values)
						read = true
					}
					add(t.Name, r, col.Name, n, cl, subject)
				}
			}
		}
	}
	c.alone()
}

// alone notes counts that are printed and stand in no table of the numbers,
// the rows of a category beside a coefficient for one: all rows of which there
// are as many among those the answer rests on, whole or of one value of a
// column asked about.
func (c *counter) alone() {
	told := map[string]bool{}
	for _, x := range c.Counted {
		told[x.Rows.Key(x.Of)] = true
	}
	note := func(b base) {
		n := b.rows.Len()
		if key := b.rows.Key(c.table.Name); c.printed[n] && !told[key] {
			told[key] = true
			by := slices.Clone(b.by)
			sort.Strings(by)
			c.Counted = append(c.Counted, Counted{Row: Printed, Count: n, Of: c.table.Name, By: slices.Compact(by), Rows: b.rows})
		}
	}
	for _, b := range c.bases {
		whole := c.tries("", b.rows, b.by, "")
		for _, t := range whole {
			note(t)
			for _, e := range c.events {
				note(base{by: append(slices.Clone(t.by), e.by...), rows: t.rows.And(e.rows)})
			}
			for _, n := range c.known {
				x := c.column(n)
				values := make([]string, 0, len(x.values))
				for v := range x.values {
					values = append(values, v)
				}
				sort.Strings(values)
				for _, v := range values {
					note(base{by: append(slices.Clone(t.by), n), rows: t.rows.And(x.values[v])})
				}
			}
		}
	}
}

// column indexes a column of the rows-table; nil where there is none.
func (c *counter) column(name string) *columnIndex {
	if x, ok := c.index[name]; ok {
		return x
	}
	c.index[name] = nil
	col, err := c.table.Lookup(name)
	if err != nil {
		return nil
	}
	n := c.table.Rows()
	x := &columnIndex{known: make(Set, (n+63)/64), values: map[string]Set{}}
	for i, gone := range col.Missing {
		if gone {
			continue
		}
		x.known[i/64] |= 1 << (i % 64)
		if x.values == nil || col.Kind == table.Date {
			continue
		}
		v := valueText(col, i)
		if x.values[v] == nil {
			if len(x.values) == mostValues {
				x.values = nil
				continue
			}
			x.values[v] = make(Set, (n+63)/64)
		}
		x.values[v][i/64] |= 1 << (i % 64)
	}
	c.index[name] = x
	return x
}

// outcomes adds the rows that meet what the ask counts: a numerator, or an
// outcome of yes and no.
func (c *counter) outcomes() {
	add := func(cond table.Condition) {
		hit, err := cond.Match(c.table)
		if err != nil {
			return
		}
		var rows []int
		for i, h := range hit {
			if h {
				rows = append(rows, i)
			}
		}
		var by []string
		for _, cl := range allClauses(cond) {
			by = append(by, cl.Column)
		}
		c.happened(rows, by...)
	}
	for _, cond := range c.askedConditions() {
		add(cond)
	}
	if x := c.column(c.ask.Outcome); x != nil && x.values["yes"] != nil {
		c.work.events = append(c.work.events, base{by: []string{c.ask.Outcome}, rows: x.values["yes"]})
	}
}

// labels reads what the texts of a row of a table say of its rows, and the
// column that the row is about.
func (c *counter) labels(t Table, row []any) (cl []base, subject string) {
	for j, col := range t.Columns {
		if s, _ := row[j].(string); col.Name == "column" || col.Name == "term" {
			subject = s
		}
	}
	for j, col := range t.Columns {
		s, ok := row[j].(string)
		if !ok || s == "" || s == "all" || col.Name == "column" || col.Name == "term" || t.Name == "steps" {
			continue
		}
		if b, ok := c.period(s); ok && col.Name != "category" {
			cl = append(cl, b)
			continue
		}
		names := append([]string{}, c.ask.By)
		if col.Name == "category" && subject != "" {
			names = []string{subject}
		}
		names = append(append(names, c.ask.Columns...), c.known...)
		for _, n := range names {
			if x := c.column(n); n != "" && x != nil && x.values[s] != nil {
				cl = append(cl, base{by: []string{n}, rows: x.values[s], part: col.Name == "category"})
				break
			}
		}
	}
	return cl, subject
}

// find looks for rows of which there are n, from what the column of a count
// is called and the labels of its row. What stands beside the count of a
// category may be of all categories: the rows in which it is known, and those
// in which it is not.
func (c *counter) find(column string, n int, cl []base, subject string) (Counted, bool) {
	if s, ok := c.among(column, n, cl, subject); ok {
		return s, true
	}
	whole := slices.DeleteFunc(slices.Clone(cl), func(l base) bool { return l.part })
	if len(whole) == len(cl) {
		return Counted{}, false
	}
	return c.among(column, n, whole, subject)
}

func (c *counter) among(column string, n int, cl []base, subject string) (Counted, bool) {
	kind := kindOf(column)
	of := c.table.Name
	for _, b := range c.bases {
		s, by := b.rows, slices.Clone(b.by)
		for _, l := range cl {
			s, by = s.And(l.rows), append(by, l.by...)
		}
		for _, try := range c.tries(kind, s, by, subject) {
			rows, of := try.rows, of
			if kind == "person" || kind == "limb" {
				if rows, of = c.owners(kind, try.rows); rows == nil {
					continue
				}
			}
			if rows.Len() == n {
				sort.Strings(try.by)
				return Counted{Of: of, By: slices.Compact(try.by), Rows: rows}, true
			}
		}
	}
	return Counted{}, false
}
