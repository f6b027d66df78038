package batch

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"plybook/ingest"
	"plybook/reports/answer"
	"plybook/reports/document"
	"plybook/reports/example"
	"plybook/reports/notebook"
	"plybook/reports/numbers"
	"plybook/reports/pdf"
	"plybook/reports/study"
)

// exampleReport is the report of one of the example's notebooks, laid out
// whole.
func exampleReport(t *testing.T, name string) (*report, *document.Document) {
	t.Helper()
	dir, log := exampleLog(t)
	src, err := os.ReadFile(filepath.Join(dir, name))
	if err != nil {
		t.Fatal(err)
	}
	return reportOn(t, log, filepath.Join(dir, name), src)
}

// reportOn is the report of a notebook on a log, laid out whole.
func reportOn(t *testing.T, log *ingest.Log, path string, src []byte) (*report, *document.Document) {
	t.Helper()
	ctx := context.Background()
	nb, err := notebook.Parse(path, src)
	if err != nil {
		t.Fatal(err)
	}
	sc, err := study.New(nb, log, nil)
	if err != nil {
		t.Fatal(err)
	}
	var answers []answer.Answer
	for _, ask := range nb.Asks() {
		answers = append(answers, *answer.Run(ctx, sc, ask))
	}
	answers = numbers.HideSmall(answers, nb.Front.HideBelow)
	r := &report{nb: nb, log: log, today: sc.Today, release: "0"}
	for i := range answers {
		r.answers = append(r.answers, &answers[i])
	}
	if r.kinds, err = problemKinds(log.Problems); err != nil {
		t.Fatal(err)
	}
	return r, assemble(r)
}

var exampleOnce struct {
	sync.Once
	dir string
	log *ingest.Log
	err error
}

// exampleLog is the example's folder and its log, read once for all tests.
func exampleLog(t testing.TB) (string, *ingest.Log) {
	t.Helper()
	e := &exampleOnce
	e.Do(func() {
		ctx := context.Background()
		var top string
		if top, e.err = os.MkdirTemp("", "plybook-batch-*"); e.err != nil {
			return
		}
		e.dir = filepath.Join(top, "lab")
		if e.err = example.Write(ctx, e.dir, example.Seed); e.err != nil {
			return
		}
		paths, err := filepath.Glob(filepath.Join(e.dir, "log", "*.xlsx"))
		if err != nil {
			e.err = err
			return
		}
		e.log, e.err = ingest.Read(ctx, paths, ingest.Options{})
	})
	if e.err != nil {
		t.Fatal(e.err)
	}
	return e.dir, e.log
}

func TestMain(m *testing.M) {
	code := m.Run()
	if exampleOnce.dir != "" {
		os.RemoveAll(filepath.Dir(exampleOnce.dir)) //nolint:errcheck // the system clears its folder of temporary files
	}
	os.Exit(code)
}

func TestExampleReportsInPrint(t *testing.T) {
	for _, name := range []string{"quality.md", "workshop.md", "research.md", "annual.md"} {
		t.Run(name, func(t *testing.T) {
			r, _ := exampleReport(t, name)
			r.nb.Front.Print = notebook.Full
			if name == "quality.md" {
				r.nb.Front.InShort = nil // a page of its own, which four questions do not fill
			}
			doc := assemble(r)
			for paper, o := range map[string]pdf.Options{"A4": {}, "Letter": {Paper: pdf.Letter}} {
				pages, err := pdf.Layout(doc, o)
				if err != nil {
					t.Fatal(err)
				}
				sum := 0.0
				for n, p := range pages[:len(pages)-1] {
					sum += p.Full
					least := 0.58
					if p.Chapter {
						least = 0.5
					}
					if p.Full < least {
						t.Errorf("%s: page %d of %d is %.0f%% full", paper, n+1, len(pages), 100*p.Full)
					}
					if p.Parted > 0 && p.Parted < 4 {
						t.Errorf("%s: a table has %d of its rows alone at the foot of page %d", paper, p.Parted, n+1)
					}
				}
				if mean := sum / float64(len(pages)-1); mean < 0.8 {
					t.Errorf("%s: the pages are %.0f%% full", paper, 100*mean)
				}
			}
			seen := map[string]bool{}
			document.Walk(doc.Blocks, func(b document.Block) {
				caption := ""
				switch b := b.(type) {
				case document.Table:
					caption = "table: " + b.Caption
					for c, col := range b.Columns[1:] {
						told := len(b.Rows) == 0
						for _, row := range b.Rows {
							told = told || c+1 < len(row) && row[c+1] != "" && row[c+1] != hiddenWord
						}
						if !told {
							t.Errorf("%s: the column %q tells nothing", b.Caption, col.Head)
						}
					}
				case document.Figure:
					caption = "figure: " + b.Caption
					if b.Figure.Empty {
						t.Errorf("%s: an empty figure is printed", b.Caption)
					}
				}
				if caption != "" && seen[caption] {
					t.Errorf("the caption %q is there twice", caption)
				}
				seen[caption] = true
			})
		})
	}
}

