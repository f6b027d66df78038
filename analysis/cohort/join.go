package cohort

import (
	"strings"

	"plybook/analysis/table"
)

// layer is one table joined into a table of rows: its columns, and for each
// row asked of the row of the layer that belongs to it, -1 for none.
type layer struct {
	name string
	cols []*table.Column
	rows []int
}

// assemble joins the layers, nearest first. Of two log or derived columns of
// one name the nearest wins (they are the same fact, or the nearest is the
// one meant); own columns are kept under their table's name.
func (c *Cohort) assemble(name string, layers ...layer) (*table.Table, error) {
	first := layers[0]
	t := table.New(name, len(first.rows))
	origin := c.base[first.name]
	for j, i := range first.rows {
		if origin != nil && i >= 0 && i < len(origin.Origin) {
			t.Origin[j] = origin.Origin[i]
		}
	}
	for _, l := range layers {
		for _, col := range l.cols {
			full := col.Name
			if col.Own {
				full = table.OwnPrefix + strings.TrimPrefix(full, table.OwnPrefix)
				if t.Has(full) {
					full = table.OwnPrefix + l.name + "." + strings.TrimPrefix(full, table.OwnPrefix)
				}
			}
			if t.Has(full) {
				continue
			}
			out := pick(col, l.rows)
			out.Name = full
			describe(out, l.name)
			if err := t.Add(out); err != nil {
				return nil, err
			}
		}
	}
	taken := reserved()
	for _, col := range t.Columns() {
		bare := strings.TrimPrefix(col.Name, table.OwnPrefix)
		if !col.Own || taken[bare] || t.Has(bare) {
			continue
		}
		alias := *col
		alias.Name = bare
		if err := t.Add(&alias); err != nil {
			return nil, err
		}
	}
	return t, nil
}

// pick is Column.Pick, but shares the values where every row is kept.
func pick(col *table.Column, rows []int) *table.Column {
	same := len(rows) == col.Len()
	for j := 0; same && j < len(rows); j++ {
		same = rows[j] == j
	}
	if same {
		out := *col
		return &out
	}
	return col.Pick(rows)
}

// describe fills in how a column reads and when it is known.
func describe(col *table.Column, from string) {
	switch {
	case col.Own:
		col.Known = ownKnown(from)
		if col.Label == "" {
			col.Label = strings.TrimPrefix(col.Name, table.OwnPrefix)
		}
	case col.Derived:
	default:
		if l, ok := logColumns[from][col.Name]; ok {
			col.Known = l.known
			if col.Label == "" {
				col.Label = l.label
			}
			if col.Unit == "" {
				col.Unit = l.unit
			}
		}
	}
}

// derived makes an empty derived column as documented for a table of rows.
func derived(name, rows string, n int) *table.Column {
	d, _ := docFor(name, rows)
	var col *table.Column
	if d.Kind == table.Text {
		col = table.NewText(name, n)
	} else {
		col = table.NewNumber(name, d.Unit, n)
	}
	col.Label, col.Known, col.Derived = d.Label, d.Known, true
	return col
}

// through follows a link for each row: at[j] = links[rows[j]].
func through(rows, links []int) []int {
	at := make([]int, len(rows))
	for j, i := range rows {
		at[j] = -1
		if i >= 0 {
			at[j] = links[i]
		}
	}
	return at
}
