package figure

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/plot/vg"
)

// end writes a value beside its line, where the axis already has the unit;
// all of them to the same decimals, those that the distance between the
// limits carries.
func (d *controlDrawing) end(v float64) string {
	if d.spec.Percent {
		return percent(v)
	}
	p := d.points[len(d.points)-1]
	wide := math.Max(math.Abs(v), 1)
	if finite(p.Lower) && finite(p.Upper) && p.Upper > p.Lower {
		wide = p.Upper - p.Lower
	}
	return decimal(v, min(max(int(math.Ceil(1.5-math.Log10(wide))), 0), 5))
}

type endText struct {
	value float64
	text  string
}

// endTexts are the direct labels at the right of the lines.
func (d *controlDrawing) endTexts() []endText {
	p := d.points[len(d.points)-1]
	var out []endText
	if finite(p.Upper) {
		out = append(out, endText{p.Upper, "upper " + d.end(p.Upper)})
	}
	if finite(p.Centre) {
		out = append(out, endText{p.Centre, d.spec.CentreWord + " " + d.end(p.Centre)})
	}
	if finite(p.Lower) {
		out = append(out, endText{p.Lower, "lower " + d.end(p.Lower)})
	}
	if d.spec.Goal != nil {
		out = append(out, endText{*d.spec.Goal, "goal " + d.end(*d.spec.Goal)})
	}
	return out
}

// baseline shades the stretch whose limits are frozen, and names it.
func (d *controlDrawing) baseline() {
	for i := 0; i < len(d.points); i++ {
		if !d.points[i].Baseline {
			continue
		}
		j := i
		for j+1 < len(d.points) && d.points[j+1].Baseline {
			j++
		}
		a, _ := d.reach(i)
		_, b := d.reach(j)
		x0, x1 := d.x.in(a), d.x.in(b)
		d.polygon(box(x0, d.bottom, x1, d.frame.top), wash)
		d.words = append(d.words, stripWord{"baseline", x0, max(x1, x0+small.width("baseline")+6)})
		i = j
	}
}

// provisional shades the points that may still change, and says so.
func (d *controlDrawing) provisional() {
	i := len(d.points)
	for i > 0 && d.points[i-1].Provisional {
		i--
	}
	if i == len(d.points) {
		return
	}
	a, _ := d.reach(i)
	_, b := d.reach(len(d.points) - 1)
	x0, x1 := d.x.in(a), d.x.in(b)
	area := box(x0, d.bottom, x1, d.frame.top)
	d.polygon(area, wash)
	d.hatched(area, hatches[1], grid)
}

func (d *controlDrawing) oldLimits() {
	for _, o := range d.spec.Old {
		x0, x1 := d.x.in(float64(o.FromDay)), d.x.in(float64(o.ToDay))
		for _, v := range []float64{o.Lower, o.Centre, o.Upper} {
			if finite(v) && d.y.holds(v) {
				d.line(x0, d.y.at(v), x1, d.y.at(v), 0.7, faint(quiet, 0.45), []vg.Length{2, 2})
			}
		}
	}
}

// limits draws centre and limits in steps, broken between phases.
func (d *controlDrawing) limits() {
	run := func(get func(ControlPoint) float64, width vg.Length, dash []vg.Length) {
		var pts []vg.Point
		flush := func() {
			d.lines(pts, width, quiet, dash)
			pts = nil
		}
		for i, p := range d.points {
			v := get(p)
			if i > 0 && p.Phase != d.points[i-1].Phase {
				flush()
			}
			if !finite(v) {
				flush()
				continue
			}
			a, b := d.reach(i)
			y := d.y.in(v)
			if n := len(pts); n > 1 && pts[n-1].Y == y && pts[n-2].Y == y {
				pts[n-1].X = d.x.in(b)
				continue
			}
			if n := len(pts); n > 1 && d.x.in(b)-pts[n-1].X < near && abs(pts[n-1].Y-y) < near {
				continue
			}
			pts = append(pts, vg.Point{X: d.x.in(a), Y: y}, vg.Point{X: d.x.in(b), Y: y})
		}
		flush()
	}
	run(func(p ControlPoint) float64 { return p.Upper }, 0.9, []vg.Length{4, 2})
	run(func(p ControlPoint) float64 { return p.Lower }, 0.9, []vg.Length{4, 2})
	run(func(p ControlPoint) float64 { return p.Centre }, 0.9, nil)
}

