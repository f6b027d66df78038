package answer_test

import (
	"fmt"
	"strings"
	"testing"
)

// actionLog has a visit each day from 2022-01-01 on with what was done, and
// how long it took.
func actionLog(actions ...string) sheets {
	var v strings.Builder
	v.WriteString("visit,socket,date,purpose,action,minutes,own_words\n")
	for d, a := range actions {
		fmt.Fprintf(&v, "V%d,S1,%s,follow-up,%s,%d,%s\n", d, isoDay(d), strings.ReplaceAll(a, "+", ";"), 10+d, strings.ReplaceAll(a, "+", " / "))
	}
	return sheets{"limbs": plainLimbs(1), "sockets": socketsHead + "S1,P1L,definitive,2021-12-01,,,,,\n", "visits": v.String()}
}

func repeatText(text string, n int) []string {
	out := make([]string, n)
	for i := range out {
		out[i] = text
	}
	return out
}

func TestParetoOfSeveralByHand(t *testing.T) {
	var acts []string
	acts = append(acts, repeatText("ground+heat relief", 6)...)
	acts = append(acts, repeatText("ground", 10)...)
	acts = append(acts, repeatText("reline", 7)...)
	acts = append(acts, repeatText("pad added+ground", 1)...)
	acts = append(acts, repeatText("", 2)...)
	s := actionLog(acts...)
	a := one(t, s, quality, "method: pareto\nrows: visits\nby: actions")
	bars := table(t, a, "bars")
	want(t, row(t, bars, "category", "ground"), "count", 17, "percent", 1700.0/26, "cumulative_percent", 1700.0/26, "weight", nil)
	want(t, row(t, bars, "category", "reline"), "count", 7, "cumulative_percent", 2400.0/26)
	// All that heat was taken to, or a pad, was ground too.
	want(t, row(t, bars, "category", "heat relief"), "count", 6, "cumulative_percent", 2400.0/26)
	want(t, row(t, bars, "category", "pad added"), "count", 1, "cumulative_percent", 2400.0/26)
	want(t, row(t, bars, "category", "not known"), "count", 2, "cumulative_percent", 100)
	all := strings.Join(printed(a), "\n")
	for _, phrase := range []string{"7 of 26 visits name several (31 are named in all)", "add up to more than 100%", "92% name one of them", "each once for every value it names"} {
		if !strings.Contains(all, phrase) {
			t.Errorf("%q is not said in %s", phrase, all)
		}
	}
	wantCaution(t, a, "unknown", "2 of 26 visits")
	// The first alone.
	b := one(t, s, quality, "method: pareto\nrows: visits\nby: action")
	wantCaution(t, b, "first-of-several", "7 of 26 visits have several actions", "by: actions")
	want(t, row(t, table(t, b, "bars"), "category", "pad added"), "count", 1)
	if caution(a, "first-of-several") != "" || strings.Contains(strings.Join(printed(b), "\n"), "name several") {
		t.Error("one action a visit is said to be several")
	}
	// The lab's own words, with the lab's own mark.
	c := one(t, s, quality, "method: pareto\nrows: visits\nby: own_words\nseparator: \"/\"")
	want(t, row(t, table(t, c, "bars"), "category", "ground"), "count", 17)
	d := one(t, s, quality, "method: pareto\nrows: visits\nby: own_words")
	want(t, row(t, table(t, d, "bars"), "category", "ground / heat relief"), "count", 6)
}

