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

// Low birth weights by race, against the overall share, the share of smokers
// and others, and a logistic model: exact limits of unequal trials, R 4.2.2
// (testdata/published/funnel).
func TestPublishedFunnel(t *testing.T) {
	t.Parallel()
	l := &lab{}
	for i, r := range readRecords(t, "funnel") {
		who := fmt.Sprintf("P%d", i+1)
		l.limbs.add("person", who, "side", "left", "level", "transtibial")
		l.sockets.add("socket", fmt.Sprintf("S%d", i+1), "limb", who+"-L", "kind", "definitive", "delivered", ymd(2024, time.January, 1)+day(i),
			"low", []string{"no", "yes"}[r.whole(t, "low")], "years", r.num(t, "age"), "lwt", r.num(t, "lwt"), "race", r["race"], "smoke", r["smoke"], "ht", r["ht"])
	}
	units := []string{"method: funnel", "rows: sockets", "by: race", "numerator: {low: yes}"}
	n := runLog(t, l, plainCSV, ask(append([]string{"id: plain"}, units...)...)+ask(append([]string{"id: strata", "strata: smoke"}, units...)...)+
		ask(append([]string{"id: model", "adjust: [years, lwt, ht]"}, units...)...), nil)
	var v map[string]any
	readJSON(t, published+"/funnel/units.json", &v)
	for _, id := range []string{"plain", "strata", "model"} {
		want, a := expectation{t, id, v}.at(id), n.answer(t, id)
		tol := closed
		if id == "model" {
			tol = iterated
		}
		for i, unit := range want.at("unit").words() {
			r := a.row(t, "units", "unit", unit)
			e := want.at("expected").list()[i]
			near(t, id+" rows of "+unit, r["rows"], want.at("rows").list()[i], 0)
			near(t, id+" observed of "+unit, r["observed"], want.at("observed").list()[i], 0)
			near(t, id+" expected of "+unit, r["expected"], e, tol)
			near(t, id+" ratio of "+unit, r["ratio"], want.at("observed").list()[i]/e, tol)
			for _, limit := range []string{"lower_95", "upper_95", "lower_998", "upper_998"} {
				near(t, id+" "+limit+" of "+unit, r[limit], want.at(limit).list()[i]/e, math.Max(tol, 1e-7))
			}
			if r["place"] != "within" {
				t.Errorf("%s: %s lies %v", id, unit, r["place"])
			}
		}
	}
}

// Units of 50 to 500 rows with a share of 0.1: binomial quantiles, R 4.2.2;
// units of which fewer than 5 are expected are not shown.
func TestPublishedFunnelQuantiles(t *testing.T) {
	t.Parallel()
	var v struct{ R map[string][]float64 }
	var raw map[string]any
	readJSON(t, published+"/funnel/limits.json", &raw)
	v.R = map[string][]float64{}
	for k, x := range raw["r"].(map[string]any) {
		if l, ok := x.([]any); ok {
			v.R[k] = floats(t, k, l)
		}
	}
	l := &lab{}
	l.limbs.add("person", "P1", "side", "left", "level", "transtibial")
	l.sockets.add("socket", "S1", "limb", "P1-L", "kind", "definitive", "delivered", ymd(2020, time.January, 1))
	sizes := append([]float64{15}, v.R["n"]...) // 950 rows in all, 95 of them walk-ins
	row := 0
	for _, n := range sizes {
		for range int(n) {
			purpose := "follow-up"
			if row%10 == 0 {
				purpose = "walk-in"
			}
			row++
			l.visits.add("socket", "S1", "date", ymd(2020, time.January, 2)+day(row), "purpose", purpose, "place", fmt.Sprintf("u%g", n))
		}
	}
	n := runLog(t, l, plainCSV, ask("id: f", "method: funnel", "rows: visits", "by: place", "numerator: {purpose: walk-in}"), nil)
	a := n.answer(t, "f")
	near(t, "share", a.row(t, "fit")["share"], 0.1, closed)
	if got := len(a.table(t, "units")); got != 4 {
		t.Fatalf("%d units are shown", got)
	}
	for i, size := range v.R["n"] {
		if size < 50 {
			continue
		}
		r := a.row(t, "units", "unit", fmt.Sprintf("u%g", size))
		for limit, prob := range map[string]string{"lower_95": "0.025", "upper_95": "0.975", "lower_998": "0.001", "upper_998": "0.999"} {
			number := r[limit].(float64) * r["expected"].(float64)
			at := v.R["spiegelhalter_"+prob][i] * size
			if limit[0] == 'u' {
				at++
			}
			near(t, fmt.Sprintf("%s of %g", limit, size), number, math.Max(0, at), 1e-8)
		}
	}
}

