package cohort

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"plybook/analysis/table"
)

func looseAt(ply string) table.Condition {
	return table.Condition{Clauses: []table.Clause{{Column: "ply", Test: table.Between, Low: ply}}}
}

var ulcer = table.Condition{Clauses: []table.Clause{{Column: "finding", Values: []string{"ulcer"}}}}

// watched is a log in which failure is seen only at visits.
func watched(t testing.TB) Tables {
	return Tables{
		Limbs: tab(t, Limbs, "person|limb|died\nP1|L1|-\nP2|L2|2022-06-30"),
		Sockets: tab(t, Sockets, `
socket | limb | kind       | delivered  | ended      | end_reason
A      | L1   | definitive | 2022-01-01 | 2022-12-31 | remake: volume loss
B      | L1   | definitive | 2022-01-01 | -          | -
C      | L2   | definitive | 2022-01-01 | 2022-03-02 | preference
D      | L2   | definitive | 2022-01-01 | -          | -
E      | L1   | definitive | 2022-01-01 | -          | -`),
		Visits: tab(t, Visits, `
visit | socket | date       | purpose   | ply | skin_checked
A1    | A      | 2022-01-31 | follow-up | 4   | yes
A2    | A      | 2022-03-02 | follow-up | -   | -
A3    | A      | 2022-04-01 | follow-up | 11  | -
A4    | A      | 2022-05-01 | walk-in   | 12  | yes
B1    | B      | 2022-01-11 | follow-up | 3   | yes
B2    | B      | 2022-06-01 | follow-up | -   | no
C1    | C      | 2022-02-10 | follow-up | 5   | -
C2    | C      | 2022-04-01 | follow-up | 15  | -
D1    | D      | 2022-01-01 | delivery  | 10  | -
E1    | E      | 2021-12-20 | follow-up | 15  | -`),
		Findings: tab(t, Findings, "visit|region|finding\nA3|brim|ulcer\nB1|brim|none\nA4|brim|ulcer"),
	}
}

func showSeen(l *SeenLives) string {
	var out []string
	for i := range l.Row {
		out = append(out, fmt.Sprintf("%d:(%s,%s] %s-%s %d", l.Row[i], number(l.Left[i]), number(l.Right[i]), number(l.Entry[i]), number(l.Time[i]), l.Cause[i]))
	}
	return strings.Join(out, " ")
}

