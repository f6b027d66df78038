package ingest

import (
	"bytes"
	"context"
	"encoding/binary"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"unicode/utf16"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
)

// csvForm is how a text file is laid out.
type csvForm struct {
	comma   byte
	bom     bool
	recoded bool // not UTF-8: read as Windows-1252 or UTF-16
	skip    int  // 1 where the first line is "sep=;"
}

// readCSV reads a text table. The delimiter is found from the text; a
// semicolon means a decimal comma.
func readCSV(ctx context.Context, path string, want func(sheet string) bool) (rawSheet, error) {
	records, form, err := loadCSV(path)
	if err != nil {
		return rawSheet{}, err
	}
	base := strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))
	s := rawSheet{table: tableOf(base), commas: form.comma == ';', recoded: form.recoded, text: true}
	if s.table == "" && (want == nil || !want(base)) {
		return s, nil
	}
	for i, rec := range records {
		if i%1000 == 0 && ctx.Err() != nil {
			return s, ctx.Err()
		}
		row := rawRow{n: i + 1 + form.skip, cells: make([]cell, len(rec))}
		for j, text := range rec {
			row.cells[j].text = text
			if strings.HasPrefix(text, "#") && errorText[strings.ToUpper(strings.TrimSpace(text))] {
				row.cells[j].kind = cellError
			}
		}
		s.rows = append(s.rows, row)
	}
	return s, nil
}

// errorText are the results of failed formulas.
var errorText = map[string]bool{"#N/A": true, "#REF!": true, "#VALUE!": true, "#DIV/0!": true, "#NAME?": true, "#NUM!": true, "#NULL!": true, "#SPILL!": true, "#CALC!": true}

func loadCSV(path string) ([][]string, csvForm, error) {
	data, err := os.ReadFile(path)
	if err != nil {
		return nil, csvForm{}, err
	}
	text, form, err := decodeText(data)
	if err != nil {
		return nil, form, err
	}
	line := text
	if end := strings.IndexAny(text, "\r\n"); end >= 0 {
		line = text[:end]
	}
	if mark := strings.TrimSpace(line); len(mark) == 5 && strings.EqualFold(mark[:4], "sep=") {
		rest := text[len(line):]
		if rest, form.skip = strings.TrimPrefix(rest, "\r"), 1; strings.HasPrefix(rest, "\n") {
			rest = rest[1:]
		}
		form.comma, text = mark[4], rest
	} else {
		form.comma = sniffDelimiter(text)
	}
	records, err := splitLines(text, form.comma, 1+form.skip)
	if err != nil {
		return nil, form, err
	}
	return records, form, nil
}

// decodeText turns a file's bytes into text: UTF-8 with or without a mark,
// UTF-16 of either order with or without one, else Windows-1252. A text with
// half a character at its end or with a zero byte is none.
func decodeText(data []byte) (string, csvForm, error) {
	var form csvForm
	if order, rest := wideOrder(data); order != nil {
		form.recoded = true
		if len(rest)%2 == 1 {
			return "", form, fmt.Errorf("%w: the file ends within a character (UTF-16); it was cut short, so copy it again", ErrBadCSV)
		}
		units := make([]uint16, len(rest)/2)
		for i := range units {
			units[i] = order.Uint16(rest[2*i:])
		}
		return noZero(string(utf16.Decode(units)), form)
	}
	if rest, ok := bytes.CutPrefix(data, []byte("\xef\xbb\xbf")); ok {
		data, form.bom = rest, true
	}
	if utf8.Valid(data) {
		return noZero(string(data), form)
	}
	form.recoded = true
	out, err := charmap.Windows1252.NewDecoder().Bytes(data)
	if err != nil {
		return "", form, fmt.Errorf("%w: %w", ErrBadCSV, err)
	}
	return noZero(string(out), form)
}

// noZero refuses text with a zero byte and names its line.
func noZero(text string, form csvForm) (string, csvForm, error) {
	if i := strings.IndexByte(text, 0); i >= 0 {
		return "", form, fmt.Errorf("%w: line %d holds a zero byte, so the file is damaged or no text; write it anew from the program it comes from", ErrBadCSV, 1+lineEnds(text[:i]))
	}
	return text, form, nil
}

