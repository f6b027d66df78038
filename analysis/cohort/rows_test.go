package cohort

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"plybook/analysis/table"
)

func oneLimb(t testing.TB) *table.Table {
	return tab(t, Limbs, `
person | limb | level       | amputated  | born
P1     | L1   | transtibial | 2022-01-10 | 1950`)
}

func TestDerivedColumnsOfSockets(t *testing.T) {
	for _, tc := range []struct {
		name                   string
		limbs, sockets, visits string
		stations               string
		set                    Settings
		column, want           string
		rows                   string
	}{
		{name: "age counts from the middle of the birth year to delivery",
			sockets: "socket|limb|kind|delivered\nS1|L1|definitive|2023-07-01\nS2|L1|definitive|-",
			column:  "age", want: "72.9993 -"}, // 26663 days
		{name: "months since amputation are months of 30.4375 days",
			sockets: "socket|limb|kind|delivered\nS1|L1|definitive|2022-03-12\nS2|L1|definitive|2021-12-31",
			column:  "months_since_amputation", want: "2.0041 -"}, // 61 days; the other is before the amputation
		{name: "sequence follows delivery where the log saw the limb from the start",
			sockets: "socket|limb|kind|delivered\nS2|L1|definitive|2023-05-01\nC|L1|check|2022-03-01\nS1|L1|definitive|2022-04-01\nS3|L1|definitive|-",
			set:     Settings{LogSince: on(t, "2022-01-10")}, column: "sequence", want: "2 - 1 -"},
		{name: "sequence is missing where earlier sockets may be unrecorded",
			sockets: "socket|limb|kind|delivered\nS1|L1|definitive|2022-04-01",
			set:     Settings{LogSince: on(t, "2022-01-11")}, column: "sequence", want: "-"},
		{name: "sequence is the number where given",
			sockets: "socket|limb|kind|delivered|number\nS1|L1|definitive|2022-04-01|4\nS2|L1|definitive|2023-04-01|-\nS3|L1|preparatory|2022-02-01|1",
			column:  "sequence", want: "4 - -"},
		{name: "turnaround runs from referral, else order",
			sockets: "socket|limb|kind|delivered|referred|ordered\nA|L1|definitive|2022-04-01|2022-03-01|2022-03-11\nB|L1|definitive|2022-04-01|-|2022-03-11\nC|L1|definitive|2022-04-01|-|-\nD|L1|definitive|2022-04-01|2022-05-01|-",
			column:  "turnaround_days", want: "31 21 - -"},
		{name: "follow-up ends with the socket, else with the last evidence",
			sockets: "socket|limb|kind|delivered|ended|end_reason\nA|L1|definitive|2022-04-01|2022-05-01|preference\nB|L1|definitive|2022-05-01|-|-",
			visits:  "visit|socket|date\nV|B|2022-05-11",
			column:  "follow_up_days", want: "30 10"},
		{name: "fittings of a chain of check sockets through replaces",
			sockets: "socket|limb|kind|delivered|replaces\nC1|L1|check|-|-\nC2|L1|check|-|C1\nD|L1|definitive|2022-06-01|C2",
			visits:  "visit|socket|date|purpose|accepted\nV1|C1|2022-04-01|check fitting|no\nV2|C2|2022-04-20|check fitting|adjusted\nV3|C2|2022-04-25|check fitting|yes\nV4|D|2022-06-01|delivery|-",
			column:  "fittings", want: "- - 3"},
		{name: "first fit is no where a new check socket was made",
			sockets: "socket|limb|kind|delivered|replaces\nC1|L1|check|-|-\nC2|L1|check|-|C1\nD|L1|definitive|2022-06-01|C2",
			visits:  "visit|socket|date|purpose|accepted\nV1|C1|2022-04-01|check fitting|yes\nV2|C2|2022-04-20|check fitting|yes",
			column:  "first_fit", want: "- - no"},
		{name: "first fit is yes where the one check socket was adjusted",
			sockets: "socket|limb|kind|delivered|replaces\nC1|L1|check|-|-\nD|L1|definitive|2022-06-01|C1",
			visits:  "visit|socket|date|purpose|accepted\nV2|C1|2022-04-20|check fitting|yes\nV1|C1|2022-04-01|check fitting|adjusted",
			column:  "first_fit", want: "- yes"},
		{name: "clean first fit is no where it was adjusted",
			sockets: "socket|limb|kind|delivered|replaces\nC1|L1|check|-|-\nD|L1|definitive|2022-06-01|C1",
			visits:  "visit|socket|date|purpose|accepted\nV1|C1|2022-04-01|check fitting|adjusted",
			column:  "first_fit_clean", want: "- no"},
		{name: "the first fitting of a day is the earlier in the day",
			sockets: "socket|limb|kind|delivered|replaces\nC1|L1|check|-|-\nD|L1|definitive|2022-06-01|C1",
			visits:  "visit|socket|date|purpose|accepted|minutes\nV1|C1|2022-04-01|check fitting|no|5\nV2|C1|2022-03-31|check fitting|yes|5",
			column:  "first_fit_clean", want: "- yes"},
		{name: "a check socket without replaces leads to the next definitive within 180 days",
			sockets: "socket|limb|kind|delivered\nC1|L1|check|-\nD0|L1|definitive|2022-03-31\nD1|L1|definitive|2022-09-28\nD2|L1|definitive|2022-09-29",
			visits:  "visit|socket|date|purpose|accepted\nV1|C1|2022-04-01|check fitting|yes",
			column:  "first_fit", want: "- - yes -"},
		{name: "and not to one delivered later",
			sockets: "socket|limb|kind|delivered\nC1|L1|check|-\nD1|L1|definitive|2022-09-29",
			visits:  "visit|socket|date|purpose|accepted\nV1|C1|2022-04-01|check fitting|yes",
			column:  "first_fit", want: "- -"},
		{name: "a check fitting written under the definitive itself counts",
			sockets: "socket|limb|kind|delivered\nD1|L1|definitive|2022-09-29",
			visits:  "visit|socket|date|purpose|accepted\nV1|D1|2022-09-01|check fitting|yes\nV2|D1|2022-10-01|check fitting|no",
			column:  "fittings", want: "1"},
		{name: "no fitting recorded: none counted, first fit unknown",
			sockets: "socket|limb|kind|delivered\nD1|L1|definitive|2022-09-29", column: "fittings", want: "0"},
		{name: "a check socket without a recorded fitting: unknown",
			sockets: "socket|limb|kind|delivered|replaces|cast_on\nC1|L1|check|-|-|2022-08-01\nD1|L1|definitive|2022-09-29|C1|-", column: "fittings", want: "- -"},
		{name: "whether accepted not recorded: first fit unknown",
			sockets: "socket|limb|kind|delivered|replaces\nC1|L1|check|-|-\nD|L1|definitive|2022-06-01|C1",
			visits:  "visit|socket|date|purpose|accepted\nV1|C1|2022-04-01|check fitting|-",
			column:  "first_fit", want: "- -"},
		{name: "check sockets that replace each other in a circle end nowhere",
			sockets: "socket|limb|kind|delivered|replaces\nC1|L1|check|-|C2\nC2|L1|check|-|C1\nD|L1|definitive|2022-06-01|-",
			visits:  "visit|socket|date|purpose|accepted\nV1|C1|2022-04-01|check fitting|yes",
			column:  "first_fit", want: "- - -"},
		{name: "ply at delivery is that of the delivery visit",
			sockets: "socket|limb|kind|delivered\nA|L1|definitive|2022-06-01\nB|L1|definitive|2022-07-01\nC|L1|definitive|2022-08-01",
			visits:  "visit|socket|date|purpose|ply|ply_left\nV1|A|2022-06-01|delivery|3|5\nV2|A|2022-06-20|follow-up|8|-\nV3|B|2022-07-01|delivery|-|4\nV4|C|2022-08-01|follow-up|2|-",
			column:  "ply_at_delivery", want: "3 4 2"},
		{name: "ply change of a socket is up to its last visit",
			sockets: "socket|limb|kind|delivered\nA|L1|definitive|2022-06-01\nB|L1|definitive|2022-07-01",
			visits:  "visit|socket|date|purpose|ply\nV2|A|2022-07-20|follow-up|8\nV1|A|2022-06-01|delivery|3\nV3|A|2022-06-20|follow-up|12\nV4|B|2022-07-09|follow-up|4",
			column:  "ply_change", want: "5 -"},
		{name: "reduction is averaged by station, repeats first",
			sockets:  "socket|limb|kind|delivered\nA|L1|definitive|2022-06-01",
			stations: "limb|date|landmark|station_mm|limb_mm|over|socket|model_mm\nL1|2022-05-01|MPT|0|400|skin|A|380\nL1|2022-05-01|MPT|30|300|skin|A|294\nL1|2022-05-01|MPT|30|300|skin|A|288\nL1|2022-05-01|MPT|60|200|liner|A|100\nL1|2022-05-01|MPT|90|250|skin|A|-",
			column:   "reduction_pct", want: "4"}, // (5 + (2+4)/2) / 2; the liner's station apart
		{name: "bony is by the region handed over", rows: Findings,
			sockets: "socket|limb|kind|delivered\nA|L1|definitive|2022-06-01", column: "bony", want: "yes no -"},
		{name: "ply change of a visit", rows: Visits,
			sockets: "socket|limb|kind|delivered\nA|L1|definitive|2022-06-01",
			visits:  "visit|socket|date|purpose|ply\nV0|A|2022-05-30|check fitting|1\nV1|A|2022-06-01|delivery|3\nV2|A|2022-06-20|follow-up|8",
			column:  "ply_change", want: "- 0 5"},
		{name: "days since delivery of a visit", rows: Visits,
			sockets: "socket|limb|kind|delivered\nA|L1|definitive|2022-06-01",
			visits:  "visit|socket|date\nV0|A|2022-05-30\nV1|A|2022-06-01\nV2|A|2022-06-20",
			column:  "days_since_delivery", want: "-2 0 19"},
		{name: "months since amputation of a visit are at the visit", rows: Visits,
			sockets: "socket|limb|kind|delivered\nA|L1|definitive|2022-06-01",
			visits:  "visit|socket|date\nV0|A|2022-03-12",
			column:  "months_since_amputation", want: "2.0041"},
		{name: "a socket dated after to is not yet known",
			sockets: "socket|limb|kind|cast_on|delivered|ended|end_reason\nA|L1|definitive|2022-05-01|2022-06-01|2022-07-01|preference\nB|L1|definitive|2022-06-15|2022-07-15|-|-\nC|L1|definitive|2022-07-15|2022-08-15|-|-",
			set:     Settings{To: on(t, "2022-06-30")}, column: "delivered", want: "2022-06-01 -"},
		{name: "nor is the reason of an end after to",
			sockets: "socket|limb|kind|cast_on|delivered|ended|end_reason\nA|L1|definitive|2022-05-01|2022-06-01|2022-07-01|preference\nB|L1|definitive|2022-05-01|2022-06-01|2022-06-30|preference",
			set:     Settings{To: on(t, "2022-06-30")}, column: "end_reason", want: "- preference"},
		{name: "but a remake decided by then is known",
			sockets: "socket|limb|kind|delivered|remake_decided|ended|end_reason\nA|L1|definitive|2022-06-01|2022-06-20|2022-07-01|remake: volume loss",
			set:     Settings{To: on(t, "2022-06-30")}, column: "end_reason", want: "remake: volume loss"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			in := Tables{Limbs: oneLimb(t)}
			for _, x := range []struct {
				text string
				name string
				to   **table.Table
			}{{tc.sockets, Sockets, &in.Sockets}, {tc.visits, Visits, &in.Visits}, {tc.stations, Stations, &in.Stations}} {
				if x.text != "" {
					*x.to = tab(t, x.name, x.text)
				}
			}
			name := tc.rows
			if name == "" {
				name = Sockets
			}
			if name == Findings {
				in.Visits = tab(t, Visits, "visit|socket|date\nV|A|2022-06-10")
				in.Findings = tab(t, Findings, "visit|region|finding\nV|fibular head|callus\nV|posterior compartment|rash\nV|brim|pain")
			}
			want(t, tc.column, show(t, rowsOf(t, build(t, in, tc.set), name), tc.column), tc.want)
		})
	}
}

