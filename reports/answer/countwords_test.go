package answer

import (
	"testing"

	"plybook/reports/notebook"
)

// A count that is withheld for the sake of others is not said to be small.
func TestCountsInSentences(t *testing.T) {
	w := &work{Answer: &Answer{}, ask: &notebook.Ask{ID: "a"}, ctx: &Context{Front: notebook.Front{HideBelow: 11},
		Withheld: Withheld{"a": {124: Rounded, 97: Altogether}}}}
	for n, want := range map[int]string{0: "none", 7: "fewer than 11", 124: "about 120", 97: "a withheld number", 50: "50"} {
		if got := w.countOnly(n); got != want {
			t.Errorf("%d: %q, want %q", n, got, want)
		}
	}
}
