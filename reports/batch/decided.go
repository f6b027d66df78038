package batch

import (
	"cmp"
	"slices"

	"plybook/reports/document"
	"plybook/reports/notebook"
	"plybook/reports/pdf"
	"plybook/reports/words"
)

// room is what a report in short has beneath what is to be decided, where the
// page leaves room for it: what became of earlier decisions, and lines to be
// filled in at the meeting.
type room struct{ lines int }

// linesMost and linesLeast are how many lines there are to be filled in, if
// any.
const (
	linesMost  = 5
	linesLeast = 2
)

// onPaper is the report in short for a paper. What became of decisions, and
// lines for new ones, stand on its first page where they take nothing from the
// rest: no page more, no figure less, no smaller type.
func (r *report) onPaper(whole *document.Document, o pdf.Options) (*document.Document, error) {
	made := func(with *room) (doc *document.Document, pages []pdf.PageUse, err error) {
		c := *r
		c.room = with
		if doc, err = c.inPages(whole, o); err != nil {
			return nil, nil, err
		}
		pages, err = pdf.Layout(doc, o)
		return doc, pages, err
	}
	plain, pages, err := made(nil)
	if err != nil {
		return nil, err
	}
	for lines := linesMost; lines >= 0 && len(r.decidedTable(nil)) > 0; lines-- {
		if lines > 0 && lines < linesLeast {
			continue
		}
		doc, more, err := made(&room{lines: lines})
		if err != nil {
			return nil, err
		}
		if len(more) <= len(pages) && drawn(doc) == drawn(plain) && doc.Tight == plain.Tight && whereDecided(doc, more) {
			return doc, nil
		}
	}
	return plain, nil
}

// drawn is how many figures a report in short has.
func drawn(doc *document.Document) int {
	n := 0
	document.Walk(doc.Blocks, func(b document.Block) {
		if r, ok := b.(document.Row); ok {
			for _, c := range r.Cells {
				if c.Figure != nil {
					n++
				}
			}
		}
	})
	return n
}

// Names of the two tables.
const (
	decidedID  = "decided"
	decidingID = "deciding"
)

// whereDecided says whether what was decided, and the lines for more, stand on
// the first page.
func whereDecided(doc *document.Document, pages []pdf.PageUse) bool {
	at, first := 0, true
	document.Walk(doc.Blocks, func(b document.Block) {
		if t, ok := b.(document.Table); ok && (t.ID == decidedID || t.ID == decidingID) {
			first = first && len(pages) > 0 && slices.Contains(pages[0].Blocks, at)
			for _, p := range pages[1:] {
				first = first && !slices.Contains(p.Blocks, at)
			}
		}
		at++
	})
	return first
}

// decidedTable is the decisions in the order of their days, with what their
// charts have shown since and when they are looked at again.
func (r *report) decidedTable(sections map[string]string) []document.Block {
	var all []*notebook.Decision
	for _, d := range r.nb.Decisions() {
		if d.Err == nil {
			all = append(all, d)
		}
	}
	if len(all) == 0 {
		return nil
	}
	slices.SortStableFunc(all, func(a, b *notebook.Decision) int { return cmp.Compare(a.On, b.On) })
	t := document.Table{ID: decidedID, Columns: []document.TableColumn{{Head: "Decided on"}, {Head: "What", Wide: true}, {Head: "Since then", Wide: true}, {Head: "Looked at again"}}}
	for k, d := range all {
		again, since := "no day set", "no chart follows it"
		switch {
		case d.Review == nil:
		case r.due(d) && !d.NewPhase:
			again = "was due on " + words.Date(*d.Review)
		default:
			again = words.Date(*d.Review)
		}
		if s := r.since(d); s != "" {
			since = s
		}
		t.Rows = append(t.Rows, []string{words.Date(d.On), d.What, since, again})
		if at := sections[d.Follows]; at != "" && d.Follows != "" {
			t.Link(k, 2, []document.Span{{Text: at, Link: "#" + d.Follows}, {Text: ": " + since}})
		}
	}
	return []document.Block{document.Heading{Level: 2, Quiet: true, Text: "What was decided, and what became of it", ID: decidedID + "-head"}, t}
}

// deciding is lines to be filled in by hand.
func deciding(lines int) []document.Block {
	if lines == 0 {
		return nil
	}
	t := document.Table{ID: decidingID, ByHand: true, Columns: []document.TableColumn{{Head: "Decided today", Wide: true}, {Head: "By whom"}, {Head: "By when"}}}
	for range lines {
		t.Rows = append(t.Rows, []string{"", "", ""})
	}
	return []document.Block{t}
}
