package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"plybook/ingest"
)

// officeConvert opens workbooks in LibreOffice and saves them again, all in
// one start. Where PLYBOOK_NEED_OFFICE is set, as on the machine that judges
// a change, it must be there; elsewhere its absence ends the test, and the
// tests of the parts stand in.
func officeConvert(t *testing.T, files ...string) (dir string, ok bool) {
	t.Helper()
	tool, err := exec.LookPath("soffice")
	if err != nil {
		if os.Getenv("PLYBOOK_NEED_OFFICE") != "" {
			t.Fatal("soffice is needed: install libreoffice-calc")
		}
		t.Log("soffice is not installed; the workbooks are not opened in a spreadsheet program")
		return "", false
	}
	dir = t.TempDir()
	args := []string{"-env:UserInstallation=file://" + filepath.ToSlash(filepath.Join(t.TempDir(), "profile")), "--headless", "--convert-to", "xlsx", "--outdir", dir}
	out, err := exec.CommandContext(t.Context(), tool, append(args, files...)...).CombinedOutput()
	if err != nil {
		t.Fatalf("soffice: %v\n%s", err, out)
	}
	return dir, true
}

func openBook(t *testing.T, path string) *excelize.File {
	t.Helper()
	f, err := excelize.OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	return f
}

// officeLog is a log with other sheets, formats, formulas, a comment, a list
// to choose from and a chart; two of its cells have a problem.
func officeLog(t *testing.T, path string) {
	t.Helper()
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	f := excelize.NewFile()
	defer f.Close()
	must(f.SetSheetName("Sheet1", "limbs"))
	must(f.SetSheetRow("limbs", "A1", &[]any{"person", "side", "level", "born"}))
	must(f.SetSheetRow("limbs", "A2", &[]any{"P1", "L", "BX", 1960}))
	must(f.SetSheetRow("limbs", "A3", &[]any{"P2", "R", "BK", 1971}))
	for _, s := range []string{"visits", "Plan"} {
		_, err := f.NewSheet(s)
		must(err)
	}
	must(f.SetSheetRow("visits", "A1", &[]any{"socket", "date", "comfort"}))
	must(f.SetSheetRow("visits", "A2", &[]any{"S1", "2024-03-01", 12}))
	must(f.SetSheetRow("Plan", "A1", &[]any{2.5, 45356}))
	must(f.SetCellFormula("Plan", "C1", "A1*4"))
	for cell, format := range map[string]string{"A1": "0.000", "B1": `yyyy"-"mm"-"dd`} {
		id, err := f.NewStyle(&excelize.Style{CustomNumFmt: &format, Fill: excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{"FFEE88"}}})
		must(err)
		must(f.SetCellStyle("Plan", cell, cell, id))
	}
	must(f.AddComment("limbs", excelize.Comment{Cell: "C2", Author: "T1", Text: "ask the ward"}))
	list := excelize.NewDataValidation(true)
	list.SetSqref("B2:B9")
	must(list.SetDropList([]string{"L", "R"}))
	must(f.AddDataValidation("limbs", list))
	must(f.AddChart("Plan", "E2", &excelize.Chart{Type: excelize.Col, Series: []excelize.ChartSeries{{Categories: "Plan!$A$1:$B$1", Values: "Plan!$A$1:$B$1"}}}))
	must(f.SaveAs(path))
}

