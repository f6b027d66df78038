package main

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"plybook/analysis/stats"
)

// R 4.2.2 (analysis/mixed/testdata/foretell.R): readings to come of one subject
// of sleepstudy, and of one limb of a person with limbs that lie within persons
// and readings of several who measure; errors that allow for variances being
// estimates, and their degrees of freedom. Tolerances are 1e-4 where both sides
// take differences.
func TestPublishedForetold(t *testing.T) {
	t.Parallel()
	var want map[string]struct {
		Time, Estimate []float64
		LineSE         []float64 `json:"line_se"`
		LineDF         []float64 `json:"line_df"`
		SE, DF         []float64
		By             int
		Variance       []float64
		VarianceDF     []float64 `json:"variance_df"`
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
			near(t, what, r["estimate"], w.Estimate[k], 1e-6)
			near(t, what+", degrees of freedom", r["df"], w.DF[k], 10*tol)
			near(t, what+", degrees of freedom of the line", r["line_df"], w.LineDF[k], 10*tol)
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
	asks := limb("nested", slope, "times: [2d, 12d]") + limb("nested-slopes", "nested_slopes: [days_since_delivery]", "times: [2d, 12d]")
	by := map[string]string{"all_3": slope + "\ncrossed: [seen_by]", "all_0": slope + "\ncrossed: [seen_by]", "spread_4": "scatter_by: seen_by", "spread_0": "scatter_by: seen_by",
		"serial_spread_4": "scatter_by: seen_by\ncorrelation: ar1", "crossed_2": "crossed: [seen_by]", "serial_crossed_2": "crossed: [seen_by]\ncorrelation: ar1", "serial_crossed_0": "crossed: [seen_by]\ncorrelation: ar1"}
	for key, more := range by {
		text := limb(strings.ReplaceAll(key, "_", "-"), more, "times: [2d, 12d]")
		if want[key].By > 0 {
			text = limb(strings.ReplaceAll(key, "_", "-"), more, "times: [2d, 12d]", fmt.Sprintf("taken_by: {seen_by: C%d}", want[key].By))
		}
		if !strings.HasPrefix(key, "all") {
			text = strings.Replace(text, "nested_in: person\n", "", 1)
		}
		asks += text
	}
	n = runLog(t, layersLab(t), plainCSV, asks, nil)
	for key := range by {
		check(key, key, n.answer(t, strings.ReplaceAll(key, "_", "-")), 1e-4)
	}
	for id, key := range map[string]string{"nested": "nested", "nested-slopes": "nested_slopes"} {
		check(id, key, n.answer(t, id), 1e-6)
		at := 0
		for _, r := range n.answer(t, id).table(t, "variance") {
			if r["with"] != nil {
				continue
			}
			near(t, id+", variance", r["variance"], want[key].Variance[at], 1e-5)
			df := want[key].VarianceDF[at]
			near(t, id+", degrees of freedom of a variance", r["df"], df, 1e-4)
			// Ninety-five of a hundred such estimates lie between these.
			sd := r["std_dev"].(float64)
			for side, p := range map[string]float64{"std_dev_low": 0.025, "std_dev_high": 0.975} {
				near(t, id+", "+side, stats.ChiSquareP(df*sd*sd/math.Pow(r[side].(float64), 2), df), p, 1e-3)
			}
			at++
		}
		if at != len(want[key].Variance) {
			t.Errorf("%s: %d variances", id, at)
		}
	}
}
