package figure

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/plot/vg"
)

// ForestRow is one estimate with its interval. Low and High are NaN where
// there is none.
type ForestRow struct {
	Label               string // category against reference, "per 10 years"
	Reference           bool   // a reference category: no estimate
	Estimate, Low, High float64
	Detail              string // optional text of its own column: "21 of 84"
}

// ForestTerm is a term with its rows. A term with one row and no label on
// that row is set on a single line.
type ForestTerm struct {
	Name string
	Rows []ForestRow
}

// single reports whether a term is set on one line.
func (t ForestTerm) single() bool { return len(t.Rows) == 1 && t.Rows[0].Label == "" }

// ForestSpec says what to draw. The zero value of an option is its default.
type ForestSpec struct {
	ID         string
	Title      string
	Measure    string // "Hazard ratio", "Difference in ply"
	Unit       string // of a linear measure
	Linear     bool   // linear axis with no effect at NoEffect; default: ratios, log axis, no effect at one
	NoEffect   float64
	NoLine     bool   // no line of no effect (adjusted means)
	LowHint    string // what lies left of no effect: "lasts longer"
	HighHint   string // what lies right of it
	DetailHead string // head of the detail column
	Confidence float64
	Terms      []ForestTerm
	Width      vg.Length // default FullWidth; never below 130 mm, so that names stay legible
}

// Forest draws estimates with intervals in rows, the numbers printed at the
// right. An interval that leaves the axis ends in an arrow.
func Forest(spec ForestSpec) *Figure {
	if spec.Measure == "" {
		spec.Measure = map[bool]string{false: "Ratio", true: "Estimate"}[spec.Linear]
	}
	if spec.Confidence <= 0 || spec.Confidence >= 1 {
		spec.Confidence = 0.95
	}
	if !spec.Linear {
		spec.NoEffect = 1
	}
	fig := Figure{ID: spec.ID, Title: spec.Title, Told: true}
	if fig.Title == "" {
		fig.Title = spec.Measure + " with intervals"
	}
	d := forestDrawing{spec: spec}
	if !d.range_() {
		return nothing(fig, spec.Width, "No estimate can be drawn.")
	}
	d.layout()
	shown := 0
	var b strings.Builder
	for _, t := range spec.Terms {
		for _, r := range t.Rows {
			label := strings.TrimSpace(t.Name + " " + r.Label)
			switch {
			case r.Reference:
				fmt.Fprintf(&b, "%s: reference. ", label)
			case !d.drawable(r):
				fmt.Fprintf(&b, "%s: not estimated. ", label)
			default:
				shown++
				fmt.Fprintf(&b, "%s: %s. ", label, d.numbers(r))
			}
		}
	}
	fig.Description = fmt.Sprintf("%s with %s intervals for %s, from %s to %s.", spec.Measure, percent(spec.Confidence),
		plural(shown, "estimate", "estimates"), d.size(d.least, brief), d.size(d.most, brief))
	fig.Long = strings.TrimSpace(b.String()) + cutNote(d.cut)
	return d.finish(fig)
}

type forestDrawing struct {
	frame
	spec        ForestSpec
	lo, hi      float64
	least, most float64
	cut         []string
}

func (d *forestDrawing) drawable(r ForestRow) bool {
	return !r.Reference && finite(r.Estimate) && (d.spec.Linear || r.Estimate > 0)
}

func (d *forestDrawing) forward(v float64) float64 {
	if d.spec.Linear {
		return v
	}
	return math.Log(v)
}

