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

func (w *work) countWords(f *countFit, es []estimate, adj *averaged, z regress.Zeros, curves []string) {
	w.addForest(es[1:], f.design, figure.ForestSpec{Measure: words.Capital(f.measure), LowHint: "less often", HighHint: "more often"})
	s := []string{w.countLead(f)}
	if adj != nil {
		s = append(s, w.ratesPhrase(f, adj))
	}
	parts := append(w.ratioSentences(es, ratioSides{measure: f.measure, above: "it happens more often", below: "it happens less often"}), curves...)
	s = append(s, parts...)
	if len(parts) > 0 && !w.byAlone() {
		s = append(s, itIs(len(parts), "ratio", "ratios")+" of all terms taken together.")
	}
	if f.Firth {
		s = append(s, "These ratios are penalised (Firth's method).")
	}
	if len(parts) > 0 {
		s = append(s, notCause)
	}
	w.Reading = strings.Join(s, " ")
	terms := w.termsPrint(es, words.Capital(f.measure), true)
	terms.Rows[0] = w.constantRow(es[0], "count "+f.per)
	w.print(w.withNotes(terms, f.outcomeFit))
	w.predictedShown(words.Capital(f.what)+" expected "+f.per, "Expected", func(v, low, high float64, tested bool) (string, string) {
		if !tested {
			return words.Plain(v), words.NotComputed
		}
		return words.Rate(v, low, high), words.RateRange(low, high)
	}, "What is not named has its reference category, or the mean of the rows used. The interval is of the mean, not of what one will come to.")
	w.countMethods(f, adj, z)
}

// countLead begins the reading: how many were counted, in how much.
func (w *work) countLead(f *countFit) string {
	one, many := w.nouns()
	rows := w.n(int(f.Total), one, many)
	if f.cluster != "" {
		rows += fmt.Sprintf(" of %s", w.n(f.Clusters, f.cluster, f.cluster+"s"))
	}
	events := int(f.Sum)
	in := ""
	if f.over != "" {
		in = fmt.Sprintf(" in %s %s", words.Plain(math.Round(f.Exposure*10)/10), f.over)
	}
	rate := "the rate is withheld"
	if !w.hiddenCount(events) {
		base := f.Exposure
		if f.over == "" {
			base = f.Total
		}
		rate = words.Plain(f.Sum/base) + " " + f.per
	}
	if f.watched {
		return fmt.Sprintf("In %s there were %s %s%s (%s).", rows, w.cell(events), f.what, in, rate)
	}
	return fmt.Sprintf("In %s, %s came to %s%s (%s).", rows, f.what, w.cell(events), in, rate)
}

// ratesPhrase says the rates averaged over the rows, and the first ratio.
func (w *work) ratesPhrase(f *countFit, a *averaged) string {
	_, many := w.nouns()
	var parts []string
	for g, name := range a.names {
		if g == 4 {
			break
		}
		x, unit := a.each[g], ""
		if g == 0 {
			unit = " " + f.per
		}
		if !x.Tested {
			parts = append(parts, fmt.Sprintf("%s with %s", words.Plain(x.Estimate)+unit, w.display(name)))
			continue
		}
		iv := words.RateRange(x.Low, x.High)
		if g == 0 {
			iv = w.confidenceWords() + " " + iv
		}
		parts = append(parts, fmt.Sprintf("%s with %s (%s)", words.Rate(x.Estimate, x.Low, x.High)+unit, w.display(name), iv))
	}
	out := fmt.Sprintf("Were all these %s of the one kind, each with its own other columns, it would be %s", many, strings.Join(parts, besideEachOther(len(parts))))
	if r := a.contrast[1].Ratio; len(a.names) == 2 && r.Tested {
		out += fmt.Sprintf(": %s times as many (%s)", words.RatioWithin(r.Estimate, r.Low, r.High), words.RatioRange(r.Low, r.High))
	}
	return out + "."
}

// ratesShown prints and draws the rates averaged over the rows.
func (w *work) ratesShown(f *countFit, a *averaged) {
	if a == nil {
		return
	}
	one, many := w.nouns()
	t := document.Table{ID: w.ask.ID + "-adjusted", Caption: words.Capital(f.what) + " " + f.per + ", were all " + many + " of the one kind", Columns: []document.TableColumn{
		{Head: words.Capital(w.columnLabel(w.ask.By)), Wide: true}, {Head: words.Capital(f.per), Align: document.Right}, {Head: words.Capital(w.confidenceWords()), Align: document.Right}, {Head: "p", Align: document.Right}},
		Notes: []string{fmt.Sprintf("Averaged over the %s used, each with its own other columns. The interval is of the mean, not of one %s.", many, one)}}
	spec := figure.MeansSpec{ID: w.ask.ID + "-adjusted", Title: "Adjusted " + f.what + " " + f.per + byWords(w.ask.By), Measure: "Adjusted, " + f.per, By: w.columnLabel(w.ask.By), Rows: many, Confidence: w.ask.Confidence}
	for g, name := range a.names {
		x := a.each[g]
		row := []string{w.display(name), words.Plain(x.Estimate), words.NotComputed, ""}
		m := figure.Mean{Name: w.display(name), Estimate: x.Estimate, Low: math.NaN(), High: math.NaN()}
		if x.Tested {
			row[1], row[2] = words.Rate(x.Estimate, x.Low, x.High), words.RateRange(x.Low, x.High)
			m.Low, m.High = x.Low, x.High
		}
		if !w.hiddenCount(a.rows[g]) {
			m.Rows = a.rows[g]
		}
		t.Rows, spec.Means = append(t.Rows, row), append(spec.Means, m)
	}
	for g, name := range a.names[1:] {
		w.averageRows(&t, w.display(name), w.display(a.names[0]), a.contrast[g+1], 1)
	}
	w.print(t)
	w.Figures = append(w.Figures, figure.Means(spec))
}

