package ingest

import (
	"encoding/csv"
	"fmt"
	"io"
	"iter"
	"strings"
	"unicode"
)

// A spreadsheet that opens a CSV file takes a cell for a formula where its
// text begins with one of a few signs, and a formula can call other programs
// or send what stands in other cells elsewhere. Quotes do not prevent it; an
// apostrophe in front does, and a spreadsheet shows it as part of the text.
// https://owasp.org/www-community/attacks/CSV_Injection names the signs, those
// of full width among them.
const formulaSigns = "=+-@\t\r\n＝＋－＠"

// inert keeps a spreadsheet from taking a text for a formula: an apostrophe is
// put before a text that begins with one of formulaSigns, or with apostrophes
// or spaces and then such a sign. asTyped takes it away again. Every CSV file
// that is written goes through here but for the cells of a marked copy, which
// stay as the lab has them; in workbooks texts are stored as texts, which a
// spreadsheet never calculates.
func inert(text string) string {
	if formulaBelow(text) {
		return "'" + text
	}
	return text
}

// Inert keeps a spreadsheet from taking a cell of a CSV file for a formula;
// see inert. Numbers do not go through it.
func Inert(text string) string { return inert(text) }

// asTyped is the inverse of inert.
func asTyped(text string) string {
	if rest, ok := strings.CutPrefix(text, "'"); ok && formulaBelow(rest) {
		return rest
	}
	return text
}

func formulaBelow(text string) bool {
	for _, c := range text {
		if strings.ContainsRune(formulaSigns, c) {
			return true
		}
		if c != '\'' && !unicode.IsSpace(c) && unicode.IsPrint(c) {
			return false
		}
	}
	return false
}

// writeInert writes rows as CSV, each cell inert.
func writeInert(w io.Writer, rows iter.Seq[[]string]) error {
	out := csv.NewWriter(w)
	for row := range rows {
		cells := make([]string, len(row))
		for i, text := range row {
			cells[i] = inert(text)
		}
		if err := out.Write(cells); err != nil {
			return fmt.Errorf("write a line: %w", err)
		}
	}
	out.Flush()
	return out.Error()
}
