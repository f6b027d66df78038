package main

import (
	"fmt"
	"math"
	"testing"
	"time"
)

// parametricOf compares a parametric answer with an entry of a set's file:
// R 4.2.2, survival 3.5-3, survreg; the calls stand in the files. The column
// of each effect is what the file calls it.
func parametricOf(t *testing.T, a *numbersAnswer, want expectation, terms []effect, columns []string) {
	t.Helper()
	const tol = 1e-7 // the files' rel_tol is 1e-6
	se := want.at("fit", "se")
	r := a.row(t, "terms", "term", "intercept")
	near(t, a.ID+" constant", r["estimate"], want.at("fit", "coef", "(Intercept)").num(), tol)
	near(t, a.ID+" error of the constant", r["std_error"], se.at("(Intercept)").num(), tol)
	for j, x := range terms {
		r := a.row(t, "terms", "term", x.column, "category", text(x.category), "reference", text(x.reference))
		b := want.at("fit", "coef", columns[j]).num()
		near(t, a.ID+" "+columns[j], r["estimate"], b, tol)
		near(t, a.ID+" error of "+columns[j], r["std_error"], se.at(columns[j]).num(), tol)
		near(t, a.ID+" ratio of "+columns[j], r["ratio"], math.Exp(b), 1e-6)
		near(t, a.ID+" low of "+columns[j], r["low"], math.Exp(b-1.959963984540054*se.at(columns[j]).num()), 1e-6)
	}
	if se.has("Log(scale)") {
		r := a.row(t, "terms", "term", "log_scale")
		near(t, a.ID+" log scale", r["estimate"], want.at("fit", "log_scale").list()[0], tol)
		near(t, a.ID+" error of log scale", r["std_error"], se.at("Log(scale)").num(), tol)
	} else if len(a.rowsOf(t, "terms", "term", "log_scale")) != 0 {
		t.Errorf("%s has a row for log scale", a.ID)
	}
}

// distributionsOf compares the rows of fit with the entries aft_weibull
// and so on, as far as the file has them.
func distributionsOf(t *testing.T, a *numbersAnswer, want expectation, first string) {
	t.Helper()
	rows := a.table(t, "fit")
	if len(rows) != 5 || rows[0]["distribution"] != first {
		t.Fatalf("%s: fit has %d rows, the first %v", a.ID, len(rows), rows[0]["distribution"])
	}
	for name, key := range map[string]string{"Weibull": "aft_weibull", "exponential": "aft_exponential", "log-normal": "aft_lognormal", "log-logistic": "aft_loglogistic"} {
		if !want.has(key) {
			continue
		}
		r, w := a.row(t, "fit", "distribution", name), want.at(key, "fit")
		near(t, a.ID+" "+name+" log likelihood", r["log_likelihood"], w.at("loglik", "model").num(), 1e-10)
		near(t, a.ID+" "+name+" null log likelihood", r["log_likelihood_null"], w.at("loglik", "null").num(), 1e-10)
		near(t, a.ID+" "+name+" aic", r["aic"], w.at("aic").num(), 1e-10)
		near(t, a.ID+" "+name+" likelihood ratio", r["likelihood_ratio"], w.at("lrt").num(), 1e-8)
		near(t, a.ID+" "+name+" scale", r["scale"], w.at("scale").list()[0], 1e-7)
		near(t, a.ID+" "+name+" parameters", r["parameters"], w.at("df_model").num(), 0)
	}
}

var parametricEntries = map[string]string{"weibull": "aft_weibull", "exponential": "aft_exponential", "log-normal": "aft_lognormal", "log-logistic": "aft_loglogistic"}

func TestPublishedFreireichParametric(t *testing.T) {
	t.Parallel()
	var lives []life
	for i, r := range readRecords(t, "freireich") {
		lives = append(lives, life{id: i + 1, days: r.whole(t, "time"), end: lastDay(i), how: ending(r.whole(t, "cens")), serial: i,
			own: []any{"treat", r["treat"]}})
	}
	l, _ := tell(lives)
	asks := ""
	for m := range parametricEntries {
		asks += ask("id: "+m, "method: "+m, "by: treat", "reference: {treat: 6-MP}", "quantiles: [0.1, 0.5, 0.9]", "times: [6d, 23d]", "profiles: [{treat: 6-MP}, {treat: control}]")
	}
	n := runLog(t, l, officeCSV, asks, nil)
	want := expected(t, "freireich")
	for m, entry := range parametricEntries {
		a := n.answer(t, m)
		parametricOf(t, a, want.at(entry), []effect{{"treat", "control", "6-MP"}}, []string{"control"})
		distributionsOf(t, a, want, map[string]string{"weibull": "Weibull"}[m]+map[bool]string{false: m}[m == "weibull"])
	}
	w, a := want.at("weibull_derived"), n.answer(t, "weibull")
	near(t, "log hazard ratio", a.row(t, "hazard_ratios", "term", "treat")["estimate"], w.at("log_hr_control").num(), 1e-8)
	for profile, key := range map[string]string{"treat 6-MP": "q_6mp", "treat control": "q_control"} {
		for i, p := range []float64{0.1, 0.5, 0.9} {
			near(t, key, a.row(t, "quantiles", "profile", profile, "quantile", p)["estimate"], w.at(key).list()[i], 1e-8)
		}
	}
	// S(t) = exp(-(t/exp(b0+b))^shape)
	shape, b0, b := w.at("shape").num(), want.at("aft_weibull", "fit", "coef", "(Intercept)").num(), want.at("aft_weibull", "fit", "coef", "control").num()
	for profile, eta := range map[string]float64{"treat 6-MP": b0, "treat control": b0 + b} {
		for _, at := range []float64{6, 23} {
			near(t, profile, a.row(t, "predicted", "profile", profile, "time", at)["estimate"], math.Exp(-math.Pow(at/math.Exp(eta), shape)), 1e-7)
		}
	}
}