// wideOrder tells the order of bytes of UTF-16 and the text behind its mark;
// nil for other text. Without a mark it is UTF-16 where the first bytes are
// pairs of which most have a zero on the same side and hardly any on the
// other, as letters of Latin scripts, digits and separators do.
func wideOrder(data []byte) (binary.ByteOrder, []byte) {
	if rest, ok := bytes.CutPrefix(data, []byte("\xff\xfe")); ok {
		return binary.LittleEndian, rest
	}
	if rest, ok := bytes.CutPrefix(data, []byte("\xfe\xff")); ok {
		return binary.BigEndian, rest
	}
	head := data[:min(len(data), 4096)]
	var zeros [2]int
	for i, b := range head {
		if b == 0 {
			zeros[i%2]++
		}
	}
	pairs := len(head) / 2
	switch {
	case pairs < 2:
	case 10*zeros[1] >= 6*pairs && 50*zeros[0] <= pairs:
		return binary.LittleEndian, data
	case 10*zeros[0] >= 6*pairs && 50*zeros[1] <= pairs:
		return binary.BigEndian, data
	}
	return nil, nil
}

// lineEnds counts line ends: LF, CR LF or a bare CR.
func lineEnds(text string) int {
	return strings.Count(text, "\n") + strings.Count(text, "\r") - strings.Count(text, "\r\n")
}

// sniffDelimiter picks the separator that parts the first lines most evenly;
// the comma where none does.
func sniffDelimiter(text string) byte {
	best, bestScore := byte(','), 0
	for _, d := range []byte{',', ';', '\t', '|'} {
		records, err := splitCSV(firstLines(text, 20), d)
		if err != nil && len(records) == 0 {
			continue
		}
		width := 0
		for _, r := range records {
			if width = len(r); width > 1 {
				break
			}
		}
		score := 0
		for _, r := range records {
			if len(r) == width && width > 1 {
				score += 2 + width
			}
		}
		if score > bestScore {
			best, bestScore = d, score
		}
	}
	return best
}

func firstLines(text string, n int) string {
	at := 0
	for range n {
		i := strings.IndexAny(text[at:], "\r\n")
		if i < 0 {
			return text
		}
		if at += i + 1; text[at-1] == '\r' && at < len(text) && text[at] == '\n' {
			at++
		}
	}
	return text[:at]
}

// splitCSV parts text into records, one for each row a spreadsheet would
// show, blank rows included. A quote inside an unquoted cell is a plain
// character (12 3/4"). A quote that is never closed is an error, and so is one
// that is closed lines further down in the middle of a cell: there a quote is
// missing, and the lines between would be lost in one cell.
func splitCSV(text string, comma byte) ([][]string, error) { return splitLines(text, comma, 1) }

// splitLines is splitCSV for text whose first line is not the file's first.
func splitLines(text string, comma byte, line int) ([][]string, error) {
	var records [][]string
	var rec []string
	i := 0
	for i < len(text) {
		if text[i] == '"' {
			start := line
			var b strings.Builder
			for i++; ; {
				j := strings.IndexByte(text[i:], '"')
				if j < 0 {
					return records, fmt.Errorf("%w: the quote opened in line %d is never closed", ErrBadCSV, start)
				}
				b.WriteString(text[i : i+j])
				line += lineEnds(text[i : i+j])
				i += j + 1
				if i < len(text) && text[i] == '"' {
					b.WriteByte('"')
					i++
					continue
				}
				break
			}
			end := i // text between the closing quote and the separator is kept
			for end < len(text) && text[end] != comma && text[end] != '\n' && text[end] != '\r' {
				end++
			}
			if rest := text[i:end]; strings.TrimSpace(rest) != "" {
				if line > start {
					return records, fmt.Errorf("%w: the quote opened in line %d is closed in line %d in the middle of a cell, so a quote is missing in between", ErrBadCSV, start, line)
				}
				b.WriteString(rest)
			}
			i = end
			rec = append(rec, b.String())
		} else {
			end := i
			for end < len(text) && text[end] != comma && text[end] != '\n' && text[end] != '\r' {
				end++
			}
			rec = append(rec, text[i:end])
			i = end
		}
		if i >= len(text) {
			break
		}
		if text[i] == comma {
			if i++; i == len(text) {
				rec = append(rec, "")
			}
			continue
		}
		if text[i] == '\r' && i+1 < len(text) && text[i+1] == '\n' {
			i++
		}
		i++
		line++
		records, rec = append(records, rec), nil
		// a separator at the end of a line leaves an empty last cell, which
		// the loop above adds when it meets the line end
	}
	if rec != nil {
		records = append(records, rec)
	}
	return records, nil
}
