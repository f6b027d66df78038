package ingest

import (
	"fmt"
	"iter"
	"strings"
)

// textLines is the text of a table, in which rows lie as they were typed.
type textLines struct {
	text  string
	comma byte
}

// cells are the cells of the row that begins at a place of the text.
func (t *textLines) cells(at int) iter.Seq2[int, cell] {
	return func(yield func(int, cell) bool) {
		for col := 0; ; col++ {
			text, end, _ := nextCell(t.text, at, t.comma)
			if !yield(col, textCell(text)) || endOfRow(t.text, end) {
				return
			}
			at = end + 1
		}
	}
}

// cell is one of these cells.
func (t *textLines) cell(at, col int) cell {
	for ; ; col-- {
		if col == 0 {
			text, _, _ := nextCell(t.text, at, t.comma)
			return textCell(text)
		}
		end := skipCell(t.text, at, t.comma)
		if endOfRow(t.text, end) {
			return cell{}
		}
		at = end + 1
	}
}

// appendCells puts the cells of a row behind what buf holds.
func (t *textLines) appendCells(buf []cell, at int) []cell {
	for {
		text, end, _ := nextCell(t.text, at, t.comma)
		buf = append(buf, textCell(text))
		if endOfRow(t.text, end) {
			return buf
		}
		at = end + 1
	}
}

// width is the number of cells of a row.
func (t *textLines) width(at int) int {
	for n := 1; ; n++ {
		end := skipCell(t.text, at, t.comma)
		if endOfRow(t.text, end) {
			return n
		}
		at = end + 1
	}
}

// begins says whether a row begins with a letter or digit, as most do.
func (t *textLines) begins(at int) bool {
	if at >= len(t.text) {
		return false
	}
	c := t.text[at]
	return c != t.comma && (c >= '0' && c <= '9' || c >= 'A' && c <= 'Z' || c >= 'a' && c <= 'z')
}

// textCell is a cell of a text table. The result of a failed formula is known
// by its text.
func textCell(text string) cell {
	if strings.HasPrefix(text, "#") && errorText[strings.ToUpper(strings.TrimSpace(text))] {
		return cell{text, cellError}
	}
	return cell{text: text}
}

func endOfRow(text string, i int) bool { return i >= len(text) || text[i] == '\n' || text[i] == '\r' }

// quoteFault says what is wrong with the quotes of a cell.
type quoteFault uint8

const (
	quoteOpen  quoteFault = iota + 1 // never closed
	quoteStray                       // text behind the closing quote
)

// nextCell reads the cell that begins at i: its text, and where it ends, at a
// separator, the end of the line or of the text. A quote inside an unquoted
// cell is a plain character (12 3/4"). Text between a closing quote and the
// separator is kept, blanks are not.
func nextCell(text string, i int, comma byte) (cell string, end int, fault quoteFault) {
	if i < len(text) && text[i] == '"' {
		return quotedCell(text, i, comma)
	}
	end = skipBare(text, i, comma)
	return text[i:end], end, 0
}

func skipBare(text string, i int, comma byte) int {
	for ; i < len(text); i++ {
		if c := text[i]; c == comma || c == '\n' || c == '\r' {
			break
		}
	}
	return i
}

// skipCell is where the cell ends that begins at i.
func skipCell(text string, i int, comma byte) int {
	if i < len(text) && text[i] == '"' {
		_, end, _ := quotedCell(text, i, comma)
		return end
	}
	return skipBare(text, i, comma)
}

func quotedCell(text string, i int, comma byte) (cell string, end int, fault quoteFault) {
	doubled := false
	from := i + 1
	for i++; ; i += 2 {
		j := strings.IndexByte(text[i:], '"')
		if j < 0 {
			return text[from:], len(text), quoteOpen
		}
		if i += j; i+1 >= len(text) || text[i+1] != '"' {
			break
		}
		doubled = true
	}
	if cell = text[from:i]; doubled {
		cell = strings.ReplaceAll(cell, `""`, `"`)
	}
	end = skipBare(text, i+1, comma)
	if rest := text[i+1 : end]; strings.TrimSpace(rest) != "" {
		return cell + rest, end, quoteStray
	}
	return cell, end, 0
}

// eachLine tells where the rows of a text table begin, one for each row that a
// spreadsheet would show, blank ones included. line is the number of the first
// line. A quote that is never closed is an error, and so is one that is closed
// lines further down in the middle of a cell: there a quote is missing, and
// the lines between would be lost in one cell.
func eachLine(text string, comma byte, line int, row func(from int) error) error {
	if strings.IndexByte(text, '"') < 0 && strings.Count(text, "\r") == strings.Count(text, "\r\n") {
		return eachPlainLine(text, row)
	}
	for i := 0; i < len(text); i, line = i+1, line+1 {
		if err := row(i); err != nil {
			return err
		}
		for {
			end := 0
			if i >= len(text) || text[i] != '"' {
				end = skipBare(text, i, comma)
			} else {
				var fault quoteFault
				start := line
				_, end, fault = quotedCell(text, i, comma)
				line += lineEnds(text[i:end])
				switch {
				case fault == quoteOpen:
					return fmt.Errorf("%w: the quote opened in line %d is never closed", ErrBadCSV, start)
				case fault == quoteStray && line > start:
					return fmt.Errorf("%w: the quote opened in line %d is closed in line %d in the middle of a cell, so a quote is missing in between", ErrBadCSV, start, line)
				}
			}
			if i = end; endOfRow(text, i) {
				break
			}
			i++
		}
		if i+1 < len(text) && text[i] == '\r' && text[i+1] == '\n' {
			i++
		}
	}
	return nil
}

// eachPlainLine is eachLine for text without quotes in which no line ends with
// a bare CR.
func eachPlainLine(text string, row func(from int) error) error {
	for i := 0; i < len(text); {
		if err := row(i); err != nil {
			return err
		}
		end := strings.IndexByte(text[i:], '\n')
		if end < 0 {
			return nil
		}
		i += end + 1
	}
	return nil
}

// splitCSV parses text into records, one for each row that a spreadsheet
// would show; a blank one has one empty cell.
func splitCSV(text string, comma byte) ([][]string, error) { return splitLines(text, comma, 1) }

// splitLines is splitCSV for text whose first line is not the file's first.
func splitLines(text string, comma byte, line int) ([][]string, error) {
	var records [][]string
	lines := &textLines{text, comma}
	err := eachLine(text, comma, line, func(from int) error {
		var rec []string
		for _, c := range lines.cells(from) {
			rec = append(rec, c.text)
		}
		records = append(records, rec)
		return nil
	})
	return records, err
}
