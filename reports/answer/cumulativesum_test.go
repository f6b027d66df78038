package answer_test

import (
	"math"
	"strings"
	"testing"
)

const lowSum = "method: cumulative-sum\nrows: visits\nnumerator: {comfort: ..5}"

// lowDays are the days of a log of daily visits on which comfort is low: each
// tenth day, and from day 300 on each fourth.
func lowDays() []int {
	var out []int
	for d := 7; d < 400; d++ {
		if d < 300 && d%10 == 7 || d >= 300 && d%4 == 0 {
			out = append(out, d)
		}
	}
	return out
}

func TestCumulativeSumByHand(t *testing.T) {
	s := eventLog(400, lowDays()...)
	a := one(t, s, quality, lowSum+"\nbaseline_points: 300\nfalse_alarm: 1y\nbetter: lower")
	points := table(t, a, "points")
	const p = 30.0 / 300
	up, down := math.Log(2/(1+p)), -math.Log(1+p)
	sum, excess := 0.0, 0.0
	low := map[int]bool{}
	for _, d := range lowDays() {
		low[d] = true
	}
	for d := range 40 {
		step := down
		excess -= p
		if low[d] {
			step = up
			excess++
		}
		sum = math.Max(0, sum+step)
		want(t, row(t, points, "case", d+1), "event", low[d], "expected", p, "more", sum, "excess", excess)
	}
	want(t, row(t, table(t, a, "fit")), "rows", 400, "events", 55, "expected", 40, "baseline", 300, "cases_a_year", 365.25)
	want(t, row(t, table(t, a, "sums"), "sum", "fewer"), "odds", 0.5, "cases_to_false_alarm", 365.25)
	more := row(t, table(t, a, "sums"), "sum", "more")
	if more["signals"].(int) < 1 || !strings.Contains(a.Reading, "The sum for more came to its limit on 2022-11") || !strings.Contains(a.Reading, "the worse side") {
		t.Errorf("%s %v", a.Reading, more)
	}
	signal := false
	for _, r := range points.Rows {
		if r[7] != nil {
			if r[7] != "more" || r[5].(float64) < more["limit"].(float64) {
				t.Errorf("%v with a limit of %v", r, more["limit"])
			}
			signal = true
		}
	}
	if !signal {
		t.Error("no point has the signal")
	}
	if b := one(t, s, quality, lowSum+"\nbaseline_points: 300\nfalse_alarm: 1y\nbetter: higher"); !strings.Contains(b.Reading, "the better side") {
		t.Errorf("%s", b.Reading)
	}
	calm := one(t, eventLog(300, lowDays()[:30]...), quality, lowSum+"\nexpected: 10%")
	if !strings.Contains(calm.Reading, "Neither sum came to its limit") || !strings.Contains(calm.Methods, "a chance of 10.0%, as the question says") {
		t.Errorf("%s\n%s", calm.Reading, calm.Methods)
	}
}

// More than noise is what an unchanged series of the same cases brings about
// in at most 5 of 100; limits by the time between false alarms are told to let
// through more.
func TestCumulativeSumMoreThanNoise(t *testing.T) {
	s := eventLog(400, lowDays()...)
	a := one(t, s, quality, lowSum+"\nbaseline_points: 300")
	if !strings.Contains(a.Reading, "More than noise: the sum for more came to its limit on") || !strings.Contains(a.Reading, "of such series") {
		t.Error(a.Reading)
	}
	fit := row(t, table(t, a, "fit"))
	if x := fit["false_alarm_chance"].(float64); x < 0.04 || x > 0.05 {
		t.Errorf("a chance of %g", x)
	}
	often := one(t, s, quality, lowSum+"\nbaseline_points: 300\nfalse_alarm: 1y")
	if strings.Contains(often.Reading, "More than noise") || !strings.Contains(often.Reading, "no more than noise") {
		t.Error(often.Reading)
	}
	// One event where 2.9 are expected is nothing, whichever limits are chosen.
	few := eventLog(212, 20)
	for _, key := range []string{"", "\nfalse_alarm: 90d", "\nfalse_alarm: 1y", "\nfalse_alarm: 5y"} {
		b := one(t, few, quality, lowSum+"\nexpected: 1.37%"+key)
		if b.Error == nil && strings.Contains(b.Reading, "More than noise") {
			t.Errorf("%s: %s", key, b.Reading)
		}
	}
	b := one(t, few, quality, lowSum+"\nexpected: 1.37%")
	wantCaution(t, b, "never-signals", "The sum for fewer events cannot come to its limit", "2.9 are expected")
	wantCaution(t, b, "slow-to-see", "more than there are")
	if got := caution(a, "never-signals") + caution(a, "slow-to-see"); got != "" {
		t.Error(got)
	}
}

