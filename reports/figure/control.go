package figure

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/plot/vg"
)

// ControlPoint is one point of a chart over time. Centre, Lower and Upper
// are NaN where there is none.
type ControlPoint struct {
	Label                string // period or case as it is called in words: "2026-03"
	Day                  int    // days since 1970-01-01: where the point stands on a dated axis
	Value                float64
	Centre, Lower, Upper float64
	Phase                int      // 1, 2, ...
	Baseline             bool     // belongs to the frozen baseline
	Signals              []string // in words: "beyond the upper limit", "8 on one side"
	Hidden               bool     // withheld, since it stands for few people: a gap in the line
	Provisional          bool     // may still change: hollow, on a shaded ground
}

// Decision is a dated line on the chart.
type Decision struct {
	Day  int
	Text string
}

// OldLimits are the limits of an earlier phase carried on, drawn faint. On a
// chart by order the days are places in the order, from 1.
type OldLimits struct {
	FromDay, ToDay       int
	Centre, Lower, Upper float64
}

// Better is the direction of improvement.
type Better int

// The directions of improvement.
const (
	BetterUnknown Better = iota
	BetterLower
	BetterHigher
)

// ControlSpec says what to draw. The zero value of an option is its default.
type ControlSpec struct {
	ID          string
	Title       string
	ValueAxis   string // "Remade within 90 days"
	Percent     bool   // values are shares of one, shown in percent
	Unit        string // unit of other values
	CentreWord  string // "mean" (default), "median"
	ByOrder     bool   // points in order of cases, not by date; Day is then what the axis is labelled with
	OrderAxis   string // title of that axis; default "Case"
	Points      []ControlPoint
	Old         []OldLimits
	Decisions   []Decision
	Goal        *float64
	Better      Better
	Pending     []string // periods not yet complete and not drawn
	TrialLimits bool     // baseline too short to freeze: said beneath
	Width       vg.Length
	// Small leaves the decisions and what the cautions say to the text beside
	// the figure, and draws it lower: two such figures stand side by side with
	// their plots on one level.
	Small bool
}

// Control draws a chart over time: points joined, limits in steps, centre,
// frozen baseline shaded, signals by shape and word, decisions as numbered
// flags explained beneath.
func Control(spec ControlSpec) *Figure {
	fig := Figure{ID: spec.ID, Title: spec.Title}
	if spec.ValueAxis == "" {
		spec.ValueAxis = "Value"
	}
	if spec.CentreWord == "" {
		spec.CentreWord = "mean"
	}
	if spec.OrderAxis == "" {
		spec.OrderAxis = "Case"
	}
	if fig.Title == "" {
		fig.Title = spec.ValueAxis + " over time"
	}
	d := controlDrawing{spec: spec}
	gap := false
	for _, p := range spec.Points {
		switch {
		case p.Hidden:
			gap = true
			d.hidden = append(d.hidden, p)
		case finite(p.Value):
			d.points = append(d.points, p)
			d.gaps = append(d.gaps, gap)
			gap = false
		default:
			d.dropped++
		}
	}
	if len(d.points) == 0 {
		if len(d.hidden) > 0 {
			return nothing(fig, spec.Width, "No point is drawn: each stands for few people. A longer period would show more.")
		}
		return nothing(fig, spec.Width, "No period has a value to draw.")
	}
	d.layout()
	signalled := 0
	for _, p := range d.points {
		if len(p.Signals) > 0 {
			signalled++
		}
	}
	last := d.points[len(d.points)-1]
	said := "no signal"
	if signalled > 0 {
		said = fmt.Sprintf("%s with a signal", plural(signalled, "point", "points"))
	}
	fig.Caption = d.points[0].Label
	if len(d.points) > 1 {
		fig.Caption += " to " + last.Label
	}
	fig.Description = fmt.Sprintf("Control chart: %s, %s from %s to %s, %s; the last is %s.", lower(spec.ValueAxis),
		plural(len(d.points), "point", "points"), d.points[0].Label, last.Label, said, d.show(last.Value))
	var b strings.Builder
	for _, p := range d.points {
		fmt.Fprintf(&b, "%s: %s", p.Label, d.show(p.Value))
		if len(p.Signals) > 0 {
			fmt.Fprintf(&b, " (signal: %s)", strings.Join(p.Signals, ", "))
		}
		b.WriteString("; ")
	}
	long := strings.TrimSuffix(b.String(), "; ") + "."
	if finite(last.Centre) {
		long += fmt.Sprintf(" Centre at the end %s", d.show(last.Centre))
		if finite(last.Lower) {
			long += ", lower limit " + d.show(last.Lower)
		}
		if finite(last.Upper) {
			long += ", upper limit " + d.show(last.Upper)
		}
		long += "."
	}
	for i, dec := range spec.Decisions {
		long += fmt.Sprintf(" Decision %d, %s: %s", i+1, dateOf(dec.Day).Format("2 Jan 2006"), sentence(dec.Text))
	}
	fig.Long = long + droppedNote(d.dropped, "point")
	fig.Small = smaller(spec, func(s *ControlSpec) { s.Small, s.Width = true, HalfWidth }, Control)
	return d.finish(fig)
}

