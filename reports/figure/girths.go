package figure

import (
	"fmt"
	"image/color"
	"math"
	"strings"

	"gonum.org/v1/plot/vg"
)

// GirthStation is the mean of limbs, targets and models at one distance from
// the landmark. What is not known is NaN.
type GirthStation struct {
	MM, Limb, Target, Model, TargetReduction float64
}

// GirthLine is a line of reductions by station: X is the distance from the
// landmark, Y the reduction in percent with its interval.
type GirthLine struct {
	Name   string
	Points []BandPoint
}

// GirthsSpec says what to draw. The zero value of an option is its default.
type GirthsSpec struct {
	ID, Title  string
	Landmark   string // "mid-patellar tendon"
	Stations   []GirthStation
	Lines      []GirthLine // one, or one a group
	Confidence float64
	Note       string
	Width      vg.Length
}

// Girths draws a limb as it hangs, the landmark at the top: at the left the
// girth of limb, target and model by distance from the landmark, at the right
// by how much model and target are smaller than the limb.
func Girths(spec GirthsSpec) *Figure {
	fig := Figure{ID: spec.ID, Title: spec.Title}
	if fig.Title == "" {
		fig.Title = "Limb, target and model by station"
	}
	if spec.Confidence <= 0 || spec.Confidence >= 1 {
		spec.Confidence = 0.95
	}
	d := girthsDrawing{spec: spec}
	d.clean()
	if len(d.spec.Stations) == 0 || len(d.spec.Lines) == 0 {
		return nothing(fig, spec.Width, "No station has a limb and a model that could be drawn.")
	}
	d.layout()
	st := d.spec.Stations
	first, last := st[0], st[len(st)-1]
	fig.Description = fmt.Sprintf("Girth of limb, target and model, and reduction in percent, at %s from %s to %s mm from the landmark (%s): limb %s mm and model %s mm at the first, %s and %s mm at the last.",
		plural(len(st), "place", "places"), trimmed(brief(first.MM)), trimmed(brief(last.MM)), spec.Landmark, brief(first.Limb), brief(first.Model), brief(last.Limb), brief(last.Model))
	var long strings.Builder
	for _, s := range st {
		fmt.Fprintf(&long, "%s mm: limb %s, target %s, model %s mm. ", trimmed(brief(s.MM)), brief(s.Limb), brief(s.Target), brief(s.Model))
	}
	for _, l := range d.spec.Lines {
		fmt.Fprintf(&long, "Reduction, %s: ", l.Name)
		for k, p := range l.Points {
			if k > 0 {
				long.WriteString(", ")
			}
			fmt.Fprintf(&long, "%s%% at %s mm", brief(p.Y), trimmed(brief(p.X)))
			if finite(p.Low) && finite(p.High) {
				fmt.Fprintf(&long, " (%s to %s)", brief(p.Low), brief(p.High))
			}
		}
		long.WriteString(". ")
	}
	fig.Long = strings.TrimSpace(long.String()) + cutNote(d.cut) + droppedNote(d.dropped, "station")
	return d.finish(fig)
}

type girthsDrawing struct {
	frame
	spec    GirthsSpec
	dropped int
	cut     []string
}

func (d *girthsDrawing) clean() {
	var st []GirthStation
	for _, s := range d.spec.Stations {
		if finite(s.MM) && finite(s.Limb) && finite(s.Model) {
			st = append(st, s)
		} else {
			d.dropped++
		}
	}
	var lines []GirthLine
	for _, l := range d.spec.Lines {
		var pts []BandPoint
		for _, p := range l.Points {
			if finite(p.X) && finite(p.Y) {
				pts = append(pts, p)
			}
		}
		if l.Points = pts; len(pts) > 0 {
			lines = append(lines, l)
		}
	}
	d.spec.Stations, d.spec.Lines = st, lines
}

// targets says whether a target is known anywhere.
func (d *girthsDrawing) targets() bool {
	for _, s := range d.spec.Stations {
		if finite(s.Target) {
			return true
		}
	}
	return false
}

