package example

import (
	"bytes"
	"context"
	"fmt"

	"github.com/xuri/excelize/v2"

	"plybook/ingest"
)

// lab is the invented lab, as its files sign themselves.
const lab = "Umberfold Limb Room"

// savedAt is when the lab last saved its files: a fixed moment, so that the
// bytes depend on the seed alone.
const savedAt = "2026-07-01T07:45:00Z"

// look is how a workbook of the lab looks.
type look struct {
	header, date, clock       int
	marked, markedDate, ident int
}

// file is a finished file.
type file struct {
	name string // relative to the example's folder, with slashes
	data []byte
}

// workbooks writes the sheets, those of one file together, in order.
func workbooks(ctx context.Context, sheets []*sheet) ([]file, error) {
	var order []string
	byFile := map[string][]*sheet{}
	for _, s := range sheets {
		if byFile[s.file] == nil {
			order = append(order, s.file)
		}
		byFile[s.file] = append(byFile[s.file], s)
	}
	var out []file
	for _, name := range order {
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		data, err := workbook(byFile[name])
		if err != nil {
			return nil, fmt.Errorf("writing %s: %w", name, err)
		}
		out = append(out, file{"log/" + name, data})
	}
	return out, nil
}

func workbook(sheets []*sheet) (data []byte, err error) {
	f := excelize.NewFile()
	defer func() {
		if e := f.Close(); err == nil {
			err = e
		}
	}()
	l, err := newLook(f, sheets[0].file)
	if err != nil {
		return nil, err
	}
	for i, s := range sheets {
		if i == 0 {
			err = f.SetSheetName("Sheet1", s.name)
		} else {
			_, err = f.NewSheet(s.name)
		}
		if err != nil {
			return nil, err
		}
		if err := fill(f, s, l); err != nil {
			return nil, fmt.Errorf("sheet %s: %w", s.name, err)
		}
	}
	if err := f.SetDocProps(&excelize.DocProperties{Creator: lab, LastModifiedBy: lab, Created: savedAt, Modified: savedAt, Title: sheets[0].name}); err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// newLook makes the styles. Each workbook was begun by somebody else, with
// dates and headers to their own taste.
func newLook(f *excelize.File, name string) (look, error) {
	colour, format := "#DCE6F1", "yyyy-mm-dd"
	switch name {
	case fileVisits(2023), fileTapeCM:
		colour, format = "#E2EFDA", "dd/mm/yyyy"
	case fileVisits(2025), fileForming:
		colour, format = "#FCE4D6", "d mmm yyyy"
	}
	hour := "hh:mm"
	solid := func(c string) excelize.Fill { return excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{c}} }
	var l look
	for _, s := range []struct {
		to    *int
		style excelize.Style
	}{
		{&l.header, excelize.Style{
			Font: &excelize.Font{Bold: true}, Fill: solid(colour),
			Border:    []excelize.Border{{Type: "bottom", Style: 1, Color: "#7F7F7F"}},
			Alignment: &excelize.Alignment{Vertical: "center", WrapText: true},
		}},
		{&l.date, excelize.Style{CustomNumFmt: &format}},
		{&l.clock, excelize.Style{CustomNumFmt: &hour}},
		{&l.marked, excelize.Style{Fill: solid("#FFF2CC")}},
		{&l.markedDate, excelize.Style{Fill: solid("#FFF2CC"), CustomNumFmt: &format}},
		{&l.ident, excelize.Style{NumFmt: 49}},
	} {
		id, err := f.NewStyle(&s.style)
		if err != nil {
			return l, err
		}
		*s.to = id
	}
	return l, nil
}

// fill writes one sheet.
func fill(f *excelize.File, s *sheet, l look) error {
	head := make([]any, len(s.head))
	for i, h := range s.head {
		head[i] = h
	}
	if err := f.SetSheetRow(s.name, "A1", &head); err != nil {
		return err
	}
	last, err := excelize.ColumnNumberToName(len(s.head))
	if err != nil {
		return err
	}
	if err := f.SetCellStyle(s.name, "A1", last+"1", l.header); err != nil {
		return err
	}
	if err := f.SetRowHeight(s.name, 1, 24); err != nil {
		return err
	}
	for i, h := range s.head {
		col, err := excelize.ColumnNumberToName(i + 1)
		if err != nil {
			return err
		}
		if err := f.SetColWidth(s.name, col, col, width(s, i, h)); err != nil {
			return err
		}
	}
	if err := f.SetPanes(s.name, &excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}); err != nil {
		return err
	}
	for i, r := range s.rows {
		for c, v := range r.cells {
			if err := put(f, s.name, c+1, i+2, v, r.fill, l); err != nil {
				return err
			}
		}
	}
	return f.AutoFilter(s.name, fmt.Sprintf("A1:%s%d", last, len(s.rows)+1), nil)
}

func put(f *excelize.File, sheet string, col, row int, v any, marked bool, l look) error {
	if v == nil && !marked {
		return nil
	}
	cell, err := excelize.CoordinatesToCellName(col, row)
	if err != nil {
		return err
	}
	style := 0
	if marked {
		style = l.marked
	}
	switch v := v.(type) {
	case nil:
	case string:
		err = f.SetCellStr(sheet, cell, v)
	case float64:
		err = f.SetCellFloat(sheet, cell, v, -1, 64)
	case ingest.Date:
		// Day 0 of a spreadsheet is 1899-12-30.
		err = f.SetCellInt(sheet, cell, int64(v)+25569)
		style = l.date
		if marked {
			style = l.markedDate
		}
	case clock:
		err = f.SetCellFloat(sheet, cell, float64(v)/1440, -1, 64)
		style = l.clock
	default:
		err = fmt.Errorf("cell %s: no way to write a %T", cell, v)
	}
	if err != nil || style == 0 {
		return err
	}
	return f.SetCellStyle(sheet, cell, cell, style)
}

// width is the width of a column in characters: its header or its longest
// text among the first rows, within reason.
func width(s *sheet, col int, head string) float64 {
	longest := len(head) + 2
	for i, r := range s.rows {
		if i == 200 {
			break
		}
		n := 0
		switch v := r.cells[col].(type) {
		case string:
			n = len(v)
		case ingest.Date:
			n = 11
		}
		longest = max(longest, n+1)
	}
	return float64(min(max(longest, 7), 34))
}
