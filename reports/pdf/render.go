// Package pdf writes a report as a printed document: real text in embedded
// fonts, figures as vectors, contents, bookmarks and running heads. It also
// writes single figures. The same document gives the same bytes.
package pdf

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"codeberg.org/go-pdf/fpdf"

	"plybook/reports/document"
	"plybook/reports/typeface"
)

// Paper is a size of paper.
type Paper int

// The sizes of paper.
const (
	A4 Paper = iota
	Letter
)

func (p Paper) size() (w, h float64) {
	if p == Letter {
		return 612, 792
	}
	return 595.28, 841.89
}

// Options set the printed page. The zero value prints on A4.
type Options struct {
	Paper Paper
}

const (
	mm         = 72 / 25.4
	fullWidth  = 170 * mm
	textWidth  = 136 * mm
	marginTop  = 24 * mm
	marginFoot = 23 * mm
	briefTop   = 19 * mm // of a document in short, which must get by with few pages
	briefFoot  = 17.5 * mm
	headLine   = 14 * mm // baseline of the running head from the top
	footLine   = 12 * mm // baseline of the foot from the bottom
)

// Render prints a document. The date of the document is the date of the
// file; a document without one is dated 1980-01-01, since the clock has no
// part in a report.
//
// The file has a language, a title, bookmarks, text that can be searched and
// copied, and a structure tree: headings, paragraphs, lists, tables with their
// heads, figures with what they show in words, links. No level of ISO 14289 is
// claimed: the HTML report is the accessible form.
func Render(w io.Writer, doc *document.Document, o Options) error {
	if doc == nil {
		return errors.New("printing a report: there is no document")
	}
	if o.Paper != A4 && o.Paper != Letter {
		return fmt.Errorf("printing a report: unknown paper %d", o.Paper)
	}
	date, err := day(doc.Date)
	if err != nil {
		return fmt.Errorf("printing a report: %w", err)
	}
	pw, ph := o.Paper.size()
	out := newFile(pw, ph, date)
	meta(out, doc)
	p := newPen(out, ph)
	r := &sheet{doc: doc, p: p, left: (pw - fullWidth) / 2, width: pw, height: ph}
	if err := r.layOut(); err != nil {
		return fmt.Errorf("printing a report: %w", err)
	}
	r.draw()
	if p.err != nil {
		return fmt.Errorf("printing a report: %w", p.err)
	}
	var b bytes.Buffer
	if err := out.Output(&b); err != nil {
		return fmt.Errorf("printing a report: %w", err)
	}
	tagged, err := p.tags.tree.Write(b.Bytes())
	if err != nil {
		return fmt.Errorf("printing a report: %w", err)
	}
	if _, err := w.Write(tagged); err != nil {
		return fmt.Errorf("printing a report: %w", err)
	}
	return nil
}

// newFile is an empty PDF that holds nothing of the machine or the hour.
func newFile(w, h float64, date time.Time) *fpdf.Fpdf {
	f := fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "pt", Size: fpdf.SizeType{Wd: w, Ht: h}})
	f.SetCatalogSort(true)
	f.SetCreationDate(date)
	f.SetModificationDate(date)
	f.SetCompression(true)
	f.SetAutoPageBreak(false, 0)
	f.SetMargins(0, 0, 0)
	f.SetProducer("plybook", false)
	f.SetCreator("plybook", false)
	return f
}

// day reads the ISO date of a document; empty is a fixed day.
func day(iso string) (time.Time, error) {
	if iso == "" {
		return time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC), nil
	}
	t, err := time.Parse(time.DateOnly, iso)
	if err != nil {
		return time.Time{}, fmt.Errorf("the date %q is not written as 2026-09-30", iso)
	}
	return t, nil
}

func meta(f *fpdf.Fpdf, doc *document.Document) {
	f.SetTitle(basic(doc.Title), true)
	if s := strings.TrimSpace(doc.Author); s != "" {
		f.SetAuthor(basic(s), true)
	}
	subject := doc.Subtitle
	if doc.Mark != "" {
		subject = strings.TrimLeft(subject+" · "+doc.Mark, " ·")
	}
	if subject != "" {
		f.SetSubject(basic(subject), true)
	}
	f.SetLang(language(doc.Language))
}

