package figure

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"gonum.org/v1/plot/vg"
)

// Direction is which way the curves go.
type Direction int

// The directions.
const (
	Down Direction = iota // from all, falling: still in use
	Up                    // from none, rising: incidence
)

// Step is a row of a step curve: the estimate holds from Time on. Low and
// High are NaN where there is no interval.
type Step struct {
	Time                     float64 // days
	Estimate, Low, High      float64 // share of one, or the value where CurvesSpec.Plain
	AtRisk, Events, Censored int     // at risk just before Time; counts at Time
}

// Curve is one step curve. Curves with the same Group and different Cause
// share one block of the table beneath.
type Curve struct {
	Group string // empty where there is one group
	Cause string // empty where there is one kind of event
	Steps []Step // by time
	// Open are stretches, each ending at the time of a step, in which the
	// fall to that step came at an unknown time: they are drawn as shaded
	// boxes with a dotted slope.
	Open []Stretch
	// Model is a curve fitted to the same rows, by X in days: it is drawn
	// smooth over the steps, which are then fainter.
	Model []XY
}

// CurvesSpec says what to draw. The zero value of an option is its default.
type CurvesSpec struct {
	ID         string
	Title      string // default: made from the axis titles
	Direction  Direction
	ValueAxis  string // "Sockets still in use"; the unit is added
	TimeAxis   string // "Time since delivery"; the unit is added
	Rows       string // what is at risk: "sockets" (default "rows")
	EventWord  string // "remakes" (default "events")
	Curves     []Curve
	Until      float64   // days; default: the last time of any curve
	Landmarks  []float64 // days, drawn dotted
	Confidence float64   // of the band; default 0.95
	Plain      bool      // values as they are (mean events per limb), not percent
	Unit       string    // unit of plain values
	Repeated   bool      // events do not end the watch: the table gives the numbers at risk alone
	NoBands    bool
	NoTable    bool
	FaintBelow int // lines are faint where fewer are at risk; default 10, negative: never
	Width      vg.Length
	PlotHeight vg.Length // default 190 points
	// Sparse says that the steps are all that may be known of a curve, with
	// HideBelow: it is thinned no further, the line runs straight from one to
	// the next, and counts stand at their times alone.
	Sparse    bool
	HideBelow int // counts of 1 to HideBelow-1 are withheld and the curve is thinned to quarters of a year; 0 or 1: nothing is
}

// Curves draws step curves with their intervals, marks where rows were
// censored, and sets the numbers at risk under the ticks they belong to.
func Curves(spec CurvesSpec) *Figure {
	d := newCurvesDrawing(spec)
	fig := Figure{ID: spec.ID, Title: spec.Title}
	if fig.Title == "" {
		fig.Title = d.value + " by " + lower(d.timeAxis)
	}
	if len(d.curves) == 0 && d.unknown > 0 {
		return nothing(fig, spec.Width, "No curve is drawn: at every time too few "+d.spec.Rows+" had ended, or were left, to be shown.")
	}
	if len(d.curves) == 0 {
		return nothing(fig, spec.Width, "No curve can be drawn: no row was at risk.")
	}
	fig.Description = d.description()
	fig.Long = d.long()
	d.layout()
	fig.Long += cutNote(d.cut) + droppedNote(d.dropped, "step")
	return d.finish(fig)
}

type curvesDrawing struct {
	frame
	spec     CurvesSpec
	curves   []Curve // cleaned
	names    []string
	groups   []riskBlock
	value    string
	timeAxis string
	until    float64
	unit     timeUnit
	top      float64 // of the value axis
	ticks    []tick
	bands    bool
	cut      []string
	dropped  int
	unknown  int // curves of which nothing but their start may be shown
}

