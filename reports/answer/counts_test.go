package answer_test

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"plybook/reports/answer"
)

// tally is one socket with an own count and an own length of time.
type tally struct {
	person int
	cast   string
	spots  int
	weeks  int
}

// tallyLog tells them as a log.
func tallyLog(rows []tally) sheets {
	limbs, sockets := [][]string{{"person", "side", "level"}}, [][]string{{"socket", "limb", "kind", "delivered", "cast_method", "spots", "weeks", "half"}}
	seen := map[int]int{}
	for i, r := range rows {
		if seen[r.person] == 0 {
			limbs = append(limbs, []string{fmt.Sprint("P", r.person), "left", "transtibial"})
		}
		seen[r.person]++
		sockets = append(sockets, []string{fmt.Sprint("S", i+1), fmt.Sprintf("P%d-L", r.person), "definitive", fmt.Sprintf("202%d-03-%02d", seen[r.person], 1+i%28), r.cast, fmt.Sprint(r.spots), fmt.Sprint(r.weeks), "1.5"})
	}
	return sheets{"limbs": csvText(limbs), "sockets": csvText(sockets)}
}

// tallies are n sockets of each method, the counts of which go through a
// pattern and are more by vacuum.
func tallies(n int, pattern ...int) []tally {
	var out []tally
	for i := range 2 * n {
		r := tally{i + 1, "hand", pattern[i%len(pattern)], 10 + i%3}
		if i >= n {
			r.cast = "vacuum"
			r.spots *= 2
		}
		out = append(out, r)
	}
	return out
}

const askSpots = "rows: sockets\noutcome: spots\nby: cast_method\nreference: {cast_method: hand}\n"

// Of one column the ratio is that of the two means, and the rates those of the
// table, worked out by hand: 1.5 and 3 a socket.
func TestCountsOfATable(t *testing.T) {
	log := tallyLog(tallies(40, 0, 1, 2, 3))
	a := one(t, log, quality, "method: poisson\n"+askSpots+"profiles: [{cast_method: vacuum}]\ndiagnostics: yes")
	want(t, row(t, table(t, a, "terms"), "term", "cast_method"), "ratio", 2, "category", "vacuum")
	// The variance of the log of the ratio is the sum of the inverse counts.
	if se := row(t, table(t, a, "terms"), "term", "cast_method")["std_error"].(float64); math.Abs(se-math.Sqrt(1.0/60+1.0/120)) > 1e-9 {
		t.Errorf("error %g", se)
	}
	want(t, row(t, table(t, a, "rates"), "group", "hand"), "rows", 40, "events", 60, "estimate", 1.5, "exposure", nil)
	want(t, row(t, table(t, a, "adjusted"), "group", "vacuum"), "estimate", 3)
	want(t, row(t, table(t, a, "adjusted"), "group", "vacuum / hand"), "estimate", 2)
	want(t, row(t, table(t, a, "predicted"), "profile", "cast method vacuum"), "estimate", 3)
	// Zeros: a quarter of each method; expected exp(-1.5) and exp(-3).
	want(t, row(t, table(t, a, "fit"), "rows", 80), "zeros_observed", 20, "zeros_expected", 40*(math.Exp(-1.5)+math.Exp(-3)))
	want(t, row(t, table(t, a, "counts"), "low", 1), "observed", 10)
	for _, s := range []string{"In 80 sockets, spots came to 180 (2.25 per socket)", "1.50 per socket with hand", "2.0 times as many", "The ratio of counts for casting method vacuum against hand is 2.0", "more often"} {
		if !strings.Contains(a.Reading, s) {
			t.Errorf("reading lacks %q: %s", s, a.Reading)
		}
	}
	b := one(t, log, quality, "method: poisson\n"+askSpots+"exposure: weeks")
	weeks := 0
	for i := range 40 {
		weeks += 10 + i%3
	}
	want(t, row(t, table(t, b, "rates"), "group", "hand"), "exposure", weeks, "estimate", 60/float64(weeks))
	want(t, row(t, table(t, b, "terms"), "term", "intercept"), "estimate", math.Log(60/float64(weeks)))
	if !strings.Contains(b.Reading, "The rate ratio for ") || !strings.Contains(b.Methods, "in proportion to the weeks") {
		t.Errorf("%s\n%s", b.Reading, b.Methods)
	}
}

