package figure

import (
	"fmt"
	"sort"
	"strings"

	"gonum.org/v1/plot/vg"
)

// model draws the fitted curve of a step curve, and returns where it ends.
func (d *curvesDrawing) model(i int) (x, y vg.Length, ok bool) {
	var pts []vg.Point
	for _, p := range d.modelPoints(i) {
		pts = append(pts, vg.Point{X: d.x.at(p.X), Y: d.y.in(p.Y)})
	}
	if len(pts) < 2 {
		return 0, 0, false
	}
	d.lines(pts, 1.9, seriesColour(i), seriesDash(i))
	model := d.modelPoints(i)
	for k := range min(len(model), mostOfLine) {
		p := model[k*(len(model)-1)/max(min(len(model), mostOfLine)-1, 1)]
		d.tell(d.x.at(p.X), d.y.in(p.Y), strings.TrimSpace(d.names[i]+" fitted"), d.moment(p.X), d.show(p.Y))
	}
	end := pts[len(pts)-1]
	return end.X, end.Y, true
}

// modelPoints are those that lie on the axes, by time.
func (d *curvesDrawing) modelPoints(i int) []XY {
	var out []XY
	for _, p := range d.curves[i].Model {
		if finite(p.X) && finite(p.Y) && p.X >= 0 && p.X <= d.until {
			out = append(out, p)
		}
	}
	sort.SliceStable(out, func(a, b int) bool { return out[a].X < out[b].X })
	return out
}

func (d *curvesDrawing) anyModel() bool {
	for i := range d.curves {
		if len(d.modelPoints(i)) > 1 {
			return true
		}
	}
	return false
}

// modelWords says the fitted curve beside the steps, at its middle and end.
func (d *curvesDrawing) modelWords(i int) string {
	pts := d.modelPoints(i)
	if len(pts) < 2 {
		return ""
	}
	var parts []string
	for _, p := range []XY{pts[len(pts)/2], pts[len(pts)-1]} {
		parts = append(parts, d.show(p.Y)+" at "+d.when(p.X))
	}
	return fmt.Sprintf("The fitted curve: %s. ", strings.Join(parts, ", "))
}
