package figure

import (
	"fmt"
	"image/color"
	"math"
	"slices"
	"sort"
	"strings"

	"gonum.org/v1/plot/vg"
)

// xyDrawing is a plot of numbers against numbers.
type xyDrawing struct {
	frame
	width0         vg.Length
	xTitle, xUnit  string
	yTitle, yUnit  string
	xDays, zeroY   bool
	wholeBand      bool // the value axis reaches as far as intervals do
	yRatio         bool // values are ratios, on a logarithmic axis
	cycle          Cycle
	seen           bool
	x0, x1, y0, y1 float64 // what was seen
	l0, l1         float64 // what intervals reach
	dropped        int
}

func (d *xyDrawing) see(x, y float64) {
	if !d.seen {
		d.x0, d.x1, d.y0, d.y1, d.seen = x, x, y, y, true
		d.l0, d.l1 = y, y
	}
	d.x0, d.x1 = math.Min(d.x0, x), math.Max(d.x1, x)
	d.y0, d.y1 = math.Min(d.y0, y), math.Max(d.y1, y)
}

// keep takes the finite pairs and widens the ranges to them.
func (d *xyDrawing) keep(pts []XY) []XY {
	out := make([]XY, 0, len(pts))
	for _, p := range pts {
		if !finite(p.X) || !finite(p.Y) {
			d.dropped++
			continue
		}
		d.see(p.X, p.Y)
		out = append(out, p)
	}
	return out
}

func (d *xyDrawing) keepBand(pts []BandPoint) []BandPoint {
	var out []BandPoint
	for _, p := range pts {
		if !finite(p.X) || !finite(p.Y) {
			d.dropped++
			continue
		}
		d.see(p.X, p.Y)
		if finite(p.Low) && finite(p.High) {
			d.l0, d.l1 = math.Min(d.l0, p.Low), math.Max(d.l1, p.High)
		}
		out = append(out, p)
	}
	slices.SortStableFunc(out, func(a, b BandPoint) int {
		switch {
		case a.X < b.X:
			return -1
		case a.X > b.X:
			return 1
		}
		return 0
	})
	return out
}

// axes lays out the plot. Intervals of a fit may run far out where there is
// little data: unless they are wanted whole they stretch the value axis by no
// more than half of what was seen, and are cut at its ends.
func (d *xyDrawing) axes(room vg.Length, names []string, height vg.Length) {
	d.scene = &scene{width: widthOr(d.width0)}
	span := d.y1 - d.y0
	lo, hi := d.y0, d.y1
	if span > 0 && !d.wholeBand {
		lo, hi = math.Max(math.Min(lo, d.l0), lo-span/2), math.Min(math.Max(hi, d.l1), hi+span/2)
	} else {
		lo, hi = math.Min(lo, d.l0), math.Max(hi, d.l1)
	}
	if d.zeroY {
		lo, hi = math.Min(lo, 0), math.Max(hi, 0)
	}
	if d.y0 >= 0 {
		lo = math.Max(lo, 0) // a band below zero says nothing of values that cannot be
	}
	lo, hi = roundOut(lo, hi, 5)
	yTicks := linearTicks(lo, hi, 6)
	if d.yRatio {
		lo, hi, yTicks = d.ratioRange()
	}
	xlo, xhi := spread(d.x0, d.x1)
	pad := (xhi - xlo) * 0.025
	if xlo >= 0 && xlo-pad < 0 || d.xDays && xlo == 0 {
		xlo = 0
		xhi += pad
	} else {
		xlo, xhi = xlo-pad, xhi+pad
	}
	d.left = small.widest(labels(yTicks)...) + tickGap + 2
	d.right = d.width - room
	y := d.heading(0, withUnit(d.yTitle, d.yUnit), "") - 8
	var need vg.Length
	for range names {
		need += 2*plain.line() + 1
	}
	d.frame.top, d.bottom = y, y-max(height, need)
	if d.cycle != NoCycle {
		xlo, xhi = d.cycle.range0(d.x0, d.x1)
	}
	d.x = scale{lo: xlo, hi: xhi, from: d.left, to: d.right}
	d.y = scale{lo: lo, hi: hi, from: d.bottom, to: d.frame.top, log: d.yRatio}
	d.yGrid(yTicks)
	n := max(int((d.right-d.left)/44), 2)
	ticks := linearTicks(xlo, xhi, n)
	title := withUnit(d.xTitle, d.xUnit)
	if d.cycle != NoCycle {
		ticks = d.cycle.ticks(xlo, xhi, n)
	}
	if d.xDays {
		u := unitFor(math.Max(math.Abs(xlo), math.Abs(xhi)))
		title = withUnit(d.xTitle, u.name)
		if xlo >= 0 {
			ticks = nil
			for _, t := range timeTicks(xhi, u, n) {
				if t.value >= xlo {
					ticks = append(ticks, t)
				}
			}
		}
		if xlo < 0 || len(ticks) < 2 {
			ticks = linearTicks(xlo/u.days, xhi/u.days, n)
			for i := range ticks {
				ticks[i].value *= u.days
			}
		}
	}
	d.xAxis(ticks, title)
	d.below -= 3
}

