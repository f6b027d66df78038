package notebook

import (
	"os"
	"strings"
	"testing"
)

// FuzzParse holds Parse to what it promises of any input: no panic, places
// within the file, and keys that stand where their places say.
func FuzzParse(f *testing.F) {
	if src, err := os.ReadFile("testdata/review.md"); err == nil {
		f.Add(string(src))
	} else {
		f.Fatal(err)
	}
	for _, x := range faults {
		f.Add(head + "- a\n\n  ```ask\n" + indent(strings.ReplaceAll(x.body, mark, ""), "  ") + "  ```\n")
	}
	f.Add("\ufeff---\r\ntitle: 'a\r\n  b'\r\n---\r\n> x\r\n\r\n```decision\r\non: 2026-01-01\r\nwhat: |\r\n\r\n  x\r\n```\r\n[a](#b) <b>![x](y)\r\n| a |\r\n|--|\r\n| b |\r\n")
	f.Fuzz(func(t *testing.T, src string) {
		nb, err := Parse("f.md", []byte(src))
		lines, lerr := readLines("f.md", []byte(src))
		within := func(p Pos) {
			if lerr != nil {
				return
			}
			if p.File != "f.md" || p.Line < 1 || p.Line > len(lines)+1 || p.Column < 1 {
				t.Errorf("place %v in %d lines", p, len(lines))
			}
		}
		if err != nil {
			errs, ok := err.(Errors)
			if !ok || len(errs) == 0 || nb != nil {
				t.Fatalf("%T %v", err, err)
			}
			for _, e := range errs {
				within(e.Pos)
			}
			return
		}
		keys := func(m map[string]Pos) {
			for k, p := range m {
				within(p)
				if k == "" {
					continue
				}
				rest := string([]rune(lines[p.Line-1])[p.Column-1:])
				if !strings.HasPrefix(strings.TrimLeft(rest, `"'`), k) && !strings.Contains(rest, "\\") {
					t.Errorf("key %q is said to stand at %v, where %q is", k, p, rest)
				}
			}
		}
		faultsOf := func(first *Error, more []*Error) {
			if first == nil {
				if len(more) > 0 {
					t.Error("more faults than the first, which is none")
				}
				return
			}
			for _, e := range append([]*Error{first}, more...) {
				within(e.Pos)
				if e.Text == "" || e.Code == "" {
					t.Errorf("%v has no text or code", e)
				}
				if e.Pos.Before(first.Pos) {
					t.Errorf("%v stands before the first fault %v", e, first)
				}
			}
		}
		keys(nb.Front.Pos)
		ids := map[string]bool{}
		for _, a := range nb.Asks() {
			within(a.Pos)
			keys(a.KeyPos)
			faultsOf(a.Err, a.More)
			if a.Err == nil {
				if a.ID == "" || ids[a.ID] || AcceptedKeys(a.Method) == nil {
					t.Errorf("ask %q of method %q without a fault", a.ID, a.Method)
				}
				ids[a.ID] = true
			}
		}
		for _, d := range nb.Decisions() {
			keys(d.KeyPos)
			faultsOf(d.Err, d.More)
		}
		for i := range nb.Warnings {
			within(nb.Warnings[i].Pos)
		}
	})
}

func BenchmarkParse(b *testing.B) {
	src, err := os.ReadFile("testdata/review.md")
	if err != nil {
		b.Fatal(err)
	}
	for b.Loop() {
		if _, err := Parse("review.md", src); err != nil {
			b.Fatal(err)
		}
	}
}