func newCurvesDrawing(spec CurvesSpec) *curvesDrawing {
	d := &curvesDrawing{spec: spec, value: spec.ValueAxis, timeAxis: spec.TimeAxis}
	if d.value == "" {
		d.value = map[Direction]string{Down: "Still without the event", Up: "With the event"}[spec.Direction]
	}
	if d.timeAxis == "" {
		d.timeAxis = "Time"
	}
	if d.spec.Rows == "" {
		d.spec.Rows = "rows"
	}
	if d.spec.EventWord == "" {
		d.spec.EventWord = "events"
	}
	if d.spec.FaintBelow == 0 {
		d.spec.FaintBelow = 10
	}
	if d.spec.Confidence <= 0 || d.spec.Confidence >= 1 {
		d.spec.Confidence = 0.95
	}
	var full []Curve // before thinning: the counts come from these
	start := 0.0
	if spec.Direction == Down {
		start = 1
	}
	for _, c := range spec.Curves {
		steps := make([]Step, 0, len(c.Steps)+1)
		for _, s := range c.Steps {
			if !finite(s.Time) || !finite(s.Estimate) || s.Time < 0 {
				d.dropped++
				continue
			}
			steps = append(steps, s)
		}
		if len(steps) == 0 {
			continue
		}
		slices.SortStableFunc(steps, func(a, b Step) int {
			switch {
			case a.Time < b.Time:
				return -1
			case a.Time > b.Time:
				return 1
			}
			return 0
		})
		if steps[0].Time > 0 {
			steps = append([]Step{{Estimate: start, Low: start, High: start, AtRisk: steps[0].AtRisk}}, steps...)
		}
		whole := steps
		if !spec.Sparse {
			steps = publicSteps(steps, spec.HideBelow)
		} else if len(steps) < 2 {
			d.unknown++
			continue
		}
		full = append(full, Curve{Group: c.Group, Cause: c.Cause, Steps: whole, Open: c.Open, Model: c.Model})
		d.until = max(d.until, steps[len(steps)-1].Time)
		d.curves = append(d.curves, Curve{Group: c.Group, Cause: c.Cause, Steps: steps, Open: c.Open, Model: c.Model})
	}
	if spec.Until > 0 && finite(spec.Until) {
		d.until = spec.Until
	}
	if d.until == 0 {
		d.until = 1
	}
	d.unit = unitFor(d.until)
	d.bands = !spec.NoBands && len(d.curves) <= 4
	groups, causes := map[string]bool{}, map[string]bool{}
	for _, c := range d.curves {
		groups[c.Group], causes[c.Cause] = true, true
	}
	for _, c := range d.curves {
		name := c.Group
		switch {
		case len(groups) > 1 && len(causes) > 1:
			name = strings.Trim(c.Group+", "+c.Cause, ", ")
		case len(causes) > 1 || name == "" || name == "all" && c.Cause != "":
			name = c.Cause
		}
		if name == "" {
			name = "all"
		}
		d.names = append(d.names, name)
	}
	d.groups = riskBlocks(full, d.spec.EventWord)
	if d.public() || spec.Repeated {
		// With censored and events beside it, hardly a count could be shown.
		for i := range d.groups {
			d.groups[i].rows = d.groups[i].rows[:1]
		}
	}
	d.top = 1
	if spec.Direction == Up || spec.Plain {
		m := 0.0
		for _, c := range d.curves {
			for _, s := range c.Steps {
				if s.Time > d.until {
					break
				}
				m = max(m, s.Estimate)
				if d.bands && finite(s.High) && s.AtRisk >= d.spec.FaintBelow {
					m = max(m, s.High)
				}
			}
		}
		_, d.top = roundOut(0, m*1.02, 5)
		if m <= 0 {
			d.top = 0.1
		}
		if !spec.Plain {
			d.top = min(max(d.top, 0.05), 1)
		}
	}
	return d
}

// public reports whether small counts are withheld. Curves are then known
// at quarters of a year only, and drawn straight between them.
func (d *curvesDrawing) public() bool { return d.spec.HideBelow > 1 }

func (d *curvesDrawing) axisTitle() string {
	if !d.spec.Plain {
		return d.value + " (%)"
	}
	return withUnit(d.value, d.spec.Unit)
}

func (d *curvesDrawing) show(v float64) string {
	if d.spec.Plain {
		return strings.TrimSpace(brief(v) + " " + d.spec.Unit)
	}
	return percent(v)
}

