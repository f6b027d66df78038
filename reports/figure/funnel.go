package figure

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gonum.org/v1/plot/vg"
)

// FunnelUnit is one unit of a funnel: its size and its value.
type FunnelUnit struct {
	Name   string
	Size   float64 // events expected, or rows: what the limits depend on
	Value  float64
	Beyond int // 0 within the limits, 1 outside the 95%, 2 outside the 99.8%
}

// FunnelLimit is the limits at a size, below and above the centre.
type FunnelLimit struct {
	Size                                 float64
	Lower95, Upper95, Lower998, Upper998 float64
}

// FunnelSpec says what to draw.
type FunnelSpec struct {
	ID        string
	Title     string
	SizeAxis  string // "Remakes expected"
	ValueAxis string // "Observed against expected"
	Percent   bool   // values are shares of one
	Centre    float64
	Units     []FunnelUnit
	Limits    []FunnelLimit // by size
	Note      string        // said beneath
	Width     vg.Length
}

// Funnel draws units against the limits within which chance alone would
// leave them: 95% to watch, 99.8% to act on. Only units outside the 99.8%
// limits are named.
func Funnel(spec FunnelSpec) *Figure {
	if spec.SizeAxis == "" {
		spec.SizeAxis = "Expected"
	}
	if spec.ValueAxis == "" {
		spec.ValueAxis = "Observed against expected"
	}
	fig := Figure{ID: spec.ID, Title: spec.Title}
	if fig.Title == "" {
		fig.Title = spec.ValueAxis + " by unit"
	}
	factor, unit := 1.0, ""
	if spec.Percent {
		factor, unit = 100, "%"
	}
	d := xyDrawing{width0: spec.Width, xTitle: spec.SizeAxis, yTitle: spec.ValueAxis, yUnit: unit}
	var units []FunnelUnit
	for _, u := range spec.Units {
		if !finite(u.Size) || !finite(u.Value) {
			d.dropped++
			continue
		}
		u.Value *= factor
		units = append(units, u)
		d.see(u.Size, u.Value)
	}
	if len(units) == 0 {
		return nothing(fig, spec.Width, "There are no units to draw.")
	}
	centre := spec.Centre * factor
	d.see(units[0].Size, centre)
	limits := slices.Clone(spec.Limits)
	slices.SortStableFunc(limits, func(a, b FunnelLimit) int {
		switch {
		case a.Size < b.Size:
			return -1
		case a.Size > b.Size:
			return 1
		}
		return 0
	})
	line := func(get func(FunnelLimit) float64) []BandPoint {
		var out []BandPoint
		for _, l := range limits {
			if v := get(l); finite(v) && finite(l.Size) {
				out = append(out, BandPoint{X: l.Size, Y: v * factor})
			}
		}
		return out
	}
	outer := [][]BandPoint{line(func(l FunnelLimit) float64 { return l.Lower998 }), line(func(l FunnelLimit) float64 { return l.Upper998 })}
	inner := [][]BandPoint{line(func(l FunnelLimit) float64 { return l.Lower95 }), line(func(l FunnelLimit) float64 { return l.Upper95 })}
	names := []string{"99.8% (act)", "95% (watch)", "expected"}
	room, wrapped, _ := labelRoom(names, widthOr(spec.Width), 0.22, false)
	// The limits set the range of sizes, and of values where the units leave
	// room for it.
	d.l0, d.l1 = d.y0, d.y1
	for _, l := range append(slices.Clone(outer), inner...) {
		for _, p := range l {
			d.x0, d.x1 = math.Min(d.x0, p.X), math.Max(d.x1, p.X)
			if p.X >= units[0].Size || p.X >= d.x0 {
				d.l0, d.l1 = math.Min(d.l0, p.Y), math.Max(d.l1, p.Y)
			}
		}
	}
	for _, u := range units {
		for _, l := range outer {
			if v := at(l, u.Size); finite(v) {
				d.see(u.Size, v)
			}
		}
	}
	d.axes(room, names, 190)
	d.line(d.left, d.y.at(centre), d.right, d.y.at(centre), 0.9, quiet, nil)
	ends := []endLabel{{x: d.right, y: d.frame.top}, {x: d.right, y: d.frame.top}, {x: d.right, y: d.y.at(centre)}}
	for k, pair := range [][][]BandPoint{outer, inner} {
		dash := [][]vg.Length{nil, {4, 2}}[k]
		for side, l := range pair {
			if len(l) == 0 {
				continue
			}
			x, y := d.curve(l, 0.9, blue, dash)
			if side == 1 {
				ends[k].x, ends[k].y = x, y
			}
		}
	}
	if len(outer[1]) == 0 || len(inner[1]) == 0 {
		ends, wrapped = ends[2:], wrapped[2:]
	}
	d.endLabels(ends, wrapped, d.bottom-2, d.frame.top+4)
	var out []string
	watched := false
	obstacles := make([]rect, 0, len(units))
	d.xyHeads("Unit")
	for _, u := range units {
		x, y := d.x.in(u.Size), d.y.in(u.Value)
		d.tell(x, y, u.Name, trimmed(brief(u.Size)), d.showY(u.Value))
		obstacles = append(obstacles, rect{x - 4, y - 4, x + 4, y + 4})
	}
	for _, u := range units {
		x, y := d.x.in(u.Size), d.y.in(u.Value)
		switch u.Beyond {
		case 0:
			d.marker(x, y, 2.6, dot, ink)
			continue
		case 1:
			watched = true
			d.marker(x, y, 3.2, diamond, ink)
			d.marker(x, y, 1.9, diamond, white)
			continue
		}
		d.marker(x, y, 3.4, diamond, vermilion)
		out = append(out, u.Name)
		name := plain.shorten(clean(u.Name), d.width*0.25)
		w := plain.width(name)
		for _, r := range []rect{{x + 6, y - 4, x + 7 + w, y + 5}, {x - 7 - w, y - 4, x - 6, y + 5}, {x - w/2, y + 6, x + w/2, y + 15}, {x - w/2, y - 15, x + w/2, y - 6}} {
			if r.x0 < d.left || r.x1 > d.right || r.y0 < d.bottom+1 || r.y1 > d.frame.top || meetsAny(r, obstacles) {
				continue
			}
			obstacles = append(obstacles, r)
			d.polygon(box(r.x0, r.y0, r.x1, r.y1), faint(white, 0.8))
			d.middle(r.x0, (r.y0+r.y1)/2, name, plain, ink, fromLeft)
			break
		}
	}
	var notes []string
	if len(out) > 0 {
		notes = append(notes, "Full diamond, named: outside the 99.8% limits.")
	}
	if watched {
		notes = append(notes, "Hollow diamond: outside the 95% limits.")
	}
	switch {
	case len(out) == 0 && !watched:
		notes = append(notes, "No unit is outside the limits: differences are no more than chance would give.")
	case len(out) == 0:
		notes = append(notes, "No unit is outside the 99.8% limits.")
	default:
		notes = append(notes, "Within the limits, differences are no more than chance would give.")
	}
	if spec.Note != "" {
		notes = append(notes, spec.Note)
	}
	d.notes(strings.Join(notes, " "))
	said := "none outside the 99.8% limits"
	if len(out) > 0 {
		said = "outside the 99.8% limits: " + strings.Join(out, ", ")
	}
	fig.Description = fmt.Sprintf("Funnel of %s: %s by %s; %s.", plural(len(units), "unit", "units"), lower(spec.ValueAxis), lower(spec.SizeAxis), said)
	var b strings.Builder
	for _, u := range units {
		fmt.Fprintf(&b, "%s: %s at %s %s. ", u.Name, d.showY(u.Value), lower(spec.SizeAxis), trimmed(brief(u.Size)))
	}
	fig.Long = strings.TrimSpace(b.String()) + droppedNote(d.dropped, "unit")
	fig.Small = smaller(spec, func(s *FunnelSpec) { s.Width = HalfWidth }, Funnel)
	return d.finish(fig)
}

// at reads a line at a place; NaN beyond its ends.
func at(line []BandPoint, x float64) float64 {
	for i := 1; i < len(line); i++ {
		a, b := line[i-1], line[i]
		if x >= a.X && x <= b.X {
			if b.X == a.X {
				return b.Y
			}
			return a.Y + (b.Y-a.Y)*(x-a.X)/(b.X-a.X)
		}
	}
	return math.NaN()
}
