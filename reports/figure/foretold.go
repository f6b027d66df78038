package figure

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/plot/vg"
)

// ForetoldYear is a stretch of a year: what was counted, and what was, or is,
// foretold of it from the counts before it. NaN where there is none.
type ForetoldYear struct {
	Label               string // "Jul 2024 to Jun 2025"
	Seen                float64
	Expected, Low, High float64
	Coming              bool
}

// ForetoldYearsSpec says what to draw.
type ForetoldYearsSpec struct {
	ID, Title  string
	ValueAxis  string // "Definitive sockets"
	Years      []ForetoldYear
	Confidence float64 // default 0.95
	Width      vg.Length
}

// ForetoldYears draws the counts of past years as bars, the year to come as a
// hatched bar with its interval, and beside each past bar what would have been
// foretold of it.
func ForetoldYears(spec ForetoldYearsSpec) *Figure {
	fig := Figure{ID: spec.ID, Title: spec.Title}
	if spec.ValueAxis == "" {
		spec.ValueAxis = "Count"
	}
	if fig.Title == "" {
		fig.Title = spec.ValueAxis + " by year, and what is foretold"
	}
	if spec.Confidence <= 0 || spec.Confidence >= 1 {
		spec.Confidence = 0.95
	}
	top, tested := 0.0, false
	var long []string
	for _, y := range spec.Years {
		var said []string
		if finite(y.Seen) {
			top = math.Max(top, y.Seen)
			said = append(said, decimal(y.Seen, 0)+" counted")
		}
		if finite(y.Expected) {
			top = math.Max(top, math.Max(y.Expected, y.High))
			said = append(said, fmt.Sprintf("%s foretold (%s to %s)", decimal(y.Expected, 0), decimal(y.Low, 0), decimal(y.High, 0)))
			tested = tested || !y.Coming
		}
		if len(said) > 0 {
			long = append(long, y.Label+": "+strings.Join(said, ", "))
		}
	}
	if len(long) == 0 {
		return nothing(fig, spec.Width, "There are no counts to draw.")
	}
	f := &frame{scene: &scene{width: widthOr(spec.Width)}}
	_, hi := roundOut(0, math.Max(top, 1)*1.06, 5)
	ticks := linearTicks(0, hi, 5)
	f.left = small.widest(labels(ticks)...) + tickGap + 2
	f.right = f.width - 6
	hint := "bars: counted; hatched: to come"
	f.top = f.heading(0, spec.ValueAxis, hint) - 10
	f.bottom = f.top - 150
	f.y = scale{lo: 0, hi: hi, from: f.bottom, to: f.top}
	f.yGrid(ticks)
	pitch := (f.right - f.left) / vg.Length(len(spec.Years))
	half := min(pitch*0.28, 26)
	depth := vg.Length(0)
	f.tellHeads("Which", "Year", spec.ValueAxis)
	for i, y := range spec.Years {
		x := f.left + (vg.Length(i)+0.5)*pitch
		if finite(y.Seen) {
			f.tell(x, f.y.in(y.Seen), "counted", y.Label, decimal(y.Seen, 0))
		}
		if finite(y.Expected) {
			f.tell(x+half+min(pitch*0.09, 8), f.y.in(y.Expected), "foretold", y.Label, ranged(func(v float64) string { return decimal(v, 0) }, y.Expected, y.Low, y.High))
		}
		value := y.Seen
		if y.Coming {
			value = y.Expected
		}
		if finite(value) {
			area := box(x-half, f.bottom, x+half, f.y.in(value))
			if y.Coming {
				f.polygon(area, tint(blue, 0.12))
				f.hatched(area, hatches[1], faint(blue, 0.6))
			} else {
				f.polygon(area, tint(blue, 0.45))
			}
			f.outline(area, hairline, blue)
			f.countIn(x, value, y.Coming)
		}
		if finite(y.Expected) && finite(y.Low) && finite(y.High) {
			at := x + half + min(pitch*0.09, 8)
			f.whisker(at, f.y.in(y.Low), f.y.in(y.High))
			f.marker(at, f.y.in(y.Expected), 2.6, diamond, vermilion)
		}
		lines, _ := small.wrap(y.Label, pitch-6, 3)
		down := f.bottom - 4
		for _, l := range lines {
			down -= small.line()
			f.text(x, down+small.descent(), l, small, quiet, centred)
		}
		depth = max(depth, f.bottom-down)
	}
	f.line(f.left, f.bottom, f.right, f.bottom, 0.7, axis, nil)
	f.below = f.bottom - depth - 3
	said := fmt.Sprintf("Lines with ends: where %s in 100 such counts are foretold to lie.", trimmed(decimal(100*spec.Confidence, 1)))
	if tested {
		said = "Diamonds: foretold, of past times from the counts before them alone. " + said
	}
	f.notes(said)
	fig.Caption = spec.Years[0].Label + " and on"
	last := spec.Years[len(spec.Years)-1]
	fig.Description = fmt.Sprintf("%s by year, as bars", spec.ValueAxis)
	if last.Coming && finite(last.Expected) {
		fig.Description += fmt.Sprintf("; for %s %s are foretold, between %s and %s", last.Label, decimal(last.Expected, 0), decimal(last.Low, 0), decimal(last.High, 0))
	}
	fig.Description += "."
	fig.Long = strings.Join(long, "; ") + "."
	return f.finish(fig)
}

