package ingest

import (
	"archive/zip"
	"bytes"
	"image"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
)

// partsOf are the parts of a workbook by name.
func partsOf(t *testing.T, path string) map[string]string {
	t.Helper()
	z, err := zip.OpenReader(path)
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	out := map[string]string{}
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(r)
		r.Close()
		if err != nil {
			t.Fatal(err)
		}
		if _, ok := out[f.Name]; ok {
			t.Errorf("%s stands twice in %s", f.Name, path)
		}
		out[f.Name] = string(b)
	}
	return out
}

// repack writes a workbook again with some parts changed or added.
func repack(t *testing.T, path string, change func(parts map[string]string)) {
	t.Helper()
	parts := partsOf(t, path)
	change(parts)
	var names []string
	for n := range parts {
		names = append(names, n)
	}
	slices.Sort(names)
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, n := range names {
		w, err := z.Create(n)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := w.Write([]byte(parts[n])); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
}

// richBook is a log with nearly all that a workbook can hold besides cells.
func richBook(t *testing.T) string {
	sheets := smallLog()
	put(sheets, "visits", "F2", 11)
	put(sheets, "visits", "E3", "3-5")
	put(sheets, "sockets", "E2", "05/01/2024")
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	path := writeBook(t, sheets, func(f *excelize.File) {
		_, err := f.NewSheet("Plan")
		must(err)
		for i, v := range []any{"part", "north", 3, "south", 4} {
			must(f.SetCellValue("Plan", cellName(i%2, i/2+1), v))
		}
		must(f.SetCellFormula("Plan", "D1", "SUM(B1:B3)"))
		must(f.AddComment("visits", excelize.Comment{Cell: "F2", Author: "T1", Paragraph: []excelize.RichTextRun{{Text: "ask ", Font: &excelize.Font{Bold: true}}, {Text: "again"}}}))
		must(f.AddComment("visits", excelize.Comment{Cell: "A9", Author: "T1", Text: "of the lab"}))
		must(f.AddFormControl("visits", excelize.FormControl{Cell: "K3", Type: excelize.FormControlCheckBox, Text: "done"}))
		must(f.AddChart("Plan", "F2", &excelize.Chart{Type: excelize.Col, Series: []excelize.ChartSeries{{Name: "Plan!$A$1", Categories: "Plan!$A$1:$A$2", Values: "Plan!$B$1:$B$2"}}}))
		var pic bytes.Buffer
		must(png.Encode(&pic, image.NewGray(image.Rect(0, 0, 4, 4))))
		must(f.AddPictureFromBytes("visits", "L8", &excelize.Picture{Extension: ".png", File: pic.Bytes(), Format: &excelize.GraphicOptions{}}))
		must(f.SetDefinedName(&excelize.DefinedName{Name: "local", RefersTo: "visits!$A$1:$B$2", Scope: "visits"}))
		must(f.SetDefinedName(&excelize.DefinedName{Name: "global", RefersTo: "Plan!$A$1"}))
		style, err := f.NewConditionalStyle(&excelize.Style{Font: &excelize.Font{Color: "9A0511"}})
		must(err)
		must(f.SetConditionalFormat("visits", "F2:F20", []excelize.ConditionalFormatOptions{{Type: "cell", Criteria: ">", Value: "8", Format: &style}}))
		list := excelize.NewDataValidation(true)
		list.SetSqref("H2:H20")
		must(list.SetDropList([]string{"yes", "no"}))
		must(f.AddDataValidation("visits", list))
		must(f.SetColWidth("visits", "A", "A", 33))
		must(f.SetPanes("visits", &excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}))
		must(f.AddSparkline("Plan", &excelize.SparklineOptions{Location: []string{"E1"}, Range: []string{"Plan!B1:B2"}}))
		must(f.AddTable("Plan", &excelize.Table{Range: "H1:I3", Name: "lookup"}))
		must(f.AddPivotTable(&excelize.PivotTableOptions{DataRange: "limbs!A1:D3", PivotTableRange: "Plan!M2:P12", Rows: []excelize.PivotTableField{{Data: "level"}}, Data: []excelize.PivotTableField{{Data: "person", Subtotal: "Count"}}}))
		must(f.SetSheetBackgroundFromBytes("Plan", ".png", pic.Bytes()))
	})
	repack(t, path, func(parts map[string]string) {
		parts["xl/externalLinks/externalLink1.xml"] = `<externalLink xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"/>`
		parts["xl/slicers/slicer1.xml"] = `<slicers xmlns="http://schemas.microsoft.com/office/spreadsheetml/2009/9/main"/>`
		parts["customXml/item1.xml"] = `<lab/>`
		parts["_xmlsignatures/origin.sigs"] = ""
		parts["xl/vbaProject.bin"] = "never run"
	})
	return path
}

