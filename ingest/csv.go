package ingest

import (
	"context"
	"encoding/binary"
	"fmt"
	"io"
	"math"
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
// semicolon means a decimal comma. Rows are kept as places in the text: of a
// large log they would take more memory as cells than the file itself.
func readCSV(ctx context.Context, path string, want func(sheet string) bool) (rawSheet, error) {
	text, form, err := loadText(path)
	if err != nil {
		return rawSheet{}, err
	}
	base := strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))
	s := rawSheet{table: tableOf(base), commas: form.comma == ';', recoded: form.recoded, text: true}
	if len(text) > math.MaxUint32 {
		return s, ErrTooLarge
	}
	lines := &textLines{text, form.comma}
	rows := make([]rawRow, 0, 1+lineEnds(text))
	n := form.skip
	err = eachLine(text, form.comma, 1+form.skip, func(from int) error {
		if n++; n%10000 == 0 && ctx.Err() != nil {
			return ctx.Err()
		}
		rows = append(rows, rawRow{n: n, at: uint32(from), lines: lines})
		return nil
	})
	if err == nil && (s.table != "" || want != nil && want(base)) {
		s.rows = rows
	}
	return s, err
}

// errorText are the results of failed formulas.
var errorText = map[string]bool{"#N/A": true, "#REF!": true, "#VALUE!": true, "#DIV/0!": true, "#NAME?": true, "#NUM!": true, "#NULL!": true, "#SPILL!": true, "#CALC!": true}

// loadText reads a file as text and finds its form; the line that names the
// separator is taken off.
func loadText(path string) (string, csvForm, error) {
	data, err := readWhole(path)
	if err != nil {
		return "", csvForm{}, err
	}
	text, form, err := decodeText(data)
	if err != nil {
		return "", form, err
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
	return text, form, nil
}

// readWhole reads a file without a second copy of it.
func readWhole(path string) (string, error) {
	f, err := os.Open(path)
	if err != nil {
		return "", err
	}
	defer f.Close()
	var b strings.Builder
	if info, err := f.Stat(); err == nil && info.Size() <= maxFile {
		b.Grow(int(info.Size()))
	}
	if _, err := io.CopyBuffer(&b, struct{ io.Reader }{f}, make([]byte, 1<<18)); err != nil {
		return "", err
	}
	return b.String(), nil
}

// decodeText turns a file's bytes into text: UTF-8 with or without a mark,
// UTF-16 of either order with or without one, else Windows-1252. A text with
// half a character at its end or with a zero byte is none.
func decodeText(data string) (string, csvForm, error) {
	var form csvForm
	if order, rest := wideOrder(data); order != nil {
		form.recoded = true
		if len(rest)%2 == 1 {
			return "", form, fmt.Errorf("%w: the file ends within a character (UTF-16); it was cut short, so copy it again", ErrBadCSV)
		}
		units := make([]uint16, len(rest)/2)
		for i := range units {
			units[i] = order.Uint16([]byte(rest[2*i : 2*i+2]))
		}
		return noZero(string(utf16.Decode(units)), form)
	}
	if rest, ok := strings.CutPrefix(data, "\xef\xbb\xbf"); ok {
		data, form.bom = rest, true
	}
	if utf8.ValidString(data) {
		return noZero(data, form)
	}
	form.recoded = true
	out, err := charmap.Windows1252.NewDecoder().String(data)
	if err != nil {
		return "", form, fmt.Errorf("%w: %w", ErrBadCSV, err)
	}
	return noZero(out, form)
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
func wideOrder(data string) (binary.ByteOrder, string) {
	if rest, ok := strings.CutPrefix(data, "\xff\xfe"); ok {
		return binary.LittleEndian, rest
	}
	if rest, ok := strings.CutPrefix(data, "\xfe\xff"); ok {
		return binary.BigEndian, rest
	}
	head := data[:min(len(data), 4096)]
	var zeros [2]int
	for i := range len(head) {
		if head[i] == 0 {
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
	return nil, ""
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
