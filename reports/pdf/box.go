package pdf

import "plybook/reports/document"

// box is the smallest part of a page: a line of text, a row of a table, a
// figure with its caption. Boxes are made first, then dealt out to pages,
// then drawn, so that page numbers are known when the contents are drawn.
type box struct {
	h    float64
	gap  float64 // room above, dropped at the top of a page
	keep bool    // the next box belongs on the same page
	part float64 // what it costs to end a page between this box and the next
	turn bool    // starts a page

	inside bool   // the next row of the table belongs to the same group
	group  string // name of the group that the row goes on with; empty: none

	// block is the block of the document that the box was made of, counted
	// from 1; 0: one of the cover or of the contents. float is the figure or
	// table, counted from 1, that the box is a part of; 0: of none.
	block, float int

	// give is the height that the figure in the box may give up; smaller is
	// the box once it has given up a part of that.
	give    float64
	smaller func(part float64) box

	// head is drawn above the box where it starts a page: the repeated head
	// of a table. foot closes a page that ends with the box, below it.
	head *box
	foot func(p *pen, x, y float64)

	draw    func(p *pen, x, y float64) // x, y: upper left corner
	anchors []string                   // link targets; empty ones are none
	heading *document.Entry            // goes into the outline
	section bool                       // a heading
	chapter string                     // running head from here on
}

// placed is a box on its page.
type placed struct {
	box
	y float64
}

// page is a page of boxes, and the chapters that it is a part of.
type page struct {
	boxes    []placed
	chapters []string
	used     float64 // height that the boxes take up
}

// tall is the height of a chain of boxes, below others or at the top of a
// page, where the first gap goes and the head of a table is repeated.
func tall(group []box, below bool) float64 {
	h := 0.0
	for k, b := range group {
		if k > 0 || below {
			h += b.gap
		}
		h += b.h
	}
	if head := group[0].head; head != nil && !below {
		h += head.h
	}
	return h
}

// keepAll glues boxes together if all of them fit on a page.
func keepAll(boxes []box, height float64) {
	for _, b := range boxes {
		if b.turn {
			return
		}
	}
	if len(boxes) == 0 || tall(boxes, false) > height {
		return
	}
	for k := range len(boxes) - 1 {
		boxes[k].keep = true
	}
}
