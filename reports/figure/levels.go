package figure

import (
	"fmt"
	"image/color"
	"math"
	"strings"

	"gonum.org/v1/plot/vg"
)

// LevelRow is how the rows of one kind spread over the levels: shares that add
// up to 1.
type LevelRow struct {
	Name   string
	Shares []float64
	Detail string // text of its own column, such as the mean; empty: none
}

// LevelsSpec says what to draw.
type LevelsSpec struct {
	ID         string
	Title      string
	Axis       string   // "Comfort on arrival"
	Levels     []string // lowest first
	Rows       []LevelRow
	DetailHead string
	Width      vg.Length
}

// Levels draws a bar for each kind of row, parted by the levels from the
// lowest at the left to the highest at the right, darker the higher, the share
// written into each part that has room for it.
func Levels(spec LevelsSpec) *Figure {
	fig := Figure{ID: spec.ID, Title: spec.Title}
	if spec.Axis == "" {
		spec.Axis = "Level"
	}
	if fig.Title == "" {
		fig.Title = spec.Axis + " by group"
	}
	var rows []LevelRow
	for _, r := range spec.Rows {
		ok := len(r.Shares) == len(spec.Levels) && len(r.Shares) > 0
		for _, s := range r.Shares {
			ok = ok && finite(s) && s >= 0
		}
		if ok {
			rows = append(rows, r)
		}
	}
	if len(rows) == 0 {
		return nothing(fig, spec.Width, "There are no shares to draw.")
	}
	f := &frame{scene: &scene{width: widthOr(spec.Width)}}
	var names, details []string
	for _, r := range rows {
		names, details = append(names, r.Name), append(details, r.Detail)
	}
	room, wrapped, cut := labelRoom(names, f.width, 0.26, false)
	f.left = room
	f.right = f.width - small.width("100")/2 - 1
	if w := max(small.widest(details...), small.width(spec.DetailHead)); w > 0 {
		f.right = f.width - w - 10
	}
	f.top = f.heading(0, spec.Axis, "from "+clean(spec.Levels[0])+" (left, faint) to "+clean(spec.Levels[len(spec.Levels)-1])+" (right, strong)") - 4
	if spec.DetailHead != "" {
		f.top -= small.line()
		f.text(f.width-2, f.top+4, spec.DetailHead, small, quiet, fromRight)
	}
	f.x = scale{lo: 0, hi: 1, from: f.left, to: f.right}
	y := f.top
	f.tellHeads("Group", spec.Axis, "Share")
	for i, r := range rows {
		high := max(18, vg.Length(len(wrapped[i]))*plain.line()+2)
		middle := y - high/2
		ty := middle + vg.Length(len(wrapped[i])-1)*plain.line()/2
		for _, t := range wrapped[i] {
			f.middle(0, ty, t, plain, ink, fromLeft)
			ty -= plain.line()
		}
		total := 0.0
		for _, s := range r.Shares {
			total += s
		}
		from := 0.0
		for k, s := range r.Shares {
			to := from + s/math.Max(total, 1e-300)
			x0, x1 := f.x.at(from), f.x.at(math.Min(to, 1))
			f.polygon(box(x0, middle-8, x1, middle+8), levelShade(k, len(r.Shares)))
			f.outline(box(x0, middle-8, x1, middle+8), hairline, white)
			label := decimal(100*s, 0)
			f.tell((x0+x1)/2, middle, r.Name, spec.Levels[k], percent(s))
			if x1-x0 > small.width(label)+3 {
				f.middle((x0+x1)/2, middle, label, small, ink, centred)
			}
			from = to
		}
		if r.Detail != "" {
			f.middle(f.width-2, middle, r.Detail, small, ink, fromRight)
		}
		y -= high + 3
	}
	f.bottom = y - 1
	f.xAxis([]tick{{0, "0"}, {0.25, "25"}, {0.5, "50"}, {0.75, "75"}, {1, "100"}}, "Share (%)")
	// The levels themselves, each with its shade.
	y = f.below - 4 - small.line()
	x := f.left
	for k, l := range spec.Levels {
		l = clean(l)
		w := 12 + small.width(l) + 8
		if x > f.left && x+w > f.width {
			x, y = f.left, y-small.line()-2
		}
		f.polygon(box(x, y, x+9, y+7), levelShade(k, len(spec.Levels)))
		f.outline(box(x, y, x+9, y+7), hairline, quiet)
		f.text(x+12, y+0.5, l, small, ink, fromLeft)
		x += w
	}
	f.below = y - 4
	f.notes("Numbers: share in percent.")
	last := len(spec.Levels) - 1
	var parts []string
	for _, r := range rows {
		parts = append(parts, fmt.Sprintf("%s %s at %s", r.Name, percent(r.Shares[last]), spec.Levels[last]))
	}
	fig.Description = fmt.Sprintf("%s in levels, a bar for each of %s: %s.", spec.Axis, plural(len(rows), "group", "groups"), strings.Join(parts[:min(4, len(parts))], ", "))
	var b strings.Builder
	for _, r := range rows {
		fmt.Fprintf(&b, "%s: ", r.Name)
		var each []string
		for k, s := range r.Shares {
			each = append(each, fmt.Sprintf("%s %s", spec.Levels[k], percent(s)))
		}
		b.WriteString(strings.Join(each, ", ") + ". ")
	}
	fig.Long = strings.TrimSpace(b.String()) + cutNote(cut)
	return f.finish(fig)
}

// levelShade grows stronger from level to level, of one hue, so that it reads
// in grey as it does in colour.
func levelShade(k, of int) color.NRGBA {
	if of < 2 {
		return shade(0.75)
	}
	return shade(float64(k) / float64(of-1))
}
