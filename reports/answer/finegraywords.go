package answer

import (
	"fmt"
	"math"
	"strings"

	"plybook/analysis/design"
	"plybook/reports/document"
	"plybook/reports/words"
)

func (w *work) fineGrayReading(l *lives, es []estimate, predicted *Table, others int, curves []string) string {
	ev := l.causes[0]
	parts := append(w.ratioSentences(es, shareSides(ev)), curves...)
	rests := fmt.Sprintf("%s of %s, all terms taken together; %s %s and %s ended otherwise.", itIs(len(parts), "ratio", "ratios"),
		w.n(w.Answer.Rows, "socket", "sockets"), w.countOnly(w.Events), w.agree(w.Events, "was "+ev.past, "were "+ev.past), w.countOnly(others))
	w.shortOfTerms(parts, rests)
	return strings.Join(append(parts, rests), " ") + w.predictedPhrase(predicted, ev) + " " + notHowFar
}

// shareSides are what a subdistribution ratio above and below 1 means; never
// how many times anything is.
func shareSides(ev cause) ratioSides {
	return ratioSides{measure: "subdistribution ratio", above: "the share ever " + ev.past + " is larger", below: "the share ever " + ev.past + " is smaller"}
}

// predictedPhrase says the shares predicted by the last time that has them.
func (w *work) predictedPhrase(t *Table, ev cause) string {
	return w.predictedAt(t, "to be "+ev.past+" by")
}

// predictedAt says what a table of predictions holds for the last time that
// has any; what ends with "by" or "at".
func (w *work) predictedAt(t *Table, what string) string {
	at := -1.0
	for _, r := range t.Rows {
		if r[2] != nil {
			at = math.Max(at, r[1].(float64))
		}
	}
	var parts []string
	for _, r := range t.Rows {
		e, ok := r[2].(float64)
		if !ok || r[1] != at || len(parts) == 4 {
			continue
		}
		part := fmt.Sprintf("%s of those with %s", words.Percent(e, 100), r[0])
		lo, ok1 := r[4].(float64)
		hi, ok2 := r[5].(float64)
		if ok1 && ok2 {
			part = fmt.Sprintf("%s of those with %s (%s)", words.PercentWithin(e, lo, hi), r[0], words.PercentRange(lo, hi))
		}
		parts = append(parts, part)
	}
	if len(parts) == 0 {
		return ""
	}
	return fmt.Sprintf(" Predicted %s %s: %s.", what, words.At(at), strings.Join(parts, "; "))
}

