package main

import (
	"fmt"
	"math"
	"path/filepath"
	"testing"
)

// fineGrayLab is mgus2 told as a log: a plasma-cell malignancy is a remake. The
// first persons of every four share a ward.
func fineGrayLab(t *testing.T) (*lab, int) {
	t.Helper()
	var lives []life
	complete := 0 // rows with all values known; their wards are four rows each
	for i, r := range readRecords(t, "mgus2") {
		own := []any{"age", r.whole(t, "age"), "third", ageThird(r.whole(t, "age"))}
		for _, c := range []string{"hgb", "creat"} {
			if r[c] != "" {
				own = append(own, c, r.num(t, c))
			}
		}
		if r["hgb"] != "" && r["creat"] != "" {
			complete++
		}
		own = append(own, "ward", fmt.Sprintf("W%d", complete/4))
		lives = append(lives, life{id: i + 1, sex: r["sex"], days: r.whole(t, "etime"), end: lastDay(i), how: ending(r.whole(t, "event")), serial: i, own: own})
	}
	return tell(lives)
}

func ageThird(age int) string {
	switch {
	case age <= 65:
		return "a"
	case age <= 77:
		return "b"
	}
	return "c"
}

// R 4.2.2, survival 3.5-3: finegray, coxph, cox of each cause; the calls stand
// in testdata/published/mgus2 and in analysis/survival/testdata/finegray.R.
func TestPublishedFineGray(t *testing.T) {
	t.Parallel()
	l, openAtDeath := fineGrayLab(t)
	terms := []effect{{"own.age", "", ""}, {"sex", "male", "female"}, {"hgb", "", ""}, {"creat", "", ""}}
	model := []string{"method: fine-gray", "adjust: [own.age, sex, hgb, creat]", "reference: {sex: female}"}
	fg := func(id string, more ...string) string {
		return ask(append(append([]string{"id: " + id}, model...), more...)...)
	}
	n := runLog(t, l, plainCSV, fg("efron", "times: [60d, 120d, 240d]", "profiles: [{own.age: 70, sex: male, hgb: 13, creat: 1}, {own.age: 50, sex: female, hgb: 13, creat: 1}]")+
		fg("breslow", "ties: breslow", "confidence: 0.9")+fg("ward", "cluster: ward")+fg("death", "event: died", "cluster: ward"), map[string]int{"open-at-death": openAtDeath})
	want := expected(t, "mgus2")
	var v map[string]any
	readJSON(t, filepath.Join("..", "..", "analysis", "survival", "testdata", "finegray.json"), &v)
	more := expectation{t, "finegray.json", v}
	z := map[string]float64{"breslow": 1.6448536269514722}
	for id, entry := range map[string]string{"efron": "mgus2_1_efron", "breslow": "mgus2_1_breslow", "ward": "mgus2_clustered_1_efron", "death": "mgus2_clustered_2_efron"} {
		a, e := n.answer(t, id), more.at(entry)
		rows := a.table(t, "terms")
		if len(rows) != len(terms) {
			t.Fatalf("%s: %d terms", id, len(rows))
		}
		for j, x := range terms {
			r, what := rows[j], id+" "+x.column
			if r["term"] != x.column || r["category"] != text(x.category) || r["reference"] != text(x.reference) || r["df"] != nil {
				t.Errorf("%s: row %v", what, r)
			}
			b, se := e.at("coef").list()[j], e.at("robust").list()[j]
			q := z[id]
			if q == 0 {
				q = 1.959963984540054
			}
			near(t, what, r["estimate"], b, iterated)
			near(t, what+" ratio", r["ratio"], math.Exp(b), iterated)
			near(t, what+" std error", r["std_error"], e.at("se").list()[j], iterated)
			near(t, what+" robust std error", r["robust_std_error"], se, iterated)
			near(t, what+" z", r["z"], b/se, iterated)
			near(t, what+" low", r["low"], math.Exp(b-q*se), iterated)
			near(t, what+" high", r["high"], math.Exp(b+q*se), iterated)
			near(t, what+" p", r["p"], math.Erfc(math.Abs(b/se)/math.Sqrt2), tailP)
		}
		r := a.row(t, "fit")
		ll := e.at("loglik").list()
		near(t, id+" null", r["log_likelihood_null"], ll[0], 1e-11)
		near(t, id+" log likelihood", r["log_likelihood"], ll[1], 1e-11)
		near(t, id+" wald", r["wald"], e.at("wald").num(), iterated)
		near(t, id+" robust score", r["robust_score"], e.at("rscore").num(), iterated)
		if clustered := id == "ward" || id == "death"; clustered != (r["clusters"] != nil) {
			t.Errorf("%s: clusters %v", id, r["clusters"])
		}
	}
	for id, entry := range map[string]string{"efron": "fine_gray_efron", "breslow": "fine_gray_breslow"} {
		f := want.at(entry, "fit")
		for j, name := range []string{"age", "male", "hgb", "creat"} {
			r := n.answer(t, id).table(t, "terms")[j]
			near(t, id+" "+name, r["estimate"], f.at("coef", name).num(), printed)
			near(t, id+" "+name+" error", r["robust_std_error"], f.at("robust_se", name).num(), printed)
		}
		near(t, id+" events", n.answer(t, id).row(t, "fit")["events"], f.at("nevent").num(), 0)
	}
	// Beside it, Cox of the same terms.
	cox := want.at("cause_specific_pcm", "fit")
	for j, name := range []string{"age", "male", "hgb", "creat"} {
		r := n.answer(t, "efron").table(t, "cause_specific")[j]
		near(t, name, r["estimate"], cox.at("coef", name).num(), printed)
		near(t, name+" error", r["std_error"], cox.at("se", name).num(), printed)
	}
	p := n.answer(t, "efron").table(t, "predicted")
	for k := range 3 {
		near(t, "predicted", p[k]["estimate"], more.at("predicted", "first").list()[k], iterated)
		near(t, "predicted", p[3+k]["estimate"], more.at("predicted", "second").list()[k], iterated)
	}
	// The older die sooner: fewer of them live to see the event, though those
	// alive see it no less. The answer must say so.
	if !n.answer(t, "efron").caution("directions-differ") || n.answer(t, "death").caution("directions-differ") {
		t.Error("the caution about directions does not stand where it should, or stands where it should not")
	}
}

