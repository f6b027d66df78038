package pdf

import (
	"strconv"
	"strings"

	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/structure"
	"plybook/reports/typeface"
	"plybook/reports/vector"
)

// The type scale of a document in short: nothing below seven points but the
// marks of footnotes.
var (
	briefBody     = textStyle{size: 9.4, lead: 12.2, colour: ink}
	briefQuiet    = textStyle{size: 9, lead: 12, colour: grey}
	briefSmall    = textStyle{size: 8, lead: 10, colour: grey}
	briefQuestion = textStyle{size: 10, lead: 12.6, colour: ink, bold: true}
	briefLine     = textStyle{size: 8.5, lead: 10.6, colour: ink}
	briefNote     = textStyle{size: 8, lead: 9.9, colour: ink}
	briefHeads    = [3]textStyle{
		{size: 12.5, lead: 16, colour: accent, bold: true},
		{size: 10.5, lead: 13.5, colour: ink, bold: true},
		{size: 10, lead: 12.6, colour: ink, bold: true},
	}
	briefGaps = [3]float64{11, 8, 7}
)

const gutter = 17.0 // between the two columns

// What a tight document has of the size of type and of figures: 7.5 points of
// footnotes, and a little more than 7 of what is written on figures.
const (
	tightType   = 0.94
	tightFigure = 0.9
)

// fit is a style of a document in short as its type is set.
func (m *maker) fit(st textStyle) textStyle {
	if m.tight {
		st.size, st.lead = st.size*tightType, st.lead*tightType
	}
	return st
}

func (m *maker) briefParagraph(style string) (textStyle, float64) {
	switch style {
	case "small":
		return m.fit(briefSmall), 5
	case "quiet":
		return m.fit(briefQuiet), 4
	}
	return m.fit(briefBody), 4
}

// briefCover is title, mark and facts in as few lines as they need.
func (m *maker) briefCover(doc *document.Document) []box {
	p := m.p
	top := box{h: 15, keep: true, draw: func(p *pen, x, y float64) { p.rect(x, y, 46, 4, accent) }}
	if mark := strings.TrimSpace(doc.Mark); mark != "" {
		st := textStyle{size: 8.5, lead: 12, colour: ink, bold: true}
		lines := p.plainText(mark, st, m.full*0.7)
		w := 0.0
		for _, l := range lines {
			w = max(w, l.w)
		}
		h := float64(len(lines))*st.lead + 5
		top.h = max(top.h, h+4)
		bar, elem := top.draw, m.element(structure.P)
		top.draw = func(p *pen, x, y float64) {
			bar(p, x, y)
			p.frame(x+m.full-w-16.4, y, w+16, h, 0.8, ink)
			p.tags.in = elem
			for i, l := range lines {
				p.drawLine(l, x+m.full-w-8.4, baseline(y+2.5+float64(i)*st.lead, st), st)
			}
		}
	}
	out := []box{top}
	title := textStyle{size: 20, lead: 24, colour: accent, bold: true}
	out = append(out, m.lineBoxes(m.element(structure.H1), p.plainText(doc.Title, title, m.full), title, 0, 0)...)
	if s := strings.Join(kept(doc.Subtitle, doc.Author), " · "); s != "" {
		st := textStyle{size: 11, lead: 15, colour: grey}
		out = append(out, m.lineBoxes(m.element(structure.P), p.plainText(s, st, m.full), st, 0, 1)...)
	}
	var facts []string
	for _, c := range doc.Cover {
		facts = append(facts, strings.ReplaceAll(strings.TrimSpace(c.Label+" "+c.Text), " ", "\u00a0"))
	}
	if s := strings.Join(facts, "\u00a0· "); s != "" {
		out = append(out, m.lineBoxes(m.element(structure.P), p.plainText(s, m.fit(briefSmall), m.full), m.fit(briefSmall), 0, 4)...)
	}
	keepAll(out, m.height)
	return out
}

func kept(texts ...string) []string {
	var out []string
	for _, t := range texts {
		if t = strings.TrimSpace(t); t != "" {
			out = append(out, t)
		}
	}
	return out
}

// zone is a piece of a cell: how high it is, and how it is drawn.
type zone struct {
	h    float64
	draw func(p *pen, x, y float64)
}

// zones are the pieces of a cell, from the top.
type zones struct{ question, answer, figure, lines zone }

// stacked draws texts below one another, a part of elem.
func stacked(elem *structure.Element, lines []textLine, st textStyle) zone {
	return zone{float64(len(lines)) * st.lead, func(p *pen, x, y float64) {
		p.tags.in = elem
		for i, l := range lines {
			p.drawLine(l, x, baseline(y+float64(i)*st.lead, st), st)
		}
	}}
}

// below puts one zone under another.
func (z zone) below(next zone, gap float64) zone {
	if next.h == 0 {
		return z
	}
	if z.h == 0 {
		return next
	}
	at := z.h + gap
	return zone{at + next.h, func(p *pen, x, y float64) {
		z.draw(p, x, y)
		next.draw(p, x, y+at)
	}}
}

