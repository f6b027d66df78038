package table

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode"
)

// OwnPrefix stands before the name of a lab's own column.
const OwnPrefix = "own."

// ConditionError reports a column or a bound that a table cannot answer.
type ConditionError struct {
	Column    string // the column asked for
	Text      string // what is wrong, a plain clause without the column
	Nearest   string // the nearest valid name, empty if none is near
	Line, Col int    // place in the notebook, 0 if nowhere
}

func (e *ConditionError) Error() string {
	s := fmt.Sprintf("column %q: %s", e.Column, e.Text)
	if e.Nearest != "" {
		s += fmt.Sprintf("; did you mean %q?", e.Nearest)
	}
	if e.Line > 0 {
		s = fmt.Sprintf("line %d, column %d: %s", e.Line, e.Col, s)
	}
	return s
}

// Lookup returns the column that an ask names. A lab's own column that bears
// the name of another column is reached as own.NAME only: the bare name
// could mean either, so it is an error. Errors are a *ConditionError.
func (t *Table) Lookup(name string) (*Column, error) {
	c, ok := t.Col(name)
	if !ok && t.Has(OwnPrefix+name) {
		return nil, &ConditionError{
			Column:  name,
			Text:    fmt.Sprintf("the log's own column of this name bears the name of another column; write %s%s", OwnPrefix, name),
			Nearest: OwnPrefix + name,
		}
	}
	if !ok {
		return nil, &ConditionError{
			Column:  name,
			Text:    fmt.Sprintf("no such column in the table of %s", t.Name),
			Nearest: Nearest(name, t.Names()),
		}
	}
	if !c.Own && t.Has(OwnPrefix+name) {
		return nil, &ConditionError{
			Column:  name,
			Text:    fmt.Sprintf("the log has a column of its own with this name; write %s%s for it, or rename it in the sheet to use the plain name", OwnPrefix, name),
			Nearest: OwnPrefix + name,
		}
	}
	return c, nil
}

// Match says of each row of t whether the condition holds. Text is compared
// exactly after trimming and case folding; numbers by value; dates by day.
// A missing value meets no test but IsMissing. Errors are a
// *ConditionError: an unknown column, a value or bound that cannot be read
// as the column's kind, a range asked of text, or a range that ends before
// it begins.
func (c Condition) Match(t *Table) ([]bool, error) {
	keep := make([]bool, t.Rows())
	for i := range keep {
		keep[i] = true
	}
	for _, cl := range c.Clauses {
		if err := cl.and(t, keep); err != nil {
			return nil, err
		}
	}
	if len(c.Any) == 0 {
		return keep, nil
	}
	some := make([]bool, t.Rows())
	for _, alt := range c.Any {
		hit, err := alt.Match(t)
		if err != nil {
			return nil, err
		}
		for i, h := range hit {
			some[i] = some[i] || h
		}
	}
	for i := range keep {
		keep[i] = keep[i] && some[i]
	}
	return keep, nil
}

// Rows returns the indices of the rows for which the condition holds.
func (c Condition) Rows(t *Table) ([]int, error) {
	hit, err := c.Match(t)
	if err != nil {
		return nil, err
	}
	rows := make([]int, 0, len(hit))
	for i, h := range hit {
		if h {
			rows = append(rows, i)
		}
	}
	return rows, nil
}

// Columns returns the names of the columns that the condition tests, in the
// order of first use.
func (c Condition) Columns() []string {
	var names []string
	seen := map[string]bool{}
	c.walk(func(cl Clause) {
		if !seen[cl.Column] {
			seen[cl.Column] = true
			names = append(names, cl.Column)
		}
	})
	return names
}

// Unseen lists the values asked of text columns that no row of t has, each
// with the nearest value that some row has. A value nobody has is most often
// a misspelling, but may be right: it is for a caution, not an error.
func (c Condition) Unseen(t *Table) []*ConditionError {
	var out []*ConditionError
	c.walk(func(cl Clause) {
		col, ok := t.Col(cl.Column)
		if !ok || cl.Test != OneOf || col.Kind != Text {
			return
		}
		var words []string
		has := map[string]bool{}
		for _, l := range col.Levels() {
			words = append(words, l.Value)
			has[Fold(l.Value)] = true
		}
		for _, v := range cl.Values {
			if !has[Fold(v)] {
				out = append(out, &ConditionError{Column: cl.Column, Text: fmt.Sprintf("no row has the value %q", v),
					Nearest: Nearest(v, words), Line: cl.Line, Col: cl.Col})
			}
		}
	})
	return out
}

