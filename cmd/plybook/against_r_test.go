package main

import (
	"fmt"
	"math"
	"os"
	"slices"
	"strings"
	"testing"
	"time"

	"plybook/analysis/survival/rtest"
)

// against is one set told as sockets, with its asks and R's answers.
type against struct {
	*testing.T
	set     *rtest.Set
	answers map[string]rtest.Answer
	n       *numbersFile
}

// setsToTell are sets with enough events for every ask, two of each kind:
// with and without late entry, weights and clusters.
func setsToTell() []*rtest.Set {
	var out []*rtest.Set
	taken := map[[3]bool]int{}
	for k := 0; len(out) < 16; k++ {
		s := rtest.Random(k)
		events := [3]int{}
		for _, c := range s.Cause {
			events[c]++
		}
		if s.Kind != rtest.Ordinary || events[1] < 8 || events[2] < 3 || slices.Max(s.Time) < 20 || s.Weights == rtest.Shares {
			continue
		}
		if kind := [3]bool{s.Late, s.Clustered, s.Weights == rtest.Counts}; taken[kind] < 2 {
			taken[kind]++
			out = append(out, s)
		}
	}
	return out
}

// Some of the random sets that the methods are compared on with R
// (analysis/survival/rtest) are told as a log and sent through the command:
// cause 1 is a remake, cause 2 a death. What is compared there number by
// number is compared here as it reaches numbers.json.
func TestAgainstRThroughTheFrontDoor(t *testing.T) {
	t.Parallel()
	sets := setsToTell()
	answers, ok := rtest.Ask(t, os.Getenv("PLYBOOK_NEED_R") != "", "../../analysis/survival/rtest/compare.R", sets)
	if !ok {
		return
	}
	l := &lab{}
	var asks strings.Builder
	for _, s := range sets {
		tellSet(l, s)
		asks.WriteString(asksOf(s))
	}
	n := runLog(t, l, plainCSV, asks.String(), nil)
	for _, s := range sets {
		a := against{t, s, answers[s.Index], n}
		a.curve()
		a.comparisons()
		a.incidence()
		a.models()
	}
}

func tellSet(l *lab, s *rtest.Set) {
	for i, days := range s.Time {
		person, socket := fmt.Sprintf("P%dx%d", s.Index, i+1), fmt.Sprintf("S%dx%d", s.Index, i+1)
		end := ymd(2023, time.January, 2) + day((31*s.Index+i*37)%300)
		start := end - day(days)
		limb := []any{"person", person, "side", "left", "level", "transtibial"}
		row := []any{"socket", socket, "limb", person + "-L", "kind", "definitive", "delivered", start, "watched from", start + day(s.Entry[i]),
			"set", fmt.Sprintf("set%d", s.Index), "group", s.Group[i], "part", fmt.Sprintf("part%d", s.Stratum[i]), "ward", fmt.Sprintf("W%dx%d", s.Index, s.Cluster[i]),
			"stands for", s.Weight[i], "x1", s.X[0][i], "x2", s.X[1][i], "shift", float64(s.Group[i]) / 4}
		switch s.Cause[i] {
		case 1:
			row = append(row, "ended", end, "end reason", "pain or pressure")
		case 2:
			row = append(row, "ended", end, "end reason", "died")
		default:
			limb = append(limb, "last seen", end)
		}
		l.limbs.add(limb...)
		l.sockets.add(row...)
	}
}

var boundsOf = []string{"complementary-log-log", "log", "untransformed", "logit"}

func asksOf(s *rtest.Set) string {
	base := func(id, method string, more ...string) string {
		lines := []string{fmt.Sprintf("id: %s-%d", id, s.Index), "method: " + method, fmt.Sprintf("keep: {set: set%d}", s.Index)}
		if s.Late {
			lines = append(lines, "entry: watched from")
		}
		if s.Clustered {
			lines = append(lines, "cluster: ward")
		} else {
			lines = append(lines, "cluster: none")
		}
		return ask(append(lines, more...)...)
	}
	var counts []string
	if s.Weights == rtest.Counts {
		counts = []string{"weights: stands for"}
	}
	both := "event: [remake, died]"
	out := base("km", "kaplan-meier", append(counts, both, "bounds: "+boundsOf[s.Scales])...) +
		base("groups", "kaplan-meier", append(counts, both, "by: group", "trend: true", "tests: [log-rank, gehan-breslow, tarone-ware, peto-peto, fleming-harrington-middle, fleming-harrington-late]")...) +
		base("within", "kaplan-meier", append(counts, both, "by: group", "strata: part", "tests: [log-rank, gehan-breslow, tarone-ware, peto-peto, fleming-harrington-middle, fleming-harrington-late]")...)
	for _, ties := range []string{"efron", "breslow"} {
		more := append(counts, "adjust: [x1, x2]", "ties: "+ties)
		if s.Index%2 == 1 {
			more = append(more, "strata: part")
		}
		if s.Index%10 == 0 {
			more = append(more, "offset: shift")
		}
		out += base("cox-"+ties, "cox", more...)
		if s.Weights == rtest.NoWeights {
			out += base("fg-"+ties, "fine-gray", "adjust: [x1, x2]", "ties: "+ties)
		}
	}
	if s.Weights == rtest.NoWeights {
		out += base("ci", "cumulative-incidence", both, "bounds: "+boundsOf[s.Scales]) + base("gray", "cumulative-incidence", both, "by: group")
	}
	return out
}

