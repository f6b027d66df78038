package answer

import (
	"fmt"
	"math"

	"plybook/analysis/quality"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/words"
)

func (j *segmentedJob) segmentedTables() {
	w, s, f := j.work, j.s, j.fit
	_, unit := j.value()
	den := count("denominator")
	if j.expo != nil {
		den = number("denominator", j.expo.words)
	}
	t := tableOf("points", text("period"), number("value", unit), count("numerator"), den, number("fitted", unit), number("old_line", unit), flag("since"), flag("left_out"))
	at := map[int]int{}
	for i, k := range j.used {
		at[k] = i
	}
	hide := j.hiddenPoints()
	for k, p := range s.periods {
		var value, fitted, old, num, d any
		if w.HasEvents {
			num = int(s.num[k])
		}
		if j.kind != quality.KindC {
			d = s.den[k]
		}
		i, used := at[k]
		n := j.number(p)
		since := n >= j.data.Start
		if used {
			value, fitted = j.data.Value[i], j.lines.At(n, since)
			if since {
				old = j.lines.At(n, false)
			}
		}
		t.row(p.name, value, num, d, fitted, old, since, j.leftOut[k])
		if hide[k] {
			j.hidePoint(t)
		}
	}
	w.addTable(t)
	t = tableOf("terms", text("term"), number("estimate", unit), number("std_error", unit), number("df", ""), number("low", unit), number("high", unit), number("t", ""), number("p", ""))
	row := func(t *Table, name string, e quality.SegmentedEstimate, also ...any) {
		lo, hi := e.Interval(w.ask.Confidence)
		t.row(append(append([]any{}, also...), name, e.Value, e.StdErr, e.DF, lo, hi, e.T, e.P)...)
	}
	for i, e := range j.lines.Coef {
		row(t, quality.SegmentedTerms[i], e)
	}
	row(t, "slope_since", j.lines.SlopeAfter())
	w.addTable(t)
	t = tableOf("effects", integer("periods_since"), text("period"), number("new_line", unit), number("old_line", unit), number("estimate", unit), number("std_error", unit), number("low", unit), number("high", unit), number("p", ""))
	for _, k := range j.moments() {
		e := j.lines.Effect(k)
		lo, hi := e.Interval(w.ask.Confidence)
		t.row(k-j.data.Start, j.nameOf(k), j.lines.Level(k, true), j.lines.Level(k, false), e.Value, e.StdErr, lo, hi, e.P)
	}
	w.addTable(t)
	t = tableOf("errors", text("errors"), text("term"), number("estimate", unit), number("std_error", unit), number("df", ""), number("low", unit), number("high", unit), number("t", ""), number("p", ""))
	for _, l := range j.kinds() {
		for _, i := range []int{2, 3} {
			row(t, quality.SegmentedTerms[i], l.lines.Coef[i], l.name)
		}
		row(t, "effect_at_end", l.lines.Effect(j.atEnd()), l.name)
	}
	w.addTable(t)
	t = tableOf("fit", Column{Name: "change", Type: TypeDate}, integer("points_before"), integer("points_since"), integer("left_out"), text("errors"), flag("season"), flag("weighted"), integer("lag"), number("rho", ""), number("neighbours", ""), number("sigma", ""), number("r_squared", ""), number("df_residual", ""))
	left := 0
	for _, l := range j.leftOut {
		if l {
			left++
		}
	}
	t.row(j.change, f.Before, f.After, left, j.errors, j.data.Season, j.data.Weight != nil, f.Lag, when(f.AR1 != nil, f.Rho), f.Neighbour, f.Sigma, f.RSquared, f.DF)
	w.addTable(t)
}

type namedLines struct {
	name, words string
	lines       *quality.SegmentedLines
}

// kinds are the lines under each kind of errors, the one read first.
func (j *segmentedJob) kinds() []namedLines {
	all := []namedLines{{"autoregressive", "each leans on the one before", j.fit.AR1}, {"newey-west", "Newey and West", j.fit.NeweyWest}, {"independent", "taken as independent", j.fit.Independent}}
	var out []namedLines
	for _, first := range []bool{true, false} {
		for _, l := range all {
			if l.lines != nil && (l.name == j.errors) == first {
				out = append(out, l)
			}
		}
	}
	return out
}

// scaled is the factor of what is printed: shares are in percentage points.
func (j *segmentedJob) scaled() (factor float64, unit string) {
	if j.kind == quality.KindP {
		return 100, " percentage points"
	}
	_, u := j.value()
	return 1, unitWords(u)
}

// amount prints an estimate with its interval, as a difference.
func (j *segmentedJob) amount(e quality.SegmentedEstimate) (value, interval string) {
	f, _ := j.scaled()
	lo, hi := e.Interval(j.ask.Confidence)
	return words.Signed(f*e.Value, f*lo, f*hi), words.Interval(f*lo, f*hi)
}

