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
// stands apart from the table (a note at the side).
func (s *sheetData) raggedFrom() int {
	if !s.raw.text {
		return 0
	}
	end := 0
	for col, c := range s.raw.rows[s.header].all() {
		if strings.TrimSpace(c.text) != "" {
			end = col + 1
		}
	}
	rows, over := 0, 0
	for row := range s.rowsBelow() {
		rows++
		for col := end; col < row.width(); col++ {
			if strings.TrimSpace(row.cell(col).text) == "" {
				continue
			}
			if over++; strings.TrimSpace(row.cell(end).text) == "" {
				return 0
			}
			break
		}
	}
	if over == 0 || 2*over >= rows {
		return 0
	}
	return end
}

// dropRagged sets aside a row with a cell too many. What stands in the cell is
// not shown: it may have come from a column that identifies somebody.
func (r *reader) dropRagged(rec *record) {
	s := rec.sheet
	rec.aside = true
	r.onSheet(s, s.ragged, rec.row, CodeRaggedRow, "", "", fmt.Sprintf("%d cells, as many as headers", s.ragged), RowSetAside,
		fmt.Sprintf("the row has a cell in column %s, beyond the %d headers: a separator within a cell that is not in quotes shifts what follows it, so the values may stand in the wrong columns", columnName(s.ragged), s.ragged))
}