// Gray's test by R 4.2.2, cmprsk 2.2-11, cuminc; the score test beside it by
// survival 3.5-3, finegray and coxph with cluster.
func TestPublishedGray(t *testing.T) {
	t.Parallel()
	l, openAtDeath := fineGrayLab(t)
	ci := func(id string, more ...string) string {
		return ask(append([]string{"id: " + id, "method: cumulative-incidence"}, more...)...)
	}
	n := runLog(t, l, officeCSV, ci("sex", "by: sex", "event: [remake, died]")+ci("third", "by: third", "event: [remake, died]", "cluster: ward")+ci("all"),
		map[string]int{"open-at-death": openAtDeath})
	want := expected(t, "mgus2")
	var v map[string]any
	readJSON(t, filepath.Join("..", "..", "analysis", "survival", "testdata", "finegray.json"), &v)
	more := expectation{t, "finegray.json", v}
	check := func(a *numbersAnswer, name string, e []float64) {
		testOf(t, a, name, e[0], e[2], e[1], closed)
	}
	for k, cause := range []string{"remake", "died"} {
		check(n.answer(t, "sex"), "Gray's test: "+cause, want.at("gray_test", "r", "tests").matrix()[k])
		check(n.answer(t, "third"), "Gray's test: "+cause, more.at("gray_three").matrix()[k])
		e := more.at("score_third").matrix()[k]
		testOf(t, n.answer(t, "third"), "score test grouped by ward: "+cause, e[0], 2, e[1], iterated)
	}
	if a := n.answer(t, "sex"); len(a.table(t, "tests")) != 2 || a.caution("test-not-clustered") {
		t.Errorf("nobody has two sockets, but %v", a.table(t, "tests"))
	}
	if a := n.answer(t, "third"); len(a.table(t, "tests")) != 4 || !a.caution("test-not-clustered") || !a.caution("many-comparisons") {
		t.Errorf("tests %v", a.table(t, "tests"))
	}
	if a := n.answer(t, "all"); len(a.table(t, "tests")) != 0 {
		t.Errorf("tests without groups: %v", a.table(t, "tests"))
	}
}
