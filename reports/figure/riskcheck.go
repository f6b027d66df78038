package figure

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/plot/vg"
)

// RiskCheckSpec says what to draw. The zero value of an option is its
// default.
type RiskCheckSpec struct {
	ID         string
	Title      string
	XAxis      string      // default "Predicted"
	YAxis      string      // default "Observed"
	Groups     []BandPoint // predicted mean, observed share with its interval
	Curve      []BandPoint // smooth line
	Risks      []float64   // predictions, drawn as how they spread along the foot; nil: not drawn
	Confidence float64
	Width      vg.Length
}

// RiskCheck draws shares observed against shares predicted: points with
// intervals, a smooth line with its band, and the line on which both agree.
func RiskCheck(spec RiskCheckSpec) *Figure {
	fig := Figure{ID: spec.ID, Title: spec.Title}
	if spec.XAxis == "" {
		spec.XAxis = "Predicted"
	}
	if spec.YAxis == "" {
		spec.YAxis = "Observed"
	}
	if spec.Confidence <= 0 || spec.Confidence >= 1 {
		spec.Confidence = 0.95
	}
	if fig.Title == "" {
		fig.Title = spec.YAxis + " against " + lower(spec.XAxis)
	}
	d := xyDrawing{width0: spec.Width}
	groups, curve := d.keepBand(spec.Groups), d.keepBand(spec.Curve)
	if len(groups)+len(curve) == 0 {
		return nothing(fig, spec.Width, "There are no shares to draw.")
	}
	top := math.Max(d.x1, d.y1)
	for _, g := range groups {
		if finite(g.High) {
			top = math.Max(top, math.Min(g.High, 1.6*math.Max(d.x1, d.y1)))
		}
	}
	_, hi := roundOut(0, math.Min(1, top*1.02), 5)
	hi = math.Min(hi, 1)
	ticks := percentTicks(hi, 6)
	names := []string{"both agree"}
	if len(curve) > 0 {
		names = append(names, "smoothed")
	}
	d.scene = &scene{width: widthOr(spec.Width)}
	room, wrapped, _ := labelRoom(names, d.width, 0.2, false)
	d.left = small.widest(labels(ticks)...) + tickGap + 2
	side := min(d.width-d.left-room, 92*vg.Millimeter)
	y := d.heading(0, spec.YAxis, "") - 8
	d.frame.top = y
	d.bottom = y - side
	d.right = d.left + side
	foot := vg.Length(0)
	if len(spec.Risks) > 0 {
		foot = 20
	}
	d.x = scale{lo: 0, hi: hi, from: d.left, to: d.right}
	d.y = scale{lo: 0, hi: hi, from: d.bottom, to: d.frame.top}
	d.yGrid(ticks)
	d.line(d.x.at(0), d.y.at(0), d.x.at(hi), d.y.at(hi), 0.9, quiet, []vg.Length{4, 2})
	ends := []endLabel{{x: d.x.at(hi), y: d.y.at(hi)}}
	banded := false
	if len(curve) > 0 {
		banded = d.band(curve, blue, 0.16)
		x, y := d.curve(curve, 1.6, blue, nil)
		ends = append(ends, endLabel{x: x, y: y})
	}
	d.tellHeads("", spec.XAxis, spec.YAxis)
	for _, g := range groups {
		x := d.x.at(g.X)
		if finite(g.Low) && finite(g.High) {
			a, b := d.y.in(g.Low), d.y.in(g.High)
			d.line(x, a, x, b, 1, ink, nil)
			d.line(x-2, a, x+2, a, 1, ink, nil)
			if g.High <= hi {
				d.line(x-2, b, x+2, b, 1, ink, nil)
			} else {
				d.arrow(x, d.y.in(g.Y), x, d.frame.top+1, 1, ink)
			}
		}
		d.marker(x, d.y.in(g.Y), 2.8, dot, ink)
		d.tell(x, d.y.in(g.Y), "", percent(g.X), ranged(percent, g.Y, g.Low, g.High))
	}
	// The labels stand at the right of the square, not of the page.
	d.endLabels(ends, wrapped, d.bottom-2, d.frame.top+4)
	var low vg.Length
	if foot > 0 {
		low = d.spreadOf(spec.Risks, hi, foot)
	}
	square := d.bottom
	d.bottom -= low
	d.xAxis(ticks, spec.XAxis)
	if low > 0 {
		d.line(d.left, square, d.right, square, hairline, axis, nil)
	}
	var notes []string
	notes = append(notes, fmt.Sprintf("Points: groups of like predicted risk, with %s intervals.", percent(spec.Confidence)))
	if banded {
		notes = append(notes, fmt.Sprintf("Shaded: %s interval of the smoothed line.", percent(spec.Confidence)))
	}
	if low > 0 {
		notes = append(notes, "Bars along the foot: how the predicted risks spread.")
	}
	d.below -= 2
	d.notes(strings.Join(notes, " "))
	var long strings.Builder
	for _, g := range groups {
		fmt.Fprintf(&long, "Predicted %s: observed %s", percent(g.X), percent(g.Y))
		if finite(g.Low) && finite(g.High) {
			fmt.Fprintf(&long, " (%s to %s)", percent(g.Low), percent(g.High))
		}
		long.WriteString(". ")
	}
	fig.Description = fmt.Sprintf("%s against %s for %s of like risk", spec.YAxis, lower(spec.XAxis), plural(len(groups), "group", "groups"))
	if n := len(curve); n > 0 {
		fig.Description += fmt.Sprintf(", with a smooth line from %s observed at %s predicted to %s at %s", percent(curve[0].Y), percent(curve[0].X), percent(curve[n-1].Y), percent(curve[n-1].X))
	}
	fig.Description += "."
	fig.Long = strings.TrimSpace(long.String())
	if fig.Long == "" {
		fig.Long = fig.Description
	}
	return d.finish(fig)
}

// spreadOf draws how many values fall into each of 40 stretches of the axis,
// beneath the square, and returns the height it takes.
func (d *xyDrawing) spreadOf(values []float64, hi float64, height vg.Length) vg.Length {
	const bins = 40
	var n [bins]int
	most := 0
	for _, v := range values {
		if !finite(v) || v < 0 || v > hi {
			continue
		}
		k := min(int(v/hi*bins), bins-1)
		n[k]++
		most = max(most, n[k])
	}
	if most == 0 {
		return 0
	}
	wide := (d.right - d.left) / bins
	foot := d.bottom - height
	for k, c := range n {
		if c == 0 {
			continue
		}
		h := (height - 4) * vg.Length(c) / vg.Length(most)
		x := d.left + wide*vg.Length(k)
		d.polygon(box(x+0.3, foot, x+wide-0.3, foot+max(h, 0.8)), tint(ink, 0.45))
	}
	return height
}
