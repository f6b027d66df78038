package answer

import (
	"fmt"

	"plybook/analysis/cohort"
	"plybook/analysis/design"
	"plybook/analysis/impute"
	"plybook/analysis/regress"
	"plybook/analysis/stats"
	"plybook/analysis/table"
	"plybook/reports/figure"
	"plybook/reports/words"
)

// linearImputed answers linear with missing values filled in. Nothing is done
// (false) where nothing is missing. also are the columns that a row must
// have, the outcome first.
func (w *work) linearImputed(y *table.Column, spec design.Spec, also []string, clusterName string) (bool, error) {
	var rows []int
	lost := 0
	for _, i := range w.rows {
		known := true
		for _, n := range also {
			if c, ok := w.table.Col(n); ok {
				known = known && !c.Missing[i]
			}
		}
		if known {
			rows = append(rows, i)
		} else {
			lost++
		}
	}
	if len(rows) == 0 {
		return false, stats.ErrNoRows
	}
	outcome := impute.Column{Name: y.Name}
	for _, i := range rows {
		outcome.Num = append(outcome.Num, y.Num[i])
	}
	f, err := w.fill(w.table, rows, spec, []impute.Column{outcome})
	if err != nil {
		return false, err
	}
	if f == nil {
		w.caution("nothing-missing", "No value of the model's columns is missing, so nothing was filled in.")
		return false, nil
	}
	one, many := w.nouns()
	if lost > 0 {
		w.caution("missing", "%s left out because %s is missing.", words.Capital(w.n(lost, one+" was", many+" were")), w.columnLabel(w.ask.Outcome))
	}
	if err := w.tooFew(len(rows)); err != nil {
		return false, err
	}
	if err := w.sameOutcome(y, rows); err != nil {
		return false, err
	}
	cluster, clusterName := w.linearClusters(rows, clusterName)
	var fits []*regress.Linear
	var d *design.Design
	for _, t := range f.tables {
		each, err := design.Build(t, indices(t.Rows()), f.spec)
		if err != nil {
			return false, err
		}
		fit, err := fitLinear(each, outcome.Num, cluster, w.ask.Confidence)
		if err != nil {
			return false, w.linearError(err, each)
		}
		fits = append(fits, fit)
		if d == nil {
			d = each
		}
	}
	p := &pooledFit{columns: len(d.X) + 1}
	r2 := 0.0
	for _, fit := range fits {
		p.parts = append(p.parts, func(c []float64) (float64, float64, float64, bool) {
			x, err := fit.Contrast(c)
			return x.Estimate, x.SE * x.SE, x.DF, err == nil && x.Tested
		})
		if clusterName != "" {
			var v []float64
			for _, c := range fit.Coef {
				v = append(v, c.ModelSE*c.ModelSE)
			}
			p.plain = append(p.plain, v)
		}
		r2 += fit.R2 / float64(len(fits))
	}
	if err := p.pool(); err != nil {
		return false, err
	}
	w.Answer.Rows = len(rows)
	w.steps = append(w.steps, cohort.Step{Step: "with missing values filled in", Rows: len(rows), Excluded: lost, Reason: w.columnLabel(w.ask.Outcome) + " is missing"})
	w.modelCautions(d)
	if len(rows) < 10*(len(d.X)+1) {
		w.caution("few-rows", "%s for %s: fewer than 10 rows per term, so the estimates are shaky.", words.Capital(w.n(len(rows), "row", "rows")), words.N(len(d.X), "term", "terms"))
	}
	var es []estimate
	for j := range p.columns {
		e := p.estimateOf(j, w.ask.Confidence)
		if j == 0 {
			e.intercept = true
		} else {
			e.column = d.Columns[j-1]
		}
		es = append(es, e)
	}
	w.termTable(es, clusterName != "")
	w.linearFitImputed(fits[0], r2)
	w.imputedTables(f, p, es)
	whole := w.linearWhole(y, f, d, clusterName)
	w.wholeTable(whole)
	w.imputedCautions(f, p, es, whole, clusterName != "")
	k := p.combiner(w.ask.Confidence, 1)
	k.design, k.measure, k.unit = d, "difference in "+label(y), y.Unit
	if err := w.compare(k); err != nil {
		return false, err
	}
	w.linearImputedWords(y, f, es, whole, d, clusterName, fits[0], r2)
	w.compared(k)
	return true, nil
}

