package numbers

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/xuri/excelize/v2"

	"plybook/ingest"
	"plybook/reports/answer"
)

func sampleRun() Run {
	return Run{
		Release: "0.1.0",
		Inputs:  []Input{{File: "log.xlsx", SHA256: strings.Repeat("ab", 32), Sheet: "Sockets", Read: 120, Used: 117, SetAside: 3, ValuesSetAside: 9}},
		Answers: []answer.Answer{
			{ID: "longevity", Method: "kaplan-meier", Question: "How long do <definitive> sockets last?", Rows: 117, Events: 61, HasEvents: true,
				Tables: []answer.Table{
					{Name: "quantiles", Columns: []answer.Column{{Name: "quantile", Type: answer.TypeNumber}, {Name: "estimate", Unit: "days", Type: answer.TypeNumber}, {Name: "group", Type: answer.TypeText}},
						Rows: [][]any{{0.5, 421.0, "all"}, {0.30000000000000004, nil, "=1+1"}}},
					{Name: "rows", Columns: []answer.Column{{Name: "year", Type: answer.TypeInt}, {Name: "count", Type: answer.TypeCount}, {Name: "from", Type: answer.TypeDate}, {Name: "complete", Type: answer.TypeBool}},
						Rows: [][]any{{2025, 44, 20089, true}, {2026, nil, 20454.0, false}}},
				},
				Hidden:   []answer.HiddenCell{{Table: "rows", Row: 1, Column: "count"}},
				Reading:  "Half are remade within 421 days.",
				Cautions: []answer.Caution{{Code: "tail", Text: "Few are at risk at the end; the curve there is drawn faint, and what it says there is carried by a handful of people who may differ from the others."}},
				Methods:  "Kaplan-Meier curves.", References: []string{"Kaplan EL, Meier P. 1958."}},
			{ID: "ply", Method: "linear", Question: "What goes with ply?", Rows: 80},
			{ID: "broken", Method: "cox", Question: "?", Error: &answer.Error{Code: "unknown-column", Text: "there is no column plyy", File: "q3.md", Line: 14, Column: 5}},
		},
	}
}

func TestWriteJSON(t *testing.T) {
	var b, again bytes.Buffer
	if err := WriteJSON(&b, sampleRun()); err != nil {
		t.Fatal(err)
	}
	if err := WriteJSON(&again, sampleRun()); err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(b.Bytes(), again.Bytes()) {
		t.Error("two writings differ")
	}
	var got struct {
		Schema  int
		Plybook string
		Inputs  []map[string]any
		Answers []struct {
			ID, Method, Question, Reading string
			Rows, Events                  *int
			Tables                        map[string][]map[string]any
			Hidden                        []answer.HiddenCell
			Cautions                      []answer.Caution
			Error                         *answer.Error
		}
	}
	if err := json.Unmarshal(b.Bytes(), &got); err != nil {
		t.Fatalf("%v\n%s", err, b.String())
	}
	if got.Schema != 1 || got.Plybook != "0.1.0" || len(got.Inputs) != 1 || got.Inputs[0]["values_set_aside"] != 9.0 {
		t.Errorf("head: %+v", got)
	}
	a := got.Answers[0]
	if *a.Rows != 117 || *a.Events != 61 || a.Tables["quantiles"][1]["quantile"] != 0.30000000000000004 || a.Tables["quantiles"][1]["estimate"] != nil {
		t.Errorf("answer: %+v", a)
	}
	if a.Tables["rows"][0]["from"] != "2025-01-01" || a.Tables["rows"][1]["from"] != "2026-01-01" || a.Tables["rows"][0]["complete"] != true {
		t.Errorf("dates and marks: %+v", a.Tables["rows"])
	}
	if got.Answers[1].Events != nil || *got.Answers[1].Rows != 80 || got.Answers[1].Error != nil {
		t.Errorf("an answer without events: %+v", got.Answers[1])
	}
	if got.Answers[2].Error == nil || got.Answers[2].Error.Line != 14 || got.Answers[2].Rows != nil {
		t.Errorf("an answer that failed: %+v", got.Answers[2])
	}
	for _, want := range []string{
		`{"quantile":0.30000000000000004,"estimate":null,"group":"=1+1"}`, // order of the columns, shortest text
		`"question":"How long do <definitive> sockets last?"`,
		`"hidden":[{"table":"rows","row":1,"column":"count"}]`,
		`"error":null`, `"cautions":[]`, `"hidden":[]`, `"tables":{}`,
	} {
		if !strings.Contains(b.String(), want) {
			t.Errorf("no %s in\n%s", want, b.String())
		}
	}
}

