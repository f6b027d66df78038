package ingest

import (
	"bytes"
	"context"
	"fmt"
	"strconv"
	"unicode/utf8"
)

// sharedText is a text that cells refer to by number.
type sharedText struct {
	text   packed
	struck bool // all of it is struck through
}

// maxShared bounds the texts that a workbook shares.
const maxShared = 32 << 20

// loadShared reads the texts that the cells of all sheets share.
func (b *bookParts) loadShared(ctx context.Context, part string) error {
	in, err := b.stream(part)
	if err != nil {
		return err
	}
	defer in.close()
	x := newXMLStream(in)
	var text []byte
	var runs strikeRuns
	reading := false
	for {
		kind, err := x.next()
		if err != nil {
			return err
		}
		switch kind {
		case xmlEOF:
			return errCutShort
		case xmlText:
			if reading {
				text = append(text, x.text...)
				runs.text(x.text)
			}
		case xmlStart:
			switch string(x.name) {
			case "si":
				text, runs = text[:0], strikeRuns{}
			case "t":
				reading = !runs.phonetic
			default:
				runs.start(x)
			}
		case xmlEnd:
			switch string(x.name) {
			case "t":
				reading = false
			case "si":
				whole := unescapeText(text)
				p, err := b.keep(whole)
				if err != nil {
					return err
				}
				if p != 0 {
					p = p.as(kindOfText(whole))
				}
				if b.shared = append(b.shared, sharedText{p, runs.all()}); len(b.shared) > maxShared {
					return fmt.Errorf("%w (more than %d texts)", ErrTooLarge, maxShared)
				}
				if len(b.shared)%10000 == 0 && ctx.Err() != nil {
					return ctx.Err()
				}
			case "sst":
				return nil
			default:
				runs.end(x.name)
			}
		}
	}
}

// strikeRuns follows the runs of a text with formats of its own: which are
// struck through, and which only tell how others are pronounced.
type strikeRuns struct {
	phonetic  bool
	run       bool
	strike    bool
	struck    bool // text struck through was met
	plainText bool // text not struck through was met
}

func (s *strikeRuns) start(x *xmlStream) {
	switch string(x.name) {
	case "rPh":
		s.phonetic = true
	case "r":
		s.run, s.strike = true, false
	case "strike":
		s.strike = s.run
		for n, v, ok := x.attr(); ok; n, v, ok = x.attr() {
			if string(n) == "val" && (string(v) == "0" || string(v) == "false") {
				s.strike = false
			}
		}
	}
}

func (s *strikeRuns) end(name []byte) {
	switch string(name) {
	case "rPh":
		s.phonetic = false
	case "r":
		s.run, s.strike = false, false
	}
}

func (s *strikeRuns) text(t []byte) {
	switch {
	case len(bytes.TrimSpace(t)) == 0:
	case s.strike:
		s.struck = true
	default:
		s.plainText = true
	}
}

// all reports a text of which every run is struck through.
func (s *strikeRuns) all() bool { return s.struck && !s.plainText }

// unescapeText undoes the way in which spreadsheet programs write characters
// that XML does not allow: _x000D_, and _x005F_ for an underscore that would
// otherwise begin such a mark (ECMA-376 part 1, 22.4.2.4).
func unescapeText(text []byte) []byte {
	if !bytes.Contains(text, []byte("_x")) {
		return text
	}
	out := make([]byte, 0, len(text))
	for i := 0; i < len(text); i++ {
		if text[i] == '_' && i+6 < len(text) && text[i+1] == 'x' && text[i+6] == '_' {
			if v, err := strconv.ParseUint(string(text[i+2:i+6]), 16, 16); err == nil {
				out = utf8.AppendRune(out, rune(v))
				i += 6
				continue
			}
		}
		out = append(out, text[i])
	}
	return out
}
