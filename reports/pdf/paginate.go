package pdf

import "math"

// What ends a page badly is weighed against what it saves, over the whole
// report, as lines of a paragraph are. The unit of cost is a page.
const (
	costPage     = 1.0
	costWhite    = 60.0 // times the square of the part of the page left white beyond whiteFree
	whiteFree    = 0.06
	whiteChapter = 0.5 // of that before a chapter
	costMove     = 0.9 // a figure or table set behind the text that follows it
	costFront    = 6.0 // a note that opens the report parted from the cover
	costLead     = 2.2 // a figure parted from the text that leads to it
	costLines    = 0.8 // a paragraph parted
	costBlock    = 0.15
	costNote     = 1.8  // a note parted from what it is about
	costSmall    = 1.6  // small print parted from what it is about
	emptyLeast   = 0.25 // a page less full than this ends only where it must
	most         = 2    // figures and tables that may wait for the next page
)

// atom is a chain of boxes that a page is not ended in.
type atom struct {
	boxes   []box
	gap, h  float64
	head    float64 // height of the repeated head, if the atom starts a page
	part    float64 // cost of ending a page behind it
	unit    int     // where the figure or table that starts here ends; 0: none starts
	kind    floatKind
	section bool
	chapter bool
	turn    bool
}

// atoms cuts boxes into chains. A chain longer than a page is cut into its
// boxes.
func atoms(boxes []box, height float64) []atom {
	var out []atom
	var float []int // of each atom
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
			a := atom{boxes: c, gap: c[0].gap, h: tall(c, true) - c[0].gap, part: c[len(c)-1].part, kind: c[0].kind, turn: c[0].turn}
			if c[0].head != nil {
				a.head = c[0].head.h
			}
			id := c[0].float
			for _, b := range c {
				a.section = a.section || b.section
				a.chapter = a.chapter || b.chapter != ""
				if b.float != id {
					id = 0 // glued to something else: it stays there
				}
			}
			out, float = append(out, a), append(float, id)
		}
		i = j + 1
	}
	size := map[int]int{} // boxes of each figure or table
	for _, b := range boxes {
		size[b.float]++
	}
	// A figure or table may move if all of it is free and fits on a page.
	for i := 0; i < len(out); {
		j, n := i+1, len(out[i].boxes)
		for j < len(out) && float[i] != 0 && float[j] == float[i] {
			n += len(out[j].boxes)
			j++
		}
		if float[i] != 0 && n == size[float[i]] && span(out[i:j], 0) <= height {
			out[i].unit = j
		}
		i = j
	}
	return out
}

// span is the height that atoms take below y.
func span(list []atom, y float64) float64 {
	h := 0.0
	for _, a := range list {
		h += a.below(y + h)
	}
	return h
}

// below is the height that an atom takes below y, with its gap or, at the
// top of a page, its repeated head.
func (a atom) below(y float64) float64 {
	if y > 0 {
		return a.gap + a.h
	}
	return a.head + a.h
}

// breakpoint is the start of a page: the next atom, and where the figures
// and tables start that wait for it.
type breakpoint struct {
	next int
	wait [most]int // start plus 1; 0: none
}

func (s breakpoint) waiting() int {
	n := 0
	for _, w := range s.wait {
		if w > 0 {
			n++
		}
	}
	return n
}

// stretch is a run of atoms as they follow one another on a page.
type stretch struct{ from, to int }

type choice struct {
	cost   float64
	onPage []stretch
	then   breakpoint
}

// pager finds the page ends that cost least.
type pager struct {
	atoms  []atom
	height float64
	known  map[breakpoint]choice
}

// paginate deals boxes out to pages of a height. Boxes that keep together
// move as one if they fit on a page; a chain longer than a page is dealt out
// box by box. A figure or table that does not fit waits for the top of the
// next page, while what follows it, up to the next heading, fills this one.
func paginate(boxes []box, height float64) []page {
	p := &pager{atoms: atoms(boxes, height), height: height, known: map[breakpoint]choice{}}
	var pages []page
	chapter := ""
	for s := (breakpoint{}); ; {
		c := p.best(s)
		cur := page{chapter: chapter}
		y := 0.0
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
		for _, r := range c.onPage {
			for k, a := range p.atoms[r.from:r.to] {
				// Rows of a table that goes on below what waited for the page.
				if k == 0 && r.from == s.next && y > 0 && a.head > 0 {
					y += headGap
					cur.boxes = append(cur.boxes, placed{*a.boxes[0].head, y})
					y += a.head
				}
				for _, b := range a.boxes {
					put(b)
				}
			}
		}
		cur.used = y
		done := c.then.next >= len(p.atoms) && c.then.waiting() == 0
		if n := len(cur.boxes); n > 0 && !done {
			if last := cur.boxes[n-1]; last.foot != nil {
				cur.boxes = append(cur.boxes, placed{box{draw: last.foot}, last.y + last.h})
			}
		}
		pages = append(pages, cur)
		if done {
			return pages
		}
		s = c.then
	}
}

