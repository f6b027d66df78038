package answer_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// again is one visit of a limb.
type again struct {
	limb, day, mark int
	cast, ok        string
	count           int
}

// againLog tells visits as a log: limbs of a person each, but where together
// gives a limb another's person.
func againLog(rows []again, together map[int]int) sheets {
	limbs, sockets := [][]string{{"person", "side", "level", "limb"}}, [][]string{{"socket", "limb", "kind", "delivered", "cast_method"}}
	visits := [][]string{{"socket", "date", "purpose", "good", "mark", "falls", "days"}}
	seen := map[int]bool{}
	for _, r := range rows {
		if !seen[r.limb] {
			seen[r.limb] = true
			person, side := r.limb, "left"
			if p, ok := together[r.limb]; ok {
				person, side = p, "right"
			}
			limbs = append(limbs, []string{fmt.Sprint("P", person), side, "transtibial", fmt.Sprint("L", r.limb)})
			sockets = append(sockets, []string{fmt.Sprint("S", r.limb), fmt.Sprint("L", r.limb), "definitive", "2021-01-04", r.cast})
		}
		visits = append(visits, []string{fmt.Sprint("S", r.limb), fmt.Sprintf("2021-%02d-%02d", 2+r.day/28, 1+r.day%28), "review", r.ok, fmt.Sprint(r.mark), fmt.Sprint(r.count), fmt.Sprint(20 + r.day)})
	}
	return sheets{"limbs": csvText(limbs), "sockets": csvText(sockets), "visits": csvText(visits)}
}

// someLimbs are limbs that differ, of some visits each: those whose number is
// a multiple of 3 do well, and vacuum does a little better.
func someLimbs(limbs, visits int) []again {
	var out []again
	for l := 1; l <= limbs; l++ {
		cast := "hand"
		if l%2 == 0 {
			cast = "vacuum"
		}
		for v := range visits {
			x := (l*7+v*11)%10 + 4*(l%3) + 2*(l%2) + v/4
			r := again{limb: l, day: 9 * v, cast: cast, ok: "no", mark: min(x/4, 3), count: x / 5}
			if x > 8 {
				r.ok = "yes"
			}
			out = append(out, r)
		}
	}
	return out
}

const (
	askGood  = "method: mixed-logistic\nrows: visits\noutcome: good\nby: cast_method\nreference: {cast_method: hand}\n"
	askFalls = "method: mixed-poisson\nrows: visits\noutcome: falls\nby: cast_method\nreference: {cast_method: hand}\n"
	askLevel = "method: mixed-ordinal\nrows: visits\noutcome: mark\nby: cast_method\nreference: {cast_method: hand}\n"
)

