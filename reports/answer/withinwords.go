package answer

import (
	"fmt"
	"math"
	"strings"

	"plybook/analysis/quadrature"
	"plybook/analysis/stats"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/words"
)

// oddsOf is what a ratio is of, in words.
func (f *withinFit) oddsOf() string {
	switch {
	case f.counts != nil:
		return "rate"
	case f.levels != nil:
		return "odds of a higher level"
	}
	return "odds"
}

// waysOf are the words for a ratio above and below 1.
func (f *withinFit) waysOf() (more, less string) {
	if f.levels != nil {
		return "levels are higher", "levels are lower"
	}
	return "more often", "less often"
}

func (w *work) withinWords(f *withinFit, q quantity, es []estimate, sides []withinSide, curves []string) {
	s := []string{f.lead, w.sidesSaid(f, q, sides)}
	if !f.AtZero {
		s = append(s, w.whyTwo(f, len(sides)))
	}
	more, less := f.waysOf()
	parts := append(w.ratioSentences(es, ratioSides{measure: f.measure + " of one and the same " + f.group, above: more, below: less}), curves...)
	s = append(append(s, parts...), w.betweenSaid(f))
	if f.counts == nil {
		s = append(s, notTimesOften)
	} else {
		s = append(s, notCause)
	}
	w.Reading = strings.Join(s, " ")
	measure := words.Capital(f.measure)
	t := w.termsPrint(es, measure, true)
	t.Caption = fmt.Sprintf("%s for one and the same %s, term by term, all terms in the model together", measure, f.group)
	if f.levels == nil {
		what := "odds"
		if f.counts != nil {
			what = "count " + f.counts.per
		}
		t.Rows[0] = w.constantRow(es[0], what+" of a typical "+f.group)
	}
	if f.counts == nil {
		t.Notes = append(t.Notes, notLikely)
	}
	if len(w.joints) > 0 {
		t.Notes = append(t.Notes, words.Capital(strings.Join(w.joints, "; "))+".")
	}
	w.print(t, w.betweenPrint(f))
	w.withinMethods(f)
}

// sidesSaid says what is expected of a typical group and over all; of more
// than two categories only over all.
func (w *work) sidesSaid(f *withinFit, q quantity, sides []withinSide) string {
	_, many := w.nouns()
	var parts []string
	for g, x := range sides {
		if g == 4 {
			break
		}
		a, ia := q.print(x.Typical)
		b, ib := q.print(x.All)
		head := ""
		if g == 0 {
			head = w.confidenceWords() + " "
		}
		var p string
		switch {
		case f.AtZero || len(sides) > 2:
			p = fmt.Sprintf("%s (%s%s)", b, head, ib)
		case g == 0:
			p = fmt.Sprintf("%s (%s%s) for a typical %s and %s (%s) over all %ss", a, head, ia, f.group, b, ib, f.group)
		default:
			p = fmt.Sprintf("%s (%s) and %s (%s)", a, ia, b, ib)
		}
		if len(sides) > 1 {
			p += " with " + w.display(x.name)
		}
		parts = append(parts, p)
	}
	over := ""
	if len(sides) > 2 && !f.AtZero {
		over = fmt.Sprintf(" over all %ss", f.group)
	}
	if len(sides) == 1 {
		return fmt.Sprintf("With these %s as they are, the %s expected is %s.", many, q.what, parts[0])
	}
	return fmt.Sprintf("Were all these %s of the one kind, each with its own other columns, the %s%s would be %s.", many, q.what, over, strings.Join(parts, "; "))
}

// whyTwo says why a typical group and all groups differ.
func (w *work) whyTwo(f *withinFit, sides int) string {
	why := "among which high and low levels do not balance, so that it lies nearer to one half"
	switch {
	case f.counts != nil:
		why = "which the few with high rates raise"
	case f.levels != nil:
		why = "among which high and low ones do not balance at the ends of the scale"
	}
	if sides > 2 {
		return fmt.Sprintf("That answers for many %ss together, %s; what is expected of one typical %s stands beside it in the table.", f.group, why, f.group)
	}
	return fmt.Sprintf("The first answers for one %s, in the middle of all; the second for many %ss together, %s.", f.group, f.group, why)
}

