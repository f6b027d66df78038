package pdf

import (
	"errors"
	"fmt"
	"time"

	"plybook/reports/document"
)

// PageUse is how a printed page is used.
type PageUse struct {
	Full    float64 // part of the height of the text area that is taken up
	Chapter bool    // the next page starts with a chapter
	Parted  int     // rows of a table that stand alone at its foot, the rest being on the next page; 0: none is parted
	Blocks  []int   // what is on it, from the top: blocks of the document in the order of document.Walk, from 0
	Head    string  // running head, as far as it names chapters
}

// Layout says how full the pages of a document are when it is printed. It
// writes nothing.
func Layout(doc *document.Document, o Options) ([]PageUse, error) {
	if doc == nil {
		return nil, errors.New("laying out a report: there is no document")
	}
	if o.Paper != A4 && o.Paper != Letter {
		return nil, fmt.Errorf("laying out a report: unknown paper %d", o.Paper)
	}
	pw, ph := o.Paper.size()
	r := &sheet{doc: doc, p: newPen(newFile(pw, ph, time.Time{}), ph), left: (pw - fullWidth) / 2, width: pw, height: ph}
	if err := r.layOut(); err != nil {
		return nil, fmt.Errorf("laying out a report: %w", err)
	}
	out := make([]PageUse, len(r.pages))
	for n, pg := range r.pages {
		out[n].Full = pg.used / r.m.height
		out[n].Head = r.runningHead(pg)
		for _, b := range pg.boxes {
			if k := len(out[n].Blocks); b.block > 0 && (k == 0 || out[n].Blocks[k-1] != b.block-1) {
				out[n].Blocks = append(out[n].Blocks, b.block-1)
			}
		}
		if n+1 < len(r.pages) {
			if next := r.pages[n+1].boxes; len(next) > 0 {
				out[n].Chapter = next[0].chapter != ""
				out[n].Parted = parted(pg.boxes, next)
			}
		}
	}
	return out, nil
}

// parted is how many rows of a table stand at the end of a page where the
// table goes on on the next.
func parted(page, next []placed) int {
	if len(next) < 2 || next[1].head == nil { // a repeated head comes first
		return 0
	}
	n := 0
	for k := len(page) - 1; k >= 0; k-- {
		if page[k].float != next[1].float {
			if page[k].h == 0 { // the rule that closes the page
				continue
			}
			break
		}
		if page[k].head != nil {
			n++
		}
	}
	return n
}
