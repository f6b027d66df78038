package main

import (
	"fmt"
	"testing"
	"time"
)

// R 4.2.2, lme4 1.1-31 and nlme 3.1-162 (analysis/mixed/testdata/foretell.R):
// readings to come of one subject of sleepstudy, and of one limb of a person
// with limbs that lie within persons, predict for the value and the error from
// dense matrices. nlme stops a little short of the optimum.
func TestPublishedForetold(t *testing.T) {
	t.Parallel()
	var want map[string]struct {
		Time, Estimate []float64
		LineSE         []float64 `json:"line_se"`
		SE             []float64
	}
	readJSON(t, "../../analysis/mixed/testdata/foretell.json", &want)
	block := func(id string, more ...string) string {
		return ask(append([]string{"id: " + id, "method: mixed", "rows: visits", "outcome: reaction", "time: days_since_delivery", "limb: N308-L", "times: [3d, 1d, 11d]"}, more...)...)
	}
	slope := "slopes: [days_since_delivery]"
	n := runLog(t, sleepLab(t), plainCSV, block("slope", slope)+block("uncorrelated", slope, "random_effects: uncorrelated")+block("ml", slope, "estimate: ml")+block("ar1", "correlation: ar1"), nil)
	first := ymd(2021, time.March, 1)
	check := func(id, key string, a *numbersAnswer, tol float64) {
		w := want[key]
		rows := a.table(t, "forecast")
		if len(rows) != len(w.Time) {
			t.Fatalf("%s: %d readings, want %d", id, len(rows), len(w.Time))
		}
		for k, r := range rows {
			what := fmt.Sprintf("%s at %g", id, w.Time[k])
			near(t, what+", time", r["time"], w.Time[k], closed)
			near(t, what, r["estimate"], w.Estimate[k], tol)
			near(t, what+", error", r["std_error"], w.SE[k], tol)
			near(t, what+", error of the line", r["line_std_error"], w.LineSE[k], tol)
		}
	}
	for _, id := range []string{"slope", "uncorrelated", "ml"} {
		check(id, id, n.answer(t, id), 1e-6)
	}
	check("ar1", "ar1", n.answer(t, "ar1"), 1e-4)
	// The first subject in the file was delivered on the first day and last
	// seen on day 9.
	if got, on := n.answer(t, "slope").table(t, "forecast")[0]["date"], time.Unix(int64(first+10)*86400, 0).UTC().Format("2006-01-02"); got != on {
		t.Errorf("foretold for %v, want %s", got, on)
	}
	limb := func(id string, more ...string) string {
		return ask(append([]string{"id: " + id, "method: mixed", "rows: visits", "outcome: own.level_of", "time: days_since_delivery", "adjust: [own.dose]", "nested_in: person", "limb: P2-L"}, more...)...)
	}
	// Limb 21 was last seen on day 12.
	n = runLog(t, layersLab(t), plainCSV, limb("nested", slope, "times: [2d, 12d]")+limb("nested-slopes", "nested_slopes: [days_since_delivery]", "times: [2d, 12d]"), nil)
	for id, key := range map[string]string{"nested": "nested", "nested-slopes": "nested_slopes"} {
		check(id, key, n.answer(t, id), 1e-6)
	}
}
