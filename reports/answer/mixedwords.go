package answer

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"plybook/analysis/table"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/words"
)

// words writes what an answer says: reading, figures, print and methods.
func (j *mixedJob) words(es []estimate, curves []string) {
	w, fit, d, y := j.work, j.fit, j.design, j.y
	one, many := w.nouns()
	var told []estimate
	for _, e := range whole(es) {
		if !e.intercept && len(told) < 3 {
			told = append(told, e)
		}
	}
	parts := append(w.slopeSentences(told, y), curves...)
	of := fmt.Sprintf("%s of %s", w.n(fit.Rows, one, many), w.n(fit.Groups, j.one, j.one+"s"))
	rests := fmt.Sprintf("%s of %s.", itIs(len(parts), "difference", "differences"), of)
	if len(parts) == 0 {
		m := es[0]
		parts = []string{fmt.Sprintf("The mean %s was %s%s (%s %s).", label(y), words.Value(m.value, m.low, m.high), unitWords(y.Unit), w.confidenceWords(), words.Interval(m.low, m.high))}
		rests = fmt.Sprintf("It is of %s.", of)
	}
	w.Reading = strings.Join(append(parts, rests, j.scatterWords(), notCause), " ")
	w.shortOfTerms(parts, rests)
	if j.timeName != "" {
		w.Figures = append(w.Figures, j.trajectories())
	}
	if es := whole(es[1:]); len(es) > 1 || j.timeName == "" && len(es) > 0 {
		f := w.forest(es, d, figure.ForestSpec{Measure: "Difference in " + label(y), Unit: y.Unit, Linear: true, LowHint: "lower", HighHint: "higher"})
		if len(w.Figures) > 0 {
			f.ID += "-terms"
		}
		w.Figures = append(w.Figures, f)
	}
	w.Figures = append(w.Figures, j.caterpillars()...)
	t := w.termsPrint(es, "Difference in "+label(y), false)
	if len(w.joints) > 0 {
		t.Notes = append(t.Notes, words.Capital(strings.Join(w.joints, "; "))+".")
	}
	w.print(t)
	j.spreadPrint()
	j.sharesPrint()
	j.testPrint()
	w.meansPrint(y)
	j.methods()
}

// scatterWords says how far limbs lie apart and how far one limb's values do.
func (j *mixedJob) scatterWords() string {
	fit, unit := j.fit, j.y.Unit
	out := ""
	for k, l := range fit.Layers {
		of, sd := "", math.Sqrt(l.Cov[0][0])
		if k == 0 && j.data.Above != nil {
			of = " of one " + j.groupings[1].noun
		}
		if sd > 1e-6*fit.Sigma {
			out += fmt.Sprintf("From one %s%s to another the level differs with a standard deviation of %s%s. ", l.Name, of, words.Plain(sd), pointWords(unit))
		} else {
			out += fmt.Sprintf("The %ss%s differ no more in level than their own scatter would make them. ", l.Name, of)
		}
	}
	out += fmt.Sprintf("Within one %s the values scatter by %s%s", j.one, words.Plain(fit.Sigma), pointWords(unit))
	if len(j.kinds) > 0 {
		low, high := 0, 0
		for k, s := range fit.Spread {
			if s.SD < fit.Spread[low].SD {
				low = k
			}
			if s.SD > fit.Spread[high].SD {
				high = k
			}
		}
		of := j.columnLabel(j.ask.ScatterBy)
		if staffColumns[j.ask.ScatterBy] {
			of = nounOf(j.ask.ScatterBy)
		}
		what := func(k int) string { return of + " " + j.kinds[fit.Spread[k].Kind] }
		out += fmt.Sprintf(", from %s for %s to %s for %s", words.Plain(fit.Spread[low].SD), what(low), words.Plain(fit.Spread[high].SD), what(high))
	}
	out += "."
	if fit.Range > 0 {
		gap := j.usualGap()
		_, many := j.nouns()
		out += fmt.Sprintf(" What moves one of them moves the next as well: two %s of one %s %s apart, as they usually are, have a correlation of %s beyond all this.",
			many, j.one, j.clockWords(gap), words.Fixed(math.Exp(-gap/fit.Range), 2))
	}
	return out
}

// clockWords is a length of time on the clock of rows.
func (j *mixedJob) clockWords(v float64) string {
	if j.clock.Kind == table.Date {
		return words.Plain(v) + plural(int(math.Round(v)), " day", " days")
	}
	return amount(v, j.clock.Unit)
}

// usualGap is the median time between rows of one group that follow one
// another.
func (j *mixedJob) usualGap() float64 {
	times := make([][]float64, len(j.names))
	for k, g := range j.data.Group {
		times[g] = append(times[g], j.data.Time[k])
	}
	var gaps []float64
	for _, t := range times {
		sort.Float64s(t)
		for k := 1; k < len(t); k++ {
			gaps = append(gaps, t[k]-t[k-1])
		}
	}
	sort.Float64s(gaps)
	return gaps[len(gaps)/2]
}

