package pdf

import (
	"fmt"
	"strings"

	"plybook/reports/document"
	"plybook/reports/structure"
	"plybook/reports/typeface"
)

const (
	rowPad       = 2.7
	rowPadByHand = 5.5 // room to write
	rowPadDense  = 1.5 // in a table of more rows than denseRows
	denseRows    = 24
)

// What it costs to part a table at the foot of a page.
const (
	costShort  = 9.0 // of few rows
	costMiddle = 3.0 // shorter than half a page or so
	costTable  = 0.5
	costGroup  = 1.5 // inside a group of rows
	costFew    = 5.0 // so that fewRows rows or fewer stand alone
	fewRows    = 3
	shortRows  = 12
)

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
		name = "Table\u00a0" + m.tables.Next(t.Further)
	}
	var out []box
	if folded, ok := m.folded(t, name); ok {
		out = folded
	} else {
		parts := m.plan(t)
		for i, l := range parts {
			out = append(out, m.tablePart(t, l, name, i, len(parts))...)
		}
	}
	notes := m.tableNotes(t)
	if len(notes) > 0 && len(out) > 0 {
		out[len(out)-1].keep = true
	}
	out = append(out, notes...)
	if len(out) > 0 {
		out[0].anchors = []string{m.target(t.ID)}
	}
	m.floats++
	for i := range out {
		out[i].float = m.floats
	}
	out[len(out)-1].part = costBlock
	return out, nil
}

// partRows sets what it costs to part a table between its rows.
func (m *maker) partRows(rows []box) {
	if len(rows) == 0 {
		return
	}
	cost := costTable
	switch high := tall(rows, false); {
	case len(rows) <= shortRows && high < m.height*0.45:
		cost = costShort
	case high < m.height*0.6:
		cost = costMiddle
	}
	for k := range rows {
		rows[k].part = cost
		if rows[k].inside {
			rows[k].part += costGroup
		}
		if k < fewRows || k >= len(rows)-1-fewRows {
			rows[k].part += costFew
		}
	}
}

