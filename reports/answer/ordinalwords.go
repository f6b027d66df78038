package answer

import (
	"fmt"
	"strings"

	"plybook/analysis/regress"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/words"
)

// named are the estimates with the cut that they are of in their names.
func (f *levelFit) named() []estimate {
	es, cuts := f.estimates()
	for i := range es {
		if name := f.cutName(cuts[i]); name != "" {
			if es[i].column.Category != "" {
				es[i].column.Category += ", " + name
			} else {
				es[i].column.Label += ", " + name
				es[i].column.Term += " " + name
			}
		}
	}
	return es
}

func (w *work) levelWords(f *levelFit, sides []levelSide, contrasts []regress.AverageContrast, curves []string) {
	es := f.named()
	w.addForest(es, f.design, figure.ForestSpec{Measure: "Odds ratio", LowHint: "lower levels", HighHint: "higher levels"})
	one, many := w.nouns()
	rows := w.n(int(f.Total), one, many)
	if f.cluster != "" {
		rows += fmt.Sprintf(" of %s", w.n(f.Clusters, f.cluster, f.cluster+"s"))
	}
	s := []string{fmt.Sprintf("%s was at one of %s, from %s to %s, in %s.", words.Capital(label(f.y)), words.N(f.data.Levels, "level", "levels"), f.levels[0], f.levels[len(f.levels)-1], rows)}
	if len(sides) > 0 {
		s = append(s, w.levelSidesPhrase(f, sides, contrasts))
	}
	parts := append(w.ratioSentences(es, ratioSides{measure: "odds ratio of a higher level", above: "levels are higher", below: "levels are lower"}), curves...)
	s = append(s, parts...)
	if len(parts) > 0 {
		if !w.byAlone() {
			s = append(s, itIs(len(parts), "ratio", "ratios")+" of all terms taken together.")
		}
		s = append(s, notTimesOften)
	}
	w.Reading = strings.Join(s, " ")
	t := w.termsPrint(es, "Odds ratio", true)
	t.Caption = "Odds ratio of a higher level, term by term, all terms in the model together"
	t.Notes = append(t.Notes, notLikely)
	if len(w.joints) > 0 {
		t.Notes = append(t.Notes, words.Capital(strings.Join(w.joints, "; "))+".")
	}
	if said := w.equalSaid(f); said != "" {
		t.Notes = append(t.Notes, said)
	}
	w.print(t)
	if f.numbers {
		w.meansPrint(f.y)
	}
	w.levelMethods(f, sides)
}

// equalSaid says what the tests of equal ratios came to.
func (w *work) equalSaid(f *levelFit) string {
	var parts []string
	for _, x := range f.tests {
		if !x.Tested {
			continue
		}
		name := "all together"
		if x.Term >= 0 {
			name = w.termName(f.design.TermNames[x.Term])
		}
		parts = append(parts, fmt.Sprintf("%s %s", name, words.PEquals(x.P)))
	}
	if len(parts) == 0 {
		return ""
	}
	return "That the ratio is the same at every level, tested: " + strings.Join(parts, "; ") + "."
}

func (w *work) levelSidesPhrase(f *levelFit, sides []levelSide, contrasts []regress.AverageContrast) string {
	_, many := w.nouns()
	last := len(f.levels) - 1
	var parts []string
	for g, x := range sides {
		if g == 4 {
			break
		}
		a, show, iv := x.Levels[last], words.PercentWithin, words.PercentRange
		if f.numbers {
			a, show, iv = x.Mean, words.Value, words.Interval
		}
		p := fmt.Sprintf("%s with %s", show(a.Estimate, a.Low, a.High), w.display(x.name))
		switch {
		case a.Tested && g == 0:
			p += fmt.Sprintf(" (%s %s)", w.confidenceWords(), iv(a.Low, a.High))
		case a.Tested:
			p += fmt.Sprintf(" (%s)", iv(a.Low, a.High))
		}
		parts = append(parts, p)
	}
	what := "the mean would be"
	if !f.numbers {
		what = fmt.Sprintf("the share at %s would be", f.levels[last])
	}
	out := fmt.Sprintf("Were all these %s of the one kind, each with its own other columns, %s %s", many, what, strings.Join(parts, besideEachOther(len(parts))))
	if d := contrasts[1].Difference; f.numbers && len(sides) == 2 && d.Tested {
		out += fmt.Sprintf(": a difference of %s (%s)", words.Signed(d.Estimate, d.Low, d.High), words.Interval(d.Low, d.High))
	}
	return out + "."
}

