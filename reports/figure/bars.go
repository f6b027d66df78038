package figure

import (
	"fmt"
	"math"
	"slices"
	"sort"
	"strings"

	"gonum.org/v1/plot/vg"
)

// Bar is one category. Unknown bars are hatched and set last.
type Bar struct {
	Name       string
	Count      int
	Value      float64 // of a weighted figure: what the bar shows
	Cumulative float64 // share of one, where BarsSpec.Given
	Hidden     bool    // withheld: stands for few people. One alone takes the next smallest with it
	Unknown    bool
	Pooled     bool // stands for several categories: lighter
}

// BarsSpec says what to draw. The zero value of an option is its default.
type BarsSpec struct {
	ID           string
	Title        string
	CountAxis    string // "Remakes"
	Bars         []Bar  // in the order to draw
	NoCumulative bool
	Weighted     bool   // bars show Value, in Unit
	Unit         string // "min"
	Cases        int    // what shares are of, where it is not the sum of the bars
	Given        bool   // Cumulative is given, and not the running sum
	Note         string // said beneath instead of the sum
	Width        vg.Length
	Small        bool // of the known, only the first smallBars are drawn
}

// Bars draws counts with their share, and in a panel of its own beside them
// the cumulative share, so that neither axis runs through the other's marks.
func Bars(spec BarsSpec) *Figure {
	if spec.CountAxis == "" {
		spec.CountAxis = "Count"
	}
	fig := Figure{ID: spec.ID, Title: spec.Title}
	if fig.Title == "" {
		fig.Title = spec.CountAxis + " by category"
	}
	var known, unknown []Bar
	total, whole := 0, 0.0
	for _, b := range withSecond(spec.Bars) {
		if b.Count < 0 {
			b.Count = 0
		}
		if !b.Hidden {
			total += b.Count
			whole += b.Value
		}
		if b.Unknown {
			unknown = append(unknown, b)
		} else {
			known = append(known, b)
		}
	}
	all := append(known, unknown...)
	d := barsDrawing{spec: spec, total: total, whole: whole}
	if spec.Cases > 0 {
		d.total = spec.Cases
	}
	d.bars, d.withheld = gathered(all)
	if len(d.bars) == 0 {
		return nothing(fig, spec.Width, "There is nothing to count.")
	}
	for _, b := range d.bars {
		d.hidden = d.hidden || b.Hidden
	}
	if spec.Small {
		d.bars, d.undrawn = firstBars(d.bars)
	}
	fig.Small = smaller(spec, func(s *BarsSpec) { s.Small, s.Width = true, HalfWidth }, Bars)
	d.layout()
	var b strings.Builder
	for i, bar := range all {
		switch {
		case bar.Hidden:
			fmt.Fprintf(&b, "%s: withheld. ", bar.Name)
		case !d.percents():
			fmt.Fprintf(&b, "%s: %s. ", bar.Name, d.amount(bar))
		default:
			fmt.Fprintf(&b, "%s: %s, %s, cumulative %s. ", bar.Name, d.amount(bar), d.percent(d.share(bar)), d.percent(d.cumulative(all, i)))
		}
	}
	lead := ""
	if top := d.bars[0]; !top.Hidden && total > 0 {
		lead = fmt.Sprintf("; the first is %s with %s", top.Name, d.amount(top))
	}
	fig.Description = fmt.Sprintf("Bars: %s in %s%s.", lower(spec.CountAxis), plural(len(all), "category", "categories"), lead)
	fig.Long = strings.TrimSpace(b.String()) + cutNote(d.cut)
	return d.finish(fig)
}

type barsDrawing struct {
	frame
	spec   BarsSpec
	bars   []Bar
	total  int
	whole  float64 // of the values
	hidden bool
	// withheld are the names of the bars gathered into one.
	withheld []string
	cut      []string
	undrawn  int // bars left out of a small figure
}

