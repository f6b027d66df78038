package figure

import (
	"fmt"
	"image/color"
	"math"
	"strings"

	"gonum.org/v1/plot/vg"
)

// Pull is one sheet pulled: where it stands on the two axes, its thinnest wall
// and its result, an index into PullsSpec.Results. A number not recorded is
// NaN.
type Pull struct {
	OvenC, Minutes, ThinnestMM float64
	Result                     int
}

// PullGroup is the pulls of one sheet. Oven, Minutes and Thinnest are the ends
// of the lab's own range, NaN where open or not given.
type PullGroup struct {
	Name                    string
	Pulls                   []Pull
	Oven, Minutes, Thinnest [2]float64
}

// PullsSpec says what to draw. The zero value of an option is its default.
type PullsSpec struct {
	ID, Title string
	Results   []string // the good one first
	Groups    []PullGroup
	Note      string
	Width     vg.Length
}

// pullMarks are the marks of the results in order. Shape tells them apart
// where colour does not.
var pullMarks = []struct {
	shape shape
	size  vg.Length
	col   color.NRGBA
}{{dot, 1.7, faint(blue, 0.45)}, {triangle, 2.7, vermilion}, {square, 2.4, black}, {cross, 2.5, purple}, {diamond, 2.6, green}, {ring, 2.3, quiet}}

// PullMarks is how many results can be told apart.
const PullMarks = 6

// Pulls draws the thinnest wall of each sheet against the temperature of the
// oven, at the left, and the minutes in it, at the right: one pair of plots a
// sheet, the mark by result, the lab's own ranges shaded.
func Pulls(spec PullsSpec) *Figure {
	fig := Figure{ID: spec.ID, Title: spec.Title}
	if fig.Title == "" {
		fig.Title = "Thinnest wall by oven temperature and minutes"
	}
	d := pullsDrawing{spec: spec}
	var groups []PullGroup
	for _, g := range spec.Groups {
		var in []Pull
		for _, p := range g.Pulls {
			if finite(p.ThinnestMM) && (finite(p.OvenC) || finite(p.Minutes)) && p.Result >= 0 && p.Result < len(spec.Results) {
				in = append(in, p)
				continue
			}
			d.dropped++
		}
		if g.Pulls = in; len(in) > 0 {
			groups = append(groups, g)
		}
	}
	if len(groups) == 0 {
		return nothing(fig, spec.Width, "No sheet has a thinnest wall recorded beside its temperature or minutes.")
	}
	d.spec.Groups = groups
	d.layout()
	drawn := 0
	var long strings.Builder
	for _, g := range groups {
		drawn += len(g.Pulls)
		counts := make([]int, len(spec.Results))
		lo, hi := math.Inf(1), math.Inf(-1)
		for _, p := range g.Pulls {
			counts[p.Result]++
			lo, hi = math.Min(lo, p.ThinnestMM), math.Max(hi, p.ThinnestMM)
		}
		var parts []string
		for k, n := range counts {
			if n > 0 {
				parts = append(parts, fmt.Sprintf("%s %s", spec.Results[k], count(n)))
			}
		}
		fmt.Fprintf(&long, "%s: %s, thinnest wall %s to %s mm; %s%s. ", g.Name, plural(len(g.Pulls), "sheet", "sheets"), brief(lo), brief(hi), strings.Join(parts, ", "), rangeWords(g))
	}
	fig.Description = fmt.Sprintf("Thinnest wall in mm against oven temperature and against minutes in the oven, %s of %s, marked by result.", plural(drawn, "sheet", "sheets"), plural(len(groups), "kind", "kinds"))
	fig.Long = strings.TrimSpace(long.String()) + cutNote(d.cut) + droppedNote(d.dropped, "sheet")
	return d.finish(fig)
}

// rangeWords says the lab's ranges of a sheet.
func rangeWords(g PullGroup) string {
	var parts []string
	for _, r := range []struct {
		name, unit string
		ends       [2]float64
	}{{"oven", "°C", g.Oven}, {"minutes", "min", g.Minutes}, {"thinnest wall", "mm", g.Thinnest}} {
		lo, hi := finite(r.ends[0]), finite(r.ends[1])
		switch {
		case lo && hi:
			parts = append(parts, fmt.Sprintf("%s %s to %s %s", r.name, trimmed(brief(r.ends[0])), trimmed(brief(r.ends[1])), r.unit))
		case lo:
			parts = append(parts, fmt.Sprintf("%s from %s %s", r.name, trimmed(brief(r.ends[0])), r.unit))
		case hi:
			parts = append(parts, fmt.Sprintf("%s up to %s %s", r.name, trimmed(brief(r.ends[1])), r.unit))
		}
	}
	if len(parts) == 0 {
		return ""
	}
	return "; the lab's range: " + strings.Join(parts, ", ")
}

type pullsDrawing struct {
	frame
	spec    PullsSpec
	dropped int
	cut     []string
}

func (d *pullsDrawing) layout() {
	s := d.spec
	d.scene = &scene{width: widthOr(s.Width)}
	y := d.heading(0, "Thinnest wall (mm)", "")
	y = d.key(y - 3)
	shaded := false
	for _, g := range s.Groups {
		y -= 5 + smallBold.line()
		name := smallBold.shorten(clean(g.Name), d.width*0.7)
		if name != clean(g.Name) {
			d.cut = append(d.cut, g.Name)
		}
		d.text(0, y+smallBold.descent(), name, smallBold, ink, fromLeft)
		d.text(d.width, y+small.descent(), plural(len(g.Pulls), "sheet", "sheets"), small, quiet, fromRight)
		y = d.pair(g, y-4)
		shaded = shaded || rangeWords(g) != ""
	}
	d.below = y
	var notes []string
	if shaded {
		notes = append(notes, "Shaded: the range that the lab entered.")
	}
	if s.Note != "" {
		notes = append(notes, s.Note)
	}
	d.notes(strings.Join(notes, " "))
}