func (d *controlDrawing) phases() (taken []rect) {
	for i := 1; i < len(d.points); i++ {
		if d.points[i].Phase == d.points[i-1].Phase {
			continue
		}
		x, _ := d.reach(i)
		px := d.x.in(x)
		d.line(px, d.bottom, px, d.frame.top, 0.8, axis, nil)
		taken = append(taken, rect{px - 1, d.bottom, px + 1, d.frame.top})
		d.words = append(d.words, stripWord{fmt.Sprintf("phase %d", d.points[i].Phase), px, d.width})
	}
	return taken
}

const flagSize vg.Length = 5.6

// flags draws the decisions as dated lines; their numbers are nudged apart
// above the plot.
func (d *controlDrawing) flags(taken *[]rect) {
	slots := make([]slot, len(d.spec.Decisions))
	for i, dec := range d.spec.Decisions {
		slots[i] = slot{want: d.x.in(d.when(dec.Day)), height: 2*flagSize + 2}
	}
	apart(slots, d.left-flagSize, d.right+flagSize)
	for i, dec := range d.spec.Decisions {
		x := d.x.in(d.when(dec.Day))
		top := d.frame.top + 2
		if d.named() && !d.spec.Small {
			top += small.line() + 1
		}
		d.lines([]vg.Point{{X: x, Y: d.bottom}, {X: x, Y: top - 2}, {X: slots[i].at, Y: top}}, 0.9, purple, []vg.Length{3, 1.5})
		d.lines0 = append(d.lines0, x)
		if d.spec.Small {
			d.lines0 = append(d.lines0, slots[i].at)
		}
		*taken = append(*taken, rect{x - 1, d.bottom, x + 1, d.frame.top})
		d.flag(slots[i].at, top+flagSize, i+1)
	}
}

func (d *controlDrawing) flag(x, y vg.Length, n int) {
	d.marker(x, y, flagSize, dot, ink)
	d.middle(x, y, fmt.Sprint(n), smallBold, white, centred)
}

// marks draws the points and puts a word at each signal where there is room
// for it; it returns the signals whose word found none.
func (d *controlDrawing) marks(taken []rect) []string {
	var pts []vg.Point
	for i, p := range d.points {
		pt := vg.Point{X: d.x.in(d.place(i)), Y: d.y.in(p.Value)}
		if i > 0 && (p.Phase != d.points[i-1].Phase || d.gaps[i]) {
			d.lines(pts, 0.8, faint(blue, 0.6), nil)
			pts = nil
		}
		if n := len(pts); n > 0 && i+1 < len(d.points) && abs(pt.X-pts[n-1].X) < near && abs(pt.Y-pts[n-1].Y) < near {
			continue
		}
		pts = append(pts, pt)
	}
	d.lines(pts, 0.8, faint(blue, 0.6), nil)
	dense := float64(d.right-d.left)/float64(len(d.points)) < 3
	places := make([]rect, 0, len(d.points))
	var lastPlain vg.Point
	for i, p := range d.points {
		pt := vg.Point{X: d.x.in(d.place(i)), Y: d.y.in(p.Value)}
		if len(p.Signals) > 0 {
			d.marker(pt.X, pt.Y, 3.4, diamond, vermilion)
		} else {
			if dense && abs(pt.X-lastPlain.X) < 0.6 && abs(pt.Y-lastPlain.Y) < 0.6 {
				continue
			}
			lastPlain = pt
			r := vg.Length(2.3)
			if dense {
				r = 1.1
			}
			d.marker(pt.X, pt.Y, r, dot, blue)
			if p.Provisional && !dense {
				d.marker(pt.X, pt.Y, r-1, dot, white)
			}
		}
		if len(d.points) <= 2000 {
			places = append(places, rect{pt.X - 4, pt.Y - 4, pt.X + 4, pt.Y + 4})
		}
	}
	obstacles := append(append([]rect{}, taken...), places...)
	var unplaced []string
	for i := 0; i < len(d.points); i++ {
		p := d.points[i]
		if len(p.Signals) == 0 {
			continue
		}
		// A run that says the same at each point is named once, at its end.
		text := strings.Join(p.Signals, ", ")
		if i+1 < len(d.points) && strings.Join(d.points[i+1].Signals, ", ") == text {
			continue
		}
		if !d.word(i, text, &obstacles) {
			unplaced = append(unplaced, p.Label+": "+text)
		}
	}
	return unplaced
}

