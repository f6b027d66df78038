package figure

import (
	"fmt"
	"image/color"
	"math"
	"strings"

	"gonum.org/v1/plot/vg"
)

// SegmentedPoint is a period of a series with a change in it.
type SegmentedPoint struct {
	Label   string
	Day     int
	Value   float64
	LeftOut bool // not used for the lines: hollow
	Hidden  bool // withheld, since it stands for few people
}

// DayValue is a point of a line over time.
type DayValue struct {
	Day   int
	Value float64
}

// SegmentedSpec says what to draw.
type SegmentedSpec struct {
	ID        string
	Title     string
	ValueAxis string
	Percent   bool // values are shares of one, shown in percent
	Unit      string
	Points    []SegmentedPoint // by date
	Before    []DayValue       // the fitted line before the change
	Since     []DayValue       // and since
	Counter   []DayValue       // the old line carried on
	Season    []DayValue       // what is fitted, its season with it; empty: none
	Changes   []Decision       // the first is the change that is measured
	Better    Better
	Width     vg.Length
}

// Segmented draws a series with the lines before and since a change, and
// where the old line would have led.
func Segmented(spec SegmentedSpec) *Figure {
	if spec.ValueAxis == "" {
		spec.ValueAxis = "Value"
	}
	fig := Figure{ID: spec.ID, Title: spec.Title}
	if fig.Title == "" {
		fig.Title = spec.ValueAxis + " over time"
	}
	d := segmentedDrawing{controlDrawing{spec: ControlSpec{Percent: spec.Percent, Unit: spec.Unit}}, spec}
	dropped, hidden := 0, 0
	for _, p := range spec.Points {
		switch {
		case p.Hidden:
			hidden++
		case !finite(p.Value):
			dropped++
		default:
			d.points = append(d.points, ControlPoint{Label: p.Label, Day: p.Day, Value: p.Value, Provisional: p.LeftOut})
		}
	}
	if len(d.points) == 0 {
		return nothing(fig, spec.Width, "No period has a value to draw.")
	}
	d.layout(hidden)
	fig.Caption = d.points[0].Label + " to " + d.points[len(d.points)-1].Label
	end := ""
	if n := len(spec.Since); n > 0 && len(spec.Counter) > 0 {
		end = fmt.Sprintf("; at the end the line since the change is at %s, the old one carried on at %s", d.show(spec.Since[n-1].Value), d.show(spec.Counter[len(spec.Counter)-1].Value))
	}
	fig.Description = fmt.Sprintf("Series with a change: %s, %s from %s to %s, with a line before the change and one since%s.", lower(spec.ValueAxis),
		plural(len(d.points), "point", "points"), d.points[0].Label, d.points[len(d.points)-1].Label, end)
	var b strings.Builder
	for _, p := range d.points {
		fmt.Fprintf(&b, "%s: %s", p.Label, d.show(p.Value))
		if p.Provisional {
			b.WriteString(" (left out of the lines)")
		}
		b.WriteString("; ")
	}
	fig.Long = strings.TrimSuffix(b.String(), "; ") + "." + droppedNote(dropped, "point")
	fig.Small = smaller(spec, func(s *SegmentedSpec) { s.Width = HalfWidth }, Segmented)
	return d.finish(fig)
}

type segmentedDrawing struct {
	controlDrawing
	spec SegmentedSpec
}

