package pdf

import (
	"fmt"
	"strings"

	"plybook/reports/document"
	"plybook/reports/typeface"
)

const rowPad = 2.7

// table is a caption, a head that is repeated on every page, rows and notes.
// Its rules are thin and horizontal only.
func (m *maker) table(t document.Table) ([]box, error) {
	if len(t.Columns) == 0 {
		return nil, fmt.Errorf("table %q has no columns", t.ID)
	}
	for r, row := range t.Rows {
		if len(row) > len(t.Columns) {
			return nil, fmt.Errorf("table %q: row %d has %d cells for %d columns", t.ID, r+1, len(row), len(t.Columns))
		}
	}
	name := ""
	if strings.TrimSpace(t.Caption) != "" {
		m.tables++
		name = fmt.Sprintf("Table %d", m.tables)
	}
	parts := m.plan(t)
	var out []box
	for i, l := range parts {
		made := m.tablePart(t, l, name, i, len(parts))
		out = append(out, made...)
	}
	notes := m.tableNotes(t)
	if len(notes) > 0 && len(out) > 0 {
		out[len(out)-1].keep = true
	}
	out = append(out, notes...)
	if len(out) > 0 {
		out[0].anchors = []string{m.target(t.ID)}
	}
	tall := 0.0
	for _, b := range out {
		tall += b.h + b.gap
	}
	if tall <= m.height*0.5 {
		for i := range len(out) - 1 {
			out[i].like = true
		}
	}
	return out, nil
}

func (m *maker) tableNotes(t document.Table) []box {
	var out []box
	for i, n := range t.Notes {
		gap := 1.0
		if i == 0 {
			gap = 4
		}
		lines := m.p.plainText(n, smallStyle, m.measure+40)
		made := m.lineBoxes(lines, smallStyle, 0, gap)
		for k := range made {
			made[k].keep = made[k].keep || i < len(t.Notes)-1
		}
		out = append(out, made...)
	}
	return out
}

// tablePart is the table, or as many of its columns as fit side by side.
func (m *maker) tablePart(t document.Table, l layout, name string, part, parts int) []box {
	st := textStyle{size: l.size, lead: l.size * tableLead, colour: ink}
	width := l.width()
	var out []box

	// Caption, above the table.
	if name != "" || parts > 1 {
		caption := []document.Span{{Text: "Table part", Bold: true}}
		if name != "" {
			caption = m.label("Table", m.tables, t.Caption)
		}
		if parts > 1 {
			caption = append(caption, document.Span{Text: fmt.Sprintf(" (part %d of %d)", part+1, parts)})
		}
		made := m.lineBoxes(m.p.setText(caption, captionStyle, m.measure+40), captionStyle, 0, 12)
		for i := range made {
			made[i].keep = true
		}
		made[len(made)-1].h += 3
		out = append(out, made...)
	}

	head := m.tableHead(t, l, st, width)
	again := head
	if name != "" {
		again.h += 12
		again.draw = func(p *pen, x, y float64) {
			p.text(x, baseline(y, smallStyle), typeface.Italic, smallStyle.size, grey, name+", continued")
			head.draw(p, x, y+12)
		}
	}
	head.keep = true
	if len(out) == 0 {
		head.gap = 12
	}
	out = append(out, head)

	rows := m.tableRows(t, l, st, width)
	for i := range rows {
		rows[i].head = &again
	}
	if len(rows) > 1 {
		rows[0].keep = true
		rows[len(rows)-2].keep = true
	}
	if len(rows) == 0 {
		empty := box{h: st.lead + 2*rowPad}
		empty.draw = func(p *pen, x, y float64) {
			p.text(x, baseline(y+rowPad, st), typeface.Italic, st.size, grey, "No rows.")
			p.rule(x, y+empty.h, width, 0.7, line)
		}
		rows = []box{empty}
	}
	return append(out, rows...)
}

