package main

import (
	"fmt"
	"math"
	"path/filepath"
	"testing"
	"time"
)

// rowsAsSockets tells each row of a set as a socket of a person of its own,
// with its values as the lab's own columns.
func rowsAsSockets(rows [][]any) *lab {
	l := &lab{}
	for i, r := range rows {
		l.limbs.add("person", fmt.Sprintf("P%d", i+1), "side", "left", "level", "transtibial")
		l.sockets.add(append([]any{"socket", fmt.Sprintf("S%d", i+1), "limb", fmt.Sprintf("P%d-L", i+1), "kind", "definitive", "delivered", lastDay(i)}, r...)...)
	}
	return l
}

// ratiosOf compares the terms of a model of ratios with values of
// testdata/published/outcomes: the constant, then the terms in their order.
func ratiosOf(t *testing.T, a *numbersAnswer, terms []effect, e expectation, profiled bool, tol float64) {
	t.Helper()
	rows := a.table(t, "terms")
	if len(rows) != len(terms)+1 {
		t.Fatalf("%s: %d terms, want %d", a.ID, len(rows), len(terms)+1)
	}
	for j, x := range append([]effect{{"intercept", "", ""}}, terms...) {
		r, what := rows[j], a.ID+" "+x.column+" "+x.category
		if r["term"] != x.column || r["category"] != text(x.category) || r["reference"] != text(x.reference) {
			t.Errorf("%s: row %v", what, r)
		}
		b, se := e.at("coef").list()[j], e.at("se").list()[j]
		near(t, what, r["estimate"], b, tol)
		near(t, what+" std error", r["std_error"], se, tol)
		low, high := b-1.959963984540054*se, b+1.959963984540054*se
		switch {
		case r["robust_std_error"] != nil:
			continue // clusteredOf looks at those
		case profiled:
			p := e.at("profile").matrix()[j]
			low, high = p[0], p[1]
			near(t, what+" z", r["z"], math.Copysign(math.Sqrt(p[2]), b), 1e-6)
			near(t, what+" p", r["p"], math.Erfc(math.Sqrt(p[2]/2)), 1e-5)
		default:
			near(t, what+" z", r["z"], b/se, 10*tol)
			near(t, what+" p", r["p"], math.Erfc(math.Abs(b/se)/math.Sqrt2), 1e-6)
		}
		if j == 0 {
			near(t, what+" low", r["low"], low, 1e-7)
			continue
		}
		near(t, what+" ratio", r["ratio"], math.Exp(b), 10*tol)
		near(t, what+" low", r["low"], math.Exp(low), 1e-7)
		near(t, what+" high", r["high"], math.Exp(high), 1e-7)
	}
	f := a.row(t, "fit")
	near(t, a.ID+" log likelihood", f["log_likelihood"], e.at("loglik").num(), 1e-10)
	near(t, a.ID+" null", f["log_likelihood_null"], e.at("loglik_null").num(), 1e-10)
	if e.has("deviance") {
		near(t, a.ID+" deviance", f["deviance"], e.at("deviance").num(), iterated)
		near(t, a.ID+" null deviance", f["deviance_null"], e.at("null_deviance").num(), iterated)
		near(t, a.ID+" AIC", f["aic"], e.at("aic").num(), iterated)
		near(t, a.ID+" df", f["df_residual"], e.at("df").num(), 0)
	}
}

// clusteredOf compares the robust errors of the terms.
func clusteredOf(t *testing.T, a *numbersAnswer, cr2 expectation) {
	t.Helper()
	for j, r := range a.table(t, "terms") {
		what := fmt.Sprint(a.ID, " ", r["term"], " ", r["category"])
		se, df := cr2.at("se").list()[j], cr2.at("df").list()[j]
		near(t, what+" CR2", r["robust_std_error"], se, 1e-8)
		near(t, what+" df", r["df"], df, 1e-7)
		near(t, what+" t", r["z"], cr2.at("estimate").list()[j]/se, 1e-7)
	}
}

