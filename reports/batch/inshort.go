package batch

import (
	"plybook/reports/answer"
	"plybook/reports/document"
	"plybook/reports/notebook"
)

// inShort is a page of its own: the readings of the questions that the front
// matter names, each with a link to where the whole answer stands. A table
// keeps them on one page.
func (r report) inShort() []document.Block {
	if len(r.nb.Front.InShort) == 0 {
		return nil
	}
	t := document.Table{ID: "in-short-table", Columns: []document.TableColumn{{Head: "Question", Wide: true}, {Head: "Answer", Wide: true}}}
	for _, p := range r.nb.Front.InShort {
		for _, a := range r.answers {
			if a.ID != p.Text {
				continue
			}
			reading := a.Reading
			if a.Error != nil {
				reading = "Not answered: " + a.Error.Text + "."
			}
			t.Rows = append(t.Rows, []string{"", reading})
			t.Link(len(t.Rows)-1, 0, []document.Span{{Text: a.Question, Link: "#" + a.ID}})
		}
	}
	return []document.Block{document.PageBreak{}, document.Heading{Level: 1, Text: "In short", ID: "in-short"}, t, document.PageBreak{}}
}

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