// withSecond withholds the next smallest bar where one alone is: the total
// is often known from elsewhere, and would give it away.
func withSecond(bars []Bar) []Bar {
	hidden, next := 0, -1
	for i, b := range bars {
		switch {
		case b.Hidden:
			hidden++
		case b.Count > 0 && (next < 0 || b.Count < bars[next].Count):
			next = i
		}
	}
	if hidden != 1 || next < 0 {
		return bars
	}
	out := append([]Bar(nil), bars...)
	out[next].Hidden = true
	return out
}

// gathered puts the bars that are withheld into one, set before those not
// known: which they are stands beneath, in the order of the alphabet, since
// their order would tell of their size.
func gathered(bars []Bar) (out []Bar, names []string) {
	at := -1
	for _, b := range bars {
		if !b.Hidden {
			if b.Unknown && at < 0 {
				at = len(out)
			}
			out = append(out, b)
			continue
		}
		names = append(names, b.Name)
	}
	if len(names) == 0 {
		return bars, nil
	}
	if len(names) == 1 {
		return bars, names
	}
	sort.Strings(names)
	if at < 0 {
		at = len(out)
	}
	return slices.Insert(out, at, Bar{Name: count(len(names)) + " others", Hidden: true}), names
}

// percents reports whether shares are shown: not of few, where they only
// look precise, and not where a withheld count could be worked out.
func (d *barsDrawing) percents() bool { return !d.hidden && d.total >= 20 }

// percent writes a share in whole percent, or with a decimal where the total
// carries it.
func (d *barsDrawing) percent(share float64) string {
	v := 100 * share
	switch {
	case d.total >= 1000:
		return decimal(v, 1) + "%"
	case v > 0 && v < 0.5:
		return "<1%"
	}
	return decimal(v, 0) + "%"
}

// share is that of a bar: of all cases, or of all that is weighed.
func (d *barsDrawing) share(b Bar) float64 {
	if d.spec.Weighted {
		return b.Value / math.Max(d.whole, 1e-300)
	}
	return float64(b.Count) / float64(max(d.total, 1))
}

// cumulative is the share up to a bar.
func (d *barsDrawing) cumulative(bars []Bar, i int) float64 {
	if d.spec.Given {
		return bars[i].Cumulative
	}
	sum := 0.0
	for _, b := range bars[:i+1] {
		sum += d.share(b)
	}
	return sum
}

// amount writes what a bar shows.
func (d *barsDrawing) amount(b Bar) string {
	if !d.spec.Weighted {
		return count(b.Count)
	}
	t := decimal(b.Value, 0)
	if d.whole < 20 {
		t = brief(b.Value)
	}
	if d.spec.Unit != "" {
		t += " " + d.spec.Unit
	}
	return t
}

// length is what a bar is long.
func (d *barsDrawing) length(b Bar) float64 {
	if d.spec.Weighted {
		return b.Value
	}
	return float64(b.Count)
}

func (d *barsDrawing) value(b Bar) string {
	switch {
	case b.Hidden:
		return "withheld"
	case !d.percents():
		return d.amount(b)
	}
	return d.amount(b) + " (" + d.percent(d.share(b)) + ")"
}

// longest is the end of the axis.
func (d *barsDrawing) longest(most float64) float64 {
	if d.spec.Weighted && most > 0 {
		return most
	}
	return math.Max(most, 1)
}

