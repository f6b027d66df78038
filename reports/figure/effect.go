package figure

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/plot/vg"
)

// EffectSpec says what to draw. The zero value of an option is its default.
type EffectSpec struct {
	ID         string
	Title      string
	XAxis      string // the number: "Age"
	XUnit      string
	YAxis      string // what it changes: "Hazard ratio against 63 years"
	YUnit      string
	Ratio      bool // values are ratios: a logarithmic axis, and none is 1 instead of 0
	Line       []BandPoint
	Rug        []float64 // values of the rows, as small strokes at the foot; nil: none
	Marks      []float64 // drawn as dotted uprights: where the curve's pieces meet
	MarkNames  string    // what the marks are: "knots"
	Confidence float64
	XDays      bool
	Width      vg.Length
}

// Effect draws how much an outcome changes with a number: the curve with its
// band, the line of no difference, and where the rows lie.
func Effect(spec EffectSpec) *Figure {
	fig := Figure{ID: spec.ID, Title: spec.Title}
	if spec.XAxis == "" {
		spec.XAxis = "Value"
	}
	if spec.YAxis == "" {
		spec.YAxis = "Effect"
	}
	if spec.Confidence <= 0 || spec.Confidence >= 1 {
		spec.Confidence = 0.95
	}
	if fig.Title == "" {
		fig.Title = spec.YAxis + " by " + lower(spec.XAxis)
	}
	d := xyDrawing{width0: spec.Width, xTitle: spec.XAxis, xUnit: spec.XUnit, yTitle: spec.YAxis, yUnit: spec.YUnit, xDays: spec.XDays, yRatio: spec.Ratio}
	var drawn []BandPoint
	for _, p := range spec.Line {
		if spec.Ratio && !(p.Y > 0) {
			d.dropped++
			continue
		}
		if spec.Ratio && !(p.Low > 0) {
			p.Low, p.High = math.NaN(), math.NaN()
		}
		drawn = append(drawn, p)
	}
	line := d.keepBand(drawn)
	if len(line) == 0 {
		return nothing(fig, spec.Width, "There is no curve to draw.")
	}
	none := 0.0
	if spec.Ratio {
		none = 1
	}
	d.see(line[0].X, none)
	d.axes(8, nil, 170)
	d.lines([]vg.Point{{X: d.left, Y: d.y.at(none)}, {X: d.right, Y: d.y.at(none)}}, 0.9, quiet, nil)
	for _, m := range spec.Marks {
		if d.x.holds(m) {
			x := d.x.at(m)
			d.line(x, d.bottom, x, d.frame.top, 0.7, axis, []vg.Length{1, 2.5})
		}
	}
	for _, v := range spec.Rug {
		if finite(v) && d.x.holds(v) {
			x := d.x.at(v)
			d.line(x, d.bottom, x, d.bottom+5, 0.5, faint(ink, 0.35), nil)
		}
	}
	var notes []string
	if d.band(line, blue, 0.16) {
		notes = append(notes, fmt.Sprintf("Shaded: %s interval.", percent(spec.Confidence)))
	}
	d.curve(line, 1.8, blue, nil)
	d.xyHeads("")
	d.lineValues("", line)
	if len(spec.Marks) > 0 && spec.MarkNames != "" {
		notes = append(notes, "Dotted: "+spec.MarkNames+".")
	}
	if len(spec.Rug) > 0 {
		notes = append(notes, "Strokes at the foot: the rows used.")
	}
	d.notes(strings.Join(notes, " "))
	n := len(line)
	fig.Description = fmt.Sprintf("%s by %s: from %s at %s to %s at %s.", spec.YAxis, lower(spec.XAxis), d.showY(line[0].Y), d.showX(line[0].X), d.showY(line[n-1].Y), d.showX(line[n-1].X))
	fig.Long = strings.TrimSpace(d.lineWords(line, "curve") + droppedNote(d.dropped, "value"))
	return d.finish(fig)
}

// ratioRange lays out a value axis of ratios: one that an interval stretches
// by no more than half of what the curve itself spans, and a factor of two
// about 1 at the least.
func (d *xyDrawing) ratioRange() (lo, hi float64, ticks []tick) {
	span := math.Max(math.Log(d.y1)-math.Log(d.y0), math.Log(2))
	lo = math.Max(math.Log(math.Min(d.y0, d.l0)), math.Log(d.y0)-span)
	hi = math.Min(math.Log(math.Max(d.y1, d.l1)), math.Log(d.y1)+span)
	if hi-lo < math.Log(2) {
		middle := (hi + lo) / 2
		lo, hi = math.Min(lo, middle-math.Log(2)/2), math.Max(hi, middle+math.Log(2)/2)
	}
	lo, hi = math.Exp(lo), math.Exp(hi)
	return lo, hi, logTicks(lo, hi, 7)
}
