// Package figure draws the report's figures in one visual language of our
// own, on gonum/plot canvases: quiet grid, direct labels, line style or
// marker besides colour, text measured before it is placed.
package figure

import (
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
)

// Figure is a finished drawing that can be put on any canvas. Drawing it
// twice gives the same marks. Title, Description and Long are made from the
// numbers: the description is the alternative text, Long the detail for
// those who cannot see it. Caption is what a printed caption adds to the
// title: the stretch of time drawn.
type Figure struct {
	ID            string
	Title         string
	Caption       string
	Empty         bool // nothing could be drawn; the description says why
	Told          bool // every number drawn is written on it, so that a table adds little
	Description   string
	Long          string
	Values        []Value   // what the drawing shows, by place
	ValueHeads    [3]string // of a table of them: series, place, value
	Width, Height vg.Length
	Draw          func(draw.Canvas)
	// Small draws the same anew at HalfWidth, its type at its own size, lower
	// and without what a page in short says beside it; nil for a figure that
	// cannot be read so narrow.
	Small func() *Figure
}

// Widths of a figure in the printed page.
const (
	FullWidth vg.Length = 170 * vg.Millimeter
	HalfWidth vg.Length = 82 * vg.Millimeter
)
