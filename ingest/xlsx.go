package ingest

import (
	"archive/zip"
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/xuri/excelize/v2"
)

// readWorkbook lists a workbook's sheets and reads the rows of those named
// after a table. Values come as stored, so that long numbers stay whole;
// which of them are dates comes from the cells' formats (xlsxstyle.go).
func readWorkbook(ctx context.Context, path string, want func(sheet string) bool) ([]rawSheet, error) {
	parts, err := openParts(path)
	if err != nil {
		return nil, err
	}
	defer parts.close()
	book, err := excelize.OpenFile(path, excelize.Options{RawCellValue: true, UnzipSizeLimit: maxUnzipped, UnzipXMLSizeLimit: 16 << 20})
	if err != nil {
		return nil, workbookError(err)
	}
	defer book.Close()
	var sheets []rawSheet
	for _, info := range parts.sheets {
		s := rawSheet{name: info.name, hidden: info.hidden, date1904: parts.date1904, table: tableOf(info.name)}
		if s.table != "" || want != nil && want(s.name) {
			if err := readSheet(ctx, book, parts, info, &s); err != nil {
				return nil, fmt.Errorf("sheet %q: %w", info.name, err)
			}
		}
		sheets = append(sheets, s)
	}
	return sheets, nil
}

func workbookError(err error) error {
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

func readSheet(ctx context.Context, book *excelize.File, parts *bookParts, info sheetPart, s *rawSheet) error {
	layout, err := parts.layout(ctx, info)
	if err != nil {
		return err
	}
	s.merges, s.hiddenCols = layout.merges, layout.hiddenCols
	rows, err := book.Rows(info.name)
	if err != nil {
		return workbookError(err)
	}
	defer rows.Close()
	seen := map[string]string{} // one copy of each text, since cells repeat
	for n := 1; rows.Next(); n++ {
		if n%500 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		texts, err := rows.Columns()
		if err != nil {
			return workbookError(err)
		}
		row := layout.rows[n]
		if len(texts) == 0 && len(row.kinds) == 0 {
			continue
		}
		out := rawRow{n: n, hidden: row.hidden, cells: make([]cell, max(len(texts), len(row.kinds)))}
		for i := range out.cells {
			if i < len(texts) {
				text, ok := seen[texts[i]]
				if !ok {
					text = strings.Clone(texts[i])
					if len(seen) < 1<<18 {
						seen[text] = text
					}
				}
				out.cells[i].text = text
			}
			if i < len(row.kinds) {
				out.cells[i].kind = row.kinds[i]
			}
			if out.cells[i].kind == cellBool {
				out.cells[i].text = map[string]string{"1": "TRUE", "0": "FALSE"}[out.cells[i].text]
			}
		}
		s.rows = append(s.rows, out)
	}
	if err := rows.Error(); err != nil {
		return workbookError(err)
	}
	fillMerged(s)
	return nil
}

// fillMerged gives every cell of a merged range the value of its first cell:
// a date written once over six stations belongs to all six.
func fillMerged(s *rawSheet) {
	at := map[int]int{}
	for i, r := range s.rows {
		at[r.n] = i
	}
	for _, m := range s.merges {
		first, ok := at[m.row1]
		if !ok || m.row2 == m.row1 {
			continue
		}
		value := s.rows[first].cell(m.col1)
		for n := m.row1 + 1; n <= m.row2; n++ {
			i, ok := at[n]
			if !ok || blankRow(s.rows[i]) {
				continue
			}
			for len(s.rows[i].cells) <= m.col1 {
				s.rows[i].cells = append(s.rows[i].cells, cell{})
			}
			s.rows[i].cells[m.col1] = value
		}
	}
}

func blankRow(r rawRow) bool {
	for _, c := range r.cells {
		if strings.TrimSpace(c.text) != "" || c.kind == cellNoValue {
			return false
		}
	}
	return true
}
