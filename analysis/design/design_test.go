package design

import (
	"errors"
	"reflect"
	"testing"

	"plybook/analysis/table"
)

func sample(t *testing.T) *table.Table {
	t.Helper()
	tb := table.New("sockets", 6)
	age := table.NewNumber("age", "years", 6)
	for i, v := range []float64{50, 60, 70, 55, 65, 75} {
		age.SetNum(i, v)
	}
	cause := table.NewText("cause", 6)
	for i, v := range []string{"trauma", "vascular", "vascular", "", "trauma", "vascular"} {
		cause.SetText(i, v)
	}
	flat := table.NewNumber("flat", "", 6)
	for i := range 6 {
		flat.SetNum(i, 3)
	}
	day := table.NewDate("delivered", 6)
	for i := range 6 {
		day.SetNum(i, float64(i))
	}
	for _, c := range []*table.Column{age, cause, flat, day} {
		if err := tb.Add(c); err != nil {
			t.Fatal(err)
		}
	}
	return tb
}

func all(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

func TestBuild(t *testing.T) {
	tb := sample(t)
	d, err := Build(tb, all(6), Spec{Terms: []string{"cause", "age"}, Interact: [][2]string{{"cause", "age"}}})
	if err != nil {
		t.Fatal(err)
	}
	want := [][]float64{{1, 0, 0, 1, 0}, {50, 60, 70, 65, 75}, {50, 0, 0, 65, 0}}
	if !reflect.DeepEqual(d.X, want) {
		t.Errorf("X = %v, want %v", d.X, want)
	}
	if d.Dropped != 1 || d.Missing[0] != (Missing{"cause", 1}) {
		t.Errorf("dropped %d, missing %v", d.Dropped, d.Missing)
	}
	if c := d.Columns[0]; c.Category != "trauma" || c.Reference != "vascular" {
		t.Errorf("the most frequent category is the reference: got %+v", c)
	}
	if got := d.Names(); !reflect.DeepEqual(got, []string{"cause: trauma", "age", "cause × age: trauma"}) {
		t.Errorf("names %q", got)
	}
	if !reflect.DeepEqual(d.Term, []int{0, 1, 2}) {
		t.Errorf("terms %v", d.Term)
	}
}

func TestBuildFactorAndReference(t *testing.T) {
	tb := sample(t)
	d, err := Build(tb, all(6), Spec{Terms: []string{"age"}, Factors: []string{"age"}, Reference: map[string]string{"age": "70"}})
	if err != nil {
		t.Fatal(err)
	}
	if len(d.X) != 5 || d.Columns[0].Category != "50" || d.Cats[0][0] != "70" {
		t.Errorf("got %d columns, first %+v, order %v", len(d.X), d.Columns[0], d.Cats[0])
	}
}

func TestBuildRefuses(t *testing.T) {
	tb := sample(t)
	for name, s := range map[string]Spec{
		"constant":             {Terms: []string{"flat"}},
		"date":                 {Terms: []string{"delivered"}},
		"unknown":              {Terms: []string{"agge"}},
		"twice":                {Terms: []string{"age", "age"}},
		"reference of number":  {Terms: []string{"age"}, Reference: map[string]string{"age": "50"}},
		"unknown category":     {Terms: []string{"cause"}, Reference: map[string]string{"cause": "vasculer"}},
		"reference not a term": {Terms: []string{"age"}, Reference: map[string]string{"cause": "trauma"}},
		"product not a term":   {Terms: []string{"age"}, Interact: [][2]string{{"age", "cause"}}},
	} {
		_, err := Build(tb, all(6), s)
		var te *TermError
		if !errors.As(err, &te) || !errors.Is(err, ErrTerm) {
			t.Errorf("%s: got %v, want a TermError", name, err)
		}
	}
}

// A row that the design was not made of is put into its columns, or what it
// lacks is said.
func TestRow(t *testing.T) {
	tb := table.New("sockets", 8)
	age, cause := table.NewNumber("age", "years", 8), table.NewText("cause", 8)
	for i, v := range []float64{40, 50, 60, 70, 55, 45} {
		age.SetNum(i, v)
	}
	for i, v := range []string{"trauma", "trauma", "vascular", "vascular", "trauma", "tumour"} {
		cause.SetText(i, v)
	}
	cause.SetText(6, "vascular")
	age.SetNum(7, 65)
	for _, c := range []*table.Column{age, cause} {
		if err := tb.Add(c); err != nil {
			t.Fatal(err)
		}
	}
	d, err := Build(tb, []int{0, 1, 2, 3, 4}, Spec{Terms: []string{"age", "cause"}})
	if err != nil {
		t.Fatal(err)
	}
	for i := range 5 {
		x, err := d.Row(tb, i)
		if err != nil {
			t.Fatal(err)
		}
		for j := range x {
			if x[j] != d.X[j][i] {
				t.Errorf("row %d column %d is %g, want %g", i, j, x[j], d.X[j][i])
			}
		}
	}
	for i, want := range map[int]LackError{5: {"cause", "tumour"}, 6: {"age", ""}, 7: {"cause", ""}} {
		var lack *LackError
		if _, err := d.Row(tb, i); !errors.As(err, &lack) || *lack != want {
			t.Errorf("row %d: %v, want %v", i, err, want)
		}
	}
}
