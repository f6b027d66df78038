package answer

import (
	"fmt"
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
	t := tableOf("variance", text("group"), text("term"), text("with"), number("variance", ""), number("std_dev", ""), number("correlation", ""), number("df", ""), number("std_dev_low", ""), number("std_dev_high", ""))
	kind, limits := 0, j.fit.VarianceLimits()
	for k, c := range j.fit.Variance {
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
		l := limits[k]
		known := l.DF > 0
		t.row(g, orNil(term), orNil(c.With), c.Variance, sd, when(c.HasCorrelation, c.Correlation), when(known, l.DF), when(known, math.Sqrt(l.Low)), when(known, math.Sqrt(l.High)))
	}
	j.addTable(t)
}

// spreadPrint prints how far groups differ and how far values of one scatter.
func (j *mixedJob) spreadPrint() {
	unit := j.y.Unit
	out := document.Table{ID: j.ask.ID + "-spread", Caption: "How far they differ, and how far values of one " + j.one + " scatter", Columns: []document.TableColumn{
		{Head: "Standard deviation", Wide: true}, {Head: "Estimate" + inUnit(unit), Align: document.Right}, {Head: words.Capital(j.confidenceWords()), Align: document.Right}}}
	kind, limits, none, sloped := 0, j.fit.VarianceLimits(), false, false
	for k, c := range j.fit.Variance {
		if c.With != "" {
			continue
		}
		name := fmt.Sprintf("of values within one %s", j.one)
		switch {
		case c.Group == "residual" && len(j.kinds) > 0:
			name += fmt.Sprintf(", %s %s", nounOf(j.ask.ScatterBy), j.kinds[j.fit.Spread[kind].Kind])
			kind++
		case c.Group == "residual":
		case c.Term == "intercept":
			name = "from one " + c.Group + " to another, in level"
		default:
			name = fmt.Sprintf("from one %s to another, in the slope of %s", c.Group, j.columnLabel(c.Term))
			sloped = true
		}
		interval, sd := words.NotComputed, c.SD
		if !(sd > 1e-6*j.fit.Sigma) {
			sd = 0 // but for rounding
		}
		if l := limits[k]; l.DF > 0 {
			interval = words.Interval(math.Sqrt(l.Low), math.Sqrt(l.High))
		} else {
			none = true
		}
		out.Rows = append(out.Rows, []string{name, words.Plain(sd), interval})
	}
	if none {
		out.Notes = append(out.Notes, "No interval is given where a standard deviation came out as none, or where the rows tell next to nothing of it.")
	}
	if sloped {
		out.Notes = append(out.Notes, "Slopes are per unit of their column.")
	}
	j.print(out)
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
