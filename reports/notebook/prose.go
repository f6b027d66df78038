package notebook

import (
	"html"
	"sort"
	"strings"
	"unicode"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/extension"
	"github.com/yuin/goldmark/parser"
	"github.com/yuin/goldmark/text"

	"plybook/reports/document"
)

// prose turns Markdown into the blocks of a document. What a report has no
// block for (raw HTML, images) is dropped with a warning.
type prose struct {
	md       goldmark.Markdown
	refs     []parser.Reference
	warnings []Error
	ids      map[string]int // slugs used so far
	links    []localLink
	chunk    chunk
	src      []byte
}

// localLink is a link within the notebook, checked once all is read.
type localLink struct {
	id  string
	pos Pos
}

func newProse(chunks []chunk) *prose {
	p := &prose{md: goldmark.New(goldmark.WithExtensions(extension.Table)), ids: map[string]int{}}
	// A link may be defined beyond the next ask: the definitions of all
	// chunks are known in each.
	for _, c := range chunks {
		if c.kind == "prose" {
			pc := parser.NewContext()
			p.md.Parser().Parse(text.NewReader([]byte(c.body.source())), parser.WithContext(pc))
			p.refs = append(p.refs, pc.References()...)
		}
	}
	return p
}

func (p *prose) read(c chunk) []document.Block {
	p.chunk, p.src = c, []byte(c.body.source())
	pc := parser.NewContext()
	for _, r := range p.refs {
		pc.AddReference(r)
	}
	root := p.md.Parser().Parse(text.NewReader(p.src), parser.WithContext(pc))
	return p.blocks(root)
}

// pos is the place in the notebook of a byte of the chunk.
func (p *prose) pos(offset int) Pos {
	offset = max(0, min(offset, len(p.src)))
	before := string(p.src[:offset])
	line := strings.Count(before, "\n") + 1
	return p.chunk.body.at(line, column(before[strings.LastIndexByte(before, '\n')+1:], len(before)))
}

func (p *prose) warn(offset int, code, text string) {
	p.warnings = append(p.warnings, Error{Pos: p.pos(offset), Code: code, Text: text})
}

func (p *prose) blocks(parent ast.Node) []document.Block {
	var out []document.Block
	for n := parent.FirstChild(); n != nil; n = n.NextSibling() {
		out = append(out, p.block(n)...)
	}
	return out
}

func (p *prose) block(n ast.Node) []document.Block {
	switch n := n.(type) {
	case *ast.Heading:
		title := plain(p.spans(n))
		if title == "" {
			return nil
		}
		return []document.Block{document.Heading{Level: n.Level, Text: title, ID: p.slug(title)}}
	case *ast.Paragraph, *ast.TextBlock:
		return p.paragraphs(n)
	case *ast.List:
		return []document.Block{document.List{Ordered: n.IsOrdered(), Items: p.items(n, "")}}
	case *ast.CodeBlock:
		return []document.Block{document.Code{Text: p.lines(n)}}
	case *ast.FencedCodeBlock:
		if w := strings.ToLower(string(n.Language(p.src))); w == "ask" || w == "decision" {
			p.warn(n.Info.Segment.Start, CodeNotRun, "this "+w+" stands inside a quotation and is not run")
		}
		return []document.Block{document.Code{Text: p.lines(n)}}
	case *ast.Blockquote:
		return p.quotation(n)
	case *ast.HTMLBlock:
		if raw := p.lines(n); n.Lines().Len() > 0 && !strings.HasPrefix(strings.TrimSpace(raw), "<!--") {
			p.warn(n.Lines().At(0).Start, CodeDropped, "HTML is not shown in a report and was left out")
		}
		return nil
	}
	if t, ok := p.table(n); ok {
		return []document.Block{t}
	}
	return nil
}

// paragraphs is one paragraph, or several where it is broken by force.
func (p *prose) paragraphs(n ast.Node) []document.Block {
	var out []document.Block
	for _, spans := range splitBreaks(p.spans(n)) {
		if plain(spans) != "" {
			out = append(out, document.Paragraph{Spans: spans})
		}
	}
	return out
}

// lineBreak marks a forced line break between spans.
const lineBreak = "\n"

func splitBreaks(spans []document.Span) [][]document.Span {
	out := [][]document.Span{nil}
	for _, s := range spans {
		if s.Text == lineBreak {
			out = append(out, nil)
			continue
		}
		out[len(out)-1] = append(out[len(out)-1], s)
	}
	return out
}

// items flattens a list: the items of a list within an item follow it with
// a dash before them.
func (p *prose) items(list ast.Node, mark string) [][]document.Span {
	var out [][]document.Span
	for it := list.FirstChild(); it != nil; it = it.NextSibling() {
		var own []document.Span
		var inner [][]document.Span
		for c := it.FirstChild(); c != nil; c = c.NextSibling() {
			if l, ok := c.(*ast.List); ok {
				inner = append(inner, p.items(l, mark+"– ")...)
				continue
			}
			for _, b := range p.block(c) {
				if s := spansOf(b); len(s) > 0 {
					if len(own) > 0 {
						own = append(own, document.Span{Text: " "})
					}
					own = append(own, s...)
				}
			}
		}
		if len(own) > 0 {
			if mark != "" {
				own = append([]document.Span{{Text: mark}}, own...)
			}
			out = append(out, merge(own))
		}
		out = append(out, inner...)
	}
	return out
}

