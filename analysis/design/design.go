// Package design turns named columns of a table into the numeric columns of
// a model: numbers enter as they are, text as categories against a stated
// reference, pairs as products. A row that lacks any of the columns is left
// out and counted.
package design

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"

	"plybook/analysis/table"
)

// Spec says which columns a model has. The zero value has none.
type Spec struct {
	Terms     []string          // columns, in order
	Factors   []string          // number columns taken as categories
	Reference map[string]string // reference category by column; default: the most frequent
	Interact  [][2]string       // pairs of columns whose products enter too
	Spline    map[string]int    // number columns that enter as a restricted cubic spline, with its number of knots
}

// Column is one numeric column of a design.
type Column struct {
	Term      string // the column it comes from; "a × b" for a product
	Category  string // the category it stands for; empty for a number
	Reference string // the category it is compared with; empty for a number
	Label     string // as a clinician would say the term
	Unit      string
	Piece     int    // of a spline, from 1, which is the number itself; 0: not of a spline
	Part      string // of a split, in which its effect is its own; empty: the effect is one
}

// Design is the numeric form of the terms over the rows that have them all.
type Design struct {
	X         [][]float64 // one slice per column, each len(Rows) long
	Columns   []Column
	Term      []int    // for each column, the index of its term in TermNames
	TermNames []string // in order; products last
	Rows      []int    // rows of the table that are used
	Dropped   int      // rows left out because a value is missing
	Missing   []Missing
	Counts    [][]int // by term: rows in each category (nil for a number), reference first
	Cats      [][]string
	Splines   map[string]*Spline // by term; nil where there is none
}

// Missing counts the rows that lack a column.
type Missing struct {
	Column string
	Rows   int
}

// maxCategories is the number of categories beyond which a text column is
// surely not meant as a factor (a code or free text).
const maxCategories = 30

// ErrTerm reports a column that cannot enter a model.
var ErrTerm = errors.New("column cannot enter the model")

// TermError says which column cannot enter a model and why.
type TermError struct {
	Column string
	Text   string
}

func (e *TermError) Error() string { return e.Text }

// Unwrap lets errors.Is find ErrTerm.
func (e *TermError) Unwrap() error { return ErrTerm }

func termErr(col, format string, args ...any) error {
	return &TermError{Column: col, Text: fmt.Sprintf(format, args...)}
}

// Build makes the design of spec over the given rows of t. Also are further
// columns that must be known in a row for it to be used (outcome, cluster).
func Build(t *table.Table, rows []int, spec Spec, also ...string) (*Design, error) {
	d := &Design{}
	asFactor := map[string]bool{}
	for _, f := range spec.Factors {
		asFactor[f] = true
	}
	needed := append([]string(nil), spec.Terms...)
	seen := map[string]bool{}
	for _, n := range spec.Terms {
		if seen[n] {
			return nil, termErr(n, "%s is given twice", n)
		}
		seen[n] = true
	}
	for _, p := range spec.Interact {
		for _, n := range p {
			if !seen[n] {
				return nil, termErr(n, "%s is in a product but not among the terms; add it to adjust", n)
			}
		}
	}
	for _, n := range also {
		if !slices.Contains(needed, n) {
			needed = append(needed, n)
		}
	}
	cols := make([]*table.Column, len(needed))
	for j, n := range needed {
		c, ok := t.Col(n)
		if !ok {
			return nil, termErr(n, "there is no column %s among the %s", n, t.Name)
		}
		if c.Kind == table.Date && j < len(spec.Terms) {
			return nil, termErr(n, "%s is a date and cannot enter a model as it is; use a length of time", n)
		}
		cols[j] = c
	}
	counts := make([]int, len(needed))
	for _, i := range rows {
		whole := true
		for j, c := range cols {
			if c.Missing[i] {
				counts[j]++
				whole = false
			}
		}
		if whole {
			d.Rows = append(d.Rows, i)
		} else {
			d.Dropped++
		}
	}
	for j, n := range needed {
		if counts[j] > 0 {
			d.Missing = append(d.Missing, Missing{n, counts[j]})
		}
	}
	first := map[string][2]int{} // term -> its columns [from, to)
	for j, n := range spec.Terms {
		from := len(d.X)
		if err := d.addTerm(cols[j], asFactor[n], spec.Reference[n], spec.Spline[n]); err != nil {
			return nil, err
		}
		first[n] = [2]int{from, len(d.X)}
	}
	for _, p := range spec.Interact {
		d.addProduct(p, first[p[0]], first[p[1]])
	}
	for n := range spec.Spline {
		if !seen[n] {
			return nil, termErr(n, "spline names %s, which is not among the terms", n)
		}
	}
	for ref := range spec.Reference {
		if !seen[ref] {
			return nil, termErr(ref, "reference names %s, which is not among the terms", ref)
		}
	}
	return d, nil
}