func TestVolumes(t *testing.T) {
	in := Tables{
		Limbs: oneLimb(t),
		Sockets: tab(t, Sockets, `
socket | limb | kind       | cast_on    | delivered
A      | L1   | definitive | 2022-05-01 | 2022-06-01
B      | L1   | definitive | 2022-09-01 | 2022-10-01
N      | L1   | definitive | 2021-01-01 | 2021-02-01`),
		Visits: tab(t, Visits, `
visit | socket | date
V1    | A      | 2022-07-01
V2    | A      | 2022-07-02`),
		// A cylinder of 300 mm girth, later of 270 mm: 81 percent of it.
		Stations: tab(t, Stations, `
limb | date       | landmark | station_mm | limb_mm | over  | repeat
L1   | 2022-04-20 | MPT      | 0          | 300     | skin  | -
L1   | 2022-04-20 | MPT      | 100        | 300     | skin  | -
L1   | 2022-05-10 | MPT      | 0          | 330     | skin  | -
L1   | 2022-05-10 | MPT      | 100        | 330     | skin  | -
L1   | 2022-07-01 | MPT      | 50         | 270     | skin  | 1
L1   | 2022-07-01 | MPT      | 100        | 270     | skin  | 1
L1   | 2022-07-01 | MPT      | 150        | 270     | skin  | 1
L1   | 2022-07-01 | MPT      | 50         | 270     | skin  | 2
L1   | 2022-07-01 | MPT      | 100        | 270     | skin  | 2
L1   | 2022-07-02 | MPT      | 0          | 280     | liner | -
L1   | 2022-07-02 | MPT      | 100        | 280     | liner | -
L1   | 2022-07-03 | MPT      | 120        | 280     | skin  | -
L1   | 2022-07-03 | MPT      | 220        | 280     | skin  | -
L1   | 2022-07-04 | MPT      | 10         | 280     | skin  | -`),
	}
	c := build(t, in, Settings{})
	s := rowsOf(t, c, Sockets)
	// 300^2 * 50 / (4 pi) / 1000 over 50 to 100 mm, the stretch shared.
	want(t, "volume at the cast", show(t, s, "volume_ml"), "358.0986 - -")
	want(t, "from", show(t, s, "volume_from_mm"), "50 - -")
	want(t, "to", show(t, s, "volume_to_mm"), "100 - -")
	want(t, "change while worn", show(t, s, "volume_change_pct"), "-19 - -")
	v := rowsOf(t, c, Visits)
	want(t, "volume at visits", show(t, v, "volume_ml"), "290.0599 623.8874")
	want(t, "change at visits, never across layers", show(t, v, "volume_change_pct"), "-19 -")
	l, err := c.Lives(s, LifeSpec{})
	if err != nil {
		t.Fatal(err)
	}
	for days, w := range map[float64]string{29: "- -", 30: "-19 -"} {
		at, err := l.Landmark(days)
		if err != nil {
			t.Fatal(err)
		}
		col, err := at.Column(s, "volume_change_pct")
		if err != nil {
			t.Fatal(err)
		}
		want(t, fmt.Sprintf("change by day %g", days), showColumn(col), w)
	}
	m := rowsOf(t, c, Stations)
	want(t, "one volume for each set", show(t, m, "volume_ml"), "358.0986 - 433.2993 - 290.0599 - - 290.0599 - 623.8874 - - - -")
	want(t, "change by set, none without a common span", show(t, m, "volume_change_pct"), "0 - 21 - -19 - - -19 - - - - - -")
}

