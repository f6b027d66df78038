package answer_test

import (
	"fmt"
	"strings"
	"testing"
)

// rateLog has twelve months of visits: each month one walk-in of a definitive
// and one of a preparatory socket of another person, a follow-up of each, and
// a finding at the follow-up and at the walk-in of the definitive one.
func rateLog() sheets {
	var v, f strings.Builder
	v.WriteString("visit,socket,date,purpose,skin_checked,minutes\n")
	f.WriteString("visit,region,finding\n")
	for m := range 12 {
		for k, socket := range []string{"S1", "S2"} {
			fmt.Fprintf(&v, "W%d%d,%s,%s,walk-in,yes,%s\n", m, k, socket, dayOf(m, 4+k), []string{"20", ""}[k])
			fmt.Fprintf(&v, "F%d%d,%s,%s,follow-up,yes,30\n", m, k, socket, dayOf(m, 14+k))
		}
		fmt.Fprintf(&f, "W%d0,patellar tendon,blister\nF%d0,patellar tendon,blister\n", m, m)
	}
	return sheets{"limbs": plainLimbs(2), "visits": v.String(), "findings": f.String(),
		"sockets": "socket,limb,kind,delivered,material\nS1,P1L,definitive,2021-12-01,laminate\nS2,P2L,preparatory,2021-12-01,polypropylene\n"}
}

// What is counted belongs to the sockets or visits over which it is counted:
// the rate of walk-ins of definitive sockets leaves out those of others.
func TestRatesCountWhatIsExposed(t *testing.T) {
	const front = "to: 2022-12-31"
	s := rateLog()
	walk := "method: control-chart\nrows: visits\nchart: u\nperiod: month\nnumerator: {purpose: walk-in}\n"
	months := 31 / 30.4375 / 100
	for _, c := range []struct {
		ask        string
		value, den float64
		outside    string
	}{
		{walk + "denominator: {kind: definitive}\nexposure: socket-months", 1 / months, months, "12 visits were not counted"},
		{walk + "keep: {kind: definitive}\nexposure: socket-months", 1 / months, months, ""},
		{walk + "exposure: socket-months", 2 / (2 * months), 2 * months, ""},
		{walk + "denominator: {purpose: follow-up}\nexposure: checked-visits", 0, 0.02, "24 visits were not counted"},
		{walk + "exposure: minutes", 1.0 / 80, 80, "12 visits were not counted"}, // the others have no minutes
		{"method: control-chart\nrows: findings\nchart: u\nperiod: month\nnumerator: {finding: blister}\ndenominator: {purpose: follow-up}\nexposure: checked-visits", 1 / 0.02, 0.02, "12 findings were not counted"},
	} {
		a := one(t, s, front, c.ask)
		if c.value == 0 {
			wantError(t, a, "no-rows")
			continue
		}
		want(t, row(t, table(t, a, "points"), "period", "2022-03"), "value", c.value, "denominator", c.den)
		if c.outside != "" {
			wantCaution(t, a, "outside-exposure", c.outside)
		} else if got := caution(a, "outside-exposure"); got != "" {
			t.Errorf("%s: %s", c.ask, got)
		}
	}
	f := one(t, s, front, "method: funnel\nrows: visits\nby: material\nnumerator: {purpose: walk-in}\nexposure: socket-months")
	want(t, row(t, table(t, f, "units"), "unit", "laminate"), "observed", 12, "expected", 12)
	wantError(t, one(t, s, front, "method: funnel\nrows: visits\nby: material\nnumerator: {purpose: walk-in}\ndenominator: {kind: definitive}\nexposure: socket-months"), "few-expected")
}

// knownLog is a log of daily visits whose comfort is 3 on every fifth day, 9
// on the days between, and not written down on every other of those.
func knownLog(days int) sheets {
	var v strings.Builder
	v.WriteString("visit,socket,date,purpose,comfort\n")
	for d := range days {
		c := "9"
		switch {
		case d%5 == 0:
			c = "3"
		case d%2 == 0:
			c = ""
		}
		fmt.Fprintf(&v, "V%d,S%d,%s,follow-up,%s\n", d, d%2+1, isoDay(d), c)
	}
	return sheets{"limbs": plainLimbs(2), "visits": v.String(),
		"sockets": "socket,limb,kind,delivered,site\nS1,P1L,definitive,2021-12-01,east\nS2,P2L,definitive,2021-12-01,west\n"}
}

// A row of which it is not known whether it counts is none that does not: it
// is left out and told, whatever the method, unless the question says
// otherwise.
func TestRowsNotKnownAreNoRefusals(t *testing.T) {
	s := knownLog(600)
	const low = "\nrows: visits\nnumerator: {comfort: ..5}\n"
	// Of 600 days 120 are low and 240 of the others not written down.
	methods := []string{"method: control-chart\nperiod: month", "method: control-chart\nchart: g", "method: funnel\nby: site", "method: cumulative-sum\nfalse_alarm: 90d", "method: segmented\nchange: 2022-11-01"}
	for _, m := range methods {
		plain := one(t, s, "to: 2023-08-23", m+low)
		wantCaution(t, plain, "missing", "240 visits were left out because comfort on arrival is not known", "denominator: count")
		told := one(t, s, "to: 2023-08-23", m+low+"denominator: {comfort: known}")
		if plain.Reading != told.Reading || plain.Rows != told.Rows {
			t.Errorf("%s\n%d %s\nwhere written:\n%d %s", m, plain.Rows, plain.Reading, told.Rows, told.Reading)
		}
		if caution(told, "missing") != "" {
			t.Errorf("%v", told.Cautions)
		}
		all := one(t, s, "to: 2023-08-23", m+low+"denominator: count")
		if all.Rows <= plain.Rows || caution(all, "missing") != "" {
			t.Errorf("%s: %d rows with all, %d without; %v", m, all.Rows, plain.Rows, all.Cautions)
		}
		// A denominator that says nothing of the comfort does not make it known.
		some := one(t, s, "to: 2023-08-23", m+low+"denominator: {purpose: follow-up}")
		if some.Rows != plain.Rows || caution(some, "missing") == "" {
			t.Errorf("%s: %d rows, %v", m, some.Rows, some.Cautions)
		}
	}
	a := one(t, s, "to: 2023-08-23", "method: funnel\nby: site"+low)
	if !strings.Contains(a.Reading, "Of 360 visits, 33.3% had") {
		t.Error(a.Reading)
	}
	c := one(t, s, "to: 2023-08-23", "method: control-chart\nchart: c\nperiod: month"+low)
	wantCaution(t, c, "missing", "240 visits were not counted because comfort on arrival is not known: the true number may be higher")
}
