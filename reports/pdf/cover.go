package pdf

import (
	"strconv"
	"strings"

	"plybook/reports/document"
	"plybook/reports/structure"
	"plybook/reports/typeface"
)

// cover is the block at the top of page one: mark, title, subtitle, facts.
func (m *maker) cover(doc *document.Document) []box {
	if m.brief {
		return m.briefCover(doc)
	}
	var out []box
	p := m.p
	out = append(out, box{h: 16, draw: func(p *pen, x, y float64) { p.rect(x, y, 46, 4, accent) }})
	if mark := strings.TrimSpace(doc.Mark); mark != "" {
		st := textStyle{size: 8.5, lead: 12, colour: ink, bold: true}
		lines := p.plainText(mark, st, m.measure-16)
		w := 0.0
		for _, l := range lines {
			w = max(w, l.w)
		}
		h := float64(len(lines))*st.lead + 6
		elem := m.element(structure.P)
		out = append(out, box{h: h + 10, keep: true, draw: func(p *pen, x, y float64) {
			p.frame(x+0.4, y, w+16, h, 0.8, ink)
			p.tags.in = elem
			for i, l := range lines {
				p.drawLine(l, x+8.4, baseline(y+3+float64(i)*st.lead, st), st)
			}
		}})
	}
	title := textStyle{size: 25, lead: 30, colour: accent, bold: true}
	out = append(out, m.lineBoxes(m.element(structure.H1), p.plainText(doc.Title, title, m.full), title, 0, 0)...)
	if doc.Subtitle != "" {
		st := textStyle{size: 13, lead: 18, colour: grey}
		out = append(out, m.lineBoxes(m.element(structure.P), p.plainText(doc.Subtitle, st, m.full), st, 0, 3)...)
	}
	if doc.Author != "" {
		st := textStyle{size: 10, lead: 14, colour: ink}
		out = append(out, m.lineBoxes(m.element(structure.P), p.plainText(doc.Author, st, m.full), st, 0, 6)...)
	}
	return append(out, m.facts(doc.Cover)...)
}

// facts are labels and texts in two columns, a hairline between pairs.
func (m *maker) facts(pairs []document.Pair) []box {
	labels := textStyle{size: 9, lead: 13, colour: grey}
	texts := textStyle{size: 9.5, lead: 13, colour: ink}
	wide := 0.0
	for _, c := range pairs {
		wide = max(wide, m.p.width(typeface.Regular, labels.size, m.p.m.Fit(typeface.Regular, c.Label)))
	}
	wide = min(wide+18, m.full*0.35)
	var out []box
	var list *structure.Element
	if len(pairs) > 0 {
		list = m.element(structure.Table)
	}
	for i, c := range pairs {
		row := list.Add(structure.Row)
		label, fact := row.Add(structure.HeadCell), row.Add(structure.Cell)
		label.Scope = structure.OfRow
		left := m.p.plainText(c.Label, labels, wide-12)
		right := m.p.plainText(c.Text, texts, m.full-wide)
		n := max(1, len(left), len(right))
		b := box{h: float64(n)*texts.lead + 6}
		if i == 0 {
			b.gap = 14
		}
		b.draw = func(p *pen, x, y float64) {
			p.rule(x, y, m.full, 0.35, hair)
			p.tags.in = label
			for k, l := range left {
				p.drawLine(l, x, baseline(y+3+float64(k)*texts.lead, texts), labels)
			}
			p.tags.in = fact
			for k, l := range right {
				p.drawLine(l, x+wide, baseline(y+3+float64(k)*texts.lead, texts), texts)
			}
			if i == len(pairs)-1 {
				p.rule(x, y+b.h, m.full, 0.35, hair)
			}
		}
		out = append(out, b)
	}
	return out
}

// contentsLeast is how many entries of the contents stand together on either
// side of a page's end.
const contentsLeast = 4

