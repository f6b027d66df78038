package answer

import (
	"errors"
	"fmt"
	"math"
	"sort"
	"strings"

	"plybook/analysis/cohort"
	"plybook/analysis/design"
	"plybook/analysis/mixed"
	"plybook/analysis/stats"
	"plybook/analysis/table"
	"plybook/reports/figure"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// usualTime is the clock that most questions about visits mean.
const usualTime = "days_since_delivery"

// mixedModel answers how a number changes over time, limbs being random.
func mixedModel(w *work) error {
	y, err := w.outcome()
	if err != nil {
		return err
	}
	t, timeName, err := w.scaledTime()
	if err != nil {
		return err
	}
	w.table = t
	spec, err := w.designSpec()
	if err != nil {
		return err
	}
	if timeName != "" {
		for _, n := range spec.Terms {
			if n == timeName {
				return w.at("time", n, notebook.CodeImpossible, "%s is the time and a term as well; leave it out of by and adjust", n)
			}
		}
		spec.Terms = append([]string{timeName}, spec.Terms...)
	}
	within := w.ask.Within
	if _, err := w.column("within", within); err != nil {
		return err
	}
	for _, s := range w.ask.Slopes {
		c, err := w.column("slopes", s)
		if err != nil {
			return err
		}
		if c.Kind != table.Number {
			return w.at("slopes", s, notebook.CodeImpossible, "%s is not a number and can have no slope", s)
		}
	}
	also := append([]string{w.ask.Outcome, within}, w.ask.Slopes...)
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
	gc, _ := w.table.Col(within)
	names, codes := namesOf(gc, d.Rows)
	if len(names) == 1 {
		return w.at("within", within, "one-group", "all rows are of one %s, and a mixed model tells apart how several differ; use linear", plainName(within))
	}
	data := mixed.Data{X: d.X, Names: d.Names(), Terms: d.Term, TermNames: d.TermNames, Intercept: true,
		Group: codes, GroupName: plainName(within), RandomIntercept: true}
	for _, i := range d.Rows {
		data.Y = append(data.Y, y.Num[i])
	}
	for _, s := range w.ask.Slopes {
		c, _ := w.table.Col(s)
		z := make([]float64, len(d.Rows))
		for j, i := range d.Rows {
			z[j] = c.Num[i]
		}
		data.Z, data.ZNames = append(data.Z, z), append(data.ZNames, s)
	}
	fit, err := mixed.Fit(data, mixed.Options{ML: w.ask.Estimate == "ml", Level: w.ask.Confidence})
	if err != nil {
		var s *mixed.SingularError
		if errors.As(err, &s) {
			return w.modelError(err, d, "mixed model", nil)
		}
		text := tooFewRows(err, d)
		if text == "" {
			text = strings.TrimPrefix(err.Error(), "mixed model: ")
		}
		return &notebook.Error{Pos: w.ask.Pos, Code: "model", Text: text}
	}
	w.warnings(fit.Warnings)
	if fit.Groups < 10 {
		w.caution("few-groups", "%s: how much they differ from one another is known only roughly.", w.only(fit.Groups, plainName(within), plainName(within)+"s"))
	}
	es := mixedEstimates(fit, d)
	w.termTable(es, false)
	w.varianceTable(fit, within)
	w.mixedFit(fit)
	w.limbTable(fit, names)
	k := mixedCombiner(fit, len(d.X))
	k.design, k.measure, k.unit = d, "difference in "+label(y), y.Unit
	if err := w.compare(k); err != nil {
		return err
	}
	err = w.meansFor(d, func(x []float64) (mean, error) {
		c, err := fit.Contrast(x)
		return mean{c.Estimate, c.SE, c.Low, c.High, true}, err
	})
	if err != nil {
		return err
	}
	w.mixedWords(y, fit, es, d, timeName, within, names, w.curvePhrases(k))
	w.compared(k)
	return nil
}

// scaledTime is the rows-table with its clock on the scale asked for.
func (w *work) scaledTime() (*table.Table, string, error) {
	name := w.ask.Time
	if name == "" {
		return w.table, "", nil // a model has no term that was not asked for
	}
	c, err := w.column("time", name)
	if err != nil {
		return nil, "", err
	}
	if c.Kind != table.Number {
		return nil, "", w.at("time", name, notebook.CodeImpossible, "time must be a number such as %s, but %s is %s", usualTime, name, kindWords(c.Kind))
	}
	if w.ask.Scale == "" || w.ask.Scale == "days" {
		return w.table, name, nil
	}
	out := *c
	out.Num = append([]float64(nil), c.Num...)
	out.Missing = append([]bool(nil), c.Missing...)
	what := label(c)
	if name == usualTime {
		what = "time since delivery"
	}
	out.Unit, out.Label = "months", what
	if w.ask.Scale == "log-weeks" {
		out.Unit, out.Label = "", what+", in weeks, as its logarithm"
	}
	lost := 0
	for _, i := range w.rows {
		if out.Missing[i] {
			continue
		}
		if w.ask.Scale == "months" {
			out.Num[i] /= table.DaysPerMonth
			continue
		}
		if out.Num[i] <= 0 {
			lost++
		}
		out.SetNum(i, math.Log(out.Num[i]/7))
	}
	if lost > 0 {
		one, many := w.nouns()
		w.caution("log-time", "%s on or before day 0 %s left out: such a time has no logarithm.", words.Capital(w.n(lost, one, many)), w.agree(lost, "is", "are"))
	}
	t, err := w.table.With(&out)
	if err != nil {
		return nil, "", err
	}
	return t, name, nil
}

// namesOf numbers the values of a column in their order.
func namesOf(c *table.Column, rows []int) (names []string, codes []int) {
	seen := map[string]int{}
	for _, i := range rows {
		seen[valueText(c, i)] = 0
	}
	for n := range seen {
		names = append(names, n)
	}
	sortGroups(names)
	for k, n := range names {
		seen[n] = k
	}
	for _, i := range rows {
		codes = append(codes, seen[valueText(c, i)])
	}
	return names, codes
}

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

func (w *work) varianceTable(fit *mixed.Model, within string) {
	t := tableOf("variance", text("group"), text("term"), text("with"), number("variance", ""), number("std_dev", ""), number("correlation", ""))
	for _, c := range fit.Variance {
		g := within
		if c.Group == "residual" {
			g = "residual"
		}
		sd := any(nil)
		if c.With == "" {
			sd = finite(c.SD)
		}
		t.row(g, orNil(c.Term), orNil(c.With), c.Variance, sd, when(c.HasCorrelation, c.Correlation))
	}
	w.addTable(t)
}

func (w *work) mixedFit(fit *mixed.Model) {
	t := tableOf("fit", count("rows"), count("groups"), text("estimate"), number("sigma", ""), number("log_likelihood", ""), number("aic", ""),
		integer("parameters"), number("icc", ""), number("r_squared_marginal", ""), number("r_squared_conditional", ""), flag("singular"))
	est := "reml"
	if fit.ML {
		est = "ml"
	}
	t.row(fit.Rows, fit.Groups, est, fit.Sigma, fit.LogLikelihood, fit.AIC, fit.Parameters, fit.ICC, fit.R2Marginal, fit.R2Conditional, fit.Singular)
	w.addTable(t)
}

// limbTable lists what the model believes of each limb, where limbs may be
// shown.
func (w *work) limbTable(fit *mixed.Model, names []string) {
	t := tableOf("limbs", text("group"), text("term"), number("estimate", ""), number("std_error", ""))
	if !w.ctx.Names.Show {
		w.caution("limbs-hidden", "%s", w.ctx.Names.Why)
	} else {
		for _, e := range fit.Effects {
			for k, n := range fit.RandomNames {
				t.row(names[e.Group], n, e.Mode[k], e.SE[k])
			}
		}
	}
	w.addTable(t)
}

func (w *work) mixedWords(y *table.Column, fit *mixed.Model, es []estimate, d *design.Design, timeName, within string, names, curves []string) {
	unit := y.Unit
	one, many := w.nouns()
	group := plainName(within)
	var parts []string
	for _, e := range es {
		if e.intercept || e.column.Piece > 0 || len(parts) == 3 {
			continue
		}
		parts = append(parts, w.slopePhrase(e, y))
	}
	parts = append(parts, curves...)
	lead := fmt.Sprintf("Across %s of %s", w.n(fit.Rows, one, many), w.n(fit.Groups, group, group+"s"))
	if len(parts) == 0 {
		m := es[0]
		parts = []string{fmt.Sprintf("the mean %s was %s%s (%s %s)", label(y), words.Value(m.value, m.low, m.high), unitWords(unit), w.confidenceWords(), words.Interval(m.low, m.high))}
	}
	sd := 0.0
	for _, c := range fit.Variance {
		if c.Term == "intercept" && c.With == "" {
			sd = c.SD
		}
	}
	w.Reading = fmt.Sprintf("%s: %s. ", lead, strings.Join(parts, "; "))
	if sd > 1e-6*fit.Sigma {
		w.Reading += fmt.Sprintf("From one %s to another the level differs with a standard deviation of %s%s; within", group, words.Plain(sd), pointWords(unit))
	} else {
		w.Reading += fmt.Sprintf("The %ss differ no more in level than their own scatter would make them; within", group)
	}
	w.Reading += fmt.Sprintf(" one %s the values scatter by %s%s.", group, words.Plain(fit.Sigma), pointWords(unit))
	if timeName != "" {
		w.Figures = append(w.Figures, w.trajectories(y, fit, d, timeName, within, names))
	}
	if es := whole(es[1:]); len(es) > 1 || timeName == "" && len(es) > 0 {
		f := w.forest(es, d, figure.ForestSpec{Measure: "Difference in " + label(y), Unit: unit, Linear: true, LowHint: "lower", HighHint: "higher"})
		if len(w.Figures) > 0 {
			f.ID += "-terms"
		}
		w.Figures = append(w.Figures, f)
	}
	w.print(w.termsPrint(es, "Difference in "+label(y), false))
	w.meansPrint(y)
	est := "restricted maximum likelihood"
	if fit.ML {
		est = "maximum likelihood"
	}
	m := fmt.Sprintf("A linear mixed model of %s had %s, and a random intercept", label(y), termsOrNothing(d))
	if len(w.ask.Slopes) > 0 {
		var ls []string
		for _, s := range w.ask.Slopes {
			ls = append(ls, plainName(s))
		}
		m += " and a random slope for " + words.List(ls)
	}
	m += fmt.Sprintf(" for each %s; it was fitted by %s, with degrees of freedom by Satterthwaite's method. Rows with missing values were left out.", group, est)
	w.Methods = m
	w.References = append(w.References, "Laird NM, Ware JH. Random-effects models for longitudinal data. Biometrics 1982; 38: 963-974.",
		"Satterthwaite FE. An approximate distribution of estimates of variance components. Biometrics 1946; 2: 110-114.",
		"Nakagawa S, Schielzeth H. A general and simple method for obtaining R2 from generalized linear mixed-effects models. Methods Ecol Evol 2013; 4: 133-142.")
}

// trajectories draws each limb's values and the line of the average limb,
// other columns at their means.
func (w *work) trajectories(y *table.Column, fit *mixed.Model, d *design.Design, timeName, within string, names []string) *figure.Figure {
	tc, _ := w.table.Col(timeName)
	gc, _ := w.table.Col(within)
	spec := figure.TrajectoriesSpec{ID: w.ask.ID, Title: words.Capital(label(y)) + " over time", XAxis: words.Capital(label(tc)), XUnit: tc.Unit,
		YAxis: words.Capital(label(y)), YUnit: y.Unit, Each: plainName(within), LineName: "average " + plainName(within), Confidence: w.ask.Confidence}
	spec.XDays = tc.Unit == "days"
	paths := map[string][]figure.XY{}
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, i := range d.Rows {
		n := valueText(gc, i)
		paths[n] = append(paths[n], figure.XY{X: tc.Num[i], Y: y.Num[i]})
		lo, hi = math.Min(lo, tc.Num[i]), math.Max(hi, tc.Num[i])
	}
	if w.ctx.Front.HideBelow <= 1 {
		for _, n := range names {
			p := paths[n]
			sort.SliceStable(p, func(a, b int) bool { return p[a].X < p[b].X })
			spec.Paths = append(spec.Paths, figure.Path{Points: p})
		}
	}
	at := make([]float64, len(d.X))
	for j := range d.X {
		at[j] = average(d.X[j])
	}
	z := stats.NormalQuantile(1 - (1-w.ask.Confidence)/2)
	if hi > lo {
		const grid = 60
		for k := 0; k <= grid; k++ {
			x := lo + (hi-lo)*float64(k)/grid
			d.SetNumber(at, timeName, x)
			if err := w.fillProducts(at, d); err != nil {
				break
			}
			r := append([]float64{1}, at...)
			est, v := 0.0, 0.0
			for a := range r {
				est += r[a] * fit.Coef[a].Estimate
				for b := range r {
					v += r[a] * fit.Cov[a][b] * r[b]
				}
			}
			se := math.Sqrt(math.Max(0, v))
			spec.Line = append(spec.Line, figure.BandPoint{X: x, Y: est, Low: est - z*se, High: est + z*se})
		}
	}
	return figure.Trajectories(spec)
}

// steps the answer took, for the flow.
func lastStep(steps []cohort.Step) int {
	if len(steps) == 0 {
		return 0
	}
	return steps[len(steps)-1].Rows
}
