package batch

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"plybook/reports/document"
	"plybook/reports/notebook"
	"plybook/reports/pdf"
)

// flat are the blocks of a document as pages count them.
func flat(doc *document.Document) []document.Block {
	var out []document.Block
	document.Walk(doc.Blocks, func(b document.Block) { out = append(out, b) })
	return out
}

// remark says whether a block tells of what stands before it: a caution, or
// small print such as the method.
func remark(b document.Block) bool {
	switch b := b.(type) {
	case document.Note:
		return b.Kind == "caution"
	case document.Paragraph:
		return b.Style == "small"
	}
	return false
}

// shown says whether a block is a table or a figure.
func shown(b document.Block) bool {
	switch b.(type) {
	case document.Table, document.Figure:
		return true
	}
	return false
}

// On paper everything stands in the order of the report: answer, figures,
// tables, caution, method; no chapter opens at the foot of a page without its
// first answer, and hardly a page begins with remarks on what was before.
func TestOrderInPrint(t *testing.T) {
	for _, name := range []string{"quality.md", "workshop.md", "research.md", "annual.md"} {
		r, doc := exampleReport(t, name)
		if r.nb.Front.Print == notebook.Short {
			r.nb.Front.Print = notebook.Full
			doc = assemble(r)
		}
		blocks := flat(doc)
		for i, b := range blocks {
			p, ok := blocks[max(0, i-1)].(document.Paragraph)
			source := ok && !strings.HasPrefix(plain(p.Spans), "Method.") // of the table before
			if i > 0 && shown(b) && remark(blocks[i-1]) && !source {
				t.Errorf("%s: block %d, a %T, stands behind a caution or a method", name, i, b)
			}
		}
		for paper, o := range map[string]pdf.Options{"A4": {}, "Letter": {Paper: pdf.Letter}} {
			pages, err := pdf.Layout(doc, o)
			if err != nil {
				t.Fatal(err)
			}
			at, alone := -1, 0
			for n, p := range pages {
				page := fmt.Sprintf("%s on %s, page %d of %d", name, paper, n+1, len(pages))
				if !slices.IsSorted(p.Blocks) || len(p.Blocks) > 0 && p.Blocks[0] < at {
					t.Errorf("%s: blocks %v behind %d", page, p.Blocks, at)
				}
				if len(p.Blocks) == 0 {
					continue
				}
				goesOn := p.Blocks[0] == at
				first := blocks[p.Blocks[0]]
				if n > 0 && !goesOn && remark(first) {
					alone++
				}
				at = p.Blocks[len(p.Blocks)-1]
				// The last heading on the page, and what stands beneath it.
				for k := len(p.Blocks) - 1; k >= 0; k-- {
					h, ok := blocks[p.Blocks[k]].(document.Heading)
					if !ok {
						continue
					}
					if k == len(p.Blocks)-1 {
						t.Errorf("%s ends with the heading %q", page, h.Text)
					}
					seen := slices.ContainsFunc(p.Blocks[k:], func(i int) bool { return shown(blocks[i]) })
					if next := at + 1; next < len(blocks) && h.Level == 1 && !seen {
						if under, ok := blocks[next].(document.Heading); ok && under.Level > 1 {
							t.Errorf("%s ends with the chapter %q, and %q begins overleaf", page, h.Text, under.Text)
						}
					}
					break
				}
				// The running head names the chapter of what stands first.
				chapter := ""
				for k := p.Blocks[0]; k >= 0; k-- {
					if h, ok := blocks[k].(document.Heading); ok && h.Level == 1 {
						chapter = h.Text
						break
					}
				}
				if cut := min(len(chapter), 24); !strings.Contains(p.Head, chapter[:cut]) || chapter == "" && goesOn && p.Head != "" {
					t.Errorf("%s begins in %q, and its head is %q", page, chapter, p.Head)
				}
			}
			if alone > 3 {
				t.Errorf("%s on %s: %d of %d pages begin with remarks on the page before", name, paper, alone, len(pages))
			}
		}
	}
}

// A report that has a summary opens with it; the contents follow.
func TestSummaryBeforeContents(t *testing.T) {
	_, doc := exampleReport(t, "annual.md")
	blocks := flat(doc)
	short := slices.IndexFunc(blocks, func(b document.Block) bool { h, ok := b.(document.Heading); return ok && h.ID == "in-short" })
	list := slices.IndexFunc(blocks, func(b document.Block) bool { _, ok := b.(document.Contents); return ok })
	if short < 0 || list < short {
		t.Fatalf("the summary is block %d, the contents are block %d", short, list)
	}
	for paper, o := range map[string]pdf.Options{"A4": {}, "Letter": {Paper: pdf.Letter}} {
		pages, err := pdf.Layout(doc, o)
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Contains(pages[0].Blocks, short+1) {
			t.Errorf("%s: page 1 holds the blocks %v, and no answer", paper, pages[0].Blocks)
		}
		if !slices.Contains(pages[1].Blocks, list) || slices.Contains(pages[2].Blocks, list) {
			t.Errorf("%s: the contents, block %d, are not on page 2: %v, %v", paper, list, pages[1].Blocks, pages[2].Blocks)
		}
	}
}
