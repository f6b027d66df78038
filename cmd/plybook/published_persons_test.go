package main

import (
	"fmt"
	"testing"
)

// Kidney catheters: two times a person, so that errors are grouped by person.
func TestPublishedKidney(t *testing.T) {
	t.Parallel()
	var lives []life
	seen := map[int]int{}
	for i, r := range readRecords(t, "kidney") {
		id := r.whole(t, "id")
		// Both times of a person end on one day: what is seen of one socket
		// is evidence of the person, and would keep the other open longer.
		lives = append(lives, life{id: id, limb: seen[id], sex: map[string]string{"1": "male", "2": "female"}[r["sex"]], days: r.whole(t, "time"), end: lastDay(id),
			how: ending(r.whole(t, "status")), serial: 5*(i/5) + 1 + i%4, own: []any{"age", r.whole(t, "age"), "disease", r["disease"]}})
		seen[id]++
	}
	l, _ := tell(lives)
	n := runLog(t, l, plainCSV,
		ask("id: cluster", "method: cox", "adjust: [own.age, sex, disease]", "reference: {sex: male, disease: Other}")+
			ask("id: breslow", "method: cox", "adjust: [own.age, sex]", "reference: {sex: male}", "ties: breslow", "cluster: person")+
			ask("id: single", "method: cox", "adjust: [own.age, sex]", "reference: {sex: male}", "cluster: none")+
			ask("id: sex", "method: kaplan-meier", "by: sex")+ask("id: side", "method: kaplan-meier", "by: side"), nil)
	want, more := expected(t, "kidney"), expected(t, "further")
	own := want.at("cox_cluster")
	disease := []effect{{"own.age", "", ""}, {"sex", "female", "male"}, {"disease", "AN", "Other"}, {"disease", "GN", "Other"}, {"disease", "PKD", "Other"}}
	coxOf(t, n.answer(t, "cluster"), disease, &own, more.at("kidney_cox_cluster"))
	own = want.at("cox_cluster_breslow")
	coxOf(t, n.answer(t, "breslow"), []effect{{"own.age", "", ""}, {"sex", "female", "male"}}, &own, more.at("kidney_cox_cluster_breslow"))
	coxOf(t, n.answer(t, "single"), []effect{{"own.age", "", ""}, {"sex", "female", "male"}}, nil, more.at("kidney_cox_unclustered"))
	for _, id := range []string{"cluster", "breslow"} {
		near(t, id+" persons", n.answer(t, id).row(t, "fit")["clusters"], 38, 0)
	}
	if !n.answer(t, "single").caution("not-clustered") {
		t.Error("no caution though the question takes sockets as independent")
	}
	for id, groups := range map[string][2]string{"sex": {"female", "male"}, "side": {"left", "right"}} {
		a, w := n.answer(t, id), more.at("kidney_"+map[string]string{"sex": "female", "side": "side"}[id])
		for _, g := range groups {
			curveOf(t, a, g, w.at(g), 1)
			meanOf(t, a, g, w.at("until").num(), w.at(g, "rmst").list())
		}
		meanOf(t, a, groups[1]+" - "+groups[0], w.at("until").num(), w.at("difference").list())
		lr, sc := w.at("logrank").list(), w.at("rscore").list()
		testOf(t, a, "log-rank test", lr[0], 1, lr[1], closed)
		testOf(t, a, "score test grouped by person", sc[0], 1, sc[1], iterated)
	}
}

// heartLives are the Stanford rows: a person waits, and from the transplant
// on is watched as another socket's row, on the clock of the first. One time
// is a half day, so all are doubled.
func heartLives(t *testing.T) []life {
	t.Helper()
	var lives []life
	seen := map[int]int{}
	for i, r := range readRecords(t, "heart") {
		id := r.whole(t, "id")
		from, to := int(2*r.num(t, "start")), int(2*r.num(t, "stop"))
		if float64(from) != 2*r.num(t, "start") || float64(to) != 2*r.num(t, "stop") {
			t.Fatal("a time is neither whole nor a half")
		}
		// Both rows of a person begin on one day.
		end := ymd(2010, 3, 1) + day(id*37%300) + day(to)
		x := life{id: id, limb: seen[id], days: to, end: end, how: ending(r.whole(t, "event")), serial: 5*(i/5) + 1 + i%4,
			own: []any{"age", r.num(t, "age"), "year", r.num(t, "year"), "surgery", r.whole(t, "surgery"), "transplant", r.whole(t, "transplant"),
				"watched after", from, "watched from", end - day(to) + day(from), "room", fmt.Sprintf("R%d", id/3)}}
		if i%2 == 0 {
			x.own[9] = nil // a row watched from delivery needs no number
			if from > 0 {
				x.own[9] = from
			}
		}
		lives = append(lives, x)
		seen[id]++
	}
	for i := range lives {
		if lives[i].how == open && seen[lives[i].id] == 2 && lives[i].limb == 0 {
			lives[i].serial -= lives[i].serial % 3 // ended as lost: the person is seen again later, on the other limb
		}
	}
	return lives
}

