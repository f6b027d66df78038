package figure

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/plot/vg"
)

// SpanRow is the spread of one group of waits. A number not reached or not
// shown is NaN.
type SpanRow struct {
	Name                       string
	Group                      string // heading above the row, written where it changes; may be empty
	Detail                     string // "84 waits"
	Lower, Median, Upper, Tail float64
	Few                        bool // drawn faint
}

// SpansSpec says what to draw. The zero value of an option is its default.
type SpansSpec struct {
	ID         string
	Title      string
	Axis       string // "Wait"
	Unit       string // "days"
	DetailHead string
	Rows       []SpanRow // the first at the top
	Note       string
	Width      vg.Length
}

// Spans draws for each row the middle half as a bar, the median as a mark on
// it and a whisker to the 90th centile, the numbers printed at the right.
func Spans(spec SpansSpec) *Figure {
	if spec.Axis == "" {
		spec.Axis = "Wait"
	}
	fig := Figure{ID: spec.ID, Title: spec.Title}
	if fig.Title == "" {
		fig.Title = spec.Axis + " by step"
	}
	most, drawn := 0.0, 0
	for _, r := range spec.Rows {
		for _, v := range []float64{r.Lower, r.Median, r.Upper, r.Tail} {
			if finite(v) {
				most = math.Max(most, v)
			}
		}
		if finite(r.Median) {
			drawn++
		}
	}
	if drawn == 0 {
		return nothing(fig, spec.Width, "No wait has a median that could be drawn.")
	}
	d := spansDrawing{frame: frame{scene: &scene{width: max(widthOr(spec.Width), 130*vg.Millimeter)}}, spec: spec}
	d.layout(most)
	var long strings.Builder
	var said []string
	for _, r := range spec.Rows {
		name := strings.TrimSpace(strings.TrimPrefix(r.Group+", "+r.Name, ", "))
		fmt.Fprintf(&long, "%s: median %s, quartiles %s to %s, 90th centile %s", name, spanNumber(r.Median), spanNumber(r.Lower), spanNumber(r.Upper), spanNumber(r.Tail))
		if r.Detail != "" {
			fmt.Fprintf(&long, ", %s %s", lower(spec.DetailHead), r.Detail)
		}
		long.WriteString(". ")
		if len(said) < 2 && finite(r.Median) {
			said = append(said, name+" "+spanNumber(r.Median))
		}
	}
	fig.Description = fmt.Sprintf("%s in %s, %s with the middle half as a bar: median of %s.", spec.Axis, spec.Unit, plural(len(spec.Rows), "row", "rows"), strings.Join(said, ", of "))
	fig.Long = strings.TrimSpace(long.String()) + cutNote(d.cut)
	return d.finish(fig)
}

type spansDrawing struct {
	frame
	spec SpansSpec
	cut  []string
}

// spanNumber writes a wait, or a dash where there is none.
func spanNumber(v float64) string {
	switch {
	case !finite(v):
		return "–"
	case v == math.Trunc(v):
		return decimal(v, 0)
	}
	return decimal(v, 1)
}

