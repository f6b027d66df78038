package ingest

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strconv"
	"unicode/utf8"
)

// xmlKind is what an xmlStream has found.
type xmlKind uint8

const (
	xmlStart xmlKind = iota
	xmlEnd
	xmlText
	xmlEOF
)

// maxToken bounds one tag or one run of text. A cell holds 32,767 characters
// at most, of which each may be written as an entity of ten bytes.
const maxToken = 1 << 20

// xmlStream reads the parts of a workbook that grow with its rows. It knows
// what those parts may hold (tags, attributes, text, CDATA, comments, the five
// entities and character references) and refuses a document type, so that no
// entity can be declared. What it hands out stands until the next call.
type xmlStream struct {
	r        io.Reader
	buf      []byte
	pos, end int
	closing  bool // the last start tag closes itself: its end comes next
	ended    bool

	name  []byte // of the tag, without a namespace
	attrs []byte // as written
	text  []byte // with entities resolved
	own   []byte // where text is put together if it differs from what is written
}

func newXMLStream(r io.Reader) *xmlStream {
	return &xmlStream{r: r, buf: make([]byte, 128<<10)}
}

// more reads on, keeping what stands from pos; io.EOF where nothing is left.
func (s *xmlStream) more() error {
	if s.ended {
		return io.EOF
	}
	if s.pos > 0 {
		copy(s.buf, s.buf[s.pos:s.end])
		s.end -= s.pos
		s.pos = 0
	}
	if s.end == len(s.buf) {
		if len(s.buf) > maxToken {
			return fmt.Errorf("%w (a tag or text of more than %d bytes)", ErrTruncated, maxToken)
		}
		s.buf = append(s.buf, make([]byte, len(s.buf))...)
	}
	for range 100 {
		n, err := s.r.Read(s.buf[s.end:])
		s.end += n
		if n > 0 {
			return nil
		}
		if errors.Is(err, io.EOF) {
			s.ended = true
			return io.EOF
		}
		if err != nil {
			return err
		}
	}
	return io.ErrNoProgress
}

var errCutShort = fmt.Errorf("%w (a part ends in the middle)", ErrTruncated)

// find returns the place of what after from places, reading on as needed.
func (s *xmlStream) find(from int, what string) (int, error) {
	for {
		if s.pos+from <= s.end {
			var i int
			if len(what) == 1 {
				i = bytes.IndexByte(s.buf[s.pos+from:s.end], what[0])
			} else {
				i = bytes.Index(s.buf[s.pos+from:s.end], []byte(what))
			}
			if i >= 0 {
				return from + i, nil
			}
			from = max(from, s.end-s.pos-len(what)+1)
		}
		if err := s.more(); err != nil {
			return 0, err
		}
	}
}

// has says whether what stands at the place of reading.
func (s *xmlStream) has(what string) (bool, error) {
	for s.end-s.pos < len(what) {
		if err := s.more(); err != nil {
			if errors.Is(err, io.EOF) {
				return false, nil
			}
			return false, err
		}
	}
	return string(s.buf[s.pos:s.pos+len(what)]) == what, nil
}

// next finds the next tag or text.
func (s *xmlStream) next() (xmlKind, error) {
	if s.closing {
		s.closing = false
		return xmlEnd, nil
	}
	for {
		if s.pos == s.end {
			if err := s.more(); errors.Is(err, io.EOF) {
				return xmlEOF, nil
			} else if err != nil {
				return 0, err
			}
		}
		if s.buf[s.pos] != '<' {
			n, err := s.find(0, "<")
			if errors.Is(err, io.EOF) {
				n, err = s.end-s.pos, nil // white space below the last tag
			}
			if err != nil {
				return 0, err
			}
			raw := s.buf[s.pos : s.pos+n]
			s.pos += n
			s.text, err = s.resolve(raw)
			return xmlText, err
		}
		if s.pos+1 == s.end {
			if err := s.more(); err != nil {
				return 0, cutShort(err)
			}
		}
		switch s.buf[s.pos+1] {
		case '?':
			if err := s.skip("?>"); err != nil {
				return 0, err
			}
		case '!':
			if text, err := s.declaration(); text || err != nil {
				return xmlText, err
			}
		default:
			return s.tag()
		}
	}
}

func cutShort(err error) error {
	if errors.Is(err, io.EOF) {
		return errCutShort
	}
	return err
}

// skip passes over what ends with the mark, however long.
func (s *xmlStream) skip(mark string) error {
	for {
		if i := bytes.Index(s.buf[s.pos:s.end], []byte(mark)); i >= 0 {
			s.pos += i + len(mark)
			return nil
		}
		s.pos = max(s.pos, s.end-len(mark)+1)
		if err := s.more(); err != nil {
			return cutShort(err)
		}
	}
}

