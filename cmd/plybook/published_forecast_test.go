package main

import (
	"fmt"
	"math"
	"testing"
	"time"
)

// Drivers of vans killed by month, which Harvey and Fernandes analyse, told as
// visits: R 4.2.2, dnbinom and optim (testdata/published/van_drivers).
func TestPublishedVanDrivers(t *testing.T) {
	t.Parallel()
	l := &lab{}
	l.limbs.add("Person", "N1", "Side", "L", "Level", "BK", "Amputated", ymd(1960, time.March, 1))
	l.sockets.add("Socket", "J1", "Limb", "N1-L", "Kind", "def", "Delivered", ymd(1968, time.March, 1))
	years := map[int]int{}
	for _, r := range readRecords(t, "van_drivers") {
		for k := range r.whole(t, "killed") {
			l.visits.add("Visit", fmt.Sprintf("V%s-%s-%d", r["year"], r["month"], k), "Socket", "J1", "Date", ymd(r.whole(t, "year"), time.Month(r.whole(t, "month")), 1+k), "Purpose", "F/U")
		}
		years[r.whole(t, "year")] += r.whole(t, "killed")
	}
	// The log's last row must close its last month.
	l.visits.add("Visit", "end", "Socket", "J1", "Date", ymd(1984, time.December, 31), "Purpose", "walk-in")
	block := func(id string, more ...string) string {
		return ask(append([]string{"id: " + id, "method: forecast", "rows: visits", "keep: {purpose: follow-up}"}, more...)...)
	}
	n := runLog(t, l, plainCSV, block("level", "seasonal: no")+block("season")+block("trend", "course: trend"), nil)
	for _, id := range []string{"level", "season", "trend"} {
		want, a := expected(t, "van_drivers").at(id), n.answer(t, id)
		fit := a.row(t, "fit")
		// optim stops where the likelihood no longer gains.
		near(t, id+" omega", fit["omega"], want.at("omega").num(), 1e-5)
		near(t, id+" log likelihood", fit["log_likelihood"], want.at("log_likelihood").num(), 1e-9)
		near(t, id+" level", fit["level"], want.at("level").num(), 1e-5)
		near(t, id+" periods", fit["periods"], 191, 0)
		errors := want.at("std_error").list()
		for j, coef := range want.at("coef").list() {
			name := []string{"season_cos", "season_sin", "slope"}[j]
			r := a.row(t, "terms", "term", name)
			near(t, id+" "+name, r["estimate"], coef, 2e-5)
			near(t, id+" error of "+name, r["std_error"], errors[j], 1e-4)
			if name == "slope" {
				near(t, "growth a year", r["ratio"], math.Exp(coef), 2e-5)
			}
		}
		s := a.rowsOf(t, "stretches", "foretold", false)
		near(t, "deaths of 1984", s[len(s)-1]["value"], float64(years[1984]), 0)
	}
}

// The same months by least squares on time and the seat-belt law, with the
// errors of Newey and West: lm and sandwich::NeweyWest, R 4.2.2. The rows
// stand in the log in another order.
func TestPublishedNeweyWestVanDrivers(t *testing.T) {
	t.Parallel()
	l := &lab{}
	l.limbs.add("Person", "N1", "Side", "L", "Level", "BK", "Amputated", ymd(1960, time.March, 1))
	l.sockets.add("Socket", "J1", "Limb", "N1-L", "Kind", "def", "Delivered", ymd(1968, time.March, 1))
	months := readRecords(t, "van_drivers")
	for i := range months {
		k := i * 35 % len(months) // 35 and 192 share no factor: every month once
		r := months[k]
		l.visits.add("Socket", "J1", "Date", ymd(r.whole(t, "year"), time.Month(r.whole(t, "month")), 1), "Purpose", "F/U", "killed", r.num(t, "killed"), "months", k, "law", r.num(t, "law"))
	}
	a := runLog(t, l, plainCSV, ask("id: near", "method: linear", "rows: visits", "outcome: killed", "adjust: [months, law]", "errors: newey-west"), nil).answer(t, "near")
	want := expected(t, "van_drivers").at("linear")
	for j, name := range []string{"intercept", "months", "law"} {
		r := a.row(t, "terms", "term", name)
		near(t, name, r["estimate"], want.at("coef").list()[j], closed)
		near(t, "error of "+name, r["std_error"], want.at("newey_west").list()[j], closed)
		near(t, "degrees of freedom", r["df"], 189, 0)
	}
	if got := a.row(t, "fit")["errors"]; got != "Newey-West" {
		t.Errorf("errors by %v", got)
	}
}
