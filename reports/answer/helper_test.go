package answer_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"sort"
	"strings"
	"testing"

	"plybook/ingest"
	"plybook/reports/answer"
	"plybook/reports/document"
	"plybook/reports/notebook"
	"plybook/reports/numbers"
	"plybook/reports/study"
	"plybook/reports/vector"
)

// sheets are the text tables of a small log, by table name. The first line
// is the header.
type sheets map[string]string

// with is the log with one of its tables in another form.
func (s sheets) with(table, text string) sheets {
	out := sheets{}
	for k, v := range s {
		out[k] = v
	}
	out[table] = text
	return out
}

// readLog reads the tables as a lab's text files are read.
func readLog(t testing.TB, s sheets) *ingest.Log {
	t.Helper()
	dir := t.TempDir()
	var paths []string
	for name, text := range s {
		p := filepath.Join(dir, name+".csv")
		if err := os.WriteFile(p, []byte(strings.TrimSpace(text)+"\n"), 0o600); err != nil {
			t.Fatal(err)
		}
		paths = append(paths, p)
	}
	sort.Strings(paths)
	log, err := ingest.Read(context.Background(), paths, ingest.Options{})
	if err != nil {
		t.Fatalf("read the log: %v", err)
	}
	return log
}

// csvText writes rows as a text table.
func csvText(rows [][]string) string {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	if err := w.WriteAll(rows); err != nil {
		panic(err)
	}
	return b.String()
}

// quality is the front matter of a report for the lab's own meeting.
const quality = "audience: quality"

// notebookText is a notebook of asks, each the lines of its block.
func notebookText(front string, asks ...string) string {
	var b strings.Builder
	fmt.Fprintf(&b, "---\ntitle: A small log\n%s\n---\n\nProse.\n", strings.TrimSpace(front))
	for _, a := range asks {
		fence := "ask"
		if strings.HasPrefix(strings.TrimSpace(a), "on:") {
			fence = "decision"
		}
		fmt.Fprintf(&b, "\n```%s\n%s\n```\n", fence, strings.TrimSpace(a))
	}
	return b.String()
}

// answersOf answers every ask of a notebook from a log, holds each answer to
// what every answer must hold to, and returns them by id, small counts
// hidden as the notebook says.
func answersOf(t testing.TB, log *ingest.Log, codes *ingest.Codes, front string, asks ...string) map[string]answer.Answer {
	t.Helper()
	nb := parse(t, front, asks...)
	answers := answerAll(t, nb, log, codes)
	for i, again := range answerAll(t, nb, log, codes) {
		checkFigures(t, again)
		if x, y := fingerprint(answers[i]), fingerprint(again); x != y {
			t.Errorf("%s: two runs differ:\n%s\n%s", again.ID, x, y)
		}
	}
	return checked(t, answers)
}

// answersOnce is answersOf without drawing and without a second run.
func answersOnce(t testing.TB, log *ingest.Log, codes *ingest.Codes, front string, asks ...string) map[string]answer.Answer {
	t.Helper()
	return checked(t, answerAll(t, parse(t, front, asks...), log, codes))
}

func parse(t testing.TB, front string, asks ...string) *notebook.Notebook {
	t.Helper()
	nb, err := notebook.Parse("small.md", []byte(notebookText(front, asks...)))
	if err != nil {
		t.Fatalf("parse the notebook: %v", err)
	}
	return nb
}

func checked(t testing.TB, answers []answer.Answer) map[string]answer.Answer {
	t.Helper()
	out := map[string]answer.Answer{}
	for _, a := range answers {
		checkAnswer(t, a)
		out[a.ID] = a
	}
	var b bytes.Buffer
	if err := numbers.WriteJSON(&b, numbers.Run{Release: "test", Answers: answers}); err != nil {
		t.Errorf("numbers.json: %v", err)
	}
	return out
}

