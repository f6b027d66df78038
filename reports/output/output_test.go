package output

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"
)

func read(t *testing.T, path string) string {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

func write(t *testing.T, target, text string, commit bool) {
	t.Helper()
	f, err := Create(target)
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{Mark, "figures/a.svg"} {
		if err := f.Write(name, []byte(text)); err != nil {
			t.Fatal(err)
		}
	}
	if commit {
		err = f.Commit()
	} else {
		err = f.Discard()
	}
	if err != nil {
		t.Fatal(err)
	}
}

func TestWholeOrNotAtAll(t *testing.T) {
	parent := t.TempDir()
	target := filepath.Join(parent, "review-report")
	write(t, target, "one", true)
	write(t, target, "two", false)
	if got := read(t, filepath.Join(target, "figures", "a.svg")); got != "one" {
		t.Errorf("a discarded folder changed the earlier one: %q", got)
	}
	write(t, target, "three", true)
	if got := read(t, filepath.Join(target, Mark)); got != "three" {
		t.Errorf("got %q after the second commit", got)
	}
	left, err := os.ReadDir(parent)
	if err != nil || len(left) != 1 {
		t.Errorf("left beside the output: %v %v", left, err)
	}
}

func TestReplaceInSteps(t *testing.T) {
	parent := t.TempDir()
	a, b := filepath.Join(parent, "new"), filepath.Join(parent, "target")
	for _, d := range []string{a, b} {
		if err := os.Mkdir(d, 0o755); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(d, "x"), []byte(filepath.Base(d)), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	if err := replaceInSteps(a, b); err != nil {
		t.Fatal(err)
	}
	if got := read(t, filepath.Join(b, "x")); got != "new" {
		t.Errorf("target holds %q", got)
	}
	if got := read(t, filepath.Join(a, "x")); got != "target" {
		t.Errorf("the earlier output is %q", got)
	}
}

func TestForeignFolderIsRefused(t *testing.T) {
	dir := t.TempDir()
	if err := os.WriteFile(filepath.Join(dir, "thesis.docx"), nil, 0o644); err != nil {
		t.Fatal(err)
	}
	if _, err := Create(dir); !errors.Is(err, ErrForeign) {
		t.Errorf("got %v, want ErrForeign", err)
	}
}

func TestPathOutside(t *testing.T) {
	f, err := Create(filepath.Join(t.TempDir(), "r"))
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := f.Discard(); err != nil {
			t.Error(err)
		}
	}()
	if err := f.Write("../x", nil); err == nil {
		t.Error("a path outside the folder was accepted")
	}
}

// What a killed run left is removed a day later, and nothing else is.
func TestAbandonedFolders(t *testing.T) {
	parent := t.TempDir()
	old, fresh, other := filepath.Join(parent, ".review-report.part-1"), filepath.Join(parent, ".review-report.part-2"), filepath.Join(parent, ".other-report.part-3")
	for _, dir := range []string{old, fresh, other} {
		if err := os.MkdirAll(filepath.Join(dir, "figures"), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	for _, dir := range []string{old, other} {
		before := time.Now().Add(-25 * time.Hour)
		if err := os.Chtimes(dir, before, before); err != nil {
			t.Fatal(err)
		}
	}
	write(t, filepath.Join(parent, "review-report"), "one", true)
	if _, err := os.Stat(old); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the folder of a killed run stays: %v", err)
	}
	for _, dir := range []string{fresh, other} {
		if _, err := os.Stat(dir); err != nil {
			t.Error(err)
		}
	}
}
