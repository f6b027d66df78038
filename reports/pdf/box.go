package pdf

import "plybook/reports/document"

// box is the smallest part of a page: a line of text, a row of a table, a
// figure with its caption. Boxes are made first, then dealt out to pages,
// then drawn, so that page numbers are known when the contents are drawn.
type box struct {
	h    float64
	gap  float64 // room above, dropped at the top of a page
	keep bool    // the next box belongs on the same page
	like bool    // it would better be, but not at the price of a page half empty
	turn bool    // starts a page

	// head is drawn above the box where it starts a page: the repeated head
	// of a table. foot closes a page that ends with the box, below it.
	head *box
	foot func(p *pen, x, y float64)

	draw    func(p *pen, x, y float64) // x, y: upper left corner
	anchors []string                   // link targets; empty ones are none
	heading *document.Entry            // goes into the outline
	chapter string                     // running head from here on
}

// placed is a box on its page.
type placed struct {
	box
	y float64
}

// page is a page of boxes, and the chapter that it ends in.
type page struct {
	boxes   []placed
	chapter string
}

// paginate deals boxes out to pages of a height. Boxes that keep together
// move as one if they fit on a page; a chain longer than a page is dealt out
// box by box.
func paginate(boxes []box, height float64) []page {
	var pages []page
	var cur page
	y, chapter := 0.0, ""
	next := func() {
		if n := len(cur.boxes); n > 0 {
			last := cur.boxes[n-1]
			if last.foot != nil {
				cur.boxes = append(cur.boxes, placed{box{draw: last.foot}, last.y + last.h})
			}
		}
		pages = append(pages, cur)
		cur = page{chapter: chapter}
		y = 0
	}
	put := func(b box) {
		if y > 0 {
			y += b.gap
		} else if b.head != nil {
			cur.boxes = append(cur.boxes, placed{*b.head, y})
			y += b.head.h
		}
		if b.chapter != "" {
			chapter = b.chapter
		}
		cur.boxes = append(cur.boxes, placed{b, y})
		cur.chapter = chapter
		y += b.h
	}
	chain := func(i int, like bool) []box {
		j := i
		for j+1 < len(boxes) && (boxes[j].keep || like && boxes[j].like) {
			j++
		}
		return boxes[i : j+1]
	}
	const tiny = 0.01
	for i := 0; i < len(boxes); {
		if boxes[i].turn && y > 0 {
			next()
		}
		group := chain(i, true)
		if y > 0 && y+tall(group, true) > height+tiny && (height-y > height*roomWasted || tall(group, false) > height+tiny) {
			group = chain(i, false)
		}
		i += len(group)
		fresh := tall(group, false)
		if y > 0 && y+tall(group, true) > height+tiny && fresh <= height+tiny {
			next()
		}
		for _, b := range group {
			// This matters only for a chain longer than a page.
			if y > 0 && y+b.gap+b.h > height+tiny {
				next()
			}
			put(b)
		}
	}
	return append(pages, cur)
}

// roomWasted is the part of a page that may stay empty to keep together what
// would better be together.
const roomWasted = 0.22

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
