package study_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"plybook/ingest"
	"plybook/reports/study"
)

// The dates of each person move by the days of codes.csv and by nothing else.
func TestDatesMoveWithTheirPerson(t *testing.T) {
	log := namedLog()
	log.Own["visits"] = []ingest.OwnColumn{{Name: "checked", Kind: ingest.OwnDate, Num: []float64{19500, 19600}, OK: []bool{true, true}}}
	log.Own["sockets"] = append(log.Own["sockets"],
		ingest.OwnColumn{Name: "batch", Kind: ingest.OwnText, Text: []string{"A of 2022-03-01", "B", "5 March 2022"}, OK: []bool{true, true, true}},
		ingest.OwnColumn{Name: "made", Kind: ingest.OwnNumber, Num: []float64{20220301, 20220404, 20220505}, OK: []bool{true, true, true}})
	codes := codesFor(log)
	codes.Shift = map[string]int{"P-7": 14, "P-8": -35}
	front := "audience: quality\nshift_dates: 60d"
	plain, err := study.New(parse(t, "audience: quality"), log, codes)
	if err != nil {
		t.Fatal(err)
	}
	moved, err := study.New(parse(t, front), log, codes)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ rows, column, want string }{
		{"sockets", "delivered", "[14 14 -35]"}, {"sockets", "ended", "[14 0 0]"}, {"visits", "date", "[14 -35]"}, {"visits", "own.checked", "[14 -35]"},
		{"stations", "date", "[14]"}, {"forming", "date", "[14]"},
	} {
		a, err1 := plain.Cohort.Rows(c.rows)
		b, err2 := moved.Cohort.Rows(c.rows)
		if err1 != nil || err2 != nil {
			t.Fatal(err1, err2)
		}
		x, _ := a.Col(c.column)
		y, _ := b.Col(c.column)
		var by []float64
		for i := range x.Num {
			if x.Missing[i] != y.Missing[i] {
				t.Errorf("%s.%s row %d: missing %v and %v", c.rows, c.column, i, x.Missing[i], y.Missing[i])
			}
			if x.Missing[i] {
				by = append(by, 0)
				continue
			}
			by = append(by, y.Num[i]-x.Num[i])
		}
		if fmt.Sprint(by) != c.want {
			t.Errorf("%s.%s moved by %v, want %s", c.rows, c.column, by, c.want)
		}
	}
	if text := everyText(t, moved.Cohort); strings.Contains(text, "2022") || !strings.Contains(text, "A of (date)") {
		t.Errorf("a date stands in a text:\n%s", text)
	}
	rows, err := moved.Cohort.Rows("sockets")
	if err != nil {
		t.Fatal(err)
	}
	if col, ok := rows.Col("own.made"); !ok || !col.Missing[0] || !col.Missing[1] {
		t.Error("days written as numbers are kept")
	}

	for _, bad := range []map[string]int{nil, {"P-7": 14}, {"P-7": 14, "P-8": -63}} {
		codes.Shift = bad
		if _, err := study.New(parse(t, front), log, codes); !errors.Is(err, study.ErrNoShift) {
			t.Errorf("shifts %v: %v", bad, err)
		}
	}
	if _, err := study.New(parse(t, front), log, nil); !errors.Is(err, study.ErrNoShift) {
		t.Errorf("without codes: %v", err)
	}
}

func TestWithoutDates(t *testing.T) {
	for in, want := range map[string]string{
		"batch of 2024-03-05":    "batch of (date)",
		"05/03/24, PETG":         "(date), PETG",
		"5.3.2024":               "(date)",
		"2024-03":                "(date)",
		"03/2024 stock":          "(date) stock",
		"5 March 2024":           "(date)",
		"March 5, 2024":          "(date)",
		"5th of Mar":             "(date)",
		"Mar 24 trial":           "(date) trial",
		"MARCH 2024":             "(date)",
		"lot 20240305":           "lot (date)",
		"after 2021":             "after 2021",
		"PP 12 mm":               "PP 12 mm",
		"hand 3-5 layers":        "hand 3-5 layers",
		"Marlow 2 foam":          "Marlow 2 foam",
		"mayo 3":                 "mayo 3",
		"1/2 in":                 "1/2 in",
		"":                       "",
		"Clinic B, 14 Mary Road": "Clinic B, 14 Mary Road",
	} {
		if got := study.WithoutDates(in); got != want {
			t.Errorf("%q became %q, want %q", in, got, want)
		}
	}
}