func TestRowsOutsideThePeriodServeAsBaselines(t *testing.T) {
	in := Tables{
		Limbs:   oneLimb(t),
		Sockets: tab(t, Sockets, "socket|limb|kind|delivered\nA|L1|definitive|2022-06-01"),
		Visits: tab(t, Visits, `
visit | socket | date       | purpose   | ply
V1    | A      | 2022-06-01 | delivery  | 3
V2    | A      | 2022-08-01 | follow-up | 8
V3    | A      | 2022-10-01 | follow-up | 9
V4    | A      | -          | follow-up | 9`),
		Findings: tab(t, Findings, "visit|region|finding\nV1|fibular head|pain\nV2|fibular head|pain\nV3|fibular head|pain\nVX|fibular head|pain"),
		Forming:  tab(t, Forming, "socket|date|minutes\nA|2022-05-20|14\nA|2022-08-20|15"),
	}
	c := build(t, in, Settings{From: on(t, "2022-07-01"), To: on(t, "2022-09-30")})
	v := rowsOf(t, c, Visits)
	want(t, "visits", show(t, v, "visit"), "V2")
	want(t, "ply change against a visit before from", show(t, v, "ply_change"), "5")
	want(t, "flow of visits", flat(c.Flow(Visits)), "4 3(-1) 2(-1) 1(-1)")
	f := rowsOf(t, c, Findings)
	want(t, "findings", show(t, f, "visit")+" "+show(t, f, "date")+" "+show(t, f, "level"), "V2 2022-08-01 transtibial")
	want(t, "flow of findings", flat(c.Flow(Findings)), "4 3(-1) 2(-1) 1(-1)")
	want(t, "forming", show(t, rowsOf(t, c, Forming), "minutes"), "15")
	want(t, "sockets stay", show(t, rowsOf(t, c, Sockets), "socket"), "A")
	if got := v.Origin[0]; got != (table.Origin{Sheet: 1, Row: 3}) {
		t.Errorf("origin %v", got)
	}
	if reason := c.Flow(Visits)[2].Reason; reason != "dated after 2022-09-30" {
		t.Errorf("reason %q", reason)
	}
}

