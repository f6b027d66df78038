package pdf

import (
	"strconv"
	"strings"

	"plybook/reports/figure"
	"plybook/reports/structure"
)

// headRoles are the roles of headings by level; the title of the report
// stands above them.
var headRoles = [3]structure.Role{structure.H2, structure.H3, structure.H4}

// tags say what the marks on a page are. All that is drawn stands either in
// marked content of an element or in an artifact, which a screen reader
// passes over: rules, panels, running heads, heads of tables that come again.
type tags struct {
	tree  structure.Tree
	page  int
	in    *structure.Element // what text belongs to; nil: an artifact
	again bool               // what is drawn was drawn before

	inside   bool               // a sequence of marked content is open
	current  *structure.Element // its owner; nil: an artifact
	inFigure bool               // it is not closed before the figure is done

	line lineLink // what the last line ended in
}

// lineLink is a link that may go on in the next line.
type lineLink struct {
	to          string
	within, own *structure.Element
}

// tagLink has what is drawn, until the function that it returns is called,
// stand in a link within what text belongs to. A link that was broken at the
// end of a line goes on. What is drawn again, or belongs nowhere, gets none.
func (p *pen) tagLink(to string, first bool) (e *structure.Element, done func()) {
	t := &p.tags
	was := t.in
	if t.page == 0 || t.again || was == nil || was.Role == structure.Link {
		return was, func() {}
	}
	if first && t.line.own != nil && t.line.to == to && t.line.within == was {
		e = t.line.own
	} else {
		e = was.Add(structure.Link)
	}
	t.in = e
	return e, func() { t.in = was }
}

// clickable tells the tree of a link annotation just made.
func (p *pen) clickable(e *structure.Element, words string) {
	t := &p.tags
	if t.page == 0 {
		return
	}
	if t.again {
		e = nil
	}
	t.tree.Place(e, t.page, words)
}

// tagText opens what text belongs in, unless it is open.
func (p *pen) tagText() {
	if p.tags.again {
		p.tag(nil)
		return
	}
	p.tag(p.tags.in)
}

// tagPaint opens an artifact: rules and panels carry no meaning of their own.
func (p *pen) tagPaint() { p.tag(nil) }

// tagFigure opens a figure, up to endTag.
func (p *pen) tagFigure() {
	if p.tags.page == 0 {
		return // a figure by itself has no structure
	}
	p.tagText()
	p.tags.inFigure = true
}

func (p *pen) tag(e *structure.Element) {
	t := &p.tags
	if t.page == 0 || t.inFigure || t.inside && t.current == e {
		return
	}
	p.endTag()
	if e == nil {
		p.raw("/Artifact BMC")
	} else {
		p.raw("/"+string(e.Role), "<</MCID", strconv.Itoa(t.tree.Content(e, t.page))+">>", "BDC")
	}
	t.inside, t.current = true, e
}

// endTag closes what is open.
func (p *pen) endTag() {
	if p.tags.inside {
		p.raw("EMC")
	}
	p.tags.inside, p.tags.inFigure = false, false
}

// element starts a part of the document.
func (m *maker) element(role structure.Role) *structure.Element {
	return m.structure.Add(role)
}

// rowElements are the cells of a row, one for each column that is shown. The
// first cell heads its row unless it is empty; a group's one cell heads all.
func rowElements(body *structure.Element, row []string, l layout, group bool, columns int) []*structure.Element {
	tr := body.Add(structure.Row)
	out := make([]*structure.Element, len(l.index))
	for i, c := range l.index {
		role := structure.Cell
		if c == 0 && len(row) > 0 && !blank(row[0]) {
			role = structure.HeadCell
		}
		out[i] = tr.Add(role)
		if role == structure.HeadCell {
			out[i].Scope = structure.OfRow
		}
		if group {
			out[i].Columns = columns
		}
	}
	return out
}

// alternative is what a figure shows, in words.
func alternative(f *figure.Figure) string {
	return strings.Join(strings.Fields(strings.Join([]string{f.Title, f.Description, f.Long}, " ")), " ")
}