func (d *curvesDrawing) layout() {
	d.scene = &scene{width: widthOr(d.spec.Width)}
	plotHeight := d.spec.PlotHeight
	if plotHeight <= 0 {
		plotHeight = 190
	}
	factor := 100.0
	if d.spec.Plain {
		factor = 1
	}
	yTicks := linearTicks(0, d.top*factor, 5)
	for i := range yTicks {
		yTicks[i].value /= factor
	}

	single := len(d.curves) == 1
	room, wrapped, cut := vg.Length(10), [][]string(nil), []string(nil)
	if !single || d.names[0] != "all" {
		room, wrapped, cut = labelRoom(d.names, d.width, 0.26, !single)
		d.cut = cut
		var need vg.Length
		for _, w := range wrapped {
			need += vg.Length(len(w))*plain.line() + 1
		}
		plotHeight = max(plotHeight, need)
	}

	// The left margin holds the tick labels, the names of the rows beneath
	// and the left half of the first number of each.
	d.left = small.widest(labels(yTicks)...) + tickGap + 2
	if !d.spec.NoTable {
		half := vg.Length(0)
		for _, g := range d.groups {
			half = max(half, small.width(count(g.start()))/2)
			if d.paired() {
				half = max(half, small.width(g.pair(0))/2)
			}
		}
		d.left = max(d.left, d.tableMargin()+6+half)
	}
	d.right = d.width - room

	// Fewer ticks where the numbers under them are wide.
	widest := small.width("00")
	for _, g := range d.groups {
		widest = max(widest, small.width(count(g.start())))
		if d.paired() {
			widest = max(widest, small.width(g.pair(1e300)))
		}
	}
	n := int(float64((d.right - d.left) / (widest + 9)))
	d.ticks = timeTicks(d.until, d.unit, min(max(n, 2), 9))

	y := d.heading(0, d.axisTitle(), "") - 5
	if len(d.spec.Landmarks) > 0 {
		y -= small.line()
	}
	d.frame.top, d.bottom = y-3, y-3-plotHeight
	d.x = scale{lo: 0, hi: d.until, from: d.left, to: d.right}
	d.y = scale{lo: 0, hi: d.top, from: d.bottom, to: d.frame.top}
	d.yGrid(yTicks)
	d.landmarks()
	ends := make([]endLabel, len(d.curves))
	if d.bands {
		for i := range d.curves {
			d.band(i)
		}
	}
	for i := range d.curves {
		x, y := d.curve(i)
		if mx, my, ok := d.model(i); ok {
			x, y = mx, my
		}
		ends[i] = endLabel{name: d.names[i], index: i, x: x, y: y, key: !single}
	}
	if wrapped != nil {
		d.endLabels(ends, wrapped, d.bottom-2, d.frame.top+4)
	}
	d.xAxis(d.ticks, d.timeAxis+" ("+d.unit.name+")")
	if !d.spec.NoTable {
		d.table()
	}
	d.below -= 3
	d.notes(d.smallPrint())
}

func (d *curvesDrawing) landmarks() {
	var taken []rect
	for _, l := range d.spec.Landmarks {
		if !finite(l) || l <= 0 || l > d.until {
			continue
		}
		x := d.x.at(l)
		d.line(x, d.bottom, x, d.frame.top+4, 0.7, quiet, []vg.Length{1, 2})
		t := duration(l)
		w := small.width(t)
		at := min(max(x, d.left+w/2), d.width-w/2)
		r := rect{at - w/2 - 2, d.frame.top + 5, at + w/2 + 2, d.frame.top + 14}
		if meetsAny(r, taken) {
			continue
		}
		taken = append(taken, r)
		d.text(at, d.frame.top+6.5, t, small, quiet, centred)
	}
}

// near leaves out steps too small to be seen, so that a million of them
// draw as fast as a thousand.
const near vg.Length = 0.12