func TestOwnColumns(t *testing.T) {
	in := Tables{
		Limbs:   tab(t, Limbs, "person|limb|own.shade|own.ply\nP1|L1|4|x"),
		Sockets: tab(t, Sockets, "socket|limb|kind|delivered|own.age|own.shade|own.foam\nA|L1|definitive|2022-06-01|7|5|soft"),
		Visits:  tab(t, Visits, "visit|socket|date|own.mood\nV|A|2022-06-02|good"),
	}
	c := build(t, in, Settings{})
	v := rowsOf(t, c, Visits)
	want(t, "bare name", show(t, v, "foam")+" "+show(t, v, "own.foam")+" "+show(t, v, "mood"), "soft soft good")
	want(t, "the nearer table wins", show(t, v, "shade")+" "+show(t, v, "own.limbs.shade"), "5 4")
	want(t, "own column of a derived name", show(t, v, "own.age"), "7")
	var ce *table.ConditionError
	if _, err := v.Lookup("age"); !errors.As(err, &ce) || ce.Nearest != "own.age" {
		t.Errorf("bare name of own and derived column: %v", err)
	}
	s := rowsOf(t, c, Sockets)
	if _, err := s.Lookup("ply"); !errors.As(err, &ce) || ce.Nearest != "own.ply" {
		t.Errorf("bare name of an own column that bears a log column's name: %v", err)
	}
	for name, known := range map[string]table.Known{"foam": table.AtStart, "own.limbs.shade": table.Always, "level": table.Always} {
		if col, ok := s.Col(name); ok && col.Known != known {
			t.Errorf("%s is known %v, want %v", name, col.Known, known)
		}
	}
	if mood, _ := v.Col("mood"); !mood.Own || mood.Known != table.Later || mood.Label != "mood" {
		t.Errorf("own column of visits: %+v", mood)
	}
}

