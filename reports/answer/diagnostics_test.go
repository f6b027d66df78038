package answer_test

import (
	"fmt"
	"strings"
	"testing"

	"plybook/reports/answer"
)

func cautions(a answer.Answer) map[string]bool {
	out := map[string]bool{}
	for _, c := range a.Cautions {
		out[c.Code] = true
	}
	return out
}

// Diagnostics that cannot be had say why.
func TestDiagnosticsThatCannotBe(t *testing.T) {
	log := readLog(t, lab(labOptions{persons: 60}))
	a := answersOnce(t, log, nil, quality, "id: a\nmethod: cox\nby: cast_method\ndiagnostics: yes\nties: discrete\ncluster: none")["a"]
	if a.Error == nil || !strings.Contains(a.Error.Text, "diagnostics cannot be had with discrete ties") {
		t.Errorf("discrete ties: %+v", a.Error)
	}
	a = one(t, lifeLog(separatedLives()), quality, "method: cox\nby: cast_method\ndiagnostics: yes")
	if a.Error == nil || !strings.Contains(a.Error.Text, "penalised estimates") {
		t.Errorf("separation: %+v", a.Error)
	}
	sameDay := readLog(t, lab(labOptions{persons: 60, sameDay: true}))
	a = answersOf(t, sameDay, nil, quality, "id: a\nmethod: cox\nby: cast_method\ndiagnostics: yes")["a"]
	if a.Error == nil && !cautions(a)["effect-over-time"] {
		t.Errorf("all events on one day: cautions %v", a.Cautions)
	}
}

// A report that shows no single sockets lists none, and draws none.
func TestDiagnosticsWhereCountsAreHidden(t *testing.T) {
	log := readLog(t, lab(labOptions{persons: 150}))
	asks := []string{"id: c\nmethod: cox\nby: cast_method\nadjust: [age]\ndiagnostics: yes\ntimes: [90d]", "id: l\nmethod: linear\nrows: visits\noutcome: comfort\nadjust: [ply]\ndiagnostics: yes"}
	open, hidden := answersOf(t, log, nil, quality, asks...), answersOf(t, log, nil, "audience: research", asks...)
	for _, id := range []string{"c", "l"} {
		code := map[string]string{"c": "sockets-hidden", "l": "rows-hidden"}[id]
		if n := len(table(t, open[id], "influence").Rows); n != 10 || cautions(open[id])[code] {
			t.Errorf("%s: %d rows listed, cautions %v", id, n, open[id].Cautions)
		}
		if n := len(table(t, hidden[id], "influence").Rows); n != 0 || !cautions(hidden[id])[code] {
			t.Errorf("%s hidden: %d rows listed, cautions %v", id, n, hidden[id].Cautions)
		}
	}
	if len(table(t, hidden["c"], "effect_over_time").Rows) == 0 {
		t.Errorf("no effect over time")
	}
	for name, c := range map[string]struct {
		answer.Answer
		single bool
	}{"open": {open["c"], true}, "hidden": {hidden["c"], false}} {
		seen := 0
		for _, f := range c.Figures {
			if !strings.Contains(f.ID, "over-time") && !strings.Contains(f.ID, "shape") {
				continue
			}
			seen++
			if none := strings.Contains(f.Description, ": no values") || strings.Contains(f.Description, ": 0 values"); none == c.single {
				t.Errorf("%s: %s: %s", name, f.ID, f.Description)
			}
		}
		if seen < 3 {
			t.Errorf("%s: %d figures of diagnostics, want 3", name, seen)
		}
	}
}

// The caution of a model that predicts no better than one share stands where
// the column says nothing, and not where it says much.
func TestPredictsNoBetter(t *testing.T) {
	var idle, telling []life
	for k := 1; k <= 80; k++ {
		days := 20 + 7*(k*37%80)
		idle = append(idle, life{k, 0, days, "remake: growth", []string{"hand", "vacuum"}[(k*37%80+1)/2%2]})
		group := "hand"
		if days > 300 != (k%9 == 0) {
			group = "vacuum"
		}
		telling = append(telling, life{k, 0, days, "remake: growth", group})
	}
	for name, c := range map[string]struct {
		lives []life
		want  bool
	}{"idle": {idle, true}, "telling": {telling, false}} {
		a := one(t, lifeLog(c.lives), quality, "method: cox\nby: cast_method\ndiagnostics: yes\ntimes: [60d, 150d, 300d]")
		if a.Error != nil {
			t.Fatalf("%s: %+v", name, a.Error)
		}
		if got := cautions(a)["no-better"]; got != c.want {
			t.Errorf("%s: caution no-better is %v: %v", name, got, fmt.Sprint(table(t, a, "accuracy").Rows))
		}
	}
}
