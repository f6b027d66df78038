package disclose

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
)

// single makes a column of persons from versions of plain values.
func single(name string, versions ...[]string) Column {
	c := Column{Name: name}
	for v, values := range versions {
		c.Steps = append(c.Steps, fmt.Sprintf("step %d", v))
		var rows [][]string
		for _, x := range values {
			rows = append(rows, []string{x})
		}
		c.Values = append(c.Values, rows)
	}
	return c
}

func cut(in []string, f func(string) string) []string {
	out := make([]string, len(in))
	for i, s := range in {
		out[i] = f(s)
	}
	return out
}

// The worked example of Sweeney 2002 (Int J Uncertain Fuzziness Knowl Based
// Syst 2002; 10: 571-588: race, birth date, gender, ZIP; k = 2): the birth
// date becomes the year, after which two tuples, the white man of 1964 in
// 02138 and the white woman of 1965 in 02139, are alone. The table is written
// from memory of the paper.
func TestPublishedExample(t *testing.T) {
	race, birth := strings.Fields("b b b b b b w w w w w w"), strings.Fields("9/20/1965 2/14/1965 10/23/1965 8/24/1965 11/7/1964 12/1/1964 10/23/1964 3/15/1965 8/13/1964 5/5/1964 2/13/1967 3/21/1967")
	gender, zip := strings.Fields("m m f f f f m f m m m m"), strings.Fields("02141 02141 02138 02138 02138 02138 02138 02139 02139 02139 02138 02138")
	cols := []Column{
		single("race", race),
		single("birth", birth, cut(birth, func(s string) string { return s[len(s)-4:] })),
		single("gender", gender),
		single("zip", zip, cut(zip, func(s string) string { return s[:4] })),
	}
	r, err := Protect(len(race), cols, Options{K: 2})
	if err != nil {
		t.Fatal(err)
	}
	if !slices.Equal(r.Version, []int{0, 1, 0, 0}) {
		t.Errorf("versions %v: the year of birth alone was to be made coarser", r.Version)
	}
	if s := r.Steps[0]; s.Column != "birth" || s.KindsBefore != 12 || s.KindsAfter != 3 || s.RareBefore != 12 || s.RareAfter != 2 {
		t.Errorf("first step %+v", s)
	}
	for i := range race {
		concerned := false
		for c := range cols {
			concerned = concerned || r.Withheld[c][i]
		}
		if alone := i == 6 || i == 7; concerned != alone {
			t.Errorf("person %d: values withheld %v", i, concerned)
		}
	}
}

// The way taken is the best of all: every other loses as much or more. All are
// counted here by other means.
func TestNoWayLosesLess(t *testing.T) {
	for seed := range uint64(40) {
		d := rand.New(rand.NewPCG(seed, 2))
		n, k := 30+d.IntN(60), 2+d.IntN(4)
		age, year, site := make([]string, n), make([]string, n), make([]string, n)
		for i := range n {
			age[i], year[i], site[i] = fmt.Sprint(20+d.IntN(70)), fmt.Sprint(2015+d.IntN(4)), fmt.Sprint(d.IntN(3))
		}
		cols := []Column{
			single("age", age, cut(age, func(s string) string { return s[:1] }), cut(age, func(s string) string { return fmt.Sprint(s[0] > '5') })),
			single("year", year, cut(year, func(s string) string { return fmt.Sprint(s > "2016") })), single("site", site),
		}
		cols[2].Weight = 3
		r, err := Protect(n, cols, Options{K: k})
		if err != nil {
			t.Fatal(err)
		}
		told := func(c, v, i int) string {
			if v == len(cols[c].Values) {
				return ""
			}
			return cols[c].Values[v][i][0]
		}
		lost := func(v []int) float64 {
			sum, whole, count := 0.0, 0.0, map[string]int{}
			for c, col := range cols {
				whole += max(col.Weight, 1)
				h := func(v int) float64 {
					count := map[string]float64{}
					for i := range n {
						count[told(c, v, i)]++
					}
					h := 0.0
					for _, x := range count {
						h += x / float64(n) * math.Log2(float64(n)/x)
					}
					return h
				}
				sum += max(col.Weight, 1) * (1 - h(v[c])/h(0))
			}
			for i := range n {
				count[told(0, v[0], i)+"|"+told(1, v[1], i)+"|"+told(2, v[2], i)]++
			}
			rare := 0
			for _, x := range count {
				if x < k {
					rare += x
				}
			}
			return sum + float64(rare)/float64(n)*(whole-sum)
		}
		best := lost(r.Version)
		for a := range 4 {
			for b := range 3 {
				for c := range 2 {
					v := []int{a, b, c}
					if lost(v) < best-1e-9 {
						t.Fatalf("seed %d: %v loses %g, and %v was taken, which loses %g", seed, v, lost(v), r.Version, best)
					}
				}
			}
		}
	}
}

