// Package vector writes a single figure as SVG or PNG, and holds what the
// canvases of the report share.
package vector

import (
	"fmt"
	"math"

	"gonum.org/v1/plot/vg"

	"plybook/reports/figure"
)

// Check says why a figure cannot be drawn, or nil.
func Check(f *figure.Figure) error {
	switch {
	case f == nil || f.Draw == nil:
		return fmt.Errorf("a figure has nothing to draw")
	case !sound(f.Width) || !sound(f.Height):
		return fmt.Errorf("figure %q: its size %g by %g points cannot be drawn", f.ID, f.Width.Points(), f.Height.Points())
	}
	return nil
}

// sound sizes are positive and no larger than a PDF page may be.
func sound(l vg.Length) bool { return l > 0 && l.Points() <= 14400 }

// Arc is an arc of a path as cubic curves of a quarter turn at most (two
// control points and the end each), and its first point.
func Arc(comp vg.PathComp) (curves [][3]vg.Point, first vg.Point) {
	n := max(1, int(math.Ceil(math.Abs(comp.Angle)/(math.Pi/2)-1e-9)))
	step := comp.Angle / float64(n)
	k := vg.Length(4.0 / 3 * math.Tan(step/4))
	on := func(a float64) (at, tangent vg.Point) {
		sin, cos := math.Sincos(a)
		x, y := comp.Radius*vg.Length(cos), comp.Radius*vg.Length(sin)
		return vg.Point{X: comp.Pos.X + x, Y: comp.Pos.Y + y}, vg.Point{X: -y, Y: x}
	}
	a := comp.Start
	from, t1 := on(a)
	first = from
	for range n {
		end, t2 := on(a + step)
		curves = append(curves, [3]vg.Point{
			{X: from.X + k*t1.X, Y: from.Y + k*t1.Y},
			{X: end.X - k*t2.X, Y: end.Y - k*t2.Y},
			end,
		})
		a += step
		from, t1 = end, t2
	}
	return curves, first
}

// Pen takes the parts of a path, arcs and quadratic curves already turned
// into cubic ones.
type Pen interface {
	Move(vg.Point)
	Line(vg.Point)
	Curve(c1, c2, end vg.Point)
	Close()
}

// Trace hands a path to a pen. It fails, drawing nothing more, at a number
// that is not finite.
func Trace(path vg.Path, to Pen) error {
	var at, start vg.Point
	open := false
	line := func(pt vg.Point) {
		if open {
			to.Line(pt)
		} else {
			to.Move(pt)
			start, open = pt, true
		}
		at = pt
	}
	for _, comp := range path {
		if !Finite(comp.Pos.X, comp.Pos.Y, comp.Radius, vg.Length(comp.Start), vg.Length(comp.Angle)) {
			return fmt.Errorf("a point of a line is not a finite number")
		}
		for _, q := range comp.Control {
			if !Finite(q.X, q.Y) {
				return fmt.Errorf("a point of a curve is not a finite number")
			}
		}
		switch comp.Type {
		case vg.MoveComp:
			to.Move(comp.Pos)
			at, start, open = comp.Pos, comp.Pos, true
		case vg.LineComp:
			line(comp.Pos)
		case vg.ArcComp:
			curves, first := Arc(comp)
			line(first)
			for _, c := range curves {
				to.Curve(c[0], c[1], c[2])
				at = c[2]
			}
		case vg.CurveComp:
			switch {
			case !open:
				line(comp.Pos)
			case len(comp.Control) == 1: // quadratic, raised to cubic
				q := comp.Control[0]
				to.Curve(vg.Point{X: at.X + (q.X-at.X)*2/3, Y: at.Y + (q.Y-at.Y)*2/3},
					vg.Point{X: comp.Pos.X + (q.X-comp.Pos.X)*2/3, Y: comp.Pos.Y + (q.Y-comp.Pos.Y)*2/3}, comp.Pos)
			case len(comp.Control) == 2:
				to.Curve(comp.Control[0], comp.Control[1], comp.Pos)
			default:
				line(comp.Pos)
			}
			at = comp.Pos
		case vg.CloseComp:
			if open {
				to.Close()
				at = start
			}
		}
	}
	return nil
}

// Finite says whether all lengths are finite numbers.
func Finite(lengths ...vg.Length) bool {
	for _, l := range lengths {
		if math.IsNaN(float64(l)) || math.IsInf(float64(l), 0) {
			return false
		}
	}
	return true
}
