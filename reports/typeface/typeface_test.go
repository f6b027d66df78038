package typeface

import (
	"bytes"
	"math"
	"strings"
	"sync"
	"testing"

	"codeberg.org/go-pdf/fpdf"
	"gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
)

func TestEveryFontParses(t *testing.T) {
	for s := Style(0); s < styles; s++ {
		if err := faces()[s].err; err != nil {
			t.Error(err)
		}
		if !Cache().Has(s.Plot(0)) {
			t.Errorf("%s is not among the fonts of the plots", s)
		}
		if back := OfPlot(s.Plot(9)); back != s {
			t.Errorf("%s comes back from a plot as %s", s, back)
		}
		a, b := s.TTF(), s.TTF()
		if len(a) == 0 || !bytes.Equal(a, b) || &a[0] == &b[0] {
			t.Errorf("%s: TTF is not a copy", s)
		}
	}
}

// The report measures text as the PDF writer does, but for kerning, and as
// the plots do, but for rounding, pairs of digits and pairs with a space.
func TestWidthsAgree(t *testing.T) {
	m := NewMeasurer()
	for s := Style(0); s < styles; s++ {
		doc := fpdf.New("P", "pt", "A4", "")
		family, style, err := s.PDF(doc)
		if err != nil {
			t.Fatal(err)
		}
		doc.SetFont(family, style, 10)
		for _, r := range "aMgÉ≥²−Łλ—0" {
			if want, got := doc.GetStringWidth(string(r)), m.Width(s, string(r), 10); math.Abs(got-want) > 1e-9 {
				t.Errorf("%s: %q is %g wide, the writer has %g", s, r, got, want)
			}
		}
		face := Cache().Lookup(s.Plot(0), 10)
		for _, text := range []string{"TomorrowAVATAR", "Yes,We.To", "1234567890", "fit check"} {
			want, got := face.Width(text).Points(), m.Width(s, text, 10)
			if math.Abs(got-want) > 0.06 {
				t.Errorf("%s: %q is %g wide, in a plot %g", s, text, got, want)
			}
		}
	}
	if w := m.Width(Regular, "11", 10); math.Abs(w-2*m.Width(Regular, "1", 10)) > 1e-9 {
		t.Error("digits are kerned: columns of numbers would not stay in line")
	}
	if m.Width(Regular, "To", 10) >= m.Width(Regular, "T", 10)+m.Width(Regular, "o", 10) {
		t.Error("letters are not kerned")
	}
}

// A plot measures text as the page sets it, so that what is set to the right
// of a column ends with it: digits are not brought closer.
func TestWidthOfPlotsIsThatOfThePage(t *testing.T) {
	m := NewMeasurer()
	for s := Style(0); s < styles; s++ {
		for _, text := range []string{"", "1100", "0.113 to 11.1", "11", "Valve, To AVoid", "A 1 1", "\u2192"} {
			got := float64(Width(Cache().Lookup(s.Plot(0), 8.5), text))
			if want := m.Width(s, text, 8.5); math.Abs(got-want) > 0.02 {
				t.Errorf("%s: %q is %g wide in a plot, %g on the page", s, text, got, want)
			}
		}
		if one, two := Width(Cache().Lookup(s.Plot(0), 9), "1"), Width(Cache().Lookup(s.Plot(0), 9), "11"); math.Abs(float64(two-2*one)) > 1e-9 {
			t.Errorf("%s: two ones are %g wide, one is %g", s, two, one)
		}
	}
}

func TestPieces(t *testing.T) {
	m := NewMeasurer()
	for _, text := range []string{"", "a", "Tomorrow AVATAR To", "plain", "11 11", "Łódź ≥ 5"} {
		joined, end := "", 0.0
		for _, p := range m.Pieces(Regular, text, 10) {
			if p.X < end-2 || p.X > end+1e-9 {
				t.Errorf("%q: piece %q starts at %g, the one before ends at %g", text, p.Text, p.X, end)
			}
			joined += p.Text
			end = p.X + m.Width(Regular, p.Text, 10)
		}
		if joined != text || math.Abs(end-m.Width(Regular, text, 10)) > 1e-9 {
			t.Errorf("%q comes out as %q, %g wide", text, joined, end)
		}
	}
}

func TestFit(t *testing.T) {
	m := NewMeasurer()
	for name, c := range map[string]struct{ in, want string }{
		"plain":            {"5 ply, 0.83 (0.71 to 0.92)", "5 ply, 0.83 (0.71 to 0.92)"},
		"signs":            {"≥ ≤ ² − ± × é Ł Ω µ", "≥ ≤ ² − ± × é Ł Ω µ"},
		"spaces":           {"90\u00a0days\u2009to\u202f120", "90 days to 120"},
		"invisible":        {"a\u200bb\u00adc\ufeff", "abc"},
		"same meaning":     {"✓ ✔ non\u2011breaking Ω", "√ √ non-breaking Ω"},
		"not in the fonts": {"中🙂", Replacement + Replacement},
		"right to left":    {"של", Replacement + Replacement},
		"bad bytes":        {"a\xffb", "a" + Replacement + "b"},
		"control":          {"a\x01b\tc", "a" + Replacement + "b c"},
	} {
		t.Run(name, func(t *testing.T) {
			got := m.Fit(Regular, c.in)
			if got != c.want {
				t.Errorf("got %q, want %q", got, c.want)
			}
			if again := m.Fit(Regular, got); again != got {
				t.Errorf("a second time it became %q", again)
			}
		})
	}
}

func FuzzFit(f *testing.F) {
	f.Add("café 中 \xff\u202e")
	f.Fuzz(func(t *testing.T, s string) {
		m := NewMeasurer()
		for st := Style(0); st < styles; st++ {
			for _, r := range m.Fit(st, s) {
				if !m.Has(st, r) {
					t.Fatalf("%s cannot show %q", st, r)
				}
			}
			if w := m.Width(st, m.Fit(st, s), 10); w < 0 || math.IsNaN(w) {
				t.Fatalf("width %g", w)
			}
		}
	})
}

func TestPlotDefaults(t *testing.T) {
	var wait sync.WaitGroup
	for range 4 {
		wait.Go(SetPlotDefaults)
	}
	wait.Wait()
	p := plot.New()
	for name, f := range map[string]font.Font{"title": p.Title.TextStyle.Font, "axis": p.X.Label.TextStyle.Font, "ticks": p.Y.Tick.Label.Font, "legend": p.Legend.TextStyle.Font} {
		if f.Variant != "Sans" {
			t.Errorf("the %s of a plot is set in %s", name, f.Name())
		}
	}
	if p.TextHandler.Cache() != Cache() {
		t.Error("a plot does not use the embedded fonts")
	}
}

func TestPick(t *testing.T) {
	for want, in := range map[Style][3]bool{Regular: {}, Bold: {true}, Italic: {false, true}, BoldItalic: {true, true}, Mono: {true, false, true}} {
		if got := Pick(in[0], in[1], in[2]); got != want {
			t.Errorf("Pick(%v) is %s, want %s", in, got, want)
		}
		if strings.HasPrefix(want.String(), "Style(") {
			t.Errorf("style %d has no name", want)
		}
	}
}

func BenchmarkWidth(b *testing.B) {
	m := NewMeasurer()
	for b.Loop() {
		m.Width(Regular, "Half of the sockets are remade within 21 months of delivery.", 10)
	}
}
