package main

import (
	"encoding/json"
	"errors"
	"io"
	"os/exec"
	"strings"
	"testing"
)

type listed struct {
	ImportPath   string
	Imports      []string
	Deps         []string
	TestImports  []string
	XTestImports []string
}

func listPackages(t *testing.T) []listed {
	t.Helper()
	out, err := exec.Command("go", "list", "-deps=false", "-json=ImportPath,Imports,Deps,TestImports,XTestImports", "plybook/...").Output()
	if err != nil {
		t.Fatal(err)
	}
	var ps []listed
	for d := json.NewDecoder(strings.NewReader(string(out))); ; {
		var p listed
		if err := d.Decode(&p); errors.Is(err, io.EOF) {
			return ps
		} else if err != nil {
			t.Fatal(err)
		}
		ps = append(ps, p)
	}
}

func under(path, dir string) bool {
	return path == "plybook/"+dir || strings.HasPrefix(path, "plybook/"+dir+"/")
}

// Imports run cmd -> reports -> {ingest, analysis}, and never back.
func TestImportsRunOneWay(t *testing.T) {
	forbidden := []struct{ from, to, why string }{
		{"analysis", "ingest", "the mathematics know no file"},
		{"analysis", "reports", "the mathematics know no print"},
		{"analysis", "cmd", "the mathematics know no command"},
		{"ingest", "analysis", "reading knows no statistics"},
		{"ingest", "reports", "reading knows no print"},
		{"ingest", "cmd", "reading knows no command"},
		{"reports", "cmd", "a report knows no command"},
	}
	for _, p := range listPackages(t) {
		for _, f := range forbidden {
			if !under(p.ImportPath, f.from) {
				continue
			}
			for _, d := range append(append([]string(nil), p.Deps...), append(p.TestImports, p.XTestImports...)...) {
				if under(d, f.to) {
					t.Errorf("%s imports %s: %s", p.ImportPath, d, f.why)
				}
			}
		}
	}
}

// The mathematics open no file, write no log and speak to no network; ingest
// and analysis meet in reports only; spreadsheets are read in ingest alone.
func TestImportsForbidden(t *testing.T) {
	for _, p := range listPackages(t) {
		for _, d := range p.Imports {
			switch {
			case under(p.ImportPath, "analysis") && (d == "os" || d == "log" || d == "log/slog" || d == "net/http"):
				t.Errorf("%s imports %s", p.ImportPath, d)
			case !under(p.ImportPath, "ingest") && !under(p.ImportPath, "reports/numbers") && !under(p.ImportPath, "reports/example") && strings.HasPrefix(d, "github.com/xuri/excelize"):
				t.Errorf("%s imports %s: workbooks are read in ingest and written in reports/numbers", p.ImportPath, d)
			case d == "net" || d == "net/http":
				t.Errorf("%s imports %s: nothing leaves the machine", p.ImportPath, d)
			}
		}
	}
}
