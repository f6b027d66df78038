package main

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"
)

// reference values of mixed models are tightened in further/make.R: the
// optimiser there is driven to its limit, which holds the variances to about
// 1e-7 of themselves. The sets' own fits stop at 1e-5, and at 1e-4 where age
// has a slope; they are compared at their rel_tol.
const (
	fixedPart  = 1e-10 // estimates that hardly depend on the variances
	variances  = 5e-7
	freedom    = 1e-6 // degrees of freedom: second derivatives of the criterion
	likelihood = 1e-10
)

// mixedOf compares a mixed model with its own file and the tighter values.
// Terms are in the reference's order; names is what the reference calls them.
func mixedOf(t *testing.T, a *numbersAnswer, terms []effect, names []string, slope, slopeName string, own, more expectation, group func(string) string) {
	t.Helper()
	rows := a.table(t, "terms")
	if len(rows) != len(terms) {
		t.Fatalf("%s: %d terms, want %d", a.ID, len(rows), len(terms))
	}
	for j, x := range terms {
		r, what := rows[j], a.ID+" "+x.column
		if r["term"] != x.column || r["category"] != text(x.category) || r["reference"] != text(x.reference) || r["ratio"] != nil {
			t.Errorf("%s: row %v", what, r)
		}
		at := func(key string) float64 { return more.at(key).list()[j] }
		near(t, what, r["estimate"], at("coef"), fixedPart)
		near(t, what, r["estimate"], own.at("fixed", names[j]).num(), fixedPart)
		near(t, what+" error", r["std_error"], at("se"), variances)
		near(t, what+" df", r["df"], at("df"), freedom)
		near(t, what+" t", r["z"], at("t"), variances)
		near(t, what+" low", r["low"], at("low"), freedom)
		near(t, what+" high", r["high"], at("high"), freedom)
		near(t, what+" p", r["p"], at("p"), 1e-5)
	}
	residual := a.row(t, "variance", "group", "residual")
	near(t, a.ID+" residual", residual["variance"], own.at("varcov", "residual").num(), 1e-5)
	near(t, a.ID+" residual sd", residual["std_dev"], more.at("sigma").num(), variances)
	cov := more.at("cov").matrix()
	in := a.row(t, "variance", "group", "limb", "term", "intercept", "with", nil)
	near(t, a.ID+" intercept variance", in["variance"], cov[0][0], variances)
	near(t, a.ID+" intercept sd", in["std_dev"], math.Sqrt(cov[0][0]), variances)
	near(t, a.ID+" intercept variance", in["variance"], own.at("varcov", "Subject (Intercept)").num(), 1e-4)
	if slope != "" {
		s := a.row(t, "variance", "group", "limb", "term", slope, "with", nil)
		near(t, a.ID+" slope variance", s["variance"], cov[1][1], variances)
		near(t, a.ID+" slope variance", s["variance"], own.at("varcov", "Subject "+slopeName).num(), 1e-4)
		both := a.row(t, "variance", "group", "limb", "term", "intercept", "with", slope)
		// A covariance is the small difference of larger parts.
		near(t, a.ID+" covariance", both["variance"], cov[0][1], 10*variances)
		near(t, a.ID+" correlation", both["correlation"], cov[0][1]/math.Sqrt(cov[0][0]*cov[1][1]), 10*variances)
	}
	if want := map[bool]int{false: 2, true: 4}[slope != ""]; len(a.table(t, "variance")) != want {
		t.Errorf("%s: variance %v", a.ID, a.table(t, "variance"))
	}
	f := a.row(t, "fit")
	near(t, a.ID+" rows", f["rows"], own.at("n").num(), 0)
	near(t, a.ID+" log likelihood", f["log_likelihood"], more.at("loglik").num(), likelihood)
	near(t, a.ID+" log likelihood", f["log_likelihood"], own.at("loglik").num(), 1e-9)
	near(t, a.ID+" aic", f["aic"], more.at("aic").num(), likelihood)
	for _, k := range []string{"sigma", "icc", "r2_marginal", "r2_conditional"} {
		near(t, a.ID+" "+k, f[strings.Replace(k, "r2", "r_squared", 1)], more.at(k).num(), variances)
	}
	if f["singular"] != false {
		t.Errorf("%s is called singular", a.ID)
	}
	groups, modes, errs := more.at("groups").words(), more.at("modes").matrix(), more.at("mode_se").matrix()
	near(t, a.ID+" groups", f["groups"], float64(len(groups)), 0)
	if n := len(a.table(t, "limbs")); n != len(groups)*len(modes[0]) {
		t.Errorf("%s: %d predictions of limbs, want %d", a.ID, n, len(groups)*len(modes[0]))
	}
	for i, g := range groups {
		for k, name := range []string{"intercept", slope}[:len(modes[0])] {
			r := a.row(t, "limbs", "group", group(g), "term", name)
			// Their spread, not their own size, sets what a difference means.
			if d := math.Abs(r["estimate"].(float64)-modes[i][k]) / math.Sqrt(cov[k][k]); d > variances {
				t.Errorf("%s: %s of %s = %v, want %g", a.ID, name, g, r["estimate"], modes[i][k])
			}
			near(t, a.ID+" error of "+name+" of "+g, r["std_error"], errs[i][k], variances)
		}
	}
}

