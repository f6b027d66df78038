package batch

import (
	"bytes"
	"slices"
	"strings"
	"testing"

	"plybook/reports/answer"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/notebook"
	"plybook/reports/pdf"
)

// plain is the text of spans, raised marks left out.
func plain(spans []document.Span) string {
	out := ""
	for _, s := range spans {
		if !s.Raised {
			out += s.Text
		}
	}
	return out
}

// rowsOf are the rows of a report in short, and the cells by id.
func rowsOf(doc *document.Document) (rows []document.Row, cells map[string]document.Cell) {
	cells = map[string]document.Cell{}
	for _, b := range doc.Blocks {
		if r, ok := b.(document.Row); ok {
			rows = append(rows, r)
			for _, c := range r.Cells {
				cells[c.ID] = c
			}
		}
	}
	return rows, cells
}

// The example's report for the meeting has at most four pages on either paper,
// and every answer, caution and decision in it.
func TestExampleInShort(t *testing.T) {
	r, whole := exampleReport(t, "quality.md")
	doc := brief(r, whole, squeeze{})
	for paper, o := range map[string]pdf.Options{"A4": {}, "Letter": {Paper: pdf.Letter}} {
		fitted, err := r.inPages(whole, o)
		if err != nil {
			t.Fatal(err)
		}
		pages, err := pdf.Layout(fitted, o)
		if err != nil {
			t.Fatal(err)
		}
		if len(pages) > 4 {
			t.Errorf("%s: %d pages", paper, len(pages))
		}
		for n, p := range pages {
			if p.Full < 0.6 {
				t.Errorf("%s: page %d of %d is %.0f%% full", paper, n+1, len(pages), 100*p.Full)
			}
		}
	}
	rows, cells := rowsOf(doc)
	notes := map[string]bool{}
	last := 0
	for _, row := range rows {
		for _, n := range row.Notes {
			notes[n.Text] = true
			if last++; n.Number != last {
				t.Errorf("note %d comes %dth", n.Number, last)
			}
		}
	}
	numbers := sections(whole.Blocks)
	drawn := 0
	for _, a := range r.answers {
		c, ok := cells[a.ID]
		if !ok {
			t.Errorf("%s is not in the report in short", a.ID)
			continue
		}
		if got := plain(c.Answer[0].Spans); got != a.Short || c.Question != a.Question {
			t.Errorf("%s: %q is answered by %q, want %q", a.ID, c.Question, got, a.Short)
		}
		if c.Number == "" || c.Number != numbers[a.ID] {
			t.Errorf("%s has the number %q, and %q in the whole report", a.ID, c.Number, numbers[a.ID])
		}
		for _, x := range a.Cautions {
			if !notes[x.Text] {
				t.Errorf("%s lacks the caution %q", a.ID, x.Text)
			}
		}
		if c.Figure != nil {
			drawn++
			if c.Figure.Width > figure.HalfWidth && a.Figures[0].Small != nil {
				t.Errorf("%s: a figure %g points wide", a.ID, c.Figure.Width.Points())
			}
		} else if a.Method != "flow" {
			t.Errorf("%s has no figure", a.ID)
		}
	}
	if drawn < 8 || !slices.ContainsFunc(rows, func(r document.Row) bool { return len(r.Cells) == 2 }) {
		t.Errorf("%d figures in %d rows", drawn, len(rows))
	}
	decided := 0
	for _, c := range cells {
		for _, l := range c.Lines {
			if text := plain(l.Spans); l.Mark > 0 {
				decided++
				if !strings.Contains(text, "Since then: ") || strings.Contains(text, "could not") {
					t.Errorf("decision %q", text)
				}
			}
		}
	}
	if decided != len(r.nb.Decisions()) {
		t.Errorf("%d of %d decisions", decided, len(r.nb.Decisions()))
	}
	end, ok := doc.Blocks[len(doc.Blocks)-1].(document.Paragraph)
	if !ok {
		t.Fatalf("the last block is %T", doc.Blocks[len(doc.Blocks)-1])
	}
	for _, want := range []string{"report.html", "numbers.xlsx", "15 tables", "“Appendix: data used”", "“Open decisions”", "full readings", "methods"} {
		if !strings.Contains(plain(end.Spans), want) {
			t.Errorf("the end does not name %q: %s", want, plain(end.Spans))
		}
	}
	// The page for the screen has the summary too, and all the rest.
	heads := sections(whole.Blocks)
	for _, id := range []string{"in-short", "to-decide", "data-used", "methods"} {
		if heads[id] == "" {
			t.Errorf("the whole report has no %s", id)
		}
	}
	var one, two bytes.Buffer
	for _, b := range []*bytes.Buffer{&one, &two} {
		r, whole := exampleReport(t, "quality.md")
		if err := pdf.Render(b, brief(r, whole, squeeze{}), pdf.Options{}); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(one.Bytes(), two.Bytes()) {
		t.Error("two runs gave other bytes")
	}
}

const decidedNotebook = `---
title: The year
to: 2025-12-31
---

Before the first heading.

# Sockets

` + "```ask\nid: rows\nquestion: How many?\nmethod: flow\nnote: All of them.\n```\n\n```ask\nid: broken\nquestion: What?\nmethod: summary\ncolumns: [nothing_such]\n```\n\n" +
	"Between.\n\n```decision\non: 2025-06-01\nwhat: Cast thrice.\nwho: everybody\nreview: 2026-01-01\n```\n\n" +
	"```decision\non: 2025-03-01\nwhat: Pad it.\nfollows: broken\nreview: 2025-09-01\n```\n\n```decision\non: 2025-02-30\nwhat: Never.\n```\n"

// What cannot be answered, decisions that follow nothing and text between
// questions stand in the report in short as in the whole one.
func TestBriefKeepsWhatIsWritten(t *testing.T) {
	r := reportFrom(t, decidedNotebook)
	doc := brief(r, assemble(r), squeeze{})
	if !doc.Brief {
		t.Error("the report is not marked as in short")
	}
	var text strings.Builder
	document.Walk(doc.Blocks, func(b document.Block) {
		switch b := b.(type) {
		case document.Heading:
			text.WriteString("# " + b.Text + "\n")
		case document.Paragraph:
			text.WriteString(plain(b.Spans) + "\n")
		case document.List:
			for _, it := range b.Items {
				text.WriteString("- " + plain(it) + "\n")
			}
		case document.Row:
			for _, c := range b.Cells {
				text.WriteString("? " + c.Question + "\n")
				for _, p := range c.Answer {
					text.WriteString(plain(p.Spans) + "\n")
				}
				for _, l := range c.Lines {
					text.WriteString("· " + plain(l.Spans) + "\n")
				}
			}
		}
	})
	at := 0
	for _, want := range []string{"Safety. This report is for review by licensed clinicians.", "Before the first heading.",
		"# To decide", "- Review was due on 1 September 2025. Pad it. Since then: the chart could not be drawn.", "Reviews ahead. On 1 January 2026: Cast thrice.",
		"# Sockets", "? How many?\n40 of 40 sockets", "· All of them.", "? What?\nNot answered. ", "year.md, line ",
		"· 1 March 2025. Pad it. Review on 1 September 2025. Since then: the chart could not be drawn.",
		"Between.", "· 1 June 2025. Cast thrice. Everybody, review on 1 January 2026.", "A decision that could not be read. ", "In full. "} {
		k := strings.Index(text.String()[at:], want)
		if k < 0 {
			t.Fatalf("no %q behind what comes before it:\n%s", want, text.String())
		}
		at += k
	}
	for paper := range 2 {
		if _, err := pdf.Layout(doc, pdf.Options{Paper: pdf.Paper(paper)}); err != nil {
			t.Error(err)
		}
	}
}

func TestRanges(t *testing.T) {
	for want, ns := range map[string][]int{"": nil, "3": {3}, "3,\u00a04": {3, 4}, "3–5": {3, 4, 5}, "1,\u00a03–6,\u00a09": {1, 3, 4, 5, 6, 9}} {
		if got := ranges(ns); got != want {
			t.Errorf("%v: %q, want %q", ns, got, want)
		}
	}
}

func TestFlag(t *testing.T) {
	d := []*notebook.Decision{{On: 9, Follows: "a"}, {On: 3, Follows: "b"}, {On: 5, Follows: "a"}, {On: 9, Follows: "a"}, {On: 1, Follows: "a", Err: &notebook.Error{}}}
	for i, want := range map[int]int{0: 2, 1: 1, 2: 1, 3: 3} {
		if got := flag(d, d[i]); got != want {
			t.Errorf("decision %d has the flag %d, want %d", i, got, want)
		}
	}
}

// A question about one limb is answered in short with the figure and the table
// of that limb.
func TestOneLimbIsPrintedInShort(t *testing.T) {
	a := &answer.Answer{ID: "next", Method: "mixed", Short: "Limb P1L is expected at 9 ply.", Shown: "next-forecast",
		Figures: []*figure.Figure{{ID: "next"}, {ID: "next-forecast"}},
		Print:   []document.Block{document.Table{ID: "next"}, document.Table{ID: "next-forecast", Columns: make([]document.TableColumn, 2), Rows: [][]string{{"30 days", "9"}}}}}
	for shown, want := range map[string]string{"next-forecast": "next-forecast next-forecast", "": "next "} {
		a.Shown = shown
		b := briefing{report: &report{nb: &notebook.Notebook{}, answers: []*answer.Answer{a}}}
		b.parts([]notebook.Part{&notebook.Ask{ID: "next", Method: "mixed"}})
		drawn, printed := "", ""
		document.Walk(b.out, func(x document.Block) {
			switch x := x.(type) {
			case document.Row:
				drawn += x.Cells[0].Figure.ID
			case document.Table:
				printed += x.ID
			}
		})
		if got := drawn + " " + printed; got != want {
			t.Errorf("where %q is asked for, %q is printed, want %q", shown, got, want)
		}
	}
}