func answerAll(t testing.TB, nb *notebook.Notebook, log *ingest.Log, codes *ingest.Codes) []answer.Answer {
	t.Helper()
	sc, err := study.New(nb, log, codes)
	if err != nil {
		t.Fatalf("study: %v", err)
	}
	var out []answer.Answer
	for _, ask := range nb.Asks() {
		out = append(out, *answer.Run(context.Background(), sc, ask))
	}
	return numbers.HideSmall(out, nb.Front.HideBelow)
}

// one answers a single ask.
func one(t testing.TB, s sheets, front, ask string) answer.Answer {
	t.Helper()
	got := answersOf(t, readLog(t, s), nil, front, "id: q\n"+ask)
	return got["q"]
}

// fingerprint is all of an answer but its drawings, as text.
func fingerprint(a answer.Answer) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%s %s %d %d %v\n%v\n%v\n%s\n%v\n%v\n", a.ID, a.Method, a.Rows, a.Events, a.Error, a.Tables, a.Hidden, strings.Join(printed(a), "\n"), a.References, a.Since)
	for _, f := range a.Figures {
		var svg bytes.Buffer
		if err := vector.SVG(&svg, f, vector.SVGOptions{}); err != nil {
			fmt.Fprintf(&b, "svg: %v", err)
		}
		b.Write(svg.Bytes())
	}
	return b.String()
}

// printed is every text of an answer that a reader may see, its tables of
// numbers apart.
func printed(a answer.Answer) []string {
	out := []string{a.Reading, a.Short, a.Attention, a.Methods}
	for _, c := range a.Cautions {
		out = append(out, c.Text)
	}
	if a.Error != nil {
		out = append(out, a.Error.Text)
	}
	for _, f := range a.Figures {
		out = append(out, f.Title, f.Description, f.Long)
	}
	lines := make([]int, 0, len(a.Since))
	for line := range a.Since {
		lines = append(lines, line)
	}
	sort.Ints(lines)
	for _, l := range lines {
		out = append(out, a.Since[l])
	}
	document.Walk(a.Print, func(b document.Block) {
		switch b := b.(type) {
		case document.Table:
			out = append(out, b.Caption)
			for _, c := range b.Columns {
				out = append(out, c.Head)
			}
			for _, r := range b.Rows {
				out = append(out, r...)
			}
			out = append(out, b.Notes...)
		case document.Paragraph:
			for _, s := range b.Spans {
				out = append(out, s.Text)
			}
		}
	})
	return out
}

// checkAnswer holds an answer to what every answer must hold to.
func checkAnswer(t testing.TB, a answer.Answer) {
	t.Helper()
	checkWords(t, a)
	if a.Error != nil {
		e := a.Error
		if e.Code == "" || e.Code == "internal" || e.Code == "failed" {
			t.Errorf("%s: error of code %q: %s", a.ID, e.Code, e.Text)
		}
		if e.File == "" || e.Line <= 0 || e.Column <= 0 {
			t.Errorf("%s: error without its place: %+v", a.ID, *e)
		}
		if len(a.Tables) > 0 || a.Reading != "" {
			t.Errorf("%s: an answer beside its error", a.ID)
		}
		return
	}
	if a.Reading == "" || a.Methods == "" || a.Short == "" {
		t.Errorf("%s: no reading, none in short or no methods sentence", a.ID)
	}
	checkShort(t, a)
	for _, tab := range a.Tables {
		for i, r := range tab.Rows {
			if len(r) != len(tab.Columns) {
				t.Errorf("%s: %s row %d has %d cells for %d columns", a.ID, tab.Name, i, len(r), len(tab.Columns))
				continue
			}
			for j, v := range r {
				if x, ok := v.(float64); ok && (math.IsNaN(x) || math.IsInf(x, 0)) {
					t.Errorf("%s: %s row %d %s is %g", a.ID, tab.Name, i, tab.Columns[j].Name, x)
				}
			}
		}
	}
}

