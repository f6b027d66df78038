package main

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"plybook/reports/browser"
)

// examplePages writes the example and runs three of its notebooks.
func examplePages(t *testing.T) map[string]string {
	t.Helper()
	dir := t.TempDir()
	plybook(t, dir, "example", "demo").want(t, 0)
	out := map[string]string{}
	for _, name := range []string{"quality", "research", "annual"} {
		plybook(t, dir, "run", filepath.Join("demo", name+".md")).want(t, 0)
		out[name] = filepath.Join(dir, "demo", name+"-report", "report.html")
	}
	return out
}

// The three reports of the example, light and dark, are held to the rules of
// axe-core in a browser; none is broken, those that it calls minor included.
// https://github.com/dequelabs/axe-core has the rules.
func TestPagesKeepTheRulesOfAccess(t *testing.T) {
	b := browser.Start(t)
	rules := browser.Rules(t)
	for name, file := range examplePages(t) {
		for _, dark := range []bool{false, true} {
			p := b.Open(t, file, browser.Options{Dark: dark, Anything: true})
			if dir := os.Getenv("PLYBOOK_SHOTS"); dir != "" {
				shot := filepath.Join(dir, fmt.Sprintf("%s-dark-%v", name, dark))
				if err := errors.Join(os.WriteFile(shot+".png", p.Screenshot(t), 0o600), os.WriteFile(shot+".pdf", p.Print(t), 0o600)); err != nil {
					t.Fatal(err)
				}
			}
			p.Run(t, `document.querySelectorAll("details").forEach(d=>d.open=true)`, nil)
			broken, met := p.Violations(t, rules)
			for _, v := range broken {
				t.Errorf("%s, dark %v: %v", name, dark, v)
			}
			if met < 100 {
				t.Errorf("%s, dark %v: the rules were met in %d places only", name, dark, met)
			}
		}
	}
}

// A page asks the network for nothing and has nothing to say on the console.
func TestPagesStandAlone(t *testing.T) {
	b := browser.Start(t)
	for name, file := range examplePages(t) {
		p := b.Open(t, file, browser.Options{})
		if asked := p.Requests(); len(asked) != 1 || !strings.HasSuffix(asked[0], "report.html") {
			t.Errorf("%s asked for %v", name, asked)
		}
		var fetched int
		p.Run(t, `performance.getEntriesByType("resource").length`, &fetched)
		if fetched != 0 {
			t.Errorf("%s fetched %d things", name, fetched)
		}
		if said := p.Console(); len(said) > 0 {
			t.Errorf("%s wrote to the console: %s", name, strings.Join(said, "\n"))
		}
	}
}