// range_ chooses the axis: all estimates and no effect are on it; intervals
// are too, unless that would squeeze the estimates into a fifth of it.
func (d *forestDrawing) range_() bool {
	d.least, d.most = math.Inf(1), math.Inf(-1)
	lo, hi := math.Inf(1), math.Inf(-1)
	ok := func(v float64) bool { return finite(v) && (d.spec.Linear || v > 0) }
	var widths []float64
	for _, t := range d.spec.Terms {
		for _, r := range t.Rows {
			if !d.drawable(r) {
				continue
			}
			e := d.forward(r.Estimate)
			d.least, d.most = math.Min(d.least, r.Estimate), math.Max(d.most, r.Estimate)
			lo, hi = math.Min(lo, e), math.Max(hi, e)
			if ok(r.Low) {
				widths = append(widths, e-d.forward(r.Low))
			}
			if ok(r.High) {
				widths = append(widths, d.forward(r.High)-e)
			}
		}
	}
	if math.IsInf(lo, 1) {
		return false
	}
	if !d.spec.NoLine {
		lo, hi = math.Min(lo, d.forward(d.spec.NoEffect)), math.Max(hi, d.forward(d.spec.NoEffect))
	}
	sortFloats(widths)
	room := hi - lo
	if n := len(widths); n > 0 {
		room = math.Max(room, 3*widths[n/2])
	}
	elo, ehi := lo, hi
	for _, t := range d.spec.Terms {
		for _, r := range t.Rows {
			if !d.drawable(r) {
				continue
			}
			if ok(r.Low) {
				lo = math.Min(lo, math.Max(d.forward(r.Low), elo-room))
			}
			if ok(r.High) {
				hi = math.Max(hi, math.Min(d.forward(r.High), ehi+room))
			}
		}
	}
	if d.spec.Linear {
		pad := (hi - lo) * 0.04
		d.lo, d.hi = spread(lo-pad, hi+pad)
		return true
	}
	if hi-lo < math.Log(1.5) {
		c := (hi + lo) / 2
		lo, hi = math.Min(lo, c-math.Log(1.3)), math.Max(hi, c+math.Log(1.3))
	}
	pad := (hi - lo) * 0.04
	d.lo, d.hi = math.Exp(lo-pad), math.Exp(hi+pad)
	return true
}

func (d *forestDrawing) layout() {
	s := d.spec
	d.scene = &scene{width: max(widthOr(s.Width), 130*vg.Millimeter)}
	numHead := s.Measure
	if s.Unit != "" {
		numHead += ", " + s.Unit
	}
	var numbers, details []string
	bold := plain
	bold.bold = true
	const in vg.Length = 8 // categories stand in
	var nameWide vg.Length
	for _, t := range s.Terms {
		if t.single() {
			nameWide = max(nameWide, plain.width(clean(t.Name)))
		} else {
			nameWide = max(nameWide, bold.width(clean(t.Name)))
		}
		for _, r := range t.Rows {
			nameWide = max(nameWide, in+plain.width(clean(r.Label)))
			details = append(details, clean(r.Detail))
			if d.drawable(r) {
				numbers = append(numbers, d.numbers(r))
			}
		}
	}
	numbers = append(numbers, "not estimated")
	numWide := plain.widest(numbers...)
	headLines, _ := smallBold.wrap(numHead, max(numWide, 88), 2)
	headLines = append(headLines, "("+percent(s.Confidence)+" interval)")
	numWide = max(numWide, smallBold.widest(headLines...))
	nameWide = min(nameWide+0.5, d.width*0.34)
	detailWide := vg.Length(0)
	if plain.widest(details...) > 0 {
		detailWide = min(max(plain.widest(details...), smallBold.width(s.DetailHead)), d.width*0.16) + 10
	}
	d.left = nameWide + detailWide + 14
	d.right = d.width - numWide - 14
	if d.right-d.left < 80 {
		detailWide = 0
		d.left = min(nameWide+14, d.right-80)
		nameWide = d.left - 14
	}
	showDetail := detailWide > 0
	y := vg.Length(0)
	for _, l := range headLines {
		y -= smallBold.line()
		d.text(d.width, y+smallBold.descent(), l, smallBold, ink, fromRight)
	}
	if detailWide > 0 {
		d.text(nameWide+detailWide, y+smallBold.descent(), smallBold.shorten(s.DetailHead, detailWide), smallBold, ink, fromRight)
	}
	y -= 4
	d.frame.top = y
	d.x = scale{lo: d.lo, hi: d.hi, from: d.left, to: d.right, log: !s.Linear}
	type placed struct {
		y    vg.Length
		r    ForestRow
		term string
	}
	var rows []placed
	const pitch vg.Length = 13
	band := false
	for _, t := range s.Terms {
		start := y
		one := t.single()
		lines, short := plain.wrap(t.Name, nameWide, 2)
		if short {
			d.cut = append(d.cut, t.Name)
		}
		type textAt struct {
			y vg.Length
			t string
			x vg.Length
			s style
		}
		var texts []textAt
		face := plain
		if !one {
			face = bold
			lines, _ = bold.wrap(t.Name, nameWide, 2)
		}
		for i, l := range lines {
			texts = append(texts, textAt{y - pitch/2 - vg.Length(i)*plain.line(), l, 0, face})
		}
		if !one {
			if len(lines) > 0 {
				y -= pitch + vg.Length(len(lines)-1)*plain.line()
			}
			for _, r := range t.Rows {
				label, short := plain.wrap(r.Label, nameWide-in, 2)
				if short {
					d.cut = append(d.cut, r.Label)
				}
				for i, l := range label {
					texts = append(texts, textAt{y - pitch/2 - vg.Length(i)*plain.line(), l, in, plain})
				}
				rows = append(rows, placed{y - pitch/2, r, t.Name})
				y -= pitch + vg.Length(max(len(label)-1, 0))*plain.line()
			}
		} else {
			rows = append(rows, placed{y - pitch/2, t.Rows[0], t.Name})
			y -= pitch + vg.Length(max(len(lines)-1, 0))*plain.line()
		}
		if band {
			d.polygon(box(0, start, d.width, y), wash)
		}
		band = !band
		for _, t := range texts {
			d.middle(t.x, t.y, t.t, t.s, ink, fromLeft)
		}
	}
	d.bottom = y - 2
	n := int((d.right - d.left) / 32)
	ticks := linearTicks(d.lo, d.hi, max(n, 2))
	if !s.Linear {
		ticks = logTicks(d.lo, d.hi, max(n, 2))
	}
	for _, t := range ticks {
		x := d.x.at(t.value)
		d.line(x, d.bottom, x, d.frame.top, hairline, grid, nil)
	}
	if !s.NoLine {
		x := d.x.at(s.NoEffect)
		d.line(x, d.bottom, x, d.frame.top, 0.9, quiet, nil)
	}
	d.tellHeads("Term", "Category", numHead)
	for _, p := range rows {
		if d.drawable(p.r) {
			d.tell(d.x.in(p.r.Estimate), p.y, p.term, p.r.Label, d.numbers(p.r))
		}
		if showDetail && p.r.Detail != "" {
			d.middle(nameWide+detailWide, p.y, plain.shorten(clean(p.r.Detail), detailWide-6), plain, ink, fromRight)
		}
		d.row(p.y, p.r)
	}
	d.xAxis(ticks, "")
	if !s.NoLine && (s.LowHint != "" || s.HighHint != "") {
		x := d.x.at(s.NoEffect)
		d.below -= small.line()
		y := d.below + small.descent()
		if s.LowHint != "" {
			t := small.shorten(clean(s.LowHint), x-14)
			d.arrow(x-4, y+small.capHeight()/2, x-12, y+small.capHeight()/2, 0.7, quiet)
			d.text(x-15, y, t, small, quiet, fromRight)
		}
		if s.HighHint != "" {
			t := small.shorten(clean(s.HighHint), d.width-x-15)
			d.arrow(x+4, y+small.capHeight()/2, x+12, y+small.capHeight()/2, 0.7, quiet)
			d.text(x+15, y, t, small, quiet, fromLeft)
		}
	}
	if !s.Linear {
		d.below -= 2
		d.notes("The axis is logarithmic.")
	}
}