func (d *barsDrawing) layout() {
	d.scene = &scene{width: widthOr(d.spec.Width)}
	names := make([]string, len(d.bars))
	values := make([]string, len(d.bars))
	most := 0.0
	for i, b := range d.bars {
		names[i], values[i] = b.Name, d.value(b)
		if !b.Hidden {
			most = math.Max(most, d.length(b))
		}
	}
	nameWide := min(plain.widest(names...), d.width*0.32)
	wrapped := make([][]string, len(names))
	heights := make([]vg.Length, len(names))
	pitch := vg.Length(16)
	if d.spec.Small {
		pitch = 14
	}
	for i, n := range names {
		lines, short := plain.wrap(n, nameWide, 2)
		if short {
			d.cut = append(d.cut, n)
		}
		wrapped[i] = lines
		heights[i] = max(pitch, vg.Length(len(lines))*plain.line()+4)
	}
	cumulative := !d.spec.NoCumulative && d.percents() && len(d.bars) > 1 && d.width > 260
	panel := vg.Length(0)
	if cumulative {
		panel = d.width * 0.24
	}
	d.left = nameWide + 8
	valueWide := plain.widest(values...) + 5
	barEnd := d.width - panel - valueWide
	if cumulative {
		barEnd -= 10
	}
	unit := "number"
	if d.spec.Weighted {
		unit = d.spec.Unit
	}
	switch {
	case d.percents() && unit != "":
		unit = " (" + unit + " and %)"
	case d.percents():
		unit = " (and %)"
	case unit != "":
		unit = " (" + unit + ")"
	}
	y := d.heading(0, d.spec.CountAxis+unit, "")
	cx0, cx1 := d.width-panel+8, d.width-small.width("100")/2-1
	cum := scale{lo: 0, hi: 1, from: cx0, to: cx1}
	if cumulative {
		y -= small.line()
		d.text(d.width, y+small.descent(), "Cumulative %", smallBold, ink, fromRight)
		y -= small.line()
		for _, v := range []float64{0, 0.5, 1} {
			d.text(cum.at(v), y+small.descent(), decimal(100*v, 0), small, quiet, centred)
		}
	}
	y -= 4
	d.frame.top = y
	d.bottom = y
	for _, h := range heights {
		d.bottom -= h
	}
	d.x = scale{lo: 0, hi: d.longest(most), from: d.left, to: barEnd}
	if cumulative {
		for _, v := range []float64{0, 0.5, 1} {
			d.line(cum.at(v), d.bottom, cum.at(v), d.frame.top, hairline, grid, nil)
		}
	}
	var line []vg.Point
	d.tellHeads("", "Category", d.spec.CountAxis)
	for i, b := range d.bars {
		mid := y - heights[i]/2
		ty := mid + vg.Length(len(wrapped[i])-1)*plain.line()/2
		for _, t := range wrapped[i] {
			d.middle(nameWide, ty, t, plain, ink, fromRight)
			ty -= plain.line()
		}
		end := d.left
		if !b.Hidden && d.length(b) > 0 {
			end = d.x.at(d.length(b))
			bar := box(d.left, mid-5, end, mid+5)
			switch {
			case b.Unknown:
				d.polygon(bar, white)
				d.hatched(bar, hatches[1], quiet)
				d.outline(bar, hairline, quiet)
			case b.Pooled:
				d.polygon(bar, tint(blue, 0.35))
				d.outline(bar, hairline, blue)
			default:
				d.polygon(bar, blue)
			}
		}
		d.middle(end+4, mid, values[i], plain, ink, fromLeft)
		d.tell(end, mid, "", b.Name, values[i])
		line = append(line, vg.Point{X: cum.in(d.cumulative(d.bars, i)), Y: mid})
		y -= heights[i]
	}
	d.line(d.left, d.bottom, d.left, d.frame.top, 0.7, axis, nil)
	if cumulative {
		d.lines(line, 0.9, ink, nil)
		for _, p := range line {
			d.marker(p.X, p.Y, 2.1, dot, ink)
		}
	}
	d.below = d.bottom - 2
	var t []string
	if d.hidden {
		why := "stands for few people; shares are left out, since the number could be worked out from them."
		if len(d.withheld) > 1 {
			t = append(t, "Withheld: "+strings.Join(d.withheld, "; ")+". Each "+why)
		} else {
			t = append(t, "Withheld: "+why)
		}
	} else if s := d.spec.Note; s != "" {
		t = append(t, s)
	} else if d.total > 0 {
		t = append(t, fmt.Sprintf("%s in all.", count(d.total)))
	}
	if d.undrawn > 0 {
		t = append(t, fmt.Sprintf("%s smaller are not drawn.", upper(count(d.undrawn))))
	}
	for _, b := range d.bars {
		if b.Unknown {
			t = append(t, "Hatched: not known.")
			break
		}
	}
	d.notes(strings.Join(t, " "))
}
