package answer

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"plybook/analysis/design"
	"plybook/analysis/regress"
	"plybook/analysis/stats"
	"plybook/analysis/table"
	"plybook/reports/figure"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// outcome is the number column that a model explains.
func (w *work) outcome() (*table.Column, error) {
	c, err := w.column("outcome", w.ask.Outcome)
	if err != nil {
		return nil, err
	}
	if c.Kind != table.Number {
		return nil, w.at("outcome", w.ask.Outcome, notebook.CodeImpossible, "%s explains a number, but %s is %s", w.ask.Method, c.Name, kindWords(c.Kind))
	}
	return c, nil
}

func kindWords(k table.Kind) string {
	if k == table.Date {
		return "a date"
	}
	return "text"
}

// linear answers how a number changes with other columns.
func linear(w *work) error {
	y, err := w.outcome()
	if err != nil {
		return err
	}
	if Measured(w.ask) {
		w.holding(y)
	}
	spec, err := w.designSpec()
	if err != nil {
		return err
	}
	for _, n := range spec.Terms {
		if n == w.ask.Outcome {
			return w.at("adjust", n, notebook.CodeImpossible, "%s is both the outcome and a term", n)
		}
	}
	also := []string{w.ask.Outcome}
	clusterName, err := w.linearCluster(&also)
	if err != nil {
		return err
	}
	near, err := w.neighbours(&also)
	if err != nil {
		return err
	}
	if near != nil {
		clusterName = ""
	}
	if w.ask.Missing == "impute" {
		if done, err := w.linearImputed(y, spec, also, clusterName); done || err != nil {
			return err
		}
	}
	d, err := design.Build(w.table, w.rows, spec, also...)
	if err != nil {
		return err
	}
	w.missingCaution(d)
	if len(d.Rows) == 0 {
		return stats.ErrNoRows
	}
	if err := w.tooFew(len(d.Rows)); err != nil {
		return err
	}
	w.modelCautions(d)
	w.repeatability(w.table, d.Rows, append([]string{w.ask.Outcome}, spec.Terms...)...)
	w.Answer.Rows = len(d.Rows)
	if err := w.sameOutcome(y, d.Rows); err != nil {
		return err
	}
	data := regress.LinearData{X: d.X, Names: d.Names(), Terms: d.Term, TermNames: d.TermNames, Intercept: true}
	for _, i := range d.Rows {
		data.Y = append(data.Y, y.Num[i])
	}
	if clusterName != "" {
		c, _ := w.table.Col(clusterName)
		codes := codesOf(c, d.Rows)
		switch n := distinct(codes); {
		case n == len(codes):
			clusterName = "" // nobody repeats
		case n < 2:
			w.caution("one-cluster", "All rows are of one %s, so the errors cannot allow for repeated measurement.", clusterName)
			clusterName = ""
		default:
			data.Cluster = codes
			if n < 40 {
				w.caution("few-clusters", "%s: the intervals use few effective degrees of freedom and are wide for that reason.", w.only(n, plainName(clusterName), plainName(clusterName)+"s"))
			}
		}
	}
	o := regress.LinearOptions{Level: w.ask.Confidence}
	if near != nil {
		o.Robust = regress.NeweyWest
		for _, i := range d.Rows {
			data.Order = append(data.Order, near.Num[i])
		}
		w.neighbourCautions(near, d.Rows)
	}
	fit, err := regress.FitLinear(data, o)
	if err != nil {
		return w.linearError(err, d)
	}
	for _, x := range fit.Warnings {
		if x.Code != "few-clusters" { // said above, with what a cluster is
			w.caution(x.Code, "%s", x.Text)
		}
	}
	if len(d.Rows) < 10*(len(d.X)+1) {
		w.caution("few-rows", "%s for %s: fewer than 10 rows per term, so the estimates are shaky.", words.Capital(w.n(len(d.Rows), "row", "rows")), words.N(len(d.X), "term", "terms"))
	}
	es := linearEstimates(fit, d)
	w.termTable(es, clusterName != "")
	w.linearFit(fit)
	k := linearCombiner(fit, len(d.X))
	k.design, k.measure, k.unit = d, "difference in "+label(y), y.Unit
	if err := w.compare(k); err != nil {
		return err
	}
	err = w.meansFor(d, func(x []float64) (mean, error) {
		c, err := fit.Contrast(x)
		return mean{c.Estimate, c.SE, c.Low, c.High, c.Tested}, err
	})
	if err != nil {
		return err
	}
	w.linearWords(y, fit, es, d, clusterName, w.curvePhrases(k))
	w.compared(k)
	if err := w.linearAdjusted(fit, d, y); err != nil {
		return err
	}
	w.adjustedShown()
	w.linearDiagnostics(fit, d, y)
	return nil
}

