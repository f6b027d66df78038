package main

import (
	"fmt"
	"strings"
	"testing"
)

// Freireich et al. 1963: remission times, two groups of 21.
func TestPublishedFreireich(t *testing.T) {
	t.Parallel()
	var lives []life
	for i, r := range readRecords(t, "freireich") {
		lives = append(lives, life{id: i + 1, days: r.whole(t, "time"), end: lastDay(i), how: ending(r.whole(t, "cens")), serial: i,
			own: []any{"treat", r["treat"], "stands for", 1 + (i+1)%3, "share of", 0.5 + float64((i+1)%4)/4}})
	}
	l, _ := tell(lives)
	km := func(id, bounds string, more ...string) string {
		return ask(append([]string{"id: " + id, "method: kaplan-meier", "keep: {kind: definitive}", "by: treat", "bounds: " + bounds,
			"quantiles: [0.1, 0.25, 0.5, 0.75]", "times: [6d, 10d, 23d]"}, more...)...)
	}
	cox := func(ties string) string {
		return ask("id: cox-"+ties, "method: cox", "by: treat", "reference: {treat: 6-MP}", "ties: "+ties)
	}
	n := runLog(t, l, plainCSV, km("loglog", "complementary-log-log", "until: 20d")+km("plain", "untransformed")+km("log", "log")+km("logit", "logit")+
		ask("id: weighed", "method: kaplan-meier", "by: treat", "weights: stands for")+ask("id: shares", "method: kaplan-meier", "by: treat", "weights: share of")+
		cox("efron")+cox("breslow")+cox("discrete"), nil)
	want, more := expected(t, "freireich"), expected(t, "further")

	for id, scale := range map[string]string{"loglog": "log-log", "plain": "plain", "log": "log", "logit": "logit"} {
		a := n.answer(t, id)
		if *a.Rows != 42 || *a.Events != 30 {
			t.Errorf("%s: %d rows, %d events", id, *a.Rows, *a.Events)
		}
		for _, g := range []string{"6-MP", "control"} {
			curveOf(t, a, g, more.at("freireich_"+scale, g), 1)
			key := fmt.Sprintf("km_%s_%s", map[string]string{"6-MP": "6mp", "control": "control"}[g], strings.ReplaceAll(scale, "-", ""))
			if want.has(key) {
				km := want.at(key, "km")
				for i, at := range km.at("time").list() {
					r := a.row(t, "curve", "group", g, "time", at)
					for column, k := range map[string]string{"at_risk": "n_risk", "events": "n_event", "censored": "n_censor", "estimate": "surv", "std_error": "std_err_S", "low": "lower", "high": "upper"} {
						near(t, key+" "+k, r[column], km.at(k).list()[i], closed)
					}
				}
				for i, p := range km.at("quantile", "prob").list() {
					r := a.row(t, "quantiles", "group", g, "quantile", p)
					for column, k := range map[string]string{"estimate": "est", "low": "lower", "high": "upper"} {
						near(t, key+" quantile "+k, r[column], km.at("quantile", k).list()[i], closed)
					}
				}
			}
			// The curve at the times asked for is the curve's last step by then.
			at := a.row(t, "at_times", "group", g, "time", 10.0)
			step := a.rowsOf(t, "curve", "group", g)
			for k := len(step) - 1; k >= 0; k-- {
				if step[k]["time"].(float64) <= 10 {
					for _, c := range []string{"estimate", "std_error", "low", "high"} {
						near(t, id+" at 10 days "+c, at[c], step[k][c].(float64), 0)
					}
					break
				}
			}
		}
		lr := want.at("logrank", "r")
		testOf(t, a, "log-rank test", lr.at("chisq").num(), lr.at("df").num(), lr.at("p").num(), closed)
	}
	for id, until := range map[string]string{"loglog": "20", "plain": "23"} {
		w, u := more.at("freireich_rmst"+until), map[string]float64{"20": 20, "23": 23}[until]
		a := n.answer(t, id)
		meanOf(t, a, "6-MP", u, w.at("6-MP").list())
		meanOf(t, a, "control", u, w.at("control").list())
		meanOf(t, a, "control - 6-MP", u, w.at("difference").list())
	}
	lost := expected(t, "nonparametric")
	weighedCurves(t, n, lost)
	for _, g := range []string{"6-MP", "control", "ratio"} {
		r := n.answer(t, "loglog").row(t, "time_lost", "group", strings.Replace(g, "ratio", "control / 6-MP", 1))
		for i, column := range []string{"estimate", "std_error", "low", "high", "p"} {
			if e := lost.at("freireich_lost", g).list(); i < len(e) {
				near(t, "time lost "+column, r[column], e[i], closed)
			}
		}
	}
	near(t, "published mean time", n.answer(t, "loglog").row(t, "rmst", "group", "6-MP")["estimate"], want.at("rmst_20", "rmst_6mp", "rmean").num(), closed)

	terms := []effect{{"treat", "control", "6-MP"}}
	for _, ties := range []string{"efron", "breslow"} {
		e := want.at("cox_" + ties)
		coxOf(t, n.answer(t, "cox-"+ties), terms, &e, more.at("freireich_cox_"+ties))
	}
	// The exact partial likelihood: the reference gives neither a test of
	// proportionality nor a baseline for it, and none is written.
	a, f := n.answer(t, "cox-discrete"), want.at("cox_exact", "fit")
	r := a.table(t, "terms")[0]
	for column, key := range map[string]string{"estimate": "coef", "std_error": "se", "z": "z", "ratio": "hr", "low": "hr_lower95", "high": "hr_upper95"} {
		near(t, "discrete "+key, r[column], f.at(key, "control").num(), printed)
	}
	near(t, "discrete p", r["p"], f.at("p", "control").num(), tailP)
	near(t, "discrete estimate", r["estimate"], more.at("freireich_cox_exact", "coef").num(), iterated)
	r = a.row(t, "fit")
	near(t, "discrete null", r["log_likelihood_null"], f.at("loglik", "null").num(), 1e-11)
	near(t, "discrete log likelihood", r["log_likelihood"], f.at("loglik", "model").num(), 1e-11)
	near(t, "discrete likelihood ratio", r["likelihood_ratio"], f.at("lrt", "stat").num(), printed)
	near(t, "discrete score", r["score"], f.at("score", "stat").num(), printed)
	near(t, "discrete wald", r["wald"], more.at("freireich_cox_exact", "wald", "stat").num(), iterated)
	if len(a.table(t, "proportionality")) != 0 || len(a.table(t, "baseline")) != 0 {
		t.Error("the exact partial likelihood has a baseline")
	}
}