// checkFigures draws the figures of an answer.
func checkFigures(t testing.TB, a answer.Answer) {
	t.Helper()
	seen := map[string]bool{}
	for _, f := range a.Figures {
		if seen[f.ID] || f.ID == "" || f.Title == "" || f.Description == "" {
			t.Errorf("%s: figure %q stands twice or lacks a title or description", a.ID, f.ID)
		}
		seen[f.ID] = true
		checkSmall(t, a, f)
		var svg, png bytes.Buffer
		if err := vector.SVG(&svg, f, vector.SVGOptions{}); err != nil {
			t.Errorf("%s: svg of %s: %v", a.ID, f.ID, err)
		}
		if strings.Contains(svg.String(), "NaN") || strings.Contains(svg.String(), "Inf\"") {
			t.Errorf("%s: svg of %s holds a number that is none", a.ID, f.ID)
		}
		if err := vector.PNG(&png, f, 36); err != nil {
			t.Errorf("%s: png of %s: %v", a.ID, f.ID, err)
		}
	}
}

// table is a table of the numbers.
func table(t testing.TB, a answer.Answer, name string) answer.Table {
	t.Helper()
	if a.Error != nil {
		t.Fatalf("%s: %s (%s)", a.ID, a.Error.Text, a.Error.Code)
	}
	for _, tab := range a.Tables {
		if tab.Name == name {
			return tab
		}
	}
	t.Fatalf("%s has no table %s", a.ID, name)
	return answer.Table{}
}

// row is the first row of a table in which the named cells have the given
// values; cells are given as name, value, name, value.
func row(t testing.TB, tab answer.Table, cells ...any) map[string]any {
	t.Helper()
	for _, r := range tab.Rows {
		m := map[string]any{}
		for j, c := range tab.Columns {
			m[c.Name] = r[j]
		}
		ok := true
		for k := 0; k < len(cells); k += 2 {
			ok = ok && same(m[cells[k].(string)], cells[k+1])
		}
		if ok {
			return m
		}
	}
	t.Fatalf("%s has no row with %v", tab.Name, cells)
	return nil
}

func same(a, b any) bool {
	x, ok1 := toFloat(a)
	y, ok2 := toFloat(b)
	if ok1 && ok2 {
		return math.Abs(x-y) <= 1e-9*math.Max(1, math.Abs(y))
	}
	return reflect.DeepEqual(a, b)
}

func toFloat(v any) (float64, bool) {
	switch x := v.(type) {
	case int:
		return float64(x), true
	case float64:
		return x, true
	}
	return 0, false
}

// want compares cells of a row with the values worked out by hand.
func want(t testing.TB, r map[string]any, cells ...any) {
	t.Helper()
	for k := 0; k < len(cells); k += 2 {
		if name := cells[k].(string); !same(r[name], cells[k+1]) {
			t.Errorf("%s is %v, want %v (row %v)", name, r[name], cells[k+1], r)
		}
	}
}

// caution is the text of the first caution of a code, empty without.
func caution(a answer.Answer, code string) string {
	for _, c := range a.Cautions {
		if c.Code == code {
			return c.Text
		}
	}
	return ""
}

// wantCaution fails where the caution is not raised or lacks a phrase.
func wantCaution(t testing.TB, a answer.Answer, code string, phrases ...string) {
	t.Helper()
	if a.Error != nil {
		t.Errorf("%s: %s (%s)", a.ID, a.Error.Text, a.Error.Code)
		return
	}
	text := caution(a, code)
	if text == "" {
		t.Errorf("%s: no caution %s; there are %v", a.ID, code, a.Cautions)
		return
	}
	for _, p := range phrases {
		if !strings.Contains(text, p) {
			t.Errorf("%s: caution %s lacks %q: %s", a.ID, code, p, text)
		}
	}
}

// wantError fails where the ask did not fail so.
func wantError(t testing.TB, a answer.Answer, code string, phrases ...string) {
	t.Helper()
	if a.Error == nil {
		t.Errorf("%s: no error; want %s", a.ID, code)
		return
	}
	if a.Error.Code != code {
		t.Errorf("%s: error %s (%s); want %s", a.ID, a.Error.Code, a.Error.Text, code)
	}
	for _, p := range phrases {
		if !strings.Contains(a.Error.Text, p) {
			t.Errorf("%s: error lacks %q: %s", a.ID, p, a.Error.Text)
		}
	}
}