func TestPersonsAndLimbs(t *testing.T) {
	in := Tables{
		Limbs: tab(t, Limbs, `
person | limb | side  | level       | born | amputated  | last_seen  | died
P1     | L1   | left  | transtibial | 1950 | 2022-01-01 | 2023-01-01 | -
P2     | L2   | right | transtibial | 1960 | 2022-01-01 | -          | -
P1     | L3   | right | transtibial | -    | 2022-05-01 | 2023-03-01 | 2023-04-01
P3     | L4   | right | transtibial | 1960 | 2024-01-01 | -          | -`),
		Sockets: tab(t, Sockets, "socket|limb|kind|delivered\nA|L1|definitive|2022-06-01\nB|L3|definitive|2022-07-01"),
	}
	c := build(t, in, Settings{To: on(t, "2023-12-31")})
	p := rowsOf(t, c, Persons)
	want(t, "persons", show(t, p, "person"), "P1 P2")
	want(t, "words that differ say so", show(t, p, "side"), "both sides right")
	want(t, "what agrees", show(t, p, "level"), "transtibial transtibial")
	want(t, "numbers that differ are missing", show(t, p, "amputated"), "- 2022-01-01")
	two := in
	two.Limbs = tab(t, Limbs, `
person | limb | side  | level         | cause  | ward
P1     | L1   | left  | transtibial   | trauma | a
P1     | L3   | right | transfemoral  | -      | b
P2     | L2   | right | transtibial   | trauma | a`)
	q := rowsOf(t, build(t, two, Settings{To: on(t, "2023-12-31")}), Persons)
	want(t, "limbs at two levels", show(t, q, "level"), "more than one transtibial")
	want(t, "known of one limb", show(t, q, "cause"), "trauma trauma")
	want(t, "own words that differ", show(t, q, "ward"), "more than one a")
	want(t, "a limb is none of two", show(t, q, "limb"), "- L2")
	want(t, "last seen and died", show(t, p, "last_seen")+" "+show(t, p, "died"), "2023-03-01 - 2023-04-01 -")
	want(t, "age at the first delivery", show(t, p, "age"), "71.9179 -")
	want(t, "follow-up", show(t, p, "follow_up_days"), "304 -")
	l := rowsOf(t, c, Limbs)
	want(t, "limbs", show(t, l, "limb")+" "+show(t, l, "follow_up_days"), "L1 L2 L3 304 - 274")
	want(t, "flow of limbs", flat(c.Flow(Limbs)), "4 3(-1)")
}