func (d *spansDrawing) layout(most float64) {
	const gap, pitch vg.Length = 9, 15
	var names, details, medians, quartiles, tails []string
	groups := false
	for _, r := range d.spec.Rows {
		names, details = append(names, clean(r.Name)), append(details, clean(r.Detail))
		medians = append(medians, spanNumber(r.Median))
		both := spanNumber(r.Lower) + " to " + spanNumber(r.Upper)
		if !finite(r.Lower) && !finite(r.Upper) {
			both = spanNumber(r.Lower)
		}
		quartiles = append(quartiles, both)
		tails = append(tails, spanNumber(r.Tail))
		groups = groups || r.Group != ""
	}
	column := func(head string, cells []string) vg.Length { return max(smallBold.width(head), plain.widest(cells...)) }
	tailWide, midWide, quartWide := column("90th", tails), column("Median", medians), column("Quartiles", quartiles)
	detailWide := column(d.spec.DetailHead, details)
	indent := vg.Length(0)
	if groups {
		indent = 8
	}
	nameWide := min(plain.widest(names...), d.width*0.27)
	d.left = indent + nameWide + gap + detailWide + gap
	d.right = d.width - tailWide - gap - quartWide - gap - midWide - gap
	y := d.heading(0, withUnit(d.spec.Axis, d.spec.Unit), "") - 3 - smallBold.line()
	base := y + smallBold.descent()
	d.text(indent+nameWide+gap+detailWide, base, d.spec.DetailHead, smallBold, ink, fromRight)
	d.text(d.width, base, "90th", smallBold, ink, fromRight)
	d.text(d.width-tailWide-gap, base, "Quartiles", smallBold, ink, fromRight)
	d.text(d.width-tailWide-gap-quartWide-gap, base, "Median", smallBold, ink, fromRight)
	y -= 3
	d.top = y
	_, hi := roundOut(0, math.Max(most, 1)*1.02, 5)
	d.x = scale{lo: 0, hi: hi, from: d.left, to: d.right}
	ticks := linearTicks(0, hi, max(int((d.right-d.left)/40), 2))
	last := ""
	var at []vg.Length
	type headline struct {
		y    vg.Length
		text string
	}
	var heads []headline
	for i, r := range d.spec.Rows {
		if r.Group != "" && (r.Group != last || i == 0) {
			heads = append(heads, headline{y - pitch/2, r.Group})
			y -= pitch
		}
		last = r.Group
		at = append(at, y-pitch/2)
		y -= pitch
	}
	d.bottom = y - 2
	for _, t := range ticks {
		x := d.x.at(t.value)
		d.line(x, d.bottom, x, d.top, hairline, grid, nil)
	}
	d.tellHeads("Group", "Row", withUnit(d.spec.Axis, d.spec.Unit))
	for i, r := range d.spec.Rows {
		y := at[i]
		name := plain.shorten(names[i], nameWide)
		if name != names[i] {
			d.cut = append(d.cut, r.Name)
		}
		d.middle(indent, y, name, plain, ink, fromLeft)
		d.middle(indent+nameWide+gap+detailWide, y, details[i], plain, ink, fromRight)
		d.middle(d.width, y, tails[i], plain, ink, fromRight)
		d.middle(d.width-tailWide-gap, y, quartiles[i], plain, ink, fromRight)
		d.middle(d.width-tailWide-gap-quartWide-gap, y, medians[i], plain, ink, fromRight)
		d.span(y, r)
		if finite(r.Median) {
			d.tell(d.x.at(r.Median), y, r.Group, r.Name, fmt.Sprintf("median %s, quartiles %s, 90th centile %s", medians[i], quartiles[i], tails[i]))
		}
	}
	d.line(d.left, d.bottom, d.left, d.top, 0.7, axis, nil)
	for _, h := range heads {
		text := smallBold.shorten(clean(h.text), d.width)
		d.polygon(box(0, h.y-pitch/2, d.width, h.y+pitch/2), wash)
		d.middle(0, h.y, text, smallBold, ink, fromLeft)
	}
	d.xAxis(ticks, "")
	d.below -= 2
	d.notes("Bar: the middle half of the waits. Line across it: the median. Whisker: to the 90th centile.", d.spec.Note)
}

// span draws one row. What was not reached is left off.
func (d *spansDrawing) span(y vg.Length, r SpanRow) {
	colour := blue
	if r.Few {
		colour = tint(blue, 0.5)
	}
	from, to := r.Lower, r.Upper
	if finite(from) {
		open := !finite(to)
		if open {
			to = r.Median
		}
		if finite(to) {
			d.polygon(box(d.x.at(from), y-3.8, d.x.at(to), y+3.8), tint(colour, 0.45))
			d.outline(box(d.x.at(from), y-3.8, d.x.at(to), y+3.8), hairline, quiet)
		}
		if open && finite(r.Median) { // the upper quartile lies further on, nobody knows where
			d.line(d.x.at(to), y, d.x.hiEnd(), y, 0.9, quiet, []vg.Length{2, 2})
		}
	}
	if finite(r.Tail) && finite(r.Upper) {
		d.line(d.x.at(r.Upper), y, d.x.at(r.Tail), y, 1.1, ink, nil)
		d.line(d.x.at(r.Tail), y-2.6, d.x.at(r.Tail), y+2.6, 1.1, ink, nil)
	}
	if finite(r.Median) {
		x := d.x.at(r.Median)
		d.line(x, y-5, x, y+5, 2.2, ink, nil)
	}
}

// hiEnd is the place of the end of the scale.
func (s scale) hiEnd() vg.Length { return s.at(s.hi) }
