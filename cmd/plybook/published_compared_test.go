package main

import (
	"fmt"
	"math"
	"testing"
	"time"
)

// lungLives are the NCCTG lung cancer data as a lab's sockets.
func lungLives(t *testing.T) []life {
	t.Helper()
	var lives []life
	for i, r := range readRecords(t, "lung") {
		own := []any{"age", r.whole(t, "age")}
		if r["ph.ecog"] != "" {
			own = append(own, "ph.ecog", r.whole(t, "ph.ecog"))
		}
		lives = append(lives, life{id: i + 1, sex: map[string]string{"1": "M", "2": "F"}[r["sex"]], days: r.whole(t, "time"), end: lastDay(i),
			how: ending(r.whole(t, "status") - 1), serial: i, own: own})
	}
	return lives
}

const z975 = 1.959963984540054

// R 4.2.2, survival 3.5-3: coxph and survreg with a restricted cubic basis of
// age; the calls stand in testdata/published/compared.
func TestPublishedLungCurve(t *testing.T) {
	t.Parallel()
	l, _ := tell(lungLives(t))
	more := []string{"keep: {ph.ecog: known}", "adjust: [own.age, sex]", "reference: {sex: male}", "spline: {own.age: 4}",
		"contrasts: [{own.age: [75, 55]}, {sex: [female, male], own.age: 60}]"}
	n := runLog(t, l, plainCSV, ask(append([]string{"id: cox", "method: cox", "adjust_p: none"}, more...)...)+
		ask(append([]string{"id: weibull", "method: weibull"}, more...)...)+
		ask("id: straight", "method: cox", "keep: {ph.ecog: known}", "adjust: [own.age, sex]"), nil)
	want, a := expected(t, "compared").at("lung_curve"), n.answer(t, "cox")
	for i, v := range want.at("knots").list() {
		near(t, "knot", a.row(t, "knots", "term", "own.age", "knot", float64(i+1))["value"], v, closed)
	}
	rows := a.table(t, "spline_curve")
	if len(rows) != len(want.at("value").list()) {
		t.Fatalf("%d values of the curve, want %d", len(rows), len(want.at("value").list()))
	}
	for i, r := range rows {
		est, se := want.at("estimate").list()[i], want.at("se").list()[i]
		near(t, "value", r["value"], want.at("value").list()[i], closed)
		near(t, "reference", r["reference"], want.at("median").num(), closed)
		if se < 1e-12 {
			near(t, "ratio of the middle value", r["ratio"], 1, closed)
			continue
		}
		near(t, "curve", r["estimate"], est, iterated)
		near(t, "curve error", r["std_error"], se, iterated)
		near(t, "curve low", r["low"], math.Exp(est-z975*se), iterated)
		near(t, "curve high", r["high"], math.Exp(est+z975*se), iterated)
	}
	near(t, "any effect", a.row(t, "spline_tests", "test", "any effect")["statistic"], want.at("any").num(), iterated)
	r := a.row(t, "spline_tests", "test", "not a straight line")
	near(t, "not straight", r["statistic"], want.at("bent").num(), iterated)
	near(t, "not straight df", r["df"], 2, closed)
	near(t, "not straight p", r["p"], math.Exp(-want.at("bent").num()/2), iterated) // chi-square, 2 df
	pairsOf := func(a *numbersAnswer, want expectation) {
		t.Helper()
		for i, of := range []string{"75", "female"} {
			r := a.row(t, "contrasts", "of", of)
			est, se := want.at("pairs", "estimate").list()[i], want.at("pairs", "se").list()[i]
			near(t, a.ID+" "+of, r["estimate"], est, iterated)
			near(t, a.ID+" error "+of, r["std_error"], se, iterated)
			near(t, a.ID+" high "+of, r["high"], math.Exp(est+z975*se), iterated)
			if r["p_adjusted"] != nil {
				t.Errorf("adjust_p is none, but p_adjusted is %v", r["p_adjusted"])
			}
		}
	}
	pairsOf(a, want)
	if r := a.row(t, "contrasts", "of", "female"); r["against"] != "male" || r["given"] != "age 60" {
		t.Errorf("contrast %v", r)
	}
	w := expected(t, "compared").at("lung_weibull")
	pairsOf(n.answer(t, "weibull"), w)
	near(t, "weibull not straight", n.answer(t, "weibull").row(t, "spline_tests", "test", "not a straight line")["statistic"], w.at("bent").num(), iterated)
	for _, name := range []string{"knots", "spline_curve", "spline_tests", "contrasts"} {
		if _, has := n.answer(t, "straight").Tables[name]; has {
			t.Errorf("%s is there, but nothing asked for it", name)
		}
	}
}

