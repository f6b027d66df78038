package figure

import (
	"math"
	"slices"

	"gonum.org/v1/plot/vg"
)

// FittedCurve is a smooth curve of the share left by time. Low and High of
// its points are NaN where there is no interval.
type FittedCurve struct {
	Name   string
	Points []BandPoint // X in days, Y a share of one
	Marks  []Mark      // one for each of FittedSpec.Shares; none: no strip
}

// Mark is the time by which a curve has come down to a share, with its
// interval; High may be infinite, all NaN where there is none.
type Mark struct {
	Time, Low, High float64
	Text            string // as printed beside it
}

// FittedSpec says what to draw. The zero value of an option is its default.
type FittedSpec struct {
	ID, Title  string
	ValueAxis  string // "Sockets not yet remade"; the unit is added
	TimeAxis   string // "Time since delivery"; the unit is added
	Curves     []FittedCurve
	Seen       []Step    // the step curve of what was seen, drawn beneath; nil: none
	Open       []Stretch // as in Curve
	SeenName   string    // default "seen"
	HideBelow  int       // as in CurvesSpec: the steps are thinned
	Shares     []float64 // of the strips beneath: 0.5 where half are left
	ShareWords []string  // "Half are remade by"
	Known      float64   // days after which nothing is known: shaded; 0: nowhere
	Until      float64   // days; default: the end of the longest curve
	Landmarks  []float64 // days, drawn dotted
	Confidence float64   // default 0.95
	Width      vg.Length
	PlotHeight vg.Length // default 190 points
}

// fittedDrawing lays the curves out with the frame of step curves, whose
// axes, grid and dotted times it shares.
type fittedDrawing struct {
	curvesDrawing
	of    FittedSpec
	names []string // of the lines, the steps last
	seen  bool
}

// Fitted draws smooth curves with direct labels, over the steps of what was
// seen where they are given, and beneath them, by strips on the same axis,
// when each curve comes down to a share.
func Fitted(spec FittedSpec) *Figure {
	fig := Figure{ID: spec.ID, Title: spec.Title}
	d := &fittedDrawing{of: spec}
	d.clean()
	if fig.Title == "" {
		fig.Title = d.value + " by " + lower(d.timeAxis)
	}
	if len(d.of.Curves) == 0 {
		return nothing(fig, spec.Width, "No curve can be drawn: none could be fitted.")
	}
	fig.Description, fig.Long = d.description(), d.long()
	d.layout()
	fig.Long += cutNote(d.cut) + droppedNote(d.dropped, "point")
	return d.finish(fig)
}

func (d *fittedDrawing) clean() {
	s := d.of
	if s.SeenName == "" {
		s.SeenName = "seen"
	}
	if s.Confidence <= 0 || s.Confidence >= 1 {
		s.Confidence = 0.95
	}
	d.value, d.timeAxis = s.ValueAxis, s.TimeAxis
	if d.value == "" {
		d.value = "Still without the event"
	}
	if d.timeAxis == "" {
		d.timeAxis = "Time"
	}
	var curves []FittedCurve
	for _, c := range s.Curves {
		var pts []BandPoint
		for _, p := range c.Points {
			if !finite(p.X) || !finite(p.Y) || p.X < 0 {
				d.dropped++
				continue
			}
			pts = append(pts, p)
		}
		if len(pts) < 2 {
			continue
		}
		slices.SortStableFunc(pts, func(a, b BandPoint) int {
			switch {
			case a.X < b.X:
				return -1
			case a.X > b.X:
				return 1
			}
			return 0
		})
		c.Points = pts
		d.until = max(d.until, pts[len(pts)-1].X)
		curves = append(curves, c)
		d.names = append(d.names, c.Name)
	}
	s.Curves = curves
	if s.Until > 0 && finite(s.Until) {
		d.until = s.Until
	}
	if d.until == 0 {
		d.until = 1
	}
	d.unit = unitFor(d.until)
	d.spec = CurvesSpec{HideBelow: s.HideBelow, NoBands: true, NoTable: true, FaintBelow: -1, Landmarks: s.Landmarks}
	if steps := publicSteps(s.Seen, s.HideBelow); len(steps) > 1 {
		d.seen = true
		d.curves = []Curve{{Steps: steps, Open: s.Open}}
		d.names = append(d.names, s.SeenName)
	}
	d.top, d.of = 1, s
}

func (d *fittedDrawing) bandsDrawn() bool {
	any := false
	for _, c := range d.of.Curves {
		for _, p := range c.Points {
			any = any || finite(p.Low) && finite(p.High) && p.High > p.Low
		}
	}
	return any && len(d.of.Curves) <= 4
}

