package cohort

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"plybook/analysis/table"
)

const limbs3 = `
person | limb | level       | last_seen  | died
P1     | L1   | transtibial | -          | -
P2     | L2   | transtibial | 2023-12-31 | -
P3     | L3   | transtibial | -          | 2023-06-30`

// Each rule of the end of a socket and of time, by hand.
func TestLives(t *testing.T) {
	for _, tc := range []struct {
		name            string
		sockets, visits string
		set             Settings
		spec            LifeSpec
		lives           string // row:entry-time cause/reason/basis
		flow            string
	}{
		{name: "ended with its reason",
			sockets: "socket|limb|kind|delivered|ended|end_reason\nA|L1|definitive|2022-01-01|2022-04-11|remake: volume loss",
			lives:   "0:0-100 1/remake: volume loss/ended", flow: "1 1 1 1 1"},
		{name: "a remake is dated when decided",
			sockets: "socket|limb|kind|delivered|remake_decided|ended|end_reason\nA|L1|definitive|2022-01-01|2022-03-02|2022-04-11|remake: volume loss",
			lives:   "0:0-60 1/remake: volume loss/remake decided"},
		{name: "another ending is not",
			sockets: "socket|limb|kind|delivered|remake_decided|ended|end_reason\nA|L1|definitive|2022-01-01|2022-03-02|2022-04-11|preference",
			lives:   "0:0-100 0/preference/ended"},
		{name: "a remake decided by to though the socket ended after it",
			sockets: "socket|limb|kind|delivered|remake_decided|ended|end_reason\nA|L1|definitive|2022-01-01|2022-03-02|2022-04-11|remake: volume loss",
			set:     Settings{To: on(t, "2022-04-01")},
			lives:   "0:0-60 1/remake: volume loss/remake decided"},
		{name: "an end after to is not known yet",
			sockets: "socket|limb|kind|delivered|ended|end_reason\nA|L1|definitive|2022-01-01|2022-04-11|remake: volume loss",
			visits:  "visit|socket|date\nV|A|2022-02-10\nW|A|2022-05-01",
			set:     Settings{To: on(t, "2022-04-01")},
			lives:   "0:0-40 0//no end known"},
		{name: "ended without a reason is of unknown reason",
			sockets: "socket|limb|kind|delivered|ended|end_reason\nA|L1|definitive|2022-01-01|2022-04-11|-",
			lives:   "0:0-100 0/unknown/ended"},
		{name: "replaced: the delivery of the socket that names it",
			sockets: "socket|limb|kind|delivered|replaces\nA|L1|definitive|2022-01-01|-\nB|L1|definitive|2022-04-11|A",
			lives:   "0:0-100 0/unknown/replacement delivered 1:0-0 0//no end known"},
		{name: "replaced, the reason given without a day",
			sockets: "socket|limb|kind|delivered|replaces|end_reason\nA|L1|definitive|2022-01-01|-|remake: pain or pressure\nB|L1|definitive|2022-04-11|A|-",
			lives:   "0:0-100 1/remake: pain or pressure/replacement delivered 1:0-0 0//no end known"},
		{name: "replaced over a check socket",
			sockets: "socket|limb|kind|delivered|replaces\nA|L1|definitive|2022-01-01|-\nC|L1|check|-|A\nB|L1|definitive|2022-04-11|C",
			visits:  "visit|socket|date|purpose\nV|C|2022-03-22|check fitting",
			lives:   "0:0-100 0/unknown/replacement delivered 1:0-20 0/unknown/replacement delivered 2:0-0 0//no end known"},
		{name: "never ended merely because a later one exists",
			sockets: "socket|limb|kind|delivered\nA|L1|definitive|2022-01-01\nB|L1|definitive|2022-04-11",
			lives:   "0:0-100 0//no end known 1:0-0 0//no end known"},
		{name: "the person's death ends it",
			sockets: "socket|limb|kind|delivered\nA|L3|definitive|2023-06-01",
			lives:   "0:0-29 0/died/person died"},
		{name: "censored at the last evidence of the person, another limb's too",
			sockets: "socket|limb|kind|delivered\nA|L2|definitive|2023-12-01",
			set:     Settings{To: on(t, "2024-06-30")},
			lives:   "0:0-30 0//no end known"},
		{name: "evidence after to is not known yet",
			sockets: "socket|limb|kind|delivered\nA|L2|definitive|2023-12-01",
			set:     Settings{To: on(t, "2023-12-15")},
			lives:   "0:0-0 0//no end known"},
		{name: "a reason without any day is set aside",
			sockets: "socket|limb|kind|delivered|end_reason\nA|L1|definitive|2022-01-01|preference",
			lives:   "", flow: "1 1 0(-1) 0 0"},
		{name: "a negative life is set aside",
			sockets: "socket|limb|kind|delivered|ended|end_reason\nA|L1|definitive|2022-01-02|2022-01-01|preference\nB|L1|definitive|2022-01-01|2022-01-01|remake: fabrication error",
			lives:   "1:0-0 1/remake: fabrication error/ended", flow: "2 2 2 1(-1) 1"},
		{name: "not delivered",
			sockets: "socket|limb|kind|delivered|ordered\nA|L1|definitive|-|2022-01-01", lives: "", flow: "1 0(-1) 0 0 0"},
		{name: "a check socket starts at its first check fitting",
			sockets: "socket|limb|kind|delivered|ended|end_reason\nA|L1|check|2021-12-01|2022-01-31|planned step",
			visits:  "visit|socket|date|purpose\nV|A|2022-01-11|check fitting\nW|A|2022-01-01|check fitting\nX|A|2021-12-20|walk-in",
			lives:   "0:0-30 0/planned step/ended"},
		{name: "at risk from `from`: entered late",
			sockets: "socket|limb|kind|delivered|ended|end_reason\nA|L1|definitive|2022-01-01|2022-04-11|remake: volume loss\nB|L1|definitive|2022-01-01|2022-01-31|preference\nC|L1|definitive|2022-01-01|2022-01-30|preference",
			set:     Settings{From: on(t, "2022-01-31")},
			lives:   "0:30-100 1/remake: volume loss/ended", flow: "3 3 3 3 1(-2)"},
		{name: "at risk from the latest of from, log_since and entry",
			sockets: "socket|limb|kind|delivered|ended|end_reason|own.delay\nA|L1|definitive|2022-01-01|2022-04-11|preference|-\nB|L1|definitive|2022-01-01|2022-04-11|preference|50\nC|L1|definitive|2022-02-20|2022-02-20|preference|0",
			set:     Settings{From: on(t, "2022-01-11"), LogSince: on(t, "2022-01-31")}, spec: LifeSpec{Entry: "delay"},
			lives: "0:30-100 0/preference/ended 1:50-100 0/preference/ended 2:0-0 0/preference/ended"},
		{name: "entry may be a date",
			sockets: "socket|limb|kind|delivered|ended|end_reason|own.cracked\nA|L1|definitive|2022-01-01|2022-04-11|preference|2022-01-21",
			spec:    LifeSpec{Entry: "own.cracked"}, lives: "0:20-100 0/preference/ended"},
		{name: "start and end from other columns",
			sockets: "socket|limb|kind|cast_on|delivered|ended|end_reason|own.cracked\nA|L1|definitive|2021-12-22|2022-01-01|2022-04-11|preference|2022-01-11\nB|L1|definitive|-|2022-01-01|2022-04-11|preference|-\nC|L1|definitive|2021-12-22|2022-01-01|2022-04-11|preference|-",
			spec:    LifeSpec{Start: "cast_on", End: "cracked"},
			lives:   "0:0-20 0/preference/column given 2:0-110 0//no end known", flow: "3 2(-1) 2 2 2"},
		{name: "a death ends what an end column leaves open",
			sockets: "socket|limb|kind|delivered|own.cracked\nA|L3|definitive|2023-06-01|-\nB|L3|definitive|2023-06-01|2023-06-11",
			spec:    LifeSpec{End: "cracked"}, lives: "0:0-29 0/died/person died 1:0-10 0/unknown/column given"},
		{name: "each reason a cause of its own, the rest competing but untraced",
			sockets: "socket|limb|kind|delivered|ended|end_reason\nA|L1|definitive|2022-01-01|2022-01-11|remake: volume loss\nB|L1|definitive|2022-01-01|2022-01-11|remake: pain or pressure\nC|L1|definitive|2022-01-01|2022-01-11|preference\nD|L1|definitive|2022-01-01|2022-01-11|died\nE|L1|definitive|2022-01-01|2022-01-11|moved away",
			spec: LifeSpec{Events: []Cause{{Name: "volume", Codes: []string{"remake: volume loss"}}, {Name: "pain", Codes: []string{"remake: pain or pressure"}}},
				Competing: []Cause{{Name: "died", Codes: []string{"died"}}}, Rest: "other endings"},
			lives: "0:0-10 1/remake: volume loss/ended 1:0-10 2/remake: pain or pressure/ended 2:0-10 4/preference/ended 3:0-10 3/died/ended 4:0-10 0/moved away/ended"},
		{name: "an early remake is one within 90 days",
			sockets: "socket|limb|kind|delivered|ended|end_reason\nA|L1|definitive|2022-01-01|2022-04-01|remake: volume loss\nB|L1|definitive|2022-01-01|2022-04-02|remake: volume loss",
			spec:    LifeSpec{Events: []Cause{{Name: "early-remake", Codes: []string{"remake: volume loss"}, Within: 90}}},
			lives:   "0:0-90 1/remake: volume loss/ended 1:0-91 0/remake: volume loss/ended"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			in := Tables{Limbs: tab(t, Limbs, limbs3), Sockets: tab(t, Sockets, tc.sockets)}
			if tc.visits != "" {
				in.Visits = tab(t, Visits, tc.visits)
			}
			c := build(t, in, tc.set)
			l, err := c.Lives(rowsOf(t, c, Sockets), tc.spec)
			if err != nil {
				t.Fatal(err)
			}
			want(t, "lives", showLives(l), tc.lives)
			if tc.flow != "" {
				want(t, "flow", flat(l.Flow), tc.flow)
			}
			if last := l.Flow[len(l.Flow)-1].Rows; last != l.Len() {
				t.Errorf("flow ends at %d, lives are %d", last, l.Len())
			}
		})
	}
}

