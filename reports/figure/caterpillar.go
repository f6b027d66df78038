package figure

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg"
)

// CaterpillarRow is what is believed of one limb, as a difference from the
// average one, with its interval.
type CaterpillarRow struct {
	Name                string // empty: not named
	Estimate, Low, High float64
}

// CaterpillarSpec says what to draw. The zero value of an option is its
// default.
type CaterpillarSpec struct {
	ID, Title  string
	Measure    string // "Difference in ply from the average limb"
	Unit       string
	Each       string // what a row is: "limb" (default)
	Rows       []CaterpillarRow
	Confidence float64 // default 0.95
	Width      vg.Length
}

// mostRowsNamed is how many rows are set one below the other with their
// names and numbers; beyond it they stand side by side without.
const mostRowsNamed = 25

// mostUpright is how many intervals stand side by side: beyond it one in so
// many stands for all, and the figure says so.
const mostUpright = 400

// Caterpillar draws what is believed of each limb with its interval, in the
// order of the estimates: few with their names in rows, many side by side. An
// interval that leaves out the average is dark with a filled mark, the others
// are pale with an open one.
func Caterpillar(spec CaterpillarSpec) *Figure {
	if spec.Each == "" {
		spec.Each = "limb"
	}
	if spec.Confidence <= 0 || spec.Confidence >= 1 {
		spec.Confidence = 0.95
	}
	if spec.Measure == "" {
		spec.Measure = "Difference from the average " + spec.Each
	}
	fig := Figure{ID: spec.ID, Title: spec.Title}
	if fig.Title == "" {
		fig.Title = upper(spec.Each) + "s in order"
	}
	d := &xyDrawing{width0: spec.Width, yTitle: spec.Measure, yUnit: spec.Unit, xTitle: upper(spec.Each) + "s, from the lowest to the highest"}
	var rows []CaterpillarRow
	named := len(spec.Rows) <= mostRowsNamed
	for _, r := range spec.Rows {
		if !finite(r.Estimate) || !finite(r.Low) || !finite(r.High) {
			d.dropped++
			continue
		}
		named = named && r.Name != ""
		rows = append(rows, r)
	}
	if len(rows) == 0 {
		return nothing(fig, spec.Width, "There is nothing to draw of single "+spec.Each+"s.")
	}
	slices.SortStableFunc(rows, func(a, b CaterpillarRow) int {
		switch {
		case a.Estimate < b.Estimate:
			return -1
		case a.Estimate > b.Estimate:
			return 1
		}
		return 0
	})
	if named {
		f := ForestSpec{ID: spec.ID, Title: fig.Title, Measure: "Difference from the average", Unit: spec.Unit, Linear: true, LowHint: "lower", HighHint: "higher",
			Confidence: spec.Confidence, Width: spec.Width}
		for k := len(rows) - 1; k >= 0; k-- {
			r := rows[k]
			f.Terms = append(f.Terms, ForestTerm{Name: r.Name, Rows: []ForestRow{{Estimate: r.Estimate, Low: r.Low, High: r.High}}})
		}
		return Forest(f)
	}
	return d.caterpillar(fig, spec, rows)
}

func (d *xyDrawing) caterpillar(fig Figure, spec CaterpillarSpec, rows []CaterpillarRow) *Figure {
	stride := (len(rows) + mostUpright - 1) / mostUpright
	apart := func(r CaterpillarRow) bool { return r.Low > 0 || r.High < 0 }
	d.see(1, 0)
	below, above := 0, 0
	for k, r := range rows {
		d.see(float64(k+1), r.Low)
		d.see(float64(k+1), r.High)
		switch {
		case r.High < 0:
			below++
		case r.Low > 0:
			above++
		}
	}
	d.axes(8, nil, 190)
	d.line(d.left, d.y.at(0), d.right, d.y.at(0), 0.9, quiet, nil)
	size := vg.Length(math.Max(0.7, math.Min(2.2, 160/float64(len(rows)/stride))))
	for k, r := range rows {
		if k%stride != 0 {
			continue
		}
		x, colour, mark := d.x.at(float64(k+1)), axis, ring
		if apart(r) {
			colour, mark = blue, dot
		}
		d.line(x, d.y.in(r.Low), x, d.y.in(r.High), size/2.2, colour, nil)
		d.marker(x, d.y.in(r.Estimate), size, mark, colour)
	}
	text := fmt.Sprintf("Lines: %s interval of each %s. Filled: intervals that leave out the average (%s below it, %s above).",
		percent(spec.Confidence), spec.Each, count(below), count(above))
	if stride > 1 {
		text += fmt.Sprintf(" One in %d of %s is drawn.", stride, plural(len(rows), spec.Each, spec.Each+"s"))
	}
	d.notes(text)
	lowest, highest := rows[0], rows[len(rows)-1]
	fig.Description = fmt.Sprintf("%s of %s, from %s to %s; the intervals of %s leave out the average.", spec.Measure,
		plural(len(rows), spec.Each, spec.Each+"s"), d.showY(lowest.Estimate), d.showY(highest.Estimate), count(below+above))
	middle := rows[len(rows)/2]
	var b strings.Builder
	for _, r := range []struct {
		what string
		row  CaterpillarRow
	}{{"Lowest", lowest}, {"Middle", middle}, {"Highest", highest}} {
		fmt.Fprintf(&b, "%s: %s (%s to %s). ", r.what, d.showY(r.row.Estimate), brief(r.row.Low), brief(r.row.High))
	}
	fig.Long = strings.TrimSpace(b.String()) + droppedNote(d.dropped, "value")
	return d.finish(fig)
}
