package figure

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/plot/vg"
)

// SumPoint is a case on a cumulative sum: both sums, neither below 0.
type SumPoint struct {
	Day                     int
	More, Fewer             float64
	SignalMore, SignalFewer bool
	Baseline                bool // one of those that set what is expected
}

// SumSpec says what to draw.
type SumSpec struct {
	ID                    string
	Title                 string
	ValueAxis             string
	Points                []SumPoint // in order
	LimitMore, LimitFewer float64
	Decisions             []Decision
	Better                Better // lower: fewer events are better
	Width                 vg.Length
}

// Sum draws two cumulative sums over cases in order: the one for more events
// upwards, the one for fewer downwards, each with its limit.
func Sum(spec SumSpec) *Figure {
	if spec.ValueAxis == "" {
		spec.ValueAxis = "Evidence"
	}
	fig := Figure{ID: spec.ID, Title: spec.Title}
	if fig.Title == "" {
		fig.Title = spec.ValueAxis + " over cases"
	}
	if len(spec.Points) == 0 || !(spec.LimitMore > 0) || !(spec.LimitFewer > 0) {
		return nothing(fig, spec.Width, "No case is there to draw.")
	}
	d := sumDrawing{controlDrawing{spec: ControlSpec{ByOrder: true, Decisions: spec.Decisions}}, spec}
	more, fewer := 0, 0
	for _, p := range spec.Points {
		d.points = append(d.points, ControlPoint{Day: p.Day, Value: p.More, Baseline: p.Baseline, Phase: 1})
		if p.SignalMore {
			more++
		}
		if p.SignalFewer {
			fewer++
		}
	}
	d.layout()
	last := spec.Points[len(spec.Points)-1]
	fig.Caption = fmt.Sprintf("%s from %s to %s", plural(len(spec.Points), "case", "cases"), dateOf(spec.Points[0].Day).Format("2 Jan 2006"), dateOf(last.Day).Format("2 Jan 2006"))
	fig.Description = fmt.Sprintf("Two cumulative sums over %s: the one for more events came to its limit %s, the one for fewer %s; at the end they stand at %s and %s of their limits.",
		plural(len(spec.Points), "case", "cases"), plural(more, "time", "times"), plural(fewer, "time", "times"), percent(last.More/spec.LimitMore), percent(last.Fewer/spec.LimitFewer))
	var b strings.Builder
	fmt.Fprintf(&b, "Limits: %s for more, %s for fewer. ", brief(spec.LimitMore), brief(spec.LimitFewer))
	for _, p := range spec.Points {
		if p.SignalMore {
			fmt.Fprintf(&b, "Signal for more on %s. ", dateOf(p.Day).Format("2 Jan 2006"))
		}
		if p.SignalFewer {
			fmt.Fprintf(&b, "Signal for fewer on %s. ", dateOf(p.Day).Format("2 Jan 2006"))
		}
	}
	for i, dec := range spec.Decisions {
		fmt.Fprintf(&b, "Decision %d, %s: %s ", i+1, dateOf(dec.Day).Format("2 Jan 2006"), sentence(dec.Text))
	}
	fig.Long = strings.TrimSpace(b.String())
	fig.Small = smaller(spec, func(s *SumSpec) { s.Width = HalfWidth }, Sum)
	return d.finish(fig)
}

type sumDrawing struct {
	controlDrawing
	spec SumSpec
}

