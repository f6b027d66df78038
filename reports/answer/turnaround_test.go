package answer_test

import (
	"fmt"
	"strings"
	"testing"
)

// waitLog is a log of sockets on their way, typed by hand.
//
//	S1  referred 1 Jan, ordered 11 Jan, cast 21 Jan, fitted 31 Jan, delivered 10 Feb
//	S2  the same, each 2 days later but delivered 20 days after the fitting
//	S3  referred 1 Jan, ordered 5 Jan, not delivered: person died on 4 March
//	S4  ordered before it was referred
//	S5  referred 1 Jan, no order recorded, delivered 1 April
//	C6  a check socket, cast 11 Feb, fitted 21 Feb, that nothing came of yet
//	C1, C2 the check sockets that led to S1 and S2
func waitLog() sheets {
	return sheets{
		"limbs": `person,limb,side,level,died
A,A1,left,transtibial,
B,B1,left,transtibial,
C,C1,left,transtibial,2024-03-04
D,D1,left,transfemoral,
E,E1,left,transfemoral,
F,F1,left,transtibial,`,
		"sockets": `socket,limb,kind,replaces,referred,ordered,cast_on,delivered
C1,A1,check,,2024-01-01,2024-01-11,2024-01-21,
S1,A1,definitive,C1,2024-01-01,2024-01-11,2024-01-28,2024-02-10
C2,B1,check,,2024-01-03,2024-01-13,2024-01-23,
S2,B1,definitive,C2,2024-01-03,2024-01-13,2024-01-23,2024-02-22
S3,C1,definitive,,2024-01-01,2024-01-05,,
S4,D1,definitive,,2024-01-09,2024-01-02,,
S5,E1,definitive,,2024-01-01,,,2024-04-01
C6,F1,check,,2024-02-01,2024-02-06,2024-02-11,`,
		"visits": `socket,date,purpose,accepted
C1,2024-01-31,check fitting,yes
C2,2024-02-02,check fitting,yes
C6,2024-02-21,check fitting,no`,
	}
}

func TestTurnaroundByHand(t *testing.T) {
	a := one(t, waitLog(), quality+"\nto: 2024-04-10", "method: turnaround")
	rows := table(t, a, "rows")
	if len(rows.Rows) != 5 {
		t.Fatalf("%d steps: %v", len(rows.Rows), rows.Rows)
	}
	// S4 stands in the wrong order; S5 was delivered without an order.
	want(t, row(t, rows, "step", "referral to order"), "sockets", 6, "over", 4, "open", 0, "wrong_order", 1, "not_recorded", 1)
	// S3 was waiting for its cast when the person died, S4 waits still.
	want(t, row(t, rows, "step", "order to cast"), "sockets", 5, "over", 3, "open", 2, "wrong_order", 0, "not_recorded", 0)
	want(t, row(t, rows, "step", "cast to check fitting"), "sockets", 3, "over", 3, "open", 0)
	want(t, row(t, rows, "step", "check fitting to delivery"), "sockets", 3, "over", 2, "open", 1, "limits", "kaplan-meier")
	want(t, row(t, rows, "step", "referral to delivery"), "sockets", 6, "over", 3, "open", 3)
	q := table(t, a, "quantiles")
	// Orders came after 10, 10, 4 and 5 days; S1 counts from its first cast, on 21 January.
	want(t, row(t, q, "step", "referral to order", "quantile", 0.5), "estimate", 7.5, "low", nil)
	want(t, row(t, q, "step", "cast to check fitting", "quantile", 0.5), "estimate", 10)
	// 10 and 20 days over, 49 open: a third has gone after 10, two thirds after 20.
	want(t, row(t, q, "step", "check fitting to delivery", "quantile", 0.5), "estimate", 20)
	// 40, 50 and 91 over; open for 63 (dead), 69 and 92 days: 5/6, 4/6, then 1/3 left.
	want(t, row(t, q, "step", "referral to delivery", "quantile", 0.25), "estimate", 50)
	want(t, row(t, q, "step", "referral to delivery", "quantile", 0.5), "estimate", 91)
	want(t, row(t, q, "step", "referral to delivery", "quantile", 0.9), "estimate", nil)
	wantCaution(t, a, "open-waits", "3 were not over", "would make the wait look short")
	wantCaution(t, a, "wrong-order", "For 1 wait ")
	wantCaution(t, a, "few-waits", "Only 3 waits are known")
	wantCaution(t, a, "no-date", "order of 1")
	wantCaution(t, a, "long-open", "1 wait has been open")
	for _, code := range []string{"began-earlier", "group-known-late", "repeated-persons", "groups-hidden"} {
		if text := caution(a, code); text != "" {
			t.Errorf("%s: %s", code, text)
		}
	}
	if !strings.Contains(a.Reading, "half of the waits were over within 91 days") || !strings.Contains(a.Methods, "Kaplan-Meier") {
		t.Errorf("%s\n%s", a.Reading, a.Methods)
	}
	b := one(t, waitLog(), quality+"\nto: 2024-04-10", "method: turnaround\nsteps: [ordered, check_fitting]\nby: level")
	want(t, row(t, table(t, b, "rows"), "group", "transtibial"), "over", 3, "open", 1, "from", "ordered", "to", "check_fitting")
	want(t, row(t, table(t, b, "rows"), "group", "transfemoral"), "over", 0, "open", 1)
	c := one(t, waitLog(), quality+"\nto: 2024-04-10", "method: turnaround\nsteps: [referred, delivered]\nperiod: month")
	want(t, row(t, table(t, c, "rows"), "group", "2024-02"), "sockets", 1, "open", 1)
	want(t, row(t, table(t, c, "rows"), "group", "2024-01"), "sockets", 5, "over", 3, "open", 2)
	d := one(t, waitLog(), quality+"\nfrom: 2024-01-02\nto: 2024-04-10", "method: turnaround\nsteps: [referred, delivered]")
	wantCaution(t, d, "began-earlier", "Of 3 sockets", "2 January 2024")
}

