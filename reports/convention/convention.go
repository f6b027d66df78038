// Package convention writes finished text by the reader's convention for
// numbers and dates. Readings, tables and figures are made with a point
// before decimals, a comma between thousands and the day before the month;
// here they are written over for a lab that has it otherwise. Every character
// put in a drawn number is as wide as the one it stands for, so that figures
// keep their layout.
package convention

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"plybook/reports/document"
	"plybook/reports/figure"
)

// Dates is the order in which a date is written.
type Dates string

// The orders of a date.
const (
	DayFirst   Dates = "day-first"   // 30 June 2026
	MonthFirst Dates = "month-first" // June 30, 2026
	YearFirst  Dates = "year-first"  // 2026-06-30, as in ISO 8601
)

// Style is a convention. The zero value changes nothing.
type Style struct {
	Comma bool // before decimals, and a space that does not break between thousands (ISO 80000-1:2022, 7.3)
	Dates Dates
}

func (s Style) plain() bool { return !s.Comma && (s.Dates == "" || s.Dates == DayFirst) }

var (
	number = regexp.MustCompile(`\d{1,3}(?:,\d{3})+(?:\.\d+)?|\d+\.\d+`)
	date   = regexp.MustCompile(`\b(\d{1,2})([ \x{a0}])(January|February|March|April|May|June|July|August|September|October|November|December)[ \x{a0}](\d{4})\b`)
	months = []string{"January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"}
)

// Text writes a text over, but for what stands between backquotes, which is
// to be typed as it stands. It is done once: what was written over is not to
// be written over again.
func (s Style) Text(text string) string {
	if s.plain() || text == "" {
		return text
	}
	parts := strings.Split(text, "`")
	for i := range parts {
		if i%2 == 0 || i == len(parts)-1 { // a last one that is not closed quotes nothing
			parts[i] = s.words(parts[i])
		}
	}
	return strings.Join(parts, "`")
}

// words writes a text over.
func (s Style) words(text string) string {
	switch s.Dates {
	case MonthFirst:
		text = date.ReplaceAllString(text, "$3$2$1, $4")
	case YearFirst:
		text = date.ReplaceAllStringFunc(text, func(d string) string {
			m := date.FindStringSubmatch(d)
			return fmt.Sprintf("%s-%02d-%02s", m[4], slices.Index(months, m[3])+1, m[1])
		})
	}
	if s.Comma {
		text = s.numbers(text)
	}
	return text
}

const apart = "\u00a0" // as wide as a comma in the type of figures

func (s Style) numbers(text string) string {
	var b strings.Builder
	at := 0
	for _, m := range number.FindAllStringIndex(text, -1) {
		b.WriteString(text[at:m[0]])
		found := text[m[0]:m[1]]
		if alone(text[:m[0]], text[m[1]:]) {
			found = strings.ReplaceAll(found, ",", apart)
			found = strings.Replace(found, ".", ",", 1)
		}
		b.WriteString(found)
		at = m[1]
	}
	b.WriteString(text[at:])
	return b.String()
}

// alone says whether what stands between two texts is a number by itself and
// not a part of a version, a name, an address or a file.
func alone(before, after string) bool {
	last, _ := utf8.DecodeLastRuneInString(before)
	next, width := utf8.DecodeRuneInString(after)
	then, _ := utf8.DecodeRuneInString(after[min(width, len(after)):])
	word := func(r rune) bool {
		return r != utf8.RuneError && (unicode.IsLetter(r) || unicode.IsDigit(r) || r == '_')
	}
	switch {
	case word(last), last == '/', last == '.', last == ',' && endsInDigit(strings.TrimSuffix(before, ",")):
		return false
	case unicode.IsDigit(next), next == '/', next == '_', next == '.' && word(then), next == ',' && unicode.IsDigit(then):
		return false
	}
	return true
}

func endsInDigit(s string) bool {
	r, _ := utf8.DecodeLastRuneInString(s)
	return unicode.IsDigit(r)
}

