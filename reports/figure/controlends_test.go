package figure

import (
	"fmt"
	"slices"
	"strings"
	"testing"
)

// highShares is a chart of shares near a level, each of n rows.
func highShares(level, half float64, goal float64) ControlSpec {
	s := ControlSpec{ID: "high", ValueAxis: "Skin checked", Percent: true, Better: BetterHigher, Goal: &goal}
	for i := range 12 {
		s.Points = append(s.Points, ControlPoint{Label: fmt.Sprint("p", i), Day: 20000 + 91*i, Value: level + 0.01*float64(i%3-1), Centre: level, Lower: level - half, Upper: min(level+half, 1), Phase: 1})
	}
	return s
}

// The names of the lines of a chart near 90% stand in the order of the lines,
// over one another nowhere, and each at its line or nearly so; a chart about
// the middle starts at 0 as before.
func TestLimitsOfHighSharesHaveRoom(t *testing.T) {
	for _, small := range []bool{false, true} {
		for _, c := range []struct {
			level, half, goal float64
			cut               bool
		}{{0.9, 0.05, 0.95, true}, {0.85, 0.06, 0.95, true}, {0.97, 0.03, 0.99, true}, {0.52, 0.1, 0.75, false}, {0.2, 0.1, 0.1, false}} {
			f := Control(highShares(c.level, c.half, c.goal))
			if small {
				f = f.Small()
			}
			texts, _ := record(t, f)
			var ends []placedText
			starts := ""
			for _, x := range texts {
				if head, _, ok := strings.Cut(x.text, " "); ok && slices.Contains([]string{"upper", "mean", "lower", "goal"}, head) && strings.HasSuffix(x.text, "%") {
					ends = append(ends, x)
				}
				if strings.Contains(x.text, "The axis starts at ") {
					starts = x.text
				}
			}
			if len(ends) != 4 {
				t.Fatalf("%g: lines are named %v", c.level, ends)
			}
			slices.SortFunc(ends, func(a, b placedText) int { return int(1000 * float64(a.box.y0-b.box.y0)) })
			values := map[string]float64{"upper": min(c.level+c.half, 1), "mean": c.level, "lower": c.level - c.half, "goal": c.goal}
			for i := 1; i < len(ends); i++ {
				if ends[i].box.y0 < ends[i-1].box.y1-2.5 { // letters below the line of one may stand among those of the next
					t.Errorf("%g, small %v: %q stands over %q", c.level, small, ends[i].text, ends[i-1].text)
				}
				a, b := values[strings.Fields(ends[i-1].text)[0]], values[strings.Fields(ends[i].text)[0]]
				if a > b+1e-9 {
					t.Errorf("%g: %q below %q", c.level, ends[i-1].text, ends[i].text)
				}
			}
			if (starts != "") != c.cut {
				t.Errorf("%g: says of its axis %q", c.level, starts)
			}
		}
	}
}
