package table

import (
	"errors"
	"fmt"
	"math"
	"reflect"
	"strings"
	"testing"
)

// sockets is a small table with every kind of column and missing values.
func sockets(t testing.TB) *Table {
	t.Helper()
	tb := New("sockets", 5)
	kind := NewText("kind", 5)
	for i, v := range []string{"definitive", "Check ", "definitive", "", "preparatory"} {
		kind.SetText(i, v)
	}
	ply := NewNumber("ply", "ply", 5)
	for i, v := range []float64{3, 10, math.NaN(), 8, 15} {
		ply.SetNum(i, v)
	}
	cast := NewDate("cast_on", 5)
	for i, v := range []string{"2024-01-31", "2024-02-01", "2023-12-31", "", "2025-06-30"} {
		if v != "" {
			d, err := ParseDate(v)
			if err != nil {
				t.Fatal(err)
			}
			cast.SetNum(i, d)
		}
	}
	age := NewNumber("age", "years", 5)
	own := NewNumber("own.age", "", 5)
	own.Own = true
	foam := NewText("foam", 5)
	foam.Own = true
	foam.SetText(0, "Soft")
	ownFoam := *foam
	ownFoam.Name = "own.foam"
	for _, c := range []*Column{kind, ply, cast, age, own, foam, &ownFoam} {
		if err := tb.Add(c); err != nil {
			t.Fatal(err)
		}
	}
	return tb
}

func TestMatch(t *testing.T) {
	one := func(col string, v ...string) Clause { return Clause{Column: col, Values: v} }
	between := func(col, lo, hi string) Clause { return Clause{Column: col, Test: Between, Low: lo, High: hi} }
	for _, tc := range []struct {
		name string
		cond Condition
		want []int
	}{
		{"zero condition keeps all", Condition{}, []int{0, 1, 2, 3, 4}},
		{"text folds case and trims", Condition{Clauses: []Clause{one("kind", " DEFINITIVE", "check")}}, []int{0, 1, 2}},
		{"missing meets no value", Condition{Clauses: []Clause{one("kind", "")}}, []int{}},
		{"no value matches nothing", Condition{Clauses: []Clause{one("kind")}}, []int{}},
		{"number given as text", Condition{Clauses: []Clause{one("ply", "10.0", " 3 ")}}, []int{0, 1}},
		{"range includes both ends", Condition{Clauses: []Clause{between("ply", "8", "10")}}, []int{1, 3}},
		{"open range leaves missing out", Condition{Clauses: []Clause{between("ply", "", "")}}, []int{0, 1, 3, 4}},
		{"from a bound", Condition{Clauses: []Clause{between("ply", "10", "")}}, []int{1, 4}},
		{"range of dates", Condition{Clauses: []Clause{between("cast_on", "2024-01-01", "2024-01-31")}}, []int{0}},
		{"one date", Condition{Clauses: []Clause{one("cast_on", "2025-06-30")}}, []int{4}},
		{"is missing", Condition{Clauses: []Clause{{Column: "ply", Test: IsMissing}}}, []int{2}},
		{"is known", Condition{Clauses: []Clause{{Column: "cast_on", Test: IsKnown}}}, []int{0, 1, 2, 4}},
		{"clauses are all needed", Condition{Clauses: []Clause{one("kind", "definitive"), between("ply", "", "5")}}, []int{0}},
		{"any of", Condition{Any: []Condition{
			{Clauses: []Clause{one("kind", "check")}}, {Clauses: []Clause{between("ply", "15", "")}}}}, []int{1, 4}},
		{"clauses and any of", Condition{Clauses: []Clause{one("kind", "preparatory")}, Any: []Condition{
			{Clauses: []Clause{one("kind", "check")}}, {Clauses: []Clause{between("ply", "15", "")}}}}, []int{4}},
		{"own column by bare name", Condition{Clauses: []Clause{one("foam", "soft")}}, []int{0}},
		{"own column by full name", Condition{Clauses: []Clause{one("own.foam", "soft")}}, []int{0}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			got, err := tc.cond.Rows(sockets(t))
			if err != nil {
				t.Fatal(err)
			}
			if !reflect.DeepEqual(got, tc.want) {
				t.Errorf("rows %v, want %v", got, tc.want)
			}
		})
	}
}

func TestMatchErrors(t *testing.T) {
	for _, tc := range []struct {
		name    string
		clause  Clause
		nearest string
		text    string
	}{
		{"unknown column, near", Clause{Column: "kidn", Values: []string{"x"}}, "kind", "no such column"},
		{"unknown column, far", Clause{Column: "temperature"}, "", "no such column"},
		{"unknown even for missing", Clause{Column: "plyy", Test: IsMissing}, "ply", "no such column"},
		{"word for a number", Clause{Column: "ply", Values: []string{"five"}}, "", `"five" is not a number`},
		{"infinity is no bound", Clause{Column: "ply", Test: Between, Low: "-Inf"}, "", "not a number"},
		{"hexadecimal is no number", Clause{Column: "ply", Values: []string{"0x1p4"}}, "", "not a number"},
		{"day that does not exist", Clause{Column: "cast_on", Test: Between, High: "2024-02-30"}, "", "not a date"},
		{"number for a date", Clause{Column: "cast_on", Values: []string{"19000"}}, "", "not a date"},
		{"range of text", Clause{Column: "kind", Test: Between, Low: "1", High: "2"}, "", "needs numbers or dates"},
		{"range backwards", Clause{Column: "ply", Test: Between, Low: "10", High: "3"}, "", "before it begins"},
		{"bare name of own and derived", Clause{Column: "age", Test: IsKnown}, "own.age", "write own.age"},
		{"unknown test", Clause{Column: "ply", Test: Test(9)}, "", "unknown kind of test"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			tc.clause.Line, tc.clause.Col = 12, 8
			_, err := Condition{Any: []Condition{{Clauses: []Clause{tc.clause}}}}.Match(sockets(t))
			var ce *ConditionError
			if !errors.As(err, &ce) {
				t.Fatalf("error %v, want a *ConditionError", err)
			}
			if ce.Column != tc.clause.Column || ce.Nearest != tc.nearest || ce.Line != 12 || ce.Col != 8 {
				t.Errorf("got %+v", ce)
			}
			if !strings.Contains(ce.Error(), tc.text) || !strings.HasPrefix(ce.Error(), "line 12, column 8: ") {
				t.Errorf("text %q lacks %q", ce.Error(), tc.text)
			}
		})
	}
}

