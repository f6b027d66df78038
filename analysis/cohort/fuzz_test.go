package cohort

import (
	"math"
	"testing"

	"plybook/analysis/table"
)

// FuzzBuild makes small logs of arbitrary links, dates and reasons, and
// checks what must hold of every log: no table of rows fails, no number is
// NaN without being missing, and no life runs backwards.
func FuzzBuild(f *testing.F) {
	f.Add([]byte{0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16, 17, 18}, uint8(3))
	f.Add([]byte("a log of nonsense, long enough to fill some columns with values"), uint8(9))
	f.Fuzz(func(t *testing.T, b []byte, to uint8) {
		next := func() int {
			if len(b) == 0 {
				return 255
			}
			v := int(b[0])
			b = b[1:]
			return v
		}
		ids := []string{"A", "B", "C", "D", "E", ""}
		fill := func(tb *table.Table, dates, texts []string, words []string) {
			for _, name := range dates {
				c := table.NewDate(name, tb.Rows())
				if name == "ply" {
					c = table.NewNumber(name, "ply", tb.Rows())
				}
				for i := range tb.Rows() {
					if v := next(); v < 200 {
						c.SetNum(i, float64(v))
					}
				}
				if err := tb.Add(c); err != nil {
					t.Fatal(err)
				}
			}
			for _, name := range texts {
				c := table.NewText(name, tb.Rows())
				for i := range tb.Rows() {
					c.SetText(i, words[next()%len(words)])
				}
				if err := tb.Add(c); err != nil {
					t.Fatal(err)
				}
			}
		}
		own := func(tb *table.Table, name string) {
			c := table.NewText(name, tb.Rows())
			for i := range tb.Rows() {
				c.SetText(i, ids[i])
			}
			if err := tb.Add(c); err != nil {
				t.Fatal(err)
			}
		}
		limbs, sockets, visits, stations := table.New(Limbs, 3), table.New(Sockets, 5), table.New(Visits, 5), table.New(Stations, 6)
		own(limbs, "limb")
		fill(limbs, limbDates, []string{"person"}, []string{"P", "Q", ""})
		own(sockets, "socket")
		fill(sockets, socketDates, []string{"limb", "replaces"}, ids)
		fill(sockets, nil, []string{"kind"}, []string{KindCheck, KindDefinitive, KindPreparatory, ""})
		fill(sockets, nil, []string{"end_reason"}, []string{"", "remake: volume loss", "moved away", "died", "unknown"})
		own(visits, "visit")
		fill(visits, []string{"date", "ply"}, []string{"socket"}, ids)
		fill(visits, nil, []string{"purpose"}, []string{PurposeCheckFitting, PurposeDelivery, ""})
		fill(stations, []string{"date", "station_mm", "limb_mm", "model_mm"}, []string{"limb", "socket"}, ids)
		set := reasons(Settings{})
		if to < 200 {
			day := float64(to)
			set.To = &day
			early := day / 2
			set.From, set.LogSince = &early, &early
		}
		c, err := Build(Tables{Limbs: limbs, Sockets: sockets, Visits: visits, Stations: stations}, set)
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range Names() {
			rows, err := c.Rows(name)
			if err != nil {
				t.Fatal(err)
			}
			for _, col := range rows.Columns() {
				for i, v := range col.Num {
					if (math.IsNaN(v) || math.IsInf(v, 0)) != col.Missing[i] {
						t.Fatalf("%s of %s row %d is %v, missing %v", col.Name, name, i, v, col.Missing[i])
					}
				}
			}
			if steps := c.Flow(name); steps[len(steps)-1].Rows != rows.Rows() {
				t.Fatalf("flow of %s ends at %d of %d rows", name, steps[len(steps)-1].Rows, rows.Rows())
			}
		}
		rows, err := c.Rows(Sockets)
		if err != nil {
			t.Fatal(err)
		}
		l, err := c.Lives(rows, LifeSpec{Rest: "other"})
		if err != nil {
			t.Fatal(err)
		}
		seen, err := c.SeenLives(rows, looseAt("100"), LifeSpec{})
		if err != nil {
			t.Fatal(err)
		}
		for _, l := range []*Lives{l, &seen.Lives} {
			for i := range l.Row {
				if l.Time[i] < 0 || l.Entry[i] < 0 || l.Entry[i] > 0 && l.Time[i] <= l.Entry[i] || !(l.IfPresent[i] >= l.Time[i]) || l.Cause[i] > len(l.Causes) {
					t.Fatalf("life %d: entry %v, time %v, if present %v, cause %d", i, l.Entry[i], l.Time[i], l.IfPresent[i], l.Cause[i])
				}
				if l.Start[i]+l.Time[i] > c.to {
					t.Fatalf("life %d runs past the day of reading", i)
				}
			}
		}
		for i := range seen.Row {
			if seen.Left[i] > seen.Right[i] || seen.Left[i] < seen.Entry[i] {
				t.Fatalf("life %d is between %v and %v, watched from %v", i, seen.Left[i], seen.Right[i], seen.Entry[i])
			}
		}
		r, err := c.Repeats(rows, RepeatSpec{})
		if err != nil {
			t.Fatal(err)
		}
		for i := range r.Row {
			if r.Exit[i] < r.Entry[i] || r.Entry[i] < 0 {
				t.Fatalf("subject %d is watched from %v to %v", i, r.Entry[i], r.Exit[i])
			}
		}
	})
}
