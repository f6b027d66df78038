// Package document is what a report says before any format: blocks of text,
// tables, figures and notes. The PDF and HTML writers read the same value.
package document

import "plybook/reports/figure"

// Document is a whole report.
type Document struct {
	Title    string
	Subtitle string
	Author   string
	Language string // BCP 47, "en-GB"
	Comma    bool   // decimals follow a comma
	Date     string // ISO date of the data cut; the only date a report bears
	Foot     string // running foot: "Data to 2026-09-30 · plybook 0.1.0"
	Mark     string // "For internal review, not for release" or empty
	Cover    []Pair // short facts under the title
	Brief    bool   // a few pages: no contents, small heads, all type smaller in print
	Tight    bool   // of a brief document: type and figures smaller still
	Blocks   []Block
}

// Pair is a labelled fact.
type Pair struct{ Label, Text string }

// Block is a part of a document: one of the types below.
type Block interface{ block() }

// Heading starts a section. Level 1 is a chapter. ID is unique and is the
// link target; Bookmark false keeps it out of contents and outline.
type Heading struct {
	Level int
	Text  string
	ID    string
	Quiet bool // left out of the contents and the outline
	// Number is the number that it has in another document; empty: it is
	// counted.
	Number string
}

// Span is a run of text in one style. Link, if set, is "#ID" or a URL.
type Span struct {
	Text         string
	Bold, Italic bool
	Code         bool
	Raised       bool // small and above the line: the mark of a footnote
	Link         string
}

// Paragraph is wrapped text. Style is "", "lead" (the reading), "small"
// (footnotes, methods sentence) or "quiet".
type Paragraph struct {
	Spans []Span
	Style string
}

// List is a bulleted or numbered list.
type List struct {
	Ordered bool
	Items   [][]Span
}

// Align is the alignment of a table column.
type Align int

// The alignments.
const (
	Left Align = iota
	Right
	Center
)

// TableColumn is a column of a printed table.
type TableColumn struct {
	Head  string
	Align Align
	Wide  bool // takes the room that is left (free text)
}

// Table is a printed table: its cells are finished text, rounded already.
// A row may be Strong (a group head or a total).
type Table struct {
	ID      string
	Caption string
	Columns []TableColumn
	Rows    [][]string
	Strong  []int // indices of rows set bold
	Notes   []string
	Further bool // not of the main part: numbered S1, S2 and so on
	ByHand  bool // its rows are empty, to be filled in with a pen
	// Spans are cells with links in them, by row and column. Their text is
	// that of the cell.
	Spans map[[2]int][]Span
}

// Link sets a cell whose text is that of the spans.
func (t *Table) Link(row, col int, spans []Span) {
	text := ""
	for _, s := range spans {
		text += s.Text
	}
	t.Rows[row][col] = text
	if t.Spans == nil {
		t.Spans = map[[2]int][]Span{}
	}
	t.Spans[[2]int{row, col}] = spans
}

// Figure places a drawn figure with its caption.
type Figure struct {
	Figure  *figure.Figure
	Caption string
	Sheet   string // of the workbook of numbers that holds what is drawn; may be empty
	Further bool   // not of the main part: numbered S1, S2 and so on
}

// Note is a boxed remark. Kind: "caution", "error", "decision", "safety",
// "info". Each kind has its own word and mark besides any colour.
type Note struct {
	Kind  string
	Title string
	Paras []Paragraph
}

// Code is preformatted text (the ask as written, in the appendix).
type Code struct{ Text string }

// PageBreak starts a new page in print; ignored on screen.
type PageBreak struct{}

// Contents is where the contents stand in print; without it they follow the
// cover. On screen they have their own place.
type Contents struct{}

// KeepTogether asks that its blocks stay on one page if they fit on one.
type KeepTogether struct{ Blocks []Block }

// Row is one question in short, or two beside each other: their figures on one
// level, under both the notes that their answers point to.
type Row struct {
	Cells []Cell
	Notes []FootNote
}

// Cell is a question in short: what was asked, the answer in a sentence or
// two, a figure no wider than half the page if there is one, and dated lines.
// A cell with a wider figure, or with none, stands in a row of its own.
type Cell struct {
	ID, Number, Question string
	Answer               []Paragraph
	Figure               *figure.Figure // nil: none
	Lines                []Line
}

// Line is a line beneath a figure; Mark is the number of the flag on the
// figure that it explains, 0 for none; a plain line is a remark.
type Line struct {
	Mark  int
	Plain bool
	Spans []Span
}

// FootNote is what a raised number in the text points to.
type FootNote struct {
	Number int
	Text   string
}

func (Row) block()          {}
func (Heading) block()      {}
func (Paragraph) block()    {}
func (List) block()         {}
func (Table) block()        {}
func (Figure) block()       {}
func (Note) block()         {}
func (Code) block()         {}
func (PageBreak) block()    {}
func (Contents) block()     {}
func (KeepTogether) block() {}

// Text is a paragraph of one plain span.
func Text(s string) Paragraph { return Paragraph{Spans: []Span{{Text: s}}} }

// Styled is a paragraph of one plain span in a style.
func Styled(style, s string) Paragraph { return Paragraph{Spans: []Span{{Text: s}}, Style: style} }
