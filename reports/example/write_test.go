package example

import (
	"archive/zip"
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"sync"
	"testing"

	"github.com/xuri/excelize/v2"

	"plybook/ingest"
	"plybook/reports/notebook"
)

func makeFiles(t *testing.T, seed uint64) map[string][]byte {
	t.Helper()
	files, err := Files(context.Background(), seed)
	if err != nil {
		t.Fatal(err)
	}
	return files
}

var onceFiles = sync.OnceValues(func() (map[string][]byte, error) { return Files(context.Background(), Seed) })

// exampleFiles are the files as shipped, made once for all tests.
func exampleFiles(t *testing.T) map[string][]byte {
	t.Helper()
	files, err := onceFiles()
	if err != nil {
		t.Fatal(err)
	}
	return files
}

func TestFilesSameBytes(t *testing.T) {
	a, b, c := exampleFiles(t), makeFiles(t, Seed), makeFiles(t, Seed+1)
	if len(a) != 12 {
		t.Errorf("%d files, want 8 workbooks and 4 notebooks: %q", len(a), sortedNames(a))
	}
	for _, name := range sortedNames(a) {
		if !bytes.Equal(a[name], b[name]) {
			t.Errorf("%s: two runs differ", name)
		}
		if strings.HasSuffix(name, ".xlsx") && bytes.Equal(a[name], c[name]) {
			t.Errorf("%s: two seeds gave the same bytes", name)
		}
	}
}

// TestFilesCarryNoClock looks for what would make tomorrow's bytes differ:
// times of zip members and of the document.
func TestFilesCarryNoClock(t *testing.T) {
	for name, data := range exampleFiles(t) {
		if !strings.HasSuffix(name, ".xlsx") {
			continue
		}
		z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
		if err != nil {
			t.Fatal(err)
		}
		for _, m := range z.File {
			if m.Modified.Year() > 1980 {
				t.Errorf("%s: member %s was modified %v", name, m.Name, m.Modified)
			}
		}
		f, err := excelize.OpenReader(bytes.NewReader(data))
		if err != nil {
			t.Fatal(err)
		}
		p, err := f.GetDocProps()
		if err != nil || p.Created != savedAt || p.Modified != savedAt {
			t.Errorf("%s: created %s, modified %s (%v)", name, p.Created, p.Modified, err)
		}
		if err := f.Close(); err != nil {
			t.Error(err)
		}
	}
}

func TestWrite(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "lab")
	if err := Write(context.Background(), dir, Seed); err != nil {
		t.Fatal(err)
	}
	files := exampleFiles(t)
	for name, data := range files {
		got, err := os.ReadFile(filepath.Join(dir, filepath.FromSlash(name)))
		if err != nil || !bytes.Equal(got, data) {
			t.Errorf("%s is not what was made (%v)", name, err)
		}
	}
	for _, sub := range []string{"", "log"} {
		entries, err := os.ReadDir(filepath.Join(dir, sub))
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range entries {
			if strings.HasPrefix(e.Name(), ".") {
				t.Errorf("left behind: %s", e.Name())
			}
		}
	}
}

