package document

import "strings"

// Texts are the texts of blocks as a reader meets them, cell by cell and
// paragraph by paragraph, but for code. Empty ones are left out.
func Texts(blocks []Block) []string {
	var out []string
	put := func(texts ...string) {
		for _, t := range texts {
			if t != "" {
				out = append(out, t)
			}
		}
	}
	spans := func(list []Span) {
		var b strings.Builder
		for _, s := range list {
			b.WriteString(s.Text)
		}
		put(b.String())
	}
	paras := func(list []Paragraph) {
		for _, p := range list {
			spans(p.Spans)
		}
	}
	Walk(blocks, func(block Block) {
		switch b := block.(type) {
		case Heading:
			put(b.Text)
		case Paragraph:
			spans(b.Spans)
		case List:
			for _, item := range b.Items {
				spans(item)
			}
		case Table:
			put(b.Caption)
			for _, c := range b.Columns {
				put(c.Head)
			}
			for _, r := range b.Rows {
				put(r...)
			}
			put(b.Notes...)
		case Figure:
			put(b.Caption)
		case Note:
			put(b.Title)
			paras(b.Paras)
		case Row:
			for _, c := range b.Cells {
				put(c.Question)
				paras(c.Answer)
				for _, l := range c.Lines {
					spans(l.Spans)
				}
			}
			for _, n := range b.Notes {
				put(n.Text)
			}
		}
	})
	return out
}
