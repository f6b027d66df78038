package cohort

import (
	"fmt"
	"strings"
	"testing"

	"plybook/analysis/table"
)

func showMoments(ms []Moment, hs ...*History) string {
	var out []string
	for _, m := range ms {
		x := fmt.Sprintf("%d@%g", m.Of, m.Time)
		for i, h := range hs {
			v := "-"
			if m.At[i] >= 0 {
				v = fmt.Sprint(h.Column.Num[m.At[i]])
			}
			x += " " + v
		}
		out = append(out, x)
	}
	return strings.Join(out, "; ")
}

// Socket A is worn for 100 days, B for 50, C for none; D is open, last heard
// of after 30 days and 129 days before the last date of the log. What is
// recorded on a day is known at its end; a life is no longer at risk on the
// day of its end.
func TestMoments(t *testing.T) {
	c := varyingLog(t)
	l, err := c.Lives(rowsOf(t, c, Sockets), LifeSpec{})
	if err != nil {
		t.Fatal(err)
	}
	var hs []*History
	for _, name := range []string{"ply", "comfort"} {
		h, err := l.History(name)
		if err != nil {
			t.Fatal(err)
		}
		hs = append(hs, h)
	}
	want(t, "every 30 days", showMoments(l.Moments(hs, 30), hs...),
		"0@0 3 8; 1@0 - -; 3@0 5 -; 0@30 3 8; 1@30 2 6; 0@60 6 7; 0@90 6 7")
	want(t, "every 50 days", showMoments(l.Moments(hs, 50), hs...), "0@0 3 8; 1@0 - -; 3@0 5 -; 0@50 3 8")
	want(t, "of no length", showMoments(l.Moments(hs, 0), hs...), "")
	want(t, "now", showMoments(l.Now(hs), hs...), "3@129 5 9")
	if day, visit, ok := l.LastVisit(3); !ok || visit != "V8" || table.FormatDate(day) != "2022-03-03" {
		t.Errorf("last visit %s of %s (%v)", visit, table.FormatDate(day), ok)
	}

	// Watched only from 40 days after A's delivery.
	c = varyingLogFrom(t, "2022-02-10")
	if l, err = c.Lives(rowsOf(t, c, Sockets), LifeSpec{}); err != nil {
		t.Fatal(err)
	}
	want(t, "entered late", showMoments(l.Moments(nil, 20)), "1@0; 1@20; 2@20; 0@40; 1@40; 0@60; 0@80")
}