func TestLooked(t *testing.T) {
	c := build(t, Tables{
		Limbs:    oneLimb(t),
		Sockets:  tab(t, Sockets, "socket|limb|kind|delivered\nA|L1|definitive|2022-06-01"),
		Visits:   tab(t, Visits, "visit|socket|date|skin_checked\nV1|A|2022-06-02|yes\nV2|A|2022-06-03|no\nV3|A|2022-06-04|-\nV4|A|2022-06-05|-"),
		Findings: tab(t, Findings, "visit|region|finding\nV3|brim|none"),
	}, Settings{})
	if got := c.visits.looked; !slices.Equal(got, []bool{true, false, true, false}) {
		t.Errorf("looked %v", got)
	}
}

// Every derived column stands where the documentation says, with its unit,
// and no other derived column stands anywhere.
func TestDerivedColumnsAreDocumented(t *testing.T) {
	c := build(t, Tables{Limbs: oneLimb(t), Sockets: tab(t, Sockets, "socket|limb|kind|delivered\nA|L1|definitive|2022-06-01")}, Settings{})
	for _, name := range Names() {
		var documented, found []string
		rows := rowsOf(t, c, name)
		for _, d := range Derived() {
			if slices.Contains(d.Rows, name) {
				documented = append(documented, d.Name)
				col, ok := rows.Col(d.Name)
				if !ok {
					t.Errorf("%s lacks %s", name, d.Name)
					continue
				}
				if !col.Derived || col.Unit != d.Unit || col.Label != d.Label || col.Kind != d.Kind || col.Known != d.Known {
					t.Errorf("%s of %s differs from its documentation: %+v", d.Name, name, col)
				}
			}
			if d.Definition == "" || !strings.HasSuffix(d.Definition, ".") {
				t.Errorf("%s: definition %q", d.Name, d.Definition)
			}
		}
		for _, col := range rows.Columns() {
			if col.Derived {
				found = append(found, col.Name)
			}
		}
		slices.Sort(documented)
		slices.Sort(found)
		if !slices.Equal(documented, found) {
			t.Errorf("%s: documented %v, found %v", name, documented, found)
		}
	}
}

func TestBuildRefusals(t *testing.T) {
	for _, tc := range []struct {
		name string
		in   Tables
		set  Settings
		want error
	}{
		{"a socket twice", Tables{Sockets: tab(t, Sockets, "socket|limb\nA|L1\nA|L1")}, Settings{}, ErrDuplicate},
		{"a limb twice", Tables{Limbs: tab(t, Limbs, "person|limb\nP|L1\nP|L1")}, Settings{}, ErrDuplicate},
		{"a period that ends first", Tables{}, Settings{From: on(t, "2024-01-01"), To: on(t, "2023-01-01")}, ErrPeriod},
	} {
		if _, err := Build(tc.in, tc.set); !errors.Is(err, tc.want) {
			t.Errorf("%s: %v, want %v", tc.name, err, tc.want)
		}
	}
	bad := table.New(Sockets, 1)
	if err := bad.Add(table.NewText("delivered", 1)); err != nil {
		t.Fatal(err)
	}
	if _, err := Build(Tables{Sockets: bad}, Settings{}); !errors.Is(err, ErrKind) {
		t.Errorf("text for a date: %v", err)
	}
	c := build(t, Tables{}, Settings{})
	if _, ok := c.To(); ok {
		t.Error("an empty log has a last day")
	}
	for _, name := range Names() {
		if rows := rowsOf(t, c, name); rows.Rows() != 0 {
			t.Errorf("%s of an empty log: %d rows", name, rows.Rows())
		}
	}
	if _, err := c.Rows("socket"); !errors.Is(err, ErrNoSuchRows) || !strings.Contains(err.Error(), `"sockets"`) {
		t.Errorf("unknown rows: %v", err)
	}
}

func TestSeveralGoroutinesMayAsk(t *testing.T) {
	c := build(t, invented(3, 1), Settings{})
	done := make(chan error)
	for i := range 8 {
		go func() {
			name := Names()[i%len(Names())]
			_, err := c.Rows(name)
			if err == nil && len(c.Flow(name)) == 0 {
				err = errors.New("no flow of " + name)
			}
			if err == nil {
				_, err = c.visitColumn("ply")
			}
			if err == nil {
				_, _, err = c.hits(looseAt("10"))
			}
			done <- err
		}()
	}
	for range 8 {
		if err := <-done; err != nil {
			t.Error(err)
		}
	}
}