// averagesOf compares the averages of two categories and what stands between.
func averagesOf(t *testing.T, a *numbersAnswer, of, against string, e expectation) {
	t.Helper()
	for i, g := range []string{against, of} {
		r := a.row(t, "adjusted", "group", g)
		near(t, a.ID+" "+g, r["estimate"], e.at("estimate").list()[i], 1e-9)
		near(t, a.ID+" "+g+" error", r["std_error"], e.at("se").list()[i], 1e-8)
	}
	d, q := a.row(t, "adjusted", "group", of+" - "+against), a.row(t, "adjusted", "group", of+" / "+against)
	near(t, a.ID+" difference", d["estimate"], e.at("difference").list()[0], 1e-9)
	near(t, a.ID+" difference error", d["std_error"], e.at("difference_se").list()[0], 1e-8)
	near(t, a.ID+" ratio", q["estimate"], e.at("ratio").list()[0], 1e-9)
	near(t, a.ID+" ratio error", q["std_error"], e.at("log_ratio_se").list()[0], 1e-8)
}

var birthwtTerms = []effect{{"smoke", "yes", "no"}, {"own.age", "", ""}, {"lwt", "", ""}, {"race", "black", "white"}, {"race", "other", "white"}, {"ptd", "yes", "no"}, {"ht", "", ""}, {"ui", "", ""}}

// Low birth weight (Hosmer and Lemeshow 1989).
func TestPublishedBirthwt(t *testing.T) {
	t.Parallel()
	yes := func(b bool) string { return map[bool]string{true: "yes", false: "no"}[b] }
	var rows [][]any
	for _, r := range readRecords(t, "birthwt") {
		rows = append(rows, []any{"low", yes(r["low"] == "1"), "bwt", r.whole(t, "bwt"), "age", r.whole(t, "age"), "lwt", r.whole(t, "lwt"), "race", []string{"", "white", "black", "other"}[r.whole(t, "race")],
			"smoke", yes(r["smoke"] == "1"), "ptd", yes(r.whole(t, "ptl") > 0), "ht", r.whole(t, "ht"), "ui", r.whole(t, "ui"), "shift", -r.num(t, "age") / 20})
	}
	model := []string{"method: logistic", "rows: sockets", "by: smoke", "adjust: [own.age, lwt, race, ptd, ht, ui]", "reference: {smoke: \"no\", race: white, ptd: \"no\"}"}
	with := func(id string, more ...string) string {
		return ask(append(append([]string{"id: " + id}, model...), more...)...)
	}
	n := runLog(t, rowsAsSockets(rows), plainCSV, with("low", "outcome: low", "contrasts: {race: every pair}", "diagnostics: yes")+with("profile", "outcome: low", "intervals: profile")+
		with("grams", "outcome: {bwt: ..2499}")+
		ask("id: curve", "method: logistic", "rows: sockets", "outcome: low", "adjust: [lwt, smoke]", "spline: {lwt: 4}", "reference: {smoke: \"no\"}", "contrasts: {lwt: [100, 150]}")+
		ask("id: shift", "method: logistic", "rows: sockets", "outcome: low", "by: smoke", "offset: shift", "reference: {smoke: \"no\"}"), nil)
	want := expected(t, "outcomes")
	e := want.at("birthwt")
	a := n.answer(t, "low")
	ratiosOf(t, a, birthwtTerms, e, false, iterated)
	ratiosOf(t, n.answer(t, "grams"), birthwtTerms, e, false, iterated) // low is a weight below 2500 g
	ratiosOf(t, n.answer(t, "profile"), birthwtTerms, e, true, iterated)
	averagesOf(t, a, "yes", "no", e.at("smoke"))
	f := a.row(t, "fit")
	near(t, "C", f["c_statistic"], e.at("auc").list()[0], closed)
	near(t, "C error", f["c_std_error"], e.at("auc").list()[1], iterated)
	near(t, "Brier", f["brier"], e.at("brier").num(), iterated)
	near(t, "race", a.row(t, "term_tests", "term", "race")["statistic"], e.at("pairs", "wald").num(), 1e-8)
	for i, pair := range [][2]string{{"black", "white"}, {"other", "white"}, {"other", "black"}} {
		r := a.row(t, "contrasts", "of", pair[0], "against", pair[1])
		near(t, pair[0]+" against "+pair[1], r["estimate"], e.at("pairs", "estimate").list()[i], 1e-8)
		near(t, pair[0]+" against "+pair[1]+" error", r["std_error"], e.at("pairs", "se").list()[i], 1e-8)
	}
	for i, r := range e.at("cook").matrix() {
		got := a.table(t, "influence")[i]
		if got["row"] != fmt.Sprintf("S%d", int(r[0])) {
			t.Errorf("influence %d is of %v, want S%d", i, got["row"], int(r[0]))
		}
		near(t, "fitted", got["fitted"], r[1], 1e-8)
		near(t, "standardised", got["standardised_residual"], r[2], 1e-8)
		near(t, "hat", got["hat"], r[3], 1e-8)
		near(t, "Cook", got["cooks_distance"], r[4], 1e-8)
	}
	c, w := n.answer(t, "curve"), want.at("birthwt_curve")
	near(t, "curve", c.row(t, "spline_tests", "test", "any effect")["statistic"], w.at("any").num(), 1e-8)
	near(t, "bent", c.row(t, "spline_tests", "test", "not a straight line")["statistic"], w.at("bent").num(), 1e-8)
	near(t, "100 against 150", c.row(t, "contrasts")["estimate"], w.at("estimate").num(), 1e-8)
	near(t, "100 against 150 error", c.row(t, "contrasts")["std_error"], w.at("se").num(), 1e-8)
	ratiosOf(t, n.answer(t, "shift"), []effect{{"smoke", "yes", "no"}}, want.at("birthwt_offset"), false, iterated)
}