// best is the cheapest way to set what is left from a breakpoint on. Page
// ends lie only forward of their start, so the search ends.
func (p *pager) best(s breakpoint) choice {
	if c, ok := p.known[s]; ok {
		return c
	}
	f := filling{pager: p, best: choice{cost: math.Inf(1)}}
	y, now := 0.0, s
	var on []stretch
	// What waits comes first, in order, as much as fits.
	for k := range s.wait {
		from := s.wait[k] - 1
		if from < 0 {
			break
		}
		to := p.atoms[from].unit
		need := span(p.atoms[from:to], y)
		if y > 0 && y+need > p.height+tiny {
			break
		}
		y += need
		on = append(on, stretch{from, to})
		now.wait = [most]int{}
		copy(now.wait[:], s.wait[k+1:])
	}
	f.fill(now, y, 0, on)
	p.known[s] = f.best
	return f.best
}

const tiny = 0.01

// headGap is the room above the repeated head of a table that goes on below
// other things.
const headGap = 12.0

// filling is a page on which the ways to end it are tried.
type filling struct {
	*pager
	best choice
}

// end weighs the page that ends here.
func (f *filling) end(s breakpoint, y, cost float64, on []stretch, must bool) {
	white := max(0, 1-y/f.height)
	switch {
	case len(on) == 0 && len(f.atoms) > 0:
		return // nothing is on it
	case s.next >= len(f.atoms) && s.waiting() == 0:
		white, must = 0, true // the last page is as long as it is
	case s.next < len(f.atoms) && f.atoms[s.next].turn:
		white, must = 0, true
	}
	if !must && 1-white < emptyLeast {
		return
	}
	over := max(0, white-whiteFree)
	over *= over * costWhite
	if s.next < len(f.atoms) && s.waiting() == 0 && f.atoms[s.next].chapter {
		over *= whiteChapter
	}
	cost += costPage + over
	if cost >= f.best.cost {
		return
	}
	if s.next < len(f.atoms) || s.waiting() > 0 {
		cost += f.pager.best(s).cost
	}
	if cost < f.best.cost {
		f.best = choice{cost, append([]stretch(nil), on...), s}
	}
}

// fill sets the atoms from s.next on below y, and tries the page ends on
// the way.
func (f *filling) fill(s breakpoint, y, cost float64, on []stretch) {
	start := s.next
	set := func() []stretch {
		if s.next > start {
			return append(on[:len(on):len(on)], stretch{start, s.next})
		}
		return on
	}
	for {
		if s.next >= len(f.atoms) {
			f.end(s, y, cost, set(), true)
			return
		}
		a := f.atoms[s.next]
		behind := 0.0
		if s.next > 0 && y > 0 {
			behind = f.atoms[s.next-1].part
		}
		need := a.below(y)
		if s.next == start && y > 0 && a.head > 0 {
			need += headGap + a.head
		}
		if a.unit > 0 {
			need = span(f.atoms[s.next:a.unit], y)
		}
		fits := y == 0 || y+need <= f.height+tiny
		stop := y > 0 && (a.turn || a.section && s.waiting() > 0)
		f.end(s, y, cost+behind, set(), stop || !fits)
		if stop {
			return
		}
		if a.unit > 0 {
			f.move(s, y, cost, set())
			if f.waits(s, a.kind) {
				return
			}
			f.open(s, y, cost, set())
		}
		if !fits {
			return
		}
		y += need
		s.next = max(s.next+1, a.unit)
	}
}

// waits says whether one of a kind waits: later ones may not overtake it.
func (f *filling) waits(s breakpoint, kind floatKind) bool {
	for _, w := range s.wait {
		if w > 0 && f.atoms[w-1].kind == kind {
			return true
		}
	}
	return false
}

// move lets the figure or table at s.next wait for the next page.
func (f *filling) move(s breakpoint, y, cost float64, on []stretch) {
	n := s.waiting()
	if y == 0 || n == most {
		return
	}
	from := s.next
	s.wait[n] = from + 1
	s.next = f.atoms[from].unit
	cost += costMove
	if from > 0 {
		cost += f.atoms[from-1].part
	}
	f.fill(s, y, cost, on)
}

// open parts the table at s.next at the foot of the page.
func (f *filling) open(s breakpoint, y, cost float64, on []stretch) {
	if s.waiting() > 0 {
		return
	}
	from, to := s.next, f.atoms[s.next].unit
	for k := from; k < to-1; k++ {
		a := f.atoms[k]
		if y > 0 && y+a.below(y) > f.height+tiny {
			return
		}
		y += a.below(y)
		s.next = k + 1
		f.end(s, y, cost+a.part, append(on[:len(on):len(on)], stretch{from, s.next}), false)
	}
}
