package figure

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg"
)

// ProneUnit is one unit with its ratio; Low and High are NaN where there is
// no interval.
type ProneUnit struct {
	Name             string // "" where it may not be named
	Ratio, Low, High float64
}

// ProneSpec says what to draw. The zero value of an option is its default.
type ProneSpec struct {
	ID         string
	Title      string
	YAxis      string      // "Rate against the average person"
	Each, Many string      // what a point is: "person" (default), "persons"
	Units      []ProneUnit // nil: only the curve
	Curve      []XY        // by share of one: the ratio below which that share lies
	CurveName  string      // default "as fitted"
	LowHint    string      // what it means to be below 1: "less often"
	HighHint   string
	Confidence float64
	Width      vg.Length
}

// mostNamed is how many units are named at either end.
const mostNamed = 3

// Prone draws units by how large their ratio is, from the smallest to the
// largest, with their intervals, and the curve of the distribution from which
// they are thought to come. Units whose interval leaves out 1 are dark, and
// the first and last of them named where there is room.
func Prone(spec ProneSpec) *Figure {
	if spec.Each == "" {
		spec.Each = "person"
	}
	if spec.Many == "" {
		spec.Many = spec.Each + "s"
	}
	if spec.YAxis == "" {
		spec.YAxis = "Ratio to the average " + spec.Each
	}
	if spec.CurveName == "" {
		spec.CurveName = "as fitted"
	}
	if spec.Confidence <= 0 || spec.Confidence >= 1 {
		spec.Confidence = 0.95
	}
	fig := Figure{ID: spec.ID, Title: spec.Title}
	if fig.Title == "" {
		fig.Title = spec.YAxis + ", " + spec.Each + " by " + spec.Each
	}
	d := xyDrawing{width0: spec.Width, xTitle: upper(spec.Many) + ", from the least to the most", xUnit: "%", yTitle: spec.YAxis, yRatio: true}
	ok := func(v float64) bool { return finite(v) && v > 0 }
	var units []ProneUnit
	for _, u := range spec.Units {
		if !ok(u.Ratio) {
			d.dropped++
			continue
		}
		if !ok(u.Low) || !ok(u.High) {
			u.Low, u.High = math.NaN(), math.NaN()
		}
		units = append(units, u)
	}
	slices.SortStableFunc(units, func(a, b ProneUnit) int {
		switch {
		case a.Ratio < b.Ratio:
			return -1
		case a.Ratio > b.Ratio:
			return 1
		}
		return 0
	})
	var points, curve []BandPoint
	for i, u := range units {
		points = append(points, BandPoint{X: 100 * (float64(i) + 0.5) / float64(len(units)), Y: u.Ratio, Low: u.Low, High: u.High})
	}
	// The smallest share of a very uneven distribution lies so close to 0 that
	// it would flatten all the rest.
	const least = 0.02
	for _, p := range spec.Curve {
		if ok(p.Y) {
			curve = append(curve, BandPoint{X: 100 * p.X, Y: max(p.Y, least), Low: math.NaN(), High: math.NaN()})
		}
	}
	d.keepBand(points)
	curve = d.keepBand(curve)
	if len(points) == 0 && len(curve) == 0 {
		return nothing(fig, spec.Width, "There is nothing to draw.")
	}
	d.see(0, 1)
	d.see(100, 1)
	names := []string{"average"}
	if len(curve) > 0 {
		names = append(names, spec.CurveName)
	}
	room, wrapped, _ := labelRoom(names, widthOr(spec.Width), 0.2, false)
	d.axes(room, names, 190)
	d.line(d.left, d.y.at(1), d.right, d.y.at(1), 0.9, quiet, nil)
	ends := []endLabel{{x: d.right, y: d.y.at(1)}}
	r, bar := vg.Length(2.4), 0.9
	if len(units) > 80 {
		r, bar = 1.6, 0.5
	}
	var apart []int
	taken := []rect{{d.left, d.y.at(1) - 1, d.right, d.y.at(1) + 1}}
	for i, p := range points {
		x, y, col := d.x.at(p.X), d.y.in(p.Y), axis
		if p.Low > 1 || p.High < 1 {
			col = ink
			apart = append(apart, i)
		}
		if finite(p.Low) {
			d.line(x, d.y.in(p.Low), x, d.y.in(p.High), vg.Length(bar), faint(col, 0.6), nil)
		}
		sh := ring
		if col == ink {
			sh = dot
		}
		d.marker(x, y, r, sh, col)
		taken = append(taken, rect{x - r, y - r, x + r, y + r})
		if col == ink && finite(p.Low) {
			taken = append(taken, rect{x - 0.5, d.y.in(p.Low), x + 0.5, d.y.in(p.High)})
		}
	}
	if len(curve) > 0 {
		d.curve(curve, 3.4, faint(white, 0.8), nil)
		x, y := d.curve(curve, 1.8, blue, nil)
		d.xyHeads("")
		d.lineValues("", curve)
		ends = append(ends, endLabel{x: x, y: y})
		for px := d.x.lo; px < d.x.hi; px += 0.5 {
			if v := at(curve, px); finite(v) {
				x, y := d.x.at(px), d.y.in(v)
				taken = append(taken, rect{x - 2, y - 2, x + 2, y + 2})
			}
		}
	}
	d.endLabels(ends, wrapped, d.bottom-2, d.frame.top+4)
	d.nameEnds(units, points, apart, taken)
	d.hints(spec)
	var notes []string
	if len(units) > 0 {
		n := fmt.Sprintf("Circles: %s", plural(len(units), spec.Each, spec.Many))
		if slices.ContainsFunc(points, func(p BandPoint) bool { return finite(p.Low) }) {
			n += fmt.Sprintf(", with %s intervals; filled where the interval leaves out 1", percent(spec.Confidence))
		}
		drawn := ". They are drawn toward 1, the more the less is known of one"
		if len(curve) > 0 {
			drawn += ", and so spread less than the curve"
		}
		notes = append(notes, n+drawn+".")
	}
	if len(curve) > 0 {
		notes = append(notes, fmt.Sprintf("Curve: the ratio below which that share of %s is thought to lie.", spec.Many))
	}
	notes = append(notes, "The axis of ratios is logarithmic.")
	d.notes(strings.Join(notes, " "))
	fig.Description = fmt.Sprintf("%s of %s, from the least to the most", spec.YAxis, spec.Many)
	if n := len(units); n > 0 {
		fig.Description += fmt.Sprintf(": %s from %s to %s, %s with an interval that leaves out 1", plural(n, spec.Each, spec.Many), brief(units[0].Ratio), brief(units[n-1].Ratio), count(len(apart)))
	}
	fig.Description += "."
	for _, share := range []float64{10, 25, 50, 75, 90} {
		if v := at(curve, share); finite(v) {
			fig.Long += fmt.Sprintf("%s of %s are thought to lie below %s. ", percent(share/100), spec.Many, brief(v))
		}
	}
	fig.Long = strings.TrimSpace(fig.Long + droppedNote(d.dropped, "value"))
	if fig.Long == "" {
		fig.Long = fig.Description
	}
	return d.finish(fig)
}

