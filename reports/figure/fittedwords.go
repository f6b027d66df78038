package figure

import (
	"fmt"
	"strings"
)

func (d *fittedDrawing) description() string {
	var parts []string
	for i, c := range d.of.Curves {
		if i == 3 && len(d.of.Curves) > 5 {
			parts = append(parts, fmt.Sprintf("and %d more", len(d.of.Curves)-3))
			break
		}
		pts := d.within(c.Points)
		end := pts[len(pts)-1]
		parts = append(parts, strings.TrimSpace(c.Name+" "+percent(end.Y)+" at "+d.when(end.X)))
	}
	over := ""
	if d.seen {
		over = " over the steps of what was seen"
	}
	return fmt.Sprintf("Smooth curves%s: %s by %s, ending at: %s.", over, lower(d.value), lower(d.timeAxis), strings.Join(parts, ", "))
}

func (d *fittedDrawing) long() string {
	times := d.of.Landmarks
	if len(times) == 0 {
		ts := timeTicks(d.until, d.unit, 5)
		for _, t := range ts[min(1, len(ts)):] {
			times = append(times, t.value)
		}
	}
	var b strings.Builder
	for _, c := range d.of.Curves {
		var parts []string
		for _, t := range times {
			if v, ok := valueAt(c.Points, t); ok && t <= d.until {
				parts = append(parts, percent(v)+" at "+d.when(t))
			}
		}
		name := upper(c.Name)
		if name == "" {
			name = "The curve"
		}
		if len(parts) == 0 {
			parts = []string{"no time of the axis lies on it"}
		}
		fmt.Fprintf(&b, "%s: %s. ", name, strings.Join(parts, ", "))
		for k, m := range c.Marks {
			fmt.Fprintf(&b, "%s: %s. ", d.of.ShareWords[k], m.Text)
		}
	}
	if d.seen {
		var parts []string
		for _, t := range times {
			if t <= d.lastTime(0) {
				parts = append(parts, percent(d.at(0, t))+" at "+d.when(t))
			}
		}
		if len(parts) > 0 {
			fmt.Fprintf(&b, "%s: %s. ", upper(d.of.SeenName), strings.Join(parts, ", "))
		}
	}
	if d.beyond() {
		fmt.Fprintf(&b, "Nothing is known after %s. ", d.when(d.of.Known))
	}
	return strings.TrimSpace(b.String())
}

// valueAt reads a curve between its points.
func valueAt(pts []BandPoint, t float64) (float64, bool) {
	for k := 1; k < len(pts); k++ {
		if a, b := pts[k-1], pts[k]; a.X <= t && t <= b.X && b.X > a.X {
			return a.Y + (b.Y-a.Y)*(t-a.X)/(b.X-a.X), true
		}
	}
	return 0, false
}

func (d *fittedDrawing) smallPrint() string {
	var t []string
	switch {
	case d.bandsDrawn():
		t = append(t, fmt.Sprintf("Shaded: %s interval at each time.", percent(d.of.Confidence)))
	case len(d.of.Curves) > 4 && d.seen:
		t = append(t, "Without intervals, which would hide one another.")
	}
	if d.stripsHeight() > 0 {
		t = append(t, fmt.Sprintf("Beneath: with its %s interval.", percent(d.of.Confidence)))
	}
	if d.seen {
		t = append(t, "Thin line: seen.")
		if d.public() {
			t = append(t, "It is known at quarters of a year.")
		} else if d.anyOpen() {
			t = append(t, openNote)
		}
	}
	if d.beyond() {
		t = append(t, "Grey ground: the curves carried on beyond the log.")
	}
	return strings.Join(t, " ")
}