// contents lists the chapters and sections with their pages, in no more lines
// than most unless the chapters alone, or without a summary before them the
// sections, are more. The page of an
// entry is asked for when the contents are drawn, after everything has its
// page.
func (m *maker) contents(most int) []box {
	if m.brief {
		return nil
	}
	var out []box
	head := textStyle{size: 12.5, lead: 16, colour: ink, bold: true}
	deep := m.depth(most)
	if deep == 0 {
		return nil
	}
	title, list := m.element(structure.H2), m.element(structure.Contents)
	out = append(out, box{h: head.lead + 4, gap: 26, keep: true, draw: func(p *pen, x, y float64) {
		p.tags.in = title
		p.text(x, baseline(y, head), typeface.Bold, head.size, head.colour, "Contents")
	}})
	for i, e := range m.numbers.Entries {
		if e.Level > deep {
			continue
		}
		st := textStyle{size: 10, lead: 14, colour: ink, bold: e.Level == 1}
		indent, gap, col := 0.0, 5.0, 22.0
		if e.Level == 2 {
			st.size, st.lead = 9.5, 13
			indent, gap, col = 22, 1, 28
		}
		if e.Level == 3 {
			st.size, st.lead = 9, 12
			indent, gap, col = 50, 0.5, 34
		}
		if e.Number == "" {
			col = 0
		}
		lines := m.p.plainText(e.Text, st, m.full-indent-col-44)
		entry := list.Add(structure.Entry)
		id, known := m.p.links[e.ID]
		known = known && e.ID != ""
		number, title, page := entry.Add(structure.Label), (*structure.Element)(nil), (*structure.Element)(nil)
		if known {
			title = entry.Add(structure.Refers).Add(structure.Link)
			page = title
		} else {
			title, page = entry.Add(structure.P), entry.Add(structure.Label)
		}
		for k, l := range lines {
			b := box{h: st.lead, keep: k < len(lines)-1, part: costFront / 2}
			if k == 0 {
				b.gap = gap
			}
			b.draw = func(p *pen, x, y float64) {
				at := baseline(y, st)
				p.tags.in = number
				font := typeface.Pick(st.bold, false, false)
				if k == 0 {
					p.text(x+indent, at, font, st.size, accent, e.Number)
				}
				p.tags.in = title
				p.drawLine(l, x+indent+col, at, st)
				if known {
					p.pdf.Link(x, y, m.full, st.lead, id)
					p.clickable(title, e.Text)
				}
				if k == len(lines)-1 {
					n := strconv.Itoa(m.pageOf(i))
					w := p.width(font, st.size, n)
					p.tags.in = page
					p.text(x+m.full-w, at, font, st.size, ink, n)
					dots(p, x+indent+col+l.w+6, x+m.full-w-6, at-0.8)
				}
			}
			out = append(out, b)
		}
	}
	for k := range len(out) - 1 {
		if k < contentsLeast || k >= len(out)-contentsLeast {
			out[k].keep = true
		}
	}
	return out
}

// How many lines of contents are still looked through: where they open the
// report, and where they stand behind a summary with links of its own.
const (
	contentsMost   = 44
	contentsBehind = 26
)

// depth is the level down to which headings are listed in so many lines; 0:
// there are too few to list.
func (m *maker) depth(most int) int {
	n := [4]int{}
	for _, e := range m.numbers.Entries {
		for level := min(max(e.Level, 1), 4); level <= 3; level++ {
			n[level]++
		}
	}
	switch {
	case n[2] < 3:
		return 0
	case n[3] <= most:
		return 3
	case most == contentsBehind && n[2] > most:
		return 1
	}
	return 2
}

// dots lead the eye from an entry to its page. They are drawn, not set, so
// that they stay out of text taken from the page.
func dots(p *pen, from, to, y float64) {
	const step = 4.0
	start := float64(int(from/step)+1) * step
	if to-start < 3*step {
		return
	}
	p.tagPaint()
	p.raw("q", part(line.r), part(line.g), part(line.b), "RG 0.9 w 1 J [0", num(step)+"] 0 d",
		num(start), num(p.height-y), "m", num(to), num(p.height-y), "l S Q")
}
