package ingest

import (
	"bytes"
	"encoding/xml"
	"strconv"
	"strings"
)

// A marked copy is the workbook with a few places changed: what is not
// touched stays byte for byte as it was. So the parts are not taken apart and
// put together again; the places are found by their tags and changed there.

// xmlTag is a tag of a part: data[start:end] is "<name ...>".
type xmlTag struct {
	start, end int
	name       string // without a namespace
	close      bool   // </name>
	single     bool   // <name/>
}

// nextTag finds the first tag at or after a place. Comments, declarations
// and CDATA are passed over.
func nextTag(data []byte, at int) (xmlTag, bool) {
	for {
		i := bytes.IndexByte(data[at:], '<')
		if i < 0 {
			return xmlTag{}, false
		}
		at += i
		rest := data[at:]
		skip := ""
		switch {
		case bytes.HasPrefix(rest, []byte("<!--")):
			skip = "-->"
		case bytes.HasPrefix(rest, []byte("<![CDATA[")):
			skip = "]]>"
		case bytes.HasPrefix(rest, []byte("<?")):
			skip = "?>"
		case bytes.HasPrefix(rest, []byte("<!")):
			skip = ">"
		}
		if skip != "" {
			j := bytes.Index(rest, []byte(skip))
			if j < 0 {
				return xmlTag{}, false
			}
			at += j + len(skip)
			continue
		}
		end, quote := 1, byte(0)
		for ; end < len(rest); end++ {
			switch c := rest[end]; {
			case quote != 0:
				if c == quote {
					quote = 0
				}
				continue
			case c == '"' || c == '\'':
				quote = c
				continue
			case c != '>':
				continue
			}
			break
		}
		if end >= len(rest) {
			return xmlTag{}, false
		}
		t := xmlTag{start: at, end: at + end + 1}
		body := rest[1:end]
		if len(body) > 0 && body[0] == '/' {
			t.close, body = true, body[1:]
		} else if len(body) > 0 && body[len(body)-1] == '/' {
			t.single, body = true, body[:len(body)-1]
		}
		name := body
		if j := bytes.IndexAny(name, " \t\r\n"); j >= 0 {
			name = name[:j]
		}
		t.name = string(name[bytes.IndexByte(name, ':')+1:])
		return t, true
	}
}

// findTag finds the first start tag of a name at or after a place.
func findTag(data []byte, at int, name string) (xmlTag, bool) {
	for {
		t, ok := nextTag(data, at)
		if !ok || !t.close && t.name == name {
			return t, ok
		}
		at = t.end
	}
}

// endOf is the place after the end tag that belongs to a start tag, and the
// place before it.
func endOf(data []byte, t xmlTag) (inner, after int, ok bool) {
	if t.single {
		return t.end, t.end, true
	}
	depth, at := 1, t.end
	for {
		n, ok := nextTag(data, at)
		if !ok {
			return 0, 0, false
		}
		switch {
		case n.close:
			if depth--; depth == 0 {
				return n.start, n.end, true
			}
		case !n.single:
			depth++
		}
		at = n.end
	}
}

// prefixOf is the namespace prefix of a part's elements, with its colon.
func prefixOf(data []byte) string {
	t, ok := nextTag(data, 0)
	if !ok {
		return ""
	}
	name, _, _ := strings.Cut(strings.Trim(string(data[t.start:t.end]), "</>"), " ")
	prefix, _, found := strings.Cut(name, ":")
	if !found {
		return ""
	}
	return prefix + ":"
}

// attrAt finds an attribute's value in a tag; places count from the tag's
// own start. The name may carry a namespace or not.
func attrAt(tag []byte, name string) (from, to int, ok bool) {
	for i := 0; i < len(tag); {
		eq := bytes.IndexByte(tag[i:], '=')
		if eq < 0 {
			return 0, 0, false
		}
		key := bytes.TrimRight(tag[i:i+eq], " \t\r\n")
		key = key[bytes.LastIndexAny(key, " \t\r\n")+1:]
		q := i + eq + 1
		for q < len(tag) && tag[q] != '"' && tag[q] != '\'' {
			q++
		}
		if q >= len(tag) {
			return 0, 0, false
		}
		end := bytes.IndexByte(tag[q+1:], tag[q])
		if end < 0 {
			return 0, 0, false
		}
		local := key[bytes.IndexByte(key, ':')+1:]
		if string(key) == name || string(local) == name && !bytes.HasPrefix(key, []byte("xmlns")) {
			return q + 1, q + 1 + end, true
		}
		i = q + 1 + end + 1
	}
	return 0, 0, false
}

// attrText is an attribute's value with its entities resolved.
func attrText(tag []byte, name string) (string, bool) {
	from, to, ok := attrAt(tag, name)
	if !ok {
		return "", false
	}
	return unescaped(tag[from:to]), true
}

func attrNumber(tag []byte, name string, missing int) int {
	s, ok := attrText(tag, name)
	n, err := strconv.Atoi(s)
	if !ok || err != nil {
		return missing
	}
	return n
}

func unescaped(b []byte) string {
	if bytes.IndexByte(b, '&') < 0 {
		return string(b)
	}
	var out string
	if err := xml.Unmarshal([]byte("<a>"+string(b)+"</a>"), &out); err != nil {
		return string(b)
	}
	return out
}

// escaped is a text as it stands in XML, attributes included. Characters
// that XML cannot hold become U+FFFD.
func escaped(s string) string {
	var b bytes.Buffer
	_ = xml.EscapeText(&b, []byte(s)) // a buffer takes everything
	return b.String()
}

// withAttr is a tag with one attribute set.
func withAttr(tag []byte, name, value string) []byte {
	if from, to, ok := attrAt(tag, name); ok {
		return bytes.Join([][]byte{tag[:from], tag[to:]}, []byte(escaped(value)))
	}
	at := len(tag) - 1
	if tag[at-1] == '/' {
		at--
	}
	for tag[at-1] == ' ' {
		at--
	}
	return bytes.Join([][]byte{tag[:at], tag[at:]}, []byte(" "+name+`="`+escaped(value)+`"`))
}

// splice replaces data[from:to].
func splice(data []byte, from, to int, with string) []byte {
	out := make([]byte, 0, len(data)-(to-from)+len(with))
	out = append(append(out, data[:from]...), with...)
	return append(out, data[to:]...)
}

// appendTo adds children at the end of the first element of a name, and to
// its count if it has one. It is false where there is no such element.
func appendTo(data []byte, name, children string, n int) ([]byte, bool) {
	t, ok := findTag(data, 0, name)
	if !ok {
		return data, false
	}
	inner, _, ok := endOf(data, t)
	if !ok {
		return data, false
	}
	tag := append([]byte(nil), data[t.start:t.end]...)
	if count, ok := attrText(tag, "count"); ok {
		if c, err := strconv.Atoi(count); err == nil {
			tag = withAttr(tag, "count", strconv.Itoa(c+n))
		}
	}
	if t.single {
		whole, _, _ := strings.Cut(strings.Trim(string(tag), "</>"), " ")
		open := strings.TrimRight(strings.TrimSuffix(string(tag), "/>"), " ") + ">"
		return splice(data, t.start, t.end, open+children+"</"+whole+">"), true
	}
	data = splice(data, inner, inner, children)
	return splice(data, t.start, t.end, string(tag)), true
}
