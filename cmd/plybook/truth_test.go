package main

import (
	"math"
	"os"
	"path/filepath"
	"testing"

	"plybook/reports/example/estimand"
)

// TestExampleTruth goes the whole way: the messy workbooks of the example are
// written and read, the questions of the estimand notebook are answered, and
// each known truth lies within 3.5 standard errors of its estimate in
// numbers.json.
func TestExampleTruth(t *testing.T) {
	dir := t.TempDir()
	plybook(t, dir, "example", "lab").want(t, statusDone)
	if err := os.WriteFile(filepath.Join(dir, "lab", "truth.md"), estimand.Notebook, 0o600); err != nil {
		t.Fatal(err)
	}
	plybook(t, dir, "run", "lab/truth.md").want(t, statusDone)
	numbers, err := os.ReadFile(filepath.Join(dir, "lab", "truth-report", "numbers.json"))
	if err != nil {
		t.Fatal(err)
	}
	tables, err := estimand.FromJSON(numbers)
	if err != nil {
		t.Fatal(err)
	}
	tested := map[string]int{}
	for _, m := range estimand.All() {
		e, err := m.Read(tables)
		if err != nil {
			t.Error(err)
			continue
		}
		off := e.Off(m)
		if math.IsNaN(off) {
			// A share of 0 has no standard error; it is no far cry from a
			// small truth. Anything else must have one.
			if e.Value > 0 || m.Truth > 0.05 {
				t.Errorf("%s: %v has no standard error", m.Name, e.Value)
			}
			continue
		}
		tested[m.Ask]++
		if math.Abs(off) > 3.5 {
			t.Errorf("%s: %v, but the truth is %v, %.1f standard errors off", m.Name, e.Value, m.Truth, off)
		}
	}
	if len(tested) < 20 {
		t.Errorf("truths of only %d questions were tested: %v", len(tested), tested)
	}
}
