package main

import (
	"fmt"
	"math"
	"testing"
	"time"
)

// monthly is a log of one socket with visits in consecutive months; add puts
// one on the k-th of n days spread over the month, the last of them on its
// last day, so that the last month is complete.
type monthly struct {
	*lab
	t     testing.TB
	start day
}

func newMonthly(t testing.TB) *monthly {
	l := &lab{}
	l.limbs.add("person", "P1", "side", "left", "level", "transtibial")
	l.sockets.add("socket", "S1", "limb", "P1-L", "kind", "definitive", "delivered", ymd(2019, time.December, 1))
	return &monthly{l, t, ymd(2020, time.January, 1)}
}

func (m *monthly) add(month, k, n int, pairs ...any) {
	first := ymd(2020, time.January+time.Month(month), 1)
	days := int(ymd(2020, time.January+time.Month(month)+1, 1) - first)
	at := first + day(days*(k+1)/n-1)
	if days*(k+1) < n {
		at = first
	}
	m.visits.add(append([]any{"socket", "S1", "date", at, "time", fmt.Sprintf("%02d:%02d", 8+k/60, k%60)}, pairs...)...)
}

// Defects on wafers (NIST e-Handbook): a month a wafer, a visit a defect, and
// one visit more that shows that the month was kept.
func TestPublishedWafers(t *testing.T) {
	t.Parallel()
	l := newMonthly(t)
	rows := readRecords(t, "wafer_c")
	for i, r := range rows {
		n := r.whole(t, "defects")
		for k := range n {
			l.add(i, k, n+1, "purpose", "walk-in")
		}
		l.add(i, n, n+1, "purpose", "follow-up")
	}
	n := runLog(t, l.lab, plainCSV, ask("id: c", "method: control-chart", "rows: visits", "chart: c", "numerator: {purpose: walk-in}"), nil)
	want := expected(t, "wafer_c").at("c_chart")
	points := n.answer(t, "c").table(t, "points")
	if len(points) != len(rows) {
		t.Fatalf("%d points", len(points))
	}
	for i, r := range rows {
		p := points[i]
		near(t, "value", p["value"], r.num(t, "defects"), 0)
		near(t, "centre", p["centre"], want.at("center").num(), closed)
		near(t, "upper", p["upper"], want.at("ucl").num(), closed)
		near(t, "lower", p["lower"], want.at("lcl").num(), closed)
		if got := p["signal"] == "beyond-limits"; got != (float64(i+1) == want.at("out_of_control").list()[0]) {
			t.Errorf("wafer %d: signal %v", i+1, p["signal"])
		}
	}
}

// Personal computers (Montgomery): a month a sample, five follow-ups for its
// computers, a walk-in for each nonconformity; with an exposure that is
// summed, 5 computers stand in five visits.
func TestPublishedComputers(t *testing.T) {
	t.Parallel()
	l := newMonthly(t)
	rows := readRecords(t, "pc_u")
	for i, r := range rows {
		n, units := r.whole(t, "nonconf"), r.whole(t, "units")
		for k := range n {
			l.add(i, k, n+units, "purpose", "walk-in", "computers", 0.0)
		}
		for k := range units {
			l.add(i, n+k, n+units, "purpose", "follow-up", "computers", 1.0)
		}
	}
	n := runLog(t, l.lab, plainCSV, ask("id: rows", "method: control-chart", "rows: visits", "chart: u", "numerator: {purpose: walk-in}", "denominator: {purpose: follow-up}")+
		ask("id: summed", "method: control-chart", "rows: visits", "numerator: {purpose: walk-in}", "exposure: computers"), nil)
	want := expected(t, "pc_u").at("u_chart")
	for _, id := range []string{"rows", "summed"} {
		a := n.answer(t, id)
		points := a.table(t, "points")
		if len(points) != len(rows) || len(a.table(t, "signals")) != 0 {
			t.Fatalf("%s: %d points, signals %v; the book has none", id, len(points), a.table(t, "signals"))
		}
		for i, r := range rows {
			near(t, id+" value", points[i]["value"], r.num(t, "nonconf")/5, closed)
			near(t, id+" centre", points[i]["centre"], want.at("center").num(), closed)
			near(t, id+" upper", points[i]["upper"], want.at("ucl").num(), closed)
			near(t, id+" lower", points[i]["lower"], want.at("lcl").num(), closed)
		}
		if got := a.row(t, "chart")["chart"]; got != "u" {
			t.Errorf("%s: a %v chart", id, got)
		}
	}
}

// Counts and times between events, R 4.2.2 (testdata/published/between_events):
// a visit a day, or a walk-in each so many days.
func TestPublishedBetweenEvents(t *testing.T) {
	t.Parallel()
	want := expected(t, "between_events")
	l := newMonthly(t)
	at := l.start
	visit := func(purpose string) {
		l.visits.add("socket", "S1", "date", at, "purpose", purpose)
		at++
	}
	visit("walk-in")
	for _, g := range want.at("g", "between").list() {
		for range int(g) {
			visit("follow-up")
		}
		visit("walk-in")
	}
	last := at
	for _, d := range append([]float64{1}, want.at("t", "days").list()...) {
		last += day(d)
		l.visits.add("socket", "S1", "date", last-1, "purpose", "delivery")
	}
	n := runLog(t, l.lab, plainCSV, ask("id: g", "method: control-chart", "rows: visits", "chart: g", "keep: {purpose: [walk-in, follow-up]}", "numerator: {purpose: walk-in}")+
		ask("id: t", "method: control-chart", "rows: visits", "chart: t", "numerator: {purpose: delivery}"), nil)
	g := n.answer(t, "g")
	for i, x := range want.at("g", "between").list() {
		p := g.table(t, "points")[i]
		near(t, "between", p["value"], x, 0)
		near(t, "centre of g", p["centre"], want.at("g", "median").list()[0], closed)
		near(t, "upper of g", p["upper"], want.at("g", "upper").list()[0], 0)
		near(t, "lower of g", p["lower"], want.at("g", "lower").list()[0], 0)
	}
	near(t, "mean of g", g.row(t, "phases")["mean"], want.at("g", "mean").list()[0], closed)
	for i, x := range want.at("t", "days").list() {
		p := n.answer(t, "t").table(t, "points")[i]
		near(t, "days", p["value"], x, 0)
		near(t, "centre of t", p["centre"], want.at("t", "centre").list()[0], closed)
		near(t, "upper of t", p["upper"], want.at("t", "upper").list()[0], closed)
		near(t, "lower of t", p["lower"], want.at("t", "lower").list()[0], closed)
	}
}

