package answer

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"plybook/analysis/design"
	"plybook/analysis/stats"
	"plybook/analysis/survival"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/words"
)

var frailties = map[string]survival.Frailty{"gamma": survival.GammaFrailty, "log-normal": survival.LogNormalFrailty}

// sharing is who shares a frailty: the groups behind the rows of a Cox
// regression.
type sharing struct {
	one, many string // what a group is called
	names     []string
	of        []int // the group of each row used
	units     []int // of each group: its sockets, or its stretches from event to event
	several   int   // groups with more than one of them
	unit      string
}

// fewSharing is the number of groups with several rows below which little
// tells their frailties from chance. Common practice, no source.
const fewSharing = 20

// sharing finds the groups, and refuses those that can tell nothing.
func (w *work) sharing(r *coxRows, d *design.Design) (*sharing, error) {
	by := w.ask.SharedBy
	c, _ := r.table.Col(by)
	s := &sharing{one: plainName(by), unit: "socket"}
	s.many = manyOf(s.one)
	if r.repeated != nil {
		s.unit = "stretch from event to event"
	}
	s.names, s.of = namesOf(c, d.Rows)
	s.units = make([]int, len(s.names))
	seen := map[[2]int]bool{}
	for k, j := range d.Rows {
		if u := [2]int{r.subject[j], r.spells[j].Number}; !seen[u] {
			seen[u] = true
			s.units[s.of[k]]++
		}
	}
	for _, n := range s.units {
		if n > 1 {
			s.several++
		}
	}
	_, many := w.nouns()
	switch {
	case len(s.names) == 1:
		return nil, w.at("frailty", w.ask.Frailty, "one-group", "all %s here are of one %s, and a frailty tells apart how several differ; leave out `frailty`", many, s.one)
	case s.several == 0:
		return nil, w.at("frailty", w.ask.Frailty, "not-shared", "no %s has more than one %s here, so that what differs between %s cannot be told from what differs between %s; leave out `frailty`", s.one, s.unit, s.many, unitsOf(s.unit))
	}
	return s, nil
}

// manyOf is the plural of a column's name.
func manyOf(one string) string {
	for _, end := range []string{"s", "x", "ch", "sh"} {
		if strings.HasSuffix(one, end) {
			return one + "es"
		}
	}
	if n := len(one); n > 1 && one[n-1] == 'y' && !strings.ContainsRune("aeiou", rune(one[n-2])) {
		return one[:n-1] + "ies"
	}
	return one + "s"
}

// unitsOf is the plural of what shares a frailty.
func unitsOf(unit string) string {
	if unit == "socket" {
		return "sockets"
	}
	return "stretches from event to event"
}

// fitFrailty fits with the frailty asked for.
func (w *work) fitFrailty(data survival.CoxData, s *sharing) (*coxFitted, error) {
	data.Cluster = nil
	f, err := survival.FitCoxFrailty(data, s.of, survival.CoxOptions{Ties: tieRules[w.ask.Ties]},
		survival.FrailtyOptions{Distribution: frailties[w.ask.Frailty], Level: w.ask.Confidence})
	switch {
	case errors.Is(err, survival.ErrManyGroups):
		return nil, w.at("frailty", w.ask.Frailty, "too-many-groups", "a log-normal frailty can be worked out for %s at most, and there are %s; use `frailty: gamma`",
			words.N(survival.MaxFrailtyGroups, s.one, s.many), w.n(len(s.names), s.one, s.many))
	case errors.Is(err, survival.ErrUnboundFrailty):
		return nil, w.at("frailty", w.ask.Frailty, "unbounded", "the differences between %s have no largest size that fits: some have every event and others none; leave out `frailty`, or put %s under `strata`", s.many, w.ask.SharedBy)
	case err != nil:
		return nil, err
	}
	return &coxFitted{Cox: &f.Cox, frailty: f, shared: s}, nil
}

