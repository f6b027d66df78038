package answer_test

import (
	"fmt"
	"regexp"
	"strings"
	"testing"

	"plybook/reports/answer"
	"plybook/reports/document"
)

// counted is a count of people or rows of 1 to 10 in running text.
var counted = regexp.MustCompile(`(?:^|[^0-9.,−+%-])(?:([1-9]|10)) (?:of (?:the )?[0-9]+ )?(?:sockets?|persons?|people|limbs?|visits?|findings?|girths?|stations?|sheets?|rows?|events?|censored|clusters?)\b`)

// rules are sentences of the tool itself in which such a number is a bound,
// not a count.
var rules = regexp.MustCompile(`[Ff]ewer than (?:10|5) (?:sockets|events|rows|girths)|counts (?:below|from 1 to) [0-9]+`)

// TestPublicAnswersTellOfNobody asks everything for a public audience: no
// count of 1 to 10 stands anywhere in what is printed, drawn or written.
func TestPublicAnswersTellOfNobody(t *testing.T) {
	for name, s := range map[string]sheets{
		"small lab":  lab(labOptions{persons: 20, own: func(i int) string { return evenWords[min(i%7, 1)] }}),
		"usual lab":  lab(labOptions{persons: 60, own: func(i int) string { return evenWords[min(i%9, 1)] }}),
		"larger lab": lab(labOptions{persons: 200, own: func(i int) string { return evenWords[min(i%30, 1)] }}),
		"tiny lab":   lab(labOptions{persons: 4, own: func(i int) string { return evenWords[i%2] }}),
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			var asks []string
			for i, a := range everyAsk {
				asks = append(asks, fmt.Sprintf("id: a%d\n%s", i, a))
			}
			for id, a := range answersOnce(t, readLog(t, s), nil, "audience: annual", asks...) {
				var n int
				fmt.Sscanf(id, "a%d", &n)
				ask := strings.ReplaceAll(everyAsk[n], "\n", "; ")
				scanPublic(t, ask, a)
			}
		})
	}
}

func scanPublic(t *testing.T, ask string, a answer.Answer) {
	t.Helper()
	withheld := func(column string) bool {
		for _, h := range a.Hidden {
			if h.Row == -1 && h.Column == column {
				return true
			}
		}
		return false
	}
	small := func(n int) bool { return n >= 1 && n <= 10 }
	if small(a.Rows) && !withheld("rows") || a.HasEvents && small(a.Events) && !withheld("events") {
		t.Errorf("%s: rows %d or events %d are told", ask, a.Rows, a.Events)
	}
	for _, s := range printed(a) {
		if m := counted.FindString(rules.ReplaceAllString(s, "")); m != "" {
			t.Errorf("%s: %q in print: %s", ask, m, s)
		}
	}
	for _, tab := range a.Tables {
		for i, r := range tab.Rows {
			for j, v := range r {
				if n, ok := v.(int); ok && tab.Columns[j].Type == answer.TypeCount && small(n) {
					t.Errorf("%s: table %s row %d %s is %d", ask, tab.Name, i, tab.Columns[j].Name, n)
				}
			}
		}
	}
	// The numbers of a printed table under a head that counts.
	document.Walk(a.Print, func(b document.Block) {
		tab, ok := b.(document.Table)
		if !ok {
			return
		}
		for _, r := range tab.Rows {
			for j, cell := range r {
				head := strings.ToLower(tab.Columns[j].Head + " " + r[0])
				if !regexp.MustCompile(`sockets|events|excluded|left|visits|persons|limbs|findings|not recorded`).MatchString(head) {
					continue
				}
				if regexp.MustCompile(`^([1-9]|10)( \(|$)`).MatchString(cell) {
					t.Errorf("%s: printed table %s: %q under %q", ask, tab.ID, cell, head)
				}
			}
		}
	})
}
