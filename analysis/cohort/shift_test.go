package cohort

import (
	"errors"
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"

	"plybook/analysis/table"
)

// Dates that are moved person by person change no time between two of them,
// no age and no count, whatever is asked of the log; every date of a table is
// moved by the days of its person, and by nothing else.
func TestShiftedDatesChangeNoDuration(t *testing.T) {
	in := invented(40, 3)
	last := table.NewDate("own.checked", in.Visits.Rows()) // own dates, some after the data cut
	last.Own = true
	for i := range in.Visits.Rows() {
		last.SetNum(i, 19000+float64(i%3000))
	}
	end := table.NewDate("own.cracked", in.Sockets.Rows())
	end.Own = true
	for i := 0; i < in.Sockets.Rows(); i += 3 {
		end.SetNum(i, 19000+float64(i*5))
	}
	for _, add := range []struct {
		to *table.Table
		c  *table.Column
	}{{in.Visits, last}, {in.Sockets, end}} {
		if err := add.to.Add(add.c); err != nil {
			t.Fatal(err)
		}
	}
	shift := map[string]float64{}
	for i := range 40 {
		shift[fmt.Sprintf("P%d", i)] = float64(7 * (i%26 - 13))
	}
	plain, moved := build(t, in, Settings{UnseenDays: 60}), build(t, in, Settings{UnseenDays: 60, Shift: shift})
	for _, name := range Names() {
		a, b := rowsOf(t, plain, name), rowsOf(t, moved, name)
		if a.Rows() != b.Rows() || a.Rows() == 0 {
			t.Fatalf("%s: %d rows and %d", name, a.Rows(), b.Rows())
		}
		person, _ := a.Col("person")
		dates := 0
		for _, x := range a.Columns() {
			y, ok := b.Col(x.Name)
			if !ok {
				t.Fatalf("%s: no %s", name, x.Name)
			}
			for i := range a.Rows() {
				if (x.Name == YearDelivered || x.Name == MonthOfYear) && !x.Own {
					if !y.Missing[i] {
						t.Fatalf("%s.%s row %d: a year or a month is told where no day is known", name, x.Name, i)
					}
					continue
				}
				if x.Missing[i] != y.Missing[i] {
					t.Fatalf("%s.%s row %d: missing %v and %v", name, x.Name, i, x.Missing[i], y.Missing[i])
				}
				switch {
				case x.Missing[i]:
				case x.Kind == table.Text:
					if x.Text[i] != y.Text[i] {
						t.Fatalf("%s.%s row %d: %q and %q", name, x.Name, i, x.Text[i], y.Text[i])
					}
				case x.Kind == table.Date:
					dates++
					if y.Num[i]-x.Num[i] != shift[person.Text[i]] {
						t.Fatalf("%s.%s row %d of %s: moved by %g days", name, x.Name, i, person.Text[i], y.Num[i]-x.Num[i])
					}
				case x.Num[i] != y.Num[i]:
					t.Fatalf("%s.%s row %d: %v and %v", name, x.Name, i, x.Num[i], y.Num[i])
				}
			}
		}
		if dates == 0 {
			t.Errorf("%s: no date was compared", name)
		}
	}
	compared := 0
	for i := range in.Visits.Rows() {
		id := fmt.Sprintf("V%d", i)
		a, gapA := plain.SockChange(id)
		b, gapB := moved.SockChange(id)
		if gapA != gapB || !reflect.DeepEqual(fmt.Sprint(a), fmt.Sprint(b)) {
			t.Fatalf("socks of %s: %q %v\n%q %v", id, gapA, a, gapB, b)
		}
		if gapA == "" {
			compared++
		}
	}
	if compared < 20 {
		t.Errorf("socks of %d visits were compared", compared)
	}
	late := table.Condition{Clauses: []table.Clause{{Column: "ply", Test: table.Between, Low: "6"}}}
	for _, spec := range []LifeSpec{{}, {Start: "cast_on"}, {End: "own.cracked"}, {Entry: "amputated"}, {Rest: "other"}} {
		a, err := plain.Lives(rowsOf(t, plain, Sockets), spec)
		if err != nil {
			t.Fatal(err)
		}
		b, err := moved.Lives(rowsOf(t, moved, Sockets), spec)
		if err != nil {
			t.Fatal(err)
		}
		sameLives(t, fmt.Sprintf("%+v", spec), a, b)
		if a.Len() < 100 || len(a.Censored) == 0 {
			t.Errorf("%+v: %d lives", spec, a.Len())
		}
		c, err1 := a.Landmark(30)
		d, err2 := b.Landmark(30)
		if err1 != nil || err2 != nil {
			t.Fatal(err1, err2)
		}
		sameLives(t, "after a landmark", c, d)
	}
	a, err1 := plain.SeenLives(rowsOf(t, plain, Sockets), late, LifeSpec{})
	b, err2 := moved.SeenLives(rowsOf(t, moved, Sockets), late, LifeSpec{})
	if err1 != nil || err2 != nil {
		t.Fatal(err1, err2)
	}
	sameLives(t, "until seen", &a.Lives, &b.Lives)
	if !reflect.DeepEqual(a.Left, b.Left) || !reflect.DeepEqual(a.Looks, b.Looks) {
		t.Error("the visits at which it was looked for differ")
	}
}

