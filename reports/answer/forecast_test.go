package answer_test

import (
	"fmt"
	"strings"
	"testing"
	"time"
)

// demandLog delivers so many definitive sockets in each month from January
// 2020 on, each to a limb of its own.
func demandLog(perMonth []int) sheets {
	limbs := [][]string{{"Person", "Limb", "Side", "Level"}}
	sockets := [][]string{{"Socket", "Limb", "Kind", "Delivered", "Cast method"}}
	k := 0
	for m, n := range perMonth {
		for i := range n {
			k++
			id := fmt.Sprintf("P%04d", k)
			day := time.Date(2020, time.Month(1+m), 1+i%28, 0, 0, 0, 0, time.UTC).Format("2006-01-02")
			limbs = append(limbs, []string{id, id + "L", "left", "transtibial"})
			sockets = append(sockets, []string{"S" + id, id + "L", "definitive", day, []string{"hand", "vacuum"}[k%2]})
		}
	}
	return sheets{"limbs": csvText(limbs), "sockets": csvText(sockets)}
}

func monthly(n int, of func(m int) int) []int {
	out := make([]int, n)
	for m := range out {
		out[m] = of(m)
	}
	return out
}

const demand = "method: forecast\nrows: sockets\n"

func front(years int) string {
	return fmt.Sprintf("from: 2020-01-01\nlog_since: 2020-01-01\nto: %d-12-31", 2019+years)
}

func TestForecastSteadyDemand(t *testing.T) {
	a := one(t, demandLog(monthly(60, func(m int) int { return 8 + m%3 - 1 })), front(5), demand+"seasonal: no")
	s := table(t, a, "stretches")
	want(t, row(t, s, "foretold", true), "value", nil)
	want(t, row(t, s, "value", 96), "foretold", false)
	f := row(t, table(t, a, "fit"))
	want(t, f, "course", "level", "periods", 60, "season", false, "ahead", 12, "tested", 3, "inside", 3)
	got := row(t, s, "foretold", true)
	if e := got["expected"].(float64); e < 93 || e > 99 {
		t.Errorf("%v expected of 96 a year", e)
	}
	if lo, hi := got["low"].(float64), got["high"].(float64); lo > 85 || hi < 107 || lo < 65 || hi > 130 {
		t.Errorf("interval %v to %v of a year of 96, Poisson", lo, hi)
	}
	if !strings.Contains(a.Reading, "definitive sockets") && !strings.Contains(a.Reading, "sockets are expected from Jan 2025 to Dec 2025") {
		t.Error(a.Reading)
	}
	if !strings.Contains(a.Methods, "(each by its date delivered)") {
		t.Error(a.Methods)
	}
	if !strings.Contains(a.Reading, "3 of 3 past times lay in the interval") || !strings.Contains(a.Reading, "if things go on") {
		t.Error(a.Reading)
	}
	for _, code := range []string{"not-tested", "few-tests", "missed-before", "carried-on", "drifts", "recent-change", "not-foretold", "another-came-nearer", "not-complete"} {
		if c := caution(a, code); c != "" {
			t.Errorf("%s: %s", code, c)
		}
	}
}

func TestForecastCautions(t *testing.T) {
	steady := monthly(60, func(m int) int { return 8 + m%3 - 1 })
	step := monthly(60, func(m int) int {
		if m >= 48 {
			return 30
		}
		return 6 + m%3
	})
	growing := monthly(72, func(m int) int { return 3 + m/4 })
	a := one(t, demandLog(steady[:24]), front(2), demand)
	wantCaution(t, a, "not-tested", "Hold the interval for a guess")
	a = one(t, demandLog(steady[:36]), front(3), demand)
	wantCaution(t, a, "few-tests", "Only 1 past time")
	a = one(t, demandLog(step), front(5), demand)
	wantCaution(t, a, "missed-before", "lay outside")
	wantCaution(t, a, "drifts", "rests on few months")
	a = one(t, demandLog(growing), front(6), demand+"seasonal: no")
	wantCaution(t, a, "another-came-nearer", "course: trend")
	a = one(t, demandLog(growing), front(6), demand+"seasonal: no\ncourse: trend")
	wantCaution(t, a, "carried-on", "carried on")
	slope := row(t, table(t, a, "terms"), "term", "slope")
	if r := slope["ratio"].(float64); r < 1.1 || r > 1.6 {
		t.Errorf("grows by %v a year", r)
	}
	if got, last := row(t, table(t, a, "stretches"), "foretold", true)["expected"].(float64), 235.0; got < last {
		t.Errorf("%v expected of what grows and was %v", got, last)
	}
	// A decision of the last year that follows the question.
	got := answersOf(t, readLog(t, demandLog(steady)), nil, quality+"\n"+front(5), "id: next\n"+demand, "on: 2024-09-01\nwhat: A second caster.\nfollows: next")
	wantCaution(t, got["next"], "recent-change", "2024-09-01")
	// The cut lies in the middle of a month.
	a = one(t, demandLog(steady), "from: 2020-01-01\nlog_since: 2020-01-01\nto: 2024-12-20", demand)
	wantCaution(t, a, "not-complete", "2024-12")
}