// The reading says what is expected twice, ratios of one limb, and by how much
// limbs differ; the tables agree with one another.
func TestWithin(t *testing.T) {
	log := againLog(someLimbs(24, 8), nil)
	for ask, c := range map[string]struct{ measure, says string }{
		askGood:  {"odds ratio", "the share with good would be"},
		askFalls: {"ratio of counts", "the falls per visit would be"},
		askLevel: {"odds ratio", "the mean mark would be"},
	} {
		a := one(t, log, quality, ask+"time: days_since_delivery\nscale: months\nprofiles: [{cast_method: vacuum}]")
		for _, s := range []string{c.says, "for a typical limb and", "over all limbs with hand", " of one and the same limb for ", c.measure, "Of two limbs alike in all this, one has in the median", "of 24 limbs"} {
			if !strings.Contains(a.Reading, s) {
				t.Errorf("the reading lacks %q: %s", s, a.Reading)
			}
		}
		b := row(t, table(t, a, "between"))
		sd := b["std_dev"].(float64)
		want(t, b, "median_ratio", math.Exp(math.Sqrt2*sd*0.6744897501960817), "statistic", 2*(row(t, table(t, a, "fit"))["log_likelihood"].(float64)-b["log_likelihood_without"].(float64)))
		if icc := b["icc"]; ask == askFalls && icc != nil || ask != askFalls && math.Abs(icc.(float64)-sd*sd/(sd*sd+math.Pi*math.Pi/3)) > 1e-12 {
			t.Errorf("icc %v", icc)
		}
		if !(b["low"].(float64) < sd && sd < b["high"].(float64)) {
			t.Errorf("limits %v", b)
		}
		want(t, row(t, table(t, a, "variance")), "variance", sd*sd, "group", "limb")
		if n := len(table(t, a, "limbs").Rows); n != 24 {
			t.Errorf("%d limbs", n)
		}
		d := row(t, table(t, a, "averaged"), "group", "vacuum - hand", "over", "all")
		of := func(g string) float64 {
			return row(t, table(t, a, "averaged"), "group", g, "over", "all")["estimate"].(float64)
		}
		want(t, d, "estimate", of("vacuum")-of("hand"))
		if n := len(table(t, a, "over_time").Rows); n != 98 {
			t.Errorf("%d rows over time", n)
		}
		if a.Figures[0].ID != "q" || !strings.Contains(a.Figures[0].Title, "over time") {
			t.Errorf("first figure %s %s", a.Figures[0].ID, a.Figures[0].Title)
		}
		if last := a.Figures[len(a.Figures)-1]; last.ID != "q-limbs" {
			t.Errorf("last figure %s", last.ID)
		}
		if !strings.Contains(a.Methods, "adaptive Gauss-Hermite quadrature") || !strings.Contains(strings.Join(a.References, " "), "Pinheiro") {
			t.Errorf("methods %s", a.Methods)
		}
	}
	a := one(t, log, quality, askFalls+"exposure: days")
	if f := row(t, table(t, a, "fit")); f["exposure"] == nil {
		t.Errorf("no exposure: %v", f)
	}
	a = one(t, log, quality, askGood+"offset: mark")
	if !strings.Contains(a.Methods, "as an offset") {
		t.Errorf("methods %s", a.Methods)
	}
}

// Each caution where it must be, and not where it must not.
func TestWithinCautions(t *testing.T) {
	log := againLog(someLimbs(24, 8), nil)
	plain := one(t, log, quality, askGood)
	few := one(t, againLog(someLimbs(6, 8), nil), quality, askGood)
	var single []again
	for _, r := range someLimbs(30, 3) {
		if r.limb <= 10 || r.day == 0 {
			single = append(single, r)
		}
	}
	var level []again
	for l := 1; l <= 12; l++ {
		for v := range 6 {
			level = append(level, again{limb: l, day: 9 * v, cast: []string{"hand", "vacuum"}[l%2], ok: []string{"yes", "no"}[v%2], mark: v % 3, count: v % 2})
		}
	}
	wantCaution(t, few, "few-groups", "Only 6 limbs")
	wantCaution(t, one(t, againLog(single, nil), quality, askGood), "single-rows", "20 of 30 limbs have only one visit")
	alike := one(t, againLog(level, nil), quality, askGood)
	wantCaution(t, alike, "singular", "the variance between them is estimated as 0", "that of logistic without clusters")
	if !strings.Contains(alike.Reading, "The limbs differ no more than chance alone would make them.") || strings.Contains(alike.Reading, "typical") {
		t.Errorf("reading %s", alike.Reading)
	}
	wantCaution(t, one(t, againLog(someLimbs(24, 8), map[int]int{2: 1, 4: 3}), quality, askGood), "persons-repeat", "within: person")
	wantCaution(t, one(t, log, quality, askGood+"adjust: [days]\nkeep: {days: ..38, mark: ..2}"), "few-events", "fewer than 10 per term")
	wantCaution(t, plain, "odds-ratio")
	hidden := answersOf(t, readLog(t, log), nil, "audience: research", "id: q\n"+askGood)["q"]
	wantCaution(t, hidden, "limbs-hidden")
	if n := len(table(t, hidden, "limbs").Rows); n != 0 || len(hidden.Figures) != 1 {
		t.Errorf("%d limbs and %d figures shown", n, len(hidden.Figures))
	}
	if len(alike.Figures) != 1 {
		t.Errorf("%d figures of limbs that are alike", len(alike.Figures))
	}
	for _, code := range []string{"few-groups", "single-rows", "singular", "persons-repeat", "few-events", "limbs-hidden", "variance-unbounded", "quadrature"} {
		if s := caution(plain, code); s != "" {
			t.Errorf("%s: %s", code, s)
		}
	}
	if s := caution(one(t, againLog(someLimbs(24, 8), map[int]int{2: 1, 4: 3}), quality, askGood+"within: person"), "persons-repeat"); s != "" {
		t.Error(s)
	}
}