// levelsShown prints and draws the levels averaged over the rows.
func (w *work) levelsShown(f *levelFit, sides []levelSide, contrasts []regress.AverageContrast) {
	if len(sides) == 0 {
		return
	}
	one, many := w.nouns()
	spec := figure.LevelsSpec{ID: w.ask.ID + "-levels", Title: "Adjusted levels of " + label(f.y) + byWords(w.ask.By), Axis: words.Capital(label(f.y)), Levels: f.levels}
	t := document.Table{ID: w.ask.ID + "-adjusted", Caption: words.Capital(label(f.y)) + ", were all " + many + " of the one kind", Columns: []document.TableColumn{
		{Head: words.Capital(w.columnLabel(w.ask.By)), Wide: true}, {Head: "Mean", Align: document.Right}, {Head: words.Capital(w.confidenceWords()), Align: document.Right}, {Head: "p", Align: document.Right}},
		Notes: []string{fmt.Sprintf("Averaged over the %s used, each with its own other columns. The interval is of the mean, not of one %s.", many, one)}}
	if f.numbers {
		spec.DetailHead = "mean"
	}
	for _, x := range sides {
		row := figure.LevelRow{Name: w.display(x.name)}
		for _, a := range x.Levels {
			row.Shares = append(row.Shares, a.Estimate)
		}
		m := x.Mean
		cells := []string{w.display(x.name), words.Plain(m.Estimate), words.NotComputed, ""}
		if m.Tested {
			cells[1], cells[2] = words.Value(m.Estimate, m.Low, m.High), words.Interval(m.Low, m.High)
		}
		if f.numbers {
			row.Detail = words.Fixed(m.Estimate, 1)
		}
		t.Rows = append(t.Rows, cells)
		spec.Rows = append(spec.Rows, row)
	}
	for g := range sides[1:] {
		d := contrasts[g+1].Difference
		cells := []string{w.display(sides[g+1].name) + " − " + w.display(sides[0].name), words.SignedPlain(d.Estimate), words.NotComputed, words.NotComputed}
		if d.Tested {
			cells[1], cells[2], cells[3] = words.Signed(d.Estimate, d.Low, d.High), words.Interval(d.Low, d.High), words.P(d.P)
		}
		t.Rows = append(t.Rows, cells)
	}
	if f.numbers {
		w.print(t)
	}
	w.Figures = append(w.Figures, figure.Levels(spec))
}

func (w *work) levelMethods(f *levelFit, sides []levelSide) {
	_, many := w.nouns()
	m := fmt.Sprintf("The level of %s was modelled by proportional-odds regression with %s.", label(f.y), termsOrNothing(f.design))
	w.References = append(w.References, "McCullagh P. Regression models for ordinal data. J R Stat Soc B 1980; 42: 109-142.")
	if len(w.ask.Unequal) > 0 {
		var names []string
		for _, n := range w.ask.Unequal {
			names = append(names, w.columnLabel(n))
		}
		m += fmt.Sprintf(" The odds ratio of %s was let differ from cut to cut (partial proportional odds).", words.List(names))
		w.References = append(w.References, "Peterson B, Harrell FE. Partial proportional odds models for ordinal response variables. Appl Stat 1990; 39: 205-217.")
	}
	if f.Used == regress.CR1 {
		m += fmt.Sprintf(" Standard errors allow for several %s of one %s (scores summed by %s, CR1, with one degree of freedom fewer than there are); likelihood-ratio tests and the AIC take them as independent.", many, f.cluster, f.cluster)
		w.References = append(w.References, "Liang KY, Zeger SL. Longitudinal data analysis using generalized linear models. Biometrika 1986; 73: 13-22.")
	}
	if len(f.tests) > 0 {
		m += " That ratios are the same at every cut was tested against a model in which they differ, by " + map[bool]string{true: "Wald tests on the same errors.", false: "likelihood ratio."}[f.data.Cluster != nil]
	}
	if len(sides) > 0 {
		m += fmt.Sprintf(" Levels are standardised: their shares are predicted for all %s used, with each category of %s in turn and all other columns as they are, and averaged; errors are by the delta method.", many, w.columnLabel(w.ask.By))
		w.References = append(w.References, "Lane PW, Nelder JA. Analysis of covariance and standardization as instances of prediction. Biometrics 1982; 38: 613-621.")
	}
	if w.ask.Weights != "" {
		m += fmt.Sprintf(" Rows were weighted by %s, each standing for so many equal %s.", w.columnLabel(w.ask.Weights), many)
	}
	w.Methods = m + " Rows with missing values were left out."
}