// The workbooks that are written open in a spreadsheet program, and what the
// lab's own workbook holds is still there after it has saved its marked copy.
func TestWorkbooksOpenInOffice(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	officeLog(t, filepath.Join(dir, "log.xlsx"))
	plybook(t, dir, "inspect", "--no-codes", "log.xlsx").want(t, statusDone)
	plybook(t, dir, "blank", "empty.xlsx").want(t, statusDone)
	writeFile(t, filepath.Join(dir, "who.md"), "---\ntitle: Who is seen\naudience: quality\nlog: ["+filepath.ToSlash(filepath.Join(exampleLab(t), "log", "limbs-and-sockets.xlsx"))+"]\n---\n\n```ask\nid: who\nquestion: Who is seen?\nmethod: summary\nrows: limbs\ncolumns: [level, cause]\n```\n")
	plybook(t, dir, "run", "who.md").want(t, statusDone)
	names := []string{"log-marked.xlsx", ingest.ProblemsBook, "empty.xlsx"}
	var files []string
	for _, n := range names {
		files = append(files, filepath.Join(dir, n))
	}
	numbers := filepath.Join(dir, "who-report", "numbers.xlsx")
	names, files = append(names, "numbers.xlsx"), append(files, numbers)
	saved, ok := officeConvert(t, files...)
	if !ok {
		return
	}
	for i, n := range names {
		before, after := openBook(t, files[i]), openBook(t, filepath.Join(saved, n))
		if a, b := before.GetSheetList(), after.GetSheetList(); !slices.Equal(a, b) {
			t.Errorf("%s: sheets %q became %q", n, a, b)
		}
	}
	log, after := openBook(t, filepath.Join(dir, "log.xlsx")), openBook(t, filepath.Join(saved, "log-marked.xlsx"))
	for _, sheet := range log.GetSheetList() {
		rows, err := log.GetRows(sheet)
		if err != nil {
			t.Fatal(err)
		}
		for i := range rows {
			for j := range rows[i] {
				cell := cellAt(t, j+1, i+1)
				a, _ := log.GetCellValue(sheet, cell)
				b, _ := after.GetCellValue(sheet, cell)
				if a != b && a != "" { // a formula that had no result now has one
					t.Errorf("%s!%s: shown as %q, now %q", sheet, cell, a, b)
				}
			}
		}
	}
	if f, err := after.GetCellFormula("Plan", "C1"); err != nil || f != "A1*4" {
		t.Errorf("the formula: %q %v", f, err)
	}
	if list, err := after.GetDataValidations("limbs"); err != nil || len(list) != 1 {
		t.Errorf("the list to choose from: %v %v", list, err)
	}
	fill := func(f *excelize.File, cell string) string {
		id, err := f.GetCellStyle("Plan", cell)
		if err != nil {
			t.Fatal(err)
		}
		xf := f.Styles.CellXfs.Xf[id]
		if p := f.Styles.Fills.Fill[*xf.FillID].PatternFill; p != nil && p.FgColor != nil {
			return p.FgColor.RGB
		}
		return ""
	}
	if a, b := fill(log, "A1"), fill(after, "A1"); a == "" || a != b {
		t.Errorf("the fill %s became %s", a, b)
	}
	comments := commentsOf(t, filepath.Join(saved, "log-marked.xlsx"))
	if c := comments["limbs!C2"]; !strings.Contains(c, "ask the ward") || !strings.Contains(c, "not a known level") {
		t.Errorf("the comment that was there: %q", c)
	}
	if c := comments["visits!C2"]; !strings.Contains(c, "outside 0 to 10") {
		t.Errorf("the remark: %q", c)
	}
	linked, to, err := after.GetCellHyperLink(ingest.ProblemSheet, "A5")
	if err != nil || !linked || !strings.Contains(to, "!") {
		t.Errorf("the first link: %v %q %v", linked, to, err)
	}
	// Saved by another program, the copy is still known for what it is.
	seen := plybook(t, saved, "inspect", "--no-codes", "log-marked.xlsx").want(t, statusDone)
	says(t, "inspect", seen.out, ingest.ProblemSheet+": the list of problems of a marked copy, not read")
	twice := commentsOf(t, filepath.Join(saved, "log-marked-marked.xlsx"))
	if c := twice["limbs!C2"]; strings.Count(c, "not a known level") != 1 || !strings.Contains(c, "ask the ward") {
		t.Errorf("after a second look: %q", c)
	}
}