func (d *girthsDrawing) layout() {
	const height, between vg.Length = 190, 22
	d.scene = &scene{width: widthOr(d.spec.Width)}
	st := d.spec.Stations
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, s := range st {
		lo, hi = math.Min(lo, s.MM), math.Max(hi, s.MM)
	}
	for _, l := range d.spec.Lines {
		for _, p := range l.Points {
			lo, hi = math.Min(lo, p.X), math.Max(hi, p.X)
		}
	}
	lo, hi = spread(lo, hi)
	pad := 0.04 * (hi - lo)
	y := d.heading(0, "Distance from the landmark (mm)", "downwards from the "+d.spec.Landmark)
	ticks := linearTicks(lo, hi, 7)
	left := small.widest(labels(ticks)...) + tickGap + 2
	wide := (d.width - left - between - 4) / 2
	second := left + wide + between
	girthKey := []string{"limb", "model"}
	if d.targets() {
		girthKey = []string{"limb", "target", "model"}
	}
	names := []string{}
	for _, l := range d.spec.Lines {
		names = append(names, l.Name)
	}
	if d.targets() && len(d.spec.Lines) == 1 {
		names = append(names, "target")
	}
	y = min(d.key(left, y-3, wide, girthKey, d.girthStyle), d.key(second, y-3, wide, names, d.reductionStyle)) - 5
	d.frame.top = y
	vertical := scale{lo: hi + pad, hi: lo - pad, from: y - height, to: y}
	g := frame{scene: d.scene, y: vertical, left: left, right: left + wide, top: y, bottom: y - height}
	d.girths(&g, ticks)
	r := frame{scene: d.scene, y: vertical, left: second, right: second + wide, top: y, bottom: y - height}
	banded := d.reductions(&r, ticks)
	d.below = min(g.below, r.below) - 3
	note := d.spec.Note
	if banded {
		note = strings.TrimSpace(fmt.Sprintf("Bars: %s interval of the mean. ", percent(d.spec.Confidence)) + note)
	}
	d.notes(note)
}

// girthStyle is the colour, dash and mark of a kind of girth.
func (d *girthsDrawing) girthStyle(name string, _ int) (int, shape) {
	switch name {
	case "limb":
		return 0, dot
	case "target":
		return 1, diamond
	}
	return 2, square
}

func (d *girthsDrawing) reductionStyle(name string, k int) (int, shape) {
	if len(d.spec.Lines) == 1 {
		return d.girthStyle(name, k)
	}
	return k, []shape{dot, diamond, square, triangle, ring, cross}[k%6]
}

// key sets the samples of the lines, one beside the other, and returns where
// they end.
func (d *girthsDrawing) key(left, y, wide vg.Length, names []string, style func(string, int) (int, shape)) vg.Length {
	x := left
	y -= small.line() + 1
	for k, n := range names {
		text := small.shorten(clean(n), wide-keyWide-6)
		if text != clean(n) {
			d.cut = append(d.cut, n)
		}
		w := keyWide + 4 + small.width(text) + 10
		if x > left && x+w-10 > left+wide {
			x, y = left, y-small.line()-1
		}
		i, sh := style(n, k)
		mid := y + small.line()/2 - 1
		d.line(x, mid, x+keyWide, mid, lineWide, seriesColour(i), seriesDash(i))
		d.girthMark(x+keyWide/2, mid, sh, seriesColour(i))
		d.middle(x+keyWide+4, mid, text, small, ink, fromLeft)
		x += w
	}
	return y
}

// rows draws the lines of the stations.
func (d *girthsDrawing) rows(f *frame, ticks []tick, labelled bool) {
	for _, t := range ticks {
		y := f.y.at(t.value)
		f.line(f.left, y, f.right, y, hairline, grid, nil)
		if labelled {
			f.middle(f.left-tickGap, y, t.label, small, quiet, fromRight)
		}
	}
}

