package ingest

import (
	"bytes"
	"context"
	"errors"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

func blankFile(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "log.xlsx")
	if err := WriteBlank(path, BlankOptions{}); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestWriteBlankSheets(t *testing.T) {
	f, err := excelize.OpenFile(blankFile(t))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	want := append(append([]string{"read me"}, Tables()...), "lists")
	if got := f.GetSheetList(); !slices.Equal(got, want) {
		t.Fatalf("sheets %q, want %q", got, want)
	}
	if visible, err := f.GetSheetVisible("lists"); err != nil || visible {
		t.Errorf("the sheet of lists is visible (%v)", err)
	}
	for _, table := range Tables() {
		rows, err := f.GetRows(table)
		if err != nil {
			t.Fatal(err)
		}
		var names []string
		for _, field := range Fields(table) {
			names = append(names, field.Name)
		}
		if len(rows) != 1 || !slices.Equal(rows[0], names) {
			t.Errorf("%s: rows %q, want the headers %q alone", table, rows, names)
		}
		notes, err := f.GetComments(table)
		if err != nil || len(notes) != len(names) {
			t.Errorf("%s: %d notes, want %d (%v)", table, len(notes), len(names), err)
		}
		if panes, err := f.GetPanes(table); err != nil || !panes.Freeze || panes.YSplit != 1 {
			t.Errorf("%s: panes %+v, want the first row frozen (%v)", table, panes, err)
		}
	}
}

// TestWriteBlankLists looks every column's check up: words in a list with
// exactly the vocabulary's codes, comfort held to 0 to 10.
func TestWriteBlankLists(t *testing.T) {
	f, err := excelize.OpenFile(blankFile(t))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	referred := 0
	for _, table := range Tables() {
		checks, err := f.GetDataValidations(table)
		if err != nil {
			t.Fatal(err)
		}
		byCol := map[string]*excelize.DataValidation{}
		for _, v := range checks {
			byCol[strings.TrimRight(strings.Split(v.Sqref, ":")[0], "0123456789")] = v
		}
		for i, field := range Fields(table) {
			col, err := excelize.ColumnNumberToName(i + 1)
			if err != nil {
				t.Fatal(err)
			}
			v := byCol[col]
			switch field.Kind {
			case KindID, KindText, KindPly:
				if v != nil {
					t.Errorf("%s.%s: checked, want free text", table, field.Name)
				}
				continue
			}
			if v == nil {
				t.Errorf("%s.%s: no check", table, field.Name)
				continue
			}
			switch field.Kind {
			case KindWord, KindWords:
				if v.Type != "list" {
					t.Errorf("%s.%s: %s, want a list", table, field.Name, v.Type)
				}
				got := strings.Split(strings.Trim(v.Formula1, `"`), ",")
				if strings.Contains(v.Formula1, "$") {
					referred++
					got = cellsOf(t, f, v.Formula1)
				} else if len(v.Formula1) > maxInlineList+2 {
					t.Errorf("%s.%s: list of %d characters in the cell", table, field.Name, len(v.Formula1))
				}
				if !slices.Equal(got, field.Words.Codes()) {
					t.Errorf("%s.%s: list %q, want %q", table, field.Name, got, field.Words.Codes())
				}
			case KindScore:
				if v.Type != "decimal" || v.Formula1 != "0" || v.Formula2 != "10" || v.ErrorStyle == nil || *v.ErrorStyle != "stop" {
					t.Errorf("%s.%s: %s %s to %s", table, field.Name, v.Type, v.Formula1, v.Formula2)
				}
			case KindDate:
				if v.Type != "date" {
					t.Errorf("%s.%s: %s, want date", table, field.Name, v.Type)
				}
			}
		}
	}
	if referred < 2 { // reasons and regions are long
		t.Errorf("%d lists refer to the sheet of lists, want at least 2", referred)
	}
}

// cellsOf reads the cells of a reference such as lists!$A$1:$A$9.
func cellsOf(t *testing.T, f *excelize.File, ref string) []string {
	t.Helper()
	sheet, span, ok := strings.Cut(strings.ReplaceAll(ref, "$", ""), "!")
	if !ok {
		t.Fatalf("reference %q", ref)
	}
	from, to, _ := strings.Cut(span, ":")
	col, first, err := excelize.CellNameToCoordinates(from)
	if err != nil {
		t.Fatal(err)
	}
	_, last, err := excelize.CellNameToCoordinates(to)
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for row := first; row <= last; row++ {
		cell, err := excelize.CoordinatesToCellName(col, row)
		if err != nil {
			t.Fatal(err)
		}
		v, err := f.GetCellValue(sheet, cell)
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, v)
	}
	return out
}