func (d *sumDrawing) layout() {
	s := d.spec
	d.scene = &scene{width: widthOr(s.Width)}
	lo, hi := -s.LimitFewer, s.LimitMore
	for _, p := range s.Points {
		lo, hi = math.Min(lo, -p.Fewer), math.Max(hi, p.More)
	}
	lo, hi = roundOut(lo*1.08, hi*1.08, 5)
	n := float64(len(s.Points))
	d.step = 1
	names := []string{"limit: more", "limit: fewer"}
	room, wrapped, _ := labelRoom(names, d.width, 0.2, false)
	yTicks := linearTicks(lo, hi, 6)
	for i := range yTicks {
		yTicks[i].label = strings.TrimLeft(yTicks[i].label, "-−") // both sums are above 0
	}
	d.left = small.widest(labels(yTicks)...) + tickGap + 2
	d.right = d.width - room
	hint := map[Better]string{BetterLower: "down is better", BetterHigher: "up is better"}[s.Better]
	y := d.heading(0, s.ValueAxis+" more often (up), less often (down)", hint) - 8
	if len(s.Decisions) > 0 {
		y -= 13
	}
	if d.named() {
		y -= small.line() + 1
	}
	d.frame.top, d.bottom = y, y-180
	d.x = scale{lo: 0.5, hi: n + 0.5, from: d.left, to: d.right}
	d.y = scale{lo: lo, hi: hi, from: d.bottom, to: d.frame.top}
	d.strip = d.frame.top + 2.5
	d.baseline()
	d.yGrid(yTicks)
	d.line(d.left, d.y.at(0), d.right, d.y.at(0), 0.9, quiet, nil)
	d.line(d.left, d.y.at(s.LimitMore), d.right, d.y.at(s.LimitMore), 0.9, quiet, []vg.Length{4, 2})
	d.line(d.left, d.y.at(-s.LimitFewer), d.right, d.y.at(-s.LimitFewer), 0.9, quiet, []vg.Length{4, 2})
	var taken []rect
	if len(s.Decisions) > 0 {
		d.flags(&taken)
	}
	d.stripWords()
	d.sum(1, func(p SumPoint) (float64, bool) { return p.More, p.SignalMore })
	d.sum(-1, func(p SumPoint) (float64, bool) { return p.Fewer, p.SignalFewer })
	d.endLabels([]endLabel{{x: d.right, y: d.y.at(s.LimitMore)}, {x: d.right, y: d.y.at(-s.LimitFewer)}}, wrapped, d.bottom-2, d.frame.top+4)
	d.xAxis(d.orderTicks(), "Cases in order, by date")
	d.below -= 3
	note := ""
	for _, p := range s.Points {
		if p.SignalMore || p.SignalFewer {
			note = "Diamond: signal; the sum starts again from 0."
		}
	}
	d.notes(note)
	if len(s.Decisions) > 0 {
		d.explained()
	}
}

// sum draws one of the sums, upwards or downwards, begun again after each
// signal.
func (d *sumDrawing) sum(side float64, get func(SumPoint) (float64, bool)) {
	colour, dash := blue, []vg.Length(nil)
	if side < 0 {
		colour = vermilion
	}
	pts := []vg.Point{{X: d.x.in(0.5), Y: d.y.at(0)}}
	var signals []vg.Point
	for i, p := range d.spec.Points {
		v, signal := get(p)
		pt := vg.Point{X: d.x.in(float64(i + 1)), Y: d.y.in(side * v)}
		pts = append(pts, pt)
		if signal {
			signals = append(signals, pt)
			d.lines(pts, 1.3, colour, dash)
			pts = []vg.Point{{X: pt.X, Y: d.y.at(0)}}
		}
	}
	d.lines(pts, 1.3, colour, dash)
	name := map[bool]string{false: "more often", true: "less often"}[side < 0]
	d.tellHeads("Sum", "Case", d.spec.ValueAxis)
	last := vg.Length(-1e9)
	for i, p := range d.spec.Points {
		v, signal := get(p)
		x := d.x.in(float64(i + 1))
		if !signal && x-last < stepsApart {
			continue
		}
		last = x
		text := brief(v)
		if signal {
			text += ", signal"
		}
		d.tell(x, d.y.in(side*v), name, fmt.Sprintf("case %d", i+1), text)
	}
	for _, pt := range signals {
		d.marker(pt.X, pt.Y, 3.6, diamond, ink)
	}
}