// linearOf compares a linear model with one kind of error, hc3 or cr2.
func linearOf(t *testing.T, a *numbersAnswer, terms []effect, errors string, clusters float64, more expectation) {
	t.Helper()
	rows := a.table(t, "terms")
	if len(rows) != len(terms) {
		t.Fatalf("%s: %d terms, want %d", a.ID, len(rows), len(terms))
	}
	e := more.at(errors)
	column := map[string]string{"hc3": "std_error", "cr2": "robust_std_error"}[errors]
	for j, x := range terms {
		r, what := rows[j], a.ID+" "+x.column
		if r["term"] != x.column || r["category"] != text(x.category) || r["reference"] != text(x.reference) || r["ratio"] != nil {
			t.Errorf("%s: row %v", what, r)
		}
		near(t, what, r["estimate"], more.at("coef").list()[j], closed)
		for c, k := range map[string]string{column: "se", "df": "df", "z": "t", "low": "low", "high": "high"} {
			near(t, what+" "+k, r[c], e.at(k).list()[j], closed)
		}
		near(t, what+" p", r["p"], e.at("p").list()[j], tailP)
	}
	f := a.row(t, "fit")
	for c, k := range map[string]string{"sigma": "sigma", "r_squared": "r2", "adjusted_r_squared": "adj_r2", "f": "f", "log_likelihood": "loglik", "aic": "aic"} {
		near(t, a.ID+" "+k, f[c], more.at(k).num(), closed)
	}
	near(t, a.ID+" p of F", f["f_p"], more.at("f_p").num(), tailP)
	near(t, a.ID+" clusters", f["clusters"], clusters, 0)
}

// Reaction times on ten days of short sleep (Belenky et al. 2003): a limb
// for each subject, a visit each day from the delivery on.
func TestPublishedSleepstudy(t *testing.T) {
	t.Parallel()
	l := sleepLab(t)
	mixed := func(id string, more ...string) string {
		return ask(append([]string{"id: " + id, "method: mixed", "rows: visits", "outcome: reaction", "time: days_since_delivery"}, more...)...)
	}
	n := runLog(t, l, plainCSV, mixed("reml-slope", "slopes: [days_since_delivery]")+mixed("ml-slope", "slopes: [days_since_delivery]", "estimate: ml")+
		mixed("reml", "within: limb", "scale: days")+mixed("ml", "estimate: ml")+
		ask("id: clustered", "method: linear", "rows: visits", "outcome: reaction", "adjust: [days_since_delivery]")+
		ask("id: single", "method: linear", "rows: visits", "outcome: reaction", "adjust: [days_since_delivery]", "cluster: none"), nil)
	want, more := expected(t, "sleepstudy"), expected(t, "further")
	terms := []effect{{"intercept", "", ""}, {"days_since_delivery", "", ""}}
	limb := func(s string) string { return "N" + s + "-L" }
	for id, name := range map[string]string{"reml-slope": "reml_int_slope", "ml-slope": "ml_int_slope", "reml": "reml_int", "ml": "ml_int"} {
		slope := ""
		if strings.HasSuffix(id, "slope") {
			slope = "days_since_delivery"
		}
		mixedOf(t, n.answer(t, id), terms, []string{"(Intercept)", "Days"}, slope, "Days", want.at(name, "fit"), more.at("sleepstudy_"+name), limb)
	}
	w := more.at("sleepstudy_linear")
	linearOf(t, n.answer(t, "clustered"), terms, "cr2", 18, w)
	linearOf(t, n.answer(t, "single"), terms, "hc3", math.NaN(), w)
	robustOf(t, n, "sleepstudy", terms, []string{"(Intercept)", "Days"})
}

// robustOf compares the two linear models with the set of robust errors.
func robustOf(t *testing.T, n *numbersFile, set string, terms []effect, names []string) {
	t.Helper()
	fit := expected(t, "robust").at(set, "fit")
	var cr2 map[string]struct{ Coef, SE, DF []float64 }
	readJSON(t, published+"/robust/cr2.json", &cr2)
	for j := range terms {
		single, clustered := n.answer(t, "single").table(t, "terms")[j], n.answer(t, "clustered").table(t, "terms")[j]
		near(t, set+" HC3", single["std_error"], fit.at("hc3", names[j]).num(), closed)
		near(t, set+" model-based", clustered["std_error"], fit.at("se", names[j]).num(), closed)
		near(t, set+" CR2", clustered["robust_std_error"], cr2[set].SE[j], closed)
		near(t, set+" CR2 df", clustered["df"], cr2[set].DF[j], closed)
	}
}

