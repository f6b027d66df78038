package main

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// copyTree copies a folder of files.
func copyTree(t testing.TB, from, to string) {
	t.Helper()
	for name, b := range reportFiles(t, from) {
		writeFile(t, filepath.Join(to, name), string(b))
	}
}

// busy is a copy of the busy lab in a folder of its own.
func busy(t testing.TB) string {
	t.Helper()
	dir := t.TempDir()
	copyTree(t, "../../testdata/busy-lab", dir)
	return dir
}

func exists(path string) bool {
	_, err := os.Lstat(path)
	return err == nil
}

// leftovers are temporary folders beside a report.
func leftovers(t testing.TB, dir string) []string {
	t.Helper()
	found, err := filepath.Glob(filepath.Join(dir, ".*.part-*"))
	if err != nil {
		t.Fatal(err)
	}
	return found
}

// A log typed by hand in a hurry: what is wrong is found, the rest is used.
func TestBusyLab(t *testing.T) {
	t.Parallel()
	dir := busy(t)
	o := plybook(t, dir, "run", "busy.md").want(t, statusDone)
	says(t, "what the run says", o.out, "busy-report", "6 questions answered", "205 rows read, 3 set aside", "1 single value set aside")
	n := readNumbers(t, filepath.Join(dir, "busy-report"))
	aside, values := map[string]int{}, 0
	for _, in := range n.Inputs {
		if in.SetAside > 0 {
			aside[in.File] = in.SetAside
		}
		values += in.ValuesSetAside
	}
	// One visit typed twice, one of a socket not in the log, one girth of 28 mm; a comfort of 11.
	if fmt.Sprint(aside) != "map[log/stations.csv:1 log/visits.csv:2]" || values != 1 {
		t.Errorf("set aside %v and %d values", aside, values)
	}
	for _, a := range n.Answers {
		if a.Error != nil || len(strings.Fields(a.Reading)) < 4 {
			t.Errorf("%s: error %v, reading %q", a.ID, a.Error, a.Reading)
		}
		if a.Rows == nil || *a.Rows == 0 {
			t.Errorf("%s: no rows", a.ID)
		}
	}
	var rec runFile
	readJSON(t, filepath.Join(dir, "busy-report", "run.json"), &rec)
	found := map[string]int{}
	for _, p := range rec.Problems {
		found[p.Code] = p.Count
	}
	for _, code := range []string{"comfort-range", "doubtful-word", "duplicate-row", "implausible-value", "open-at-death", "ply-morning-evening", "ply-range", "unknown-socket"} {
		if found[code] != 1 {
			t.Errorf("%d problems %s, want 1", found[code], code)
		}
	}
	for _, name := range []string{"report.pdf", "report.html", "numbers.xlsx", "numbers.json", "run.json", "figures/lasting.png", "figures/lasting.svg", "figures/lasting.pdf"} {
		if info, err := os.Stat(filepath.Join(dir, "busy-report", name)); err != nil || info.Size() == 0 {
			t.Errorf("%s: %v", name, err)
		}
	}
	if exists(filepath.Join(dir, "busy-report", "pages")) || len(leftovers(t, dir)) > 0 {
		t.Error("pages or temporary folders were left")
	}
	// --strict minds what was set aside, and writes all the same.
	o = plybook(t, dir, "run", "busy.md", "--strict", "--out", "strict").want(t, statusAskFailed)
	says(t, "--strict", o.err, "--strict", "set aside")
	sameFiles(t, filepath.Join(dir, "busy-report"), filepath.Join(dir, "strict"))
}

func sameFiles(t testing.TB, a, b string) {
	t.Helper()
	x, y := reportFiles(t, a), reportFiles(t, b)
	if len(x) != len(y) {
		t.Errorf("%d files and %d", len(x), len(y))
	}
	for name := range x {
		if !bytes.Equal(x[name], y[name]) {
			t.Errorf("%s differs", name)
		}
	}
}