func (j *segmentedJob) segmentedFigure() {
	w, s := j.work, j.s
	what, unit := j.value()
	spec := figure.SegmentedSpec{ID: w.ask.ID, Title: words.Capital(what) + " by " + w.ask.Period, ValueAxis: words.Capital(what), Unit: unit, Percent: j.kind == quality.KindP}
	switch w.ask.Better {
	case "lower":
		spec.Better = figure.BetterLower
	case "higher":
		spec.Better = figure.BetterHigher
	}
	hidden, hide := 0, j.hiddenPoints()
	for k, p := range s.periods {
		if !(s.den[k] > 0) {
			continue
		}
		v := s.values[k]
		if j.kind == quality.KindP || j.kind == quality.KindU {
			v = s.num[k] / s.den[k]
		}
		pt := figure.SegmentedPoint{Label: p.name, Day: int(p.start), Value: v, LeftOut: j.leftOut[k], Hidden: hide[k]}
		if pt.Hidden {
			hidden++
			pt.Value = math.NaN()
		}
		spec.Points = append(spec.Points, pt)
	}
	if hidden > 0 {
		w.caution("points-hidden", "%s not drawn, since %s for few people. A longer period would show more.", words.Capital(words.N(hidden, "point is", "points are")), plural(hidden, "it stands", "they stand"))
	}
	for k, p := range s.periods {
		n := j.number(p)
		if n < j.data.Index[0] || n > j.atEnd() {
			continue
		}
		since := n >= j.data.Start
		line := figure.DayValue{Day: int(p.start), Value: j.lines.Level(n, since)}
		switch {
		case since:
			spec.Since = append(spec.Since, line)
			spec.Counter = append(spec.Counter, figure.DayValue{Day: int(p.start), Value: j.lines.Level(n, false)})
		case !j.leftOut[k]:
			spec.Before = append(spec.Before, line)
		}
		if j.data.Season && !j.leftOut[k] {
			spec.Season = append(spec.Season, figure.DayValue{Day: int(p.start), Value: j.lines.At(n, since)})
		}
	}
	text := "The change"
	if j.decision != nil {
		text = j.decision.What
	}
	spec.Changes = []figure.Decision{{Day: int(j.change), Text: text}}
	for _, d := range j.made {
		if d != j.decision && d.On != j.change {
			spec.Changes = append(spec.Changes, figure.Decision{Day: int(d.On), Text: d.What})
		}
	}
	w.Figures = append(w.Figures, figure.Segmented(spec))
}

// chance says of a difference whether chance alone could give it.
func (j *segmentedJob) chance(e quality.SegmentedEstimate) string {
	if lo, hi := e.Interval(j.ask.Confidence); lo <= 0 && hi >= 0 {
		return "; no more than chance could give"
	}
	return j.verdict(e)
}

// verdict says of a difference whether it is on the better side.
func (j *segmentedJob) verdict(e quality.SegmentedEstimate) string {
	switch {
	case j.ask.Better == "" || e.Value == 0:
		return ""
	case (e.Value > 0) == (j.ask.Better == "higher"):
		return ", the better side"
	}
	return ", the worse side"
}

func (j *segmentedJob) segmentedReading() {
	w := j.work
	_, unit := j.scaled()
	what, _ := j.value()
	slope, _ := j.amount(j.lines.Coef[1])
	step, stepIn := j.amount(j.lines.Coef[2])
	bend, bendIn := j.amount(j.lines.Coef[3])
	e := j.lines.Effect(j.atEnd())
	end, endIn := j.amount(e)
	lo, hi := e.Interval(w.ask.Confidence)
	in := func(v string) string {
		if unit == " percentage points" {
			return words.With(v, "percentage point", "percentage points")
		}
		return v + unit
	}
	last := fmt.Sprintf("In %s, the last %s, the new line lies %s from where the old one would have led (%s)", j.nameOf(j.atEnd()), w.ask.Period, in(end), endIn)
	if lo <= 0 && hi >= 0 {
		last += ", no more than chance could give."
	} else {
		last += j.verdict(e) + "."
	}
	w.Reading = fmt.Sprintf("With the change of %s the %s stepped by %s (%s %s%s). Its slope, %s a %s before, changed by %s a %s (%s%s). %s Whatever else changed at that time is in these numbers too.",
		words.Date(j.change), what, in(step), w.confidenceWords(), stepIn, j.chance(j.lines.Coef[2]), in(slope), w.ask.Period, in(bend), w.ask.Period, bendIn, j.chance(j.lines.Coef[3]), last)
	if j.decision == nil {
		return
	}
	w.Since = map[int]string{}
	for _, d := range j.made {
		if d != j.decision {
			w.Since[d.Pos.Line] = "not the change that is measured"
			continue
		}
		w.Since[d.Pos.Line] = fmt.Sprintf("level %s%s (%s), slope %s a %s (%s); by %s %s (%s)", step, unit, stepIn, bend, w.ask.Period, bendIn, j.nameOf(j.atEnd()), end, endIn)
	}
}

