package figure

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg"
)

// XY is a pair of values.
type XY struct{ X, Y float64 }

// BandPoint is a point of a fitted line with its interval; Low and High are
// NaN where there is none.
type BandPoint struct{ X, Y, Low, High float64 }

// Guide is a straight or curved line of reference with a name: limits of
// agreement, a line of equality, a control limit.
type Guide struct {
	Name   string
	Points []XY
}

// FitSpec says what to draw. The zero value of an option is its default.
type FitSpec struct {
	ID         string
	Title      string
	XAxis      string
	XUnit      string
	YAxis      string
	YUnit      string
	Points     []XY        // what was seen
	Bars       []BandPoint // values with their intervals, joined by a line, by X
	Line       []BandPoint // what was fitted, by X
	LineName   string      // direct label; default "fitted"
	Guides     []Guide
	Confidence float64
	XDays      bool    // X is in days: ticks in days, months or years
	ZeroY      bool    // the value axis starts at zero
	BandName   string  // what the band holds; default "interval of the fit"
	Known      float64 // X up to which was seen; beyond it the ground is shaded; 0: all
	KnownName  string  // of the line at Known; default "seen up to here"
	Width      vg.Length
}

// Fit draws an outcome against a number: the values seen as points, or
// counted in small squares where they are many, and the fitted line with
// its band.
func Fit(spec FitSpec) *Figure {
	fig := Figure{ID: spec.ID, Title: spec.Title}
	if spec.XAxis == "" {
		spec.XAxis = "x"
	}
	if spec.YAxis == "" {
		spec.YAxis = "y"
	}
	if spec.LineName == "" {
		spec.LineName = "fitted"
	}
	if spec.Confidence <= 0 || spec.Confidence >= 1 {
		spec.Confidence = 0.95
	}
	if fig.Title == "" {
		fig.Title = spec.YAxis + " against " + lower(spec.XAxis)
	}
	d := xyDrawing{width0: spec.Width, xTitle: spec.XAxis, xUnit: spec.XUnit, yTitle: spec.YAxis, yUnit: spec.YUnit, xDays: spec.XDays, zeroY: spec.ZeroY}
	points := d.keep(spec.Points)
	line, bars := d.keepBand(spec.Line), d.keepBand(spec.Bars)
	if len(bars) > 0 { // whose intervals are read, not cut
		d.see(bars[0].X, d.l0)
		d.see(bars[0].X, d.l1)
	}
	var guides []Guide
	for _, g := range spec.Guides {
		if pts := d.keep(g.Points); len(pts) > 0 {
			guides = append(guides, Guide{g.Name, pts})
		}
	}
	if len(points) == 0 && len(line) == 0 && len(bars) == 0 {
		return nothing(fig, spec.Width, "There are no values to draw.")
	}
	// The interval of the fit may run far out where there is little data:
	// it stretches the axis by no more than half of what was seen.
	var ends []endLabel
	var names []string
	if len(line) > 0 {
		names = append(names, spec.LineName)
	}
	for _, g := range guides {
		names = append(names, g.Name)
	}
	room, wrapped, cut := labelRoom(names, widthOr(spec.Width), 0.22, false)
	if len(names) == 0 {
		room = 8
	}
	d.axes(room, names, 190)
	if spec.Known != 0 {
		d.foretold(spec.Known, spec.KnownName)
	}
	binned := d.scatter(points)
	if d.band(line, blue, 0.16) && len(points) > 0 {
		if spec.BandName == "" {
			binned += fmt.Sprintf(" Shaded: %s interval of the fit.", percent(spec.Confidence))
		} else {
			binned += fmt.Sprintf(" Shaded: %s interval %s.", percent(spec.Confidence), spec.BandName)
		}
	}
	if len(line) > 0 {
		x, y := d.curve(line, 1.6, blue, nil)
		d.lineValues(spec.LineName, line)
		ends = append(ends, endLabel{x: x, y: y})
	}
	for _, g := range guides {
		var b []BandPoint
		for _, p := range g.Points {
			b = append(b, BandPoint{X: p.X, Y: p.Y})
		}
		x, y := d.curve(b, 0.9, quiet, []vg.Length{4, 2})
		d.lineValues(g.Name, b[len(b)-1:])
		ends = append(ends, endLabel{x: x, y: y})
	}
	d.xyHeads("Line")
	d.lineValues("", bars)
	if d.whiskers(bars) {
		binned += strings.TrimRight(fmt.Sprintf(" Bars: %s interval %s", percent(spec.Confidence), spec.BandName), " ") + "."
	}
	d.endLabels(ends, wrapped, d.bottom-2, d.frame.top+4)
	d.notes(strings.TrimSpace(binned))
	fig.Description = fmt.Sprintf("%s against %s: %s", spec.YAxis, lower(spec.XAxis), plural(len(points)+len(bars), "value", "values"))
	if n := len(line); n > 0 {
		fig.Description += fmt.Sprintf(" and a fitted line from %s at %s to %s at %s", d.showY(line[0].Y), d.showX(line[0].X), d.showY(line[n-1].Y), d.showX(line[n-1].X))
	}
	fig.Description += "."
	fig.Long = strings.TrimSpace(d.lineWords(line, spec.LineName) + d.lineWords(bars, spec.LineName) + cutNote(cut) + droppedNote(d.dropped, "value"))
	if fig.Long == "" {
		fig.Long = fig.Description
	}
	return d.finish(fig)
}

