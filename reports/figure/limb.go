package figure

import (
	"math"
	"sort"

	"gonum.org/v1/plot/vg"
)

// The drawings of residual limbs are ours: right limbs, standing, the palm to
// the front, in units of about a hundredth of the drawing's height, downwards
// from the top and sideways from the middle. The outer side lies at the left
// from the front and at the right from the back; from the outer side the front
// lies at the right. Where a region stands is common teaching of anatomy, no
// source.

// limbPoint is a place on a drawing.
type limbPoint [2]float64

// LimbSides are the views of a limb, in the order in which they are drawn.
var LimbSides = []string{"front", "back", "inner side", "outer side"}

// limbView is a limb as seen from one side.
type limbView struct {
	outline [][]limbPoint // smooth pieces, end to end: the skin
	cut     []limbPoint   // back to the beginning: where the body goes on
	lines   [][]limbPoint // folds and tendons
	bones   [][]limbPoint // beneath the skin, those nearer to the eye last
	scar    []limbPoint
	spots   map[string]limbPoint
}

// limbDrawing is a limb from its sides, in the order of LimbSides.
type limbDrawing struct {
	top, height float64
	views       [4]limbView
}

// limbDrawings are by the word for the level.
var limbDrawings = map[string]*limbDrawing{
	"transtibial":           &transtibial,
	"transfemoral":          &transfemoral,
	"knee disarticulation":  &throughKnee,
	"transradial":           &transradial,
	"wrist disarticulation": &transradial,
	"transhumeral":          &transhumeral,
	"elbow disarticulation": &transhumeral,
}

// likeAnother are levels that are drawn on the limb of another.
var likeAnother = map[string]string{"wrist disarticulation": "transradial", "elbow disarticulation": "transhumeral"}

// LimbDrawn says whether there is a drawing for a level, and of which level
// it is.
func LimbDrawn(level string) (of string, ok bool) {
	_, ok = limbDrawings[level]
	if other := likeAnother[level]; other != "" {
		return other, ok
	}
	return level, ok
}

// LimbShows are the views in which a region of a limb is seen; none where it
// stands nowhere on the drawing.
func LimbShows(level, region string) []string {
	d := limbDrawings[level]
	if d == nil {
		return nil
	}
	var out []string
	for k, v := range d.views {
		if _, ok := v.spots[region]; ok {
			out = append(out, LimbSides[k])
		}
	}
	return out
}

// LimbRegions are the regions that stand on the drawing of a level, sorted.
func LimbRegions(level string) []string {
	d := limbDrawings[level]
	if d == nil {
		return nil
	}
	seen := map[string]bool{}
	var out []string
	for _, v := range d.views {
		for r := range v.spots {
			if !seen[r] {
				seen[r] = true
				out = append(out, r)
			}
		}
	}
	sort.Strings(out)
	return out
}

// flipped is a line with left and right exchanged.
func flipped(pts []limbPoint) []limbPoint {
	out := make([]limbPoint, len(pts))
	for i, p := range pts {
		out[i] = limbPoint{-p[0], p[1]}
	}
	return out
}

// curved is a curve through points, as a fine line: cubics whose tangents run
// along the chord of the neighbours (Catmull and Rom 1974, with chords of
// unequal length).
func curved(pts []limbPoint, closed bool) []limbPoint {
	if closed && len(pts) > 1 && pts[0] == pts[len(pts)-1] {
		pts = pts[:len(pts)-1]
	}
	n := len(pts)
	if n < 3 {
		return pts
	}
	at := func(i int) limbPoint {
		if closed {
			return pts[((i%n)+n)%n]
		}
		return pts[min(max(i, 0), n-1)]
	}
	length := func(a, b limbPoint) float64 { return max(distance(a, b), 1e-9) }
	spans := n - 1
	if closed {
		spans = n
	}
	const fine = 10
	out := []limbPoint{pts[0]}
	for i := range spans {
		a, b, c, d := at(i-1), at(i), at(i+1), at(i+2)
		h := length(b, c)
		tangent := func(before, here, after limbPoint) limbPoint {
			l := length(before, here) + length(here, after)
			if before == here || here == after {
				l = length(before, after)
			}
			return limbPoint{(after[0] - before[0]) / l * h, (after[1] - before[1]) / l * h}
		}
		m0, m1 := tangent(a, b, c), tangent(b, c, d)
		for k := 1; k <= fine; k++ {
			t := float64(k) / fine
			h00, h10 := (1+2*t)*(1-t)*(1-t), t*(1-t)*(1-t)
			h01, h11 := t*t*(3-2*t), t*t*(t-1)
			out = append(out, limbPoint{h00*b[0] + h10*m0[0] + h01*c[0] + h11*m1[0], h00*b[1] + h10*m0[1] + h01*c[1] + h11*m1[1]})
		}
	}
	return out
}

// limbPlace puts units of a drawing on the page.
type limbPlace struct {
	x, y  vg.Length // the middle of the drawing's top
	scale vg.Length // points a unit
	top   float64
}

func (l limbPlace) at(p limbPoint) vg.Point {
	return vg.Point{X: l.x + vg.Length(p[0])*l.scale, Y: l.y - vg.Length(p[1]-l.top)*l.scale}
}

func distance(a, b limbPoint) float64 { return math.Hypot(a[0]-b[0], a[1]-b[1]) }

func hypot(x, y vg.Length) float64 { return math.Hypot(float64(x), float64(y)) }

func (l limbPlace) all(pts []limbPoint) []vg.Point {
	out := make([]vg.Point, len(pts))
	for i, p := range pts {
		out[i] = l.at(p)
	}
	return out
}

// reach is how far a view goes to the left and right.
func (v *limbView) reach() (left, right float64) {
	for _, piece := range append([][]limbPoint{v.cut}, v.outline...) {
		for _, p := range piece {
			left, right = min(left, p[0]), max(right, p[0])
		}
	}
	return left, right
}

// limb draws a view: skin filled and edged, what lies beneath and behind in
// quieter lines.
func (s *scene) limb(v *limbView, at limbPlace) {
	var body []vg.Point
	var pieces [][]vg.Point
	for _, piece := range v.outline {
		pts := at.all(curved(piece, piece[0] == piece[len(piece)-1]))
		body = append(body, pts...)
		pieces = append(pieces, pts)
	}
	edge := at.all(curved(v.cut, false))
	s.polygon(append(body, edge...), skinTone)
	s.lines(edge, 0.6, axis, []vg.Length{2, 2})
	for _, l := range v.bones {
		pts := at.all(curved(l, l[0] == l[len(l)-1]))
		s.polygon(pts, boneTone)
		s.lines(pts, 0.45, limbLine, nil)
	}
	for _, l := range v.lines {
		s.lines(at.all(curved(l, l[0] == l[len(l)-1])), 0.5, limbLine, nil)
	}
	if len(v.scar) > 1 {
		pts := at.all(curved(v.scar, false))
		s.lines(pts, 0.6, axis, nil)
		for i := 4; i < len(pts)-2; i += 7 {
			dx, dy := pts[i+1].X-pts[i-1].X, pts[i+1].Y-pts[i-1].Y
			l := vg.Length(hypot(dx, dy))
			if l > 0 {
				s.line(pts[i].X-1.6*dy/l, pts[i].Y+1.6*dx/l, pts[i].X+1.6*dy/l, pts[i].Y-1.6*dx/l, 0.5, axis, nil)
			}
		}
	}
	for _, pts := range pieces {
		s.lines(pts, 1.05, ink, nil)
	}
}
