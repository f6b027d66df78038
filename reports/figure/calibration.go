package figure

import (
	"fmt"
	"math"

	"gonum.org/v1/plot/vg"
)

// CalibrationGroup is a group of rows of like shares expected.
type CalibrationGroup struct {
	Expected, Observed float64 // shares from 0 to 1
	Low, High          float64 // of Observed; NaN: none
}

// CalibrationSpec says what to draw.
type CalibrationSpec struct {
	ID         string
	Title      string
	Outcome    string // "first-time fit"
	Groups     []CalibrationGroup
	Curve      []XY // 1 - specificity and sensitivity, from 0 to 1; none: no second panel
	C          float64
	Confidence float64
	Width      vg.Length
}

// Calibration draws two panels: the share observed against the share expected
// by groups of rows, with the line on which both agree; and the curve of
// sensitivity against what is wrongly taken for a yes.
func Calibration(spec CalibrationSpec) *Figure {
	fig := Figure{ID: spec.ID, Title: spec.Title}
	if fig.Title == "" {
		fig.Title = "Shares expected and observed"
	}
	if spec.Confidence <= 0 || spec.Confidence >= 1 {
		spec.Confidence = 0.95
	}
	var groups []CalibrationGroup
	for _, g := range spec.Groups {
		if finite(g.Expected) && finite(g.Observed) {
			groups = append(groups, g)
		}
	}
	if len(groups) == 0 {
		return nothing(fig, spec.Width, "There are no shares to compare.")
	}
	width := widthOr(spec.Width)
	gap := vg.Length(18)
	each := (width - gap) / 2
	left := xyDrawing{width0: each, xTitle: "Share expected", xUnit: "%", yTitle: "Share observed", yUnit: "%"}
	var line []BandPoint
	for _, g := range groups {
		line = append(line, BandPoint{X: 100 * g.Expected, Y: 100 * g.Observed, Low: 100 * g.Low, High: 100 * g.High})
	}
	left.keepBand(line)
	left.see(line[0].X, left.l0)
	left.see(line[0].X, left.l1)
	left.axes(6, nil, 160)
	if lo, hi := math.Max(left.x.lo, left.y.lo), math.Min(left.x.hi, left.y.hi); lo < hi {
		left.curve([]BandPoint{{X: lo, Y: lo}, {X: hi, Y: hi}}, 0.9, quiet, []vg.Length{4, 2})
	}
	for _, p := range line {
		if finite(p.Low) && finite(p.High) {
			left.line(left.x.in(p.X), left.y.in(p.Low), left.x.in(p.X), left.y.in(p.High), 0.9, blue, nil)
		}
	}
	for _, p := range line {
		left.marker(left.x.in(p.X), left.y.in(p.Y), 2.6, dot, blue)
		left.tell(left.x.in(p.X), left.y.in(p.Y), "", left.showX(p.X), ranged(brief, p.Y, p.Low, p.High)+" %")
	}
	both := &frame{scene: &scene{width: width}}
	both.marks = append(both.marks, left.marks...)
	left.xyHeads("")
	both.takeValues(left.scene)
	both.below = left.below
	notes := fmt.Sprintf("each point is a group of rows of like share expected, with its %s interval; on the broken line expected and observed agree.", percent(spec.Confidence))
	if len(spec.Curve) < 2 {
		notes = upper(notes)
	} else {
		notes = "Left: " + notes
		right := xyDrawing{width0: each, xTitle: "Of those without, wrongly picked", xUnit: "%", yTitle: "Of those with it, picked", yUnit: "%"}
		right.keep([]XY{{0, 0}, {100, 100}})
		right.axes(6, nil, 160)
		right.curve([]BandPoint{{X: 0, Y: 0}, {X: 100, Y: 100}}, 0.9, quiet, []vg.Length{4, 2})
		var pts []vg.Point
		for _, p := range spec.Curve {
			pts = append(pts, vg.Point{X: right.x.in(100 * p.X), Y: right.y.in(100 * p.Y)})
		}
		right.lines(pts, 1.8, blue, nil)
		right.shift(each+gap, 0)
		both.marks = append(both.marks, right.marks...)
		both.below = min(both.below, right.below)
		notes += fmt.Sprintf(" Right: what picking all above some share finds, from the strictest limit at the lower left to none at the upper right; on the broken line picking would be chance. C statistic %s.", decimal(spec.C, 2))
	}
	both.notes(notes)
	worst := 0
	for i, g := range groups {
		if math.Abs(g.Observed-g.Expected) > math.Abs(groups[worst].Observed-groups[worst].Expected) {
			worst = i
		}
	}
	fig.Description = fmt.Sprintf("Shares with %s observed against expected in %s, farthest apart where %s is expected and %s observed", spec.Outcome,
		plural(len(groups), "group", "groups"), percent(groups[worst].Expected), percent(groups[worst].Observed))
	if len(spec.Curve) > 1 {
		fig.Description += fmt.Sprintf("; beside it the curve of what is picked rightly against wrongly, C statistic %s", decimal(spec.C, 2))
	}
	fig.Description += "."
	for i, g := range groups {
		sep := "; "
		if i == 0 {
			fig.Long, sep = "Expected and observed: ", ""
		}
		fig.Long += fmt.Sprintf("%s%s and %s", sep, percent(g.Expected), percent(g.Observed))
		if finite(g.Low) && finite(g.High) {
			fig.Long += fmt.Sprintf(" (%s to %s)", percent(g.Low), percent(g.High))
		}
	}
	fig.Long += "."
	return both.finish(fig)
}
