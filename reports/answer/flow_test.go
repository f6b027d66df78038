package answer_test

import (
	"strings"
	"testing"
)

// Persons, limbs and sockets along the steps, counted by hand: P1 has two
// limbs, P2 three sockets on one, P3 a socket that was never delivered, P4
// only a check socket.
func TestFlowCountsPersonsLimbsAndSockets(t *testing.T) {
	s := sheets{
		"limbs": limbsHead + "P1,P1L,left,TT,,\nP1,P1R,right,TT,,\nP2,P2L,left,TT,,\nP3,P3L,left,TT,,\nP4,P4L,left,TT,,\n",
		"sockets": socketsHead +
			"S1,P1L,definitive,2023-01-01,,,,,\nS2,P1R,definitive,2023-02-01,,2023-06-01,remake: growth,,\n" +
			"S3,P2L,definitive,2023-01-01,,2023-03-01,remake: growth,,\nS4,P2L,definitive,2023-03-01,,,,,\nS5,P2L,definitive,2023-05-01,,,,,\n" +
			"S6,P3L,definitive,,,,,,\nS7,P4L,check,,,,,,\n",
	}
	a := one(t, s, "audience: quality\nto: 2023-12-31\nlog_since: 2023-03-15", "method: flow\nkeep: {kind: definitive}\nevent: remake")
	steps := table(t, a, "steps")
	want(t, row(t, steps, "step", "rows in the log"), "rows", 7, "persons", 4, "limbs", 5, "sockets", 7)
	want(t, row(t, steps, "step", "chosen for this question"), "rows", 6, "excluded", 1, "persons", 3, "limbs", 4, "sockets", 6)
	want(t, row(t, steps, "step", "with a known start"), "rows", 5, "excluded", 1, "persons", 2, "limbs", 3, "sockets", 5)
	want(t, row(t, steps, "step", "under observation"), "rows", 4, "excluded", 1, "persons", 2, "limbs", 3, "sockets", 4)
	if f := a.Figures[0]; !strings.Contains(f.Long, "2 persons and 3 limbs") {
		t.Errorf("the figure in words: %s", f.Long)
	}

	// Where small counts are hidden, no number left tells one by its
	// difference from another.
	b := one(t, s, "audience: annual\nto: 2023-12-31", "method: flow\nkeep: {kind: definitive}\nevent: remake")
	for _, r := range table(t, b, "steps").Rows {
		for _, v := range r[4:] {
			if v != nil {
				t.Errorf("a report that hides counts below 11 tells %v in %v", v, r)
			}
		}
	}

	// Of persons there is nothing else to count; of visits there is all.
	p := one(t, s, "audience: quality", "method: flow\nrows: persons")
	for _, r := range table(t, p, "steps").Rows {
		if r[4] != 4 || r[5] != nil || r[6] != nil {
			t.Errorf("persons: %v", r)
		}
	}
}
