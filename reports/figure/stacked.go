package figure

import (
	"fmt"
	"image/color"
	"sort"
	"strings"

	"gonum.org/v1/plot/vg"
)

// Layer is one cause of a stacked drawing: its cumulative incidence.
type Layer struct {
	Name  string
	Steps []Step // Estimate is the share of one; counts are not used
}

// StackedSpec says what to stack. The zero value of an option is its default.
type StackedSpec struct {
	ID        string
	Title     string
	ValueAxis string // "What became of the sockets"
	TimeAxis  string
	Rest      string // name of those without any ending; default "still in use"
	Layers    []Layer
	Until     float64 // days; default: the last time of any layer
	HideBelow int     // thins the layers to quarters of a year, as in CurvesSpec; edges run straight between
	Sparse    bool    // the steps are all that may be known, as in CurvesSpec
	Width     vg.Length
}

// Stacked draws the cumulative incidence of all causes on top of one
// another. What is left up to one is still without an ending. Layers are
// told apart by pattern as well as tint, and named at their right end.
func Stacked(spec StackedSpec) *Figure {
	if spec.ValueAxis == "" {
		spec.ValueAxis = "What became of them"
	}
	if spec.TimeAxis == "" {
		spec.TimeAxis = "Time"
	}
	if spec.Rest == "" {
		spec.Rest = "still in use"
	}
	fig := Figure{ID: spec.ID, Title: spec.Title}
	if fig.Title == "" {
		fig.Title = spec.ValueAxis + " by " + lower(spec.TimeAxis)
	}
	d := stackedDrawing{spec: spec}
	d.gather()
	if len(d.times) == 0 {
		return nothing(fig, spec.Width, "Nothing can be stacked: no cause has an estimate.")
	}
	if d.spec.Sparse && d.steps < 2 {
		return nothing(fig, spec.Width, "Nothing is drawn: at every time too few had ended, or were left, to be shown.")
	}
	d.layout()
	var parts []string
	last := len(d.times) - 1
	for k, l := range d.layers {
		parts = append(parts, fmt.Sprintf("%s %s", l.Name, percent(d.share(k, last))))
	}
	parts = append(parts, fmt.Sprintf("%s %s", spec.Rest, percent(max(0, 1-d.sums[len(d.layers)-1][last]))))
	unit := unitFor(d.until)
	fig.Description = fmt.Sprintf("Stacked shares by %s; at %s: %s.", lower(spec.TimeAxis),
		counted(trimmed(brief(d.times[last]/unit.days)), unit.name), strings.Join(parts, ", "))
	var b strings.Builder
	for _, t := range timeTicks(d.until, unit, 5)[1:] {
		i := sort.Search(len(d.times), func(i int) bool { return d.times[i] > t.value }) - 1
		fmt.Fprintf(&b, "At %s: ", counted(t.label, unit.name))
		for k, l := range d.layers {
			fmt.Fprintf(&b, "%s %s, ", l.Name, percent(d.share(k, i)))
		}
		fmt.Fprintf(&b, "%s %s. ", spec.Rest, percent(max(0, 1-d.sums[len(d.layers)-1][i])))
	}
	fig.Long = strings.TrimSpace(b.String()) + cutNote(d.cut) + droppedNote(d.dropped, "step")
	return d.finish(fig)
}

// counted joins a number and a unit that is named in the plural.
func counted(number, unit string) string {
	if number == "1" {
		unit = strings.TrimSuffix(unit, "s")
	}
	return number + " " + unit
}

type stackedDrawing struct {
	frame
	spec    StackedSpec
	layers  []Layer
	times   []float64
	sums    [][]float64 // by layer, then time: sum of the layers up to this one
	until   float64
	cut     []string
	dropped int
	steps   int // of the layer that has most
}

func (d *stackedDrawing) share(k, i int) float64 {
	if k == 0 {
		return d.sums[0][i]
	}
	return d.sums[k][i] - d.sums[k-1][i]
}

// gather puts all layers on the same times.
func (d *stackedDrawing) gather() {
	seen := map[float64]bool{0: true}
	for _, l := range d.spec.Layers {
		var ok []Step
		for _, s := range l.Steps {
			if !finite(s.Time) || !finite(s.Estimate) || s.Time < 0 {
				d.dropped++
				continue
			}
			ok = append(ok, s)
		}
		if len(ok) == 0 {
			continue
		}
		sort.SliceStable(ok, func(a, b int) bool { return ok[a].Time < ok[b].Time })
		if !d.spec.Sparse {
			ok = publicSteps(ok, d.spec.HideBelow)
		}
		d.steps = max(d.steps, len(ok))
		d.layers = append(d.layers, Layer{l.Name, ok})
		d.until = max(d.until, ok[len(ok)-1].Time)
		for _, s := range ok {
			seen[s.Time] = true
		}
	}
	if len(d.layers) == 0 {
		return
	}
	if d.spec.Until > 0 && finite(d.spec.Until) {
		d.until = d.spec.Until
	}
	if d.until == 0 {
		d.until = 1
	}
	seen[d.until] = true
	for t := range seen {
		if t <= d.until {
			d.times = append(d.times, t)
		}
	}
	sortFloats(d.times)
	below := make([]float64, len(d.times))
	for _, l := range d.layers {
		sum := make([]float64, len(d.times))
		k, v := 0, 0.0
		for i, t := range d.times {
			for k < len(l.Steps) && l.Steps[k].Time <= t {
				v = l.Steps[k].Estimate
				k++
			}
			sum[i] = min(below[i]+max(v, 0), 1)
		}
		d.sums = append(d.sums, sum)
		below = sum
	}
}