type controlDrawing struct {
	frame
	spec    ControlSpec
	points  []ControlPoint
	gaps    []bool         // by point: a withheld one lies before it
	hidden  []ControlPoint // withheld
	dropped int
	cut     bool // the axis of shares does not start at 0
	step    float64
	strip   vg.Length // baseline of the words above the plot
	words   []stripWord
	lines0  []vg.Length // where decision lines cross the strip
}

// stripWord names a stretch of the axis, above the plot.
type stripWord struct {
	text   string
	x0, x1 vg.Length
}

// named reports whether there is anything to name above the plot.
func (d *controlDrawing) named() bool {
	for i, p := range d.points {
		if p.Baseline || i > 0 && p.Phase != d.points[i-1].Phase {
			return true
		}
	}
	return false
}

// stripWords sets the names of baseline and phases where no decision line
// runs through them: at the start of the stretch, else at its end.
func (d *controlDrawing) stripWords() {
	end, beside := vg.Length(-1e9), vg.Length(2)
	if d.spec.Small {
		beside += flagSize // flags stand among the words
	}
	for _, w := range d.words {
		wide := small.width(w.text)
		for _, x := range []vg.Length{w.x0 + 3, (w.x0 + w.x1 - wide) / 2, w.x1 - wide - 3} {
			clear := x > end && x >= w.x0 && x+wide <= w.x1+20
			for _, l := range d.lines0 {
				clear = clear && (l < x-beside || l > x+wide+beside)
			}
			if clear && x+wide <= d.width {
				d.text(x, d.strip, w.text, small, quiet, fromLeft)
				end = x + wide + 4
				break
			}
		}
	}
}

func (d *controlDrawing) show(v float64) string {
	if d.spec.Percent {
		return percent(v)
	}
	t := brief(v)
	if d.spec.Unit != "" {
		t += " " + d.spec.Unit
	}
	return t
}

// place is where a point stands along the axis.
func (d *controlDrawing) place(i int) float64 {
	if d.spec.ByOrder {
		return float64(i + 1)
	}
	return float64(d.points[i].Day)
}

// when is where a day stands along the axis; on a chart by order, before the
// first point of that day or a later one.
func (d *controlDrawing) when(day int) float64 {
	if !d.spec.ByOrder {
		return float64(day)
	}
	at := 0.5
	for _, p := range d.points {
		if p.Day < day {
			at++
		}
	}
	return at
}

// reach is the stretch of the axis that belongs to a point: half way to its
// neighbours.
func (d *controlDrawing) reach(i int) (float64, float64) {
	x := d.place(i)
	lo, hi := x-d.step/2, x+d.step/2
	if i > 0 {
		lo = (d.place(i-1) + x) / 2
	}
	if i+1 < len(d.points) {
		hi = (x + d.place(i+1)) / 2
	}
	return lo, hi
}

