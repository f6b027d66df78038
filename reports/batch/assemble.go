package batch

import (
	"fmt"
	"math"
	"path/filepath"
	"slices"
	"strings"

	"plybook/analysis/withhold"
	"plybook/ingest"
	"plybook/reports/answer"
	"plybook/reports/convention"
	"plybook/reports/document"
	"plybook/reports/notebook"
	"plybook/reports/numbers"
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
	sets    map[string][]string // named sets of end reasons
	// listed are the analyses in short, with the sections where they stand.
	listed []numbers.Analysis
	// withheld are counts that would tell small ones together with others.
	withheld answer.Withheld
	// room is for what was decided, in print in short; nil: there is none.
	room *room
}

// assemble lays out the document: cover, the notebook's own order of prose,
// answers and decisions, then the appendix.
func assemble(r *report) *document.Document {
	front := r.nb.Front
	d := &document.Document{
		Title: front.Title, Subtitle: front.Subtitle, Author: front.Author,
		Language: front.Language,
		Comma:    front.DecimalComma,
		Date:     r.isoDate(),
		Foot:     r.style().Text(r.foot()),
	}
	d.Mark = mark(front)
	for _, p := range r.cover() {
		d.Cover = append(d.Cover, document.Pair{Label: p.Label, Text: r.style().Text(p.Text)})
	}
	d.Blocks = append(d.Blocks, document.Note{Kind: "safety", Title: "How to read this report", Paras: []document.Paragraph{document.Text(
		safetyWords)}})
	parts := r.nb.Parts
	if short := r.inShort(); len(short) > 0 {
		var before []document.Block
		before, parts = preface(parts)
		d.Blocks = append(append(d.Blocks, before...), short...)
	}
	next, level := 0, 1
	var rest behind
	sheets := numbers.Sheets(answerIDs(r.answers))
	for _, p := range parts {
		switch p := p.(type) {
		case notebook.Prose:
			d.Blocks = append(d.Blocks, p.Blocks...)
			level = lastLevel(p.Blocks, level)
		case *notebook.Ask:
			made := answerBlocks(r.answers[next], p, min(level+1, 3), front.HideBelow, r.withheld, sheets[next])
			made = r.style().Blocks(made, r.answers[next].Note)
			if front.Print == notebook.MainFirst {
				made = rest.part(r.answers[next], p, made)
			}
			d.Blocks = append(d.Blocks, made...)
			next++
		case *notebook.Decision:
			d.Blocks = append(d.Blocks, decisionNote(p))
		}
	}
	d.Blocks = once(d.Blocks)
	numbered := sections(d.Blocks)
	d.Blocks = append(d.Blocks, r.style().Blocks(r.decisions(numbered), r.decided()...)...)
	r.listed = r.analyses(numbered)
	d.Blocks = append(d.Blocks, rest.appendix(numbered)...)
	behind := r.style().Blocks(r.appendix(len(rest.of) > 0))
	d.Blocks = append(d.Blocks, beforeReferences(behind, rest.methods(numbered, r.style().Text))...)
	d.Blocks = append(d.Blocks, r.itemMap(d.Blocks)...) // its items have numbers such as 6.1, which are no decimals
	d.Blocks = append(d.Blocks, r.style().Blocks(r.terms(d.Blocks))...)
	tellApart(d.Blocks)
	return d
}

// style is how the report writes numbers and dates. What the lab wrote
// itself, in prose, questions, notes and decisions, stands as it was written.
func (r *report) style() convention.Style {
	return convention.Style{Comma: r.nb.Front.DecimalComma, Dates: convention.Dates(r.nb.Front.Dates)}
}

// written are the words of questions, notes and decisions.
func (r *report) written() []string {
	out := r.decided()
	for _, a := range r.answers {
		out = append(out, titleOf(a), a.Note)
	}
	return out
}

// decided are the words of the decisions.
func (r *report) decided() []string {
	var out []string
	for _, d := range r.nb.Decisions() {
		out = append(out, d.What)
	}
	return out
}

