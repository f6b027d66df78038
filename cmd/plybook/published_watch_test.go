package main

import (
	"fmt"
	"math"
	"testing"
	"time"
)

// Repeated measurements of primary biliary cirrhosis told as a log: a person
// is a socket, a death a remake, a transplant a death, and each measurement a
// visit. Everybody's watch ends on the last day of the log, so that those
// still followed are the sockets in use.
//
// R 4.2.2, survival 3.5-3, geepack 1.3.9; the calls stand in
// testdata/published/pbcseq/make.R.
func TestPublishedWatch(t *testing.T) {
	t.Parallel()
	cut := ymd(2024, time.March, 4)
	var lives []life
	days := map[int]int{}
	rows := readRecords(t, "pbcseq")
	for _, r := range rows {
		id := r.whole(t, "id")
		if _, ok := days[id]; ok {
			continue
		}
		days[id] = r.whole(t, "futime")
		how := []ending{open, dead, remade}[r.whole(t, "status")]
		serial := map[ending]int{open: 1 + id%2, dead: 0, remade: 1}[how]
		lives = append(lives, life{id: id, days: days[id], end: cut, how: how, serial: serial, own: []any{"age", r.num(t, "age")}})
	}
	l, _ := tell(lives)
	for k, r := range rows {
		id := r.whole(t, "id")
		if r.whole(t, "day") > days[id] {
			continue
		}
		v := []any{"visit", fmt.Sprintf("V%d", k), "socket", fmt.Sprintf("S%dL", id), "date", cut - day(days[id]-r.whole(t, "day")), "purpose", "follow-up",
			"logbili", math.Round(math.Log(r.num(t, "bili"))*1e6) / 1e6}
		for _, c := range []string{"albumin", "edema"} {
			if r[c] != "" {
				v = append(v, c, r.num(t, c))
			}
		}
		l.visits.add(v...)
	}
	watch := func(id string, more ...string) string {
		return ask(append([]string{"id: " + id, "method: watch", "ahead: 730d", "adjust: [own.age]", "resamples: 100"}, more...)...)
	}
	n := runLog(t, l, plainCSV, watch("overlap", "every: 365d", "varying: [logbili, albumin, edema]")+watch("apart", "every: 730d", "varying: [logbili]"), nil)
	want := expected(t, "pbcseq")
	for id, columns := range map[string]int{"overlap": 4, "apart": 2} {
		a, e := n.answer(t, id), want.at(id)
		f := a.row(t, "fit")
		for column, key := range map[string]string{"rows": "rows", "sockets": "persons", "persons": "persons", "events": "events", "competing": "competing", "landmarks": "landmarks"} {
			near(t, id+" "+column, f[column], e.at(key).num(), 0)
		}
		terms := a.table(t, "terms")
		if len(terms) != columns {
			t.Fatalf("%s: %d terms", id, len(terms))
		}
		coef, se := e.at("coef").list(), e.at("robust_se").list()
		for j := range coef {
			var r map[string]any
			if j < columns {
				r = terms[j]
			} else {
				r = a.rowsOf(t, "time_worn", "ending", "event")[j-columns]
			}
			near(t, id+" coefficient", r["estimate"], coef[j], iterated)
			near(t, id+" robust error", r["robust_std_error"], se[j], iterated)
		}
		competing := a.table(t, "competing_terms")
		if id == "overlap" && len(competing) > 0 || id == "apart" && len(competing) != columns {
			t.Errorf("%s: %d terms of the other endings", id, len(competing))
		}
		for j, r := range competing {
			near(t, id+" competing", r["estimate"], e.at("competing_coef").list()[j], iterated)
			near(t, id+" competing error", r["robust_std_error"], e.at("competing_robust_se").list()[j], iterated)
		}
		now := e.at("now")
		ids, risk := now.at("id").list(), now.at("risk").list()
		some := 0
		for k, who := range ids {
			if risk[k] == 0 {
				if len(a.rowsOf(t, "not_ranked", "socket", fmt.Sprintf("S%gL", who))) != 1 {
					t.Errorf("%s: %g, of a time without events, is ranked", id, who)
				}
				continue
			}
			some++
			near(t, fmt.Sprintf("%s risk of %g", id, who), a.row(t, "sockets", "socket", fmt.Sprintf("S%gL", who))["risk"], risk[k], iterated)
		}
		if len(a.table(t, "sockets")) != some || some < 50 {
			t.Errorf("%s: %d sockets ranked, want %d", id, len(a.table(t, "sockets")), some)
		}
		for name, key := range map[string]string{"observed": "observed", "expected": "expected", "observed_over_expected": "ratio", "intercept": "intercept",
			"slope": "slope", "c": "c", "brier": "brier", "brier_null": "brier_null", "scaled_brier": "scaled"} {
			r := a.row(t, "performance", "measure", name)
			tol := iterated
			if name == "intercept" || name == "slope" {
				tol = 1e-6 // geese stops some steps earlier
			}
			near(t, id+" "+name, r["apparent"], e.at("measures", key).num(), tol)
			if id != "overlap" {
				continue
			}
			// R's samples are others: the difference is held to what chance
			// gives its draws and 100.
			draws := e.at("boot", "draws").num()
			within := 4.5 * e.at("boot", "error_of_optimism", key).num() * math.Sqrt(1+draws/100)
			if d := r["optimism"].(float64) - e.at("boot", "optimism", key).num(); math.Abs(d) > within {
				t.Errorf("optimism of %s is off by %.4f, allowed %.4f", name, d, within)
			}
		}
		if !a.caution("watch-list") {
			t.Errorf("%s: a list without its caution", id)
		}
	}
}