func (d *fittedDrawing) layout() {
	d.scene = &scene{width: widthOr(d.of.Width)}
	height := d.of.PlotHeight
	if height <= 0 {
		height = 190
	}
	yTicks := linearTicks(0, 100, 5)
	for i := range yTicks {
		yTicks[i].value /= 100
	}
	single := len(d.names) == 1
	room, wrapped, cut := vg.Length(10), [][]string(nil), []string(nil)
	if !single || d.names[0] != "" {
		room, wrapped, cut = labelRoom(d.names, d.width, 0.28, !single)
		d.cut = cut
		var need vg.Length
		for _, w := range wrapped {
			need += vg.Length(len(w))*plain.line() + 1
		}
		height = max(height, need)
	}
	for _, c := range d.of.Curves {
		for k, m := range c.Marks {
			room = max(room, small.width(m.Text)+14, small.width(d.of.ShareWords[k])+14)
		}
	}
	d.left = small.widest(labels(yTicks)...) + tickGap + 2
	d.right = d.width - min(room, 0.45*d.width)
	d.ticks = timeTicks(d.until, d.unit, min(max(int(float64((d.right-d.left)/(small.width("00")+9))), 2), 9))
	y := d.heading(0, d.value+" (%)", "") - 5
	if len(d.of.Landmarks) > 0 || d.beyond() {
		y -= small.line()
	}
	d.frame.top, d.bottom = y-3, y-3-height
	d.x = scale{lo: 0, hi: d.until, from: d.left, to: d.right}
	d.y = scale{lo: 0, hi: 1, from: d.bottom, to: d.frame.top}
	strips := d.bottom - d.stripsHeight()
	if d.beyond() {
		x := d.x.at(d.of.Known)
		d.polygon(box(x, strips, d.right, d.frame.top), wash)
		d.line(x, strips, x, d.frame.top, 0.7, quiet, []vg.Length{3, 2})
		t := "nothing known from here"
		w := small.width(t)
		d.text(min(x+2, d.width-w), d.frame.top+2, t, small, quiet, fromLeft)
	}
	d.yGrid(yTicks)
	d.landmarks()
	d.line(d.left, d.bottom, d.right, d.bottom, hairline, axis, nil)
	if d.bandsDrawn() {
		for i, c := range d.of.Curves {
			d.smoothBand(i, c.Points)
		}
	}
	d.tellHeads("Curve", d.timeAxis, d.value)
	ends := make([]endLabel, len(d.names))
	if d.seen {
		x, y := d.steps()
		ends[len(ends)-1] = endLabel{name: d.of.SeenName, x: x, y: y, key: !single, ink: true}
	}
	for i, c := range d.of.Curves {
		var pts []vg.Point
		for _, p := range d.within(c.Points) {
			pts = append(pts, vg.Point{X: d.x.at(p.X), Y: d.y.in(p.Y)})
		}
		d.lines(pts, lineWide+0.2, seriesColour(i), seriesDash(i))
		d.fittedValues(c)
		end := pts[len(pts)-1]
		ends[i] = endLabel{name: c.Name, index: i, x: end.X, y: end.Y, key: !single}
	}
	if wrapped != nil {
		d.endLabels(ends, wrapped, d.bottom-2, d.frame.top+4)
	}
	d.strips()
	d.bottom = strips
	d.xAxis(d.ticks, d.timeAxis+" ("+d.unit.name+")")
	d.below -= 3
	d.notes(d.smallPrint())
}

// beyond says whether the drawing reaches past what is known.
func (d *fittedDrawing) beyond() bool { return d.of.Known > 0 && d.of.Known < d.until*(1-1e-9) }

// within are the points on the axis.
func (d *fittedDrawing) within(pts []BandPoint) []BandPoint {
	k := len(pts)
	for k > 1 && pts[k-1].X > d.until*(1+1e-9) {
		k--
	}
	return pts[:k]
}