func TestParetoWeighed(t *testing.T) {
	s := actionLog(append(repeatText("ground+reline", 2), repeatText("ground", 20)...)...)
	a := one(t, s, quality, "method: pareto\nrows: visits\nby: actions\nweights: minutes")
	total := float64(22*10 + 21*22/2)
	want(t, row(t, table(t, a, "bars"), "category", "reline"), "count", 2, "weight", 10.5, "percent", 1050/total, "cumulative_percent", 100)
	want(t, row(t, table(t, a, "bars"), "category", "ground"), "count", 22, "weight", total-10.5)
	all := strings.Join(printed(a), "\n")
	for _, phrase := range []string{"451 min (length of visit) of 22 visits", "split evenly between them", "was summed by actions taken"} {
		if !strings.Contains(all, phrase) {
			t.Errorf("%q is not said in %s", phrase, all)
		}
	}
	// A weight not recorded costs the row, one below 0 the question.
	lines := strings.Replace(s["visits"], ",follow-up,ground,12,", ",follow-up,ground,,", 1)
	wantCaution(t, one(t, s.with("visits", lines), quality, "method: pareto\nrows: visits\nby: actions\nweights: minutes"), "missing", "1 visit was left out")
	if caution(a, "missing") != "" {
		t.Errorf("%v", a.Cautions)
	}
	wantError(t, one(t, s, quality, "method: pareto\nrows: visits\nby: actions\nweights: purpose"), "impossible", "minutes or money")
	cost := strings.Split(strings.TrimSpace(s["visits"]), "\n")
	for i := range cost {
		cost[i] += map[bool]string{true: ",cost", false: ",0"}[i == 0]
	}
	wantError(t, one(t, s.with("visits", strings.Join(cost, "\n")), quality, "method: pareto\nrows: visits\nby: actions\nweights: cost"), "no-variation", "0 in every row")
	cost[3] = strings.TrimSuffix(cost[3], "0") + "-4"
	wantError(t, one(t, s.with("visits", strings.Join(cost, "\n")), quality, "method: pareto\nrows: visits\nby: actions\nweights: cost"), "impossible", "below 0")
}

func TestParetoPooled(t *testing.T) {
	acts := append(append(append(repeatText("ground", 40), repeatText("reline", 3)...), repeatText("pad added", 2)...), "")
	s := actionLog(acts...)
	a := one(t, s, quality, "method: pareto\nrows: visits\nby: action\npool_below: 10%")
	want(t, row(t, table(t, a, "bars"), "category", "all others"), "count", 5, "percent", 500.0/46)
	all := strings.Join(printed(a), "\n")
	for _, phrase := range []string{"All others (2)", "each below 10%: reline; pad added", "Bars below 10% were pooled"} {
		if !strings.Contains(all, phrase) {
			t.Errorf("%q is not said in %s", phrase, all)
		}
	}
	if n := len(table(t, a, "bars").Rows); n != 3 {
		t.Errorf("%d bars", n)
	}
	if b := one(t, s, quality, "method: pareto\nrows: visits\nby: action"); len(table(t, b, "bars").Rows) != 4 || strings.Contains(b.Methods, "pooled") {
		t.Errorf("%v", table(t, b, "bars").Rows)
	}
}

