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
	if p.Done == Kept { // of what was set aside the sentence itself says so
		b.WriteString(" (kept)")
	}
	return b.String()
}