// Stanford heart transplants: delayed entry, in days and as a date.
func TestPublishedHeart(t *testing.T) {
	t.Parallel()
	l, _ := tell(heartLives(t))
	cox := func(id string, more ...string) string {
		return ask(append([]string{"id: " + id, "method: cox", "adjust: [own.age, year, surgery, transplant]"}, more...)...)
	}
	km := func(id string, more ...string) string {
		return ask(append([]string{"id: " + id, "method: kaplan-meier", "by: transplant"}, more...)...)
	}
	n := runLog(t, l, officeCSV,
		cox("efron", "entry: watched after", "cluster: none")+cox("breslow", "entry: watched from", "cluster: none", "ties: breslow")+cox("cluster", "entry: watched from")+
			ask("id: products", "method: cox", "adjust: [own.age, surgery, transplant]", "interact: [[own.age, transplant], [surgery, transplant]]", "entry: watched from", "cluster: none")+
			km("loglog", "entry: watched from", "cluster: none")+km("log", "entry: watched after", "cluster: none", "bounds: log")+km("person", "entry: watched from")+km("grouped", "entry: watched from", "cluster: room"), nil)
	want, more := expected(t, "heart"), expected(t, "further")
	terms := []effect{{"own.age", "", ""}, {"year", "", ""}, {"surgery", "", ""}, {"transplant", "", ""}}
	for id, name := range map[string]string{"efron": "cox_tv_efron", "breslow": "cox_tv_breslow", "cluster": "cox_cluster"} {
		own := want.at(name)
		coxOf(t, n.answer(t, id), terms, &own, doubled(more.at("heart_"+name)))
	}
	own := want.at("cox_interaction")
	a := n.answer(t, "products")
	coxOf(t, a, []effect{{"own.age", "", ""}, {"surgery", "", ""}, {"transplant", "", ""}, {"own.age × transplant", "", ""}, {"surgery × transplant", "", ""}}, &own, doubled(more.at("heart_cox_interaction")))
	proportionalityOf(t, a, want.at("zph", "r", "table").matrix())
	for tx := range 2 {
		g := fmt.Sprint(tx)
		curveOf(t, n.answer(t, "loglog"), g, noQuantiles(more.at("heart_km_log-log", g)), 2)
		curveOf(t, n.answer(t, "log"), g, more.at("heart_km_log", g), 2)
		curveOf(t, n.answer(t, "grouped"), g, noQuantiles(more.at("heart_km_cluster", g)), 2)
		// No person stands twice in one group, so that its errors are the same.
		curveOf(t, n.answer(t, "person"), g, noQuantiles(more.at("heart_km_log-log", g)), 2)
		km := want.at("km_delayed_entry_tx"+g, "km")
		for i, at := range km.at("time").list() {
			r := n.answer(t, "log").row(t, "curve", "group", g, "time", 2*at)
			for column, k := range map[string]string{"at_risk": "n_risk", "events": "n_event", "estimate": "surv", "std_error": "std_err_S", "low": "lower", "high": "upper"} {
				near(t, "delayed entry "+k, r[column], km.at(k).list()[i], closed)
			}
		}
	}
	testOf(t, n.answer(t, "loglog"), "log-rank test", more.at("heart_logrank", "stat").num(), 1, more.at("heart_logrank", "p").num(), iterated)
}

// noQuantiles leaves the quantiles of a curve aside. With delayed entry the
// first bounds, made when few were at risk, rise again: the lower one is
// under 0.75 at day 5, which is where the time of the first quarter may lie,
// but the reference interpolates in the bounds sorted by size and says 16.
func noQuantiles(e expectation) expectation {
	out := map[string]any{}
	for k, v := range e.v.(map[string]any) {
		out[k] = v
	}
	delete(out, "quantile")
	return expectation{e.t, e.name, out}
}

// doubled doubles the times of a baseline.
func doubled(e expectation) expectation {
	times := e.at("base", "time").v.([]any)
	for i, x := range times {
		times[i] = 2 * x.(float64)
	}
	return e
}

