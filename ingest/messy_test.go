package ingest

import (
	"context"
	"os"
	"path/filepath"
	"regexp"
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

// guessed is a line of a proposal that says which column a field, a distance
// or a region is read from.
var guessed = regexp.MustCompile(`^ +(?:- )?(?:[a-z_]+|"?-?[\d.]+ (?:cm|mm|in)"?|[a-z -]+): [^{\[]\S.*?(?:  # (.*))?$`)

// TestProposalsSayHowSureTheyAre looks at every line of every proposal that
// names a column: behind it stand values, or that they are not shown, and how
// sure the guess is. Wide logs of at least six styles are among them.
func TestProposalsSayHowSureTheyAre(t *testing.T) {
	wide, looked := 0, 0
	for _, c := range append(cases(t, messyFolder), cases(t, "../testdata/intake")...) {
		if !c.Intake {
			continue
		}
		if strings.HasPrefix(c.Name, "wide-") {
			wide++
		}
		text, _ := proposeAndRead(t, c, written(t, c))
		text, _, _ = strings.Cut(text, "\nwords:")
		for _, line := range strings.Split(text, "\n") {
			word, _, _ := strings.Cut(strings.TrimLeft(line, " -"), ":")
			switch word {
			case "sheet", "file", "header", "columns", "ends", "skip", "fill_down", "date_order", "unit", "of_visit":
				continue
			}
			m := guessed.FindStringSubmatch(line)
			if m == nil || !strings.HasPrefix(line, "      ") || strings.Contains(text, "marks:") && len(word) <= 3 {
				continue
			}
			looked++
			if !strings.Contains(m[1], "%)") {
				t.Errorf("%s: the line says nothing of how sure it is: %s", c.Name, line)
			}
		}
	}
	if wide < 6 || looked < 300 {
		t.Errorf("%d wide logs, %d lines", wide, looked)
	}
}

// TestProposalsShowNobody sees to it that names, numbers and addresses of a
// sheet stand neither in the proposal nor among the problems.
func TestProposalsShowNobody(t *testing.T) {
	for _, name := range []string{"wide-with-names", "identifying-columns", "names-in-two-columns"} {
		c, err := ingesttest.Read(messyFolder + "/" + name + ".txt")
		if err != nil {
			t.Fatal(err)
		}
		text := ""
		var log *Log
		if c.Intake {
			text, log = proposeAndRead(t, c, written(t, c))
		} else {
			log = readPlain(t, c)
		}
		for _, p := range log.Problems {
			text += p.String() + p.Found
		}
		for _, secret := range []string{"Doe", "Roe", "Poe", "4857773456", "9434765919", "07700", "0161", "1951-03-12", "Example Road", "lab.invalid", "likes it", "Vole", "Maddox", "Perrin", "Ysolde"} {
			if strings.Contains(text, secret) {
				t.Errorf("%s: %q is shown:\n%s", name, secret, text)
			}
		}
	}
}