// sameOutcome refuses to explain what never varies.
func (w *work) sameOutcome(y *table.Column, rows []int) error {
	for _, i := range rows {
		if y.Num[i] != y.Num[rows[0]] {
			return nil
		}
	}
	one, _ := w.nouns()
	return w.at("outcome", w.ask.Outcome, "no-variation", "%s is %s in every %s used, so there is nothing to explain", label(y), amount(y.Num[rows[0]], y.Unit), one)
}

// linearCluster is the column whose repeats the errors allow for: person
// where persons repeat, unless the question says otherwise.
func (w *work) linearCluster(also *[]string) (string, error) {
	name := w.ask.Cluster
	switch name {
	case "none":
		return "", nil
	case "":
		if !w.table.Has("person") {
			return "", nil
		}
		return "person", nil
	}
	if _, err := w.column("cluster", name); err != nil {
		return "", err
	}
	*also = append(*also, name)
	return name, nil
}

func (w *work) linearError(err error, d *design.Design) error {
	var s *regress.SingularError
	if errors.As(err, &s) {
		return w.modelError(err, d, "linear model", nil)
	}
	if text := tooFewRows(err, d); text != "" {
		return &notebook.Error{Pos: w.ask.Pos, Code: "few-rows", Text: text}
	}
	return &notebook.Error{Pos: w.ask.Pos, Code: "model", Text: strings.TrimPrefix(err.Error(), "linear model: ")}
}

func linearEstimates(fit *regress.Linear, d *design.Design) []estimate {
	var es []estimate
	for j, c := range fit.Coef {
		e := estimate{value: c.Estimate, stdErr: c.ModelSE, robust: math.NaN(), df: c.DF, low: c.Low, high: c.High, stat: c.T, p: c.P}
		if j == 0 {
			e.intercept = true
		} else {
			e.column = d.Columns[j-1]
		}
		switch {
		case !c.Tested:
			e.noInterval = true
			e.low, e.high, e.stat, e.p, e.df = math.NaN(), math.NaN(), math.NaN(), math.NaN(), math.NaN()
			e.stdErr = math.NaN()
		case fit.Used == regress.CR2 || fit.Used == regress.CR1 || fit.Used == regress.CR0:
			e.robust = c.SE
		default:
			e.stdErr = c.SE // HC3, or Newey and West: the error that the interval is made from
		}
		es = append(es, e)
	}
	return es
}

func (w *work) linearFit(fit *regress.Linear) {
	t := tableOf("fit", count("rows"), count("clusters"), number("sigma", ""), number("r_squared", ""), number("adjusted_r_squared", ""),
		number("df_residual", ""), number("f", ""), number("f_df1", ""), number("f_df2", ""), number("f_p", ""), number("log_likelihood", ""), number("aic", ""), text("errors"))
	clusters := any(nil)
	if fit.Clusters > 0 {
		clusters = fit.Clusters
	}
	f := []any{nil, nil, nil, nil}
	if o := fit.Overall; o != nil {
		f = []any{o.Statistic, o.DF1, o.DF2, o.P}
	}
	ll, aic := any(fit.LogLikelihood), any(fit.AIC)
	if fit.Exact {
		ll, aic = nil, nil
	}
	row := append([]any{fit.Rows, clusters, fit.Sigma, fit.R2, fit.AdjustedR2, fit.DF}, f...)
	t.row(append(row, ll, aic, fit.Used.String())...)
	w.addTable(t)
}

