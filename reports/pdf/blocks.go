package pdf

import (
	"fmt"
	"strconv"
	"strings"

	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/structure"
	"plybook/reports/typeface"
)

// The type scale.
var (
	bodyStyle    = textStyle{size: 10, lead: 14, colour: ink}
	leadStyle    = textStyle{size: 11, lead: 15, colour: ink}
	smallStyle   = textStyle{size: 8.5, lead: 11.5, colour: grey}
	quietStyle   = textStyle{size: 9.5, lead: 13, colour: grey}
	captionStyle = textStyle{size: 9, lead: 12, colour: ink}
	methodStyle  = textStyle{size: 8, lead: 10.4, colour: grey}
	cautionStyle = textStyle{size: 8.5, lead: 11.2, colour: ink}
	noteStyle    = textStyle{size: 9.5, lead: 13, colour: ink}
	codeStyle    = textStyle{size: 8, lead: 11, colour: ink}
	headStyles   = [3]textStyle{
		{size: 17, lead: 21, colour: accent, bold: true},
		{size: 12.5, lead: 16, colour: ink, bold: true},
		{size: 11, lead: 14.5, colour: ink, bold: true},
	}
	headGaps = [3]float64{28, 19, 14}
)

// maker turns blocks into boxes.
type maker struct {
	p       *pen
	full    float64 // width of figures and tables
	measure float64 // width of running text: about 75 characters
	height  float64 // of the text area
	numbers document.Numbering
	heads   int // headings so far
	figures document.Counter
	tables  document.Counter
	floats  int                 // figures and tables, captioned or not
	made    int                 // blocks so far
	pageOf  func(entry int) int // of the contents; known once all is laid out
	anchors map[string]bool
	brief   bool // the document is in short
	tight   bool // and its type smaller still

	structure *structure.Element // what is being laid out becomes a part of it
}

// target is the name to link to, or nothing if the name was used before: the
// first thing that bears it is the target.
func (m *maker) target(id string) string {
	if id == "" || m.anchors[id] {
		return ""
	}
	m.anchors[id] = true
	return id
}

func (m *maker) blocks(list []document.Block) ([]box, error) {
	var out []box
	turn := false
	for i := 0; i < len(list); i++ {
		var made []box
		block := m.made + 1
		if _, nested := list[i].(document.KeepTogether); !nested {
			m.made++
		}
		switch b := list[i].(type) {
		case document.Heading:
			made = m.heading(b)
			if b.Level > 1 {
				leadToSection(out)
			}
		case document.Paragraph:
			made = m.paragraph(b, m.measure)
			if n := len(out); n > 0 && b.Style == "small" {
				out[n-1].part = costSmall
			}
		case document.List:
			made = m.list(b)
		case document.Table:
			var err error
			if made, err = m.table(b); err != nil {
				return nil, err
			}
			if n := len(out); n > 0 && out[n-1].float == 0 {
				leadTo(out)
			}
		case document.Figure:
			pair := []document.Figure{b}
			if next, ok := second(list, i); ok && half(b) && half(next) {
				pair = append(pair, next)
				i++
				m.made++
			}
			made1, err := m.figureRow(pair)
			if err != nil {
				return nil, err
			}
			made = made1
			leadTo(out)
		case document.Note:
			made = m.note(b)
			if n := len(out); n > 0 {
				out[n-1].part = max(out[n-1].part, costNote)
			}
		case document.Row:
			var err error
			if made, err = m.row(b); err != nil {
				return nil, err
			}
		case document.Code:
			made = m.code(b)
		case document.PageBreak:
			turn = true
			continue
		case document.Contents:
			made = m.contents(contentsBehind)
		case document.KeepTogether:
			var err error
			if made, err = m.blocks(b.Blocks); err != nil {
				return nil, err
			}
			keepAll(made, m.height)
		default:
			return nil, fmt.Errorf("a report holds a block of a kind that cannot be printed: %T", b)
		}
		if len(made) > 0 && turn {
			made[0].turn = true
			turn = false
		}
		for k := range made {
			if made[k].block == 0 {
				made[k].block = block
			}
		}
		out = append(out, made...)
	}
	return out, nil
}

// leadLines is how many lines before a figure are taken as leading to it.
const leadLines = 16

// leadTo holds the lines that lead to a figure together, back to their
// heading.
func leadTo(out []box) {
	for k, n := len(out)-1, 0; k >= 0 && n < leadLines && out[k].float == 0; k, n = k-1, n+1 {
		if out[k].section {
			for ; k < len(out); k++ {
				out[k].part = max(out[k].part, costLead)
			}
			return
		}
	}
	if n := len(out); n > 0 {
		out[n-1].part = max(out[n-1].part, costLead)
	}
}

// introLines is how many lines between a heading and the next are taken as
// an introduction.
const introLines = 10

// leadToSection keeps a heading and the few lines that introduce its first
// section with the heading of that.
func leadToSection(out []box) {
	for k, n := len(out)-1, 0; k >= 0 && n <= introLines && out[k].float == 0; k, n = k-1, n+1 {
		if !out[k].section {
			continue
		}
		for ; k < len(out); k++ {
			out[k].keep = true
		}
		return
	}
}

func second(list []document.Block, i int) (document.Figure, bool) {
	if i+1 >= len(list) {
		return document.Figure{}, false
	}
	f, ok := list[i+1].(document.Figure)
	return f, ok
}

func half(f document.Figure) bool {
	return f.Figure != nil && f.Figure.Width <= figure.HalfWidth+0.5
}

