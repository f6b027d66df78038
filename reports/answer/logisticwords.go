package answer

import (
	"fmt"
	"math"
	"strings"

	"plybook/analysis/regress"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/words"
)

// notLikely is what every table of odds ratios says of them.
const notLikely = "An odds ratio is not a ratio of shares: 2 does not mean twice as often. It says which way, and with its interval how surely; how much, the shares say."

func (w *work) logisticWords(f *outcomeFit, es []estimate, adj *averaged, roc *regress.Discrimination, curves []string) {
	w.addForest(es[1:], f.design, figure.ForestSpec{Measure: "Odds ratio", LowHint: "yes less often", HighHint: "yes more often"})
	s := []string{w.yesLead(f) + "."}
	if adj != nil {
		s = append(s, w.sharesPhrase(adj))
	}
	parts := append(w.ratioSentences(es, ratioSides{measure: "odds ratio", above: "yes comes more often", below: "yes comes less often"}), curves...)
	s = append(s, parts...)
	if len(parts) > 0 && !w.byAlone() {
		s = append(s, itIs(len(parts), "ratio", "ratios")+" of all terms taken together.")
	}
	if f.Firth {
		s = append(s, "These ratios are penalised (Firth's method).")
	}
	if roc.HasBounds && !w.byAlone() {
		s = append(s, w.concordanceOf(f, roc))
	}
	if len(parts) > 0 {
		s = append(s, notTimesOften)
	}
	w.Reading = strings.Join(s, " ")
	terms := w.termsPrint(es, "Odds ratio", true)
	terms.Rows[0] = w.constantRow(es[0], "odds")
	terms.Notes = append(terms.Notes, notLikely)
	w.print(w.withNotes(terms, f))
	w.predictedShown("Share expected with "+f.y, "Share", func(v, low, high float64, tested bool) (string, string) {
		if !tested {
			return words.Percent(v, 100), words.NotComputed
		}
		return words.PercentWithin(v, low, high), words.PercentRange(low, high)
	}, "What is not named has its reference category, or the mean of the rows used. A share is of a group of such rows, not a verdict on one.")
	w.logisticMethods(f, adj)
}

// constantRow prints the constant, which is no ratio: its exponential is what
// is expected where all columns are 0 or have their reference category.
func (w *work) constantRow(e estimate, what string) []string {
	if e.noInterval {
		return []string{"Constant, as " + what, "", words.Ratio(math.Exp(e.value)), words.NotComputed, words.P(e.p)}
	}
	lo, hi := math.Exp(e.low), math.Exp(e.high)
	return []string{"Constant, as " + what, "", words.RatioWithin(math.Exp(e.value), lo, hi), words.RatioRange(lo, hi), words.P(e.p)}
}

// withNotes adds to a table of terms what all models of outcomes say there.
func (w *work) withNotes(t document.Table, f *outcomeFit) document.Table {
	switch {
	case f.Firth:
		t.Notes = append(t.Notes, "Penalised estimates (Firth's method), with intervals of the penalised profile likelihood.")
	case f.Limits != nil:
		t.Notes = append(t.Notes, "Intervals of the profile likelihood.")
	}
	if len(w.joints) > 0 {
		t.Notes = append(t.Notes, words.Capital(strings.Join(w.joints, "; "))+".")
	}
	return t
}

// sharesPhrase says the shares averaged over the rows, and their first
// differences.
func (w *work) sharesPhrase(a *averaged) string {
	_, many := w.nouns()
	var parts []string
	for g, name := range a.names {
		if g == 4 {
			break
		}
		x := a.each[g]
		share := words.Percent(x.Estimate, 100)
		if x.Tested {
			share = words.PercentWithin(x.Estimate, x.Low, x.High)
		}
		s := fmt.Sprintf("%s with %s", share, w.display(name))
		switch {
		case x.Tested && g == 0:
			s += fmt.Sprintf(" (%s %s)", w.confidenceWords(), words.PercentRange(x.Low, x.High))
		case x.Tested:
			s += fmt.Sprintf(" (%s)", words.PercentRange(x.Low, x.High))
		}
		parts = append(parts, s)
	}
	out := fmt.Sprintf("Were all these %s of the one kind, each with its own other columns, it would be %s", many, strings.Join(parts, besideEachOther(len(parts))))
	if w.byAlone() {
		out = "It was " + strings.Join(parts, besideEachOther(len(parts)))
	}
	if c := a.contrast[1].Difference; len(a.names) == 2 && c.Tested {
		out += fmt.Sprintf(": a difference of %s (%s)", percentPoints(c.Estimate, c.Low, c.High), words.Interval(100*c.Low, 100*c.High))
	}
	return out + "."
}

