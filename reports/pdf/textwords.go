package pdf

import (
	"slices"
	"strings"
	"unicode"

	"plybook/reports/document"
	"plybook/reports/typeface"
)

// words cuts spans where a line may break: at spaces, after a hyphen between
// letters, after a slash or a dash, at a soft hyphen or a zero-width space.
// A space that does not break (U+00A0, U+202F) holds its words together. A
// line feed ends the line.
func (p *pen) words(spans []document.Span, st textStyle) []word {
	b := wordBuilder{p: p}
	for _, sp := range spans {
		b.font = typeface.Pick(sp.Bold || st.bold, sp.Italic || st.italic, sp.Code)
		b.size, b.link = st.size, sp.Link
		b.rise = 0
		switch {
		case sp.Raised:
			b.size, b.rise = st.size*raisedShrink, st.size*raisedBy
		case sp.Code:
			b.size *= codeShrink
		}
		runes := []rune(strings.ReplaceAll(sp.Text, "\r\n", "\n"))
		for i, r := range runes {
			switch r {
			case '\n':
				b.endWord(false)
				b.endLine()
			case ' ', '\t', '\u2002', '\u2003', '\u2009':
				if operator(b.part) && i+1 < len(runes) || bound(b.part, runes[i+1:]) {
					b.part = append(b.part, '\u00a0') // "≥ 5" stays together
					continue
				}
				b.endWord(true)
			case '\u200b':
				b.endWord(false)
			case '\u00ad':
				b.endWord(false)
				b.softHyphen()
			default:
				b.part = append(b.part, r)
				if breaksAfter(runes, i) {
					b.endWord(false)
				}
			}
		}
		b.flush()
	}
	b.endWord(false)
	return b.out
}

// operator says whether a word is a sign that belongs to what follows it.
func operator(part []rune) bool {
	for i := len(part) - 1; i >= 0; i-- { // "p =" was bound before
		if part[i] == '\u00a0' {
			part = part[i+1:]
			break
		}
	}
	return len(part) == 1 && strings.ContainsRune("≥≤<>=±×≈~−+", part[0])
}

// shortUnits stay behind their number.
var shortUnits = []string{"h", "mm", "cm", "ml", "kg", "ply", "°C", "%"}

// bound says whether what follows a space belongs to the word before it: a
// unit to its number, a sign to the letter that it compares ("p = 0.02").
func bound(part, rest []rune) bool {
	n := 0
	for n < len(rest) && n < 4 && !unicode.IsSpace(rest[n]) {
		n++
	}
	if len(part) == 0 || n == 0 {
		return false
	}
	if len(part) <= 2 && unicode.IsLetter(part[len(part)-1]) && operator(rest[:n]) && n < len(rest) {
		return true
	}
	next := strings.TrimRight(string(rest[:n]), ".,;:)")
	return unicode.IsDigit(part[len(part)-1]) && slices.Contains(shortUnits, next)
}

func breaksAfter(runes []rune, i int) bool {
	if i == 0 || i+1 >= len(runes) {
		return false
	}
	before, after := runes[i-1], runes[i+1]
	switch runes[i] {
	case '-':
		return unicode.IsLetter(before) && unicode.IsLetter(after)
	case '/', '_':
		return (unicode.IsLetter(before) || unicode.IsDigit(before)) && unicode.IsLetter(after)
	case '\u2014', '\u2013':
		return !unicode.IsSpace(after) && !unicode.IsDigit(after)
	}
	return false
}

type wordBuilder struct {
	p    *pen
	out  []word
	cur  word
	part []rune
	font typeface.Style
	size float64
	rise float64
	link string
}

func (b *wordBuilder) flush() {
	if len(b.part) == 0 {
		return
	}
	text := b.p.m.Fit(b.font, string(b.part))
	b.part = b.part[:0]
	f := fragment{text: text, font: b.font, size: b.size, rise: b.rise, link: b.link, w: b.p.width(b.font, b.size, text)}
	b.cur.frags = append(b.cur.frags, f)
	b.cur.w += f.w
}

// endWord closes the word, if there is one; space says that a space follows.
func (b *wordBuilder) endWord(space bool) {
	b.flush()
	if len(b.cur.frags) > 0 {
		b.out = append(b.out, b.cur)
		b.cur = word{}
	}
	// Spaces in a row are one space, and none stands at the start.
	if n := len(b.out); space && n > 0 && b.out[n-1].space.text == "" && !b.out[n-1].end {
		b.out[n-1].space = fragment{text: " ", font: b.font, size: b.size, link: b.link, w: b.p.width(b.font, b.size, " ")}
	}
}

func (b *wordBuilder) softHyphen() {
	if n := len(b.out); n > 0 {
		b.out[n-1].hyphen = b.p.width(b.font, b.size, "-")
	}
}

func (b *wordBuilder) endLine() {
	if n := len(b.out); n > 0 && !b.out[n-1].end {
		b.out[n-1].end = true
		return
	}
	b.out = append(b.out, word{end: true})
}
