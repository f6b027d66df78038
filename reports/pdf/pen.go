package pdf

import (
	"fmt"
	"strconv"

	"codeberg.org/go-pdf/fpdf"

	"plybook/reports/typeface"
)

// rgb is an opaque colour.
type rgb struct{ r, g, b uint8 }

// The colours of the page: one accent, a few greys. All text keeps a
// contrast above 4.5:1 on white and is read without loss in grey.
var (
	ink    = rgb{0x1f, 0x24, 0x28}
	grey   = rgb{0x55, 0x5d, 0x64}
	line   = rgb{0x8d, 0x97, 0x9e}
	hair   = rgb{0xd3, 0xd9, 0xdd}
	panel  = rgb{0xf3, 0xf5, 0xf6}
	accent = rgb{0x12, 0x50, 0x60}
	white  = rgb{0xff, 0xff, 0xff}
)

// pen writes on the current page. Lengths are points; y runs down from the
// top of the page and text stands on its baseline. fpdf is told of a font or
// a colour only when it changes, which the pen keeps track of, because text
// drawn inside a figure changes both behind fpdf's back.
type pen struct {
	pdf     *fpdf.Fpdf
	m       *typeface.Measurer
	added   map[typeface.Style][2]string
	links   map[string]int // headings, tables and figures by id
	height  float64        // of the page
	font    typeface.Style
	size    float64
	colour  rgb
	hasFont bool // font and size are in force on the page
	hasInk  bool // and so is the colour
	tags    tags
	images  int
	err     error
}

func newPen(doc *fpdf.Fpdf, height float64) *pen {
	return &pen{pdf: doc, m: typeface.NewMeasurer(), added: map[typeface.Style][2]string{}, links: map[string]int{}, height: height}
}

// forget is called whenever the graphics state was restored or a page
// started: what is in force is no longer what the pen last asked for.
func (p *pen) forget() { p.hasFont, p.hasInk = false, false }

func (p *pen) setFont(s typeface.Style, size float64) {
	if p.hasFont && p.font == s && p.size == size {
		return
	}
	name, ok := p.added[s]
	if !ok {
		family, style, err := s.PDF(p.pdf)
		if err != nil && p.err == nil {
			p.err = err
			return
		}
		name = [2]string{family, style}
		p.added[s] = name
	}
	p.pdf.SetFont(name[0], name[1], size)
	p.font, p.size, p.hasFont = s, size, true
}

// setColour makes fill and text colour the same, so that fpdf writes text in
// the fill colour in force.
func (p *pen) setColour(c rgb) {
	if p.hasInk && p.colour == c {
		return
	}
	p.pdf.SetFillColor(int(c.r), int(c.g), int(c.b))
	p.pdf.SetTextColor(int(c.r), int(c.g), int(c.b))
	p.colour, p.hasInk = c, true
}

func (p *pen) width(s typeface.Style, size float64, text string) float64 {
	return p.m.Width(s, text, size)
}

// text sets one line from x, on the baseline y, and returns its width.
func (p *pen) text(x, y float64, s typeface.Style, size float64, c rgb, text string) float64 {
	text = p.m.Fit(s, text)
	if text == "" || size <= 0 {
		return 0
	}
	p.tagText()
	p.setFont(s, size)
	p.setColour(c)
	for _, piece := range p.m.Pieces(s, text, size) {
		p.pdf.Text(x+piece.X, y, piece.Text)
	}
	return p.m.Width(s, text, size)
}

// rect fills a rectangle.
func (p *pen) rect(x, y, w, h float64, c rgb) {
	p.tagPaint()
	p.setColour(c)
	p.raw(num(x), num(p.height-y-h), num(w), num(h), "re f")
}

// rule draws a horizontal line.
func (p *pen) rule(x, y, w, width float64, c rgb) {
	p.rect(x, y-width/2, w, width, c)
}

// triangle fills a triangle given by its corners.
func (p *pen) triangle(x1, y1, x2, y2, x3, y3 float64, c rgb) {
	p.tagPaint()
	p.setColour(c)
	p.raw(num(x1), num(p.height-y1), "m", num(x2), num(p.height-y2), "l", num(x3), num(p.height-y3), "l f")
}

// disc fills a circle, each quarter of it a cubic curve.
func (p *pen) disc(x, y, r float64, c rgb) {
	const k = 0.5523
	y = p.height - y
	p.tagPaint()
	p.setColour(c)
	p.raw(num(x+r), num(y), "m", num(x+r), num(y+k*r), num(x+k*r), num(y+r), num(x), num(y+r), "c",
		num(x-k*r), num(y+r), num(x-r), num(y+k*r), num(x-r), num(y), "c",
		num(x-r), num(y-k*r), num(x-k*r), num(y-r), num(x), num(y-r), "c",
		num(x+k*r), num(y-r), num(x+r), num(y-k*r), num(x+r), num(y), "c f")
}

// clip keeps what follows inside a rectangle, until unclip.
func (p *pen) clip(x, y, w, h float64) {
	p.tagPaint()
	p.raw("q", num(x), num(p.height-y-h), num(w), num(h), "re W n")
}

func (p *pen) unclip() {
	p.raw("Q")
	p.forget()
}

// frame strokes a rectangle.
func (p *pen) frame(x, y, w, h, width float64, c rgb) {
	p.rule(x, y, w, width, c)
	p.rule(x, y+h, w, width, c)
	p.rect(x-width/2, y-width/2, width, h+width, c)
	p.rect(x+w-width/2, y-width/2, width, h+width, c)
}

// raw writes operators into the page.
func (p *pen) raw(parts ...string) {
	n := len(parts)
	for _, s := range parts {
		n += len(s)
	}
	b := make([]byte, 0, n)
	for i, s := range parts {
		if i > 0 {
			b = append(b, ' ')
		}
		b = append(b, s...)
	}
	p.pdf.RawWriteStr(string(b))
}

// num writes a length with a thousandth of a point at most.
func num(v float64) string {
	b := strconv.AppendFloat(nil, v, 'f', 3, 64)
	for b[len(b)-1] == '0' {
		b = b[:len(b)-1]
	}
	if b[len(b)-1] == '.' {
		b = b[:len(b)-1]
	}
	if string(b) == "-0" {
		return "0"
	}
	return string(b)
}

func (p *pen) fail(format string, args ...any) {
	if p.err == nil {
		p.err = fmt.Errorf(format, args...)
	}
}