// Distances in the jaw at ages 8 to 14 (Potthoff & Roy 1964): measurements of
// limbs, with a factor and its product.
func TestPublishedOrthodont(t *testing.T) {
	t.Parallel()
	l := &lab{}
	seen := map[string]bool{}
	for i, r := range readRecords(t, "orthodont") {
		if !seen[r["Subject"]] {
			seen[r["Subject"]] = true
			l.limbs.add("person", r["Subject"], "side", "right", "level", "TT", "sex", strings.ToLower(r["Sex"]))
		}
		l.stations.add("Limb", r["Subject"]+"-R", "date", ymd(2018+(r.whole(t, "age")-8), time.May, 1)+day(i%20), "landmark", "MTP", "Station", "50 mm", "Limb (cm)", 27.5,
			"distance", r.num(t, "distance"), "age", r.whole(t, "age"))
	}
	common := []string{"rows: stations", "outcome: distance", "adjust: [own.age, sex]", "interact: [[own.age, sex]]", "reference: {sex: female}"}
	block := func(id, method string, more ...string) string {
		return ask(append(append([]string{"id: " + id, "method: " + method}, common...), more...)...)
	}
	n := runLog(t, l, oneWorkbook, block("reml-slope", "mixed", "slopes: [own.age]")+block("ml-slope", "mixed", "slopes: [own.age]", "estimate: ml")+
		block("reml", "mixed")+block("ml", "mixed", "estimate: ml")+block("clustered", "linear")+block("single", "linear", "cluster: none")+
		ask("id: adjusted", "method: linear", "rows: stations", "outcome: distance", "by: sex", "adjust: [own.age]", "interact: [[own.age, sex]]", "reference: {sex: female}", "adjusted: yes"), nil)
	want, more := expected(t, "orthodont"), expected(t, "further")
	terms := []effect{{"intercept", "", ""}, {"own.age", "", ""}, {"sex", "male", "female"}, {"own.age × sex", "male", ""}}
	names := []string{"(Intercept)", "age", "male", "age_male"}
	limb := func(s string) string { return s + "-R" }
	for id, name := range map[string]string{"reml-slope": "reml_int_slope", "ml-slope": "ml_int_slope", "reml": "reml_int", "ml": "ml_int"} {
		slope := ""
		if strings.HasSuffix(id, "slope") {
			slope = "own.age"
		}
		mixedOf(t, n.answer(t, id), terms, names, slope, "age", want.at(name, "fit"), more.at("orthodont_"+name), limb)
	}
	w := more.at("orthodont_linear")
	linearOf(t, n.answer(t, "clustered"), terms, "cr2", 27, w)
	linearOf(t, n.answer(t, "single"), terms, "hc3", math.NaN(), w)
	robustOf(t, n, "orthodont", terms, names)
	for i, group := range []string{"female", "male", "male - female"} {
		r := n.answer(t, "adjusted").row(t, "adjusted", "group", group)
		for j, column := range []string{"estimate", "std_error", "df", "low", "high"} {
			near(t, "adjusted "+group+" "+column, r[column], expected(t, "compared").at("orthodont_means", "values").matrix()[i][j], closed)
		}
	}
}

