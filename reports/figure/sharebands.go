package figure

import (
	"fmt"
	"strings"

	"gonum.org/v1/plot/vg"
)

// ShareBand is the share with the outcome among rows of a stretch of X.
type ShareBand struct {
	From, To, At     float64 // At is the mean of X within
	Share, Low, High float64 // of one; NaN: none
	Detail           string  // "31 of 40"
}

// ShareBandsSpec says what to draw. The zero value of an option is its
// default.
type ShareBandsSpec struct {
	ID, Title    string
	XAxis, XUnit string
	YAxis        string // "First-time fit"; percent are added
	Bands        []ShareBand
	Curve        []BandPoint // of one; none: not fitted
	With, None   []float64   // X of rows with the outcome and without; nil: not shown
	WithName     string      // "fitted the first time"
	NoneName     string
	Confidence   float64
	Note         string
	Width        vg.Length
}

// ShareBands draws the share with an outcome in stretches of a number, each
// with its interval, over a fitted curve, and each row as a tick: at the top
// those with the outcome, at the bottom those without.
func ShareBands(spec ShareBandsSpec) *Figure {
	fig := Figure{ID: spec.ID, Title: spec.Title}
	if spec.YAxis == "" {
		spec.YAxis = "Share with the outcome"
	}
	if spec.XAxis == "" {
		spec.XAxis = "x"
	}
	if fig.Title == "" {
		fig.Title = spec.YAxis + " by " + lower(spec.XAxis)
	}
	if spec.Confidence <= 0 || spec.Confidence >= 1 {
		spec.Confidence = 0.95
	}
	d := xyDrawing{width0: spec.Width, xTitle: spec.XAxis, xUnit: spec.XUnit, yTitle: spec.YAxis, yUnit: "%"}
	var bands []ShareBand
	for _, b := range spec.Bands {
		if !finite(b.At) || !finite(b.Share) {
			d.dropped++
			continue
		}
		bands = append(bands, b)
		d.see(b.From, 0)
		d.see(b.To, 100)
	}
	curve := make([]BandPoint, len(spec.Curve))
	for i, p := range spec.Curve {
		curve[i] = BandPoint{p.X, 100 * p.Y, 100 * p.Low, 100 * p.High}
	}
	curve = d.keepBand(curve)
	if len(bands) == 0 && len(curve) == 0 {
		return nothing(fig, spec.Width, "Too few rows tell whether they had the outcome to draw their share.")
	}
	d.see(d.x0, 0)
	d.see(d.x0, 100)
	d.l0, d.l1 = 0, 100
	ticked := len(spec.With)+len(spec.None) > 0
	d.axes(8, nil, 170)
	if ticked { // room for the ticks above 100 and below 0
		d.y = scale{lo: 0, hi: 100, from: d.bottom + 9, to: d.frame.top - 9}
		d.marks = nil
		d.redraw()
	}
	d.xyHeads("Line")
	banded := d.band(curve, blue, 0.14)
	if len(curve) > 0 {
		d.curve(curve, 1.5, blue, nil)
		d.lineValues("fitted", curve)
	}
	for _, b := range bands {
		x, y := d.x.in(b.At), d.y.in(100*b.Share)
		d.line(d.x.in(b.From), y, d.x.in(b.To), y, 0.9, ink, nil)
		if finite(b.Low) && finite(b.High) {
			lo, hi := d.y.in(100*b.Low), d.y.in(100*b.High)
			d.line(x, lo, x, hi, 0.9, ink, nil)
			d.line(x-2.5, lo, x+2.5, lo, 0.9, ink, nil)
			d.line(x-2.5, hi, x+2.5, hi, 0.9, ink, nil)
		}
		d.marker(x, y, 2.6, square, ink)
		text := ranged(percent, b.Share, b.Low, b.High)
		if b.Detail != "" {
			text += ", " + b.Detail
		}
		d.tell(x, y, "seen", fmt.Sprintf("%s to %s%s", trimmed(brief(b.From)), trimmed(brief(b.To)), unitAfter(spec.XUnit)), text)
	}
	for _, v := range spec.With {
		if finite(v) {
			d.line(d.x.in(v), d.frame.top-6, d.x.in(v), d.frame.top, 0.6, faint(blue, 0.6), nil)
		}
	}
	for _, v := range spec.None {
		if finite(v) {
			d.line(d.x.in(v), d.bottom, d.x.in(v), d.bottom+6, 0.6, faint(vermilion, 0.7), nil)
		}
	}
	var notes []string
	if len(bands) > 0 {
		notes = append(notes, fmt.Sprintf("Squares: the share in each stretch, with its %s interval.", percent(spec.Confidence)))
	}
	if len(curve) > 0 {
		t := "Curve: the share fitted."
		if banded {
			t = fmt.Sprintf("Curve: the share fitted, with its %s interval.", percent(spec.Confidence))
		}
		notes = append(notes, t)
	}
	if ticked {
		notes = append(notes, fmt.Sprintf("Ticks at the top: %s (%s); at the bottom: %s (%s).", spec.WithName, count(len(spec.With)), spec.NoneName, count(len(spec.None))))
	}
	d.notes(strings.TrimSpace(strings.Join(append(notes, spec.Note), " ")))
	var said []string
	for _, b := range bands {
		t := fmt.Sprintf("%s at %s to %s%s", percent(b.Share), trimmed(brief(b.From)), trimmed(brief(b.To)), unitAfter(spec.XUnit))
		if finite(b.Low) && finite(b.High) {
			t += fmt.Sprintf(" (%s to %s, %s)", percent(b.Low), percent(b.High), b.Detail)
		}
		said = append(said, t)
	}
	fig.Description = fmt.Sprintf("%s by %s, in %s", spec.YAxis, lower(spec.XAxis), plural(len(bands), "stretch", "stretches"))
	if len(bands) > 1 {
		fig.Description += fmt.Sprintf(": from %s in the lowest to %s in the highest", percent(bands[0].Share), percent(bands[len(bands)-1].Share))
	}
	fig.Description += "."
	fig.Long = strings.TrimSpace(strings.Join(said, "; ") + ".")
	if len(curve) > 0 {
		fig.Long += " " + strings.TrimSpace(d.lineWords(curve, "curve"))
	}
	fig.Long = strings.TrimSpace(strings.TrimPrefix(fig.Long, ".")) + droppedNote(d.dropped, "stretch")
	return d.finish(fig)
}

func unitAfter(unit string) string {
	if unit == "%" {
		return "%"
	}
	if unit == "" {
		return ""
	}
	return " " + unit
}

// redraw lays heading, grid and axis out again after the scale of values was
// drawn in.
func (d *xyDrawing) redraw() {
	d.heading(0, withUnit(d.yTitle, d.yUnit), "")
	d.yGrid(linearTicks(d.y.lo, d.y.hi, 5))
	d.xAxis(linearTicks(d.x.lo, d.x.hi, max(int((d.right-d.left)/44), 2)), withUnit(d.xTitle, d.xUnit))
	d.below -= 3
}