// MGUS: progression with death competing. Months of the set are days here.
func TestPublishedMgus2(t *testing.T) {
	t.Parallel()
	var lives []life
	for i, r := range readRecords(t, "mgus2") {
		own := []any{"age", r.whole(t, "age")}
		for _, c := range []string{"hgb", "creat"} {
			if r[c] != "" {
				own = append(own, c, r.num(t, c))
			}
		}
		lives = append(lives, life{id: i + 1, sex: r["sex"], days: r.whole(t, "etime"), end: lastDay(i), how: ending(r.whole(t, "event")), serial: i, own: own})
	}
	l, openAtDeath := tell(lives)
	ci := func(id, bounds string, more ...string) string {
		return ask(append([]string{"id: " + id, "method: cumulative-incidence", "bounds: " + bounds}, more...)...)
	}
	five := "times: [12d, 60d, 120d, 240d, 300d]"
	cox := "adjust: [own.age, sex, hgb, creat]"
	n := runLog(t, l, plainCSV,
		ci("loglog", "complementary-log-log", five, "until: 240d")+ci("log", "log", five)+ci("plain", "untransformed", five)+ci("logit", "logit", five)+
			ci("sex", "log", "by: sex", five)+ci("named", "complementary-log-log", "event: [remake, died]", "by: sex", "times: [12d, 60d, 120d, 240d]")+
			ask("id: pcm", "method: cox", cox, "reference: {sex: female}")+ask("id: death", "method: cox", cox, "reference: {sex: female}", "event: died"),
		map[string]int{"open-at-death": openAtDeath})
	want, more := expected(t, "mgus2"), expected(t, "further")
	causes := map[string]string{"remake": "pcm", "died": "death", "still in use": "event_free"}
	for id, entry := range map[string]string{"loglog": "aj_loglog", "log": "aj_all", "plain": "aj_plain"} {
		e := want.at(entry, "r")
		for i, at := range e.at("time").list() {
			for cause, key := range causes {
				incidenceOf(t, n.answer(t, id), "at_times", "all", cause, at, e.at("p_" + key).list()[i], e.at("se_" + key).list()[i], e.at("lower_" + key).list()[i], e.at("upper_" + key).list()[i])
			}
		}
	}
	e := want.at("aj_by_sex", "r")
	for i, at := range e.at("time").list() {
		g := map[string]string{"sex=F": "female", "sex=M": "male"}[e.at("strata").words()[i]]
		for cause, key := range causes {
			incidenceOf(t, n.answer(t, "sex"), "at_times", g, cause, at, e.at("p_" + key).list()[i], e.at("se_" + key).list()[i], e.at("lower_" + key).list()[i], e.at("upper_" + key).list()[i])
		}
	}
	matrixOf := func(id, table, group string, e expectation) {
		p, se, low, high := e.at("p").matrix(), e.at("se").matrix(), e.at("low").matrix(), e.at("high").matrix()
		for i, at := range e.at("time").list() {
			for k, cause := range []string{"still in use", "remake", "died"} {
				incidenceOf(t, n.answer(t, id), table, group, cause, at, p[i][k], se[i][k], low[i][k], high[i][k])
				if table == "curve" {
					near(t, id+" at risk", n.answer(t, id).row(t, table, "group", group, "cause", cause, "time", at)["at_risk"], e.at("at_risk").list()[i], 0)
				}
			}
		}
	}
	matrixOf("loglog", "curve", "all", more.at("mgus2_curve"))
	matrixOf("logit", "at_times", "all", more.at("mgus2_logit"))
	matrixOf("named", "at_times", "female", more.at("mgus2_sex_loglog", "female"))
	matrixOf("named", "at_times", "male", more.at("mgus2_sex_loglog", "male"))
	lost := expected(t, "nonparametric").at("mgus2_lost")
	for k, cause := range []string{"still in use", "remake", "died"} {
		r := n.answer(t, "loglog").row(t, "time_lost", "cause", cause)
		near(t, "time lost to "+cause, r["estimate"], lost.at("mean").list()[k], closed)
		near(t, "its error", r["std_error"], lost.at("se").list()[k], closed)
	}
	// Nothing but a remake or a death ends these sockets.
	for _, r := range n.answer(t, "loglog").rowsOf(t, "curve", "cause", "other endings") {
		if r["estimate"] != 0.0 || r["events"] != 0.0 {
			t.Fatalf("other endings: %v", r)
		}
	}
	terms := []effect{{"own.age", "", ""}, {"sex", "male", "female"}, {"hgb", "", ""}, {"creat", "", ""}}
	for id, name := range map[string]string{"pcm": "cause_specific_pcm", "death": "cause_specific_death"} {
		own := want.at(name)
		coxOf(t, n.answer(t, id), terms, &own, more.at("mgus2_"+name))
	}
}

func incidenceOf(t *testing.T, a *numbersAnswer, table, group, cause string, at float64, want ...float64) {
	t.Helper()
	r := a.row(t, table, "group", group, "cause", cause, "time", at)
	for i, c := range []string{"estimate", "std_error", "low", "high"} {
		near(t, fmt.Sprintf("%s %s %s %s at %g", a.ID, group, cause, c, at), r[c], want[i], closed)
	}
}