// Events of limbs are counted over the time watched: 3 of 2 limbs in 100 days,
// 4 of 2 limbs in 50, as in mean-cumulative.
func TestCountsOfEvents(t *testing.T) {
	s := callers("transtibial 60 10 30", "transtibial 40+ 10", "transfemoral 20 5 12", "transfemoral 30 29 30", "transfemoral 0")
	a := one(t, s, quality, "method: poisson\nrows: limbs\nevent: {purpose: walk-in}\nby: level\nreference: {level: transtibial}")
	r := table(t, a, "rates")
	want(t, row(t, r, "group", "transtibial"), "rows", 2, "events", 3, "exposure", 100/365.25, "estimate", 3*365.25/100)
	want(t, row(t, r, "group", "transfemoral"), "rows", 2, "events", 4, "exposure", 50/365.25)
	want(t, row(t, table(t, a, "terms"), "term", "level"), "ratio", 4.0/50/(3.0/100))
	for _, p := range []string{"In 4 limbs there were 7 walk-in visits in", "a year"} {
		if !strings.Contains(a.Reading, p) {
			t.Errorf("reading lacks %q: %s", p, a.Reading)
		}
	}
	wantCaution(t, a, "no-time-at-risk", "1 limb was left out: they were watched for no time")
	wantCaution(t, a, "watched", "seen more often")
	wantCaution(t, a, "few-events", "7 events were counted")
	rates := table(t, one(t, s, quality, walkIns+"by: level"), "rates")
	want(t, row(t, rates, "group", "transtibial"), "estimate", 100*3*365.25/100) // a hundred limbs a year
	wantError(t, one(t, callers("transtibial 60", "transfemoral 40"), quality, "method: poisson\nrows: limbs\nevent: {purpose: walk-in}\nby: level"), "no-events")
	wantError(t, one(t, s, quality, "method: poisson\nrows: limbs\nevent: {purpose: walk-in}\nby: last_seen"), "known-later")
}

func TestCountsFaults(t *testing.T) {
	log := tallyLog(tallies(20, 0, 1, 2, 3))
	for name, c := range map[string]struct{ ask, code, says string }{
		"nothing counted":     {"rows: sockets\nby: cast_method", "missing-key", "needs `outcome`, a column of counts, or `event`"},
		"both":                {"rows: limbs\noutcome: spots\nevent: remake\nadjust: [level]", "impossible", "leave one of them out"},
		"event and exposure":  {"rows: limbs\nevent: remake\nexposure: weeks\nadjust: [level]", "impossible", "`exposure` has nothing to say"},
		"event of visits":     {"rows: visits\nevent: {ply: 5..}\nadjust: [level]", "impossible", "not of visits"},
		"end of a socket":     {"rows: sockets\nevent: remake\nadjust: [level]", "impossible", "comes once"},
		"half a count":        {"rows: sockets\noutcome: half\nby: cast_method", "impossible", "a count is a whole number from 0 up"},
		"text":                {"rows: sockets\noutcome: kind\nby: cast_method", "impossible", "kind is text"},
		"text as exposure":    {"rows: sockets\noutcome: spots\nby: cast_method\nexposure: kind", "impossible", "holds no numbers"},
		"its own exposure":    {"rows: sockets\noutcome: spots\nby: cast_method\nexposure: spots", "impossible", "cannot be the time at risk and the count"},
		"exposure a term":     {"rows: sockets\noutcome: spots\nby: cast_method\nadjust: [weeks]\nexposure: weeks", "impossible", "and a term at once"},
		"nothing to explain":  {"rows: sockets\noutcome: spots", "missing-key", "needs `by` or `adjust`"},
		"condition":           {"rows: sockets\noutcome: {spots: 2..}\nby: cast_method", "wrong-type", "is for logistic"},
		"clusters, profiled":  {"rows: sockets\noutcome: spots\nby: cast_method\nintervals: profile\ncluster: person", "impossible", "cannot allow for `cluster`"},
		"no such explanation": {"rows: limbs\nevent: {purpose: walk-in}\nby: levell", "unknown-column", "level"},
	} {
		for _, method := range []string{"poisson", "negative-binomial"} {
			a := answersOnce(t, readLog(t, log), nil, quality, "id: q\nmethod: "+method+"\n"+c.ask)["q"]
			wantError(t, a, c.code, c.says)
			if t.Failed() {
				t.Fatal(method, name)
			}
		}
	}
	a := answersOnce(t, readLog(t, log), nil, quality, "id: q\nmethod: negative-binomial\n"+askSpots+"penalty: firth")["q"]
	wantError(t, a, "key-not-taken", "negative-binomial does not take `penalty`")
	for name, c := range map[string]struct {
		rows []tally
		code string
		says string
	}{
		"none counted": {tallies(10, 0), "no-variation", "spots is 0 in all sockets used"},
		"one row":      {tallies(1, 3)[:1], "bad-term", "so can explain nothing"},
		"one method":   {tallies(10, 3)[:10], "bad-term", "so can explain nothing"},
	} {
		a := one(t, tallyLog(c.rows), quality, "method: poisson\n"+askSpots)
		wantError(t, a, c.code, c.says)
		if t.Failed() {
			t.Fatal(name)
		}
	}
	// A category in which nothing was counted: penalised, or refused.
	none := tallies(30, 0, 1, 2)
	for i := range none[:30] {
		none[i].spots = 0
	}
	p := one(t, tallyLog(none), quality, "method: poisson\n"+askSpots)
	wantCaution(t, p, "separation", "No finite ratio of counts fits casting method vacuum against hand", "nothing at all was counted")
	wantError(t, one(t, tallyLog(none), quality, "method: negative-binomial\n"+askSpots), "separation", "with method poisson the estimates are penalised")
	wantError(t, one(t, tallyLog(none), quality, "method: poisson\n"+askSpots+"penalty: none"), "separation", "without `penalty: none`")
}

