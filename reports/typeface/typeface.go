// Package typeface is the one family of type that every output uses:
// Liberation Sans in four styles and Liberation Mono, embedded in the
// program under the SIL Open Font License. It gives the same fonts to the
// figures (gonum/plot) and to the printed report (fpdf), measures text as
// both will set it, and says which characters the fonts can show.
package typeface

import (
	"bytes"
	"fmt"
	"strings"
	"sync"

	"codeberg.org/go-fonts/liberation/liberationmonoregular"
	"codeberg.org/go-fonts/liberation/liberationsansbold"
	"codeberg.org/go-fonts/liberation/liberationsansbolditalic"
	"codeberg.org/go-fonts/liberation/liberationsansitalic"
	"codeberg.org/go-fonts/liberation/liberationsansregular"
	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// Style is one of the embedded fonts.
type Style int

// The embedded fonts.
const (
	Regular Style = iota
	Bold
	Italic
	BoldItalic
	Mono
	styles // how many there are
)

// Pick is the style for a run of text that is bold, italic or code. There
// is one weight of the monospaced font, so code wins over both.
func Pick(bold, italic, code bool) Style {
	switch {
	case code:
		return Mono
	case bold && italic:
		return BoldItalic
	case bold:
		return Bold
	case italic:
		return Italic
	}
	return Regular
}

// String is the name of the style.
func (s Style) String() string {
	switch s {
	case Regular:
		return "Liberation Sans"
	case Bold:
		return "Liberation Sans Bold"
	case Italic:
		return "Liberation Sans Italic"
	case BoldItalic:
		return "Liberation Sans Bold Italic"
	case Mono:
		return "Liberation Mono"
	}
	return fmt.Sprintf("Style(%d)", int(s))
}

func (s Style) source() []byte {
	switch s {
	case Bold:
		return liberationsansbold.TTF
	case Italic:
		return liberationsansitalic.TTF
	case BoldItalic:
		return liberationsansbolditalic.TTF
	case Mono:
		return liberationmonoregular.TTF
	}
	return liberationsansregular.TTF
}

// TTF is a copy of the font file. It is a copy because fpdf appends to
// slices of what it is given while it cuts the font down, and the embedded
// bytes are shared by everything else.
func (s Style) TTF() []byte { return bytes.Clone(s.source()) }

// face holds what is read once from a font file and never changed.
type face struct {
	font *sfnt.Font
	upem fixed.Int26_6
	err  error
}

var faces = sync.OnceValue(func() [styles]face {
	var all [styles]face
	for s := Style(0); s < styles; s++ {
		f, err := sfnt.Parse(s.source())
		if err != nil {
			all[s].err = fmt.Errorf("reading the embedded font %s: %w", s, err)
			continue
		}
		all[s] = face{font: f, upem: fixed.Int26_6(f.UnitsPerEm())}
	}
	return all
})

// Replacement stands for a character that the fonts cannot show. It is plain
// on purpose: an empty box would read as an unticked one.
const Replacement = "[?]"

// Measurer measures text as the printed report sets it: advances rounded to
// a thousandth of the size, as a PDF stores them, and pairs kerned. It
// remembers what it has measured and is not safe for use by several
// goroutines at once; make one for each rendering.
type Measurer struct {
	buf   sfnt.Buffer
	glyph [styles]map[rune]glyph
	kern  [styles]map[[2]rune]float64
}

type glyph struct {
	index   sfnt.GlyphIndex
	advance float64 // thousandths of the size
}

// NewMeasurer is a Measurer with nothing measured yet.
func NewMeasurer() *Measurer {
	m := &Measurer{}
	for s := range m.glyph {
		m.glyph[s] = map[rune]glyph{}
		m.kern[s] = map[[2]rune]float64{}
	}
	return m
}

func (m *Measurer) look(s Style, r rune) glyph {
	if g, ok := m.glyph[s][r]; ok {
		return g
	}
	var g glyph
	f := faces()[s]
	// Beyond the basic plane the PDF writer has no codes.
	if f.err == nil && r <= 0xFFFF {
		if i, err := f.font.GlyphIndex(&m.buf, r); err == nil && i != 0 {
			if adv, err := f.font.GlyphAdvance(&m.buf, i, f.upem, font.HintingNone); err == nil {
				g = glyph{index: i, advance: float64((2000*int(adv) + int(f.upem)) / (2 * int(f.upem)))}
			}
		}
	}
	m.glyph[s][r] = g
	return g
}

// Has says whether the style can show the character.
func (m *Measurer) Has(s Style, r rune) bool { return m.look(s, r).index != 0 }

// Kern is the move between two characters, in thousandths of the size,
// negative where they come closer. Digits are never kerned with each other,
// so that columns of numbers stay in line, nor is anything kerned with a
// space, so that a line can be measured word by word.
func (m *Measurer) Kern(s Style, a, b rune) float64 {
	if s == Mono || !kerned(a, b) {
		return 0
	}
	key := [2]rune{a, b}
	if k, ok := m.kern[s][key]; ok {
		return k
	}
	var k float64
	ga, gb := m.look(s, a), m.look(s, b)
	if f := faces()[s]; f.err == nil && ga.index != 0 && gb.index != 0 {
		// An error here means that the pair has no entry: no kerning.
		if v, err := f.font.Kern(&m.buf, ga.index, gb.index, f.upem, font.HintingNone); err == nil {
			k = float64(v) * 1000 / float64(f.upem)
		}
	}
	m.kern[s][key] = k
	return k
}

// kerned says whether a pair may be kerned.
func kerned(a, b rune) bool { return !(digit(a) && digit(b)) && a != ' ' && b != ' ' }

func digit(r rune) bool { return r >= '0' && r <= '9' }

// Width is the width of text at a size, in the unit of the size. The text
// is taken as Fit gives it.
func (m *Measurer) Width(s Style, text string, size float64) float64 {
	var w float64
	prev := rune(-1)
	for _, r := range text {
		if prev >= 0 {
			w += m.Kern(s, prev, r)
		}
		w += m.look(s, r).advance
		prev = r
	}
	return w * size / 1000
}

// Piece is a part of a text that is set without any kerning in it, and
// where it starts.
type Piece struct {
	Text string
	X    float64
}

// Pieces cuts text where two characters are kerned, so that a writer that
// cannot kern can place each piece by itself.
func (m *Measurer) Pieces(s Style, text string, size float64) []Piece {
	var out []Piece
	var x float64
	start, startX := 0, 0.0
	prev := rune(-1)
	for i, r := range text {
		if prev >= 0 {
			if k := m.Kern(s, prev, r); k != 0 {
				out = append(out, Piece{text[start:i], startX * size / 1000})
				x += k
				start, startX = i, x
			}
		}
		x += m.look(s, r).advance
		prev = r
	}
	if start < len(text) {
		out = append(out, Piece{text[start:], startX * size / 1000})
	}
	return out
}

// alike are characters that the fonts lack or that a PDF should not hold,
// each with one that means and looks the same.
var alike = map[rune]string{
	'\u00a0': " ", '\u202f': " ", '\u2007': " ", '\u2009': " ", '\u200a': " ", '\u2002': " ", '\u2003': " ", '\u3000': " ",
	'\u2011': "-", '\u2010': "-", '\u00ad': "", '\u200b': "", '\u200c': "", '\u200d': "", '\ufeff': "", '\u2060': "",
	'\ufe0e': "", '\ufe0f': "",
	'\u2713': "\u221a", '\u2714': "\u221a", '\u2126': "\u03a9", '\u212b': "\u00c5",
	'\t': " ", '\n': " ", '\r': "",
}

// Fit is the text as the style can show it: what it lacks is given by a
// character that means the same where there is one, and by Replacement where
// there is none. Writing that runs from right to left is replaced too, since
// nothing here orders it.
func (m *Measurer) Fit(s Style, text string) string {
	plain := true
	for i := 0; i < len(text); i++ {
		if text[i] < ' ' || text[i] > '~' {
			plain = false
			break
		}
	}
	if plain {
		return text
	}
	var b strings.Builder
	for _, r := range text {
		if same, ok := alike[r]; ok {
			b.WriteString(same)
			continue
		}
		if r < ' ' || r >= 0x7f && r < 0xa0 || rightToLeft(r) || !m.Has(s, r) {
			b.WriteString(Replacement)
			continue
		}
		b.WriteRune(r)
	}
	return b.String()
}

func rightToLeft(r rune) bool {
	return r >= 0x0590 && r <= 0x08ff || r >= 0xfb1d && r <= 0xfdff || r >= 0xfe70 && r <= 0xfefc ||
		r == 0x200f || r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069
}