// betweenSaid says how much groups differ.
func (w *work) betweenSaid(f *withinFit) string {
	if f.AtZero {
		return fmt.Sprintf("The %ss differ no more than chance alone would make them.", f.group)
	}
	ratio, part := words.Ratio(quadrature.MedianRatio(f.SD)), words.Percent(quadrature.Correlation(f.SD), 100)
	if lo, hi := f.Model.Low, f.High; lo.Has && hi.Has {
		ratio = words.RatioWithin(quadrature.MedianRatio(f.SD), quadrature.MedianRatio(lo.Value), quadrature.MedianRatio(hi.Value))
		part = words.PercentWithin(quadrature.Correlation(f.SD), quadrature.Correlation(lo.Value), quadrature.Correlation(hi.Value))
	}
	out := fmt.Sprintf("Of two %ss alike in all this, one has in the median %s times the %s of the other%s", f.group, ratio, f.oddsOf(),
		w.limitsSaid(f, quadrature.MedianRatio, words.RatioRange, words.Ratio))
	if f.counts == nil {
		out += fmt.Sprintf(", and %s of the variation that the terms leave lies between %ss%s", part, f.group,
			w.limitsSaid(f, quadrature.Correlation, words.PercentRange, func(a float64) string { return words.Percent(a, 100) }))
	}
	return out + fmt.Sprintf("; that %ss do not differ at all: %s.", f.group, words.PEquals(f.Between.P))
}

// limitsSaid are the limits of what follows from the standard deviation.
func (w *work) limitsSaid(f *withinFit, of func(float64) float64, both func(a, b float64) string, one func(float64) string) string {
	lo, hi := f.Model.Low, f.High
	switch {
	case lo.Has && hi.Has:
		return fmt.Sprintf(" (%s %s)", w.confidenceWords(), both(of(lo.Value), of(hi.Value)))
	case lo.Has:
		return fmt.Sprintf(" (%s from %s)", w.confidenceWords(), one(of(lo.Value)))
	}
	return ""
}

// betweenPrint is the printed table of how much groups differ.
func (w *work) betweenPrint(f *withinFit) document.Table {
	t := document.Table{ID: w.ask.ID + "-between", Caption: fmt.Sprintf("How much %ss differ from one another", f.group), Columns: []document.TableColumn{
		{Head: "Measure", Wide: true}, {Head: "Value", Align: document.Right}, {Head: words.Capital(w.confidenceWords()), Align: document.Right}}}
	lo, hi := f.Model.Low, f.High
	row := func(name string, of func(float64) float64, value func(x, a, b float64) string, both func(a, b float64) string, plain func(float64) string) {
		x := of(f.SD)
		cells := []string{name, plain(x), words.NotComputed}
		switch {
		case lo.Has && hi.Has:
			cells[1], cells[2] = value(x, of(lo.Value), of(hi.Value)), both(of(lo.Value), of(hi.Value))
		case lo.Has:
			cells[2] = "from " + plain(of(lo.Value))
		}
		t.Rows = append(t.Rows, cells)
	}
	scale := "log odds"
	if f.counts != nil {
		scale = "logarithm of the rate"
	}
	row(fmt.Sprintf("Standard deviation of %ss' own levels, in %s", f.group, scale), func(x float64) float64 { return x }, words.Rate, words.RateRange, words.Plain)
	row("Median "+f.measure+fmt.Sprintf(" of two %ss alike in all terms", f.group), quadrature.MedianRatio, words.RatioWithin, words.RatioRange, words.Ratio)
	if f.counts == nil {
		percent := func(x float64) string { return words.Percent(x, 100) }
		row("Share of the variation left that lies between "+f.group+"s", quadrature.Correlation, words.PercentWithin,
			words.PercentRange, percent)
		t.Notes = append(t.Notes, "The share is of the scale behind the outcome, on which rows scatter with the variance of a logistic distribution.")
	}
	t.Notes = append(t.Notes, fmt.Sprintf("Intervals are of the profile likelihood. That the %ss do not differ: %s, by a likelihood ratio that knows that a variance cannot lie below 0.", f.group, words.PEquals(f.Between.P)))
	return t
}