// Whatever the table, who is left shares a combination with k - 1 others at
// least, and a person with two limbs is told from nobody by the pair.
func TestNobodyStandsAlone(t *testing.T) {
	for seed := range uint64(300) {
		d := rand.New(rand.NewPCG(seed, 1))
		n, k := 1+d.IntN(60), 2+d.IntN(6)
		age, year := make([]string, n), make([]string, n)
		level, side := Column{Name: "level", PerUnit: true, Steps: []string{"", "coarse"}}, Column{Name: "side", PerUnit: true, Steps: []string{""}}
		var fine, coarse, sides [][]string
		for i := range n {
			age[i], year[i] = fmt.Sprint(20+d.IntN(70)), fmt.Sprint(2015+d.IntN(4))
			var f, c, s []string
			for u := range 1 + d.IntN(5)/4 {
				x := d.IntN(6)
				f, c, s = append(f, fmt.Sprint(x)), append(c, fmt.Sprint(x/3)), append(s, []string{"left", "right"}[(u+d.IntN(2))%2])
			}
			fine, coarse, sides = append(fine, f), append(coarse, c), append(sides, s)
		}
		level.Values, side.Values = [][][]string{fine, coarse}, [][][]string{sides}
		cols := []Column{single("age", age, cut(age, func(s string) string { return s[:1] })), single("year", year), level, side}
		r, err := Protect(n, cols, Options{K: k})
		if err != nil {
			t.Fatal(err)
		}
		// Counted anew, in another way than the package counts.
		count := map[string]int{}
		key := func(i int) string {
			var units []string
			for u := range fine[i] {
				units = append(units, r.Value(cols, 2, i, u)+"/"+r.Value(cols, 3, i, u))
			}
			slices.Sort(units)
			return fmt.Sprint(r.Value(cols, 0, i, 0), r.Value(cols, 1, i, 0), units)
		}
		left := 0
		for i := range n {
			if !r.Removed[i] {
				count[key(i)]++
				left++
			}
		}
		least := 0
		for what, c := range count {
			if c < k {
				t.Fatalf("seed %d: %d persons of %s, fewer than %d", seed, c, what, k)
			}
			if least == 0 || c < least {
				least = c
			}
		}
		if r.Smallest != least || r.Kinds != len(count) {
			t.Fatalf("seed %d: smallest %d of %d kinds, counted %d of %d", seed, r.Smallest, r.Kinds, least, len(count))
		}
		// Nobody is left out of whom there are enough.
		limbs := map[int]int{}
		for i := range n {
			limbs[len(fine[i])]++
		}
		for i := range n {
			if r.Removed[i] != (limbs[len(fine[i])] < k) {
				t.Fatalf("seed %d: of %d persons with %d limbs one is left out: %v", seed, limbs[len(fine[i])], len(fine[i]), r.Removed[i])
			}
		}
		if left == 0 && limbs[1] >= k {
			t.Fatalf("seed %d: nobody is left", seed)
		}
	}
}

func TestFaults(t *testing.T) {
	if _, err := Protect(1, nil, Options{K: 1}); !errors.Is(err, ErrK) {
		t.Error(err)
	}
	for _, c := range []Column{single("a", []string{"1"}), {Name: "b", Steps: []string{""}}, {Name: "c", PerUnit: true, Steps: []string{"", ""}, Values: [][][]string{{{"x", "y"}, {"x"}}, {{"x"}, {"x"}}}}} {
		if _, err := Protect(2, []Column{c}, Options{K: 2}); !errors.Is(err, ErrShape) {
			t.Errorf("%s: %v", c.Name, err)
		}
	}
	r, err := Protect(0, []Column{single("a", nil)}, Options{K: 3})
	if err != nil || r.Smallest != 0 || len(r.Steps) != 0 {
		t.Errorf("nobody: %+v %v", r, err)
	}
}

func TestPool(t *testing.T) {
	for _, c := range []struct {
		in   map[string][]int
		k    int
		want string
	}{
		{map[string][]int{"a": {1, 2, 3}, "b": {4, 5, 6}}, 3, ""},
		{map[string][]int{"a": {1, 2, 3}, "b": {4}, "c": {5, 6}}, 3, "b c"},
		// Pooled alone b would still tell one person, so c goes with it.
		{map[string][]int{"a": {1, 2, 3, 4}, "b": {5}, "c": {6, 7, 8}}, 3, "b c"},
		// The same person twice is one.
		{map[string][]int{"a": {1, 2, 3, 4}, "b": {5}, "c": {5}, "d": {6, 7, 8}}, 3, "b c d"},
		{map[string][]int{"a": {1}}, 3, "a"},
		{nil, 3, ""},
	} {
		if got := strings.Join(Pool(c.in, c.k), " "); got != c.want {
			t.Errorf("%v: %q, want %q", c.in, got, c.want)
		}
	}
}
