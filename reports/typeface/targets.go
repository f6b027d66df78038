package typeface

import (
	"fmt"
	"sync"

	"codeberg.org/go-pdf/fpdf"
	xfont "golang.org/x/image/font"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
)

// PDF registers the style with a PDF under the family and style names that
// it returns. The writer holds a private copy of the font.
func (s Style) PDF(pdf *fpdf.Fpdf) (family, style string, err error) {
	family, style = s.names()
	pdf.AddUTF8FontFromBytes(family, style, s.TTF())
	if err := pdf.Error(); err != nil {
		return "", "", fmt.Errorf("embedding %s: %w", s, err)
	}
	return family, style, nil
}

func (s Style) names() (family, style string) {
	switch s {
	case Bold:
		return "liberationsans", "B"
	case Italic:
		return "liberationsans", "I"
	case BoldItalic:
		return "liberationsans", "BI"
	case Mono:
		return "liberationmono", ""
	}
	return "liberationsans", ""
}

// Plot describes the style to gonum/plot.
func (s Style) Plot(size vg.Length) font.Font {
	f := font.Font{Typeface: "Liberation", Variant: "Sans", Size: size}
	switch s {
	case Bold:
		f.Weight = xfont.WeightBold
	case Italic:
		f.Style = xfont.StyleItalic
	case BoldItalic:
		f.Weight, f.Style = xfont.WeightBold, xfont.StyleItalic
	case Mono:
		f.Variant = "Mono"
	}
	return f
}

// OfPlot is the style that stands nearest to a font of a plot.
func OfPlot(f font.Font) Style {
	return Pick(f.Weight >= xfont.WeightSemiBold, f.Style != xfont.StyleNormal, f.Variant == "Mono")
}

// Cache holds the embedded fonts, and only those, for gonum/plot. It is
// built once and only read afterwards.
var Cache = sync.OnceValue(func() *font.Cache {
	var all font.Collection
	for s := Style(0); s < styles; s++ {
		// A font that does not parse is left out here and reported by the
		// writers; the embedded files are fixed, and a test reads them all.
		if f, err := opentype.Parse(s.source()); err == nil {
			all = append(all, font.Face{Font: s.Plot(0), Face: f})
		}
	}
	return font.NewCache(all)
})

// Handler sets plain text in the embedded fonts.
func Handler() text.Handler { return text.Plain{Fonts: Cache()} }

// SetPlotDefaults makes the embedded sans the font of every plot, axis,
// legend and label made afterwards. gonum/plot keeps these defaults in
// package variables; this is the only place that sets them, and it does so
// once. Call it before the first plot is made.
var SetPlotDefaults = sync.OnceFunc(func() {
	plot.DefaultFont = Regular.Plot(0)
	plotter.DefaultFont = Regular.Plot(0)
	plot.DefaultTextHandler = Handler()
})

// Width is the width of text in a face as every output here sets it: kerned
// by the rule of Kern. The plot's own measure brings digits closer too.
func Width(f font.Face, text string) vg.Length {
	var buf sfnt.Buffer
	upem := fixed.Int26_6(f.Face.UnitsPerEm())
	var w fixed.Int26_6
	var before sfnt.GlyphIndex
	prev := rune(-1)
	for _, r := range text {
		// An error here means that the font lacks the character or the pair
		// has no entry: the first is set as glyph 0, the second is not kerned.
		g, err := f.Face.GlyphIndex(&buf, r)
		if err != nil {
			g = 0
		}
		if prev >= 0 && kerned(prev, r) {
			if k, err := f.Face.Kern(&buf, before, g, upem, xfont.HintingNone); err == nil {
				w += k
			}
		}
		if a, err := f.Face.GlyphAdvance(&buf, g, upem, xfont.HintingNone); err == nil {
			w += a
		}
		before, prev = g, r
	}
	return f.Font.Size * vg.Length(float64(w)/float64(upem))
}
