package batch

import (
	"slices"
	"strings"

	"plybook/reports/answer"
	"plybook/reports/document"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// behind gathers what a report that has its main part first keeps for the
// appendix.
type behind struct {
	further []document.Block // tables and figures, each question under a head
	of      []worked
	tables  document.Counter
	figures document.Counter
}

// worked is how an answer was worked out.
type worked struct{ id, methods string }

// furtherID is the target of what stands behind of an answer.
func furtherID(id string) string { return id + "-further" }

// part keeps of an answer the reading, the main figure and table and the
// cautions, and puts the rest behind.
func (b *behind) part(a *answer.Answer, ask *notebook.Ask, made []document.Block) []document.Block {
	id := blockID(a, ask)
	var main, rest []document.Block
	further := false
	for _, x := range made {
		switch x := x.(type) {
		case document.Figure:
			further = !isMain(a, ask, x.Figure.ID, !slices.ContainsFunc(main, isFigure))
			x.Further = further
			if further {
				rest = append(rest, x)
			} else {
				main = append(main, x)
			}
		case document.Table:
			further = !isMain(a, ask, x.ID, !slices.ContainsFunc(main, isTable) && !(len(a.Figures) > 0 && a.Figures[0].Told))
			x.Further = further
			if further {
				rest = append(rest, x)
			} else {
				main = append(main, x)
			}
		case document.Note, document.Heading:
			main = append(main, x)
			further = false
		case document.Paragraph:
			switch {
			case isMethod(x):
				b.of = append(b.of, worked{id, a.Methods})
			case further: // it belongs to the table before it
				rest = append(rest, x)
			default:
				main = append(main, x)
			}
		default:
			main = append(main, x)
		}
	}
	if len(rest) == 0 {
		return main
	}
	b.further = append(b.further, document.Heading{Level: 2, Quiet: true, Text: titleOf(a), ID: furtherID(id)})
	b.further = append(b.further, rest...)
	return append(main, document.Paragraph{Style: "small", Spans: []document.Span{{Text: "Further: "}, {Text: b.named(rest), Link: "#" + furtherID(id)}, {Text: "."}}})
}

func isFigure(b document.Block) bool { _, ok := b.(document.Figure); return ok }

func isTable(b document.Block) bool { _, ok := b.(document.Table); return ok }

// isMethod says whether a paragraph says how an answer was worked out.
func isMethod(p document.Paragraph) bool {
	return p.Style == "small" && len(p.Spans) == 2 && p.Spans[0].Bold && strings.HasPrefix(p.Spans[0].Text, "Method")
}

// isMain says whether a table or figure is of the main part: as the answer
// names them; of a question with profiles what is foretold of these; otherwise
// as it comes first.
func isMain(a *answer.Answer, ask *notebook.Ask, id string, first bool) bool {
	switch predicted := a.ID + "-predicted"; {
	case len(a.Main) > 0:
		return slices.Contains(a.Main, id)
	case len(ask.Profiles) > 0 && slices.ContainsFunc(a.Print, func(b document.Block) bool {
		t, ok := b.(document.Table)
		return ok && t.ID == predicted
	}):
		return id == predicted
	}
	return first
}

// named is what stands behind by its numbers: "Figure S2, Tables S3 and S4".
func (b *behind) named(rest []document.Block) string {
	var figures, tables []string
	for _, x := range rest {
		switch x := x.(type) {
		case document.Figure:
			if strings.TrimSpace(x.Caption) != "" {
				figures = append(figures, b.figures.Next(true))
			}
		case document.Table:
			if strings.TrimSpace(x.Caption) != "" {
				tables = append(tables, b.tables.Next(true))
			}
		}
	}
	var out []string
	for _, of := range []struct {
		one, many string
		list      []string
	}{{"Figure ", "Figures ", figures}, {"Table ", "Tables ", tables}} {
		switch len(of.list) {
		case 0:
		case 1:
			out = append(out, of.one+of.list[0])
		default:
			out = append(out, of.many+words.List(of.list))
		}
	}
	if len(out) == 0 {
		return "more of this question"
	}
	return strings.Join(out, ", ")
}

// appendix is the chapter of further tables and figures, each question with
// the number that it has in the main part.
func (b *behind) appendix(numbers map[string]string) []document.Block {
	if len(b.further) == 0 {
		return nil
	}
	out := []document.Block{document.Heading{Level: 1, Text: "Appendix: further tables and figures", ID: "further"}}
	for _, x := range b.further {
		if h, ok := x.(document.Heading); ok {
			if n := numbers[strings.TrimSuffix(h.ID, furtherID(""))]; n != "" {
				h.Text = "To " + n + ". " + h.Text
			}
			x = h
		}
		out = append(out, x)
	}
	return out
}

// beforeReferences puts sentences before the list of references, or at the end
// where there is none.
func beforeReferences(blocks, sentences []document.Block) []document.Block {
	at := slices.IndexFunc(blocks, func(b document.Block) bool {
		h, ok := b.(document.Heading)
		return ok && h.ID == "references"
	})
	if at < 0 {
		at = len(blocks)
	}
	return slices.Insert(blocks, at, sentences...)
}

// methods are the sentences on methods, question by question; one that was
// printed before is not repeated but referred to. written puts a sentence in the
// reader's way of writing numbers, which the numbers of questions are not.
func (b *behind) methods(numbers map[string]string, written func(string) string) []document.Block {
	var out []document.Block
	printed := map[string]string{} // the question of each sentence, by its number
	place := map[string]int{}
	for i, w := range b.of {
		at := numbers[w.id]
		place[at] = i
		var own, as []string
		for _, s := range words.Sentences(w.methods) {
			if before, ok := printed[s]; ok {
				if !slices.Contains(as, before) {
					as = append(as, before)
				}
				continue
			}
			printed[s] = at
			own = append(own, written(s))
		}
		if len(as) > 0 {
			what := "The rest as"
			if len(own) == 0 {
				what = "As"
			}
			slices.SortFunc(as, func(a, b string) int { return place[a] - place[b] })
			own = append(own, what+" under "+words.List(as)+".")
		}
		p := document.Paragraph{Style: "small", Spans: []document.Span{{Text: at + " ", Bold: true, Link: "#" + w.id}, {Text: strings.Join(own, " ")}}}
		out = append(out, p)
	}
	return out
}

// opening is how many words of a caution that stands in full elsewhere are
// printed.
const opening = 7

// once prints a caution in full where it comes first; a later question that
// has the same is sent there. It stands beside every answer that it is about.
func once(blocks []document.Block) []document.Block {
	numbers := sections(blocks)
	first := map[string]document.Span{} // links by text
	var at document.Span
	out := slices.Clone(blocks)
	for i, b := range out {
		switch b := b.(type) {
		case document.Heading:
			at = document.Span{Text: numbers[b.ID], Link: "#" + b.ID}
		case document.Note:
			if b.Kind != "caution" || at.Text == "" {
				continue
			}
			var paras []document.Paragraph
			var again []document.Span
			for _, p := range b.Paras {
				text := ""
				for _, s := range p.Spans {
					text += s.Text
				}
				link, ok := first[text]
				switch {
				case !ok:
					first[text] = at
					paras = append(paras, p)
				case len(strings.Fields(text)) <= 2*opening: // no longer than what would stand in its place
					paras = append(paras, p)
				default:
					again = append(again, document.Span{Text: "“" + strings.Join(strings.Fields(text)[:opening], " ") + " …” ("}, link, document.Span{Text: "); "})
				}
			}
			if len(again) > 0 {
				again[len(again)-1].Text = ")."
				paras = append(paras, document.Paragraph{Spans: append([]document.Span{{Text: "As said in full before: "}}, again...)})
			}
			b.Paras = paras
			out[i] = b
		}
	}
	return out
}
