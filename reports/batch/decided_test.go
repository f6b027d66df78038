package batch

import (
	"slices"
	"strings"
	"testing"

	"plybook/reports/document"
	"plybook/reports/notebook"
	"plybook/reports/pdf"
)

// tablesOf are the tables of a document by id.
func tablesOf(doc *document.Document) map[string]document.Table {
	out := map[string]document.Table{}
	document.Walk(doc.Blocks, func(b document.Block) {
		if t, ok := b.(document.Table); ok {
			out[t.ID] = t
		}
	})
	return out
}

// The first page of the example's report for the meeting says what became of
// each decision, has lines for new ones where there is room, and nothing else is
// lost for it.
func TestDecisionsStandOnTheFirstPage(t *testing.T) {
	for paper, o := range map[string]pdf.Options{"A4": {}, "Letter": {Paper: pdf.Letter}} {
		r, whole := exampleReport(t, "quality.md")
		doc, err := r.onPaper(whole, o)
		if err != nil {
			t.Fatal(err)
		}
		pages, err := pdf.Layout(doc, o)
		if err != nil {
			t.Fatal(err)
		}
		got := tablesOf(doc)
		decided, there := got[decidedID]
		told := slices.ContainsFunc(doc.Blocks, func(b document.Block) bool {
			p, ok := b.(document.Paragraph)
			return ok && (strings.HasPrefix(plain(p.Spans), "Reviews ahead.") || strings.Contains(plain(p.Spans), "“Open decisions”"))
		})
		if there == told {
			t.Errorf("%s: decisions in a table of the first page %t, told or named elsewhere %t", paper, there, told)
		}
		if !there && paper == "Letter" { // there is less room on it
			continue
		}
		lines, open := got[decidingID]
		if len(decided.Rows) != len(r.nb.Decisions()) || open && (len(lines.Rows) < linesLeast || !lines.ByHand) {
			t.Fatalf("%s: %d rows of decisions, %d lines to fill in", paper, len(decided.Rows), len(got[decidingID].Rows))
		}
		if !whereDecided(doc, pages) || len(pages) > mostPages {
			t.Errorf("%s: the decisions are not on the first of %d pages", paper, len(pages))
		}
		if pages[0].Full < 0.8 {
			t.Errorf("%s: the first page is %.0f%% full", paper, 100*pages[0].Full)
		}
		for k, row := range decided.Rows {
			if !strings.Contains(row[2], ": ") || row[3] == "" {
				t.Errorf("%s: decision %d: %q", paper, k+1, row)
			}
		}
	}
}

// Decisions that the first page has no room for stay where they were.
func TestTooManyDecisionsForThePage(t *testing.T) {
	text := decidedNotebook
	for range 60 {
		text += "\n```decision\non: 2025-04-01\nwhat: Look at every liner before it is handed out, and again a week after, and note both.\nreview: 2026-02-01\n```\n"
	}
	for many, text := range map[bool]string{false: decidedNotebook, true: text} {
		r := reportFrom(t, text)
		r.nb.Front.Print = notebook.Short
		doc, err := r.onPaper(assemble(r), pdf.Options{})
		if err != nil {
			t.Fatal(err)
		}
		got := tablesOf(doc)
		_, on := got[decidedID]
		ahead := slices.ContainsFunc(doc.Blocks, func(b document.Block) bool {
			p, ok := b.(document.Paragraph)
			return ok && strings.HasPrefix(plain(p.Spans), "Reviews ahead.")
		})
		if on == many || ahead != many {
			t.Errorf("many decisions %t: in a table %t, as reviews ahead %t", many, on, ahead)
		}
	}
}
