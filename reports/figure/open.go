package figure

import (
	"fmt"
	"strings"

	"gonum.org/v1/plot/vg"
)

// Stretch is a stretch of time, in days.
type Stretch struct {
	From, To float64
}

// openAt is the open stretch that ends at a time, if any.
func (c Curve) openAt(time float64) (Stretch, bool) {
	for _, s := range c.Open {
		if s.To == time && s.From < s.To {
			return s, true
		}
	}
	return Stretch{}, false
}

// inOpen says whether a time lies within an open stretch.
func (c Curve) inOpen(time float64) bool {
	for _, s := range c.Open {
		if s.From < time && time < s.To {
			return true
		}
	}
	return false
}

// openFall draws a fall that came at an unknown time within a stretch: a
// shaded box from the value before to the value after, and a dotted slope.
func (d *curvesDrawing) openFall(i int, from, to vg.Point, pale bool) {
	col := seriesColour(i)
	fill, edge := 0.22, 0.9
	if pale {
		fill, edge = 0.1, 0.4
	}
	d.polygon([]vg.Point{from, {X: to.X, Y: from.Y}, to, {X: from.X, Y: to.Y}}, faint(col, fill))
	d.lines([]vg.Point{from, to}, 0.8, faint(col, edge), []vg.Length{1.2, 1.6})
}

func (d *curvesDrawing) anyOpen() bool {
	if d.public() {
		return false // drawn straight between quarters
	}
	for _, c := range d.curves {
		for _, s := range c.Open {
			if s.From < s.To && s.To <= d.until {
				return true
			}
		}
	}
	return false
}

const openNote = "Boxes with a dotted line: the curve falls somewhere within, the visits do not tell when."

// openWords say the open stretches of a curve for those who cannot see it.
func (d *curvesDrawing) openWords(c Curve) string {
	if d.public() || len(c.Open) == 0 {
		return ""
	}
	var parts []string
	for k, s := range c.Open {
		if k == 6 {
			parts = append(parts, fmt.Sprintf("and %d more", len(c.Open)-6))
			break
		}
		parts = append(parts, fmt.Sprintf("%s to %s", d.when(s.From), d.when(s.To)))
	}
	return "It falls at unknown times within: " + strings.Join(parts, ", ") + ". "
}