// Blocks writes blocks over, but for headings, code and whatever holds one
// of the texts that the lab wrote itself. The blocks given are left alone.
func (s Style) Blocks(blocks []document.Block, own ...string) []document.Block {
	if s.plain() {
		return blocks
	}
	out := make([]document.Block, len(blocks))
	for i, b := range blocks {
		switch b := b.(type) {
		case document.Paragraph:
			out[i] = s.paragraph(b, own)
		case document.List:
			items := make([][]document.Span, len(b.Items))
			for k, item := range b.Items {
				items[k] = s.spans(item, own)
			}
			b.Items = items
			out[i] = b
		case document.Table:
			out[i] = s.table(b, own)
		case document.Figure:
			b.Caption = s.Text(b.Caption)
			b.Figure = s.Figure(b.Figure)
			out[i] = b
		case document.Note:
			paras := make([]document.Paragraph, len(b.Paras))
			for k, p := range b.Paras {
				paras[k] = s.paragraph(p, own)
			}
			b.Title = s.Text(b.Title)
			b.Paras = paras
			out[i] = b
		case document.Row:
			out[i] = s.row(b, own)
		case document.KeepTogether:
			b.Blocks = s.Blocks(b.Blocks, own...)
			out[i] = b
		default:
			out[i] = b
		}
	}
	return out
}

func (s Style) row(r document.Row, own []string) document.Row {
	cells := slices.Clone(r.Cells)
	for i := range cells {
		c := &cells[i]
		c.Figure = s.Figure(c.Figure)
		c.Answer = slices.Clone(c.Answer)
		for k := range c.Answer {
			c.Answer[k] = s.paragraph(c.Answer[k], own)
		}
		c.Lines = slices.Clone(c.Lines)
		for k := range c.Lines {
			c.Lines[k].Spans = s.spans(c.Lines[k].Spans, own)
		}
	}
	notes := slices.Clone(r.Notes)
	for i := range notes {
		notes[i].Text = s.Text(notes[i].Text)
	}
	return document.Row{Cells: cells, Notes: notes}
}

func (s Style) paragraph(p document.Paragraph, own []string) document.Paragraph {
	p.Spans = s.spans(p.Spans, own)
	return p
}

func (s Style) spans(list []document.Span, own []string) []document.Span {
	out := slices.Clone(list)
	for i := range out {
		held := func(text string) bool { return text != "" && strings.Contains(out[i].Text, text) }
		if !out[i].Code && !section(out[i]) && !slices.ContainsFunc(own, held) {
			out[i].Text = s.Text(out[i].Text)
		}
	}
	return out
}

// section says whether a run of text is the number of a section, with a link
// to it: "6.2" is no decimal there.
func section(x document.Span) bool {
	return strings.HasPrefix(x.Link, "#") && strings.Trim(x.Text, "0123456789.") == ""
}

func (s Style) table(t document.Table, own []string) document.Table {
	t.Caption = s.Text(t.Caption)
	t.Columns = slices.Clone(t.Columns)
	for i := range t.Columns {
		t.Columns[i].Head = s.Text(t.Columns[i].Head)
	}
	t.Rows = slices.Clone(t.Rows)
	for r := range t.Rows {
		t.Rows[r] = slices.Clone(t.Rows[r])
		for c := range t.Rows[r] {
			if !slices.Contains(own, t.Rows[r][c]) {
				t.Rows[r][c] = s.Text(t.Rows[r][c])
			}
		}
	}
	t.Notes = slices.Clone(t.Notes)
	for i := range t.Notes {
		t.Notes[i] = s.Text(t.Notes[i])
	}
	if t.Spans != nil {
		spans := make(map[[2]int][]document.Span, len(t.Spans))
		for at, list := range t.Spans {
			spans[at] = s.spans(list, own)
			text := ""
			for _, x := range spans[at] {
				text += x.Text
			}
			t.Rows[at[0]][at[1]] = text
		}
		t.Spans = spans
	}
	return t
}

// Figure is a figure that says the same by the convention.
func (s Style) Figure(f *figure.Figure) *figure.Figure {
	if s.plain() || f == nil {
		return f
	}
	out := *f
	out.Title, out.Caption = s.Text(f.Title), s.Text(f.Caption)
	out.Description, out.Long = s.Text(f.Description), s.Text(f.Long)
	out.Values = slices.Clone(f.Values)
	for i := range out.Values {
		v := &out.Values[i]
		v.Series, v.Where, v.Text = s.Text(v.Series), s.Text(v.Where), s.Text(v.Text)
	}
	for i := range out.ValueHeads {
		out.ValueHeads[i] = s.Text(f.ValueHeads[i])
	}
	if f.Draw != nil {
		out.Draw = func(c draw.Canvas) {
			c.Canvas = canvas{c.Canvas, s}
			f.Draw(c)
		}
	}
	return &out
}

// canvas writes text over on its way to another canvas.
type canvas struct {
	vg.Canvas
	style Style
}

// FillString draws the text by the convention.
func (c canvas) FillString(f font.Face, at vg.Point, text string) {
	c.Canvas.FillString(f, at, c.style.Text(text))
}
