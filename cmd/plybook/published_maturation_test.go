package main

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"plybook/analysis/stats"
	"plybook/reports/example"
)

// Heights of pines that grow towards a plateau (Kung 1986), told as limbs: a
// year of age is 365 days since amputation, and stands in an own column too.
// R's nlme settles to about 1e-7 of what it looks for, covariances to 1e-6.
func TestPublishedPines(t *testing.T) {
	t.Parallel()
	const settledTo = 1e-6
	l := &lab{}
	cut := map[string]day{}
	for _, r := range readRecords(t, "loblolly") {
		id := "N" + r["Seed"]
		first, ok := cut[id]
		if !ok {
			first = ymd(1980, time.March, 1) + day(17*len(cut))
			cut[id] = first
			l.limbs.add("Person", id, "Side", "L", "Level", "BK", "Amputated", first)
			l.sockets.add("Socket", "J"+r["Seed"], "Limb", id+"-L", "Kind", "def", "Delivered", first+100)
		}
		l.visits.add("Socket", "J"+r["Seed"], "Date", first+day(365*r.whole(t, "age")), "Purpose", "F/U", "height", r.num(t, "height"), "years", r.num(t, "age"))
	}
	block := func(id string, more ...string) string {
		return ask(append([]string{"id: " + strings.ReplaceAll(id, "_", "-"), "method: maturation", "rows: visits", "outcome: height"}, more...)...)
	}
	n := runLog(t, l, plainCSV, block("initial_plateau", "initial: volume", "vary: plateau", "limb: N301-L", "times: [1y, 2y]")+
		block("share_plateau", "vary: [plateau]", "limb: N301-L", "times: [1y, 2y]")+
		block("initial_plateau_rate", "initial: volume", "vary: [plateau, rate]", "limb: N301-L", "times: [1y, 2y]")+
		block("share_plateau_rate", "initial: share", "vary: [plateau, rate]", "limb: N301-L", "times: [1y, 2y]")+
		block("years", "initial: volume", "vary: plateau", "time: own.years"), nil)
	want := expected(t, "loblolly")
	// Errors by the method of Kenward and Roger on the tangent (adjusted.R).
	var adjusted struct {
		Entries map[string]struct {
			SE, DF    map[string]float64
			CurveSE   []float64 `json:"curve_se"`
			CurveDF   []float64 `json:"curve_df"`
			ReadingSE []float64 `json:"reading_se"`
			ReadingDF []float64 `json:"reading_df"`
		}
	}
	readJSON(t, "../../testdata/published/loblolly/adjusted.json", &adjusted)
	for _, id := range []string{"initial_plateau", "share_plateau", "initial_plateau_rate", "share_plateau_rate", "years"} {
		name, perYear := id, 365.0
		if id == "years" {
			name, perYear = "initial_plateau", 1
		}
		w, a := want.at(name, "fit"), n.answer(t, strings.ReplaceAll(id, "_", "-"))
		for _, term := range []string{"plateau", "initial", "drop", "log_rate"} {
			if !w.at("fixed").has(term) {
				continue
			}
			r := a.row(t, "terms", "term", term)
			est := w.at("fixed", term).num()
			if term == "log_rate" {
				est -= math.Log(perYear)
			}
			near(t, id+" "+term, r["estimate"], est, settledTo)
			near(t, id+" error of "+term, r["std_error"], adjusted.Entries[name].SE[term], settledTo)
			near(t, id+" degrees of freedom of "+term, r["df"], adjusted.Entries[name].DF[term], 10*settledTo)
		}
		f := a.row(t, "fit")
		near(t, id+" sigma", f["sigma"], w.at("sigma").num(), settledTo)
		near(t, id+" log likelihood", f["log_likelihood"], w.at("loglik").num(), 1e-8)
		near(t, id+" rows", f["rows"], 84, 0)
		near(t, id+" limbs", f["groups"], 14, 0)
		cov := w.at("cov").matrix()
		near(t, id+" variance", a.row(t, "variance", "group", "limb", "term", "plateau", "with", nil)["variance"], cov[0][0], 1e-5)
		if len(cov) > 1 {
			near(t, id+" variance of rates", a.row(t, "variance", "group", "limb", "term", "log_rate", "with", nil)["variance"], cov[1][1], 1e-5)
			near(t, id+" covariance", a.row(t, "variance", "group", "limb", "term", "plateau", "with", "log_rate")["variance"], cov[0][1], 1e-5)
		}
		modes := w.at("modes").matrix()
		for i, seed := range w.at("seeds").words() {
			r := a.row(t, "limbs", "group", "N"+seed+"-L")
			near(t, id+" plateau of "+seed, r["plateau"], w.at("fixed", "plateau").num()+modes[i][0], settledTo)
		}
		if id == "years" {
			continue
		}
		heights := w.at("foretold", "heights").list()
		for k, r := range a.table(t, "forecast") {
			near(t, id+" foretold", r["estimate"], heights[k], settledTo)
			a := adjusted.Entries[name]
			near(t, id+" upper limit of a reading", r["high"], heights[k]+a.ReadingSE[k]*stats.StudentQuantile(0.975, a.ReadingDF[k]), settledTo)
			near(t, id+" upper limit of the curve", r["curve_high"], heights[k]+a.CurveSE[k]*stats.StudentQuantile(0.975, a.CurveDF[k]), settledTo)
			if r["extrapolated"] != true {
				t.Errorf("%s: what lies beyond all that was seen is not called so: %v", id, r)
			}
		}
	}
	// The same fit elsewhere, with its own search: to the tolerance given there.
	a := n.answer(t, "years")
	for term, v := range map[string]float64{"plateau": 101.447155979668, "initial": -8.62763202571148, "log_rate": -3.23371267288018} {
		near(t, "SSasymp "+term, a.row(t, "terms", "term", term)["estimate"], v, 1e-3)
	}
}

// The example's limbs settle as its truth says, read from its messy workbooks:
// each number lies within its interval, or the scatter within a tenth.
func TestExampleLimbsSettle(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	plybook(t, dir, "example", "demo").want(t, statusDone)
	nb := "---\ntitle: Settling\nlog: [log/*.xlsx]\n---\n" +
		ask("id: settling", "method: maturation", "keep: {level: transtibial, months_since_amputation: ..36}", "initial: volume")
	if err := os.WriteFile(filepath.Join(dir, "demo", "settling.md"), []byte(nb), 0o644); err != nil {
		t.Fatal(err)
	}
	plybook(t, dir, "run", filepath.Join("demo", "settling.md")).want(t, statusDone)
	var n numbersFile
	readJSON(t, filepath.Join(dir, "demo", "settling-report", "numbers.json"), &n)
	a, truth := n.answer(t, "settling"), example.Known()
	plateau := truth.VolumeMean["transtibial"]
	for term, want := range map[string]float64{"plateau": plateau, "initial": plateau * (1 + truth.DropMean), "log_rate": math.Log(truth.ShrinkPerDay)} {
		r := a.row(t, "terms", "term", term)
		if low, high := r["low"].(float64), r["high"].(float64); want < low || want > high {
			t.Errorf("%s: %g to %g does not hold %g", term, low, high, want)
		}
	}
	lost := a.row(t, "settling", "quantity", "lost_since_amputation")
	if want := 100 * truth.DropMean / (1 + truth.DropMean); want < lost["low"].(float64) || want > lost["high"].(float64) {
		t.Errorf("lost: %v does not hold %g", lost, want)
	}
	near(t, "scatter", a.row(t, "fit")["sigma"], truth.VolumeErrorML, 0.1)
}