func (d *girthsDrawing) girths(f *frame, ticks []tick) {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, s := range d.spec.Stations {
		for _, v := range []float64{s.Limb, s.Target, s.Model} {
			if finite(v) {
				lo, hi = math.Min(lo, v), math.Max(hi, v)
			}
		}
	}
	lo, hi = spread(lo, hi)
	pad := 0.05 * (hi - lo)
	f.x = scale{lo: lo - pad, hi: hi + pad, from: f.left, to: f.right}
	d.rows(f, ticks, true)
	d.tellHeads("Line", "From the landmark (mm)", "Girth (mm) or reduction (%)")
	for k, of := range []func(GirthStation) float64{func(s GirthStation) float64 { return s.Limb }, func(s GirthStation) float64 { return s.Target }, func(s GirthStation) float64 { return s.Model }} {
		var pts []vg.Point
		for _, s := range d.spec.Stations {
			if v := of(s); finite(v) {
				f.tell(f.x.at(v), f.y.at(s.MM), "girth of the "+[]string{"limb", "target", "model"}[k], trimmed(brief(s.MM)), brief(v)+" mm")
				pts = append(pts, vg.Point{X: f.x.at(v), Y: f.y.at(s.MM)})
			}
		}
		d.path(pts, k, []shape{dot, diamond, square}[k])
	}
	f.xAxis(linearTicks(f.x.lo, f.x.hi, max(int((f.right-f.left)/40), 2)), "Girth (mm)")
}

func (d *girthsDrawing) path(pts []vg.Point, k int, sh shape) {
	d.lines(pts, lineWide, seriesColour(k), seriesDash(k))
	for _, p := range pts {
		d.girthMark(p.X, p.Y, sh, seriesColour(k))
	}
}

// girthMark is full, but for the diamond of targets: hollow and larger, so that
// a model that meets its target does not hide it.
func (d *girthsDrawing) girthMark(x, y vg.Length, sh shape, col color.NRGBA) {
	if sh == diamond {
		at := []vg.Point{{X: x, Y: y - 3.6}, {X: x + 3.6, Y: y}, {X: x, Y: y + 3.6}, {X: x - 3.6, Y: y}}
		d.polygon(at, white)
		d.outline(at, 0.9, col)
		return
	}
	d.marker(x, y, map[bool]vg.Length{true: 1.6, false: 2}[sh == square], sh, col)
}

// reductions draws the right panel and says whether any interval was drawn.
func (d *girthsDrawing) reductions(f *frame, ticks []tick) bool {
	lo, hi := 0.0, 0.0
	see := func(v float64) {
		if finite(v) {
			lo, hi = math.Min(lo, v), math.Max(hi, v)
		}
	}
	alone := len(d.spec.Lines) == 1
	for _, l := range d.spec.Lines {
		for _, p := range l.Points {
			see(p.Y)
			see(p.Low)
			see(p.High)
		}
	}
	if alone {
		for _, s := range d.spec.Stations {
			see(s.TargetReduction)
		}
	}
	lo, hi = roundOut(lo, hi, 5)
	pad := 0.03 * (hi - lo)
	f.x = scale{lo: lo - pad, hi: hi + pad, from: f.left, to: f.right}
	d.rows(f, ticks, false)
	zero := f.x.at(0)
	f.line(zero, f.bottom, zero, f.top, 0.8, axis, nil)
	banded := false
	if alone {
		var pts []vg.Point
		for _, s := range d.spec.Stations {
			if finite(s.TargetReduction) {
				pts = append(pts, vg.Point{X: f.x.at(s.TargetReduction), Y: f.y.at(s.MM)})
			}
		}
		d.path(pts, 1, diamond)
	}
	for k, l := range d.spec.Lines {
		i, sh := d.reductionStyle(map[bool]string{true: "model", false: l.Name}[alone], k)
		// Intervals of several lines stand side by side, not on one another.
		shift := (vg.Length(k) - vg.Length(len(d.spec.Lines)-1)/2) * 2.4
		var pts []vg.Point
		for _, p := range l.Points {
			y := f.y.at(p.X) - shift
			if finite(p.Low) && finite(p.High) {
				f.line(f.x.at(p.Low), y, f.x.at(p.High), y, 0.9, faint(seriesColour(i), 0.7), nil)
				banded = true
			}
			f.tell(f.x.at(p.Y), y, "reduction, "+l.Name, trimmed(brief(p.X)), ranged(brief, p.Y, p.Low, p.High)+" %")
			pts = append(pts, vg.Point{X: f.x.at(p.Y), Y: y})
		}
		d.path(pts, i, sh)
	}
	f.xAxis(linearTicks(lo, hi, max(int((f.right-f.left)/38), 2)), "Smaller than the limb (%)")
	return banded
}