// addTerm adds the columns of one term. knots is 0 where it is no spline.
func (d *Design) addTerm(c *table.Column, factor bool, reference string, knots int) error {
	label := c.Label
	if label == "" || c.Own {
		label = strings.ReplaceAll(strings.TrimPrefix(c.Name, table.OwnPrefix), "_", " ")
	}
	k := len(d.TermNames)
	d.TermNames = append(d.TermNames, c.Name)
	if c.Kind == table.Number && !factor {
		if reference != "" {
			return termErr(c.Name, "%s is a number and has no reference category; list it in factors to make categories of it", c.Name)
		}
		if knots > 0 {
			return d.addSpline(c, label, k, knots)
		}
		x := make([]float64, len(d.Rows))
		varies := false
		for j, i := range d.Rows {
			x[j] = c.Num[i]
			varies = varies || x[j] != x[0]
		}
		if len(x) > 0 && !varies {
			return termErr(c.Name, "%s is %s in every row and so can explain nothing", c.Name, rounded(x[0]))
		}
		d.X = append(d.X, x)
		d.Columns = append(d.Columns, Column{Term: c.Name, Label: label, Unit: c.Unit})
		d.Term = append(d.Term, k)
		d.Cats, d.Counts = append(d.Cats, nil), append(d.Counts, nil)
		return nil
	}
	value := func(i int) string {
		if c.Kind == table.Text {
			return c.Text[i]
		}
		return short(c.Num[i])
	}
	if knots > 0 {
		return termErr(c.Name, "%s is a column of categories, and a spline is of a number", c.Name)
	}
	count := map[string]int{}
	for _, i := range d.Rows {
		count[value(i)]++
	}
	cats := make([]string, 0, len(count))
	for v := range count {
		cats = append(cats, v)
	}
	sort.Slice(cats, func(a, b int) bool {
		if c.Kind != table.Text {
			x, _ := strconv.ParseFloat(cats[a], 64)
			y, _ := strconv.ParseFloat(cats[b], 64)
			return x < y
		}
		return cats[a] < cats[b]
	})
	switch {
	case len(cats) > maxCategories:
		return termErr(c.Name, "%s has %d categories, too many for a model; group them first", c.Name, len(cats))
	case len(cats) == 1:
		return termErr(c.Name, "%s is %q in every row and so can explain nothing", c.Name, cats[0])
	}
	ref := reference
	if ref == "" {
		for _, v := range cats {
			if ref == "" || count[v] > count[ref] {
				ref = v
			}
		}
	} else if _, ok := count[ref]; !ok && len(cats) > 0 {
		near := table.Nearest(ref, cats)
		if near == "" {
			near = cats[0]
		}
		return termErr(c.Name, "no row used has %s %q; the nearest category is %q", c.Name, ref, near)
	}
	order := []string{ref}
	n := []int{count[ref]}
	for _, v := range cats {
		if v == ref {
			continue
		}
		order, n = append(order, v), append(n, count[v])
		x := make([]float64, len(d.Rows))
		for j, i := range d.Rows {
			if value(i) == v {
				x[j] = 1
			}
		}
		d.X = append(d.X, x)
		d.Columns = append(d.Columns, Column{Term: c.Name, Category: v, Reference: ref, Label: label})
		d.Term = append(d.Term, k)
	}
	d.Cats, d.Counts = append(d.Cats, order), append(d.Counts, n)
	return nil
}

// addProduct adds the products of every column of one term with every column
// of the other.
func (d *Design) addProduct(p [2]string, a, b [2]int) {
	k := len(d.TermNames)
	name := p[0] + " × " + p[1]
	d.TermNames = append(d.TermNames, name)
	d.Cats, d.Counts = append(d.Cats, nil), append(d.Counts, nil)
	for i := a[0]; i < a[1]; i++ {
		for j := b[0]; j < b[1]; j++ {
			x := make([]float64, len(d.Rows))
			for r := range x {
				x[r] = d.X[i][r] * d.X[j][r]
			}
			ca, cb := d.Columns[i], d.Columns[j]
			col := Column{Term: name, Label: ca.Label + " × " + cb.Label}
			switch {
			case ca.Category != "" && cb.Category != "":
				col.Category = ca.Category + " × " + cb.Category
			case ca.Category != "":
				col.Category = ca.Category
			case cb.Category != "":
				col.Category = cb.Category
			}
			d.X = append(d.X, x)
			d.Columns = append(d.Columns, col)
			d.Term = append(d.Term, k)
		}
	}
}

// Names gives each column a name that tells it apart: "term" or
// "term: category", or "term: piece 2" of a spline, with the part of a split.
func (d *Design) Names() []string {
	out := make([]string, len(d.Columns))
	for j, c := range d.Columns {
		out[j] = c.Term
		if c.Category != "" {
			out[j] += ": " + c.Category
		}
		if c.Piece > 0 {
			out[j] += ": " + c.PieceName()
		}
		if c.Part != "" {
			out[j] += ", " + c.Part
		}
	}
	return out
}

// PieceName names a column of a spline; empty for any other.
func (c Column) PieceName() string {
	if c.Piece == 0 {
		return ""
	}
	return "piece " + strconv.Itoa(c.Piece)
}

// rounded prints a number to four decimals, one too small for that as it is.
func rounded(x float64) string {
	if r := math.Round(x*1e4) / 1e4; r != 0 {
		x = r
	}
	return short(x)
}

func short(x float64) string {
	if x == math.Trunc(x) && math.Abs(x) < 1e15 {
		return strconv.FormatInt(int64(x), 10)
	}
	return strconv.FormatFloat(x, 'g', -1, 64)
}
