package html

import (
	"strings"
	"testing"

	"plybook/reports/document"
	"plybook/reports/internal/specimen"
)

// A row is written question by question: head, answer, figure, what was
// decided, and the notes that its raised numbers point to.
func TestRowOnScreen(t *testing.T) {
	cell := func(id string) document.Cell {
		return document.Cell{ID: id, Number: "1.2", Question: "What of " + id + "?",
			Answer: []document.Paragraph{{Spans: []document.Span{{Text: "This."}, {Text: "1", Raised: true}}}},
			Lines:  []document.Line{{Mark: 3, Spans: []document.Span{{Text: "Decided <now>."}}}, {Plain: true, Spans: []document.Span{{Text: "A remark."}}}}}
	}
	with := cell("b")
	document.Walk(specimen.Report().Blocks, func(x document.Block) {
		if f, ok := x.(document.Figure); ok && with.Figure == nil {
			with.Figure = f.Figure
		}
	})
	doc := &document.Document{Title: "T", Blocks: []document.Block{
		document.Heading{Level: 1, Text: "One", ID: "one", Number: "4"},
		document.Paragraph{Spans: []document.Span{{Text: "to b", Link: "#b"}}},
		document.Row{Cells: []document.Cell{cell("a"), with}, Notes: []document.FootNote{{Number: 1, Text: "Few & far."}}}}}
	page := render(t, doc)
	parse(t, page)
	at := 0
	for _, want := range []string{`<span class="n">4</span> One`, `<a href="#b">to b</a>`, `<h3 id="a"><span class="n">1.2</span> What of a?</h3>`, "This.<sup>1</sup>",
		"<strong>3</strong> Decided &lt;now&gt;.", "<li>A remark.</li>", `<h3 id="b">`, "<svg", "<sup>1</sup> Few &amp; far."} {
		k := strings.Index(page[at:], want)
		if k < 0 {
			t.Fatalf("no %q behind what comes before it in\n%s", want, page)
		}
		at += k
	}
	if n := strings.Count(page, `<a href="#a">`); n != 1 {
		t.Errorf("the contents name the question %d times", n)
	}
}
