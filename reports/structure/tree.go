// Package structure gives a printed page its meaning: a tree of headings,
// paragraphs, tables and figures, which a screen reader follows instead of
// the marks on the paper. The tree is what ISO 32000-1:2008 calls the logical
// structure (14.7) with the standard structure types of 14.8.4.
//
// The writer of the pages marks what it draws with the numbers that Content
// hands out, and Write puts the tree into the finished file.
package structure

import "slices"

// Role is a standard structure type.
type Role string

// The structure types in use.
const (
	Document Role = "Document"
	H1       Role = "H1"
	H2       Role = "H2"
	H3       Role = "H3"
	H4       Role = "H4"
	P        Role = "P"
	Division Role = "Div"
	List     Role = "L"
	Item     Role = "LI"
	Label    Role = "Lbl"
	ItemBody Role = "LBody"
	Table    Role = "Table"
	Caption  Role = "Caption"
	Head     Role = "THead"
	Body     Role = "TBody"
	Row      Role = "TR"
	HeadCell Role = "TH"
	Cell     Role = "TD"
	Figure   Role = "Figure"
	Contents Role = "TOC"
	Entry    Role = "TOCI"
	Refers   Role = "Reference"
	Link     Role = "Link"
)

// Scope says what a head cell heads.
type Scope string

// The scopes of a head cell.
const (
	OfColumn Scope = "Column"
	OfRow    Scope = "Row"
)

// Element is a node of the tree.
type Element struct {
	Role    Role
	Alt     string // what a figure shows, in words
	Scope   Scope  // of a head cell
	Columns int    // that a cell spans, if more than one

	kids []kid
	at   int // number of its object, once written
}

// kid is an element; or, where element is nil, marked content of a page or a
// place on it that is clicked.
type kid struct {
	element    *Element
	page, mark int
	place      bool // mark counts the places of the page
}

// Add appends a child. A nil element has no children worth keeping: what is
// added to it is not part of the tree.
func (e *Element) Add(role Role) *Element {
	child := &Element{Role: role}
	if e != nil {
		e.kids = append(e.kids, kid{element: child})
	}
	return child
}

// Tree is the structure of a file. The zero value is an empty tree.
type Tree struct {
	root   Element
	pages  [][]*Element // owner of each mark of each page
	places [][]place    // that are clicked, of each page
}

// place is where a page is clicked to go somewhere.
type place struct {
	owner *Element // nil: none
	words string
	at    int // number of its object, once written
}

// Root is the document.
func (t *Tree) Root() *Element {
	t.root.Role = Document
	return &t.root
}

// Content makes the next thing drawn on a page (counted from 1) a part of an
// element, and returns the number by which the page marks it.
func (t *Tree) Content(e *Element, page int) int {
	for len(t.pages) < page {
		t.pages = append(t.pages, nil)
	}
	n := len(t.pages[page-1])
	t.pages[page-1] = append(t.pages[page-1], e)
	e.kids = append(e.kids, kid{page: page, mark: n})
	return n
}

// Place makes the next place that is clicked on a page (counted from 1) a
// part of an element: where a screen reader goes on from what it has read.
// Words say where to. The writer of the page makes its link annotations in the
// same order. A place of a nil element is no part of the tree.
func (t *Tree) Place(e *Element, page int, words string) {
	for len(t.places) < page {
		t.places = append(t.places, nil)
	}
	n := len(t.places[page-1])
	t.places[page-1] = append(t.places[page-1], place{owner: e, words: words})
	if e != nil {
		e.kids = append(e.kids, kid{page: page, mark: n, place: true})
	}
}

// prune drops elements that hold nothing; a cell of a table stays, since its
// place tells its column.
func (e *Element) prune() bool {
	e.kids = slices.DeleteFunc(e.kids, func(k kid) bool { return k.element != nil && !k.element.prune() })
	return len(e.kids) > 0 || e.Role == Cell || e.Role == HeadCell
}

// Hang makes an element that was built by itself the last child.
func (e *Element) Hang(child *Element) {
	if e == nil {
		return
	}
	e.kids = append(e.kids, kid{element: child})
}
