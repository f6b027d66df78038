package main

import (
	"fmt"
	"math"
	"testing"
	"time"
)

// splitOf compares a Cox regression of split effects with an entry of the
// set split. parts are those of each term row, in order.
func splitOf(t *testing.T, a *numbersAnswer, e expectation, parts ...any) {
	t.Helper()
	rows := a.table(t, "terms")
	if len(rows) != len(parts) {
		t.Fatalf("%s: %d terms, want %d", a.ID, len(rows), len(parts))
	}
	for j, r := range rows {
		if r["part"] != parts[j] {
			t.Errorf("%s: row %d is of part %v, want %v", a.ID, j, r["part"], parts[j])
		}
		if e.has("robust_se") {
			near(t, a.ID+" robust error", r["robust_std_error"], e.at("robust_se").list()[j], iterated)
		}
	}
	plainOf(t, a, e, false)
}

func sameOf(t *testing.T, a *numbersAnswer, term string, stat, df float64) {
	t.Helper()
	r := a.row(t, "split_tests", "term", term)
	near(t, a.ID+" same", r["statistic"], stat, 10*iterated)
	near(t, a.ID+" df", r["df"], df, 0)
}

// The lung cancer trial: the Karnofsky score tells much at first and nothing
// later, as in the worked example of testdata/published/split.
func TestPublishedSplitInTime(t *testing.T) {
	t.Parallel()
	var lives []life
	for i, r := range readRecords(t, "veteran") {
		lives = append(lives, life{id: i + 1, days: r.whole(t, "time"), end: lastDay(i), how: ending(r.whole(t, "status")), serial: i,
			own: []any{"trt", r.whole(t, "trt"), "celltype", r["celltype"], "karno", r.whole(t, "karno"), "prior", r.whole(t, "prior"), "ward", fmt.Sprintf("W%d", r.whole(t, "age")/5)}})
	}
	l, _ := tell(lives)
	cell := func(id string, more ...string) string {
		return ask(append([]string{"id: " + id, "method: cox", "by: celltype", "adjust: [karno]", "reference: {celltype: smallcell}", "split: {celltype: 100d}"}, more...)...)
	}
	n := runLog(t, l, plainCSV, ask("id: karno", "method: cox", "adjust: [trt, prior, karno]", "split: {karno: [90d, 180d]}")+
		cell("cell")+cell("ward", "cluster: ward")+cell("breslow", "ties: breslow"), nil)
	want := expected(t, "split")
	a, e := n.answer(t, "karno"), want.at("karno")
	splitOf(t, a, e, nil, nil, "up to 90 days", "90 to 180 days", "after 180 days")
	for j, printed := range []float64{-0.011025, -0.006107, -0.048755, 0.008050, -0.008349} {
		if got := a.table(t, "terms")[j]["estimate"].(float64); math.Abs(got-printed) > 5e-7 {
			t.Errorf("the worked example prints %g, got %g", printed, got)
		}
	}
	sameOf(t, a, "karno", e.at("same").num(), 2)
	for k, r := range a.table(t, "proportionality") {
		near(t, "proportionality", r["statistic"], e.at("zph").list()[k], iterated)
	}
	for _, x := range []struct {
		part         string
		from, to     any
		rows, events float64
	}{{"up to 90 days", 0.0, 90.0, 137, 73}, {"90 to 180 days", 90.0, 180.0, 61, 30}, {"after 180 days", 180.0, nil, 27, 25}} {
		r := a.row(t, "split", "part", x.part)
		if r["from"] != x.from || r["to"] != x.to || r["rows"] != x.rows || r["events"] != x.events || r["number"] != nil {
			t.Errorf("%v", r)
		}
	}
	six := []any{"up to 100 days", "after 100 days", "up to 100 days", "after 100 days", "up to 100 days", "after 100 days", nil}
	for id, entry := range map[string]string{"cell": "cell", "ward": "cell_ward", "breslow": "cell_breslow"} {
		splitOf(t, n.answer(t, id), want.at(entry), six...)
		sameOf(t, n.answer(t, id), "celltype", want.at(entry, "same").num(), 3)
	}
}

// bladderLab tells the bladder tumours as limbs with walk-in visits. A month is
// told as 10 days. men are their numbers, in order.
func bladderLab(t *testing.T) (l *lab, men []string) {
	t.Helper()
	const month = 10
	l = &lab{}
	begin := ymd(2016, time.February, 1)
	exit, of := map[string]int{}, map[string]record{}
	for _, r := range readRecords(t, "bladder") {
		id := r["id"]
		if _, ok := of[id]; !ok {
			men = append(men, id)
		}
		of[id], exit[id] = r, max(exit[id], r.whole(t, "stop")*month)
		if r.whole(t, "event") == 1 {
			l.visits.add("socket", "S"+id, "date", begin+day(r.whole(t, "stop")*month), "purpose", "walk-in")
		}
	}
	for _, id := range men {
		r := of[id]
		l.limbs.add("person", "P"+id, "side", "left", "level", "transtibial", "rx2", r.whole(t, "rx")-1, "tumours", r.whole(t, "number"), "size", r.whole(t, "size"),
			"last seen", begin+day(exit[id]))
		l.sockets.add("socket", "S"+id, "limb", fmt.Sprintf("P%s-L", id), "kind", "definitive", "delivered", begin)
	}
	return l, men
}

// Wei, Lin and Weissfeld 1989 on the bladder tumours: a ratio for each
// recurrence, and the ratio drawn together.
func TestPublishedSplitByNumber(t *testing.T) {
	t.Parallel()
	cox := func(id, split string) string {
		return ask("id: "+id, "method: cox", "event: {purpose: walk-in}", "adjust: [rx2, tumours, size]", "repeats: marginal", "strata: [event_number]", "split: "+split)
	}
	l, _ := bladderLab(t)
	n := runLog(t, l, plainCSV, cox("rx", "{rx2: event_number}")+cox("all", "{rx2: event_number, tumours: event_number, size: event_number}"), nil)
	want := expected(t, "split")
	four := []any{"event 1", "event 2", "event 3", "event 4"}
	a, e := n.answer(t, "rx"), want.at("wlw_rx")
	splitOf(t, a, e, append(append([]any(nil), four...), nil, nil)...)
	sameOf(t, a, "rx2", e.at("same").num(), 3)
	r := a.row(t, "pooled", "term", "rx2")
	near(t, "drawn together", r["estimate"], e.at("pooled").list()[0], iterated)
	near(t, "its error", r["std_error"], e.at("pooled").list()[1], iterated)
	b, se := e.at("pooled").list()[0], e.at("pooled").list()[1]
	near(t, "its low", r["low"], math.Exp(b-1.959963984540054*se), iterated)
	near(t, "its p", r["p"], math.Erfc(math.Abs(b/se)/math.Sqrt2), tailP)
	for k, events := range []float64{47, 29, 22, 14} {
		if r := a.row(t, "split", "number", float64(k+1)); r["events"] != events || r["rows"] != 85.0 || r["from"] != nil {
			t.Errorf("%v", r)
		}
	}
	a, e = n.answer(t, "all"), want.at("wlw_all")
	splitOf(t, a, e, append(append(append([]any(nil), four...), four...), four...)...)
	for term, name := range map[string]string{"rx2": "rx2", "tumours": "number", "size": "size"} {
		sameOf(t, a, term, e.at("same_"+name).num(), 3)
		r := a.row(t, "pooled", "term", term)
		near(t, term, r["estimate"], e.at("pooled_" + name).list()[0], iterated)
		near(t, term+" error", r["std_error"], e.at("pooled_" + name).list()[1], iterated)
	}
}
