package main

import (
	"fmt"
	"testing"
	"time"
)

// Finkelstein and Wolfe 1985: 94 women seen at visits; deterioration told as
// a ply of 12 at the visit at which it was first seen. A month is told as 10
// days.
func TestPublishedCosmesis(t *testing.T) {
	t.Parallel()
	const month = 10
	l := &lab{}
	for i, r := range readRecords(t, "cosmesis") {
		delivered := ymd(2020, time.March, 2) + day(i*29%250)
		person, socket := fmt.Sprintf("P%d", i+1), fmt.Sprintf("S%d", i+1)
		l.limbs.add("person", person, "side", "left", "level", "transtibial")
		l.sockets.add("socket", socket, "limb", person+"-L", "kind", "definitive", "delivered", delivered,
			"chemo", map[string]string{"0": "no", "1": "yes"}[r["chemo"]])
		if left := r.whole(t, "left"); left > 0 {
			l.visits.add("socket", socket, "date", delivered+day(left*month/2), "purpose", "follow-up", "ply", 2)
			l.visits.add("socket", socket, "date", delivered+day(left*month), "purpose", "follow-up", "ply", 3)
		}
		if r["right"] != "" {
			l.visits.add("socket", socket, "date", delivered+day(r.whole(t, "right")*month), "purpose", "walk-in", "ply", 12)
		}
	}
	n := runLog(t, l, officeCSV, ask("id: q", "method: turnbull", "by: chemo", "event: {ply: 10..}", "times: [145d, 240d]", "quantiles: [0.5]"), nil)
	a, want := n.answer(t, "q"), expected(t, "cosmesis")
	if *a.Rows != 94 || *a.Events != 56 {
		t.Errorf("%d rows, %d events", *a.Rows, *a.Events)
	}
	for group, entry := range map[string]string{"no": "turnbull_chemo0", "yes": "turnbull_chemo1"} {
		e := want.at(entry, "r")
		rows := a.rowsOf(t, "intervals", "group", group)
		if len(rows) != len(e.at("mass").list()) {
			t.Fatalf("%s: %d stretches", group, len(rows))
		}
		for i, r := range rows {
			near(t, "left", r["left"], e.at("left").list()[i]*month, 0)
			near(t, "right", r["right"], e.at("right").list()[i]*month, 0)
			near(t, "mass", r["mass"], e.at("mass").list()[i], 1e-6)
			near(t, "share after", r["estimate"], e.at("surv_after").list()[i], 1e-6)
		}
	}
	for _, r := range a.table(t, "fit") {
		if r["kuhn_tucker"].(float64) > 1e-8 || r["self_consistency"].(float64) > 1e-8 || r["unique"] != "yes" || r["draws"] != 500.0 {
			t.Errorf("check of the curve: %v", r)
		}
	}
	// With chemotherapy the curve falls through one half between months 19
	// and 20; without, it is 0.466 only after month 40.
	r := a.row(t, "quantiles", "group", "yes")
	near(t, "median from", r["left"], 190, 0)
	near(t, "median to", r["right"], 200, 0)
	near(t, "median", r["estimate"], 195, 0)
	r = a.row(t, "quantiles", "group", "no")
	near(t, "median from", r["left"], 380, 0)
	near(t, "median to", r["right"], 400, 0)
	after := want.at("turnbull_chemo1", "r", "surv_after").list()
	r = a.row(t, "at_times", "group", "yes", "time", 145.0)
	near(t, "month 14.5", r["lowest"], after[2], 1e-6)
	near(t, "month 14.5", r["highest"], after[2], 1e-6)
	// A stretch runs from month 24 to 25.
	r = a.row(t, "at_times", "group", "yes", "time", 240.0)
	near(t, "month 24", r["highest"], after[5], 1e-6)
}