func (w *work) countMethods(f *countFit, a *averaged, z regress.Zeros) {
	how := "Poisson regression"
	if f.Family == regress.NegativeBinomial {
		how = "negative binomial regression (variance the mean and its square over theta)"
		w.References = append(w.References, "Lawless JF. Negative binomial and mixed Poisson regression. Can J Stat 1987; 15: 209-225.")
	} else {
		w.References = append(w.References, "McCullagh P, Nelder JA. Generalized linear models. 2nd ed. London: Chapman and Hall; 1989.")
	}
	m := fmt.Sprintf("The number of %s was modelled by %s with %s", f.what, how, termsOrNothing(f.design))
	if f.over != "" {
		m += fmt.Sprintf(", in proportion to the %s", f.over)
	}
	m += "." + w.outcomeErrors(f.outcomeFit)
	if f.Family == regress.NegativeBinomial && !math.IsInf(f.Theta, 1) {
		m += fmt.Sprintf(" Theta was %s; against a Poisson model the likelihood ratio was %s (%s, halved since theta lies at its limit).", words.Plain(f.Theta), words.Fixed(f.Overdispersion.Statistic, 1), words.PEquals(f.Overdispersion.P))
		w.References = append(w.References, "Self SG, Liang KY. Asymptotic properties of maximum likelihood estimators and likelihood ratio tests under nonstandard conditions. J Am Stat Assoc 1987; 82: 605-610.")
	}
	_, many := w.nouns()
	if z.Tested {
		m += fmt.Sprintf(" Of the %s, %s had none where the model expects %s (%s).", many, w.cell(int(z.Observed)), words.Plain(math.Round(z.Expected*10)/10), words.PEquals(z.P))
		w.References = append(w.References, "He H, Zhang H, Ye P, Tang W. A test of inflated zeros for Poisson regression models. Stat Methods Med Res 2019; 28: 1157-1169.")
	}
	if a != nil {
		m += fmt.Sprintf(" Rates are standardised: predicted for all %s used, with each category of %s in turn and all other columns as they are, and averaged; errors are by the delta method, the %s taken as they are, and intervals are made on the scale of the logarithm.", many, w.columnLabel(w.ask.By), many)
		w.References = append(w.References, "Lane PW, Nelder JA. Analysis of covariance and standardization as instances of prediction. Biometrics 1982; 38: 613-621.")
	}
	w.Methods = m + " Rows with missing values were left out."
}

// mostBins is the number of bars in which counts are drawn.
const mostBins = 20

// countDiagnostics answers `diagnostics`: rows by count, seen and expected,
// and the rows that sway the model.
func (w *work) countDiagnostics(f *countFit) {
	if !w.ask.Diagnostics {
		return
	}
	largest := f.Largest()
	seen, expected := f.Counts(largest)
	t := tableOf("counts", integer("low"), integer("high"), count("observed"), number("expected", ""))
	one, many := w.nouns()
	spec := figure.CountsSpec{ID: w.ask.ID + "-counts", Title: words.Capital(many) + " by count, seen and expected", Axis: words.Capital(f.what) + " of a " + one, Rows: words.Capital(many)}
	wide := 1
	if largest > mostBins {
		wide = (largest + mostBins - 1) / mostBins
	}
	left := f.Total
	if w.public() { // the largest count is one row's: counts that few have end in one line
		for rare := 0.0; largest > 0; largest-- {
			if rare += seen[largest]; !w.smallCount(int(rare)) {
				break
			}
		}
		largest = max(0, largest-1)
	}
	for lo := 0; lo <= largest; {
		hi := min(lo+wide-1, largest)
		if lo == 0 {
			hi = 0 // none at all is a question of its own
		}
		b := figure.CountBin{Low: lo, High: hi}
		for y := lo; y <= hi; y++ {
			b.Observed += seen[y]
			b.Expected += expected[y]
		}
		left -= b.Expected
		t.row(lo, hi, int(b.Observed), b.Expected)
		if w.hiddenCount(int(b.Observed)) {
			b.Observed = math.NaN()
		}
		spec.Bins = append(spec.Bins, b)
		lo = hi + 1
	}
	rest := figure.CountBin{Low: largest + 1, High: -1, Expected: math.Max(0, left)}
	for _, n := range seen[largest+1:] {
		rest.Observed += n
	}
	t.row(rest.Low, nil, int(rest.Observed), rest.Expected)
	if w.hiddenCount(int(rest.Observed)) {
		rest.Observed = math.NaN()
	}
	spec.Bins = append(spec.Bins, rest)
	w.addTable(t)
	w.Figures = append(w.Figures, figure.Counts(spec))
	w.Methods += " Influence is Cook's distance by one step."
	w.References = append(w.References, "Pregibon D. Logistic regression diagnostics. Ann Stat 1981; 9: 705-724.")
	w.outcomeInfluence(f.outcomeFit, "count")
}