func showLives(l *Lives) string {
	var out []string
	for i := range l.Row {
		out = append(out, fmt.Sprintf("%d:%s-%s %d/%s/%s", l.Row[i], number(l.Entry[i]), number(l.Time[i]), l.Cause[i], l.EndReason[i], l.Basis[i]))
	}
	return strings.Join(out, " ")
}

func TestLivesCounts(t *testing.T) {
	in := Tables{
		Limbs: tab(t, Limbs, `
person | limb | last_seen  | died
P1     | L1   | 2022-06-01 | -
P2     | L2   | 2023-11-01 | -
P3     | L3   | -          | 2022-05-01
P4     | L4   | -          | -`),
		Sockets: tab(t, Sockets, `
socket | limb | kind       | delivered  | remake_decided | ended      | end_reason
A      | L1   | definitive | 2022-01-01 | -              | -          | -
B      | L1   | definitive | 2022-01-01 | 2022-02-01     | -          | remake: volume loss
C      | L2   | definitive | 2022-01-01 | -              | -          | -
D      | L3   | definitive | 2022-01-01 | -              | -          | -
E      | L2   | definitive | 2022-01-01 | -              | 2022-01-01 | remake: volume loss
F      | L4   | definitive | 2022-01-01 | -              | -          | -
G      | L4   | definitive | 2022-01-01 | -              | 2022-03-01 | moved away`),
	}
	c := build(t, in, Settings{To: on(t, "2023-12-31")})
	l, err := c.Lives(rowsOf(t, c, Sockets), LifeSpec{})
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(l.Person, []int{0, 0, 1, 2, 1, 3, 3}) || l.Persons != 4 {
		t.Errorf("persons %v of %d", l.Person, l.Persons)
	}
	if !slices.Equal(l.Unseen, []bool{true, false, false, false, false, true, false}) {
		t.Errorf("unseen %v", l.Unseen)
	}
	want(t, "if present to the end", numbers(l.IfPresent), "729 31 729 120 0 59 59") // F: the person moved away
	want(t, "censored", fmt.Sprint(l.Censored), "[{still in use when last heard of 3} {died 1} {moved away 1}]")
	want(t, "dated by", fmt.Sprint(l.Dated), "[{remake decided 1} {ended 2} {person died 1}]")
	if l.ZeroDays != 1 || l.Events != 1 || l.Causes[0].Name != "remake" {
		t.Errorf("%d of 0 days, causes %v", l.ZeroDays, l.Causes)
	}
}

