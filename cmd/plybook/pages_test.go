package main

import (
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/png"
	"io/fs"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

const (
	pagesFolder = "../../testdata/pages"
	pageDPI     = "36"
	// alike is the likeness below which a part of a page has changed. Another
	// smoothing of the same letters stays above it, a figure that has moved
	// by two points, or a line that is gone, falls below.
	alike = 0.60
	tile  = 32 // pixels: about 2 cm
)

// The pages of the example's reports are kept, as images and as text, so that
// a change shows what it does to them. Where the change is meant,
//
//	UPDATE=1 go test ./cmd/plybook -run TestReportsLookAsKept
//
// keeps the new ones; they are looked at before they are committed. With
// -artifacts the pages that differ are written out.
func TestReportsLookAsKept(t *testing.T) {
	t.Parallel()
	toText, ok := popplerTool(t, "pdftotext")
	if !ok {
		return
	}
	toImage, ok := popplerTool(t, "pdftoppm")
	if !ok {
		return
	}
	update := os.Getenv("UPDATE") != ""
	lab := exampleLab(t)
	for _, name := range []string{"quality", "research", "annual", "workshop"} {
		out := filepath.Join(t.TempDir(), name)
		plybook(t, lab, "run", name+".md", "--out", out).want(t, statusDone)
		report := filepath.Join(out, "report.pdf")
		text, err := exec.Command(toText, "-layout", "-enc", "UTF-8", report, "-").Output()
		if err != nil {
			t.Fatal(err)
		}
		if err := exec.Command(toImage, "-r", pageDPI, "-gray", "-png", report, filepath.Join(out, "page")).Run(); err != nil {
			t.Fatal(err)
		}
		images, err := filepath.Glob(filepath.Join(out, "page-*.png"))
		if err != nil || len(images) == 0 {
			t.Fatalf("no images of pages (%v)", err)
		}
		slices.Sort(images)
		if update {
			keepPages(t, name, wordsOf(string(text)), images)
			continue
		}
		comparePages(t, name, wordsOf(string(text)), images)
	}
}

// wordsOf is the text of a report, a line a line, without the spacing that
// the tool gives it.
func wordsOf(text string) string {
	var out []string
	for l := range strings.SplitSeq(strings.ReplaceAll(text, "\f", "\n-- page --\n"), "\n") {
		if l = strings.Join(strings.Fields(l), " "); l != "" {
			out = append(out, l)
		}
	}
	return strings.Join(out, "\n") + "\n"
}

func keptImage(name string, page int) string {
	return filepath.Join(pagesFolder, fmt.Sprintf("%s-%02d.png", name, page))
}

func keepPages(t *testing.T, name, text string, images []string) {
	t.Helper()
	old, err := filepath.Glob(filepath.Join(pagesFolder, name+"-[0-9][0-9].png"))
	if err != nil {
		t.Fatal(err)
	}
	for _, o := range old {
		if err := os.Remove(o); err != nil {
			t.Fatal(err)
		}
	}
	if err := os.WriteFile(filepath.Join(pagesFolder, name+".txt"), []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	for i, path := range images {
		if err := writeImage(keptImage(name, i+1), sixteen(readImage(t, path))); err != nil {
			t.Fatal(err)
		}
	}
}

func comparePages(t *testing.T, name, text string, images []string) {
	t.Helper()
	kept, err := os.ReadFile(filepath.Join(pagesFolder, name+".txt"))
	if err != nil {
		t.Fatal(err)
	}
	if string(kept) != text {
		was, is := strings.Split(string(kept), "\n"), strings.Split(text, "\n")
		for i := 0; i < max(len(was), len(is)); i++ {
			if i >= len(was) || i >= len(is) || was[i] != is[i] {
				t.Errorf("%s: the text of the pages has changed, first in line %d of %s.txt:\nwas %q\nis  %q\n%s",
					name, i+1, name, line(was, i), line(is, i), howToKeep)
				break
			}
		}
	}
	for i, path := range images {
		before, err := os.Open(keptImage(name, i+1))
		if errors.Is(err, fs.ErrNotExist) {
			t.Errorf("%s: page %d is new. %s", name, i+1, howToKeep)
			continue
		}
		if err != nil {
			t.Fatal(err)
		}
		was, err := png.Decode(before)
		before.Close()
		if err != nil {
			t.Fatal(err)
		}
		is := sixteen(readImage(t, path))
		if least, at := likeness(grey(was), grey(is)); least < alike {
			t.Errorf("%s: page %d looks other around %v (likeness %.2f). %s", name, i+1, at, least, howToKeep)
			if err := writeImage(filepath.Join(t.ArtifactDir(), fmt.Sprintf("%s-%02d.png", name, i+1)), is); err != nil {
				t.Error(err)
			}
		}
	}
	if _, err := os.Stat(keptImage(name, len(images)+1)); err == nil {
		t.Errorf("%s: there are fewer pages than before: %d. %s", name, len(images), howToKeep)
	}
}

const howToKeep = "If this is meant: UPDATE=1 go test ./cmd/plybook -run TestReportsLookAsKept, and look at the pages."

func line(lines []string, i int) string {
	if i < len(lines) {
		return lines[i]
	}
	return ""
}

func readImage(t *testing.T, path string) image.Image {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	img, err := png.Decode(f)
	if err != nil {
		t.Fatal(err)
	}
	return img
}

func writeImage(path string, img image.Image) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	e := png.Encoder{CompressionLevel: png.BestCompression}
	return errors.Join(e.Encode(f, img), f.Close())
}

// sixteen is an image in sixteen shades of grey: a third of the bytes.
func sixteen(img image.Image) *image.Paletted {
	shades := make(color.Palette, 16)
	for i := range shades {
		shades[i] = color.Gray{Y: uint8(i * 17)}
	}
	out := image.NewPaletted(img.Bounds(), shades)
	for y := img.Bounds().Min.Y; y < img.Bounds().Max.Y; y++ {
		for x := img.Bounds().Min.X; x < img.Bounds().Max.X; x++ {
			v := color.GrayModel.Convert(img.At(x, y)).(color.Gray).Y
			out.SetColorIndex(x, y, uint8((int(v)+8)/17))
		}
	}
	return out
}

// grey is an image as rows of shades from 0 to 255, blurred over 3 pixels
// each way so that the edges of letters do not count.
func grey(img image.Image) [][]float64 {
	b := img.Bounds()
	raw := make([][]float64, b.Dy())
	for y := range raw {
		raw[y] = make([]float64, b.Dx())
		for x := range raw[y] {
			raw[y][x] = float64(color.GrayModel.Convert(img.At(b.Min.X+x, b.Min.Y+y)).(color.Gray).Y)
		}
	}
	out := make([][]float64, len(raw))
	for y := range raw {
		out[y] = make([]float64, len(raw[y]))
		for x := range raw[y] {
			sum, n := 0.0, 0.0
			for v := max(0, y-1); v <= min(len(raw)-1, y+1); v++ {
				for u := max(0, x-1); u <= min(len(raw[y])-1, x+1); u++ {
					sum += raw[v][u]
					n++
				}
			}
			out[y][x] = sum / n
		}
	}
	return out
}

// likeness is the least structural similarity of two pages over their tiles,
// and where it is: Wang, Bovik, Sheikh and Simoncelli (2004), Image quality
// assessment: from error visibility to structural similarity, IEEE
// Transactions on Image Processing 13:600-612, with its constants
// (0.01*255)^2 and (0.03*255)^2 and windows of a tile. Pages of different
// sizes are as unlike as can be.
func likeness(a, b [][]float64) (least float64, at image.Point) {
	if len(a) != len(b) || len(a) > 0 && len(a[0]) != len(b[0]) {
		return -1, image.Point{}
	}
	least = 1
	const c1, c2 = 0.01 * 255 * 0.01 * 255, 0.03 * 255 * 0.03 * 255
	for y := 0; y < len(a); y += tile / 2 {
		for x := 0; x < len(a[0]); x += tile / 2 {
			var n, ma, mb, aa, bb, ab float64
			for v := y; v < min(y+tile, len(a)); v++ {
				for u := x; u < min(x+tile, len(a[0])); u++ {
					n++
					ma += a[v][u]
					mb += b[v][u]
					aa += a[v][u] * a[v][u]
					bb += b[v][u] * b[v][u]
					ab += a[v][u] * b[v][u]
				}
			}
			ma, mb = ma/n, mb/n
			va, vb, cov := math.Max(0, aa/n-ma*ma), math.Max(0, bb/n-mb*mb), ab/n-ma*mb
			s := (2*ma*mb + c1) * (2*cov + c2) / ((ma*ma + mb*mb + c1) * (va + vb + c2))
			if s < least {
				least, at = s, image.Pt(x, y)
			}
		}
	}
	return least, at
}

// A test that compares pages must see a figure that has moved and a line that
// is gone, and must not see another smoothing of the same letters.
func TestLikeness(t *testing.T) {
	page := func(draw func(set func(x, y int, v uint8))) image.Image {
		img := image.NewGray(image.Rect(0, 0, 200, 200))
		for i := range img.Pix {
			img.Pix[i] = 255
		}
		draw(func(x, y int, v uint8) { img.SetGray(x, y, color.Gray{Y: v}) })
		return img
	}
	box := func(at int, edge uint8) func(set func(x, y int, v uint8)) {
		return func(set func(x, y int, v uint8)) {
			for i := range 60 {
				for k := range 3 {
					v := uint8(40)
					if k != 1 {
						v = edge
					}
					set(at+i, at+k, v)
					set(at+k, at+i, v)
				}
			}
		}
	}
	whole := page(box(50, 120))
	for name, c := range map[string]struct {
		other image.Image
		same  bool
	}{
		"the same":           {page(box(50, 120)), true},
		"smoothed otherwise": {page(box(50, 150)), true},
		"moved":              {page(box(52, 120)), false},
		"gone":               {page(func(func(x, y int, v uint8)) {}), false},
		"another size":       {image.NewGray(image.Rect(0, 0, 200, 210)), false},
	} {
		if got, _ := likeness(grey(whole), grey(sixteen(c.other))); (got >= alike) != c.same {
			t.Errorf("%s: likeness %.2f against %.2f", name, got, alike)
		}
	}
}