// byAlone says whether the groups are the only term, so that what is averaged
// is no more than the share of each group, and a model tells rows of one group
// from each other in nothing.
func (w *work) byAlone() bool {
	return w.ask.By != "" && len(w.ask.Adjust) == 0 && len(w.ask.Interact) == 0
}

func (w *work) concordanceOf(f *outcomeFit, roc *regress.Discrimination) string {
	one, _ := w.nouns()
	return fmt.Sprintf("Of a %s with a yes and one with a no, the model gives the former the higher share in %s of pairs (the C statistic; %s %s; 50%% would be guessing).",
		one, words.PercentWithin(roc.C, roc.Low, roc.High), w.confidenceWords(), words.PercentRange(roc.Low, roc.High))
}

// sharesShown prints and draws the shares averaged over the rows.
func (w *work) sharesShown(f *outcomeFit, a *averaged) {
	if a == nil {
		return
	}
	one, many := w.nouns()
	t := document.Table{ID: w.ask.ID + "-adjusted", Caption: "Share with " + f.y + ", were all " + many + " of the one kind", Columns: []document.TableColumn{
		{Head: words.Capital(w.columnLabel(w.ask.By)), Wide: true}, {Head: "Share", Align: document.Right}, {Head: words.Capital(w.confidenceWords()), Align: document.Right}, {Head: "p", Align: document.Right}},
		Notes: []string{fmt.Sprintf("Averaged over the %s used, each with its own other columns. Differences are in percentage points; a ratio is of the two shares. The interval is of the share, not of one %s.", many, one)}}
	spec := figure.MeansSpec{ID: w.ask.ID + "-adjusted", Title: "Adjusted share with " + f.y + byWords(w.ask.By), Measure: "Adjusted share", Unit: "%", By: w.columnLabel(w.ask.By), Rows: many, Confidence: w.ask.Confidence}
	for g, name := range a.names {
		x := a.each[g]
		row := []string{w.display(name), words.Percent(x.Estimate, 100), words.NotComputed, ""}
		m := figure.Mean{Name: w.display(name), Estimate: 100 * x.Estimate, Low: math.NaN(), High: math.NaN()}
		if x.Tested {
			row[1], row[2] = words.PercentWithin(x.Estimate, x.Low, x.High), words.PercentRange(x.Low, x.High)
			m.Low, m.High = 100*x.Low, 100*x.High
		}
		if !w.hiddenCount(a.rows[g]) {
			m.Rows = a.rows[g]
		}
		t.Rows, spec.Means = append(t.Rows, row), append(spec.Means, m)
	}
	for g, name := range a.names[1:] {
		w.averageRows(&t, w.display(name), w.display(a.names[0]), a.contrast[g+1], 100)
	}
	w.print(t)
	w.Figures = append(w.Figures, figure.Means(spec))
}

// averageRows prints a difference and a ratio of two averages.
func (w *work) averageRows(t *document.Table, of, against string, c regress.AverageContrast, scale float64) {
	d, r := c.Difference, c.Ratio
	row := []string{of + " − " + against, words.SignedPlain(scale * d.Estimate), words.NotComputed, words.NotComputed}
	if d.Tested {
		row[1], row[2], row[3] = words.Signed(scale*d.Estimate, scale*d.Low, scale*d.High), words.Interval(scale*d.Low, scale*d.High), words.P(d.P)
	}
	t.Rows = append(t.Rows, row)
	row = []string{of + " / " + against, words.Ratio(r.Estimate), words.NotComputed, ""}
	if r.Tested {
		row[1], row[2] = words.RatioWithin(r.Estimate, r.Low, r.High), words.RatioRange(r.Low, r.High)
	}
	t.Rows = append(t.Rows, row)
}

