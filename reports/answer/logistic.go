package answer

import (
	"fmt"
	"math"
	"slices"

	"plybook/analysis/design"
	"plybook/analysis/regress"
	"plybook/analysis/stats"
	"plybook/analysis/table"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// logistic answers what makes a yes more or less often.
func logistic(w *work) error {
	y, err := w.yesNo()
	if err != nil {
		return err
	}
	spec, err := w.designSpec()
	if err != nil {
		return err
	}
	if slices.Contains(spec.Terms, w.ask.Outcome) {
		return w.at("adjust", w.ask.Outcome, notebook.CodeImpossible, "%s is both the outcome and a term", w.ask.Outcome)
	}
	t, err := w.table.With(y)
	if err != nil {
		return err
	}
	f := &outcomeFit{table: t, measure: "odds ratio", y: y.Label}
	cluster, err := w.outcomeRows(f, spec, outcomeColumn)
	if err != nil {
		return err
	}
	f.data.Y = pickNum(y, f.design.Rows)
	if err := w.countYes(f); err != nil {
		return err
	}
	if f.data.Offset, err = w.rowOffsets(t, f.design.Rows); err != nil {
		return err
	}
	if err := w.clusterOutcome(f, cluster); err != nil {
		return err
	}
	if err := w.fitOutcome(regress.Logistic, f); err != nil {
		return err
	}
	w.outcomeWarnings(f)
	w.fewYes(f)
	w.penaltySaid(f)
	es := outcomeEstimates(f)
	w.termTable(es, f.Used != regress.ModelBased)
	roc, err := w.logisticFit(f)
	if err != nil {
		return err
	}
	k := outcomeCombiner(f)
	if err := w.termTests(f, k); err != nil {
		return err
	}
	if err := w.compare(k); err != nil {
		return err
	}
	if err := w.predictedFor(f); err != nil {
		return err
	}
	w.shares(f)
	var adj *averaged
	if w.sharesWanted(f) {
		if adj, err = w.averages(f); err != nil {
			return err
		}
	}
	w.logisticWords(f, es, adj, roc, w.curvePhrases(k))
	w.compared(k)
	w.sharesShown(f, adj)
	return w.logisticDiagnostics(f, roc)
}

// outcomeRows makes the design of the terms over the rows that have all that
// the model needs, and returns the column of clusters.
func (w *work) outcomeRows(f *outcomeFit, spec design.Spec, outcome string, more ...string) (string, error) {
	also := append([]string{outcome}, more...)
	for _, c := range [][2]string{{"weights", w.ask.Weights}, {"offset", w.ask.Offset}} {
		if c[1] == "" {
			continue
		}
		if _, err := w.column(c[0], c[1]); err != nil {
			return "", err
		}
		also = append(also, c[1])
	}
	cluster, err := w.linearCluster(&also)
	if err != nil {
		return "", err
	}
	if err := w.modelRows(f, spec, also); err != nil {
		return "", err
	}
	f.data.Weight, err = w.rowWeights(f.table, f.design.Rows)
	return cluster, err
}

// modelRows makes the design of the terms over the rows that have all that
// the model needs.
func (w *work) modelRows(f *outcomeFit, spec design.Spec, also []string) error {
	d, err := design.Build(f.table, w.rowsFor(f.table), spec, also...)
	if err != nil {
		return err
	}
	for k := range d.Missing { // an outcome worked out has no name to be known by
		if d.Missing[k].Column == outcomeColumn {
			d.Missing[k].Column = f.y
		}
	}
	w.missingCaution(d)
	if len(d.Rows) == 0 {
		return stats.ErrNoRows
	}
	if err := w.tooFew(len(d.Rows)); err != nil {
		return err
	}
	w.modelCautions(d)
	w.repeatability(f.table, d.Rows, append([]string{w.ask.Outcome}, spec.Terms...)...)
	w.Answer.Rows = len(d.Rows)
	f.design = d
	f.data = regress.GLMData{X: d.X, Names: d.Names(), Terms: d.Term, TermNames: d.TermNames}
	return nil
}

// rowsFor are the rows chosen, of the table of a model: the rows-table, or one
// made of the rows chosen alone.
func (w *work) rowsFor(t *table.Table) []int {
	if t.Rows() == w.table.Rows() {
		return w.rows
	}
	return indices(t.Rows())
}

// clusterOutcome lets the errors allow for clusters, where rows repeat.
func (w *work) clusterOutcome(f *outcomeFit, name string) error {
	if w.ask.Cluster == "none" {
		w.repeatsIgnored(f.table, f.design, "because the question says so")
	}
	f.data.Cluster, f.cluster = w.rowClusters(f.table, f.design, name)
	return nil
}

func pickNum(c *table.Column, rows []int) []float64 {
	out := make([]float64, len(rows))
	for k, i := range rows {
		out[k] = c.Num[i]
	}
	return out
}

// weightOf is for how many rows a row of the model stands.
func (f *outcomeFit) weightOf(i int) float64 {
	if f.data.Weight == nil {
		return 1
	}
	return f.data.Weight[i]
}

// countYes counts the outcome and refuses one that never varies.
func (w *work) countYes(f *outcomeFit) error {
	yes, all := 0.0, 0.0
	for i, v := range f.data.Y {
		yes += v * f.weightOf(i)
		all += f.weightOf(i)
	}
	w.Events, w.HasEvents = int(yes), true
	if yes > 0 && yes < all {
		return nil
	}
	one, many := w.nouns()
	which := "no"
	if yes > 0 {
		which = "yes"
	}
	return w.at("outcome", w.ask.Outcome, "no-variation", "%s is %s in every %s used (%s), so there is nothing to explain", f.y, which, one, w.n(len(f.data.Y), one, many))
}

// outcomeWarnings are those of the fit, in words of this question.
func (w *work) outcomeWarnings(f *outcomeFit) {
	for _, x := range f.Warnings {
		if x.Code == "few-clusters" {
			w.caution("few-clusters", "%s: the intervals use few effective degrees of freedom and are wide for that reason.", w.only(f.Clusters, f.cluster, f.cluster+"s"))
			continue
		}
		w.caution(x.Code, "%s", x.Text)
	}
}

// fewYes warns where the rarer of yes and no is too rare for so many terms,
// and where the odds ratio is far from a ratio of shares.
func (w *work) fewYes(f *outcomeFit) {
	yes, no := int(f.Sum), int(f.Total-f.Sum)
	rarer, which := yes, "a yes"
	if no < yes {
		rarer, which = no, "a no"
	}
	one, many := w.nouns()
	if n := len(f.design.X); rarer < 10*n {
		w.caution("few-events", "%s with %s for %s in the model: fewer than 10 per term, so the estimates are shaky and intervals may be too narrow.",
			words.Capital(w.n(rarer, one, many)), which, words.N(n, "term", "terms"))
	}
	if share := f.Sum / f.Total; share >= 0.1 {
		w.caution("odds-ratio", "Yes is common here, so an odds ratio lies much farther from 1 than the ratio of the two shares. It says which way and how surely; how much, the shares say.")
	}
}

// logisticFit adds the table of the whole fit, and works out how well shares
// tell yes from no.
func (w *work) logisticFit(f *outcomeFit) (*regress.Discrimination, error) {
	roc, err := regress.Discriminate(f.fitted(), f.data.Y, f.data.Weight, f.data.Cluster, w.ask.Confidence)
	if err != nil {
		return nil, err
	}
	t := tableOf("fit", count("rows"), count("events"), count("clusters"), number("log_likelihood", ""), number("log_likelihood_null", ""), number("aic", ""),
		number("deviance", ""), number("deviance_null", ""), number("df_residual", ""), number("likelihood_ratio", ""), integer("likelihood_ratio_df"), number("likelihood_ratio_p", ""),
		number("c_statistic", ""), number("c_std_error", ""), number("c_low", ""), number("c_high", ""), number("brier", ""), text("errors"), text("penalty"), text("correlation"), number("alpha", ""))
	w.addTable(t)
	t = &w.Tables[len(w.Tables)-1]
	clusters := any(nil)
	if f.data.Cluster != nil {
		clusters = f.Clusters
	}
	penalty, plain := "none", !f.noLikelihood()
	if f.Firth {
		penalty = "firth"
	}
	t.row(int(f.Total), int(f.Sum), clusters, when(plain, f.LogLik), when(plain, f.LogLikNull), when(plain && !f.Firth, f.AIC), when(plain && !f.Firth, f.Deviance), when(plain && !f.Firth, f.DevianceNull), f.DF,
		when(plain, f.LikelihoodRatio.Statistic), when(plain, f.LikelihoodRatio.DF), when(plain, f.LikelihoodRatio.P),
		roc.C, when(roc.HasBounds, roc.SE), when(roc.HasBounds, roc.Low), when(roc.HasBounds, roc.High), roc.Brier, f.Used.String(), penalty, f.Correlation.String(), when(f.noLikelihood(), f.Alpha))
	return roc, nil
}

// fitted are the shares expected of the rows.
func (f *outcomeFit) fitted() []float64 {
	out := f.Linear()
	for i, x := range out {
		out[i] = 1 / (1 + math.Exp(-x))
	}
	return out
}

// shares adds the table of the shares as they are, by category of `by`.
func (w *work) shares(f *outcomeFit) {
	t := tableOf("shares", text("group"), count("rows"), count("events"), number("estimate", ""), number("low", ""), number("high", ""))
	add := func(name string, in func(i int) bool) {
		rows, yes := 0.0, 0.0
		for i, y := range f.data.Y {
			if in(i) {
				rows += f.weightOf(i)
				yes += f.weightOf(i) * y
			}
		}
		low, high := regress.Wilson(yes, rows, w.ask.Confidence)
		open := !w.hiddenCount(int(yes)) && !w.hiddenCount(int(rows-yes)) && !w.hiddenCount(int(rows))
		t.row(name, int(rows), int(yes), when(open, yes/rows), when(open, low), when(open, high))
	}
	names, in := w.categoriesOfBy(f.design)
	for k, name := range names {
		add(name, in[k])
	}
	add("all", func(int) bool { return true })
	w.addTable(t)
}

// sharesWanted says whether shares are to be averaged over the rows: where
// `by` has categories they are how the reading speaks, unless the question
// says `adjusted: no`.
func (w *work) sharesWanted(f *outcomeFit) bool {
	if _, asked := w.ask.KeyPos["adjusted"]; asked || w.ask.By == "" {
		return w.ask.Adjusted
	}
	k := slices.Index(f.design.TermNames, w.ask.By)
	return k >= 0 && len(f.design.Cats[k]) > 0
}

// yesLead begins the reading: how many rows, and how many a yes.
func (w *work) yesLead(f *outcomeFit) string {
	one, many := w.nouns()
	all, yes := int(f.Total), int(f.Sum)
	rows := w.n(all, one, many)
	if f.cluster != "" {
		rows += fmt.Sprintf(" of %s", w.n(f.Clusters, f.cluster, f.cluster+"s"))
	}
	if w.ask.OutcomeWhen != nil {
		return fmt.Sprintf("Of %s, %s (%s) had %s", rows, w.cell(yes), w.share(yes, all), f.y)
	}
	return fmt.Sprintf("%s was yes in %s of %s (%s)", words.Capital(f.y), w.cell(yes), rows, w.share(yes, all))
}
