package answer_test

import (
	"fmt"
	"strings"
	"testing"
)

const lowSegmented = "method: segmented\nrows: visits\nnumerator: {comfort: ..5}\nperiod: month\n"

// steps are 48 months of low visits that step from about 10 to about 4 at
// month 24.
func steps(months int) []int {
	low := make([]int, months)
	for m := range low {
		low[m] = 10 + (m*7)%3 - (m*5)%4%2
		if m >= 24 {
			low[m] -= 6
		}
	}
	return low
}

func TestSegmentedByHand(t *testing.T) {
	low := steps(48)
	a := one(t, chartLog(20, low), "to: 2025-12-31", lowSegmented+"change: 2024-01-01\nseasonal: no\nbetter: lower")
	want(t, row(t, table(t, a, "fit")), "points_before", 24, "points_since", 24, "left_out", 0, "season", false, "weighted", true, "df_residual", 44, "errors", "autoregressive")
	// Ordinary least squares of each side: all months weigh the same here.
	fitLine := func(from, to int) (at, slope float64) {
		var n, sx, sy, sxx, sxy float64
		for k := from; k < to; k++ {
			x, y := float64(k-24), float64(low[k])/20
			n, sx, sy, sxx, sxy = n+1, sx+x, sy+y, sxx+x*x, sxy+x*y
		}
		slope = (n*sxy - sx*sy) / (n*sxx - sx*sx)
		return (sy - slope*sx) / n, slope
	}
	a0, b0 := fitLine(0, 24)
	a1, b1 := fitLine(24, 48)
	b := one(t, chartLog(20, low), "to: 2025-12-31", lowSegmented+"change: 2024-01-01\nseasonal: no\nbetter: lower\nerrors: newey-west\ntimes: [3m]")
	terms := table(t, b, "terms")
	want(t, row(t, terms, "term", "intercept"), "estimate", a0)
	want(t, row(t, terms, "term", "slope_before"), "estimate", b0)
	want(t, row(t, terms, "term", "level_change"), "estimate", a1-a0)
	want(t, row(t, terms, "term", "slope_change"), "estimate", b1-b0)
	want(t, row(t, terms, "term", "slope_since"), "estimate", b1)
	want(t, row(t, table(t, b, "effects"), "period", "2024-04"), "periods_since", 3, "estimate", a1+3*b1-a0-3*b0, "new_line", a1+3*b1, "old_line", a0+3*b0)
	want(t, row(t, table(t, b, "points"), "period", "2024-03"), "value", float64(low[26])/20, "fitted", a1+2*b1, "old_line", a0+2*b0, "since", true, "left_out", false)
	if !strings.Contains(b.Reading, "the better side") || !strings.Contains(b.Reading, "percentage points") || !strings.Contains(b.Methods, "Newey and West with 3 lags") {
		t.Errorf("%s\n%s", b.Reading, b.Methods)
	}
	if c := one(t, chartLog(20, low), "to: 2025-12-31", lowSegmented+"change: 2024-01-01\nbetter: higher"); !strings.Contains(c.Reading, "the worse side") || row(t, table(t, c, "fit"))["season"] != true {
		t.Errorf("%s", c.Reading)
	}
}

func TestSegmentedLeavesOutTheTransition(t *testing.T) {
	s := chartLog(20, steps(48))
	const to = "to: 2025-12-31"
	for _, c := range []struct {
		key                 string
		before, since, left int
	}{
		{"change: 2024-01-01", 24, 24, 0},
		{"change: 2024-01-15", 24, 23, 1},
		{"change: 2024-01-01\ntransition: 60d", 24, 22, 2}, // up to 1 March
		{"change: 2024-01-01\nlate_entry: 45d", 24, 22, 2},
	} {
		a := one(t, s, to, lowSegmented+c.key)
		want(t, row(t, table(t, a, "fit")), "points_before", c.before, "points_since", c.since, "left_out", c.left)
		if said := strings.Contains(a.Methods, "left out"); said != (c.left > 0) {
			t.Errorf("%s: %s", c.key, a.Methods)
		}
	}
	wantCaution(t, one(t, s, to, lowSegmented+"change: 2024-01-01\nlate_entry: 45d"), "late-entry", "not judged")
}

