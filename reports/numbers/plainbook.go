package numbers

import (
	"bytes"
	"errors"

	"github.com/xuri/excelize/v2"
)

// PlainSheet is a sheet of a workbook with nothing but a head and rows below
// it. Values are nil, string, float64 or Day.
type PlainSheet struct {
	Name string
	Head []string
	Rows [][]any
}

// Day is a calendar day, counted from 1970-01-01.
type Day float64

// serialZero is 1970-01-01 as a spreadsheet counts, from 1899-12-30.
const serialZero = 25569

// PlainBook makes a workbook of plain sheets: texts as texts, numbers as
// numbers, days as dates.
func PlainBook(sheets []PlainSheet) ([]byte, error) {
	f := excelize.NewFile()
	err := plainBook(f, sheets)
	var out bytes.Buffer
	if err == nil {
		err = f.Write(&out)
	}
	return out.Bytes(), errors.Join(err, f.Close())
}

func plainBook(f *excelize.File, sheets []PlainSheet) error {
	head, err := f.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}})
	if err != nil {
		return err
	}
	form := "yyyy-mm-dd"
	day, err := f.NewStyle(&excelize.Style{CustomNumFmt: &form})
	if err != nil {
		return err
	}
	for i, s := range sheets {
		if i == 0 {
			err = f.SetSheetName("Sheet1", s.Name)
		} else {
			_, err = f.NewSheet(s.Name)
		}
		if err != nil {
			return err
		}
		w, err := f.NewStreamWriter(s.Name)
		if err != nil {
			return err
		}
		if err := w.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}); err != nil {
			return err
		}
		first := make([]any, len(s.Head))
		for c, h := range s.Head {
			if err := w.SetColWidth(c+1, c+1, 16); err != nil {
				return err
			}
			first[c] = excelize.Cell{Value: cellText(h), StyleID: head}
		}
		for r, row := range append([][]any{first}, s.Rows...) {
			values := make([]any, len(row))
			for c, v := range row {
				switch x := v.(type) {
				case string:
					values[c] = cellText(x)
				case Day:
					values[c] = excelize.Cell{Value: float64(x) + serialZero, StyleID: day}
				default:
					values[c] = v
				}
			}
			at, err := excelize.CoordinatesToCellName(1, r+1)
			if err != nil {
				return err
			}
			if err := w.SetRow(at, values); err != nil {
				return err
			}
		}
		if err := w.Flush(); err != nil {
			return err
		}
	}
	return nil
}
