package ingest

import (
	"fmt"
	"io"
)

// WriteProblems writes the list of problems as CSV, one line each, in the
// log's order. Columns: file, sheet, cell, column, code, found, expected,
// done, problem. Texts of identifying columns are not written; an apostrophe
// stands before a text that a spreadsheet would take for a formula.
func WriteProblems(w io.Writer, log *Log) error {
	err := writeInert(w, func(yield func([]string) bool) {
		if !yield([]string{"file", "sheet", "cell", "column", "code", "found", "expected", "done", "problem"}) {
			return
		}
		for _, p := range log.Problems {
			if !yield([]string{p.File, p.Tab, p.Cell, p.Column, p.Code, p.Found, p.Want, p.Done.String(), p.Text}) {
				return
			}
		}
	})
	if err != nil {
		return fmt.Errorf("write the list of problems: %w", err)
	}
	return nil
}
