package main

import (
	"fmt"
	"testing"
)

// A log typed by hand and counted by hand: in 2023 A has a socket on each
// limb; in 2024 A has a second on the left, B a preparatory and a first
// definitive after a check socket fitted twice, and C one of unknown number.
func TestCaseloadByHand(t *testing.T) {
	t.Parallel()
	l := &lab{}
	limb := func(p, side, level string, born int) {
		l.limbs.add("person", p, "side", side, "level", level, "limb", p+side[:1], "born", born)
	}
	limb("A", "left", "transtibial", 1950)
	limb("A", "right", "transfemoral", 1950)
	limb("B", "left", "transtibial", 1990)
	limb("C", "right", "transtibial", 1960)
	socket := func(id, limb, kind string, more ...any) {
		l.sockets.add(append([]any{"socket", id, "limb", limb, "kind", kind}, more...)...)
	}
	socket("S1", "Al", "definitive", "number", 1, "delivered", ymd(2023, 3, 1), "ended", ymd(2024, 2, 1), "end_reason", "breakage")
	socket("S2", "Ar", "definitive", "number", 1, "delivered", ymd(2023, 5, 2))
	socket("S3", "Al", "definitive", "number", 2, "delivered", ymd(2024, 2, 1))
	socket("S4", "Bl", "preparatory", "delivered", ymd(2024, 1, 8), "ended", ymd(2024, 5, 1), "end_reason", "planned step")
	socket("K5", "Bl", "check", "cast_on", ymd(2024, 4, 2), "ended", ymd(2024, 5, 1), "end_reason", "planned step")
	socket("S5", "Bl", "definitive", "number", 1, "replaces", "K5", "delivered", ymd(2024, 5, 1))
	socket("S6", "Cr", "definitive", "delivered", ymd(2024, 12, 31))
	for _, d := range []day{ymd(2024, 4, 10), ymd(2024, 4, 20)} {
		l.visits.add("socket", "K5", "date", d, "purpose", "check fitting", "accepted", "no")
	}
	n := runLog(t, l, oneWorkbook, ask("id: year", "method: caseload")+ask("id: level", "method: caseload", "by: level")+ask("id: age", "method: caseload", "by: age")+ask("id: flow", "method: flow", "keep: {kind: definitive}")+ask("id: groups", "method: caseload", "columns: [level, age]")+
		ask("id: quarter", "method: caseload", "period: quarter", "keep: {level: transtibial}"), nil)
	check := func(r map[string]any, want ...any) {
		t.Helper()
		for k := 0; k < len(want); k += 2 {
			near(t, want[k].(string), r[want[k].(string)], float64(want[k+1].(int)), 0)
		}
	}
	a := n.answer(t, "year")
	check(a.row(t, "rows", "period", "2023"), "persons", 1, "limbs", 2, "sockets", 2, "first", 2, "later", 0, "number_not_known", 0, "preparatory", 0, "check", 0)
	r := a.row(t, "rows", "period", "2024")
	check(r, "persons", 3, "limbs", 3, "sockets", 4, "first", 1, "later", 1, "number_not_known", 1, "preparatory", 1, "check", 1)
	if r["complete"] != true || a.row(t, "rows", "period", "2023")["complete"] != true {
		t.Errorf("the years are complete: %v", r)
	}
	// S5 took two fittings, S3 and S6 none that is recorded.
	check(a.row(t, "fittings", "period", "2024"), "sockets", 3, "fittings", 2)
	near(t, "fittings each", a.row(t, "fittings", "period", "2024")["per_socket"], 2.0/3, 1e-15)
	a = n.answer(t, "level")
	check(a.row(t, "rows", "period", "2024", "group", "transtibial"), "persons", 3, "limbs", 3, "sockets", 4)
	check(a.row(t, "rows", "period", "2023", "group", "transfemoral"), "persons", 1, "limbs", 1, "sockets", 1)
	a = n.answer(t, "age")
	check(a.row(t, "rows", "period", "2024", "group", "18 to 39"), "persons", 1, "sockets", 2)
	check(a.row(t, "rows", "period", "2024", "group", "60 to 79"), "persons", 2, "sockets", 2)
	// The same in one table, beside each other.
	a = n.answer(t, "groups")
	check(a.row(t, "groups", "period", "2024", "column", "level", "category", "transtibial"), "persons", 3, "limbs", 3, "sockets", 4)
	check(a.row(t, "groups", "period", "2023", "column", "level", "category", "transfemoral"), "persons", 1, "limbs", 1, "sockets", 1)
	check(a.row(t, "groups", "period", "2024", "column", "age", "category", "18 to 39"), "persons", 1, "limbs", 1, "sockets", 2)
	check(a.row(t, "groups", "period", "2024", "column", "age", "category", "60 to 79"), "persons", 2, "limbs", 2, "sockets", 2)
	check(n.answer(t, "flow").row(t, "steps", "step", "chosen for this question"), "rows", 5, "limbs", 4, "persons", 3, "sockets", 5)
	a = n.answer(t, "quarter")
	check(a.row(t, "rows", "period", "2024 Q2"), "persons", 1, "sockets", 1, "check", 1)
	check(a.row(t, "rows", "period", "2023 Q3"), "sockets", 0)
}

// The same log by years from July: S1 and S2 lie in the one of 2022/23, S3 to
// S5 in that of 2023/24, S6 in that of 2024/25, of which the end is not known.
func TestCaseloadByAYearFromJuly(t *testing.T) {
	t.Parallel()
	l := &lab{}
	for _, p := range []string{"A", "B", "C"} {
		l.limbs.add("person", p, "side", "left", "level", "transtibial", "limb", p+"l")
	}
	for i, s := range []struct {
		limb string
		on   day
	}{{"Al", ymd(2023, 3, 1)}, {"Bl", ymd(2023, 6, 30)}, {"Al", ymd(2023, 7, 1)}, {"Bl", ymd(2024, 1, 8)}, {"Bl", ymd(2024, 6, 30)}, {"Cl", ymd(2024, 12, 31)}} {
		l.sockets.add("socket", fmt.Sprintf("S%d", i+1), "limb", s.limb, "kind", "definitive", "delivered", s.on)
	}
	n := runLog(t, l, oneWorkbook, ask("id: year", "method: caseload")+ask("id: era", "method: summary", "columns: [kind]", "by: year_delivered"), map[string]int{"no-ending": 3}, "year_begins: july")
	for _, c := range []struct {
		year     string
		sockets  int
		persons  int
		complete bool
	}{{"2022/23", 2, 2, true}, {"2023/24", 3, 2, true}, {"2024/25", 1, 1, false}} {
		r := n.answer(t, "year").row(t, "rows", "period", c.year)
		near(t, c.year, r["sockets"], float64(c.sockets), 0)
		near(t, c.year, r["persons"], float64(c.persons), 0)
		if r["complete"] != c.complete {
			t.Errorf("%s: %v", c.year, r)
		}
		near(t, c.year, n.answer(t, "era").row(t, "rows", "group", c.year)["rows"], float64(c.sockets), 0)
	}
}
