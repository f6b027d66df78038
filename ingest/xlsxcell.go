package ingest

import (
	"bytes"
	"fmt"
	"strconv"
	"strings"
	"unicode/utf8"
)

// passCell notes where an empty cell stands, since the next may not say.
func (r *sheetReader) passCell() {
	r.x.closing = false
	r.col++
	for n, v, ok := r.x.attr(); ok; n, v, ok = r.x.attr() {
		if string(n) == "r" {
			if c, ok := columnOf(v); ok {
				r.col = c
			}
			return
		}
	}
}

// startCell reads where a cell stands and what it is.
func (r *sheetReader) startCell() error {
	r.col++
	r.kind, r.style, r.shared = cellNumber, 0, false
	for n, v, ok := r.x.attr(); ok; n, v, ok = r.x.attr() {
		if len(n) != 1 {
			continue
		}
		switch n[0] {
		case 'r':
			if c, ok := columnOf(v); ok {
				r.col = c
			}
		case 's':
			r.style, _ = strconv.Atoi(string(v))
		case 't':
			switch string(v) {
			case "s":
				r.kind, r.shared = cellText, true
			case "str", "inlineStr":
				r.kind = cellText
			case "b":
				r.kind = cellBool
			case "e":
				r.kind = cellError
			case "d":
				r.kind = cellISO
			}
		}
	}
	if r.col < 0 || r.col >= maxColumns {
		return fmt.Errorf("%w (a cell lies outside the sheet)", ErrTruncated)
	}
	if r.kind == cellNumber && r.style > 0 && r.style < len(r.book.formats) {
		r.kind = r.book.formats[r.style].kind
	}
	return nil
}

// columnOf reads the letters of a cell's address.
func columnOf(ref []byte) (int, bool) {
	col, i := 0, 0
	for i < len(ref) && ref[i] >= 'A' && ref[i] <= 'Z' && i < 4 {
		col = col*26 + int(ref[i]-'A') + 1
		i++
	}
	return col - 1, i > 0 && i < 4 && i < len(ref) && ref[i] >= '1' && ref[i] <= '9'
}

// readCell reads what a cell holds: its stored value, or the text written
// into it. Zero is a cell without anything.
func (r *sheetReader) readCell() (p packed, struck bool, err error) {
	r.value = r.value[:0]
	if inline, plain := r.plainCell(); plain {
		return r.cellValue(false, true, inline)
	}
	var formula, value, inline, reading bool
	var runs strikeRuns
	for {
		kind, err := r.x.next()
		if err != nil {
			return 0, false, err
		}
		switch kind {
		case xmlEOF:
			return 0, false, errCutShort
		case xmlText:
			if reading {
				r.value = append(r.value, r.x.text...)
				runs.text(r.x.text)
			}
		case xmlStart:
			switch string(r.x.name) {
			case "f":
				formula = true
			case "v":
				value, reading = true, !inline
			case "is":
				value, inline, reading = true, true, false
				r.value = r.value[:0]
			case "t":
				reading = inline && !runs.phonetic
			default:
				runs.start(r.x)
			}
		case xmlEnd:
			switch string(r.x.name) {
			case "v", "t":
				reading = false
			case "c":
				p, struck, err := r.cellValue(formula, value, inline)
				return p, struck || runs.all(), err
			default:
				runs.end(r.x.name)
			}
		}
	}
}

// The ways in which most cells are written, to their end.
var (
	valueOpen, valueShut   = []byte("<v>"), []byte("</v></c>")
	inlineOpen, inlineShut = []byte("<is><t>"), []byte("</t></is></c>")
)

// plainCell reads a cell that holds a value, or a text written into it without
// a format of its own, and nothing else, if all of it lies ready and can stand
// as it is written. Otherwise it reads nothing.
func (r *sheetReader) plainCell() (inline, plain bool) {
	x := r.x
	b := x.buf[x.pos:x.end]
	open, shut := valueOpen, valueShut
	if !bytes.HasPrefix(b, open) {
		if open, shut, inline = inlineOpen, inlineShut, true; !bytes.HasPrefix(b, open) {
			return false, false
		}
	}
	n := bytes.IndexByte(b[len(open):], '<')
	if n < 0 || !bytes.HasPrefix(b[len(open)+n:], shut) {
		return false, false
	}
	value := b[len(open) : len(open)+n]
	if bytes.IndexByte(value, '&') >= 0 || bytes.IndexByte(value, '\r') >= 0 {
		return false, false
	}
	r.value = append(r.value, value...)
	x.pos += len(open) + n + len(shut)
	return inline, true
}

func (r *sheetReader) cellValue(formula, value, inline bool) (p packed, struck bool, err error) {
	if formula && !value {
		return packed(cellNoValue), false, nil
	}
	if r.shared && len(bytes.TrimSpace(r.value)) > 0 {
		i, err := strconv.Atoi(string(bytes.TrimSpace(r.value)))
		if err != nil || i < 0 || i >= len(r.book.shared) {
			return 0, false, fmt.Errorf("%w (%s refers to a text that is not there)", ErrTruncated, cellName(r.col, r.row.n))
		}
		t := r.book.shared[i]
		if t.text == 0 {
			return 0, false, nil
		}
		return t.text, t.struck, nil
	}
	text := r.value
	switch {
	case len(text) == 0:
		return 0, false, nil
	case inline:
		text = unescapeText(text)
	case r.kind == cellBool && string(text) == "1":
		text = []byte("TRUE")
	case r.kind == cellBool:
		if text = nil; string(r.value) == "0" {
			text = []byte("FALSE")
		}
	}
	p, err = r.book.keep(text)
	if p == 0 || err != nil {
		return 0, false, err
	}
	if r.kind == cellText {
		return p.as(kindOfText(text)), false, nil
	}
	return p.as(r.kind), false, nil
}

// kindOfText tells the error of a failed formula that was pasted as text from
// other texts.
func kindOfText(text []byte) cellKind {
	if text[0] == '#' && len(text) < 12 && errorText[strings.ToUpper(strings.TrimSpace(string(text)))] {
		return cellError
	}
	return cellText
}

// keep stores a text that must be UTF-8 and no longer than a cell can hold.
func (b *bookParts) keep(text []byte) (packed, error) {
	if len(text) > maxText {
		return 0, fmt.Errorf("%w (a text of more than %d bytes)", ErrTruncated, maxText)
	}
	if !utf8.Valid(text) {
		return 0, fmt.Errorf("%w (a text that is not UTF-8)", ErrTruncated)
	}
	return b.texts.add(text), nil
}
