package main

import (
	"fmt"
	"math"
	"path/filepath"
	"testing"
	"time"
)

func levelsExpected(t *testing.T) expectation {
	var v map[string]any
	readJSON(t, filepath.Join(published, "outcomes", "levels.json"), &v)
	return expectation{t, "levels.json", v}
}

// levelsAveraged compares shares and means averaged over the rows.
func levelsAveraged(t *testing.T, a *numbersAnswer, group string, levels []string, e expectation) {
	t.Helper()
	value, se := e.at("value").list(), e.at("se").list()
	cuts := len(levels) - 1
	for k, l := range levels {
		r := a.row(t, "adjusted_levels", "group", group, "level", l)
		near(t, group+" at "+l, r["estimate"], value[cuts+k], 1e-8)
		near(t, group+" at "+l+" error", r["std_error"], se[cuts+k], 1e-6) // theirs by differences
		if k > 0 {
			near(t, group+" at or above "+l, r["at_or_above"], value[k-1], 1e-8)
		}
	}
}

// Satisfaction with housing in Copenhagen (Madsen 1976).
func TestPublishedHousing(t *testing.T) {
	t.Parallel()
	var rows [][]any
	for _, r := range readRecords(t, "housing") {
		rows = append(rows, []any{"satisfied", r["Sat"], "influence", r["Infl"], "type", r["Type"], "neighbours", r["Cont"], "freq", r.whole(t, "Freq")})
	}
	model := []string{"method: ordinal", "rows: sockets", "outcome: satisfied", "order: [Low, Medium, High]", "by: neighbours", "adjust: [influence, type]", "weights: freq",
		"reference: {influence: Low, type: Tower, neighbours: Low}"}
	n := runLog(t, rowsAsSockets(rows), plainCSV, ask(append([]string{"id: equal"}, model...)...)+ask(append([]string{"id: apart", "unequal: [neighbours]"}, model...)...), nil)
	e := levelsExpected(t).at("housing")
	a := n.answer(t, "equal")
	// Theirs: two thresholds, influence twice, type three times, contact.
	coef, se := e.at("coef").list(), e.at("se").list()
	for i, x := range []struct {
		effect
		at int
	}{{effect{"neighbours", "High", "Low"}, 7}, {effect{"influence", "High", "Low"}, 3}, {effect{"influence", "Medium", "Low"}, 2}, {effect{"type", "Apartment", "Tower"}, 4}, {effect{"type", "Atrium", "Tower"}, 5}, {effect{"type", "Terrace", "Tower"}, 6}} {
		r := a.table(t, "terms")[i]
		if r["term"] != x.column || r["category"] != x.category || r["cut"] != nil {
			t.Fatalf("row %d: %v", i, r)
		}
		b, s := coef[x.at], se[x.at]
		near(t, x.category, r["estimate"], b, iterated)
		near(t, x.category+" error", r["std_error"], s, 1e-8)
		near(t, x.category+" ratio", r["ratio"], math.Exp(b), 1e-8)
		near(t, x.category+" high", r["high"], math.Exp(b+1.959963984540054*s), 1e-7)
		near(t, x.category+" p", r["p"], math.Erfc(math.Abs(b/s)/math.Sqrt2), 1e-6)
	}
	for k, r := range a.table(t, "thresholds") {
		near(t, "threshold", r["estimate"], coef[k], iterated)
		near(t, "threshold error", r["std_error"], se[k], 1e-8)
	}
	f := a.row(t, "fit")
	near(t, "log likelihood", f["log_likelihood"], e.at("loglik").num(), closed)
	near(t, "null", f["log_likelihood_null"], e.at("loglik_null").num(), closed)
	near(t, "AIC", f["aic"], e.at("aic").num(), closed)
	near(t, "rows", f["rows"], 1681, 0)
	near(t, "printed deviance", -2*f["log_likelihood"].(float64), 3479.149, 2e-7)
	for term, name := range map[string]string{"neighbours": "Cont", "influence": "Infl", "type": "Type", "global": "all"} {
		near(t, "equal ratios of "+term, a.row(t, "equal_ratios", "term", term)["statistic"], e.at("tests", name).num(), 1e-7)
	}
	for i, g := range []string{"Low", "High"} {
		levelsAveraged(t, a, g, []string{"Low", "Medium", "High"}, expectation{t, "contact", e.at("contact", "each").v.([]any)[i]})
	}
	u, w := n.answer(t, "apart"), e.at("unequal")
	for k, cut := range []string{"above Low", "above Medium"} {
		r := u.row(t, "terms", "term", "neighbours", "cut", cut)
		near(t, "contact "+cut, r["estimate"], -w.at("alpha").list()[2+k], 1e-7)
		near(t, "contact "+cut+" error", r["std_error"], w.at("se").list()[2+k], 1e-6)
	}
	near(t, "partial log likelihood", u.row(t, "fit")["log_likelihood"], w.at("loglik").num(), closed)
}

