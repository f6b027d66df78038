package answer

import (
	"math"
	"slices"

	"plybook/analysis/mixed"
	"plybook/reports/words"
)

// fewLimbs is the number of groups below which a standard deviation between
// them is known only roughly: with 10 its 95% interval reaches from 0.7 to 1.8
// of the estimate, by the chi-square distribution.
const fewLimbs = 10

// fewLevels is the same for groupings that cut across: few labs have ten who
// measure, and with five the interval reaches from 0.6 to 2.9 of the estimate.
const fewLevels = 5

// lastRows is up to how many rows limbs are looked at by when they were last
// seen, which takes a second fit.
const lastRows = 50000

func (j *mixedJob) cautions() {
	if j.fit.Groups < fewLimbs {
		j.caution("few-groups", "%s: how much they differ from one another is known only roughly.", j.only(j.fit.Groups, j.one, j.one+"s"))
	}
	for k, g := range j.groupings[1:] {
		if n := len(g.names); n < fewLevels || k == 0 && j.data.Above != nil && n < fewLimbs {
			j.caution("few-groups", "%s: how much they differ from one another is known only roughly.", j.only(n, g.noun, g.noun+"s"))
		}
	}
	j.smallErrors()
	j.samePace()
	j.leaving()
	j.smallChange()
	j.beyondRows(j.design, j.ask.Profiles...)
}

// samePace warns where groups are taken to change at one pace and do not: the
// interval of time then is far too narrow. In 1,000 drawings of limbs whose
// paces differ by half of the mean pace, 95% intervals of it held the truth in
// 71 percent (analysis/internal/coverage). The model with a slope of time of
// each group is held against the one asked for by likelihood ratio.
func (j *mixedJob) samePace() {
	if j.timeName == "" || len(j.data.Y) > lastRows || j.ask.Correlation == "ar1" || slices.Contains(j.data.ZNames, j.timeName) || slices.Contains(j.ask.NestedSlopes, j.timeName) {
		return
	}
	tc, ok := j.table.Col(j.timeName)
	if !ok {
		return
	}
	t := make([]float64, len(j.data.Y))
	for k, i := range j.design.Rows {
		t[k] = tc.Num[i]
	}
	d, o := j.data, j.options
	d.Z, d.ZNames = append(slices.Clone(d.Z), t), append(slices.Clone(d.ZNames), j.timeName)
	o.Freedom = mixed.Satterthwaite // only likelihoods are compared
	fit, err := mixed.Fit(d, o)
	if err != nil {
		return // too few rows of each to tell
	}
	low := len(d.ZNames)
	if o.Uncorrelated {
		low = 0
	}
	if p := mixed.Mixture(2*(fit.LogLikelihood-j.fit.LogLikelihood), low); p < 0.05 {
		j.caution("same-pace", "All %ss are taken to change at one pace, and they do not (%s): the interval of %s is too narrow, in draws from a known truth so far that it held it in 71 of 100. Name it in `slopes`.", j.one, words.PEquals(p), j.columnLabel(j.timeName))
	}
}

// leaving warns where limbs last seen early change otherwise than those
// followed for long. The last time of each limb and its product with time are
// added to the model, limbs having slopes of their own on time; an F test of
// both under 0.05 raises the caution (a pattern-mixture model: Little 1995, J
// Am Stat Assoc 90:1112; Hedeker & Gibbons 1997, Psychol Methods 2:64).
func (j *mixedJob) leaving() {
	if j.timeName == "" || j.fit.Groups < fewLimbs || len(j.data.Y) > lastRows {
		return
	}
	tc, ok := j.table.Col(j.timeName)
	if !ok {
		return
	}
	last := make([]float64, len(j.names))
	for g := range last {
		last[g] = math.Inf(-1)
	}
	for k, i := range j.design.Rows {
		g := j.data.Group[k]
		last[g] = math.Max(last[g], tc.Num[i])
	}
	if slices.Max(last)-slices.Min(last) <= 0 {
		return
	}
	d := j.data
	// Only the average line matters here: one grouping, one scatter.
	d.Above, d.Crossed, d.Spread = nil, nil, nil
	d.X, d.Names = slices.Clone(d.X), slices.Clone(d.Names)
	d.Terms, d.TermNames = nil, nil
	middle := average(last)
	of, product, t := make([]float64, len(d.Y)), make([]float64, len(d.Y)), make([]float64, len(d.Y))
	for k, i := range j.design.Rows {
		t[k] = tc.Num[i]
		of[k] = last[d.Group[k]] - middle
		product[k] = of[k] * t[k]
	}
	d.X = append(d.X, of, product)
	d.Names = append(d.Names, "last", "last by time")
	own := d
	if !slices.Contains(d.ZNames, j.timeName) {
		own.Z, own.ZNames = append(slices.Clone(d.Z), t), append(slices.Clone(d.ZNames), j.timeName)
	}
	o := j.options
	o.Freedom = mixed.Satterthwaite // whatever was asked for, the caution is the same
	fit, err := mixed.Fit(own, o)
	if err != nil {
		if fit, err = mixed.Fit(d, o); err != nil {
			return // nothing can be said of it
		}
	}
	n := len(fit.Coef)
	rows := [][]float64{make([]float64, n), make([]float64, n)}
	rows[0][n-2], rows[1][n-1] = 1, 1
	if f, err := fit.FTest(rows); err == nil && f.P < 0.05 {
		j.caution("drop-out", "%ss that were last seen early changed otherwise than those followed for long (%s): whether somebody goes on coming may depend on what would be found, and then the average line tells of those who stay. A change that bends with time can look the same; `scale: log-weeks` or `spline` would show it.",
			words.Capital(j.one), words.PEquals(f.P))
	}
}

// smallChange warns where the average limb's volume changes by less, over all
// the time seen, than what measuring twice would give.
func (j *mixedJob) smallChange() {
	if j.timeName == "" || j.y.Name != "volume_ml" || len(j.ask.Spline) > 0 {
		return
	}
	slope := math.NaN()
	for k, c := range j.design.Columns {
		if c.Term == j.timeName && c.Piece == 0 {
			slope = j.fit.Coef[k+1].Estimate
		}
	}
	tc, ok := j.table.Col(j.timeName)
	if !ok || math.IsNaN(slope) {
		return
	}
	lo, hi, mean := math.Inf(1), math.Inf(-1), 0.0
	for k, i := range j.design.Rows {
		lo, hi = math.Min(lo, tc.Num[i]), math.Max(hi, tc.Num[i])
		mean += j.data.Y[k] / float64(len(j.data.Y))
	}
	least, whose := float64(sameMeasurer), "which measuring an unchanged limb twice with a tape commonly gives"
	if v := j.ctx.Front.VolumeRepeatability; v > 0 {
		least, whose = v, "the smallest change that measuring in this lab tells from none"
	}
	if share := 100 * math.Abs(slope) * (hi - lo) / mean; share < least {
		j.caution("small-change", "Over all the time seen the volume of the average %s changes by %s%% of it, less than %s%%, %s: in a single %s such a change could not be seen.",
			j.one, words.Fixed(share, 1), words.Plain(least), whose, j.one)
	}
}