func (c Condition) walk(f func(Clause)) {
	for _, cl := range c.Clauses {
		f(cl)
	}
	for _, a := range c.Any {
		a.walk(f)
	}
}

// and clears keep where the clause does not hold.
func (cl Clause) and(t *Table, keep []bool) error {
	col, err := t.Lookup(cl.Column)
	if err != nil {
		if ce, ok := err.(*ConditionError); ok {
			ce.Line, ce.Col = cl.Line, cl.Col
		}
		return err
	}
	switch cl.Test {
	case IsMissing, IsKnown:
		for i := range keep {
			keep[i] = keep[i] && col.Missing[i] == (cl.Test == IsMissing)
		}
		return nil
	case Between:
		return cl.between(col, keep)
	case OneOf:
		return cl.oneOf(col, keep)
	}
	return cl.fault("unknown kind of test")
}

func (cl Clause) fault(format string, args ...any) *ConditionError {
	return &ConditionError{Column: cl.Column, Text: fmt.Sprintf(format, args...), Line: cl.Line, Col: cl.Col}
}

func (cl Clause) between(col *Column, keep []bool) error {
	if col.Kind == Text {
		return cl.fault("a range needs numbers or dates, and this column holds text")
	}
	low, high := math.Inf(-1), math.Inf(1)
	var err error
	if strings.TrimSpace(cl.Low) != "" {
		if low, err = cl.read(col.Kind, cl.Low); err != nil {
			return err
		}
	}
	if strings.TrimSpace(cl.High) != "" {
		if high, err = cl.read(col.Kind, cl.High); err != nil {
			return err
		}
	}
	if low > high {
		return cl.fault("the range ends (%s) before it begins (%s)", strings.TrimSpace(cl.High), strings.TrimSpace(cl.Low))
	}
	for i := range keep {
		keep[i] = keep[i] && !col.Missing[i] && col.Num[i] >= low && col.Num[i] <= high
	}
	return nil
}

func (cl Clause) oneOf(col *Column, keep []bool) error {
	if col.Kind == Text {
		want := map[string]bool{}
		for _, v := range cl.Values {
			want[Fold(v)] = true
		}
		// Few distinct spellings stand in many rows: fold each once.
		known := map[string]bool{}
		for i := range keep {
			if !keep[i] {
				continue
			}
			if col.Missing[i] {
				keep[i] = false
				continue
			}
			hit, ok := known[col.Text[i]]
			if !ok {
				hit = want[Fold(col.Text[i])]
				known[col.Text[i]] = hit
			}
			keep[i] = hit
		}
		return nil
	}
	want := map[float64]bool{}
	for _, v := range cl.Values {
		x, err := cl.read(col.Kind, v)
		if err != nil {
			return err
		}
		want[x] = true
	}
	for i := range keep {
		keep[i] = keep[i] && !col.Missing[i] && want[col.Num[i]]
	}
	return nil
}

// read turns text into the number behind a column of the given kind.
func (cl Clause) read(kind Kind, s string) (float64, error) {
	s = strings.TrimSpace(s)
	if kind == Date {
		d, err := ParseDate(s)
		if err != nil {
			return 0, cl.fault("%q is not a date such as 2024-01-31", s)
		}
		return d, nil
	}
	x, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsNaN(x) || math.IsInf(x, 0) || strings.ContainsAny(s, "xX_") {
		return 0, cl.fault("%q is not a number", s)
	}
	return x, nil
}

// ParseDate reads a day written as 2024-01-31 into days since 1970-01-01.
func ParseDate(s string) (float64, error) {
	d, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return 0, fmt.Errorf("date %q: %w", s, err)
	}
	return math.Round(float64(d.Unix()) / 86400), nil
}

// FormatDate writes days since 1970-01-01 as 2024-01-31.
func FormatDate(days float64) string {
	return time.Unix(int64(math.Round(days))*86400, 0).UTC().Format(time.DateOnly)
}

// Fold is the form in which text values are compared: outer white space
// trimmed and case folded, rune by rune.
func Fold(s string) string {
	return strings.Map(func(r rune) rune {
		// The smallest rune of a case orbit stands for all of it, so that
		// Fold(a) == Fold(b) exactly where strings.EqualFold(a, b).
		low := r
		for f := unicode.SimpleFold(r); f != r; f = unicode.SimpleFold(f) {
			low = min(low, f)
		}
		return low
	}, strings.TrimSpace(s))
}