func TestSegmentedTakesTheDecision(t *testing.T) {
	s := chartLog(20, steps(48))
	const front = "to: 2025-12-31"
	got := answersOf(t, readLog(t, s), nil, front, "id: q\n"+lowSegmented, "on: 2024-01-01\nwhat: Padded.\nfollows: q")
	a := got["q"]
	want(t, row(t, table(t, a, "fit")), "change", 19723)
	if caution(a, "other-changes") != "" {
		t.Errorf("%v", a.Cautions)
	}
	for _, since := range a.Since {
		if !strings.Contains(since, "level −") || !strings.Contains(since, "by 2025-12") {
			t.Errorf("since: %s", since)
		}
	}
	two := []string{"id: q\n" + lowSegmented, "on: 2024-01-01\nwhat: Padded.\nfollows: q", "on: 2024-09-01\nwhat: Moved.\nfollows: q"}
	wantError(t, answersOf(t, readLog(t, s), nil, front, two...)["q"], "missing-key", "2024-01-01, 2024-09-01", "under change")
	two[0] += "change: 2024-01-01"
	b := answersOf(t, readLog(t, s), nil, front, two...)["q"]
	wantCaution(t, b, "other-changes", "2024-09-01")
	if len(b.Since) != 2 {
		t.Errorf("since: %v", b.Since)
	}
	wantError(t, one(t, s, front, lowSegmented), "missing-key", "the day of the change")
}

func TestSegmentedCautions(t *testing.T) {
	const front = "to: 2025-12-31"
	long := one(t, chartLog(20, steps(48)), front, lowSegmented+"change: 2024-01-01")
	for _, code := range []string{"short-series", "small-periods", "no-season", "other-changes", "beyond-scale", "errors-not-settled", "errors-disagree", "late-entry"} {
		if text := caution(long, code); text != "" {
			t.Errorf("%s: %s", code, text)
		}
	}
	short := one(t, chartLog(8, steps(34)), "to: 2024-10-31", strings.Replace(lowSegmented, "..5}", "..5}\ndenominator: {comfort: known}", 1)+"change: 2024-01-01\nkeep: {date: 2023-01-01..}")
	wantCaution(t, short, "short-series", "12 months before the change and 10 months since")
	wantCaution(t, short, "small-periods", "8 visits on average")
	wantCaution(t, short, "no-season", "3 years")
	if a := one(t, chartLog(20, steps(34)), "to: 2024-10-31", lowSegmented+"change: 2024-01-01\nkeep: {date: 2023-01-01..}\nseasonal: no"); caution(a, "no-season") != "" {
		t.Errorf("%v", a.Cautions)
	}
	// A line that falls through the floor, and a series that wanders.
	fall := make([]int, 48)
	for m := range fall {
		fall[m] = max(1, 20-m+m%2)
	}
	wantCaution(t, one(t, chartLog(24, fall), front, lowSegmented+"change: 2024-06-01"), "beyond-scale", "below 0", "above 100%")
	wander := []int{9, 10, 8, 8, 7, 5, 4, 3, 1, 1, 2, 4, 2, 2, 1, 1, 1, 1, 1, 2, 4, 6, 5, 4}
	a := one(t, chartLog(24, wander), "to: 2023-12-31", lowSegmented+"change: 2023-01-01\nseasonal: no")
	wantCaution(t, a, "errors-not-settled", "Newey and West")
	want(t, row(t, table(t, a, "fit")), "rho", nil, "errors", "newey-west")
	if n := len(table(t, a, "errors").Rows); n != 6 {
		t.Errorf("%d rows of two kinds of errors", n)
	}
	// Asked for by name, the errors of Newey and West are no fallback.
	if b := one(t, chartLog(24, wander), "to: 2023-12-31", lowSegmented+"change: 2023-01-01\nseasonal: no\nerrors: newey-west"); caution(b, "errors-not-settled") != "" {
		t.Errorf("%v", b.Cautions)
	}
}