func oneTable(c answer.Column, v any) Run {
	return Run{Answers: []answer.Answer{{ID: "a", Tables: []answer.Table{{Name: "t", Columns: []answer.Column{c}, Rows: [][]any{{nil}, {v}}}}}}}
}

func TestWriteRefusesWhatHasNoPlace(t *testing.T) {
	for name, c := range map[string]struct {
		column answer.Column
		value  any
		why    string
	}{
		"not a number":  {answer.Column{Name: "estimate", Type: answer.TypeNumber}, math.NaN(), "finite"},
		"infinite":      {answer.Column{Name: "high", Type: answer.TypeNumber}, math.Inf(1), "finite"},
		"text":          {answer.Column{Name: "p", Type: answer.TypeNumber}, "0.05", "type"},
		"number":        {answer.Column{Name: "group", Type: answer.TypeText}, 3, "type"},
		"half a day":    {answer.Column{Name: "on", Type: answer.TypeDate}, 3.5, "whole day"},
		"a late day":    {answer.Column{Name: "on", Type: answer.TypeDate}, 5_000_000, "9999"},
		"a worded day":  {answer.Column{Name: "on", Type: answer.TypeDate}, "3 May", "date"},
		"odd":           {answer.Column{Name: "x", Type: answer.TypeNumber}, struct{}{}, "type"},
		"infinite days": {answer.Column{Name: "on", Type: answer.TypeDate}, math.Inf(-1), "finite"},
	} {
		for kind, err := range map[string]error{"json": WriteJSON(&bytes.Buffer{}, oneTable(c.column, c.value)), "xlsx": WriteXLSX(&bytes.Buffer{}, oneTable(c.column, c.value), nil, Meta{})} {
			var v *ValueError
			if !errors.As(err, &v) {
				t.Errorf("%s, %s: %v", name, kind, err)
				continue
			}
			if v.Answer != "a" || v.Table != "t" || v.Row != 1 || v.Column != c.column.Name || !strings.Contains(v.Why, c.why) {
				t.Errorf("%s, %s: %v", name, kind, v)
			}
		}
	}
	var b bytes.Buffer
	if err := WriteJSON(&b, oneTable(answer.Column{Name: "x"}, math.NaN())); err == nil || b.Len() > 0 {
		t.Errorf("%d bytes written beside the error %v", b.Len(), err)
	}
	for name, run := range map[string]Run{
		"same answer twice": {Answers: []answer.Answer{{ID: "a"}, {ID: "a"}}},
		"same table twice":  {Answers: []answer.Answer{{ID: "a", Tables: []answer.Table{{Name: "t"}, {Name: "t"}}}}},
		"same column twice": {Answers: []answer.Answer{{ID: "a", Tables: []answer.Table{{Name: "t", Columns: []answer.Column{{Name: "x"}, {Name: "x"}}}}}}},
		"a short row":       {Answers: []answer.Answer{{ID: "a", Tables: []answer.Table{{Name: "t", Columns: []answer.Column{{Name: "x"}}, Rows: [][]any{{}}}}}}},
	} {
		if err := WriteJSON(&bytes.Buffer{}, run); err == nil {
			t.Errorf("%s: no error", name)
		}
	}
}

