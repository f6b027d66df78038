package batch

import (
	"testing"

	"plybook/reports/answer"
	"plybook/reports/notebook"
	"plybook/reports/numbers"
)

// The list of analyses has words in every line: a season is one term, and
// where nothing is divided it says what is held against what.
func TestListOfAnalysesLeavesNothingEmpty(t *testing.T) {
	terms := func(names ...string) answer.Table {
		x := answer.Table{Name: "terms", Columns: []answer.Column{{Name: "term"}}}
		for _, n := range names {
			x.Rows = append(x.Rows, []any{n})
		}
		return x
	}
	for _, c := range []struct {
		method string
		terms  []string
		want   string
	}{
		{"forecast", []string{"season_cos", "season_sin"}, "season"},
		{"forecast", []string{"season_cos", "season_sin", "slope"}, "season, slope"},
		{"segmented", []string{"intercept", "level_change", "season_cos", "season_sin"}, "level change, season"},
		{"linear", []string{"season_cos", "own.shift"}, "season cos, shift"}, // a column of the lab's own
		{"limb-volume", nil, "each limb with itself"},
		{"agreement", nil, "readings of the same case"},
		{"cumulative-incidence", nil, "all together"},
	} {
		a := &answer.Answer{Method: c.method}
		if len(c.terms) > 0 {
			a.Tables = append(a.Tables, terms(c.terms...))
		}
		x := numbers.Analysis{Method: c.method, Answered: true}
		x.Groups, x.Terms = compared(a, &notebook.Ask{Method: c.method})
		if got := x.GroupsOrTerms(); got != c.want {
			t.Errorf("%s of %v: %q, want %q", c.method, c.terms, got, c.want)
		}
	}
	if got := (numbers.Analysis{Method: "limb-volume"}).GroupsOrTerms(); got != "" {
		t.Errorf("not answered, and yet %q", got)
	}
}

// A volume is worked out of a set of stations: what is counted then are
// measurements.
func TestVolumesAreMeasurements(t *testing.T) {
	for _, c := range []struct {
		ask  notebook.Ask
		want string
	}{
		{notebook.Ask{Method: "mixed", Rows: "stations", Outcome: "volume_ml"}, "measurements"},
		{notebook.Ask{Method: "agreement", Rows: "stations", Outcome: "volume_ml"}, "measurements"},
		{notebook.Ask{Method: "agreement", Rows: "stations", Outcome: "limb_mm"}, "stations"},
		{notebook.Ask{Method: "maturation", Rows: "stations", Outcome: "volume_ml"}, "measurements"},
		{notebook.Ask{Method: "linear", Rows: "visits", Outcome: "volume_ml"}, "visits"},
		{notebook.Ask{Method: "findings-map"}, "visits"},
		{notebook.Ask{Method: "cox"}, "sockets"},
	} {
		if got := countedRows(&c.ask); got != c.want {
			t.Errorf("%s of %s: %q, want %q", c.ask.Method, c.ask.Outcome, got, c.want)
		}
	}
	a := &answer.Answer{Method: "mixed", Rows: 760}
	if got := counted(a, &notebook.Ask{Method: "mixed", Rows: "stations", Outcome: "volume_ml"}, 0, nil); got != "760 measurements" {
		t.Errorf("%q", got)
	}
}
