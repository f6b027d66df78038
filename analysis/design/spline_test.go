package design

import (
	"errors"
	"math"
	"strings"
	"testing"

	"plybook/analysis/table"
)

// R 4.2.2: restricted cubic basis by the formula of Harrell 2001, section
// 2.4.5, knots at quantile(age, type = 7) of the ages of survival::lung with
// ph.ecog known, pieces divided by the squared distance of the outer knots.
func TestBasisLungAges(t *testing.T) {
	for _, c := range []struct {
		knots []float64
		x     float64
		want  []float64
	}{
		{[]float64{50, 63, 74}, 40, []float64{40, 0}},
		{[]float64{50, 63, 74}, 62.5, []float64{62.5, 3.39084201388889}},
		{[]float64{50, 63, 74}, 80, []float64{80, 28.7083333333333}},
		{[]float64{45.3, 59, 67, 75}, 55, []float64{55, 1.0346710653108, 0}},
		{[]float64{45.3, 59, 67, 75}, 60, []float64{60, 3.60113253749618, 0.0011336711673412}},
		{[]float64{45.3, 59, 67, 75}, 80, []float64{80, 38.5047138047138, 5.65928646736727}},
		{[]float64{45.3, 57, 63, 69, 75}, 70, []float64{70, 17.0779319570565, 2.48727454114659, 0.386581868063349}},
		{[]float64{45.3, 57, 63, 69, 75}, 80, []float64{80, 40.4575757575758, 9.55004591368228, 2.69360269360269}},
	} {
		got := (&Spline{Knots: c.knots}).Basis(c.x)
		if len(got) != len(c.want) {
			t.Fatalf("knots %v: %d pieces, want %d", c.knots, len(got), len(c.want))
		}
		for j := range got {
			if math.Abs(got[j]-c.want[j]) > 1e-12*math.Max(1, math.Abs(c.want[j])) {
				t.Errorf("knots %v at %g: piece %d is %.15g, want %.15g", c.knots, c.x, j+1, got[j], c.want[j])
			}
		}
	}
}

// Beyond the outer knots the basis is straight, and it is smooth at each.
func TestBasisIsStraightOutside(t *testing.T) {
	s := &Spline{Knots: []float64{1, 4, 6, 9}}
	second := func(x, h float64, j int) float64 {
		return (s.Basis(x + h)[j] - 2*s.Basis(x)[j] + s.Basis(x - h)[j]) / (h * h)
	}
	for j := range s.Basis(0) {
		for _, x := range []float64{-3, 0.5, 9.5, 14} {
			if b := second(x, 0.25, j); math.Abs(b) > 1e-9 {
				t.Errorf("piece %d bends by %g at %g", j+1, b, x)
			}
		}
	}
}

func splineTable(t *testing.T) *table.Table {
	t.Helper()
	tb := table.New("sockets", 9)
	age, step, flat := table.NewNumber("age", "years", 9), table.NewNumber("step", "", 9), table.NewNumber("flat", "", 9)
	side := table.NewText("side", 9)
	for i, v := range []float64{30, 35, 41, 50, 52, 60, 66, 71, 80} {
		age.SetNum(i, v)
		step.SetNum(i, float64(i/8))
		flat.SetNum(i, 2)
		side.SetText(i, []string{"left", "right"}[i%2])
	}
	for _, c := range []*table.Column{age, step, flat, side} {
		if err := tb.Add(c); err != nil {
			t.Fatal(err)
		}
	}
	return tb
}

func TestBuildSpline(t *testing.T) {
	tb := splineTable(t)
	d, err := Build(tb, all(9), Spec{Terms: []string{"side", "age"}, Spline: map[string]int{"age": 4}})
	if err != nil {
		t.Fatal(err)
	}
	if got := strings.Join(d.Names(), ", "); got != "side: right, age: piece 1, age: piece 2, age: piece 3" {
		t.Errorf("columns %s", got)
	}
	if len(d.TermNames) != 2 || len(d.ColumnsOf("age")) != 3 {
		t.Errorf("terms %v, columns of age %v", d.TermNames, d.ColumnsOf("age"))
	}
	x := make([]float64, 4)
	d.SetNumber(x, "age", 52)
	for j := 1; j < 4; j++ {
		if x[j] != d.X[j][4] {
			t.Errorf("piece %d of 52 is %g, in the design %g", j, x[j], d.X[j][4])
		}
	}
	for _, c := range []struct {
		name string
		spec Spec
		want string
	}{
		{"constant", Spec{Terms: []string{"flat"}, Spline: map[string]int{"flat": 3}}, "flat is 2 in every row and so can explain nothing"},
		{"few values", Spec{Terms: []string{"step"}, Spline: map[string]int{"step": 4}}, "step takes too few different values for its spline: there are 2, and 4 knots need as many"},
		{"text", Spec{Terms: []string{"side"}, Spline: map[string]int{"side": 3}}, "side is a column of categories, and a spline is of a number"},
		{"not a term", Spec{Terms: []string{"side"}, Spline: map[string]int{"age": 3}}, "spline names age, which is not among the terms"},
		{"two knots", Spec{Terms: []string{"age"}, Spline: map[string]int{"age": 2}}, "a spline has 3 to 7 knots, not 2"},
	} {
		_, err := Build(tb, all(9), c.spec)
		if !errors.Is(err, ErrTerm) || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
}
