package pdf

import "math"

// What ends a page badly is weighed against what it saves, over the whole
// report, as lines of a paragraph are. The unit of cost is a page.
const (
	costPage     = 1.0
	costWhite    = 60.0 // times the square of the part of the page left white beyond whiteFree
	whiteFree    = 0.06
	whiteChapter = 0.5 // of that before a chapter
	costFront    = 6.0 // a note that opens the report parted from the cover
	costLead     = 4.5 // a figure parted from the text that leads to it
	costLines    = 0.8 // a paragraph parted
	costBlock    = 0.15
	costNote     = 5.0  // a note parted from what it is about
	costSmall    = 4.0  // small print parted from what it is about
	costInside   = 1.6  // a note or small print parted inside
	costShrink   = 0.4  // every figure of a page as small as it may be
	emptyLeast   = 0.25 // a page less full than this ends only where it must
)

// atom is a chain of boxes that a page is not ended in.
type atom struct {
	boxes   []box
	gap, h  float64
	head    float64 // height of the repeated head, if the atom starts a page
	give    float64 // height that its figures may give up
	part    float64 // cost of ending a page behind it
	chapter bool
	turn    bool
}

// atoms cuts boxes into chains. A chain longer than a page is cut into its
// boxes.
func atoms(boxes []box, height float64) []atom {
	var out []atom
	for i := 0; i < len(boxes); {
		j := i
		for j+1 < len(boxes) && boxes[j].keep && !boxes[j+1].turn {
			j++
		}
		chains := [][]box{boxes[i : j+1]}
		if tall(boxes[i:j+1], false) > height {
			chains = nil
			for k := i; k <= j; k++ {
				chains = append(chains, boxes[k:k+1])
			}
		}
		for _, c := range chains {
			a := atom{boxes: c, gap: c[0].gap, h: tall(c, true) - c[0].gap, part: c[len(c)-1].part, turn: c[0].turn}
			if c[0].head != nil {
				a.head = c[0].head.h
			}
			for _, b := range c {
				a.give += b.give
				a.chapter = a.chapter || b.chapter != ""
			}
			out = append(out, a)
		}
		i = j + 1
	}
	return out
}

// below is the height that an atom takes below y, with its gap or, at the
// top of a page, its repeated head.
func (a atom) below(y float64) float64 {
	if y > 0 {
		return a.gap + a.h
	}
	return a.head + a.h
}

// choice is how a page that starts with an atom is set: the atom that the
// next one starts with, what this page and those after it cost, and how much
// of what its figures may give up they do.
type choice struct {
	cost   float64
	next   int
	shrink float64
}

// pager finds the page ends that cost least.
type pager struct {
	atoms  []atom
	height float64
	known  []choice // by the atom that the page starts with; next 0: not known
}

// paginate deals boxes out to pages of a height, in their order. Boxes that
// keep together move as one if they fit on a page; a chain longer than a page
// is dealt out box by box. The figures of a page are drawn smaller, all alike,
// where that lets it hold what belongs on it.
func paginate(boxes []box, height float64) []page {
	p := &pager{atoms: atoms(boxes, height), height: height}
	p.known = make([]choice, len(p.atoms))
	// From the end, so that what follows a page is known when it is weighed.
	for s := len(p.atoms) - 1; s >= 0; s-- {
		p.known[s] = p.best(s)
	}
	var pages []page
	chapter := ""
	for s := 0; ; {
		var c choice
		if s < len(p.atoms) {
			c = p.known[s]
		}
		cur := page{}
		if chapter != "" {
			cur.chapters = []string{chapter}
		}
		y := 0.0
		for k := s; k < c.next; k++ {
			for _, b := range p.atoms[k].boxes {
				if y > 0 {
					y += b.gap
				} else if b.head != nil {
					cur.boxes = append(cur.boxes, placed{*b.head, y})
					y += b.head.h
				}
				if b.chapter != "" {
					if y == 0 { // nothing of the one before is on the page
						cur.chapters = nil
					}
					chapter = b.chapter
					cur.chapters = append(cur.chapters, chapter)
				}
				if b.give > 0 && c.shrink > 0 {
					b = b.smaller(c.shrink)
				}
				cur.boxes = append(cur.boxes, placed{b, y})
				y += b.h
			}
		}
		cur.used = y
		done := c.next >= len(p.atoms)
		if n := len(cur.boxes); n > 0 && !done {
			if last := cur.boxes[n-1]; last.foot != nil {
				cur.boxes = append(cur.boxes, placed{box{draw: last.foot}, last.y + last.h})
			}
		}
		pages = append(pages, cur)
		if done {
			return pages
		}
		s = c.next
	}
}

const tiny = 0.01

// best is the cheapest way to set the page that starts with an atom.
func (p *pager) best(s int) choice {
	best := choice{cost: math.Inf(1)}
	y, give := 0.0, 0.0
	for k := s; k < len(p.atoms); k++ {
		y += p.atoms[k].below(y)
		give += p.atoms[k].give
		if k > s && y-give > p.height+tiny {
			break
		}
		must := k+1 == len(p.atoms) || p.atoms[k+1].turn
		if !must {
			next := p.atoms[k+1]
			must = y+next.below(y)-give-next.give > p.height+tiny
		}
		if c := p.end(k, y, give, must); c.cost < best.cost {
			best = c
		}
		if k+1 < len(p.atoms) && p.atoms[k+1].turn {
			break
		}
	}
	return best
}

// end weighs a page that ends behind an atom and is y high before its figures
// give up any height.
func (p *pager) end(last int, y, give float64, must bool) choice {
	c := choice{cost: costPage, next: last + 1}
	if over := y - p.height; over > tiny && give > 0 {
		c.shrink = min(1, over/give)
		c.cost += costShrink * c.shrink
	}
	if c.next == len(p.atoms) {
		return c // the last page is as long as it is
	}
	c.cost += p.known[c.next].cost
	next := p.atoms[c.next]
	if next.turn {
		return c
	}
	white := max(0, 1-y/p.height)
	if !must && 1-white < emptyLeast {
		c.cost = math.Inf(1)
		return c
	}
	over := max(0, white-whiteFree)
	over *= over * costWhite
	if next.chapter {
		over *= whiteChapter
	}
	c.cost += over + p.atoms[last].part
	return c
}
