package notebook

import (
	"bufio"
	"bytes"
	"net/url"
	"strings"

	"github.com/yuin/goldmark/ast"
	tables "github.com/yuin/goldmark/extension/ast"
	"github.com/yuin/goldmark/renderer/html"

	"plybook/reports/document"
)

// writeText writes Markdown text as HTML does, which resolves backslashes and
// entities in one pass; the caller undoes HTML's own escapes.
func writeText(b *strings.Builder, src []byte) {
	var buf bytes.Buffer
	w := bufio.NewWriter(&buf)
	html.DefaultWriter.Write(w, src)
	if w.Flush() == nil { // a bytes.Buffer takes everything
		b.Write(buf.Bytes())
	}
}

// spans is the inline text of a block.
func (p *prose) spans(n ast.Node) []document.Span {
	return merge(p.inline(n, document.Span{}))
}

func (p *prose) inline(parent ast.Node, style document.Span) []document.Span {
	var out []document.Span
	put := func(s document.Span, t string) {
		if t != "" {
			s.Text = t
			out = append(out, s)
		}
	}
	for n := parent.FirstChild(); n != nil; n = n.NextSibling() {
		switch n := n.(type) {
		case *ast.Text:
			seg := n.Segment.Value(p.src)
			if n.IsRaw() {
				put(style, string(seg))
			} else {
				put(style, unescape(seg))
			}
			switch {
			case n.HardLineBreak():
				out = append(out, document.Span{Text: lineBreak})
			case n.SoftLineBreak():
				put(style, " ")
			}
		case *ast.String:
			put(style, string(n.Value))
		case *ast.CodeSpan:
			s := style
			s.Code = true
			var b strings.Builder
			for c := n.FirstChild(); c != nil; c = c.NextSibling() {
				if t, ok := c.(*ast.Text); ok {
					b.Write(t.Segment.Value(p.src))
				}
			}
			put(s, strings.ReplaceAll(b.String(), "\n", " "))
		case *ast.Emphasis:
			s := style
			if n.Level >= 2 {
				s.Bold = true
			} else {
				s.Italic = true
			}
			out = append(out, p.inline(n, s)...)
		case *ast.Link:
			s := style
			s.Link = p.link(string(n.Destination), n)
			out = append(out, p.inline(n, s)...)
		case *ast.AutoLink:
			s := style
			dest := string(n.URL(p.src))
			if n.AutoLinkType == ast.AutoLinkEmail && !strings.HasPrefix(dest, "mailto:") {
				dest = "mailto:" + dest
			}
			s.Link = p.link(dest, n)
			put(s, string(n.Label(p.src)))
		case *ast.Image:
			p.warn(p.offset(n), CodeDropped, "a picture is not shown in a report and was left out")
			out = append(out, p.inline(n, style)...) // its description
		case *ast.RawHTML:
			if n.Segments.Len() > 0 {
				seg := n.Segments.At(0)
				if !bytes.HasPrefix(seg.Value(p.src), []byte("<!--")) {
					p.warn(seg.Start, CodeDropped, "HTML is not shown in a report and was left out")
				}
			}
		default:
			out = append(out, p.inline(n, style)...)
		}
	}
	return out
}

// offset is where the first text within a node begins, or its block.
func (p *prose) offset(n ast.Node) int {
	for c := n.FirstChild(); c != nil; c = c.FirstChild() {
		if t, ok := c.(*ast.Text); ok {
			return t.Segment.Start
		}
	}
	for q := n; q != nil; q = q.Parent() {
		if q.Type() == ast.TypeBlock && q.Lines() != nil && q.Lines().Len() > 0 {
			return q.Lines().At(0).Start
		}
	}
	return 0
}

// link keeps the links that a report can hold: web, mail and the report
// itself. Anything else leaves its words without a link.
func (p *prose) link(dest string, n ast.Node) string {
	if id, ok := strings.CutPrefix(dest, "#"); ok {
		if plain, err := url.PathUnescape(id); err == nil {
			id = plain
		}
		p.links = append(p.links, localLink{id, p.pos(p.offset(n))})
		return "#" + id
	}
	if u, err := url.Parse(dest); err == nil {
		switch strings.ToLower(u.Scheme) {
		case "http", "https":
			if u.Host != "" {
				return dest
			}
		case "mailto":
			return dest
		}
	}
	p.warn(p.offset(n), CodeDropped, "a report links to the web, to mail and to itself: the words of this link are kept, the link is not")
	return ""
}

// merge joins neighbouring spans of one style and trims the ends.
func merge(spans []document.Span) []document.Span {
	var out []document.Span
	for _, s := range spans {
		if k := len(out) - 1; k >= 0 && s.Text != lineBreak && out[k].Text != lineBreak {
			same := out[k]
			same.Text = s.Text
			if same == s {
				out[k].Text += s.Text
				continue
			}
		}
		out = append(out, s)
	}
	if len(out) > 0 && out[0].Text != lineBreak {
		out[0].Text = strings.TrimLeft(out[0].Text, " ")
	}
	if k := len(out) - 1; k >= 0 && out[k].Text != lineBreak {
		out[k].Text = strings.TrimRight(out[k].Text, " ")
	}
	kept := out[:0]
	for _, s := range out {
		if s.Text != "" {
			kept = append(kept, s)
		}
	}
	return kept
}

// plain is the text of spans without style.
func plain(spans []document.Span) string {
	var b strings.Builder
	for _, s := range spans {
		if s.Text == lineBreak {
			b.WriteByte(' ')
			continue
		}
		b.WriteString(s.Text)
	}
	return strings.TrimSpace(b.String())
}

// table is a Markdown table.
func (p *prose) table(n ast.Node) (document.Table, bool) {
	src, ok := n.(*tables.Table)
	if !ok {
		return document.Table{}, false
	}
	var t document.Table
	for row := src.FirstChild(); row != nil; row = row.NextSibling() {
		var cells []string
		for c := row.FirstChild(); c != nil; c = c.NextSibling() {
			cells = append(cells, plain(p.spans(c)))
		}
		if _, head := row.(*tables.TableHeader); !head {
			for len(cells) < len(t.Columns) {
				cells = append(cells, "")
			}
			t.Rows = append(t.Rows, cells[:len(t.Columns)])
			continue
		}
		for i, head := range cells {
			col := document.TableColumn{Head: head}
			if i < len(src.Alignments) {
				switch src.Alignments[i] {
				case tables.AlignRight:
					col.Align = document.Right
				case tables.AlignCenter:
					col.Align = document.Center
				}
			}
			t.Columns = append(t.Columns, col)
		}
	}
	return t, true
}
