package cohort

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"plybook/analysis/table"
)

// showSpells writes spells with the values in force: "0:0-59 3".
func showSpells(spells []Spell, hs ...*History) string {
	var out []string
	for _, s := range spells {
		x := fmt.Sprintf("%d:%g-%g", s.Of, s.Entry, s.Time)
		if s.Entry == afterStart {
			x = fmt.Sprintf("%d:0+-%g", s.Of, s.Time)
		}
		if s.Event {
			x += "!"
		}
		if s.Number != 1 {
			x += fmt.Sprintf("#%d", s.Number)
		}
		for i, h := range hs {
			v := "-"
			if s.At[i] >= 0 && h.Column.Kind == table.Text {
				v = h.Column.Text[s.At[i]]
			} else if s.At[i] >= 0 {
				v = fmt.Sprintf("%.3g", h.Column.Num[s.At[i]])
			}
			x += " " + v
		}
		out = append(out, x)
	}
	return strings.Join(out, "; ")
}

func varyingLog(t *testing.T) *Cohort { return varyingLogOf(t, Settings{}) }

func varyingLogFrom(t *testing.T, from string) *Cohort {
	return varyingLogOf(t, Settings{From: on(t, from)})
}

func varyingLogOf(t *testing.T, set Settings) *Cohort {
	return build(t, Tables{
		Limbs: tab(t, Limbs, "person|limb|level\nP1|L1|transtibial\nP2|L2|transtibial\nP3|L3|transtibial"),
		Sockets: tab(t, Sockets, `
socket | limb | kind       | cast_on    | delivered  | ended      | end_reason
A      | L1   | definitive | 2021-12-20 | 2022-01-01 | 2022-04-11 | remake: volume loss
B      | L1   | definitive | -          | 2022-04-21 | 2022-06-10 | remake: volume loss
C      | L2   | definitive | -          | 2022-01-01 | 2022-01-01 | remake: pain or pressure
D      | L3   | definitive | -          | 2022-02-01 | -          | -`),
		Visits: tab(t, Visits, `
visit | socket | date       | purpose   | ply | comfort | action
V0    | A      | 2021-12-28 | fitting   | 1   | -       | -
V1    | A      | 2022-01-01 | delivery  | 3   | 8       | -
V2    | A      | 2022-02-10 | follow-up | 3   | -       | ground
V3    | A      | 2022-03-02 | follow-up | 6   | 7       | -
V4    | A      | 2022-04-11 | follow-up | 9   | 4       | reline
V5    | B      | 2022-05-01 | follow-up | 2   | 6       | -
V6    | C      | 2022-01-01 | delivery  | 4   | -       | -
V7    | D      | 2022-02-01 | delivery  | 5   | -       | -
V8    | D      | 2022-03-03 | follow-up | 5   | 9       | -`),
		Stations: tab(t, Stations, `
limb | date       | landmark | station_mm | limb_mm | over
L1   | 2021-12-21 | MTP      | 0          | 300     | skin
L1   | 2021-12-21 | MTP      | 100        | 300     | skin
L1   | 2022-02-20 | MTP      | 0          | 270     | skin
L1   | 2022-02-20 | MTP      | 100        | 270     | skin
L1   | 2022-04-11 | MTP      | 0          | 200     | skin
L1   | 2022-04-11 | MTP      | 100        | 200     | skin`),
	}, set)
}