// cell is a cell broken into lines.
func (m *maker) cell(text string, st textStyle, w float64) []textLine {
	lines := m.p.plainText(strings.TrimSpace(text), st, w)
	for len(lines) > 0 && len(lines[len(lines)-1].runs) == 0 {
		lines = lines[:len(lines)-1]
	}
	return lines
}

// drawCell sets the lines of a cell from x over a width.
func drawCell(p *pen, lines []textLine, x, y, w float64, align document.Align, st textStyle) {
	for i, l := range lines {
		at := x
		switch align {
		case document.Right:
			at = x + w - l.w
		case document.Center:
			at = x + (w-l.w)/2
		}
		p.drawLine(l, at, baseline(y+float64(i)*st.lead, st), st)
	}
}

func (m *maker) tableHead(t document.Table, l layout, st textStyle, width float64) box {
	hs := st
	hs.bold, hs.colour = true, accent
	cells := make([][]textLine, len(l.index))
	most := 1
	for i, c := range l.index {
		cells[i] = m.cell(t.Columns[c].Head, hs, l.w[i])
		most = max(most, len(cells[i]))
	}
	h := float64(most)*hs.lead + 2*rowPad + 1
	return box{h: h, draw: func(p *pen, x, y float64) {
		p.rule(x, y+0.4, width, 0.8, accent)
		at := x
		for i, c := range l.index {
			// Heads stand on the rule below them.
			top := y + h - rowPad - float64(len(cells[i]))*hs.lead
			drawCell(p, cells[i], at, top, l.w[i], t.Columns[c].Align, hs)
			at += l.w[i] + l.gap
		}
		p.rule(x, y+h, width, 0.5, line)
	}}
}

// longestRow is how many lines a row may have before it is parted.
const longestRow = 24

func (m *maker) tableRows(t document.Table, l layout, st textStyle, width float64) []box {
	strong := strongRows(t)
	var out []box
	for r, row := range t.Rows {
		rs := st
		rs.bold = strong[r]
		l := l
		group := t.GroupHead(r)
		if group { // it runs over all columns
			l = layout{index: []int{0}, w: []float64{width}, size: l.size}
		}
		cells := make([][]textLine, len(l.index))
		most := 1
		for i, c := range l.index {
			if c < len(row) {
				cells[i] = m.cell(row[c], rs, l.w[i])
			}
			most = max(most, len(cells[i]))
		}
		for from := 0; from < most; from += longestRow {
			to := min(most, from+longestRow)
			out = append(out, m.rowBox(t, l, rs, width, cells, from, to, from == 0 && r > 0, to == most && r == len(t.Rows)-1))
			out[len(out)-1].keep = group && r < len(t.Rows)-1
		}
	}
	return out
}

// rowBox is the lines from..to of a row. A row has a hairline above it,
// except below the head.
func (m *maker) rowBox(t document.Table, l layout, st textStyle, width float64, cells [][]textLine, from, to int, ruled, last bool) box {
	// A row that was parted goes on without room between its parts.
	top, bottom := rowPad, rowPad
	most := 0
	for _, c := range cells {
		most = max(most, len(c))
	}
	if from > 0 {
		top = 1
	}
	if to < most {
		bottom = 0
	}
	h := float64(to-from)*st.lead + top + bottom
	b := box{h: h, foot: func(p *pen, x, y float64) { p.rule(x, y, width, 0.7, line) }}
	b.draw = func(p *pen, x, y float64) {
		if ruled {
			if st.bold {
				p.rule(x, y, width, 0.5, line)
			} else {
				p.rule(x, y, width, 0.35, hair)
			}
		}
		at := x
		for i, c := range l.index {
			lines := cells[i]
			if from < len(lines) {
				drawCell(p, lines[from:min(to, len(lines))], at, y+top, l.w[i], t.Columns[c].Align, st)
			}
			at += l.w[i] + l.gap
		}
		if last {
			p.rule(x, y+h, width, 0.7, line)
		}
	}
	if last {
		b.foot = nil
	}
	return b
}
