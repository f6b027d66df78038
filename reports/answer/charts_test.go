package answer_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"
)

// dayOf is a day counted from 2022-01-01, in months of 30 days, so that no
// month has too many days.
func dayOf(month, day int) string {
	return fmt.Sprintf("%d-%02d-%02d", 2022+month/12, month%12+1, day+1)
}

// isoDay is a day counted from 2022-01-01.
func isoDay(day int) string { return addDays("2022-01-01", day) }

func addDays(date string, days int) string {
	d, err := time.Parse("2006-01-02", date)
	if err != nil {
		panic(err)
	}
	return d.AddDate(0, 0, days).Format("2006-01-02")
}

// chartLog is a log of one socket with so many visits a month as low says,
// of which low have a low comfort, for as many months.
func chartLog(visits int, low []int) sheets {
	var v strings.Builder
	v.WriteString("visit,socket,date,purpose,comfort\n")
	for m, n := range low {
		for k := range visits {
			c := 9
			if k < n {
				c = 3
			}
			fmt.Fprintf(&v, "V%d-%d,S1,%s,follow-up,%d\n", m, k, dayOf(m, k%28), c)
		}
	}
	return sheets{"limbs": plainLimbs(1), "sockets": socketsHead + "S1,P1L,definitive,2021-12-01,,,,,\n", "visits": v.String()}
}

// eventLog has a visit each day from 2022-01-01 on, with a low comfort on the
// days given.
func eventLog(days int, low ...int) sheets {
	is := map[int]bool{}
	for _, d := range low {
		is[d] = true
	}
	var v strings.Builder
	v.WriteString("visit,socket,date,purpose,comfort\n")
	for d := range days {
		c := 9
		if is[d] {
			c = 3
		}
		fmt.Fprintf(&v, "V%d,S1,%s,follow-up,%d\n", d, isoDay(d), c)
	}
	return sheets{"limbs": plainLimbs(1), "sockets": socketsHead + "S1,P1L,definitive,2021-12-01,,,,,\n", "visits": v.String()}
}

const lowByMonth = "method: control-chart\nrows: visits\nnumerator: {comfort: ..5}\nperiod: month"

