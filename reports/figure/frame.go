package figure

import (
	"fmt"
	"strings"

	"gonum.org/v1/plot/vg"

	"plybook/reports/words"
)

// frame is the plot area with its two scales. Layouts run downwards: the
// top of the page is zero while laying out, and finish lifts it all.
type frame struct {
	*scene
	x, y                     scale
	left, right, top, bottom vg.Length
	below                    vg.Length // where the next thing beneath goes
}

const (
	tickGap  vg.Length = 4
	hairline vg.Length = 0.5
	lineWide vg.Length = 1.3
)

func widthOr(w vg.Length) vg.Length {
	if w <= 0 {
		return FullWidth
	}
	return max(w, 150)
}

// heading sets the title of the value axis at the top left, level with the
// eye rather than turned on its side, with an optional hint after it.
func (s *scene) heading(y vg.Length, title, hint string) vg.Length {
	lines, _ := head.wrap(title, s.width, 0)
	for i, l := range lines {
		y -= head.line()
		s.text(0, y+head.descent(), l, head, ink, fromLeft)
		if i < len(lines)-1 || hint == "" {
			continue
		}
		at := head.width(l) + 8
		if at+small.width(hint) > s.width {
			y -= small.line()
			at = 0
		}
		s.text(at, y+head.descent(), hint, small, quiet, fromLeft)
	}
	return y
}

// yGrid draws the horizontal grid and the tick labels at the left.
func (f *frame) yGrid(ticks []tick) {
	for _, t := range ticks {
		y := f.y.at(t.value)
		f.line(f.left, y, f.right, y, hairline, grid, nil)
		f.middle(f.left-tickGap, y, t.label, small, quiet, fromRight)
	}
}

// xAxis draws the base line, ticks, their labels and the axis title.
// Labels that would touch the one before are left out, their ticks stay.
func (f *frame) xAxis(ticks []tick, title string) {
	f.line(f.left, f.bottom, f.right, f.bottom, 0.7, axis, nil)
	y := f.bottom - 3 - small.size
	end := vg.Length(-1e9)
	for _, t := range ticks {
		x := f.x.at(t.value)
		f.line(x, f.bottom, x, f.bottom-3, 0.7, axis, nil)
		w := small.width(t.label)
		if x-w/2 < end+3 || x-w/2 < 0 || x+w/2 > f.width {
			continue
		}
		f.text(x, y, t.label, small, quiet, centred)
		end = x + w/2
	}
	f.below = y - small.descent()
	if title == "" {
		return
	}
	f.below -= 1.5
	lines, _ := head.wrap(title, f.width, 0)
	for _, l := range lines {
		f.below -= head.line()
		x := min(max((f.left+f.right)/2, head.width(l)/2), f.width-head.width(l)/2)
		f.text(x, f.below+head.descent(), l, head, ink, centred)
	}
}

// notes sets the lines of small print and ends the layout.
func (f *frame) notes(texts ...string) {
	for _, t := range texts {
		if t == "" {
			continue
		}
		f.below = f.paragraph(0, f.below-2, f.width, t, note, quiet)
	}
}

// finish settles the height and makes the figure.
func (f *frame) finish(fig Figure) *Figure {
	f.height = -f.below + 2
	f.lift(f.height)
	return f.figure(fig)
}

// nothing is the figure of an answer without anything to draw.
func nothing(fig Figure, width vg.Length, why string) *Figure {
	f := &frame{scene: &scene{width: widthOr(width)}}
	f.polygon(box(0, 0, f.width, -34), wash)
	lines, _ := plain.wrap(why, f.width-16, 2)
	y := vg.Length(-17) + vg.Length(len(lines)-1)*plain.line()/2
	for _, l := range lines {
		f.middle(f.width/2, y, l, plain, quiet, centred)
		y -= plain.line()
	}
	f.below = -36
	fig.Description = why
	fig.Empty = true
	fig.Long = why
	return f.finish(fig)
}

// endLabel is a direct label at the end of a line.
type endLabel struct {
	name  string
	index int       // colour and dash
	x, y  vg.Length // end of the line
	key   bool      // draw a sample of the line before the name
	ink   bool      // a thin dark line of no series
}

