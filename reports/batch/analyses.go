package batch

import (
	"slices"
	"strings"

	"plybook/reports/answer"
	"plybook/reports/document"
	"plybook/reports/notebook"
	"plybook/reports/numbers"
	"plybook/reports/words"
)

// analyses lists every question of the notebook with what it was asked of, so
// that a reader sees what else was looked at. sections are the numbers of the
// headings, by their targets.
func (r report) analyses(sections map[string]string) []numbers.Analysis {
	asks := r.nb.Asks()
	out := make([]numbers.Analysis, len(r.answers))
	for i, a := range r.answers {
		ask := asks[i]
		x := numbers.Analysis{ID: a.ID, Question: a.Question, Method: a.Method, RowsOf: countedRows(ask), By: ask.By,
			Section: sections[blockID(a, ask)], Answered: a.Error == nil}
		if a.Error == nil {
			x.RowsHidden, x.EventsHidden = withheld(a, "rows"), withheld(a, "events")
			if n := a.Rows; n > 0 && !x.RowsHidden {
				x.Rows = &n
			}
			if n := a.Events; a.HasEvents && !x.EventsHidden {
				x.Events = &n
			}
			x.Groups, x.Terms = compared(a, ask)
			for _, c := range a.Cautions {
				if !slices.Contains(x.Cautions, c.Code) {
					x.Cautions = append(x.Cautions, c.Code)
				}
			}
		}
		out[i] = x
	}
	return out
}

// countedRows are the rows asked of, or the measurements that they are the
// stations of; where none are written, sockets, but for the map of findings.
func countedRows(ask *notebook.Ask) string {
	switch {
	case answer.Measured(ask) || ask.Method == "maturation":
		return "measurements"
	case ask.Rows != "":
		return ask.Rows
	case ask.Method == "findings-map":
		return "visits"
	}
	return "sockets"
}

func withheld(a *answer.Answer, column string) bool {
	return slices.ContainsFunc(a.Hidden, func(h answer.HiddenCell) bool { return h.Table == "" && h.Column == column })
}

// compared counts the groups that an answer compares and names the columns
// whose effects it estimates.
func compared(a *answer.Answer, ask *notebook.Ask) (groups int, terms []string) {
	seen := map[string]bool{}
	for _, t := range a.Tables {
		for _, name := range []string{"group", "unit"} {
			c := slices.IndexFunc(t.Columns, func(c answer.Column) bool { return c.Name == name })
			if c < 0 || ask.By == "" || len(t.Rows) == 0 {
				continue
			}
			for _, row := range t.Rows {
				// A difference of two groups is no group.
				if g, ok := row[c].(string); ok && g != "all" && !strings.Contains(g, " - ") && !strings.Contains(g, " / ") {
					seen[g] = true
				}
			}
			return len(seen), nil
		}
		if t.Name != "terms" {
			continue
		}
		c := slices.IndexFunc(t.Columns, func(c answer.Column) bool { return c.Name == "term" })
		if c < 0 {
			continue
		}
		for _, row := range t.Rows {
			term, ok := row[c].(string)
			if season := strings.HasPrefix(term, "season_"); season && (a.Method == "forecast" || a.Method == "segmented") {
				term = "season" // a cosine and a sine, which mean nothing one by one
			}
			if ok && term != "intercept" && !slices.Contains(terms, term) {
				terms = append(terms, term)
			}
		}
		return 0, terms
	}
	return 0, nil
}

// sections are the numbers of headings by their targets.
func sections(blocks []document.Block) map[string]string {
	out := map[string]string{}
	for _, e := range document.Number(blocks).Entries {
		if _, ok := out[e.ID]; !ok {
			out[e.ID] = e.Number
		}
	}
	return out
}

// analysesList is the list in print.
func (r report) analysesList(list []numbers.Analysis) []document.Block {
	if len(list) == 0 || r.nb.Front.Audience == notebook.Quality {
		return nil
	}
	asks := r.nb.Asks()
	t := document.Table{ID: "analyses-table", Caption: "All analyses that were run", Columns: []document.TableColumn{
		{Head: "Question", Wide: true}, {Head: "Method, rows and events"}, {Head: "Groups or terms", Wide: true}, {Head: "Cautions", Wide: true}}}
	for i, x := range list {
		what := x.Method
		if n := number(x.Rows, x.RowsHidden); n != "" {
			what += "\n" + n + " " + x.RowsOf
		}
		if n := number(x.Events, x.EventsHidden); n != "" {
			what += ", events: " + n
		}
		said := strings.ReplaceAll(strings.Join(x.Cautions, "; "), "-", " ")
		if !x.Answered {
			said = "not answered"
		}
		t.Rows = append(t.Rows, []string{"", what, x.GroupsOrTerms(), said})
		question, at := x.Question, x.Section
		if question == "" {
			question = x.ID
		}
		if at == "" {
			at = "here"
		}
		t.Link(i, 0, []document.Span{{Text: at, Link: "#" + blockID(r.answers[i], asks[i])}, {Text: "  " + question}})
	}
	return []document.Block{document.Heading{Level: 1, Text: "Appendix: all analyses", ID: "analyses"},
		document.Text("Every question of the notebook, in its order, whatever came of it. What was looked at beside an answer tells how much it is worth: of many comparisons some stand out by chance."), t}
}

func number(n *int, hidden bool) string {
	switch {
	case hidden:
		return hiddenWord
	case n == nil:
		return ""
	}
	return words.Fixed(float64(*n), 0)
}
