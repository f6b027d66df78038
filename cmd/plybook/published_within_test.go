package main

import (
	"fmt"
	"math"
	"path/filepath"
	"testing"
	"time"
)

func withinExpected(t *testing.T, set string) expectation {
	var v map[string]any
	readJSON(t, filepath.Join(published, "within", "expected.json"), &v)
	return expectation{t, "within", v}.at(set)
}

// repeated is a log in which each group is a limb, seen at visits a day apart.
type repeated struct {
	lab
	seen map[string]int
}

func (l *repeated) visit(group string, cells ...any) {
	if l.seen == nil {
		l.seen = map[string]int{}
	}
	if l.seen[group] == 0 {
		l.limbs.add("person", "P"+group, "side", "left", "level", "transtibial")
		l.sockets.add("socket", "S"+group, "limb", "P"+group+"-L", "kind", "definitive", "delivered", ymd(2020, time.January, 6))
	}
	l.seen[group]++
	l.visits.add(append([]any{"socket", "S" + group, "date", ymd(2020, time.February, 3) + day(l.seen[group]), "purpose", "review"}, cells...)...)
}

// The errors of glmer are of differences of the deviance.
const differences = 2e-5

// New cases in herds (Lesnoff et al. 2004), one visit an animal.
func TestPublishedHerds(t *testing.T) {
	t.Parallel()
	l := &repeated{}
	for _, r := range readRecords(t, "cbpp") {
		sick := r.whole(t, "incidence")
		for k := range r.whole(t, "size") {
			ill := "no"
			if k < sick {
				ill = "yes"
			}
			l.visit(r["herd"], "ill", ill, "quarter", "q"+r["period"])
		}
	}
	n := runLog(t, &l.lab, plainCSV, ask("id: herds", "method: mixed-logistic", "rows: visits", "outcome: ill", "by: quarter", "reference: {quarter: q1}",
		"profiles: [{quarter: q1}, {quarter: q2}, {quarter: q3}, {quarter: q4}]"), nil)
	e, a := withinExpected(t, "cbpp"), n.answer(t, "herds")
	for i, r := range a.table(t, "terms") {
		near(t, fmt.Sprint(r["category"]), r["estimate"], e.at("coef").list()[i], 1e-6)
		near(t, fmt.Sprint(r["category"], " error"), r["std_error"], e.at("se").list()[i], differences)
	}
	b := a.row(t, "between")
	near(t, "standard deviation", b["std_dev"], e.at("sd").num(), 1e-6)
	near(t, "low", b["low"], e.at("profile").list()[0], 1e-5)
	near(t, "high", b["high"], e.at("profile").list()[1], 1e-5)
	near(t, "likelihood ratio", b["statistic"], 2*(e.at("loglik").num()-e.at("plain").num()), 1e-8)
	near(t, "log likelihood", a.row(t, "fit")["log_likelihood"], e.at("loglik").num(), 1e-10)
	for i, q := range []string{"q1", "q2", "q3", "q4"} {
		near(t, q+" of a typical herd", a.row(t, "predicted", "profile", "quarter "+q, "over", "typical")["estimate"], e.at("typical").list()[i], 1e-6)
		near(t, q+" over all herds", a.row(t, "predicted", "profile", "quarter "+q, "over", "all")["estimate"], e.at("all").list()[i], 1e-6)
		near(t, q+" averaged", a.row(t, "averaged", "group", q, "over", "all")["estimate"], e.at("all").list()[i], 1e-6)
	}
	for k := range 15 {
		r := a.row(t, "limbs", "group", fmt.Sprintf("P%d-L", k+1))
		near(t, "mode", r["estimate"], e.at("mode").list()[k], 2e-6)
		near(t, "its error", r["std_error"], e.at("mode_se").list()[k], 1e-6)
	}
}

// Wheeze in children (Fitzmaurice & Laird 1993), four years each.
func TestPublishedChildren(t *testing.T) {
	t.Parallel()
	l := &repeated{}
	for _, r := range readRecords(t, "ohio") {
		l.visit(r["id"], "wheeze", r.whole(t, "resp"), "years", r.whole(t, "age"), "smoke", r.whole(t, "smoke"))
	}
	n := runLog(t, &l.lab, plainCSV, ask("id: children", "method: mixed-logistic", "rows: visits", "outcome: wheeze", "adjust: [years, smoke]"), nil)
	e, a := withinExpected(t, "ohio"), n.answer(t, "children")
	for i, r := range a.table(t, "terms") {
		near(t, fmt.Sprint(r["term"]), r["estimate"], e.at("coef").list()[i], 2e-6)
		near(t, fmt.Sprint(r["term"], " error"), r["std_error"], e.at("se").list()[i], 5e-5)
	}
	near(t, "standard deviation", a.row(t, "between")["std_dev"], e.at("sd").num(), 1e-6)
	near(t, "log likelihood", a.row(t, "fit")["log_likelihood"], e.at("loglik").num(), 1e-9)
}