const keyWide vg.Length = 17

// labelRoom is the width to keep free at the right for the labels, at most
// a share of the page, and the wrapped lines of each.
func labelRoom(names []string, page vg.Length, share float64, key bool) (vg.Length, [][]string, []string) {
	most := page * vg.Length(share)
	var room vg.Length
	var cut []string
	wrapped := make([][]string, len(names))
	for i, n := range names {
		lines, short := plain.wrap(n, most, 2)
		if len(lines) == 0 {
			lines = []string{"(no name)"}
		}
		if short {
			cut = append(cut, n)
		}
		wrapped[i] = lines
		room = max(room, plain.widest(lines...))
	}
	if key {
		room += keyWide + 4
	}
	return room + 12, wrapped, cut
}

// endLabels sets the labels right of the plot, nudged apart, each tied to
// its line by a thin leader where the two do not meet.
func (f *frame) endLabels(ls []endLabel, wrapped [][]string, lo, hi vg.Length) {
	slots := make([]slot, len(ls))
	for i, l := range ls {
		slots[i] = slot{want: l.y, height: vg.Length(len(wrapped[i]))*plain.line() + 1}
	}
	apart(slots, lo, hi)
	for i, l := range ls {
		at := slots[i].at
		x := f.right + 10
		if moved := at - l.y; l.x < f.right-0.5 || moved > 1 || moved < -1 {
			f.lines([]vg.Point{{X: l.x + 1, Y: l.y}, {X: max(l.x+1, f.right+1), Y: l.y}, {X: x - 1, Y: at}}, hairline, axis, []vg.Length{1, 1.5})
		}
		if l.key {
			if l.ink {
				f.line(x, at, x+keyWide, at, 0.9, ink, nil)
			} else {
				f.line(x, at, x+keyWide, at, lineWide, seriesColour(l.index), seriesDash(l.index))
			}
			x += keyWide + 4
		}
		y := at + vg.Length(len(wrapped[i])-1)*plain.line()/2
		for _, t := range wrapped[i] {
			f.middle(x, y, t, plain, ink, fromLeft)
			y -= plain.line()
		}
	}
}

// withUnit adds a unit to an axis title that does not hold it already.
func withUnit(title, unit string) string {
	for _, w := range strings.FieldsFunc(strings.ToLower(title), func(r rune) bool { return r == ' ' || r == ',' || r == '(' || r == ')' }) {
		if w == strings.ToLower(unit) {
			return title
		}
	}
	if unit == "" {
		return title
	}
	return title + " (" + unit + ")"
}

// cutNote says in the long description which names were shortened.
func cutNote(cut []string) string {
	if len(cut) == 0 {
		return ""
	}
	return fmt.Sprintf(" Names shortened in the drawing: %s.", strings.Join(cut, "; "))
}

// droppedNote says how many values could not be drawn.
func droppedNote(n int, what string) string {
	switch n {
	case 0:
		return ""
	case 1:
		return fmt.Sprintf(" One %s without a finite value was left out.", what)
	}
	return fmt.Sprintf(" %s %ss without a finite value were left out.", count(n), what)
}

func plural(n int, one, many string) string { return words.N(n, one, many) }

// lower sets the first letter low for use inside a sentence, unless the
// word is an abbreviation.
func lower(s string) string {
	r := []rune(s)
	if len(r) > 1 && strings.ToUpper(string(r[1])) == string(r[1]) && string(r[1]) != " " {
		return s
	}
	return strings.ToLower(string(r[:min(1, len(r))])) + string(r[min(1, len(r)):])
}

func upper(s string) string {
	r := []rune(s)
	if len(r) == 0 {
		return s
	}
	return strings.ToUpper(string(r[:1])) + string(r[1:])
}

func sentence(s string) string {
	s = strings.TrimSpace(s)
	if s == "" || strings.HasSuffix(s, ".") {
		return s
	}
	return s + "."
}

// duration writes days in the unit that divides them.
func duration(days float64) string { return words.At(days) }