// VA lung cancer trial: factors, strata, several groups; a workbook.
func TestPublishedVeteran(t *testing.T) {
	t.Parallel()
	var lives []life
	for i, r := range readRecords(t, "veteran") {
		own := []any{"trt", r.whole(t, "trt"), "celltype", r["celltype"], "karno", r.whole(t, "karno"), "diagtime", r.whole(t, "diagtime"),
			"age", r.whole(t, "age"), "prior", map[string]string{"0": "no", "10": "yes"}[r["prior"]]}
		for _, c := range []string{"smallcell", "adeno", "large"} {
			is := 0
			if r["celltype"] == c {
				is = 1
			}
			own = append(own, c, is)
		}
		lives = append(lives, life{id: i + 1, days: r.whole(t, "time"), end: lastDay(i), how: ending(r.whole(t, "status")), serial: i, own: own})
	}
	l, _ := tell(lives)
	terms := "adjust: [trt, smallcell, adeno, large, karno, diagtime, own.age, prior]"
	profile := "profiles: [{trt: 2, smallcell: 1, adeno: 0, large: 0, karno: 60, diagtime: 6, own.age: 65, prior: \"no\"}]"
	n := runLog(t, l, oneWorkbook,
		ask("id: full", "method: cox", terms, "factors: [trt]", "reference: {trt: 1, prior: \"no\"}", "times: [10d, 30d, 60d, 100d, 200d, 365d]", profile)+
			ask("id: breslow", "method: cox", terms, "factors: [trt]", "reference: {trt: 1, prior: \"no\"}", "ties: breslow")+
			ask("id: factor", "method: cox", "by: trt", "adjust: [celltype, karno, diagtime, own.age, prior]", "factors: [trt]", "reference: {trt: 1, celltype: squamous, prior: \"no\"}")+
			ask("id: strata", "method: cox", "adjust: [trt, karno, own.age]", "strata: celltype", "factors: [trt]", "reference: {trt: 1}")+
			ask("id: cells", "method: kaplan-meier", "by: celltype")+
			ask("id: ninety", "method: kaplan-meier", "confidence: 0.9", "times: [30d, 90d, 180d, 1y]"), nil)
	want, more := expected(t, "veteran"), expected(t, "further")
	full := []effect{{"trt", "2", "1"}, {"smallcell", "", ""}, {"adeno", "", ""}, {"large", "", ""}, {"karno", "", ""}, {"diagtime", "", ""}, {"own.age", "", ""}, {"prior", "yes", "no"}}
	own := want.at("cox_full_efron")
	coxOf(t, n.answer(t, "full"), full, &own, more.at("veteran_cox_full_efron"))
	proportionalityOf(t, n.answer(t, "full"), want.at("zph_km", "r", "table").matrix())
	own = want.at("cox_full_breslow")
	coxOf(t, n.answer(t, "breslow"), full, &own, more.at("veteran_cox_full_breslow"))
	coxOf(t, n.answer(t, "factor"), []effect{{"trt", "2", "1"}, {"celltype", "adeno", "squamous"}, {"celltype", "large", "squamous"}, {"celltype", "smallcell", "squamous"},
		{"karno", "", ""}, {"diagtime", "", ""}, {"own.age", "", ""}, {"prior", "yes", "no"}}, nil, more.at("veteran_cox_factor"))
	own = want.at("cox_stratified")
	coxOf(t, n.answer(t, "strata"), []effect{{"trt", "2", "1"}, {"karno", "", ""}, {"own.age", "", ""}}, &own, more.at("veteran_cox_stratified"))

	b := want.at("baseline_at_zero")
	for i, h := range b.at("cumhaz").list() {
		last := 0.0
		for _, r := range n.answer(t, "full").table(t, "baseline") {
			// trt enters as a category here, so that 0 means treatment 1.
			if r["time"].(float64) <= b.at("times").list()[i] {
				last = r["cumulative_hazard"].(float64)
			}
		}
		near(t, "baseline at zero", last, h, 1e-6)
	}
	p := more.at("veteran_predicted")
	for i, at := range p.at("time").list() {
		r := n.answer(t, "full").row(t, "predicted", "time", at)
		for _, c := range []string{"estimate", "std_error", "low", "high"} {
			near(t, "predicted "+c, r[c], p.at(c).list()[i], iterated)
		}
		near(t, "predicted", r["estimate"], want.at("predicted_curve", "r", "surv").list()[i], 1e-6)
	}

	a := n.answer(t, "cells")
	means := more.at("veteran_rmst")
	for _, g := range []string{"adeno", "large", "smallcell", "squamous"} {
		curveOf(t, a, g, more.at("veteran_celltype", g), 1)
		meanOf(t, a, g, means.at("until").num(), means.at(g).list())
	}
	for _, d := range []string{"large - adeno", "smallcell - adeno", "squamous - adeno", "smallcell - large", "squamous - large", "squamous - smallcell"} {
		meanOf(t, a, d, means.at("until").num(), means.at(d).list())
	}
	lr := want.at("logrank_celltype", "r")
	testOf(t, a, "log-rank test", lr.at("chisq").num(), lr.at("df").num(), lr.at("p").num(), closed)
	ninety := more.at("veteran_ninety")
	for i, at := range ninety.at("time").list() {
		r := n.answer(t, "ninety").row(t, "at_times", "time", at)
		near(t, "90 percent low", r["low"], ninety.at("low").list()[i], closed)
		near(t, "90 percent high", r["high"], ninety.at("high").list()[i], closed)
	}
}

