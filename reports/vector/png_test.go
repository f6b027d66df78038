package vector

import (
	"bytes"
	"image/png"
	"testing"

	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"

	"plybook/reports/internal/specimen"
)

// TestPNGKeepsEveryPoint reads the file with the standard library's decoder
// and holds it to what the canvas shows.
func TestPNGKeepsEveryPoint(t *testing.T) {
	f := specimen.Bars("bars")
	var b bytes.Buffer
	if err := PNG(&b, f, 110); err != nil {
		t.Fatal(err)
	}
	got, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	c := vgimg.NewWith(vgimg.UseWH(f.Width, f.Height), vgimg.UseDPI(110))
	f.Draw(draw.New(c))
	want := c.Image()
	if got.Bounds() != want.Bounds() {
		t.Fatalf("%v in the file, %v on the canvas", got.Bounds(), want.Bounds())
	}
	inked := 0
	for y := range want.Bounds().Dy() {
		for x := range want.Bounds().Dx() {
			r, g, bl, a := want.At(x, y).RGBA()
			r2, g2, b2, a2 := got.At(x, y).RGBA()
			if r != r2 || g != g2 || bl != b2 || a != a2 {
				t.Fatalf("the point at %d, %d is %v in the file, %v on the canvas", x, y, got.At(x, y), want.At(x, y))
			}
			if r != 0xffff || g != 0xffff || bl != 0xffff {
				inked++
			}
		}
	}
	if inked < 1000 {
		t.Errorf("only %d points are not white", inked)
	}
}
