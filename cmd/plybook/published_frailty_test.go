package main

import (
	"fmt"
	"math"
	"path/filepath"
	"testing"
)

// Values of variances found by a search on either side.
const searched = 1e-6

// frailtyExpected are the values of analysis/survival/testdata/frailty.json:
// R 4.2.2, frailty.R beside it, whose penalised fits are checked against
// survival 3.5-3 (coxph with frailty, frailty.gaussian and ridge).
func frailtyExpected(t *testing.T) expectation {
	var v map[string]any
	readJSON(t, filepath.Join("..", "..", "analysis", "survival", "testdata", "frailty.json"), &v)
	return expectation{t, "frailty.json", v}
}

// sharedOf compares a fit with a shared frailty. group names the groups in the
// order of the set; nil: they are not compared.
func sharedOf(t *testing.T, a *numbersAnswer, e expectation, terms []string, group func(int) string) {
	t.Helper()
	rows := a.table(t, "terms")
	if len(rows) != len(terms) {
		t.Fatalf("%s: %d terms, want %d", a.ID, len(rows), len(terms))
	}
	const z975 = 1.959963984540054
	for j, x := range terms {
		r, what := rows[j], a.ID+" "+x
		b, se := e.at("coef").list()[j], e.at("se").list()[j]
		if r["term"] != x {
			t.Errorf("%s: row %v", what, r)
		}
		near(t, what, r["estimate"], b, searched)
		near(t, what+" std error", r["std_error"], se, searched)
		near(t, what+" low", r["low"], math.Exp(b-z975*se), searched)
		near(t, what+" high", r["high"], math.Exp(b+z975*se), searched)
		near(t, what+" p", r["p"], math.Erfc(math.Abs(b/se)/math.Sqrt2), 1e-5)
		if _, has := r["robust_std_error"]; has {
			t.Errorf("%s has a robust error", what)
		}
	}
	r := a.row(t, "fit")
	ll, without := e.at("loglik").num(), e.at("without").num()
	near(t, a.ID+" log likelihood", r["log_likelihood"], ll, 1e-9)
	near(t, a.ID+" null", r["log_likelihood_null"], e.at("null").num(), 1e-8)
	near(t, a.ID+" aic", r["aic"], 2*float64(len(terms)+1)-2*ll, 1e-9)
	near(t, a.ID+" concordance", r["concordance"], e.at("concordance").num(), 1e-9)
	if r["penalty"] != "none" || r["score"] != nil || r["clusters"] != nil || r["penalty_size"] != nil {
		t.Errorf("%s: fit %v", a.ID, r)
	}
	r = a.row(t, "frailty")
	v, x := e.at("variance").num(), 2*(ll-without)
	near(t, a.ID+" variance", r["variance"], v, searched)
	near(t, a.ID+" variance low", r["low"], e.at("low").num(), searched)
	near(t, a.ID+" variance high", r["high"], e.at("high").num(), searched)
	near(t, a.ID+" log likelihood without", r["log_likelihood_without"], without, 1e-9)
	near(t, a.ID+" test", r["statistic"], x, searched)
	near(t, a.ID+" test p", r["p"], math.Erfc(math.Sqrt(x/2))/2, 1e-5)
	near(t, a.ID+" effective df", r["effective_df"], e.at("df").num(), searched)
	if r["distribution"] == "log-normal" {
		near(t, a.ID+" median ratio", r["median_ratio"], math.Exp(math.Sqrt(2*v)*0.6744897501960817), searched)
	}
	zph := e.at("zph").list()
	g := a.table(t, "proportionality")
	near(t, a.ID+" proportionality", g[len(g)-1]["statistic"], zph[0], searched)
	effects := e.at("effect").list()
	near(t, a.ID+" groups", r["groups"], float64(len(effects)), 0)
	if group == nil {
		return
	}
	for k, u := range effects {
		r := a.row(t, "frailties", "group", group(k))
		se := e.at("effect_se").list()[k]
		near(t, fmt.Sprintf("%s frailty %d", a.ID, k), r["estimate"], u, 2*searched)
		near(t, fmt.Sprintf("%s frailty %d error", a.ID, k), r["std_error"], se, searched)
		near(t, fmt.Sprintf("%s frailty %d high", a.ID, k), r["high"], math.Exp(u+z975*se), 1e-5)
	}
}

