package pdf

import (
	"bytes"
	"image/color"
	"strings"
	"testing"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"plybook/reports/document"
	"plybook/reports/figure"
)

// flat is a figure that is a grey area of a size.
func flat(id string, width, height vg.Length) *figure.Figure {
	return &figure.Figure{ID: id, Title: id, Description: id, Width: width, Height: height, Draw: func(c draw.Canvas) {
		c.FillPolygon(color.Gray{Y: 200}, []vg.Point{c.Min, {X: c.Max.X, Y: c.Min.Y}, c.Max})
	}}
}

func inShort(id, answer string, f *figure.Figure) document.Cell {
	return document.Cell{ID: id, Number: "2.1", Question: "What of " + id + "?", Figure: f,
		Answer: []document.Paragraph{{Spans: []document.Span{{Text: answer}, {Text: "1–2", Raised: true}}}},
		Lines:  []document.Line{{Mark: 1, Spans: []document.Span{{Text: "Decided."}}}, {Plain: true, Spans: []document.Span{{Text: "A remark."}}}}}
}

var notes = []document.FootNote{{Number: 1, Text: "Few rows."}, {Number: 2, Text: "Trial limits."}}

// A row sets two questions beside each other, one beside its figure, and one
// with a wide figure or with none over the whole width.
func TestRow(t *testing.T) {
	m := testMaker()
	m.brief, m.measure = true, m.full
	long := strings.Repeat("words that run on ", 30)
	height := func(cells ...document.Cell) float64 {
		t.Helper()
		boxes, err := m.row(document.Row{Cells: cells, Notes: notes})
		if err != nil {
			t.Fatal(err)
		}
		for i, b := range boxes[:len(boxes)-1] {
			if b.heading == nil || b.h != 0 || !b.keep || b.heading.Text != cells[i].Question {
				t.Errorf("box %d: %+v", i, b)
			}
		}
		if len(boxes) != len(cells)+1 {
			t.Errorf("%d boxes for %d questions", len(boxes), len(cells))
		}
		return tall(boxes, false)
	}
	small := func(id string) *figure.Figure { return flat(id, figure.HalfWidth, 150) }
	a, b := inShort("a", "Short.", small("a")), inShort("b", long, small("b"))
	alone, pair := height(a), height(a, b)
	if other := height(b, a); other != pair {
		t.Errorf("a pair is %g high, and %g the other way round", pair, other)
	}
	if alone < 150 || alone > 190 {
		t.Errorf("a question beside its figure of 150 is %g high", alone)
	}
	if both := height(b); pair < both || pair < 150+120 {
		t.Errorf("a pair is %g high, the longer one alone %g", pair, both)
	}
	wide := height(inShort("wide", "Short.", flat("wide", figure.FullWidth, 150)))
	if wide < alone+20 {
		t.Errorf("a wide figure stands beside its text: %g high", wide)
	}
	if none := height(inShort("none", "Short.", nil)); none > 90 {
		t.Errorf("without a figure it is %g high", none)
	}
	if boxes, err := m.row(document.Row{}); err != nil || boxes != nil {
		t.Errorf("a row of nothing: %v %v", boxes, err)
	}
	boxes, err := m.row(document.Row{Cells: []document.Cell{{Lines: []document.Line{{Spans: []document.Span{{Text: "Decided."}}}}}}})
	if err != nil || len(boxes) != 1 || boxes[0].heading != nil {
		t.Errorf("a decision of no question: %+v %v", boxes, err)
	}
	if _, err := m.row(document.Row{Cells: []document.Cell{inShort("a", "x", &figure.Figure{ID: "a", Width: 10, Height: 10})}}); err == nil {
		t.Error("a figure that cannot be drawn is drawn")
	}
}

// A document in short has no contents, its rows are in the outline, links
// lead to them, and the same document gives the same bytes.
func TestBriefDocument(t *testing.T) {
	doc := &document.Document{Title: "Review", Subtitle: "Of the month", Author: "The lab", Mark: "Not for release", Brief: true, Date: "2026-06-30", Foot: "Data",
		Cover: []document.Pair{{Label: "Data to", Text: "30 June 2026"}, {Text: "1,000 rows"}},
		Blocks: []document.Block{document.Styled("small", "Small."), document.Heading{Level: 1, Text: "In short", ID: "s", Number: "1"},
			document.List{Items: [][]document.Span{{{Text: "See a", Link: "#a"}, {Text: " and the rest."}}}},
			document.Heading{Level: 1, Text: "Charts", ID: "c", Number: "2"},
			document.Row{Cells: []document.Cell{inShort("a", "Yes.", flat("fa", figure.HalfWidth, 140)), inShort("b", "No.", flat("fb", figure.HalfWidth, 120))}, Notes: notes},
			document.Styled("quiet", "Quiet.")}}
	raw := render(t, doc, Options{})
	if !bytes.Equal(raw, render(t, doc, Options{})) {
		t.Error("the same document gave other bytes")
	}
	f := read(t, raw)
	if len(f.pages) != 1 {
		t.Errorf("%d pages", len(f.pages))
	}
	pages, err := Layout(doc, Options{Paper: Letter})
	if err != nil || len(pages) != 1 {
		t.Errorf("%d pages on Letter: %v", len(pages), err)
	}
	if n := len(f.all("/Title ")); n != 5 {
		t.Errorf("%d titles, want those of the file, two chapters and two questions", n)
	}
	for _, want := range []string{"What of a?", "What of b?", "Read with care.", "Few rows.", "Decided.", "A remark.", "Data to", "1,000"} {
		if text := strings.ReplaceAll(f.text(0), "\u00a0", " "); !strings.Contains(text, want) {
			t.Errorf("the page lacks %q: %q", want, text)
		}
	}
	whole := *doc
	whole.Brief = false
	long, err := Layout(&whole, Options{})
	if err != nil || long[0].Full <= pages[0].Full {
		t.Errorf("in short it takes as much as at full size: %v, %v", pages, long)
	}
}