// NCCTG lung cancer: missing values, strata, prediction.
func TestPublishedLung(t *testing.T) {
	t.Parallel()
	l, _ := tell(lungLives(t))
	n := runLog(t, l, plainCSV,
		ask("id: cox", "method: cox", "adjust: [own.age, sex, ph.ecog]", "reference: {sex: male}", "times: [90d, 180d, 365d, 730d]",
			"profiles: [{own.age: 65, sex: female, ph.ecog: 1}]")+
			ask("id: strata", "method: cox", "adjust: [own.age, ph.ecog]", "strata: [sex]")+
			ask("id: sex", "method: kaplan-meier", "by: sex", "until: 500d")+
			ask("id: complete", "method: kaplan-meier", "keep: {ph.ecog: known}", "by: sex", "until: 500d")+lungAsks, nil)
	want, more := expected(t, "lung"), expected(t, "further")
	a := n.answer(t, "cox")
	own := want.at("cox")
	coxOf(t, a, []effect{{"own.age", "", ""}, {"sex", "female", "male"}, {"ph.ecog", "", ""}}, &own, more.at("lung_cox"))
	proportionalityOf(t, a, want.at("zph_km", "r", "table").matrix())
	if !a.caution("missing") {
		t.Errorf("one row lacks ph.ecog, but the cautions are %v", a.Cautions)
	}
	p := want.at("predicted_curve", "r")
	for i, at := range p.at("times").list() {
		r := a.row(t, "predicted", "time", at)
		for column, k := range map[string]string{"estimate": "surv", "std_error": "std_err_S", "low": "lower", "high": "upper"} {
			near(t, "predicted "+k, r[column], p.at(k).list()[i], want.at("predicted_curve", "rel_tol").num())
		}
	}
	own = want.at("cox_strat_sex")
	coxOf(t, n.answer(t, "strata"), []effect{{"own.age", "", ""}, {"ph.ecog", "", ""}}, &own, sexStrata(t, more.at("lung_cox_strat_sex")))

	lungFamily(t, n)
	a = n.answer(t, "sex")
	for _, g := range []string{"female", "male"} {
		curveOf(t, a, g, more.at("lung_sex", g), 1)
	}
	means := more.at("lung_rmst500")
	meanOf(t, a, "female", 500, means.at("female").list())
	meanOf(t, a, "male", 500, means.at("male").list())
	meanOf(t, a, "male - female", 500, means.at("difference").list())
	testOf(t, a, "log-rank test", more.at("lung_logrank", "stat").num(), 1, more.at("lung_logrank", "p").num(), closed)
	// The set's own means are of the rows with ph.ecog.
	for g, key := range map[string]string{"male": "female0", "female": "female1"} {
		r, w := n.answer(t, "complete").row(t, "rmst", "group", g), want.at("km_sex_rmst500", key)
		near(t, "mean time", r["estimate"], w.at("rmean").num(), closed)
		near(t, "error of the mean time", r["std_error"], w.at("se(rmean)").num(), closed)
	}
}

