package figure

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/plot/vg"
)

// PairBar is a category before and since a change.
type PairBar struct {
	Name                      string
	Before, Since             float64 // a year
	BeforeText, SinceText     string  // what stands beside the bars
	BeforeHidden, SinceHidden bool
	Unknown                   bool
}

// PairsSpec says what to draw.
type PairsSpec struct {
	ID         string
	Title      string
	Axis       string // "Remakes a year"
	BeforeName string // "before 13 Jan 2025"
	SinceName  string
	Bars       []PairBar // in the order to draw
	Note       string
	Width      vg.Length
}

// Pairs draws two bars a category: hollow before a change, full since.
func Pairs(spec PairsSpec) *Figure {
	if spec.Axis == "" {
		spec.Axis = "Number a year"
	}
	if spec.BeforeName == "" {
		spec.BeforeName = "before"
	}
	if spec.SinceName == "" {
		spec.SinceName = "since"
	}
	fig := Figure{ID: spec.ID, Title: spec.Title}
	if fig.Title == "" {
		fig.Title = spec.Axis + " before and since"
	}
	if len(spec.Bars) == 0 {
		return nothing(fig, spec.Width, "There is nothing to count.")
	}
	d := pairsDrawing{spec: spec}
	d.layout()
	fig.Description = fmt.Sprintf("Pairs of bars: %s in %s, %s and %s.", lower(spec.Axis), plural(len(spec.Bars), "category", "categories"), spec.BeforeName, spec.SinceName)
	var b strings.Builder
	for _, p := range spec.Bars {
		fmt.Fprintf(&b, "%s: %s %s, %s %s. ", p.Name, spec.BeforeName, pairText(p.BeforeText, p.BeforeHidden), spec.SinceName, pairText(p.SinceText, p.SinceHidden))
	}
	fig.Long = strings.TrimSpace(b.String()) + cutNote(d.cut)
	return d.finish(fig)
}

func pairText(text string, hidden bool) string {
	if hidden {
		return "withheld"
	}
	return text
}

type pairsDrawing struct {
	frame
	spec PairsSpec
	cut  []string
}

func (d *pairsDrawing) layout() {
	s := d.spec
	d.scene = &scene{width: widthOr(s.Width)}
	var names, texts []string
	most := 0.0
	for _, b := range s.Bars {
		names = append(names, b.Name)
		texts = append(texts, pairText(b.BeforeText, b.BeforeHidden), pairText(b.SinceText, b.SinceHidden))
		if !b.BeforeHidden && finite(b.Before) {
			most = math.Max(most, b.Before)
		}
		if !b.SinceHidden && finite(b.Since) {
			most = math.Max(most, b.Since)
		}
	}
	if most == 0 {
		most = 1
	}
	nameWide := min(plain.widest(names...), d.width*0.32)
	d.left = nameWide + 8
	barEnd := d.width - small.widest(texts...) - 6
	y := d.heading(0, s.Axis, "") - 2
	// The key: what the two bars stand for.
	y -= small.line() + 1
	x := d.left
	for i, name := range []string{s.BeforeName, s.SinceName} {
		mid := y + small.line()/2 - 1
		d.bar(x, x+12, mid, i == 1, false)
		d.middle(x+16, mid, name, small, ink, fromLeft)
		x += 16 + small.width(name) + 14
	}
	y -= 4
	d.frame.top, d.bottom = y, y
	wrapped := make([][]string, len(names))
	heights := make([]vg.Length, len(names))
	for i, n := range names {
		lines, short := plain.wrap(n, nameWide, 2)
		if short {
			d.cut = append(d.cut, n)
		}
		wrapped[i] = lines
		heights[i] = max(24, vg.Length(len(lines))*plain.line()+4)
		d.bottom -= heights[i]
	}
	d.x = scale{lo: 0, hi: most, from: d.left, to: barEnd}
	d.tellHeads("Time", "Category", s.Axis)
	for i, b := range s.Bars {
		mid := y - heights[i]/2
		ty := mid + vg.Length(len(wrapped[i])-1)*plain.line()/2
		for _, t := range wrapped[i] {
			d.middle(nameWide, ty, t, plain, ink, fromRight)
			ty -= plain.line()
		}
		d.tell(d.one(mid+5, b.Before, b.BeforeText, b.BeforeHidden, false, b.Unknown), mid+5, s.BeforeName, b.Name, pairText(b.BeforeText, b.BeforeHidden))
		d.tell(d.one(mid-5, b.Since, b.SinceText, b.SinceHidden, true, b.Unknown), mid-5, s.SinceName, b.Name, pairText(b.SinceText, b.SinceHidden))
		y -= heights[i]
	}
	d.line(d.left, d.bottom, d.left, d.frame.top, 0.7, axis, nil)
	d.below = d.bottom - 2
	var t []string
	for _, b := range s.Bars {
		if b.BeforeHidden || b.SinceHidden {
			t = append(t, "Withheld: stands for few people, or would give such a number away.")
			break
		}
	}
	for _, b := range s.Bars {
		if b.Unknown {
			t = append(t, "Hatched: not known.")
			break
		}
	}
	d.notes(strings.Join(append(t, s.Note), " "))
}

// one draws a bar with its text and returns where it ends.
func (d *pairsDrawing) one(mid vg.Length, v float64, text string, hidden, since, unknown bool) vg.Length {
	end := d.left
	if !hidden && finite(v) && v > 0 {
		end = d.x.at(v)
		d.bar(d.left, end, mid, since, unknown)
	}
	d.middle(end+4, mid, pairText(text, hidden), small, ink, fromLeft)
	return end
}

// bar is hollow before a change and full since; hatched where it is of what
// is not known.
func (d *pairsDrawing) bar(x0, x1, mid vg.Length, since, unknown bool) {
	b := box(x0, mid-4, x1, mid+4)
	switch {
	case unknown:
		d.polygon(b, white)
		d.hatched(b, hatches[1], quiet)
		d.outline(b, hairline, quiet)
	case since:
		d.polygon(b, blue)
	default:
		d.polygon(b, white)
		d.outline(b, 0.8, blue)
	}
}
