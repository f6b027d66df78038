package main

import (
	"fmt"
	"math"
	"testing"
)

// fitOf compares a Cox regression with the fit of an entry. names are those
// of the set for the terms, in order.
func fitOf(t *testing.T, a *numbersAnswer, e expectation, robust bool, names ...string) {
	t.Helper()
	f := e.at("fit")
	rows := a.table(t, "terms")
	if len(rows) != len(names) {
		t.Fatalf("%s: %d terms, want %d", a.ID, len(rows), len(names))
	}
	for j, n := range names {
		what := a.ID + " " + n
		for column, key := range map[string]string{"estimate": "coef", "std_error": "se", "z": "z", "ratio": "hr", "low": "hr_lower95", "high": "hr_upper95"} {
			near(t, what+" "+key, rows[j][column], f.at(key, n).num(), printed)
		}
		near(t, what+" p", rows[j]["p"], f.at("p", n).num(), tailP)
		if robust {
			near(t, what+" robust", rows[j]["robust_std_error"], f.at("robust_se", n).num(), printed)
		} else if _, has := rows[j]["robust_std_error"]; has {
			t.Errorf("%s has a robust error", what)
		}
	}
	r := a.row(t, "fit")
	near(t, a.ID+" rows", r["rows"], f.at("n").num(), 0)
	near(t, a.ID+" events", r["events"], f.at("nevent").num(), 0)
	near(t, a.ID+" log likelihood", r["log_likelihood"], f.at("loglik", "model").num(), printed)
	near(t, a.ID+" null log likelihood", r["log_likelihood_null"], f.at("loglik", "null").num(), printed)
	near(t, a.ID+" score", r["score"], f.at("score", "stat").num(), printed)
	near(t, a.ID+" concordance", r["concordance"], f.at("concordance", "C").num(), printed)
	if robust {
		near(t, a.ID+" robust score", r["robust_score"], f.at("robust_score", "stat").num(), printed)
	}
}

// Stanford heart transplants, a socket for each person. Whether the heart
// was transplanted is an own column of visits: no on the day of delivery,
// yes from the day of the transplant on. Times are doubled, one being a half.
func TestPublishedHeartVarying(t *testing.T) {
	t.Parallel()
	last := map[int]record{}
	var order []int
	moved := map[int]int{}
	for _, r := range readRecords(t, "heart") {
		id := r.whole(t, "id")
		if _, ok := last[id]; !ok {
			order = append(order, id)
		}
		last[id] = r
		if r["transplant"] == "1" {
			moved[id] = int(2 * r.num(t, "start"))
		}
	}
	var lives []life
	for i, id := range order {
		r := last[id]
		days := int(2 * r.num(t, "stop"))
		lives = append(lives, life{id: id, days: days, end: ymd(2012, 5, 1) + day(id*37%300) + day(days), how: ending(r.whole(t, "event")), serial: i,
			own: []any{"age", r.num(t, "age"), "year", r.num(t, "year"), "surgery", r.whole(t, "surgery")}})
	}
	l, _ := tell(lives)
	for _, x := range lives {
		socket, begin := fmt.Sprintf("S%dL", x.id), x.end-day(x.days)
		l.visits.add("visit", fmt.Sprintf("D%d", x.id), "socket", socket, "date", begin, "time", "08:00", "purpose", "delivery", "transplant", 0)
		if after, ok := moved[x.id]; ok {
			l.visits.add("visit", fmt.Sprintf("T%d", x.id), "socket", socket, "date", begin+day(after), "time", "09:00", "purpose", "follow-up", "transplant", 1)
		}
	}
	cox := func(id string, more ...string) string {
		return ask(append([]string{"id: " + id, "method: cox", "varying: [transplant]"}, more...)...)
	}
	all := "adjust: [own.age, year, surgery]"
	n := runLog(t, l, oneWorkbook, cox("efron", all)+cox("breslow", all, "ties: breslow")+cox("cluster", all, "cluster: person")+
		cox("products", "adjust: [own.age, surgery]", "interact: [[own.age, transplant], [surgery, transplant]]"), nil)
	want := expected(t, "heart")
	four := []string{"age", "year", "surgery", "transplant"}
	fitOf(t, n.answer(t, "efron"), want.at("cox_tv_efron"), false, four...)
	fitOf(t, n.answer(t, "breslow"), want.at("cox_tv_breslow"), false, four...)
	fitOf(t, n.answer(t, "cluster"), want.at("cox_cluster"), true, four...)
	fitOf(t, n.answer(t, "products"), want.at("cox_interaction"), false, "age", "surgery", "transplant", "age_tx", "surg_tx")
	proportionalityOf(t, n.answer(t, "products"), want.at("zph", "r", "table").matrix())
	a := n.answer(t, "efron")
	if *a.Rows != 103 || *a.Events != 75 {
		t.Errorf("%d rows, %d events", *a.Rows, *a.Events)
	}
	r := a.row(t, "changes", "term", "transplant")
	near(t, "changes", r["changes"], 69, 0)
	near(t, "with a value", r["rows"], 103, 0)
}