func TestParetoPairsByHand(t *testing.T) {
	// A year of days before: every second ground; a year since: every fifth.
	var acts []string
	for d := range 730 {
		a := "none"
		if d < 365 && d%2 == 0 || d >= 365 && d%5 == 0 {
			a = "ground"
		} else if d%7 == 0 {
			a = "reline"
		}
		acts = append(acts, a)
	}
	n := map[bool]map[string]int{true: {}, false: {}}
	for d, a := range acts {
		n[d < 365][a]++
	}
	s := actionLog(acts...)
	front := "from: 2022-01-01\nto: 2023-12-31"
	a := one(t, s, front, "method: pareto\nrows: visits\nby: action\nchange: 2023-01-01")
	r := row(t, table(t, a, "pairs"), "category", "ground")
	want(t, r, "before", n[true]["ground"], "since", n[false]["ground"], "before_percent", 100*float64(n[true]["ground"])/365, "before_a_year", float64(n[true]["ground"])*365.25/365,
		"difference", 100*(float64(n[false]["ground"])-float64(n[true]["ground"]))/365)
	if lo, hi := r["low"].(float64), r["high"].(float64); !(lo < -25 && hi > -36 && hi < -20) {
		t.Errorf("%v", r)
	}
	want(t, row(t, table(t, a, "periods"), "period", "since"), "from", "2023-01-01", "to", "2023-12-31", "rows", 365)
	if !strings.Contains(a.Reading, "Ground went from 183 to 73.0 a year; its share changed by −30 percentage points") {
		t.Errorf("reading: %s", a.Reading)
	}
	wantCaution(t, a, "many-comparisons", "3 shares")
	if caution(a, "seasons") != "" || caution(a, "few-rows") != "" {
		t.Errorf("%v", a.Cautions)
	}
	for _, tab := range a.Tables {
		if tab.Name == "bars" {
			t.Error("bars of both sides together stand beside the pairs")
		}
	}
	// A decision that follows the question is the change.
	got := answersOf(t, readLog(t, s), nil, front, "id: q\nmethod: pareto\nrows: visits\nby: action", "on: 2023-07-01\nwhat: Padded.\nfollows: q")
	b := got["q"]
	wantCaution(t, b, "seasons", "17.9 months")
	for _, since := range b.Since {
		if !strings.Contains(since, "365 visits a year; before 365") || !strings.Contains(since, "ground") {
			t.Errorf("since: %s", since)
		}
	}
	two := answersOf(t, readLog(t, s), nil, front, "id: q\nmethod: pareto\nrows: visits\nby: action", "on: 2023-07-01\nwhat: Padded.\nfollows: q", "on: 2023-08-01\nwhat: Moved.\nfollows: q")
	wantError(t, two["q"], "missing-key", "2 decisions follow")
	wantCaution(t, one(t, s, front, "method: pareto\nrows: visits\nby: action\nchange: 2022-01-11"), "few-rows", "10 visits before the change")
	wantError(t, one(t, s, front, "method: pareto\nrows: visits\nby: action\nchange: 2021-06-01"), "too-few-to-compare", "before the change of 2021-06-01")
	wantError(t, one(t, s, front, "method: pareto\nrows: visits\nby: action\ndated: date"), "impossible", "write change")
	// Minutes have no interval of shares.
	c := one(t, s, front, "method: pareto\nrows: visits\nby: action\nweights: minutes\nchange: 2023-01-01")
	want(t, row(t, table(t, c, "pairs"), "category", "ground"), "difference", nil, "low", nil)
	if !strings.Contains(c.Reading, "length of visit came to") || caution(c, "many-comparisons") != "" {
		t.Errorf("%s %v", c.Reading, c.Cautions)
	}
}

// Why sockets ended is placed by the end.
func TestParetoPairsOfEndings(t *testing.T) {
	var lives []life
	for k := range 60 {
		reason := "remake: growth"
		if k%3 == 0 {
			reason = "remake: volume loss"
		}
		lives = append(lives, life{k + 1, 0, 20 + 10*k, reason, ""})
	}
	s := lifeLog(lives)
	a := one(t, s, quality, "method: pareto\nrows: sockets\nby: end_reason\nchange: 2023-09-01")
	if a.Error != nil {
		t.Fatal(a.Error.Text)
	}
	p := table(t, a, "periods")
	before, since := row(t, p, "period", "before")["rows"].(int), row(t, p, "period", "since")["rows"].(int)
	if before+since != 60 || before == 0 || since == 0 {
		t.Errorf("%d before, %d since", before, since)
	}
}

// In a report that hides small counts no count of a side can be worked out
// from the others.
func TestParetoPairsHideSmall(t *testing.T) {
	var acts []string
	for d := range 400 {
		a := []string{"none", "ground", "reline"}[d%3]
		if d == 10 || d == 20 || d == 300 {
			a = "pad added"
		}
		acts = append(acts, a)
	}
	a := one(t, actionLog(acts...), "audience: annual", "method: pareto\nrows: visits\nby: action\nchange: 2022-07-01")
	hidden := map[string]int{}
	for _, r := range table(t, a, "pairs").Rows {
		if r[1] == nil {
			hidden["before"]++
		}
		if r[5] == nil {
			hidden["since"]++
		}
	}
	if hidden["before"] < 2 || hidden["since"] < 2 {
		t.Errorf("hidden %v: %v", hidden, table(t, a, "pairs").Rows)
	}
	for _, text := range printed(a) {
		if text == "2 (1%)" || text == "1 (0%)" || strings.Contains(text, "Pad added went") {
			t.Errorf("a small count: %s", text)
		}
	}
}