// A marked copy is the workbook with marks: parts without a mark stay byte
// for byte, and of the others nothing is lost.
func TestMarkedCopyKeepsEveryPart(t *testing.T) {
	path := richBook(t)
	log := read(t, Options{}, path)
	out := filepath.Join(t.TempDir(), "marked.xlsx")
	var said []string
	if err := WriteMarked(t.Context(), log, path, out, MarkOptions{Note: func(s string) { said = append(said, s) }}); err != nil {
		t.Fatal(err)
	}
	before, after := partsOf(t, path), partsOf(t, out)
	may := regexp.MustCompile(`^(\[Content_Types\]\.xml|xl/workbook\.xml|xl/_rels/workbook\.xml\.rels|xl/styles\.xml|xl/worksheets/(_rels/)?sheet\d+\.xml(\.rels)?|xl/comments\d+\.xml|xl/drawings/vmlDrawing\d+\.vml)$`)
	tags := regexp.MustCompile(`<[^>]*>`)
	numbers := regexp.MustCompile(` (count|s|r|localSheetId|tabSelected|activeTab)="[^"]*"`)
	for name, old := range before {
		now, ok := after[name]
		switch {
		case !ok:
			t.Errorf("%s is lost", name)
		case old == now:
		case !may.MatchString(name):
			t.Errorf("%s was changed", name)
		default: // every tag of the original is there still
			has := map[string]int{}
			for _, tag := range tags.FindAllString(now, -1) {
				has[numbers.ReplaceAllString(tag, "")]++
			}
			for _, tag := range tags.FindAllString(old, -1) {
				if key := numbers.ReplaceAllString(tag, ""); has[key] > 0 {
					has[key]--
				} else {
					t.Errorf("%s: %s is lost", name, tag)
				}
			}
		}
	}
	for _, plan := range []string{"xl/charts/chart1.xml", "xl/media/image1.png", "xl/pivotTables/pivotTable1.xml", "xl/externalLinks/externalLink1.xml", "xl/slicers/slicer1.xml", "xl/vbaProject.bin"} {
		if before[plan] == "" || before[plan] != after[plan] {
			t.Errorf("%s is not as it was", plan)
		}
	}
	all := strings.Join(said, "\n")
	if !strings.Contains(all, "digital signature") || !strings.Contains(all, "macros") || len(said) != 2 {
		t.Errorf("said beforehand: %q", said)
	}
	book, err := excelize.OpenFile(out)
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	if list := book.GetSheetList(); list[0] != ProblemSheet {
		t.Errorf("sheets %q", list)
	}
	for _, n := range book.GetDefinedName() {
		if n.Name == "local" && n.Scope != "visits" {
			t.Errorf("the name local is of the sheet %q", n.Scope)
		}
	}
	rows, err := book.GetRows(ProblemSheet)
	if err != nil {
		t.Fatal(err)
	}
	text := ""
	links := 0
	for i, row := range rows {
		text += strings.Join(row, " | ") + "\n"
		if ok, at, err := book.GetCellHyperLink(ProblemSheet, cellName(0, i+1)); err == nil && ok {
			links++
			sheet, cell, _ := strings.Cut(at, "!")
			if !strings.HasPrefix(row[0], strings.Trim(sheet, "'")+"!"+cell) {
				t.Errorf("%q leads to %s", row[0], at)
			}
		}
	}
	inCells := 0 // the macros and the link are of the book itself, so they have no cell to lead to
	for _, p := range log.Problems {
		if p.Sheet >= 0 {
			inCells++
		}
	}
	if inCells != 3 || len(log.Problems) != 5 {
		t.Errorf("%d problems in cells of %d", inCells, len(log.Problems))
	}
	if links != inCells || !strings.Contains(text, "outside 0 to 10") || !strings.Contains(text, "digital signature") {
		t.Errorf("%d links for %d problems:\n%s", links, len(log.Problems), text)
	}
	comments, err := book.GetComments("visits")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range comments {
		if c.Cell == "F2" && (len(c.Paragraph) != 3 || c.Author != "T1" || c.Paragraph[0].Font == nil || !c.Paragraph[0].Font.Bold || !strings.Contains(c.Paragraph[2].Text, remarkStart)) {
			t.Errorf("the comment that was there: %+v", c)
		}
	}
}