// Endometrial cancer: NV separates (Heinze and Schemper 2002).
func TestPublishedEndometrial(t *testing.T) {
	t.Parallel()
	var rows [][]any
	for _, r := range readRecords(t, "endometrial") {
		rows = append(rows, []any{"grade", map[string]string{"0": "low", "1": "high"}[r["HG"]], "nv", r.whole(t, "NV"), "pi", r.whole(t, "PI"), "eh", r.num(t, "EH")})
	}
	model := []string{"method: logistic", "rows: sockets", "outcome: {grade: high}", "adjust: [nv, pi, eh]"}
	n := runLog(t, rowsAsSockets(rows), officeCSV, ask(append([]string{"id: found"}, model...)...)+ask(append([]string{"id: asked", "penalty: firth"}, model...)...), nil)
	for _, id := range []string{"found", "asked"} {
		a := n.answer(t, id)
		ratiosOf(t, a, []effect{{"nv", "", ""}, {"pi", "", ""}, {"eh", "", ""}}, expected(t, "outcomes").at("endometrial"), true, 1e-8)
		if a.row(t, "fit")["penalty"] != "firth" || !a.caution("separation") && id == "found" {
			t.Errorf("%s: fit %v", id, a.row(t, "fit"))
		}
		// As printed in their table 2.
		r := a.row(t, "terms", "term", "nv")
		near(t, "published", r["estimate"], 2.93, 2e-3)
		near(t, "published low", r["low"], math.Exp(0.61), 5e-3)
	}
}

