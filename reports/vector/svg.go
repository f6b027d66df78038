package vector

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"html"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
	"strconv"
	"strings"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"plybook/reports/figure"
	"plybook/reports/typeface"
)

// SVGOptions set how a figure is written as SVG. The zero value is a file of
// its own.
type SVGOptions struct {
	// Inline leaves out what only a file needs: the XML declaration and the
	// namespace. The size is left to the page.
	Inline bool
	// Prefix makes the ids of the title and the description unique in a
	// page. Default: the ID of the figure.
	Prefix string
	// Colours gathers the colours used, without their opacity. Nil: nobody
	// asks. They stand as fill="#rrggbb" and stroke="#rrggbb", so that the
	// style of a page can put others in their place.
	Colours map[color.NRGBA]bool
}

// families are the fonts asked for. They share the widths of Liberation
// Sans, and every text states its measured width, so that it takes the room
// that was laid out for it whichever font the reader has.
const (
	sans = `"Liberation Sans", Arial, Helvetica, sans-serif`
	mono = `"Liberation Mono", "Courier New", monospace`
)

// SVG writes a figure as SVG. Text stays text, so that it can be selected,
// searched and read out; the figure's title and description are its name for
// those who do not see it.
func SVG(w io.Writer, f *figure.Figure, o SVGOptions) error {
	if err := Check(f); err != nil {
		return fmt.Errorf("writing an SVG: %w", err)
	}
	c := &svg{measure: typeface.NewMeasurer(), used: o.Colours}
	c.state = svgState{m: matrix{1, 0, 0, -1, 0, f.Height.Points()}}
	vg.Initialize(c)
	f.Draw(draw.NewCanvas(c, f.Width, f.Height))
	if c.err != nil {
		return fmt.Errorf("writing figure %q as SVG: %w", f.ID, c.err)
	}
	prefix := o.Prefix
	if prefix == "" {
		prefix = f.ID
	}
	if prefix == "" {
		prefix = "figure"
	}
	id := html.EscapeString(strings.Join(strings.Fields(prefix), "-"))
	var b bytes.Buffer
	if !o.Inline {
		b.WriteString("<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n")
	}
	b.WriteString("<svg ")
	if !o.Inline {
		fmt.Fprintf(&b, `xmlns="http://www.w3.org/2000/svg" width="%spt" height="%spt" `, num(f.Width.Points()), num(f.Height.Points()))
	}
	fmt.Fprintf(&b, `viewBox="0 0 %s %s" role="img" aria-labelledby="%s-title`, num(f.Width.Points()), num(f.Height.Points()), id)
	if f.Description != "" {
		fmt.Fprintf(&b, " %s-desc", id)
	}
	fmt.Fprintf(&b, "\" font-family='%s'>\n", sans)
	title := f.Title
	if strings.TrimSpace(title) == "" {
		title = "Figure"
	}
	fmt.Fprintf(&b, "<title id=\"%s-title\">%s</title>\n", id, xmlText(title))
	if f.Description != "" {
		fmt.Fprintf(&b, "<desc id=\"%s-desc\">%s</desc>\n", id, xmlText(f.Description))
	}
	if !o.Inline {
		// A file is looked at on any ground; a page brings its own.
		b.WriteString("<rect width=\"100%\" height=\"100%\" fill=\"#fff\"/>\n")
	}
	b.Write(c.buf.Bytes())
	b.WriteString("</svg>\n")
	if _, err := w.Write(b.Bytes()); err != nil {
		return fmt.Errorf("writing figure %q as SVG: %w", f.ID, err)
	}
	return nil
}

// matrix maps x, y to a*x + c*y + e, b*x + d*y + f.
type matrix struct{ a, b, c, d, e, f float64 }

// after is m after n: n is applied first.
func (m matrix) after(n matrix) matrix {
	return matrix{
		m.a*n.a + m.c*n.b, m.b*n.a + m.d*n.b,
		m.a*n.c + m.c*n.d, m.b*n.c + m.d*n.d,
		m.a*n.e + m.c*n.f + m.e, m.b*n.e + m.d*n.f + m.f,
	}
}

