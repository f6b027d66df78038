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

	inside bool // the next row of the table belongs to the same group

	// float is the figure or table, counted from 1, that the box is a part
	// of, if what follows may be set before it where it does not fit on the
	// page. kind tells figures from tables: each kind stays in order.
	float int
	kind  floatKind

	// head is drawn above the box where it starts a page: the repeated head
	// of a table. foot closes a page that ends with the box, below it.
	head *box
	foot func(p *pen, x, y float64)

	draw    func(p *pen, x, y float64) // x, y: upper left corner
	anchors []string                   // link targets; empty ones are none
	heading *document.Entry            // goes into the outline
	section bool                       // a heading: nothing is moved past it
	chapter string                     // running head from here on
}

// floatKind is what may be moved behind the text that follows it.
type floatKind int

const (
	figures floatKind = iota
	tables
)

// placed is a box on its page.
type placed struct {
	box
	y float64
}

// page is a page of boxes, and the chapter that it ends in.
type page struct {
	boxes   []placed
	chapter string
	used    float64 // height that the boxes take up
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