func (d *segmentedDrawing) layout(hidden int) {
	s := d.spec
	d.scene = &scene{width: widthOr(s.Width)}
	lo, hi, x0, x1 := math.Inf(1), math.Inf(-1), math.Inf(1), math.Inf(-1)
	see := func(day int, v float64) {
		lo, hi = math.Min(lo, v), math.Max(hi, v)
		x0, x1 = math.Min(x0, float64(day)), math.Max(x1, float64(day))
	}
	for _, p := range d.points {
		see(p.Day, p.Value)
	}
	seen := hi - lo
	for _, l := range [][]DayValue{s.Before, s.Since, s.Counter, s.Season} {
		for _, p := range l {
			// A line that runs far out stretches the axis no further than this.
			see(p.Day, math.Max(math.Min(p.Value, hi+seen/2), lo-seen/2))
		}
	}
	for _, c := range s.Changes {
		x0, x1 = math.Min(x0, float64(c.Day)), math.Max(x1, float64(c.Day))
	}
	factor := 1.0
	if s.Percent {
		factor = 100
	}
	nonNegative := true
	for _, p := range d.points {
		nonNegative = nonNegative && p.Value >= 0
	}
	if nonNegative && lo < 0 {
		lo = 0
	}
	if s.Percent {
		hi = math.Min(hi, 1)
	}
	l, h := roundOut(lo*factor, hi*factor, 5)
	yTicks := linearTicks(l, h, 6)
	for i := range yTicks {
		yTicks[i].value /= factor
	}
	x0, x1 = spread(x0, x1)
	pad := (x1 - x0) * 0.015
	unit := s.Unit
	if s.Percent {
		unit = "%"
	}
	names := []string{"line since", "old line carried on"}
	room, wrapped, _ := labelRoom(names, d.width, 0.2, false)
	d.left = small.widest(labels(yTicks)...) + tickGap + 2
	d.right = d.width - room
	hint := map[Better]string{BetterLower: "lower is better", BetterHigher: "higher is better"}[s.Better]
	y := d.heading(0, withUnit(s.ValueAxis, unit), hint) - 8
	if len(s.Changes) > 0 {
		y -= 13
	}
	d.frame.top, d.bottom = y, y-180
	d.x = scale{lo: x0 - pad, hi: x1 + pad, from: d.left, to: d.right}
	d.y = scale{lo: l / factor, hi: h / factor, from: d.bottom, to: d.frame.top}
	d.yGrid(yTicks)
	d.controlDrawing.spec.Decisions = s.Changes
	var taken []rect
	d.flags(&taken)
	d.tellHeads("", "Period", s.ValueAxis)
	for _, p := range d.points {
		x, y := d.x.in(float64(p.Day)), d.y.in(p.Value)
		d.marker(x, y, 2.1, dot, faint(ink, 0.75))
		d.tell(x, y, "", p.Label, d.show(p.Value)+map[bool]string{true: ", left out of the lines"}[p.Provisional])
		if p.Provisional {
			d.marker(x, y, 1.2, dot, white)
		}
	}
	cut := 0
	for cut < len(s.Season) && (len(s.Since) == 0 || s.Season[cut].Day < s.Since[0].Day) {
		cut++
	}
	d.path(s.Season[:cut], 0.8, faint(blue, 0.6), []vg.Length{1.4, 1.6})
	d.path(s.Season[cut:], 0.8, faint(blue, 0.6), []vg.Length{1.4, 1.6})
	d.path(s.Before, 1.6, blue, nil)
	d.path(s.Counter, 1.2, vermilion, []vg.Length{5, 2})
	d.path(s.Since, 1.6, blue, nil)
	if len(s.Since) > 0 && len(s.Counter) > 0 {
		a, b := s.Since[len(s.Since)-1], s.Counter[len(s.Counter)-1]
		d.endLabels([]endLabel{{x: d.x.in(float64(a.Day)), y: d.y.in(a.Value)}, {x: d.x.in(float64(b.Day)), y: d.y.in(b.Value)}}, wrapped, d.bottom-2, d.frame.top+4)
	}
	d.xAxis(dateTicks(int(math.Ceil(x0)), int(math.Floor(x1)), max(int((d.right-d.left)/46), 2)), "")
	d.below -= 3
	var t []string
	for _, p := range d.points {
		if p.Provisional {
			t = append(t, "Hollow: left out of the lines.")
			break
		}
	}
	if len(s.Season) > 0 {
		t = append(t, "Dotted: the lines with the season of the year.")
	}
	if hidden > 0 {
		t = append(t, fmt.Sprintf("Withheld: %s, since each stands for few people.", plural(hidden, "point", "points")))
	}
	d.notes(strings.Join(t, " "))
	d.explained()
}

// path draws a line, cut where it leaves the plot.
func (d *segmentedDrawing) path(l []DayValue, width vg.Length, c color.NRGBA, dash []vg.Length) {
	var pts []vg.Point
	flush := func() {
		d.lines(pts, width, c, dash)
		pts = nil
	}
	for _, p := range l {
		if !d.y.holds(p.Value) {
			flush()
			continue
		}
		pts = append(pts, vg.Point{X: d.x.at(float64(p.Day)), Y: d.y.at(p.Value)})
	}
	flush()
}
