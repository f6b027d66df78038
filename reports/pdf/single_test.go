package pdf

import (
	"bytes"
	"image/png"
	"io"
	"strings"
	"testing"

	"plybook/reports/internal/specimen"
)

func TestFigurePDF(t *testing.T) {
	fig := specimen.Survival("curve")
	var a, b bytes.Buffer
	for _, w := range []io.Writer{&a, &b} {
		if err := FigurePDF(w, fig, "2026-09-30"); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(a.Bytes(), b.Bytes()) {
		t.Error("the same figure gave other bytes")
	}
	f := read(t, a.Bytes())
	if len(f.pages) != 1 || !strings.Contains(f.text(0), "Months since delivery (≥ 0)") {
		t.Errorf("%d pages: %q", len(f.pages), f.text(0))
	}
	if got := f.all("/MediaBox [0 0 481.89 260.79]"); len(got) == 0 {
		t.Error("the page has not the size of the figure")
	}
	if err := FigurePDF(io.Discard, fig, "yesterday"); err == nil || !strings.Contains(err.Error(), `"yesterday"`) {
		t.Errorf("error %v", err)
	}
	if err := FigurePDF(io.Discard, nil, ""); err == nil {
		t.Error("no error for no figure")
	}
}

func TestFigurePNG(t *testing.T) {
	var b bytes.Buffer
	if err := FigurePNG(&b, specimen.Bars("bars"), 200); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(bytes.NewReader(b.Bytes()))
	if err != nil {
		t.Fatal(err)
	}
	// 82 by 62 mm at 200 dots per inch.
	if s := img.Bounds().Size(); s.X < 645 || s.X > 647 || s.Y < 487 || s.Y > 489 {
		t.Errorf("size %v", s)
	}
	if _, _, _, a := img.At(0, 0).RGBA(); a != 0xffff {
		t.Error("the ground is not white")
	}
	for _, dpi := range []int{0, 35, 1201} {
		if err := FigurePNG(io.Discard, specimen.Bars("bars"), dpi); err == nil {
			t.Errorf("no error at %d dots per inch", dpi)
		}
	}
}

func TestFigureSVG(t *testing.T) {
	var b bytes.Buffer
	if err := FigureSVG(&b, specimen.Bars("bars")); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(b.String(), `<title id="bars-title">Counts by kind</title>`) {
		t.Error("the file has no title")
	}
}