// lineBoxes are the lines of a text at x, a part of elem; a page neither ends with its first
// line nor starts with its last.
func (m *maker) lineBoxes(elem *structure.Element, lines []textLine, st textStyle, indent, gap float64) []box {
	out := make([]box, len(lines))
	for i, l := range lines {
		out[i] = box{h: st.lead, part: costLines, keep: i < len(lines)-1 && (i == 0 || i == len(lines)-2),
			draw: func(p *pen, x, y float64) {
				p.tags.in = elem
				p.drawLine(l, x+indent, baseline(y, st), st)
			}}
	}
	if len(out) > 0 {
		out[0].gap = gap
		out[len(out)-1].part = costBlock
	}
	return out
}

// baseline is where text stands in a line whose top is y.
func baseline(y float64, st textStyle) float64 { return y + st.lead/2 + st.size*0.35 }

func (m *maker) heading(h document.Heading) []box {
	level := min(max(h.Level, 1), 3) - 1
	st, gap := headStyles[level], headGaps[level]
	if m.brief {
		st, gap = m.fit(briefHeads[level]), briefGaps[level]
	}
	number := m.numbers.Headings[m.heads]
	m.heads++
	indent := 0.0
	if number != "" {
		indent = max(26, m.p.width(typeface.Bold, st.size, number)+10)
		switch {
		case m.brief:
			indent = m.p.width(typeface.Bold, st.size, number) + 7
		case level == 1:
			indent = max(30, m.p.width(typeface.Bold, st.size, number)+10)
		}
	}
	lines := m.p.plainText(h.Text, st, m.full-indent)
	if len(lines) == 0 {
		return nil
	}
	elem := m.element(headRoles[level])
	out := m.lineBoxes(elem, lines, st, indent, gap)
	for i := range out {
		out[i].keep, out[i].section = true, true
	}
	first := out[0].draw
	out[0].draw = func(p *pen, x, y float64) {
		if number != "" {
			p.tags.in = elem
			p.text(x, baseline(y, st), typeface.Bold, st.size, st.colour, number+" ") // parts it from the text for readers
		}
		first(p, x, y)
	}
	if level == 0 {
		// A chapter opens with a rule, so that it is found while leafing.
		open := out[0].draw
		rule := 9.0
		if m.brief {
			rule = 4
		}
		out[0].h += rule
		out[0].draw = func(p *pen, x, y float64) {
			p.rule(x, y+0.5, m.full, 1, accent)
			open(p, x, y+rule)
		}
	}
	out[0].anchors = []string{m.target(h.ID)}
	if level == 0 {
		out[0].chapter = strings.TrimSpace(number + "  " + h.Text)
	}
	if !h.Quiet {
		out[0].heading = &document.Entry{Number: number, Text: h.Text, ID: h.ID, Level: level + 1}
	}
	// Room below a head, as part of it: what follows brings its own gap.
	return out
}

func paragraphStyle(name string) (textStyle, float64) {
	switch name {
	case "lead":
		return leadStyle, 8
	case "small":
		return methodStyle, 6
	case "quiet":
		return quietStyle, 6
	}
	return bodyStyle, 7
}

// wholeLines is how many lines a reading or small print may have that is not
// parted.
const wholeLines = 12

// smallWhole is how many lines of small print are not parted.
const smallWhole = 4

func (m *maker) paragraph(b document.Paragraph, measure float64) []box {
	st, gap := paragraphStyle(b.Style)
	if m.brief {
		st, gap = m.briefParagraph(b.Style)
	}
	out := m.lineBoxes(m.element(structure.P), m.p.setText(b.Spans, st, measure), st, 0, gap)
	switch {
	case b.Style == "small" && !m.brief && len(out) > smallWhole:
		for k := range len(out) - 1 {
			out[k].part = costInside
		}
	case b.Style != "" && len(out) <= wholeLines:
		keepAll(out, m.height)
	}
	return out
}

func (m *maker) list(b document.List) []box {
	var out []box
	var last []int // box of each item
	list := m.element(structure.List)
	st := bodyStyle
	if m.brief {
		st = m.fit(briefBody)
	}
	indent := 15.0
	if b.Ordered {
		indent = m.p.width(typeface.Regular, st.size, strconv.Itoa(len(b.Items))+".") + 8
	}
	for i, item := range b.Items {
		lines := m.p.setText(item, st, m.measure-indent)
		if len(lines) == 0 {
			lines = []textLine{{}}
		}
		gap := 3.0
		if i == 0 {
			gap = 7
		}
		entry := list.Add(structure.Item)
		sign := entry.Add(structure.Label)
		made := m.lineBoxes(entry.Add(structure.ItemBody), lines, st, indent, gap)
		first := made[0].draw
		made[0].draw = func(p *pen, x, y float64) {
			p.tags.in = sign
			if b.Ordered {
				mark := strconv.Itoa(i+1) + "."
				p.text(x+indent-8-p.width(typeface.Regular, st.size, mark), baseline(y, st), typeface.Regular, st.size, grey, mark)
			} else {
				p.text(x+4, baseline(y, st), typeface.Regular, st.size, grey, "•")
			}
			first(p, x, y)
		}
		out = append(out, made...)
		last = append(last, len(out)-1)
	}
	// An item does not stand alone on either side of a page's end.
	if n := len(b.Items); n > 1 {
		out[last[0]].keep, out[last[n-2]].keep = true, true
	}
	return out
}