// methods writes the sentence for a paper.
func (j *mixedJob) methods() {
	w := j.work
	m := fmt.Sprintf("A linear mixed model of %s had %s, and a random intercept", label(j.y), termsOrNothing(j.design)) + j.slopeWords(w.ask.Slopes) + " for each " + j.one
	if j.data.Above != nil {
		m += fmt.Sprintf(" within %ss, a random intercept%s for each %s", j.groupings[1].noun, j.slopeWords(w.ask.NestedSlopes), j.groupings[1].noun)
	}
	for _, c := range j.data.Crossed {
		m += ", a crossed random intercept for each " + c.Name
	}
	if len(j.kinds) > 0 {
		m += "; residuals had a variance of their own by " + plainName(w.ask.ScatterBy)
	}
	if w.ask.Correlation == "ar1" {
		m += "; residuals of one " + j.one + " had a correlation that fell off exponentially with the time between them (continuous-time autoregression of order 1)"
		w.References = append(w.References, "Jones RH, Boadi-Boateng F. Unequally spaced longitudinal data with AR(1) serial correlation. Biometrics 1991; 47: 161-175.")
	}
	est := "restricted maximum likelihood"
	if j.fit.ML {
		est = "maximum likelihood"
	}
	m += fmt.Sprintf(". It was fitted by %s. ", est) + j.freedomWords()
	if len(j.tests) > 0 {
		m += " Each part of what is random was tested by the likelihood ratio of the models with and without it, where a variance is at stake against a half-and-half mixture of chi-square distributions."
		w.References = append(w.References, "Self SG, Liang KY. Asymptotic properties of maximum likelihood estimators and likelihood ratio tests under nonstandard conditions. J Am Stat Assoc 1987; 82: 605-610.",
			"Stram DO, Lee JW. Variance components testing in the longitudinal mixed effects model. Biometrics 1994; 50: 1171-1177.")
	}
	w.Methods = m + " Rows with missing values were left out."
	w.References = append(w.References, "Laird NM, Ware JH. Random-effects models for longitudinal data. Biometrics 1982; 38: 963-974.",
		"Nakagawa S, Schielzeth H. A general and simple method for obtaining R2 from generalized linear mixed-effects models. Methods Ecol Evol 2013; 4: 133-142.")
	if len(w.ask.Slopes) > 0 {
		w.References = append(w.References, "Johnson PCD. Extension of Nakagawa & Schielzeth's R2GLMM to random slopes models. Methods Ecol Evol 2014; 5: 944-946.")
	}
}

// oneOfEach names what rows are grouped by: "limb, person and measurer".
func (j *mixedJob) oneOfEach() string {
	var out []string
	for _, g := range j.groupings {
		out = append(out, g.noun)
	}
	return words.List(out)
}

// slopeWords names random slopes, with the words that lead to them.
func (j *mixedJob) slopeWords(slopes []string) string {
	if len(slopes) == 0 {
		return ""
	}
	var ls []string
	for _, s := range slopes {
		ls = append(ls, plainName(s))
	}
	out := " and a random slope for " + words.List(ls)
	if j.options.Uncorrelated {
		out += ", uncorrelated,"
	}
	return out
}

// sharesPrint prints how much of the scatter has which source.
func (j *mixedJob) sharesPrint() {
	f := j.fit
	pc := func(v float64) string { return words.Fixed(100*v, 1) }
	out := document.Table{ID: j.ask.ID + "-shares", Caption: "Where the scatter comes from, in percent of all of it", Columns: []document.TableColumn{
		{Head: "Share", Wide: true}, {Head: "Percent", Align: document.Right}},
		Rows: [][]string{
			{"told by the columns of the model (marginal R²)", pc(f.R2Marginal)},
			{"told by the columns and by which " + j.oneOfEach() + " it is (conditional R²)", pc(f.R2Conditional)},
			{"of what the columns leave, between " + j.one + "s (intraclass correlation)", pc(f.ICC)}}}
	if j.data.Above != nil {
		out.Rows = append(out.Rows, []string{"of that, between " + j.groupings[1].noun + "s", pc(f.ICCAbove)})
	}
	if len(j.data.Z) > 0 {
		out.Notes = append(out.Notes, fmt.Sprintf("Where %ss have slopes of their own, how far they lie apart depends on the row; the mean over all rows is taken.", j.one))
	}
	j.print(out)
}

// trajectories draws each limb's values and the line of the average limb,
// other columns at their means.
func (j *mixedJob) trajectories() *figure.Figure {
	w, y, fit, d, timeName, within, names := j.work, j.y, j.fit, j.design, j.timeName, j.within, j.names
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
	for c := range d.X {
		at[c] = average(d.X[c])
	}
	if hi > lo {
		const grid = 60
		for k := 0; k <= grid; k++ {
			x := lo + (hi-lo)*float64(k)/grid
			d.SetNumber(at, timeName, x)
			if err := w.fillProducts(at, d); err != nil {
				break
			}
			c, err := fit.Contrast(append([]float64{1}, at...))
			if err != nil {
				break
			}
			spec.Line = append(spec.Line, figure.BandPoint{X: x, Y: c.Estimate, Low: c.Low, High: c.High})
		}
	}
	return figure.Trajectories(spec)
}