func TestSeenLives(t *testing.T) {
	for _, tc := range []struct {
		name string
		cond table.Condition
		set  Settings
		spec LifeSpec
		want string
		flow string
	}{
		{name: "between the last visit without and the first with",
			cond: looseAt("10"), want: "0:(30,90] 0-90 1 1:(10,+Inf] 0-10 0 2:(40,+Inf] 0-40 0 3:(0,0] 0-0 1 4:(0,+Inf] 0-0 0"},
		{name: "endings compete when asked to",
			cond: looseAt("10"), spec: LifeSpec{Rest: "ended"},
			want: "0:(30,90] 0-90 1 1:(10,+Inf] 0-10 0 2:(40,+Inf] 0-60 2 3:(0,0] 0-0 1 4:(0,+Inf] 0-0 0"},
		{name: "a finding, over visits with skin looked at",
			cond: ulcer, want: "0:(30,90] 0-90 1 1:(10,+Inf] 0-10 0 2:(0,+Inf] 0-0 0 3:(0,+Inf] 0-0 0 4:(0,+Inf] 0-0 0"},
		{name: "seen before coming under observation",
			cond: looseAt("10"), set: Settings{From: on(t, "2022-04-15")},
			want: "", flow: "5 5 5 5 4(-1) 2(-2) 0(-2)"},
		{name: "came under observation between two visits",
			cond: looseAt("10"), set: Settings{From: on(t, "2022-02-10")},
			want: "0:(40,90] 40-90 1", flow: "5 5 5 5 5 4(-1) 1(-3)"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			c := build(t, watched(t), tc.set)
			l, err := c.SeenLives(rowsOf(t, c, Sockets), tc.cond, tc.spec)
			if err != nil {
				t.Fatal(err)
			}
			want(t, "lives", showSeen(l), tc.want)
			if tc.flow != "" {
				want(t, "flow", flat(l.Flow), tc.flow)
			}
		})
	}
	c := build(t, watched(t), Settings{})
	rows := rowsOf(t, c, Sockets)
	l, err := c.SeenLives(rows, looseAt("10"), LifeSpec{})
	if err != nil {
		t.Fatal(err)
	}
	want(t, "looks", fmt.Sprint(l.Looks), "[[30 90] [10] [40] [0] []]")
	c = build(t, watched(t), Settings{From: on(t, "2022-02-10")})
	if l, err = c.SeenLives(rowsOf(t, c, Sockets), looseAt("10"), LifeSpec{}); err != nil {
		t.Fatal(err)
	}
	want(t, "looks under observation", fmt.Sprint(l.Looks), "[[90]]")
	// It was loose at the first look since then, and perhaps before.
	w := l.Watched()
	want(t, "loose when first looked at", showSeen(w)+flat(w.Flow), "5 5 5 5 5 4(-1) 1(-3) 0(-1) 0")
	c = build(t, watched(t), Settings{From: on(t, "2022-01-20")})
	if l, err = c.SeenLives(rowsOf(t, c, Sockets), looseAt("10"), LifeSpec{}); err != nil {
		t.Fatal(err)
	}
	w = l.Watched()
	// C was looked at once, on day 40, and not again.
	want(t, "entered at the first look", showSeen(w)+" "+flat(w.Flow), "0:(30,90] 30-90 1 5 5 5 5 5 4(-1) 2(-2) 2 1(-1)")
	if w.Persons != 1 || w.Len() != 1 {
		t.Errorf("%d persons, %d lives", w.Persons, w.Len())
	}
	c = build(t, watched(t), Settings{})
	rows = rowsOf(t, c, Sockets)
	if _, err := c.SeenLives(rows, ulcer, LifeSpec{End: "ended"}); !errors.Is(err, ErrSeenSpec) {
		t.Errorf("an end of its own: %v", err)
	}
	var ce *table.ConditionError
	bad := table.Condition{Clauses: []table.Clause{{Column: "findng", Values: []string{"ulcer"}}}}
	if _, err := c.SeenLives(rows, bad, LifeSpec{}); !errors.As(err, &ce) || ce.Nearest != "finding" {
		t.Errorf("unknown column: %v", err)
	}
}

// A visit meets a condition on findings if any finding row of it does, and
// tells only where the skin was looked at.
func TestHits(t *testing.T) {
	c := build(t, watched(t), Settings{From: on(t, "2022-02-01")})
	for _, tc := range []struct {
		name        string
		cond        table.Condition
		hits, tells string
	}{
		{"ulcers", ulcer, "A3 A4", "A3 A4"},
		{"loose", looseAt("12"), "A4 C2", "A3 A4 C1 C2"},
	} {
		hit, tells, err := c.hits(tc.cond)
		if err != nil {
			t.Fatal(err)
		}
		var gotHits, gotTells []string
		for _, v := range []string{"A2", "A3", "A4", "B2", "C1", "C2"} {
			i := c.visits.index[v]
			if hit[i] {
				gotHits = append(gotHits, v)
			}
			if tells[i] {
				gotTells = append(gotTells, v)
			}
		}
		want(t, tc.name, strings.Join(gotHits, " ")+" of "+strings.Join(gotTells, " "), tc.hits+" of "+tc.tells)
	}
}

func showRepeats(r *Repeats) string {
	var out []string
	for i := range r.Row {
		out = append(out, fmt.Sprintf("%d:%s-%s %v%v", r.Row[i], number(r.Entry[i]), number(r.Exit[i]), r.Events[i], r.Died[i]))
	}
	return strings.Join(out, " ")
}