// The same inputs give the same bytes, whatever the folder, the day and the
// number of cores.
func TestSameBytes(t *testing.T) {
	t.Parallel()
	one, other := busy(t), filepath.Join(busy(t), "deeper", "down")
	copyTree(t, one, other)
	plybook(t, one, "run", "busy.md").want(t, statusDone)
	old := time.Now().Add(-40 * 24 * time.Hour)
	for name := range reportFiles(t, filepath.Join(other, "log")) {
		if err := os.Chtimes(filepath.Join(other, "log", name), old, old); err != nil {
			t.Fatal(err)
		}
	}
	cmd := exec.Command(binary, "run", filepath.Join(other, "busy.md"))
	cmd.Env = append(os.Environ(), "GOMAXPROCS=1", "TZ=Pacific/Kiritimati", "LANG=de_DE.UTF-8")
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("%v\n%s", err, out)
	}
	sameFiles(t, filepath.Join(one, "busy-report"), filepath.Join(other, "busy-report"))
	// Once more over the earlier report.
	before := reportFiles(t, filepath.Join(one, "busy-report"))
	plybook(t, one, "run", "busy.md").want(t, statusDone)
	for name, b := range reportFiles(t, filepath.Join(one, "busy-report")) {
		if !bytes.Equal(before[name], b) {
			t.Errorf("%s differs in the second run", name)
		}
	}
}

// Each fault is told at its place with the nearest word, in numbers.json and
// on the error stream; the other questions are answered.
func TestFaultyAsks(t *testing.T) {
	t.Parallel()
	dir := busy(t)
	front := "---\naudience: quality\nlog: [log/*.csv]\nto: 2026-06-30\n---\n\nText.\n\n"
	type fault struct {
		lines        []string
		id, code     string
		line, column int // in the block, the first line under the fence being 1
		words        []string
	}
	faults := []fault{
		{[]string{"id: good", "method: flow", "rows: sockets"}, "good", "", 0, 0, nil},
		{[]string{"id: key", "method: kaplan-meier", "bye: level"}, "key", "unknown-key", 3, 1, []string{`"bye"`, `"by"`}},
		{[]string{"id: taken", "method: kaplan-meier", "adjust: [level]"}, "taken", "key-not-taken", 3, 1, []string{"kaplan-meier does not take `adjust`", "cox"}},
		{[]string{"id: column", "method: kaplan-meier", "by: suspensoin"}, "column", "unknown-column", 3, 5, []string{`"suspensoin"`, `"suspension"`}},
		{[]string{"id: model", "method: cox", "adjust: [level, liner_m]"}, "model", "unknown-column", 3, 17, []string{`"liner_m"`, `"liner_mm"`}},
		{[]string{"id: keep", "method: flow", "keep: {kind: definitive, levle: transtibial}"}, "keep", "unknown-column", 3, 26, []string{`"levle"`, `"level"`}},
		{[]string{"id: reason", "method: kaplan-meier", "event: [volume lost]"}, "reason", "bad-value", 3, 9, []string{`"volume lost"`, `volume loss"`}},
		{[]string{"id: method", "method: kaplan-meyer"}, "method", "unknown-method", 2, 9, []string{`"kaplan-meyer"`, `"kaplan-meier"`}},
		{[]string{"id: yaml", "method: summary", "columns: [level"}, "yaml", "bad-yaml", 3, 10, []string{"["}},
		{[]string{"id: clash", "method: cox", "by: level", "strata: [level]"}, "clash", "impossible", 4, 10, []string{"stratum", "term"}},
		{[]string{"id: later", "method: cox", "adjust: [end_reason]"}, "later", "known-later", 3, 10, []string{"end_reason"}},
		{[]string{"id: last", "method: pareto", "rows: sockets", "by: end_reason"}, "last", "", 0, 0, nil},
	}
	text, at := front, map[string]int{}
	for _, f := range faults {
		at[f.id] = strings.Count(text, "\n") + 1
		text += ask(f.lines...)
	}
	writeFile(t, filepath.Join(dir, "nb.md"), text)
	o := plybook(t, dir, "run", "nb.md").want(t, statusAskFailed)
	says(t, "what the run says", o.out, "2 questions answered", "10 not")
	n := readNumbers(t, filepath.Join(dir, "nb-report"))
	if len(n.Answers) != len(faults) {
		t.Fatalf("%d answers, want %d", len(n.Answers), len(faults))
	}
	html, err := os.ReadFile(filepath.Join(dir, "nb-report", "report.html"))
	if err != nil {
		t.Fatal(err)
	}
	for i, f := range faults {
		a := n.Answers[i]
		if a.ID != f.id {
			t.Errorf("answer %d is %q, want %q", i, a.ID, f.id)
		}
		if f.code == "" {
			if a.Error != nil || a.Reading == "" || len(a.Tables) == 0 {
				t.Errorf("%s: error %v, reading %q", f.id, a.Error, a.Reading)
			}
			continue
		}
		if a.Error == nil {
			t.Errorf("%s was answered", f.id)
			continue
		}
		e := *a.Error
		if e.Code != f.code || e.File != "nb.md" || e.Line != at[f.id]+f.line || e.Column != f.column {
			t.Errorf("%s: %s at %s:%d:%d, want %s at nb.md:%d:%d (%s)", f.id, e.Code, e.File, e.Line, e.Column, f.code, at[f.id]+f.line, f.column, e.Text)
		}
		says(t, f.id, e.Text, f.words...)
		says(t, "the error stream", o.err, fmt.Sprintf("nb.md:%d:%d: %s: %s", e.Line, e.Column, f.id, e.Text))
		says(t, "the report", string(html), fmt.Sprintf("line %d", e.Line))
		if len(a.Tables) > 0 || a.Reading != "" || a.Rows != nil {
			t.Errorf("%s failed and has numbers", f.id)
		}
	}
}