// R 4.2.2, survival 3.5-3: survfit(coxph) averaged over the rows; the error by
// its formula with Breslow's ties, and by a bootstrap of 1000 samples with
// Efron's, which is itself known to 2 percent and holds no more than the rows
// as a sample.
func TestPublishedLungStandardised(t *testing.T) {
	t.Parallel()
	l, _ := tell(lungLives(t))
	block := func(id string, more ...string) string {
		return ask(append([]string{"id: " + id, "method: cox", "by: sex", "adjust: [own.age, ph.ecog]", "reference: {sex: male}", "adjusted: yes",
			"times: [90d, 180d, 365d, 730d]"}, more...)...)
	}
	n := runLog(t, l, plainCSV, block("breslow", "ties: breslow")+block("efron"), nil)
	want := expected(t, "compared").at("lung_standard")
	for i, at := range want.at("time").list() {
		for g, group := range []string{"male", "female", "female - male"} {
			r := n.answer(t, "breslow").row(t, "adjusted", "group", group, "time", at)
			est, se := want.at("breslow").matrix()[i], want.at("breslow_se").matrix()[i]
			est = append(est, est[1]-est[0])
			near(t, "standardised "+group, r["estimate"], est[g], iterated)
			near(t, "standardised error "+group, r["std_error"], se[g], iterated)
			r = n.answer(t, "efron").row(t, "adjusted", "group", group, "time", at)
			est, se = want.at("efron").matrix()[i], want.at("efron_boot_se").matrix()[i]
			est = append(est, est[1]-est[0])
			near(t, "standardised "+group, r["estimate"], est[g], iterated)
			near(t, "standardised error against the bootstrap "+group, r["std_error"], se[g], 0.15)
		}
		// The difference is plain, its interval normal.
		r := n.answer(t, "breslow").row(t, "adjusted", "group", "female - male", "time", at)
		near(t, "difference high", r["high"], r["estimate"].(float64)+z975*r["std_error"].(float64), iterated)
	}
	curve := n.answer(t, "efron").rowsOf(t, "adjusted_curve", "group", "male")
	near(t, "start of the curve", curve[0]["estimate"], 1, 0)
	for i := 1; i < len(curve); i++ {
		if !(curve[i]["estimate"].(float64) <= curve[i-1]["estimate"].(float64)) {
			t.Errorf("the curve rises at %v", curve[i]["time"])
		}
	}
}

// R 4.2.2, survival 3.5-3: cox.zph, residuals(type = "dfbetas"), and accuracy
// by its formulas.
func TestPublishedLungDiagnostics(t *testing.T) {
	t.Parallel()
	l, _ := tell(lungLives(t))
	n := runLog(t, l, plainCSV, ask("id: cox", "method: cox", "adjust: [own.age, sex, ph.ecog]", "reference: {sex: male}", "diagnostics: yes",
		"times: [90d, 180d, 365d, 730d]")+ask("id: plain", "method: cox", "adjust: [own.age, sex, ph.ecog]"), nil)
	a, want := n.answer(t, "cox"), expected(t, "compared")
	terms := []string{"own.age", "sex", "ph.ecog"}
	for i, at := range want.at("lung_over_time", "time").list() {
		for j, term := range terms {
			r := a.row(t, "effect_over_time", "term", term, "time", at)
			est, se := want.at("lung_over_time", "estimate").matrix()[i][j], want.at("lung_over_time", "se").matrix()[i][j]
			near(t, "effect of "+term, r["estimate"], est, iterated)
			near(t, "its error", r["std_error"], se, iterated)
			near(t, "its upper limit", r["high"], math.Exp(est+z975*se), iterated)
		}
	}
	rows := a.table(t, "influence")
	if len(rows) != 10 {
		t.Fatalf("%d sockets listed, want 10", len(rows))
	}
	for i, row := range want.at("lung_influence", "row").list() {
		r := a.row(t, "influence", "socket", fmt.Sprintf("S%.0fL", row))
		if r["socket"] != rows[i]["socket"] {
			t.Errorf("socket %v stands elsewhere than at %d", r["socket"], i+1)
		}
		all := want.at("lung_influence", "dfbetas").matrix()[i]
		j := 0
		for k := range all {
			if math.Abs(all[k]) > math.Abs(all[j]) {
				j = k
			}
		}
		if r["term"] != terms[j] {
			t.Errorf("socket %v moves %v, want %s", r["socket"], r["term"], terms[j])
		}
		near(t, "change in errors", r["standard_errors"], all[j], iterated)
		near(t, "change", r["change"], want.at("lung_influence", "dfbeta").matrix()[i][j], iterated)
	}
	for i, at := range want.at("lung_accuracy", "time").list() {
		r := a.row(t, "accuracy", "time", at)
		for j, column := range []string{"auc", "brier", "brier_null", "cases", "controls"} {
			near(t, column, r[column], want.at("lung_accuracy", "values").matrix()[i][j], iterated)
		}
	}
	for _, name := range []string{"effect_over_time", "influence", "accuracy"} {
		if _, has := n.answer(t, "plain").Tables[name]; has {
			t.Errorf("%s is there, but nothing asked for it", name)
		}
	}
}

