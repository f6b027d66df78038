package ingest

import (
	"fmt"
	"strings"
)

// raggedFrom is the first column beyond the headers of a text table in which
// some rows, fewer than half, have a cell all the same. A separator within a
// cell that is not in quotes (12,5 between commas) does that, and shifts what
// follows, so no value of such a row can be relied on. It is 0 where no row
// has such a cell, where most have (a column without a header) and where one
// stands apart from the table (a note at the side). width is the number of
// cells up to the last of the longest row.
func (s *sheetData) raggedFrom() (ragged, width int) {
	below := s.below()
	if !s.raw.text {
		for i := range below {
			width = max(width, below[i].width())
		}
		return 0, width
	}
	end := 0
	for col, c := range s.raw.rows[s.header].all() {
		if strings.TrimSpace(c.text) != "" {
			end = col + 1
		}
	}
	type counted struct{ rows, over, apart, width int }
	counts := make([]counted, parts(len(below)))
	inParts(len(below), func(part, from, to int) {
		var n counted
		for i := from; i < to; i++ {
			cells := below[i].width()
			if n.width = max(n.width, cells); cells <= end {
				if !blankRow(below[i]) {
					n.rows++
				}
				continue
			}
			blank, begun := true, false
			for col, c := range below[i].all() {
				if strings.TrimSpace(c.text) == "" {
					continue
				}
				blank = false
				if begun = begun || col == end; col > end && !begun {
					n.apart++
				}
			}
			if !blank {
				n.rows++
			}
			if begun {
				n.over++
			}
		}
		counts[part] = n
	})
	rows, over, apart := 0, 0, 0
	for _, n := range counts {
		rows, over, apart, width = rows+n.rows, over+n.over, apart+n.apart, max(width, n.width)
	}
	if apart > 0 || over == 0 || 2*over >= rows {
		return 0, width
	}
	return end, width
}

// dropRagged sets aside a row with a cell too many. What stands in the cell is
// not shown: it may have come from a column that identifies somebody.
func (r *reader) dropRagged(rec *record) {
	s := rec.sheet
	rec.aside = true
	r.onSheet(s, s.ragged, rec.row(), CodeRaggedRow, "", "", fmt.Sprintf("%d cells, as many as headers", s.ragged), RowSetAside,
		fmt.Sprintf("the row has a cell in column %s, beyond the %d headers: a separator within a cell that is not in quotes shifts what follows it, so the values may stand in the wrong columns", columnName(s.ragged), s.ragged))
}
