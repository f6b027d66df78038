package figure

import (
	"image/color"
	"math"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// scene is a drawing laid out once, in points from the lower left corner,
// and put on any canvas afterwards. Marks are kept in the order made.
type scene struct {
	width, height vg.Length
	marks         []mark
	values        values
}

type mark interface{ put(c vg.Canvas) }

type stroke struct {
	path  vg.Path
	width vg.Length
	col   color.NRGBA
	dash  []vg.Length
}

type fill struct {
	path vg.Path
	col  color.NRGBA
}

type run struct {
	at    vg.Point // start of the baseline
	angle float64  // turn about that point, anticlockwise
	text  string
	style style
	col   color.NRGBA
}

func (m stroke) put(c vg.Canvas) {
	c.SetLineWidth(m.width)
	c.SetLineDash(m.dash, 0)
	c.SetColor(m.col)
	c.Stroke(m.path)
}

func (m fill) put(c vg.Canvas) {
	c.SetColor(m.col)
	c.Fill(m.path)
}

func (m run) put(c vg.Canvas) {
	c.SetColor(m.col)
	if m.angle == 0 {
		c.FillString(m.style.face(), m.at, m.text)
		return
	}
	c.Push()
	c.Translate(m.at)
	c.Rotate(m.angle)
	c.FillString(m.style.face(), vg.Point{}, m.text)
	c.Pop()
}

// figure finishes the scene. The height may have been settled only while
// laying out.
func (s *scene) figure(f Figure) *Figure {
	marks := s.marks
	f.Width, f.Height = s.width, s.height
	f.Values, f.ValueHeads = s.values.list, s.values.heads
	f.Draw = func(c draw.Canvas) {
		size := c.Size()
		c.Push()
		defer c.Pop()
		c.Translate(c.Min)
		if math.Abs(float64(size.X-f.Width)) > 0.01 || math.Abs(float64(size.Y-f.Height)) > 0.01 {
			k := math.Min(float64(size.X/f.Width), float64(size.Y/f.Height))
			c.Scale(k, k)
		}
		for _, m := range marks {
			m.put(c.Canvas)
		}
	}
	return &f
}

// lift moves what was drawn so far upwards: layouts run downwards from zero,
// and the height is known at the end.
func (s *scene) lift(dy vg.Length) { s.shift(0, dy) }

// shift moves what was drawn so far.
func (s *scene) shift(dx, dy vg.Length) {
	for i := range s.values.list {
		v := &s.values.list[i]
		v.At.X, v.At.Y = v.At.X+dx, v.At.Y+dy
	}
	for i, m := range s.marks {
		switch m := m.(type) {
		case stroke:
			m.path = shifted(m.path, dx, dy)
			s.marks[i] = m
		case fill:
			m.path = shifted(m.path, dx, dy)
			s.marks[i] = m
		case run:
			m.at.X, m.at.Y = m.at.X+dx, m.at.Y+dy
			s.marks[i] = m
		}
	}
}

func shifted(p vg.Path, dx, dy vg.Length) vg.Path {
	out := make(vg.Path, len(p))
	for i, c := range p {
		c.Pos.X, c.Pos.Y = c.Pos.X+dx, c.Pos.Y+dy
		out[i] = c
	}
	return out
}

func path(pts []vg.Point, closed bool) vg.Path {
	var p vg.Path
	for i, pt := range pts {
		if i == 0 {
			p.Move(pt)
		} else {
			p.Line(pt)
		}
	}
	if closed {
		p.Close()
	}
	return p
}

func (s *scene) lines(pts []vg.Point, width vg.Length, col color.NRGBA, dash []vg.Length) {
	if len(pts) < 2 {
		return
	}
	s.marks = append(s.marks, stroke{path: path(pts, false), width: width, col: col, dash: dash})
}

func (s *scene) line(x0, y0, x1, y1, width vg.Length, col color.NRGBA, dash []vg.Length) {
	s.lines([]vg.Point{{X: x0, Y: y0}, {X: x1, Y: y1}}, width, col, dash)
}

func (s *scene) polygon(pts []vg.Point, col color.NRGBA) {
	if len(pts) < 3 {
		return
	}
	s.marks = append(s.marks, fill{path: path(pts, true), col: col})
}

func (s *scene) outline(pts []vg.Point, width vg.Length, col color.NRGBA) {
	if len(pts) < 2 {
		return
	}
	s.marks = append(s.marks, stroke{path: path(pts, true), width: width, col: col})
}

func box(x0, y0, x1, y1 vg.Length) []vg.Point {
	return []vg.Point{{X: x0, Y: y0}, {X: x1, Y: y0}, {X: x1, Y: y1}, {X: x0, Y: y1}}
}

// anchor says which part of a text stands on its point.
type anchor int

const (
	fromLeft anchor = iota
	centred
	fromRight
)

// text sets one line with its baseline at y.
func (s *scene) text(x, y vg.Length, t string, st style, col color.NRGBA, a anchor) {
	t = clean(t)
	if t == "" {
		return
	}
	switch a {
	case centred:
		x -= st.width(t) / 2
	case fromRight:
		x -= st.width(t)
	}
	s.marks = append(s.marks, run{at: vg.Point{X: x, Y: y}, text: t, style: st, col: col})
}

// middle sets one line whose capitals are centred on y.
func (s *scene) middle(x, y vg.Length, t string, st style, col color.NRGBA, a anchor) {
	s.text(x, y-st.capHeight()/2, t, st, col, a)
}

// paragraph sets wrapped text downwards from the top y and returns where it
// ends.
func (s *scene) paragraph(x, y, width vg.Length, t string, st style, col color.NRGBA) vg.Length {
	lines, _ := st.wrap(t, width, 0)
	for _, l := range lines {
		y -= st.line()
		s.text(x, y+st.descent(), l, st, col, fromLeft)
	}
	return y
}

// shape is a point's marker.
type shape int

const (
	dot shape = iota
	ring
	square
	diamond
	triangle
	cross
)

func (s *scene) marker(x, y, r vg.Length, sh shape, col color.NRGBA) {
	at := func(dx, dy vg.Length) vg.Point { return vg.Point{X: x + dx*r, Y: y + dy*r} }
	switch sh {
	case dot, ring:
		var p vg.Path
		p.Move(at(1, 0))
		p.Arc(vg.Point{X: x, Y: y}, r, 0, 2*math.Pi)
		p.Close()
		if sh == dot {
			s.marks = append(s.marks, fill{path: p, col: col})
			return
		}
		s.marks = append(s.marks, fill{path: p, col: white}, stroke{path: p, width: 0.9, col: col})
	case square:
		s.polygon(box(x-0.9*r, y-0.9*r, x+0.9*r, y+0.9*r), col)
	case diamond:
		s.polygon([]vg.Point{at(0, -1.3), at(1.3, 0), at(0, 1.3), at(-1.3, 0)}, col)
	case triangle:
		s.polygon([]vg.Point{at(-1.15, -0.9), at(1.15, -0.9), at(0, 1.25)}, col)
	case cross:
		s.line(x-r, y-r, x+r, y+r, 1.1, col, nil)
		s.line(x-r, y+r, x+r, y-r, 1.1, col, nil)
	}
}

// arrow draws a line with a small filled head at its end.
func (s *scene) arrow(x0, y0, x1, y1, width vg.Length, col color.NRGBA) {
	dx, dy := float64(x1-x0), float64(y1-y0)
	n := math.Hypot(dx, dy)
	if n == 0 {
		return
	}
	ux, uy := vg.Length(dx/n), vg.Length(dy/n)
	const l, w = 4.2, 1.9
	bx, by := x1-l*ux, y1-l*uy
	s.line(x0, y0, bx, by, width, col, nil)
	s.polygon([]vg.Point{{X: x1, Y: y1}, {X: bx - w*uy, Y: by + w*ux}, {X: bx + w*uy, Y: by - w*ux}}, col)
}

// hatch is a pattern of parallel lines laid over a polygon.
type hatch struct {
	angle   float64 // radians
	spacing vg.Length
	cross   bool // a second family at a right angle
	dotted  bool
}

// hatches go with the tints of stacked areas and bars.
var hatches = []*hatch{
	nil,
	{angle: math.Pi / 4, spacing: 4},
	{angle: 0, spacing: 3.4},
	{angle: -math.Pi / 4, spacing: 4, cross: true},
	{angle: -math.Pi / 4, spacing: 3},
	{angle: math.Pi / 2, spacing: 3.4},
	{angle: 0, spacing: 3.2, dotted: true},
}

func (s *scene) hatched(pts []vg.Point, h *hatch, col color.NRGBA) {
	if h == nil || len(pts) < 3 {
		return
	}
	s.hatchFamily(pts, h.angle, h.spacing, h.dotted, col)
	if h.cross {
		s.hatchFamily(pts, h.angle+math.Pi/2, h.spacing, h.dotted, col)
	}
}

// hatchFamily cuts a family of parallel lines with the polygon (even-odd),
// since canvases have no clipping. Lines lie on multiples of the spacing in
// the turned frame, so neighbouring areas continue one another's pattern.
func (s *scene) hatchFamily(pts []vg.Point, angle float64, spacing vg.Length, dotted bool, col color.NRGBA) {
	sin, cos := math.Sincos(angle)
	type xy struct{ x, y float64 }
	turned := make([]xy, len(pts))
	lo, hi := math.Inf(1), math.Inf(-1)
	for i, p := range pts {
		x, y := float64(p.X), float64(p.Y)
		turned[i] = xy{x*cos + y*sin, -x*sin + y*cos}
		lo, hi = math.Min(lo, turned[i].y), math.Max(hi, turned[i].y)
	}
	step := float64(spacing)
	first := int(math.Ceil(lo / step))
	last := int(math.Floor(hi / step))
	if last < first {
		return
	}
	cuts := make([][]float64, last-first+1)
	for i := range turned {
		a, b := turned[i], turned[(i+1)%len(turned)]
		if a.y == b.y {
			continue
		}
		if a.y > b.y {
			a, b = b, a
		}
		for k := int(math.Ceil(a.y / step)); float64(k)*step < b.y; k++ {
			if j := k - first; j >= 0 && j < len(cuts) {
				t := (float64(k)*step - a.y) / (b.y - a.y)
				cuts[j] = append(cuts[j], a.x+t*(b.x-a.x))
			}
		}
	}
	var dash []vg.Length
	if dotted {
		dash = []vg.Length{1, 2.4}
	}
	for j, xs := range cuts {
		sortFloats(xs)
		y := float64(first+j) * step
		for i := 0; i+1 < len(xs); i += 2 {
			if xs[i+1]-xs[i] < 0.2 {
				continue
			}
			s.line(vg.Length(xs[i]*cos-y*sin), vg.Length(xs[i]*sin+y*cos),
				vg.Length(xs[i+1]*cos-y*sin), vg.Length(xs[i+1]*sin+y*cos), 0.5, col, dash)
		}
	}
}