// The limits of the run rules of n = 10 to 60 points, through the command: one
// chart of as many months, none of them on its mean.
func TestPublishedRunLimits(t *testing.T) {
	t.Parallel()
	l := newMonthly(t)
	var asks string
	for i := range 60 {
		l.add(i, 0, 1, "flow", float64(10+3*(i%2)*(1+i%3))+float64(i)/1000)
	}
	for n := 10; n <= 60; n++ {
		asks += ask(fmt.Sprintf("id: n%d", n), "method: control-chart", "rows: visits", "chart: xmr", "outcome: flow",
			fmt.Sprintf("keep: {date: ..%s}", ymd(2020, time.January+time.Month(n), 0).time().Format("2006-01-02")))
	}
	got := runLog(t, l.lab, plainCSV, asks, nil)
	for n := 10; n <= 60; n++ {
		// The smallest k with P(X <= k) >= 0.05, X binomial of n-1 trials of one half.
		sum, term, k := 0.0, math.Pow(0.5, float64(n-1)), -1
		for sum < 0.05 {
			k++
			sum += term
			term *= float64(n-1-k) / float64(k+1)
		}
		r := got.answer(t, fmt.Sprintf("n%d", n)).row(t, "rules")
		near(t, "off the centre", r["off_centre"], float64(n), 0)
		near(t, "longest by chance", r["longest_by_chance"], math.Round(math.Log2(float64(n))+3), 0)
		near(t, "fewest by chance", r["fewest_by_chance"], float64(k), 0)
	}
}

// A series with a step, a bend, a season and errors that lean on one another:
// lm, sandwich::NeweyWest and nlme::gls, R 4.2.2 (testdata/published/segmented).
func TestPublishedSegmented(t *testing.T) {
	t.Parallel()
	l := newMonthly(t)
	for i, r := range readRecords(t, "segmented") {
		for k := range r.whole(t, "rows") {
			purpose := "follow-up"
			if i == 9 || i == 31 {
				purpose = "walk-in" // what the series with gaps leaves out
			}
			l.add(i, k, r.whole(t, "rows"), "purpose", purpose, "flow", r.num(t, "value"))
		}
	}
	series := []string{"method: segmented", "rows: visits", "outcome: flow", "change: 2022-02-01"}
	n := runLog(t, l.lab, plainCSV, ask(append([]string{"id: weighted", "seasonal: no", "errors: newey-west"}, series...)...)+
		ask(append([]string{"id: season", "times: [6m]"}, series...)...)+ask(append([]string{"id: gaps", "keep: {purpose: follow-up}"}, series...)...), nil)
	for _, id := range []string{"weighted", "season", "gaps"} {
		want, a := expected(t, "segmented").at(id), n.answer(t, id)
		coef, nw, gls, glsError := want.at("coef").list(), []float64(nil), want.at("gls").list(), want.at("gls_std_error").list()
		fit := a.row(t, "fit")
		if want.has("newey_west") {
			nw = want.at("newey_west").list()
		}
		near(t, id+" rho", fit["rho"], want.at("gls_rho").list()[0], 2e-5)
		near(t, id+" sigma", fit["sigma"], want.at("sigma").list()[0], closed)
		near(t, id+" lag", fit["lag"], want.at("lag").list()[0], 0)
		for i, name := range []string{"intercept", "slope_before", "level_change", "slope_change"} {
			term := a.row(t, "terms", "term", name)
			if id == "weighted" {
				near(t, name, term["estimate"], coef[i], closed)
				near(t, name+" error", term["std_error"], nw[i], closed)
			} else {
				// nlme stops where its likelihood no longer changes.
				near(t, id+" "+name, term["estimate"], gls[i], 2e-5)
				near(t, id+" "+name+" error", term["std_error"], glsError[i], 2e-5)
			}
			if i < 2 {
				continue
			}
			for kind, v := range map[string][2][]float64{"newey-west": {coef, nw}, "autoregressive": {gls, glsError}, "independent": {coef, want.at("std_error").list()}} {
				e := a.row(t, "errors", "errors", kind, "term", name)
				tol := 1e-8
				if kind == "autoregressive" {
					tol = 2e-5
				}
				near(t, id+" "+kind+" "+name, e["estimate"], v[0][i], tol)
				if v[1] != nil {
					near(t, id+" "+kind+" "+name+" error", e["std_error"], v[1][i], tol)
				}
			}
		}
	}
	near(t, "slope since", n.answer(t, "weighted").row(t, "terms", "term", "slope_since")["std_error"], expected(t, "segmented").at("weighted", "slope_after_newey_west").list()[0], closed)
	e := n.answer(t, "season").row(t, "effects", "periods_since", 6.0)
	gls := expected(t, "segmented").at("season", "gls").list()
	near(t, "effect after half a year", e["estimate"], gls[2]+6*gls[3], 2e-5)
}