func TestLandmark(t *testing.T) {
	in := Tables{
		Limbs: tab(t, Limbs, limbs3),
		Sockets: tab(t, Sockets, `
socket | limb | kind       | delivered  | ended      | end_reason          | own.delay | cast_method
A      | L1   | definitive | 2022-01-01 | 2022-07-20 | remake: volume loss | -         | hand
B      | L1   | definitive | 2022-01-01 | 2022-04-01 | remake: volume loss | -         | hand
C      | L2   | definitive | 2022-01-01 | 2022-07-20 | preference          | 100       | hand
D      | L2   | definitive | 2022-01-01 | 2022-07-20 | preference          | 60        | digital`),
		Visits: tab(t, Visits, `
visit | socket | date       | purpose   | ply | comfort | action
V1    | A      | 2022-01-01 | delivery  | 3   | 8       | -
V2    | A      | 2022-03-01 | follow-up | 5   | -       | ground
V3    | A      | 2022-04-01 | follow-up | 6   | 7       | -
V4    | A      | 2022-04-02 | follow-up | 9   | 4       | reline
V5    | D      | 2022-03-01 | follow-up | 2   | 6       | -`),
	}
	c := build(t, in, Settings{})
	rows := rowsOf(t, c, Sockets)
	l, err := c.Lives(rows, LifeSpec{Entry: "delay"})
	if err != nil {
		t.Fatal(err)
	}
	at, err := l.Landmark(90)
	if err != nil {
		t.Fatal(err)
	}
	want(t, "lives", showLives(at), "0:0-110 1/remake: volume loss/ended 3:0-110 0/preference/ended")
	want(t, "flow", flat(at.Flow), "4 4 4 4 4 3(-1) 2(-1)")
	for name, w := range map[string]string{"ply": "6 2", "ply_change": "3 -", "comfort": "7 6", "action": "ground -", "cast_method": "hand digital"} {
		col, err := at.Column(rows, name)
		if err != nil {
			t.Fatal(err)
		}
		want(t, name+" by the landmark", showColumn(col), w)
	}
	var later *LaterError
	if _, err := l.Column(rows, "ply"); !errors.As(err, &later) || later.Never {
		t.Errorf("ply without a landmark: %v", err)
	}
	if _, err := at.Column(rows, "follow_up_days"); !errors.As(err, &later) || !later.Never {
		t.Errorf("follow-up at a landmark: %v", err)
	}
	for _, days := range []float64{0, -1} {
		if _, err := l.Landmark(days); !errors.Is(err, ErrLandmark) {
			t.Errorf("landmark of %v days: %v", days, err)
		}
	}
	if _, err := at.Landmark(30); !errors.Is(err, ErrLandmark) {
		t.Errorf("second landmark: %v", err)
	}
}