// The kidney data without columns: errors grouped by person, whose two
// catheters are two sockets. R 4.2.2, survival 3.5-3:
// survreg(Surv(time, status) ~ 1, kidney, cluster = id,
// control = survreg.control(rel.tolerance = 1e-13, maxiter = 200)).
func TestPublishedKidneyParametric(t *testing.T) {
	t.Parallel()
	var lives []life
	seen := map[int]int{}
	for i, r := range readRecords(t, "kidney") {
		id := r.whole(t, "id")
		lives = append(lives, life{id: id, limb: seen[id], days: r.whole(t, "time"), end: lastDay(id), how: ending(r.whole(t, "status")), serial: 5*(i/5) + 1 + i%4})
		seen[id]++
	}
	l, _ := tell(lives)
	n := runLog(t, l, plainCSV, ask("id: w", "method: weibull", "quantiles: [0.5]")+ask("id: e", "method: exponential", "cluster: none"), map[string]int{})
	a, e := n.answer(t, "w"), n.answer(t, "e")
	near(t, "constant", a.row(t, "terms", "term", "intercept")["estimate"], 4.852283, 1e-6)
	near(t, "sigma", a.row(t, "fit", "distribution", "Weibull")["scale"], 1.125386, 1e-6)
	near(t, "log likelihood", a.row(t, "fit", "distribution", "Weibull")["log_likelihood"], -340.93744, 1e-7)
	near(t, "median", a.row(t, "quantiles", "profile", "all")["estimate"], 84.759, 1e-5)
	for term, w := range map[string][2]float64{"intercept": {0.1506014558360245, 0.1687035294119175}, "log_scale": {0.0975110869097541, 0.0716905679091973}} {
		r := a.row(t, "terms", "term", term)
		near(t, term+" error", r["std_error"], w[0], 1e-8)
		near(t, term+" error grouped by person", r["robust_std_error"], w[1], 1e-8)
	}
	near(t, "persons", a.row(t, "fit", "distribution", "Weibull")["clusters"], 38, 0)
	near(t, "rate", e.row(t, "terms", "term", "intercept")["estimate"], math.Log(7724.0/58), 1e-9)
	near(t, "error of the rate", e.row(t, "terms", "term", "intercept")["std_error"], 1/math.Sqrt(58), 1e-9)
}

// Breast cosmesis: a look at the breast is a visit, deterioration a comfort
// of 2. A month is told as a day.
func TestPublishedCosmesisParametric(t *testing.T) {
	t.Parallel()
	l := &lab{}
	start := ymd(2022, time.March, 1)
	for i, r := range readRecords(t, "cosmesis") {
		id, chemo := fmt.Sprintf("P%d", i+1), []string{"no", "yes"}[r.whole(t, "chemo")]
		l.limbs.add("person", id, "side", "left", "level", "transtibial")
		l.sockets.add("socket", "S"+id, "limb", id+"-L", "kind", "definitive", "delivered", start, "chemo", chemo)
		if left := r.whole(t, "left"); left > 0 {
			l.visits.add("socket", "S"+id, "date", start+day(left), "purpose", "follow-up", "comfort", 8)
		}
		if r["right"] != "" {
			l.visits.add("socket", "S"+id, "date", start+day(r.whole(t, "right")), "purpose", "follow-up", "comfort", 2)
		}
	}
	asks := ""
	for m := range parametricEntries {
		asks += ask("id: "+m, "method: "+m, "event: {comfort: ..4}", "by: chemo", "reference: {chemo: no}", "times: [24d]")
	}
	n := runLog(t, l, oneWorkbook, asks, nil)
	want := expected(t, "cosmesis")
	for m, entry := range parametricEntries {
		a := n.answer(t, m)
		if *a.Rows != 94 || *a.Events != 56 {
			t.Errorf("%s: %d rows, %d events", m, *a.Rows, *a.Events)
		}
		parametricOf(t, a, want.at(entry), []effect{{"chemo", "yes", "no"}}, []string{"chemo"})
		distributionsOf(t, a, want, map[string]string{"weibull": "Weibull"}[m]+map[bool]string{false: m}[m == "weibull"])
	}
	near(t, "log hazard ratio", n.answer(t, "weibull").row(t, "hazard_ratios", "term", "chemo")["estimate"], want.at("weibull_log_hr", "log_hr").num(), 1e-7)
}