// declaration passes over a comment, and reads CDATA as text. All else that
// begins so is a document type.
func (s *xmlStream) declaration() (text bool, err error) {
	if ok, err := s.has("<!--"); err != nil {
		return false, err
	} else if ok {
		s.pos += 4
		return false, s.skip("-->")
	}
	if ok, err := s.has("<![CDATA["); err != nil {
		return false, err
	} else if ok {
		n, err := s.find(9, "]]>")
		if err != nil {
			return false, cutShort(err)
		}
		s.text = s.buf[s.pos+9 : s.pos+n]
		s.pos += n + 3
		return true, nil
	}
	return false, fmt.Errorf("%w: a part of it has a document type, which no spreadsheet program writes", ErrUnsafe)
}

// tag reads a start or an end tag.
func (s *xmlStream) tag() (xmlKind, error) {
	n, err := s.find(1, ">")
	for err == nil && oddQuotes(s.buf[s.pos:s.pos+n]) { // the mark stands inside a value
		n, err = s.find(n+1, ">")
	}
	if err != nil {
		return 0, cutShort(err)
	}
	in := s.buf[s.pos+1 : s.pos+n]
	s.pos += n + 1
	kind := xmlStart
	switch {
	case len(in) > 0 && in[0] == '/':
		kind, in = xmlEnd, in[1:]
	case len(in) > 0 && in[len(in)-1] == '/':
		s.closing, in = true, in[:len(in)-1]
	}
	i := 0
	for i < len(in) && in[i] > ' ' {
		if in[i] == ':' {
			in, i = in[i+1:], 0
			continue
		}
		i++
	}
	if i == 0 {
		return 0, fmt.Errorf("%w (a tag without a name)", ErrTruncated)
	}
	s.name, s.attrs = in[:i], in[i:]
	return kind, nil
}

// oddQuotes reports a value that is still open.
func oddQuotes(b []byte) bool {
	if bytes.IndexByte(b, '\'') < 0 { // as most programs write
		return bytes.Count(b, []byte{'"'})%2 != 0
	}
	var open byte
	for _, c := range b {
		switch {
		case open == 0 && (c == '"' || c == '\''):
			open = c
		case c == open:
			open = 0
		}
	}
	return open != 0
}

// attr takes the next attribute off the tag: its name without a namespace and
// its value as written.
func (s *xmlStream) attr() (name, value []byte, ok bool) {
	a := s.attrs
	i := 0
	for i < len(a) && a[i] <= ' ' {
		i++
	}
	a = a[i:]
	eq := bytes.IndexByte(a, '=')
	if eq < 0 {
		return nil, nil, false
	}
	name = bytes.TrimRight(a[:eq], " \t\r\n")
	if c := bytes.IndexByte(name, ':'); c >= 0 {
		name = name[c+1:]
	}
	a = a[eq+1:]
	for len(a) > 0 && a[0] <= ' ' {
		a = a[1:]
	}
	if len(a) == 0 || a[0] != '"' && a[0] != '\'' {
		return nil, nil, false
	}
	end := bytes.IndexByte(a[1:], a[0])
	if end < 0 {
		return nil, nil, false
	}
	value = a[1 : 1+end]
	s.attrs = a[end+2:]
	return name, value, true
}

// resolve replaces entities and unifies line ends. Text without either is
// handed back as it stands.
func (s *xmlStream) resolve(raw []byte) ([]byte, error) {
	if bytes.IndexByte(raw, '&') < 0 && bytes.IndexByte(raw, '\r') < 0 {
		return raw, nil
	}
	out := s.own[:0]
	for i := 0; i < len(raw); i++ {
		switch raw[i] {
		case '\r':
			out = append(out, '\n')
			if i+1 < len(raw) && raw[i+1] == '\n' {
				i++
			}
		case '&':
			n := bytes.IndexByte(raw[i:min(len(raw), i+12)], ';')
			r, ok := rune(0), false
			if n > 0 {
				r, ok = entity(string(raw[i+1 : i+n]))
			}
			if !ok {
				return nil, fmt.Errorf("%w (an entity that is not known)", ErrTruncated)
			}
			out = utf8.AppendRune(out, r)
			i += n
		default:
			out = append(out, raw[i])
		}
	}
	s.own = out
	return out, nil
}

func entity(name string) (rune, bool) {
	switch name {
	case "lt":
		return '<', true
	case "gt":
		return '>', true
	case "amp":
		return '&', true
	case "quot":
		return '"', true
	case "apos":
		return '\'', true
	}
	if len(name) < 2 || name[0] != '#' {
		return 0, false
	}
	base, digits := 10, name[1:]
	if digits[0] == 'x' {
		base, digits = 16, digits[1:]
	}
	n, err := strconv.ParseUint(digits, base, 32)
	if err != nil || n == 0 || n > utf8.MaxRune {
		return 0, false
	}
	return rune(n), true
}