func (d *forestDrawing) row(y vg.Length, r ForestRow) {
	if r.Reference {
		x := d.x.in(d.spec.NoEffect)
		if !d.spec.NoLine {
			d.marker(x, y, 2.4, ring, quiet)
		}
		d.middle(d.width, y, "reference", plain, quiet, fromRight)
		return
	}
	if !d.drawable(r) {
		d.middle(d.width, y, "not estimated", plain, quiet, fromRight)
		return
	}
	low, high := r.Low, r.High
	if math.IsNaN(low) && math.IsNaN(high) {
		low, high = r.Estimate, r.Estimate
	}
	// An unbounded or missing end runs off the axis.
	if !(low >= d.lo) {
		d.arrow(d.x.at(r.Estimate), y, d.left-1, y, 1.2, blue)
	} else {
		x := d.x.in(low)
		d.line(x, y, d.x.at(r.Estimate), y, 1.2, blue, nil)
		d.line(x, y-2, x, y+2, 1.2, blue, nil)
	}
	if !(high <= d.hi) {
		d.arrow(d.x.at(r.Estimate), y, d.right+1, y, 1.2, blue)
	} else {
		x := d.x.in(high)
		d.line(x, y, d.x.at(r.Estimate), y, 1.2, blue, nil)
		d.line(x, y-2, x, y+2, 1.2, blue, nil)
	}
	d.marker(d.x.at(r.Estimate), y, 2.9, square, blue)
	d.middle(d.width, y, d.numbers(r), plain, ink, fromRight)
}