func (d *fittedDrawing) smoothBand(i int, pts []BandPoint) {
	var low, high []vg.Point
	for _, p := range d.within(pts) {
		if !finite(p.Low) || !finite(p.High) {
			continue
		}
		x := d.x.at(p.X)
		high, low = append(high, vg.Point{X: x, Y: d.y.in(p.High)}), append(low, vg.Point{X: x, Y: d.y.in(p.Low)})
	}
	if len(high) < 2 {
		return
	}
	area := slices.Clone(high)
	for k := len(low) - 1; k >= 0; k-- {
		area = append(area, low[k])
	}
	opacity := []float64{0.15, 0.13, 0.1, 0.08}[min(len(d.of.Curves), 4)-1]
	d.polygon(area, faint(seriesColour(i), opacity))
	d.lines(high, 0.4, faint(seriesColour(i), 0.5), seriesDash(i))
	d.lines(low, 0.4, faint(seriesColour(i), 0.5), seriesDash(i))
}

// steps draws what was seen, thin and dark, and returns where it ends.
func (d *fittedDrawing) steps() (x, y vg.Length) {
	c := d.curves[0]
	at := vg.Point{X: d.x.at(0), Y: d.y.in(c.Steps[0].Estimate)}
	pts := []vg.Point{at}
	for _, s := range c.Steps[1:] {
		if s.Time > d.until || c.inOpen(s.Time) {
			continue
		}
		next := vg.Point{X: d.x.at(s.Time), Y: d.y.in(s.Estimate)}
		if o, ok := c.openAt(s.Time); ok && !d.public() {
			from := vg.Point{X: d.x.at(o.From), Y: at.Y}
			d.lines(append(pts, from), 0.9, ink, nil)
			d.polygon([]vg.Point{from, {X: next.X, Y: from.Y}, next, {X: from.X, Y: next.Y}}, faint(ink, 0.16))
			d.lines([]vg.Point{from, next}, 0.8, ink, []vg.Length{1.2, 1.6})
			pts, at = []vg.Point{next}, next
			continue
		}
		if !d.public() {
			pts = append(pts, vg.Point{X: next.X, Y: at.Y})
		}
		pts, at = append(pts, next), next
	}
	d.lines(pts, 0.9, ink, nil)
	return at.X, at.Y
}

const stripLine vg.Length = 11

func (d *fittedDrawing) stripsHeight() vg.Length {
	h := vg.Length(0)
	for k := range d.of.Shares {
		if n := d.marked(k); n > 0 {
			h += small.line() + 5 + vg.Length(n)*stripLine
		}
	}
	return h
}

// marked counts the curves with a mark of a share.
func (d *fittedDrawing) marked(k int) int {
	n := 0
	for _, c := range d.of.Curves {
		if k < len(c.Marks) {
			n++
		}
	}
	return n
}

// strips draws, beneath the curves and on their axis, when each comes down to
// a share, with the interval; an interval that leaves the axis ends in an
// arrow.
func (d *fittedDrawing) strips() {
	y := d.bottom
	for k, share := range d.of.Shares {
		if d.marked(k) == 0 {
			continue
		}
		guide := d.y.in(share)
		d.line(d.left, guide, d.right, guide, 0.6, quiet, []vg.Length{1, 2})
		y -= small.line() + 3
		d.text(d.right+10, y+small.descent(), d.of.ShareWords[k], small, quiet, fromLeft)
		y -= 2
		for i, c := range d.of.Curves {
			if k >= len(c.Marks) {
				continue
			}
			m, mid := c.Marks[k], y-stripLine/2
			y -= stripLine
			d.mark(i, m, mid)
			if finite(m.Time) && m.Time <= d.until {
				d.line(d.x.at(m.Time), guide, d.x.at(m.Time), mid, 0.5, faint(seriesColour(i), 0.7), []vg.Length{1, 1.5})
			}
			d.middle(d.right+10, mid, m.Text, small, ink, fromLeft)
		}
	}
}

func (d *fittedDrawing) mark(i int, m Mark, y vg.Length) {
	col, dash := seriesColour(i), seriesDash(i)
	if !math.IsNaN(m.Low) && !math.IsNaN(m.High) && m.Low < d.until {
		from, to := d.x.at(m.Low), d.x.in(m.High)
		d.line(from, y-2.2, from, y+2.2, 0.9, col, nil)
		if m.High > d.until {
			d.lines([]vg.Point{{X: from, Y: y}, {X: to - 5, Y: y}}, 1.1, col, dash)
			d.arrow(to-5.5, y, to, y, 1.1, col)
		} else {
			d.lines([]vg.Point{{X: from, Y: y}, {X: to, Y: y}}, 1.1, col, dash)
			d.line(to, y-2.2, to, y+2.2, 0.9, col, nil)
		}
	}
	if finite(m.Time) && m.Time <= d.until {
		d.marker(d.x.at(m.Time), y, 2.6, []shape{dot, square, diamond, triangle}[i%4], col)
	}
}