func (m *maker) tableNotes(t document.Table) []box {
	var out []box
	for i, n := range t.Notes {
		gap := 1.0
		if i == 0 {
			gap = 4
		}
		lines := m.p.plainText(n, smallStyle, m.measure+40)
		made := m.lineBoxes(m.element(structure.P), lines, smallStyle, 0, gap)
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
	elem := m.element(structure.Table)
	out := m.tableCaption(elem, t, name, part, parts)
	head := m.tableHead(elem, t, l, st, width)
	again := head
	if name != "" {
		again.h += 12
		again.draw = func(p *pen, x, y float64) {
			p.tags.in = nil
			p.text(x, baseline(y, smallStyle), typeface.Italic, smallStyle.size, grey, name+", continued")
			head.draw(p, x, y+12)
		}
	}
	// A head that comes again heads nothing new.
	shown := again.draw
	again.draw = func(p *pen, x, y float64) {
		p.tags.again = true
		shown(p, x, y)
		p.tags.again = false
	}
	head.keep = true
	if len(out) == 0 {
		head.gap = 12
	}
	out = append(out, head)

	body := elem.Add(structure.Body)
	rows := m.tableRows(body, t, l, st, width)
	m.partRows(rows)
	for i := range rows {
		rows[i].head = &again
		if rows[i].group != "" {
			rows[i].head = m.continued(again, rows[i].group, st, width, padOf(t))
		}
	}
	if len(rows) > 1 {
		rows[0].keep = true
		rows[len(rows)-2].keep = true
	}
	if len(rows) == 0 {
		empty := box{h: st.lead + 2*rowPad}
		none := body.Add(structure.Row).Add(structure.Cell)
		none.Columns = len(l.index)
		empty.draw = func(p *pen, x, y float64) {
			p.tags.in = none
			p.text(x, baseline(y+rowPad, st), typeface.Italic, st.size, grey, "No rows.")
			p.rule(x, y+empty.h, width, 0.7, line)
		}
		rows = []box{empty}
	}
	return append(out, rows...)
}

// tableCaption is the caption, above the table, if there is one.
func (m *maker) tableCaption(elem *structure.Element, t document.Table, name string, part, parts int) []box {
	var out []box
	if name != "" || parts > 1 {
		caption := []document.Span{{Text: "Table part", Bold: true}}
		if name != "" {
			caption = label(name, t.Caption)
		}
		if parts > 1 {
			caption = append(caption, document.Span{Text: fmt.Sprintf(" (part %d of %d)", part+1, parts)})
		}
		made := m.lineBoxes(elem.Add(structure.Caption), m.p.setText(caption, captionStyle, m.measure+40), captionStyle, 0, 12)
		for i := range made {
			made[i].keep = true
		}
		made[len(made)-1].h += 3
		out = append(out, made...)
	}

	return out
}

const (
	foldRows   = 12   // a table of fewer rows is not folded
	foldGutter = 26.0 // between the halves
	foldGap    = 10.0 // between columns, at least
)

// foldAt is the row that the right half of a folded table starts with: the
// middle, or where rows head others the block nearest to it. 0: it cannot be
// folded.
func foldAt(t document.Table) int {
	n := len(t.Rows)
	if len(t.Strong) == 0 {
		return (n + 1) / 2
	}
	for _, r := range t.Strong {
		if !t.GroupHead(r) {
			return 0
		}
	}
	best := 0
	for r := 1; r < n; r++ {
		if indentOf(t.Rows[r]) == 0 && max(r, n-r) < max(best, n-best) {
			best = r
		}
	}
	return best
}

// folded sets a narrow table of many rows in two halves side by side: half
// as tall, and read as a list in two columns is. ok is false for a table that
// is too wide, too short, too long for that or has rows that head others.
func (m *maker) folded(t document.Table, name string) (out []box, ok bool) {
	n := len(t.Rows)
	cut := foldAt(t)
	if n < foldRows || cut == 0 || len(t.Columns) > 4 {
		return nil, false
	}
	ext := m.measureColumns(t)
	half := (m.full - foldGutter) / 2
	var l layout
sizes:
	for _, size := range tableSizes[:3] {
		for _, wrap := range []bool{false, true} { // a head may wrap
			l = layout{gap: foldGap, size: size}
			for c, e := range ext {
				head := e.head
				if wrap {
					head = e.headWord
				}
				l.index = append(l.index, c)
				l.w = append(l.w, max(e.widest, head)*size+0.2)
			}
			if ok = l.width() <= half; ok {
				break sizes
			}
		}
	}
	if !ok {
		return nil, false
	}
	// The halves reach the edges, so that they stand as a pair.
	if len(l.w) > 1 {
		l.gap += (half - l.width()) / float64(len(l.w)-1)
	}
	st := textStyle{size: l.size, lead: l.size * tableLead, colour: ink}
	width := l.width()
	left, right := t, t
	left.Rows, right.Rows = t.Rows[:cut], t.Rows[cut:]
	left.Strong, right.Strong = nil, nil
	for _, r := range t.Strong {
		if r < cut {
			left.Strong = append(left.Strong, r)
		} else {
			right.Strong = append(right.Strong, r-cut)
		}
	}
	elem := &structure.Element{Role: structure.Table}
	caption := m.tableCaption(elem, t, name, 0, 1)
	head := m.tableHead(elem, t, l, st, width)
	body := elem.Add(structure.Body)
	side := [2][]box{m.tableRows(body, left, l, st, width), m.tableRows(body, right, l, st, width)}
	if len(side[0]) != cut || len(side[1]) != n-cut || max(tall(side[0], false), tall(side[1], false)) > m.height*0.7 {
		return nil, false // with rows of many lines the halves would not stand level
	}
	m.structure.Hang(elem)
	second := head
	second.draw = func(p *pen, x, y float64) {
		p.tags.again = true
		head.draw(p, x, y)
		p.tags.again = false
	}
	pair := func(a, b box) box {
		return box{h: max(a.h, b.h), keep: true, draw: func(p *pen, x, y float64) {
			if a.draw != nil {
				a.draw(p, x, y)
			}
			if b.draw != nil {
				b.draw(p, x+half+foldGutter, y)
			}
		}}
	}
	out = append(caption, pair(head, second))
	for k := range max(len(side[0]), len(side[1])) {
		var both [2]box
		for s := range both {
			if k < len(side[s]) {
				both[s] = side[s][k]
			}
		}
		out = append(out, pair(both[0], both[1]))
	}
	out[len(out)-1].keep = false
	return out, true
}