// key sets the marks of the results in lines and returns where they end.
func (d *pullsDrawing) key(y vg.Length) vg.Length {
	x := vg.Length(0)
	y -= small.line() + 1
	for k, r := range d.spec.Results {
		name := small.shorten(clean(r), d.width/2)
		if name != clean(r) {
			d.cut = append(d.cut, r)
		}
		wide := 9 + small.width(name) + 12
		if x > 0 && x+wide > d.width {
			x, y = 0, y-small.line()-1
		}
		d.pullMark(x+3, y+small.line()/2-1, k)
		d.middle(x+9, y+small.line()/2-1, name, small, ink, fromLeft)
		x += wide
	}
	return y
}

func (d *pullsDrawing) pullMark(x, y vg.Length, result int) {
	m := pullMarks[result%len(pullMarks)]
	d.marker(x, y, m.size, m.shape, m.col)
}

// pair draws the two plots of a sheet from the top y and returns where they
// end.
func (d *pullsDrawing) pair(g PullGroup, y vg.Length) vg.Length {
	const height, between vg.Length = 92, 16
	lo, hi := math.Inf(1), math.Inf(-1)
	see := func(v float64) {
		if finite(v) {
			lo, hi = math.Min(lo, v), math.Max(hi, v)
		}
	}
	for _, p := range g.Pulls {
		see(p.ThinnestMM)
	}
	see(g.Thinnest[0])
	see(g.Thinnest[1])
	room := 0.03 * (hi - lo) // so that no mark lies half outside
	lo, hi = roundOut(math.Max(lo-room, 0), hi+room, 4)
	ticks := linearTicks(lo, hi, 4)
	left := small.widest(labels(ticks)...) + tickGap + 2
	wide := (d.width - left - between - 6) / 2
	end := y
	for k, axis := range []struct {
		title string
		of    func(Pull) float64
		ends  [2]float64
	}{{"Oven (°C)", func(p Pull) float64 { return p.OvenC }, g.Oven}, {"Minutes in the oven (min)", func(p Pull) float64 { return p.Minutes }, g.Minutes}} {
		f := frame{scene: d.scene, left: left + vg.Length(k)*(wide+between), top: y, bottom: y - height}
		f.right = f.left + wide
		f.y = scale{lo: lo, hi: hi, from: f.bottom, to: f.top}
		end = min(end, d.plot(&f, g, ticks, k == 0, axis.title, axis.of, axis.ends))
	}
	return end
}

// plot draws one of the two plots and returns where it ends.
func (d *pullsDrawing) plot(f *frame, g PullGroup, ticks []tick, labelled bool, title string, of func(Pull) float64, ends [2]float64) vg.Length {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, v := range []float64{ends[0], ends[1]} {
		if finite(v) {
			lo, hi = math.Min(lo, v), math.Max(hi, v)
		}
	}
	none := true
	for _, p := range g.Pulls {
		if v := of(p); finite(v) {
			lo, hi, none = math.Min(lo, v), math.Max(hi, v), false
		}
	}
	if none {
		f.outline(box(f.left, f.bottom, f.right, f.top), hairline, grid)
		f.middle((f.left+f.right)/2, (f.top+f.bottom)/2, "not recorded", small, quiet, centred)
		return f.bottom
	}
	lo, hi = spread(lo, hi)
	pad := (hi - lo) * 0.05
	f.x = scale{lo: lo - pad, hi: hi + pad, from: f.left, to: f.right}
	f.shade(ends, g.Thinnest)
	for _, t := range ticks {
		y := f.y.at(t.value)
		f.line(f.left, y, f.right, y, hairline, grid, nil)
		if labelled {
			f.middle(f.left-tickGap, y, t.label, small, quiet, fromRight)
		}
	}
	// The good ones first, so that the few others lie on top of them.
	for _, good := range []bool{true, false} {
		for _, p := range g.Pulls {
			if v := of(p); finite(v) && (p.Result == 0) == good {
				d.pullMark(f.x.at(v), f.y.at(p.ThinnestMM), p.Result)
			}
		}
	}
	f.xAxis(linearTicks(f.x.lo, f.x.hi, max(int((f.right-f.left)/38), 2)), title)
	return f.below
}

// shade fills what lies in the lab's range and rules its ends.
func (f *frame) shade(x, y [2]float64) {
	end := func(v float64, at scale, open vg.Length) vg.Length {
		if !finite(v) {
			return open
		}
		return at.in(v)
	}
	x0, x1 := end(x[0], f.x, f.left), end(x[1], f.x, f.right)
	y0, y1 := end(y[0], f.y, f.bottom), end(y[1], f.y, f.top)
	if x0 == f.left && x1 == f.right && y0 == f.bottom && y1 == f.top {
		return
	}
	f.polygon(box(x0, y0, x1, y1), tint(ochre, 0.16))
	for _, v := range []struct {
		given bool
		x     vg.Length
	}{{finite(x[0]), x0}, {finite(x[1]), x1}} {
		if v.given {
			f.line(v.x, f.bottom, v.x, f.top, 0.7, quiet, []vg.Length{3, 2})
		}
	}
	for _, v := range []struct {
		given bool
		y     vg.Length
	}{{finite(y[0]), y0}, {finite(y[1]), y1}} {
		if v.given {
			f.line(f.left, v.y, f.right, v.y, 0.7, quiet, []vg.Length{3, 2})
		}
	}
}