func TestCheckKnown(t *testing.T) {
	c := build(t, Tables{
		Limbs:   tab(t, Limbs, limbs3),
		Sockets: tab(t, Sockets, "socket|limb|kind|delivered|ended|end_reason|own.age\nA|L1|definitive|2022-01-01|-|-|5"),
		Visits:  tab(t, Visits, "visit|socket|date|ply\nV|A|2022-01-02|3"),
	}, Settings{})
	rows := rowsOf(t, c, Sockets)
	for _, tc := range []struct {
		col             string
		plain, landmark string // part of the error, empty for none
	}{
		{"level", "", ""}, {"own.age", "", ""}, {"first_fit", "", ""}, {"ply_at_delivery", "", ""},
		{"ply_change", "known only after delivery", ""}, {"ply", "known only after delivery", ""},
		{"end_reason", "follows from the end", "follows from the end"},
		{"levle", `did you mean "level"`, `did you mean "level"`},
		{"age", "write own.age", "write own.age"},
	} {
		for landmark, part := range map[bool]string{false: tc.plain, true: tc.landmark} {
			err := c.CheckKnown([]string{"kind", tc.col}, rows, landmark)
			if (err == nil) != (part == "") || err != nil && !strings.Contains(err.Error(), part) {
				t.Errorf("%s, landmark %v: %v, want %q", tc.col, landmark, err, part)
			}
		}
	}
}