// Bladder tumours, up to four recurrences: each man a limb with one socket,
// each recurrence a walk-in visit. A month is told as 10 days.
func TestPublishedBladderRepeats(t *testing.T) {
	t.Parallel()
	l, order := bladderLab(t)
	cox := func(id, repeats string, more ...string) string {
		return ask(append([]string{"id: " + id, "method: cox", "event: {purpose: walk-in}", "adjust: [rx2, tumours, size]", "repeats: " + repeats}, more...)...)
	}
	n := runLog(t, l, plainCSV, cox("total", "total-time")+cox("numbered", "total-time", "strata: [event_number]")+cox("gaps", "gap-time", "strata: [event_number]")+
		cox("gap", "gap-time")+cox("marginal", "marginal", "strata: [event_number]")+cox("sockets", "total-time", "rows: sockets")+
		cox("gamma", "total-time", "frailty: gamma")+cox("normal", "total-time", "rows: persons", "frailty: log-normal"), nil)
	want := expected(t, "bladder")
	for id, entry := range map[string]string{"total": "andersen_gill", "numbered": "pwp_total", "gaps": "pwp_gap", "marginal": "wlw_common", "sockets": "andersen_gill"} {
		a := n.answer(t, id)
		fitOf(t, a, want.at(entry), true, "rx2", "number", "size")
		if *a.Rows != 85 || *a.Events != 112 {
			t.Errorf("%s: %d rows, %d events", id, *a.Rows, *a.Events)
		}
	}
	plainOf(t, n.answer(t, "gap"), expected(t, "counting").at("gap"), true)
	// The set lists the men by number.
	man := func(k int) string { return "P" + order[k] }
	three := []string{"rx2", "tumours", "size"}
	sharedOf(t, n.answer(t, "gamma"), frailtyExpected(t).at("bladder_gamma"), three, man)
	sharedOf(t, n.answer(t, "normal"), frailtyExpected(t).at("bladder_lognormal"), three, man)
	r := n.answer(t, "numbered").rowsOf(t, "events_by_number")
	var events []any
	for _, x := range r {
		events = append(events, x["events"])
	}
	if fmt.Sprint(events) != "[47 29 22 14]" {
		t.Errorf("events by number %v", events)
	}
}

// plainOf compares the estimates with an entry of the set counting.
func plainOf(t *testing.T, a *numbersAnswer, e expectation, robust bool) {
	t.Helper()
	for j, r := range a.table(t, "terms") {
		near(t, a.ID+" estimate", r["estimate"], e.at("coef").list()[j], iterated)
		near(t, a.ID+" error", r["std_error"], e.at("se").list()[j], iterated)
		if robust {
			near(t, a.ID+" robust error", r["robust_std_error"], e.at("robust_se").list()[j], iterated)
		}
	}
	r := a.row(t, "fit")
	near(t, a.ID+" null", r["log_likelihood_null"], e.at("loglik").list()[0], iterated)
	near(t, a.ID+" log likelihood", r["log_likelihood"], e.at("loglik").list()[1], iterated)
	near(t, a.ID+" score", r["score"], e.at("score").num(), iterated)
	near(t, a.ID+" concordance", r["concordance"], e.at("concordance").list()[0], iterated)
}

// The lung cancer trial with weights and an offset.
func TestPublishedVeteranWeights(t *testing.T) {
	t.Parallel()
	var once, often []life
	for i, r := range readRecords(t, "veteran") {
		age := r.whole(t, "age")
		w := 1 + age%3
		x := life{id: i + 1, days: r.whole(t, "time"), end: lastDay(i), how: ending(r.whole(t, "status")), serial: i,
			own: []any{"karno", r.whole(t, "karno"), "age", age, "stands for", w, "shift", math.Round(r.num(t, "diagtime")*20) / 1000}}
		once = append(once, x)
		for k := range w {
			x.id = 1000*k + i + 1
			often = append(often, x)
		}
	}
	l, _ := tell(once)
	cox := func(id string, more ...string) string {
		return ask(append([]string{"id: " + id, "method: cox", "adjust: [karno, own.age]"}, more...)...)
	}
	n := runLog(t, l, plainCSV, cox("weights", "weights: stands for")+cox("breslow", "weights: stands for", "ties: breslow")+cox("offset", "offset: shift"), nil)
	want := expected(t, "counting")
	plainOf(t, n.answer(t, "weights"), want.at("repeated"), false)
	plainOf(t, n.answer(t, "breslow"), want.at("weights_breslow"), false)
	plainOf(t, n.answer(t, "offset"), want.at("offset"), false)
	if a := n.answer(t, "weights"); *a.Rows != 137 || *a.Events != 128 {
		t.Errorf("%d rows, %d events", *a.Rows, *a.Events)
	}
	// A row of weight 2 equals two rows.
	l, _ = tell(often)
	twice := runLog(t, l, plainCSV, cox("often"), nil).answer(t, "often")
	plainOf(t, twice, want.at("repeated"), false)
}
