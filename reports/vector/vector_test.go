package vector

import (
	"bytes"
	"encoding/binary"
	"encoding/xml"
	"image"
	"image/color"
	"image/png"
	"io"
	"math"
	"regexp"
	"strings"
	"testing"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"plybook/reports/figure"
	"plybook/reports/internal/specimen"
	"plybook/reports/typeface"
)

func svgOf(t *testing.T, f *figure.Figure, o SVGOptions) string {
	t.Helper()
	var b bytes.Buffer
	if err := SVG(&b, f, o); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

func wellFormed(t *testing.T, s string) {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(s))
	for {
		if _, err := d.Token(); err == io.EOF {
			return
		} else if err != nil {
			t.Fatalf("not well formed: %v", err)
		}
	}
}

func TestSVGIsNamedAndWellFormed(t *testing.T) {
	for _, f := range []*figure.Figure{specimen.Survival("curve"), specimen.Bars("bars")} {
		s := svgOf(t, f, SVGOptions{})
		wellFormed(t, s)
		for _, want := range []string{`role="img"`, `aria-labelledby="` + f.ID + "-title " + f.ID + `-desc"`, "<title id=", "<desc id=", `xmlns="http://www.w3.org/2000/svg"`} {
			if !strings.Contains(s, want) {
				t.Errorf("%s: no %s", f.ID, want)
			}
		}
		if s != svgOf(t, f, SVGOptions{}) {
			t.Errorf("%s: the same figure gave other bytes", f.ID)
		}
		inline := svgOf(t, f, SVGOptions{Inline: true, Prefix: "x y"})
		wellFormed(t, inline)
		if strings.Contains(inline, "xmlns") || !strings.Contains(inline, `id="x-y-title"`) {
			t.Errorf("%s: inline form %.200s", f.ID, inline)
		}
	}
}

func square(do func(c draw.Canvas)) *figure.Figure {
	return &figure.Figure{ID: "square", Title: "A & <b>", Description: "\x01\xff\"d\"", Width: 100, Height: 100, Draw: do}
}

func TestSVGDrawsWhatIsMeant(t *testing.T) {
	face := typeface.Cache().Lookup(typeface.Bold.Plot(0), 10)
	for name, c := range map[string]struct {
		do   func(c draw.Canvas)
		want string
	}{
		"escaped":   {func(draw.Canvas) {}, `<title id="square-title">A &amp; &lt;b&gt;</title>`},
		"bad bytes": {func(draw.Canvas) {}, "<desc id=\"square-desc\">\uFFFD&#34;d&#34;</desc>"},
		"upside": {func(c draw.Canvas) {
			c.Stroke(vg.Path{{Type: vg.MoveComp, Pos: vg.Point{X: 10, Y: 20}}, {Type: vg.LineComp, Pos: vg.Point{X: 30, Y: 40}}})
		}, `d="M10 80L30 60"`},
		"unmultiplied": {func(c draw.Canvas) { c.SetColor(color.RGBA{R: 0x40, A: 0x80}); c.Fill(unit()) }, `fill="#7f0000" fill-opacity="0.5"`},
		"dash":         {func(c draw.Canvas) { c.Scale(2, 2); c.SetLineDash([]vg.Length{3, 1}, 1); c.Stroke(unit()) }, `stroke-width="2" stroke-dasharray="6 2" stroke-dashoffset="2"`},
		"text":         {func(c draw.Canvas) { c.FillString(face, vg.Point{X: 5, Y: 5}, "a<b ") }, `x="5" y="95" font-size="10" font-weight="bold" textLength=`},
		"text escaped": {func(c draw.Canvas) { c.FillString(face, vg.Point{X: 5, Y: 5}, "a<b ") }, ">a&lt;b</text>"},
		"turned": {func(c draw.Canvas) {
			c.Push()
			c.Translate(vg.Point{X: 50, Y: 50})
			c.Rotate(math.Pi / 2)
			c.FillString(face, vg.Point{}, "up")
			c.Pop()
		}, `transform="matrix(0 -1 1 0 50 50)"`},
		"restored": {func(c draw.Canvas) {
			c.Push()
			c.SetColor(color.White)
			c.Translate(vg.Point{X: 9})
			c.Pop()
			c.Fill(unit())
		}, `<path d="M0 100L1 100L1 99Z" fill="#000000"/>`},
		"picture": {func(c draw.Canvas) {
			c.DrawImage(vg.Rectangle{Max: vg.Point{X: 10, Y: 20}}, image.NewNRGBA(image.Rect(0, 0, 2, 2)))
		}, `<image transform="matrix(1 0 0 1 0 80)" width="10" height="20"`},
	} {
		t.Run(name, func(t *testing.T) {
			s := svgOf(t, square(c.do), SVGOptions{})
			wellFormed(t, s)
			if !strings.Contains(s, c.want) {
				t.Errorf("no %s in\n%s", c.want, s)
			}
		})
	}
	for name, do := range map[string]func(c draw.Canvas){
		"no width": func(c draw.Canvas) { c.SetLineWidth(0); c.Stroke(unit()) },
		"clear":    func(c draw.Canvas) { c.SetColor(color.Transparent); c.Fill(unit()) },
		"blank":    func(c draw.Canvas) { c.FillString(face, vg.Point{}, "  ") },
		"empty":    func(c draw.Canvas) { c.Fill(nil); c.Pop() },
	} {
		if s := svgOf(t, square(do), SVGOptions{}); regexp.MustCompile(`<(path|text)`).MatchString(s) {
			t.Errorf("%s: something is drawn: %s", name, s)
		}
	}
}