// language keeps what a language tag may hold.
func language(tag string) string {
	tag = strings.Map(func(r rune) rune {
		if r == '-' || r >= '0' && r <= '9' || r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' {
			return r
		}
		return -1
	}, tag)
	if tag == "" {
		return "en-GB"
	}
	return tag
}

// basic is text that the strings of the file can hold: fpdf writes them in
// two bytes a character.
func basic(s string) string {
	return strings.Map(func(r rune) rune {
		if r > 0xFFFF {
			return '\u25a1'
		}
		if r < ' ' {
			return ' '
		}
		return r
	}, strings.ToValidUTF8(s, "\u25a1"))
}

// sheet is a document on its way to paper.
type sheet struct {
	doc           *document.Document
	p             *pen
	left          float64
	width, height float64
	top           float64 // of the text area
	m             *maker
	pages         []page
	entryPage     []int // page of each entry of the contents
}

func (r *sheet) layOut() error {
	top, foot := marginTop, marginFoot
	if r.doc.Brief {
		top, foot = briefTop, briefFoot
	}
	r.top = top
	measure := float64(textWidth)
	if r.doc.Brief {
		measure = fullWidth // one grid for text, figures and notes
	}
	r.m = &maker{
		p: r.p, full: fullWidth, measure: measure, height: r.height - top - foot, brief: r.doc.Brief, tight: r.doc.Brief && r.doc.Tight,
		numbers: document.Number(r.doc.Blocks), anchors: map[string]bool{}, structure: r.p.tags.tree.Root(),
	}
	// Links must be known before text that points forward is measured.
	document.Walk(r.doc.Blocks, func(b document.Block) {
		for _, id := range document.Targets(b) {
			if _, ok := r.p.links[id]; !ok {
				r.p.links[id] = r.p.pdf.AddLink()
			}
		}
	})
	r.m.pageOf = func(i int) int {
		if i < len(r.entryPage) {
			return r.entryPage[i]
		}
		return 0
	}
	boxes := r.m.cover(r.doc)
	placed := false
	document.Walk(r.doc.Blocks, func(b document.Block) {
		_, ok := b.(document.Contents)
		placed = placed || ok
	})
	if !placed {
		boxes = append(boxes, r.m.contents(contentsMost)...)
	}
	body, err := r.m.blocks(r.doc.Blocks)
	if err != nil {
		return err
	}
	if len(body) > 0 && body[0].gap < 26 && !r.doc.Brief {
		body[0].gap = 26
	}
	opening(body)
	if n := len(boxes); n > 0 && len(r.doc.Blocks) > 0 {
		if _, ok := r.doc.Blocks[0].(document.Note); ok {
			boxes[n-1].part = costFront
		}
	}
	r.pages = paginate(append(boxes, body...), r.m.height)
	for n, pg := range r.pages {
		for _, b := range pg.boxes {
			if b.heading != nil {
				r.entryPage = append(r.entryPage, n+1)
			}
		}
	}
	return nil
}

// openingLines is how many lines a text that opens a report may have that is
// rather not parted.
const openingLines = 24

// opening holds together the text before the first heading, figure or table.
func opening(body []box) {
	n := 0
	for n < len(body) && !body[n].section && body[n].float == 0 && !body[n].turn {
		n++
	}
	if n > openingLines {
		return
	}
	for k := range n - 1 {
		body[k].part = max(body[k].part, costLead)
	}
}

func (r *sheet) draw() {
	outline := 0
	for n, pg := range r.pages {
		r.p.pdf.AddPage()
		r.p.forget()
		r.p.tags.page = n + 1
		r.furniture(n+1, pg)
		for _, b := range pg.boxes {
			y := r.top + b.y
			for _, id := range b.anchors {
				if id != "" {
					r.p.pdf.SetLink(r.p.links[id], max(0, y-6), n+1)
				}
			}
			if b.heading != nil {
				// An outline may not skip a level.
				level := min(b.heading.Level-1, outline)
				outline = level + 1
				r.p.setFont(typeface.Regular, 10) // fpdf writes bookmarks as the font in force
				r.p.pdf.Bookmark(basic(strings.TrimSpace(b.heading.Number+" "+b.heading.Text)), level, max(0, y-6))
			}
			if b.draw != nil {
				b.draw(r.p, r.left, y)
			}
			r.p.tags.in = nil
		}
		r.p.endTag()
	}
}

