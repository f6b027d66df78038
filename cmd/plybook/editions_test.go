package main

import (
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// editions writes the log of a lab at the end of two years, between which
// three limbs above the knee came, and fifteen below it.
func editions(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	limbs := func(below, above, through int) string {
		var b strings.Builder
		b.WriteString("person,side,level\n")
		for i, n := range []int{below, above, through} {
			for k := range n {
				fmt.Fprintf(&b, "P%d%03d,%s,%s\n", i, k, []string{"left", "right"}[k%2], []string{"transtibial", "transfemoral", "knee disarticulation"}[i])
			}
		}
		return b.String()
	}
	writeFile(t, filepath.Join(dir, "first", "limbs.csv"), limbs(60, 40, 20))
	writeFile(t, filepath.Join(dir, "second", "limbs.csv"), limbs(75, 43, 20))
	return dir
}

// edition is a notebook over one of the logs.
func edition(t *testing.T, dir, name, log, front string) outcome {
	t.Helper()
	writeFile(t, filepath.Join(dir, name+".md"), "---\ntitle: Limbs\naudience: annual\nlog: ["+log+"/*.csv]\n"+front+
		"---\n```ask\nid: levels\nquestion: Which levels?\nmethod: summary\nrows: limbs\ncolumns: [level, side]\n```\n")
	return plybook(t, dir, "run", name+".md")
}

// levelCounts are the counts shown of levels, and the number of all.
func levelCounts(t *testing.T, dir, name string) (map[string]int, *int) {
	t.Helper()
	a := readNumbers(t, filepath.Join(dir, name+"-report")).answer(t, "levels")
	out := map[string]int{}
	for _, row := range a.Tables["rows"] {
		if n, ok := row["count"].(float64); ok && row["column"] == "level" {
			out[row["category"].(string)] = int(n)
		}
	}
	return out, a.Rows
}

// newcomers works out how many limbs above the knee came between two editions:
// by subtraction, and where the count is not shown, from all others.
func newcomers(t *testing.T, dir, earlier, later string) (int, bool) {
	t.Helper()
	old, _ := levelCounts(t, dir, earlier)
	now, all := levelCounts(t, dir, later)
	n, ok := now["transfemoral"]
	if !ok && all != nil && len(now) == 2 {
		n, ok = *all-now["transtibial"]-now["knee disarticulation"], true
	}
	before, had := old["transfemoral"]
	return n - before, ok && had
}

// What two editions tell by their difference is told without hidden_before,
// and is not with it.
func TestEditionsResistSubtraction(t *testing.T) {
	t.Parallel()
	dir := editions(t)
	edition(t, dir, "first-year", "first", "").want(t, statusDone)
	edition(t, dir, "open", "second", "").want(t, statusDone)
	if n, ok := newcomers(t, dir, "first-year", "open"); !ok || n != 3 {
		t.Fatalf("without the key %d newcomers are worked out (%v), and there are 3", n, ok)
	}
	edition(t, dir, "shut", "second", "hidden_before: first-year-report/numbers.json\n").want(t, statusDone)
	if n, ok := newcomers(t, dir, "first-year", "shut"); ok {
		t.Errorf("with the key %d newcomers are worked out", n)
	}
	now, all := levelCounts(t, dir, "shut")
	if all != nil && now["transtibial"] == 75 {
		t.Errorf("all and the rest are shown: %d and %v", *all, now)
	}
	page := readText(t, filepath.Join(dir, "shut-report", "report.html"))
	says(t, "the page", page, "counts that would tell one by their difference from an earlier edition")
	says(t, "the page", page, "until 5 values or more are possible for each")
	if strings.Contains(page, "43 (") {
		t.Error("the page shows the count that the numbers withhold")
	}
	says(t, "run.json", readText(t, filepath.Join(dir, "shut-report", "run.json")), `"hidden_before"`)
}

// A file that does not serve is named, with what was expected, and nothing is
// written.
func TestEditionsThatDoNotServe(t *testing.T) {
	t.Parallel()
	dir := editions(t)
	edition(t, dir, "first-year", "first", "").want(t, statusDone)
	edition(t, dir, "six", "first", "hide_below: 6\n").want(t, statusDone)
	writeFile(t, filepath.Join(dir, "words.json"), "[1, 2]")
	good := readText(t, filepath.Join(dir, "first-year-report", "numbers.json"))
	writeFile(t, filepath.Join(dir, "other.json"), strings.ReplaceAll(good, `"levels"`, `"elsewhere"`))
	writeFile(t, filepath.Join(dir, "old.json"), strings.Replace(good, `"hide_below"`, `"hides"`, 1))
	for _, c := range []struct{ file, front, want string }{
		{"none.json", "", "there is no file"},
		{"words.json", "", "is no numbers.json"},
		{"other.json", "", "none of this notebook's questions"},
		{"old.json", "", "does not say below which number"},
		{"six-report/numbers.json", "", "hides counts below 6: expected an edition that hides them below 11"},
		{"first-year-report/numbers.json", "hide_below: 0\n", "this report hides none"},
	} {
		o := edition(t, dir, "later", "second", c.front+"hidden_before: "+c.file+"\n")
		if o.status == statusDone || !strings.Contains(o.err, c.want) {
			t.Errorf("%s: status %d, said %s", c.file, o.status, o.err)
		}
		if c.front == "" && !strings.Contains(o.err, filepath.Base(c.file)) {
			t.Errorf("%s is not named: %s", c.file, o.err)
		}
		if _, err := os.Stat(filepath.Join(dir, "later-report")); err == nil {
			t.Errorf("%s: a report was written", c.file)
		}
	}
}

func readText(t *testing.T, path string) string {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}