// What cannot be answered says why.
func TestWithinErrors(t *testing.T) {
	rows := someLimbs(24, 8)
	log := againLog(rows, nil)
	var once, same, one1 []again
	for _, r := range rows {
		if r.day == 0 {
			once = append(once, r)
		}
		if r.limb == 1 {
			one1 = append(one1, r)
		}
		r.ok, r.mark = map[bool]string{true: "yes", false: "no"}[r.limb%3 == 0], r.limb%3
		same = append(same, r)
	}
	apart := append([]again(nil), rows...)
	for i := range apart {
		if apart[i].cast == "vacuum" {
			apart[i].ok, apart[i].mark, apart[i].count = "yes", 3, 0
		}
	}
	const alone = "method: mixed-logistic\nrows: visits\noutcome: good\nadjust: [days]\n"
	wantError(t, one(t, againLog(once, nil), quality, askGood), "no-repeats", "no limb has more than one visit", "use logistic")
	wantError(t, one(t, againLog(once, nil), quality, askLevel), "no-repeats", "use ordinal")
	wantError(t, one(t, againLog(same, nil), quality, askGood), "none-varies", "of every limb all visits have the same outcome")
	wantError(t, one(t, againLog(same, nil), quality, askLevel), "none-varies")
	wantError(t, one(t, againLog(one1, nil), quality, alone), "one-group", "all rows are of one limb")
	wantError(t, one(t, againLog(apart, nil), quality, askGood), "separation", "no finite estimate fits", "ask logistic")
	wantError(t, one(t, againLog(apart, nil), quality, askLevel), "separation", "at one end of the levels")
	wantError(t, one(t, againLog(apart, nil), quality, askFalls), "separation", "nothing at all was counted")
	wantError(t, one(t, log, quality, askGood+"keep: {good: yes}"), "no-variation")
	wantError(t, one(t, log, quality, askFalls+"keep: {falls: 0}"), "no-variation")
	wantError(t, one(t, log, quality, "method: mixed-poisson\nrows: visits\noutcome: good\nadjust: [days]"), "impossible")
	wantError(t, one(t, log, quality, askGood+"adjust: [days]\ntime: days"), "impossible")
	wantError(t, one(t, log, quality, askGood+"within: nothing"), "unknown-column")
	wantError(t, one(t, log, quality, askGood+"cluster: person"), "key-not-taken", "mixed-logistic does not take `cluster`")
	wantError(t, one(t, log, quality, askGood+"penalty: firth"), "key-not-taken")
	wantError(t, one(t, log, quality, askGood+"weights: days"), "key-not-taken")
	wantError(t, one(t, log, quality, askGood+"correlation: ar1"), "key-not-taken")
	wantError(t, one(t, log, quality, "method: mixed-logistic\nrows: visits\noutcome: good"), "missing-key", "`time`, `by` or `adjust`")
	wantError(t, one(t, log, quality, askGood+"scale: months"), "impossible", "`scale` is the scale of `time`")
	wantError(t, one(t, log, quality, askGood+"within: cast_method"), "impossible", "level of its own already")
	wantError(t, one(t, log, quality, "method: mixed-poisson\nrows: limbs\nevent: {good: no}\nadjust: [side]\ntime: days_since_delivery"), "impossible", "no `time` of its own")
}
