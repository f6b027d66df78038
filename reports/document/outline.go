package document

import (
	"slices"
	"strconv"
	"strings"
)

// Entry is a heading as the contents and the outline list it.
type Entry struct {
	Number string // "2", "2.1", "2.1.1"; empty below the third level and for quiet headings
	Text   string
	ID     string
	Level  int
}

// Numbering is the numbers that print and screen give to headings, figures
// and tables, so that both call a thing by the same name.
type Numbering struct {
	Entries  []Entry        // headings that are not quiet, in order
	Headings map[int]string // number of the nth heading of the document, quiet ones counted
	Figures  int            // captioned figures
	Tables   int            // captioned tables
}

// Number walks the blocks in order. Headings of level 1 to 3 are numbered
// unless quiet or outside a heading of the level above; a level below 1
// counts as 1.
func Number(blocks []Block) Numbering {
	n := Numbering{Headings: map[int]string{}}
	var chapter, section, part, seen int
	Walk(blocks, func(b Block) {
		switch b := b.(type) {
		case Heading:
			number := ""
			quiet := b.Quiet || strings.TrimSpace(b.Text) == ""
			switch {
			case quiet:
			case b.Level <= 1:
				chapter++
				section, part = 0, 0
				number = strconv.Itoa(chapter)
			case b.Level == 2 && chapter > 0:
				section++
				part = 0
				number = strconv.Itoa(chapter) + "." + strconv.Itoa(section)
			case b.Level == 3 && section > 0:
				part++
				number = strconv.Itoa(chapter) + "." + strconv.Itoa(section) + "." + strconv.Itoa(part)
			}
			if b.Number != "" && !quiet {
				number = b.Number
			}
			n.Headings[seen] = number
			seen++
			if !quiet {
				n.Entries = append(n.Entries, Entry{Number: number, Text: b.Text, ID: b.ID, Level: max(1, b.Level)})
			}
		case Row:
			for _, c := range b.Cells {
				if strings.TrimSpace(c.Question) == "" {
					continue
				}
				n.Entries = append(n.Entries, Entry{Number: c.Number, Text: c.Question, ID: c.ID, Level: 2})
			}
		case Figure:
			if strings.TrimSpace(b.Caption) != "" {
				n.Figures++
			}
		case Table:
			if strings.TrimSpace(b.Caption) != "" {
				n.Tables++
			}
		}
	})
	return n
}

// Counter numbers captions of one kind in their order: "1", "2", and "S1",
// "S2" for those that are not of the main part.
type Counter struct{ main, further int }

// Next is the number of the next caption.
func (c *Counter) Next(further bool) string {
	if further {
		c.further++
		return "S" + strconv.Itoa(c.further)
	}
	c.main++
	return strconv.Itoa(c.main)
}

// Targets are the names by which links may lead to a block.
func Targets(b Block) []string {
	var out []string
	switch b := b.(type) {
	case Heading:
		out = append(out, b.ID)
	case Table:
		out = append(out, b.ID)
	case Figure:
		if b.Figure != nil {
			out = append(out, b.Figure.ID)
		}
	case Row:
		for _, c := range b.Cells {
			out = append(out, c.ID)
		}
	}
	return slices.DeleteFunc(out, func(id string) bool { return id == "" })
}

// Walk calls f for every block in order, those inside KeepTogether included.
func Walk(blocks []Block, f func(Block)) {
	for _, b := range blocks {
		if k, ok := b.(KeepTogether); ok {
			Walk(k.Blocks, f)
			continue
		}
		f(b)
	}
}

// GroupHead says whether a row heads the rows below it: it is strong, and
// only its first cell says something. Writers let it run over all columns.
func (t Table) GroupHead(row int) bool {
	if len(t.Columns) < 2 || row < 0 || row >= len(t.Rows) || !slices.Contains(t.Strong, row) {
		return false
	}
	for c, cell := range t.Rows[row] {
		if (c == 0) == (strings.TrimSpace(cell) == "") {
			return false
		}
	}
	return len(t.Rows[row]) > 0
}