// outcomeErrors is the methods sentence on errors, with its references.
func (w *work) outcomeErrors(f *outcomeFit) string {
	m := ""
	_, many := w.nouns()
	m = w.correlationWords(f)
	likelihood := "; the likelihood-ratio test and the AIC take them as independent"
	if f.noLikelihood() {
		likelihood = ""
	}
	switch f.Used {
	case regress.CR2:
		m += fmt.Sprintf(" Standard errors allow for several %s of one %s (bias-reduced linearisation, CR2, on the working weights) with Satterthwaite degrees of freedom%s.", many, f.cluster, likelihood)
		w.References = append(w.References, "Bell RM, McCaffrey DF. Bias reduction in standard errors for linear regression with multi-stage samples. Surv Methodol 2002; 28: 169-181.",
			"Pustejovsky JE, Tipton E. Small-sample methods for cluster-robust variance estimation and hypothesis testing in fixed effects models. J Bus Econ Stat 2018; 36: 672-683.")
	case regress.CR1:
		m += fmt.Sprintf(" Standard errors allow for several %s of one %s (CR1; with so many clusters CR2 would hardly differ)%s.", many, f.cluster, likelihood)
		w.References = append(w.References, "Liang KY, Zeger SL. Longitudinal data analysis using generalized linear models. Biometrika 1986; 73: 13-22.")
	default:
		if f.Limits != nil && !f.Firth {
			m = " Intervals are of the profile likelihood, and p values of likelihood-ratio tests."
			w.References = append(w.References, "Venzon DJ, Moolgavkar SH. A method for computing profile-likelihood-based confidence intervals. Appl Stat 1988; 37: 87-94.")
		}
	}
	if f.Firth {
		why := ""
		if f.separated != nil {
			why = fmt.Sprintf(", since no finite estimate fits %s otherwise", words.List(comparisons(f.design, f.separated)))
		}
		m += fmt.Sprintf(" The likelihood was penalised by Firth's method%s; intervals are of the penalised profile likelihood and p values of penalised likelihood-ratio tests, taking %s as independent.", why, many)
		w.References = append(w.References, "Firth D. Bias reduction of maximum likelihood estimates. Biometrika 1993; 80: 27-38.",
			"Heinze G, Schemper M. A solution to the problem of separation in logistic regression. Stat Med 2002; 21: 2409-2419.")
	}
	if w.ask.Weights != "" {
		m += fmt.Sprintf(" Rows were weighted by %s, each standing for so many equal %s.", w.columnLabel(w.ask.Weights), many)
	}
	if w.ask.Offset != "" {
		m += fmt.Sprintf(" %s was added to the linear predictor as an offset, its coefficient held at 1.", words.Capital(w.columnLabel(w.ask.Offset)))
	}
	return m
}

func (w *work) logisticMethods(f *outcomeFit, a *averaged) {
	m := fmt.Sprintf("The odds of %s were modelled by logistic regression with %s.", f.y, termsOrNothing(f.design))
	w.References = append(w.References, "Hosmer DW, Lemeshow S. Applied logistic regression. New York: Wiley; 1989.")
	m += w.outcomeErrors(f)
	if a != nil {
		_, many := w.nouns()
		m += fmt.Sprintf(" Shares are standardised: predicted for all %s used, with each category of %s in turn and all other columns as they are, and averaged; errors are by the delta method, the %s taken as they are, and intervals of shares are made on the scale of log odds.", many, w.columnLabel(w.ask.By), many)
		w.References = append(w.References, "Lane PW, Nelder JA. Analysis of covariance and standardization as instances of prediction. Biometrics 1982; 38: 613-621.")
	}
	m += " The C statistic is the area under the curve of sensitivity against specificity."
	if f.data.Cluster != nil {
		m += " Its error allows for clusters."
		w.References = append(w.References, "Obuchowski NA. Nonparametric analysis of clustered ROC curve data. Biometrics 1997; 53: 567-578.")
	} else {
		w.References = append(w.References, "DeLong ER, DeLong DM, Clarke-Pearson DL. Comparing the areas under two or more correlated receiver operating characteristic curves. Biometrics 1988; 44: 837-845.")
	}
	w.Methods = m + " Rows with missing values were left out."
}