// withinShown prints and draws what is expected.
func (w *work) withinShown(f *withinFit, q quantity, sides, profiles []withinSide, line []timed) {
	_, many := w.nouns()
	if len(sides) > 1 {
		t := w.pairTable(f, q, "-averaged", words.Capital(q.what)+", were all "+many+" of the one kind", words.Capital(w.columnLabel(w.ask.By)), sides, w.display)
		t.Notes = append(t.Notes, fmt.Sprintf("Averaged over the %s used, each with its own other columns.", many))
		w.print(t)
	}
	if len(profiles) > 0 {
		t := w.pairTable(f, q, "-predicted", words.Capital(q.what)+" expected", "For", profiles, func(s string) string { return s })
		t.Notes = append(t.Notes, "What is not named has its reference category, or the mean of the rows used.")
		w.print(t)
	}
	w.withinFigures(f, q, sides, line)
}

func (w *work) pairTable(f *withinFit, q quantity, id, caption, first string, of []withinSide, name func(string) string) document.Table {
	t := document.Table{ID: w.ask.ID + id, Caption: caption + inUnit(map[bool]string{true: q.unit}[!q.share]), Columns: []document.TableColumn{
		{Head: first, Wide: true}, {Head: "Typical " + f.group, Align: document.Right}, {Head: words.Capital(w.confidenceWords()), Align: document.Right},
		{Head: "All " + f.group + "s", Align: document.Right}, {Head: words.Capital(w.confidenceWords()), Align: document.Right}}}
	for _, x := range of {
		a, ia := q.print(x.Typical)
		b, ib := q.print(x.All)
		t.Rows = append(t.Rows, []string{name(x.name), a, ia, b, ib})
	}
	return t
}

// withinFigures draws what is expected over time, the terms, the levels.
func (w *work) withinFigures(f *withinFit, q quantity, sides []withinSide, line []timed) {
	if len(line) > 0 {
		tc, _ := f.table.Col(f.time)
		spec := figure.TrajectoriesSpec{ID: w.ask.ID, Title: words.Capital(q.what) + " over time", XAxis: words.Capital(label(tc)), XUnit: tc.Unit, XDays: tc.Unit == "days",
			YAxis: q.axis, YUnit: q.unit, Each: f.group, WholeBand: true, Confidence: w.ask.Confidence}
		names := []string{"typical " + f.group, "all " + f.group + "s"}
		if f.AtZero {
			names = names[:1]
		}
		for k, name := range names {
			g := figure.GroupLine{Name: name}
			for _, e := range line {
				v := overKinds[k].of(e.Pair)
				p := figure.BandPoint{X: e.time, Y: q.scale * v.Estimate, Low: math.NaN(), High: math.NaN()}
				if v.Tested {
					p.Low, p.High = q.scale*v.Low, q.scale*v.High
				}
				g.Line = append(g.Line, p)
			}
			spec.Groups = append(spec.Groups, g)
		}
		w.Figures = append(w.Figures, figure.Trajectories(spec))
	}
	if f.levels != nil && len(sides) > 1 {
		w.Figures = append(w.Figures, w.withinLevelsFigure(f, sides))
	}
	terms := withinEstimates(f)
	if f.levels == nil {
		terms = terms[1:]
	}
	if terms = whole(terms); len(terms) > 0 {
		more, less := f.waysOf()
		if f.levels != nil {
			more, less = "higher levels", "lower levels"
		}
		g := w.forest(terms, f.design, figure.ForestSpec{Measure: words.Capital(f.measure), LowHint: less, HighHint: more})
		if len(w.Figures) > 0 {
			g.ID += "-terms"
		}
		w.Figures = append(w.Figures, g)
	}
	if g := w.limbsInOrder(f); g != nil {
		w.Figures = append(w.Figures, g)
	}
}

