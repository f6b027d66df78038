package main

import (
	"archive/zip"
	"encoding/csv"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

// The text that must never be calculated, and others that begin as formulas.
const (
	command = `=cmd|' /C calc'!A0`
	request = `=HYPERLINK("https://example.org/?"&A1,"look")`
	sum     = `@SUM(1+1)*cmd|' /C calc'!A0`
	plus    = `+cmd|' /C calc'!A0`
	minus   = `-2+3+cmd|' /C calc'!A0`
)

// hostileLog writes a log, as one workbook and as text tables, in which texts
// that a spreadsheet would take for formulas stand wherever a lab may write:
// identifiers, words, the lab's own words, headers, names of sheets.
func hostileLog(t testing.TB, dir string) (book string, texts []string) {
	t.Helper()
	tables := []struct {
		name string
		rows [][]string
	}{
		{"limbs", [][]string{{"person", "limb", "side", "level", "cause", "programme", command},
			{command, "L1", "L", "BK", request, plus, "=1+1"}, {"P2", "L2", "R", "AK", "trauma", minus, "\t=2+2"}, {plus, "L3", "R", "AK", "trauma", minus, "x"}}},
		{"sockets", [][]string{{"socket", "limb", "kind", "cast_method", "cast_by", "material", "delivered", "ended", "end_reason"},
			{command, "L1", "def", command, minus, sum, "2024-02-01", "2024-08-01", "volume loss"}, {plus, "L1", "def", plus, command, sum, "2024-08-01", "", command},
			{"S3", "L2", "def", command, minus, minus, "2024-03-01", "2024-09-01", "volume loss"}, {command, "L2", "def", plus, "T1", sum, "2024-10-01", "", ""},
			{"S5", command, "def", plus, "T1", sum, "2024-10-01", "", ""}, {"S6", "L3", "def", command, command, sum, "2024-02-01", "", ""}}},
		{"visits", [][]string{{"visit", "socket", "date", "ply", "comfort", "action", "seen_by", "=1+1"},
			{"=V1", command, "2024-03-01", command, sum, plus, command, request}, {"V2", "=S9", "2024-04-01", "5", "7", "none", "T1", "a"}, {"V3", "S3", command, "5", "7", "none", "T1", "b"}}},
	}
	f := excelize.NewFile()
	defer f.Close()
	for _, table := range tables {
		if _, err := f.NewSheet(table.name); err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(dir, "texts", table.name+".csv")
		if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
			t.Fatal(err)
		}
		out, err := os.Create(path)
		if err != nil {
			t.Fatal(err)
		}
		if err := csv.NewWriter(out).WriteAll(table.rows); err != nil {
			t.Fatal(err)
		}
		if err := out.Close(); err != nil {
			t.Fatal(err)
		}
		texts = append(texts, "texts/"+table.name+".csv")
		for i, row := range table.rows {
			for j, text := range row {
				if err := f.SetCellStr(table.name, cellAt(t, j+1, i+1), text); err != nil {
					t.Fatal(err)
				}
			}
		}
	}
	if err := f.SetSheetName("Sheet1", "=1+1"); err != nil {
		t.Fatal(err)
	}
	book = "book/=log.xlsx"
	if err := os.MkdirAll(filepath.Join(dir, "book"), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := f.SaveAs(filepath.Join(dir, book)); err != nil {
		t.Fatal(err)
	}
	return book, texts
}

// hostileNotebook asks for tables in which the log's texts stand.
const hostileNotebook = `---
title: "=1+1"
audience: quality
log: [LOG]
hide_below: 0
---
` + "```ask\nid: rows\nquestion: \"=cmd|' /C calc'!A0\"\nmethod: flow\nrows: sockets\n```\n\n" +
	"```ask\nid: who\nquestion: Who?\nmethod: summary\nrows: sockets\nby: cast_method\ncolumns: [material, programme, cause]\n```\n\n" +
	"```ask\nid: longevity\nquestion: How long?\nmethod: kaplan-meier\nrows: sockets\nevent: remake\nby: cast_method\n```\n"

// TestNothingWrittenIsAFormula puts formulas in from the log and opens every
// workbook and text table that comes out: none calculates anything, and the
// lab's own cells in the marked copies are as they were.
func TestNothingWrittenIsAFormula(t *testing.T) {
	dir := t.TempDir()
	book, texts := hostileLog(t, dir)
	before := cellsOf(t, filepath.Join(dir, book))
	plybook(t, dir, "inspect", book).want(t, statusDone)
	plybook(t, dir, append([]string{"inspect"}, texts...)...).want(t, statusDone)
	for name, log := range map[string]string{"a": "book/*.xlsx", "b": "texts/*.csv"} {
		writeFile(t, filepath.Join(dir, name+".md"), strings.Replace(hostileNotebook, "LOG", log, 1))
		plybook(t, dir, "run", name+".md").want(t, statusDone)
	}
	plybook(t, dir, "blank", "empty.xlsx").want(t, statusDone)
	// A blank log takes codes only, but the lab's own words as they are.
	writeFile(t, filepath.Join(dir, "coded", "limbs.csv"), "person,limb,side,level,programme\nP1,L1,L,BK,"+command+"\n")
	writeFile(t, filepath.Join(dir, "coded", "sockets.csv"), "socket,limb,kind,material,cast_method,site,delivered\nS1,L1,def,"+command+","+plus+","+minus+",2024-02-01\n")
	plybook(t, dir, "blank", "--from", "coded/limbs.csv,coded/sockets.csv", "from.xlsx").want(t, statusDone)
	plybook(t, dir, "example", "demo").want(t, statusDone)
	plybook(t, dir, "run", "demo/quality.md").want(t, statusDone)

	seen, shown := 0, 0
	err := filepath.WalkDir(dir, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		rel, err := filepath.Rel(dir, path)
		if err != nil {
			return err
		}
		given := rel == filepath.FromSlash(book) || filepath.Dir(rel) == "coded" || !strings.Contains(rel, "-marked") && filepath.Dir(rel) == "texts" && filepath.Base(rel) != "codes.csv" && filepath.Base(rel) != "problems-found.csv"
		switch {
		case given:
		case filepath.Ext(path) == ".xlsx":
			seen++
			noFormula(t, path)
			for _, text := range cellsOf(t, path) {
				if strings.Contains(text, "cmd|") {
					shown++
				}
			}
		case filepath.Ext(path) == ".csv":
			seen++
			given := map[string]bool{}
			if strings.Contains(rel, "-marked") {
				given = textsOf(t, strings.Replace(path, "-marked", "", 1))
			}
			for text := range textsOf(t, path) {
				if begins := strings.TrimSpace(text); !given[text] && begins != "" && strings.ContainsRune("=+-@", rune(begins[0])) {
					t.Errorf("%s holds the cell %q", rel, text)
				}
				if strings.Contains(text, "cmd|") {
					shown++
				}
			}
		}
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	if seen < 12 || shown < 20 {
		t.Errorf("%d files were opened and %d cells held the texts", seen, shown)
	}
	after := cellsOf(t, filepath.Join(dir, "book", "=log-marked.xlsx"))
	for at, text := range before {
		if after[at] != text {
			t.Errorf("the marked copy has %q at %s, the log %q", after[at], at, text)
		}
	}

	// The codes lead back to the identifiers as they stand in the log.
	codes := sumOf(t, filepath.Join(dir, "texts", "codes.csv"))
	plybook(t, dir, append([]string{"inspect"}, texts...)...).want(t, statusDone)
	if sumOf(t, filepath.Join(dir, "texts", "codes.csv")) != codes {
		t.Error("a second look made other codes for the same persons")
	}
}

var formula = regexp.MustCompile(`(?s)<f[ >/].*?(?:</f>|/>)`)

// noFormula fails where a workbook holds a formula but for links to its own
// sheets, or asks for other programs or files.
func noFormula(t testing.TB, path string) {
	t.Helper()
	z, err := zip.OpenReader(path)
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	for _, part := range z.File {
		if strings.Contains(part.Name, "externalLink") {
			t.Errorf("%s has the part %s", path, part.Name)
		}
		if !strings.HasPrefix(part.Name, "xl/worksheets/") {
			continue
		}
		r, err := part.Open()
		if err != nil {
			t.Fatal(err)
		}
		data, err := io.ReadAll(r)
		r.Close()
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range formula.FindAllString(string(data), -1) {
			if !strings.HasPrefix(f, "<f>HYPERLINK(&#34;#&#39;") && !strings.HasPrefix(f, `<f>HYPERLINK("#'`) {
				t.Errorf("%s, %s has the formula %s", path, part.Name, f)
			}
		}
	}
}

// cellsOf are the texts of a workbook's cells by sheet!cell.
func cellsOf(t testing.TB, path string) map[string]string {
	t.Helper()
	f, err := excelize.OpenFile(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	out := map[string]string{}
	for _, sheet := range f.GetSheetList() {
		rows, err := f.GetRows(sheet)
		if err != nil {
			t.Fatal(err)
		}
		for i, row := range rows {
			for j, text := range row {
				out[sheet+"!"+cellAt(t, j+1, i+1)] = text
			}
		}
	}
	return out
}

// textsOf are the different texts of a text table's cells.
func textsOf(t testing.TB, path string) map[string]bool {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	r := csv.NewReader(f)
	r.FieldsPerRecord = -1
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]bool{}
	for _, row := range rows {
		for _, text := range row {
			out[text] = true
		}
	}
	return out
}

// TestPatternsOfFiles reads patterns that no shell has expanded.
func TestPatternsOfFiles(t *testing.T) {
	dir := t.TempDir()
	writeFile(t, filepath.Join(dir, "log", "limbs.csv"), "person,side,level\nP1,L,BK\n")
	writeFile(t, filepath.Join(dir, "log", "sockets.csv"), "socket,limb,kind\nS1,P1-L,def\n")
	writeFile(t, filepath.Join(dir, "log", "~$sockets.xlsx"), "lock")
	writeFile(t, filepath.Join(dir, "log", "codes.csv"), "kind,value,code\n")
	o := plybook(t, dir, "inspect", "--no-codes", "--no-marked-copy", "log/*").want(t, statusDone)
	says(t, "inspect", o.out, "log/limbs.csv: 1 row read, 1 used", "log/sockets.csv: 1 row read, 1 used")
	o = plybook(t, dir, "inspect", "log/*.xlsm").want(t, statusNothing)
	says(t, "inspect", o.err, `no file matches "log/*.xlsm"`)
	o = plybook(t, dir, "intake", "[").want(t, statusNothing)
	says(t, "intake", o.err, "pattern")
}