// R 4.2.2, survival 3.5-3: finegray, coxph with weights and cluster, p.adjust.
func TestPublishedPairs(t *testing.T) {
	t.Parallel()
	l, openAtDeath := fineGrayLab(t)
	n := runLog(t, l, plainCSV, ask("id: pairs", "method: fine-gray", "by: third", "reference: {third: b}", "contrasts: {third: every pair}", "adjust_p: holm"), map[string]int{"open-at-death": openAtDeath})
	want, a := expected(t, "compared").at("mgus2_pairs"), n.answer(t, "pairs")
	for i, p := range [][2]string{{"a", "b"}, {"c", "b"}, {"c", "a"}} {
		r := a.row(t, "contrasts", "of", p[0], "against", p[1])
		near(t, "pair", r["estimate"], want.at("estimate").list()[i], iterated)
		near(t, "pair error", r["std_error"], want.at("se").list()[i], iterated)
		near(t, "pair p", r["p"], want.at("p").list()[i], tailP)
		near(t, "pair p by Holm", r["p_adjusted"], want.at("holm").list()[i], tailP)
	}
}

// R 4.2.2, clubSandwich 0.5.8 and lmerTest 3.1-3: a curve of days awake too
// little.
func TestPublishedSleepCurve(t *testing.T) {
	t.Parallel()
	n := runLog(t, sleepLab(t), plainCSV, ask("id: linear", "method: linear", "rows: visits", "outcome: reaction", "adjust: [days_since_delivery]",
		"spline: {days_since_delivery: 4}", "contrasts: {days_since_delivery: [7, 2]}")+
		ask("id: mixed", "method: mixed", "rows: visits", "outcome: reaction", "time: days_since_delivery",
			"spline: {days_since_delivery: 4}", "contrasts: {days_since_delivery: [7, 2]}")+
		ask("id: cook", "method: linear", "rows: visits", "outcome: reaction", "adjust: [days_since_delivery]", "diagnostics: yes"), nil)
	for i, v := range expected(t, "compared").at("sleep_cook", "values").matrix() {
		r := n.answer(t, "cook").table(t, "influence")[i]
		near(t, "standardised residual", r["standardised_residual"], v[0], closed)
		near(t, "hat", r["hat"], v[1], closed)
		near(t, "Cook's distance", r["cooks_distance"], v[2], closed)
	}
	for id, tol := range map[string]float64{"linear": closed, "mixed": variances} {
		want, a := expected(t, "compared").at("sleep_"+id), n.answer(t, id)
		r := a.row(t, "contrasts")
		for i, column := range []string{"estimate", "std_error", "df", "low", "high"} {
			near(t, id+" "+column, r[column], want.at("pair").list()[i], tol)
		}
		r = a.row(t, "spline_tests", "test", "not a straight line")
		for i, column := range []string{"statistic", "df", "df_residual", "p"} {
			near(t, id+" not straight "+column, r[column], want.at("bent").list()[i], math.Max(tol, 1e-6))
		}
	}
	r, want := n.answer(t, "linear").row(t, "spline_tests", "test", "any effect"), expected(t, "compared").at("sleep_linear", "any").list()
	for i, column := range []string{"statistic", "df", "df_residual", "p"} {
		near(t, "any "+column, r[column], want[i], 1e-6)
	}
}

// sleepLab is the sleep study as a lab's visits.
func sleepLab(t *testing.T) *lab {
	t.Helper()
	l := &lab{}
	seen := map[string]day{}
	for _, r := range readRecords(t, "sleepstudy") {
		id := "N" + r["Subject"]
		first, ok := seen[id]
		if !ok {
			first = ymd(2021, time.March, 1) + day(17*len(seen))
			seen[id] = first
			l.limbs.add("Person", id, "Side", "L", "Level", "BK")
			l.sockets.add("Socket", "J"+r["Subject"], "Limb", id+"-L", "Kind", "def", "Delivered", first)
		}
		l.visits.add("Socket", "J"+r["Subject"], "Date", first+day(r.whole(t, "Days")), "Purpose", "F/U", "reaction", r.num(t, "Reaction"))
	}
	return l
}
