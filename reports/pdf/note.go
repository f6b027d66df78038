package pdf

import (
	"math"

	"plybook/reports/document"
	"plybook/reports/structure"
	"plybook/reports/typeface"
)

// noteKind is how a kind of note is told from the others without colour: by
// its word and by the shape of the bar at its left.
type noteKind struct {
	word string
	bar  func(p *pen, x, y, h float64)
}

const barWidth = 5.0

func noteOf(kind string) noteKind {
	switch kind {
	case "caution":
		return noteKind{"Caution", ladder}
	case "error":
		return noteKind{"Error", double}
	case "decision":
		return noteKind{"Decision", solid}
	case "safety":
		return noteKind{"Safety", teeth}
	}
	return noteKind{"Note", thin}
}

// The bars are drawn piece by piece, a line of text at a time, so a pattern
// is tied to the page and not to where its piece starts.

func ladder(p *pen, x, y, h float64) {
	const step, rung = 4.0, 2.2
	for at := math.Floor(y/step) * step; at < y+h; at += step {
		top, bottom := max(at, y), min(at+rung, y+h)
		if bottom > top {
			p.rect(x, top, barWidth, bottom-top, ink)
		}
	}
}

func double(p *pen, x, y, h float64) {
	p.rect(x, y, 1.7, h, ink)
	p.rect(x+3.3, y, 1.7, h, ink)
}

func solid(p *pen, x, y, h float64) { p.rect(x, y, barWidth, h, accent) }

func thin(p *pen, x, y, h float64) { p.rect(x, y, 1.2, h, line) }

// teeth point at the text.
func teeth(p *pen, x, y, h float64) {
	const step = 7.0
	p.clip(x, y, barWidth, h)
	p.rect(x, y, 1.2, h, ink)
	for at := math.Floor(y/step) * step; at < y+h; at += step {
		p.triangle(x, at, x+barWidth, at+step/2, x, at+step, ink)
	}
	p.unclip()
}

// partLines is how many lines of a caution stand on either page at least
// where it is parted.
const partLines = 4

// note is a panel behind a bar. A caution is set small, a bullet to each
// doubt, since it must be read but must not drown the answer; one doubt alone
// runs on behind its word.
func (m *maker) note(b document.Note) []box {
	kind := noteOf(b.Kind)
	const left = 13.0
	st, pad, apart, lead := noteStyle, 5.0, 2.5, 0.0
	width := m.measure
	if b.Kind == "caution" {
		st, pad, apart, lead = cautionStyle, 4, 1.2, 9
	}
	measure := width - left - 8
	title := []document.Span{{Text: kind.word, Bold: true}}
	if b.Title != "" && b.Title != kind.word {
		title = []document.Span{{Text: kind.word + ": ", Bold: true}, {Text: b.Title, Bold: true}}
	}
	paras := b.Paras
	if b.Kind == "caution" && len(paras) == 1 {
		title = append([]document.Span{{Text: kind.word + ". ", Bold: true}}, paras[0].Spans...)
		paras = nil
	}
	elem := m.element(structure.Division)
	out := m.lineBoxes(elem.Add(structure.P), m.p.setText(title, st, measure), st, left, 0)
	var ends []int // last box of each paragraph
	for _, para := range paras {
		ps, in := st, lead
		if para.Style == "small" || para.Style == "quiet" {
			ps, in = smallStyle, 0
		}
		if n := len(out); n > 0 {
			out[n-1].keep = true // a title is not left alone
		}
		lines := m.lineBoxes(elem.Add(structure.P), m.p.setText(para.Spans, ps, measure-in), ps, left+in, apart)
		if in > 0 && len(lines) > 0 {
			text := lines[0].draw
			lines[0].draw = func(p *pen, x, y float64) {
				p.tags.in = nil // the sign is for the eye
				p.text(x+left+1, baseline(y, ps), typeface.Regular, ps.size, ps.colour, "•")
				text(p, x, y)
			}
		}
		out = append(out, lines...)
		ends = append(ends, len(out)-1)
	}
	for i := range out {
		// The panel and the bar take the gap in, so that they have no holes.
		b := &out[i]
		top, bottom := b.gap, 0.0
		if i == 0 {
			top = pad
		}
		if i == len(out)-1 {
			bottom = pad
		}
		b.gap = 0
		b.h += top + bottom
		text, h := b.draw, b.h
		b.draw = func(p *pen, x, y float64) {
			p.rect(x, y, width, h+0.2, panel)
			kind.bar(p, x, y, h)
			text(p, x, y+top)
		}
	}
	out[0].gap = 8
	keepAll(out, m.height*0.5)
	if b.Kind == "caution" && len(paras) > 1 {
		// Doubts may be told on two pages, some lines on each.
		for _, k := range ends {
			if k+1 >= partLines && len(out)-1-k >= partLines {
				out[k].keep, out[k].part = false, costInside
			}
		}
	}
	return out
}