func (d *curvesDrawing) band(i int) {
	var low, high []vg.Point
	opacity := []float64{0.15, 0.13, 0.1, 0.08}[min(len(d.curves), 4)-1]
	pale := false
	flush := func() {
		if len(high) > 1 {
			pts := slices.Clone(high)
			for k := len(low) - 1; k >= 0; k-- {
				pts = append(pts, low[k])
			}
			fill, edge := opacity, 0.5
			if pale {
				fill, edge = opacity*0.45, 0.25
			}
			d.polygon(pts, faint(seriesColour(i), fill))
			d.lines(high, 0.4, faint(seriesColour(i), edge), seriesDash(i))
			d.lines(low, 0.4, faint(seriesColour(i), edge), seriesDash(i))
		}
		low, high = nil, nil
	}
	steps := d.curves[i].Steps
	for k, s := range steps {
		if s.Time > d.until {
			break
		}
		next := d.lastTime(i)
		if k+1 < len(steps) {
			next = min(steps[k+1].Time, d.until)
		}
		if !finite(s.Low) || !finite(s.High) {
			flush()
			continue
		}
		x0, x1 := d.x.at(s.Time), d.x.at(max(next, s.Time))
		if d.public() {
			high, low = append(high, vg.Point{X: x0, Y: d.y.in(s.High)}), append(low, vg.Point{X: x0, Y: d.y.in(s.Low)})
			continue
		}
		if k+1 == len(steps) && k > 0 && x1 <= x0 {
			break // the last row holds for no time
		}
		// The stretch that follows is faint where few are at risk in it.
		if thin := k+1 < len(steps) && d.isThin(steps[k+1]); thin != pale {
			if n := len(high); n > 0 {
				high, low = append(high, vg.Point{X: x0, Y: high[n-1].Y}), append(low, vg.Point{X: x0, Y: low[n-1].Y})
			}
			flush()
			pale = thin
		}
		l, h := d.y.in(s.Low), d.y.in(s.High)
		if n := len(high); n > 0 && k+1 < len(steps) && x1-high[n-1].X < near && abs(h-high[n-1].Y) < near && abs(l-low[n-1].Y) < near {
			continue
		}
		high = append(high, vg.Point{X: x0, Y: h}, vg.Point{X: x1, Y: h})
		low = append(low, vg.Point{X: x0, Y: l}, vg.Point{X: x1, Y: l})
	}
	flush()
}

func (d *curvesDrawing) isThin(s Step) bool { return s.AtRisk < d.spec.FaintBelow }

func abs(v vg.Length) vg.Length { return vg.Length(math.Abs(float64(v))) }

// lastTime is where a curve ends: at its last row, or at the edge.
func (d *curvesDrawing) lastTime(i int) float64 {
	s := d.curves[i].Steps
	return min(s[len(s)-1].Time, d.until)
}

// curve draws line and censoring marks, and returns where the line ends.
func (d *curvesDrawing) curve(i int) (vg.Length, vg.Length) {
	c := d.curves[i]
	col, dash := seriesColour(i), seriesDash(i)
	pts := []vg.Point{{X: d.x.at(0), Y: d.y.in(c.Steps[0].Estimate)}}
	pale := false
	put := func() {
		wide, strength := lineWide, 1.0
		if len(c.Model) > 1 {
			wide, strength = 0.8, 0.8
		}
		if pale {
			strength = 0.38
		}
		d.lines(pts, wide, faint(col, strength), dash)
	}
	var marks []vg.Point
	end := pts[0]
	for _, s := range c.Steps[1:] {
		if s.Time > d.until {
			end = vg.Point{X: d.x.at(d.until), Y: end.Y}
			pts = append(pts, end)
			break
		}
		if c.inOpen(s.Time) {
			continue // nothing is known between the ends
		}
		thin := d.isThin(s)
		if thin != pale {
			put()
			pts, pale = []vg.Point{end}, thin
		}
		x, y := d.x.at(s.Time), d.y.in(s.Estimate)
		if o, ok := c.openAt(s.Time); ok && !d.public() {
			from := vg.Point{X: d.x.at(o.From), Y: end.Y}
			pts = append(pts, from)
			put()
			d.openFall(i, from, vg.Point{X: x, Y: y}, pale)
			end = vg.Point{X: x, Y: y}
			pts = []vg.Point{end}
			continue
		}
		if last := pts[len(pts)-1]; x-last.X >= near || abs(y-last.Y) >= near {
			if !d.public() {
				pts = append(pts, vg.Point{X: x, Y: end.Y})
			}
			if y != end.Y || d.public() {
				pts = append(pts, vg.Point{X: x, Y: y})
			}
		}
		end = vg.Point{X: x, Y: y}
		if s.Censored > 0 && !d.public() && (len(marks) == 0 || x-marks[len(marks)-1].X >= 1.6) {
			marks = append(marks, end)
		}
	}
	if pts[len(pts)-1] != end {
		pts = append(pts, end)
	}
	put()
	for _, m := range marks {
		d.line(m.X, m.Y-2.2, m.X, m.Y+2.2, 0.7, col, nil)
	}
	if len(c.Steps) == 1 {
		d.marker(end.X, end.Y, 2, dot, col)
	}
	return end.X, end.Y
}

