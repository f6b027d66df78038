package answer

import (
	"fmt"
	"math"

	"plybook/reports/document"
	"plybook/reports/words"
)

// wholeTable are the estimates of the rows with every value, for comparison.
func (w *work) wholeTable(es []estimate) {
	t := tableOf("complete_case", text("term"), text("category"), text("reference"), number("estimate", ""), number("std_error", ""), number("low", ""), number("high", ""))
	for _, e := range es {
		term := e.column.Term
		if e.intercept {
			term = "intercept"
		}
		low, high := e.low, e.high
		if e.ratio {
			low, high = math.Exp(low), math.Exp(high)
		}
		t.row(term, orNil(e.column.Category), orNil(e.column.Reference), e.value, useErr(e), low, high)
	}
	w.addTable(t)
}

// imputedMethods is the sentence for a paper.
func (w *work) imputedMethods(f *filled, among string) string {
	var names []string
	for _, n := range f.columns {
		names = append(names, w.columnLabel(n))
	}
	w.References = append(w.References,
		"Rubin DB. Multiple imputation for nonresponse in surveys. Wiley; 1987.",
		"Barnard J, Rubin DB. Small-sample degrees of freedom with multiple imputation. Biometrika 1999; 86: 948-955.",
		"White IR, Royston P, Wood AM. Multiple imputation using chained equations: issues and guidance for practice. Stat Med 2011; 30: 377-399.",
		"van Buuren S, Groothuis-Oudshoorn K. mice: multivariate imputation by chained equations in R. J Stat Softw 2011; 45(3).")
	return fmt.Sprintf(" Missing values of %s were filled in %d times by chained equations of ten rounds (numbers by predictive mean matching with five donors, categories by multinomial logistic models), given the other columns of the model and %s (seed %d); estimates were put together by Rubin's rules, with the degrees of freedom of Barnard and Rubin.",
		words.List(names), len(f.tables), among, w.ask.Seed)
}

// wholePrint sets the estimates beside those of the rows with every value.
func (w *work) wholePrint(f *filled, es, whole []estimate, measure string) {
	if whole == nil {
		return
	}
	said := func(e estimate) string {
		switch {
		case e.noInterval && e.ratio:
			return words.Ratio(math.Exp(e.value))
		case e.noInterval:
			return words.Plain(e.value)
		case e.ratio:
			lo, hi := math.Exp(e.low), math.Exp(e.high)
			return words.RatioWithin(math.Exp(e.value), lo, hi) + " (" + words.RatioRange(lo, hi) + ")"
		}
		return words.Value(e.value, e.low, e.high) + " (" + words.Interval(e.low, e.high) + ")"
	}
	one, many := w.nouns()
	out := document.Table{ID: w.ask.ID + "-complete", Caption: measure + " with values filled in, beside the rows with every value", Columns: []document.TableColumn{
		{Head: "Term", Wide: true}, {Head: "Filled in", Align: document.Right}, {Head: "Every value", Align: document.Right}},
		Notes: []string{fmt.Sprintf("In brackets: %s.", w.confidenceWords())}}
	if !w.hiddenCount(len(f.rows) - len(f.whole)) { // else the number of all would tell it
		out.Notes[0] += fmt.Sprintf(" Every value is known of %s.", w.n(len(f.whole), one, many))
	}
	for j, e := range es {
		if e.intercept {
			continue
		}
		out.Rows = append(out.Rows, []string{words.Capital(columnName(e.column)), said(e), said(whole[j])})
	}
	w.print(out)
}