func TestCumulativeSumSinceDecision(t *testing.T) {
	got := answersOnce(t, readLog(t, eventLog(400, lowDays()...)), nil, quality, "id: q\n"+lowSum+"\nbaseline_points: 300\nfalse_alarm: 1y",
		"on: "+isoDay(300)+"\nwhat: Padded.\nfollows: q", "on: "+isoDay(399)+"\nwhat: Late.\nfollows: q", "on: 2030-01-01\nwhat: Later.\nfollows: q")
	var all []string
	for _, s := range got["q"].Since {
		all = append(all, s)
	}
	text := strings.Join(all, " / ")
	for _, phrase := range []string{"25 of 100, where 10.0 were expected; ", "0 of 1, where 0.1 were expected; no signal", "no complete case since"} {
		if !strings.Contains(text, phrase) {
			t.Errorf("%q is not in %s", phrase, text)
		}
	}
}

func TestCumulativeSumCautions(t *testing.T) {
	s := eventLog(400, lowDays()...)
	a := one(t, s, quality, lowSum+"\nfalse_alarm: 1y")
	wantCaution(t, a, "own-mean", "learnt from the same visits")
	wantCaution(t, a, "not-adjusted", "harder cases")
	wantCaution(t, a, "repeated-persons", "several of the visits")
	for _, code := range []string{"few-expected", "slow-to-see", "incomplete-periods"} {
		if text := caution(a, code); text != "" {
			t.Errorf("%s: %s", code, text)
		}
	}
	b := one(t, s, quality, lowSum+"\nbaseline_points: 300\nfalse_alarm: 1y\nstrata: level\nlate_entry: 30d")
	wantCaution(t, b, "incomplete-periods", "30 visits from 2023-01-06 on", "written down")
	if caution(b, "own-mean") != "" || caution(b, "not-adjusted") != "" {
		t.Errorf("%v", b.Cautions)
	}
	c := one(t, eventLog(60, 4, 9, 30), quality, lowSum+"\nfalse_alarm: 90d")
	wantCaution(t, c, "few-expected", "Only 3.0 events are expected")
	wantCaution(t, c, "slow-to-see", "can hardly tell")
	d := one(t, unitLog(unitRows{"a", "transtibial", 12, 60}, unitRows{"b", "transfemoral", 20, 60}), quality, lowSum+"\nadjust: [level, sex]\nfalse_alarm: 90d")
	if caution(d, "repeated-persons") != "" || !strings.Contains(d.Methods, "a logistic model of level of amputation and sex") {
		t.Errorf("%v %s", d.Cautions, d.Methods)
	}
	if x := row(t, table(t, d, "fit"))["concordance"].(float64); x < 0.5 || x > 0.7 {
		t.Errorf("concordance %g", x)
	}
	want(t, row(t, table(t, d, "fit")), "expected", 32)
}

// A stratum of which none counted is expected of a little all the same.
func TestCumulativeSumOfAStratumOfNone(t *testing.T) {
	s := unitLog(unitRows{"a", "transtibial", 12, 60}, unitRows{"b", "transfemoral", 0, 30})
	a := one(t, s, quality, lowSum+"\nstrata: level\nfalse_alarm: 90d")
	seen := map[float64]bool{}
	for _, r := range table(t, a, "points").Rows {
		seen[math.Round(1e6*r[3].(float64))] = true
	}
	if !seen[200000] || !seen[math.Round(1e6*12.0/90/31)] || len(seen) != 2 {
		t.Errorf("chances %v", seen)
	}
}

func TestCumulativeSumRefusals(t *testing.T) {
	s := eventLog(60, 4, 9, 30)
	wantError(t, one(t, s, "audience: annual", lowSum), "too-few-to-show", "each point of a cumulative sum is one visit")
	wantError(t, one(t, s, quality, lowSum+"\nbaseline_points: 100"), "bad-value", "only 60 visits")
	wantError(t, one(t, s, quality, lowSum+"\nbaseline_points: 4"), "no-events", "none counts", "write expected")
	wantError(t, one(t, s, quality, lowSum+"\nfalse_alarm: 200y"), "bad-value", "20,000")
	wantError(t, one(t, s, quality, lowSum+"\nexpected: 10%\nfalse_alarm: 5d"), "bad-value", "leaves 0 more rarely than that")
	wantError(t, one(t, s, quality, lowSum+"\nstrata: days_since_delivery"), "impossible", "use adjust")
	wantError(t, one(t, s, quality, lowSum+"\nkeep: {purpose: walk-in}"), "no-rows")
}
