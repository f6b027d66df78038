package figure

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg"
)

func (d *curvesDrawing) landmarks() {
	var taken []rect
	for _, l := range d.spec.Landmarks {
		if !finite(l) || l <= 0 || l > d.until {
			continue
		}
		x := d.x.at(l)
		d.line(x, d.bottom, x, d.frame.top+4, 0.7, quiet, []vg.Length{1, 2})
		t := duration(l)
		w := small.width(t)
		at := min(max(x, d.left+w/2), d.width-w/2)
		r := rect{at - w/2 - 2, d.frame.top + 5, at + w/2 + 2, d.frame.top + 14}
		if meetsAny(r, taken) {
			continue
		}
		taken = append(taken, r)
		d.text(at, d.frame.top+6.5, t, small, quiet, centred)
	}
}

// near leaves out steps too small to be seen, so that a million of them
// draw as fast as a thousand.
const near vg.Length = 0.12

func (d *curvesDrawing) band(i int) {
	var low, high []vg.Point
	opacity := []float64{0.15, 0.13, 0.1, 0.08}[min(len(d.curves), 4)-1]
	pale := false
	flush := func() {
		if len(high) > 1 {
			pts := slices.Clone(high)
			for k := len(low) - 1; k >= 0; k-- {
				pts = append(pts, low[k])
			}
			fill, edge := opacity, 0.5
			if pale {
				fill, edge = opacity*0.45, 0.25
			}
			d.polygon(pts, faint(seriesColour(i), fill))
			d.lines(high, 0.4, faint(seriesColour(i), edge), seriesDash(i))
			d.lines(low, 0.4, faint(seriesColour(i), edge), seriesDash(i))
		}
		low, high = nil, nil
	}
	steps := d.curves[i].Steps
	for k, s := range steps {
		if s.Time > d.until {
			break
		}
		next := d.lastTime(i)
		if k+1 < len(steps) {
			next = min(steps[k+1].Time, d.until)
		}
		if !finite(s.Low) || !finite(s.High) {
			flush()
			continue
		}
		x0, x1 := d.x.at(s.Time), d.x.at(max(next, s.Time))
		if d.public() {
			high, low = append(high, vg.Point{X: x0, Y: d.y.in(s.High)}), append(low, vg.Point{X: x0, Y: d.y.in(s.Low)})
			continue
		}
		if k+1 == len(steps) && k > 0 && x1 <= x0 {
			break // the last row holds for no time
		}
		// The stretch that follows is faint where few are at risk in it.
		if thin := k+1 < len(steps) && d.isThin(steps[k+1]); thin != pale {
			if n := len(high); n > 0 {
				high, low = append(high, vg.Point{X: x0, Y: high[n-1].Y}), append(low, vg.Point{X: x0, Y: low[n-1].Y})
			}
			flush()
			pale = thin
		}
		l, h := d.y.in(s.Low), d.y.in(s.High)
		if n := len(high); n > 0 && k+1 < len(steps) && x1-high[n-1].X < near && abs(h-high[n-1].Y) < near && abs(l-low[n-1].Y) < near {
			continue
		}
		high = append(high, vg.Point{X: x0, Y: h}, vg.Point{X: x1, Y: h})
		low = append(low, vg.Point{X: x0, Y: l}, vg.Point{X: x1, Y: l})
	}
	flush()
}

func (d *curvesDrawing) isThin(s Step) bool { return s.AtRisk < d.spec.FaintBelow }

func abs(v vg.Length) vg.Length { return vg.Length(math.Abs(float64(v))) }

// lastTime is where a curve ends: at its last row, or at the edge.
func (d *curvesDrawing) lastTime(i int) float64 {
	s := d.curves[i].Steps
	return min(s[len(s)-1].Time, d.until)
}

