package manual

import (
	"strings"
	"testing"
	"unicode/utf8"

	"plybook/analysis/cohort"
	"plybook/ingest"
)

func TestPages(t *testing.T) {
	topics, err := Topics()
	if err != nil {
		t.Fatal(err)
	}
	for _, topic := range topics {
		page, err := Page(topic)
		if err != nil {
			t.Fatal(err)
		}
		if !strings.HasPrefix(page, "# "+topic+": ") {
			t.Errorf("%s does not begin with its topic and what it is about", topic)
		}
		about, err := About(topic)
		if err != nil || about == "" || strings.Contains(about, "\n") {
			t.Errorf("%s is about %q, %v", topic, about, err)
		}
		if strings.Contains(page, "<!--") {
			t.Errorf("%s has a mark that was not filled in", topic)
		}
		for i, line := range strings.Split(page, "\n") {
			if n := utf8.RuneCountInString(line); n > width+2 {
				t.Errorf("%s, line %d is %d characters wide", topic, i+1, n)
			}
		}
	}
}

// page is a page that must be there.
func page(t *testing.T, topic string) string {
	t.Helper()
	s, err := Page(topic)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestLogNamesEveryColumn(t *testing.T) {
	text := page(t, "log")
	for _, table := range ingest.Tables() {
		_, part, ok := strings.Cut(text, "### "+table+": ")
		if !ok {
			t.Errorf("no heading for the table %s", table)
			continue
		}
		part, _, _ = strings.Cut(part, "\n#")
		for _, f := range ingest.Fields(table) {
			want := "\n- `" + f.Name + "`"
			if f.Required {
				want += "*"
			}
			if !strings.Contains(part, want+": ") {
				t.Errorf("the table %s lacks %s", table, want)
			}
		}
	}
	for _, set := range ingest.EndReasonSets() {
		if !strings.Contains(text, "`"+set+"`: "+ingest.EndReasonSet(set)[0]) {
			t.Errorf("the set %s is not spelled out", set)
		}
	}
}

func TestColumnsAndWordsAreComplete(t *testing.T) {
	text := page(t, "columns")
	for _, d := range cohort.Derived() {
		if !strings.Contains(text, "- `"+d.Name+"` (") {
			t.Errorf("the column %s is missing", d.Name)
		}
	}
	text = page(t, "words")
	for _, table := range ingest.Tables() {
		for _, f := range ingest.Fields(table) {
			if f.Words == nil {
				continue
			}
			_, part, ok := strings.Cut(text, "## "+f.Name+"\n")
			if !ok {
				t.Errorf("no words for %s", f.Name)
				continue
			}
			part, _, _ = strings.Cut(part, "\n## ")
			for _, code := range f.Words.Codes() {
				if !strings.Contains(part, "- `"+code+"`") {
					t.Errorf("%s: the word %q is missing", f.Name, code)
				}
			}
		}
	}
}

func TestUnknownPage(t *testing.T) {
	for topic, want := range map[string]string{
		"kaplan": `did you mean "kaplan-meier"?`, "colums": `did you mean "columns"?`, "wolf": "it has ", "../manual": "it has ",
	} {
		_, err := Page(topic)
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %q", topic, err, want)
		}
		if _, err := About(topic); err == nil {
			t.Errorf("%s is about something", topic)
		}
	}
}

func TestItem(t *testing.T) {
	got := item(strings.Repeat("girth ", 30))
	for _, line := range strings.Split(strings.TrimSuffix(got, "\n"), "\n") {
		if len(line) > width || !strings.HasPrefix(line, "- ") && !strings.HasPrefix(line, "  ") {
			t.Errorf("line %q", line)
		}
	}
	if n := strings.Count(got, "girth"); n != 30 {
		t.Errorf("%d of 30 words", n)
	}
}