func TestEarlyRemake(t *testing.T) {
	c := build(t, Tables{
		Limbs: tab(t, Limbs, "person|limb|last_seen\nP1|L1|2022-03-31\nP2|L2|2022-06-01"),
		Sockets: tab(t, Sockets, `
socket | limb | kind       | delivered  | ended      | end_reason
yes    | L2   | definitive | 2022-01-01 | 2022-04-01 | remake: volume loss
late   | L2   | definitive | 2022-01-01 | 2022-04-02 | remake: volume loss
other  | L2   | definitive | 2022-01-01 | 2022-01-15 | preference
why    | L2   | definitive | 2022-01-01 | 2022-01-15 | -
moved  | L2   | definitive | 2022-01-01 | 2022-01-15 | moved away
died   | L2   | definitive | 2022-01-01 | 2022-01-15 | died
short  | L1   | definitive | 2022-01-01 | -          | -
worn   | L2   | definitive | 2022-01-01 | -          | -
bench  | L2   | definitive | -          | -          | -`),
	}, Settings{})
	want(t, "early remake", show(t, rowsOf(t, c, Sockets), EarlyRemake), "yes no no - - - - no -")
}

func TestLivesRefusals(t *testing.T) {
	c := build(t, Tables{
		Limbs:   tab(t, Limbs, limbs3),
		Sockets: tab(t, Sockets, "socket|limb|kind|delivered\nA|L1|definitive|2022-01-01"),
	}, Settings{})
	rows := rowsOf(t, c, Sockets)
	var ce *table.ConditionError
	if _, err := c.Lives(rows, LifeSpec{Start: "deliverd"}); !errors.As(err, &ce) || ce.Nearest != "delivered" {
		t.Errorf("unknown start: %v", err)
	}
	for name, tc := range map[string]struct {
		rows *table.Table
		spec LifeSpec
		want error
	}{
		"limbs":         {rowsOf(t, c, Limbs), LifeSpec{}, ErrNotSockets},
		"start of text": {rows, LifeSpec{Start: "kind"}, ErrNotDate},
		"end of days":   {rows, LifeSpec{End: "follow_up_days"}, ErrNotDate},
		"entry of text": {rows, LifeSpec{Entry: "kind"}, ErrNotDate},
		"overlap":       {rows, LifeSpec{Events: []Cause{{Name: "a", Codes: []string{"x"}}}, Competing: []Cause{{Name: "b", Codes: []string{"x"}}}}, ErrOverlap},
	} {
		if _, err := c.Lives(tc.rows, tc.spec); !errors.Is(err, tc.want) {
			t.Errorf("%s: %v, want %v", name, err, tc.want)
		}
	}
	l, err := c.Lives(rows.Pick(nil), LifeSpec{})
	if err != nil || l.Len() != 0 || l.Persons != 0 {
		t.Errorf("no rows: %+v, %v", l, err)
	}
	for _, name := range []string{"remake", "early-remake", "making", "limb-change", "untraced"} {
		if cause, ok := c.Named(name); !ok || cause.Name != name || len(cause.Codes) == 0 {
			t.Errorf("named set %s: %+v", name, cause)
		}
	}
	if _, ok := c.Named("wear"); ok {
		t.Error("a named set that does not exist")
	}
}