// TestWriteBlankFormats makes sure that codes and ply stay text and dates
// look like dates once they are typed.
func TestWriteBlankFormats(t *testing.T) {
	f, err := excelize.OpenFile(blankFile(t))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for _, table := range Tables() {
		for i, field := range Fields(table) {
			col, err := excelize.ColumnNumberToName(i + 1)
			if err != nil {
				t.Fatal(err)
			}
			id, err := f.GetColStyle(table, col)
			if err != nil {
				t.Fatal(err)
			}
			style, err := f.GetStyle(id)
			if err != nil {
				t.Fatal(err)
			}
			switch field.Kind {
			case KindID, KindPly:
				if style.NumFmt != 49 {
					t.Errorf("%s.%s: number format %d, want text", table, field.Name, style.NumFmt)
				}
			case KindDate:
				if style.CustomNumFmt == nil || *style.CustomNumFmt != "yyyy-mm-dd" {
					t.Errorf("%s.%s: not formatted as a date", table, field.Name)
				}
			}
		}
	}
}

func TestWriteBlankSaysCodesOnly(t *testing.T) {
	f, err := excelize.OpenFile(blankFile(t))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := f.GetRows("read me")
	if err != nil {
		t.Fatal(err)
	}
	all := ""
	for _, r := range rows {
		all += strings.Join(r, " ") + "\n"
	}
	for _, want := range []string{"no names", "record numbers", "Check sockets are not for unsupervised wear", "not a remake"} {
		if !strings.Contains(all, want) {
			t.Errorf("the first sheet does not say %q", want)
		}
	}
}

func TestWriteBlankRefuses(t *testing.T) {
	dir := t.TempDir()
	log := filepath.Join(dir, "log.xlsx")
	if err := os.WriteFile(log, []byte("a year's work"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := WriteBlank(log, BlankOptions{}); !errors.Is(err, fs.ErrExist) {
		t.Errorf("over an existing file: %v, want fs.ErrExist", err)
	}
	if data, err := os.ReadFile(log); err != nil || string(data) != "a year's work" {
		t.Errorf("the existing file was touched: %q, %v", data, err)
	}
	if err := WriteBlank(filepath.Join(dir, "log.csv"), BlankOptions{}); err == nil {
		t.Error("a name ending in .csv was accepted")
	}
	if err := WriteBlank(filepath.Join(dir, "none", "log.xlsx"), BlankOptions{}); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("in a folder that is not there: %v, want fs.ErrNotExist", err)
	}
	left, err := os.ReadDir(dir)
	if err != nil || len(left) != 1 {
		t.Errorf("left behind: %v, %v", left, err)
	}
}

func TestWriteBlankSameBytes(t *testing.T) {
	a, err := os.ReadFile(blankFile(t))
	if err != nil {
		t.Fatal(err)
	}
	b, err := os.ReadFile(blankFile(t))
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(a, b) {
		t.Error("two blank logs differ")
	}
}

func TestWriteBlankReadsAsEmptyLog(t *testing.T) {
	log, err := Read(context.Background(), []string{blankFile(t)}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range log.Problems {
		t.Errorf("problem: %s %s!%s: %s", p.Code, p.Tab, p.Cell, p.Text)
	}
	tables := 0
	for _, s := range log.Sheets {
		if s.Table != "" {
			tables++
		}
		if s.Read != 0 {
			t.Errorf("sheet %s: %d rows read", s.Sheet, s.Read)
		}
	}
	if tables != len(Tables()) {
		t.Errorf("%d tables found, want %d", tables, len(Tables()))
	}
}

// TestWriteBlankFilledIn types one row into each sheet, in the columns'
// formats, and reads them.
func TestWriteBlankFilledIn(t *testing.T) {
	path := blankFile(t)
	f, err := excelize.OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	const day = 46100 // 2026-03-19
	for sheet, row := range map[string][]any{
		TableLimbs:    {"007", "007L", "left", "transtibial", "trauma", 45000, 1970},
		TableSockets:  {"0071", "007L", "definitive", 1, "everyday", nil, nil, day - 30},
		TableStations: {"007L", day, "mid-patellar tendon", 30, 310, "skin"},
		TableVisits:   {"1", "0071", day, 0.5, "follow-up", "5+3", 7},
		TableFindings: {"1", "fibular head", "redness fading", 1},
		TableForming:  {"0071", day - 20, "PETG", 12, 170, 15},
	} {
		if err := f.SetSheetRow(sheet, "A2", &row); err != nil {
			t.Fatal(err)
		}
	}
	if err := errors.Join(f.Save(), f.Close()); err != nil {
		t.Fatal(err)
	}
	log, err := Read(context.Background(), []string{path}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range log.Problems {
		t.Errorf("problem: %s %s!%s: %s", p.Code, p.Tab, p.Cell, p.Text)
	}
	if len(log.Limbs) != 1 || len(log.Sockets) != 1 || len(log.Stations) != 1 || len(log.Visits) != 1 || len(log.Findings) != 1 || len(log.Forming) != 1 {
		t.Fatalf("not every row was read: %+v", log.Sheets)
	}
	v := log.Visits[0]
	if log.Limbs[0].Person != "007" || v.Date.String() != "2026-03-19" || v.Minute.Value != 720 || v.Ply.Value.Total != 8 || v.Comfort.Value != 7 {
		t.Errorf("read as %+v of %q", v, log.Limbs[0].Person)
	}
}
