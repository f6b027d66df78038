package batch

import (
	"fmt"
	"math"
	"path/filepath"
	"sort"
	"strings"

	"plybook/ingest"
	"plybook/reports/answer"
	"plybook/reports/document"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// report is what a document is assembled from.
type report struct {
	nb      *notebook.Notebook
	log     *ingest.Log
	today   float64
	release string
	answers []*answer.Answer // in the order of the asks
	kinds   []problemKind
}

// assemble lays out the document: cover, the notebook's own order of prose,
// answers and decisions, then the appendix.
func assemble(r report) *document.Document {
	front := r.nb.Front
	d := &document.Document{
		Title: front.Title, Subtitle: front.Subtitle, Author: front.Author,
		Language: front.Language,
		Date:     r.isoDate(),
		Foot:     "Data to " + r.dataTo() + " · plybook " + r.release,
	}
	d.Mark = mark(front.Audience)
	d.Cover = r.cover()
	d.Blocks = append(d.Blocks, document.Note{Kind: "safety", Title: "How to read this report", Paras: []document.Paragraph{document.Text(
		"This report is for review by licensed clinicians. It describes what a log shows; it is not a diagnosis and gives no instruction for one person's care. Follow local codes and practice.")}})
	next, level := 0, 1
	for _, p := range r.nb.Parts {
		switch p := p.(type) {
		case notebook.Prose:
			d.Blocks = append(d.Blocks, p.Blocks...)
			level = lastLevel(p.Blocks, level)
		case *notebook.Ask:
			d.Blocks = append(d.Blocks, answerBlocks(r.answers[next], p, min(level+1, 3), front.HideBelow)...)
			next++
		case *notebook.Decision:
			d.Blocks = append(d.Blocks, decisionNote(p))
		}
	}
	d.Blocks = append(d.Blocks, r.openDecisions()...)
	d.Blocks = append(d.Blocks, r.appendix()...)
	tellApart(d.Blocks)
	return d
}

// tellApart adds the number of the question to captions used before: the
// same model asked of the same rows has the same caption.
func tellApart(blocks []document.Block) {
	numbers := document.Number(blocks).Headings
	heads, at := 0, ""
	seen := map[string]bool{}
	apart := func(kind, caption string) string {
		if caption == "" || at == "" || !seen[kind+caption] {
			seen[kind+caption] = true
			return caption
		}
		if c, ok := strings.CutSuffix(caption, "."); ok {
			return c + "; question " + at + "."
		}
		return caption + "; question " + at
	}
	for i, b := range blocks {
		switch b := b.(type) {
		case document.KeepTogether:
			document.Walk(b.Blocks, func(b document.Block) {
				if _, ok := b.(document.Heading); ok {
					at = numbers[heads]
					heads++
				}
			})
		case document.Heading:
			at = numbers[heads]
			heads++
		case document.Table:
			b.Caption = apart("table ", b.Caption)
			blocks[i] = b
		case document.Figure:
			b.Caption = apart("figure ", b.Caption)
			blocks[i] = b
		}
	}
}

// lastLevel is the level of the last heading among blocks: what a question
// stands under.
func lastLevel(blocks []document.Block, level int) int {
	document.Walk(blocks, func(b document.Block) {
		if h, ok := b.(document.Heading); ok && strings.TrimSpace(h.Text) != "" {
			level = max(h.Level, 1)
		}
	})
	return min(level, 2)
}

// mark is what keeps a report with unhidden counts inside the lab.
func mark(a notebook.Audience) string {
	if a == notebook.Quality {
		return "For internal review, not for release"
	}
	return ""
}

// isoDate is the day of the data cut as a file bears it; none without dates.
func (r report) isoDate() string {
	if math.IsInf(r.today, 0) {
		return ""
	}
	return words.ISODate(r.today)
}

// dataTo is the day of the data cut, which a log without dates has none of.
func (r report) dataTo() string {
	if math.IsInf(r.today, 0) {
		return "no day: nothing in the log is dated"
	}
	return words.Date(r.today)
}

func (r report) cover() []document.Pair {
	out := []document.Pair{{Label: "Data to", Text: r.dataTo()}}
	f := r.nb.Front
	if f.From != nil {
		out = append(out, document.Pair{Label: "Period from", Text: words.Date(*f.From)})
	}
	read, used, aside := 0, 0, 0
	for _, s := range r.log.Sheets {
		read, used, aside = read+s.Read, used+s.Used, aside+s.SetAside
	}
	out = append(out, document.Pair{Label: "Log", Text: fmt.Sprintf("%s read; %s used, %s set aside",
		words.N(read, "row", "rows"), words.N(used, "row", "rows"), words.N(aside, "row", "rows"))})
	bad := 0
	for _, a := range r.answers {
		if a.Error != nil {
			bad++
		}
	}
	q := words.N(len(r.answers), "question", "questions")
	if bad > 0 {
		q += fmt.Sprintf(", %d of them not answered", bad)
	}
	out = append(out, document.Pair{Label: "Questions", Text: q})
	out = append(out, document.Pair{Label: "On screen", Text: "report.html is the accessible form, with every figure in words"})
	if f.HideBelow > 1 {
		out = append(out, document.Pair{Label: "Small counts", Text: fmt.Sprintf("counts from 1 to %d are hidden", f.HideBelow-1)})
	}
	return out
}

// answerBlocks is one answer in print, under a heading of a level.
func answerBlocks(a *answer.Answer, ask *notebook.Ask, level, hideBelow int) []document.Block {
	title := a.Question
	if title == "" {
		title = a.ID
	}
	if title == "" {
		title = "A question without an id"
	}
	out := []document.Block{document.Heading{Level: level, Text: title, ID: blockID(a, ask)}}
	if a.Error != nil {
		return append(out, document.Note{Kind: "error", Title: "Not answered", Paras: []document.Paragraph{
			document.Text(words.Capital(strings.TrimSuffix(a.Error.Text, ".")) + "."),
			document.Styled("small", fmt.Sprintf("%s, line %d, column %d.", filepath.Base(a.Error.File), a.Error.Line, a.Error.Column)),
		}})
	}
	out = append(out, document.Styled("lead", a.Reading))
	if a.Note != "" {
		out = append(out, document.Text(a.Note))
	}
	rows := counted(a, ask, hideBelow)
	for i, f := range a.Figures {
		if f.Empty {
			out = append(out, document.Styled("quiet", f.Title+". "+f.Description))
			continue
		}
		caption := f.Title
		if f.Caption != "" {
			caption += ", " + f.Caption
		}
		if i == 0 && rows != "" {
			caption += "; " + rows
		}
		out = append(out, document.Figure{Figure: f, Caption: caption + "."})
	}
	for _, b := range a.Print {
		if t, ok := b.(document.Table); ok {
			t = telling(t)
			if rows != "" {
				t.Caption += "; " + rows
			}
			b = t
		}
		out = append(out, b)
	}
	if len(a.Cautions) > 0 {
		n := document.Note{Kind: "caution", Title: "Read with care"}
		for _, c := range a.Cautions {
			n.Paras = append(n.Paras, document.Text(c.Text))
		}
		out = append(out, n)
	}
	if a.Methods == "" {
		return out
	}
	return append(out, document.Paragraph{Style: "small", Spans: []document.Span{{Text: "Method. ", Bold: true}, {Text: a.Methods}}})
}

// hiddenWord is what an answer prints in place of a number withheld.
const hiddenWord = "hidden"

// telling leaves out the columns and rows of a table in which every number
// is withheld, and names them beneath, and the columns that are empty.
func telling(t document.Table) document.Table {
	strong := map[int]bool{}
	for _, r := range t.Strong {
		strong[r] = true
	}
	all := func(n int, cell func(i int) string) bool {
		seen := false
		for i := range n {
			switch cell(i) {
			case hiddenWord:
				seen = true
			case "":
			default:
				return false
			}
		}
		return seen
	}
	at := func(r, c int) string {
		if c < len(t.Rows[r]) {
			return t.Rows[r][c]
		}
		return ""
	}
	var gone []string
	out := t
	out.Columns, out.Rows, out.Strong = nil, nil, nil
	var keep []int
	empty := 0
	for c, col := range t.Columns {
		blank := c > 0 && len(t.Rows) > 0
		for r := range t.Rows {
			blank = blank && at(r, c) == ""
		}
		if blank {
			empty++
			continue
		}
		if c > 0 && all(len(t.Rows), func(r int) string { return at(r, c) }) {
			gone = append(gone, strings.ToLower(col.Head[:min(1, len(col.Head))])+col.Head[min(1, len(col.Head)):])
			continue
		}
		keep = append(keep, c)
		out.Columns = append(out.Columns, col)
	}
	if len(keep) < 2 {
		return t
	}
	for r := range t.Rows {
		if all(len(keep)-1, func(i int) string { return at(r, keep[i+1]) }) && !strong[r] {
			gone = append(gone, strings.ToLower(strings.TrimSpace(at(r, 0))))
			continue
		}
		row := make([]string, len(keep))
		for i, c := range keep {
			row[i] = at(r, c)
		}
		if strong[r] {
			out.Strong = append(out.Strong, len(out.Rows))
		}
		out.Rows = append(out.Rows, row)
	}
	if len(gone)+empty == 0 || len(out.Rows) == 0 {
		return t
	}
	if len(gone) == 0 {
		return out
	}
	out.Notes = append(append([]string(nil), t.Notes...), "Left out, since every number would be hidden: "+strings.Join(gone, "; ")+".")
	return out
}

// counted is what an answer rests on, as its captions say it: a caption is
// read without the text around it. Charts, bars and the flow say it
// themselves.
func counted(a *answer.Answer, ask *notebook.Ask, hideBelow int) string {
	switch a.Method {
	case "control-chart", "pareto", "flow", "summary":
		return ""
	}
	if a.Rows == 0 {
		return ""
	}
	count := func(n int, one, many string) string {
		if n > 0 && n < hideBelow {
			return fmt.Sprintf("fewer than %d %s", hideBelow, many)
		}
		return words.N(n, one, many)
	}
	out := count(a.Rows, strings.TrimSuffix(ask.Rows, "s"), ask.Rows)
	if ask.Rows == "" || !strings.HasSuffix(ask.Rows, "s") {
		out = count(a.Rows, "row", "rows")
	}
	if a.HasEvents {
		out += ", " + count(a.Events, "event", "events")
	}
	return out
}

// blockID is the link target of an answer.
func blockID(a *answer.Answer, ask *notebook.Ask) string {
	if a.ID != "" && (a.Error == nil || a.Error.Code != notebook.CodeDuplicateID) {
		return a.ID
	}
	return fmt.Sprintf("ask-%d", ask.Pos.Line)
}

func decisionNote(d *notebook.Decision) document.Block {
	if d.Err != nil {
		return document.Note{Kind: "error", Title: "A decision that could not be read", Paras: []document.Paragraph{
			document.Text(d.Err.Text + "."),
			document.Styled("small", fmt.Sprintf("%s, line %d, column %d.", filepath.Base(d.Err.File), d.Err.Line, d.Err.Column)),
		}}
	}
	facts := words.Date(d.On)
	if d.Who != "" {
		facts += " · " + d.Who
	}
	if d.Review != nil {
		facts += " · review on " + words.Date(*d.Review)
	}
	return document.Note{Kind: "decision", Title: "Decided", Paras: []document.Paragraph{
		document.Text(d.What), document.Styled("small", facts)}}
}

// openDecisions lists the decisions not yet reviewed by the data cut, with
// what the chart says since.
func (r report) openDecisions() []document.Block {
	t := document.Table{ID: "open-decisions", Caption: "Decisions still open, with what the chart has shown since",
		Columns: []document.TableColumn{{Head: "Decided on"}, {Head: "What", Wide: true}, {Head: "Who"}, {Head: "Review"}, {Head: "Since then", Wide: true}}}
	for _, d := range r.nb.Decisions() {
		if d.Err != nil || d.Review != nil && *d.Review < r.today {
			continue
		}
		review, since := "not set", "no chart follows it"
		if d.Review != nil {
			review = words.Date(*d.Review)
		}
		if d.Follows != "" {
			since = "the chart could not be drawn"
			for _, a := range r.answers {
				if s, ok := a.Since[d.Pos.Line]; ok && a.ID == d.Follows {
					since = s
				}
			}
		}
		t.Rows = append(t.Rows, []string{words.Date(d.On), d.What, d.Who, review, since})
	}
	if len(t.Rows) == 0 {
		return nil
	}
	return []document.Block{document.Heading{Level: 1, Text: "Open decisions", ID: "open-decisions-list"}, t}
}

func (r report) appendix() []document.Block {
	out := []document.Block{
		document.Heading{Level: 1, Text: "Appendix: data used", ID: "data-used"},
		document.Text("Every row read was either used or set aside, and the counts of each sheet add up. Values set aside are single cells that could not be used in rows that were."),
		r.ledger(),
	}
	if t, ok := r.problems(); ok {
		out = append(out, document.Heading{Level: 2, Text: "What was set aside or questioned", ID: "set-aside"}, t,
			document.Styled("small", "Each problem, with its file, sheet and cell, is in numbers.xlsx. plybook inspect writes a marked copy of the workbook with the same remarks in place."))
	}
	if blocks := r.methods(); len(blocks) > 0 {
		out = append(out, document.Heading{Level: 1, Text: "Appendix: methods", ID: "methods"})
		out = append(out, blocks...)
	}
	return out
}

func (r report) ledger() document.Table {
	t := document.Table{ID: "ledger", Caption: "Rows read, used and set aside, by sheet", Columns: []document.TableColumn{
		{Head: "File", Wide: true}, {Head: "Sheet"}, {Head: "Read", Align: document.Right}, {Head: "Used", Align: document.Right},
		{Head: "Set aside", Align: document.Right}, {Head: "Values set aside", Align: document.Right}}}
	var sum [4]int
	for _, s := range r.log.Sheets {
		sheet := s.Sheet
		if s.Table == "" {
			sheet += " (not part of the log)"
		}
		t.Rows = append(t.Rows, []string{filepath.Base(s.File), strings.TrimSpace(sheet), words.Fixed(float64(s.Read), 0),
			words.Fixed(float64(s.Used), 0), words.Fixed(float64(s.SetAside), 0), words.Fixed(float64(s.ValuesSetAside), 0)})
		for i, n := range []int{s.Read, s.Used, s.SetAside, s.ValuesSetAside} {
			sum[i] += n
		}
	}
	if noSheets(r.log.Sheets) {
		// CSV files have no sheets to name.
		t.Columns = append(t.Columns[:1], t.Columns[2:]...)
		for i, row := range t.Rows {
			t.Rows[i] = append(row[:1], row[2:]...)
		}
	}
	total := []string{"All", ""}[:len(t.Columns)-4]
	for _, n := range sum {
		total = append(total, words.Fixed(float64(n), 0))
	}
	t.Strong = []int{len(t.Rows)}
	t.Rows = append(t.Rows, total)
	return t
}

func noSheets(sheets []ingest.Sheet) bool {
	for _, s := range sheets {
		if s.Sheet != "" || s.Table == "" {
			return false
		}
	}
	return true
}

// problems counts the problems by kind and by what was done.
func (r report) problems() (document.Table, bool) {
	kinds := r.kinds
	t := document.Table{ID: "problems", Caption: "Problems in the log, by kind", Columns: []document.TableColumn{
		{Head: "Problem", Wide: true}, {Head: "What was done"}, {Head: "Times", Align: document.Right}}}
	for _, k := range kinds {
		t.Rows = append(t.Rows, []string{words.Capital(strings.ReplaceAll(k.Code, "-", " ")), k.Done, words.Fixed(float64(k.Count), 0)})
	}
	return t, len(kinds) > 0
}

// methods gathers the references of all answers, each once.
func (r report) methods() []document.Block {
	var refs []string
	seen := map[string]bool{}
	for _, a := range r.answers {
		for _, ref := range a.References {
			if !seen[ref] {
				seen[ref] = true
				refs = append(refs, ref)
			}
		}
	}
	out := []document.Block{document.Text("The sentence under each answer says how it was worked out and can be taken into a paper. All computations were made with plybook " + r.release + ".")}
	if len(refs) > 0 {
		sort.Strings(refs)
		l := document.List{}
		for _, ref := range refs {
			l.Items = append(l.Items, []document.Span{{Text: ref}})
		}
		out = append(out, document.Heading{Level: 2, Text: "References", ID: "references"}, l)
	}
	return out
}
