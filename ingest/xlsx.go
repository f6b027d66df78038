package ingest

import (
	"archive/zip"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/xuri/excelize/v2"
)

// readWorkbook lists a workbook's sheets and reads the rows of those named
// after a table, and of those that want accepts. Values come as stored, so
// that long numbers stay whole; which of them are dates comes from the cells'
// formats (xlsxstyle.go).
func readWorkbook(ctx context.Context, path string, want func(sheet string) bool) ([]rawSheet, bookNotes, error) {
	parts, err := openParts(ctx, path)
	if err != nil {
		return nil, bookNotes{}, err
	}
	defer parts.close()
	var sheets []rawSheet
	for _, info := range parts.sheets {
		s := rawSheet{name: info.name, hidden: info.hidden, date1904: parts.date1904, table: tableOf(info.name)}
		if s.table != "" || want != nil && want(s.name) && !IsProblemSheet(s.name) {
			if err := parts.loadTexts(ctx); err != nil {
				return nil, bookNotes{}, err
			}
			if err := parts.readSheet(ctx, info, &s); err != nil {
				return nil, bookNotes{}, fmt.Errorf("sheet %q: %w", info.name, workbookError(err))
			}
		}
		sheets = append(sheets, s)
	}
	return sheets, parts.notes, nil
}

// workbookError names what a library found wrong with a workbook. Errors of
// our own, and of the system, stay as they are.
func workbookError(err error) error {
	for _, known := range []error{ErrPassword, ErrTruncated, ErrTooLarge, ErrUnsafe, ErrWrongKind, context.Canceled, context.DeadlineExceeded} {
		if errors.Is(err, known) {
			return err
		}
	}
	switch {
	case errors.Is(err, excelize.ErrWorkbookPassword):
		return ErrPassword
	case errors.Is(err, zip.ErrFormat), errors.Is(err, zip.ErrChecksum), strings.Contains(err.Error(), "unexpected EOF"):
		return fmt.Errorf("%w (%v)", ErrTruncated, err)
	case strings.Contains(err.Error(), "unzip size exceeds"):
		return fmt.Errorf("%w (%v)", ErrTooLarge, err)
	}
	return fmt.Errorf("%w (%v)", ErrTruncated, err)
}

// fillMerged gives every cell of a merged range the value of its first cell:
// a date written once over six stations belongs to all six.
func fillMerged(s *rawSheet) error {
	filled := 0
	find := func(n int) (int, bool) {
		return slices.BinarySearchFunc(s.rows, n, func(r rawRow, n int) int { return r.n - n })
	}
	for _, m := range s.merges {
		first, ok := find(m.row1)
		if !ok || m.row2 == m.row1 {
			continue
		}
		var value packed
		if row := s.rows[first].own; m.col1 < len(row.packed) {
			value = row.packed[m.col1]
		}
		for i := first + 1; i < len(s.rows) && s.rows[i].n <= m.row2; i++ {
			row := s.rows[i].own
			for len(row.packed) <= m.col1 {
				row.packed = append(row.packed, 0)
			}
			row.packed[m.col1] = value
			if filled++; filled > maxCells {
				return fmt.Errorf("%w (more than %d merged cells)", ErrTooLarge, maxCells)
			}
		}
	}
	return nil
}

// markFiltered marks the rows that a filter hides: the hidden ones below the
// heads of a range that is filtered.
func (s *rawSheet) markFiltered() {
	for _, m := range s.filters {
		for i := range s.rows {
			if r := &s.rows[i]; r.hidden && r.n > m.row1 && r.n <= m.row2 {
				r.filtered = true
			}
		}
	}
}

func blankRow(r rawRow) bool {
	if r.lines != nil && r.lines.begins(int(r.at)) {
		return false
	}
	for _, c := range r.all() {
		if strings.TrimSpace(c.text) != "" || c.kind == cellNoValue {
			return false
		}
	}
	return true
}
