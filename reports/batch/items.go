package batch

import (
	"regexp"
	"slices"
	"strings"
	"unicode"

	"plybook/reports/answer"
	"plybook/reports/document"
	"plybook/reports/notebook"
)

// place is where something stands in the report: a number or name to print,
// and the target that it leads to, if there is one.
type place struct{ text, target string }

// guideItem is an item of a reporting guideline, in our own words.
type guideItem struct {
	number, asks string
	// from are where what it asks for may stand; nothing is listed that is not
	// in the report.
	from []evidence
	// rest is what no log and no calculation can tell, left to the authors even
	// where something is found.
	rest string
}

// evidence finds the places of one kind.
type evidence func(g *guided) []place

// guide is a list of items with its source.
type guide struct {
	name, source string
	items        []guideItem
}

// guided is the report as items are looked up in it.
type guided struct {
	front    notebook.Front
	asks     []*notebook.Ask
	answers  []*answer.Answer
	decided  bool
	sections map[string]string // numbers of headings by their targets
	written  []writing
}

// writing is a heading of the authors, or the words in bold that open a
// paragraph of theirs, with the heading under which they stand.
type writing struct{ text, under string }

// answeredBy finds the questions answered by one of the methods.
func answeredBy(methods ...string) evidence {
	return askedWhere(func(a *notebook.Ask) bool { return slices.Contains(methods, a.Method) })
}

// askedWhere finds the questions answered that are so.
func askedWhere(is func(*notebook.Ask) bool) evidence {
	return func(g *guided) (out []place) {
		for i, a := range g.answers {
			if ask := g.asks[i]; a.Error == nil && is(ask) {
				id := blockID(a, ask)
				text := g.sections[id]
				if text == "" {
					text = a.ID
				}
				out = append(out, place{text, id})
			}
		}
		return out
	}
}

// regression are the methods that estimate effects of columns.
var regression = []string{"cox", "fine-gray", "weibull", "exponential", "log-normal", "log-logistic", "generalised-gamma", "linear", "logistic", "poisson",
	"negative-binomial", "ordinal", "mixed", "mixed-logistic", "mixed-poisson", "mixed-ordinal", "maturation"}

// lifetimes are the methods that follow sockets until they end.
var lifetimes = []string{"kaplan-meier", "turnbull", "cumulative-incidence", "mean-cumulative", "cox", "fine-gray", "weibull", "exponential", "log-normal", "log-logistic", "generalised-gamma"}

func isModel(a *notebook.Ask) bool { return slices.Contains(regression, a.Method) }

func isAdjusted(a *notebook.Ask) bool { return isModel(a) && a.By != "" && len(a.Adjust) > 0 }

// isCrude says whether groups are compared as they are.
func isCrude(a *notebook.Ask) bool {
	return a.By != "" && len(a.Adjust) == 0 && (isModel(a) || slices.Contains([]string{"kaplan-meier", "cumulative-incidence", "mean-cumulative"}, a.Method))
}

// section finds a part of the appendix.
func section(target, name string) evidence {
	return func(g *guided) []place {
		n, ok := g.sections[target]
		if !ok {
			return nil
		}
		return []place{{strings.TrimSpace(n + " " + name), target}}
	}
}

// written finds headings, and words in bold that open a paragraph, with one of
// the words in them.
func written(words ...string) evidence {
	return func(g *guided) (out []place) {
		for _, x := range g.written {
			if begins(x.text, words) {
				out = append(out, place{"the authors' “" + strings.TrimRight(x.text, ".: ") + "”", x.under})
			}
		}
		return out
	}
}

// begins says whether a word of the text begins with one of those given.
func begins(text string, words []string) bool {
	low := " " + strings.NewReplacer("-", " ", "(", " ").Replace(strings.ToLower(text))
	return slices.ContainsFunc(words, func(w string) bool { return strings.Contains(low, " "+w) })
}

// titled finds a title that says one of the words.
func titled(words ...string) evidence {
	return func(g *guided) []place {
		if begins(g.front.Title+" "+g.front.Subtitle, words) {
			return []place{{"title", ""}}
		}
		return nil
	}
}

// dated finds the period that the first page states: of a report without `from`
// it tells the data cut alone, unless the title has the years.
func dated(g *guided) []place {
	switch {
	case g.front.From != nil:
		return []place{{"period on the first page", ""}}
	case year.MatchString(g.front.Title + " " + g.front.Subtitle):
		return []place{{"title", ""}}
	}
	return nil
}

