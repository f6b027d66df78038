package figure

import (
	"image"
	"image/color"
	"image/png"
	"os"
	"path/filepath"
	"testing"

	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
)

// all is every figure of the contact sheet by name: usual and degenerate.
func all() map[string]*Figure {
	return map[string]*Figure{
		"curves":        Curves(sampleCurves()),
		"curves-causes": Curves(sampleCauses()),
		"curves-many":   Curves(manyGroups()),
		"curves-single": Curves(CurvesSpec{Curves: []Curve{{Group: "all", Steps: stepsOf(lives(40, 60, 1, 9), 0)}}, Until: 100, Width: HalfWidth}),
		"curves-empty":  Curves(CurvesSpec{}),
		"curves-point":  Curves(CurvesSpec{Curves: []Curve{{Steps: []Step{{Time: 0, Estimate: 1, Low: 1, High: 1, AtRisk: 1}}}}}),
		"curves-calm":   Curves(CurvesSpec{Direction: Up, Curves: []Curve{{Group: "all", Steps: []Step{{Time: 0, AtRisk: 5}, {Time: 400, AtRisk: 5, Censored: 5}}}}}),
	}
}

// TestContactSheet writes every figure as a picture, in colour and in grey,
// into the folder named by PLYBOOK_SHEET; without it the figures are drawn
// on a small picture each, to see that drawing on pixels does not fail.
func TestContactSheet(t *testing.T) {
	dir := os.Getenv("PLYBOOK_SHEET")
	for name, f := range all() {
		dpi := 40
		if dir != "" {
			dpi = 130
		}
		c := vgimg.NewWith(vgimg.UseWH(f.Width, f.Height), vgimg.UseDPI(dpi), vgimg.UseBackgroundColor(color.White))
		f.Draw(draw.New(c))
		img := c.Image()
		if blank(img) {
			t.Errorf("%s: nothing was drawn", name)
		}
		if dir == "" {
			continue
		}
		grey := image.NewGray(img.Bounds())
		for y := img.Bounds().Min.Y; y < img.Bounds().Max.Y; y++ {
			for x := img.Bounds().Min.X; x < img.Bounds().Max.X; x++ {
				grey.Set(x, y, img.At(x, y))
			}
		}
		for suffix, im := range map[string]image.Image{"": img, "-grey": grey} {
			w, err := os.Create(filepath.Join(dir, name+suffix+".png"))
			if err != nil {
				t.Fatal(err)
			}
			if err := png.Encode(w, im); err != nil {
				t.Fatal(err)
			}
			if err := w.Close(); err != nil {
				t.Fatal(err)
			}
		}
	}
}

func blank(img image.Image) bool {
	b := img.Bounds()
	for y := b.Min.Y; y < b.Max.Y; y++ {
		for x := b.Min.X; x < b.Max.X; x++ {
			if r, g, bl, _ := img.At(x, y).RGBA(); r != 0xffff || g != 0xffff || bl != 0xffff {
				return false
			}
		}
	}
	return true
}