func (d *curvesDrawing) smallPrint() string {
	var t []string
	if d.bands && d.anyBand() {
		t = append(t, fmt.Sprintf("Shaded: %s interval at each time.", percent(d.spec.Confidence)))
	} else if !d.spec.NoBands && !d.bands {
		t = append(t, fmt.Sprintf("Intervals of %d curves would hide one another: they stand in the tables.", len(d.curves)))
	}
	censored, pale := false, false
	for _, c := range d.curves {
		for k, s := range c.Steps {
			if s.Time > d.until {
				break
			}
			censored = censored || s.Censored > 0
			pale = pale || k > 0 && d.isThin(s)
		}
	}
	if d.public() {
		known := "Known at quarters of a year."
		if d.spec.Sparse {
			known = "Drawn straight between the times that may be shown."
		}
		if d.unknown > 0 {
			known += fmt.Sprintf(" Not drawn: %s of which no time may be shown.", plural(d.unknown, "curve", "curves"))
		}
		t = append(t, fmt.Sprintf(known+" Withheld (–): counts that, or whose differences, stand for 1 to %d.", d.spec.HideBelow-1))
	} else if censored {
		t = append(t, "Upright marks: censored.")
	}
	if d.paired() && d.late() && !d.spec.NoTable {
		t = append(t, fmt.Sprintf("At risk, censored and %s add up to the %s that had entered by then.", d.spec.EventWord, d.spec.Rows))
	}
	if d.anyOpen() {
		t = append(t, openNote)
	}
	if d.anyModel() {
		t = append(t, "Smooth lines: fitted; steps: seen.")
	}
	if pale {
		t = append(t, fmt.Sprintf("Faint: fewer than %d at risk.", d.spec.FaintBelow))
	}
	if d.top < 1 && !d.spec.Plain {
		t = append(t, fmt.Sprintf("The axis ends at %s.", percent(d.top)))
	}
	return strings.Join(t, " ")
}

func (d *curvesDrawing) anyBand() bool {
	for _, c := range d.curves {
		for _, s := range c.Steps {
			if finite(s.Low) && finite(s.High) && s.High > s.Low {
				return true
			}
		}
	}
	return false
}

func (d *curvesDrawing) at(i int, t float64) float64 {
	s := d.curves[i].Steps
	k := sort.Search(len(s), func(k int) bool { return s[k].Time > t })
	return s[max(k-1, 0)].Estimate
}

func (d *curvesDrawing) description() string {
	var parts []string
	for i := range d.curves {
		if i == 3 && len(d.curves) > 4 {
			parts = append(parts, fmt.Sprintf("and %d more", len(d.curves)-3))
			break
		}
		t := d.lastTime(i)
		part := d.show(d.at(i, t)) + " at " + d.when(t)
		if len(d.curves) > 1 || d.names[i] != "all" {
			part = d.names[i] + " " + part
		}
		parts = append(parts, part)
	}
	return fmt.Sprintf("Step curves: %s by %s, ending at: %s.", lower(d.value), lower(d.timeAxis), strings.Join(parts, ", "))
}

func (d *curvesDrawing) when(t float64) string {
	v := trimmed(brief(t / d.unit.days))
	if v == "1" {
		return "1 " + strings.TrimSuffix(d.unit.name, "s")
	}
	return v + " " + d.unit.name
}

func (d *curvesDrawing) long() string {
	times := d.spec.Landmarks
	if len(times) == 0 {
		ts := timeTicks(d.until, d.unit, 5)
		for _, t := range ts[min(1, len(ts)):] {
			times = append(times, t.value)
		}
	}
	var b strings.Builder
	for i, c := range d.curves {
		last := d.lastTime(i)
		events, censored := 0, 0
		for _, s := range c.Steps {
			events, censored = events+s.Events, censored+s.Censored
		}
		if d.public() {
			fmt.Fprintf(&b, "%s: ", upper(d.names[i]))
		} else {
			fmt.Fprintf(&b, "%s: %s at the start, %s, %s censored; ", upper(d.names[i]),
				plural(c.Steps[0].AtRisk, strings.TrimSuffix(d.spec.Rows, "s"), d.spec.Rows), plural(events, strings.TrimSuffix(d.spec.EventWord, "s"), d.spec.EventWord), count(censored))
		}
		for _, t := range times {
			if t > 0 && t < last {
				fmt.Fprintf(&b, "%s at %s, ", d.show(d.at(i, t)), d.when(t))
			}
		}
		fmt.Fprintf(&b, "%s at %s, where the curve ends. ", d.show(d.at(i, last)), d.when(last))
		b.WriteString(d.openWords(c))
		b.WriteString(d.modelWords(i))
	}
	return strings.TrimSpace(b.String())
}