func (d *xyDrawing) showX(v float64) string {
	if d.cycle != NoCycle {
		return d.cycle.Words(v)
	}
	if d.xDays {
		u := unitFor(math.Max(math.Abs(d.x.lo), math.Abs(d.x.hi)))
		return trimmed(brief(v/u.days)) + " " + u.name
	}
	return strings.TrimSpace(trimmed(brief(v)) + " " + d.xUnit)
}

func (d *xyDrawing) showY(v float64) string { return strings.TrimSpace(brief(v) + " " + d.yUnit) }

func (d *xyDrawing) lineWords(line []BandPoint, name string) string {
	if len(line) == 0 {
		return ""
	}
	var parts []string
	n := min(len(line), 5)
	for i := range n {
		p := line[0]
		if n > 1 {
			p = line[i*(len(line)-1)/(n-1)]
		}
		t := fmt.Sprintf("%s at %s", d.showY(p.Y), d.showX(p.X))
		if finite(p.Low) && finite(p.High) {
			t += fmt.Sprintf(" (%s to %s)", brief(p.Low), brief(p.High))
		}
		parts = append(parts, t)
	}
	return upper(name) + ": " + strings.Join(parts, ", ") + ". "
}

// curve draws a line within the plot and returns where it ends.
func (d *xyDrawing) curve(line []BandPoint, width vg.Length, col color.NRGBA, dash []vg.Length) (vg.Length, vg.Length) {
	var pts []vg.Point
	for i, p := range line {
		pt := vg.Point{X: d.x.in(p.X), Y: d.y.in(p.Y)}
		if n := len(pts); n > 0 && i+1 < len(line) && abs(pt.X-pts[n-1].X) < near && abs(pt.Y-pts[n-1].Y) < near {
			continue
		}
		pts = append(pts, pt)
	}
	d.lines(pts, width, col, dash)
	end := pts[len(pts)-1]
	if len(pts) == 1 {
		d.marker(end.X, end.Y, 2, dot, col)
	}
	return end.X, end.Y
}

// band shades the interval of a line and reports whether there was any.
func (d *xyDrawing) band(line []BandPoint, col color.NRGBA, opacity float64) bool {
	var low, high []vg.Point
	drawn := false
	flush := func() {
		if len(high) > 1 {
			pts := slices.Clone(high)
			for k := len(low) - 1; k >= 0; k-- {
				pts = append(pts, low[k])
			}
			d.polygon(pts, faint(col, opacity))
			drawn = true
		}
		low, high = nil, nil
	}
	for _, p := range line {
		if !finite(p.Low) || !finite(p.High) {
			flush()
			continue
		}
		x := d.x.in(p.X)
		low = append(low, vg.Point{X: x, Y: d.y.in(p.Low)})
		high = append(high, vg.Point{X: x, Y: d.y.in(p.High)})
	}
	flush()
	return drawn
}

// manyPoints is from where on points are counted in squares.
const manyPoints = 3000

// scatter draws the values: half transparent dots, so that several on one
// spot look darker; beyond manyPoints, squares shaded by their count.
func (d *xyDrawing) scatter(pts []XY) string {
	if len(pts) <= manyPoints {
		r, opacity := vg.Length(2), 0.55
		if len(pts) > 400 {
			r, opacity = 1.4, 0.35
		}
		for _, p := range pts {
			d.marker(d.x.in(p.X), d.y.in(p.Y), r, dot, faint(ink, opacity))
		}
		return ""
	}
	const cell vg.Length = 3
	type at struct{ i, j int }
	counts := map[at]int{}
	most := 0
	for _, p := range pts {
		k := at{int((d.x.in(p.X) - d.left) / cell), int((d.y.in(p.Y) - d.bottom) / cell)}
		counts[k]++
		most = max(most, counts[k])
	}
	keys := make([]at, 0, len(counts))
	for k := range counts {
		keys = append(keys, k)
	}
	sort.Slice(keys, func(a, b int) bool {
		if keys[a].i != keys[b].i {
			return keys[a].i < keys[b].i
		}
		return keys[a].j < keys[b].j
	})
	for _, k := range keys {
		shade := 0.15 + 0.7*math.Sqrt(float64(counts[k])/float64(most))
		x, y := d.left+vg.Length(k.i)*cell, d.bottom+vg.Length(k.j)*cell
		d.polygon(box(x, y, min(x+cell, d.right), min(y+cell, d.frame.top)), tint(ink, shade))
	}
	return fmt.Sprintf("Squares: %s values, stronger where more lie; the strongest holds %s.", count(len(pts)), count(most))
}