func (m matrix) at(p vg.Point) (x, y float64) {
	px, py := p.X.Points(), p.Y.Points()
	return m.a*px + m.c*py + m.e, m.b*px + m.d*py + m.f
}

// scale is how much lengths grow.
func (m matrix) scale() float64 { return math.Sqrt(math.Abs(m.a*m.d - m.b*m.c)) }

type svgState struct {
	m      matrix
	colour color.NRGBA
	width  vg.Length
	dash   []vg.Length
	offset vg.Length
}

// svg is a vg.Canvas. It carries out transformations itself and writes final
// coordinates, so the result is flat and short.
type svg struct {
	buf     bytes.Buffer
	state   svgState
	stack   []svgState
	measure *typeface.Measurer
	used    map[color.NRGBA]bool // nil: nobody asks
	err     error
}

func (c *svg) fail(err error) {
	if c.err == nil {
		c.err = err
	}
}

func (c *svg) SetLineWidth(w vg.Length) { c.state.width = w }

func (c *svg) SetLineDash(pattern []vg.Length, offset vg.Length) {
	c.state.dash, c.state.offset = pattern, offset
}

func (c *svg) SetColor(col color.Color) {
	if col == nil {
		col = color.Black
	}
	c.state.colour = color.NRGBAModel.Convert(col).(color.NRGBA)
}

func (c *svg) Push() { c.stack = append(c.stack, c.state) }

func (c *svg) Pop() {
	if n := len(c.stack); n > 0 {
		c.state = c.stack[n-1]
		c.stack = c.stack[:n-1]
	}
}

func (c *svg) Rotate(rad float64) {
	sin, cos := math.Sincos(rad)
	c.state.m = c.state.m.after(matrix{cos, sin, -sin, cos, 0, 0})
}

func (c *svg) Translate(pt vg.Point) {
	c.state.m = c.state.m.after(matrix{1, 0, 0, 1, pt.X.Points(), pt.Y.Points()})
}

func (c *svg) Scale(x, y float64) { c.state.m = c.state.m.after(matrix{x, 0, 0, y, 0, 0}) }

// svgPen writes the data of a path.
type svgPen struct {
	b strings.Builder
	m matrix
}

func (p *svgPen) put(op string, pts ...vg.Point) {
	p.b.WriteString(op)
	for i, pt := range pts {
		if i > 0 {
			p.b.WriteByte(' ')
		}
		x, y := p.m.at(pt)
		p.b.WriteString(num(x))
		p.b.WriteByte(' ')
		p.b.WriteString(num(y))
	}
}

func (p *svgPen) Move(pt vg.Point)           { p.put("M", pt) }
func (p *svgPen) Line(pt vg.Point)           { p.put("L", pt) }
func (p *svgPen) Curve(c1, c2, end vg.Point) { p.put("C", c1, c2, end) }
func (p *svgPen) Close()                     { p.put("Z") }

func (c *svg) data(path vg.Path) string {
	pen := svgPen{m: c.state.m}
	if err := Trace(path, &pen); err != nil {
		c.fail(err)
		return ""
	}
	return pen.b.String()
}

func (c *svg) Stroke(path vg.Path) {
	if c.state.width <= 0 || c.state.colour.A == 0 {
		return
	}
	d := c.data(path)
	if d == "" {
		return
	}
	k := c.state.m.scale()
	fmt.Fprintf(&c.buf, `<path d="%s" fill="none" stroke="%s" stroke-width="%s"`, d, c.hex(), num(c.state.width.Points()*k))
	c.opacity("stroke-opacity")
	if len(c.state.dash) > 0 {
		parts := make([]string, len(c.state.dash))
		for i, v := range c.state.dash {
			parts[i] = num(v.Points() * k)
		}
		fmt.Fprintf(&c.buf, ` stroke-dasharray="%s"`, strings.Join(parts, " "))
		if c.state.offset != 0 {
			fmt.Fprintf(&c.buf, ` stroke-dashoffset="%s"`, num(c.state.offset.Points()*k))
		}
	}
	c.buf.WriteString("/>\n")
}

func (c *svg) Fill(path vg.Path) {
	if c.state.colour.A == 0 {
		return
	}
	d := c.data(path)
	if d == "" {
		return
	}
	fmt.Fprintf(&c.buf, `<path d="%s" fill="%s"`, d, c.hex())
	c.opacity("fill-opacity")
	c.buf.WriteString("/>\n")
}

