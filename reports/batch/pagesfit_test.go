package batch

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"plybook/ingest"
	"plybook/reports/answer"
	"plybook/reports/document"
	"plybook/reports/example"
	"plybook/reports/notebook"
	"plybook/reports/pdf"
)

var papers = map[string]pdf.Options{"A4": {}, "Letter": {Paper: pdf.Letter}}

// cautionsOf are the texts of the footnotes of a report in short.
func cautionsOf(doc *document.Document) map[string]bool {
	out := map[string]bool{}
	rows, _ := rowsOf(doc)
	for _, r := range rows {
		for _, n := range r.Notes {
			out[n.Text] = true
		}
	}
	return out
}

// Labs drawn anew have the report for the meeting on two to four pages too, on
// either paper, with every figure and every caution.
func TestMeetingOnFourPages(t *testing.T) {
	for _, seed := range []uint64{1, 5, 11} {
		ctx := context.Background()
		dir := filepath.Join(t.TempDir(), "lab")
		if err := example.Write(ctx, dir, seed); err != nil {
			t.Fatal(err)
		}
		paths, err := filepath.Glob(filepath.Join(dir, "log", "*.xlsx"))
		if err != nil {
			t.Fatal(err)
		}
		log, err := ingest.Read(ctx, paths, ingest.Options{})
		if err != nil {
			t.Fatal(err)
		}
		src, err := os.ReadFile(filepath.Join(dir, "quality.md"))
		if err != nil {
			t.Fatal(err)
		}
		r, whole := reportOn(t, log, filepath.Join(dir, "quality.md"), src)
		for paper, o := range papers {
			doc, err := r.inPages(whole, o)
			if err != nil {
				t.Fatal(err)
			}
			pages, err := pdf.Layout(doc, o)
			if err != nil {
				t.Fatal(err)
			}
			if len(pages) < 2 || len(pages) > mostPages {
				t.Errorf("seed %d on %s: %d pages", seed, paper, len(pages))
			}
			_, cells := rowsOf(doc)
			said := cautionsOf(doc)
			for _, a := range r.answers {
				if a.Error != nil {
					t.Errorf("seed %d: %s: %s", seed, a.ID, a.Error.Text)
				}
				if cells[a.ID].Figure == nil && a.Method != "flow" {
					t.Errorf("seed %d on %s: %s has lost its figure", seed, paper, a.ID)
				}
				for _, c := range a.Cautions {
					if !said[c.Text] {
						t.Errorf("seed %d on %s: %s lacks the caution %q", seed, paper, a.ID, c.Text)
					}
				}
			}
		}
	}
}

// longer is the meeting's notebook with n further charts.
func longer(t *testing.T, n int) (string, []byte, *ingest.Log) {
	t.Helper()
	dir, log := exampleLog(t)
	path := filepath.Join(dir, "quality.md")
	src, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var b strings.Builder
	b.Write(src)
	for k := range n {
		fmt.Fprintf(&b, "\n```ask\nid: more-%d\nquestion: How often is comfort scored %d or less?\nmethod: control-chart\nrows: visits\nkeep: {kind: definitive}\nchart: p\nperiod: month\nnumerator: {comfort: ..%d}\ndenominator: {comfort: known}\nbaseline_points: 18\n```\n", k, 4+k%3, 4+k%3)
	}
	return path, []byte(b.String()), log
}

// With more questions than have room, the later ones that nothing presses lose
// their figures, and say where they stand; nothing else is lost.
func TestFiguresAreFoldedLast(t *testing.T) {
	path, src, log := longer(t, 5)
	r, whole := reportOn(t, log, path, src)
	for paper, o := range papers {
		if pages, err := pdf.Layout(brief(r, whole, squeeze{}), o); err != nil || len(pages) <= mostPages {
			t.Fatalf("%s: %d pages without folding (%v)", paper, len(pages), err)
		}
		doc, err := r.inPages(whole, o)
		if err != nil {
			t.Fatal(err)
		}
		pages, err := pdf.Layout(doc, o)
		if err != nil || len(pages) > mostPages {
			t.Errorf("%s: %d pages (%v)", paper, len(pages), err)
		}
		_, cells := rowsOf(doc)
		said := cautionsOf(doc)
		folded := 0
		for _, a := range r.answers {
			c := cells[a.ID]
			if !strings.Contains(plain(c.Answer[0].Spans), a.Short) {
				t.Errorf("%s: %s lacks its answer", paper, a.ID)
			}
			for _, x := range a.Cautions {
				if !said[x.Text] {
					t.Errorf("%s: %s lacks the caution %q", paper, a.ID, x.Text)
				}
			}
			if c.Figure != nil || a.Method == "flow" {
				continue
			}
			folded++
			if last := plain(c.Answer[len(c.Answer)-1].Spans); last != "Its figure: report.html, "+c.Number+"." {
				t.Errorf("%s: %s says %q", paper, a.ID, last)
			}
			if a.Attention != "" && a.Urgency < answer.Data {
				t.Errorf("%s: %s asks for a decision and has lost its figure", paper, a.ID)
			}
		}
		if folded == 0 || cells["more-4"].Figure != nil {
			t.Errorf("%s: %d are folded, the last one: %v", paper, folded, cells["more-4"].Figure == nil)
		}
	}
}

// A notebook of many questions has no four pages: its figures stay.
func TestNothingIsFoldedInVain(t *testing.T) {
	path, src, log := longer(t, 90)
	r, whole := reportOn(t, log, path, src)
	doc, err := r.inPages(whole, pdf.Options{})
	if err != nil {
		t.Fatal(err)
	}
	_, cells := rowsOf(doc)
	for _, a := range r.answers {
		if cells[a.ID].Figure == nil && a.Method != "flow" {
			t.Errorf("%s has lost its figure", a.ID)
		}
	}
	if doc.Tight {
		t.Error("its type is small")
	}
}

func TestFoldable(t *testing.T) {
	r := &report{nb: &notebook.Notebook{Front: notebook.Front{InShort: []notebook.Placed{{Text: "b"}, {Text: "e"}}}}, answers: []*answer.Answer{
		{ID: "a"}, {ID: "b"}, {ID: "c", Attention: "x", Urgency: answer.Worse}, {ID: "d", Attention: "x", Urgency: answer.Known}, {ID: "e"}, {ID: "f", Error: &answer.Error{}}, {ID: "g"}}}
	if got := r.foldable(); !slices.Equal(got, []string{"g", "d", "a", "e", "b", "c"}) {
		t.Errorf("%q", got)
	}
}
