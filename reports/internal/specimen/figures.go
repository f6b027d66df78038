package specimen

import (
	"fmt"
	"image/color"
	"math"

	"gonum.org/v1/plot"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"plybook/reports/figure"
	"plybook/reports/typeface"
)

var (
	teal  = color.NRGBA{R: 0x12, G: 0x50, B: 0x60, A: 0xff}
	brown = color.NRGBA{R: 0x9a, G: 0x5b, B: 0x13, A: 0xff}
)

func newPlot() *plot.Plot {
	typeface.SetPlotDefaults()
	p := plot.New()
	p.BackgroundColor = color.Transparent
	for _, a := range []*plot.Axis{&p.X, &p.Y} {
		a.Label.TextStyle.Font.Size = vg.Points(8.5)
		a.Tick.Label.Font.Size = vg.Points(8)
		a.LineStyle.Width = vg.Points(0.6)
		a.Tick.LineStyle.Width = vg.Points(0.6)
		a.Padding = vg.Points(3)
	}
	return p
}

// Survival is a step curve of two groups with bands and a strip of numbers
// at risk below.
func Survival(id string) *figure.Figure {
	return &figure.Figure{ID: id, Title: "Sockets not yet remade", Width: figure.FullWidth, Height: 92 * vg.Millimeter,
		Description: "Two falling step curves; at 12 months 67% (by hand) and 76% (under suction) are not yet remade.",
		Long:        "By hand: 93% at 3 months, 67% at 12, 43% at 24. Under suction: 96%, 76%, 55%. <Bands> overlap after 30 months & are faint.",
		Draw: func(c draw.Canvas) {
			p := newPlot()
			p.X.Label.Text, p.Y.Label.Text = "Months since delivery (≥ 0)", "Not yet remade, %"
			p.X.Min, p.X.Max, p.Y.Min, p.Y.Max = 0, 36, 0, 100
			p.X.Tick.Marker = plot.ConstantTicks([]plot.Tick{{Value: 0, Label: "0"}, {Value: 12, Label: "12"}, {Value: 24, Label: "24"}, {Value: 36, Label: "36"}})
			curves := []steps{{0.033, teal, nil, "Under suction"}, {0.045, brown, []vg.Length{4, 2}, "By hand"}}
			for _, s := range curves {
				p.Add(s)
			}
			strip := vg.Points(40)
			top := draw.Crop(c, 0, 0, strip, 0)
			p.Draw(top)
			data := p.DataCanvas(top)
			x, _ := p.Transforms(&data)
			for row, s := range curves {
				sty := p.X.Tick.Label
				sty.XAlign, sty.Color = -0.5, s.colour
				for _, m := range []float64{0, 12, 24, 36} {
					c.FillText(sty, vg.Point{X: x(m), Y: c.Min.Y + strip - vg.Points(float64(18+12*row))}, fmt.Sprint(int(math.Round(300*math.Exp(-s.rate*m)))))
				}
			}
			sty := p.X.Tick.Label
			sty.XAlign = 0
			c.FillText(sty, vg.Point{X: c.Min.X, Y: c.Min.Y + strip - vg.Points(18)}, "At risk")
		}}
}

// steps is a falling step curve with a band and its name at the end.
type steps struct {
	rate   float64
	colour color.NRGBA
	dash   []vg.Length
	name   string
}

func (s steps) Plot(c draw.Canvas, p *plot.Plot) {
	x, y := p.Transforms(&c)
	at := func(m, spread float64) float64 {
		return math.Max(0, math.Min(100, 100*math.Exp(-s.rate*m)+spread*math.Sqrt(m)))
	}
	var band, edge vg.Path
	band.Move(vg.Point{X: x(0), Y: y(100)})
	edge.Move(vg.Point{X: x(0), Y: y(100)})
	for m := 1.0; m <= 36; m++ {
		edge.Line(vg.Point{X: x(m), Y: y(at(m-1, 0))})
		edge.Line(vg.Point{X: x(m), Y: y(at(m, 0))})
		band.Line(vg.Point{X: x(m), Y: y(at(m-1, 1))})
		band.Line(vg.Point{X: x(m), Y: y(at(m, 1))})
	}
	for m := 36.0; m >= 1; m-- {
		band.Line(vg.Point{X: x(m), Y: y(at(m, -1))})
		band.Line(vg.Point{X: x(m), Y: y(at(m-1, -1))})
	}
	band.Close()
	c.SetColor(color.NRGBA{R: s.colour.R, G: s.colour.G, B: s.colour.B, A: 0x33})
	c.Fill(band)
	c.SetColor(s.colour)
	c.SetLineWidth(vg.Points(1.4))
	c.SetLineDash(s.dash, 0)
	c.Stroke(edge)
	sty := p.X.Tick.Label
	sty.Color, sty.XAlign = s.colour, -1
	c.FillText(sty, vg.Point{X: x(35.5), Y: y(at(35, 3)) + vg.Points(3)}, s.name)
}

// Bars is a half-width chart with names turned upright and round marks.
func Bars(id string) *figure.Figure {
	return &figure.Figure{ID: id, Title: "Counts by kind", Description: "Volume loss leads with 91.", Width: figure.HalfWidth, Height: 62 * vg.Millimeter,
		Draw: func(c draw.Canvas) {
			p := newPlot()
			p.Y.Label.Text = "Count"
			v := plotter.Values{91, 47, 29, 12}
			b, err := plotter.NewBarChart(v, vg.Points(18))
			if err != nil {
				panic(err) // the values are fixed
			}
			b.Color, b.LineStyle.Width = teal, 0
			p.Add(b)
			p.NominalX("Volume loss", "Breakage, wear", "Pain", "Łódź ±²")
			p.X.Tick.Label.Rotation = math.Pi / 5
			p.X.Tick.Label.XAlign = draw.XRight
			p.X.Tick.Label.YAlign = draw.YCenter
			p.X.Padding, p.X.Max = vg.Points(6), 3.5
			s, err := plotter.NewScatter(plotter.XYs{{X: 0, Y: 91}, {X: 1, Y: 47}, {X: 2, Y: 29}, {X: 3, Y: 12}})
			if err != nil {
				panic(err)
			}
			s.GlyphStyle = draw.GlyphStyle{Color: brown, Radius: vg.Points(3), Shape: draw.CircleGlyph{}}
			p.Add(s)
			p.Draw(c)
		}}
}