// frailtyTables adds the variance, and the groups where they may be shown.
func (w *work) frailtyTables(fit *coxFitted) {
	f, s := fit.frailty, fit.shared
	t := tableOf("frailty", text("shared_by"), text("distribution"), count("groups"), count("groups_with_several"), number("variance", ""), number("low", ""), number("high", ""),
		number("median_ratio", ""), number("median_ratio_low", ""), number("median_ratio_high", ""), number("log_likelihood_without", ""),
		number("statistic", ""), number("p", ""), number("effective_df", ""))
	several := any(s.several)
	if w.hiddenCount(len(s.names) - s.several) {
		several = nil
	}
	ratio := func(v float64) float64 { return f.Distribution.MedianRatio(v) }
	t.row(w.ask.SharedBy, w.ask.Frailty, len(s.names), several, f.Variance, when(f.HasLow, f.Low), when(f.HasHigh, f.High),
		ratio(f.Variance), when(f.HasLow, ratio(f.Low)), when(f.HasHigh, ratio(f.High)), f.LogLikWithout, f.Test.Statistic, f.Test.P, when(f.HasDF, f.DF))
	w.addTable(t)
	g := tableOf("frailties", text("group"), count("rows"), count("events"), number("estimate", ""), number("std_error", ""), number("ratio", ""), number("low", ""), number("high", ""))
	if w.groupsShown() && f.Variance > 0 { // without variance they are all alike
		z := stats.NormalQuantile(0.5 + w.ask.Confidence/2)
		for k, x := range f.Groups {
			g.row(s.names[k], s.units[k], x.Events, x.Effect, when(x.HasErr, x.StdErr), math.Exp(x.Effect),
				when(x.HasErr, math.Exp(x.Effect-z*x.StdErr)), when(x.HasErr, math.Exp(x.Effect+z*x.StdErr)))
		}
	}
	w.addTable(g)
}

// groupsShown says whether single groups of a frailty may be told apart in
// print.
func (w *work) groupsShown() bool {
	return !w.public() && !w.ctx.Names.Public && (w.ctx.Names.Show || !identifiers[w.ask.SharedBy])
}

// frailtyCautions says what the frailty leaves in doubt.
func (w *work) frailtyCautions(r *coxRows, fit *coxFitted) {
	f, s := fit.frailty, fit.shared
	w.uncaution("few-clusters") // about errors that are not used
	w.uncaution("one-cluster")
	if len(s.names) < 10 {
		w.caution("few-groups", "%s: how much they differ from one another is known only roughly.", w.only(len(s.names), s.one, s.many))
	}
	if s.several < fewSharing {
		w.caution("few-shared", "%s more than one %s here. Only they tell what belongs to the %s from what belongs to the %s, so the frailty is known only roughly.",
			words.Capital(w.of(s.several, len(s.names), s.one, s.many))+" "+plural(s.several, "has", "have"), s.unit, s.one, s.unit)
	}
	if f.Variance == 0 {
		w.caution("no-frailty", "No difference between %s shows beyond the columns of the model: the variance of the frailty is estimated as 0, and the ratios are those of a model without it. That is no proof that there is none.", s.many)
	}
	if late := lateEntries(r); late > 0 && r.lives != nil {
		one, many := w.nouns()
		w.caution("late-frailty", "%s under observation only some time after delivery, those that lasted until then. The frailty is taken to be spread alike among them and the others, though the most prone %s are missing among them.",
			words.Capital(w.n(late, one+" came", many+" came")), s.many)
	}
	if each := fit.Events / float64(len(s.names)); f.Distribution == survival.LogNormalFrailty && f.Variance > 0 && each < fewEach {
		w.caution("laplace", "There are only %s events for each %s: the approximation behind a log-normal frailty then takes the variance somewhat too small. Compare `frailty: gamma`, which needs none.", words.Fixed(each, 1), s.one)
	}
	w.unevenCaution(fit)
	if !w.groupsShown() && f.Variance > 0 {
		w.caution("groups-hidden", "Single %s are not listed: this report shows none.", s.many)
	}
}

// fewEach is the mean number of events of a group below which Laplace's
// approximation is taken to be too rough: in simulations the variance came out
// 9 percent too small with 2.2 of them, and 15 percent with 1.4.
const fewEach = 3