// fineGrayPrint is the printed table: the ratios of the share, and beside
// them those among sockets still in use.
func (w *work) fineGrayPrint(l *lives, es, specific []estimate) document.Block {
	t := document.Table{ID: w.ask.ID + "-terms", Caption: "Ratios, term by term, all terms in the model together: of the share ever " + l.causes[0].past + ", and of the hazard while still in use", Columns: []document.TableColumn{
		{Head: "Term", Wide: true}, {Head: "Compared with"}, {Head: "Subdistribution ratio", Align: document.Right}, {Head: "p", Align: document.Right},
		{Head: "Hazard ratio, still in use", Align: document.Right}, {Head: "p", Align: document.Right}},
		Notes: []string{"In brackets: " + w.confidenceWords() + ". Above 1, the share is larger; how much larger the ratio does not say. The hazard ratio is of Cox regression of the same terms, other endings censored."}}
	cells := func(e estimate) []string {
		r := math.Exp(e.value)
		if e.noInterval {
			return []string{words.Ratio(r), words.NotComputed}
		}
		lo, hi := math.Exp(e.low), math.Exp(e.high)
		return []string{words.RatioWithin(r, lo, hi) + " (" + words.RatioRange(lo, hi) + ")", words.P(e.p)}
	}
	for j, e := range es {
		if e.column.Piece > 1 {
			continue
		}
		name := words.Capital(e.column.Label)
		if e.column.Piece == 1 {
			t.Rows = append(t.Rows, []string{name + ", as a curve", "", "see its table", w.curveP(e.column.Term), "", ""})
			continue
		}
		switch {
		case e.column.Category != "":
			name += ": " + e.column.Category
		case e.column.Unit != "":
			name += ", per " + perUnit(e.column.Unit)
		}
		row := append([]string{name, e.column.Reference}, cells(e)...)
		if j < len(specific) {
			row = append(row, cells(specific[j])...)
		} else {
			row = append(row, words.NotComputed, words.NotComputed)
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// sharePrint is the printed table of predicted shares.
func (w *work) sharePrint(t *Table, past string) document.Block {
	out := document.Table{ID: w.ask.ID + "-predicted", Caption: "Predicted share " + past, Columns: []document.TableColumn{{Head: "Socket", Wide: true}},
		Notes: []string{"In brackets: " + w.confidenceWords() + ". Other endings compete. What is not named has its reference category, or the mean of the rows used. A prediction is for a group of such sockets, not for one."}}
	times := 0
	for _, r := range t.Rows {
		if r[1] == t.Rows[0][1] {
			out.Rows = append(out.Rows, []string{words.Capital(r[0].(string))})
		}
		if len(out.Rows) == 1 {
			times++
			out.Columns = append(out.Columns, document.TableColumn{Head: "By " + words.At(r[1].(float64)), Align: document.Right})
		}
		cell := words.NotComputed
		if e, ok := r[2].(float64); ok {
			cell = words.Percent(e, 100)
			lo, ok1 := r[4].(float64)
			hi, ok2 := r[5].(float64)
			if ok1 && ok2 {
				cell = words.PercentWithin(e, lo, hi) + " (" + words.PercentRange(lo, hi) + ")"
			}
		}
		k := len(out.Rows) - 1
		out.Rows[k] = append(out.Rows[k], cell)
	}
	return out
}

func (w *work) fineGrayMethods(l *lives, d *design.Design, cluster string, late int) {
	var rest []string
	for _, c := range l.causes[1:] {
		rest = append(rest, causeWords(c.name))
	}
	var m strings.Builder
	fmt.Fprintf(&m, "The subdistribution hazard of %s was modelled by Fine-Gray regression with %s; sockets that ended otherwise (%s) stay at risk, weighted by the Kaplan-Meier curve of censoring",
		causeWords(l.causes[0].name), words.List(termLabels(d)), words.List(rest))
	if late > 0 {
		m.WriteString(" and by the same curve of late entry in reversed time")
	}
	fmt.Fprintf(&m, "; a censoring on the day of an event counts as after it, and ties were handled by %s. Standard errors are robust, from score residuals", tieWords[w.ask.Ties])
	if cluster != "" {
		m.WriteString(" grouped by " + cluster)
	}
	m.WriteString(" without a small-sample factor, the weights taken as known; the likelihood-ratio test and the AIC take the weighted likelihood for one of independent rows. Cause-specific hazard ratios are by Cox regression of the same terms, the other endings censored. Rows with missing values were left out.")
	m.WriteString(w.datedWords(l))
	if w.ownColumns() {
		m.WriteString(" The lab's own columns of sockets are taken as known at delivery.")
	}
	w.Methods = m.String()
	w.References = append(w.References, "Fine JP, Gray RJ. A proportional hazards model for the subdistribution of a competing risk. J Am Stat Assoc 1999; 94: 496-509.",
		"Austin PC, Fine JP. Practical recommendations for reporting Fine-Gray model analyses for competing risk data. Stat Med 2017; 36: 4391-4400.")
	if late > 0 {
		w.References = append(w.References, "Geskus RB. Cause-specific cumulative incidence estimation and the Fine and Gray model under both left truncation and right censoring. Biometrics 2011; 67: 39-49.")
	}
}