func (w *work) linearWords(y *table.Column, fit *regress.Linear, es []estimate, d *design.Design, cluster string, curves []string) {
	unit := y.Unit
	w.addForest(es[1:], d, figure.ForestSpec{Measure: "Difference in " + label(y), Unit: y.Unit, Linear: true, LowHint: "lower", HighHint: "higher"})
	parts := append(w.slopeSentences(w.termsTold(es), y), curves...)
	one, many := w.nouns()
	of := w.n(fit.Rows, one, many)
	if fit.Clusters > 0 {
		of += fmt.Sprintf(" of %s", w.n(fit.Clusters, cluster, cluster+"s"))
	}
	if len(parts) == 0 {
		m := es[0]
		w.Reading = fmt.Sprintf("The mean %s was %s%s (%s %s), of %s.", label(y), words.Value(m.value, m.low, m.high), unitWords(unit), w.confidenceWords(), words.Interval(m.low, m.high), of)
	} else {
		w.slopesRead(parts, of+", all terms taken together", fit.R2, y)
	}
	w.print(w.termsPrint(es, "Difference in "+label(y), false))
	w.meansPrint(y)
	m := fmt.Sprintf("A linear model of %s with %s was fitted by least squares.", label(y), termsOrNothing(d))
	if cluster != "" {
		m += fmt.Sprintf(" Standard errors allow for several rows of one %s (bias-reduced linearisation, CR2) with Satterthwaite degrees of freedom.", cluster)
		w.References = append(w.References, "Bell RM, McCaffrey DF. Bias reduction in standard errors for linear regression with multi-stage samples. Surv Methodol 2002; 28: 169-181.",
			"Pustejovsky JE, Tipton E. Small-sample methods for cluster-robust variance estimation and hypothesis testing in fixed effects models. J Bus Econ Stat 2018; 36: 672-683.")
	} else if fit.Used == regress.NeweyWest {
		m += w.neighbourMethods(fit)
	} else {
		m += fmt.Sprintf(" Standard errors are robust to unequal scatter (%s).", fit.Used)
		w.References = append(w.References, "MacKinnon JG, White H. Some heteroskedasticity-consistent covariance matrix estimators with improved finite sample properties. J Econom 1985; 29: 305-325.")
	}
	w.Methods = m + " Rows with missing values were left out."
}

func termsOrNothing(d *design.Design) string {
	l := termLabels(d)
	if len(l) == 0 {
		return "a constant alone"
	}
	return words.List(l) + plural(len(l), " as a term", " as terms")
}

func unitWords(unit string) string {
	switch unit {
	case "":
		return ""
	case "%":
		return "%"
	case "of 10":
		return " of 10"
	}
	return " " + unit
}

// amount prints a number with its unit, which one of has no plural.
func amount(v float64, unit string) string {
	s := words.Plain(v)
	if (s == "1" || s == words.Minus+"1") && (unit == "days" || unit == "weeks" || unit == "months" || unit == "years" || unit == "hours") {
		unit = strings.TrimSuffix(unit, "s")
	}
	return s + unitWords(unit)
}

func inUnit(unit string) string {
	if unit == "" || unit == "of 10" {
		return ""
	}
	return ", in " + unit
}

// pointWords is the unit of a difference.
func pointWords(unit string) string {
	switch unit {
	case "of 10":
		return " points"
	case "%":
		return " percentage points"
	}
	return unitWords(unit)
}

// slopesRead is the reading of a linear model: the differences, what they are
// of, how much of the scatter the model tells, and what it does not show.
func (w *work) slopesRead(parts []string, of string, r2 float64, y *table.Column) {
	rests := fmt.Sprintf("%s of %s.", itIs(len(parts), "difference", "differences"), of)
	w.Reading = fmt.Sprintf("%s %s The model accounts for %s of the variation in %s. %s", strings.Join(parts, " "), rests, words.Percent(r2, 50), label(y), notCause)
	w.shortOfTerms(parts, rests)
}
