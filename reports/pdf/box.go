package pdf

import "plybook/reports/document"

// box is the smallest part of a page: a line of text, a row of a table, a
// figure with its caption. Boxes are made first, then dealt out to pages,
// then drawn, so that page numbers are known when the contents are drawn.
type box struct {
	h    float64
	gap  float64 // room above, dropped at the top of a page
	keep bool    // the next box belongs on the same page
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
	for i := 0; i < len(boxes); {
		j := i
		for j+1 < len(boxes) && boxes[j].keep {
			j++
		}
		group := boxes[i : j+1]
		i = j + 1
		if group[0].turn && y > 0 {
			next()
		}
		tall := 0.0
		for k, b := range group {
			if k > 0 {
				tall += b.gap
			}
			tall += b.h
		}
		fresh := tall
		if h := group[0].head; h != nil {
			fresh += h.h
		}
		switch {
		case y+group[0].gap+tall <= height+0.01 && y > 0, y == 0 && fresh <= height+0.01:
		case fresh <= height+0.01:
			next()
		default:
			for _, b := range group {
				if y > 0 && y+b.gap+b.h > height+0.01 {
					next()
				}
				put(b)
			}
			continue
		}
		for _, b := range group {
			put(b)
		}
	}
	return append(pages, cur)
}

// keepAll glues boxes together if all of them fit on a page.
func keepAll(boxes []box, height float64) {
	tall := 0.0
	for k, b := range boxes {
		if b.turn {
			return
		}
		if k > 0 {
			tall += b.gap
		}
		tall += b.h
	}
	if tall > height {
		return
	}
	for k := range len(boxes) - 1 {
		boxes[k].keep = true
	}
}