var year = regexp.MustCompile(`\b(19|20)\d\d\b`)

// open are passages in square brackets, which are still to be written.
var open = regexp.MustCompile(`\[[^\]]*\]`)

// begun says whether behind the opening words of a paragraph something is
// written already.
func begun(spans []document.Span) bool {
	text := ""
	for _, s := range spans {
		text += s.Text
	}
	return strings.ContainsFunc(open.ReplaceAllString(text, ""), func(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) })
}

// decisionsTold finds the decisions of the notebook.
func decisionsTold(g *guided) []place {
	if !g.decided {
		return nil
	}
	var out []place
	for _, id := range []string{"open-decisions-list", "reviewed-decisions-list"} {
		if n, ok := g.sections[id]; ok {
			out = append(out, place{strings.TrimSpace(n + " decisions"), id})
		}
	}
	return out
}

// guides are the lists that the front matter may ask for, by their word.
func guides() map[string]guide {
	return map[string]guide{"strobe": strobe(), "record": record(), "squire": squire()}
}

// writings are the headings and opening words of the authors' text. Words in
// bold count as opening where they are the first of a paragraph and something
// but what is still to be written, in square brackets, follows.
func (r report) writings() (out []writing) {
	under := ""
	for _, p := range r.nb.Parts {
		prose, ok := p.(notebook.Prose)
		if !ok {
			continue
		}
		document.Walk(prose.Blocks, func(b document.Block) {
			switch b := b.(type) {
			case document.Heading:
				under = b.ID
				out = append(out, writing{b.Text, under})
			case document.Paragraph:
				if len(b.Spans) > 1 && b.Spans[0].Bold && begun(b.Spans[1:]) {
					out = append(out, writing{b.Spans[0].Text, under})
				}
			}
		})
	}
	return out
}

// itemMap is the appendix that says, for each item of the guidelines asked
// for, where in this report something about it stands, and what remains for
// the authors.
func (r report) itemMap(blocks []document.Block) []document.Block {
	if len(r.nb.Front.ItemMap) == 0 {
		return nil
	}
	g := &guided{front: r.nb.Front, asks: r.nb.Asks(), answers: r.answers, decided: len(r.nb.Decisions()) > 0, sections: sections(blocks), written: r.writings()}
	out := []document.Block{document.Heading{Level: 1, Text: "Appendix: where each item is answered", ID: "item-map"},
		document.Text("Items of reporting guidelines in short words of our own, with their numbers. A place is listed only where this report has it: a question that was answered, a part of the appendix, or text of the authors under a heading or opening words that name the matter. That something stands there does not say that it is enough. The guideline itself is the measure; numbers and items were written from memory of the published lists, and are to be held against them before a paper is sent.")}
	for _, name := range r.nb.Front.ItemMap {
		out = append(out, guides()[name].table(name, g), document.Styled("small", guides()[name].source))
	}
	return out
}

// mostPlaces is how many places of an item are listed one by one.
const mostPlaces = 8

func (x guide) table(name string, g *guided) document.Table {
	t := document.Table{ID: "items-" + name, Caption: x.name, Columns: []document.TableColumn{
		{Head: "Item"}, {Head: "What it asks for", Wide: true}, {Head: "Where in this report", Wide: true}, {Head: "Remains for the authors", Wide: true}}}
	for _, it := range x.items {
		var places []place
		for _, find := range it.from {
			for _, p := range find(g) {
				if !slices.Contains(places, p) {
					places = append(places, p)
				}
			}
		}
		rest := it.rest
		if len(places) == 0 {
			rest = "all of it"
		}
		t.Rows = append(t.Rows, []string{it.number, it.asks, "", rest})
		row := len(t.Rows) - 1
		if len(places) == 0 {
			t.Rows[row][2] = "not found"
			continue
		}
		var spans []document.Span
		for k, p := range places {
			if k == mostPlaces {
				spans = append(spans, document.Span{Text: " and others"})
				break
			}
			if k > 0 {
				spans = append(spans, document.Span{Text: ", "})
			}
			s := document.Span{Text: p.text}
			if p.target != "" {
				s.Link = "#" + p.target
			}
			spans = append(spans, s)
		}
		t.Link(row, 2, spans)
	}
	return t
}