// curve draws line and censoring marks, and returns where the line ends.
func (d *curvesDrawing) curve(i int) (vg.Length, vg.Length) {
	c := d.curves[i]
	col, dash := seriesColour(i), seriesDash(i)
	pts := []vg.Point{{X: d.x.at(0), Y: d.y.in(c.Steps[0].Estimate)}}
	pale := false
	put := func() {
		wide, strength := lineWide, 1.0
		if len(c.Model) > 1 {
			wide, strength = 0.8, 0.8
		}
		if pale {
			strength = 0.38
		}
		d.lines(pts, wide, faint(col, strength), dash)
	}
	var marks []vg.Point
	end := pts[0]
	for _, s := range c.Steps[1:] {
		if s.Time > d.until {
			end = vg.Point{X: d.x.at(d.until), Y: end.Y}
			pts = append(pts, end)
			break
		}
		if c.inOpen(s.Time) {
			continue // nothing is known between the ends
		}
		thin := d.isThin(s)
		if thin != pale {
			put()
			pts, pale = []vg.Point{end}, thin
		}
		x, y := d.x.at(s.Time), d.y.in(s.Estimate)
		if o, ok := c.openAt(s.Time); ok && !d.public() {
			from := vg.Point{X: d.x.at(o.From), Y: end.Y}
			pts = append(pts, from)
			put()
			d.openFall(i, from, vg.Point{X: x, Y: y}, pale)
			end = vg.Point{X: x, Y: y}
			pts = []vg.Point{end}
			continue
		}
		if last := pts[len(pts)-1]; x-last.X >= near || abs(y-last.Y) >= near {
			if !d.public() {
				pts = append(pts, vg.Point{X: x, Y: end.Y})
			}
			if y != end.Y || d.public() {
				pts = append(pts, vg.Point{X: x, Y: y})
			}
		}
		end = vg.Point{X: x, Y: y}
		if s.Censored > 0 && !d.public() && (len(marks) == 0 || x-marks[len(marks)-1].X >= 1.6) {
			marks = append(marks, end)
		}
	}
	if pts[len(pts)-1] != end {
		pts = append(pts, end)
	}
	put()
	for _, m := range marks {
		d.line(m.X, m.Y-2.2, m.X, m.Y+2.2, 0.7, col, nil)
	}
	if len(c.Steps) == 1 {
		d.marker(end.X, end.Y, 2, dot, col)
	}
	return end.X, end.Y
}

func (d *curvesDrawing) smallPrint() string {
	var t []string
	if d.bands && d.anyBand() {
		t = append(t, fmt.Sprintf("Shaded: %s interval at each time.", percent(d.spec.Confidence)))
	} else if !d.spec.NoBands && !d.bands {
		t = append(t, fmt.Sprintf("Intervals of %d curves would hide one another: they stand in the tables.", len(d.curves)))
	}
	censored, pale := false, false
	for _, c := range d.curves {
		for k, s := range c.Steps {
			if s.Time > d.until {
				break
			}
			censored = censored || s.Censored > 0
			pale = pale || k > 0 && d.isThin(s)
		}
	}
	if d.public() {
		known := "Known at quarters of a year."
		if d.spec.Sparse {
			known = "Drawn straight between the times that may be shown."
		}
		if d.unknown > 0 {
			known += fmt.Sprintf(" Not drawn: %s of which no time may be shown.", plural(d.unknown, "curve", "curves"))
		}
		t = append(t, fmt.Sprintf(known+" Withheld (–): counts that, or whose differences, stand for 1 to %d.", d.spec.HideBelow-1))
	} else if censored {
		t = append(t, "Upright marks: censored.")
	}
	if d.paired() && d.late() && !d.spec.NoTable {
		t = append(t, fmt.Sprintf("At risk, censored and %s add up to the %s that had entered by then.", d.spec.EventWord, d.spec.Rows))
	}
	if d.anyOpen() {
		t = append(t, openNote)
	}
	if d.anyModel() {
		seen := "steps"
		if d.spec.Sparse {
			seen = "with corners"
		}
		t = append(t, "Smooth lines: fitted; "+seen+": seen.")
	}
	if pale {
		t = append(t, fmt.Sprintf("Faint: fewer than %d at risk.", d.spec.FaintBelow))
	}
	if d.top < 1 && !d.spec.Plain {
		t = append(t, fmt.Sprintf("The axis ends at %s.", percent(d.top)))
	}
	if d.spec.Plain && d.bands && d.beyond() {
		t = append(t, beyondNote)
	}
	return strings.Join(t, " ")
}

// beyondNote says that a band is cut off by the end of the axis.
const beyondNote = "An interval goes on beyond the axis."

// beyond says whether a band that is drawn leaves the axis.
func (d *curvesDrawing) beyond() bool {
	for _, c := range d.curves {
		for _, s := range c.Steps {
			if s.Time <= d.until && finite(s.High) && s.High > d.top*1.001 {
				return true
			}
		}
	}
	return false
}

func (d *curvesDrawing) anyBand() bool {
	for _, c := range d.curves {
		for _, s := range c.Steps {
			if finite(s.Low) && finite(s.High) && s.High > s.Low {
				return true
			}
		}
	}
	return false
}