// furniture is the running head and the foot. Page one has its cover instead
// of a head. The mark stands on every page, since pages get parted.
func (r *sheet) furniture(n int, pg page) {
	st := textStyle{size: headSize, lead: 11, colour: grey}
	right := r.left + fullWidth
	if n > 1 {
		r.p.text(r.left, headLine, typeface.Regular, st.size, st.colour, r.shorten(r.doc.Title, st.size, headWidth))
		chapter := r.runningHead(pg)
		r.p.text(right-r.p.width(typeface.Regular, st.size, chapter), headLine, typeface.Regular, st.size, st.colour, chapter)
		r.p.rule(r.left, headLine+5, fullWidth, 0.35, hair)
	}
	y := r.height - footLine
	r.p.rule(r.left, y-11, fullWidth, 0.35, hair)
	count := fmt.Sprintf("Page %d of %d", n, len(r.pages))
	countW := r.p.width(typeface.Regular, st.size, count)
	// What stands between has one place on all pages.
	widest := max(countW, r.p.width(typeface.Regular, st.size, fmt.Sprintf("Page %[1]d of %[1]d", len(r.pages))))
	r.p.text(right-countW, y, typeface.Regular, st.size, st.colour, count)
	foot := r.shorten(r.doc.Foot, st.size, fullWidth-widest-24)
	footW := r.p.width(typeface.Regular, st.size, r.p.m.Fit(typeface.Regular, foot))
	r.p.text(r.left, y, typeface.Regular, st.size, st.colour, foot)
	if r.doc.Mark == "" {
		return
	}
	mark := r.p.m.Fit(typeface.Bold, r.doc.Mark)
	w := r.p.width(typeface.Bold, st.size, mark)
	at := r.left + (fullWidth-w)/2
	switch {
	case at > r.left+footW+16 && at+w < right-widest-16:
	case r.left+footW+16+w < right-widest-16: // between the two, not centred
		at = r.left + footW + 16 + (right-widest-16-r.left-footW-16-w)/2
	default: // a line of its own
		y += 11
		mark = r.shorten(mark, st.size, fullWidth)
		at = r.left
	}
	r.p.text(at, y, typeface.Bold, st.size, ink, mark)
}

// headWidth is the room of each half of the running head, at headSize.
const (
	headWidth = fullWidth/2 - 8
	headSize  = 8
)

// runningHead names the chapters of a page: the first with the others where
// there is room, else the first and the number of the last.
func (r *sheet) runningHead(pg page) string {
	if len(pg.chapters) == 0 {
		return ""
	}
	fits := func(s string) bool {
		return r.p.width(typeface.Regular, headSize, r.p.m.Fit(typeface.Regular, s)) <= headWidth
	}
	all := strings.Join(pg.chapters, "  ·  ")
	if len(pg.chapters) == 1 || fits(all) {
		return r.shorten(all, headSize, headWidth)
	}
	to, _, numbered := strings.Cut(pg.chapters[len(pg.chapters)-1], "  ")
	if !numbered {
		return r.shorten(pg.chapters[0], headSize, headWidth)
	}
	tail := "  ·  to " + to
	return r.shorten(pg.chapters[0], headSize, headWidth-r.p.width(typeface.Regular, headSize, tail)) + tail
}

// shorten cuts text to a width.
func (r *sheet) shorten(text string, size, width float64) string {
	text = r.p.m.Fit(typeface.Regular, text)
	if r.p.width(typeface.Regular, size, text) <= width {
		return text
	}
	runes := []rune(text)
	for len(runes) > 0 && r.p.width(typeface.Regular, size, string(runes)+"…") > width {
		runes = runes[:len(runes)-1]
	}
	return strings.TrimRight(string(runes), " ") + "…"
}
