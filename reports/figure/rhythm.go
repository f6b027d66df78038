package figure

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg"
)

// Cycle is what an axis of places in a cycle goes round.
type Cycle int

// The cycles. Places of the day are hours from midnight, of the year twelfths
// from the first of January; both may go on beyond a turn.
const (
	NoCycle Cycle = iota
	Day
	Year
)

// Length is the length of a turn, in hours or twelfths of the year.
func (c Cycle) Length() float64 { return map[Cycle]float64{Day: 24, Year: 12}[c] }

var monthNames = []string{"January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"}

// turned brings a place into the first turn.
func (c Cycle) turned(v float64) float64 {
	n := c.Length()
	return math.Mod(math.Mod(v, n)+n, n)
}

// Words is a place of the cycle in words: "14:30", "mid-May".
func (c Cycle) Words(v float64) string {
	if c == Day {
		minutes := int(math.Round(60*c.turned(v))) % 1440
		return fmt.Sprintf("%d:%02d", minutes/60, minutes%60)
	}
	m := c.turned(v)
	k := min(int(m), 11)
	third := []string{"early ", "mid-", "late "}[min(2, int(3*(m-math.Floor(m))))]
	return third + monthNames[k]
}

// range0 is the stretch of an axis over what was seen: whole hours, or whole
// twelfths.
func (c Cycle) range0(lo, hi float64) (float64, float64) {
	lo, hi = math.Floor(lo+1e-9), math.Ceil(hi-1e-9)
	if hi-lo < 1 {
		hi = lo + 1
	}
	return lo, hi
}

// ticks are hours, or the middles of months by their name.
func (c Cycle) ticks(lo, hi float64, n int) []tick {
	var out []tick
	if c == Day {
		step := 1.0
		for _, s := range []float64{1, 2, 3, 4, 6} {
			if step = s; (hi-lo)/s <= float64(n)+1 {
				break
			}
		}
		for v := math.Ceil(lo/step) * step; v <= hi; v += step {
			out = append(out, tick{v, c.Words(v)})
		}
		return out
	}
	for v := lo + 0.5; v < hi; v++ {
		out = append(out, tick{v, monthNames[min(int(c.turned(v)), 11)][:3]})
	}
	for k := 2; len(out) > 2*n; k++ {
		out = every(out, k)
	}
	return out
}

// RhythmSpec says what to draw. The zero value of an option is its default.
type RhythmSpec struct {
	ID         string
	Title      string
	Cycle      Cycle
	YAxis      string
	YUnit      string
	Line       []BandPoint // the curve over what was seen, by place
	LineName   string      // default "curve"
	Parts      []BandPoint // means of parts of the cycle with their intervals, by place
	Paths      []Path      // values of one limb, joined by thin lines
	Each, Many string      // what a thin line is; default "limb" and "limbs"
	Points     []XY        // values alone, where there are too many to join
	Confidence float64
	Width      vg.Length
}