func (a against) answer(id string) *numbersAnswer {
	a.Helper()
	return a.n.answer(a.T, fmt.Sprintf("%s-%d", id, a.set.Index))
}

// want is R's answer.
func (a against) want(name string) []float64 {
	a.Helper()
	x := a.answers[name]
	if x.Refused != "" || len(x.Values) == 0 {
		a.Fatalf("set %d: R has no %s: %s", a.set.Index, name, x.Refused)
	}
	return x.Values
}

func (a against) near(what string, got any, want float64) {
	a.Helper()
	what = fmt.Sprintf("set %d: %s", a.set.Index, what)
	x, ok := got.(float64)
	if !ok || !(math.Abs(x-want) <= 1e-6*math.Max(1, math.Abs(want))) {
		a.Errorf("%s = %v, R has %.12g", what, got, want)
	}
}

func (a against) curve() {
	rows := a.answer("km").rowsOf(a.T, "curve", "group", "all")[1:]
	if len(rows) != len(a.want("km_time")) {
		a.Errorf("set %d: %d rows, R has %d", a.set.Index, len(rows), len(a.want("km_time")))
		return
	}
	for column, name := range map[string]string{"time": "km_time", "at_risk": "km_risk", "events": "km_events", "censored": "km_censored", "estimate": "km_surv", "std_error": "km_se", "low": "km_low", "high": "km_high"} {
		for k, r := range rows {
			if s := r["estimate"].(float64); r[column] == nil && (s == 0 || s == 1) { // no limits where all or none are left
				continue
			}
			a.near(name, r[column], a.want(name)[k])
		}
	}
	for k, r := range a.answer("km").rowsOf(a.T, "cumulative_hazard", "group", "all") {
		if k > 0 {
			a.near("hazard", r["estimate"], a.want("na_hazard")[k-1])
		}
	}
}

// familyOf are the tests in the order of R's answer, one that cannot be asked
// for left out.
var familyOf = []string{"log-rank test", "Gehan-Breslow test", "Tarone-Ware test", "Peto-Peto test", "", "Fleming-Harrington test of middle differences", "Fleming-Harrington test of late differences"}

func (a against) comparisons() {
	for id, name := range map[string]string{"groups": "logrank_family", "within": "logrank_within_family"} {
		for k, test := range familyOf {
			if id == "within" && test != "" {
				test += " within part"
			}
			if test != "" {
				a.near(test, a.answer(id).row(a.T, "tests", "test", test)["statistic"], a.want(name)[k])
			}
		}
	}
	a.near("trend", a.answer("groups").row(a.T, "tests", "test", "log-rank test for trend")["statistic"], a.want("logrank_trend")[0])
}

func (a against) incidence() {
	if a.set.Weights != rtest.NoWeights {
		return
	}
	for cause, reason := range []string{"remake", "died"} {
		rows := a.answer("ci").rowsOf(a.T, "curve", "group", "all", "cause", reason)[1:]
		for k, r := range rows {
			a.near(reason, r["estimate"], a.want("cif_share")[2*k+cause])
			if !a.set.Clustered && r["std_error"] != nil {
				a.near(reason+" error", r["std_error"], a.want("cif_errors")[2*k+cause])
				a.near(reason+" low", r["low"], a.want("cif_low")[2*k+cause])
				a.near(reason+" high", r["high"], a.want("cif_high")[2*k+cause])
			}
		}
		if _, asked := a.answers[fmt.Sprintf("gray_%d", cause+1)]; asked && !a.set.Outnumbered(cause+1, false) {
			a.near("Gray's test", a.answer("gray").row(a.T, "tests", "test", "Gray's test: "+reason)["statistic"], a.want(fmt.Sprintf("gray_%d", cause+1))[0])
		}
	}
}

func (a against) models() {
	for _, ties := range []string{"efron", "breslow"} {
		p := "cox_" + ties + "_"
		if slices.Max(a.want(p+"se")) > 100 {
			continue // it runs away, and the answer says so and is another
		}
		x := a.answer("cox-" + ties)
		for k, r := range x.table(a.T, "terms") {
			a.near("coefficient", r["estimate"], a.want(p + "coef")[k])
			a.near("error", r["std_error"], a.want(p + "se")[k])
			if a.set.Clustered {
				a.near("robust error", r["robust_std_error"], a.want(p + "robust")[k])
			}
		}
		f := x.row(a.T, "fit")
		a.near("null log likelihood", f["log_likelihood_null"], a.want(p + "loglik")[0])
		a.near("log likelihood", f["log_likelihood"], a.want(p + "loglik")[1])
		a.near("score", f["score"], a.want(p + "score")[0])
		a.near("concordance", f["concordance"], a.want(p + "concordance")[0])
		a.near("its error", f["concordance_std_error"], a.want(p + "concordance")[1])
		if a.set.Scales == 0 { // R was asked for other clocks otherwise
			for k, r := range x.table(a.T, "proportionality") {
				a.near("proportionality", r["statistic"], a.want(p + "zph")[k])
			}
		}
		if a.set.Weights != rtest.NoWeights {
			continue
		}
		for k, r := range a.answer("fg-"+ties).table(a.T, "terms") {
			a.near("subdistribution", r["estimate"], a.want("finegray_" + ties + "_coef")[k])
			a.near("its error", r["robust_std_error"], a.want("finegray_" + ties + "_robust")[k])
		}
	}
}