// Wheeze of children in Ohio: four visits of each child.
func TestPublishedOhio(t *testing.T) {
	t.Parallel()
	l := &lab{}
	seen := map[string]int{}
	for _, r := range readRecords(t, "ohio") {
		id := r["id"]
		if seen[id] == 0 {
			l.limbs.add("person", "P"+id, "side", "left", "level", "transtibial")
			l.sockets.add("socket", "S"+id, "limb", "P"+id+"-L", "kind", "definitive", "delivered", ymd(2020, time.January, 6))
		}
		seen[id]++
		smoke := map[string]string{"0": "no", "1": "yes"}[r["smoke"]]
		l.visits.add("socket", "S"+id, "date", ymd(2020, time.February, 3)+day(365*seen[id]), "purpose", "review", "wheeze", r.whole(t, "resp"), "years", r.whole(t, "age"), "smoke", smoke)
	}
	n := runLog(t, l, plainCSV, ask("id: both", "method: logistic", "rows: visits", "outcome: wheeze", "by: smoke", "adjust: [years]", "interact: [smoke, years]", "reference: {smoke: \"no\"}")+
		ask("id: alone", "method: logistic", "rows: visits", "outcome: wheeze", "by: smoke", "cluster: socket", "reference: {smoke: \"no\"}")+
		ask("id: exchangeable", "method: logistic", "rows: visits", "outcome: wheeze", "by: smoke", "adjust: [years]", "interact: [smoke, years]", "reference: {smoke: \"no\"}", "correlation: exchangeable")+
		ask("id: ar1", "method: logistic", "rows: visits", "outcome: wheeze", "by: smoke", "adjust: [years]", "interact: [smoke, years]", "reference: {smoke: \"no\"}", "correlation: ar1"), nil)
	for _, id := range []string{"exchangeable", "ar1"} {
		correlatedOf(t, n.answer(t, id), geeExpected(t).at("ohio_"+id), []int{0, 2, 1, 3})
	}
	want := expected(t, "outcomes")
	a := n.answer(t, "both")
	e := want.at("ohio")
	// The set's order is age, smoke.
	rows := a.table(t, "terms")
	rows[1], rows[2] = rows[2], rows[1]
	ratiosOf(t, a, []effect{{"years", "", ""}, {"smoke", "yes", "no"}, {"smoke × years", "yes", ""}}, e, false, iterated)
	clusteredOf(t, a, e.at("cr2"))
	averagesOf(t, a, "yes", "no", want.at("ohio_standard"))
	near(t, "children", a.row(t, "fit")["clusters"], 537, 0)
	// clubSandwich, where columns do not vary within children.
	w := want.at("ohio_smoke")
	for j, r := range n.answer(t, "alone").table(t, "terms") {
		near(t, "clubSandwich", r["estimate"], w.at("coef").list()[j], iterated)
		near(t, "clubSandwich error", r["robust_std_error"], w.at("se").list()[j], 1e-8)
		near(t, "clubSandwich df", r["df"], w.at("df").list()[j], 1e-7)
		near(t, "clubSandwich p", r["p"], w.at("p").list()[j], 1e-6)
	}
}

func geeExpected(t *testing.T) expectation {
	var v map[string]any
	readJSON(t, filepath.Join(published, "outcomes", "gee.json"), &v)
	return expectation{t, "gee.json", v}
}

// correlatedOf compares estimates with a working correlation with geepack's,
// and their errors with CR2 by whole matrices; order is that of the terms.
func correlatedOf(t *testing.T, a *numbersAnswer, e expectation, order []int) {
	t.Helper()
	f := a.row(t, "fit")
	near(t, a.ID+" alpha", f["alpha"], e.at("alpha").list()[0], 1e-6)
	if f["log_likelihood"] != nil || f["aic"] != nil || f["likelihood_ratio"] != nil {
		t.Errorf("%s: a likelihood where there is none: %v", a.ID, f)
	}
	for j, r := range a.table(t, "terms") {
		k, what := order[j], fmt.Sprint(a.ID, " ", r["term"])
		near(t, what, r["estimate"], e.at("coef").list()[k], 1e-7)
		near(t, what+" naive", r["std_error"], e.at("naive").list()[k], 1e-7)
		near(t, what+" CR2", r["robust_std_error"], e.at("cr2", "se").list()[k], 1e-7)
		near(t, what+" df", r["df"], e.at("cr2", "df").list()[k], 1e-6)
	}
}
