package batch

import (
	"testing"

	"plybook/reports/notebook"
)

// A report that hides no small count is none to be released, for whomever it
// is written.
func TestMark(t *testing.T) {
	for front, marked := range map[string]bool{
		"audience: quality":                  true,
		"audience: quality\nhide_below: 5":   true,
		"audience: annual":                   false,
		"audience: annual\nhide_below: 0":    true,
		"audience: annual\nhide_below: 1":    true,
		"audience: annual\nhide_below: 3":    false,
		"audience: research\nhide_below: 0":  true,
		"audience: research\nhide_below: 11": false,
	} {
		nb, err := notebook.Parse("year.md", []byte("---\ntitle: A year\n"+front+"\n---\n\nProse.\n"))
		if err != nil {
			t.Fatal(err)
		}
		if got := mark(nb.Front) != ""; got != marked {
			t.Errorf("%s: marked %v", front, got)
		}
	}
}
