package main

import (
	"fmt"
	"math"
	"testing"
)

// Closed forms are compared ten times more tightly than their reference files
// ask, estimates found by iteration to 1e-9, which the reference reaches with
// its tolerance set to 1e-13 (further/make.R); its own files stop at 1e-7.
const (
	closed   = 1e-10
	iterated = 1e-9
	printed  = 1e-7 // rel_tol of the sets' own Cox fits
	tailP    = 1e-6 // p-values: a relative error of the statistic grows with it
)

// curveOf compares a curve with its columns: time, at_risk, events,
// censored, estimate, std_error, low, high. Scale is how many days one unit
// of the reference's time is.
func curveOf(t *testing.T, a *numbersAnswer, group string, want expectation, scale float64) {
	t.Helper()
	rows := a.rowsOf(t, "curve", "group", group)
	times := want.at("time").list()
	if len(rows) != len(times)+1 {
		t.Fatalf("%s %s: %d rows, want %d and one at time 0", a.ID, group, len(rows), len(times))
	}
	near(t, a.ID+" first time", rows[0]["time"], 0, 0)
	near(t, a.ID+" first estimate", rows[0]["estimate"], 1, 0)
	for _, c := range []string{"at_risk", "events", "censored", "estimate", "std_error", "low", "high"} {
		for i, v := range want.at(c).list() {
			r := rows[i+1]
			if c == "std_error" && v == 0 {
				// The reference's error at an estimate of 0 or 1; no interval
				// follows from it, and the answer has neither.
				v = math.NaN()
			}
			near(t, a.ID+" time", r["time"], times[i]*scale, 0)
			near(t, fmt.Sprintf("%s %s %s at %g", a.ID, group, c, times[i]), r[c], v, closed)
		}
	}
	if want.has("quantile") {
		quantilesOf(t, a, group, want, scale)
	}
}

func quantilesOf(t *testing.T, a *numbersAnswer, group string, want expectation, scale float64) {
	t.Helper()
	for i, p := range want.at("quantile").list() {
		r := a.row(t, "quantiles", "group", group, "quantile", p)
		for column, key := range map[string]string{"estimate": "q_estimate", "low": "q_low", "high": "q_high"} {
			near(t, fmt.Sprintf("%s %s %s of quantile %g", a.ID, group, column, p), r[column], want.at(key).list()[i]*scale, closed)
		}
	}
}

// meanOf compares a mean time within a period, or a difference of two:
// estimate, std_error, low, high and, of a difference, p.
func meanOf(t *testing.T, a *numbersAnswer, group string, until float64, want []float64) {
	t.Helper()
	r := a.row(t, "rmst", "group", group)
	near(t, a.ID+" until", r["until"], until, 0)
	for i, c := range []string{"estimate", "std_error", "low", "high"} {
		near(t, a.ID+" "+group+" mean time "+c, r[c], want[i], closed)
	}
	if len(want) > 4 {
		near(t, a.ID+" "+group+" p", r["p"], want[4], tailP)
	} else if r["p"] != nil {
		t.Errorf("%s %s: a mean time has a p", a.ID, group)
	}
}

func testOf(t *testing.T, a *numbersAnswer, name string, stat, df, p, tol float64) {
	t.Helper()
	r := a.row(t, "tests", "test", name)
	near(t, a.ID+" "+name, r["statistic"], stat, tol)
	near(t, a.ID+" "+name+" df", r["df"], df, 0)
	near(t, a.ID+" "+name+" p", r["p"], p, tailP)
}

// effect names a row of a table of terms.
type effect struct{ column, category, reference string }

func text(s string) any {
	if s == "" {
		return nil
	}
	return s
}

// products are products of columns as the sets call them.
var products = map[string]string{"own.age × transplant": "age_tx", "surgery × transplant": "surg_tx", "own.age × sex": "age_male"}

