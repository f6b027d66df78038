package main

import (
	"fmt"
	"math"
	"strconv"
	"testing"
	"time"
)

// shapeOf compares a parametric answer with an entry of
// testdata/published/shape: the parameters are the constant, the effects, log
// scale and, for a generalised gamma curve, the shape. Errors by differences
// hold to 1e-6.
func shapeOf(t *testing.T, a *numbersAnswer, want expectation, name string, terms []effect, profile string, robust bool) {
	t.Helper()
	const tol = 1e-6
	par, se := want.at("par").list(), want.at("se").list()
	rows := []map[string]any{a.row(t, "terms", "term", "intercept")}
	for _, x := range terms {
		rows = append(rows, a.row(t, "terms", "term", x.column, "category", text(x.category), "reference", text(x.reference)))
	}
	if name != "exponential" {
		rows = append(rows, a.row(t, "terms", "term", "log_scale"))
	}
	if name == "generalised gamma" {
		rows = append(rows, a.row(t, "terms", "term", "shape"))
	}
	if len(rows) != len(par) || len(a.table(t, "terms")) != len(par) {
		t.Fatalf("%s: %d terms, want %d", a.ID, len(a.table(t, "terms")), len(par))
	}
	for i, r := range rows {
		if x := r["estimate"].(float64); math.Abs(x-par[i]) > tol*se[i] {
			t.Errorf("%s: parameter %d is %.12g, want %.12g", a.ID, i, x, par[i])
		}
		near(t, a.ID+" error", r["std_error"], se[i], tol)
		if robust {
			near(t, a.ID+" robust error", r["robust_std_error"], want.at("robust_se").list()[i], tol)
		}
	}
	fit := a.row(t, "fit", "distribution", name)
	near(t, a.ID+" log likelihood", fit["log_likelihood"], want.at("loglik").num(), 1e-10)
	near(t, a.ID+" log likelihood without columns", fit["log_likelihood_null"], want.at("loglik_null").num(), 1e-10)
	near(t, a.ID+" aic", fit["aic"], want.at("aic").num(), 1e-10)
	near(t, a.ID+" bic", fit["bic"], want.at("bic").num(), 1e-10)
	for i, p := range []float64{0.25, 0.5, 0.75} {
		r := a.row(t, "quantiles", "profile", profile, "quantile", p)
		for k, c := range []string{"estimate", "std_error", "low", "high"} {
			near(t, fmt.Sprintf("%s quantile %g %s", a.ID, p, c), r[c], want.at("quantiles").matrix()[i][k], tol)
		}
	}
	for _, s := range want.at("shares").matrix() {
		r := a.row(t, "predicted", "profile", profile, "time", s[0])
		for k, c := range []string{"estimate", "std_error", "low", "high"} {
			near(t, fmt.Sprintf("%s share at %g %s", a.ID, s[0], c), r[c], s[1+k], tol)
		}
	}
}

// within is the likelihood ratio of a curve in a wider one.
func withinOf(t *testing.T, a *numbersAnswer, curve, wider string, statistic float64, df int) {
	t.Helper()
	r := a.row(t, "nested", "curve", curve, "within", wider)
	near(t, a.ID+" "+curve, r["statistic"], statistic, 1e-7)
	near(t, a.ID+" "+curve+" df", r["df"], float64(df), 0)
}

func TestPublishedBallBearings(t *testing.T) {
	t.Parallel()
	var lives []life
	for i, r := range readRecords(t, "ball_bearings") {
		v, err := strconv.ParseFloat(r["revolutions"], 64)
		if err != nil {
			t.Fatal(err)
		}
		lives = append(lives, life{id: i + 1, days: int(math.Round(10 * v)), end: lastDay(i), how: remade, serial: i})
	}
	l, _ := tell(lives)
	a := runLog(t, l, plainCSV, ask("id: g", "method: generalised-gamma", "times: [500d, 1000d]"), nil).answer(t, "g")
	shapeOf(t, a, expected(t, "shape").at("ball_bearings_days", "gengamma"), "generalised gamma", nil, "all", false)
	// Lawless 1980, of millions of revolutions, as printed (from memory): k
	// 10.6, mu 4.230, sigma 0.5100; the whole tenths move them a little.
	q, s := a.row(t, "terms", "term", "shape")["estimate"].(float64), a.row(t, "fit", "distribution", "generalised gamma")["scale"].(float64)
	mu := a.row(t, "terms", "term", "intercept")["estimate"].(float64) - math.Log(10)
	if math.Abs(1/(q*q)-10.6) > 0.1 || math.Abs(mu-4.230) > 0.001 || math.Abs(s-0.51) > 0.0005 {
		t.Errorf("k %g, mu %g, sigma %g", 1/(q*q), mu, s)
	}
}

