package answer_test

import (
	"math"
	"strings"
	"testing"
)

// Adjusted values that cannot be had say why; those beyond the log are null.
func TestAdjustedThatCannotBe(t *testing.T) {
	log := readLog(t, lab(labOptions{persons: 60}))
	for name, c := range map[string]struct{ ask, want string }{
		"number":   {"id: a\nmethod: linear\nrows: visits\noutcome: comfort\nby: ply\nadjusted: yes", "adjusted values are of categories, and ply is a number"},
		"discrete": {"id: a\nmethod: cox\nby: cast_method\nadjusted: yes\nties: discrete\ncluster: none", "adjusted curves cannot be had with discrete ties"},
	} {
		a := answersOnce(t, log, nil, quality, c.ask)["a"]
		if a.Error == nil || !strings.Contains(a.Error.Text, c.want) {
			t.Errorf("%s: error %+v, want %q", name, a.Error, c.want)
		}
	}
	a := one(t, lifeLog(separatedLives()), quality, "method: cox\nby: cast_method\nadjusted: yes")
	if a.Error == nil || !strings.Contains(a.Error.Text, "cannot be worked out with penalised estimates") {
		t.Errorf("separation: %+v", a.Error)
	}
}

// Adjusted by nothing else, the mean is that of the group; and the model's
// own difference is that of the means.
func TestAdjustedOfOneColumn(t *testing.T) {
	log := readLog(t, lab(labOptions{persons: 60}))
	got := answersOf(t, log, nil, quality, "id: l\nmethod: linear\nrows: visits\noutcome: comfort\nby: cast_method\nreference: {cast_method: hand}\nadjusted: yes",
		"id: c\nmethod: cox\nby: cast_method\nadjust: [cause]\nreference: {cast_method: hand}\nadjusted: yes\ntimes: [90d, 90y]",
		"id: near\nmethod: cox\nby: cast_method\nadjust: [cause]\nadjusted: yes\ntimes: [90d]")
	l := got["l"]
	diff := row(t, table(t, l, "adjusted"), "group", "vacuum - hand")["estimate"].(float64)
	term := row(t, table(t, l, "terms"), "term", "cast_method")["estimate"].(float64)
	if math.Abs(diff-term) > 1e-12 {
		t.Errorf("difference of means %g, of the model %g", diff, term)
	}
	if !strings.Contains(l.Reading, "Were all these visits of the one kind") || !strings.Contains(l.Methods, "standardised") {
		t.Errorf("reading %q, methods %q", l.Reading, l.Methods)
	}
	if r := row(t, table(t, got["c"], "adjusted"), "group", "vacuum", "time", 90*365.25); r["estimate"] != nil {
		t.Errorf("beyond the log: %v", r)
	}
	for id, want := range map[string]bool{"c": true, "near": false} {
		has := false
		for _, c := range got[id].Cautions {
			has = has || c.Code == "beyond-follow-up"
		}
		if has != want {
			t.Errorf("%s: caution beyond-follow-up is %v", id, has)
		}
	}
}

// Where small counts are hidden, adjusted curves stand at quarters of a year.
func TestAdjustedWhereCountsAreHidden(t *testing.T) {
	log := readLog(t, lab(labOptions{persons: 150}))
	a := answersOnce(t, log, nil, "audience: research", "id: a\nmethod: cox\nby: cast_method\nadjusted: yes")["a"]
	for _, r := range table(t, a, "adjusted_curve").Rows {
		if q := r[1].(float64) / (365.25 / 4); math.Abs(q-math.Round(q)) > 1e-9 {
			t.Errorf("a step of the curve at day %v tells of a single ending", r[1])
		}
	}
}
