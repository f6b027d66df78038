// Package table holds the plain column table that every analysis reads:
// named, typed columns with units, a mask of missing values and the row of
// the log that each row came from. It knows no file and does no rounding.
package table

import (
	"errors"
	"fmt"
	"math"
	"sort"
)

// Kind is the type of the values of a column.
type Kind int

// The kinds of column. A yes/no column is Text with the values "yes" and
// "no". A date is a whole number of days since 1970-01-01.
const (
	Number Kind = iota
	Text
	Date
)

func (k Kind) String() string {
	return [...]string{"number", "text", "date"}[k]
}

// Known says when the value of a column is known, relative to the start of
// the socket's life (its delivery). A column known only later must not
// explain what came before it.
type Known int

// The moments at which a value becomes known.
const (
	AtStart Known = iota // known when the socket is delivered
	Later                // known only some time after delivery
	Always               // a fixed fact of the person, limb or row
)

// Column is one named column of a table. Exactly one of Num and Text is
// filled, according to Kind; Missing has one entry per row. The number at a
// missing row is NaN, the text is empty.
type Column struct {
	Name    string
	Label   string // as a clinician would say it; empty: the name
	Unit    string // "mm", "ml", "days", "%"; empty for none
	Kind    Kind
	Known   Known
	Own     bool // the lab's own column
	Derived bool // worked out by the cohort, not read from the log
	Num     []float64
	Text    []string
	Missing []bool
}

// NewNumber returns a number column of n rows, all missing.
func NewNumber(name, unit string, n int) *Column {
	c := &Column{Name: name, Unit: unit, Kind: Number, Num: make([]float64, n), Missing: make([]bool, n)}
	c.allMissing()
	return c
}

// NewDate returns a date column of n rows, all missing.
func NewDate(name string, n int) *Column {
	c := &Column{Name: name, Kind: Date, Num: make([]float64, n), Missing: make([]bool, n)}
	c.allMissing()
	return c
}

// NewText returns a text column of n rows, all missing.
func NewText(name string, n int) *Column {
	c := &Column{Name: name, Kind: Text, Text: make([]string, n), Missing: make([]bool, n)}
	c.allMissing()
	return c
}

func (c *Column) allMissing() {
	for i := range c.Missing {
		c.Missing[i] = true
		if c.Num != nil {
			c.Num[i] = math.NaN()
		}
	}
}

// Len is the number of rows.
func (c *Column) Len() int { return len(c.Missing) }

// SetNum sets row i of a number or date column. NaN and infinities are kept
// as missing: no such value may reach an estimate.
func (c *Column) SetNum(i int, v float64) {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		c.Num[i], c.Missing[i] = math.NaN(), true
		return
	}
	c.Num[i], c.Missing[i] = v, false
}

// SetText sets row i of a text column; empty text is missing.
func (c *Column) SetText(i int, v string) { c.Text[i], c.Missing[i] = v, v == "" }

// SetBool sets row i of a text column to yes or no.
func (c *Column) SetBool(i int, v bool) {
	if v {
		c.SetText(i, "yes")
	} else {
		c.SetText(i, "no")
	}
}

// Pick returns a copy of the column with the given rows, in that order; a
// negative row gives a missing value.
func (c *Column) Pick(rows []int) *Column {
	d := *c
	d.Num, d.Text = nil, nil
	d.Missing = make([]bool, len(rows))
	if c.Kind == Text {
		d.Text = make([]string, len(rows))
	} else {
		d.Num = make([]float64, len(rows))
	}
	for j, i := range rows {
		switch {
		case i < 0 || c.Missing[i]:
			d.Missing[j] = true
			if c.Kind != Text {
				d.Num[j] = math.NaN()
			}
		case c.Kind == Text:
			d.Text[j] = c.Text[i]
		default:
			d.Num[j] = c.Num[i]
		}
	}
	return &d
}

// Origin is the place of a row in the log: an index into the inputs and the
// 1-based row of the sheet. Zero values mean a row that was worked out.
type Origin struct {
	Sheet int // index of the sheet among all sheets read
	Row   int
}

// Table is an ordered set of columns of equal length.
type Table struct {
	Name   string // "sockets", "visits", ...
	Origin []Origin
	cols   []*Column
	index  map[string]int
	rows   int
}

// New returns an empty table of n rows.
func New(name string, n int) *Table {
	return &Table{Name: name, rows: n, index: map[string]int{}, Origin: make([]Origin, n)}
}

// With is a table that has one column more, or another in the place of the
// one of the same name. The other columns are shared; t is not changed.
func (t *Table) With(c *Column) (*Table, error) {
	out := &Table{Name: t.Name, Origin: t.Origin, rows: t.rows, cols: append([]*Column(nil), t.cols...), index: make(map[string]int, len(t.index)+1)}
	for k, v := range t.index {
		out.index[k] = v
	}
	if err := out.Add(c); err != nil {
		return nil, err
	}
	return out, nil
}

// Rows is the number of rows.
func (t *Table) Rows() int { return t.rows }

// ErrLength reports a column whose length differs from its table's.
var ErrLength = errors.New("column length differs from the table's")

// Add appends a column, or replaces the one of the same name in place.
func (t *Table) Add(c *Column) error {
	if c.Len() != t.rows {
		return fmt.Errorf("table %s: column %s has %d rows, not %d: %w", t.Name, c.Name, c.Len(), t.rows, ErrLength)
	}
	if i, ok := t.index[c.Name]; ok {
		t.cols[i] = c
		return nil
	}
	t.index[c.Name] = len(t.cols)
	t.cols = append(t.cols, c)
	return nil
}

// Col returns the named column.
func (t *Table) Col(name string) (*Column, bool) {
	i, ok := t.index[name]
	if !ok {
		return nil, false
	}
	return t.cols[i], true
}

// Has says whether the table has the named column.
func (t *Table) Has(name string) bool { _, ok := t.index[name]; return ok }

// Columns returns the columns in the order they were added.
func (t *Table) Columns() []*Column { return append([]*Column(nil), t.cols...) }

// Names returns the names of the columns, sorted.
func (t *Table) Names() []string {
	names := make([]string, 0, len(t.cols))
	for _, c := range t.cols {
		names = append(names, c.Name)
	}
	sort.Strings(names)
	return names
}

// Pick returns a table of the given rows, in that order.
func (t *Table) Pick(rows []int) *Table {
	out := New(t.Name, len(rows))
	for j, i := range rows {
		if i >= 0 {
			out.Origin[j] = t.Origin[i]
		}
	}
	for _, c := range t.cols {
		out.index[c.Name] = len(out.cols)
		out.cols = append(out.cols, c.Pick(rows))
	}
	return out
}

// Levels returns the distinct values of a text column among rows that are
// not missing, with their counts, most frequent first and ties in
// alphabetical order.
func (c *Column) Levels() []Level {
	count := map[string]int{}
	for i, v := range c.Text {
		if !c.Missing[i] {
			count[v]++
		}
	}
	out := make([]Level, 0, len(count))
	for v, n := range count {
		out = append(out, Level{v, n})
	}
	sort.Slice(out, func(a, b int) bool {
		if out[a].Count != out[b].Count {
			return out[a].Count > out[b].Count
		}
		return out[a].Value < out[b].Value
	})
	return out
}

// Level is a distinct value with the number of rows that have it.
type Level struct {
	Value string
	Count int
}

// DaysPerMonth and DaysPerYear are the lengths used wherever months or years
// are counted in days.
const (
	DaysPerMonth = 30.4375
	DaysPerYear  = 365.25
)