func (j *segmentedJob) segmentedPrint() {
	w := j.work
	_, unit := j.scaled()
	head := "Estimate"
	if unit != "" {
		head += " (" + unit[1:] + ")"
	}
	t := document.Table{ID: w.ask.ID + "-lines", Caption: "Level and slope before the change and since", Columns: []document.TableColumn{
		{Head: "What", Wide: true}, {Head: head, Align: document.Right}, {Head: words.Capital(w.confidenceWords()), Align: document.Right}, {Head: "p", Align: document.Right}}}
	add := func(name string, e quality.SegmentedEstimate, p bool) {
		v, in := j.amount(e)
		pText := ""
		if p {
			pText = words.P(e.P)
		}
		t.Rows = append(t.Rows, []string{name, v, in, pText})
	}
	add("Slope before, a "+w.ask.Period, j.lines.Coef[1], false)
	add("Step in level at the change", j.lines.Coef[2], true)
	add("Change of slope, a "+w.ask.Period, j.lines.Coef[3], true)
	add("Slope since, a "+w.ask.Period, j.lines.SlopeAfter(), false)
	for _, k := range j.moments() {
		add("New line less old line, in "+j.nameOf(k), j.lines.Effect(k), true)
	}
	w.print(t)
	t = document.Table{ID: w.ask.ID + "-errors", Caption: "The same under other errors", Columns: []document.TableColumn{
		{Head: "Neighbouring " + w.ask.Period + "s", Wide: true}, {Head: "Step", Align: document.Right}, {Head: "interval", Align: document.Right}, {Head: "At the end", Align: document.Right}, {Head: "interval", Align: document.Right}}}
	for _, l := range j.kinds() {
		v, in := j.amount(l.lines.Coef[2])
		e, ein := j.amount(l.lines.Effect(j.atEnd()))
		name := l.words
		if l.name == "autoregressive" {
			name = fmt.Sprintf("%s (correlation %s)", name, words.Fixed(j.fit.Rho, 2))
		}
		t.Rows = append(t.Rows, []string{words.Capital(name), v, in, e, ein})
	}
	t.Notes = append(t.Notes, "The first line is the one that is read; the others show what hangs on it.")
	w.print(t)
}

func (j *segmentedJob) segmentedMethods() {
	w := j.work
	what := map[quality.Kind]string{quality.KindP: "share", quality.KindXmR: "mean", quality.KindC: "count", quality.KindU: "rate"}[j.kind]
	m := fmt.Sprintf("The %s of each %s was followed by segmented regression: a line before the change of %s and a line since", what, w.ask.Period, words.Date(j.change))
	if j.data.Season {
		m += ", with one sine and one cosine for the season of the year"
	}
	if j.data.Weight != nil {
		m += fmt.Sprintf(", each %s weighted by its %s", w.ask.Period, map[bool]string{true: "exposure", false: "rows"}[j.kind == quality.KindU])
	}
	m += "."
	if j.errors == "autoregressive" {
		m += " Errors follow a first-order autoregression, fitted by restricted maximum likelihood; least squares with the errors of Newey and West and with independent errors stand beside it."
	} else {
		m += fmt.Sprintf(" Errors are those of Newey and West with %s; an autoregression and independent errors stand beside them where they could be fitted.", words.N(j.fit.Lag, "lag", "lags"))
	}
	left := 0
	for _, l := range j.leftOut {
		if l {
			left++
		}
	}
	if left > 0 {
		m += fmt.Sprintf(" %s in which the change came about, or whose rows may still come in, %s left out.", words.Capital(words.N(left, w.ask.Period, w.ask.Period+"s")), plural(left, "was", "were"))
	}
	if j.expo != nil {
		m += j.exposureWords()
	}
	w.Methods = m + " There is no series without the change to compare with."
	w.References = append(w.References, "Wagner AK, Soumerai SB, Zhang F, Ross-Degnan D. Segmented regression analysis of interrupted time series studies in medication use research. Journal of Clinical Pharmacy and Therapeutics 2002; 27: 299-309.",
		"Turner SL, Forbes AB, Karahalios A, Taljaard M, McKenzie JE. Evaluation of statistical methods used in the analysis of interrupted time series studies: a simulation study. BMC Medical Research Methodology 2021; 21: 181.",
		"Newey WK, West KD. A simple, positive semi-definite, heteroskedasticity and autocorrelation consistent covariance matrix. Econometrica 1987; 55: 703-708.")
}