func (d *stackedDrawing) layout() {
	d.scene = &scene{width: widthOr(d.spec.Width)}
	names := []string{}
	for _, l := range d.layers {
		names = append(names, l.Name)
	}
	names = append(names, d.spec.Rest)
	room, wrapped, cut := labelRoom(names, d.width, 0.3, false)
	room += 14 // the swatch
	d.cut = cut
	plotHeight := vg.Length(190)
	var need vg.Length
	for _, w := range wrapped {
		need += vg.Length(len(w))*plain.line() + 1
	}
	plotHeight = max(plotHeight, need)
	yTicks := linearTicks(0, 100, 5)
	for i := range yTicks {
		yTicks[i].value /= 100
	}
	d.left = small.widest(labels(yTicks)...) + tickGap + 2
	d.right = d.width - room
	y := d.heading(0, d.spec.ValueAxis+" (%)", "") - 8
	d.frame.top, d.bottom = y, y-plotHeight
	d.x = scale{lo: 0, hi: d.until, from: d.left, to: d.right}
	d.y = scale{lo: 0, hi: 1, from: d.bottom, to: d.frame.top}
	d.yGrid(yTicks)
	base := make([]float64, len(d.times))
	slots := make([]slot, 0, len(names))
	last := len(d.times) - 1
	for k := range d.layers {
		pts := d.edge(d.sums[k])
		line := pts
		lower := d.edge(base)
		area := append([]vg.Point{}, pts...)
		for i := len(lower) - 1; i >= 0; i-- {
			area = append(area, lower[i])
		}
		d.polygon(area, layerTint(k))
		d.hatched(area, hatches[k%len(hatches)], faint(seriesColour(k), 0.85))
		d.lines(line, 0.8, ink, nil)
		mid := (d.sums[k][last] + base[last]) / 2
		slots = append(slots, slot{want: d.y.at(mid), height: vg.Length(len(wrapped[k]))*plain.line() + 1})
		base = d.sums[k]
	}
	d.stackedValues()
	rest := (1 + base[last]) / 2
	slots = append(slots, slot{want: d.y.at(rest), height: vg.Length(len(wrapped[len(names)-1]))*plain.line() + 1})
	apart(slots, d.bottom-2, d.frame.top+4)
	for k, sl := range slots {
		x := d.right + 9
		d.lines([]vg.Point{{X: d.right + 1, Y: sl.want}, {X: x - 1, Y: sl.at}}, hairline, axis, nil)
		sw := box(x, sl.at-4, x+11, sl.at+4)
		if k < len(d.layers) {
			d.polygon(sw, layerTint(k))
			d.hatched(sw, hatches[k%len(hatches)], faint(seriesColour(k), 0.85))
		} else {
			d.polygon(sw, white)
		}
		d.outline(sw, hairline, quiet)
		ty := sl.at + vg.Length(len(wrapped[k])-1)*plain.line()/2
		for _, t := range wrapped[k] {
			d.middle(x+15, ty, t, plain, ink, fromLeft)
			ty -= plain.line()
		}
	}
	d.line(d.left, d.frame.top, d.right, d.frame.top, 0.7, axis, nil)
	d.line(d.right, d.bottom, d.right, d.frame.top, 0.7, axis, nil)
	u := unitFor(d.until)
	d.xAxis(timeTicks(d.until, u, 8), d.spec.TimeAxis+" ("+u.name+")")
}

// layerTint gets darker and lighter by turns, so that neighbours differ in
// grey.
func layerTint(k int) color.NRGBA {
	return tint(seriesColour(k), []float64{0.55, 0.18, 0.38, 0.1}[k%4])
}

func (d *stackedDrawing) edge(v []float64) []vg.Point {
	var pts []vg.Point
	for i, t := range d.times {
		x, y := d.x.at(t), d.y.in(v[i])
		if n := len(pts); n > 0 {
			if last := pts[n-1]; i+1 < len(v) && x-last.X < near && abs(y-last.Y) < near {
				continue
			}
			if d.spec.HideBelow <= 1 {
				pts = append(pts, vg.Point{X: x, Y: pts[n-1].Y})
			}
		}
		pts = append(pts, vg.Point{X: x, Y: y})
	}
	return pts
}

// stackedValues notes the share of each layer, in its middle, at times that
// lie far enough apart.
func (d *stackedDrawing) stackedValues() {
	const between vg.Length = 9
	d.tellHeads("Layer", d.spec.TimeAxis, d.spec.ValueAxis)
	unit := unitFor(d.until)
	for k, l := range d.layers {
		at := vg.Length(-1e9)
		for i, t := range d.times {
			x := d.x.at(t)
			if x-at < between && i+1 < len(d.times) {
				continue
			}
			at = x
			share := d.share(k, i)
			d.tell(x, d.y.in(d.sums[k][i]-share/2), l.Name, trimmed(brief(t/unit.days))+" "+unit.name, percent(share))
		}
	}
}
