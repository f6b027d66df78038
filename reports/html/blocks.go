package html

import (
	"fmt"
	"strconv"
	"strings"

	"plybook/reports/document"
)

func (p *page) closeSections(level int) {
	for n := len(p.sections); n > 0 && p.sections[n-1] >= level; n-- {
		p.put("</section>\n")
		p.sections = p.sections[:n-1]
	}
}

func (p *page) blocks(list []document.Block) error {
	for _, b := range list {
		switch b := b.(type) {
		case document.Heading:
			p.heading(b)
		case document.Paragraph:
			p.paragraph(b)
		case document.List:
			p.list(b)
		case document.Table:
			if err := p.table(b); err != nil {
				return err
			}
		case document.Figure:
			if err := p.figure(b); err != nil {
				return err
			}
		case document.Row:
			if err := p.row(b); err != nil {
				return err
			}
		case document.Note:
			p.note(b)
		case document.Code:
			p.put("<pre tabindex=\"0\"><code>", text(strings.TrimRight(b.Text, "\n ")), "</code></pre>\n")
		case document.PageBreak, document.Contents:
			p.turn = true
		case document.KeepTogether:
			// Headings inside may open sections that go on behind it, so it
			// makes no element of its own.
			if err := p.blocks(b.Blocks); err != nil {
				return err
			}
		default:
			return fmt.Errorf("a block of a kind that cannot be written: %T", b)
		}
	}
	return nil
}

func (p *page) heading(h document.Heading) {
	number := p.numbers.Headings[p.heads]
	p.heads++
	p.head(h, number)
}

// row sets its questions below one another: a screen may be narrow.
func (p *page) row(r document.Row) error {
	for _, c := range r.Cells {
		p.head(document.Heading{Level: 2, Text: c.Question, ID: c.ID}, c.Number)
		for _, para := range c.Answer {
			p.paragraph(para)
		}
		if c.Figure != nil {
			if err := p.figure(document.Figure{Figure: c.Figure}); err != nil {
				return err
			}
		}
		if len(c.Lines) == 0 {
			continue
		}
		p.put("<ul>\n")
		for _, l := range c.Lines {
			p.put("<li>")
			if l.Mark > 0 {
				p.put("<strong>", strconv.Itoa(l.Mark), "</strong> ")
			}
			p.spans(l.Spans)
			p.put("</li>\n")
		}
		p.put("</ul>\n")
	}
	for _, n := range r.Notes {
		p.put(`<p class="small"><sup>`, strconv.Itoa(n.Number), "</sup> ", text(n.Text), "</p>\n")
	}
	return nil
}

func (p *page) head(h document.Heading, number string) {
	level := min(max(h.Level, 1), 3)
	if strings.TrimSpace(h.Text) == "" {
		return
	}
	p.closeSections(level)
	// A level that was skipped is read as the next one down.
	tag := "h" + strconv.Itoa(min(level, len(p.sections)+1)+1)
	id := p.id(h.ID, "section")
	class := ""
	if p.turn {
		class, p.turn = ` class="turn"`, false
	}
	p.put("<section", class, ` aria-labelledby="`, id, "\">\n<", tag, ` id="`, id, `">`)
	if number != "" {
		p.put(`<span class="n">`, number, "</span> ")
	}
	p.put(text(h.Text), "</", tag, ">\n")
	p.sections = append(p.sections, level)
}

func (p *page) spans(spans []document.Span) {
	for _, s := range spans {
		link := p.link(s.Link)
		if link != "" {
			p.put(`<a href="`, link, `">`)
		}
		open, shut := "", ""
		for _, t := range []struct {
			on  bool
			tag string
		}{{s.Bold, "strong"}, {s.Italic, "em"}, {s.Code, "code"}, {s.Raised, "sup"}} {
			if t.on {
				open += "<" + t.tag + ">"
				shut = "</" + t.tag + ">" + shut
			}
		}
		p.put(open, strings.ReplaceAll(text(s.Text), "\n", "<br>"), shut)
		if link != "" {
			p.put("</a>")
		}
	}
}

// link is an address that may be followed, or nothing: a place in the report
// that exists, a page on the web, an address for mail.
func (p *page) link(s string) string {
	if id, ok := strings.CutPrefix(s, "#"); ok {
		if id = slug(id); p.targets[id] {
			return "#" + id
		}
		return ""
	}
	for _, scheme := range []string{"https://", "http://", "mailto:"} {
		if len(s) > len(scheme) && strings.EqualFold(s[:len(scheme)], scheme) {
			return text(s)
		}
	}
	return ""
}

func (p *page) paragraph(b document.Paragraph) {
	class := ""
	switch b.Style {
	case "lead", "small", "quiet":
		class = ` class="` + b.Style + `"`
	}
	p.put("<p", class, ">")
	p.spans(b.Spans)
	p.put("</p>\n")
}

func (p *page) list(b document.List) {
	tag := "ul"
	if b.Ordered {
		tag = "ol"
	}
	p.put("<", tag, ">\n")
	for _, item := range b.Items {
		p.put("<li>")
		p.spans(item)
		p.put("</li>\n")
	}
	p.put("</", tag, ">\n")
}

// words are the kinds of note, each by its word.
var words = map[string]string{"caution": "Caution", "error": "Error", "decision": "Decision", "safety": "Safety", "info": "Note"}

func (p *page) note(b document.Note) {
	kind := b.Kind
	if words[kind] == "" {
		kind = "info"
	}
	title := words[kind]
	if b.Title != "" && b.Title != title {
		title += ": " + b.Title
	}
	p.put(`<div class="note `, kind, `" role="note" aria-label="`, text(words[kind]), "\">\n<p>", text(title), "</p>\n")
	if kind == "caution" && len(b.Paras) > 1 {
		p.put("<ul>\n")
		for _, para := range b.Paras {
			p.put("<li>")
			p.spans(para.Spans)
			p.put("</li>\n")
		}
		p.put("</ul>\n</div>\n")
		return
	}
	for _, para := range b.Paras {
		p.paragraph(para)
	}
	p.put("</div>\n")
}
