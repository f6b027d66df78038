package answer

import (
	"fmt"
	"math"
	"slices"

	"plybook/analysis/quadrature"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// withinFit is a model in which limbs, or what else rows stand within, have a
// level of their own, as an answer uses it.
type withinFit struct {
	*quadrature.Model
	*outcomeFit
	counts *countFit // mixed-poisson
	levels *levelFit // mixed-ordinal
	group  string    // "limb"
	names  []string  // of the groups, by number
	codes  []int     // group of each row
	time   string    // column of time; empty: none
	lead   string    // how the reading begins
}

// withinModel answers what moves a yes, a count or a level, limbs having
// levels of their own.
func withinModel(w *work) error {
	t, timeName, err := w.scaledTime()
	if err != nil {
		return err
	}
	w.table = t
	f := &withinFit{outcomeFit: &outcomeFit{table: t, measure: "odds ratio"}, group: plainName(w.ask.Within), time: timeName}
	if _, err := w.column("within", w.ask.Within); err != nil {
		return err
	}
	switch w.ask.Method {
	case "mixed-logistic":
		err = w.withinYes(f)
	case "mixed-poisson":
		err = w.withinCounts(f)
	default:
		err = w.withinLevels(f)
	}
	if err != nil {
		return err
	}
	w.withinCautions(f)
	es := withinEstimates(f)
	w.termTable(es, false)
	w.withinTables(f)
	k := withinCombiner(f)
	if err := w.termTests(&outcomeFit{}, k); err != nil {
		return err
	}
	if err := w.compare(k); err != nil {
		return err
	}
	q := w.quantityOf(f)
	sides, err := w.withinSides(f, q)
	if err != nil {
		return err
	}
	profiles, err := w.withinProfiles(f, q)
	if err != nil {
		return err
	}
	line, err := w.overTime(f)
	if err != nil {
		return err
	}
	w.withinWords(f, q, es, sides, w.curvePhrases(k))
	w.compared(k)
	w.withinShown(f, q, sides, profiles, line)
	return nil
}

// withinRows makes the rows of the model: terms, the time first, and the
// columns needed beside them.
func (w *work) withinRows(f *withinFit, also ...string) error {
	spec, err := w.designSpec()
	if err != nil {
		return err
	}
	if slices.Contains(spec.Terms, w.ask.Outcome) {
		return w.at("adjust", w.ask.Outcome, notebook.CodeImpossible, "%s is both the outcome and a term", w.ask.Outcome)
	}
	if f.time != "" {
		if w.ask.Outcome == f.time {
			return w.at("time", f.time, notebook.CodeImpossible, "%s is both the outcome and the time", f.time)
		}
		spec.Terms = append([]string{f.time}, spec.Terms...)
	}
	if err := w.modelRows(f.outcomeFit, spec, append(also, w.ask.Within)); err != nil {
		return err
	}
	c, _ := f.table.Col(w.ask.Within)
	f.names, f.codes = namesOf(c, f.design.Rows)
	return nil
}

func (w *work) withinYes(f *withinFit) error {
	y, err := w.yesNo()
	if err != nil {
		return err
	}
	if f.table, err = w.table.With(y); err != nil {
		return err
	}
	f.y = y.Label
	also := []string{outcomeColumn}
	if w.ask.Offset != "" {
		if _, err := w.column("offset", w.ask.Offset); err != nil {
			return err
		}
		also = append(also, w.ask.Offset)
	}
	if err := w.withinRows(f, also...); err != nil {
		return err
	}
	f.data.Y = pickNum(y, f.design.Rows)
	if err := w.countYes(f.outcomeFit); err != nil {
		return err
	}
	if f.data.Offset, err = w.rowOffsets(f.table, f.design.Rows); err != nil {
		return err
	}
	if err := w.fitWithin(f, quadrature.Logistic, f.data.Y, 0); err != nil {
		return err
	}
	all, yes := f.Model.Rows, int(f.Events)
	if w.ask.OutcomeWhen != nil {
		f.lead = fmt.Sprintf("Of %s, %s (%s) had %s.", w.withinCount(f), w.cell(yes), w.share(yes, all), f.y)
	} else {
		f.lead = fmt.Sprintf("%s was yes in %s of %s (%s).", words.Capital(f.y), w.cell(yes), w.withinCount(f), w.share(yes, all))
	}
	w.fewOf(f, min(yes, all-yes), map[bool]string{true: "a yes", false: "a no"}[2*yes <= all])
	if 10*yes >= all {
		w.caution("odds-ratio", "Yes is common here, so an odds ratio lies much farther from 1 than the ratio of the two shares. It says which way and how surely; how much, the shares say.")
	}
	return nil
}

// withinCount says how many rows of how many limbs.
func (w *work) withinCount(f *withinFit) string {
	one, many := w.nouns()
	return fmt.Sprintf("%s of %s", w.n(f.Model.Rows, one, many), w.n(f.Groups, f.group, f.group+"s"))
}

// fewOf warns where the rarer outcome is too rare for so many terms.
func (w *work) fewOf(f *withinFit, rarer int, which string) {
	if n := len(f.design.X); rarer < 10*n {
		one, many := w.nouns()
		w.caution("few-events", "%s with %s for %s in the model: fewer than 10 per term, so the estimates are shaky and intervals may be too narrow.",
			words.Capital(w.n(rarer, one, many)), which, words.N(n, "term", "terms"))
	}
}

func (w *work) withinCounts(f *withinFit) error {
	f.counts = &countFit{outcomeFit: f.outcomeFit}
	f.measure = "rate ratio"
	spec, err := w.designSpec()
	if err != nil {
		return err
	}
	if w.ask.Event != nil {
		err = w.countedEvents(f.counts, spec)
	} else {
		err = w.countedColumn(f.counts, spec)
	}
	if err != nil {
		return err
	}
	also := []string{outcomeColumn}
	if f.counts.over != "" {
		also = append(also, exposureColumn)
	} else {
		f.measure = "ratio of counts"
	}
	if err := w.withinRows(f, also...); err != nil {
		return err
	}
	y, _ := f.table.Col(outcomeColumn)
	f.data.Y = pickNum(y, f.design.Rows)
	exposure := float64(len(f.data.Y))
	if f.counts.over != "" {
		e, _ := f.table.Col(exposureColumn)
		f.counts.exposure = pickNum(e, f.design.Rows)
		exposure = 0
		for _, v := range f.counts.exposure {
			exposure += v
			f.data.Offset = append(f.data.Offset, math.Log(v))
		}
	}
	if err := w.countTotal(f.counts); err != nil {
		return err
	}
	if err := w.fitWithin(f, quadrature.Poisson, f.data.Y, 0); err != nil {
		return err
	}
	events, in, rate := int(f.Events), "", "the rate is withheld"
	if f.counts.over != "" {
		in = fmt.Sprintf(" in %s %s", words.Plain(math.Round(exposure*10)/10), f.counts.over)
	}
	if !w.hiddenCount(events) {
		rate = words.Plain(f.Events/exposure) + " " + f.counts.per
	}
	if f.counts.watched {
		f.lead = fmt.Sprintf("In %s there were %s %s%s (%s).", w.withinCount(f), w.cell(events), f.counts.what, in, rate)
	} else {
		f.lead = fmt.Sprintf("In %s, %s came to %s%s (%s).", w.withinCount(f), f.counts.what, w.cell(events), in, rate)
	}
	if n := len(f.design.X); events < 10*n {
		w.caution("few-events", "%s counted for %s in the model: fewer than 10 per term, so the estimates are shaky and intervals may be too narrow.",
			words.Capital(w.n(events, "event was", "events were")), words.N(n, "term", "terms"))
	}
	if f.counts.watched && w.ask.Event.Condition != nil {
		_, many := w.nouns()
		w.caution("watched", "What is counted is what was seen: %s that are seen more often have more to be counted.", many)
	}
	return nil
}

func (w *work) withinLevels(f *withinFit) error {
	y, err := w.column("outcome", w.ask.Outcome)
	if err != nil {
		return err
	}
	f.y = label(y)
	if err := w.withinRows(f, w.ask.Outcome); err != nil {
		return err
	}
	l := &levelFit{table: f.table, design: f.design, y: y}
	if err := w.levelsOf(l); err != nil {
		return err
	}
	f.levels = l
	codes := make([]float64, len(l.data.Y))
	count := make([]float64, l.data.Levels)
	for i, v := range l.data.Y {
		codes[i] = float64(v)
		count[v]++
	}
	if err := w.fitWithin(f, quadrature.Ordinal, codes, l.data.Levels); err != nil {
		return err
	}
	f.lead = fmt.Sprintf("%s was at one of %s, from %s to %s, in %s.", words.Capital(f.y), words.N(len(l.levels), "level", "levels"), l.levels[0], l.levels[len(l.levels)-1], w.withinCount(f))
	total, sum := float64(len(codes)), 0.0
	for _, n := range count {
		sum += n * n * n
	}
	one, many := w.nouns()
	if effective, n := total-sum/(total*total), len(f.design.X); effective < 10*float64(n) {
		w.caution("few-rows", "%s over %s tell as much as %s of yes or no do: fewer than 10 for each of %s, so the estimates are shaky.",
			words.Capital(w.n(len(codes), one, many)), words.N(len(l.levels), "level", "levels"), words.Fixed(math.Floor(effective), 0), words.N(n, "term", "terms"))
	}
	return nil
}

func withinEstimates(f *withinFit) []estimate {
	var es []estimate
	for _, c := range f.Model.Coef {
		if c.Cut >= 0 {
			continue
		}
		e := estimate{value: c.Estimate, stdErr: c.SE, robust: math.NaN(), df: math.NaN(), low: c.Low, high: c.High, stat: c.Z, p: c.P, ratio: true}
		if c.Column < 0 {
			e.intercept, e.ratio = true, false
		} else {
			e.column = f.design.Columns[c.Column]
		}
		es = append(es, e)
	}
	return es
}

// withinCombiner offers sums of coefficients to comparisons and curves.
func withinCombiner(f *withinFit) combiner {
	return combiner{design: f.design, measure: f.measure, ratio: true,
		sum: func(c []float64) (combined, error) {
			x, err := f.Model.Contrast(c)
			return combined{x.Estimate, x.SE, math.NaN(), x.Low, x.High, x.Z, x.P, x.Tested}, err
		},
		test: func(which []int) (joint, error) {
			x, err := f.Model.Wald(which)
			if err != nil {
				return joint{}, fmt.Errorf("%w: %w", errNoTest, err)
			}
			return joint{x.Name, x.Statistic, x.DF, math.NaN(), x.P}, nil
		},
	}
}
