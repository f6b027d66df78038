package answer_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

// Rates per socket-month, per checked visit and per minute by hand.
func TestRatesByHand(t *testing.T) {
	var v strings.Builder
	v.WriteString("visit,socket,date,purpose,comfort,skin_checked,minutes,action\n")
	for m := range 24 {
		for k := range 12 {
			checked, purpose := "no", "follow-up"
			if k < 8 {
				checked = "yes"
			}
			if k < 2+m%3 {
				purpose = "walk-in"
			}
			fmt.Fprintf(&v, "V%d-%d,S%d,%s,%s,7,%s,%d,none\n", m, k, k%2+1, dayOf(m, 2*k), purpose, checked, 10+k)
		}
	}
	s := sheets{"limbs": plainLimbs(2), "visits": v.String(),
		"sockets": socketsHead + "S1,P1L,definitive,2021-12-01,,,,,\nS2,P2L,definitive,2021-12-01,2023-07-01,remake: growth,,,\n"}
	const front = "to: 2023-12-31"
	walk := "method: control-chart\nrows: visits\nnumerator: {purpose: walk-in}\nchart: u\nperiod: month"
	a := one(t, s, front, walk+"\nexposure: socket-months")
	// March 2022, 31 days, two sockets in use; September 2023, one.
	want(t, row(t, table(t, a, "points"), "period", "2022-03"), "numerator", 4, "denominator", 2*31/30.4375/100, "value", 4/(2*31/30.4375/100))
	want(t, row(t, table(t, a, "points"), "period", "2023-09"), "numerator", 2, "denominator", 30/30.4375/100)
	// The eight walk-ins of the second socket after its end are of no exposure.
	wantCaution(t, a, "outside-exposure", "8 visits were not counted", "not in use")
	if !strings.Contains(a.Reading, "64 visits with purpose of visit walk-in") || !strings.Contains(a.Reading, "per 100 socket-months") {
		t.Errorf("reading: %s", a.Reading)
	}
	if !strings.Contains(a.Methods, "2 sockets were in use") {
		t.Errorf("methods: %s", a.Methods)
	}
	b := one(t, s, front, walk+"\nexposure: checked-visits")
	want(t, row(t, table(t, b, "points"), "period", "2022-03"), "denominator", 0.08, "value", 50, "centre", 72/(24*0.08), "upper", 37.5+3*math.Sqrt(37.5/0.08))
	c := one(t, s, front, walk+"\ndenominator: {purpose: follow-up}")
	want(t, row(t, table(t, c, "points"), "period", "2022-03"), "denominator", 8, "value", 0.5)
	if caution(b, "outside-exposure") != "" || caution(c, "outside-exposure") != "" {
		t.Errorf("%v %v", b.Cautions, c.Cautions)
	}
	d := one(t, s, front, "method: control-chart\nrows: visits\noutcome: minutes\nchart: u\nperiod: month")
	want(t, row(t, table(t, d, "points"), "period", "2022-03"), "numerator", 186, "denominator", 12, "value", 15.5)
	e := one(t, s, front, walk+"\nexposure: minutes")
	want(t, row(t, table(t, e, "points"), "period", "2022-03"), "denominator", 186, "value", 4.0/186)
	// The sockets that make up the exposure must be told apart.
	wantError(t, one(t, s, front, walk+"\nexposure: socket-months\nkeep: {purpose: walk-in}"), "missing-key", "write under denominator")
	f := one(t, s, front, walk+"\nexposure: socket-months\nkeep: {purpose: walk-in}\ndenominator: {socket: S1}")
	want(t, row(t, table(t, f, "points"), "period", "2022-03"), "denominator", 31/30.4375/100)
	wantError(t, one(t, s, front, walk+"\nexposure: purpose"), "impossible", "a number to be summed")
	wantError(t, one(t, s, front, "method: control-chart\nrows: visits\noutcome: volume_change_pct\nchart: u"), "no-rows")
	// A count over time of what the sockets in use bring about.
	wantCaution(t, one(t, s, front, strings.Replace(walk, "chart: u", "chart: c", 1)), "uneven-exposure", "2.0 times its least", "chart: u")
	steady := s.with("sockets", socketsHead+"S1,P1L,definitive,2021-12-01,,,,,\nS2,P2L,definitive,2021-12-01,,,,,\n")
	if g := one(t, steady, front, strings.Replace(walk, "chart: u", "chart: c", 1)); caution(g, "uneven-exposure") != "" {
		t.Errorf("%v", g.Cautions)
	}
}

// A period without a row is one with none of what is counted, as far as the
// table goes and the question's dates reach.
func TestCountsReachAsFarAsTheTable(t *testing.T) {
	low := []int{0, 3, 4, 3, 5, 3, 4, 3, 5, 3, 0, 4, 0}
	ask := "method: control-chart\nrows: visits\nchart: c\nperiod: month\nnumerator: count\nkeep: {comfort: ..5"
	a := one(t, chartLog(20, low), "to: 2023-01-31", ask+"}")
	points := table(t, a, "points")
	if len(points.Rows) != 13 {
		t.Fatalf("%d points", len(points.Rows))
	}
	want(t, row(t, points, "period", "2022-01"), "value", 0)
	want(t, row(t, points, "period", "2023-01"), "value", 0)
	b := one(t, chartLog(20, low), "to: 2023-01-31", ask+", date: 2022-03-01..2022-12-31}")
	if n := len(table(t, b, "points").Rows); n != 10 {
		t.Errorf("%d points of the months from March to December", n)
	}
}
