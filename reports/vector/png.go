package vector

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"io"
	"math"

	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"

	"plybook/reports/figure"
)

// The resolutions that PNG takes, in dots per inch.
const (
	MinDPI = 36
	MaxDPI = 1200
)

// maxPixels keeps one picture within a few hundred megabytes.
const maxPixels = 120e6

// PNG writes a figure on white at a resolution in dots per inch, which the
// file states, so that it is placed at its true size.
func PNG(w io.Writer, f *figure.Figure, dpi int) error {
	if err := Check(f); err != nil {
		return fmt.Errorf("writing a PNG: %w", err)
	}
	if dpi < MinDPI || dpi > MaxDPI {
		return fmt.Errorf("writing figure %q as PNG: %d dots per inch is not between %d and %d", f.ID, dpi, MinDPI, MaxDPI)
	}
	if n := float64(f.Width/vg.Inch) * float64(f.Height/vg.Inch) * float64(dpi) * float64(dpi); n > maxPixels {
		return fmt.Errorf("writing figure %q as PNG: %.0f million points are too many at %d dots per inch", f.ID, n/1e6, dpi)
	}
	c := vgimg.NewWith(vgimg.UseWH(f.Width, f.Height), vgimg.UseDPI(dpi))
	f.Draw(draw.New(c))
	img, ok := c.Image().(*image.RGBA)
	if !ok {
		return fmt.Errorf("writing figure %q as PNG: its canvas keeps points in another way than was laid out for", f.ID)
	}
	file, err := encode(img, dpi)
	if err != nil {
		return fmt.Errorf("writing figure %q as PNG: %w", f.ID, err)
	}
	if _, err := w.Write(file); err != nil {
		return fmt.Errorf("writing figure %q as PNG: %w", f.ID, err)
	}
	return nil
}

// encode makes the file of an opaque picture (ISO/IEC 15948). Its rows go to
// the compressor as they are: of drawings, which are mostly ground, that
// makes smaller files than the filters meant for photographs, in a third of
// the time.
func encode(img *image.RGBA, dpi int) ([]byte, error) {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	var data bytes.Buffer
	z, err := zlib.NewWriterLevel(&data, zlib.BestSpeed)
	if err != nil {
		return nil, err
	}
	row := make([]byte, 1+3*w) // the first byte says that no filter is used
	for y := range h {
		from := img.Pix[y*img.Stride : y*img.Stride+4*w]
		for x := range w {
			copy(row[1+3*x:4+3*x], from[4*x:4*x+3])
		}
		if _, err := z.Write(row); err != nil {
			return nil, err
		}
	}
	if err := z.Close(); err != nil {
		return nil, err
	}
	head := binary.BigEndian.AppendUint32(nil, uint32(w))
	head = binary.BigEndian.AppendUint32(head, uint32(h))
	head = append(head, 8, 2, 0, 0, 0) // eight bits each of red, green and blue
	perMetre := uint32(math.Round(float64(dpi) / 0.0254))
	size := binary.BigEndian.AppendUint32(nil, perMetre)
	size = binary.BigEndian.AppendUint32(size, perMetre)
	size = append(size, 1)

	out := make([]byte, 0, data.Len()+128)
	out = append(out, "\x89PNG\r\n\x1a\n"...)
	out = chunk(out, "IHDR", head)
	out = chunk(out, "pHYs", size)
	out = chunk(out, "IDAT", data.Bytes())
	return chunk(out, "IEND", nil), nil
}

// chunk adds one part of the file: its length, name, content and checksum.
func chunk(out []byte, name string, content []byte) []byte {
	out = binary.BigEndian.AppendUint32(out, uint32(len(content)))
	at := len(out)
	out = append(append(out, name...), content...)
	return binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(out[at:]))
}