// coxOf compares a Cox fit: terms in the order of names, which is the
// reference's, with its own file (own) and with the tighter and further
// values (more).
func coxOf(t *testing.T, a *numbersAnswer, terms []effect, own *expectation, more expectation) {
	t.Helper()
	rows := a.table(t, "terms")
	if len(rows) != len(terms) {
		t.Fatalf("%s: %d terms, want %d", a.ID, len(rows), len(terms))
	}
	names := more.at("term").words()
	robust := more.has("robust_se")
	for j, x := range terms {
		r, what := rows[j], a.ID+" "+x.column+" "+x.category
		if r["term"] != x.column || r["category"] != text(x.category) || r["reference"] != text(x.reference) || r["df"] != nil {
			t.Errorf("%s: row %v", what, r)
		}
		b, se := more.at("coef").list()[j], more.at("se").list()[j]
		near(t, what, r["estimate"], b, iterated)
		near(t, what+" ratio", r["ratio"], math.Exp(b), iterated)
		near(t, what+" std error", r["std_error"], se, iterated)
		if robust {
			se = more.at("robust_se").list()[j]
			near(t, what+" robust std error", r["robust_std_error"], se, iterated)
		} else if _, has := r["robust_std_error"]; has {
			t.Errorf("%s has a robust error", what)
		}
		near(t, what+" z", r["z"], b/se, iterated)
		const z975 = 1.959963984540054
		near(t, what+" low", r["low"], math.Exp(b-z975*se), iterated)
		near(t, what+" high", r["high"], math.Exp(b+z975*se), iterated)
		near(t, what+" p", r["p"], math.Erfc(math.Abs(b/se)/math.Sqrt2), tailP)
		if own == nil {
			continue
		}
		f, n := own.at("fit"), names[j]
		if !f.at("coef").has(n) {
			n = x.category // the set has a column for each category
			if p, ok := products[x.column]; ok {
				n = p
			}
		}
		for column, key := range map[string]string{"estimate": "coef", "std_error": "se", "z": "z", "ratio": "hr", "low": "hr_lower95", "high": "hr_upper95"} {
			near(t, what+" "+key, r[column], f.at(key, n).num(), printed)
		}
		near(t, what+" p", r["p"], f.at("p", n).num(), tailP)
		if robust {
			near(t, what+" robust", r["robust_std_error"], f.at("robust_se", n).num(), printed)
		}
	}
	k := float64(len(terms))
	r := a.row(t, "fit")
	ll := more.at("loglik").list()
	for column, v := range map[string]float64{"log_likelihood_null": ll[0], "log_likelihood": ll[1], "aic": 2*k - 2*ll[1]} {
		near(t, a.ID+" "+column, r[column], v, 1e-11)
	}
	near(t, a.ID+" likelihood ratio", r["likelihood_ratio"], 2*(ll[1]-ll[0]), iterated)
	near(t, a.ID+" wald", r["wald"], more.at("wald", "stat").num(), iterated)
	near(t, a.ID+" wald p", r["wald_p"], more.at("wald", "p").num(), tailP)
	near(t, a.ID+" score", r["score"], more.at("score").num(), iterated)
	near(t, a.ID+" concordance", r["concordance"], more.at("C").num(), iterated)
	near(t, a.ID+" concordance error", r["concordance_std_error"], more.at("Cse").num(), iterated)
	for _, c := range []string{"likelihood_ratio_df", "wald_df", "score_df"} {
		near(t, a.ID+" "+c, r[c], k, 0)
	}
	if own != nil {
		f := own.at("fit")
		near(t, a.ID+" rows", r["rows"], f.at("n").num(), 0)
		near(t, a.ID+" events", r["events"], f.at("nevent").num(), 0)
		near(t, a.ID+" likelihood ratio", r["likelihood_ratio"], f.at("lrt", "stat").num(), printed)
		near(t, a.ID+" likelihood ratio p", r["likelihood_ratio_p"], f.at("lrt", "p").num(), tailP)
		near(t, a.ID+" score", r["score"], f.at("score", "stat").num(), printed)
		near(t, a.ID+" score p", r["score_p"], f.at("score", "p").num(), tailP)
		near(t, a.ID+" wald p", r["wald_p"], f.at("wald", "p").num(), tailP)
		near(t, a.ID+" concordance", r["concordance"], f.at("concordance", "C").num(), printed)
		if robust {
			near(t, a.ID+" robust score", r["robust_score"], f.at("robust_score", "stat").num(), printed)
			near(t, a.ID+" robust score p", r["robust_score_p"], f.at("robust_score", "p").num(), tailP)
		}
	}
	if !robust && (r["robust_score"] != nil || r["clusters"] != nil) {
		t.Errorf("%s is clustered: %v", a.ID, r)
	}
	proportionalityOf(t, a, more.at("zph").matrix())
	if more.has("base") {
		baselineOf(t, a, more.at("base"), 1)
	}
}

func proportionalityOf(t *testing.T, a *numbersAnswer, want [][]float64) {
	t.Helper()
	rows := a.table(t, "proportionality")
	if len(rows) != len(want) {
		t.Fatalf("%s: %d tests of proportionality, want %d", a.ID, len(rows), len(want))
	}
	for j, w := range want {
		near(t, a.ID+" proportionality", rows[j]["statistic"], w[0], iterated)
		near(t, a.ID+" proportionality df", rows[j]["df"], w[1], 0)
		near(t, a.ID+" proportionality p", rows[j]["p"], w[2], tailP)
	}
	if last := rows[len(rows)-1]["term"]; last != "global" {
		t.Errorf("%s: the last test is of %v", a.ID, last)
	}
}

// baselineOf compares the cumulative hazard with all terms at 0. The
// reference may name strata in another order.
func baselineOf(t *testing.T, a *numbersAnswer, want expectation, scale float64) {
	t.Helper()
	hazard, times, strata := want.at("hazard").list(), want.at("time").list(), want.at("stratum").words()
	seen := 0
	for i, h := range hazard {
		rows := a.rowsOf(t, "baseline", "stratum", strata[i], "time", times[i]*scale)
		if len(rows) == 0 && (i == 0 || hazard[i-1] == h) {
			continue // a time without an event may be left out
		}
		if len(rows) != 1 {
			t.Fatalf("%s: %d rows of the baseline of %s at %g", a.ID, len(rows), strata[i], times[i])
		}
		seen++
		// A hazard of 1e-10 and less rests on covariates far from 0.
		near(t, fmt.Sprintf("%s baseline at %g", a.ID, times[i]), rows[0]["cumulative_hazard"], h, 1e-7)
		near(t, fmt.Sprintf("%s survival at %g", a.ID, times[i]), rows[0]["survival"], math.Exp(-h), 1e-7)
	}
	if seen < len(hazard)/3 {
		t.Errorf("%s: only %d of %d times of the baseline", a.ID, seen, len(hazard))
	}
}
