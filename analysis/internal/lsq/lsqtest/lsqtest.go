// Package lsqtest reads the published data sets and compares numbers, for
// the tests of the least-squares packages.
package lsqtest

import (
	"encoding/csv"
	"encoding/json"
	"io"
	"io/fs"
	"math"
	"path"
	"strconv"
	"testing"
)

// Columns reads data.csv of a set in the folder of published sets as text
// columns by name.
func Columns(t testing.TB, published fs.FS, set string) map[string][]string {
	t.Helper()
	file, err := published.Open(path.Join(set, "data.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer file.Close()
	return Table(t, file)
}

// Table reads text columns by name.
func Table(t testing.TB, file io.Reader) map[string][]string {
	t.Helper()
	rows, err := csv.NewReader(file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	out := map[string][]string{}
	for _, r := range rows[1:] {
		for j, name := range rows[0] {
			out[name] = append(out[name], r[j])
		}
	}
	return out
}

// Numbers turns a text column into numbers.
func Numbers(t testing.TB, column []string) []float64 {
	t.Helper()
	if len(column) == 0 {
		t.Fatal("no such column")
	}
	out := make([]float64, len(column))
	for i, s := range column {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatal(err)
		}
		out[i] = v
	}
	return out
}

// Groups numbers the distinct values of a column in order of appearance.
func Groups(column []string) []int {
	number := map[string]int{}
	out := make([]int, len(column))
	for i, s := range column {
		if _, ok := number[s]; !ok {
			number[s] = len(number)
		}
		out[i] = number[s]
	}
	return out
}

// Expected reads a JSON file of a published set.
func Expected(t testing.TB, published fs.FS, set, file string, into any) {
	t.Helper()
	text, err := fs.ReadFile(published, path.Join(set, file))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, into); err != nil {
		t.Fatal(err)
	}
}

// Distance is the relative distance of got from want, with an absolute floor
// of 1e-8 on the size of want.
func Distance(got, want float64) float64 {
	if got == want {
		return 0
	}
	d := math.Abs(got-want) / math.Max(math.Abs(want), 1e-8)
	if math.IsNaN(d) {
		return math.Inf(1)
	}
	return d
}

// Close fails the test where got is farther than tol from want, relatively.
func Close(t testing.TB, what string, got, want, tol float64) {
	t.Helper()
	if d := Distance(got, want); d > tol {
		t.Errorf("%s = %.15g, want %.15g (relative distance %.2g, tolerance %.2g)", what, got, want, d, tol)
	}
}
