//go:build unix

package main

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"syscall"
	"testing"
	"time"
)

// stopped starts a run, waits until its temporary folder is there and holds
// the file named, if any, sends a signal, and gives the exit status (-1:
// killed) and what was said.
func stopped(t *testing.T, dir, file string, signal syscall.Signal) (int, string) {
	t.Helper()
	cmd := exec.Command(binary, "run", "nb.md")
	var errOut bytes.Buffer
	cmd.Dir, cmd.Stderr = dir, &errOut
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	begun := time.Now()
	for {
		found, err := filepath.Glob(filepath.Join(dir, ".nb-report.part-*", file))
		if err != nil {
			t.Fatal(err)
		}
		if len(found) > 0 {
			break
		}
		if time.Since(begun) > 20*time.Second {
			t.Fatal("no temporary folder appeared")
		}
		time.Sleep(time.Millisecond)
	}
	if err := cmd.Process.Signal(signal); err != nil {
		t.Fatal(err)
	}
	err := cmd.Wait()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		t.Fatal(err)
	}
	return cmd.ProcessState.ExitCode(), errOut.String()
}

// A run that is stopped leaves the earlier report whole.
func TestStoppedRuns(t *testing.T) {
	t.Parallel()
	dir := busy(t)
	front := "---\ntitle: First\nlog: [log/*.csv]\nto: 2026-06-30\n---\n\n"
	asks := ""
	for i := range 16 { // figures take the time that is needed to be stopped in
		asks += ask(fmt.Sprintf("id: a%d", i), "method: control-chart", "rows: visits", "chart: xmr", "numerator: count")
	}
	writeFile(t, filepath.Join(dir, "nb.md"), front+ask("id: first", "method: control-chart", "rows: visits", "chart: xmr", "outcome: comfort"))
	plybook(t, dir, "run", "nb.md").want(t, statusDone)
	report := filepath.Join(dir, "nb-report")
	before := reportFiles(t, report)
	same := func(when string) {
		t.Helper()
		after := reportFiles(t, report)
		if len(after) != len(before) {
			t.Errorf("%s: %d files, before %d", when, len(after), len(before))
		}
		for name, b := range before {
			if !bytes.Equal(after[name], b) {
				t.Errorf("%s: %s changed", when, name)
			}
		}
	}
	writeFile(t, filepath.Join(dir, "nb.md"), front+asks)

	status, said := stopped(t, dir, "", syscall.SIGINT)
	if status != statusInterrupted {
		t.Errorf("exit status %d after an interrupt, want %d\n%s", status, statusInterrupted, said)
	}
	says(t, "the error stream", said, "interrupted")
	same("interrupted")
	if l := leftovers(t, dir); len(l) > 0 {
		t.Errorf("an interrupted run left %v", l)
	}

	if status, said = stopped(t, dir, "report.html", syscall.SIGKILL); status != -1 {
		t.Fatalf("exit status %d, the run was over before it was killed\n%s", status, said)
	}
	same("killed")

	// The next run does its job all the same, and a day later it removes what
	// the killed one left.
	left := leftovers(t, dir)
	if len(left) != 1 {
		t.Fatalf("the killed run left %v", left)
	}
	before24 := time.Now().Add(-25 * time.Hour)
	if err := os.Chtimes(left[0], before24, before24); err != nil {
		t.Fatal(err)
	}
	plybook(t, dir, "run", "nb.md").want(t, statusDone)
	if n := readNumbers(t, report); len(n.Answers) != 16 {
		t.Errorf("%d answers after all", len(n.Answers))
	}
	if !exists(filepath.Join(report, "figures", "a15.png")) || exists(filepath.Join(report, "figures", "first.png")) {
		t.Error("the new report is not the new notebook's")
	}
	if l := leftovers(t, dir); len(l) > 0 {
		t.Errorf("a killed run's temporary folder stays: %v", l)
	}
}
