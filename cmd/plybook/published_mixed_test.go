package main

import (
	"math"
	"testing"
)

// R 4.2.2, lme4 1.1-31, lmerTest 3.1-3 and nlme 3.1-162 (testdata/published/mixed):
// random effects that are not correlated, errors of what is believed of a
// limb, tests of what is random, and residuals correlated in time.
func TestPublishedMixedParts(t *testing.T) {
	t.Parallel()
	block := func(id string, more ...string) string {
		return ask(append([]string{"id: " + id, "method: mixed", "rows: visits", "outcome: reaction", "time: days_since_delivery"}, more...)...)
	}
	n := runLog(t, sleepLab(t), plainCSV, block("slope", "slopes: [days_since_delivery]", "test_random: yes")+
		block("uncorrelated", "slopes: [days_since_delivery]", "random_effects: uncorrelated", "test_random: yes")+
		block("ar1", "correlation: ar1"), nil)
	want := expected(t, "mixed")
	w, a := want.at("sleep_slope"), n.answer(t, "slope")
	for i, se := range w.at("se_all").matrix() {
		for k, v := range se {
			near(t, "error of what is believed of a limb", a.table(t, "limbs")[2*i+k]["std_error_all"], v, variances)
		}
	}
	ratios(t, a, w)
	w, a = want.at("sleep_uncorrelated"), n.answer(t, "uncorrelated")
	for j, r := range a.table(t, "terms") {
		near(t, "uncorrelated", r["estimate"], w.at("coef").list()[j], fixedPart)
		near(t, "uncorrelated error", r["std_error"], w.at("se").list()[j], variances)
		near(t, "uncorrelated df", r["df"], w.at("df").list()[j], freedom)
	}
	for k, v := range w.at("sd").list() {
		near(t, "uncorrelated sd", a.table(t, "variance")[k]["std_dev"], v, variances)
	}
	near(t, "uncorrelated likelihood", a.row(t, "fit")["log_likelihood"], w.at("loglik").list()[0], likelihood)
	ratios(t, a, w)
	// lme stops a little short of the optimum: its log-likelihood is right to
	// 1e-9, its variances to 1e-4.
	w, a = want.at("sleep_ar1"), n.answer(t, "ar1")
	for j, r := range a.table(t, "terms") {
		near(t, "ar1", r["estimate"], w.at("coef").list()[j], 1e-6)
		near(t, "ar1 error", r["std_error"], w.at("se").list()[j], 1e-4)
	}
	for k, v := range w.at("sd").list() {
		near(t, "ar1 sd", a.table(t, "variance")[k]["std_dev"], v, 1e-4)
	}
	near(t, "ar1 range", a.row(t, "fit")["correlation_range"], w.at("range").list()[0], 1e-4)
	near(t, "ar1 likelihood", a.row(t, "fit")["log_likelihood"], w.at("loglik").list()[0], 1e-9)
	if got := a.row(t, "fit")["log_likelihood"].(float64); got < w.at("loglik").list()[0]-1e-8*math.Abs(got) {
		t.Errorf("log-likelihood %.12f below that of nlme", got)
	}
}

// ratios compares the tests of what is random: the ratio and its p.
func ratios(t *testing.T, a *numbersAnswer, w expectation) {
	t.Helper()
	for k, v := range w.at("tests").matrix() {
		r := a.table(t, "variance_tests")[k]
		near(t, a.ID+" ratio", r["statistic"], v[0], 1e-7)
		near(t, a.ID+" p of the ratio", r["p"], v[1], 1e-6)
	}
}
