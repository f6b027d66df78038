package figure

import (
	"slices"
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
	Small      bool      // lower, and of the table the numbers at risk alone
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
	if len(d.curves) <= smallCurves {
		fig.Small = smaller(spec, func(s *CurvesSpec) { s.Small, s.Width, s.PlotHeight = true, HalfWidth, smallPlot }, Curves)
	}
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
	if d.alone() {
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

// alone reports whether the table gives the numbers at risk and no others.
func (d *curvesDrawing) alone() bool { return d.public() || d.spec.Repeated || d.spec.Small }

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
	d.tellHeads("Curve", d.timeAxis, d.value)
	for i := range d.curves {
		d.stepValues(i)
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
