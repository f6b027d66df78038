package figure

import (
	"image/color"
	"math"
	"testing"

	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/recorder"
)

// relative is the relative luminance of a colour, contrast that of two (WCAG
// 2.2, definitions of relative luminance and contrast ratio).
func relative(c color.NRGBA) float64 {
	part := func(v uint8) float64 {
		x := float64(v) / 255
		if x <= 0.04045 {
			return x / 12.92
		}
		return math.Pow((x+0.055)/1.055, 2.4)
	}
	return 0.2126*part(c.R) + 0.7152*part(c.G) + 0.0722*part(c.B)
}

func contrast(a, b color.NRGBA) float64 {
	x, y := relative(a), relative(b)
	return (max(x, y) + 0.05) / (min(x, y) + 0.05)
}

// Black on white is 21:1, and #777 on white 4.48:1, by the same definitions.
func TestContrastIsMeasuredAsDefined(t *testing.T) {
	for _, c := range []struct {
		a    color.NRGBA
		want float64
	}{{black, 21}, {color.NRGBA{R: 0x77, G: 0x77, B: 0x77}, 4.48}} {
		if got := contrast(c.a, white); math.Abs(got-c.want) > 0.005 {
			t.Errorf("%v on white: %g, want %g", c.a, got, c.want)
		}
	}
}

// Colours of data and axes are told from the ground, text is read on it, light
// and dark (WCAG 2.2, 1.4.3 and 1.4.11).
func TestColoursStandOutOnBothGrounds(t *testing.T) {
	check := func(name string, c color.NRGBA, least float64) {
		t.Helper()
		if got := contrast(c, white); got < least {
			t.Errorf("%s on white: %.2f:1, want %g:1", name, got, least)
		}
		if got := contrast(Dark(c), DarkGround); got < least {
			t.Errorf("%s on the dark ground: %.2f:1, want %g:1", name, got, least)
		}
	}
	for i, c := range series {
		check("series "+string(rune('1'+i)), c, 3)
	}
	check("axis", axis, 3)
	check("ink", ink, 7)
	check("quiet", quiet, 7)
	// Ink on what stands for parts of a whole, from none to all.
	for share := 0.0; share <= 1; share += 0.1 {
		tile := shade(share)
		if got := contrast(ink, tile); got < 4.5 {
			t.Errorf("ink on a share of %g: %.2f:1", share, got)
		}
		if got := contrast(Dark(ink), Dark(tile)); got < 4.5 {
			t.Errorf("ink on a dark share of %g: %.2f:1", share, got)
		}
	}
}

func TestDark(t *testing.T) {
	if Dark(white) != DarkGround {
		t.Error("white does not become the ground")
	}
	if got, want := Dark(faint(blue, 0.5)), Dark(blue); got.A != 128 || got.R != want.R || got.G != want.G || got.B != want.B {
		t.Errorf("half of blue: %v", got)
	}
	// What is deeper on white is brighter on the dark ground.
	last := relative(DarkGround)
	for _, amount := range []float64{0.1, 0.3, 0.5, 0.7, 0.9, 1} {
		got := relative(Dark(tint(blue, amount)))
		if got <= last {
			t.Errorf("tint %g is no brighter than the one before", amount)
		}
		last = got
	}
	// Grey of a tint of black lies between the ground and light.
	if got := contrast(Dark(tint(ink, 0.45)), DarkGround); got < 1.5 || got > 6 {
		t.Errorf("a middle grey: %.2f:1", got)
	}
}

// Every colour that figures use is one of the palette or a tint of one, so
// that Dark is right about it.
func TestFiguresKeepToThePalette(t *testing.T) {
	seen := map[color.NRGBA]string{}
	for name, f := range all() {
		var r recorder.Canvas
		f.Draw(draw.NewCanvas(&r, f.Width, f.Height))
		for _, a := range r.Actions {
			if set, ok := a.(*recorder.SetColor); ok && set.Color != nil {
				c := color.NRGBAModel.Convert(set.Color).(color.NRGBA)
				c.A = 0xff
				seen[c] = name
			}
		}
	}
	if len(seen) < 15 {
		t.Fatalf("only %d colours were looked at", len(seen))
	}
	for c, name := range seen {
		if _, off := darkened(c); off > 2 {
			t.Errorf("%v in %s is %.1f from every colour of the palette", c, name, off)
		}
	}
}
