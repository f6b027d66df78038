package batch

import (
	"fmt"
	"path/filepath"
	"slices"
	"strconv"
	"strings"

	"plybook/reports/answer"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// brief lays out the report in short, for paper: of each question the answer
// in a sentence or two, a small figure, what was decided and the cautions.
// Chapters and questions have the numbers that they have in the whole report,
// and the last lines name what stands in that one alone.
func brief(r *report, whole *document.Document, q squeeze) *document.Document {
	d := *whole
	d.Brief, d.Tight = true, q.tight
	d.Cover = nil
	for _, p := range whole.Cover {
		switch p.Label {
		case onScreen: // the last lines name it
		case rowsOfLog: // its text says what it is
			d.Cover = append(d.Cover, document.Pair{Text: p.Text})
		default:
			d.Cover = append(d.Cover, p)
		}
	}
	b := briefing{report: r, numbers: sections(whole.Blocks), squeeze: q, said: map[string]int{}}
	b.out = append(b.out, document.Paragraph{Style: "small", Spans: []document.Span{{Text: "Safety. ", Bold: true}, {Text: safetyWords}}})
	before, parts := preface(r.nb.Parts)
	b.out = append(b.out, before...)
	b.prose(r.inShort())
	if r.room != nil {
		b.prose([]document.Block{document.KeepTogether{Blocks: append(
			b.style().Blocks(r.decidedTable(b.numbers), r.decided()...), deciding(r.room.lines)...)}})
	}
	b.parts(parts)
	b.out = append(b.out, r.style().Blocks(b.elsewhere(whole))...)
	d.Blocks = b.out
	return &d
}

// briefing is a report in short in the making.
type briefing struct {
	*report
	squeeze
	numbers map[string]string // of headings in the whole report, by target
	out     []document.Block
	wait    *briefed       // a question that another may stand beside
	notes   int            // footnotes so far
	said    map[string]int // their numbers, by text
	figures int            // figures printed
	tables  int            // tables of answers printed
}

// briefed is a question in short, with its cautions.
type briefed struct {
	cell     document.Cell
	cautions []string
	table    *document.Table // printed beneath; nil: none
}

// narrow says whether another question may stand beside this one.
func (q *briefed) narrow() bool {
	return q.table == nil && q.cell.Figure != nil && q.cell.Figure.Width <= figure.HalfWidth+0.5
}

func (b *briefing) parts(parts []notebook.Part) {
	next := 0
	for _, p := range parts {
		switch p := p.(type) {
		case notebook.Prose:
			b.prose(p.Blocks)
		case *notebook.Ask:
			q := b.question(b.answers[next], p)
			next++
			switch {
			case !q.narrow():
				b.flush()
				b.row(q)
			case b.wait != nil:
				with := b.wait
				b.wait = nil
				b.row(with, q)
			default:
				b.wait = q
			}
		case *notebook.Decision:
			if p.Err == nil && b.follows(p) {
				continue // it stands with its question
			}
			b.flush()
			b.row(&briefed{cell: document.Cell{Lines: []document.Line{b.decision(p, 0)}}})
		}
	}
	b.flush()
}

// prose sets text of the notebook as it is, with the numbers of its headings.
func (b *briefing) prose(blocks []document.Block) {
	for _, x := range blocks {
		switch x := x.(type) {
		case document.PageBreak, document.Contents: // pages are few
		case document.Heading:
			b.flush()
			x.Number = b.numbers[x.ID]
			b.out = append(b.out, x)
		default:
			b.flush()
			b.out = append(b.out, x)
		}
	}
}

// flush sets the question that waits, alone.
func (b *briefing) flush() {
	if q := b.wait; q != nil {
		b.wait = nil
		b.row(q)
	}
}

// row sets questions beside each other, and numbers their cautions.
func (b *briefing) row(qs ...*briefed) {
	var r document.Row
	at := map[string]int{}
	for _, q := range qs {
		c := q.cell
		var marks []int
		for _, text := range q.cautions {
			if at[text] == 0 && b.once {
				at[text] = b.said[text]
			}
			if at[text] == 0 {
				b.notes++
				b.said[text] = b.notes
				at[text] = b.notes
				r.Notes = append(r.Notes, document.FootNote{Number: b.notes, Text: text})
			}
			marks = append(marks, at[text])
		}
		if len(marks) > 0 {
			spans := c.Answer[0].Spans
			c.Answer[0].Spans = append(spans[:len(spans):len(spans)], document.Span{Text: ranges(marks), Raised: true})
		}
		r.Cells = append(r.Cells, c)
	}
	made := []document.Block{r}
	for _, q := range qs {
		if q.table != nil {
			made = []document.Block{document.KeepTogether{Blocks: append(made, *q.table)}}
		}
	}
	b.out = append(b.out, b.style().Blocks(made, b.written()...)...)
}

// ranges writes numbers as "1, 2, 4–6".
func ranges(ns []int) string {
	var parts []string
	for i := 0; i < len(ns); {
		j := i
		for j+1 < len(ns) && ns[j+1] == ns[j]+1 {
			j++
		}
		switch {
		case j > i+1:
			parts = append(parts, strconv.Itoa(ns[i])+"–"+strconv.Itoa(ns[j]))
		case j == i+1:
			parts = append(parts, strconv.Itoa(ns[i]), strconv.Itoa(ns[j]))
		default:
			parts = append(parts, strconv.Itoa(ns[i]))
		}
		i = j + 1
	}
	return strings.Join(parts, ",\u00a0")
}

// question is one answer in short.
func (b *briefing) question(a *answer.Answer, ask *notebook.Ask) *briefed {
	id := blockID(a, ask)
	q := &briefed{cell: document.Cell{ID: id, Number: b.numbers[id], Question: titleOf(a)}}
	c := &q.cell
	if a.Error != nil {
		c.Answer = []document.Paragraph{
			{Spans: []document.Span{{Text: "Not answered. ", Bold: true}, {Text: words.Capital(strings.TrimSuffix(a.Error.Text, ".")) + "."}}},
			document.Styled("small", fmt.Sprintf("%s, line %d, column %d.", filepath.Base(a.Error.File), a.Error.Line, a.Error.Column))}
	} else {
		c.Answer = []document.Paragraph{document.Text(a.Short)}
	}
	flags := b.draw(c, a)
	if a.Shown != "" && a.Error == nil {
		for _, x := range a.Print {
			if t, ok := x.(document.Table); ok && t.ID == a.Shown {
				t = telling(t)
				q.table = &t
				b.tables++
			}
		}
	}
	for _, d := range b.nb.Decisions() {
		if d.Err != nil || d.Follows != ask.ID || ask.ID == "" {
			continue
		}
		mark := 0
		if flags {
			mark = flag(b.nb.Decisions(), d)
		}
		c.Lines = append(c.Lines, b.decision(d, mark))
	}
	if a.Note != "" && a.Error == nil {
		c.Lines = append(c.Lines, document.Line{Plain: true, Spans: []document.Span{{Text: a.Note}}})
	}
	for _, x := range a.Cautions {
		q.cautions = append(q.cautions, x.Text)
	}
	return q
}

// draw gives a question its figure to be printed in short, small where it can be; a flow is
// told in its sentence. It says whether the flags of decisions on the figure
// are left to the text beside it.
func (b *briefing) draw(c *document.Cell, a *answer.Answer) (flags bool) {
	if len(a.Figures) == 0 || a.Method == "flow" {
		return false
	}
	f := a.Figures[0]
	if i := slices.IndexFunc(a.Figures, func(f *figure.Figure) bool { return f.ID == a.Shown }); i > 0 {
		f = a.Figures[i]
	}
	if b.folded[a.ID] && !f.Empty {
		c.Answer = append(c.Answer, document.Styled("small", "Its figure: report.html, "+strings.TrimSpace(c.Number+" ")+"."))
		return false
	}
	if f.Empty {
		c.Answer = append(c.Answer, document.Styled("quiet", f.Description))
		return false
	}
	b.figures++
	if f.Small != nil {
		f = f.Small()
	}
	c.Figure = f
	return a.Method == "control-chart"
}

// follows says whether the question that a decision follows is there.
func (b *briefing) follows(d *notebook.Decision) bool {
	for _, ask := range b.nb.Asks() {
		if ask.ID != "" && ask.ID == d.Follows {
			return true
		}
	}
	return false
}

// flag is the number that a decision has on the chart that it follows, where
// they stand by date.
func flag(all []*notebook.Decision, d *notebook.Decision) int {
	n, before := 1, true
	for _, x := range all {
		if x == d {
			before = false
			continue
		}
		if x.Err == nil && x.Follows == d.Follows && (x.On < d.On || x.On == d.On && before) {
			n++
		}
	}
	return n
}

// decision is a decision in a line, with what the chart shows since.
func (b *briefing) decision(d *notebook.Decision, mark int) document.Line {
	if d.Err != nil {
		return document.Line{Spans: []document.Span{{Text: "A decision that could not be read. ", Bold: true},
			{Text: fmt.Sprintf("%s. %s, line %d, column %d.", d.Err.Text, filepath.Base(d.Err.File), d.Err.Line, d.Err.Column)}}}
	}
	spans := []document.Span{{Text: words.Date(d.On) + ". ", Bold: true}, {Text: strings.TrimSuffix(d.What, ".") + "."}}
	var facts []string
	if d.Who != "" {
		facts = append(facts, d.Who)
	}
	if d.Review != nil {
		facts = append(facts, "review on "+words.Date(*d.Review))
	}
	if len(facts) > 0 {
		spans = append(spans, document.Span{Text: " " + words.Capital(strings.Join(facts, ", ")) + "."})
	}
	if since := b.since(d); since != "" {
		spans = append(spans, document.Span{Text: " Since then: ", Bold: true}, document.Span{Text: since + "."})
	}
	return document.Line{Mark: mark, Spans: spans}
}

// elsewhere names what stands in the whole report and not in this one.
func (b *briefing) elsewhere(whole *document.Document) []document.Block {
	tables, figures := 0, 0
	here := map[string]bool{}
	document.Walk(b.out, func(x document.Block) {
		if h, ok := x.(document.Heading); ok {
			here[h.ID] = true
		}
	})
	var chapters []string
	document.Walk(whole.Blocks, func(x document.Block) {
		switch x := x.(type) {
		case document.Table:
			tables++
		case document.Figure:
			figures++
		case document.Heading:
			if b.room != nil && (x.ID == "open-decisions-list" || x.ID == "reviewed-decisions-list") {
				break // they are on the first page
			}
			if x.Level <= 1 && !here[x.ID] {
				chapters = append(chapters, x.Text)
			}
		}
	})
	list := []string{"full readings", "methods"}
	switch n := tables - b.tables; {
	case n > 0 && b.tables > 0:
		list = append(list, words.N(n, "further table", "further tables"))
	case n > 0:
		list = append(list, words.N(n, "table", "tables"))
	}
	if n := figures - b.figures; n > 0 {
		list = append(list, words.N(n, "further figure", "further figures"))
	}
	list = append(list, "every figure larger and in words")
	for _, c := range chapters {
		list = append(list, "“"+c+"”")
	}
	return []document.Block{document.Paragraph{Style: "small", Spans: []document.Span{{Text: "In full. ", Bold: true},
		{Text: fmt.Sprintf("report.html has %s; numbers.xlsx has every number, and the cell of each problem.", words.List(list))}}}}
}