// Kidney catheters: two times a person.
func TestPublishedKidneyFrailty(t *testing.T) {
	t.Parallel()
	var lives []life
	seen := map[int]int{}
	for i, r := range readRecords(t, "kidney") {
		id := r.whole(t, "id")
		lives = append(lives, life{id: id, limb: seen[id], sex: map[string]string{"1": "male", "2": "female"}[r["sex"]], days: r.whole(t, "time"), end: lastDay(id),
			how: ending(r.whole(t, "status")), serial: 5*(i/5) + 1 + i%4, own: []any{"age", r.whole(t, "age"), "disease", r["disease"]}})
		seen[id]++
	}
	l, _ := tell(lives)
	cox := func(id, frailty string, more ...string) string {
		return ask(append([]string{"id: " + id, "method: cox", "adjust: [own.age, sex]", "reference: {sex: male}", "frailty: " + frailty}, more...)...)
	}
	n := runLog(t, l, plainCSV, cox("gamma-efron", "gamma")+cox("gamma-breslow", "gamma", "ties: breslow", "shared_by: person")+
		cox("normal-efron", "log-normal")+cox("normal-breslow", "log-normal", "ties: breslow")+
		ask("id: disease", "method: cox", "adjust: [own.age, sex, disease]", "reference: {sex: male, disease: Other}", "frailty: gamma"), nil)
	want := frailtyExpected(t)
	terms := []string{"own.age", "sex"}
	person := func(k int) string { return fmt.Sprintf("P%d", k+1) }
	sharedOf(t, n.answer(t, "gamma-efron"), want.at("kidney_gamma_efron"), terms, person)
	sharedOf(t, n.answer(t, "gamma-breslow"), want.at("kidney_gamma_breslow"), terms, person)
	sharedOf(t, n.answer(t, "normal-efron"), want.at("kidney_lognormal_efron"), terms, person)
	sharedOf(t, n.answer(t, "normal-breslow"), want.at("kidney_lognormal_breslow"), terms, person)
	// With the disease in the model the variance is at its edge, 0, and the
	// estimates are those without frailty (the set's own entry, within the
	// distance that its search keeps from 0).
	a := n.answer(t, "disease")
	if v := a.row(t, "frailty")["variance"]; v != 0.0 || !a.caution("no-frailty") {
		t.Errorf("variance %v", v)
	}
	e := expected(t, "kidney").at("gamma_frailty_ml_disease", "coef")
	for _, x := range [][2]string{{"AN", "AN"}, {"GN", "GN"}, {"PKD", "PKD"}, {"female", "female"}} {
		near(t, x[0], a.row(t, "terms", "category", x[0])["estimate"], e.at(x[1]).num(), 1e-5)
	}
}

// Three rats of a litter: the litter is a column of the socket, each rat a
// person.
func TestPublishedRatsFrailty(t *testing.T) {
	t.Parallel()
	var lives []life
	for i, r := range readRecords(t, "rats") {
		lives = append(lives, life{id: i + 1, days: 7 * r.whole(t, "time"), end: lastDay(i), how: ending(r.whole(t, "status")), serial: i,
			own: []any{"drug", r.whole(t, "rx"), "rat sex", r["sex"], "litter", fmt.Sprintf("litter %d", r.whole(t, "litter"))}})
	}
	l, _ := tell(lives)
	cox := func(id, frailty string, more ...string) string {
		return ask(append([]string{"id: " + id, "method: cox", "adjust: [drug]", "shared_by: litter", "frailty: " + frailty}, more...)...)
	}
	n := runLog(t, l, oneWorkbook, cox("gamma", "gamma", "keep: {rat sex: f}")+cox("normal", "log-normal", "keep: {rat sex: f}")+
		cox("gamma-both", "gamma", "strata: [rat sex]")+cox("normal-both", "log-normal", "strata: [rat sex]"), nil)
	want := frailtyExpected(t)
	var females []string
	seen := map[string]bool{}
	for _, r := range readRecords(t, "rats") {
		if name := "litter " + r["litter"]; r["sex"] == "f" && !seen[name] {
			seen[name] = true
			females = append(females, name)
		}
	}
	terms := []string{"drug"}
	sharedOf(t, n.answer(t, "gamma"), want.at("rats_gamma"), terms, func(k int) string { return females[k] })
	sharedOf(t, n.answer(t, "normal"), want.at("rats_lognormal"), terms, func(k int) string { return females[k] })
	all := func(k int) string { return fmt.Sprintf("litter %d", k+1) }
	sharedOf(t, n.answer(t, "gamma-both"), want.at("rats_sexes_gamma"), terms, all)
	sharedOf(t, n.answer(t, "normal-both"), want.at("rats_sexes_lognormal"), terms, all)
}