// Mending the marked copy itself and looking again clears problems and marks.
func TestMarkedCopyMended(t *testing.T) {
	path := richBook(t)
	log := read(t, Options{}, path)
	dir := t.TempDir()
	marked := filepath.Join(dir, "log-marked.xlsx")
	if err := WriteMarked(t.Context(), log, path, marked, MarkOptions{}); err != nil {
		t.Fatal(err)
	}
	book, err := excelize.OpenFile(marked)
	if err != nil {
		t.Fatal(err)
	}
	for cell, v := range map[string]any{"visits!F2": 7, "visits!E3": 4, "sockets!E2": "2024-01-05"} {
		sheet, at, _ := strings.Cut(cell, "!")
		if err := book.SetCellValue(sheet, at, v); err != nil {
			t.Fatal(err)
		}
	}
	if err := book.Save(); err != nil {
		t.Fatal(err)
	}
	book.Close()
	again := read(t, Options{}, marked)
	var of []string // the book itself has macros and links, which no cell mends
	for _, p := range again.Problems {
		if p.Sheet >= 0 {
			t.Errorf("still a problem: %s", p)
		}
		of = append(of, p.Code)
	}
	if !slices.Equal(of, []string{CodeMacros, CodeExternalLinks}) {
		t.Errorf("of the book itself: %v", of)
	}
	if !IsProblemSheet(again.Sheets[0].Sheet) || again.Sheets[0].Table != "" || again.Sheets[0].Read != 0 {
		t.Errorf("the list of problems was read: %+v", again.Sheets[0])
	}
	clean := filepath.Join(dir, "again.xlsx")
	if err := WriteMarked(t.Context(), again, marked, clean, MarkOptions{}); err != nil {
		t.Fatal(err)
	}
	for name, part := range partsOf(t, clean) {
		if strings.Contains(part, remarkStart) {
			t.Errorf("%s still has a remark", name)
		}
	}
	book, err = excelize.OpenFile(clean)
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	if list := book.GetSheetList(); list[0] != ProblemSheet || slices.Contains(list[1:], ProblemSheet) {
		t.Errorf("sheets %q", list)
	}
	comments, err := book.GetComments("visits")
	if err != nil {
		t.Fatal(err)
	}
	if len(comments) != 2 {
		t.Errorf("the lab's own comments: %+v", comments)
	}
	id, err := book.GetCellStyle("visits", "E3")
	if err != nil {
		t.Fatal(err)
	}
	if style, err := book.GetStyle(id); err != nil || len(style.Border) != 0 {
		t.Errorf("the border of a mended cell: %+v %v", style, err)
	}
}

// A conversation on a cell is left alone, since a program would show it and
// not the remark; the list has the problem.
func TestMarkedCopyKeepsConversations(t *testing.T) {
	path := richBook(t)
	repack(t, path, func(parts map[string]string) {
		parts["xl/threadedComments/threadedComment1.xml"] = `<ThreadedComments xmlns="http://schemas.microsoft.com/office/spreadsheetml/2018/threadedcomments"><threadedComment ref="F2" id="{1}"><text>who?</text></threadedComment></ThreadedComments>`
		for name, part := range parts {
			if strings.HasPrefix(name, "xl/worksheets/_rels/") && strings.Contains(part, "comments") {
				parts[name] = strings.Replace(part, "</Relationships>", `<Relationship Id="rIdT" Type="http://schemas.microsoft.com/office/2017/10/relationships/threadedComment" Target="../threadedComments/threadedComment1.xml"/></Relationships>`, 1)
			}
		}
	})
	log := read(t, Options{}, path)
	out := filepath.Join(t.TempDir(), "marked.xlsx")
	said := ""
	if err := WriteMarked(t.Context(), log, path, out, MarkOptions{Note: func(s string) { said += s }}); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(said, "Conversations") {
		t.Errorf("said beforehand: %q", said)
	}
	book, err := excelize.OpenFile(out)
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	comments, err := book.GetComments("visits")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range comments {
		if c.Cell == "F2" && len(c.Paragraph) != 2 {
			t.Errorf("the conversation's comment was changed: %+v", c)
		}
	}
}

