package survival

import (
	"encoding/csv"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"testing"
)

// set is a published data set with the values expected of it.
type set struct {
	t       *testing.T
	rows    []map[string]string
	entries map[string]any
}

func load(t *testing.T, name string) *set {
	t.Helper()
	return &set{t: t, rows: readRows(t, name), entries: readJSON(t, filepath.Join("..", "..", "testdata", "published", name, "expected.json"))["entries"].(map[string]any)}
}

func readRows(t testing.TB, name string) []map[string]string {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "testdata", "published", name, "data.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	records, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var rows []map[string]string
	for _, r := range records[1:] {
		m := map[string]string{}
		for j, v := range r {
			m[records[0][j]] = v
		}
		rows = append(rows, m)
	}
	return rows
}

func readJSON(t testing.TB, path string) map[string]any {
	t.Helper()
	raw, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	out := map[string]any{}
	if err := json.Unmarshal(raw, &out); err != nil {
		t.Fatal(err)
	}
	return out
}

// keep is the set with the rows that ok accepts.
func (s *set) keep(ok func(map[string]string) bool) *set {
	out := &set{t: s.t, entries: s.entries}
	for _, r := range s.rows {
		if ok(r) {
			out.rows = append(out.rows, r)
		}
	}
	return out
}

func (s *set) num(column string) []float64 {
	s.t.Helper()
	out := make([]float64, len(s.rows))
	for i, r := range s.rows {
		v, err := strconv.ParseFloat(r[column], 64)
		if err != nil {
			s.t.Fatalf("%s, row %d: %v", column, i, err)
		}
		out[i] = v
	}
	return out
}

func (s *set) is(column, value string) []float64 {
	out := make([]float64, len(s.rows))
	for i, r := range s.rows {
		if r[column] == value {
			out[i] = 1
		}
	}
	return out
}

func (s *set) ints(column string) []int {
	var out []int
	for _, v := range s.num(column) {
		out = append(out, int(v))
	}
	return out
}

func (s *set) data(time, cause string) Data { return Data{Time: s.num(time), Cause: s.ints(cause)} }

func (s *set) entry(name string) map[string]any {
	s.t.Helper()
	e, ok := s.entries[name].(map[string]any)
	if !ok {
		s.t.Fatalf("no entry %s", name)
	}
	return e
}

func (s *set) tol(name string) float64 { return s.entry(name)["rel_tol"].(float64) }

// get walks down objects by name.
func get(v any, path ...string) any {
	for _, p := range path {
		v = v.(map[string]any)[p]
	}
	return v
}

func number(v any) float64 {
	if v == nil {
		return math.NaN()
	}
	return v.(float64)
}

func numbers(v any) []float64 {
	var out []float64
	for _, x := range v.([]any) {
		out = append(out, number(x))
	}
	return out
}

func matrix(v any) [][]float64 {
	if m, ok := v.(map[string]any); ok {
		return matrix(m["values"])
	}
	var out [][]float64
	for _, r := range v.([]any) {
		out = append(out, numbers(r))
	}
	return out
}

func scaleBy(x []float64, f float64) []float64 {
	out := make([]float64, len(x))
	for i := range x {
		out[i] = x[i] * f
	}
	return out
}

func plus(x []float64, f float64) []float64 {
	out := make([]float64, len(x))
	for i := range x {
		out[i] = x[i] + f
	}
	return out
}

func times(x, y []float64) []float64 {
	out := make([]float64, len(x))
	for i := range x {
		out[i] = x[i] * y[i]
	}
	return out
}

// near fails unless got is want to the relative tolerance, or to 1e-8
// absolute times the tolerance's own scale for values near 0.
func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if math.IsNaN(got) || math.IsNaN(want) || math.Abs(got-want) > tol*math.Abs(want)+math.Min(1e-8, tol*1e-3) {
		t.Errorf("%s: got %.15g, want %.15g (relative %.2g)", what, got, want, math.Abs(got-want)/math.Abs(want))
	}
}

func nears(t *testing.T, what string, got, want []float64, tol float64) {
	t.Helper()
	if len(got) != len(want) {
		t.Errorf("%s: %d values, want %d", what, len(got), len(want))
		return
	}
	for i := range got {
		near(t, what+" "+strconv.Itoa(i), got[i], want[i], tol)
	}
}

// must is the value, if there was no error.
func must[T any](v T, err error) func(testing.TB) T {
	return func(t testing.TB) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}