// spansOf is the text of a block as a run of spans, for places that hold no
// blocks.
func spansOf(b document.Block) []document.Span {
	switch b := b.(type) {
	case document.Paragraph:
		return b.Spans
	case document.Heading:
		return []document.Span{{Text: b.Text, Bold: true}}
	case document.Code:
		return []document.Span{{Text: strings.TrimRight(b.Text, "\n"), Code: true}}
	case document.Note:
		var out []document.Span
		for i, q := range b.Paras {
			if i > 0 {
				out = append(out, document.Span{Text: " "})
			}
			out = append(out, q.Spans...)
		}
		return out
	case document.Table:
		cells := make([]string, 0, len(b.Columns))
		for _, c := range b.Columns {
			cells = append(cells, c.Head)
		}
		rows := []string{strings.Join(cells, ", ")}
		for _, r := range b.Rows {
			rows = append(rows, strings.Join(r, ", "))
		}
		return []document.Span{{Text: strings.Join(rows, "; ")}}
	}
	return nil
}

// quotation is a boxed remark.
func (p *prose) quotation(n ast.Node) []document.Block {
	note := document.Note{Kind: "info"}
	for _, b := range p.blocks(n) {
		switch b := b.(type) {
		case document.List:
			for _, it := range b.Items {
				note.Paras = append(note.Paras, document.Paragraph{Spans: append([]document.Span{{Text: "• "}}, it...)})
			}
		default:
			if s := spansOf(b); len(s) > 0 {
				note.Paras = append(note.Paras, document.Paragraph{Spans: s})
			}
		}
	}
	if len(note.Paras) == 0 {
		return nil
	}
	return []document.Block{note}
}

func (p *prose) lines(n ast.Node) string {
	var b strings.Builder
	for i := 0; i < n.Lines().Len(); i++ {
		s := n.Lines().At(i)
		b.Write(s.Value(p.src))
	}
	return strings.TrimRight(b.String(), "\n")
}

// slug makes the unique id of a heading.
func (p *prose) slug(title string) string {
	var b strings.Builder
	dash := false
	for _, r := range strings.ToLower(title) {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			if dash && b.Len() > 0 {
				b.WriteByte('-')
			}
			b.WriteRune(r)
			dash = false
		} else {
			dash = true
		}
	}
	s := b.String()
	if s == "" {
		s = "section"
	}
	id := s
	for p.ids[id] > 0 { // "one" may be "one-2" by now, which may be a heading too
		p.ids[s]++
		id = s + "-" + itoa(p.ids[s])
	}
	p.ids[id]++
	return "s-" + id
}

// finish leads the links within the notebook to their ends: an ask keeps its
// id, a heading has the prefix of headings.
func (p *prose) finish(nb *Notebook) {
	asks := map[string]bool{}
	var known []string
	for _, a := range nb.Asks() {
		if a.ID != "" {
			asks[a.ID] = true
			known = append(known, a.ID)
		}
	}
	target := map[string]string{}
	for id := range p.ids {
		known = append(known, id)
		if !asks[id] {
			target[id] = "#s-" + id
		}
	}
	for _, l := range p.links {
		if !asks[l.id] && target[l.id] == "" {
			w := Error{Pos: l.pos, Code: CodeUnknownID, Text: "this link leads to " + quote(l.id) + ", which is no ask or heading of the notebook"}
			if w.Nearest = Nearest(l.id, known); w.Nearest != "" {
				w.Text += "; did you mean " + quote(w.Nearest) + "?"
			}
			p.warnings = append(p.warnings, w)
		}
	}
	relink := func(spans []document.Span) {
		for i, s := range spans {
			id, local := strings.CutPrefix(s.Link, "#")
			switch {
			case !local || asks[id]:
			default:
				spans[i].Link = target[id] // empty where there is no such end
			}
		}
	}
	for _, part := range nb.Parts {
		if q, ok := part.(Prose); ok {
			eachSpans(q.Blocks, relink)
		}
	}
}

func eachSpans(blocks []document.Block, do func([]document.Span)) {
	for _, b := range blocks {
		switch b := b.(type) {
		case document.Paragraph:
			do(b.Spans)
		case document.List:
			for _, it := range b.Items {
				do(it)
			}
		case document.Note:
			for _, q := range b.Paras {
				do(q.Spans)
			}
		}
	}
}

func sortWarnings(w []Error) {
	sort.SliceStable(w, func(i, j int) bool { return w[i].Pos.Before(w[j].Pos) })
}

// unescape is the text that Markdown means by a run of source: backslashes
// and entities resolved.
func unescape(src []byte) string {
	var b strings.Builder
	writeText(&b, src)
	return html.UnescapeString(b.String())
}
