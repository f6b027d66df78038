package ingest

import "strings"

// String is the problem on one line: file, sheet and cell, what is wrong and
// what was done.
func (p Problem) String() string {
	var b strings.Builder
	b.WriteString(p.File)
	if p.Tab != "" {
		b.WriteString(":" + p.Tab)
	}
	if p.Cell != "" {
		b.WriteString("!" + p.Cell)
	}
	b.WriteString(": " + strings.TrimSuffix(p.Text, "."))
	b.WriteString(" (" + p.Done.String() + ")")
	return b.String()
}