func TestRepeats(t *testing.T) {
	in := Tables{
		Limbs: tab(t, Limbs, "person|limb|last_seen|died\nP1|L1|2022-12-31|-\nP2|L2|-|2022-06-30\nP1|L3|-|-\nP4|L4|-|-"),
		Sockets: tab(t, Sockets, `
socket | limb | kind       | use      | delivered  | ended      | end_reason
A      | L1   | definitive | everyday | 2022-01-01 | 2022-04-11 | remake: volume loss
B      | L1   | definitive | everyday | 2022-04-11 | 2022-07-20 | remake: pain or pressure
C      | L1   | check      | -        | -          | 2022-05-01 | remake: fabrication error
S      | L1   | definitive | spare    | 2022-02-01 | 2022-03-01 | remake: volume loss
D      | L2   | definitive | everyday | 2022-01-01 | 2022-03-02 | preference
E      | L3   | definitive | everyday | 2022-05-01 | 2022-05-31 | remake: volume loss`),
		Visits: tab(t, Visits, `
visit | socket | date       | purpose
V1    | C      | 2022-03-20 | check fitting
V2    | A      | 2022-02-10 | walk-in
V3    | B      | 2022-05-01 | walk-in
V4    | D      | 2022-01-31 | walk-in`),
	}
	everyday := table.Condition{Clauses: []table.Clause{{Column: "use", Values: []string{"everyday"}}}}
	walkIn := table.Condition{Clauses: []table.Clause{{Column: "purpose", Values: []string{"walk-in"}}}}
	for _, tc := range []struct {
		name, rows string
		set        Settings
		spec       RepeatSpec
		want, flow string
	}{
		{name: "remakes of limbs", rows: Limbs, want: "0:0-364 [{59 1} {100 1} {200 1}]false 1:0-180 []true 2:0-244 [{30 1}]false", flow: "4 3(-1) 3"},
		{name: "of everyday sockets", rows: Limbs, spec: RepeatSpec{Sockets: everyday},
			want: "0:0-364 [{100 1} {200 1}]false 1:0-180 []true 2:0-244 [{30 1}]false"},
		{name: "of persons", rows: Persons, spec: RepeatSpec{Sockets: everyday},
			want: "0:0-364 [{100 1} {150 1} {200 1}]false 1:0-180 []true"},
		{name: "each reason a cause", rows: Limbs, spec: RepeatSpec{Sockets: everyday, Events: []Cause{{Name: "volume", Codes: []string{"remake: volume loss"}}, {Name: "pain", Codes: []string{"remake: pain or pressure"}}}},
			want: "0:0-364 [{100 1} {200 2}]false 1:0-180 []true 2:0-244 [{30 1}]false"},
		{name: "walk-ins of limbs", rows: Limbs, spec: RepeatSpec{Seen: &walkIn},
			want: "0:0-364 [{40 1} {120 1}]false 1:0-180 [{30 1}]true 2:0-244 []false"},
		{name: "walk-ins of sockets end with the socket", rows: Sockets, spec: RepeatSpec{Seen: &walkIn},
			want: "0:0-100 [{40 1}]false 1:0-100 [{20 1}]false 2:0-42 []false 3:0-28 []false 4:0-60 [{30 1}]false 5:0-30 []false"},
		{name: "watched from `from`", rows: Limbs, set: Settings{From: on(t, "2022-07-01")},
			want: "0:181-364 [{200 1}]false 2:61-244 []false", flow: "4 3(-1) 2(-1)"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			c := build(t, in, tc.set)
			r, err := c.Repeats(rowsOf(t, c, tc.rows), tc.spec)
			if err != nil {
				t.Fatal(err)
			}
			want(t, "subjects", showRepeats(r), tc.want)
			for j, reason := range r.EndReason {
				if tc.rows != Sockets && reason != "" {
					t.Errorf("subject %d of %s ended by %q", j, tc.rows, reason)
				}
			}
			if tc.rows == Sockets {
				want(t, "ends", strings.Join(r.EndReason, ", "), "remake: volume loss, remake: pain or pressure, remake: fabrication error, remake: volume loss, preference, remake: volume loss")
			}
			if tc.flow != "" {
				want(t, "flow", flat(r.Flow), tc.flow)
			}
		})
	}
	c := build(t, in, Settings{From: on(t, "2022-07-01")})
	r, err := c.Repeats(rowsOf(t, c, Limbs), RepeatSpec{})
	if err != nil || r.Outside != 3 || r.Persons != 1 || !slices.Equal(r.Person, []int{0, 0}) {
		t.Errorf("%+v, %v", r, err)
	}
	if _, err := c.Repeats(rowsOf(t, c, Visits), RepeatSpec{}); !errors.Is(err, ErrNotSubjects) {
		t.Errorf("visits: %v", err)
	}
	if _, err := c.Repeats(rowsOf(t, c, Limbs), RepeatSpec{Seen: &walkIn, Events: []Cause{{}}}); !errors.Is(err, ErrBothEvents) {
		t.Errorf("both kinds of event: %v", err)
	}
}
