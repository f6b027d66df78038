package pdf

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"math"
	"strings"

	"codeberg.org/go-pdf/fpdf"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"plybook/reports/figure"
	"plybook/reports/typeface"
	"plybook/reports/vector"
)

// canvas draws a figure into a page as vectors and real text. It implements
// vg.Canvas: the origin is the lower left corner of the figure, and the
// current transformation of the page carries its place and scale.
type canvas struct {
	pen   *pen
	name  string
	state state
	stack []state
}

type state struct {
	colour  color.NRGBA
	width   vg.Length
	dash    []vg.Length
	offset  vg.Length
	opacity float64 // in force on the page
}

// drawFigure puts a figure with its upper left corner at x, y. All that it
// changes on the page is undone afterwards.
func (p *pen) drawFigure(f *figure.Figure, x, y, scale float64) {
	h := f.Height.Points() * scale
	p.tagFigure()
	p.raw("q")
	p.raw(num6(scale), "0 0", num6(scale), num(x), num(p.height-y-h), "cm")
	p.raw("0 J 0 j")
	p.forget()
	c := &canvas{pen: p, name: f.ID, state: state{colour: color.NRGBA{A: 0xff}, opacity: 1}}
	vg.Initialize(c)
	f.Draw(draw.NewCanvas(c, f.Width, f.Height))
	for len(c.stack) > 0 { // a figure that forgot to pop
		c.Pop()
	}
	p.raw("Q")
	p.endTag()
	if c.opacityUsed() {
		p.pdf.SetAlpha(1, "Normal") // the page has it already; fpdf must know
	}
	p.forget()
}

func (c *canvas) opacityUsed() bool {
	a, _ := c.pen.pdf.GetAlpha()
	return a != 1
}

func (c *canvas) SetLineWidth(w vg.Length) { c.state.width = w }

func (c *canvas) SetLineDash(pattern []vg.Length, offset vg.Length) {
	c.state.dash, c.state.offset = pattern, offset
}

// SetColor takes the colour apart: vg hands over colours multiplied by their
// opacity, a page wants the two by themselves.
func (c *canvas) SetColor(col color.Color) {
	if col == nil {
		col = color.Black
	}
	c.state.colour = color.NRGBAModel.Convert(col).(color.NRGBA)
}

func (c *canvas) Push() {
	c.stack = append(c.stack, c.state)
	c.pen.raw("q")
}

func (c *canvas) Pop() {
	n := len(c.stack)
	if n == 0 {
		return
	}
	c.state = c.stack[n-1]
	c.stack = c.stack[:n-1]
	c.pen.raw("Q")
	c.pen.forget()
}

func (c *canvas) Rotate(rad float64) {
	sin, cos := math.Sincos(rad)
	c.matrix(cos, sin, -sin, cos, 0, 0)
}

func (c *canvas) Translate(pt vg.Point) {
	c.matrix(1, 0, 0, 1, pt.X.Points(), pt.Y.Points())
}

func (c *canvas) Scale(x, y float64) { c.matrix(x, 0, 0, y, 0, 0) }

func (c *canvas) matrix(v ...float64) {
	parts := make([]string, 0, 7)
	for _, f := range v {
		if !vector.Finite(vg.Length(f)) {
			c.pen.fail("drawing figure %q: a transformation is not a finite number", c.name)
			return
		}
		parts = append(parts, num6(f))
	}
	c.pen.raw(append(parts, "cm")...)
}

func (c *canvas) opacity() {
	want := float64(c.state.colour.A) / 255
	if want == c.state.opacity {
		return
	}
	c.pen.pdf.SetAlpha(want, "Normal")
	c.state.opacity = want
}

func (c *canvas) solid() rgb {
	return rgb{c.state.colour.R, c.state.colour.G, c.state.colour.B}
}

func (c *canvas) Stroke(p vg.Path) {
	if c.state.width <= 0 || c.state.colour.A == 0 {
		return
	}
	ops := c.path(p)
	if ops == "" {
		return
	}
	c.opacity()
	var b strings.Builder
	col := c.solid()
	fmt.Fprintf(&b, "%s %s %s RG %s w [", part(col.r), part(col.g), part(col.b), num(c.state.width.Points()))
	for i, d := range c.state.dash {
		if i > 0 {
			b.WriteByte(' ')
		}
		b.WriteString(num(d.Points()))
	}
	fmt.Fprintf(&b, "] %s d %sS", num(c.state.offset.Points()), ops)
	c.pen.raw(b.String())
}

func (c *canvas) Fill(p vg.Path) {
	if c.state.colour.A == 0 {
		return
	}
	ops := c.path(p)
	if ops == "" {
		return
	}
	c.opacity()
	c.pen.setColour(c.solid())
	c.pen.raw(ops + "f")
}

// pathOps writes the operators of a path.
type pathOps struct{ strings.Builder }

func (o *pathOps) put(op string, pts ...vg.Point) {
	for _, pt := range pts {
		o.WriteString(num(pt.X.Points()))
		o.WriteByte(' ')
		o.WriteString(num(pt.Y.Points()))
		o.WriteByte(' ')
	}
	o.WriteString(op)
	o.WriteByte(' ')
}

func (o *pathOps) Move(pt vg.Point)           { o.put("m", pt) }
func (o *pathOps) Line(pt vg.Point)           { o.put("l", pt) }
func (o *pathOps) Curve(c1, c2, end vg.Point) { o.put("c", c1, c2, end) }
func (o *pathOps) Close()                     { o.put("h") }

// path writes a path; it is empty if there is nothing to draw.
func (c *canvas) path(p vg.Path) string {
	var o pathOps
	if err := vector.Trace(p, &o); err != nil {
		c.pen.fail("drawing figure %q: %w", c.name, err)
		return ""
	}
	return o.String()
}

// FillString sets text in the embedded font that stands nearest to the
// one asked for. Figures ask for Liberation Sans, which is set as it is,
// kerned as the plot has measured it.
func (c *canvas) FillString(f font.Face, pt vg.Point, text string) {
	if f.Font.Size <= 0 || text == "" || c.state.colour.A == 0 {
		return
	}
	if !vector.Finite(pt.X, pt.Y) {
		c.pen.fail("drawing figure %q: the place of %q is not a finite number", c.name, text)
		return
	}
	c.opacity()
	s := typeface.OfPlot(f.Font)
	c.pen.text(pt.X.Points(), c.pen.height-pt.Y.Points(), s, f.Font.Size.Points(), c.solid(), text)
}

// DrawImage places a picture made of points.
func (c *canvas) DrawImage(rect vg.Rectangle, img image.Image) {
	var b bytes.Buffer
	if err := png.Encode(&b, img); err != nil {
		c.pen.fail("drawing figure %q: writing its picture: %w", c.name, err)
		return
	}
	c.pen.images++
	name := fmt.Sprintf("picture-%d", c.pen.images)
	opt := fpdf.ImageOptions{ImageType: "PNG"}
	c.pen.pdf.RegisterImageOptionsReader(name, opt, &b)
	size := rect.Size()
	c.pen.pdf.ImageOptions(name, rect.Min.X.Points(), c.pen.height-rect.Max.Y.Points(),
		size.X.Points(), size.Y.Points(), false, opt, 0, "")
}

// num6 writes a factor of a transformation.
func num6(v float64) string {
	s := strings.TrimRight(fmt.Sprintf("%.6f", v), "0")
	s = strings.TrimSuffix(s, ".")
	if s == "-0" || s == "" {
		return "0"
	}
	return s
}

func part(v uint8) string { return num(float64(v) / 255) }