// linearClusters numbers the clusters of rows; none where nobody repeats.
func (w *work) linearClusters(rows []int, name string) ([]int, string) {
	if name == "" {
		return nil, ""
	}
	c, ok := w.table.Col(name)
	if !ok {
		return nil, ""
	}
	codes := codesOf(c, rows)
	switch n := distinct(codes); {
	case n == len(codes):
		return nil, ""
	case n < 2:
		w.caution("one-cluster", "All rows are of one %s, so the errors cannot allow for repeated measurement.", name)
		return nil, ""
	case n < 40:
		w.caution("few-clusters", "%s: the intervals use few effective degrees of freedom and are wide for that reason.", w.only(n, plainName(name), plainName(name)+"s"))
	}
	return codes, name
}

func fitLinear(d *design.Design, y []float64, cluster []int, level float64) (*regress.Linear, error) {
	return regress.FitLinear(regress.LinearData{X: d.X, Names: d.Names(), Terms: d.Term, TermNames: d.TermNames, Intercept: true, Y: y, Cluster: cluster},
		regress.LinearOptions{Level: level})
}

// linearWhole are the estimates of the rows with every value; nil where they
// have none.
func (w *work) linearWhole(y *table.Column, f *filled, d *design.Design, clusterName string) []estimate {
	whole, err := design.Build(f.table, f.whole, f.spec)
	if err != nil || len(whole.X) != len(d.X) {
		return nil
	}
	var v []float64
	for _, i := range whole.Rows {
		v = append(v, y.Num[i])
	}
	var cluster []int
	if c, ok := f.table.Col(clusterName); ok {
		if codes := codesOf(c, whole.Rows); distinct(codes) < len(codes) && distinct(codes) > 1 {
			cluster = codes
		}
	}
	fit, err := fitLinear(whole, v, cluster, w.ask.Confidence)
	if err != nil {
		return nil
	}
	return linearEstimates(fit, whole)
}

// linearFitImputed is the table of the fit: what is of one table alone is not
// told.
func (w *work) linearFitImputed(fit *regress.Linear, r2 float64) {
	before := len(w.Tables)
	w.linearFit(fit)
	t := &w.Tables[before]
	for j, c := range t.Columns {
		switch c.Name {
		case "rows", "clusters", "errors":
		case "r_squared":
			t.Rows[0][j] = r2
		default:
			t.Rows[0][j] = nil
		}
	}
}

func (w *work) linearImputedWords(y *table.Column, f *filled, es, whole []estimate, d *design.Design, cluster string, fit *regress.Linear, r2 float64) {
	w.addForest(es[1:], d, figure.ForestSpec{Measure: "Difference in " + label(y), Unit: y.Unit, Linear: true, LowHint: "lower", HighHint: "higher"})
	one, many := w.nouns()
	of := w.n(fit.Rows, one, many)
	if fit.Clusters > 0 {
		of += fmt.Sprintf(" of %s", w.n(fit.Clusters, cluster, cluster+"s"))
	}
	w.slopesRead(w.slopeSentences(w.termsTold(es), y), fmt.Sprintf("%s, what was missing filled in %s, all terms taken together", of, words.N(len(f.tables), "time", "times")), r2, y)
	w.print(w.termsPrint(es, "Difference in "+label(y), false))
	w.wholePrint(f, es, whole, "Difference in "+label(y))
	m := fmt.Sprintf("A linear model of %s with %s was fitted by least squares.", label(y), termsOrNothing(d))
	if cluster != "" {
		m += fmt.Sprintf(" Standard errors allow for several rows of one %s (bias-reduced linearisation, CR2) with Satterthwaite degrees of freedom.", cluster)
		w.References = append(w.References, "Bell RM, McCaffrey DF. Bias reduction in standard errors for linear regression with multi-stage samples. Surv Methodol 2002; 28: 169-181.",
			"Pustejovsky JE, Tipton E. Small-sample methods for cluster-robust variance estimation and hypothesis testing in fixed effects models. J Bus Econ Stat 2018; 36: 672-683.")
	} else {
		m += fmt.Sprintf(" Standard errors are robust to unequal scatter (%s).", fit.Used)
		w.References = append(w.References, "MacKinnon JG, White H. Some heteroskedasticity-consistent covariance matrix estimators with improved finite sample properties. J Econom 1985; 29: 305-325.")
	}
	w.Methods = m + w.imputedMethods(f, "the outcome")
}