// Bitterness of wine (Randall 1989), judges rating eight wines each.
func TestPublishedJudges(t *testing.T) {
	t.Parallel()
	l := &repeated{}
	for _, r := range readRecords(t, "wine") {
		l.visit(r["judge"], "bitter", r.whole(t, "rating"), "temp", r["temp"], "skins", r["contact"])
	}
	n := runLog(t, &l.lab, officeCSV, ask("id: judges", "method: mixed-ordinal", "rows: visits", "outcome: bitter", "by: temp", "adjust: [skins]", "reference: {temp: cold, skins: \"no\"}",
		"profiles: [{temp: warm, skins: \"no\"}]"), nil)
	e, a := withinExpected(t, "wine"), n.answer(t, "judges")
	const stopped = 5e-6 // where clmm stops
	for i, r := range a.table(t, "terms") {
		near(t, fmt.Sprint(r["term"]), r["estimate"], e.at("coef").list()[i], stopped)
		near(t, fmt.Sprint(r["term"], " error"), r["std_error"], e.at("se").list()[4+i], stopped)
	}
	for k, r := range a.table(t, "thresholds") {
		near(t, "threshold", r["estimate"], e.at("threshold").list()[k], stopped)
		near(t, "threshold error", r["std_error"], e.at("se").list()[k], stopped)
	}
	near(t, "standard deviation", a.row(t, "between")["std_dev"], e.at("sd").num(), stopped)
	near(t, "log likelihood", a.row(t, "fit")["log_likelihood"], e.at("loglik").num(), 1e-11)
	near(t, "without judges", a.row(t, "between")["log_likelihood_without"], e.at("plain").num(), 1e-11)
	for k := range 9 {
		r := a.row(t, "limbs", "group", fmt.Sprintf("P%d-L", k+1))
		near(t, "mode", r["estimate"], e.at("mode").list()[k], 5e-5)
		near(t, "its error", r["std_error"], e.at("mode_se").list()[k], stopped)
	}
	for over, name := range map[string]string{"typical": "warm_typical", "all": "warm_all"} {
		for k, l := range []string{"2", "3", "4", "5"} {
			near(t, over+" at or above "+l, a.row(t, "predicted_levels", "over", over, "level", l)["at_or_above"], e.at(name).list()[k], 2e-5)
		}
	}
	// As the documentation of R's ordinal prints them, by Laplace's approximation.
	near(t, "warm", a.table(t, "terms")[0]["estimate"], 3.063, 1e-3)
	near(t, "contact", a.table(t, "terms")[1]["estimate"], 1.835, 1e-3)
}

// Seizures (Thall & Vail 1990), of which each count has two weeks.
func TestPublishedSeizures(t *testing.T) {
	t.Parallel()
	l := &repeated{}
	for _, r := range readRecords(t, "epil") {
		l.visit(r["subject"], "seizures", r.whole(t, "y"), "drug", r["trt"], "logbase", math.Log(r.num(t, "base")/4), "fortnight", r.whole(t, "period"), "weeks", 2)
	}
	n := runLog(t, &l.lab, plainCSV, ask("id: seizures", "method: mixed-poisson", "rows: visits", "outcome: seizures", "exposure: weeks", "by: drug", "adjust: [logbase, fortnight]", "reference: {drug: placebo}",
		"profiles: [{drug: placebo, logbase: 1.6094379124341003, fortnight: 1}]"), nil)
	e, a := withinExpected(t, "epil"), n.answer(t, "seizures")
	for i, term := range []string{"intercept", "logbase", "drug", "fortnight"} {
		r := a.row(t, "terms", "term", term)
		near(t, term, r["estimate"], e.at("coef").list()[i], 5e-6)
		near(t, term+" error", r["std_error"], e.at("se").list()[i], differences)
	}
	near(t, "standard deviation", a.row(t, "between")["std_dev"], e.at("sd").num(), 2e-6)
	for _, over := range []string{"typical", "all"} {
		near(t, over, a.row(t, "predicted", "over", over)["estimate"], e.at(over).num(), 1e-5)
	}
}