// preface is the prose that stands before the first heading and the first
// question, and what is left of the notebook.
func preface(parts []notebook.Part) ([]document.Block, []notebook.Part) {
	if len(parts) == 0 {
		return nil, nil
	}
	first, ok := parts[0].(notebook.Prose)
	if !ok {
		return nil, parts
	}
	n := slices.IndexFunc(first.Blocks, func(b document.Block) bool { _, ok := b.(document.Heading); return ok })
	if n < 0 {
		return first.Blocks, parts[1:]
	}
	rest := append([]notebook.Part{notebook.Prose{Blocks: first.Blocks[n:]}}, parts[1:]...)
	return first.Blocks[:n], rest
}

// safetyWords stand at the front of every report.
const safetyWords = "This report is for review by licensed clinicians. It describes what a log shows; it is not a diagnosis and gives no instruction for one person's care. Follow local codes and practice."

// Labels of facts of the cover.
const (
	onScreen  = "On screen"
	rowsOfLog = "Log"
	asked     = "Questions"
)

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
func mark(f notebook.Front) string {
	if f.Audience == notebook.Quality || f.HideBelow <= 1 {
		return "For internal review, not for release"
	}
	return ""
}

// isoDate is the day of the data cut as a file bears it; none without dates,
// or where dates are shifted and the day is one of the calendar.
func (r report) isoDate() string {
	if math.IsInf(r.today, 0) || r.shifted() {
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

// shifted says whether the dates of each person are moved.
func (r report) shifted() bool { return r.nb.Front.ShiftDates > 0 }

func (r report) foot() string {
	if r.shifted() {
		return "Dates moved person by person · plybook " + r.release
	}
	return "Data to " + r.dataTo() + " · plybook " + r.release
}

func (r report) cover() []document.Pair {
	out := []document.Pair{{Label: "Data to", Text: r.dataTo()}}
	if r.shifted() {
		out = []document.Pair{{Label: "Dates", Text: fmt.Sprintf("moved by up to %d days, one number of weeks for each person", r.nb.Front.ShiftDates)}}
	}
	f := r.nb.Front
	if f.From != nil {
		period := "from " + words.Date(*f.From)
		if !math.IsInf(r.today, 0) {
			period = words.Date(*f.From) + " to " + r.dataTo()
		}
		out = append(out, document.Pair{Label: "Period", Text: period})
	}
	read, used, aside := 0, 0, 0
	for _, s := range r.log.Sheets {
		read, used, aside = read+s.Read, used+s.Used, aside+s.SetAside
	}
	out = append(out, document.Pair{Label: rowsOfLog, Text: fmt.Sprintf("%s read; %s used, %s set aside",
		words.N(read, "row", "rows"), words.N(used, "row", "rows"), words.N(aside, "row", "rows"))})
	bad := 0
	for _, a := range r.answers {
		if a.Error != nil {
			bad++
		}
	}
	q := words.Plain(float64(len(r.answers)))
	if bad > 0 {
		q += fmt.Sprintf(", %d of them not answered", bad)
	}
	out = append(out, document.Pair{Label: asked, Text: q})
	out = append(out, document.Pair{Label: onScreen, Text: "report.html is the accessible form, with every figure in words"})
	if f.HideBelow > 1 {
		small := fmt.Sprintf("counts from 1 to %d are hidden, with others, until %d values or more are possible for each", f.HideBelow-1, withhold.Width(f.HideBelow))
		switch len(f.HiddenBefore) {
		case 0:
		case 1:
			small += "; so are counts that would tell one by their difference from an earlier edition"
		default:
			small += "; so are counts that would tell one by their difference from earlier editions"
		}
		out = append(out, document.Pair{Label: "Small counts", Text: small})
	}
	return out
}

func decisionNote(d *notebook.Decision) document.Block {
	if d.Err != nil {
		return document.Note{Kind: "error", Title: "A decision that could not be read", Paras: []document.Paragraph{
			document.Text(d.Err.Text + "."),
			document.Styled("small", fmt.Sprintf("%s, line %d, column %d.", filepath.Base(d.Err.File), d.Err.Line, d.Err.Column)),
		}}
	}
	note := document.Note{Kind: "decision", Title: words.Date(d.On), Paras: []document.Paragraph{document.Text(d.What)}}
	var facts []string
	if d.Who != "" {
		facts = append(facts, words.Capital(d.Who))
	}
	if d.Review != nil {
		facts = append(facts, "review on "+words.Date(*d.Review))
	}
	if len(facts) > 0 {
		note.Paras = append(note.Paras, document.Styled("small", words.Capital(strings.Join(facts, " · "))))
	}
	return note
}
