// Package manual holds the user's manual: a page for each method, with a
// worked question on the example lab's log, and pages on the log, the
// notebook, the columns, the words, privacy and the reports. A test runs
// every question in it. What the code knows already (the fields of the log,
// its words, the derived columns) is filled in from the code when a page is
// read, so that it cannot go out of step.
package manual

import (
	"embed"
	"fmt"
	"path"
	"sort"
	"strings"

	"plybook/reports/notebook"
)

//go:embed pages/*.md
var pages embed.FS

// Topics are the names of the pages, sorted.
func Topics() ([]string, error) {
	entries, err := pages.ReadDir("pages")
	if err != nil {
		return nil, fmt.Errorf("list the manual: %w", err)
	}
	var out []string
	for _, e := range entries {
		out = append(out, strings.TrimSuffix(e.Name(), ".md"))
	}
	sort.Strings(out)
	return out, nil
}

// Page is the text of a page, in Markdown.
func Page(topic string) (string, error) {
	b, err := pages.ReadFile(path.Join("pages", topic+".md"))
	if err == nil {
		return fill(string(b)), nil
	}
	topics, terr := Topics()
	if terr != nil {
		return "", terr
	}
	if near := notebook.Nearest(topic, topics); near != "" {
		return "", fmt.Errorf("the manual has no page %q; did you mean %q?", topic, near)
	}
	return "", fmt.Errorf("the manual has no page %q; it has %s", topic, strings.Join(topics, ", "))
}

// About says in a few words what a page is about: its first line, without
// the topic's own name.
func About(topic string) (string, error) {
	page, err := Page(topic)
	if err != nil {
		return "", err
	}
	first, _, _ := strings.Cut(page, "\n")
	_, about, ok := strings.Cut(strings.TrimPrefix(first, "# "), ": ")
	if !ok {
		return "", fmt.Errorf("the page %q of the manual has no heading of its topic and what it is about", topic)
	}
	return about, nil
}
