// Package manual holds the user's manual: a page for each method, with a
// worked question on the example lab's log. A test runs every question in it.
package manual

import (
	"embed"
	"fmt"
	"path"
	"sort"
	"strings"

	"plybook/analysis/table"
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
		return string(b), nil
	}
	topics, terr := Topics()
	if terr != nil {
		return "", terr
	}
	if near := table.Nearest(topic, topics); near != "" {
		return "", fmt.Errorf("the manual has no page %q; did you mean %q?", topic, near)
	}
	return "", fmt.Errorf("the manual has no page %q; it has %s", topic, strings.Join(topics, ", "))
}