func sameLives(t *testing.T, what string, a, b *Lives) {
	t.Helper()
	unseen, present := 0, 0
	for i := range a.Len() {
		if a.Unseen[i] {
			unseen++
		}
		if a.IfPresent[i] != a.Time[i] {
			present++
		}
		if a.Cut(i)-a.Start[i] != b.Cut(i)-b.Start[i] {
			t.Fatalf("%s: life %d could have been watched for %g and %g days", what, i, a.Cut(i)-a.Start[i], b.Cut(i)-b.Start[i])
		}
	}
	for _, pair := range [][2]any{{a.Time, b.Time}, {a.Entry, b.Entry}, {a.Cause, b.Cause}, {a.EndReason, b.EndReason}, {a.Basis, b.Basis}, {a.Person, b.Person},
		{a.IfPresent, b.IfPresent}, {a.Unseen, b.Unseen}, {a.Negative, b.Negative}, {a.Censored, b.Censored}, {a.Dated, b.Dated}, {a.Row, b.Row}} {
		if !reflect.DeepEqual(pair[0], pair[1]) {
			t.Errorf("%s:\n%v\n%v", what, pair[0], pair[1])
		}
	}
	if what == fmt.Sprintf("%+v", LifeSpec{}) && (unseen == 0 || present == 0) {
		t.Errorf("%d unseen, %d could have been watched longer: nothing was compared", unseen, present)
	}
}

func TestShiftKeepsNoDayOfTheCalendar(t *testing.T) {
	in := Tables{
		Limbs:   tab(t, Limbs, "person | limb | born\nP1 | L1 | 1950\nP2 | L2 | 1960"),
		Sockets: tab(t, Sockets, "socket | limb | kind | delivered | ended | end_reason\nA | L1 | definitive | 2022-01-01 | 2022-03-01 | remake: volume loss\nB | L2 | definitive | 2022-01-01 | - | -\nC | L9 | definitive | 2022-01-01 | - | -"),
	}
	d := day(t, "2022-01-01")
	for _, set := range []Settings{{From: &d}, {To: &d}, {LogSince: &d}} {
		set.Shift = map[string]float64{"P1": 7}
		if _, err := Build(in, reasons(set)); !errors.Is(err, ErrShift) {
			t.Errorf("%+v: %v", set, err)
		}
	}
	c := build(t, in, Settings{Shift: map[string]float64{"P1": 7}})
	// P2 has no shift and C no person: their true dates are not kept.
	want(t, "delivered", show(t, rowsOf(t, c, Sockets), "delivered"), "2022-01-08 - -")
	want(t, "ended", show(t, rowsOf(t, c, Sockets), "ended"), "2022-03-08 - -")
	for _, s := range append(c.Flow(Sockets), c.Flow(Limbs)...) {
		if strings.Contains(s.Step+s.Reason, "2022") {
			t.Errorf("the flow names a day: %+v", s)
		}
	}
	if to, ok := c.To(); !ok || math.IsInf(to, 0) {
		t.Errorf("the data cut is %g", to)
	}
}
