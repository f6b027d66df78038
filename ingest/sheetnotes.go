package ingest

import (
	"cmp"
	"fmt"
	"slices"
)

// bookNotes reports what a workbook holds besides cells.
func (r *reader) bookNotes(file rawFile) {
	note := func(code, text string) {
		r.problems = append(r.problems, pending{Problem{Code: code, Sheet: -1, File: file.path, Done: Kept, Text: ending(text, Kept)}, -1, ""})
	}
	if file.notes.macros {
		note(CodeMacros, "the workbook holds macros; they were not run, and what they would fill in is read as it was last stored")
	}
	switch n := file.notes.external; {
	case n == 1:
		note(CodeExternalLinks, "the workbook is linked to another file or to a database; the link was not followed, and linked cells are read as they were last stored")
	case n > 1:
		note(CodeExternalLinks, fmt.Sprintf("the workbook is linked to %d other files or databases; the links were not followed, and linked cells are read as they were last stored", n))
	}
}

// layNotes reports what a sheet hides or leaves out before its header.
func (r *reader) layNotes(s *sheetData) {
	if s.raw.hidden {
		r.onSheet(s, -1, 0, CodeHiddenSheet, "", "", "", Kept, fmt.Sprintf("the sheet %q is hidden; it was read like the others", s.raw.name))
	}
	if s.raw.recoded {
		r.onSheet(s, -1, 0, CodeEncoding, "", "", "text in UTF-8", Kept, "the text is not in UTF-8; it was read in the encoding it seems to have, so accented letters need a look")
	}
	if s.header < 0 {
		return
	}
	above := 0
	for _, row := range s.raw.rows[:s.header] {
		if !blankRow(row) {
			above++
		}
	}
	if above > 0 && s.block == nil {
		r.onSheet(s, 0, s.raw.rows[0].n, CodeRowsAboveHeader, "", "", "the header in the first row", Kept,
			fmt.Sprintf("the header was found in row %d; the text above it was not read", s.raw.rows[s.header].n))
	}
	struck := map[int]bool{}
	for _, c := range s.raw.struck {
		if c.col < 0 {
			struck[c.row] = true
		}
	}
	r.noteRows(s, CodeHiddenRows, func(row rawRow) bool { return row.hidden && !row.filtered }, "hidden; %s read like the others")
	r.noteRows(s, CodeFilteredRows, func(row rawRow) bool { return row.filtered }, "hidden by a filter; %s read like the others")
	r.noteRows(s, CodeStruckThrough, func(row rawRow) bool { return struck[row.n] }, "struck through; %s read like the others, so delete what no longer counts")
	r.noteStruckCells(s)
	r.noteMerges(s)
}

// noteRows reports rows that have something in common, those in a row as one.
func (r *reader) noteRows(s *sheetData, code string, has func(rawRow) bool, what string) {
	from := 0
	rows := s.raw.rows[s.header+1:]
	for i := 0; i <= len(rows); i++ {
		on := i < len(rows) && has(rows[i]) && !blankRow(rows[i])
		if on && from == 0 {
			from = rows[i].n
		}
		if !on && from > 0 {
			to := rows[i-1].n
			text := fmt.Sprintf("row %d is "+what, from, "it was")
			if to > from {
				text = fmt.Sprintf("rows %d to %d are "+what, from, to, "they were")
			}
			r.onSheet(s, 0, from, code, "", "", "", Kept, text)
			from = 0
		}
	}
}

// noteStruckCells reports single cells that are struck through, those below
// each other as one.
func (r *reader) noteStruckCells(s *sheetData) {
	var cells []struckCell
	for _, c := range s.raw.struck {
		if c.row > s.raw.rows[s.header].n && c.col >= 0 && c.col < len(s.headers) && s.headers[c.col] != "" {
			cells = append(cells, c)
		}
	}
	slices.SortFunc(cells, func(a, b struckCell) int { return cmp.Or(cmp.Compare(a.col, b.col), cmp.Compare(a.row, b.row)) })
	for i := 0; i < len(cells); {
		first, last := cells[i], cells[i]
		for i++; i < len(cells) && cells[i].col == first.col && cells[i].row == last.row+1; i++ {
			last = cells[i]
		}
		text := "the cell is struck through; it was read like the others, so clear it if it no longer counts"
		if last != first {
			text = fmt.Sprintf("cells %s to %s are struck through; they were read like the others, so clear what no longer counts", cellName(first.col, first.row), cellName(last.col, last.row))
		}
		r.onSheet(s, first.col, first.row, CodeStruckThrough, s.headers[first.col], "", "", Kept, text)
	}
}

// noteMerges reports merged cells among the data. Over rows their value
// stands for each row; over columns it can only belong to the first.
func (r *reader) noteMerges(s *sheetData) {
	for _, m := range s.raw.merges {
		if m.row1 <= s.raw.rows[s.header].n || m.col1 >= len(s.headers) {
			continue
		}
		switch {
		case m.row2 > m.row1:
			r.onSheet(s, m.col1, m.row1, CodeMergedCells, s.headers[m.col1], "", "one value in each row", Kept,
				fmt.Sprintf("cells %s to %s are merged; their value was read for each of these rows", cellName(m.col1, m.row1), cellName(m.col1, m.row2)))
		case s.spansHeads(m):
			r.onSheet(s, m.col1, m.row1, CodeMergedCells, s.headers[m.col1], "", "one value in each cell", Kept,
				fmt.Sprintf("cells %s to %s are merged; their value was read for the first column alone", cellName(m.col1, m.row1), cellName(m.col2, m.row1)))
		}
	}
}

// spansHeads says whether a merged range covers at least two columns with a
// header and holds a value: a note written over the width of a sheet, or a
// value that was to hold for several columns.
func (s *sheetData) spansHeads(m merged) bool {
	heads := 0
	for c := m.col1; c <= m.col2 && c < len(s.headers); c++ {
		if s.headers[c] != "" {
			heads++
		}
	}
	i, ok := slices.BinarySearchFunc(s.raw.rows, m.row1, func(r rawRow, n int) int { return r.n - n })
	return ok && heads > 1 && s.raw.rows[i].cell(m.col1).text != ""
}
