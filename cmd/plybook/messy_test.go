package main

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"plybook/ingest/ingesttest"
)

var (
	ledgerLine  = regexp.MustCompile(`^ledger (?:\[(.*?)\] )?(.*?): read (\d+) used (\d+) aside (\d+) values (\d+) \(`)
	problemLine = regexp.MustCompile(`^problem (?:\[(.*?)\] )?(.*?)!(\w+) `)
	rowsRead    = regexp.MustCompile(`(?m)^(.*?): (\d+) rows? read, (\d+) used, (\d+) set aside; (\d+) values? set aside$`)
)

// TestMessyLogsThroughTheFrontDoor sends every messy log through the built
// command: an intake file is proposed where one is needed, at most two of its
// lines are edited, and inspect must find the rows and the cells that the case
// names, whatever it marks.
func TestMessyLogsThroughTheFrontDoor(t *testing.T) {
	all, err := ingesttest.ReadAll("../../testdata/messy")
	if err != nil || len(all) < 30 {
		t.Fatalf("%d messy logs (%v)", len(all), err)
	}
	for _, c := range all {
		t.Run(c.Name, func(t *testing.T) {
			dir := t.TempDir()
			inspect := append([]string{"inspect", "--no-codes"}, messyFiles(t, dir, c)...)
			out := plybook(t, dir, inspect...).want(t, 0).out
			var got []string
			for _, m := range rowsRead.FindAllStringSubmatch(out, -1) {
				got = append(got, strings.Join(m[1:], " "))
			}
			var want []string
			for _, line := range c.Expected {
				if m := ledgerLine.FindStringSubmatch(line); m != nil {
					want = append(want, strings.Join(append([]string{place(c, m[1], m[2])}, m[3:]...), " "))
				} else if m := problemLine.FindStringSubmatch(line); m != nil && !strings.Contains(out, place(c, m[1], m[2])+"!"+m[3]+":") {
					t.Errorf("no problem at %s:\n%s", line, out)
				}
			}
			if strings.Join(got, "\n") != strings.Join(want, "\n") {
				t.Errorf("counted:\n%s\nwant:\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
			}
		})
	}
}

// messyFiles writes the files of a case, and the intake file with its edits
// where it needs one, and returns the arguments that name them.
func messyFiles(t testing.TB, dir string, c ingesttest.Case) []string {
	t.Helper()
	paths, err := c.Write(dir)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, p := range paths {
		names = append(names, filepath.Base(p))
	}
	if !c.Intake {
		return names
	}
	plybook(t, dir, append([]string{"intake"}, names...)...).want(t, 0)
	file := filepath.Join(dir, "intake.yaml")
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if len(c.Edits) > 2 {
		t.Errorf("%d lines of the proposal have to be edited", len(c.Edits))
	}
	text, err := c.Edit(string(data))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(file, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return append([]string{"--intake", "intake.yaml"}, names...)
}

// place is how inspect names a sheet of a case.
func place(c ingesttest.Case, file, sheet string) string {
	if file == "" {
		file = c.Files[0].Name
	}
	if sheet == "" {
		return file
	}
	return file + ":" + sheet
}

// TestMessyWideLogsRun takes one-wide-sheet logs of different styles from the
// lab's sheet to a report.
func TestMessyWideLogsRun(t *testing.T) {
	for _, name := range []string{"wide-checks-and-definitive", "wide-girths-and-marks", "wide-two-limbs", "wide-reviews-in-words.csv"} {
		t.Run(name, func(t *testing.T) {
			c, err := ingesttest.Read("../../testdata/messy/" + name + ".txt")
			if err != nil {
				t.Fatal(err)
			}
			dir := t.TempDir()
			args := messyFiles(t, dir, c)
			notebook := "---\ntitle: Messy\nlog: [" + args[2] + "]\nintake: intake.yaml\n---\n```ask\nid: visits\nquestion: How did they fit?\nmethod: summary\nrows: visits\ncolumns: [ply, comfort]\n```\n"
			if err := os.WriteFile(filepath.Join(dir, "messy.md"), []byte(notebook), 0o600); err != nil {
				t.Fatal(err)
			}
			plybook(t, dir, "run", "messy.md").want(t, 0)
			visits := 0
			for _, line := range c.Expected {
				if strings.HasPrefix(line, "visit ") {
					visits++
				}
			}
			n := readNumbers(t, filepath.Join(dir, "messy-report"))
			if a := n.answer(t, "visits"); a.Error != nil || a.Rows == nil || *a.Rows != visits {
				t.Errorf("the answer is %s", fmt.Sprint(a))
			}
		})
	}
}
