package estimand

import (
	"math"
	"strings"
	"testing"

	"plybook/reports/notebook"
)

// tablesOf stands for the answer of one ask.
func tablesOf(tables map[string][]Row) Tables {
	return func(ask, table string) []Row {
		if ask != "a" {
			return nil
		}
		return tables[table]
	}
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: %v, want %v", what, got, want)
	}
}

func TestReadTerms(t *testing.T) {
	tables := tablesOf(map[string][]Row{"terms": {
		{"term": "cast_method", "category": "vacuum", "estimate": -0.5, "std_error": 0.2, "robust_std_error": 0.25, "low": 0.4, "high": 0.9},
		{"term": "ply", "category": nil, "estimate": -0.2, "std_error": 0.01, "low": -0.22, "high": -0.18},
	}})
	m := term("a", "vacuum", "cast_method", "vacuum", -0.4)
	m.reading = logRatio
	e, err := m.Read(tables)
	if err != nil {
		t.Fatal(err)
	}
	near(t, "robust error", e.StdErr, 0.25, 0)
	near(t, "low", e.Low, math.Log(0.4), 1e-15)
	near(t, "off", e.Off(m), -0.4, 1e-12)
	if !e.HasInterval || !e.Covers(m) {
		t.Errorf("%+v does not hold -0.4", e)
	}
	m = term("a", "ply", "ply", nil, -0.25)
	if e, err = m.Read(tables); err != nil {
		t.Fatal(err)
	}
	near(t, "model error", e.StdErr, 0.01, 0)
	if e.Covers(m) {
		t.Errorf("%+v holds -0.25", e)
	}
}

// TestReadShare holds the share and its interval against R 4.2.2:
// prop.test(81, 263, correct = FALSE) gives 0.255289 to 0.366210, the
// example of Newcombe, Stat Med 1998; 17: 857-872 (0.2553 to 0.3662).
func TestReadShare(t *testing.T) {
	m := Estimand{Ask: "a", table: "rows", where: Row{"group": "all"}, count: []string{"yes", "adjusted"}, reading: share, Truth: 0.3}
	e, err := m.Read(tablesOf(map[string][]Row{"rows": {
		{"group": "all", "category": "yes", "count": 41},
		{"group": "all", "category": "adjusted", "count": 40.0}, // as read from JSON
		{"group": "all", "category": "no", "count": 182},
		{"group": "hand", "category": "yes", "count": 9},
	}}))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "share", e.Value, 81.0/263, 1e-15)
	near(t, "low", e.Low, 0.2553, 5e-5)
	near(t, "high", e.High, 0.3662, 5e-5)
}

// TestReadResidual holds the chi-square interval against R 4.2.2:
// 1000 * 0.5 / qchisq(c(0.975, 0.025), 1000) = 0.4589 and 0.5469.
func TestReadResidual(t *testing.T) {
	m := residualOf("a", "residual", 2, 0.5)
	e, err := m.Read(tablesOf(map[string][]Row{
		"variance": {{"group": "residual", "term": nil, "with": nil, "variance": 0.5}, {"group": "limb", "term": "intercept", "with": nil, "variance": 3.0}},
		"fit":      {{"rows": 1200, "groups": 100}},
	}))
	if err != nil {
		t.Fatal(err)
	}
	near(t, "low", e.Low, 0.4589, 1e-4)
	near(t, "high", e.High, 0.5469, 1e-4)
	near(t, "error", e.StdErr, 0.5*math.Sqrt(2.0/1000), 1e-12)
}

func TestReadQuantile(t *testing.T) {
	m := Estimand{Ask: "a", table: "quantiles", where: Row{"group": "hand", "quantile": 0.25}, reading: quantile, Truth: 900, Spread: 50, events: Row{"group": "hand", "time": 365.0}}
	e, err := m.Read(tablesOf(map[string][]Row{
		"quantiles": {{"group": "hand", "quantile": 0.5}, {"group": "hand", "quantile": 0.25, "estimate": 800.0, "low": 600.0, "high": nil}},
		"at_times":  {{"group": "hand", "time": 365, "events": 12}},
	}))
	if err != nil {
		t.Fatal(err)
	}
	if !e.Covers(m) || !math.IsInf(e.High, 1) {
		t.Errorf("an interval that the curve does not close must be open: %+v", e)
	}
	near(t, "off", e.Off(m), -2, 1e-12)
	near(t, "events", e.Events, 12, 0)
}

func TestReadFaults(t *testing.T) {
	row := Row{"term": "ply", "category": nil, "estimate": 1.0}
	m := term("a", "ply", "ply", nil, 1)
	for _, c := range []struct {
		name string
		rows []Row
		want string
	}{
		{"no rows", nil, "no such row"},
		{"another category", []Row{{"term": "ply", "category": "5", "estimate": 1.0}}, "no such row"},
		{"two rows", []Row{row, row}, "two such rows"},
		{"not computed", []Row{{"term": "ply", "category": nil, "estimate": nil}}, "not computed"},
	} {
		_, err := m.Read(tablesOf(map[string][]Row{"terms": c.rows}))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: %v, want %q", c.name, err, c.want)
		}
	}
	if _, err := FromJSON([]byte(`{"answers":[{"id":"a","tables":{},"error":{"text":"no rows"}}]}`)); err == nil || !strings.Contains(err.Error(), "a: no rows") {
		t.Errorf("a failed answer: %v", err)
	}
	if _, err := FromJSON([]byte(`{`)); err == nil {
		t.Error("broken JSON was read")
	}
}

// TestList checks that every ask of the notebook is estimated from and every
// estimand has an ask, each under a name of its own.
func TestList(t *testing.T) {
	nb, err := notebook.Parse("truth.md", Notebook)
	if err != nil {
		t.Fatal(err)
	}
	asked, used, names := map[string]bool{}, map[string]bool{}, map[string]bool{}
	for _, a := range nb.Asks() {
		if a.Err != nil {
			t.Errorf("%s: %v", a.ID, a.Err)
		}
		asked[a.ID] = true
	}
	for _, m := range All() {
		if !asked[m.Ask] {
			t.Errorf("%s: no ask %s", m.Name, m.Ask)
		}
		used[m.Ask] = true
		if names[m.Name] {
			t.Errorf("two are called %s", m.Name)
		}
		names[m.Name] = true
		if math.IsNaN(m.Truth) || math.IsInf(m.Truth, 0) {
			t.Errorf("%s: the truth is %v", m.Name, m.Truth)
		}
	}
	for id := range asked {
		if !used[id] {
			t.Errorf("nothing is estimated from %s", id)
		}
	}
}