// Asks without an id of their own still have an answer each; decisions at
// fault and blocks that are no asks are told, the latter without a failure.
func TestFaultyBlocks(t *testing.T) {
	t.Parallel()
	dir := busy(t)
	front := "---\nlog: [log/*.csv]\nto: 2026-06-30\n---\n\n"
	flow := ask("id: flow", "method: flow", "rows: sockets")
	writeFile(t, filepath.Join(dir, "nb.md"), front+flow+flow+ask("method: flow")+ask("metod: flow")+ask("id: [", "method: flow")+
		"```decision\non: 2026-02-31\nwhat: x\n```\n")
	o := plybook(t, dir, "run", "nb.md").want(t, statusAskFailed)
	says(t, "the error stream", o.err, "nb.md:13:5: flow: the id", "nb.md:18:1: ", "nb.md:23:1: ", `"method"`, "nb.md:27:5: ", "nb.md:32:5: ")
	n := readNumbers(t, filepath.Join(dir, "nb-report"))
	ids := map[string]bool{}
	for _, a := range n.Answers {
		if a.ID == "" || ids[a.ID] {
			t.Errorf("the id %q of an answer is empty or taken", a.ID)
		}
		ids[a.ID] = true
	}
	if len(ids) != 5 || n.answer(t, "flow").Error != nil || n.answer(t, "line-13").Error == nil {
		t.Errorf("answers %v", ids)
	}
	writeFile(t, filepath.Join(dir, "nb.md"), front+flow+"```aks\nid: a\nmethod: flow\n```\n\nSee ![the bench](bench.png).\n")
	o = plybook(t, dir, "run", "nb.md").want(t, statusDone)
	says(t, "the error stream", o.err, "nb.md:12:1: note: ", "nb.md:17:")
}

// Where nothing can be written, nothing is: status 2, and what stood before
// is as it was.
func TestNothingWritten(t *testing.T) {
	t.Parallel()
	dir := busy(t)
	plybook(t, dir, "run", "busy.md").want(t, statusDone)
	before := reportFiles(t, dir)
	flow := ask("id: a", "method: flow", "rows: sockets")
	for name, c := range map[string]struct {
		front string
		args  []string
		words []string
	}{
		"key":       {"titel: x\nlog: [log/*.csv]", nil, []string{"bad.md:2:1", "titel", "title"}},
		"audience":  {"log: [log/*.csv]\naudience: qualty", nil, []string{"bad.md:3:11", "qualty", "quality"}},
		"yaml":      {"log: [log/*.csv", nil, []string{"bad.md:2:"}},
		"dates":     {"log: [log/*.csv]\nfrom: 2026-01-01\nto: 2025-01-01", nil, []string{"bad.md:3:1", "later"}},
		"no log":    {"title: x", nil, []string{"names no log", "--log"}},
		"no match":  {"log: [lgo/*.csv]", nil, []string{`"lgo/*.csv"`}},
		"no table":  {"log: [README.md]", nil, []string{"README.md"}},
		"damaged":   {"log: [damaged.xlsx]", nil, []string{"damaged.xlsx"}},
		"quote":     {"log: [broken/visits.csv]", nil, []string{"visits.csv", "never closed"}},
		"flag":      {"log: [log/*.csv]", []string{"--outt", "x"}, []string{"--outt"}},
		"log flag":  {"log: [log/*.csv]", []string{"--log", "none.csv"}, []string{"none.csv"}},
		"foreign":   {"log: [log/*.csv]", []string{"--out", "log"}, []string{"not a report"}},
		"two, out":  {"log: [log/*.csv]", []string{"busy.md", "--out", "both"}, []string{"--out", "several notebooks"}},
		"no folder": {"log: [log/*.csv]", []string{"--out", "README.md/x"}, []string{"README.md"}},
	} {
		t.Run(name, func(t *testing.T) {
			writeFile(t, filepath.Join(dir, "bad.md"), "---\n"+c.front+"\n---\n\n"+flow)
			writeFile(t, filepath.Join(dir, "damaged.xlsx"), "PK\x03\x04 this is no workbook")
			writeFile(t, filepath.Join(dir, "broken", "visits.csv"), "socket,date\nJ01,\"2024-01-01\nJ02,2024-01-02\n")
			o := plybook(t, dir, append([]string{"run", "bad.md"}, c.args...)...).want(t, statusNothing)
			says(t, "the error stream", o.err, c.words...)
			for _, f := range []string{"bad.md", "damaged.xlsx", "broken/visits.csv"} {
				if err := os.Remove(filepath.Join(dir, f)); err != nil {
					t.Fatal(err)
				}
			}
			after := reportFiles(t, dir)
			for f, b := range after {
				if !bytes.Equal(before[f], b) {
					t.Errorf("%s was written", f)
				}
			}
			if len(after) != len(before) || len(leftovers(t, dir)) > 0 || exists(filepath.Join(dir, "bad-report")) {
				t.Error("files were left or lost")
			}
		})
	}
	plybook(t, dir, "run", "nowhere.md").want(t, statusNothing)
	plybook(t, dir, "run").want(t, statusNothing)
	plybook(t, dir, "rum", "busy.md").want(t, statusNothing)
}