// Rhythm draws a number over the day or the year: what was seen, the curve with
// its band, and means of parts of the cycle as dots with bars, which know
// nothing of the curve. A line at 0 is the average.
func Rhythm(spec RhythmSpec) *Figure {
	fig := Figure{ID: spec.ID, Title: spec.Title}
	if spec.Cycle == NoCycle {
		spec.Cycle = Day
	}
	if spec.YAxis == "" {
		spec.YAxis = "Difference from the average"
	}
	if spec.LineName == "" {
		spec.LineName = "curve"
	}
	if spec.Each == "" {
		spec.Each, spec.Many = "limb", "limbs"
	}
	if spec.Confidence <= 0 || spec.Confidence >= 1 {
		spec.Confidence = 0.95
	}
	across := map[Cycle]string{Day: "Hour of the day", Year: "Month of the year"}[spec.Cycle]
	if fig.Title == "" {
		fig.Title = spec.YAxis + " by " + lower(across)
	}
	d := xyDrawing{width0: spec.Width, xTitle: across, yTitle: spec.YAxis, yUnit: spec.YUnit, cycle: spec.Cycle}
	points, line, parts := d.keep(spec.Points), d.keepBand(spec.Line), d.keepBand(spec.Parts)
	var paths [][]XY
	values := len(points)
	for _, p := range spec.Paths {
		if pts := d.keep(p.Points); len(pts) > 0 {
			paths = append(paths, pts)
			values += len(pts)
		}
	}
	if values == 0 && len(line) == 0 && len(parts) == 0 {
		return nothing(fig, spec.Width, "There are no values to draw.")
	}
	if values == 0 { // the intervals are what is read
		d.wholeBand = true
	}
	d.see(d.x0, 0)
	names := []string{"average"}
	if len(line) > 0 {
		names = append(names, spec.LineName)
	}
	room, wrapped, cut := labelRoom(names, widthOr(spec.Width), 0.2, false)
	d.axes(room, names, 180)
	d.xyHeads("Line")
	note := d.scatter(points)
	grey := faint(axis, 0.8)
	for _, p := range paths {
		for _, q := range p {
			d.marker(d.x.in(q.X), d.y.in(q.Y), 1.1, dot, faint(ink, 0.5))
		}
		if len(p) > 1 {
			b := make([]BandPoint, len(p))
			for i, q := range p {
				b[i] = BandPoint{X: q.X, Y: q.Y}
			}
			d.curve(b, 0.4, grey, nil)
		}
	}
	zero := []BandPoint{{X: d.x.lo, Y: 0}, {X: d.x.hi, Y: 0}}
	zx, zy := d.curve(zero, 0.8, quiet, []vg.Length{4, 2})
	ends := []endLabel{{x: zx, y: zy}}
	if d.band(line, blue, 0.18) {
		note += fmt.Sprintf(" Shaded: %s interval of the curve.", percent(spec.Confidence))
	}
	if len(line) > 0 {
		d.curve(line, 4.4, faint(white, 0.9), nil)
		x, y := d.curve(line, 2, blue, nil)
		d.lineValues(spec.LineName, line)
		ends = append(ends, endLabel{name: spec.LineName, x: x, y: y})
	}
	if len(parts) > 0 {
		d.means(parts)
		d.lineValues("mean", parts)
		note += fmt.Sprintf(" Dots: mean of %s, bars its %s interval; they know nothing of the curve.", map[Cycle]string{Day: "two hours", Year: "a twelfth of the year"}[spec.Cycle], percent(spec.Confidence))
	}
	if len(paths) > 0 {
		note += fmt.Sprintf(" Thin: %s.", plural(len(paths), spec.Each, spec.Many))
	}
	d.endLabels(ends, wrapped, d.bottom-2, d.frame.top+4)
	d.notes(strings.TrimSpace(note))
	fig.Description = fmt.Sprintf("%s by %s", spec.YAxis, lower(across))
	if values > 0 {
		fig.Description += ": " + plural(values, "value", "values")
	}
	if len(line) > 0 {
		high := slices.MaxFunc(line, byHeight)
		low := slices.MinFunc(line, byHeight)
		at := map[Cycle]string{Day: "at", Year: "in"}[spec.Cycle]
		fig.Description += fmt.Sprintf("; the curve is highest %s %s (%s) and lowest %s %s (%s)", at, d.showX(high.X), d.showY(high.Y), at, d.showX(low.X), d.showY(low.Y))
	}
	fig.Description += "."
	fig.Long = strings.TrimSpace(d.lineWords(line, spec.LineName) + d.lineWords(parts, "means") + cutNote(cut) + droppedNote(d.dropped, "value"))
	if fig.Long == "" {
		fig.Long = fig.Description
	}
	fig.Small = smaller(spec, func(s *RhythmSpec) { s.Width = HalfWidth }, Rhythm)
	return d.finish(fig)
}

func byHeight(a, b BandPoint) int {
	switch {
	case a.Y < b.Y:
		return -1
	case a.Y > b.Y:
		return 1
	}
	return 0
}

// means draws values as dots with bars, not joined: the curve joins them.
func (d *xyDrawing) means(parts []BandPoint) {
	for _, p := range parts {
		x := d.x.in(p.X)
		if finite(p.Low) && finite(p.High) {
			lo, hi := d.y.in(p.Low), d.y.in(p.High)
			d.line(x, lo, x, hi, 0.9, ink, nil)
			d.line(x-2, lo, x+2, lo, 0.9, ink, nil)
			d.line(x-2, hi, x+2, hi, 0.9, ink, nil)
		}
		d.marker(x, d.y.in(p.Y), 2.4, dot, ink)
	}
}

// MonthName is the name of a month, from 0.
func MonthName(k int) string { return monthNames[k] }
