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
	s := rawSheet{table: tableOf(base), commas: form.comma == ';', recoded: form.recoded}
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
	text, form := decodeText(data)
	first, rest, _ := strings.Cut(text, "\n")
	if mark := strings.TrimSpace(first); len(mark) == 5 && strings.EqualFold(mark[:4], "sep=") {
		form.comma, form.skip, text = mark[4], 1, rest
	} else {
		form.comma = sniffDelimiter(text)
	}
	records, err := splitCSV(text, form.comma)
	if err != nil {
		return nil, form, err
	}
	return records, form, nil
}

// decodeText turns a file's bytes into text: UTF-8 with or without a mark,
// UTF-16 with one, else Windows-1252.
func decodeText(data []byte) (string, csvForm) {
	var form csvForm
	if rest, ok := bytes.CutPrefix(data, []byte("\xef\xbb\xbf")); ok {
		data, form.bom = rest, true
	}
	for _, order := range []struct {
		mark string
		bin  binary.ByteOrder
	}{{"\xff\xfe", binary.LittleEndian}, {"\xfe\xff", binary.BigEndian}} {
		if rest, ok := bytes.CutPrefix(data, []byte(order.mark)); ok {
			units := make([]uint16, len(rest)/2)
			for i := range units {
				units[i] = order.bin.Uint16(rest[2*i:])
			}
			form.recoded = true
			return string(utf16.Decode(units)), form
		}
	}
	if utf8.Valid(data) {
		return string(data), form
	}
	form.recoded = true
	out, err := charmap.Windows1252.NewDecoder().Bytes(data)
	if err != nil {
		return strings.ToValidUTF8(string(data), "\ufffd"), form
	}
	return string(out), form
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
		i := strings.IndexByte(text[at:], '\n')
		if i < 0 {
			return text
		}
		at += i + 1
	}
	return text[:at]
}

// splitCSV parts text into records, one for each row a spreadsheet would
// show, blank rows included. A quote inside an unquoted cell is a plain
// character (12 3/4"). An unclosed quote is an error.
func splitCSV(text string, comma byte) ([][]string, error) {
	var records [][]string
	var rec []string
	i, line := 0, 1
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
				line += strings.Count(text[i:i+j], "\n")
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
			b.WriteString(text[i:end])
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