func unit() vg.Path {
	return vg.Path{{Type: vg.MoveComp}, {Type: vg.LineComp, Pos: vg.Point{X: 1}}, {Type: vg.LineComp, Pos: vg.Point{X: 1, Y: 1}}, {Type: vg.CloseComp}}
}

// trace remembers the points that a pen was led to.
type trace struct{ at []vg.Point }

func (p *trace) Move(pt vg.Point)         { p.at = append(p.at, pt) }
func (p *trace) Line(pt vg.Point)         { p.at = append(p.at, pt) }
func (p *trace) Curve(_, _, end vg.Point) { p.at = append(p.at, end) }
func (p *trace) Close()                   {}

func TestArcsStayOnTheirCircle(t *testing.T) {
	for _, c := range []struct{ start, angle float64 }{{0, 2 * math.Pi}, {1, 0.3}, {2, -3}, {-1, 7}, {0, 0}} {
		comp := vg.PathComp{Type: vg.ArcComp, Pos: vg.Point{X: 3, Y: 4}, Radius: 5, Start: c.start, Angle: c.angle}
		curves, first := Arc(comp)
		from := first
		for _, q := range curves {
			for i := range 11 { // points of the curve, not only its ends
				u := vg.Length(i) / 10
				v := 1 - u
				x := v*v*v*from.X + 3*v*v*u*q[0].X + 3*v*u*u*q[1].X + u*u*u*q[2].X
				y := v*v*v*from.Y + 3*v*v*u*q[0].Y + 3*v*u*u*q[1].Y + u*u*u*q[2].Y
				if r := math.Hypot(float64(x-3), float64(y-4)); math.Abs(r-5) > 0.002 {
					t.Errorf("arc %v: a point lies %g from the centre, want 5", c, r)
				}
			}
			from = q[2]
		}
		sin, cos := math.Sincos(c.start + c.angle)
		if math.Hypot(float64(from.X)-3-5*cos, float64(from.Y)-4-5*sin) > 1e-9 {
			t.Errorf("arc %v ends at %v", c, from)
		}
	}
}

func TestTrace(t *testing.T) {
	var path vg.Path
	path.Line(vg.Point{X: 1})
	path.QuadTo(vg.Point{X: 2, Y: 2}, vg.Point{X: 3})
	path.CubeTo(vg.Point{}, vg.Point{}, vg.Point{X: 4})
	path.Close()
	var pen trace
	if err := Trace(path, &pen); err != nil || len(pen.at) != 3 || pen.at[2].X != 4 {
		t.Errorf("%v, %v", pen.at, err)
	}
	for _, bad := range []vg.PathComp{
		{Type: vg.MoveComp, Pos: vg.Point{X: vg.Length(math.NaN())}},
		{Type: vg.ArcComp, Radius: vg.Length(math.Inf(1))},
		{Type: vg.CurveComp, Control: []vg.Point{{Y: vg.Length(math.Inf(-1))}}},
	} {
		if err := Trace(vg.Path{bad}, &trace{}); err == nil {
			t.Errorf("no error for %+v", bad)
		}
	}
}

func TestPNGStatesItsResolution(t *testing.T) {
	var b bytes.Buffer
	if err := PNG(&b, specimen.Bars("bars"), 300); err != nil {
		t.Fatal(err)
	}
	if _, err := png.Decode(bytes.NewReader(b.Bytes())); err != nil {
		t.Fatal(err)
	}
	i := bytes.Index(b.Bytes(), []byte("pHYs"))
	if i < 0 || binary.BigEndian.Uint32(b.Bytes()[i+4:]) != 11811 {
		t.Error("the file does not state 300 dots per inch")
	}
}

func TestErrors(t *testing.T) {
	nan := square(func(c draw.Canvas) { c.StrokeLine2(draw.LineStyle{Width: 1}, 0, 0, vg.Length(math.NaN()), 1) })
	huge := square(func(draw.Canvas) {})
	huge.Width, huge.Height = 9000, 9000
	face := typeface.Cache().Lookup(typeface.Regular.Plot(0), 10)
	lost := square(func(c draw.Canvas) { c.FillString(face, vg.Point{X: vg.Length(math.Inf(1))}, "x") })
	for name, c := range map[string]struct {
		err  error
		want string
	}{
		"no figure":  {SVG(io.Discard, nil, SVGOptions{}), "nothing to draw"},
		"no drawing": {PNG(io.Discard, &figure.Figure{Width: 1, Height: 1}, 300), "nothing to draw"},
		"size":       {SVG(io.Discard, &figure.Figure{ID: "f", Width: -1, Height: 1, Draw: func(draw.Canvas) {}}, SVGOptions{}), `figure "f": its size -1 by 1`},
		"point":      {SVG(io.Discard, nan, SVGOptions{}), `figure "square" as SVG: a point of a line`},
		"text":       {SVG(io.Discard, lost, SVGOptions{}), `the place of "x"`},
		"resolution": {PNG(io.Discard, huge, 12), "12 dots per inch"},
		"too large":  {PNG(io.Discard, huge, 300), "too many"},
	} {
		if c.err == nil || !strings.Contains(c.err.Error(), c.want) {
			t.Errorf("%s: error %v does not say %q", name, c.err, c.want)
		}
	}
}
