package pdf

import (
	"fmt"
	"io"

	"plybook/reports/figure"
	"plybook/reports/typeface"
	"plybook/reports/vector"
)

// FigurePDF writes a figure as a page of its own size. The date is that of
// the data, ISO, as in Document.Date.
func FigurePDF(w io.Writer, f *figure.Figure, date string) error {
	if err := vector.Check(f); err != nil {
		return fmt.Errorf("writing a PDF: %w", err)
	}
	when, err := day(date)
	if err != nil {
		return fmt.Errorf("writing figure %q as PDF: %w", f.ID, err)
	}
	out := newFile(f.Width.Points(), f.Height.Points(), when)
	if f.Title != "" {
		out.SetTitle(basic(f.Title), true)
	}
	if f.Description != "" {
		out.SetSubject(basic(f.Description), true)
	}
	p := newPen(out, f.Height.Points())
	out.AddPage()
	p.setFont(typeface.Regular, 8)
	p.drawFigure(f, 0, 0, 1)
	if p.err != nil {
		return fmt.Errorf("writing figure %q as PDF: %w", f.ID, p.err)
	}
	if err := out.Output(w); err != nil {
		return fmt.Errorf("writing figure %q as PDF: %w", f.ID, err)
	}
	return nil
}

// FigurePNG writes a figure on white at a resolution in dots per inch.
func FigurePNG(w io.Writer, f *figure.Figure, dpi int) error {
	return vector.PNG(w, f, dpi)
}

// FigureSVG writes a figure as an SVG file with a title and a description.
func FigureSVG(w io.Writer, f *figure.Figure) error {
	return vector.SVG(w, f, vector.SVGOptions{})
}
