package answer

import (
	"math"

	"plybook/analysis/design"
	"plybook/analysis/mixed"
	"plybook/reports/document"
	"plybook/reports/words"
)

func mixedEstimates(fit *mixed.Model, d *design.Design) []estimate {
	var es []estimate
	for j, c := range fit.Coef {
		e := estimate{value: c.Estimate, stdErr: c.SE, robust: math.NaN(), df: c.DF, low: c.Low, high: c.High, stat: c.T, p: c.P}
		if c.DF == 0 {
			e.df = math.NaN()
		}
		if j == 0 {
			e.intercept = true
		} else {
			e.column = d.Columns[j-1]
		}
		es = append(es, e)
	}
	return es
}

func (j *mixedJob) varianceTable() {
	t := tableOf("variance", text("group"), text("term"), text("with"), number("variance", ""), number("std_dev", ""), number("correlation", ""))
	kind := 0
	for _, c := range j.fit.Variance {
		g, term := j.columnOf(c.Group), c.Term
		if c.Group == "residual" {
			g = "residual"
			if len(j.kinds) > 0 {
				term = j.kinds[j.fit.Spread[kind].Kind]
				kind++
			}
		}
		sd := any(nil)
		if c.With == "" {
			sd = finite(c.SD)
		}
		t.row(g, orNil(term), orNil(c.With), c.Variance, sd, when(c.HasCorrelation, c.Correlation))
	}
	j.addTable(t)
}

// testTable lists the tests of what is random; it is empty where none were
// asked for.
func (j *mixedJob) testTable() {
	t := tableOf("variance_tests", text("group"), text("term"), number("statistic", ""), integer("df_low"), integer("df_high"), number("p", ""))
	for _, x := range j.tests {
		g, term := j.columnOf(x.Group), x.Term
		switch x.Term {
		case mixed.TimeTerm:
			term = "correlation"
		case mixed.SpreadTerm:
			term = "scatter"
		}
		t.row(g, term, x.Statistic, x.DFLow, x.DFHigh, x.P)
	}
	j.addTable(t)
}

// testPrint prints the tests of what is random.
func (j *mixedJob) testPrint() {
	if len(j.tests) == 0 {
		return
	}
	out := document.Table{ID: j.ask.ID + "-random", Caption: "Whether each part of the differences is needed", Columns: []document.TableColumn{
		{Head: "Left out", Wide: true}, {Head: "Likelihood ratio", Align: document.Right}, {Head: "p", Align: document.Right}},
		Notes: []string{"Twice the difference of the log-likelihoods of the model with and without it. Since a variance cannot be below zero, p is taken half from each of two chi-square distributions, with as many degrees of freedom as covariances fall away and with one more."}}
	for _, x := range j.tests {
		name := ""
		switch {
		case x.Term == mixed.TimeTerm:
			name = "correlation in time"
		case x.Term == mixed.SpreadTerm:
			name = "scatter of its own for each " + nounOf(j.ask.ScatterBy)
		case x.Term == "intercept":
			name = "level of each " + x.Group
		default:
			name = "slope of " + j.columnLabel(x.Term) + " of each " + x.Group
		}
		if math.IsNaN(x.P) {
			out.Rows = append(out.Rows, []string{name, words.NotComputed, words.NotComputed})
			continue
		}
		out.Rows = append(out.Rows, []string{name, words.Fixed(x.Statistic, 2), words.P(x.P)})
	}
	j.print(out)
}

func (j *mixedJob) fitTable() {
	t := tableOf("fit", count("rows"), count("groups"), text("estimate"), number("sigma", ""), number("log_likelihood", ""), number("aic", ""),
		integer("parameters"), number("icc", ""), number("r_squared_marginal", ""), number("r_squared_conditional", ""), flag("singular"),
		number("correlation_range", ""), count("groups_above"), number("icc_above", ""), text("freedom"))
	f, est, above := j.fit, "reml", any(nil)
	if j.data.Above != nil {
		above = len(j.groupings[1].names)
	}
	if f.ML {
		est = "ml"
	}
	t.row(f.Rows, f.Groups, est, f.Sigma, f.LogLikelihood, f.AIC, f.Parameters, f.ICC, f.R2Marginal, f.R2Conditional, f.Singular, when(f.Range > 0, f.Range), above, when(j.data.Above != nil, f.ICCAbove), j.ask.Freedom)
	j.addTable(t)
}

// limbTable lists what the model believes of each limb, and of each group of
// another grouping, where such may be shown.
func (j *mixedJob) limbTable() {
	t := tableOf("limbs", text("group"), text("term"), number("estimate", ""), number("std_error", ""), number("std_error_all", ""), text("of"))
	if !j.ctx.Names.Show {
		j.caution("limbs-hidden", "%s", j.ctx.Names.Why)
	}
	for k, l := range j.fit.Layers {
		g := j.groupings[k]
		if g.hidden {
			continue
		}
		for _, e := range l.Effects {
			for i, n := range l.RandomNames {
				t.row(g.names[e.Group], n, e.Mode[i], e.SE[i], e.SEAll[i], g.column)
			}
		}
	}
	j.addTable(t)
}
