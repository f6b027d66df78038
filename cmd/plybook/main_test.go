package main

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
)

// binary is the command under test, built once.
var binary string

func TestMain(m *testing.M) {
	os.Exit(buildAndRun(m))
}

func buildAndRun(m *testing.M) int {
	dir, err := os.MkdirTemp("", "plybook-test-")
	if err != nil {
		fmt.Fprintln(os.Stderr, err)
		return 1
	}
	defer os.RemoveAll(dir)
	binary = filepath.Join(dir, "plybook")
	if runtime.GOOS == "windows" {
		binary += ".exe"
	}
	// Without the state of the checkout, which may not be one.
	if out, err := exec.Command("go", "build", "-buildvcs=false", "-o", binary, ".").CombinedOutput(); err != nil {
		fmt.Fprintf(os.Stderr, "build: %v\n%s", err, out)
		return 1
	}
	return m.Run()
}

// outcome is what a call of the command came to.
type outcome struct {
	status   int
	out, err string
}

// plybook runs the command in a folder, as a user would.
func plybook(t testing.TB, dir string, args ...string) outcome {
	t.Helper()
	cmd := exec.Command(binary, args...)
	var out, errOut bytes.Buffer
	cmd.Dir, cmd.Stdout, cmd.Stderr = dir, &out, &errOut
	err := cmd.Run()
	var exit *exec.ExitError
	if err != nil && !errors.As(err, &exit) {
		t.Fatal(err)
	}
	return outcome{cmd.ProcessState.ExitCode(), out.String(), errOut.String()}
}

// want checks the exit status.
func (o outcome) want(t testing.TB, status int) outcome {
	t.Helper()
	if o.status != status {
		t.Fatalf("exit status %d, want %d\n%s%s", o.status, status, o.out, o.err)
	}
	return o
}

// says checks that the text holds each of the words.
func says(t testing.TB, what, text string, words ...string) {
	t.Helper()
	for _, w := range words {
		if !strings.Contains(text, w) {
			t.Errorf("%s lacks %q:\n%s", what, w, text)
		}
	}
}

// numbersFile is numbers.json.
type numbersFile struct {
	Schema int
	Inputs []struct {
		File, SHA256, Sheet string
		Read, Used          int
		SetAside            int `json:"set_aside"`
		ValuesSetAside      int `json:"values_set_aside"`
	}
	Answers []numbersAnswer
}

type numbersAnswer struct {
	ID, Method, Question string
	Rows, Events         *int
	Tables               map[string][]map[string]any
	Reading              string
	Cautions             []struct{ Code, Text string }
	Error                *struct {
		Code, Text, File string
		Line, Column     int
	}
}

// runRecord is run.json, as far as the tests look at it.
type runFile struct {
	Counts struct {
		Asks, Failed, Read, Used int
		SetAside                 int `json:"set_aside"`
		ValuesSetAside           int `json:"values_set_aside"`
	}
	Problems []struct {
		Code  string
		Count int
	}
}

func readJSON(t testing.TB, path string, to any) {
	t.Helper()
	raw, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(raw, to); err != nil {
		t.Fatalf("%s: %v", path, err)
	}
}

// readNumbers reads numbers.json of a report folder and checks what holds of
// each: the ledger adds up, sheet by sheet.
func readNumbers(t testing.TB, folder string) *numbersFile {
	t.Helper()
	n := &numbersFile{}
	readJSON(t, filepath.Join(folder, "numbers.json"), n)
	if n.Schema != 1 || len(n.Inputs) == 0 {
		t.Fatalf("schema %d, %d inputs", n.Schema, len(n.Inputs))
	}
	for _, in := range n.Inputs {
		if in.Read != in.Used+in.SetAside {
			t.Errorf("%s %s: %d read, but %d used and %d set aside", in.File, in.Sheet, in.Read, in.Used, in.SetAside)
		}
		if len(in.SHA256) != 64 {
			t.Errorf("%s: checksum %q", in.File, in.SHA256)
		}
	}
	return n
}

// answer finds an answer by its id.
func (n *numbersFile) answer(t testing.TB, id string) *numbersAnswer {
	t.Helper()
	for i := range n.Answers {
		if n.Answers[i].ID == id {
			return &n.Answers[i]
		}
	}
	t.Fatalf("no answer %q", id)
	return nil
}

// caution reports whether an answer raises a caution.
func (a *numbersAnswer) caution(code string) bool {
	for _, c := range a.Cautions {
		if c.Code == code {
			return true
		}
	}
	return false
}

// reportFiles reads every file under a folder, by its path there.
func reportFiles(t testing.TB, folder string) map[string][]byte {
	t.Helper()
	out := map[string][]byte{}
	err := filepath.WalkDir(folder, func(path string, d os.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		b, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(folder, path)
		out[filepath.ToSlash(rel)] = b
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func writeFile(t testing.TB, path, text string) {
	t.Helper()
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
}
