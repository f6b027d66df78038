package wordstest_test

import (
	"strings"
	"testing"

	"plybook/reports/words/wordstest"
)

func TestFaults(t *testing.T) {
	for _, c := range []struct{ text, fault string }{
		{"Of 90 sockets, 32 were remade (95% interval 26 to 46%).", ""},
		{"There was 1 sockets in use.", "wrong number"},
		{"It changed by −1 percentage points.", "wrong number"},
		{"It changed by 1.0 days, of 21 days or 0.1 days.", ""},
		{"In 2 socket nothing was found.", "wrong number"},
		{"It came to −0.0 points.", "negative zero"},
		{"It came to −0.04 points.", ""},
		{"A significant fall.", "the word"},
		{"It came to NaN points.", "no number"},
		{"It came to 1e-09 points.", "no number"},
		{"It fell (95% interval 1 to 2.", "brackets"},
		{"It fell  by 2.", "stray"},
		{"It fell , by 2.", "stray"},
		{"It fell by 2", "no full stop"},
		{"it fell by 2.", "no capital"},
		{"It fell (p 0.04).", "p without its sign"},
		{"It fell (p = 0.04).", ""},
		{"It fell by by 2.", "twice"},
		{"So it " + strings.Repeat("goes on ", 30) + "and ends.", "words in a row"},
		{"So it " + strings.Repeat("goes on ", 15) + "and ends; " + strings.Repeat("it goes ", 15) + "and ends.", ""},
	} {
		got := strings.Join(wordstest.ProseFaults(c.text), "; ")
		if c.fault == "" && got != "" || !strings.Contains(got, c.fault) {
			t.Errorf("%q: %q, want %q", c.text, got, c.fault)
		}
	}
}
