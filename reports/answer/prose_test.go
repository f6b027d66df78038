package answer_test

import (
	"regexp"
	"strings"
	"testing"

	"plybook/reports/answer"
	"plybook/reports/document"
	"plybook/reports/words/wordstest"
)

// quoted is what stands in print as somebody wrote it: keys of a question and
// names from the log, which follow no rule of print.
var quoted = regexp.MustCompile("`[^`]*`" + `|"[^"]*"|[a-z_]+: \{?[^.]*\.\.[^ ,.;)]*\}?`)

// oddName marks a text that bears a name of the logs whose names are odd.
var oddName = regexp.MustCompile(`a very long name|emoji|calc|<script>|\+44|@x|a\tb|%d %s|\x{202e}|-x\b`)

// checkWords reads every text of an answer as a careful reader would.
func checkWords(t testing.TB, a answer.Answer) {
	t.Helper()
	told := func(what, text string, faults func(string) []string) {
		if oddName.MatchString(text) {
			return
		}
		for _, f := range faults(quoted.ReplaceAllString(text, "Q")) {
			t.Errorf("%s, %s: %s: %s", a.ID, what, f, text)
		}
	}
	told("reading", a.Reading, wordstest.ProseFaults)
	told("in short", a.Short, wordstest.ProseFaults)
	told("attention", a.Attention, wordstest.Faults)
	told("methods", a.Methods, wordstest.Faults)
	for _, c := range a.Cautions {
		told("caution "+c.Code, c.Text, wordstest.ProseFaults)
	}
	if a.Error != nil {
		told("error", a.Error.Text, wordstest.Faults)
	}
	for _, f := range a.Figures {
		told("title", f.Title, wordstest.Faults)
		told("description", f.Description, wordstest.Faults)
		told("long description", f.Long, wordstest.Faults)
	}
	for _, s := range a.Since {
		told("since", s, wordstest.Faults)
	}
	document.Walk(a.Print, func(b document.Block) {
		switch b := b.(type) {
		case document.Table:
			told("caption", b.Caption, wordstest.Faults)
			for _, c := range b.Columns {
				told("head", c.Head, wordstest.Faults)
			}
			for _, r := range b.Rows {
				for _, cell := range r {
					told("cell", strings.TrimLeft(cell, " "), wordstest.Faults)
				}
			}
			for _, n := range b.Notes {
				told("note", n, wordstest.ProseFaults)
			}
		case document.Paragraph:
			for _, s := range b.Spans {
				told("paragraph", strings.Trim(s.Text, " "), wordstest.Faults)
			}
		}
	})
}
