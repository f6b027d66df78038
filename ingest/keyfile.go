package ingest

import (
	"io"
	"path/filepath"
	"strings"
)

// What inspect writes beside a log, so that it is never taken for the log.
const (
	MarkedSuffix = "-marked"             // before the ending of a marked copy
	CodesFile    = "codes.csv"           // the key from codes to persons and staff
	ProblemsFile = "problems-found.csv"  // the list of problems
	ProblemsBook = "problems-found.xlsx" // the same, with kinds, and rows of files that get no marked copy
)

// IsOwnOutput says whether a file beside a log is one that inspect writes.
func IsOwnOutput(path string) bool {
	base := filepath.Base(path)
	return base == CodesFile || base == ProblemsFile || base == ProblemsBook || strings.HasSuffix(strings.TrimSuffix(base, filepath.Ext(base)), MarkedSuffix)
}

// SaveProblems writes the list of problems to a file readable by its owner
// alone, whole or not at all.
func SaveProblems(path string, log *Log) error {
	return writeWhole(path, func(w io.Writer) error { return WriteProblems(w, log) })
}