// whiskers draws values as dots with the interval of each, joined by a thin
// line, and reports whether there was any interval.
func (d *xyDrawing) whiskers(bars []BandPoint) bool {
	if len(bars) == 0 {
		return false
	}
	d.curve(bars, 0.8, quiet, nil)
	drawn := false
	for _, p := range bars {
		x := d.x.in(p.X)
		if finite(p.Low) && finite(p.High) && p.High > p.Low {
			drawn = true
			lo, hi := d.y.in(p.Low), d.y.in(p.High)
			d.line(x, lo, x, hi, 1, blue, nil)
			d.line(x-2.5, lo, x+2.5, lo, 1, blue, nil)
			d.line(x-2.5, hi, x+2.5, hi, 1, blue, nil)
		}
		d.marker(x, d.y.in(p.Y), 2.6, dot, blue)
	}
	return drawn
}

// foretold draws a line where what was seen ends, its name beside it.
func (d *xyDrawing) foretold(known float64, name string) {
	if !(known > d.x.lo) || known >= d.x.hi {
		return
	}
	if name == "" {
		name = "seen up to here"
	}
	x := d.x.at(known)
	d.polygon(box(x, d.bottom, d.right, d.frame.top), wash)
	d.line(x, d.bottom, x, d.frame.top, 0.7, quiet, []vg.Length{3, 2})
	d.text(min(x+2, d.width-small.width(name)), d.frame.top+2, name, small, quiet, fromLeft)
}

// Mean is an adjusted mean of a category with its interval.
type Mean struct {
	Name                string
	Estimate, Low, High float64
	Rows                int // 0: not shown
}

// MeansSpec says what to draw.
type MeansSpec struct {
	ID         string
	Title      string
	Measure    string // "Adjusted mean ply"
	Unit       string
	By         string // what the categories are: "cast method"
	Rows       string // head of the counts; default "rows"
	Confidence float64
	Means      []Mean
	Width      vg.Length
}

// Means draws adjusted means by category with their intervals.
func Means(spec MeansSpec) *Figure {
	if spec.Measure == "" {
		spec.Measure = "Adjusted mean"
	}
	if spec.Rows == "" {
		spec.Rows = "rows"
	}
	f := ForestSpec{ID: spec.ID, Title: spec.Title, Measure: spec.Measure, Unit: spec.Unit, Linear: true, NoLine: true, Confidence: spec.Confidence, Width: spec.Width, DetailHead: spec.Rows}
	if f.Title == "" {
		f.Title = spec.Measure
		if spec.By != "" {
			f.Title += " by " + spec.By
		}
	}
	for _, m := range spec.Means {
		r := ForestRow{Estimate: m.Estimate, Low: m.Low, High: m.High}
		if m.Rows > 0 {
			r.Detail = count(m.Rows)
		}
		f.Terms = append(f.Terms, ForestTerm{Name: m.Name, Rows: []ForestRow{r}})
	}
	return Forest(f)
}

// Path is one limb's repeated values, by X.
type Path struct {
	Name   string
	Points []XY
}

// TrajectoriesSpec says what to draw. The zero value of an option is its
// default.
type TrajectoriesSpec struct {
	ID         string
	Title      string
	XAxis      string // default "Time"
	XUnit      string
	XDays      bool // X is in days
	YAxis      string
	YUnit      string
	Each       string // what a thin line is: "limb" (default)
	Paths      []Path
	Line       []BandPoint // population line, by X
	LineName   string      // default "average limb"
	Groups     []GroupLine // several population lines instead of one
	Guides     []Guide     // lines of reference, each with its name
	WholeBand  bool        // the value axis reaches as far as the bands do
	Confidence float64
	Width      vg.Length
}

// GroupLine is the population line of one group.
type GroupLine struct {
	Name string
	Line []BandPoint
}

// mostPaths is how many thin lines are drawn: beyond it, one limb in so
// many stands for all, and the figure says so.
const mostPaths = 1500

