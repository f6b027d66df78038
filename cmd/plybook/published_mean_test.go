package main

import (
	"fmt"
	"math"
	"testing"
	"time"
)

// Bladder tumours with deaths: each man a limb with one socket, each
// recurrence a walk-in visit. A month is told as 10 days.
func TestPublishedBladderWithDeaths(t *testing.T) {
	t.Parallel()
	const month = 10
	l := &lab{}
	type man struct {
		treatment string
		exit      int
		died      bool
	}
	men, order := map[string]*man{}, []string(nil)
	begin := ymd(2016, time.February, 1)
	for _, r := range readRecords(t, "bladder1") {
		id := r["id"]
		if men[id] == nil {
			men[id] = &man{treatment: r["treatment"]}
			order = append(order, id)
		}
		m := men[id]
		m.exit = max(m.exit, r.whole(t, "stop")*month)
		switch r.whole(t, "status") {
		case 1:
			l.visits.add("socket", "S"+id, "date", begin+day(r.whole(t, "stop")*month), "purpose", "walk-in")
		case 2, 3:
			m.died = true
		}
	}
	for _, id := range order {
		m := men[id]
		limb := []any{"person", "P" + id, "side", "left", "level", "transtibial", "treatment", m.treatment}
		if m.died {
			limb = append(limb, "died", begin+day(m.exit))
		} else {
			limb = append(limb, "last seen", begin+day(m.exit))
		}
		l.limbs.add(limb...)
		l.sockets.add("socket", "S"+id, "limb", fmt.Sprintf("P%s-L", id), "kind", "definitive", "delivered", begin)
	}
	keys := []string{"method: mean-cumulative", "rows: limbs", "event: {purpose: walk-in}", "by: treatment", "times: [60d, 120d, 240d, 360d, 480d]"}
	n := runLog(t, l, oneWorkbook, ask(append([]string{"id: three"}, keys...)...)+
		ask(append([]string{"id: two", "keep: {treatment: [placebo, thiotepa]}"}, keys...)...), map[string]int{"open-at-death": 29})
	want := expected(t, "bladder1")
	a := n.answer(t, "three")
	if *a.Rows != 118 || *a.Events != 189 {
		t.Errorf("%d rows, %d events", *a.Rows, *a.Events)
	}
	z := 1.959963984540054
	for _, g := range []string{"placebo", "pyridoxine", "thiotepa"} {
		e := want.at(g)
		for i, at := range e.at("time").list() {
			r := a.row(t, "at_times", "group", g, "time", at*month)
			mean, se := e.at("mean").list()[i], e.at("std_error").list()[i]
			near(t, g+" mean", r["estimate"], mean, 1e-9)
			near(t, g+" standard error", r["std_error"], se, 1e-6)
			near(t, g+" low", r["low"], mean*math.Exp(-z*se/mean), 1e-6)
			near(t, g+" high", r["high"], mean*math.Exp(z*se/mean), 1e-6)
		}
		r := a.row(t, "rates", "group", g)
		near(t, g+" subjects", r["rows"], e.at("n").num(), 0)
		near(t, g+" events", r["events"], e.at("events").num(), 0)
	}
	e := want.at("placebo_rate")
	r := a.row(t, "rates", "group", "placebo")
	unit := 100 * 365.25 / month
	near(t, "rate", r["estimate"], e.at("estimate").num()*unit, 1e-9)
	near(t, "rate low", r["low"], e.at("low").num()*unit, 1e-9)
	near(t, "rate high", r["high"], e.at("high").num()*unit, 1e-9)
	e = want.at("placebo_thiotepa")
	r = n.answer(t, "two").row(t, "tests")
	near(t, "test", r["statistic"], e.at("chisq").num(), 1e-6)
	near(t, "test p", r["p"], e.at("p").num(), 1e-6)
}

// Valve seats: each engine a limb, each replacement a walk-in visit; no
// deaths. Two replacements of one day are two visits.
func TestPublishedValveSeats(t *testing.T) {
	t.Parallel()
	l := &lab{}
	begin := ymd(2020, time.January, 6)
	exit, order := map[string]int{}, []string(nil)
	for i, r := range readRecords(t, "valveseat") {
		id := r["id"]
		if _, ok := exit[id]; !ok {
			order = append(order, id)
		}
		exit[id] = max(exit[id], r.whole(t, "time"))
		if r.whole(t, "status") == 1 {
			l.visits.add("visit", fmt.Sprintf("V%d", i), "socket", "S"+id, "date", begin+day(r.whole(t, "time")), "purpose", "walk-in")
		}
	}
	for _, id := range order {
		l.limbs.add("person", "P"+id, "side", "right", "level", "transtibial", "last seen", begin+day(exit[id]))
		l.sockets.add("socket", "S"+id, "limb", fmt.Sprintf("P%s-R", id), "kind", "definitive", "delivered", begin)
	}
	n := runLog(t, l, plainCSV, ask("id: q", "method: mean-cumulative", "rows: limbs", "event: {purpose: walk-in}"), map[string]int{"look-alike-visit": 2})
	a, e := n.answer(t, "q"), expected(t, "valveseat").at("mcf", "r")
	if *a.Rows != 41 || *a.Events != 48 {
		t.Errorf("%d rows, %d events", *a.Rows, *a.Events)
	}
	for i, at := range e.at("time").list() {
		r := a.row(t, "curve", "time", at)
		for column, key := range map[string]string{"at_risk": "n_risk", "events": "n_event", "estimate": "mcf", "std_error": "robust_se", "low": "lower_log", "high": "upper_log"} {
			near(t, key, r[column], e.at(key).list()[i], 1e-8)
		}
	}
}
