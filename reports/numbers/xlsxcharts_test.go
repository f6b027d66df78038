package numbers

import (
	"archive/zip"
	"bytes"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"

	"plybook/reports/answer"
)

// drawnRun has a curve, a chart over time and bars; below it, what is hidden
// for few.
func drawnRun() Run {
	number := func(names ...string) []answer.Column {
		var out []answer.Column
		for _, n := range names {
			c := answer.Column{Name: n, Type: answer.TypeNumber}
			switch n {
			case "group", "category", "series", "period":
				c.Type = answer.TypeText
			case "count", "at_risk", "events", "censored":
				c.Type = answer.TypeCount
			}
			out = append(out, c)
		}
		return out
	}
	return Run{Release: "0.1.0", Answers: []answer.Answer{
		{ID: "lasting", Method: "kaplan-meier", Question: "How long?", Rows: 60, Tables: []answer.Table{
			{Name: "curve", Columns: number("group", "time", "at_risk", "events", "censored", "estimate"), Rows: [][]any{
				{"hand", 0.0, 60, 0, 0, 1.0}, {"hand", 100.0, 60, 15, 0, 0.75}, {"hand", 130.0, 45, 0, 5, 0.75}, {"hand", 200.0, 40, 20, 0, 0.375}}},
			{Name: "quantiles", Columns: number("group", "estimate"), Rows: [][]any{{"hand", 200.0}}}}},
		{ID: "fit", Method: "control-chart", Question: "Better?", Rows: 60, Tables: []answer.Table{
			{Name: "points", Columns: number("series", "period", "value", "centre", "lower", "upper"), Rows: [][]any{
				{"all", "2025 Q1", 0.5, 0.6, 0.2, 1.0}, {"all", "2025 Q2", 0.7, 0.6, nil, 1.0}, {"all", "2025 Q3", nil, 0.6, nil, nil}}}}},
		{ID: "reasons", Method: "pareto", Question: "Why?", Rows: 60, Tables: []answer.Table{
			{Name: "bars", Columns: number("category", "count", "weight"), Rows: [][]any{{"loss", 40, nil}, {"pain", 17, nil}, {"rare", 7, nil}, {"odd", 6, nil}}}}},
	}}
}

func written(t *testing.T, run Run) ([]byte, *zip.Reader, *excelize.File) {
	t.Helper()
	var b bytes.Buffer
	if err := WriteXLSX(&b, run, nil, Meta{Date: "2026-09-30"}); err != nil {
		t.Fatal(err)
	}
	z, err := zip.NewReader(bytes.NewReader(b.Bytes()), int64(b.Len()))
	if err != nil {
		t.Fatal(err)
	}
	f, err := excelize.OpenReader(bytes.NewReader(b.Bytes()))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { f.Close() })
	return b.Bytes(), z, f
}

// Curves, charts over time and bars stand as charts on the sheets of their
// answers, drawn from one sheet; tables are tables; and all of it comes out
// the same every time.
func TestWorkbookCharts(t *testing.T) {
	data, z, f := written(t, drawnRun())
	for range 20 {
		if again, _, _ := written(t, drawnRun()); !bytes.Equal(data, again) {
			t.Fatal("two writings differ")
		}
	}
	rows, err := f.GetRows(chartsName, excelize.Options{RawCellValue: true})
	if err != nil {
		t.Fatal(err)
	}
	var lines []string
	for _, r := range rows[2:] {
		lines = append(lines, strings.Join(r, "|"))
	}
	// By hand: the corners of the steps, the points without the one that is
	// missing, the bars in their order.
	want := []string{
		"lasting|||fit|||fit|||fit|||reasons",
		"time|hand||period|value||period|centre||period|upper||category|count",
		"0|1||2025 Q1|0.5||2025 Q1|0.6||2025 Q1|1||loss|40",
		"100|1||2025 Q2|0.7||2025 Q2|0.6||2025 Q2|1||pain|17",
		"100|0.75|||||||||||rare|7",
		"200|0.75|||||||||||odd|6",
		"200|0.375",
	}
	if got := strings.Join(lines, "\n"); got != strings.Join(want, "\n") {
		t.Errorf("chart data\n%s\nwant\n%s", got, strings.Join(want, "\n"))
	}
	for i, kind := range []string{"scatterChart", "lineChart", "barChart"} {
		part := readPart(t, z, "xl/charts/chart"+string(rune('1'+i))+".xml")
		if !strings.Contains(part, "<"+kind+">") || !strings.Contains(part, "Chart data") {
			t.Errorf("chart %d is no %s from the sheet", i+1, kind)
		}
		if strings.Contains(part, "<pt ") || strings.Contains(part, "<v>") {
			t.Errorf("chart %d holds numbers of its own", i+1)
		}
	}
	tables, err := f.GetTables("lasting")
	if err != nil || len(tables) != 2 || tables[0].Name != "lasting_curve" || tables[1].Name != "lasting_quantiles" {
		t.Errorf("tables: %+v %v", tables, err)
	}
	if part := readPart(t, z, "xl/worksheets/sheet2.xml"); strings.Count(part, "<tablePart ") != 2 || !strings.Contains(part, "<drawing ") {
		t.Error("the sheet is not tied to its tables and its chart")
	}
}

// What is withheld is in no chart, and curves of which times are withheld run
// straight from one known time to the next.
func TestChartsKeepWhatIsWithheld(t *testing.T) {
	run := drawnRun()
	run.Answers = HideSmall(run.Answers, 11)
	_, z, f := written(t, run)
	rows, err := f.GetRows(chartsName, excelize.Options{RawCellValue: true})
	if err != nil {
		t.Fatal(err)
	}
	all := ""
	for _, r := range rows {
		all += "|" + strings.Join(r, "|") + "|\n"
	}
	for _, word := range []string{"|rare|", "|odd|", "|7|", "|6|"} {
		if strings.Contains(all, word) {
			t.Errorf("%s is told:\n%s", word, all)
		}
	}
	if !strings.Contains(all, "|loss|40|") {
		t.Errorf("what may be told is not:\n%s", all)
	}
	if strings.Count(all, "|100|") > 1 {
		t.Errorf("a curve with times withheld is drawn in steps:\n%s", all)
	}
	for _, part := range z.File {
		if strings.HasPrefix(part.Name, "xl/charts/") && strings.Contains(readPart(t, z, part.Name), "rare") {
			t.Errorf("%s tells what is withheld", part.Name)
		}
	}
}

func TestTableNamesAreLegalAndUnique(t *testing.T) {
	n := tableNames{}
	for _, c := range [][3]string{{"first-fit", "terms", "first_fit_terms"}, {"first_fit", "terms", "first_fit_terms_2"}, {"2025", "a b", "_2025_a_b"}, {"FIRST-fit", "terms", "FIRST_fit_terms_3"}} {
		if got := n.take(c[0], c[1]); got != c[2] {
			t.Errorf("%s and %s became %q, want %q", c[0], c[1], got, c[2])
		}
	}
}
