package pdf

import (
	"slices"
	"strings"

	"plybook/reports/document"
	"plybook/reports/structure"
)

// cell is a cell broken into lines.
func (m *maker) cell(text string, st textStyle, w float64) []textLine {
	lines := m.p.plainText(strings.TrimSpace(text), st, w)
	for len(lines) > 0 && len(lines[len(lines)-1].runs) == 0 {
		lines = lines[:len(lines)-1]
	}
	return lines
}

// drawCell sets the lines of a cell from x over a width.
func drawCell(p *pen, elem *structure.Element, lines []textLine, x, y, w float64, align document.Align, st textStyle) {
	p.tags.in = elem
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

func (m *maker) tableHead(elem *structure.Element, t document.Table, l layout, st textStyle, width float64) box {
	hs := st
	hs.bold, hs.colour = true, accent
	cells := make([][]textLine, len(l.index))
	heads := make([]*structure.Element, len(l.index))
	most := 1
	row := elem.Add(structure.Head).Add(structure.Row)
	for i, c := range l.index {
		heads[i] = row.Add(structure.HeadCell)
		heads[i].Scope = structure.OfColumn
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
			drawCell(p, heads[i], cells[i], at, top, l.w[i], t.Columns[c].Align, hs)
			at += l.w[i] + l.gap
		}
		p.rule(x, y+h, width, 0.5, line)
	}}
}

// padOf is the room above and below the text of a row.
func padOf(t document.Table) float64 {
	if t.ByHand {
		return rowPadByHand
	}
	if len(t.Rows) > denseRows {
		return rowPadDense
	}
	return rowPad
}

func blank(cell string) bool { return strings.TrimSpace(cell) == "" }

const indentStep = 9.0

// indentOf is how far a row stands in: its first cell starts with spaces.
func indentOf(row []string) float64 {
	if len(row) == 0 || blank(row[0]) || !strings.HasPrefix(row[0], " ") {
		return 0
	}
	return indentStep
}

// goesOn says whether a row belongs to the group that a row above it names:
// it stands in, or its first cell is empty.
func goesOn(t document.Table, r int) bool {
	if r <= 0 || r >= len(t.Rows) || len(t.Columns) < 2 {
		return false
	}
	row := t.Rows[r]
	return indentOf(row) > 0 || len(row) > 0 && blank(row[0])
}

// continued is the head of a table that is repeated above a row inside a
// group, with the name of that.
func (m *maker) continued(head box, group string, st textStyle, width, pad float64) *box {
	lines := m.cell(group+", continued", st, width)
	out := head
	out.h += float64(len(lines))*st.lead + 2*pad
	out.draw = func(p *pen, x, y float64) {
		head.draw(p, x, y)
		p.tags.again = true
		drawCell(p, nil, lines, x, y+head.h+pad, width, document.Left, st)
		p.tags.again = false
		p.rule(x, y+out.h, width, 0.35, hair)
	}
	return &out
}

// longestRow is how many lines a row may have before it is parted.
const longestRow = 24

func (m *maker) tableRows(body *structure.Element, t document.Table, l layout, st textStyle, width float64) []box {
	strong := strongRows(t)
	pad := padOf(t)
	var out []box
	heading := "" // of the group that a row may belong to
	for r, row := range t.Rows {
		rs := st
		rs.bold = strong[r]
		l := l
		group := t.GroupHead(r)
		if group { // it runs over all columns
			l = layout{index: []int{0}, w: []float64{width}, size: l.size}
		}
		cells := make([][]textLine, len(l.index))
		elems := rowElements(body, row, l, group, len(t.Columns))
		most := 1
		in := indentOf(row)
		for i, c := range l.index {
			if c < len(row) {
				w := l.w[i]
				if c == 0 {
					w -= in
				}
				if spans, ok := t.Spans[[2]int{r, c}]; ok {
					cells[i] = m.p.setText(spans, rs, w)
				} else {
					cells[i] = m.cell(row[c], rs, w)
				}
			}
			most = max(most, len(cells[i]))
		}
		// A row that heads others is not left alone at the foot of a page.
		heads := group || strong[r] && slices.ContainsFunc(row, blank)
		for from := 0; from < most; from += longestRow {
			to := min(most, from+longestRow)
			b := m.rowBox(t, l, rs, width, elems, cells, from, to, from == 0 && r > 0, to == most && r == len(t.Rows)-1, pad, in)
			b.keep = heads && r < len(t.Rows)-1
			b.inside = goesOn(t, r+1)
			if goesOn(t, r) {
				b.group = heading
			}
			out = append(out, b)
		}
		if !goesOn(t, r) && len(row) > 0 {
			heading = strings.TrimSpace(row[0])
		}
	}
	return out
}

// rowBox is the lines from..to of a row. A row has a hairline above it,
// except below the head.
func (m *maker) rowBox(t document.Table, l layout, st textStyle, width float64, elems []*structure.Element, cells [][]textLine, from, to int, ruled, last bool, pad, in float64) box {
	// A row that was parted goes on without room between its parts.
	top, bottom := pad, pad
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
			left := at
			if c == 0 && t.Columns[c].Align == document.Left {
				left += in
			}
			if from < len(lines) {
				drawCell(p, elems[i], lines[from:min(to, len(lines))], left, y+top, l.w[i], t.Columns[c].Align, st)
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