// lateEntries counts the lives that came under observation late.
func lateEntries(r *coxRows) int {
	late, seen := 0, map[int]bool{}
	for k, s := range r.spells {
		if !seen[s.Of] {
			seen[s.Of] = true
			if r.entry[k] > 0 {
				late++
			}
		}
	}
	return late
}

// uneven is the rank correlation from which on the number of sockets of a
// person goes with how prone they are. Our own setting.
const uneven = 0.3

// unevenCaution warns where how many rows a group has goes with its frailty.
func (w *work) unevenCaution(fit *coxFitted) {
	f, s := fit.frailty, fit.shared
	if f.Variance == 0 || len(s.names) < fewSharing {
		return
	}
	size, effect := make([]float64, len(s.names)), make([]float64, len(s.names))
	for g := range size {
		size[g], effect[g] = float64(s.units[g]), f.Groups[g].Effect
	}
	rho := rankCorrelation(size, effect)
	if !(math.Abs(rho) >= uneven) {
		return
	}
	way := "more"
	if rho < 0 {
		way = "less"
	}
	w.caution("uneven-groups", "The %s with more %s here are %s prone (rank correlation %s). The frailty allows for that only as far as a %s is as prone with each of them; otherwise the ratios lean toward those with many.",
		s.many, unitsOf(s.unit), way, words.Fixed(rho, 2), s.one)
}

// rankCorrelation is Spearman's, ties sharing their mean rank; NaN where one
// side does not vary.
func rankCorrelation(x, y []float64) float64 {
	a, b := ranks(x), ranks(y)
	ma, mb := average(a), average(b)
	ab, aa, bb := 0.0, 0.0, 0.0
	for i := range a {
		ab += (a[i] - ma) * (b[i] - mb)
		aa += (a[i] - ma) * (a[i] - ma)
		bb += (b[i] - mb) * (b[i] - mb)
	}
	return ab / math.Sqrt(aa*bb)
}

func ranks(x []float64) []float64 {
	at := indices(len(x))
	slices.SortStableFunc(at, func(i, j int) int { return cmp.Compare(x[i], x[j]) })
	out := make([]float64, len(x))
	for lo := 0; lo < len(at); {
		hi := lo + 1
		for hi < len(at) && x[at[hi]] == x[at[lo]] {
			hi++
		}
		for _, i := range at[lo:hi] {
			out[i] = float64(lo+hi+1) / 2
		}
		lo = hi
	}
	return out
}

// frailtyReading says how much groups differ beyond the columns.
func (w *work) frailtyReading(fit *coxFitted) string {
	f, s := fit.frailty, fit.shared
	high := "any size"
	if f.HasHigh {
		high = words.Ratio(f.Distribution.MedianRatio(f.High))
	}
	if f.Variance == 0 {
		out := fmt.Sprintf("Beyond these columns no difference between %s shows", s.many)
		if f.HasHigh {
			out += fmt.Sprintf("; the %s still allows that in half of all pairs of %s the one's rate is %s times the other's", w.confidenceWords(), s.many, high)
		}
		return out + "."
	}
	return fmt.Sprintf("Beyond these columns the %s differ: in half of all pairs of %s alike in all of them, the one's rate is at least %s times the other's (%s %s to %s%s).",
		s.many, s.many, words.Ratio(f.Distribution.MedianRatio(f.Variance)), w.confidenceWords(), words.Ratio(f.Distribution.MedianRatio(f.Low)), high,
		map[bool]string{true: ", so that there may be no difference"}[f.Low == 0])
}