// Where neighbours are alike, the errors of Newey and West say more than they
// can.
func TestSegmentedErrorsDisagree(t *testing.T) {
	low := make([]int, 40)
	for m := range low {
		low[m] = 10 + []int{0, 1, 2, 2, 1, 0, -1, -1, 0, 1}[m%10]
		if m >= 20 {
			low[m] += 2
		}
	}
	found := false
	for shift := range 8 {
		for m := 20; m < 40; m++ {
			low[m] = 10 + []int{0, 1, 2, 2, 1, 0, -1, -1, 0, 1}[m%10] + shift/2 + (shift%2)*(m%2)
		}
		a := one(t, chartLog(24, low), "to: 2025-04-30", lowSegmented+"change: 2023-09-01\nseasonal: no")
		if a.Error != nil {
			t.Fatal(a.Error.Text)
		}
		clear := func(kind string) bool {
			r := row(t, table(t, a, "errors"), "errors", kind, "term", "effect_at_end")
			return r["low"].(float64) > 0 || r["high"].(float64) < 0
		}
		if row(t, table(t, a, "fit"))["rho"] == nil {
			continue
		}
		if disagree := clear("autoregressive") != clear("newey-west"); disagree != (caution(a, "errors-disagree") != "") {
			t.Errorf("shift %d: %v", shift, a.Cautions)
		} else if disagree {
			found = true
		}
	}
	if !found {
		t.Error("no series on which the two disagree")
	}
}

func TestSegmentedRefusals(t *testing.T) {
	s := chartLog(20, steps(48))
	const front = "to: 2025-12-31"
	wantError(t, one(t, s, front, lowSegmented+"change: 2022-08-01"), "few-points", "7 months before", "41 months since", "use control-chart")
	wantError(t, one(t, s, front, strings.Replace(lowSegmented, "month", "quarter", 1)+"change: 2025-01-01"), "few-points", "12 quarters before", "4 quarters since", "choose period: month")
	wantError(t, one(t, s, front, lowSegmented+"change: 2030-01-01"), "few-points", "48 months before", "0 months since")
	wantError(t, one(t, chartLog(20, make([]int, 48)), front, lowSegmented+"change: 2024-01-01"), "no-variation", "nothing to explain")
	two := make([]int, 48)
	for m := range two {
		two[m] = 5 + 4*btoi(m >= 24)
	}
	wantError(t, one(t, chartLog(20, two), front, lowSegmented+"change: 2024-01-01\nseasonal: no"), "no-variation", "exactly")
	wantError(t, one(t, chartLog(20, steps(34)), "to: 2024-10-31", lowSegmented+"change: 2024-01-01\nkeep: {date: 2023-01-01..}\nseasonal: yes"), "impossible", "at least 2 years")
	wantError(t, one(t, s, front+"\naudience: annual", strings.Replace(lowSegmented, "..5}", "..2}", 1)+"change: 2024-01-01"), "no-variation")
}

// A count and a rate take the same lines, over months without any too.
func TestSegmentedCountsAndRates(t *testing.T) {
	s := chartLog(20, steps(48))
	const front = "to: 2025-12-31"
	a := one(t, s, front, "method: segmented\nrows: visits\nkeep: {comfort: ..5}\nnumerator: count\nchange: 2024-01-01\nbetter: lower")
	want(t, row(t, table(t, a, "fit")), "weighted", false, "points_before", 24)
	want(t, row(t, table(t, a, "points"), "period", "2022-01"), "value", 10, "denominator", nil)
	b := one(t, s, front, lowSegmented+"exposure: socket-months\nchange: 2024-01-01")
	r := row(t, table(t, b, "points"), "period", "2022-03")
	want(t, r, "value", float64(steps(48)[2])/(31/30.4375/100), "numerator", steps(48)[2])
	if !strings.Contains(b.Methods, "1 socket was in use") || !strings.Contains(fmt.Sprint(table(t, b, "points").Columns), "100 socket-months") {
		t.Errorf("%s", b.Methods)
	}
}