func FuzzJSONKeepsNumbers(f *testing.F) {
	for _, v := range []float64{0, 1.0 / 3, 5e-324, math.MaxFloat64, -1e21, 0.1} {
		f.Add(v, "a\"b\\c\n<>&\u2028")
	}
	f.Fuzz(func(t *testing.T, v float64, s string) {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return
		}
		run := oneTable(answer.Column{Name: "x", Type: answer.TypeNumber}, v)
		run.Answers[0].Reading = s
		var b bytes.Buffer
		if err := WriteJSON(&b, run); err != nil {
			t.Fatal(err)
		}
		var got struct {
			Answers []struct {
				Reading string
				Tables  struct{ T []struct{ X *float64 } }
			}
		}
		if err := json.Unmarshal(b.Bytes(), &got); err != nil {
			t.Fatalf("%v: %s", err, b.String())
		}
		if x := got.Answers[0].Tables.T[1].X; x == nil || math.Float64bits(*x) != math.Float64bits(v) && *x != v {
			t.Errorf("%v came back as %v", v, x)
		}
		if want := strings.ToValidUTF8(s, "\ufffd"); !equalText(got.Answers[0].Reading, want) {
			t.Errorf("%q came back as %q", s, got.Answers[0].Reading)
		}
	})
}

// equalText leaves out how many replacement characters stand for a run of
// broken bytes.
func equalText(a, b string) bool {
	return strings.ReplaceAll(a, "\ufffd", "") == strings.ReplaceAll(b, "\ufffd", "")
}

func sampleProblems() []ProblemRow {
	return []ProblemRow{{File: "log.xlsx", Sheet: "Visits", Cell: "D17", Column: "Ply", Found: "12,x", Want: "a number of ply, as 5 or 5+3", Done: "value set aside", Text: "The ply could not be read."}}
}