func (d *controlDrawing) layout() {
	s := d.spec
	d.scene = &scene{width: widthOr(s.Width)}
	lo, hi := math.Inf(1), math.Inf(-1)
	take := func(vs ...float64) {
		for _, v := range vs {
			if finite(v) {
				lo, hi = math.Min(lo, v), math.Max(hi, v)
			}
		}
	}
	for _, p := range d.points {
		take(p.Value, p.Centre, p.Lower, p.Upper)
	}
	for _, o := range s.Old {
		take(o.Centre, o.Lower, o.Upper)
	}
	if s.Goal != nil {
		take(*s.Goal)
	}
	factor := 1.0
	if s.Percent {
		factor = 100
	}
	// Room above and below for the words at signals.
	pad := (hi - lo) * 0.08
	l, h := lo-pad, hi+pad
	// Shares of more than half are drawn from near the lowest of them: a chart
	// is of how they vary, and its lines and their names want room.
	if lo >= 0 && (l < 0 || s.Percent && lo <= 0.5) {
		l = 0
	}
	ticks, plotHeight, tickRoom := 6, vg.Length(170), vg.Length(46)
	if s.Small {
		ticks, plotHeight, tickRoom = 4, smallPlot, 34
	}
	l, h = roundOut(l*factor, h*factor, ticks-1)
	if s.Percent {
		l, h = max(l, 0), min(h, 100)
		if h <= l {
			l, h = 0, 100
		}
	}
	d.cut = s.Percent && l > 0
	yTicks := linearTicks(l, h, ticks)
	for i := range yTicks {
		yTicks[i].value /= factor
	}
	first, last := d.place(0), d.place(len(d.points)-1)
	d.step = 1
	if len(d.points) > 1 {
		d.step = math.Max((last-first)/float64(len(d.points)-1), 1e-9)
	} else if !s.ByOrder {
		d.step = 60
	}
	x0, x1 := first-d.step/2, last+d.step/2
	if !s.ByOrder {
		for _, p := range d.hidden {
			x0, x1 = math.Min(x0, float64(p.Day)-d.step/4), math.Max(x1, float64(p.Day)+d.step/4)
		}
	}
	for _, dec := range s.Decisions {
		x0, x1 = math.Min(x0, d.when(dec.Day)-d.step/4), math.Max(x1, d.when(dec.Day)+d.step/4)
	}
	x0, x1 = spread(x0, x1)

	ends := d.endTexts()
	var texts []string
	for _, e := range ends {
		texts = append(texts, e.text)
	}
	unit := s.Unit
	if s.Percent {
		unit = "%"
	}
	title := withUnit(s.ValueAxis, unit)
	hint := map[Better]string{BetterLower: "lower is better", BetterHigher: "higher is better"}[s.Better]
	d.left = small.widest(labels(yTicks)...) + tickGap + 2
	d.right = d.width - small.widest(texts...) - 10
	if s.Small {
		d.left, d.right = smallSides(d.width, d.left, d.right)
	}
	y := d.heading(0, title, hint) - 8
	flags := len(s.Decisions) > 0
	if flags || s.Small {
		y -= 13
	}
	if d.named() && !s.Small {
		y -= small.line() + 1
	}
	d.frame.top, d.bottom = y, y-plotHeight
	d.x = scale{lo: x0, hi: x1, from: d.left, to: d.right}
	d.y = scale{lo: l / factor, hi: h / factor, from: d.bottom, to: d.frame.top}

	d.strip = d.frame.top + 4 // clear of a limit at the top, and level with the numbers of small flags
	d.baseline()
	d.provisional()
	d.yGrid(yTicks)
	d.oldLimits()
	d.limits()
	if s.Goal != nil {
		y := d.y.at(*s.Goal)
		d.line(d.left, y, d.right, y, 1, green, []vg.Length{6, 2, 1.4, 2})
	}
	taken := d.phases()
	if flags {
		d.flags(&taken)
	}
	d.stripWords()
	unplaced := d.marks(taken)
	d.pointValues()
	slots := make([]slot, len(ends))
	for i, e := range ends {
		slots[i] = slot{want: d.y.in(e.value), height: small.line()}
	}
	apart(slots, d.bottom-4, d.frame.top+4)
	for i, e := range ends {
		if m := slots[i].at - slots[i].want; m > 1.5 || m < -1.5 {
			d.line(d.right+0.5, slots[i].want, d.right+6.5, slots[i].at, hairline, axis, nil)
		}
		d.middle(d.right+8, slots[i].at, e.text, small, quiet, fromLeft)
	}
	if s.ByOrder {
		d.xAxis(d.orderTicks(), s.OrderAxis)
	} else {
		d.xAxis(dateTicks(int(math.Ceil(x0)), int(math.Floor(x1)), max(int((d.right-d.left)/tickRoom), 2)), "")
	}
	d.below -= 3
	d.legend(unplaced, flags)
}