// countIn writes the count of a bar: at its foot, where neither whisker nor
// diamond comes, or above a bar too low for it.
func (f *frame) countIn(x vg.Length, value float64, coming bool) {
	t := decimal(value, 0)
	bottom := f.bottom + 4
	if f.y.in(value)-f.bottom < plain.line()+6 {
		bottom = f.y.in(value) + 3
	}
	if coming { // the hatch must not run through the number
		w := plain.width(t)
		f.polygon(box(x-w/2-2, bottom-2, x+w/2+2, bottom+plain.capHeight()+2), white)
	}
	f.text(x, bottom, t, plain, ink, centred)
}

// whisker draws an interval upright, with ends.
func (f *frame) whisker(x, low, high vg.Length) {
	f.line(x, low, x, high, 1.1, ink, nil)
	f.line(x-3, low, x+3, low, 1.1, ink, nil)
	f.line(x-3, high, x+3, high, 1.1, ink, nil)
}

// ForetoldPeriod is a month or a quarter: what was counted in it, or is
// foretold of it.
type ForetoldPeriod struct {
	Label               string
	Day                 int // its middle
	Seen                float64
	Expected, Low, High float64
}

// ForetoldPeriodsSpec says what to draw.
type ForetoldPeriodsSpec struct {
	ID, Title string
	ValueAxis string // "Definitive sockets a month"
	Periods   []ForetoldPeriod
	Width     vg.Length
}

// ForetoldPeriods draws counts over time as dots, and what is foretold as a
// line in a band that begins where the counts end.
func ForetoldPeriods(spec ForetoldPeriodsSpec) *Figure {
	fig := Figure{ID: spec.ID, Title: spec.Title}
	if spec.ValueAxis == "" {
		spec.ValueAxis = "Count"
	}
	if fig.Title == "" {
		fig.Title = spec.ValueAxis + " over time, and what is foretold"
	}
	top, first, last := 0.0, math.Inf(1), math.Inf(-1)
	var long []string
	for _, p := range spec.Periods {
		if !finite(p.Seen) && !finite(p.Expected) {
			continue
		}
		first, last = math.Min(first, float64(p.Day)), math.Max(last, float64(p.Day))
		if finite(p.Seen) {
			top = math.Max(top, p.Seen)
			long = append(long, p.Label+": "+decimal(p.Seen, 0))
		} else {
			top = math.Max(top, p.High)
			long = append(long, fmt.Sprintf("%s: %s foretold (%s to %s)", p.Label, trimmed(decimal(p.Expected, 1)), decimal(p.Low, 0), decimal(p.High, 0)))
		}
	}
	if len(long) == 0 {
		return nothing(fig, spec.Width, "There are no counts to draw.")
	}
	f := &frame{scene: &scene{width: widthOr(spec.Width)}}
	_, hi := roundOut(0, math.Max(top, 1), 5)
	ticks := linearTicks(0, hi, 5)
	f.left = small.widest(labels(ticks)...) + tickGap + 2
	f.right = f.width - 8
	f.top = f.heading(0, spec.ValueAxis, "dots: counted; line and band: foretold, with its interval") - 6
	f.bottom = f.top - 130
	pad := (last - first) * 0.015
	f.x = scale{lo: first - pad, hi: last + pad, from: f.left, to: f.right}
	f.y = scale{lo: 0, hi: hi, from: f.bottom, to: f.top}
	f.yGrid(ticks)
	f.tellHeads("Which", "Period", spec.ValueAxis)
	var seen, mid, low, high []vg.Point
	for _, p := range spec.Periods {
		x := f.x.in(float64(p.Day))
		switch {
		case finite(p.Seen):
			seen = append(seen, vg.Point{X: x, Y: f.y.in(p.Seen)})
			f.tell(x, f.y.in(p.Seen), "counted", p.Label, decimal(p.Seen, 0))
		case finite(p.Expected):
			mid = append(mid, vg.Point{X: x, Y: f.y.in(p.Expected)})
			f.tell(x, f.y.in(p.Expected), "foretold", p.Label, ranged(func(v float64) string { return trimmed(decimal(v, 1)) }, p.Expected, p.Low, p.High))
			low = append(low, vg.Point{X: x, Y: f.y.in(p.Low)})
			high = append(high, vg.Point{X: x, Y: f.y.in(p.High)})
		}
	}
	if len(mid) > 1 {
		area := append([]vg.Point(nil), high...)
		for k := len(low) - 1; k >= 0; k-- {
			area = append(area, low[k])
		}
		f.polygon(area, faint(blue, 0.15))
		f.lines(high, 0.5, faint(blue, 0.6), []vg.Length{3, 2})
		f.lines(low, 0.5, faint(blue, 0.6), []vg.Length{3, 2})
		f.lines(mid, lineWide, blue, nil)
	}
	f.lines(seen, 0.6, faint(ink, 0.45), nil)
	for _, p := range seen {
		f.marker(p.X, p.Y, 1.9, dot, ink)
	}
	f.xAxis(dateTicks(int(first), int(last), max(int((f.right-f.left)/46), 2)), "")
	f.below -= 2
	fig.Caption = spec.Periods[0].Label + " to " + spec.Periods[len(spec.Periods)-1].Label
	fig.Description = fmt.Sprintf("%s over time: %s counted, and %s foretold with a band.", spec.ValueAxis, plural(len(seen), "period", "periods"), plural(len(mid), "period", "periods"))
	fig.Long = strings.Join(long, "; ") + "."
	return f.finish(fig)
}
