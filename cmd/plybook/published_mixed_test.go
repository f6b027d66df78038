package main

import (
	"encoding/csv"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"
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

// layersLab are the drawn data of analysis/mixed/testdata/layers.R as a log:
// persons with one or two limbs, seen by four clinicians.
func layersLab(t *testing.T) *lab {
	t.Helper()
	f, err := os.Open(layersData + ".csv")
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	l, seen := &lab{}, map[string]bool{}
	number := func(text string) float64 {
		v, err := strconv.ParseFloat(text, 64)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	for _, r := range rows[1:] { // person, limb, by, t, g, y
		side := map[string]string{"1": "left", "2": "right"}[r[1][len(r[1])-1:]]
		limb := "P" + r[0] + "-" + strings.ToUpper(side[:1])
		if !seen[limb] {
			seen[limb] = true
			l.limbs.add("person", "P"+r[0], "side", side, "level", "TT")
			l.sockets.add("socket", "S"+r[1], "limb", limb, "kind", "definitive", "delivered", ymd(2022, time.March, 1))
		}
		l.visits.add("socket", "S"+r[1], "date", ymd(2022, time.March, 1)+day(int(number(r[3]))), "purpose", "follow-up", "seen_by", "C"+r[2], "level_of", number(r[5]), "dose", number(r[4]))
	}
	return l
}

const layersData = "../../analysis/mixed/testdata/layers"

// R 4.2.2, lme4 1.1-31, lmerTest 3.1-3 and nlme 3.1-162 (analysis/mixed/testdata/layers.R):
// persons above limbs, clinicians that cut across them, scatter by clinician
// and correlation in time.
func TestPublishedMixedLayers(t *testing.T) {
	t.Parallel()
	var want map[string]struct {
		Coef, SE, DF, VCov, R2, Kinds []float64
		LogLik, Range                 float64
		Effects                       map[string]struct {
			Levels    []string
			Modes, SE []float64
			All       []float64 `json:"se_all"`
		}
	}
	var tests struct {
		Tests map[string][][]float64 `json:"tests"`
	}
	readJSON(t, layersData+".json", &tests)
	var raw map[string]json.RawMessage
	readJSON(t, layersData+".json", &raw)
	delete(raw, "tests")
	b, err := json.Marshal(raw)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(b, &want); err != nil {
		t.Fatal(err)
	}
	block := func(id string, more ...string) string {
		return ask(append([]string{"id: " + id, "method: mixed", "rows: visits", "outcome: own.level_of", "time: days_since_delivery", "adjust: [own.dose]"}, more...)...)
	}
	slope, person, by := "slopes: [days_since_delivery]", "nested_in: person", "crossed: [seen_by]"
	n := runLog(t, layersLab(t), plainCSV, block("all-reml", slope, person, by, "test_random: yes")+block("nested-ml", slope, person, "estimate: ml")+
		block("slopes-reml", person, "nested_slopes: [days_since_delivery]")+block("crossed-reml", by)+
		block("spread-reml", slope, "scatter_by: seen_by", "test_random: yes")+block("serial-nested-reml", person, "correlation: ar1")+
		block("serial-spread-ml", "correlation: ar1", "scatter_by: seen_by", "estimate: ml"), nil)
	for _, id := range []string{"all-reml", "nested-ml", "slopes-reml", "crossed-reml", "spread-reml", "serial-nested-reml", "serial-spread-ml"} {
		a, w := n.answer(t, id), want[strings.ReplaceAll(id, "-", "_")]
		tol := 1e-6
		if len(w.Effects) == 0 {
			tol = 5e-5 // nlme stops a little short of the optimum
		}
		for j, r := range a.table(t, "terms") {
			near(t, id+" term", r["estimate"], w.Coef[j], tol)
			near(t, id+" error", r["std_error"], w.SE[j], tol)
			if len(w.DF) > 0 {
				near(t, id+" df", r["df"], w.DF[j], 2e-6)
			}
		}
		near(t, id+" likelihood", a.row(t, "fit")["log_likelihood"], w.LogLik, 1e-8)
		if len(w.R2) > 0 {
			near(t, id+" marginal", a.row(t, "fit")["r_squared_marginal"], w.R2[0], tol)
			near(t, id+" conditional", a.row(t, "fit")["r_squared_conditional"], w.R2[1], tol)
		}
		if w.Range > 0 {
			near(t, id+" range", a.row(t, "fit")["correlation_range"], w.Range, tol)
		}
		for k, v := range w.Kinds {
			near(t, id+" scatter", a.row(t, "variance", "group", "residual", "term", fmt.Sprintf("C%d", k+1))["std_dev"], v, tol)
		}
		for of, e := range w.Effects {
			column := map[string]string{"by": "seen_by"}[of]
			if column == "" {
				column = of
			}
			q := len(e.Modes) / len(e.Levels)
			for i, level := range e.Levels {
				name := map[string]string{"by": "C" + level, "person": "P" + level}[of]
				if of == "limb" {
					name = "P" + level[:len(level)-1] + "-" + map[byte]string{'1': "L", '2': "R"}[level[len(level)-1]]
				}
				for k, term := range []string{"intercept", "days_since_delivery"}[:q] {
					r := a.row(t, "limbs", "of", column, "group", name, "term", term)
					if d := math.Abs(r["estimate"].(float64) - e.Modes[i*q+k]); d > 1e-5*e.SE[i*q+k] {
						t.Errorf("%s %s of %s: %v, want %g", id, term, name, r["estimate"], e.Modes[i*q+k])
					}
					near(t, id+" error of "+name, r["std_error"], e.SE[i*q+k], 5e-6)
					near(t, id+" whole error of "+name, r["std_error_all"], e.All[i*q+k], 5e-6)
				}
			}
		}
		for k, v := range tests.Tests[strings.ReplaceAll(id, "-", "_")] {
			r := a.table(t, "variance_tests")[k]
			near(t, id+" ratio", r["statistic"], v[0], 1e-6)
			near(t, id+" p", r["p"], v[1], 1e-5)
		}
	}
}
