package ingest

import (
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"
)

func must(t *testing.T, errs ...error) {
	t.Helper()
	for _, err := range errs {
		if err != nil {
			t.Fatal(err)
		}
	}
}

// Rows hidden by hand, rows hidden by a filter and hidden columns are read
// and told apart.
func TestHiddenAndFiltered(t *testing.T) {
	hide := func(f *excelize.File, sheet string, row int) {
		must(t, f.SetRowVisible(sheet, row, false))
	}
	path := writeBook(t, smallLog(), func(f *excelize.File) {
		hide(f, "limbs", 2)
		must(t, f.AutoFilter("visits", "A1:I4", []excelize.AutoFilterOptions{{Column: "D", Expression: "x == delivery"}}))
		hide(f, "visits", 3)
		hide(f, "visits", 4)
		must(t, f.AutoFilter("stations", "A1:E3", nil)) // the arrows alone hide nothing
		hide(f, "stations", 3)
		must(t, f.SetColVisible("sockets", "D", false), f.SetSheetVisible("forming", false))
	})
	log := read(t, Options{}, rewrite(t, path, "xl/worksheets/sheet3.xml", func(s string) string {
		return strings.Replace(s, ` filterMode="true"`, "", 1) // the library sets it without a condition too
	}))
	want := []string{
		"limbs!A2 hidden-rows kept", "sockets!D1 hidden-column kept", "stations!A3 hidden-rows kept",
		"visits!A3 filtered-rows kept", "forming! hidden-sheet kept",
	}
	if diff := cmp.Diff(want, found(log)); diff != "" {
		t.Error(diff)
	}
	if len(log.Limbs) != 2 || len(log.Visits) != 3 || len(log.Stations) != 2 || len(log.Forming) != 1 {
		t.Error("hidden rows were not read")
	}
	if p := problemsOf(log, CodeFilteredRows)[0]; p.Text != "rows 3 to 4 are hidden by a filter; they were read like the others." {
		t.Error(p.Text)
	}
}

// A table within a sheet keeps its filter in a part of its own.
func TestFilteredTable(t *testing.T) {
	path := writeBook(t, smallLog(), func(f *excelize.File) {
		must(t, f.AddTable("visits", &excelize.Table{Range: "A1:I4", Name: "Visits1"}), f.SetRowVisible("visits", 3, false))
	})
	log := read(t, Options{}, path)
	if diff := cmp.Diff([]string{"visits!A3 hidden-rows kept"}, found(log)); diff != "" {
		t.Error(diff)
	}
	path = rewrite(t, path, "xl/tables/table1.xml", func(s string) string {
		i := strings.Index(s, "<autoFilter")
		j := i + strings.Index(s[i:], ">")
		return s[:i] + `<autoFilter ref="A1:I4"><filterColumn colId="3"><filters><filter val="delivery"/></filters></filterColumn></autoFilter>` + strings.TrimPrefix(s[j+1:], "</autoFilter>")
	})
	log = read(t, Options{}, path)
	if diff := cmp.Diff([]string{"visits!A3 filtered-rows kept"}, found(log)); diff != "" {
		t.Error(diff)
	}
}

func TestStruckThrough(t *testing.T) {
	log := read(t, Options{}, writeBook(t, smallLog(), func(f *excelize.File) {
		line, err := f.NewStyle(&excelize.Style{Font: &excelize.Font{Strike: true}})
		must(t, err,
			f.SetCellStyle("visits", "A3", "I3", line),
			f.SetCellStyle("stations", "E2", "E3", line),
			f.SetCellStyle("limbs", "H2", "K9", line), // nothing stands there
			f.SetCellRichText("sockets", "H2", []excelize.RichTextRun{{Text: "volume "}, {Text: "loss", Font: &excelize.Font{Strike: true}}}),
			f.SetCellRichText("findings", "B2", []excelize.RichTextRun{{Text: "fibular ", Font: &excelize.Font{Strike: true}}, {Text: "head", Font: &excelize.Font{Strike: true}}}))
	}))
	want := []string{"stations!E2 struck-through kept", "visits!A3 struck-through kept", "findings!B2 struck-through kept"}
	if diff := cmp.Diff(want, found(log)); diff != "" {
		t.Error(diff)
	}
	if len(log.Visits) != 3 || len(log.Stations) != 2 || log.Findings[0].Region.Code != "fibular head" {
		t.Error("what is struck through was not read")
	}
	if p := problemsOf(log, CodeStruckThrough)[1]; !strings.HasPrefix(p.Text, "row 3 is struck through; it was read") {
		t.Error(p.Text)
	}
}

