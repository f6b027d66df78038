package ingest

import (
	"encoding/csv"
	"fmt"
	"io"
)

// WriteProblems writes the list of problems as CSV, one line each, in the
// log's order. Columns: file, sheet, cell, column, code, found, expected,
// done, problem. Texts of identifying columns are not written.
func WriteProblems(w io.Writer, log *Log) error {
	out := csv.NewWriter(w)
	if err := out.Write([]string{"file", "sheet", "cell", "column", "code", "found", "expected", "done", "problem"}); err != nil {
		return fmt.Errorf("write the list of problems: %w", err)
	}
	for _, p := range log.Problems {
		if err := out.Write([]string{p.File, p.Tab, p.Cell, p.Column, p.Code, inert(p.Found), p.Want, p.Done.String(), p.Text}); err != nil {
			return fmt.Errorf("write the list of problems: %w", err)
		}
	}
	out.Flush()
	if err := out.Error(); err != nil {
		return fmt.Errorf("write the list of problems: %w", err)
	}
	return nil
}

// inert keeps a spreadsheet from taking a text for a formula.
func inert(s string) string {
	if s != "" && (s[0] == '=' || s[0] == '@' || s[0] == '+' || s[0] == '-' && len(s) > 1) {
		return "'" + s
	}
	return s
}