// word tries the places around a point, nearest first.
func (d *controlDrawing) word(i int, text string, obstacles *[]rect) bool {
	x, y := d.x.in(d.place(i)), d.y.in(d.points[i].Value)
	w := small.width(clean(text))
	above := !finite(d.points[i].Centre) || d.points[i].Value >= d.points[i].Centre
	dys := []vg.Length{7, -14, 14, -21, 21, -28, 28, 38, -38, 50, -50}
	if !above {
		dys = []vg.Length{-14, 7, -21, 14, -28, 21, 28, -38, 38, -50, 50}
	}
	for _, dy := range dys {
		for _, dx := range []vg.Length{-w / 2, -w + 4, -4, -w - 6, 6} {
			r := rect{x + dx - 1, y + dy - 2, x + dx + w + 1, y + dy + 7}
			if r.x0 < d.left || r.x1 > d.right || r.y0 < d.bottom+1 || r.y1 > d.frame.top-1 || meetsAny(r, *obstacles) {
				continue
			}
			*obstacles = append(*obstacles, r)
			switch {
			case dy > 14:
				d.line(x, y+4, x, r.y0, hairline, axis, nil)
			case dy < -21:
				d.line(x, y-4, x, r.y1, hairline, axis, nil)
			}
			d.polygon(box(r.x0, r.y0, r.x1, r.y1), faint(white, 0.8))
			d.text(x+dx, y+dy, text, small, ink, fromLeft)
			return true
		}
	}
	return false
}

// legend sets the small print: what the shapes say, the decisions by
// number, what is not drawn.
func (d *controlDrawing) legend(unplaced []string, flags bool) {
	s := d.spec
	var t []string
	signal := false
	for _, p := range d.points {
		signal = signal || len(p.Signals) > 0
	}
	if d.cut {
		t = append(t, "The axis starts at "+percent(d.y.lo)+".")
	}
	if signal {
		t = append(t, "Diamond: signal.")
	}
	if d.points[len(d.points)-1].Provisional {
		t = append(t, "Hollow, hatched: rows may still come in; not judged.")
	}
	if len(unplaced) > 0 {
		shown := unplaced
		if len(shown) > 6 {
			shown = shown[:6]
		}
		line := "Signals: " + strings.Join(shown, "; ")
		if len(shown) < len(unplaced) {
			line += fmt.Sprintf("; and %d more, in the table", len(unplaced)-len(shown))
		}
		t = append(t, line+".")
	}
	if n := len(d.hidden); n > 0 {
		t = append(t, fmt.Sprintf("Gaps: %s withheld, since each stands for few people.", plural(n, "point", "points")))
	}
	if s.TrialLimits && !s.Small {
		t = append(t, "Trial limits: too few points to freeze a baseline.")
	}
	if len(s.Old) > 0 {
		t = append(t, "Faint lines: the limits of the phase before, carried on.")
	}
	if len(s.Pending) > 0 && !s.Small {
		t = append(t, "Not yet complete, not drawn: "+strings.Join(s.Pending, ", ")+".")
	}
	d.notes(strings.Join(t, " "))
	if flags && !s.Small {
		d.explained()
	}
}

// explained sets what was decided beneath, by number.
func (d *controlDrawing) explained() {
	for i, dec := range d.spec.Decisions {
		d.below -= 3
		y := d.below - small.line()/2 - 0.6
		d.flag(flagSize, y, i+1)
		d.below = d.paragraph(2*flagSize+5, d.below, d.width-2*flagSize-5, dateOf(dec.Day).Format("2 Jan 2006")+"  "+dec.Text, small, ink)
		d.below = min(d.below, y-flagSize)
	}
}

// orderTicks labels places in the order, by the day of the point where the
// points have days.
func (d *controlDrawing) orderTicks() []tick {
	var out []tick
	dated := true
	for _, p := range d.points {
		dated = dated && p.Day != 0
	}
	for _, t := range linearTicks(1, float64(max(len(d.points), 2)), 7) {
		if t.value != math.Trunc(t.value) || t.value < 1 || t.value > float64(len(d.points)) {
			continue
		}
		if at := int(t.value); dated && at <= len(d.points) {
			t.label = dateOf(d.points[at-1].Day).Format("2 Jan 2006")
		}
		out = append(out, t)
	}
	return out
}
