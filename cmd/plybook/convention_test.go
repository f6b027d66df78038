package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// One notebook by two conventions: the reports differ in how they write
// numbers and dates, the files of numbers do not differ at all.
func TestNumbersAndDatesByTheReadersConvention(t *testing.T) {
	t.Parallel()
	lab := exampleLab(t)
	notebook := func(name, keys string) map[string]string {
		src := "---\ntitle: Socks\nlog: [log/*.xlsx]\nfrom: 2023-07-01\nto: 2026-06-30\n" + keys + "---\n\n" +
			"About 1,500 ml.\n\n```ask\nid: lasting\nquestion: More than 1,500 days?\nmethod: kaplan-meier\nrows: sockets\nevent: remake\ntimes: [1y]\n" +
			"note: Above 2,500 g.\n```\n\n```ask\nid: ratio\nmethod: cox\nrows: sockets\nevent: remake\nby: cast_method\n```\n"
		dir := t.TempDir()
		path := filepath.Join(dir, name+".md")
		if err := os.WriteFile(path, []byte(src), 0o600); err != nil {
			t.Fatal(err)
		}
		out := filepath.Join(dir, "out")
		plybook(t, lab, "run", path, "--log", filepath.Join(lab, "log", "*.xlsx"), "--out", out).want(t, statusDone)
		files := map[string]string{}
		for _, f := range []string{"report.html", "numbers.json", "figures/ratio.svg"} {
			b, err := os.ReadFile(filepath.Join(out, f))
			if err != nil {
				t.Fatal(err)
			}
			files[f] = strings.ReplaceAll(string(b), "\u00a0", " ")
		}
		return files
	}
	plain := notebook("plain", "")
	other := notebook("other", "numbers: comma\ndates: year-first\n")
	if plain["numbers.json"] != other["numbers.json"] {
		t.Error("the numbers differ by how they are written")
	}
	for _, c := range []struct{ in, was, is string }{
		{"report.html", "14,035 rows", "14 035 rows"},
		{"report.html", "1 July 2023", "2023-07-01"},
		{"report.html", "30 June 2026", "2026-06-30"},
		{"report.html", `<html lang="en">`, `<html lang="en" data-numbers="comma">`},
		{"figures/ratio.svg", ">1.5<", ">1,5<"},
	} {
		if !strings.Contains(plain[c.in], c.was) || strings.Contains(other[c.in], c.was) || !strings.Contains(other[c.in], c.is) {
			t.Errorf("%s: %q should have become %q (there before: %t, still there: %t, there now: %t)", c.in, c.was, c.is,
				strings.Contains(plain[c.in], c.was), strings.Contains(other[c.in], c.was), strings.Contains(other[c.in], c.is))
		}
	}
	for _, own := range []string{"About 1,500 ml.", "More than 1,500 days?", "Above 2,500 g."} {
		if !strings.Contains(other["report.html"], own) {
			t.Errorf("the lab's own words %q were written over", own)
		}
	}
}
