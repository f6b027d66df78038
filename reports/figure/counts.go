package figure

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/plot/vg"
)

// CountBin is the rows whose counts lie from Low to High, as seen and as
// expected. Observed is NaN where it is withheld.
type CountBin struct {
	Low, High          int
	Observed, Expected float64
}

// CountsSpec says what to draw.
type CountsSpec struct {
	ID    string
	Title string
	Axis  string // what is counted: "Visits with pain"
	Rows  string // what has them: "Limbs"
	Bins  []CountBin
	Width vg.Length
}

// Counts draws how many rows have each count, as bars, and how many a model
// expects to, as dots on a line. Heights grow with the root, so that rare
// counts can be compared too.
func Counts(spec CountsSpec) *Figure {
	fig := Figure{ID: spec.ID, Title: spec.Title}
	if spec.Axis == "" {
		spec.Axis = "Count"
	}
	if spec.Rows == "" {
		spec.Rows = "Rows"
	}
	if fig.Title == "" {
		fig.Title = spec.Rows + " by count, seen and expected"
	}
	top, hidden := 0.0, 0
	var bins []CountBin
	for _, b := range spec.Bins {
		if !finite(b.Expected) {
			continue
		}
		bins = append(bins, b)
		top = math.Max(top, b.Expected)
		if finite(b.Observed) {
			top = math.Max(top, b.Observed)
		} else {
			hidden++
		}
	}
	if len(bins) == 0 || top == 0 {
		return nothing(fig, spec.Width, "There are no counts to draw.")
	}
	f := &frame{scene: &scene{width: widthOr(spec.Width)}}
	root := func(v float64) float64 { return math.Sqrt(math.Max(v, 0)) }
	var ticks []tick
	step := niceStep(root(top), 5)
	last := -1.0
	for k := 0.0; k*step <= root(top)*1.08; k++ {
		if v := math.Round(k * step * k * step); v > last { // whole numbers of rows, evenly up the page
			ticks = append(ticks, tick{root(v), decimal(v, 0)})
			last = v
		}
	}
	f.left = small.widest(labels(ticks)...) + tickGap + 2
	f.right = f.width - 8
	f.top = f.heading(0, spec.Rows, "bars: seen; dots on the line: expected by the model") - 8
	f.bottom = f.top - 150
	f.y = scale{lo: 0, hi: root(top) * 1.05, from: f.bottom, to: f.top}
	f.yGrid(ticks)
	pitch := (f.right - f.left) / vg.Length(len(bins))
	bar := min(pitch*0.72, 40)
	var line []vg.Point
	var marks []tick
	for i, b := range bins {
		x := f.left + (vg.Length(i)+0.5)*pitch
		if b.Observed > 0 {
			area := box(x-bar/2, f.bottom, x+bar/2, f.y.at(root(b.Observed)))
			f.polygon(area, tint(blue, 0.35))
			f.outline(area, hairline, blue)
		}
		line = append(line, vg.Point{X: x, Y: f.y.at(root(b.Expected))})
		marks = append(marks, tick{float64(i), binName(b)})
	}
	f.lines(line, 1.2, ink, nil)
	for _, p := range line {
		f.marker(p.X, p.Y, 2.4, dot, ink)
	}
	f.x = scale{lo: -0.5, hi: float64(len(bins)) - 0.5, from: f.left, to: f.right}
	f.xAxis(marks, spec.Axis)
	f.below -= 3
	said := "Heights grow with the square root, so that rare counts can be seen."
	if hidden > 0 {
		said += " Bars of few rows are withheld."
	}
	f.notes(said)
	worst := 0
	gap := func(b CountBin) float64 {
		if !finite(b.Observed) {
			return 0
		}
		return math.Abs(root(b.Observed) - root(b.Expected))
	}
	for i, b := range bins {
		if gap(b) > gap(bins[worst]) {
			worst = i
		}
	}
	show := func(v float64) string {
		if !finite(v) {
			return "withheld"
		}
		return decimal(v, 0)
	}
	expected := func(v float64) string {
		if v < 0.05 {
			return "under 0.1"
		}
		return trimmed(decimal(v, 1))
	}
	f.tellHeads("", spec.Axis, spec.Rows)
	for i, b := range bins {
		f.tell(line[i].X, line[i].Y, "", binName(b), fmt.Sprintf("%s seen, %s expected", show(b.Observed), expected(b.Expected)))
	}
	fig.Description = fmt.Sprintf("%s by count (%s), seen and expected by the model: farthest apart at %s, %s seen and %s expected.", spec.Rows, lower(spec.Axis),
		binName(bins[worst]), show(bins[worst].Observed), expected(bins[worst].Expected))
	var parts []string
	for _, b := range bins {
		parts = append(parts, fmt.Sprintf("%s: %s seen, %s expected", binName(b), show(b.Observed), expected(b.Expected)))
	}
	fig.Long = strings.Join(parts, "; ") + "."
	return f.finish(fig)
}

func binName(b CountBin) string {
	switch {
	case b.High < 0:
		return fmt.Sprintf("%d+", b.Low)
	case b.Low == b.High:
		return fmt.Sprint(b.Low)
	}
	return fmt.Sprintf("%d–%d", b.Low, b.High)
}
