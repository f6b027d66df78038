package figure

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/plot/vg"
)

// ColumnsSpec says what to draw.
type ColumnsSpec struct {
	ID       string
	Title    string
	Axis     string   // "Sockets delivered"
	Unit     string   // of values that are not counts
	Periods  []string // along the axis, in order: "2023", "2024"
	Parts    []ColumnPart
	Totals   []float64 // written above columns of which a part is withheld; NaN or left out: a dash
	LastPart string    // said beneath: "2026: to 30 September"
	Width    vg.Length
}

// ColumnPart is one stacked part of the columns; values are by period, NaN
// where there is none or it is withheld.
type ColumnPart struct {
	Name   string
	Values []float64
}

// Columns draws a value by period as upright bars, in parts one on top of
// the other where there are several, the total written above each.
func Columns(spec ColumnsSpec) *Figure {
	if spec.Axis == "" {
		spec.Axis = "Count"
	}
	fig := Figure{ID: spec.ID, Title: spec.Title}
	if fig.Title == "" {
		fig.Title = spec.Axis + " by period"
	}
	if len(spec.Periods) == 0 || len(spec.Parts) == 0 {
		return nothing(fig, spec.Width, "There is no period to draw.")
	}
	f := &frame{scene: &scene{width: widthOr(spec.Width)}}
	value := func(p ColumnPart, i int) float64 {
		if i < len(p.Values) && finite(p.Values[i]) && p.Values[i] > 0 {
			return p.Values[i]
		}
		return 0
	}
	missing := func(p ColumnPart, i int) bool { return i >= len(p.Values) || !finite(p.Values[i]) }
	top, gaps := 0.0, false
	var totals []string
	for i := range spec.Periods {
		sum, gap := 0.0, false
		for _, p := range spec.Parts {
			sum += value(p, i)
			gap = gap || missing(p, i)
		}
		top = math.Max(top, sum)
		t := trimmed(brief(sum))
		switch {
		case gap && i < len(spec.Totals) && finite(spec.Totals[i]):
			t = trimmed(brief(spec.Totals[i]))
		case gap:
			t, gaps = "–", true
		}
		totals = append(totals, t)
	}
	_, hi := roundOut(0, math.Max(top, 1)*1.02, 5)
	yTicks := linearTicks(0, hi, 5)
	var names []string
	for _, p := range spec.Parts {
		names = append(names, p.Name)
	}
	room, wrapped, cut := labelRoom(names, f.width, 0.26, false)
	room += 15
	if len(spec.Parts) == 1 {
		room, wrapped, cut = 6, nil, nil
	}
	f.left = small.widest(labels(yTicks)...) + tickGap + 2
	f.right = f.width - room
	f.top = f.heading(0, withUnit(spec.Axis, spec.Unit), "") - 14
	f.bottom = f.top - 160
	f.y = scale{lo: 0, hi: hi, from: f.bottom, to: f.top}
	f.yGrid(yTicks)
	pitch := (f.right - f.left) / vg.Length(len(spec.Periods))
	bar := min(pitch*0.66, 46)
	slots := make([]slot, len(spec.Parts))
	shown := vg.Length(-1e9)
	f.tellHeads("Part", "Period", spec.Axis)
	var ticks []tick
	for i := range spec.Periods {
		x := f.left + (vg.Length(i)+0.5)*pitch
		base := 0.0
		for k, p := range spec.Parts {
			v := value(p, i)
			area := box(x-bar/2, f.y.at(base), x+bar/2, f.y.at(base+v))
			if v > 0 {
				f.part(area, k, len(spec.Parts))
			}
			if !missing(p, i) {
				name := p.Name
				if len(spec.Parts) == 1 {
					name = ""
				}
				f.tell(x, f.y.at(base+v/2), name, spec.Periods[i], strings.TrimSpace(trimmed(brief(p.Values[i]))+" "+spec.Unit))
			}
			if i == len(spec.Periods)-1 {
				slots[k] = slot{want: f.y.at(base + v/2), height: plain.line() + 1}
				if wrapped != nil {
					slots[k].height = vg.Length(len(wrapped[k]))*plain.line() + 1
				}
			}
			base += v
		}
		if w := small.width(totals[i]); x-w/2 > shown+2 {
			f.text(x, f.y.at(base)+3, totals[i], small, ink, centred)
			shown = x + w/2
		}
		ticks = append(ticks, tick{float64(i), clean(spec.Periods[i])})
	}
	f.x = scale{lo: -0.5, hi: float64(len(spec.Periods)) - 0.5, from: f.left, to: f.right}
	f.xAxis(ticks, "")
	if wrapped != nil {
		apart(slots, f.bottom-2, f.top+4)
		for k, sl := range slots {
			x := f.right + 6
			sw := box(x, sl.at-4, x+11, sl.at+4)
			f.part(sw, k, len(spec.Parts))
			ty := sl.at + vg.Length(len(wrapped[k])-1)*plain.line()/2
			for _, t := range wrapped[k] {
				f.middle(x+15, ty, t, plain, ink, fromLeft)
				ty -= plain.line()
			}
		}
	}
	f.below -= 2
	var said []string
	if gaps {
		said = append(said, "–: withheld or not known.")
	}
	if spec.LastPart != "" {
		said = append(said, sentence(spec.LastPart))
	}
	f.notes(strings.Join(said, " "))
	last := len(spec.Periods) - 1
	fig.Description = fmt.Sprintf("Columns: %s by period, %s in %s to %s in %s.", lower(spec.Axis), totals[0], spec.Periods[0], totals[last], spec.Periods[last])
	var b strings.Builder
	for i, p := range spec.Periods {
		fmt.Fprintf(&b, "%s: %s", p, totals[i])
		if len(spec.Parts) > 1 {
			var parts []string
			for _, q := range spec.Parts {
				v := "–"
				if !missing(q, i) {
					v = trimmed(brief(q.Values[i]))
				}
				parts = append(parts, q.Name+" "+v)
			}
			b.WriteString(" (" + strings.Join(parts, ", ") + ")")
		}
		b.WriteString(". ")
	}
	fig.Long = strings.TrimSpace(b.String()) + cutNote(cut)
	return f.finish(fig)
}

// part fills a bar's part: one colour where it is alone, else tint and
// pattern.
func (f *frame) part(area []vg.Point, k, of int) {
	if of == 1 {
		f.polygon(area, blue)
		return
	}
	f.polygon(area, layerTint(k))
	f.hatched(area, hatches[k%len(hatches)], faint(seriesColour(k), 0.85))
	f.outline(area, hairline, quiet)
}