func TestTelling(t *testing.T) {
	table := document.Table{Columns: make([]document.TableColumn, 4), Strong: []int{2}, Notes: []string{"note"}, Rows: [][]string{
		{"a", "1", "hidden", ""}, {"  B ", "hidden", "hidden", ""}, {"Group"}, {"c", "hidden", "hidden", "2"}}}
	for i, h := range []string{"", "Count", "By 1 year", "p"} {
		table.Columns[i].Head = h
	}
	got := telling(table)
	var rows []string
	for _, r := range got.Rows {
		rows = append(rows, strings.Join(r, "|"))
	}
	if want := "a|1|/Group||/c|hidden|2"; strings.Join(rows, "/") != want {
		t.Errorf("rows %q, want %q", strings.Join(rows, "/"), want)
	}
	if len(got.Columns) != 3 || len(got.Strong) != 1 || got.Strong[0] != 1 {
		t.Errorf("columns %v, strong %v", got.Columns, got.Strong)
	}
	if want := "Left out, since every number would be hidden: by 1 year; b."; len(got.Notes) != 2 || got.Notes[1] != want {
		t.Errorf("notes %q, want %q last", got.Notes, want)
	}
	if len(table.Notes) != 1 || len(table.Rows) != 4 {
		t.Error("the table given was changed")
	}
	open := document.Table{Columns: make([]document.TableColumn, 3), Rows: [][]string{{"a", "", "1"}, {"b", "", "2"}}}
	if got := telling(open); len(got.Notes) != 0 || len(got.Rows) != 2 || len(got.Columns) != 2 || got.Rows[1][1] != "2" {
		t.Errorf("a table without hidden numbers became %+v", got)
	}
	none := document.Table{Columns: make([]document.TableColumn, 3)}
	if got := telling(none); len(got.Columns) != 3 {
		t.Errorf("a table without rows became %+v", got)
	}
}

func TestTellApart(t *testing.T) {
	h := func(level int, s string) document.Block { return document.Heading{Level: level, Text: s, ID: s} }
	blocks := []document.Block{h(1, "one"), h(2, "a"), document.Table{Caption: "Terms"}, document.Figure{Caption: "Terms."},
		document.KeepTogether{Blocks: []document.Block{h(2, "kept")}}, h(2, "c"), document.Table{Caption: "Terms"}, document.Figure{Caption: "Terms."}, document.Table{}, document.Table{}}
	tellApart(blocks)
	if got := blocks[2].(document.Table).Caption + blocks[3].(document.Figure).Caption; got != "TermsTerms." {
		t.Errorf("the first captions became %q", got)
	}
	if got := blocks[6].(document.Table).Caption; got != "Terms; question 1.3" {
		t.Errorf("table %q", got)
	}
	if got := blocks[7].(document.Figure).Caption; got != "Terms; question 1.3." {
		t.Errorf("figure %q", got)
	}
	if got := blocks[9].(document.Table).Caption; got != "" {
		t.Errorf("a table without a caption has %q", got)
	}
}

func TestQuestionsStandUnderTheHeadingBefore(t *testing.T) {
	for _, c := range []struct {
		blocks []document.Block
		from   int
		want   int
	}{
		{nil, 1, 1},
		{[]document.Block{document.Heading{Level: 2, Text: "x"}}, 1, 2},
		{[]document.Block{document.Heading{Level: 3, Text: "x"}}, 1, 2},
		{[]document.Block{document.Heading{Level: 2, Text: "x"}, document.Heading{Level: 1, Text: "y"}}, 2, 1},
		{[]document.Block{document.Heading{Level: 2, Text: " "}}, 1, 1},
	} {
		if got := lastLevel(c.blocks, c.from); got != c.want {
			t.Errorf("%v from %d: %d, want %d", c.blocks, c.from, got, c.want)
		}
	}
}
