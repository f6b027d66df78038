package batch

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"plybook/reports/answer"
	"plybook/reports/document"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// inShort opens the report, before its contents: the readings of the questions
// that the front matter names, each with a link to where the whole answer
// stands. Where the report is printed in short there are a line or two of each,
// and what is to be decided.
func (r *report) inShort() []document.Block {
	short := r.nb.Front.Print == notebook.Short
	var out []document.Block
	if len(r.nb.Front.InShort) > 0 {
		out = append(out, document.Heading{Level: 1, Text: "In short", ID: "in-short"})
	}
	list := document.List{}
	for _, p := range r.nb.Front.InShort {
		for _, a := range r.answers {
			if a.ID != p.Text {
				continue
			}
			reading := a.Reading
			if short {
				reading = a.Short
			}
			if a.Error != nil {
				reading = "Not answered: " + a.Error.Text + "."
			}
			list.Items = append(list.Items, []document.Span{{Text: titleOf(a), Bold: true, Link: "#" + a.ID}, {Text: " " + reading}})
		}
	}
	if len(list.Items) > 0 {
		out = append(out, list)
	}
	if short {
		out = append(out, r.toDecide()...)
	}
	if len(out) == 0 {
		return nil
	}
	out = r.style().Blocks(out, r.written()...)
	return append(out, document.Contents{}, document.PageBreak{})
}

// point is a thing to decide.
type point struct {
	urgency answer.Urgency
	spans   []document.Span
}

// toDecide lists what asks for a decision, the most urgent first: units beyond
// their limits and sums that came to theirs, signals on the worse side, reviews
// that are due, goals missed and units to be watched, and what is recorded too
// seldom; then what the largest known parts are, and the reviews that lie ahead.
func (r *report) toDecide() []document.Block {
	if len(r.nb.Decisions()) == 0 && !r.watched() {
		return nil
	}
	var points []point
	var largest []document.Span
	for _, a := range r.answers {
		switch {
		case a.Attention == "" || a.Error != nil:
		case a.Urgency == answer.Known:
			if len(largest) > 0 {
				largest = append(largest, document.Span{Text: ";"})
			}
			text := a.Attention
			if len(largest) > 0 {
				text = strings.ToLower(text[:1]) + text[1:]
			}
			largest = append(largest, document.Span{Text: " "}, document.Span{Text: text, Link: "#" + a.ID})
		default:
			points = append(points, point{a.Urgency, []document.Span{{Text: titleOf(a), Bold: true, Link: "#" + a.ID}, {Text: " " + a.Attention + "." + r.nextOf(a)}}})
		}
	}
	var ahead []*notebook.Decision
	for _, d := range r.nb.Decisions() {
		what := strings.TrimSuffix(d.What, ".")
		switch {
		case d.Err != nil || d.NewPhase && r.due(d): // a new phase says that it has been looked at
		case r.due(d):
			spans := []document.Span{{Text: "Review was due on " + words.Date(*d.Review) + ".", Bold: true}, {Text: " " + what + "."}}
			if s := r.since(d); s != "" {
				spans = append(spans, document.Span{Text: " Since then: " + s + "."})
			}
			points = append(points, point{answer.Review, spans})
		case d.Review != nil:
			ahead = append(ahead, d)
		}
	}
	slices.SortStableFunc(points, func(a, b point) int { return cmp.Compare(a.urgency, b.urgency) })
	var list document.List
	for _, p := range points {
		list.Items = append(list.Items, p.spans)
	}
	out := []document.Block{document.Heading{Level: 1, Text: "To decide", ID: "to-decide"}}
	if len(list.Items) == 0 {
		out = append(out, document.Text("Nothing has a signal on its worse side, lies outside its limits or misses its goal, and no review is due."))
	} else {
		out = append(out, list)
	}
	if len(largest) > 0 {
		out = append(out, document.Paragraph{Spans: append(append([]document.Span{{Text: "Largest known.", Bold: true}}, largest...), document.Span{Text: "."})})
	}
	if len(ahead) > 0 && r.room == nil { // else a table has them
		out = append(out, reviews(ahead))
	}
	return out
}

// nextOf says which open decision follows an answer; of what is recorded too
// seldom none is looked for.
func (r *report) nextOf(a *answer.Answer) string {
	if a.Urgency == answer.Data {
		return ""
	}
	next := " No open decision follows this " + map[bool]string{true: "chart", false: "question"}[a.Method == "control-chart"] + "."
	for _, d := range r.nb.Decisions() {
		if d.Err == nil && d.Follows == a.ID && !r.due(d) {
			next = " Decided on " + words.Date(d.On)
			if d.Review != nil {
				next += ", review on " + words.Date(*d.Review)
			}
			next += "."
		}
	}
	return next
}

// reviews tells the reviews that lie ahead, day by day.
func reviews(ahead []*notebook.Decision) document.Paragraph {
	slices.SortStableFunc(ahead, func(a, b *notebook.Decision) int { return cmp.Compare(*a.Review, *b.Review) })
	spans := []document.Span{{Text: "Reviews ahead.", Bold: true}}
	for i, d := range ahead {
		if i == 0 || *d.Review != *ahead[i-1].Review {
			spans = append(spans, document.Span{Text: fmt.Sprintf(" On %s:", words.Date(*d.Review))})
		}
		spans = append(spans, document.Span{Text: " " + strings.TrimSuffix(d.What, ".") + "."})
	}
	return document.Paragraph{Spans: spans}
}

// watched says whether a question is answered by what a meeting decides by.
func (r *report) watched() bool {
	return slices.ContainsFunc(r.answers, func(a *answer.Answer) bool {
		return a.Attention != "" || slices.Contains([]string{"control-chart", "cumulative-sum", "segmented", "funnel"}, a.Method)
	})
}

// due says whether the day of review of a decision has come.
func (r *report) due(d *notebook.Decision) bool { return d.Review != nil && *d.Review <= r.today }

// definitions says what the columns worked out from the log mean, of those
// that the questions use; for readers outside the lab.
func (r report) definitions() []document.Block {
	if r.nb.Front.Audience == notebook.Quality {
		return nil
	}
	t := document.Table{ID: "definitions-table", Caption: "What the words of this report stand for", Columns: []document.TableColumn{{Head: "Word"}, {Head: "Meaning", Wide: true}}}
	for _, d := range answer.Definitions(r.nb.Asks(), r.sets, r.nb.Front.EarlyRemakeDays) {
		t.Rows = append(t.Rows, []string{d.Word, d.Meaning})
	}
	if len(t.Rows) == 0 {
		return nil
	}
	return []document.Block{document.Heading{Level: 1, Text: "Appendix: definitions", ID: "definitions"}, t}
}
