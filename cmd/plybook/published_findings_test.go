package main

import (
	"fmt"
	"testing"
	"time"
)

// Wheeze of 537 children in Ohio, each asked at four ages, told as findings
// over the fibular head at four visits; and new cases of pleuropneumonia in 15
// herds of cattle, told as findings over the ischial tuberosity, an animal a
// visit. What is before the change is the younger two ages, and the first of
// the four periods.
//
// R 4.2.2, sandwich 3.0; the calls stand in testdata/published/visit_shares/make.R.
func TestPublishedFindingsMap(t *testing.T) {
	t.Parallel()
	l := &lab{}
	known := map[string]bool{}
	n := 0
	visit := func(person, level, region string, on day, ill bool) {
		if !known[person] {
			known[person] = true
			l.limbs.add("person", person, "side", []string{"left", "right"}[len(known)%2], "level", level, "limb", person+"-1")
			l.sockets.add("socket", "S"+person, "limb", person+"-1", "kind", "definitive", "delivered", ymd(2020, time.June, 1))
		}
		n++
		id := fmt.Sprintf("V%d", n)
		checked := "yes"
		if ill && n%2 == 0 {
			checked = "" // a finding says that somebody looked
		}
		l.visits.add("visit", id, "socket", "S"+person, "date", on, "purpose", "follow-up", "skin_checked", checked)
		switch {
		case ill:
			l.findings.add("visit", id, "region", region, "finding", "redness persisting")
		case n%5 == 0:
			l.findings.add("visit", id, "region", region, "finding", "none")
		}
	}
	for _, r := range readRecords(t, "ohio") {
		visit("C"+r["id"], "transtibial", "fibular head", ymd(2023+r.whole(t, "age"), time.March, 1), r.whole(t, "resp") == 1)
	}
	for _, r := range readRecords(t, "visit_shares") {
		for k := range r.whole(t, "size") {
			on := ymd(2021, time.January, 1) + day(k)
			if p := r.whole(t, "period"); p > 1 {
				on = ymd(2023, time.Month(p), 1) + day(k)
			}
			visit("H"+r["herd"], "transfemoral", "ischial tuberosity", on, k < r.whole(t, "incidence"))
		}
	}
	// Visits at which nobody looked count nowhere.
	for k := range 40 {
		l.visits.add("visit", fmt.Sprintf("N%d", k), "socket", "SC0", "date", ymd(2024, time.May, 1)+day(k), "purpose", "follow-up", "skin_checked", "no")
	}
	numbers := runLog(t, l, plainCSV, ask("id: map", "method: findings-map")+ask("id: ninety", "method: findings-map", "keep: {level: transtibial}", "confidence: 0.9")+
		ask("id: times", "method: findings-map", "change: 2023-01-01")+ask("id: other", "method: findings-map", "keep: {finding: ulcer}"), nil)
	want := expected(t, "visit_shares")
	same := func(a *numbersAnswer, set, level, period, region string, path ...string) {
		t.Helper()
		e := func(key string) float64 { return want.at(append(path, key)...).num() }
		r := a.row(t, "regions", "level", level, "period", period, "region", region)
		near(t, set+" visits with", r["visits_with"], e("with"), 0)
		near(t, set+" findings", r["findings"], e("with"), 0)
		near(t, set+" visits", r["visits_checked"], e("visits"), 0)
		near(t, set+" rate", r["per_100"], 100*e("share"), 1e-12)
		near(t, set+" low", r["low"], 100*e("low"), 1e-8)
		near(t, set+" high", r["high"], 100*e("high"), 1e-8)
		any := a.row(t, "levels", "level", level, "period", period)
		near(t, set+" persons", any["persons"], e("persons"), 0)
		near(t, set+" of any", any["low"], 100*e("low"), 1e-8)
	}
	a := numbers.answer(t, "map")
	same(a, "ohio", "transtibial", "all", "fibular head", "ohio")
	same(a, "herds", "transfemoral", "all", "ischial tuberosity", "cbpp")
	near(t, "visits", a.row(t, "levels", "level", "transtibial")["visits"], 2148+40, 0)
	r := a.row(t, "regions", "level", "transtibial")
	if r["bony"] != true || r["pressure"] != "sensitive" || r["drawn"] != true {
		t.Errorf("the fibular head: %v", r)
	}
	if r := a.row(t, "regions", "level", "transfemoral"); r["bony"] != true || r["pressure"] != "tolerant" {
		t.Errorf("the ischial tuberosity: %v", r)
	}
	same(numbers.answer(t, "ninety"), "ohio at 90%", "transtibial", "all", "fibular head", "ohio90")
	a = numbers.answer(t, "times")
	for _, c := range [][3]string{{"ohio_change", "transtibial", "fibular head"}, {"cbpp_change", "transfemoral", "ischial tuberosity"}} {
		same(a, c[0], c[1], "before", c[2], c[0], "before")
		same(a, c[0], c[1], "since", c[2], c[0], "since")
		r := a.row(t, "changes", "level", c[1], "region", c[2])
		near(t, c[0]+" difference", r["difference"], 100*want.at(c[0], "difference").num(), 1e-9)
		near(t, c[0]+" low", r["low"], 100*want.at(c[0], "low").num(), 1e-7)
		near(t, c[0]+" high", r["high"], 100*want.at(c[0], "high").num(), 1e-7)
	}
	// Nothing of the kind asked for, out of all visits looked at: binom.test.
	a = numbers.answer(t, "other")
	r = a.row(t, "levels", "level", "transtibial")
	near(t, "none", r["visits_with"], 0, 0)
	near(t, "of", r["visits_checked"], 2148, 0)
	if len(a.table(t, "regions")) != 0 {
		t.Errorf("regions without a finding: %v", a.Tables["regions"])
	}
}