// Frozen orange juice cans (Montgomery): 30 samples of 50, here months of 50
// check fittings each.
func TestPublishedJuice(t *testing.T) {
	t.Parallel()
	l := &lab{}
	l.limbs.add("person", "P1", "side", "left", "level", "transtibial")
	l.sockets.add("socket", "S1", "limb", "P1-L", "kind", "check")
	for i, r := range readRecords(t, "juice_p") {
		start := ymd(2020, time.January+time.Month(i), 1)
		days := int(ymd(2020, time.January+time.Month(i)+1, 1) - start)
		for k := range r.whole(t, "n") {
			accepted := "yes"
			if k < r.whole(t, "defective") {
				accepted = "no"
			} else if k%3 == 0 {
				accepted = "adjusted"
			}
			// The last fitting of a month is on its last day, so that the last month is complete.
			l.visits.add("socket", "S1", "date", start+day((k+1)*days/50-1+btoi((k+1)*days < 50)), "time", fmt.Sprintf("%02d:%02d", 8+k%8, k), "purpose", "check fitting", "accepted", accepted)
		}
	}
	n := runLog(t, l, plainCSV, ask("id: p", "method: control-chart", "rows: visits", "chart: p", "period: month", "numerator: {accepted: \"no\"}", "denominator: {purpose: check fitting}")+
		ask("id: frozen", "method: control-chart", "rows: visits", "chart: p", "numerator: {accepted: [\"no\"]}", "baseline_points: 12", "goal: 10%", "better: lower")+
		ask("id: chosen", "method: control-chart", "rows: visits", "numerator: {accepted: [\"no\"]}"), nil)
	want := expected(t, "juice_p").at("p_chart")
	a := n.answer(t, "p")
	points := a.table(t, "points")
	if len(points) != 30 || *a.Rows != 1500 || *a.Events != 347 {
		t.Fatalf("%d points, %d rows, %d events", len(points), *a.Rows, *a.Events)
	}
	beyond := map[int]bool{}
	for _, x := range want.at("out_of_control").list() {
		beyond[int(x)] = true
	}
	var before, in float64
	for i, r := range readRecords(t, "juice_p") {
		p := points[i]
		near(t, "value", p["value"], r.num(t, "defective")/r.num(t, "n"), closed)
		near(t, "numerator", p["numerator"], r.num(t, "defective"), 0)
		near(t, "denominator", p["denominator"], r.num(t, "n"), 0)
		near(t, "centre", p["centre"], want.at("center").num(), closed)
		near(t, "upper", p["upper"], want.at("ucl").num(), closed)
		near(t, "lower", p["lower"], want.at("lcl").num(), closed)
		if got := p["signal"] == "beyond-limits"; got != beyond[i+1] {
			t.Errorf("sample %d: signal %v", i+1, p["signal"])
		}
		if i < 12 {
			before, in = before+r.num(t, "defective"), in+r.num(t, "n")
		}
	}
	if s := len(a.rowsOf(t, "signals", "rule", "beyond-limits")); s != 2 {
		t.Errorf("%d points beyond the limits, want 2", s)
	}
	near(t, "centre of the phase", a.row(t, "phases")["centre"], want.at("center").num(), closed)
	f := n.answer(t, "frozen").table(t, "points")
	near(t, "frozen centre", f[29]["centre"], before/in, closed)
	near(t, "frozen upper", f[29]["upper"], before/in+3*math.Sqrt(before/in*(1-before/in)/50), closed)
	// Left to the data, the limits allow for what the samples differ by.
	c, laney := n.answer(t, "chosen"), expected(t, "laney").at("juice")
	if r := c.row(t, "chart"); r["overdispersed"] != true || r["chosen"] != "from the data" {
		t.Errorf("chart %v", r)
	}
	near(t, "sigma z", c.row(t, "chart")["sigma_z"], laney.at("sigma_z").list()[0], closed)
	near(t, "widened", c.row(t, "phases")["widened"], laney.at("sigma_z").list()[0], closed)
	for i, p := range c.table(t, "points") {
		near(t, "wide upper", p["upper"], laney.at("upper").list()[i], closed)
		near(t, "wide lower", p["lower"], laney.at("lower").list()[i], closed)
	}
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// Flow rates of ten batches (NIST): a value a month.
func TestPublishedFlow(t *testing.T) {
	t.Parallel()
	l := &lab{}
	l.limbs.add("person", "P1", "side", "left", "level", "transtibial")
	l.sockets.add("socket", "S1", "limb", "P1-L", "kind", "definitive", "delivered", ymd(2024, time.January, 2))
	for i, r := range readRecords(t, "flow_xmr") {
		l.visits.add("socket", "S1", "date", ymd(2024, time.February+time.Month(i), 1)-1, "flow", r.num(t, "flow"))
	}
	n := runLog(t, l, plainCSV, ask("id: flow", "method: control-chart", "rows: visits", "chart: xmr", "outcome: flow"), nil)
	want := expected(t, "flow_xmr").at("xmr", "r")
	a := n.answer(t, "flow")
	points := a.table(t, "points")
	if len(points) != 10 {
		t.Fatalf("%d points", len(points))
	}
	for i, r := range readRecords(t, "flow_xmr") {
		near(t, "value", points[i]["value"], r.num(t, "flow"), closed)
		near(t, "centre", points[i]["centre"], want.at("mean").num(), closed)
		// With d2 = 2 / sqrt(pi); the handbook rounds it to 1.128.
		near(t, "upper", points[i]["upper"], want.at("ucl_d2_exact").num(), closed)
		near(t, "lower", points[i]["lower"], want.at("lcl_d2_exact").num(), closed)
		near(t, "printed upper", points[i]["upper"], want.at("ucl_d2_1.128").num(), 4e-5)
		if points[i]["signal"] != nil {
			t.Errorf("batch %d: %v", i+1, points[i]["signal"])
		}
	}
	if len(a.table(t, "signals")) != 0 {
		t.Errorf("signals %v, the handbook has none", a.table(t, "signals"))
	}
}
