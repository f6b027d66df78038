package design

import "plybook/analysis/table"

// LackError reports a row that a design says nothing of: a term is missing in
// it, or has a category that no row of the design has.
type LackError struct {
	Column string
	Value  string // the category; empty where the value is missing
}

func (e *LackError) Error() string {
	if e.Value == "" {
		return e.Column + " is missing"
	}
	return "no row of the design has " + e.Column + " " + e.Value
}

// Row is row i of a table that has the design's terms, in its columns; the
// row need not be one of the design's. A design with products is not meant
// for it. Errors: *LackError.
func (d *Design) Row(t *table.Table, i int) ([]float64, error) {
	x := make([]float64, len(d.Columns))
	for k, term := range d.TermNames {
		c, ok := t.Col(term)
		if !ok || c.Missing[i] {
			return nil, &LackError{Column: term}
		}
		if d.Cats[k] == nil {
			d.SetNumber(x, term, c.Num[i])
			continue
		}
		var value string
		if c.Kind == table.Text {
			value = c.Text[i]
		} else {
			value = short(c.Num[i])
		}
		found := value == d.Cats[k][0]
		for _, j := range d.ColumnsOf(term) {
			if d.Columns[j].Category == value {
				x[j], found = 1, true
			}
		}
		if !found {
			return nil, &LackError{term, value}
		}
	}
	return x, nil
}
