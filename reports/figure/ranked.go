package figure

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/plot/vg"
)

// RankedRow is one thing of a ranked list. Low and High are NaN where there
// is no interval.
type RankedRow struct {
	Name             string
	Detail           string // "14 months"
	Value, Low, High float64
	Marked           bool // a mark before the name
}

// RankedSpec says what to draw. The zero value of an option is its default.
type RankedSpec struct {
	ID         string
	Title      string
	Measure    string // of the values, shares from 0 to 1
	DetailHead string
	Mark       string // what the mark means
	Mean       float64
	MeanName   string // empty: no line of the mean
	Confidence float64
	Rows       []RankedRow // the first at the top
	Width      vg.Length
}

// Ranked draws shares as bars from 0 with their intervals, one line each, the
// numbers printed at the right.
func Ranked(spec RankedSpec) *Figure {
	if spec.Measure == "" {
		spec.Measure = "Share"
	}
	if spec.Confidence <= 0 || spec.Confidence >= 1 {
		spec.Confidence = 0.95
	}
	fig := Figure{ID: spec.ID, Title: spec.Title}
	if fig.Title == "" {
		fig.Title = spec.Measure
	}
	var rows []RankedRow
	for _, r := range spec.Rows {
		if finite(r.Value) {
			rows = append(rows, r)
		}
	}
	if len(rows) == 0 {
		return nothing(fig, spec.Width, "There is nothing to rank.")
	}
	d := &frame{scene: &scene{width: max(widthOr(spec.Width), 130*vg.Millimeter)}}
	number := func(r RankedRow) string {
		s := wholePercent(r.Value)
		if finite(r.Low) && finite(r.High) {
			s += " (" + strings.TrimSuffix(wholePercent(r.Low), "%") + " to " + wholePercent(r.High) + ")"
		}
		return s
	}
	var names, details, numbers []string
	most, marked := 0.0, false
	var long strings.Builder
	for _, r := range rows {
		names, details, numbers = append(names, clean(r.Name)), append(details, clean(r.Detail)), append(numbers, number(r))
		most = math.Max(most, r.Value)
		if finite(r.High) {
			most = math.Max(most, r.High)
		}
		marked = marked || r.Marked
		fmt.Fprintf(&long, "%s: %s", r.Name, number(r))
		if r.Detail != "" {
			fmt.Fprintf(&long, ", %s %s", lower(spec.DetailHead), r.Detail)
		}
		if r.Marked && spec.Mark != "" {
			fmt.Fprintf(&long, " (%s)", spec.Mark)
		}
		long.WriteString(". ")
	}
	const gap vg.Length = 10
	markWide := vg.Length(0)
	if marked {
		markWide = 9
	}
	nameWide := min(plain.widest(names...), d.width*0.22)
	detailWide := max(plain.widest(details...), smallBold.width(spec.DetailHead))
	numWide := max(plain.widest(numbers...), smallBold.width(percent(spec.Confidence)+" interval"))
	d.left = markWide + nameWide + gap + detailWide + gap
	d.right = d.width - numWide - gap
	y := d.heading(0, spec.Measure, "") - 3
	y -= smallBold.line()
	d.text(markWide+nameWide+gap+detailWide, y+smallBold.descent(), spec.DetailHead, smallBold, ink, fromRight)
	d.text(d.width, y+smallBold.descent(), "("+percent(spec.Confidence)+" interval)", smallBold, ink, fromRight)
	y -= 3
	d.top = y
	hi := math.Min(1, most*1.03)
	d.x = scale{lo: 0, hi: hi, from: d.left, to: d.right}
	const pitch vg.Length = 13.5
	d.bottom = y - pitch*vg.Length(len(rows)) - 2
	ticks := percentTicks(hi, max(int((d.right-d.left)/44), 2))
	for i := range rows {
		if i%2 == 1 {
			d.polygon(box(0, y-pitch*vg.Length(i), d.width, y-pitch*vg.Length(i+1)), wash)
		}
	}
	for _, t := range ticks {
		x := d.x.at(t.value)
		d.line(x, d.bottom, x, d.top, hairline, grid, nil)
	}
	var cut []string
	d.tellHeads("", "Row", spec.Measure)
	for i, r := range rows {
		at := y - pitch*(vg.Length(i)+0.5)
		if r.Marked {
			d.marker(3.5, at, 2.6, diamond, vermilion)
		}
		name := plain.shorten(names[i], nameWide)
		if name != names[i] {
			cut = append(cut, r.Name)
		}
		d.middle(markWide, at, name, plain, ink, fromLeft)
		d.middle(markWide+nameWide+gap+detailWide, at, details[i], plain, ink, fromRight)
		d.polygon(box(d.left, at-3.4, d.x.in(r.Value), at+3.4), tint(blue, 0.55))
		if finite(r.Low) && finite(r.High) {
			a, b := d.x.in(r.Low), d.x.in(r.High)
			d.line(a, at, b, at, 1.1, ink, nil)
			d.line(a, at-2, a, at+2, 1.1, ink, nil)
			d.line(b, at-2, b, at+2, 1.1, ink, nil)
		}
		d.middle(d.width, at, numbers[i], plain, ink, fromRight)
		d.tell(d.x.in(r.Value), at, "", r.Name, numbers[i])
	}
	if spec.MeanName != "" && d.x.holds(spec.Mean) {
		x := d.x.at(spec.Mean)
		d.line(x, d.bottom, x, d.top, 0.9, quiet, []vg.Length{4, 2})
	}
	d.line(d.left, d.bottom, d.left, d.top, 0.7, axis, nil)
	d.xAxis(ticks, "")
	var notes []string
	if spec.MeanName != "" {
		notes = append(notes, fmt.Sprintf("Dashed: %s, %s.", spec.MeanName, wholePercent(spec.Mean)))
	}
	if marked && spec.Mark != "" {
		notes = append(notes, upper("diamond: "+spec.Mark+"."))
	}
	d.below -= 2
	d.notes(strings.Join(notes, " "))
	first, last := rows[0], rows[len(rows)-1]
	fig.Description = fmt.Sprintf("%s, %s in order: from %s with %s to %s with %s.", spec.Measure, plural(len(rows), "bar", "bars"), first.Name, wholePercent(first.Value), last.Name, wholePercent(last.Value))
	if len(rows) == 1 {
		fig.Description = fmt.Sprintf("%s: %s with %s.", spec.Measure, first.Name, wholePercent(first.Value))
	}
	fig.Long = strings.TrimSpace(long.String()) + cutNote(cut)
	return d.finish(fig)
}

// wholePercent writes a share in whole percents, as predictions are read.
func wholePercent(v float64) string {
	if v > 0 && v < 0.005 {
		return "<1%"
	}
	return decimal(100*v, 0) + "%"
}

// percentTicks are ticks of shares from 0 to hi, in percent.
func percentTicks(hi float64, n int) []tick {
	out := linearTicks(0, 100*hi, n)
	for i := range out {
		out[i].value /= 100
		out[i].label += "%"
	}
	return out
}