// limbsInOrder draws what is believed of each group's own level. Reports that
// hide small counts have no such figure.
func (w *work) limbsInOrder(f *withinFit) *figure.Figure {
	if w.ctx.Front.HideBelow > 1 || f.AtZero {
		return nil
	}
	scale := "log odds"
	if f.counts != nil {
		scale = "logarithm of the rate"
	} else if f.levels != nil {
		scale = "log odds of higher levels"
	}
	spec := figure.CaterpillarSpec{ID: w.ask.ID + "-limbs", Title: words.Capital(f.group) + "s by their own level of " + f.y, Each: f.group,
		Measure: fmt.Sprintf("Difference in %s from the typical %s", scale, f.group), Confidence: w.ask.Confidence}
	z := stats.NormalQuantile(0.5 + w.ask.Confidence/2)
	for _, e := range f.Effects {
		r := figure.CaterpillarRow{Estimate: e.Mode, Low: e.Mode - z*e.SE, High: e.Mode + z*e.SE}
		if w.ctx.Names.Show {
			r.Name = f.names[e.Group]
		}
		spec.Rows = append(spec.Rows, r)
	}
	return figure.Caterpillar(spec)
}

// withinLevelsFigure draws the levels of each category, of a typical group and
// over all.
func (w *work) withinLevelsFigure(f *withinFit, sides []withinSide) *figure.Figure {
	spec := figure.LevelsSpec{ID: w.ask.ID + "-levels", Title: "Adjusted levels of " + f.y + byWords(w.ask.By), Axis: words.Capital(f.y), Levels: f.levels.levels}
	if f.levels.numbers {
		spec.DetailHead = "mean"
	}
	kinds := overKinds
	if f.AtZero {
		kinds = kinds[1:]
	}
	for _, x := range sides {
		for _, k := range kinds {
			row := figure.LevelRow{Name: w.display(x.name)}
			if !f.AtZero {
				row.Name += map[string]string{"typical": ", typical " + f.group, "all": ", all " + f.group + "s"}[k.name]
			}
			for _, p := range x.shares.Levels {
				row.Shares = append(row.Shares, k.of(p).Estimate)
			}
			if f.levels.numbers {
				row.Detail = words.Fixed(k.of(x.Pair).Estimate, 1)
			}
			spec.Rows = append(spec.Rows, row)
		}
	}
	return figure.Levels(spec)
}

func (w *work) withinMethods(f *withinFit) {
	what := map[string]string{"mixed-logistic": "The odds of %s were modelled by logistic regression with %s", "mixed-poisson": "Counts of %s were modelled by Poisson regression with %s",
		"mixed-ordinal": "The level of %s was modelled by proportional-odds regression with %s"}[w.ask.Method]
	name := f.y
	if f.counts != nil {
		name = f.counts.what
	}
	m := fmt.Sprintf(what, name, termsOrNothing(f.design))
	if f.counts != nil && f.counts.over != "" {
		m += ", the logarithm of the " + f.counts.over + " as an offset"
	}
	if w.ask.Offset != "" {
		m += fmt.Sprintf(", %s as an offset", w.columnLabel(w.ask.Offset))
	}
	m += fmt.Sprintf(" and a random intercept for each %s, following a normal distribution. The likelihood was worked out by adaptive Gauss-Hermite quadrature with %d nodes", f.group, f.Nodes)
	m += fmt.Sprintf(", which changed its logarithm by %s against half as many, and maximised. Intervals of coefficients are Wald's, that of the standard deviation is of the profile likelihood; the variance was tested by a likelihood ratio against half a point mass at 0 and half a chi-square distribution.", movedWords(f.Moved))
	m += fmt.Sprintf(" Values over all %ss are integrated over that distribution, those of a typical %s have its mean; errors are by the delta method.", f.group, f.group)
	w.Methods = m + " Rows with missing values were left out."
	w.References = append(w.References, "Pinheiro JC, Bates DM. Approximations to the log-likelihood function in the nonlinear mixed-effects model. J Comput Graph Stat 1995; 4: 12-35.",
		"Self SG, Liang KY. Asymptotic properties of maximum likelihood estimators and likelihood ratio tests under nonstandard conditions. J Am Stat Assoc 1987; 82: 605-610.",
		"Larsen K, Merlo J. Appropriate assessment of neighborhood effects on individual health: integrating random and fixed effects in multilevel logistic regression. Am J Epidemiol 2005; 161: 81-88.")
	if f.levels != nil {
		w.References = append(w.References, "McCullagh P. Regression models for ordinal data. J R Stat Soc B 1980; 42: 109-142.")
	}
}

// movedWords says by how much the likelihood moved, without more digits than
// anybody needs.
func movedWords(x float64) string {
	if x < 1e-4 {
		return "less than 0.0001"
	}
	return words.Plain(x)
}