func TestPublishedLarynx(t *testing.T) {
	t.Parallel()
	var lives []life
	for i, r := range readRecords(t, "larynx") {
		v, err := strconv.ParseFloat(r["time"], 64)
		if err != nil {
			t.Fatal(err)
		}
		lives = append(lives, life{id: i + 1, days: int(math.Round(10 * v)), end: lastDay(i), how: ending(r.whole(t, "delta")), serial: i,
			own: []any{"stage", "stage " + r["stage"], "years", r.whole(t, "age")}})
	}
	l, _ := tell(lives)
	names := map[string]string{"weibull": "Weibull", "exponential": "exponential", "log-normal": "log-normal", "log-logistic": "log-logistic", "generalised-gamma": "generalised gamma"}
	keys := map[string]string{"weibull": "weibull", "exponential": "exponential", "log-normal": "lognormal", "log-logistic": "loglogistic", "generalised-gamma": "gengamma"}
	asks := ""
	for m := range names {
		asks += ask("id: "+m, "method: "+m, "by: stage", "adjust: [years]", "reference: {stage: stage 1}", "times: [20d, 60d]", "profiles: [{stage: stage 3, years: 60}]", "compare: all")
	}
	n := runLog(t, l, officeCSV, asks, nil)
	want := expected(t, "shape").at("larynx")
	terms := []effect{{"stage", "stage 2", "stage 1"}, {"stage", "stage 3", "stage 1"}, {"stage", "stage 4", "stage 1"}, {"years", "", ""}}
	for m, name := range names {
		shapeOf(t, n.answer(t, m), want.at(keys[m]), name, terms, "stage stage 3, years 60", false)
		// Klein and Moeschberger 2003, section 12.4, of log years (from memory).
		if printed, ok := map[string]float64{"weibull": -108.03, "exponential": -108.50, "log-normal": -108.00, "log-logistic": -108.19}[m]; ok {
			near(t, m+" as printed", n.answer(t, m).row(t, "fit", "distribution", name)["log_likelihood"].(float64)+want.at("log_time").num(), printed, 0.006/108)
		}
	}
	// The comparison: averaged over the rows, by AIC, with Akaike's weights.
	sum := 0.0
	aic := func(m string) float64 { return want.at(keys[m], "aic").num() }
	for m := range names {
		sum += math.Exp((aic("exponential") - aic(m)) / 2)
	}
	for m, name := range names {
		b, w := n.answer(t, "weibull"), want.at(keys[m])
		r := b.row(t, "compared", "distribution", name)
		near(t, name+" aic", r["aic"], aic(m), 1e-10)
		near(t, name+" bic", r["bic"], w.at("bic").num(), 1e-10)
		near(t, name+" weight", r["aic_weight"], math.Exp((aic("exponential")-aic(m))/2)/sum, 1e-8)
		near(t, name+" half", r["half"], w.at("mean", "half").num(), 1e-6)
		for i, at := range []float64{20, 60} {
			near(t, name+" mean share", b.row(t, "compared_at", "distribution", name, "time", at)["estimate"], w.at("mean", "shares").list()[i], 1e-6)
		}
	}
	a, lik := n.answer(t, "generalised-gamma"), func(k string) float64 { return want.at(k, "loglik").num() }
	withinOf(t, a, "Weibull", "generalised gamma", 2*(lik("gengamma")-lik("weibull")), 1)
	withinOf(t, a, "log-normal", "generalised gamma", 2*(lik("gengamma")-lik("lognormal")), 1)
	withinOf(t, a, "exponential", "generalised gamma", 2*(lik("gengamma")-lik("exponential")), 2)
	withinOf(t, a, "exponential", "Weibull", 2*(lik("weibull")-lik("exponential")), 1)
}

func TestPublishedFreireichShape(t *testing.T) {
	t.Parallel()
	var lives []life
	for i, r := range readRecords(t, "freireich") {
		lives = append(lives, life{id: i + 1, days: r.whole(t, "time"), end: lastDay(i), how: ending(r.whole(t, "cens")), serial: i, own: []any{"treat", r["treat"]}})
	}
	l, _ := tell(lives)
	a := runLog(t, l, oneWorkbook, ask("id: g", "method: generalised-gamma", "by: treat", "reference: {treat: 6-MP}", "times: [6d, 23d]"), nil).answer(t, "g")
	shapeOf(t, a, expected(t, "shape").at("freireich", "gengamma"), "generalised gamma", []effect{{"treat", "control", "6-MP"}}, "treat 6-MP", false)
}