// manyWaits are 60 persons with a socket each, delivered after 1 to 60 days;
// open ones have no delivery.
func manyWaits(open int) sheets {
	var l, s strings.Builder
	l.WriteString("person,limb,side,level\n")
	s.WriteString("socket,limb,kind,site,referred,delivered\n")
	for i := range 60 {
		fmt.Fprintf(&l, "P%d,L%d,left,transtibial\n", i, i)
		end, site := day(101+i), []string{"A", "B"}[i%2]
		if i < open {
			end = ""
			site = ""
		}
		fmt.Fprintf(&s, "S%d,L%d,definitive,%s,%s,%s\n", i, i, site, day(100), end)
	}
	return sheets{"limbs": l.String(), "sockets": s.String()}
}

func TestTurnaroundCautions(t *testing.T) {
	calm := one(t, manyWaits(0), quality, "method: turnaround")
	if len(calm.Cautions) > 0 {
		t.Errorf("%v", calm.Cautions)
	}
	// Order statistics of 1 to 60: qbinom(.025, 60, .5) is 22, qbinom(.975) 38.
	want(t, row(t, table(t, calm, "quantiles"), "quantile", 0.5), "estimate", 30.5, "low", 22, "high", 39)
	if !strings.Contains(calm.Methods, "exact binomial") || strings.Contains(calm.Methods, "Kaplan") {
		t.Error(calm.Methods)
	}
	late := one(t, manyWaits(2), quality, "method: turnaround\nby: site")
	wantCaution(t, late, "group-known-late", "For 2 sockets")
	twice := manyWaits(0)
	twice["sockets"] = strings.ReplaceAll(strings.ReplaceAll(twice["sockets"], ",L1,", ",L0,"), ",L3", ",L4")
	twice["limbs"] = strings.ReplaceAll(twice["limbs"], "P", "Q")
	wantCaution(t, one(t, twice, quality, "method: turnaround"), "repeated-persons")
}

// In public no count below the limit shows, nor the shortest and the longest
// wait, nor what has fewer than five waits on one side.
func TestTurnaroundInPublic(t *testing.T) {
	a := one(t, manyWaits(3), "audience: annual", "method: turnaround")
	r := row(t, table(t, a, "rows"), "step", "referral to delivery")
	want(t, r, "sockets", 60, "over", nil, "open", nil)
	if text := strings.Join(printed(a), "\n"); strings.Contains(text, "57") && strings.Contains(text, " 3 ") {
		t.Errorf("the open waits can be told:\n%s", text)
	}
	s := manyWaits(0)
	few := one(t, s, "audience: annual", "method: turnaround\nby: site")
	q := table(t, few, "quantiles")
	want(t, row(t, q, "group", "A", "quantile", 0.5), "estimate", 30)
	want(t, row(t, q, "group", "A", "quantile", 0.9), "estimate", nil)
	wantError(t, one(t, waitLog(), "audience: annual", "method: turnaround"), "too-few-to-show")
}

func TestTurnaroundRefusals(t *testing.T) {
	wantError(t, one(t, waitLog(), quality, "method: turnaround\nsteps: [referred, level]"), "impossible", "holds no dates")
	wantError(t, one(t, waitLog(), quality, "method: turnaround\nsteps: [referred, sent]"), "unknown-column")
	wantError(t, one(t, waitLog(), quality, "method: turnaround\nkeep: {socket: [C1, C2]}"), "no-rows")
	none := sheets{"limbs": "person,limb,side,level\nA,A1,left,transtibial", "sockets": "socket,limb,kind,delivered\nS,A1,definitive,2024-01-01"}
	wantError(t, one(t, none, quality, "method: turnaround"), "no-steps", "dates of one step alone")
	wantError(t, one(t, waitLog(), quality+"\nfrom: 2025-01-01", "method: turnaround"), "no-waits")
}
