package main

import (
	"fmt"
	"strings"
	"testing"
	"time"
)

// R 4.2.2, lme4 1.1-31, lmerTest 3.1-3 and pbkrtest 0.5.2
// (testdata/published/rhythm/make.R): drawn visits over the day, of limbs that
// are seen early or late and have levels and paces of their own.
func TestPublishedRhythmOfTheDay(t *testing.T) {
	t.Parallel()
	l, seen := &lab{}, map[string]day{}
	for _, r := range readRecords(t, "rhythm") {
		id := r["limb"]
		first, ok := seen[id]
		if !ok {
			first = ymd(2021, time.March, 1) + day(7*len(seen))
			seen[id] = first
			l.limbs.add("Person", id, "Side", "L", "Level", "BK")
			l.sockets.add("Socket", "J"+id, "Limb", id+"-L", "Kind", "def", "Delivered", first)
		}
		minute := r.whole(t, "minute")
		l.visits.add("Socket", "J"+id, "Date", first+day(r.whole(t, "day")), "Time", fmt.Sprintf("%d:%02d", minute/60, minute%60), "Purpose", "F/U", "weight_lifted", r.num(t, "load"), "tightness", r.num(t, "value"))
	}
	n := runLog(t, l, plainCSV, ask("id: day", "method: rhythm", "outcome: tightness", "cycle: day", "adjust: [weight_lifted]"), nil)
	a, want := n.answer(t, "day"), expected(t, "rhythm").at("drawn")
	rhythmAgrees(t, a, want)
	parts := a.table(t, "parts")
	for k, w := range want.at("parts").matrix() {
		for j, name := range []string{"estimate", "std_error", "low", "high"} {
			near(t, fmt.Sprintf("part %d, %s", k, name), parts[k][name], w[j], 1e-5)
		}
	}
	if len(parts) != 6 || parts[0]["from"] != 6.0 || parts[5]["to"] != 18.0 {
		t.Errorf("parts %v", parts)
	}
	f := a.row(t, "fit")
	for j, name := range []string{"between_statistic", "between_df2", "between_p"} {
		near(t, name, f[name], want.at("between").list()[j], []float64{1e-4, 2e-4, 1e-3}[j]) // small df, by differences in R
	}
	// The truth is a peak at 10:00 and an amplitude of 3.
	w := a.row(t, "waves")
	if lo, hi := w["peak_low"].(float64), w["peak_high"].(float64); lo > 10 || hi < 10 {
		t.Errorf("peak from %g to %g", lo, hi)
	}
	for _, text := range []string{"highest at 10:26 (95% interval 9:45 to 11:00)", "lowest at the edge of what was seen (17:45)", "test of any such pattern: F 51.74, p < 0.0001"} {
		if !strings.Contains(a.Reading, text) {
			t.Errorf("no %q in: %s", text, a.Reading)
		}
	}
}

// Mean monthly temperatures at Nottingham and monthly deaths from lung disease
// (R's datasets nottem and ldeaths), each year standing for a limb.
func TestPublishedRhythmOfTheYear(t *testing.T) {
	t.Parallel()
	want := expected(t, "rhythm")
	year := func(set string) *lab {
		l, seen := &lab{}, map[string]bool{}
		for _, r := range readRecords(t, set) {
			on, err := time.Parse(time.DateOnly, r["date"])
			if err != nil {
				t.Fatal(err)
			}
			id := "N" + r["date"][:4]
			if !seen[id] {
				seen[id] = true
				l.limbs.add("Person", id, "Side", "L", "Level", "BK")
				l.sockets.add("Socket", "J"+id, "Limb", id+"-L", "Kind", "def", "Delivered", ymd(on.Year(), time.January, 2))
			}
			l.visits.add("Socket", "J"+id, "Date", ymd(on.Year(), on.Month(), on.Day()), "Purpose", "F/U", "reading", r.num(t, "value"))
		}
		return l
	}
	block := func(id string, more ...string) string {
		return ask(append([]string{"id: " + id, "method: rhythm", "outcome: reading", "cycle: year", "time: none"}, more...)...)
	}
	n := runLog(t, year("nottem"), plainCSV, block("warm")+block("adjusted", "freedom: kenward-roger"), nil)
	a := n.answer(t, "warm")
	rhythmAgrees(t, a, want.at("nottem"))
	rhythmAgrees(t, n.answer(t, "adjusted"), want.at("nottem_adjusted"))
	for k, w := range want.at("nottem", "parts").matrix() {
		for j, name := range []string{"estimate", "std_error", "low", "high"} {
			near(t, "month, "+name, a.table(t, "parts")[k][name], w[j], rhythmError)
		}
	}
	// Without limbs the regression is the published one; years that are alike
	// and whole change it little.
	w := a.row(t, "waves")
	near(t, "amplitude by lm", w["amplitude"], want.at("nottem_plain", "amplitude").list()[0], 1e-5)
	near(t, "peak by lm", w["peak"], want.at("nottem_plain", "peak").list()[0], 1e-5)
	if !strings.Contains(a.Reading, "highest in mid-July") || !strings.Contains(a.Reading, "lowest in mid-January") {
		t.Errorf("Nottingham: %s", a.Reading)
	}
	n = runLog(t, year("ldeaths"), plainCSV, block("deaths", "waves: 2"), nil)
	rhythmAgrees(t, n.answer(t, "deaths"), want.at("ldeaths"))
}

// rhythmError is how far errors, degrees of freedom and what rests on them may
// differ: lmerTest has derivatives by differences.
const rhythmError = 2e-6

// rhythmAgrees holds an answer to R's values.
func rhythmAgrees(t *testing.T, a *numbersAnswer, want expectation) {
	t.Helper()
	for j, r := range a.table(t, "terms") {
		what := a.ID + " " + fmt.Sprint(r["term"])
		near(t, what, r["estimate"], want.at("coef").list()[j], 1e-6)
		near(t, what+", error", r["std_error"], want.at("se").list()[j], rhythmError)
		near(t, what+", df", r["df"], want.at("df").list()[j], 1e-5)
	}
	p := a.row(t, "pattern")
	for j, name := range []string{"statistic", "df1", "df2", "p"} {
		near(t, a.ID+" test, "+name, p[name], want.at("test").list()[j], []float64{1e-5, closed, 1e-5, 1e-3}[j])
	}
	for j, name := range []string{"change", "change_std_error", "change_low", "change_high"} {
		near(t, a.ID+" "+name, p[name], want.at("change").list()[j], rhythmError)
	}
	near(t, a.ID+" explained", p["explained"], want.at("explained").list()[0], rhythmError)
	for _, end := range [][2]string{{"high", "highest"}, {"low", "lowest"}} {
		w := want.at(end[0]).list()
		for j, tail := range []string{"", "_std_error", "_low", "_high"} {
			near(t, a.ID+" "+end[1]+tail, p[end[1]+tail], w[j], 1e-5)
		}
	}
	for k, w := range want.at("waves").matrix() {
		for j, name := range []string{"amplitude", "std_error", "low", "high", "peak", "peak_std_error", "peak_low", "peak_high", "statistic", "df2", "p"} {
			near(t, fmt.Sprintf("%s wave %d, %s", a.ID, k+1, name), a.table(t, "waves")[k][name], w[j], map[string]float64{"p": 1e-3, "statistic": 1e-5, "df2": 1e-5}[name]+1e-5)
		}
	}
	f := a.row(t, "fit")
	near(t, a.ID+" sigma", f["sigma"], want.at("sigma").list()[0], variances)
	near(t, a.ID+" log likelihood", f["log_likelihood"], want.at("loglik").list()[0], 1e-9)
}