// row sets one question, or two beside each other, with the notes beneath. It
// is not parted: a page ends before it or behind it.
func (m *maker) row(r document.Row) ([]box, error) {
	if len(r.Cells) == 0 || len(r.Cells) > 2 {
		return nil, nil
	}
	slot := (m.full - gutter) / 2
	narrow := make([]bool, len(r.Cells))
	for i, c := range r.Cells {
		narrow[i] = c.Figure != nil && c.Figure.Width <= figure.HalfWidth+0.5
	}
	var z zone
	switch {
	case len(r.Cells) == 2:
		a, err := m.pieces(r.Cells[0], slot, slot)
		if err != nil {
			return nil, err
		}
		b, err := m.pieces(r.Cells[1], slot, slot)
		if err != nil {
			return nil, err
		}
		z = beside(a, b, slot+gutter)
	case narrow[0]:
		a, err := m.pieces(r.Cells[0], slot, slot)
		if err != nil {
			return nil, err
		}
		text := a.question.below(a.answer, 2).below(a.lines, 5)
		z = zone{max(text.h, a.figure.h), func(p *pen, x, y float64) {
			text.draw(p, x, y)
			a.figure.draw(p, x+slot+gutter, y+2)
		}}
	default:
		a, err := m.pieces(r.Cells[0], m.measure, m.full)
		if err != nil {
			return nil, err
		}
		z = a.question.below(a.answer, 2).below(a.figure, 6).below(a.lines, 5)
	}
	z = z.below(m.footNotes(r.Notes), 5)
	var out []box
	for _, c := range r.Cells {
		if strings.TrimSpace(c.Question) == "" {
			continue
		}
		out = append(out, box{keep: true, section: true, anchors: []string{m.target(c.ID)},
			heading: &document.Entry{Number: c.Number, Text: c.Question, ID: c.ID, Level: 2}})
	}
	out = append(out, box{h: z.h, draw: z.draw, part: costBlock})
	out[0].gap = 8
	return out, nil
}

// beside sets two cells side by side, like pieces on one level.
func beside(a, b zones, step float64) zone {
	pair := func(l, r zone) zone {
		return zone{max(l.h, r.h), func(p *pen, x, y float64) {
			l.draw(p, x, y)
			r.draw(p, x+step, y)
		}}
	}
	return pair(a.question, b.question).below(pair(a.answer, b.answer), 2).below(pair(a.figure, b.figure), 5).below(pair(a.lines, b.lines), 3)
}

// pieces makes the pieces of a cell: its text in one width, its figure in
// another.
func (m *maker) pieces(c document.Cell, text, wide float64) (zones, error) {
	none := stacked(nil, nil, briefBody)
	out := zones{answer: none, figure: none, lines: none}
	var head []document.Span
	if c.Number != "" {
		head = []document.Span{{Text: c.Number + "\u00a0 "}}
	}
	out.question = stacked(m.element(structure.H3), m.p.setText(append(head, document.Span{Text: c.Question}), m.fit(briefQuestion), text), m.fit(briefQuestion))
	for _, para := range c.Answer {
		st, gap := m.briefParagraph(para.Style)
		out.answer = out.answer.below(stacked(m.element(structure.P), m.p.setText(para.Spans, st, text), st), gap-2)
	}
	if c.Figure != nil {
		if err := vector.Check(c.Figure); err != nil {
			return out, err
		}
		w, h := c.Figure.Width.Points(), c.Figure.Height.Points()
		scale := min(1, wide/w, max(60, m.height*0.8)/h)
		if m.tight {
			scale = min(scale, tightFigure)
		}
		if scale > 0.995 {
			scale = 1
		}
		elem := m.element(structure.Figure)
		elem.Alt = alternative(c.Figure)
		out.figure = zone{h * scale, func(p *pen, x, y float64) {
			p.tags.in = elem
			p.drawFigure(c.Figure, x, y, scale)
		}}
	}
	for _, l := range c.Lines {
		out.lines = out.lines.below(m.markedLine(l, text), 3)
	}
	return out, nil
}

// markRadius is that of the disc that a flag of a figure has.
const markRadius = 5.6

// markedLine is a line behind the number of its flag, or behind a bar where
// it has none.
func (m *maker) markedLine(l document.Line, width float64) zone {
	const indent = 2*markRadius + 5
	line := m.fit(briefLine)
	if l.Plain {
		st := line
		st.colour = grey
		return stacked(m.element(structure.P), m.p.setText(l.Spans, st, width), st)
	}
	elem := m.element(structure.P)
	text := stacked(elem, m.p.setText(l.Spans, line, width-indent), line)
	text.h = max(text.h, 2*markRadius)
	return zone{text.h, func(p *pen, x, y float64) {
		if l.Mark > 0 {
			p.disc(x+markRadius, y+line.lead/2, markRadius, ink)
			n := strconv.Itoa(l.Mark)
			p.tags.in = elem
			p.text(x+markRadius-p.width(typeface.Bold, 8, n)/2, y+line.lead/2+8*0.358, typeface.Bold, 8, white, n)
		} else {
			p.rect(x+markRadius-2, y+1.5, 4, line.lead-3, accent)
		}
		text.draw(p, x+indent, y)
	}}
}

// footNotes run on in one paragraph across the page, each behind its number.
func (m *maker) footNotes(notes []document.FootNote) zone {
	if len(notes) == 0 {
		return zone{}
	}
	spans := []document.Span{{Text: "Read with care.", Bold: true}}
	for _, n := range notes {
		spans = append(spans, document.Span{Text: "  "}, document.Span{Text: strconv.Itoa(n.Number) + "\u00a0", Raised: true, Bold: true}, document.Span{Text: n.Text})
	}
	text := stacked(m.element(structure.P), m.p.setText(spans, m.fit(briefNote), m.full), m.fit(briefNote))
	return zone{text.h + 3, func(p *pen, x, y float64) {
		p.rule(x, y, m.full, 0.35, hair)
		text.draw(p, x, y+3)
	}}
}