func (c *svg) FillString(f font.Face, pt vg.Point, text string) {
	if f.Font.Size <= 0 || strings.TrimSpace(text) == "" || c.state.colour.A == 0 {
		return
	}
	if !Finite(pt.X, pt.Y, f.Font.Size) {
		c.fail(fmt.Errorf("the place of %q is not a finite number", text))
		return
	}
	s := typeface.OfPlot(f.Font)
	m, size := c.state.m, f.Font.Size.Points()
	x, y := m.at(pt)
	c.buf.WriteString("<text")
	if m.b == 0 && m.c == 0 && m.a == -m.d && m.a > 0 {
		size *= m.a
		fmt.Fprintf(&c.buf, ` x="%s" y="%s"`, num(x), num(y))
	} else {
		// The canvas looks up, text looks down: turn it over once more.
		fmt.Fprintf(&c.buf, ` transform="matrix(%s %s %s %s %s %s)"`, num5(m.a), num5(m.b), num5(-m.c), num5(-m.d), num(x), num(y))
	}
	fmt.Fprintf(&c.buf, ` font-size="%s"`, num(size))
	switch s {
	case typeface.Bold, typeface.BoldItalic:
		c.buf.WriteString(` font-weight="bold"`)
	case typeface.Mono:
		fmt.Fprintf(&c.buf, ` font-family='%s'`, mono)
	}
	if s == typeface.Italic || s == typeface.BoldItalic {
		c.buf.WriteString(` font-style="italic"`)
	}
	shown := strings.TrimRight(text, " ")
	fmt.Fprintf(&c.buf, ` textLength="%s" lengthAdjust="spacingAndGlyphs" fill="%s"`,
		num(max(0.01, c.measure.Width(s, c.measure.Fit(s, shown), size))), c.hex())
	c.opacity("fill-opacity")
	fmt.Fprintf(&c.buf, ">%s</text>\n", xmlText(shown))
}

func (c *svg) DrawImage(rect vg.Rectangle, img image.Image) {
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		c.fail(fmt.Errorf("writing its picture: %w", err))
		return
	}
	m, size := c.state.m, rect.Size()
	x, y := m.at(vg.Point{X: rect.Min.X, Y: rect.Max.Y})
	fmt.Fprintf(&c.buf, `<image transform="matrix(%s %s %s %s %s %s)" width="%s" height="%s" preserveAspectRatio="none" href="data:image/png;base64,%s"/>`+"\n",
		num5(m.a), num5(m.b), num5(-m.c), num5(-m.d), num(x), num(y),
		num(size.X.Points()), num(size.Y.Points()), base64.StdEncoding.EncodeToString(b.Bytes()))
}

func (c *svg) hex() string {
	k := c.state.colour
	if c.used != nil {
		c.used[color.NRGBA{R: k.R, G: k.G, B: k.B, A: 0xff}] = true
	}
	return Hex(k)
}

// Hex is how a colour stands in an SVG, without its opacity.
func Hex(c color.NRGBA) string { return fmt.Sprintf("#%02x%02x%02x", c.R, c.G, c.B) }

func (c *svg) opacity(name string) {
	if a := c.state.colour.A; a != 0xff {
		fmt.Fprintf(&c.buf, ` %s="%s"`, name, num(float64(a)/255))
	}
}

// xmlText escapes text and drops what XML may not hold.
func xmlText(s string) string {
	s = strings.Map(func(r rune) rune {
		if r < ' ' && r != '\t' && r != '\n' || r == 0xFFFE || r == 0xFFFF {
			return -1
		}
		return r
	}, strings.ToValidUTF8(s, "\uFFFD"))
	return html.EscapeString(s)
}

func num(v float64) string { return trim(strconv.FormatFloat(v, 'f', 2, 64)) }

func num5(v float64) string { return trim(strconv.FormatFloat(v, 'f', 5, 64)) }

func trim(s string) string {
	s = strings.TrimSuffix(strings.TrimRight(s, "0"), ".")
	if s == "-0" || s == "" {
		return "0"
	}
	return s
}