func TestMergedCells(t *testing.T) {
	sheets := smallLog()
	put(sheets, "stations", "B3", "")
	put(sheets, "visits", "G2", "")
	put(sheets, "visits", "A6", "all of March is still to be entered")
	log := read(t, Options{}, writeBook(t, sheets, func(f *excelize.File) {
		must(t, f.MergeCell("stations", "B2", "B3"), f.MergeCell("visits", "F2", "G2"), f.MergeCell("forming", "B1", "C1"))
	}))
	var got []string
	for _, p := range problemsOf(log, CodeMergedCells) {
		got = append(got, p.Tab+"!"+p.Cell+" "+p.Text)
	}
	want := []string{
		"stations!B2 cells B2 to B3 are merged; their value was read for each of these rows.",
		"visits!F2 cells F2 to G2 are merged; their value was read for the first column alone.",
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
	if len(log.Stations) != 2 || log.Stations[1].Date.String() != "2024-01-05" || log.Visits[0].Hours.OK {
		t.Errorf("stations %+v, visit %+v", log.Stations, log.Visits[0])
	}
}

// A time of day stays one: in its own field, in a text and in a column of the
// lab's own; in a date's place it is no date.
func TestTimesStayTimes(t *testing.T) {
	sheets := smallLog()
	for cell, v := range map[string]any{"J1": "time", "J2": 0.6045138888888889, "K1": "arrived", "K2": 0.4375, "K3": 0.5, "K4": 0.75} {
		put(sheets, "visits", cell, v)
	}
	put(sheets, "forming", "B2", 0.5)
	log := read(t, Options{}, writeBook(t, sheets, func(f *excelize.File) {
		clock, err := f.NewStyle(&excelize.Style{NumFmt: 20})
		must(t, err, f.SetCellStyle("visits", "J2", "K4", clock), f.SetCellStyle("forming", "B2", "B2", clock))
	}))
	if m := log.Visits[0].Minute; !m.OK || m.Value != 14*60+30 && m.Value != 14*60+31 {
		t.Errorf("minute %+v", m)
	}
	if own := log.Own[TableVisits][0]; own.Kind != OwnText || fmt.Sprint(own.Text) != "[10:30 12:00 18:00]" {
		t.Errorf("own column %+v", own)
	}
	ps := problemsOf(log, CodeBadDate)
	if len(ps) != 1 || !strings.Contains(ps[0].Text, "stored as the time 12:00") {
		t.Errorf("problems %+v", ps)
	}
}

// The stream reads what programs other than the usual one write: rows and
// cells without addresses, prefixes, CDATA, character references, escapes,
// phonetic runs, texts in UTF-16, cells whose rows stand in disorder.
func TestStreamReadsOtherWriters(t *testing.T) {
	const heads = `<row><c t="inlineStr"><is><t>person</t></is></c><c t="inlineStr"><is><t>side</t></is></c><c t="inlineStr"><is><t>level</t></is></c><c t="inlineStr"><is><t>programme</t></is></c></row>`
	row := func(text string) string {
		return `<row><c t="inlineStr"><is><t>P1</t></is></c><c t="str"><v>L</v></c><c t="inlineStr"><is><t>BK</t></is></c><c t="inlineStr"><is>` + text + `</is></c></row>`
	}
	for name, tt := range map[string]struct{ cells, want string }{
		"references":    {heads + row(`<t>A &amp; B&#x2f;C &lt;1&gt;</t>`), "A & B/C <1>"},
		"CDATA":         {heads + row(`<t><![CDATA[a<b]]>c</t>`), "a<bc"},
		"escapes":       {heads + row(`<t>a_x0020_b_x005F_x0041_</t>`), "a b_x0041_"},
		"phonetic":      {heads + row(`<r><t>one </t></r><r><t>two</t></r><rPh sb="0" eb="1"><t>no</t></rPh>`), "one two"},
		"comment":       {heads + `<!-- <row> -->` + row(`<t>x<!-- y -->z</t>`), "xz"},
		"mark in value": {heads + strings.Replace(row(`<t>x</t>`), "<row>", `<row spans='1>2' ht="3">`, 1), "x"},
		"disorder":      {strings.Replace(row(`<t>x</t>`), "<row>", `<row r="5">`, 1) + strings.Replace(heads, "<row>", `<row r="1">`, 1), "x"},
	} {
		log := read(t, Options{}, archive(t, "log.xlsx", bookOf(tt.cells)))
		if len(log.Limbs) != 1 || log.Limbs[0].Programme != tt.want {
			t.Errorf("%s: %+v %v", name, log.Limbs, found(log))
		}
	}
	utf16 := "\xff\xfe"
	for _, c := range `<?xml version="1.0" encoding="UTF-16"?><x:worksheet xmlns:x="y"><x:sheetData>` + strings.NewReplacer("<", "<x:", "<x:/", "</x:").Replace(heads+row(`<t>ok</t>`)) + `</x:sheetData></x:worksheet>` {
		utf16 += string([]byte{byte(c), byte(c >> 8)})
	}
	utf16 = strings.Replace(utf16, "<\x00x\x00:\x00/\x00", "<\x00/\x00x\x00:\x00", -1)
	log := read(t, Options{}, archive(t, "log.xlsx", bookOf("", part{"xl/worksheets/sheet1.xml", utf16})))
	if len(log.Limbs) != 1 || log.Limbs[0].Programme != "ok" {
		t.Errorf("UTF-16: %+v %v", log.Limbs, found(log))
	}
}

// What is stored as text and says that a formula failed is such an error.
func TestPastedErrors(t *testing.T) {
	sheets := smallLog()
	put(sheets, "visits", "F2", "#N/A")
	put(sheets, "visits", "G2", "#div/0!")
	put(sheets, "visits", "D2", "# 7")
	log := read(t, Options{}, writeBook(t, sheets, nil))
	want := []string{"visits!D2 unknown-word value set aside", "visits!F2 formula-error value set aside", "visits!G2 formula-error value set aside"}
	if diff := cmp.Diff(want, found(log)); diff != "" {
		t.Error(diff)
	}
}

// Values are kept once each and come back as they were set.
func TestValueStore(t *testing.T) {
	s := newValueStore()
	ply := &Ply{Total: 8, Socks: []float64{5, 3}, Text: "5+3"}
	values := []value{
		{}, {ok: true, num: -3.25}, {ok: true, text: "P1"}, {text: "left over"}, {ok: true, code: "none", text: "None"},
		{ok: true, ply: ply, text: "5+3"}, {ok: true, code: "pad added", text: "pad, heat", more: []Coded{{"pad added", "pad"}, {"heat relief", "heat"}}},
	}
	var kept []place
	for range 2 {
		for _, v := range values {
			kept = append(kept, s.keep(v))
		}
	}
	for i, k := range kept {
		if diff := cmp.Diff(values[i%len(values)], s.value(k), cmp.AllowUnexported(value{})); diff != "" {
			t.Errorf("value %d: %s", i, diff)
		}
	}
	for i := range 50000 {
		text := fmt.Sprint("text ", i)
		if got := s.value(s.keep(value{text: text})).text; got != text {
			t.Fatalf("%q came back as %q", text, got)
		}
	}
}

func TestTextStore(t *testing.T) {
	s := newTextStore()
	var kept []packed
	text := func(i int) string { return strings.Repeat(fmt.Sprint(i, "ä"), i%97) }
	for i := range 30000 {
		kept = append(kept, s.add([]byte(text(i))).as(cellText))
	}
	long := strings.Repeat("x", maxText)
	kept = append(kept, s.add([]byte(long)).as(cellISO))
	for i, p := range kept[:30000] {
		if got := s.text(p); got != text(i) {
			t.Fatalf("text %d: %q", i, got)
		}
	}
	if p := kept[30000]; s.text(p) != long || p.kind() != cellISO {
		t.Error("a long text is changed")
	}
}

// Empty cells that say nowhere, or not at first, where they stand still move
// the next one on.
func TestEmptyCellsCount(t *testing.T) {
	cells := strings.Replace(oneLimb, `<c r="C2" t="inlineStr"><is><t>BK`, `<c s="1" r="B2"/><c t="inlineStr"><is><t>BK`, 1)
	log := read(t, Options{}, archive(t, "log.xlsx", bookOf(cells)))
	if len(log.Limbs) != 1 || log.Limbs[0].Level.Code != "transtibial" || len(log.Problems) > 0 {
		t.Errorf("%+v %v", log.Limbs, found(log))
	}
}