func TestForecastByGroup(t *testing.T) {
	a := one(t, demandLog(monthly(60, func(m int) int { return 8 + m%3 - 1 })), front(5), demand+"by: cast_method\nperiod: quarter\nahead: 6m")
	want(t, row(t, table(t, a, "fit"), "group", "hand"), "ahead", 2, "periods", 20)
	want(t, row(t, table(t, a, "fit"), "group", "vacuum"), "ahead", 2, "periods", 20)
	if n := len(a.Figures); n != 4 {
		t.Errorf("%d figures of two groups", n)
	}
	late := demandLog(monthly(60, func(m int) int { return 8 + m%3 - 1 }))
	late["sockets"] = strings.ReplaceAll(late["sockets"], "2024-12-01,vacuum", "2024-12-01,digital")
	late["sockets"] = strings.ReplaceAll(late["sockets"], "2024-12-01,hand", "2024-12-01,digital")
	a = one(t, late, front(5), demand+"by: cast_method")
	wantCaution(t, a, "not-foretold", "hardly anything was counted")
}

// A public report shows no stretch shorter than the one foretold, and no
// group with a stretch of few people.
func TestForecastInPublic(t *testing.T) {
	log := demandLog(monthly(60, func(m int) int { return 8 + m%3 - 1 }))
	a := answersOf(t, readLog(t, log), nil, "audience: annual\n"+front(5), "id: next\n"+demand)["next"]
	if a.Error != nil {
		t.Fatal(a.Error)
	}
	for _, x := range a.Tables {
		if x.Name == "points" {
			t.Error("single months are shown")
		}
	}
	if n := len(a.Figures); n != 1 {
		t.Errorf("%d figures; months must not be drawn", n)
	}
	few := answersOf(t, readLog(t, demandLog(monthly(60, func(m int) int {
		if m < 24 {
			return 3
		}
		return (m % 4) / 3
	}))), nil, "audience: annual\n"+front(5), "id: next\n"+demand)["next"]
	if few.Error == nil || !strings.Contains(few.Error.Text, "few people") {
		t.Errorf("%+v", few)
	}
}

func TestForecastRefusals(t *testing.T) {
	log := demandLog(monthly(20, func(int) int { return 5 }))
	wantError(t, one(t, log, "from: 2020-01-01\nlog_since: 2020-01-01\nto: 2021-08-31", demand), "few-points", "20 complete months", "at least 24 months")
	long := demandLog(monthly(60, func(m int) int { return 8 + m%3 - 1 }))
	wantError(t, one(t, long, front(5), demand+"ahead: 5y"), "impossible", "at most 3 years")
	wantError(t, one(t, long, front(5), demand+"ahead: 10d"), "impossible", "shorter than half a month")
	wantError(t, one(t, long, front(5), demand+"by: delivered"), "impossible", "no column of categories")
}

func TestLinearWithNeighbours(t *testing.T) {
	log := demandLog(monthly(24, func(m int) int { return 3 }))
	log["sockets"] = strings.Replace(log["sockets"], "Cast method", "Cast method,days", 1)
	lines := strings.Split(strings.TrimSpace(log["sockets"]), "\n")
	for i := range lines[1:] {
		lines[i+1] += fmt.Sprintf(",%d", 20+i%7+i/9)
	}
	log["sockets"] = strings.Join(lines, "\n") + "\n"
	model := "method: linear\nrows: sockets\noutcome: days\nby: cast_method\n"
	a := one(t, log, front(2), model+"errors: newey-west")
	want(t, row(t, table(t, a, "fit")), "errors", "Newey-West", "clusters", nil)
	if !strings.Contains(a.Methods, "Newey and West") || !strings.Contains(a.Methods, "up to 3 before") {
		t.Error(a.Methods)
	}
	for _, code := range []string{"same-day", "not-clustered", "short-series"} {
		if c := caution(a, code); c != "" {
			t.Errorf("%s: %s", code, c)
		}
	}
	few := one(t, log, front(2), model+"errors: newey-west\nkeep: {delivered: ..2020-12-31}")
	wantCaution(t, few, "short-series", "too small")
	for i := range lines[1:] {
		lines[i+1] = strings.Replace(lines[i+1], lines[i+1][strings.Index(lines[i+1], "202"):][:10], "2020-03-04", 1)
	}
	log["sockets"] = strings.Join(lines, "\n") + "\n"
	wantCaution(t, one(t, log, front(2), model+"errors: newey-west"), "same-day", "share a day")
	visits := one(t, chartLog(20, steps(24)), "to: 2025-12-31", "method: linear\nrows: visits\noutcome: comfort\nadjust: [days_since_delivery]\nerrors: newey-west")
	wantCaution(t, visits, "not-clustered", "rows of one person")
}
