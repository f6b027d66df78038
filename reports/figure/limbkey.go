package figure

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"gonum.org/v1/plot/vg"

	"plybook/reports/words"
)

// limbMark draws a mark whose area is that of a disc of radius r: over bone a
// filled square on its corner, over soft tissue a hatched disc, else an open
// one.
func (s *scene) limbMark(x, y, r vg.Length, tissue LimbTissue) {
	ring := func(r vg.Length) []vg.Point {
		out := make([]vg.Point, 36)
		for i := range out {
			sin, cos := math.Sincos(2 * math.Pi * float64(i) / 36)
			out[i] = vg.Point{X: x + r*vg.Length(cos), Y: y + r*vg.Length(sin)}
		}
		return out
	}
	switch tissue {
	case LimbBone:
		d := r * vg.Length(math.Sqrt(math.Pi/2))
		corners := func(d vg.Length) []vg.Point {
			return []vg.Point{{X: x, Y: y - d}, {X: x + d, Y: y}, {X: x, Y: y + d}, {X: x - d, Y: y}}
		}
		s.polygon(corners(d+1.1), white)
		s.polygon(corners(d), vermilion)
	case LimbSoft:
		s.polygon(ring(r+0.9), white)
		s.polygon(ring(r), tint(blue, 0.25))
		s.hatched(ring(r), &hatch{angle: math.Pi / 4, spacing: 2.4}, blue)
		s.outline(ring(r), 0.9, blue)
	default:
		s.polygon(ring(r+0.9), white)
		s.outline(ring(r), 0.9, ink)
	}
}

// limbKey says what area, number, shape and hatching mean.
func (f *frame) limbKey(spec LimbSpec, most float64, radius func(float64) vg.Length) {
	if most <= 0 {
		return
	}
	type item struct {
		r      vg.Length
		tissue LimbTissue
		text   string
	}
	var items []item
	for _, v := range limbSteps(most) {
		items = append(items, item{radius(v), LimbEither, strconv.FormatFloat(v, 'g', 3, 64)})
	}
	items[len(items)-1].text += " per 100"
	var shapes []item
	for _, it := range []item{{4.4, LimbBone, "over bone"}, {4.4, LimbSoft, "over soft tissue"}, {4.4, LimbEither, "not said which"}} {
		if spec.has(it.tissue) {
			shapes = append(shapes, it)
		}
	}
	f.below -= 3
	f.line(0, f.below, f.width, f.below, hairline, grid, nil)
	lines, _ := plain.wrap("Beside a mark: "+spec.What+" and, in brackets, per 100 visits with the skin checked. The area of a mark goes with that rate.", f.width, 0)
	f.below -= 4
	for _, l := range lines {
		f.below -= plain.line()
		f.text(0, f.below+plain.descent(), l, plain, ink, fromLeft)
	}
	row := func(items []item) {
		x, tall := vg.Length(0), plain.line()
		for _, it := range items {
			tall = max(tall, 2.4*it.r)
		}
		y := f.below - 3 - tall/2
		for _, it := range items {
			w := 2*it.r + 5 + plain.width(it.text) + 14
			if x > 0 && x+w > f.width {
				x, y = 0, y-tall-2
			}
			f.limbMark(x+it.r+1.5, y, it.r, it.tissue)
			f.middle(x+2*it.r+6, y, it.text, plain, ink, fromLeft)
			x += w
		}
		f.below = y - tall/2
	}
	row(append(items, shapes...))
	f.below -= 2
}

// has says whether any mark is over a tissue.
func (spec LimbSpec) has(tissue LimbTissue) bool {
	return slices.ContainsFunc(spec.Times, func(t LimbTime) bool {
		return slices.ContainsFunc(t.Marks, func(m LimbMark) bool { return m.Tissue == tissue })
	})
}

// limbSteps are up to three round rates for the key to the areas.
func limbSteps(most float64) []float64 {
	var out []float64
	for e := math.Floor(math.Log10(most)); len(out) < 3 && e > -6; e-- {
		for _, m := range []float64{5, 2, 1} {
			if v := m * math.Pow(10, e); v <= most*1.0001 && len(out) < 3 {
				out = append(out, v)
			}
		}
	}
	slices.Reverse(out)
	return out
}

// limbWords are the alternative texts.
func limbWords(spec LimbSpec, views []int, d *limbDrawing) (short, long string) {
	var names []string
	for _, v := range views {
		names = append(names, LimbSides[v])
	}
	n := 0
	var b strings.Builder
	for _, t := range spec.Times {
		if t.Name != "" {
			fmt.Fprintf(&b, "%s: ", t.Name)
		}
		var parts []string
		for _, m := range t.Marks {
			var seen []string
			for k := range d.views {
				if _, ok := d.views[k].spots[m.Region]; ok {
					seen = append(seen, LimbSides[k])
				}
			}
			if len(seen) == 0 {
				continue
			}
			n++
			parts = append(parts, fmt.Sprintf("%s %s, seen from the %s", lower(m.Name), m.Text, words.List(seen)))
		}
		if len(parts) == 0 {
			parts = []string{"nothing is marked"}
		}
		fmt.Fprintf(&b, "%s. ", upper(strings.Join(parts, "; ")))
	}
	short = fmt.Sprintf("Drawing of a %s limb from the %s with %s by region, %s.", spec.Level, words.List(names), spec.What, plural(n, "mark", "marks"))
	return short, strings.TrimSpace(b.String())
}