// Bitterness of wine (Randall 1989): judges rate eight wines each.
func TestPublishedWine(t *testing.T) {
	t.Parallel()
	l := &lab{}
	seen := map[string]int{}
	for _, r := range readRecords(t, "wine") {
		id := r["judge"]
		if seen[id] == 0 {
			l.limbs.add("person", "P"+id, "side", "left", "level", "transtibial")
			l.sockets.add("socket", "S"+id, "limb", "P"+id+"-L", "kind", "definitive", "delivered", ymd(2020, time.January, 6))
		}
		seen[id]++
		l.visits.add("socket", "S"+id, "date", ymd(2020, time.February, 3)+day(seen[id]), "purpose", "review", "bitter", r.whole(t, "rating"), "temp", r["temp"], "skins", r["contact"])
	}
	n := runLog(t, l, officeCSV, ask("id: wine", "method: ordinal", "rows: visits", "outcome: bitter", "by: temp", "adjust: [skins]", "reference: {temp: cold, skins: \"no\"}")+
		ask("id: single", "method: ordinal", "rows: visits", "outcome: bitter", "by: temp", "adjust: [skins]", "reference: {temp: cold, skins: \"no\"}", "cluster: none"), nil)
	e := levelsExpected(t).at("wine")
	a := n.answer(t, "wine")
	for i, r := range a.table(t, "terms") {
		near(t, fmt.Sprint(r["term"]), r["estimate"], e.at("coef").list()[4+i], iterated)
		near(t, fmt.Sprint(r["term"], " error"), r["std_error"], e.at("se").list()[4+i], 1e-8)
		near(t, fmt.Sprint(r["term"], " CR1"), r["robust_std_error"], e.at("cr1").list()[4+i], 1e-8)
		near(t, fmt.Sprint(r["term"], " df"), r["df"], 8, 0)
	}
	// As the documentation of R's ordinal prints them.
	near(t, "warm", a.table(t, "terms")[0]["estimate"], 2.503, 1e-4)
	near(t, "contact", a.table(t, "terms")[1]["estimate"], 1.528, 2e-4)
	near(t, "contact alike, with judges", a.row(t, "equal_ratios", "term", "skins")["statistic"], e.at("cont_wald").num(), 1e-6)
	near(t, "contact alike", n.answer(t, "single").row(t, "equal_ratios", "term", "skins")["statistic"], e.at("cont_test").num(), 1e-7)
	for i, g := range []string{"cold", "warm"} {
		each := expectation{t, "warmth", e.at("warmth", "each").v.([]any)[i]}
		levelsAveraged(t, a, g, []string{"1", "2", "3", "4", "5"}, each)
		near(t, g+" mean", a.row(t, "adjusted", "group", g)["estimate"], each.at("value").list()[9], 1e-8)
	}
	d := a.row(t, "adjusted", "group", "warm - cold")
	near(t, "difference", d["estimate"], e.at("warmth", "difference").list()[9], 1e-8)
	near(t, "difference error", d["std_error"], e.at("warmth", "difference_se").list()[9], 1e-6)
}
