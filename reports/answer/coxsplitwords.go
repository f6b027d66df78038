package answer

import (
	"fmt"
	"math"
	"strings"

	"plybook/reports/document"
	"plybook/reports/words"
)

// splitSentences says the ratios of one category, or of a number, part by part.
func (w *work) splitSentences(es []estimate, ways ratioSides, terms []*splitTerm, first bool) []string {
	var t *splitTerm
	for _, x := range terms {
		if x.name == es[0].column.Term {
			t = x
		}
	}
	var out []string
	for k, e := range es {
		if t.number && len(es) > mostRead && k >= mostRead-1 {
			out = append(out, "The other events stand in the table.")
			break
		}
		part := w.partWords(t.parts[k])
		if t.number {
			part = "for " + t.parts[k].name
		}
		whole := e
		whole.column.Part = ""
		number := w.ratioNumber(e, first && k == 0) + ways.way(e)
		if k == 0 {
			out = append(out, fmt.Sprintf("The %s for %s is, %s, %s.", ways.measure, comparedIn(whole), part, number))
		} else {
			out = append(out, fmt.Sprintf("%s it is %s.", words.Capital(part), number))
		}
	}
	for _, x := range t.pooled {
		if x.column.Category == es[0].column.Category {
			lo, hi := math.Exp(x.low), math.Exp(x.high)
			out = append(out, fmt.Sprintf("Drawn together over all events it is %s (%s).", words.RatioWithin(math.Exp(x.value), lo, hi), words.RatioRange(lo, hi)))
		}
	}
	return out
}

// splitVerdict says whether the ratios of a column differ between parts; empty
// where it is not split or that is not tested.
func splitVerdict(term string, terms []*splitTerm) string {
	for _, t := range terms {
		if t.name != term || t.same == nil {
			continue
		}
		verdict := "differ from part to part by more than chance alone would often give"
		if t.same.P >= 0.05 {
			verdict = "do not differ from part to part by more than chance alone would often give"
		}
		return fmt.Sprintf("The ratios for %s %s (%s).", t.label, verdict, words.PEquals(t.same.P))
	}
	return ""
}

// splitPrint is the printed table of the parts.
func (w *work) splitPrint(terms []*splitTerm) {
	if len(terms) == 0 {
		return
	}
	_, many := w.nouns()
	out := document.Table{ID: w.ask.ID + "-split", Caption: "Parts in which effects are let differ", Columns: []document.TableColumn{
		{Head: "Term", Wide: true}, {Head: "Part"}, {Head: words.Capital(many) + " at risk", Align: document.Right}, {Head: "Events", Align: document.Right}}}
	hide := w.partsHidden(terms)
	byTime := false
	for _, t := range terms {
		byTime = byTime || !t.number
		for _, p := range t.parts {
			cells := []string{words.Capital(t.label), words.Capital(p.name), "hidden", "hidden"}
			if !hide {
				cells[2], cells[3] = w.cell(len(p.subjects)), w.cell(p.events)
			}
			out.Rows = append(out.Rows, cells)
		}
		if t.same != nil {
			out.Notes = append(out.Notes, fmt.Sprintf("Test that the effect of %s is the same in all parts: %s.", t.label, words.PEquals(t.same.P)))
		}
		for _, x := range t.pooled {
			lo, hi := math.Exp(x.low), math.Exp(x.high)
			name := t.label
			if x.column.Category != "" {
				name += " " + x.column.Category
			}
			out.Notes = append(out.Notes, fmt.Sprintf("Drawn together over all events, the hazard ratio for %s is %s (%s %s).", name, words.RatioWithin(math.Exp(x.value), lo, hi), w.confidenceWords(), words.RatioRange(lo, hi)))
		}
	}
	if byTime {
		out.Notes = append(out.Notes, "Where times were chosen after looking at the curves, such a test finds differences too easily.")
	}
	w.print(out)
}

// splitMethods is the sentence for a paper.
func (w *work) splitMethods(terms []*splitTerm, clustered bool) string {
	var byTime, byNumber []string
	tested, pooled := false, false
	for _, t := range terms {
		tested, pooled = tested || t.same != nil, pooled || len(t.pooled) > 0
		if t.number {
			byNumber = append(byNumber, t.label)
			continue
		}
		var at []string
		for _, p := range t.parts[1:] {
			at = append(at, words.At(p.from))
		}
		byTime = append(byTime, fmt.Sprintf("%s at %s", t.label, words.List(at)))
	}
	var m strings.Builder
	if len(byTime) > 0 {
		fmt.Fprintf(&m, " The effect of %s was let differ between stretches of time, split for %s: rows were cut there (counting-process form) and the column entered once for each stretch.", words.List(labelsOf(terms, false)), words.List(byTime))
	}
	if len(byNumber) > 0 {
		fmt.Fprintf(&m, " The effect of %s was let differ between the first, second and later events; numbers with fewer than %d events for each ratio share one with the later ones.", words.List(byNumber), fewInPart)
	}
	if tested {
		m.WriteString(" That it is the same in all parts was tested by Wald's test")
		if clustered {
			m.WriteString(" with the robust covariance")
		}
		m.WriteString(".")
	}
	if pooled {
		m.WriteString(" Effects of all numbers were drawn together with the weights that make the error least (Wei, Lin and Weissfeld).")
	}
	return m.String()
}

func labelsOf(terms []*splitTerm, number bool) []string {
	var out []string
	for _, t := range terms {
		if t.number == number {
			out = append(out, t.label)
		}
	}
	return out
}

func (w *work) splitReferences(terms []*splitTerm) []string {
	var out []string
	if len(labelsOf(terms, false)) > 0 {
		out = append(out, "Therneau TM, Grambsch PM. Modeling survival data: extending the Cox model. New York: Springer; 2000.")
	}
	if len(labelsOf(terms, true)) > 0 && w.ask.Repeats != "marginal" {
		out = append(out, repeatsReferences["marginal"])
	}
	return out
}

// together gathers estimates of one column and category, in whatever parts.
func together(es []estimate) [][]estimate {
	var out [][]estimate
	at := map[[2]string]int{}
	for _, e := range es {
		key := [2]string{e.column.Term, e.column.Category}
		k, ok := at[key]
		if !ok || e.column.Part == "" {
			k = len(out)
			at[key], out = k, append(out, nil)
		}
		out[k] = append(out[k], e)
	}
	return out
}