// Trajectories draws each limb's values as a thin grey line and the
// population line with its band over them.
func Trajectories(spec TrajectoriesSpec) *Figure {
	fig := Figure{ID: spec.ID, Title: spec.Title}
	if spec.XAxis == "" {
		spec.XAxis = "Time"
	}
	if spec.YAxis == "" {
		spec.YAxis = "Value"
	}
	if spec.Each == "" {
		spec.Each = "limb"
	}
	if spec.LineName == "" {
		spec.LineName = "average " + spec.Each
	}
	if spec.Confidence <= 0 || spec.Confidence >= 1 {
		spec.Confidence = 0.95
	}
	if fig.Title == "" {
		fig.Title = spec.YAxis + " by " + lower(spec.XAxis)
	}
	d := xyDrawing{width0: spec.Width, xTitle: spec.XAxis, xUnit: spec.XUnit, yTitle: spec.YAxis, yUnit: spec.YUnit, xDays: spec.XDays, wholeBand: spec.WholeBand}
	groups := spec.Groups
	if len(groups) == 0 && len(spec.Line) > 0 {
		groups = []GroupLine{{spec.LineName, spec.Line}}
	}
	var kept []GroupLine
	var names []string
	for _, g := range groups {
		if l := d.keepBand(g.Line); len(l) > 0 {
			kept = append(kept, GroupLine{g.Name, l})
			names = append(names, g.Name)
		}
	}
	var guides []Guide
	for _, g := range spec.Guides {
		if pts := d.keep(g.Points); len(pts) > 0 {
			guides = append(guides, Guide{g.Name, pts})
			names = append(names, g.Name)
		}
	}
	stride := (len(spec.Paths) + mostPaths - 1) / mostPaths
	var paths [][]XY
	values, all := 0, 0
	for i, p := range spec.Paths {
		if pts := d.keep(p.Points); len(pts) > 0 {
			all++
			values += len(pts)
			if i%stride == 0 {
				paths = append(paths, pts)
			}
		}
	}
	if all == 0 && len(kept) == 0 {
		return nothing(fig, spec.Width, "There are no values to draw.")
	}
	key := len(kept) > 1
	room, wrapped, cut := labelRoom(names, widthOr(spec.Width), 0.24, key)
	if len(names) == 0 {
		room = 8
	}
	d.axes(room, names, 200)
	opacity := 0.75
	if len(paths) > 60 {
		opacity = math.Max(0.18, 0.75*math.Sqrt(60/float64(len(paths))))
	}
	grey := faint(axis, opacity)
	d.xyHeads("Line")
	for _, p := range paths {
		if len(p) == 1 {
			d.marker(d.x.in(p[0].X), d.y.in(p[0].Y), 1, dot, grey)
			continue
		}
		b := make([]BandPoint, len(p))
		for i, q := range p {
			b[i] = BandPoint{X: q.X, Y: q.Y}
		}
		d.curve(b, 0.5, grey, nil)
	}
	var ends []endLabel
	note := ""
	for i, g := range kept {
		if d.band(g.Line, seriesColour(i), 0.2) {
			note = fmt.Sprintf("Shaded: %s interval of the line. ", percent(spec.Confidence))
		}
	}
	if note != "" && slices.ContainsFunc(kept, func(g GroupLine) bool {
		return slices.ContainsFunc(g.Line, func(b BandPoint) bool { return finite(b.High) && b.High > d.y.hi || finite(b.Low) && b.Low < d.y.lo })
	}) {
		note += beyondNote + " "
	}
	for i, g := range kept {
		d.curve(g.Line, 3.6, faint(white, 0.85), nil)
		x, y := d.curve(g.Line, 2, seriesColour(i), seriesDash(i))
		d.lineValues(g.Name, g.Line)
		ends = append(ends, endLabel{name: g.Name, index: i, x: x, y: y, key: key})
	}
	for _, g := range guides {
		b := make([]BandPoint, len(g.Points))
		for i, p := range g.Points {
			b[i] = BandPoint{X: p.X, Y: p.Y}
		}
		x, y := d.curve(b, 0.9, quiet, []vg.Length{4, 2})
		ends = append(ends, endLabel{name: g.Name, x: x, y: y})
	}
	d.endLabels(ends, wrapped, d.bottom-2, d.frame.top+4)
	switch {
	case stride > 1:
		note += fmt.Sprintf("Thin: one in %d of %s.", stride, plural(all, spec.Each, spec.Each+"s"))
	case all > 0:
		note += fmt.Sprintf("Thin: %s.", plural(all, spec.Each, spec.Each+"s"))
	}
	d.notes(strings.TrimSpace(note))
	fig.Description = fmt.Sprintf("%s by %s", spec.YAxis, lower(spec.XAxis))
	between := ": "
	if all > 0 {
		fig.Description += fmt.Sprintf(": %s of %s", plural(values, "value", "values"), plural(all, spec.Each, spec.Each+"s"))
		between = "; "
	}
	if len(kept) > 0 {
		l := kept[0].Line
		fig.Description += fmt.Sprintf(between+"%s from %s at %s to %s at %s", kept[0].Name, d.showY(l[0].Y), d.showX(l[0].X), d.showY(l[len(l)-1].Y), d.showX(l[len(l)-1].X))
	}
	fig.Description += "."
	for _, g := range kept {
		fig.Long += d.lineWords(g.Line, g.Name)
	}
	if stride > 1 {
		fig.Long += fmt.Sprintf("One %s in %d is drawn. ", spec.Each, stride)
	}
	fig.Long = strings.TrimSpace(strings.TrimSpace(fig.Long) + cutNote(cut) + droppedNote(d.dropped, "value"))
	if fig.Long == "" {
		fig.Long = fig.Description
	}
	return d.finish(fig)
}