// A value holds from the day after it was recorded: that of the day of the
// event (9 ply, comfort 4) explains nothing, and an unchanged one cuts
// nothing.
func TestSpellsOfLives(t *testing.T) {
	c := varyingLog(t)
	l, err := c.Lives(rowsOf(t, c, Sockets), LifeSpec{})
	if err != nil {
		t.Fatal(err)
	}
	history := func(name string) *History {
		t.Helper()
		h, err := l.History(name)
		if err != nil {
			t.Fatal(err)
		}
		return h
	}
	want(t, "without histories", showSpells(l.Spells(nil)), "0:0-100!; 1:0-50!; 2:0-0!; 3:0-30")
	// C ended on the day of its delivery, when nothing was known before: at
	// that time the others have no value either.
	ply, comfort := history("ply"), history("comfort")
	want(t, "ply", showSpells(l.Spells([]*History{ply}), ply),
		"0:0-0 -; 0:0+-60 3; 0:60-100! 6; 1:0-10 -; 1:10-50! 2; 2:0-0! -; 3:0-0 -; 3:0+-30 5")
	want(t, "comfort and ply", showSpells(l.Spells([]*History{comfort, ply}), comfort, ply),
		"0:0-0 - -; 0:0+-60 8 3; 0:60-100! 7 6; 1:0-10 - -; 1:10-50! 6 2; 2:0-0! - -; 3:0-0 - -; 3:0+-30 - 5")
	action := history("action")
	want(t, "text", showSpells(l.Spells([]*History{action}), action), "0:0-40 -; 0:40-100! ground; 1:0-50! -; 2:0-0! -; 3:0-30 -")
	// Cylinders: (270^2 - 300^2) / 300^2. What was measured on the day of the
	// remake comes too late.
	volume := history("volume_change_pct")
	want(t, "volume", showSpells(l.Spells([]*History{volume}), volume), "0:0-50 -; 0:50-100! -19; 1:0-50! -; 2:0-0! -; 3:0-30 -")

	at, err := l.Landmark(50)
	if err != nil {
		t.Fatal(err)
	}
	if ply, err = at.History("ply"); err != nil {
		t.Fatal(err)
	}
	want(t, "after a landmark", showSpells(at.Spells([]*History{ply}), ply), "0:0-10 3; 0:10-50! 6")

	var fixed *FixedError
	for name, clock := range map[string]bool{"level": false, "cast_on": false, "days_since_delivery": true} {
		if _, err := l.History(name); !errors.As(err, &fixed) || fixed.Clock != clock {
			t.Errorf("history of %s: %v", name, err)
		}
	}
	var missing *table.ConditionError
	if _, err := l.History("plyy"); !errors.As(err, &missing) {
		t.Errorf("history of no column: %v", err)
	}
}

func TestSpellsOfRepeats(t *testing.T) {
	c := varyingLog(t)
	r, err := c.Repeats(rowsOf(t, c, Limbs), RepeatSpec{})
	if err != nil {
		t.Fatal(err)
	}
	ply, err := r.History("ply")
	if err != nil {
		t.Fatal(err)
	}
	for _, tc := range []struct {
		clock Clock
		want  string
	}{
		{TotalTime, "0:0-0 -; 0:0+-60 3; 0:60-100! 6; 0:100-120#2 9; 0:120-160!#2 2; 1:0-0! -; 2:0-0 -; 2:0+-30 5"},
		{GapTime, "0:0-0 -; 0:0+-60 3; 0:60-100! 6; 0:0-20#2 9; 0:20-60!#2 2; 1:0-0! -; 2:0-0 -; 2:0+-30 5"},
		{Marginal, "0:0-0 -; 0:0+-60 3; 0:60-100! 6; 0:0-0#2 -; 0:0+-60#2 3; 0:60-100#2 6; 0:100-120#2 9; 0:120-160!#2 2; " +
			"1:0-0! -; 1:0-0#2 -; 2:0-0 -; 2:0+-30 5; 2:0-0#2 -; 2:0+-30#2 5"},
	} {
		spells, same := r.Spells([]*History{ply}, tc.clock)
		want(t, fmt.Sprintf("clock %d", tc.clock), showSpells(spells, ply), tc.want)
		if same != 0 {
			t.Errorf("clock %d: %d on one day", tc.clock, same)
		}
	}
	// Visits with ply 3 or less, two of them on limb 1 before the first
	// remake: the watch goes on after each.
	cond := table.Condition{Clauses: []table.Clause{{Column: "ply", Test: table.Between, High: "3"}}}
	if r, err = c.Repeats(rowsOf(t, c, Limbs), RepeatSpec{Seen: &cond}); err != nil {
		t.Fatal(err)
	}
	spells, _ := r.Spells(nil, TotalTime)
	want(t, "visits", showSpells(spells), "0:0-0!; 0:0+-40!#2; 0:40-120!#3; 0:120-160#4; 1:0-0; 2:0-30")
}

func TestEventsOfOneDay(t *testing.T) {
	c := build(t, Tables{
		Limbs: tab(t, Limbs, limbs3),
		Sockets: tab(t, Sockets, `
socket | limb | kind       | delivered  | ended      | end_reason
A      | L1   | definitive | 2022-01-01 | 2022-04-11 | remake: volume loss
B      | L1   | definitive | 2022-01-11 | 2022-04-11 | remake: volume loss`),
		Visits: tab(t, Visits, "visit|socket|date|ply\nV|A|2022-05-01|3"),
	}, Settings{})
	r, err := c.Repeats(rowsOf(t, c, Limbs), RepeatSpec{})
	if err != nil {
		t.Fatal(err)
	}
	spells, same := r.Spells(nil, GapTime)
	want(t, "two sockets remade on a day", showSpells(spells), "0:0-100!; 0:0-20#2")
	if same != 1 {
		t.Errorf("%d not counted", same)
	}
}
