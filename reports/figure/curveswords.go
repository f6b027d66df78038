package figure

import (
	"fmt"
	"sort"
	"strings"
)

func (d *curvesDrawing) at(i int, t float64) float64 {
	s := d.curves[i].Steps
	k := sort.Search(len(s), func(k int) bool { return s[k].Time > t })
	return s[max(k-1, 0)].Estimate
}

func (d *curvesDrawing) description() string {
	var parts []string
	for i := range d.curves {
		if i == 3 && len(d.curves) > 4 {
			parts = append(parts, fmt.Sprintf("and %d more", len(d.curves)-3))
			break
		}
		t := d.lastTime(i)
		part := d.show(d.at(i, t)) + " at " + d.when(t)
		if len(d.curves) > 1 || d.names[i] != "all" {
			part = d.names[i] + " " + part
		}
		parts = append(parts, part)
	}
	return fmt.Sprintf("Step curves: %s by %s, ending at: %s.", lower(d.value), lower(d.timeAxis), strings.Join(parts, ", "))
}

func (d *curvesDrawing) when(t float64) string {
	v := trimmed(brief(t / d.unit.days))
	if v == "1" {
		return "1 " + strings.TrimSuffix(d.unit.name, "s")
	}
	return v + " " + d.unit.name
}

func (d *curvesDrawing) long() string {
	times := d.spec.Landmarks
	if len(times) == 0 {
		ts := timeTicks(d.until, d.unit, 5)
		for _, t := range ts[min(1, len(ts)):] {
			times = append(times, t.value)
		}
	}
	var b strings.Builder
	for i, c := range d.curves {
		last := d.lastTime(i)
		events, censored := 0, 0
		for _, s := range c.Steps {
			events, censored = events+s.Events, censored+s.Censored
		}
		if d.public() {
			fmt.Fprintf(&b, "%s: ", upper(d.names[i]))
		} else {
			fmt.Fprintf(&b, "%s: %s at the start, %s, %s censored; ", upper(d.names[i]),
				plural(c.Steps[0].AtRisk, strings.TrimSuffix(d.spec.Rows, "s"), d.spec.Rows), plural(events, strings.TrimSuffix(d.spec.EventWord, "s"), d.spec.EventWord), count(censored))
		}
		for _, t := range times {
			if t > 0 && t < last {
				fmt.Fprintf(&b, "%s at %s, ", d.show(d.at(i, t)), d.when(t))
			}
		}
		fmt.Fprintf(&b, "%s at %s, where the curve ends. ", d.show(d.at(i, last)), d.when(last))
		b.WriteString(d.openWords(c))
		b.WriteString(d.modelWords(i))
	}
	return strings.TrimSpace(b.String())
}
