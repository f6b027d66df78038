package figure

import (
	"fmt"
	"strings"

	"gonum.org/v1/plot/vg"
)

// Value is a number that a figure shows, at its place in it, for readers who
// point at it or step through them. It says no more than the drawing does:
// what is withheld there has none.
type Value struct {
	At     vg.Point // from the lower left corner
	Series string   // the line or group; empty where there is one
	Where  string   // "2025 Q3", "1.5 years"
	Text   string   // "78% (70% to 85%)"
}

// values are the values of a drawing, with the heads of a table of them: what
// tells series apart, what tells places apart, and what the value is.
type values struct {
	list  []Value
	heads [3]string
}

// tell notes a value at its place. Texts are cleaned as those drawn are.
func (s *scene) tell(x, y vg.Length, series, where, text string) {
	s.values.list = append(s.values.list, Value{vg.Point{X: x, Y: y}, clean(series), clean(where), clean(text)})
}

// tellHeads names the columns of the values.
func (s *scene) tellHeads(series, where, value string) {
	s.values.heads = [3]string{series, where, value}
}

// takeValues takes those of a drawing that is set into this one.
func (s *scene) takeValues(from *scene) {
	s.values.list = append(s.values.list, from.values.list...)
	s.values.heads = from.values.heads
}

// ranged writes a value with its interval, if there is one.
func ranged(show func(float64) string, v, low, high float64) string {
	if !finite(low) || !finite(high) {
		return show(v)
	}
	return fmt.Sprintf("%s (%s to %s)", show(v), show(low), show(high))
}

// mostOfLine is how many places of a smooth line are values.
const mostOfLine = 41

// lineValues notes places evenly along a line, its ends with them.
func (d *xyDrawing) lineValues(name string, line []BandPoint) {
	n := min(len(line), mostOfLine)
	for i := range n {
		p := line[0]
		if n > 1 {
			p = line[i*(len(line)-1)/(n-1)]
		}
		d.tell(d.x.in(p.X), d.y.in(p.Y), name, d.showX(p.X), strings.TrimSpace(ranged(brief, p.Y, p.Low, p.High)+" "+d.yUnit))
	}
}

// xyHeads names the columns of values by the axes.
func (d *xyDrawing) xyHeads(series string) {
	d.tellHeads(series, d.xTitle, withUnit(d.yTitle, d.yUnit))
}

// stepsApart is how far places of a step curve lie apart that are values.
const stepsApart vg.Length = 2.5

// stepValues notes the steps of a curve that lie far enough from the one
// before, and its end.
func (d *curvesDrawing) stepValues(i int) {
	c, last := d.curves[i], vg.Length(-1e9)
	name := d.names[i]
	if len(d.curves) == 1 {
		name = ""
	}
	for k, s := range c.Steps {
		if s.Time > d.until {
			break
		}
		x := d.x.at(s.Time)
		end := k+1 == len(c.Steps) || c.Steps[k+1].Time > d.until
		if !finite(s.Estimate) || c.inOpen(s.Time) || x-last < stepsApart && !end {
			continue
		}
		last = x
		text := d.show(s.Estimate)
		if d.bands {
			text = ranged(d.show, s.Estimate, s.Low, s.High)
		}
		d.tell(x, d.y.in(s.Estimate), name, d.moment(s.Time), text)
	}
}

// moment writes a time in the unit of the axis, all of them to the same
// decimals, about three days fine.
func (d *curvesDrawing) moment(t float64) string {
	decimals := 0
	for days := d.unit.days; days > 4; days /= 10 {
		decimals++
	}
	return decimal(t/d.unit.days, decimals) + " " + d.unit.name
}

// pointValues notes the points of a chart over time with their limits.
func (d *controlDrawing) pointValues() {
	d.tellHeads("", map[bool]string{false: "Period", true: d.spec.OrderAxis}[d.spec.ByOrder], d.spec.ValueAxis)
	last := vg.Point{X: -1e9}
	for i, p := range d.points {
		at := vg.Point{X: d.x.in(d.place(i)), Y: d.y.in(p.Value)}
		if len(p.Signals) == 0 && at.X-last.X < 1 {
			continue
		}
		last = at
		t := d.show(p.Value)
		if finite(p.Lower) && finite(p.Upper) {
			t += fmt.Sprintf(", limits %s to %s", d.end(p.Lower), d.show(p.Upper))
		}
		if len(p.Signals) > 0 {
			t += ", signal: " + strings.Join(p.Signals, ", ")
		}
		d.tell(at.X, at.Y, "", p.Label, t)
	}
}

// fittedValues notes places evenly along a smooth curve of shares.
func (d *fittedDrawing) fittedValues(c FittedCurve) {
	pts := d.within(c.Points)
	n := min(len(pts), mostOfLine)
	for k := range n {
		p := pts[k*(len(pts)-1)/max(n-1, 1)]
		text := percent(p.Y)
		if d.bandsDrawn() {
			text = ranged(percent, p.Y, p.Low, p.High)
		}
		d.tell(d.x.at(p.X), d.y.in(p.Y), c.Name, d.moment(p.X), text)
	}
}