// sexStrata names the strata of a fit by sex, which the set numbers.
func sexStrata(t *testing.T, e expectation) expectation {
	t.Helper()
	for i, s := range e.at("base", "stratum").words() {
		e.at("base", "stratum").v.([]any)[i] = map[string]string{"1": "male", "2": "female"}[s]
	}
	return e
}

// Ovarian cancer: few events, ages with decimals.
func TestPublishedOvarian(t *testing.T) {
	t.Parallel()
	var lives []life
	for i, r := range readRecords(t, "ovarian") {
		lives = append(lives, life{id: i + 1, days: r.whole(t, "futime"), end: lastDay(i), how: ending(r.whole(t, "fustat")), serial: i,
			own: []any{"age", r.num(t, "age"), "rx", "rx" + r["rx"]}})
	}
	l, _ := tell(lives)
	n := runLog(t, l, officeCSV, ask("id: cox", "method: cox", "adjust: [own.age, rx]", "reference: {rx: rx1}"), nil)
	want, more := expected(t, "ovarian"), expected(t, "further")
	own, a := want.at("cox"), n.answer(t, "cox")
	coxOf(t, a, []effect{{"own.age", "", ""}, {"rx", "rx2", "rx1"}}, &own, more.at("ovarian_cox"))
	proportionalityOf(t, a, want.at("zph_km", "r", "table").matrix())
	if !a.caution("few-events") {
		t.Errorf("12 events for 2 terms, but the cautions are %v", a.Cautions)
	}
}
