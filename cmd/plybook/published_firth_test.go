package main

import (
	"math"
	"path/filepath"
	"testing"
)

// firthOf compares a penalised Cox fit with values of
// analysis/survival/testdata/firth.json, which R 4.2.2 made from the formulas
// of Heinze and Schemper 2001 (firth.R, whose likelihood is that of survival
// 3.5-3, coxph).
func firthOf(t *testing.T, a *numbersAnswer, terms []effect, e expectation) {
	t.Helper()
	rows := a.table(t, "terms")
	if len(rows) != len(terms) {
		t.Fatalf("%s: %d terms, want %d", a.ID, len(rows), len(terms))
	}
	const limits = 1e-6 // of roots on the reference's side too
	for j, x := range terms {
		r, what := rows[j], a.ID+" "+x.column
		if r["term"] != x.column || r["category"] != text(x.category) || r["reference"] != text(x.reference) || r["df"] != nil {
			t.Errorf("%s: row %v", what, r)
		}
		if _, has := r["robust_std_error"]; has {
			t.Errorf("%s has a robust error", what)
		}
		b, test := e.at("coef").list()[j], e.at("test").list()[j]
		near(t, what, r["estimate"], b, iterated)
		near(t, what+" ratio", r["ratio"], math.Exp(b), 1e-8)
		near(t, what+" std error", r["std_error"], e.at("se").list()[j], iterated)
		near(t, what+" low", r["low"], math.Exp(e.at("low").list()[j]), limits)
		near(t, what+" high", r["high"], math.Exp(e.at("high").list()[j]), limits)
		near(t, what+" z", r["z"], math.Copysign(math.Sqrt(test), b), limits)
		near(t, what+" p", r["p"], math.Erfc(math.Sqrt(test/2)), 1e-5)
	}
	r, ll := a.row(t, "fit"), e.at("loglik").list()
	near(t, a.ID+" null", r["log_likelihood_null"], ll[0], 1e-10)
	near(t, a.ID+" log likelihood", r["log_likelihood"], ll[1], 1e-10)
	near(t, a.ID+" likelihood ratio", r["likelihood_ratio"], 2*(ll[1]-ll[0]), iterated)
	near(t, a.ID+" df", r["likelihood_ratio_df"], float64(len(terms)), 0)
	if r["penalty"] != "firth" || r["aic"] != nil || r["score"] != nil || r["robust_score"] != nil || r["clusters"] != nil {
		t.Errorf("%s: fit %v", a.ID, r)
	}
	if n := len(a.table(t, "proportionality")); n != 0 {
		t.Errorf("%s: %d tests of proportionality", a.ID, n)
	}
}

func firthExpected(t *testing.T) expectation {
	var v map[string]any
	readJSON(t, filepath.Join("..", "..", "analysis", "survival", "testdata", "firth.json"), &v)
	return expectation{t, "firth.json", v}
}

// Freireich's trial with a column that nobody with the event has: no finite
// estimate without the penalty.
func TestPublishedFirthSeparated(t *testing.T) {
	t.Parallel()
	var lives []life
	for i, r := range readRecords(t, "freireich") {
		mark := "no"
		if r["cens"] == "0" && i%2 == 1 {
			mark = "yes"
		}
		lives = append(lives, life{id: i + 1, days: r.whole(t, "time"), end: lastDay(i), how: ending(r.whole(t, "cens")), serial: i,
			own: []any{"treat", r["treat"], "mark", mark}})
	}
	l, _ := tell(lives)
	cox := func(id string, more ...string) string {
		return ask(append([]string{"id: " + id, "method: cox"}, more...)...)
	}
	both := []string{"adjust: [treat, mark]", "reference: {treat: 6-MP, mark: \"no\"}"}
	n := runLog(t, l, plainCSV, cox("efron", both...)+cox("breslow", append([]string{"ties: breslow"}, both...)...)+
		cox("asked", append([]string{"penalty: firth"}, both...)...)+cox("alone", "by: mark", "reference: {mark: \"no\"}")+cox("treat", "by: treat"), nil)
	want := firthExpected(t)
	terms := []effect{{"treat", "control", "6-MP"}, {"mark", "yes", "no"}}
	firthOf(t, n.answer(t, "efron"), terms, want.at("separated_efron"))
	firthOf(t, n.answer(t, "asked"), terms, want.at("separated_efron"))
	firthOf(t, n.answer(t, "breslow"), terms, want.at("separated_breslow"))
	firthOf(t, n.answer(t, "alone"), terms[1:], want.at("separated_alone"))
	for _, id := range []string{"efron", "breslow", "asked", "alone"} {
		if !n.answer(t, id).caution("separation") {
			t.Errorf("%s: no caution, though a column separates", id)
		}
	}
	if a := n.answer(t, "treat"); a.caution("separation") || a.row(t, "fit")["penalty"] != "none" {
		t.Error("the treatment separates nothing, but its estimate is penalised")
	}
}

// Ovarian cancer: few events, a penalty asked for.
func TestPublishedFirthOvarian(t *testing.T) {
	t.Parallel()
	var lives []life
	for i, r := range readRecords(t, "ovarian") {
		lives = append(lives, life{id: i + 1, days: r.whole(t, "futime"), end: lastDay(i), how: ending(r.whole(t, "fustat")), serial: i,
			own: []any{"age", r.num(t, "age"), "rx", "rx" + r["rx"], "ecog", r.whole(t, "ecog.ps")}})
	}
	l, _ := tell(lives)
	model := []string{"method: cox", "adjust: [own.age, rx, ecog]", "reference: {rx: rx1}", "penalty: firth"}
	n := runLog(t, l, officeCSV, ask(append([]string{"id: efron"}, model...)...)+ask(append([]string{"id: breslow", "ties: breslow"}, model...)...), nil)
	want := firthExpected(t)
	for _, id := range []string{"efron", "breslow"} {
		a := n.answer(t, id)
		firthOf(t, a, []effect{{"own.age", "", ""}, {"rx", "rx2", "rx1"}, {"ecog", "", ""}}, want.at("ovarian_"+id))
		if a.caution("separation") {
			t.Errorf("%s: nothing separates", id)
		}
	}
}
