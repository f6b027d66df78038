package answer_test

import (
	"fmt"
	"strings"
	"testing"
)

// callers is a log of limbs with walk-in visits: each is given as its level,
// the day it was last heard of (with a + where the person died then) and the
// days of its visits.
func callers(limbs ...string) sheets {
	var l, s, v strings.Builder
	l.WriteString("person,side,level,last_seen,died\n")
	s.WriteString("socket,limb,kind,delivered,ended,end_reason\n")
	v.WriteString("visit,socket,date,purpose\n")
	for i, x := range limbs {
		f := strings.Fields(x)
		var last int
		fmt.Sscan(strings.TrimSuffix(f[1], "+"), &last)
		seen, died := after2024(last), ""
		if strings.HasSuffix(f[1], "+") {
			seen, died = "", seen
		}
		fmt.Fprintf(&l, "P%d,left,%s,%s,%s\n", i+1, f[0], seen, died)
		fmt.Fprintf(&s, "S%d,P%d-L,definitive,2024-01-01,,\n", i+1, i+1)
		for k, d := range f[2:] {
			var day int
			fmt.Sscan(d, &day)
			fmt.Fprintf(&v, "V%d-%d,S%d,%s,walk-in\n", i+1, k, i+1, after2024(day))
		}
	}
	return sheets{"limbs": l.String(), "sockets": s.String(), "visits": v.String()}
}

const walkIns = "method: mean-cumulative\nrows: limbs\nevent: {purpose: walk-in}\n"

// Worked out by hand: two of four by day 10; then one of the four dies, and
// of the three left three visits come: 0.5 + 3/4.
func TestMeanCumulativeByHand(t *testing.T) {
	s := callers("transtibial 40 10 30", "transtibial 20+ 10", "transtibial 40", "transtibial 40 29 30")
	a := one(t, s, quality, walkIns+"times: [15d, 40d, 60d]")
	at := table(t, a, "at_times")
	want(t, row(t, at, "time", 15), "at_risk", 4, "events", 2, "estimate", 0.5)
	want(t, row(t, at, "time", 40), "at_risk", 3, "events", 5, "estimate", 0.5+0.75*3.0/3)
	want(t, row(t, at, "time", 60), "at_risk", 0, "estimate", nil)
	want(t, row(t, table(t, a, "rates"), "group", "all"), "rows", 4, "events", 5, "years", 140/365.25, "estimate", 500*365.25/140)
	if len(table(t, a, "tests").Rows) != 0 || a.Rows != 4 || a.Events != 5 {
		t.Errorf("%d rows, %d events", a.Rows, a.Events)
	}
	for _, phrase := range []string{"In 4 limbs", "5 walk-in visits were counted", "by 40 days the mean was 1.", "1 of 4 limbs had none"} {
		if !strings.Contains(a.Reading, phrase) {
			t.Errorf("the reading lacks %q: %s", phrase, a.Reading)
		}
	}
	if !strings.Contains(a.Methods, "death as the end of all further events") {
		t.Error(a.Methods)
	}
	wantCaution(t, a, "few-events", "Only 5 events")
	wantCaution(t, a, "beyond-follow-up", "60 days")
	for _, code := range []string{"no-events", "small-group", "tail", "missing", "outside", "skin", "not-clustered", "few-clusters"} {
		if caution(a, code) != "" {
			t.Errorf("caution %s: %s", code, caution(a, code))
		}
	}
	// Of persons the same; with death left out of competing it is a censoring.
	p := one(t, s, quality, strings.Replace(walkIns, "limbs", "persons", 1)+"times: [40d]")
	want(t, row(t, table(t, p, "at_times"), "time", 40), "estimate", 1.25)
	c := one(t, s, quality, strings.Replace(walkIns, "limbs", "sockets", 1)+"competing: [preference]\ntimes: [40d]")
	want(t, row(t, table(t, c, "at_times"), "time", 40), "estimate", 1.5)
}

func manyCallers() sheets {
	var limbs []string
	for i := range 24 {
		limbs = append(limbs, fmt.Sprintf("transtibial %d %d %d", 200+i, 40+i, 90+2*i), fmt.Sprintf("transfemoral %d %d", 190+i, 60+3*i))
	}
	return callers(limbs...)
}

func TestMeanCumulativeGroups(t *testing.T) {
	a := one(t, manyCallers(), quality, walkIns+"by: level\ntimes: [150d]")
	x := row(t, table(t, a, "tests"), "test", "robust test of mean numbers")
	if x["df"] != 1 || x["p"].(float64) > 0.01 {
		t.Errorf("%v", x)
	}
	want(t, row(t, table(t, a, "at_times"), "group", "transtibial"), "estimate", 2.0, "std_error", nil)
	wantCaution(t, a, "tail")
	if !strings.Contains(a.Reading, "more than chance alone would often give") || caution(a, "few-events") != "" || caution(a, "small-group") != "" {
		t.Errorf("%s %v", a.Reading, a.Cautions)
	}
	a = one(t, callers("transtibial 40 10 30", "transtibial 50 10", "transtibial 45", "transfemoral 40 12", "transfemoral 60", "transfemoral 55 20", "transradial 40 30", "transradial 44"), quality, walkIns+"by: level")
	wantCaution(t, a, "small-group", "has only 3 limbs")
	wantCaution(t, a, "many-comparisons", "3 groups")
	none := one(t, callers("transtibial 40", "transfemoral 50"), quality, walkIns+"by: level")
	wantCaution(t, none, "no-events", "walk-in visits")
	wantCaution(t, none, "no-comparison")
}

