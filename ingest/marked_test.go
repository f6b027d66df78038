package ingest

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

func TestMarkedWorkbookKeepsValuesAndFills(t *testing.T) {
	sheets := smallLog()
	put(sheets, "visits", "F2", 11)
	put(sheets, "visits", "E3", "3-5")
	put(sheets, "visits", "A4", "12345678901234567")
	put(sheets, "sockets", "E2", "05/01/2024")
	path := writeBook(t, sheets, func(f *excelize.File) {
		id, _ := f.NewStyle(&excelize.Style{Fill: excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{"FFFF00"}}, NumFmt: 2})
		f.SetCellStyle("visits", "F2", "G3", id)
		f.AddComment("visits", excelize.Comment{Cell: "F2", Author: "T1", Text: "ask again"})
		f.SetCellFormula("visits", "G3", "4+5")
	})
	log := read(t, Options{}, path)
	out := filepath.Join(t.TempDir(), "marked.xlsx")
	if err := WriteMarked(t.Context(), log, path, out, MarkOptions{}); err != nil {
		t.Fatal(err)
	}
	info, err := os.Stat(out)
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Fatalf("%v %v", info, err)
	}
	before, err := excelize.OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	defer before.Close()
	after, err := excelize.OpenFile(out)
	if err != nil {
		t.Fatal(err)
	}
	defer after.Close()
	for name, rows := range sheets {
		for i, row := range rows {
			for j := range row {
				cell := cellName(j, i+1)
				a, _ := before.GetCellValue(name, cell, excelize.Options{RawCellValue: true})
				b, _ := after.GetCellValue(name, cell, excelize.Options{RawCellValue: true})
				fa, _ := before.GetCellFormula(name, cell)
				fb, _ := after.GetCellFormula(name, cell)
				if a != b || fa != fb {
					t.Errorf("%s!%s: %q became %q", name, cell, a, b)
				}
				sa, _ := before.GetCellStyle(name, cell)
				sb, _ := after.GetCellStyle(name, cell)
				xa, xb := before.Styles.CellXfs.Xf[sa], after.Styles.CellXfs.Xf[sb]
				if fillOf(xa.FillID) != fillOf(xb.FillID) || fillOf(xa.NumFmtID) != fillOf(xb.NumFmtID) || fillOf(xa.FontID) != fillOf(xb.FontID) {
					t.Errorf("%s!%s: the format changed", name, cell)
				}
			}
		}
	}
	comments := map[string]string{}
	for _, sheet := range []string{"visits", "sockets"} {
		list, err := after.GetComments(sheet)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range list {
			text := c.Text
			for _, p := range c.Paragraph {
				text += p.Text
			}
			comments[sheet+"!"+c.Cell] = text
		}
	}
	if len(comments) != 3 || !strings.Contains(comments["visits!F2"], "ask again") || !strings.Contains(comments["visits!F2"], "outside 0 to 10") || !strings.Contains(comments["sockets!E2"], "day first") {
		t.Errorf("comments: %v", comments)
	}
	for cell, colour := range map[string]string{"F2": colourAside, "E3": colourKept} {
		id, _ := after.GetCellStyle("visits", cell)
		style, err := after.GetStyle(id)
		if err != nil || len(style.Border) != 4 || !strings.HasSuffix(style.Border[0].Color, colour) {
			t.Errorf("%s: border %+v %v", cell, style, err)
		}
	}
	again := read(t, Options{}, out)
	if len(again.Problems) != len(log.Problems) {
		t.Errorf("the copy reads with %d problems, the log with %d", len(again.Problems), len(log.Problems))
	}
	left, err := filepath.Glob(filepath.Join(filepath.Dir(out), ".plybook-*"))
	if err != nil || len(left) > 0 {
		t.Errorf("temporary files left: %v", left)
	}
}

func fillOf(id *int) int {
	if id == nil {
		return 0
	}
	return *id
}

func TestMarkedRefusals(t *testing.T) {
	limbs := writeText(t, "limbs.csv", "person,side,level\nP1,L,BK\n")
	log := read(t, Options{}, limbs)
	if err := WriteMarked(t.Context(), log, limbs, limbs, MarkOptions{}); err == nil {
		t.Error("the log itself was overwritten")
	}
	other := writeText(t, "limbs.csv", "person\n")
	if err := WriteMarked(t.Context(), log, other, filepath.Join(t.TempDir(), "x.csv"), MarkOptions{}); err == nil {
		t.Error("a file outside the log was marked")
	}
	if err := WriteMarked(t.Context(), log, limbs, filepath.Join(t.TempDir(), "no", "x.csv"), MarkOptions{}); err == nil {
		t.Error("a missing folder gives no error")
	}
}
