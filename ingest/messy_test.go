package ingest

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"plybook/ingest/ingesttest"
)

const messyFolder = "../testdata/messy"

// TestMessyLogs reads each messy log as a lab would: as it stands where it is
// in the plain layout, else by the intake proposed for it with at most two
// lines edited.
func TestMessyLogs(t *testing.T) {
	all := cases(t, messyFolder)
	if len(all) < 30 {
		t.Fatalf("%d messy logs", len(all))
	}
	index, err := os.ReadFile(messyFolder + "/README.md")
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range all {
		t.Run(c.Name, func(t *testing.T) {
			if !strings.Contains(string(index), "| `"+c.Name+"` | "+c.About+" |") {
				t.Errorf("README.md lacks | `%s` | %s |", c.Name, c.About)
			}
			if *update {
				updateCase(t, messyFolder, c)
			} else if c.Intake {
				checkProposal(t, c)
			} else {
				log := readPlain(t, c)
				checkLedger(t, log)
				compareLines(t, describeLog(log), c.Expected, "")
			}
		})
	}
}

func readPlain(t testing.TB, c ingesttest.Case) *Log {
	t.Helper()
	log, err := Read(context.Background(), written(t, c), Options{})
	if err != nil {
		t.Fatal(err)
	}
	return log
}

// updateCase rewrites what is expected of a case.
func updateCase(t testing.TB, dir string, c ingesttest.Case) {
	t.Helper()
	var log *Log
	if c.Intake {
		_, log = proposeAndRead(t, c, written(t, c))
	} else {
		log = readPlain(t, c)
	}
	path := filepath.Join(dir, c.Name+".txt")
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	before, _, _ := strings.Cut(string(data), "-- expected\n")
	if err := os.WriteFile(path, []byte(before+"-- expected\n"+strings.Join(describeLog(log), "\n")+"\n"), 0o644); err != nil {
		t.Fatal(err)
	}
}