func TestWriteKeepsWhatIsThere(t *testing.T) {
	dir := t.TempDir()
	mine := filepath.Join(dir, "quality.md")
	if err := os.WriteFile(mine, []byte("my notes"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := Write(context.Background(), dir, Seed); !errors.Is(err, ErrExists) {
		t.Errorf("%v, want ErrExists", err)
	}
	got, err := os.ReadFile(mine)
	if err != nil || string(got) != "my notes" {
		t.Errorf("the file was touched: %q, %v", got, err)
	}
	if entries, err := os.ReadDir(dir); err != nil || len(entries) != 1 {
		t.Errorf("something was written beside it: %v, %v", entries, err)
	}
}

func TestWriteStops(t *testing.T) {
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	dir := filepath.Join(t.TempDir(), "lab")
	if err := Write(ctx, dir, Seed); !errors.Is(err, context.Canceled) {
		t.Errorf("%v, want context.Canceled", err)
	}
	if _, err := os.Stat(dir); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the folder was made all the same (%v)", err)
	}
}

// TestNotebooksRead parses the notebooks: no fault in any ask or decision,
// and every reason they name is one of the log's.
func TestNotebooksRead(t *testing.T) {
	methods := map[string]bool{}
	for name, data := range exampleFiles(t) {
		if !strings.HasSuffix(name, ".md") {
			continue
		}
		nb, err := notebook.Parse(name, data)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		want := strings.TrimSuffix(name, ".md")
		if name == "workshop.md" { // for the lab itself too, with every table
			want = "quality"
		}
		if string(nb.Front.Audience) != want {
			t.Errorf("%s is for %q", name, nb.Front.Audience)
		}
		for _, a := range nb.Asks() {
			if a.Err != nil {
				t.Errorf("%s: %v", name, a.Err)
				continue
			}
			methods[a.Method] = true
			if a.Event == nil {
				continue
			}
			for _, c := range a.Event.Causes {
				if !c.Set && !ingest.EndReasons().Has(c.Name) {
					t.Errorf("%s: ask %s: %q is no reason", name, a.ID, c.Name)
				}
			}
		}
		for _, d := range nb.Decisions() {
			if d.Err != nil {
				t.Errorf("%s: %v", name, d.Err)
			}
		}
		if decisions := len(nb.Decisions()); (name == "research.md" || name == "workshop.md") != (decisions == 0) {
			t.Errorf("%s: %d decisions", name, decisions)
		}
	}
	for _, m := range []string{"kaplan-meier", "cox", "cumulative-incidence", "linear", "mixed", "pareto", "control-chart", "summary", "flow"} {
		if !methods[m] {
			t.Errorf("no ask uses %s", m)
		}
	}
}

// TestPlantedFaults checks that every kind of fault was planted, and that
// the cells named hold something that is wrong.
func TestPlantedFaults(t *testing.T) {
	files := exampleFiles(t)
	books := map[string]*excelize.File{}
	count := map[Defect]int{}
	for _, p := range Plant(Seed) {
		count[p.What]++
		f := books[p.File]
		if f == nil {
			var err error
			if f, err = excelize.OpenReader(bytes.NewReader(files["log/"+p.File])); err != nil {
				t.Fatal(err)
			}
			defer f.Close()
			books[p.File] = f
		}
		cell, err := excelize.CoordinatesToCellName(p.Col, p.Row)
		if err != nil {
			t.Fatal(err)
		}
		got, err := f.GetCellValue(p.Sheet, cell)
		if err != nil {
			t.Fatal(err)
		}
		want := map[Defect]func(string) bool{
			BadComfort:       func(s string) bool { return s == "12" },
			BadGirth:         func(s string) bool { return s == "3.2 mm" },
			BadDate:          func(s string) bool { return strings.HasPrefix(s, "30.02.") || s == "31.02.2025" },
			FarDate:          func(s string) bool { return strings.Contains(s, "1924") },
			UnknownSocket:    func(s string) bool { return strings.HasPrefix(s, "P9") },
			UnknownVisit:     func(s string) bool { return strings.HasPrefix(s, "V9") },
			TwoEveryday:      func(s string) bool { return strings.EqualFold(s, "everyday") || s == "daily" },
			DiedOpen:         func(s string) bool { return s == "" },
			IdentifyingEntry: func(s string) bool { return strings.HasPrefix(s, "555-01") },
			UnknownReason:    func(s string) bool { return ingest.EndReasons().Lookup(s).How == ingest.NoMatch },
			UnknownWord:      func(s string) bool { return ingest.Causes().Lookup(s).How == ingest.NoMatch },
		}[p.What]
		if want != nil && !want(got) {
			t.Errorf("%s %s!%s: %q is no %s", p.File, p.Sheet, cell, got, p.What)
		}
	}
	var rare []string
	for _, what := range []Defect{UnknownSocket, UnknownVisit, BadDate, FarDate, BadComfort, BadGirth, BadPly, EndedEarly,
		BeforeBirth, TwoEveryday, DiedOpen, UnknownReason, DuplicateRow, DuplicateID, UnknownWord, IdentifyingEntry} {
		if count[what] == 0 {
			rare = append(rare, string(what))
		}
	}
	sort.Strings(rare)
	if len(rare) > 0 {
		t.Errorf("not planted: %s", strings.Join(rare, "; "))
	}
}

// TestSpellingsAreRead looks every spelling up that the messy sheets use: a
// word that is in no vocabulary would be a loss nobody planted.
func TestSpellingsAreRead(t *testing.T) {
	for _, s := range messy(Draw(Seed), Seed) {
		for _, field := range ingest.Fields(s.name) {
			if field.Words == nil {
				continue
			}
			c := s.col(field.Name)
			if c < 0 {
				t.Fatalf("%s %s: no column %s", s.file, s.name, field.Name)
			}
			for i, r := range s.rows {
				text, ok := r.cells[c].(string)
				if !ok || field.Words.Lookup(text).How == ingest.Exact || field.Words.Lookup(text).How == ingest.Near {
					continue
				}
				planted := false
				for _, f := range r.faults {
					planted = planted || f.column == c
				}
				if !planted {
					t.Errorf("%s %s row %d: %q is read as %+v", s.file, s.name, i+2, text, field.Words.Lookup(text))
				}
			}
		}
	}
}