// A notebook that cannot be used does not stop the others of a batch.
func TestBatch(t *testing.T) {
	t.Parallel()
	dir := busy(t)
	writeFile(t, filepath.Join(dir, "bad.md"), "---\ntitel: x\n---\n")
	writeFile(t, filepath.Join(dir, "two.md"), "---\nlog: [log/*.csv]\n---\n\n"+ask("id: a", "method: flow", "rows: sockets"))
	o := plybook(t, dir, "run", "bad.md", "busy.md", "two.md").want(t, statusAskFailed)
	says(t, "the error stream", o.err, "bad.md:2:1")
	for _, name := range []string{"busy", "two"} {
		readNumbers(t, filepath.Join(dir, name+"-report"))
	}
	if exists(filepath.Join(dir, "bad-report")) {
		t.Error("the bad notebook has a report")
	}
	plybook(t, dir, "run", "bad.md", "nowhere.md").want(t, statusNothing)
}

// --log takes the place of the notebook's list, seen from where the command
// is run; --out names the folder.
func TestLogAndOut(t *testing.T) {
	t.Parallel()
	dir := busy(t)
	writeFile(t, filepath.Join(dir, "quarter", "nb.md"), "---\nlog: [\"../none/*.xlsx\"]\nto: 2026-06-30\n---\n\n"+ask("id: a", "method: summary", "rows: limbs", "columns: [level]"))
	o := plybook(t, dir, "run", "quarter/nb.md", "--log", "log/*.csv", "--out", "out/first").want(t, statusDone)
	says(t, "what the run says", o.out, filepath.Join("out", "first"))
	n := readNumbers(t, filepath.Join(dir, "out", "first"))
	if len(n.Inputs) != 6 || *n.answer(t, "a").Rows != 14 {
		t.Errorf("%d inputs, %d limbs", len(n.Inputs), *n.answer(t, "a").Rows)
	}
	if exists(filepath.Join(dir, "quarter", "nb-report")) {
		t.Error("a report stands beside the notebook too")
	}
	// Single files, each named.
	plybook(t, filepath.Join(dir, "log"), "run", "../quarter/nb.md", "--log", "limbs.csv", "--log", "sockets.csv").want(t, statusDone)
	n = readNumbers(t, filepath.Join(dir, "quarter", "nb-report"))
	if len(n.Inputs) != 2 {
		t.Errorf("%d inputs, want 2", len(n.Inputs))
	}
}

// A cohort as research exports it: no visits, and follow-up that goes on for
// years after the last delivery.
func TestFollowUpWithoutVisits(t *testing.T) {
	t.Parallel()
	var lives []life
	for i := range 40 {
		days := 200 + i*37
		how := []ending{remade, remade, open}[i%3]
		lives = append(lives, life{id: i + 1, days: days, end: ymd(2016, time.January, 4) + day(i*5) + day(days), how: how, serial: 3*i + 1})
	}
	l, _ := tell(lives)
	l.visits = sheet{}
	n := runLog(t, l, plainCSV, ask("id: km", "method: kaplan-meier"), nil)
	rows := n.answer(t, "km").table(t, "curve")
	near(t, "last time", rows[len(rows)-1]["time"], float64(lives[39].days), 0)
}
