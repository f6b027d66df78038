package figure

import (
	"image/color"

	"gonum.org/v1/plot/vg"
)

// The quiet colours. Text on white keeps a contrast above 7:1.
var (
	ink      = color.NRGBA{R: 0x22, G: 0x22, B: 0x22, A: 0xff}
	quiet    = color.NRGBA{R: 0x55, G: 0x55, B: 0x55, A: 0xff}
	axis     = color.NRGBA{R: 0x88, G: 0x88, B: 0x88, A: 0xff}
	grid     = color.NRGBA{R: 0xe6, G: 0xe6, B: 0xe6, A: 0xff}
	wash     = color.NRGBA{R: 0xf3, G: 0xf3, B: 0xf3, A: 0xff}
	skinTone = color.NRGBA{R: 0xf3, G: 0xed, B: 0xe5, A: 0xff} // of a drawn limb
	boneTone = color.NRGBA{R: 0xfe, G: 0xfd, B: 0xfb, A: 0xff}
	limbLine = color.NRGBA{R: 0xa8, G: 0xa0, B: 0x98, A: 0xff} // what lies beneath its skin
	white    = color.NRGBA{R: 0xff, G: 0xff, B: 0xff, A: 0xff}
)

// The colours of data: those of Okabe and Ito that keep apart for readers
// who do not tell red from green, without the yellow, which is lost on
// white; sky and ochre are theirs made darker, so that each has a contrast of
// 3:1 with white (WCAG 2.2, 1.4.11). The order keeps neighbours apart in grey
// too. What stands for them on a dark ground is in dark.go.
var (
	blue      = color.NRGBA{R: 0x00, G: 0x72, B: 0xb2, A: 0xff}
	vermilion = color.NRGBA{R: 0xd5, G: 0x5e, B: 0x00, A: 0xff}
	green     = color.NRGBA{R: 0x00, G: 0x9e, B: 0x73, A: 0xff}
	purple    = color.NRGBA{R: 0xcc, G: 0x79, B: 0xa7, A: 0xff}
	black     = color.NRGBA{A: 0xff}
	sky       = color.NRGBA{R: 0x2f, G: 0x96, B: 0xcf, A: 0xff}
	ochre     = color.NRGBA{R: 0x9a, G: 0x74, B: 0x00, A: 0xff}
)

var series = []color.NRGBA{blue, vermilion, black, green, purple, sky, ochre}

// dashes go with the colours, so that no series depends on colour alone.
// Their counts (7 and 6) share no factor: the pair repeats after 42 series.
var dashes = [][]vg.Length{
	nil,
	{5, 2},
	{1.4, 1.6},
	{7, 2, 1.4, 2},
	{2.6, 1.6},
	{9, 2, 1.4, 1.6, 1.4, 2},
}

func seriesColour(i int) color.NRGBA { return series[i%len(series)] }

func seriesDash(i int) []vg.Length { return dashes[i%len(dashes)] }

// faint is a colour let through to the given opacity.
func faint(c color.NRGBA, opacity float64) color.NRGBA {
	c.A = uint8(opacity*255 + 0.5)
	return c
}

// tint mixes a colour with white; amount 1 is the colour itself.
func tint(c color.NRGBA, amount float64) color.NRGBA {
	mix := func(v uint8) uint8 { return uint8(255 - (255-float64(v))*amount + 0.5) }
	return color.NRGBA{R: mix(c.R), G: mix(c.G), B: mix(c.B), A: 0xff}
}

// shade is the tint that stands for a part of a whole, from 0 to 1. It goes
// only so far that ink is read on it, on white and on a dark ground.
func shade(share float64) color.NRGBA { return tint(blue, 0.08+0.56*share) }
