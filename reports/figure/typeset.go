package figure

import (
	"math"
	"strings"
	"unicode"

	"golang.org/x/image/font/sfnt"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"

	"plybook/reports/typeface"
)

// The type scale. Nothing printed at its own size is below eight points.
const (
	sizeSmall vg.Length = 8   // ticks, tables beneath, notes
	sizeText  vg.Length = 8.5 // direct labels, rows of text
	sizeHead  vg.Length = 9   // axis titles, heads
	lead      vg.Length = 1.2 // line height as a multiple of the size
)

// faces is the one place where the typeface of the figures is chosen: the
// family that every other output uses.
func faces() *font.Cache { return typeface.Cache() }

// style is how a run of text is set.
type style struct {
	size   vg.Length
	bold   bool
	italic bool
}

var (
	small     = style{size: sizeSmall}
	plain     = style{size: sizeText}
	head      = style{size: sizeHead, bold: true}
	note      = style{size: sizeSmall, italic: true}
	smallBold = style{size: sizeSmall, bold: true}
)

func (s style) face() font.Face {
	return faces().Lookup(typeface.Pick(s.bold, s.italic, false).Plot(0), s.size)
}

// width is the advance of the text in points, as it is set on the page.
func (s style) width(text string) vg.Length { return typeface.Width(s.face(), text) }

// capHeight is the height of a capital or a figure: what is centred when a
// number is centred on a line.
func (s style) capHeight() vg.Length { return s.size * 0.716 }

func (s style) descent() vg.Length { return s.size * 0.212 }

func (s style) line() vg.Length { return s.size * lead }

// clean makes text safe to set: control characters and characters that the
// typeface lacks would be drawn as empty boxes, or break a line where none
// was measured.
func clean(text string) string {
	f := small.face()
	var buf sfnt.Buffer
	ok := true
	for _, r := range text {
		if g, err := f.Face.GlyphIndex(&buf, r); err != nil || g == 0 || unicode.IsControl(r) {
			ok = false
			break
		}
	}
	if ok {
		return text
	}
	var b strings.Builder
	for _, r := range text {
		switch g, err := f.Face.GlyphIndex(&buf, r); {
		case unicode.IsControl(r) || unicode.IsSpace(r):
			b.WriteByte(' ')
		case err != nil || g == 0:
			b.WriteByte('?')
		default:
			b.WriteRune(r)
		}
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

const ellipsis = "…"

// shorten cuts text to a width, ending in an ellipsis where it was cut.
func (s style) shorten(text string, max vg.Length) string {
	if s.width(text) <= max {
		return text
	}
	runes := []rune(text)
	lo, hi := 0, len(runes)
	for lo < hi {
		mid := (lo + hi + 1) / 2
		if s.width(strings.TrimRight(string(runes[:mid]), " ")+ellipsis) <= max {
			lo = mid
		} else {
			hi = mid - 1
		}
	}
	return strings.TrimRight(string(runes[:lo]), " ") + ellipsis
}

// wrap breaks text into lines no wider than max, at spaces where it can and
// inside a word where it must. Beyond maxLines (0: no limit) the last line
// ends in an ellipsis; cut reports whether anything was left out.
func (s style) wrap(text string, max vg.Length, maxLines int) (lines []string, cut bool) {
	words := strings.Fields(clean(text))
	for len(words) > 0 {
		line := words[0]
		if s.width(line) > max {
			if maxLines > 0 && len(lines) == maxLines-1 {
				return append(lines, s.shorten(strings.Join(words, " "), max)), true
			}
			n := s.fit(line, max)
			runes := []rune(line)
			lines = append(lines, string(runes[:n]))
			if words[0] = string(runes[n:]); words[0] == "" {
				words = words[1:]
			}
			continue
		}
		words = words[1:]
		for len(words) > 0 && s.width(line+" "+words[0]) <= max {
			line += " " + words[0]
			words = words[1:]
		}
		if maxLines > 0 && len(lines) == maxLines-1 && len(words) > 0 {
			return append(lines, s.shorten(line+" "+strings.Join(words, " "), max)), true
		}
		lines = append(lines, line)
	}
	return lines, false
}

// fit is how many runes of a word go into a width; at least one, so that
// wrapping always ends.
func (s style) fit(word string, max vg.Length) int {
	runes := []rune(word)
	n := 1
	for n < len(runes) && s.width(string(runes[:n+1])) <= max {
		n++
	}
	return n
}

// widest is the width of the widest text.
func (s style) widest(texts ...string) vg.Length {
	var w vg.Length
	for _, t := range texts {
		w = max(w, s.width(t))
	}
	return w
}

func finite(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }
