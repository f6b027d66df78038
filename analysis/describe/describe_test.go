package describe

import (
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"plybook/analysis/stats"
	"plybook/analysis/table"
)

func near(t *testing.T, what string, got, want float64) {
	t.Helper()
	if math.IsNaN(got) || math.Abs(got-want) > 1e-12*math.Max(math.Abs(want), 1e-3) {
		t.Errorf("%s = %.16g, want %.16g", what, got, want)
	}
}

// build makes a table of text and number columns; "" and NaN are missing.
func build(t *testing.T, cols map[string]any, order ...string) *table.Table {
	t.Helper()
	var tab *table.Table
	for _, name := range order {
		var c *table.Column
		switch v := cols[name].(type) {
		case []string:
			c = table.NewText(name, len(v))
			for i, s := range v {
				c.SetText(i, s)
			}
		case []float64:
			c = table.NewNumber(name, "mm", len(v))
			for i, x := range v {
				c.SetNum(i, x)
			}
		}
		if tab == nil {
			tab = table.New("sockets", c.Len())
		}
		if err := tab.Add(c); err != nil {
			t.Fatal(err)
		}
	}
	return tab
}

// words repeats each word its number of times.
func words(counts ...any) []string {
	var out []string
	for i := 0; i < len(counts); i += 2 {
		for k := 0; k < counts[i+1].(int); k++ {
			out = append(out, counts[i].(string))
		}
	}
	return out
}

// R 4.2.2: quantile(x, p, type = 7).
func TestQuantileType7(t *testing.T) {
	x := []float64{2.5, 3.3, 4, 4, 7.1, 9.9, 12.25}
	for p, want := range map[float64]float64{0: 2.5, 0.1: 2.98, 0.25: 3.65, 0.5: 4, 0.75: 8.5, 0.9: 10.84, 1: 12.25, -1: 2.5, 2: 12.25} {
		near(t, fmt.Sprint("quantile ", p), Quantile(x, p), want)
	}
	near(t, "one value", Quantile([]float64{3}, 0.3), 3)
}

// R 4.2.2: mean, sd, quantile(type = 7); difference
// abs(mean(x) - mean(y)) / sqrt((var(x) + var(y)) / 2).
func TestNumbers(t *testing.T) {
	nan := math.NaN()
	tab := build(t, map[string]any{
		"g": append(words("hand", 8, "vacuum", 5), ""),
		"x": []float64{2.5, 7.1, 3.3, nan, 9.9, 4.0, 4.0, 12.25, 1, 8, 4, 4.5, 6, 50},
	}, "g", "x")
	b, err := New(tab, []string{"x"}, Options{By: "g"})
	if err != nil {
		t.Fatal(err)
	}
	v := b.Variables[0]
	h, u := v.Groups[0], v.Groups[1]
	if h.N != 7 || h.Missing != 1 || u.N != 5 || v.Overall.N != 13 || b.NoGroup != 1 {
		t.Errorf("counts %+v %+v", h, u)
	}
	near(t, "mean", h.Mean, 6.15)
	near(t, "sd", h.SD, 3.7162929558006232)
	near(t, "q1", h.Q1, 3.65)
	near(t, "q3", h.Q3, 8.5)
	near(t, "median", u.Median, 4.5)
	near(t, "sd", u.SD, 2.5884358211089569)
	near(t, "max", v.Overall.Max, 50)
	near(t, "difference", v.Difference.Value, 0.45278428715397795)
	if v.Difference.A != "hand" || v.Difference.B != "vacuum" || v.Unit != "mm" {
		t.Errorf("%+v", v.Difference)
	}
	if len(b.Warnings) != 1 || b.Warnings[0].Code != "no-group" {
		t.Errorf("warnings %v", b.Warnings)
	}
}

// Two categories by hand: proportions 0.3 and 0.5 differ by
// 0.2 / sqrt((0.21 + 0.25) / 2) = 0.4170288281141496. More categories in
// R 4.2.2: with p and q the proportions without the first category and
// S <- ((diag(p) - p %o% p) + (diag(q) - q %o% q)) / 2,
// sqrt(t(p - q) %*% solve(S) %*% (p - q)).
func TestCategories(t *testing.T) {
	for _, c := range []struct {
		name string
		a, b []string
		want float64
	}{
		{"two", words("no", 7, "yes", 3), words("no", 5, "yes", 5), 0.4170288281141496},
		{"four", words("a", 10, "b", 20, "c", 30, "d", 5), words("a", 25, "b", 15, "c", 12, "d", 8), 0.74826572342514497},
		{"one in one group only", words("a", 10, "b", 20), words("a", 5, "b", 5, "c", 10), 1.4696938456699069},
		{"the same", words("a", 1, "b", 2, "c", 3), words("a", 2, "b", 4, "c", 6), 0},
		{"one category", words("a", 3), words("a", 4), 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			tab := build(t, map[string]any{"x": append(append([]string{}, c.a...), c.b...), "g": words("A", len(c.a), "B", len(c.b))}, "x", "g")
			b, err := New(tab, []string{"x"}, Options{By: "g"})
			if err != nil {
				t.Fatal(err)
			}
			if b.Variables[0].Difference == nil {
				t.Fatal("no difference")
			}
			near(t, "difference", b.Variables[0].Difference.Value, c.want)
		})
	}
}