// Each caution stands where its reason is, and not where it is not.
func TestCountsCautions(t *testing.T) {
	poisson, nb := "method: poisson\n"+askSpots, "method: negative-binomial\n"+askSpots
	calm := tallyLog(tallies(60, 1, 2, 0, 3, 2, 1))
	wild := tallyLog(tallies(60, 0, 9, 0, 1, 0, 0, 14, 0))
	even := tallyLog(tallies(60, 2, 2, 3))
	rare := tallyLog(tallies(40, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1))
	twice := tallies(60, 1, 2, 0, 3, 2, 1)
	for i := range twice {
		twice[i].person = 1 + i/2
	}
	pairs := tallyLog(twice)
	zero := tallies(20, 1, 2, 3)
	zero[4].weeks = 0
	far := tallies(20, 1, 2, 0)
	far[3].spots = 60
	zeros := tallies(60, 0, 5, 0, 6, 5, 0)
	for _, c := range []struct {
		code    string
		on, off answer.Answer
	}{
		{"overdispersion", one(t, wild, quality, poisson), one(t, calm, quality, poisson)},
		{"overdispersion", one(t, wild, quality, poisson), one(t, wild, quality, nb)},
		{"no-overdispersion", one(t, even, quality, nb), one(t, wild, quality, nb)},
		{"excess-zeros", one(t, tallyLog(zeros), quality, poisson), one(t, calm, quality, poisson)},
		{"excess-zeros", one(t, tallyLog(zeros), quality, nb), one(t, calm, quality, nb)},
		{"few-events", one(t, rare, quality, poisson+"adjust: [weeks]"), one(t, calm, quality, poisson+"adjust: [weeks]")},
		{"not-clustered", one(t, pairs, quality, poisson+"cluster: none"), one(t, pairs, quality, poisson)},
		{"not-clustered", one(t, pairs, quality, nb+"intervals: profile"), one(t, calm, quality, nb+"intervals: profile")},
		{"no-time-at-risk", one(t, tallyLog(zero), quality, poisson+"exposure: weeks"), one(t, calm, quality, poisson+"exposure: weeks")},
		{"influence", one(t, tallyLog(far), quality, poisson+"adjust: [weeks]\ndiagnostics: yes"), one(t, calm, quality, poisson+"diagnostics: yes")},
		{"rows-hidden", one(t, calm, "audience: research", poisson+"diagnostics: yes"), one(t, calm, quality, poisson+"diagnostics: yes")},
	} {
		wantCaution(t, c.on, c.code)
		if c.off.Error != nil || caution(c.off, c.code) != "" {
			t.Errorf("%s: raised without reason, or %+v", c.code, c.off.Error)
		}
	}
	if r := table(t, one(t, tallyLog(far), quality, poisson+"diagnostics: yes"), "influence").Rows[0]; r[0] != "S4" {
		t.Errorf("most influential is %v", r[0])
	}
}

// With errors for clusters the scatter is allowed for, so that nothing warns
// of it; and where small counts are hidden, no rate tells one.
func TestCountsWhereAllowedForOrHidden(t *testing.T) {
	rows := tallies(60, 0, 9, 0, 1, 0, 0, 14, 0)
	for i := range rows {
		rows[i].person = 1 + i/2
	}
	if a := one(t, tallyLog(rows), quality, "method: poisson\n"+askSpots); a.Error != nil || caution(a, "overdispersion") != "" {
		t.Errorf("%+v %v", a.Error, a.Cautions)
	}
	few := tallies(40, 0, 0, 0, 0, 0, 0, 0, 0, 0, 1)
	for i := range few[40:] {
		few[40+i].spots = 3
	}
	a := one(t, tallyLog(few), "audience: research", "method: poisson\n"+askSpots+"diagnostics: yes")
	if r := row(t, table(t, a, "rates"), "group", "hand"); r["events"] != nil || r["estimate"] != nil {
		t.Errorf("4 events are told: %v", r)
	}
}