// frailtyPrint is the printed table of the frailty.
func (w *work) frailtyPrint(fit *coxFitted) document.Table {
	f, s := fit.frailty, fit.shared
	t := document.Table{ID: w.ask.ID + "-frailty", Caption: fmt.Sprintf("How much %s differ beyond the columns", s.many), Columns: []document.TableColumn{
		{Head: "What", Wide: true}, {Head: "Value", Align: document.Right}, {Head: words.Capital(w.confidenceWords()), Align: document.Right}}}
	d := f.Distribution
	add := func(what string, show func(float64) string, of func(float64) float64) {
		high := "no limit"
		if f.HasHigh {
			high = show(of(f.High))
		}
		t.Rows = append(t.Rows, []string{what, show(of(f.Variance)), show(of(f.Low)) + " to " + high})
	}
	add("Variance of the frailty ("+w.ask.Frailty+")", words.Plain, func(v float64) float64 { return v })
	add(fmt.Sprintf("Of two %s, the rate of the more prone against the other: in half of pairs at least", s.many), words.Ratio, d.MedianRatio)
	add(fmt.Sprintf("Rate of a %s one standard deviation more prone than average", s.one), words.Ratio, d.Above)
	t.Rows = append(t.Rows,
		[]string{"p that the variance is 0", words.P(f.Test.P), ""},
		[]string{fmt.Sprintf("%s with more than one %s", words.Capital(s.many), s.unit), w.of(s.several, len(s.names), s.one, s.many), ""})
	t.Notes = []string{fmt.Sprintf("The ratios of the terms hold for one and the same %s, or for %s equally prone. Over all %s together, differences look smaller.", s.one, s.many, s.many)}
	return t
}

// frailtyFigure draws the groups by how prone they are, where they may be
// shown, and the distribution as fitted.
func (w *work) frailtyFigure(fit *coxFitted, low, high string) {
	f, s := fit.frailty, fit.shared
	if f.Variance == 0 {
		return
	}
	spec := figure.ProneSpec{ID: w.ask.ID + "-frailty", Title: fmt.Sprintf("How much %s differ beyond the columns", s.many), Each: s.one, Many: s.many,
		YAxis: fmt.Sprintf("Rate of events against the average %s", s.one), LowHint: low, HighHint: high, Confidence: w.ask.Confidence}
	const pieces = 80
	for k := 1; k < pieces; k++ {
		p := float64(k) / pieces
		spec.Curve = append(spec.Curve, figure.XY{X: p, Y: f.Distribution.Quantile(p, f.Variance)})
	}
	if w.groupsShown() {
		z := stats.NormalQuantile(0.5 + w.ask.Confidence/2)
		for k, g := range f.Groups {
			u := figure.ProneUnit{Name: s.names[k], Ratio: math.Exp(g.Effect), Low: math.NaN(), High: math.NaN()}
			if g.HasErr {
				u.Low, u.High = math.Exp(g.Effect-z*g.StdErr), math.Exp(g.Effect+z*g.StdErr)
			}
			spec.Units = append(spec.Units, u)
		}
	}
	w.Figures = append(w.Figures, figure.Prone(spec))
}

// frailtyMethods are the sentences for a paper on the frailty.
func (w *work) frailtyMethods(fit *coxFitted) string {
	f, s := fit.frailty, fit.shared
	_, many := w.nouns()
	if w.ask.Repeats != "" {
		many = "events"
	}
	how := "The penalised partial likelihood was maximised over coefficients and frailties, and the marginal likelihood over the variance"
	shape := "a gamma frailty of mean 1"
	if f.Distribution == survival.LogNormalFrailty {
		how += " (Laplace's approximation, ML)"
		shape = "a log-normal frailty"
	}
	return fmt.Sprintf(" All %s of one %s shared %s. %s; the interval of the variance is of the profile likelihood, and the likelihood-ratio test that it is 0 halves the p value of chi-square, since 0 lies at the edge of what is possible. Standard errors of the coefficients are from the inverse of the penalised information and take the variance as known.",
		many, s.one, shape, how)
}

// frailtyReferences are the references on the frailty.
func frailtyReferences(f survival.Frailty) []string {
	first := "Therneau TM, Grambsch PM, Pankratz VS. Penalized survival models and frailty. J Comput Graph Stat 2003; 12: 156-175."
	if f == survival.LogNormalFrailty {
		first = "Ripatti S, Palmgren J. Estimation of multivariate frailty models using penalized partial likelihood. Biometrics 2000; 56: 1016-1022."
	}
	return []string{first,
		"Self SG, Liang KY. Asymptotic properties of maximum likelihood estimators and likelihood ratio tests under nonstandard conditions. J Am Stat Assoc 1987; 82: 605-610.",
		"Austin PC, Wagner P, Merlo J. The median hazard ratio: a useful measure of variance and general contextual effects in multilevel survival analysis. Stat Med 2017; 36: 928-938."}
}
