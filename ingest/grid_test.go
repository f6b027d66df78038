package ingest

import (
	"context"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

// A grid is a workbook's sheets as cells, behind the door of files and before
// anything is read: what a mutation changes.
type grid []rawSheet

// loadGrid reads a workbook's cells.
func loadGrid(t testing.TB, path string) grid {
	t.Helper()
	file, err := readFile(context.Background(), path, nil)
	if err != nil {
		t.Fatal(err)
	}
	var g grid
	for _, s := range file.sheets {
		if s.table != "" {
			g = append(g, s)
		}
	}
	return g.clone()
}

// clone copies the cells, so that a mutation leaves the original alone.
func (g grid) clone() grid {
	out := slices.Clone(g)
	for i := range out {
		rows := make([]rawRow, len(g[i].rows))
		for j, row := range g[i].rows {
			rows[j] = row.unpacked()
		}
		out[i].rows = rows
	}
	return out
}

// readGrid reads a grid as Read does, and stops before the cells are let go.
func readGrid(t testing.TB, g grid) *reader {
	t.Helper()
	r, err := newReader(Options{})
	if err != nil {
		t.Fatal(err)
	}
	r.addFile(rawFile{path: "log.xlsx", sheets: g})
	if err := r.readSheets(context.Background(), []string{"log.xlsx"}); err != nil {
		t.Fatal(err)
	}
	return r
}

// save writes a grid as a workbook; formula errors and formulas without a
// value are left blank, since no spreadsheet writes them on request.
func (g grid) save(t testing.TB, path string) {
	t.Helper()
	must := func(err error) {
		if err != nil {
			t.Helper()
			t.Fatal(err)
		}
	}
	f := excelize.NewFile()
	defer f.Close()
	styles := map[cellKind]int{}
	for kind, format := range map[cellKind]string{cellDate: "yyyy-mm-dd", cellMonthYear: "mmm-yy", cellTime: "hh:mm"} {
		id, err := f.NewStyle(&excelize.Style{CustomNumFmt: &format})
		must(err)
		styles[kind] = id
	}
	for i, s := range g {
		if i == 0 {
			must(f.SetSheetName("Sheet1", s.name))
		} else {
			_, err := f.NewSheet(s.name)
			must(err)
		}
		for _, row := range s.rows {
			for col, c := range row.own.cells {
				name := cellName(col, row.n)
				switch {
				case c.text == "" || c.kind == cellError || c.kind == cellNoValue:
				case c.kind == cellBool:
					must(f.SetCellBool(s.name, name, c.text == "TRUE"))
				case c.kind == cellText || c.kind == cellISO:
					must(f.SetCellStr(s.name, name, c.text))
				default:
					v, err := strconv.ParseFloat(c.text, 64)
					must(err)
					must(f.SetCellFloat(s.name, name, v, -1, 64))
					if id := styles[c.kind]; id > 0 {
						must(f.SetCellStyle(s.name, name, name, id))
					}
				}
			}
		}
	}
	must(f.SaveAs(path))
}

// mutate damages up to 30 cells as people and spreadsheets do.
func (g grid) mutate(rnd *rand.Rand) {
	for range 1 + rnd.IntN(30) {
		s := &g[rnd.IntN(len(g))]
		if len(s.rows) < 3 {
			continue
		}
		width := len(s.rows[0].own.cells)
		at := func() *cell {
			first := 1
			if rnd.IntN(60) == 0 {
				first = 0 // a header, now and then
			}
			row := &s.rows[first+rnd.IntN(len(s.rows)-first)]
			for len(row.own.cells) < width {
				row.own.cells = append(row.own.cells, cell{})
			}
			return &row.own.cells[rnd.IntN(width)]
		}
		a, b := at(), at()
		switch rnd.IntN(9) {
		case 0:
			*a, *b = *b, *a
		case 1:
			*a = cell{}
		case 2:
			*a = *b // copied down or across
		case 3: // text of what was a number, or a number of what was text
			if v, err := strconv.ParseFloat(a.text, 64); err == nil && a.kind == cellText {
				_ = v
				a.kind = cellNumber
			} else {
				a.kind = cellText
			}
		case 4: // a date's format put on, or taken away
			if _, err := strconv.ParseFloat(a.text, 64); err == nil {
				a.kind = []cellKind{cellNumber, cellDate, cellMonthYear, cellTime}[rnd.IntN(4)]
			}
		case 5:
			*a = cell{text: typed[rnd.IntN(len(typed))]}
		case 6:
			*a = cell{[]string{"#N/A", "#REF!", "#VALUE!", "#DIV/0!"}[rnd.IntN(4)], cellError}
		case 7:
			*a = []cell{{"TRUE", cellBool}, {"FALSE", cellBool}, {"", cellNoValue}, {"45356", cellDate}, {"0.604166666666667", cellTime}}[rnd.IntN(5)]
		case 8: // a slip of the finger
			if r := []rune(a.text); len(r) > 1 && a.kind == cellText {
				i := rnd.IntN(len(r) - 1)
				switch rnd.IntN(4) {
				case 0:
					r[i], r[i+1] = r[i+1], r[i]
				case 1:
					r = slices.Delete(r, i, i+1)
				case 2:
					r = slices.Insert(r, i, r[i])
				case 3:
					r = []rune(strings.ToUpper(a.text) + " ")
				}
				a.text = string(r)
			}
		}
	}
}

// typed is what people type.
var typed = []string{"-", "?", "n/a", "05/03/2024", "25/03/2024", "March 24", "5 Mar 2024", "2024-03-05", "12.3.24", "99-01-02", "32,5 cm", `12 3/4"`, "~5", ">15", "10+", "1,234", "1.234,5",
	"3-5", "am 3 / pm 8", "5+3", "5,3", "sheath + 3", "2 sheaths", "7/10", "11", "-1", "yes", "Y", "nope", "see notes", "BK", "tib crest", "volume los", "too loose", "=1+1", "0", "1e3", "007", "14:30", "lost", "x", "°", "'"}

func gridPath() string { return filepath.Join("testdata", "mutated", "log.xlsx") }
