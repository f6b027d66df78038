package main

import (
	"math"
	"testing"
)

// lungAsks compare curves of the lung cancer set in every way.
var lungAsks = ask("id: family", "method: kaplan-meier", "by: sex", "tests: [log-rank, gehan-breslow, tarone-ware, peto-peto, fleming-harrington-middle, fleming-harrington-late]") +
	ask("id: within", "method: kaplan-meier", "by: sex", "strata: [ph.ecog]", "tests: [log-rank, peto-peto, fleming-harrington-late]") +
	ask("id: trend", "method: kaplan-meier", "by: ph.ecog", "trend: true") +
	ask("id: ordered", "method: kaplan-meier", "by: ph.ecog", "trend: [0, 1, 2, 3]") +
	ask("id: rate", "method: kaplan-meier", "by: sex", "hazard: 100d")

// lungFamily compares their answers with testdata/published/nonparametric.
func lungFamily(t *testing.T, n *numbersFile) {
	t.Helper()
	want := expected(t, "nonparametric")
	for test, key := range map[string]string{"Gehan-Breslow test": "gehan", "Tarone-Ware test": "tarone", "Peto-Peto test": "peto",
		"Fleming-Harrington test of middle differences": "middle", "Fleming-Harrington test of late differences": "late"} {
		e := want.at("lung_sex", key)
		testOf(t, n.answer(t, "family"), test, e.at("stat").num(), 1, e.at("p").num(), closed)
	}
	for test, key := range map[string]string{"log-rank test": "logrank", "Peto-Peto test": "peto", "Fleming-Harrington test of late differences": "late"} {
		e := want.at("lung_stratified", key)
		testOf(t, n.answer(t, "within"), test+" within ph.ecog", e.at("stat").num(), 1, e.at("p").num(), closed)
	}
	for _, code := range []string{"several-tests", "missing-strata"} {
		if !n.answer(t, "within").caution(code) || n.answer(t, "trend").caution(code) {
			t.Errorf("caution %s", code)
		}
	}
	for _, id := range []string{"trend", "ordered"} {
		e := want.at("lung_trend")
		testOf(t, n.answer(t, id), "log-rank test for trend", e.at("stat").num(), 1, e.at("p").num(), closed)
	}
	for _, g := range []string{"female", "male"} {
		a, e := n.answer(t, "rate"), want.at("lung_hazard", g)
		for i, at := range e.at("time").list() {
			r := a.row(t, "cumulative_hazard", "group", g, "time", at)
			h := e.at("hazard").list()[i]
			near(t, "cumulative hazard", r["estimate"], h, closed)
			if h > 0 {
				near(t, "its error", r["std_error"], e.at("se").list()[i], closed)
			}
		}
		r := a.row(t, "follow_up", "group", g)
		for i, column := range []string{"median", "low", "high"} {
			if e, ok := want.at("lung_followup", g).v.([]any)[i].(float64); ok {
				near(t, "follow-up "+column, r[column], e, closed)
			} else if r[column] != nil {
				t.Errorf("follow-up %s of %s is %v, but is not reached", column, g, r[column])
			}
		}
		r = a.row(t, "rates", "group", g)
		for i, column := range []string{"estimate", "low", "high"} {
			near(t, "rate "+column, r[column], want.at("lung_rates", g).list()[i], 1e-7)
		}
	}
	// The smoothed rate is drawn where 10 are at risk, and adds up to the
	// cumulative one over the same time.
	a := n.answer(t, "rate")
	rows := a.rowsOf(t, "hazard", "group", "female")
	if len(rows) < 50 {
		t.Fatalf("%d points of the rate", len(rows))
	}
	area := 0.0
	for i := 1; i < len(rows); i++ {
		step := rows[i]["time"].(float64) - rows[i-1]["time"].(float64)
		area += step * (rows[i]["estimate"].(float64) + rows[i-1]["estimate"].(float64)) / 2 / (100 * 365.25)
	}
	by := func(time float64) float64 {
		h := 0.0
		for _, r := range a.rowsOf(t, "cumulative_hazard", "group", "female") {
			if r["time"].(float64) <= time {
				h = r["estimate"].(float64)
			}
		}
		return h
	}
	grown := by(rows[len(rows)-1]["time"].(float64)) - by(rows[0]["time"].(float64))
	if math.Abs(area-grown) > 0.1 {
		t.Errorf("over the time drawn the smoothed rate adds up to %g, the cumulative hazard grows by %g", area, grown)
	}
}

// weighedCurves compares curves of weights that count rows, and of shares.
func weighedCurves(t *testing.T, n *numbersFile, want expectation) {
	t.Helper()
	for id, key := range map[string]string{"weighed": "freireich_weights", "shares": "freireich_shares"} {
		a, e := n.answer(t, id), want.at(key)
		for i, at := range e.at("time").list() {
			r := a.row(t, "curve", "group", "6-MP", "time", at)
			near(t, key, r["estimate"], e.at("surv").list()[i], closed)
			if se := e.at("se").list()[i]; se > 0 && r["std_error"] != nil {
				near(t, key+" error", r["std_error"], se, closed)
			}
			near(t, key+" at risk", r["at_risk"], e.at("at_risk").list()[i], closed)
		}
		if *a.Rows != 42 || *a.Events != 30 {
			t.Errorf("%s: %d rows, %d events", id, *a.Rows, *a.Events)
		}
	}
	e := want.at("freireich_weights_test")
	testOf(t, n.answer(t, "weighed"), "log-rank test", e.at("stat").num(), 1, e.at("p").num(), closed)
	// Shares are no counts: no test that counts, and no exact rate.
	a := n.answer(t, "shares")
	if rows := a.table(t, "tests"); len(rows) != 1 || rows[0]["test"] != "score test grouped by person" {
		t.Errorf("tests of shares: %v", rows)
	}
	if r := a.row(t, "rates", "group", "6-MP"); r["estimate"] == nil || r["low"] != nil {
		t.Errorf("rate of shares: %v", r)
	}
}