// nameEnds names the first and last units whose interval leaves out 1, where
// a name meets nothing else.
func (d *xyDrawing) nameEnds(units []ProneUnit, points []BandPoint, which []int, taken []rect) {
	named := 0
	for k, i := range which {
		if units[i].Name == "" || k >= mostNamed && k < len(which)-mostNamed || named >= 2*mostNamed {
			continue
		}
		name := small.shorten(clean(units[i].Name), 70)
		w := small.width(name)
		x, y := d.x.at(points[i].X), d.y.in(points[i].Y)
		up, down := d.y.in(points[i].High), d.y.in(points[i].Low)
		for _, r := range []rect{{x - w - 4, y - 4, x - 4, y + 4}, {x + 4, y - 4, x + w + 4, y + 4}, {x - w/2, up + 2, x + w/2, up + 10}, {x - w/2, down - 10, x + w/2, down - 2}} {
			if r.x0 < d.left || r.x1 > d.right || r.y0 < d.bottom+1 || r.y1 > d.frame.top || meetsAny(r, taken) {
				continue
			}
			taken = append(taken, r)
			d.middle(r.x0, (r.y0+r.y1)/2, name, small, ink, fromLeft)
			named++
			break
		}
	}
}

// hints says at the left what lies above and below 1.
func (d *xyDrawing) hints(spec ProneSpec) {
	one := d.y.at(1)
	if spec.HighHint != "" && one+16 < d.frame.top {
		d.middle(d.left+4, d.frame.top-5, spec.HighHint, small, quiet, fromLeft)
	}
	if spec.LowHint != "" && one-16 > d.bottom {
		d.middle(d.right-4, d.bottom+6, spec.LowHint, small, quiet, fromRight)
	}
}