// Cumulative sums of 60 cases by formula, and average run lengths by a Markov
// chain, R 4.2.2 (testdata/published/cumulative_sum): a case a day.
func TestPublishedCumulativeSum(t *testing.T) {
	t.Parallel()
	want := expected(t, "cumulative_sum")
	l := &lab{}
	l.limbs.add("person", "P1", "side", "left", "level", "transtibial")
	l.sockets.add("socket", "S1", "limb", "P1-L", "kind", "definitive", "delivered", ymd(2020, time.January, 1))
	for i, e := range want.at("events").list() {
		l.visits.add("socket", "S1", "date", ymd(2020, time.February, 1)+day(i), "purpose", []string{"follow-up", "walk-in"}[int(e)], "place", []string{"a", "b", "b"}[i%3])
	}
	sum := []string{"method: cumulative-sum", "rows: visits", "numerator: {purpose: walk-in}"}
	n := runLog(t, l, plainCSV, ask(append([]string{"id: constant", "expected: 10%", "false_alarm: 462d"}, sum...)...)+
		ask(append([]string{"id: strata", "strata: place", "odds_ratio: 3", "false_alarm: 1y"}, sum...)...), nil)
	for _, id := range []string{"constant", "strata"} {
		points := n.answer(t, id).table(t, "points")
		for k, p := range points {
			if k > 0 && points[k-1]["signal"] != nil {
				if k < 15 {
					t.Errorf("%s: a signal at case %d already", id, k)
				}
				break // the sum starts again
			}
			near(t, fmt.Sprint(id, " more, case ", k+1), p["more"], want.at("worse_" + id).list()[k], closed)
			near(t, fmt.Sprint(id, " fewer, case ", k+1), p["fewer"], want.at("better_" + id).list()[k], closed)
		}
	}
	// A false alarm in 461.66 cases: the chain has the limit 2.5, and sees a
	// doubling of the odds after 59.6 cases.
	chain := expectation{t, "run", want.at("runs").v.([]any)[0]}
	more := n.answer(t, "constant").row(t, "sums", "sum", "more")
	near(t, "false alarm", more["cases_to_false_alarm"], 462, closed)
	near(t, "limit", more["limit"], chain.at("limit").num(), 0.03)
	near(t, "seen", more["cases_to_seen"], chain.at("changed").list()[0], 0.03)
}

// Differences of shares before and since (Newcombe 1998, method 10): visits
// of which some are ground.
func TestPublishedSharesBeforeAndSince(t *testing.T) {
	t.Parallel()
	want := expected(t, "shares").at("table")
	for i, x1 := range want.at("x1").list() {
		n1, x2, n2 := want.at("n1").list()[i], want.at("x2").list()[i], want.at("n2").list()[i]
		l := &lab{}
		l.limbs.add("person", "P1", "side", "left", "level", "transtibial")
		l.sockets.add("socket", "S1", "limb", "P1-L", "kind", "definitive", "delivered", ymd(2020, time.January, 1))
		visits := func(from day, ground, n float64) {
			for k := range int(n) {
				action := "reline"
				if float64(k) < ground {
					action = "ground"
				}
				l.visits.add("socket", "S1", "date", from+day(k), "action", action)
			}
		}
		visits(ymd(2020, time.February, 1), x2, n2) // there the first less the second
		visits(ymd(2021, time.February, 1), x1, n1)
		a := runLog(t, l, plainCSV, ask("id: p", "method: pareto", "rows: visits", "by: action", "change: 2021-01-01"), nil).answer(t, "p")
		r := a.row(t, "pairs", "category", "ground")
		near(t, "difference", r["difference"], 100*want.at("diff").list()[i], closed)
		near(t, "low", r["low"], 100*want.at("lower").list()[i], closed)
		near(t, "high", r["high"], 100*want.at("upper").list()[i], closed)
	}
}