// Errors grouped by person: two catheters of one person are two sockets.
func TestPublishedKidneyShape(t *testing.T) {
	t.Parallel()
	var lives []life
	seen := map[int]int{}
	for i, r := range readRecords(t, "kidney") {
		id := r.whole(t, "id")
		lives = append(lives, life{id: id, limb: seen[id], days: r.whole(t, "time"), end: lastDay(id), how: ending(r.whole(t, "status")), serial: 5*(i/5) + 1 + i%4})
		seen[id]++
	}
	l, _ := tell(lives)
	a := runLog(t, l, plainCSV, ask("id: g", "method: generalised-gamma", "times: [90d]"), map[string]int{}).answer(t, "g")
	shapeOf(t, a, expected(t, "shape").at("kidney", "gengamma"), "generalised gamma", nil, "all", true)
}

// Seen at visits: intervals and left censoring.
func TestPublishedCosmesisShape(t *testing.T) {
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
	a := runLog(t, l, oneWorkbook, ask("id: g", "method: generalised-gamma", "event: {comfort: ..4}", "by: chemo", "reference: {chemo: no}", "times: [24d]"), nil).answer(t, "g")
	shapeOf(t, a, expected(t, "shape").at("cosmesis", "gengamma"), "generalised gamma", []effect{{"chemo", "yes", "no"}}, "chemo no", false)
}

// Everybody enters late: at the age on entry. A month is told as a day.
func TestPublishedChanningShape(t *testing.T) {
	t.Parallel()
	var lives []life
	for i, r := range readRecords(t, "channing") {
		entry, age := r.whole(t, "ageentry"), r.whole(t, "age")
		if age == entry {
			continue
		}
		lives = append(lives, life{id: i + 1, days: age, end: lastDay(i), how: ending(r.whole(t, "death")), serial: 1,
			own: []any{"sex_on_file", []string{"", "man", "woman"}[r.whole(t, "gender")], "came_in", lastDay(i) - day(age-entry)}})
	}
	l, _ := tell(lives)
	methods := map[string][2]string{"weibull": {"weibull", "Weibull"}, "exponential": {"exponential", "exponential"}, "log-normal": {"lognormal", "log-normal"},
		"log-logistic": {"loglogistic", "log-logistic"}, "generalised-gamma": {"gengamma", "generalised gamma"}}
	asks := ""
	for m := range methods {
		asks += ask("id: "+m, "method: "+m, "entry: came_in", "by: sex_on_file", "reference: {sex_on_file: woman}", "times: [900d, 1080d]")
	}
	n := runLog(t, l, plainCSV, asks, map[string]int{})
	want := expected(t, "shape").at("channing")
	for m, name := range methods {
		a := n.answer(t, m)
		near(t, m+" rows", float64(*a.Rows), want.at("rows").num(), 0)
		shapeOf(t, a, want.at(name[0]), name[1], []effect{{"sex_on_file", "man", "woman"}}, "sex on file woman", false)
	}
}

// Durable goods as left-censored times: what was never bought was there at
// the first look, the rest between two days.
func TestPublishedTobinLeftCensored(t *testing.T) {
	t.Parallel()
	l := &lab{}
	start := ymd(2022, time.March, 1)
	for i, r := range readRecords(t, "tobin") {
		id := fmt.Sprintf("P%d", i+1)
		l.limbs.add("person", id, "side", "left", "level", "transtibial")
		l.sockets.add("socket", "S"+id, "limb", id+"-L", "kind", "definitive", "delivered", start, "years", r["age"], "quant", r["quant"])
		v, err := strconv.ParseFloat(r["durable"], 64)
		if err != nil {
			t.Fatal(err)
		}
		seen := day(math.Round(20 * math.Exp(v/4)))
		if v > 0 {
			l.visits.add("socket", "S"+id, "date", start+seen-1, "purpose", "follow-up", "comfort", 8)
		}
		l.visits.add("socket", "S"+id, "date", start+seen, "purpose", "follow-up", "comfort", 2)
	}
	asks := ""
	for m := range parametricEntries {
		asks += ask("id: "+m, "method: "+m, "event: {comfort: ..4}", "adjust: [years, quant]")
	}
	n := runLog(t, l, oneWorkbook, asks, nil)
	want := expected(t, "shape").at("tobin_days")
	for m, entry := range parametricEntries {
		a, w := n.answer(t, m), want.at(entry[len("aft_"):])
		for j, term := range []string{"intercept", "years", "quant"} {
			r := a.row(t, "terms", "term", term)
			near(t, m+" "+term, r["estimate"], w.at("coef").list()[j], 1e-7)
			near(t, m+" error of "+term, r["std_error"], w.at("se").list()[j], 1e-7)
		}
		r := a.row(t, "fit", "distribution", map[string]string{"weibull": "Weibull"}[m]+map[bool]string{false: m}[m == "weibull"])
		near(t, m+" scale", r["scale"], w.at("scale").num(), 1e-7)
		near(t, m+" log likelihood", r["log_likelihood"], w.at("loglik").num(), 1e-10)
		near(t, m+" aic", r["aic"], w.at("aic").num(), 1e-10)
	}
}