func TestLevels(t *testing.T) {
	tab := build(t, map[string]any{
		"over": []string{"skin", "sock", "sock", "", "liner", "sock"},
		"g":    []string{"a", "a", "a", "b", "b", "b"},
	}, "over", "g")
	b, err := New(tab, []string{"over"}, Options{By: "g"})
	if err != nil {
		t.Fatal(err)
	}
	v := b.Variables[0]
	if got := fmt.Sprint(v.Overall.Levels); got != "[{sock 3 60} {liner 1 20} {skin 1 20}]" {
		t.Errorf("overall %s", got)
	}
	if got := fmt.Sprint(v.Groups[1].Levels); got != "[{sock 1 50} {liner 1 50} {skin 0 0}]" || v.Groups[1].Missing != 1 {
		t.Errorf("group b %s", got)
	}
}

func TestLargestOfThreeGroups(t *testing.T) {
	tab := build(t, map[string]any{
		"g": words("c", 6, "a", 6, "b", 6),
		"x": []float64{1, 2, 3, 4, 5, 6, 2, 3, 4, 5, 6, 7, 11, 12, 13, 14, 15, 16},
	}, "g", "x")
	b, err := New(tab, []string{"x"}, Options{By: "g"})
	if err != nil {
		t.Fatal(err)
	}
	d := b.Variables[0].Difference
	if len(b.Variables[0].Differences) != 3 || d.A != "b" || d.B != "c" {
		t.Fatalf("%+v", d)
	}
	near(t, "largest", d.Value, 10/math.Sqrt(3.5))
	if b.Groups[0].Name != "a" || b.Groups[2].Name != "c" {
		t.Errorf("groups %v", b.Groups)
	}
}

func TestGroupsFromNumbers(t *testing.T) {
	tab := build(t, map[string]any{"g": []float64{10, 9, 10, 2.5, 9, math.NaN()}, "x": []float64{1, 2, 3, 4, 5, 6}}, "g", "x")
	b, err := New(tab, []string{"x"}, Options{By: "g"})
	if err != nil {
		t.Fatal(err)
	}
	if fmt.Sprint(b.Groups) != "[{2.5 1} {9 2} {10 2}]" {
		t.Errorf("groups %v", b.Groups)
	}
}

func TestDegenerate(t *testing.T) {
	nan := math.NaN()
	tab := build(t, map[string]any{
		"g":     words("a", 3, "b", 3),
		"empty": []float64{nan, nan, nan, nan, nan, nan},
		"blank": words("", 6),
		"same":  []float64{4, 4, 4, 4, 4, 4},
		"apart": []float64{4, 4, 4, 5, 5, 5},
		"one":   []float64{4, nan, nan, 5, 6, 7},
		"split": words("x", 2, "y", 1, "z", 3),
	}, "g", "empty", "blank", "same", "apart", "one", "split")
	b, err := New(tab, []string{"empty", "blank", "same", "apart", "one", "split"}, Options{By: "g"})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := json.Marshal(b); err != nil {
		t.Errorf("a number on output is not finite: %v", err)
	}
	has := map[string]bool{}
	for _, v := range b.Variables {
		has[v.Column] = v.Difference != nil
	}
	if want := map[string]bool{"empty": false, "blank": false, "same": true, "apart": false, "one": false, "split": false}; fmt.Sprint(has) != fmt.Sprint(want) {
		t.Errorf("differences %v, want %v", has, want)
	}
	var codes []string
	for _, w := range b.Warnings {
		codes = append(codes, w.Code+" "+w.About)
	}
	if got, want := strings.Join(codes, ", "), "small-group a, small-group b, all-missing empty, all-missing blank, "+
		"no-difference apart, no-difference one, no-difference split"; got != want {
		t.Errorf("warnings %s, want %s", got, want)
	}
}

func TestErrors(t *testing.T) {
	many := make([]float64, 20)
	for i := range many {
		many[i] = float64(i)
	}
	tab := build(t, map[string]any{"x": many}, "x")
	for _, c := range []struct {
		name string
		tab  *table.Table
		cols []string
		by   string
		want error
	}{
		{"no rows", table.New("sockets", 0), []string{"x"}, "", stats.ErrNoRows},
		{"no column", tab, []string{"y"}, "", ErrNoColumn},
		{"no group column", tab, []string{"x"}, "y", ErrNoColumn},
		{"too many groups", tab, []string{"x"}, "x", ErrGroups},
		{"too large", build(t, map[string]any{"x": []float64{1, -1e300}}, "x"), []string{"x"}, "", ErrTooLarge},
	} {
		if _, err := New(c.tab, c.cols, Options{By: c.by}); !errors.Is(err, c.want) {
			t.Errorf("%s: %v, want %v", c.name, err, c.want)
		}
	}
}

func ExampleNew() {
	tab := table.New("sockets", 6)
	method, age := table.NewText("cast_method", 6), table.NewNumber("age", "years", 6)
	for i, m := range []string{"hand", "hand", "hand", "vacuum", "vacuum", "vacuum"} {
		method.SetText(i, m)
		age.SetNum(i, float64(50+3*i))
	}
	for _, c := range []*table.Column{method, age} {
		if err := tab.Add(c); err != nil {
			fmt.Println(err)
			return
		}
	}
	b, err := New(tab, []string{"age"}, Options{By: "cast_method"})
	if err != nil {
		fmt.Println(err)
		return
	}
	for i, g := range b.Groups {
		s := b.Variables[0].Groups[i]
		fmt.Printf("%s: %d rows, mean %.1f, SD %.1f\n", g.Name, g.Rows, s.Mean, s.SD)
	}
	fmt.Printf("standardised difference %.1f\n", b.Variables[0].Difference.Value)
	// Output:
	// hand: 3 rows, mean 53.0, SD 3.0
	// vacuum: 3 rows, mean 62.0, SD 3.0
	// standardised difference 3.0
}