// Shuffling the rows of every table changes no row's values and no life.
func TestOrderOfRowsDoesNotMatter(t *testing.T) {
	for seed := uint64(1); seed <= 4; seed++ {
		in := invented(8, seed)
		r := rand.New(rand.NewPCG(seed, 9))
		mixed := Tables{shuffled(in.Limbs, r), shuffled(in.Sockets, r), shuffled(in.Stations, r), shuffled(in.Visits, r), shuffled(in.Findings, r), shuffled(in.Forming, r)}
		set := Settings{From: on(t, "2021-01-01"), To: on(t, "2024-06-30"), LogSince: on(t, "2020-03-01")}
		a, b := build(t, in, set), build(t, mixed, set)
		for _, name := range Names() {
			want(t, fmt.Sprintf("seed %d, %s", seed, name), asSet(rowsOf(t, b, name)), asSet(rowsOf(t, a, name)))
			want(t, "flow of "+name, flat(b.Flow(name)), flat(a.Flow(name)))
		}
		la, errA := a.Lives(rowsOf(t, a, Sockets), LifeSpec{})
		lb, errB := b.Lives(rowsOf(t, b, Sockets), LifeSpec{})
		if err := errors.Join(errA, errB); err != nil {
			t.Fatal(err)
		}
		want(t, "lives", livesAsSet(lb, rowsOf(t, b, Sockets)), livesAsSet(la, rowsOf(t, a, Sockets)))
		for i := range la.Row {
			if la.Entry[i] > 0 && la.Time[i] <= la.Entry[i] || la.Time[i] < 0 || la.IfPresent[i] < la.Time[i] {
				t.Errorf("life %d: entry %v, time %v, if present %v", i, la.Entry[i], la.Time[i], la.IfPresent[i])
			}
		}
	}
}

func shuffled(t *table.Table, r *rand.Rand) *table.Table { return t.Pick(r.Perm(t.Rows())) }

func asSet(rows *table.Table) string {
	lines := make([]string, rows.Rows())
	for _, col := range rows.Columns() {
		for i, v := range strings.Split(strings.ReplaceAll(showRaw(col), " ", "_"), "\n") {
			if i < len(lines) {
				lines[i] += col.Name + "=" + v + " "
			}
		}
	}
	slices.Sort(lines)
	return strings.Join(lines, "\n")
}

func showRaw(col *table.Column) string {
	var out []string
	for i := range col.Len() {
		switch {
		case col.Missing[i]:
			out = append(out, "-")
		case col.Kind == table.Text:
			out = append(out, col.Text[i])
		default:
			out = append(out, fmt.Sprint(col.Num[i])) // to the last digit
		}
	}
	return strings.Join(out, "\n")
}

func livesAsSet(l *Lives, rows *table.Table) string {
	id, _ := rows.Col("socket")
	var lines []string
	for i := range l.Row {
		lines = append(lines, fmt.Sprint(id.Text[l.Row[i]], l.Entry[i], l.Time[i], l.Cause[i], l.EndReason[i], l.Unseen[i], l.IfPresent[i]))
	}
	slices.Sort(lines)
	return strings.Join(lines, "\n")
}
