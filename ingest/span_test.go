package ingest

import (
	"fmt"
	"testing"
)

// Without visits a log's last delivery may lie years before the last end:
// many late ends are follow-up, few are slips in the year.
func TestFollowUpAfterTheLastDelivery(t *testing.T) {
	for _, c := range []struct {
		name        string
		late, early int
		aside       int
	}{
		{"one slip", 1, 30, 1},
		{"two slips", 2, 30, 2},
		{"a few of few", 3, 30, 0},
		{"a few of many", 3, 300, 3},
		{"most", 30, 10, 0},
	} {
		var anchors, ends []Date
		for i := range c.early + c.late {
			anchors = append(anchors, Date(17000+i%300))
			end := Date(17100 + i%300)
			if i < c.late {
				end = Date(18200 + i)
			}
			ends = append(ends, end)
		}
		s := findSpan(anchors, nil, Opt[Date]{})
		followed, aside := findFollowed(s, anchors, ends), 0
		for _, d := range ends {
			if d > followed+366 {
				aside++
			}
		}
		if followed < s.end || aside != c.aside {
			t.Errorf("%s: followed to %s (the log's own end is %s), %d set aside, want %d", c.name, followed, s.end, aside, c.aside)
		}
	}
}

// A single end far beyond such follow-up is a slip again.
func TestSlipAfterFollowUp(t *testing.T) {
	limbs, sockets := "person,side,level\n", "socket,limb,kind,delivered,ended,end_reason\n"
	for i := range 40 {
		limbs += fmt.Sprintf("P%d,left,TT\n", i)
		ended := fmt.Sprintf("%d-05-%02d", 2018+i%4, 1+i%28)
		if i == 7 {
			ended = "2029-05-08"
		}
		sockets += fmt.Sprintf("S%d,P%d-L,definitive,2017-%02d-03,%s,volume loss\n", i, i, 1+i%12, ended)
	}
	log := read(t, Options{}, writeText(t, "limbs.csv", limbs), writeText(t, "sockets.csv", sockets))
	late := problemsOf(log, CodeAfterEnd)
	if len(late) != 1 || late[0].Cell != "E9" || log.Last.Value.String() != "2021-05-28" {
		t.Errorf("problems %v, last day %s", found(log), log.Last.Value)
	}
}