func TestWriteXLSX(t *testing.T) {
	meta := Meta{Title: "Fit review", Date: "2026-09-30", Mark: "For internal review, not for release"}
	var b, again bytes.Buffer
	if err := WriteXLSX(&b, sampleRun(), sampleProblems(), meta); err != nil {
		t.Fatal(err)
	}
	for range 3 {
		again.Reset()
		if err := WriteXLSX(&again, sampleRun(), sampleProblems(), meta); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(b.Bytes(), again.Bytes()) {
			t.Fatal("two writings differ")
		}
	}
	if path := os.Getenv("PLYBOOK_XLSX"); path != "" {
		if err := os.WriteFile(path, b.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	z, err := zip.NewReader(bytes.NewReader(b.Bytes()), int64(b.Len()))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range z.File {
		if f.Modified.Year() > 1980 {
			t.Errorf("%s bears the time %v", f.Name, f.Modified)
		}
	}
	f, err := excelize.OpenReader(bytes.NewReader(b.Bytes()))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	if got := strings.Join(f.GetSheetList(), " "); got != "Contents longevity ply broken Inputs Problems" {
		t.Errorf("sheets: %s", got)
	}
	props, err := f.GetDocProps()
	if err != nil || props.Created != "2026-09-30T00:00:00Z" || props.Modified != props.Created {
		t.Errorf("dates of the file: %+v %v", props, err)
	}
	raw := excelize.Options{RawCellValue: true}
	cells := map[string]string{}
	for _, sheet := range f.GetSheetList() {
		rows, err := f.GetRows(sheet, raw)
		if err != nil {
			t.Fatal(err)
		}
		for i, r := range rows {
			for j, v := range r {
				name, _ := excelize.CoordinatesToCellName(j+1, i+1)
				cells[sheet+"!"+name] = v
			}
		}
	}
	at := func(sheet, text string) string {
		for k, v := range cells {
			if v == text && strings.HasPrefix(k, sheet+"!") {
				return strings.TrimPrefix(k, sheet+"!")
			}
		}
		t.Errorf("%s: no %q", sheet, text)
		return "A1"
	}
	for cell, kind := range map[string]excelize.CellType{
		"A8":                     excelize.CellTypeUnset, // a number
		at("longevity", "45658"): excelize.CellTypeUnset, // 2025-01-01 as a true date
		at("longevity", "=1+1"):  excelize.CellTypeInlineString,
	} {
		if got, err := f.GetCellType("longevity", cell); err != nil || got != kind {
			t.Errorf("%s is of type %v: %v", cell, got, err)
		}
	}
	if part := readPart(t, z, "xl/worksheets/sheet2.xml"); !strings.Contains(part, "<v>0.30000000000000004</v>") || !strings.Contains(part, "<v>421</v>") || strings.Contains(part, "<v>0.3</v>") {
		t.Errorf("numbers are not kept whole: %s", part)
	}
	if shown, err := f.GetCellValue("longevity", at("longevity", "45658")); err != nil || shown != "2025-01-01" {
		t.Errorf("the date is shown as %q: %v", shown, err)
	}
	for _, want := range [][2]string{{"longevity", "withheld"}, {"longevity", "Cautions"}, {"longevity", "quantiles"}, {"longevity", "estimate (days)"}, {"broken", "Not answered: there is no column plyy"},
		{"Inputs", "Together"}, {"Problems", "D17"}, {"Contents", "not answered"}, {"Contents", meta.Mark}} {
		at(want[0], want[1])
	}
	link, err := f.GetCellFormula("Contents", at("Contents", "longevity"))
	if err != nil || link != `HYPERLINK("#'longevity'!A1","longevity")` {
		t.Errorf("link: %q %v", link, err)
	}
	panes, err := f.GetPanes("longevity")
	if err != nil || !panes.Freeze || panes.YSplit < 1 {
		t.Errorf("frozen rows: %+v %v", panes, err)
	}
	for _, k := range cells {
		if strings.Contains(k, "NaN") {
			t.Errorf("a cell says %q", k)
		}
	}
}

func readPart(t *testing.T, z *zip.Reader, name string) string {
	t.Helper()
	f, err := z.Open(name)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	data, err := io.ReadAll(f)
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// A workbook that is read back holds the very numbers, whatever their size.
func TestWorkbookKeepsNumbers(t *testing.T) {
	for _, v := range []float64{1.0 / 3, -2.0 / 3e10, 1e300 / 7, 5e-324, 123456789012345678, 1e-7, 0.1, 42, -0.5} {
		run := oneTable(answer.Column{Name: "x", Type: answer.TypeNumber}, v)
		var b bytes.Buffer
		if err := WriteXLSX(&b, run, nil, Meta{}); err != nil {
			t.Fatalf("%v: %v", v, err)
		}
		z, err := zip.NewReader(bytes.NewReader(b.Bytes()), int64(b.Len()))
		if err != nil {
			t.Fatal(err)
		}
		part := readPart(t, z, "xl/worksheets/sheet2.xml")
		i, j := strings.LastIndex(part, "<v>"), strings.LastIndex(part, "</v>")
		if got, err := strconv.ParseFloat(part[i+3:j], 64); err != nil || got != v {
			t.Errorf("%v is held as %s", v, part[i+3:j])
		}
	}
}

func TestSheetNamesAreLegalAndUnique(t *testing.T) {
	s := newSheetNames()
	seen := map[string]bool{}
	for _, want := range []string{"Contents", "contents", "History", "", "'quoted'", "a/b:c*d?e[f]g\\h", strings.Repeat("long-name-", 6), strings.Repeat("long-name-", 6), strings.Repeat("😀", 20), "\x01", "~2"} {
		got := s.take(want)
		switch {
		case got == "", len(utf16.Encode([]rune(got))) > 31, strings.ContainsAny(got, `:\/?*[]`), strings.HasPrefix(got, "'"), strings.HasSuffix(got, "'"), strings.EqualFold(got, "history"):
			t.Errorf("%q became %q", want, got)
		case seen[strings.ToLower(got)]:
			t.Errorf("%q became %q, which is taken", want, got)
		}
		seen[strings.ToLower(got)] = true
	}
}

func TestCellText(t *testing.T) {
	if got := cellText("a\x00b\x1fc\xffd"); got != "abc�d" {
		t.Errorf("%q", got)
	}
	if got := shortText(strings.Repeat("é", 20), 10); got != strings.Repeat("é", 9)+"…" {
		t.Errorf("%q", got)
	}
	if got := shortText("short", 10); got != "short" {
		t.Errorf("%q", got)
	}
}

func TestEmptyRun(t *testing.T) {
	if err := WriteXLSX(&bytes.Buffer{}, Run{}, nil, Meta{}); err != nil {
		t.Error(err)
	}
	var b bytes.Buffer
	if err := WriteJSON(&b, Run{}); err != nil || !json.Valid(b.Bytes()) {
		t.Errorf("%v: %s", err, b.String())
	}
}

func TestLedgerAndProblems(t *testing.T) {
	base := func(p string) string { return p[strings.LastIndex(p, "/")+1:] }
	in := Inputs([]ingest.Sheet{{File: "/lab/log.xlsx", Sheet: "Limbs", Read: 5, Used: 4, SetAside: 1}}, base)
	if in[0].File != "log.xlsx" || in[0].Read != in[0].Used+in[0].SetAside {
		t.Errorf("%+v", in)
	}
	p := Problems([]ingest.Problem{{File: "/lab/log.xlsx", Tab: "Limbs", Cell: "B2", Done: ingest.RowSetAside}}, base)
	if p[0].File != "log.xlsx" || p[0].Done != "row set aside" || p[0].Sheet != "Limbs" {
		t.Errorf("%+v", p)
	}
}

func ExampleWriteJSON() {
	run := Run{Release: "0.1.0", Answers: []answer.Answer{{
		ID: "reasons", Method: "pareto", Question: "Why are sockets remade?", Rows: 75,
		Tables: []answer.Table{{Name: "bars", Columns: []answer.Column{{Name: "category", Type: answer.TypeText}, {Name: "count", Type: answer.TypeCount}, {Name: "percent", Type: answer.TypeNumber}},
			Rows: [][]any{{"volume loss", 48, 64.0}, {"pain or pressure", 27, 36.0}}}},
		Reading: "Volume loss is behind 64% of remakes.",
	}}}
	if err := WriteJSON(os.Stdout, run); err != nil {
		fmt.Println(err)
	}
	// Output:
	// {"schema":1,"plybook":"0.1.0","hide_below":0,
	// "inputs":[],
	// "analyses":[],
	// "answers":[
	// {"id":"reasons","method":"pareto","question":"Why are sockets remade?","rows":75,"events":null,
	//  "tables":{
	//   "bars":[
	//    {"category":"volume loss","count":48,"percent":64},
	//    {"category":"pain or pressure","count":27,"percent":36}]},
	//  "hidden":[],
	//  "reading":"Volume loss is behind 64% of remakes.",
	//  "cautions":[],
	//  "error":null}]}
}

func BenchmarkWriteXLSX(b *testing.B) {
	run := sampleRun()
	t := answer.Table{Name: "curve", Columns: []answer.Column{{Name: "time", Type: answer.TypeNumber}, {Name: "estimate", Type: answer.TypeNumber}}}
	for i := range 20000 {
		t.Rows = append(t.Rows, []any{float64(i), 1 / float64(i+1)})
	}
	run.Answers[1].Tables = append(run.Answers[1].Tables, t)
	for b.Loop() {
		if err := WriteXLSX(&bytes.Buffer{}, run, nil, Meta{}); err != nil {
			b.Fatal(err)
		}
	}
}
