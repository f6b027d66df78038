package notebook

import (
	"errors"
	"strings"
	"testing"
)

func TestSockThickness(t *testing.T) {
	read := func(line string) (*SockThickness, error) {
		nb, err := Parse("lab.md", []byte("---\ntitle: T\n"+line+"\n---\n"))
		if err != nil {
			return nil, err
		}
		return nb.Front.SockThickness, nil
	}
	// Sanders and others 2012: 3 ply of one material 1.2 mm, of several 0.7 mm.
	for line, want := range map[string]float64{"": 1.2, "sock_thickness: one-material": 1.2, "sock_thickness: several-materials": 0.7,
		"sock_thickness: {5: 2, 1: 0.5, source: our socks}": 1.25} {
		s, err := read(line)
		if err != nil {
			t.Fatalf("%q: %v", line, err)
		}
		if mm, _ := s.Thickness().Of(3); mm != want {
			t.Errorf("%q: 3 ply is %g mm, want %g", line, mm, want)
		}
	}
	for _, f := range []struct{ value, code, near, text string }{
		{"thick", CodeBadValue, "", "several-materials"},
		{"one-materal", CodeBadValue, "one-material", "one-material"},
		{"{1: 0.7}", CodeMissingKey, "", "needs `source`"},
		{"{source: x}", CodeBadValue, "", "at least one sock"},
		{"{1: 0.7, 3: 0.5, source: x}", CodeBadValue, "", "do not fall with ply"},
		{"{1: 0.7, 1.0: 0.8, source: x}", CodeBadValue, "", "of different ply"},
		{"{1: 0, source: x}", CodeBadValue, "", "above 0"},
		{"{thin: 0.7, source: x}", CodeUnknownKey, "", "is no ply"},
		{"{1: thin, source: x}", CodeWrongType, "", "number"},
		{"{1: 0.7, 1: 0.8, source: x}", CodeDuplicateKey, "", "already"},
	} {
		_, err := read("sock_thickness: " + f.value)
		var e *Error
		if !errors.As(err, &e) || e.Code != f.code || e.Nearest != f.near || !strings.Contains(e.Text, f.text) || e.Pos.Line != 3 {
			t.Errorf("%s: %v", f.value, err)
		}
	}
	nb, err := Parse("lab.md", []byte("---\ntitle: T\n---\n```ask\nid: a\nmethod: sock-volume\nsides: curved\n```\n"))
	if err != nil {
		t.Fatal(err)
	}
	if e := nb.Asks()[0].Err; e == nil || e.Code != CodeKeyNotTaken || !strings.Contains(e.Text, "limb-volume does") {
		t.Errorf("%v", e)
	}
}