func TestUnseenNamesTheNearestValue(t *testing.T) {
	c := Condition{Clauses: []Clause{{Column: "kind", Values: []string{"definitve", "CHECK"}}, {Column: "ply", Values: []string{"99"}}}}
	got := c.Unseen(sockets(t))
	if len(got) != 1 || got[0].Nearest != "definitive" {
		t.Errorf("unseen %v", got)
	}
	if names := c.Columns(); !reflect.DeepEqual(names, []string{"kind", "ply"}) {
		t.Errorf("columns %v", names)
	}
}

func TestNearest(t *testing.T) {
	words := []string{"cast_by", "cast_on", "cast_method", "ply", "age"}
	for word, want := range map[string]string{
		"cast_no": "cast_on", "Cast_On": "cast_on", "castmethod": "cast_method", "plyes": "ply", "plies": "",
		"zzz": "", "": "", "a": "", "cast_o": "cast_on", "cast_bn": "cast_by",
	} {
		if got := Nearest(word, words); got != want {
			t.Errorf("Nearest(%q) = %q, want %q", word, got, want)
		}
	}
}

func TestFoldAgreesWithEqualFold(t *testing.T) {
	for _, p := range [][2]string{{"Straße", "STRAßE"}, {"K", "\u212a"}, {"ΣΑΣ", "σας"}, {"a", "b"}, {"ſ", "S"}} {
		if got, want := Fold(p[0]) == Fold(p[1]), strings.EqualFold(p[0], p[1]); got != want {
			t.Errorf("Fold(%q) == Fold(%q) is %v, want %v", p[0], p[1], got, want)
		}
	}
}

func TestDatesRoundTrip(t *testing.T) {
	for _, s := range []string{"1970-01-01", "1969-12-31", "1900-03-01", "2024-02-29", "2100-12-31"} {
		d, err := ParseDate(s)
		if err != nil || FormatDate(d) != s {
			t.Errorf("%s -> %v -> %s (%v)", s, d, FormatDate(d), err)
		}
	}
	if d, _ := ParseDate("2024-01-01"); d != 19723 {
		t.Errorf("2024-01-01 is day %v, want 19723", d)
	}
}

func FuzzMatch(f *testing.F) {
	f.Add("ply", 0, "10", "3", "9")
	f.Add("cast_on", 1, "2024-01-01", "2023-01-01", "")
	f.Add("own.age", 2, "", "", "")
	f.Add("Kind", 7, "\xff", "NaN", "1e999")
	f.Fuzz(func(t *testing.T, col string, test int, v, lo, hi string) {
		tb := sockets(t)
		cl := Clause{Column: col, Test: Test(test), Values: []string{v}, Low: lo, High: hi}
		hit, err := Condition{Clauses: []Clause{cl}}.Match(tb)
		var ce *ConditionError
		if err != nil {
			if !errors.As(err, &ce) {
				t.Fatalf("error %v is no *ConditionError", err)
			}
			if ce.Nearest != "" && !tb.Has(ce.Nearest) {
				t.Fatalf("nearest %q does not exist", ce.Nearest)
			}
			return
		}
		c, _ := tb.Col(col)
		for i, h := range hit {
			if c.Missing[i] && h != (cl.Test == IsMissing) {
				t.Fatalf("row %d is missing and matched %v", i, h)
			}
		}
	})
}

func ExampleCondition_Match() {
	t := New("visits", 3)
	ply := NewNumber("ply", "ply", 3)
	ply.SetNum(0, 5)
	ply.SetNum(1, 12)
	if err := t.Add(ply); err != nil {
		fmt.Println(err)
	}
	hit, err := Condition{Clauses: []Clause{{Column: "ply", Test: Between, Low: "10"}}}.Match(t)
	fmt.Println(hit, err)
	_, err = Condition{Clauses: []Clause{{Column: "pyl", Test: IsKnown}}}.Match(t)
	fmt.Println(err)
	// Output:
	// [false true false] <nil>
	// column "pyl": no such column in the table of visits; did you mean "ply"?
}

func BenchmarkMatch(b *testing.B) {
	const n = 500_000
	t := New("visits", n)
	kind, ply := NewText("kind", n), NewNumber("ply", "ply", n)
	for i := range n {
		kind.SetText(i, [...]string{"check", "definitive", "preparatory"}[i%3])
		ply.SetNum(i, float64(i%20))
	}
	for _, c := range []*Column{kind, ply} {
		if err := t.Add(c); err != nil {
			b.Fatal(err)
		}
	}
	c := Condition{Clauses: []Clause{{Column: "kind", Values: []string{"definitive"}}, {Column: "ply", Test: Between, Low: "10"}}}
	b.ResetTimer()
	for range b.N {
		if _, err := c.Match(t); err != nil {
			b.Fatal(err)
		}
	}
}