// Remakes of two limbs of one person go together.
func TestMeanCumulativePersonsRepeat(t *testing.T) {
	s := sheets{
		"limbs":   "person,side,level,cause,last_seen\nP1,left,transtibial,trauma,2024-12-01\nP1,right,transtibial,trauma,2024-12-01\nP2,left,transtibial,,2024-12-01\n",
		"sockets": "socket,limb,kind,delivered,ended,end_reason\nA,P1-L,definitive,2024-01-01,2024-03-01,remake: volume loss\nB,P1-L,definitive,2024-03-01,2024-06-01,remake: breakage or wear\nC,P1-R,definitive,2024-01-01,2024-02-01,remake: suspension\nD,P2-L,definitive,2024-01-01,,\nE,P2-L,definitive,2023-01-01,2023-02-01,preference\n",
		"visits":  "visit,socket,date,purpose,skin_checked\nV1,A,2024-02-01,follow-up,yes\n", "findings": "visit,region,finding\nV1,fibular head,ulcer\n",
	}
	remakes := "method: mean-cumulative\n"
	a := one(t, s, quality, remakes)
	if a.Rows != 3 || a.Events != 3 || !strings.Contains(a.Methods, "grouped by person") || !strings.Contains(a.Reading, "3 remakes were counted") {
		t.Errorf("%d rows, %d events: %s", a.Rows, a.Events, a.Methods)
	}
	wantCaution(t, a, "few-clusters", "2 persons")
	wantCaution(t, one(t, s, quality, remakes+"cluster: none"), "not-clustered")
	wantCaution(t, one(t, s, quality, remakes+"by: cause"), "missing", "1 limb was left out")
	wantCaution(t, one(t, s, quality+"\nfrom: 2024-02-15", remakes), "outside", "1 event was not counted")
	a = one(t, s, quality, "method: mean-cumulative\nrows: sockets\nevent: {finding: ulcer}")
	wantCaution(t, a, "skin", "Refer")
	if !strings.Contains(a.Reading, "1 visit with ulcer was counted") {
		t.Error(a.Reading)
	}
	// Of sockets, a remake ends the risk: 3 of 5, one at a time.
	a = one(t, s, quality, "method: mean-cumulative\nrows: sockets\nevent: [remake]\ntimes: [90d]")
	if a.Events != 3 || !strings.Contains(a.Methods, "the end of the socket") {
		t.Errorf("%d events: %s", a.Events, a.Methods)
	}
}

func TestMeanCumulativeRefuses(t *testing.T) {
	s := callers("transtibial 40 10 30", "transtibial 50 10")
	wantError(t, one(t, s, quality, walkIns+"by: died"), "known-later")
	wantError(t, one(t, s, quality, walkIns+"by: levl"), "unknown-column", "level")
	wantError(t, one(t, s, quality, walkIns+"keep: {level: transradial}"), "no-rows")
	wantError(t, one(t, s, quality, "method: mean-cumulative\nrows: visits"), "impossible")
	wantError(t, one(t, s, quality, "method: mean-cumulative\nevent: {purpos: walk-in}"), "unknown-column", "purpose")
	wantError(t, one(t, s, quality, "method: mean-cumulative\ncompeting: [preference]"), "impossible", "died only")
	wantError(t, one(t, s, quality, "method: mean-cumulative\nevent: remakee"), "bad-value", "remake")
	wantError(t, one(t, s, "audience: annual", walkIns), "too-few-to-show")
	wantError(t, one(t, s, "audience: annual", "method: mean-cumulative\nevent: {seen_by: A}"), "staff-hidden")
}

// A public report shows no day of a single person.
func TestMeanCumulativePublic(t *testing.T) {
	a := one(t, manyCallers(), "audience: annual", walkIns+"by: level\ntimes: [150d]")
	for _, r := range table(t, a, "curve").Rows {
		x := r[1]
		if d, ok := toFloat(x); ok && d != 150 && d*4/365.25 != float64(int(d*4/365.25)) {
			t.Errorf("a public report tells day %g", d)
		}
	}
	few := one(t, callers("transtibial 40 10 30", "transtibial 50 10", "transtibial 50", "transtibial 50", "transtibial 51", "transtibial 52", "transtibial 53", "transtibial 54", "transtibial 55", "transtibial 56", "transtibial 57", "transtibial 58"),
		"audience: annual", walkIns)
	if strings.Contains(few.Reading, "3 walk-in") || !strings.Contains(few.Reading, "fewer than 11 walk-in visits") {
		t.Error(few.Reading)
	}
	want(t, row(t, table(t, few, "rates"), "group", "all"), "events", nil, "estimate", nil)
}
