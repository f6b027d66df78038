package cohort

import (
	"fmt"
	"math"
	"testing"
)

// A chain of two check sockets that led to D, one check socket that was
// adjusted and led to E, a check socket that came to nothing, and F without any.
func TestFittings(t *testing.T) {
	c := build(t, Tables{
		Limbs: tab(t, Limbs, "person|limb|side\nP|L1|left\nQ|L2|left\nR|L3|left\nS|L4|left"),
		Sockets: tab(t, Sockets, "socket|limb|kind|delivered|replaces\nC1|L1|check|-|-\nC2|L1|check|-|C1\nD|L1|definitive|2022-06-01|C2\n"+
			"C3|L2|check|-|-\nE|L2|definitive|2022-06-01|C3\nC4|L3|check|-|-\nF|L4|definitive|2022-06-01|-"),
		Visits: tab(t, Visits, "visit|socket|date|purpose|accepted|comfort|actions\n"+
			"1|C1|2022-04-01|check fitting|yes|3|recast\n2|C2|2022-04-20|check fitting|yes|4|none\n"+
			"3|D|2022-06-01|delivery|-|2|-\n4|D|2022-06-20|follow-up|-|-|-\n5|D|2022-07-01|walk-in|-|7|ground\n6|D|2022-08-01|follow-up|-|9|-\n"+
			"7|C3|2022-04-20|check fitting|adjusted|5|ground; pad added\n8|E|2022-06-01|follow-up|-|6|-\n9|C4|2022-04-20|check fitting|-|5|-\n10|F|2022-06-03|follow-up|-|8|-"),
	}, Settings{})
	got := c.Fittings()
	for id, want := range map[string]string{
		"C1": "true no recast NaN", // another check socket followed, whatever was said
		"C2": "true yes none 7",
		"D":  "true no recast 7",
		"C3": "true adjusted ground; pad added 6",
		"E":  "true adjusted ground; pad added 6",
		"C4": "true   NaN",
		"F":  "false   8",
	} {
		f := got[id]
		comfort := "NaN"
		if !math.IsNaN(f.Comfort) {
			comfort = fmt.Sprint(f.Comfort)
		}
		if s := fmt.Sprintf("%v %s %s %s", f.Seen, f.Accepted, f.Actions, comfort); s != want {
			t.Errorf("%s: %q, want %q", id, s, want)
		}
	}
	if len(got) != 7 {
		t.Errorf("%d sockets", len(got))
	}
}
