package ingest

import (
	"flag"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "rewrite what is expected of logs")

func busyPaths(t testing.TB) []string {
	t.Helper()
	var paths []string
	for _, table := range Tables() {
		paths = append(paths, filepath.Join("testdata", "busy", table+".csv"))
	}
	return paths
}

// TestBusyLog reads six tables as a busy technician types them. The expected
// list was compared line by line with the tables;
// -update rewrites it after a change that is meant.
func TestBusyLog(t *testing.T) {
	log := read(t, Options{}, busyPaths(t)...)
	var b strings.Builder
	for _, p := range log.Problems {
		b.WriteString(strings.Join([]string{filepath.Base(p.File), p.Cell, p.Code, p.Done.String(), p.Text}, " | ") + "\n")
	}
	golden := filepath.Join("testdata", "busy", "problems.txt")
	if *update {
		if err := os.WriteFile(golden, []byte(b.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(golden)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), b.String()); diff != "" {
		t.Error(diff)
	}
}