func TestMarkedColourOnRequest(t *testing.T) {
	path := richBook(t)
	log := read(t, Options{}, path)
	for _, colour := range []bool{false, true} {
		out := filepath.Join(t.TempDir(), "marked.xlsx")
		if err := WriteMarked(t.Context(), log, path, out, MarkOptions{Colour: colour}); err != nil {
			t.Fatal(err)
		}
		book, err := excelize.OpenFile(out)
		if err != nil {
			t.Fatal(err)
		}
		id, err := book.GetCellStyle("visits", "F2")
		if err != nil {
			t.Fatal(err)
		}
		style, err := book.GetStyle(id)
		if err != nil || (len(style.Fill.Color) > 0) != colour {
			t.Errorf("colour %v: %+v %v", colour, style.Fill, err)
		}
		book.Close()
	}
}

// Of a text table the rows concerned are written, as text.
func TestProblemBook(t *testing.T) {
	limbs := writeText(t, "limbs.csv", "person;side;level\nP1;L;BK\n\nP2;R;=1+1\n")
	log := read(t, Options{}, limbs)
	if can, why, err := CanMark(t.Context(), limbs); can || why == "" || err != nil {
		t.Errorf("a text table can be marked: %v %q %v", can, why, err)
	}
	out := filepath.Join(t.TempDir(), ProblemsBook)
	if err := SaveProblemBook(t.Context(), out, log, []string{limbs}); err != nil {
		t.Fatal(err)
	}
	if info, err := os.Stat(out); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("%v %v", info, err)
	}
	book, err := excelize.OpenFile(out)
	if err != nil {
		t.Fatal(err)
	}
	defer book.Close()
	if got := strings.Join(book.GetSheetList(), ","); got != "kinds,"+ProblemSheet+",limbs" {
		t.Errorf("sheets %s", got)
	}
	rows, err := book.GetRows("limbs")
	if err != nil || len(rows) != 2 {
		t.Fatalf("%q %v", rows, err)
	}
	if strings.Join(rows[0], "|") != "row|person|side|level|problems" || strings.Join(rows[1][:4], "|") != "4|P2|R|=1+1" || !strings.HasPrefix(rows[1][4], "C4: ") {
		t.Errorf("%q", rows)
	}
	if f, err := book.GetCellFormula("limbs", "D2"); err != nil || f != "" {
		t.Errorf("a formula was written: %q %v", f, err)
	}
}

// The header is the table's, whatever stands above it.
func TestProblemBookBelowTitles(t *testing.T) {
	it, err := ParseIntake("intake.yaml", []byte("sheets:\n  - sheet: list\n    header: 3\n    limbs:\n      person: Pt\n      side: Leg\n      level: Amp\n"))
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		file, text string
		opts       Options
		head, last string
	}{
		{"limbs.csv", "Register,,\n,,\nperson,side,level\nP1,L,BX\n", Options{}, "row|person|side|level|problems", "4|P1|L|BX"},
		{"list.csv", "Our list,,\n,,\nPt,Leg,Amp\nP1,L,BX\n", Options{Intake: it}, "row|Pt|Leg|Amp|problems", "4|P1|L|BX"},
	} {
		path := writeText(t, c.file, c.text)
		out := filepath.Join(t.TempDir(), ProblemsBook)
		if err := SaveProblemBook(t.Context(), out, read(t, c.opts, path), []string{path}); err != nil {
			t.Fatal(err)
		}
		book, err := excelize.OpenFile(out)
		if err != nil {
			t.Fatal(err)
		}
		rows, err := book.GetRows(strings.TrimSuffix(c.file, ".csv"))
		book.Close()
		if err != nil || len(rows) < 2 {
			t.Fatalf("%s: %q %v", c.file, rows, err)
		}
		last := rows[len(rows)-1]
		if strings.Join(rows[0], "|") != c.head || strings.Join(last[:4], "|") != c.last || !strings.HasPrefix(last[4], "C4: ") {
			t.Errorf("%s: %q", c.file, rows)
		}
	}
}