// Delayed entry: Stanford's heart patients in rooms of three, watched from
// some day on, and men whose tumours come back.
func TestPublishedLateFrailty(t *testing.T) {
	t.Parallel()
	l, _ := tell(heartLives(t))
	cox := func(id string, more ...string) string {
		return ask(append([]string{"id: " + id, "method: cox", "entry: watched from"}, more...)...)
	}
	two := []string{"adjust: [own.age, surgery]", "shared_by: room"}
	n := runLog(t, l, officeCSV, cox("gamma", append([]string{"frailty: gamma"}, two...)...)+cox("normal", append([]string{"frailty: log-normal"}, two...)...)+
		cox("ridge", "adjust: [own.age, year, surgery]", "penalty: ridge", "cluster: none"), nil)
	want := frailtyExpected(t)
	terms := []string{"own.age", "surgery"}
	room := func(k int) string { return fmt.Sprintf("R%d", k) }
	sharedOf(t, n.answer(t, "gamma"), want.at("heart_gamma"), terms, room)
	sharedOf(t, n.answer(t, "normal"), want.at("heart_lognormal"), terms, room)
	ridgeOf(t, n.answer(t, "ridge"), want.at("ridge_heart_chosen"))
	for _, id := range []string{"gamma", "normal"} {
		if !n.answer(t, id).caution("late-frailty") {
			t.Errorf("%s: no caution though sockets came late", id)
		}
	}
}

// ridgeOf compares a fit with a ridge penalty.
func ridgeOf(t *testing.T, a *numbersAnswer, e expectation) {
	t.Helper()
	for j, r := range a.table(t, "terms") {
		what := fmt.Sprintf("%s %v", a.ID, r["term"])
		b, se := e.at("coef").list()[j], e.at("se").list()[j]
		near(t, what, r["estimate"], b, searched)
		near(t, what+" std error", r["std_error"], se, searched)
		near(t, what+" ratio", r["ratio"], math.Exp(b), searched)
		near(t, what+" low", r["low"], math.Exp(b-1.959963984540054*se), searched)
		if r["p"] != nil || r["z"] != nil {
			t.Errorf("%s has a test", what)
		}
	}
	r := a.row(t, "fit")
	near(t, a.ID+" size", r["penalty_size"], e.at("size").num(), searched)
	near(t, a.ID+" effective df", r["effective_df"], e.at("df").num(), searched)
	near(t, a.ID+" log likelihood", r["log_likelihood"], e.at("loglik").num(), 1e-9)
	if r["penalty"] != "ridge" || r["aic"] != nil || r["wald"] != nil || r["likelihood_ratio"] != nil {
		t.Errorf("%s: fit %v", a.ID, r)
	}
	if !a.caution("ridge") {
		t.Errorf("%s: no caution about its intervals", a.ID)
	}
}

func TestPublishedRidge(t *testing.T) {
	t.Parallel()
	var lives []life
	for i, r := range readRecords(t, "ovarian") {
		lives = append(lives, life{id: i + 1, days: r.whole(t, "futime"), end: lastDay(i), how: ending(r.whole(t, "fustat")), serial: i,
			own: []any{"age", r.num(t, "age"), "rx", "rx" + r["rx"], "ecog", r.whole(t, "ecog.ps")}})
	}
	l, _ := tell(lives)
	cox := func(id string, more ...string) string {
		return ask(append([]string{"id: " + id, "method: cox", "penalty: ridge"}, more...)...)
	}
	three := []string{"adjust: [own.age, rx, ecog]", "reference: {rx: rx1}"}
	n := runLog(t, l, officeCSV, cox("chosen", three...)+cox("given", append([]string{"penalty_size: 5"}, three...)...), nil)
	want := frailtyExpected(t)
	ridgeOf(t, n.answer(t, "chosen"), want.at("ridge_ovarian_chosen"))
	ridgeOf(t, n.answer(t, "given"), want.at("ridge_ovarian_scaled"))
	lives = nil
	for i, r := range readRecords(t, "veteran") {
		lives = append(lives, life{id: i + 1, days: r.whole(t, "time"), end: lastDay(i), how: ending(r.whole(t, "status")), serial: i,
			own: []any{"trt", r.whole(t, "trt"), "karno", r.whole(t, "karno"), "diagtime", r.whole(t, "diagtime"), "age", r.whole(t, "age"), "prior", r.whole(t, "prior")}})
	}
	l, _ = tell(lives)
	five := "adjust: [trt, karno, diagtime, own.age, prior]"
	n = runLog(t, l, plainCSV, cox("chosen", five)+cox("given", five, "penalty_size: 20"), nil)
	ridgeOf(t, n.answer(t, "chosen"), want.at("ridge_veteran_chosen"))
	ridgeOf(t, n.answer(t, "given"), want.at("ridge_veteran_scaled"))
}
