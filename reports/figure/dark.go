package figure

import (
	"image/color"
	"math"
)

// DarkGround is the ground that the dark colours are chosen for.
var DarkGround = color.NRGBA{R: 0x14, G: 0x19, B: 0x1c, A: 0xff}

// pair is a colour on white and the one that stands for it on the dark ground.
type pair struct{ light, dark color.NRGBA }

// quietPairs stand for each other as they are.
var quietPairs = []pair{
	{white, DarkGround},
	{ink, color.NRGBA{R: 0xe8, G: 0xec, B: 0xee, A: 0xff}},
	{quiet, color.NRGBA{R: 0xb0, G: 0xb9, B: 0xbe, A: 0xff}},
	{axis, color.NRGBA{R: 0x8b, G: 0x95, B: 0x9b, A: 0xff}},
	{grid, color.NRGBA{R: 0x2b, G: 0x33, B: 0x38, A: 0xff}},
	{wash, color.NRGBA{R: 0x1d, G: 0x24, B: 0x28, A: 0xff}},
	{skinTone, color.NRGBA{R: 0x2c, G: 0x2a, B: 0x28, A: 0xff}},
	{boneTone, color.NRGBA{R: 0x1a, G: 0x1e, B: 0x20, A: 0xff}},
	{limbLine, color.NRGBA{R: 0x8a, G: 0x83, B: 0x7c, A: 0xff}},
}

// dataPairs stand for each other, and so do their mixtures with the ground.
// The dark ones keep the hue, by which readers who do not tell red from green
// tell them apart, and are lighter.
var dataPairs = []pair{
	{blue, color.NRGBA{R: 0x4f, G: 0x9a, B: 0xd3, A: 0xff}},
	{vermilion, color.NRGBA{R: 0xf0, G: 0x80, B: 0x3c, A: 0xff}},
	{black, color.NRGBA{R: 0xf2, G: 0xf4, B: 0xf5, A: 0xff}},
	{green, color.NRGBA{R: 0x2f, G: 0xc5, B: 0x98, A: 0xff}},
	{purple, color.NRGBA{R: 0xe0, G: 0xa0, B: 0xc6, A: 0xff}},
	{sky, color.NRGBA{R: 0x9f, G: 0xd8, B: 0xf7, A: 0xff}},
	{ochre, color.NRGBA{R: 0xf4, G: 0xc0, B: 0x4a, A: 0xff}},
	{ink, color.NRGBA{R: 0xe8, G: 0xec, B: 0xee, A: 0xff}},
}

// Dark is the colour that stands for one of a figure's where the ground is
// DarkGround: ink becomes light, white becomes the ground, a tint of a colour
// of data the same share of its dark colour on the ground. Opacity is kept.
func Dark(c color.NRGBA) color.NRGBA {
	dark, _ := darkened(c)
	dark.A = c.A
	return dark
}

// darkened is the dark colour and how far the colour given lies from those it
// is made from, in steps of 255; more than one or two: it is no colour of the
// palette.
func darkened(c color.NRGBA) (color.NRGBA, float64) {
	for _, p := range quietPairs {
		if p.light.R == c.R && p.light.G == c.G && p.light.B == c.B {
			return p.dark, 0
		}
	}
	parts := func(c color.NRGBA) [3]float64 { return [3]float64{float64(c.R), float64(c.G), float64(c.B)} }
	at := parts(c)
	best, least := DarkGround, math.Inf(1)
	for _, p := range dataPairs {
		// The nearest mixture of white and the colour.
		base := parts(p.light)
		var along, length float64
		for i := range at {
			along += (255 - at[i]) * (255 - base[i])
			length += (255 - base[i]) * (255 - base[i])
		}
		amount := min(max(along/length, 0), 1)
		var off float64
		for i := range at {
			d := 255 - amount*(255-base[i]) - at[i]
			off += d * d
		}
		if off = math.Sqrt(off); off < least {
			least = off
			ground, dark := parts(DarkGround), parts(p.dark)
			var mix [3]uint8
			for i := range mix {
				mix[i] = uint8(ground[i] + amount*(dark[i]-ground[i]) + 0.5)
			}
			best = color.NRGBA{R: mix[0], G: mix[1], B: mix[2], A: 0xff}
		}
	}
	return best, least
}