// Charts of which most periods count nothing are refused, each with what to
// use instead.
func TestSparseChartsAreRefused(t *testing.T) {
	three := make([]int, 20) // three low visits in twenty months
	three[14], three[16], three[18] = 1, 1, 1
	const to = "to: 2023-08-31"
	for _, chart := range []string{"", "\nchart: p", "\nchart: xmr", "\nchart: c", "\nchart: u"} {
		wantError(t, one(t, chartLog(20, three), to, lowByMonth+chart), "median-zero", "in 17 of 20 months nothing was counted", "use ", "period: quarter")
	}
	wantError(t, one(t, chartLog(20, three), to, lowByMonth), "median-zero", "too few events for a chart of what lies between")
	if a := one(t, chartLog(20, three), to+"\naudience: annual", lowByMonth); a.Error == nil || a.Error.Code != "median-zero" || strings.Contains(a.Error.Text, "chart: g") || strings.Contains(a.Error.Text, "too few events") {
		t.Errorf("for the public: %+v", a.Error)
	}
	// Six of them are enough for a chart of what lies between, if asked for.
	six := make([]int, 20)
	for _, m := range []int{1, 4, 8, 13, 15, 18} {
		six[m] = 1
	}
	wantError(t, one(t, chartLog(20, six), to, lowByMonth+"\nchart: p"), "median-zero", "use chart: g")
	wantError(t, one(t, chartLog(20, six), to, lowByMonth+"\nchart: c"), "median-zero", "use chart: t", "between: days")
	if a := one(t, chartLog(20, six), to, strings.Replace(lowByMonth, "\nperiod: month", "", 1)+"\nchart: g"); a.Error != nil || len(table(t, a, "points").Rows) != 5 {
		t.Errorf("%+v", a.Error)
	}
	// Two in three months are too few for limits, and enough to be counted by
	// quarter.
	few := make([]int, 24)
	for m := range few {
		few[m] = btoi(m%3 != 0)
	}
	a := one(t, chartLog(9, few), "to: 2023-12-31", lowByMonth+"\nchart: c")
	wantError(t, a, "few-expected", "on average 0.67 are expected in a month", "period: quarter")
	b := one(t, chartLog(9, few), "to: 2023-12-31", strings.Replace(lowByMonth, "month", "quarter", 1)+"\nchart: c")
	want(t, row(t, table(t, b, "points"), "period", "2022 Q2"), "value", 2, "centre", 2)
	// At the full share nothing lies between, and a longer period is named.
	all := make([]int, 20)
	for m := range all {
		all[m] = 20
	}
	all[3] = 19
	wantError(t, one(t, chartLog(20, all), to, lowByMonth), "median-zero", "every row counted", "use period: quarter")
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// A phase in which hardly anything is left to count keeps its chart, but not
// its runs.
func TestRunsOfNoneAreNoSignal(t *testing.T) {
	low := make([]int, 24)
	for m := range low {
		if low[m] = 4 + m%3; m >= 13 {
			low[m] = btoi(m%5 == 0)
		}
	}
	got := answersOf(t, readLog(t, chartLog(20, low)), nil, "to: 2023-12-31", "id: q\n"+lowByMonth,
		"on: 2023-02-01\nwhat: Padded.\nfollows: q\nnew_phase: true")
	a := got["q"]
	wantCaution(t, a, "runs-not-tested", "not judged")
	for _, r := range table(t, a, "signals").Rows {
		if r[2] != "beyond-limits" {
			t.Errorf("signal %v", r)
		}
	}
	want(t, row(t, table(t, a, "rules"), "phase", 2), "judged", false, "longest_by_chance", nil)
	for _, r := range table(t, a, "points").Rows {
		if x, ok := r[6].(float64); ok && x < 0 {
			t.Errorf("a limit below zero: %v", r)
		}
	}
}

// The chart is chosen from the data, and the reason printed.
func TestChartChoice(t *testing.T) {
	calm := make([]int, 24)
	wild := make([]int, 24)
	for m := range calm {
		calm[m] = 6 + (m*5)%4
		wild[m] = 12
		if m%2 == 0 {
			wild[m] = 1
		}
	}
	// On every twentieth day or so: rare, by month.
	var rare []int
	for d, k := 11, 0; d < 700; k++ {
		rare = append(rare, d)
		d += 45 + (k*17)%30
	}
	const to = "to: 2023-12-31"
	for _, c := range []struct {
		name string
		log  sheets
		ask  string
		kind string
		over bool
		why  string
	}{
		{"share", chartLog(25, calm), lowByMonth, "p", false, "has a share"},
		{"shares that differ", chartLog(25, wild), lowByMonth, "p", true, "times as much as chance alone"},
		{"shares that differ, as told", chartLog(25, wild), lowByMonth + "\noverdispersed: no", "p", false, "has a share"},
		{"shares, as told", chartLog(25, calm), lowByMonth + "\noverdispersed: yes", "p", true, "as the question says"},
		{"count", chartLog(25, calm), "method: control-chart\nrows: visits\nkeep: {comfort: ..5}\nnumerator: count\nperiod: month", "c", false, "as much chance"},
		{"counts that differ", chartLog(25, wild), "method: control-chart\nrows: visits\nkeep: {comfort: ..5}\nnumerator: count\nperiod: month", "xmr", false, "not from the Poisson"},
		{"mean", chartLog(25, calm), "method: control-chart\nrows: visits\noutcome: comfort\nperiod: month", "xmr", false, "one mean"},
		{"rate", chartLog(25, calm), lowByMonth + "\nexposure: socket-months", "u", false, "over an exposure"},
		{"rare share", eventLog(720, rare...), lowByMonth, "g", false, "fewer than 1"},
		{"rare count", eventLog(720, rare...), "method: control-chart\nrows: visits\nkeep: {comfort: ..5}\nnumerator: count\nperiod: month", "t", false, "fewer than 1"},
	} {
		a := one(t, c.log, to, c.ask)
		want(t, row(t, table(t, a, "chart")), "chart", c.kind, "overdispersed", c.over, "chosen", "from the data")
		if why := fmt.Sprint(row(t, table(t, a, "chart"))["reason"]); !strings.Contains(why, c.why) || !strings.Contains(strings.Join(printed(a), "\n"), "since "+why+".") {
			t.Errorf("%s: reason %q is not %q, or not printed", c.name, why, c.why)
		}
		if c.kind == "g" || c.kind == "t" || strings.HasSuffix(c.name, "that differ") {
			wantCaution(t, a, "chart-chosen", "Write chart: "+c.kind)
		} else if caution(a, "chart-chosen") != "" {
			t.Errorf("%s: the chart first thought of is said to be chosen", c.name)
		}
		if c.kind == "g" || c.kind == "t" {
			continue
		}
		b := one(t, c.log, to, c.ask+"\nchart: "+c.kind)
		if want(t, row(t, table(t, b, "chart")), "chosen", "by the question"); caution(b, "chart-chosen") != "" {
			t.Errorf("%s: a stated chart is said to be chosen", c.name)
		}
		// A stated chart is not widened unless asked to.
		if !strings.Contains(c.ask, "overdispersed: yes") && row(t, table(t, b, "chart"))["overdispersed"] != false {
			t.Errorf("%s: a stated chart allows for overdispersion", c.name)
		}
	}
	wantCaution(t, one(t, chartLog(25, wild), to, lowByMonth+"\nchart: p"), "overdispersed", "times as much as chance alone")
	if a := one(t, chartLog(25, wild), to, lowByMonth+"\nchart: p\noverdispersed: yes"); caution(a, "overdispersed") != "" {
		t.Error("limits that allow for overdispersion are said not to")
	}
}

// Cases and days between events by hand.
func TestChartsBetweenEventsByHand(t *testing.T) {
	s := eventLog(60, 4, 9, 20, 23, 40, 52)
	a := one(t, s, quality, "method: control-chart\nrows: visits\nchart: g\nnumerator: {comfort: ..5}\nbetter: higher\ngoal: 20")
	points := table(t, a, "points")
	for i, v := range []float64{4, 10, 2, 16, 11} {
		want(t, row(t, points, "period", isoDay([]int{9, 20, 23, 40, 52}[i])), "value", v, "centre", 10, "lower", 0)
	}
	// The geometric distribution of mean 8.6: (8.6/9.6)^(x+1) <= 0.00135.
	q := math.Log(8.6 / 9.6)
	want(t, row(t, points), "upper", math.Ceil(math.Log(0.0013498980316300933)/q-1))
	want(t, row(t, table(t, a, "phases")), "mean", 8.6, "points", 5)
	if !strings.Contains(a.Reading, "7 visits without another") || !strings.Contains(a.Reading, "goal of 20 is not reached") {
		t.Errorf("reading: %s", a.Reading)
	}
	if a.Rows != 60 || a.Events != 6 {
		t.Errorf("%d rows, %d events", a.Rows, a.Events)
	}
	b := one(t, s, quality, "method: control-chart\nrows: visits\nchart: g\nbetween: days\nnumerator: {comfort: ..5}")
	want(t, row(t, table(t, b, "points"), "period", isoDay(9)), "value", 5, "centre", 11)
	c := one(t, s, quality, "method: control-chart\nrows: visits\nchart: t\nnumerator: {comfort: ..5}\nbetter: higher")
	sum := 0.0
	for _, d := range []float64{5, 11, 3, 17, 12} {
		sum += math.Pow(d, 1/3.6) / 5
	}
	want(t, row(t, table(t, c, "points"), "period", isoDay(52)), "value", 12, "centre", math.Pow(sum, 3.6))
	if !strings.Contains(c.Reading, "7 days without another") {
		t.Errorf("reading: %s", c.Reading)
	}
	// Two on a day: a time of 0, which only a count of days can take.
	two := s.with("visits", s["visits"]+"W1,S1,"+isoDay(20)+",follow-up,2\n")
	wantError(t, one(t, two, quality, "method: control-chart\nrows: visits\nchart: t\nnumerator: {comfort: ..5}"), "zero-gap", "between: days")
	d := one(t, two, quality, "method: control-chart\nrows: visits\nchart: g\nbetween: days\nnumerator: {comfort: ..5}")
	if len(table(t, d, "points").Rows) != 6 {
		t.Errorf("%v", table(t, d, "points").Rows)
	}
	// Events that are not rare.
	often := eventLog(60, 3, 4, 5, 6, 9, 10, 11, 12, 30, 31, 32)
	wantError(t, one(t, often, quality, "method: control-chart\nrows: visits\nchart: g\nnumerator: {comfort: ..5}"), "median-zero", "use chart: p")
	wantError(t, one(t, eventLog(60, 4, 9), quality, "method: control-chart\nrows: visits\nchart: g\nnumerator: {comfort: ..5}"), "few-points", "2 events are dated")
	// A point is one event: nothing for the public.
	wantError(t, one(t, s, "audience: annual", "method: control-chart\nrows: visits\nchart: g\nnumerator: {comfort: ..5}"), "too-few-to-show", "each point of a g chart is one event")
}

// A gap begun before the decision and ended after it belongs to neither side.
func TestDecisionBetweenEvents(t *testing.T) {
	s := eventLog(120, 4, 9, 13, 20, 40, 60, 85, 115)
	got := answersOf(t, readLog(t, s), nil, quality, "id: q\nmethod: control-chart\nrows: visits\nchart: t\nnumerator: {comfort: ..5}\nbetter: higher",
		"on: "+isoDay(30)+"\nwhat: Padded.\nfollows: q\nnew_phase: true")
	a := got["q"]
	phases := table(t, a, "phases")
	want(t, row(t, phases, "phase", 1), "points", 4, "to", isoDay(40))
	want(t, row(t, phases, "phase", 2), "points", 3, "from", isoDay(60))
	want(t, row(t, table(t, a, "decisions")), "points_before", 3, "points_since", 3, "before", 5, "since", 25, "new_phase", true, "signals_since", 0)
	for _, text := range a.Since {
		if !strings.Contains(text, "median 25 days; before median 5 days (3 gaps); no signal") {
			t.Errorf("since: %s", text)
		}
	}
}

// Rows that come in late.
func TestLateEntry(t *testing.T) {
	low := make([]int, 24)
	for m := range low {
		low[m] = 6 + m%3
	}
	low[23] = 1
	s := chartLog(20, low)
	const to = "to: 2023-12-31"
	a := one(t, s, to, lowByMonth+"\nlate_entry: 45d")
	wantCaution(t, a, "late-entry", "From 2023-11 on", "45 days late")
	want(t, row(t, table(t, a, "points"), "period", "2023-12"), "provisional", true, "signal", nil)
	want(t, row(t, table(t, a, "points"), "period", "2023-10"), "provisional", false)
	want(t, row(t, table(t, a, "phases")), "points", 22)
	b := one(t, s, to, lowByMonth)
	if caution(b, "late-entry") != "" || row(t, table(t, b, "points"), "period", "2023-12")["provisional"] != false {
		t.Error("shaded without a lag")
	}
	// Learnt from when rows were written down: 1 in 25 after 40 days, else 10.
	lines := strings.Split(strings.TrimSpace(s["visits"]), "\n")
	lines[0] += ",typed"
	for i := 1; i < len(lines); i++ {
		m, k := (i-1)/20, (i-1)%20
		later := 10
		if i%25 == 0 {
			later = 40
		}
		lines[i] += "," + addDays(dayOf(m, k), later)
	}
	c := one(t, s.with("visits", strings.Join(lines, "\n")), to, lowByMonth+"\nlate_entry: typed")
	want(t, row(t, table(t, c, "chart")), "late_entry", 10, "provisional", 1)
	wantError(t, one(t, s, to, lowByMonth+"\nlate_entry: purpose"), "impossible", "holds no dates")
	// Cases between events wait as long.
	d := one(t, eventLog(60, 4, 9, 20, 23, 40, 52), quality, "method: control-chart\nrows: visits\nchart: g\nnumerator: {comfort: ..5}\nlate_entry: 14d")
	if n := len(table(t, d, "points").Rows); n != 4 {
		t.Errorf("%d points", n)
	}
	wantCaution(t, d, "incomplete-periods", "14 rows from "+isoDay(46)+" on", "may be written down")
}

// Cases of one day stand in the order of the log, which is no order.
func TestCasesOfOneDay(t *testing.T) {
	low := make([]int, 24)
	for m := range low {
		low[m] = btoi(m%3 == 0)
	}
	chart := "method: control-chart\nrows: visits\nchart: g\nnumerator: {comfort: ..5}"
	wantCaution(t, one(t, chartLog(40, low), quality, chart), "same-day", "7 of 7 events")
	if a := one(t, eventLog(60, 4, 9, 20, 23, 40, 52), quality, chart); caution(a, "same-day") != "" {
		t.Errorf("%v", a.Cautions)
	}
}

// A signal says which side it is on, and the goal whether it is reached.
func TestSignalsSayTheBetterSide(t *testing.T) {
	low := []int{10, 11, 9, 10, 12, 9, 11, 10, 9, 11, 10, 12, 3, 3, 2, 3, 2, 3, 3, 2, 3, 2, 3, 3}
	const to = "to: 2023-12-31"
	a := one(t, chartLog(25, low), to, lowByMonth+"\nchart: p\nbaseline_points: 12\nbetter: lower\ngoal: 20%")
	if !strings.Contains(a.Reading, "below the limits, the better side") && !strings.Contains(a.Reading, "below the centre line, the better side") {
		t.Errorf("reading: %s", a.Reading)
	}
	if !strings.Contains(a.Reading, "The goal of 20.0% is not reached by the centre line.") {
		t.Errorf("reading: %s", a.Reading)
	}
	b := one(t, chartLog(25, low), to, lowByMonth+"\nchart: p\nbaseline_points: 12\nbetter: higher\ngoal: 20%")
	if !strings.Contains(b.Reading, "the worse side") || !strings.Contains(b.Reading, "is reached") {
		t.Errorf("reading: %s", b.Reading)
	}
	r := row(t, table(t, a, "rules"))
	want(t, r, "judged", true, "off_centre", 24, "longest_by_chance", 8, "fewest_by_chance", 8)
}

// In a report that hides small counts a point that stands for few cannot be
// worked out from the sum of all and the others, in the drawing or the
// numbers.
func TestChartsHideSmallCounts(t *testing.T) {
	low := make([]int, 24)
	for m := range low {
		low[m] = 14 + m%4
	}
	low[5] = 3
	for _, ask := range []string{lowByMonth + "\nchart: p", lowByMonth + "\nexposure: socket-months", "method: control-chart\nrows: visits\nkeep: {comfort: ..5}\nnumerator: count\nchart: c\nperiod: month",
		lowSegmented + "change: 2023-01-01\nseasonal: no"} {
		a := one(t, chartLog(50, low), "to: 2023-12-31\naudience: annual", ask)
		points := table(t, a, "points")
		hidden := 0
		for _, r := range points.Rows {
			named := map[string]any{}
			for c, col := range points.Columns {
				named[col.Name] = r[c]
			}
			if named["numerator"] != nil {
				continue
			}
			hidden++
			if named["value"] != nil || named["lower"] != nil || named["fitted"] != nil {
				t.Errorf("%s: %v", ask, r)
			}
		}
		if hidden != 2 || len(a.Hidden) < 2*2 {
			t.Errorf("%s: %d points are hidden, %d cells", ask, hidden, len(a.Hidden))
		}
		wantCaution(t, a, "points-hidden", "2 points are not drawn")
		if b := one(t, chartLog(50, low), "to: 2023-12-31", ask); caution(b, "points-hidden") != "" || len(b.Hidden) > 0 {
			t.Errorf("%s: hidden from the lab itself", ask)
		}
	}
}

// Single values in order: limits from neighbours, across days without any.
func TestChartOfSingleCases(t *testing.T) {
	var v strings.Builder
	v.WriteString("visit,socket,date,time,purpose,comfort\n")
	values := []float64{7, 5, 8, 6, 7, 9, 4, 6, 7, 8, 5, 6}
	for k, c := range values {
		fmt.Fprintf(&v, "V%d,S1,%s,%02d:00,follow-up,%g\n", k, isoDay(3*k), 9+k%3, c)
	}
	s := sheets{"limbs": plainLimbs(1), "sockets": socketsHead + "S1,P1L,definitive,2021-12-01,,,,,\n", "visits": v.String()}
	ask := "method: control-chart\nrows: visits\noutcome: comfort\nperiod: case\nbetter: higher"
	a := one(t, s, quality, ask)
	sum, moving := 0.0, 0.0
	for k, c := range values {
		sum += c
		if k > 0 {
			moving += math.Abs(c - values[k-1])
		}
	}
	mean, half := sum/12, 3*moving/11*math.Sqrt(math.Pi)/2
	want(t, row(t, table(t, a, "points"), "period", isoDay(15)), "value", 9, "centre", mean, "lower", mean-half, "upper", mean+half)
	if !strings.Contains(a.Reading, "Across 12 cases, the comfort on arrival has its centre line at") || caution(a, "same-day") != "" {
		t.Errorf("%s %v", a.Reading, a.Cautions)
	}
	got := answersOf(t, readLog(t, s), nil, quality, "id: q\n"+ask+"\nlate_entry: 5d", "on: "+isoDay(12)+"\nwhat: Padded.\nfollows: q\nnew_phase: true")
	want(t, row(t, table(t, got["q"], "phases"), "phase", 2), "from", isoDay(12), "points", 6)
	want(t, row(t, table(t, got["q"], "decisions")), "points_before", 4, "points_since", 6)
	wantCaution(t, got["q"], "late-entry", "Those cases are marked")
	wantCaution(t, got["q"], "trial-limits", "rest on 4 cases only")
	twice := strings.ReplaceAll(s["visits"], isoDay(3), isoDay(6))
	wantCaution(t, one(t, s.with("visits", strings.ReplaceAll(twice, isoDay(9), isoDay(6))), quality, ask), "same-day", "3 of 12 cases")
	wantError(t, one(t, s, "audience: annual\nhide_below: 5", ask), "too-few-to-show", "each point is one case")
	wantError(t, one(t, chartLog(50, make([]int, 24)), quality, ask), "impossible", "1200 cases")
}
