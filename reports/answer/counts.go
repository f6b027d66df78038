package answer

import (
	"fmt"
	"math"
	"slices"

	"plybook/analysis/design"
	"plybook/analysis/regress"
	"plybook/analysis/stats"
	"plybook/analysis/survival"
	"plybook/analysis/table"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// exposureColumn is the name of the time at risk of a count.
const exposureColumn = "the time at risk"

// countFit is a model of counts with what is counted, and over what.
type countFit struct {
	*outcomeFit
	what     string // what is counted: "visits with pain"
	exposure []float64
	per      string // "a year", "per socket"; rates are so
	over     string // what the exposure is called: "years watched", "hours"; empty: none
	watched  bool   // the exposure is the time watched
}

// countModel answers what makes something come more or less often.
func countModel(w *work) error {
	family := regress.Poisson
	if w.ask.Method == "negative-binomial" {
		family = regress.NegativeBinomial
	}
	spec, err := w.designSpec()
	if err != nil {
		return err
	}
	f := &countFit{outcomeFit: &outcomeFit{measure: "rate ratio"}}
	if w.ask.Event != nil {
		err = w.countedEvents(f, spec)
	} else {
		err = w.countedColumn(f, spec)
	}
	if err != nil {
		return err
	}
	var more []string
	if f.over != "" {
		more = append(more, exposureColumn)
	} else {
		f.measure = "ratio of counts"
	}
	cluster, err := w.outcomeRows(f.outcomeFit, spec, outcomeColumn, more...)
	if err != nil {
		return err
	}
	rows := f.design.Rows
	y, _ := f.table.Col(outcomeColumn)
	f.data.Y = pickNum(y, rows)
	if f.over != "" {
		e, _ := f.table.Col(exposureColumn)
		f.exposure = pickNum(e, rows)
		for _, v := range f.exposure {
			f.data.Offset = append(f.data.Offset, math.Log(v))
		}
	}
	if err := w.countTotal(f); err != nil {
		return err
	}
	if err := w.clusterOutcome(f.outcomeFit, cluster); err != nil {
		return err
	}
	if err := w.fitOutcome(family, f.outcomeFit); err != nil {
		return err
	}
	w.outcomeWarnings(f.outcomeFit)
	w.penaltySaid(f.outcomeFit)
	es := outcomeEstimates(f.outcomeFit)
	w.termTable(es, f.Used != regress.ModelBased)
	zeros := f.Zeros()
	w.countTable(f, zeros)
	w.countCautions(f, zeros)
	k := outcomeCombiner(f.outcomeFit)
	if err := w.termTests(f.outcomeFit, k); err != nil {
		return err
	}
	if err := w.compare(k); err != nil {
		return err
	}
	if err := w.predictedFor(f.outcomeFit); err != nil {
		return err
	}
	if err := w.ratesAsSeen(f); err != nil {
		return err
	}
	var adj *averaged
	if w.sharesWanted(f.outcomeFit) {
		if adj, err = w.averages(f.outcomeFit); err != nil {
			return err
		}
	}
	w.countWords(f, es, adj, zeros, w.curvePhrases(k))
	w.compared(k)
	w.ratesShown(f, adj)
	w.countDiagnostics(f)
	return nil
}

// countedColumn takes a column of counts as the outcome, and a column of time
// or amount at risk.
func (w *work) countedColumn(f *countFit, spec design.Spec) error {
	name := w.ask.Outcome
	c, err := w.outcome()
	if err != nil {
		return err
	}
	if slices.Contains(spec.Terms, name) {
		return w.at("adjust", name, notebook.CodeImpossible, "%s is both the outcome and a term", name)
	}
	one, many := w.nouns()
	y := *c
	y.Name, y.Unit = outcomeColumn, ""
	y.Label = label(c)
	bad := 0
	for _, i := range w.rows {
		if v := c.Num[i]; !c.Missing[i] && (v < 0 || v != math.Trunc(v) || v > 1e6) {
			bad++
		}
	}
	if bad > 0 {
		return w.at("outcome", name, notebook.CodeImpossible, "a count is a whole number from 0 up, and %s of %s is not; use linear, or leave such %s out with keep", label(c), w.n(bad, one, many), many)
	}
	f.y, f.what, f.per = y.Label, y.Label, "per "+one
	if f.table, err = w.table.With(&y); err != nil || w.ask.Exposure == "" {
		return err
	}
	e, err := w.column("exposure", w.ask.Exposure)
	if err != nil {
		return err
	}
	if e.Kind != table.Number {
		return w.at("exposure", w.ask.Exposure, notebook.CodeImpossible, "%s holds no numbers, and `exposure` is the time or amount in which is counted", w.ask.Exposure)
	}
	if w.ask.Exposure == name || slices.Contains(spec.Terms, w.ask.Exposure) {
		return w.at("exposure", w.ask.Exposure, notebook.CodeImpossible, "%s cannot be the time at risk and %s at once", w.ask.Exposure, map[bool]string{true: "the count", false: "a term"}[w.ask.Exposure == name])
	}
	return w.exposureOf(f, e)
}

// exposureOf adds the time or amount at risk to the table. Time is taken in
// years. Rows without any are left out and counted.
func (w *work) exposureOf(f *countFit, e *table.Column) error {
	scale := 1.0
	f.over, f.per = label(e), "per unit of "+label(e)
	switch e.Unit {
	case "days":
		scale, f.per, f.over = table.DaysPerYear, "a year", "years of "+label(e)
	case "months":
		scale, f.per, f.over = 12, "a year", "years of "+label(e)
	case "years":
		f.per, f.over = "a year", "years of "+label(e)
	case "":
	default:
		f.per = "per " + perUnit(e.Unit) + " of " + label(e)
	}
	x := table.NewNumber(exposureColumn, "", e.Len())
	x.Label = label(e)
	none := 0
	for _, i := range w.rowsFor(f.table) {
		switch {
		case e.Missing[i]:
		case e.Num[i] > 0:
			x.SetNum(i, e.Num[i]/scale)
		default:
			none++
		}
	}
	w.noExposure(none, "nothing could be counted in "+label(e)+" of 0 or below")
	var err error
	f.table, err = f.table.With(x)
	return err
}

// noExposure says how many rows had no time in which anything could happen.
func (w *work) noExposure(n int, why string) {
	if n == 0 {
		return
	}
	one, many := w.nouns()
	w.caution("no-time-at-risk", "%s left out: %s.", words.Capital(w.n(n, one+" was", many+" were")), why)
}

// countedEvents counts the events of the rows chosen over the time that they
// were watched.
func (w *work) countedEvents(f *countFit, spec design.Spec) error {
	r, err := w.repeatedEvents()
	if err != nil {
		return err
	}
	f.what, f.y = r.what, r.what
	f.per, f.over, f.watched = "a year", "years watched", true
	keyOf := map[string]string{}
	for _, n := range spec.Terms {
		keyOf[n] = "adjust"
		if n == w.ask.By {
			keyOf[n] = "by"
		}
	}
	for _, c := range [][2]string{{"weights", w.ask.Weights}, {"cluster", w.ask.Cluster}, {"within", w.ask.Within}} {
		if c[1] != "" && c[1] != "none" {
			keyOf[c[1]] = c[0]
		}
	}
	f.table = table.New(w.table.Name, len(r.Row))
	for _, n := range sortedKeysOf(keyOf) {
		c, err := w.watchColumn(r, keyOf[n], n)
		if err != nil {
			return err
		}
		if err := f.table.Add(c); err != nil {
			return err
		}
	}
	if id := w.identifier(); id != nil {
		f.id = id.Pick(w.rowsOf(r))
	}
	person := table.NewText("person", len(r.Row))
	for j, p := range r.Person {
		person.SetText(j, fmt.Sprint(p))
	}
	y, x := table.NewNumber(outcomeColumn, "", len(r.Row)), table.NewNumber(exposureColumn, "years", len(r.Row))
	none := 0
	for j := range r.Row {
		y.SetNum(j, float64(len(r.Events[j])))
		if t := r.Exit[j] - r.Entry[j]; t > 0 {
			x.SetNum(j, t/table.DaysPerYear)
		} else {
			none++
		}
	}
	w.noExposure(none, "they were watched for no time")
	if f.table.Has("person") { // asked for by name
		person, _ = f.table.Col("person")
	}
	for _, c := range []*table.Column{person, y, x} {
		if err := f.table.Add(c); err != nil {
			return err
		}
	}
	return nil
}

// countTotal counts what was counted, and refuses where that is nothing.
func (w *work) countTotal(f *countFit) error {
	total := 0.0
	for i, v := range f.data.Y {
		total += v * f.weightOf(i)
	}
	w.Events, w.HasEvents = int(total), true
	if total > 0 {
		return nil
	}
	if w.ask.Event != nil {
		return stats.ErrNoEvents
	}
	_, many := w.nouns()
	return w.at("outcome", w.ask.Outcome, "no-variation", "%s is 0 in all %s used, so there is nothing to explain", f.y, many)
}

// countTable adds the table of the whole fit.
func (w *work) countTable(f *countFit, z regress.Zeros) {
	t := tableOf("fit", count("rows"), count("events"), number("exposure", ""), count("clusters"), number("log_likelihood", ""), number("log_likelihood_null", ""), number("aic", ""),
		number("deviance", ""), number("deviance_null", ""), number("df_residual", ""), number("likelihood_ratio", ""), integer("likelihood_ratio_df"), number("likelihood_ratio_p", ""),
		number("pearson", ""), number("dispersion", ""), count("zeros_observed"), number("zeros_expected", ""), number("zeros_z", ""), number("zeros_p", ""),
		number("theta", ""), number("theta_std_error", ""), number("overdispersion", ""), number("overdispersion_p", ""), text("errors"), text("penalty"), text("correlation"), number("alpha", ""))
	clusters, exposure := any(nil), any(nil)
	if f.data.Cluster != nil {
		clusters = f.Clusters
	}
	if f.over != "" {
		exposure = f.Exposure
	}
	penalty, plain := "none", !f.noLikelihood()
	if f.Firth {
		penalty = "firth"
	}
	nb := f.Family == regress.NegativeBinomial
	t.row(int(f.Total), int(f.Sum), exposure, clusters, when(plain, f.LogLik), when(plain, f.LogLikNull), when(plain && !f.Firth, f.AIC), when(plain && !f.Firth, f.Deviance), when(plain && !f.Firth, f.DevianceNull), f.DF,
		when(plain, f.LikelihoodRatio.Statistic), when(plain, f.LikelihoodRatio.DF), when(plain, f.LikelihoodRatio.P), f.Pearson, f.dispersion(), int(z.Observed), z.Expected, when(z.Tested, z.Z), when(z.Tested, z.P),
		when(nb, f.Theta), when(nb && f.ThetaSE > 0, f.ThetaSE), when(nb, f.Overdispersion.Statistic), when(nb, f.Overdispersion.P), f.Used.String(), penalty, f.Correlation.String(), when(f.noLikelihood(), f.Alpha))
	w.addTable(t)
}

// dispersion is by how much the counts scatter beside what the model says.
func (f *countFit) dispersion() float64 {
	if !(f.DF > 0) {
		return math.NaN()
	}
	return f.Pearson / f.DF
}

// The scatter from which on Poisson errors are plainly too small, and the
// chance below which that is no accident.
const (
	scattered       = 1.5
	scatteredChance = 0.01
)

func (w *work) countCautions(f *countFit, z regress.Zeros) {
	one, many := w.nouns()
	if n := len(f.design.X); int(f.Sum) < 10*n {
		w.caution("few-events", "%s counted for %s in the model: fewer than 10 per term, so the estimates are shaky and intervals may be too narrow.",
			words.Capital(w.n(int(f.Sum), "event was", "events were")), words.N(n, "term", "terms"))
	}
	if f.Family == regress.Poisson && f.Used == regress.ModelBased && f.dispersion() > scattered && stats.ChiSquareP(f.Pearson, f.DF) < scatteredChance {
		w.caution("overdispersion", "The counts scatter %s times as much as counts that come at random at a steady rate: a few %s have many, many have few or none. The intervals are too narrow for that; use negative-binomial.", words.Fixed(f.dispersion(), 1), many)
	}
	if z.Tested && z.P < 0.05 && z.Observed > z.Expected {
		more := "Some may never have any: ask with logistic whether there is any at all, and of those with any how many."
		if f.Family == regress.Poisson {
			more = "See whether negative-binomial expects as many; if not, some may never have any: ask with logistic whether there is any at all."
		}
		w.caution("excess-zeros", "%s none at all, and the model expects %s such. %s",
			words.Capital(w.n(int(z.Observed), one+" has", many+" have")), words.Plain(math.Round(z.Expected)), more)
	}
	if f.watched && w.ask.Event.Condition != nil {
		w.caution("watched", "What is counted is what was seen: %s that are seen more often have more to be counted.", many)
	}
}

// ratesAsSeen adds the table of the rates as they are, by category of `by`.
func (w *work) ratesAsSeen(f *countFit) error {
	t := tableOf("rates", text("group"), count("rows"), count("events"), number("exposure", ""), number("estimate", ""), number("low", ""), number("high", ""))
	add := func(name string, in func(i int) bool) error {
		rows, events, time := 0.0, 0.0, 0.0
		for i, y := range f.data.Y {
			if !in(i) {
				continue
			}
			rows += f.weightOf(i)
			events += f.weightOf(i) * y
			if f.over != "" {
				time += f.weightOf(i) * f.exposure[i]
			} else {
				time += f.weightOf(i)
			}
		}
		r, err := survival.PoissonRate(events, time, w.ask.Confidence)
		if err != nil {
			return err
		}
		open := r.HasRate && !w.hiddenCount(int(events)) && !w.hiddenCount(int(rows))
		t.row(name, int(rows), int(events), when(f.over != "", time), when(open, r.Estimate), when(open, r.Low), when(open, r.High))
		return nil
	}
	names, in := w.categoriesOfBy(f.design)
	for k, name := range names {
		if err := add(name, in[k]); err != nil {
			return err
		}
	}
	if err := add("all", func(int) bool { return true }); err != nil {
		return err
	}
	w.addTable(t)
	return nil
}

// categoriesOfBy are the categories of `by` and which rows of the design have
// each; none where it is a number or not given.
func (w *work) categoriesOfBy(d *design.Design) (names []string, in []func(int) bool) {
	k := slices.Index(d.TermNames, w.ask.By)
	if w.ask.By == "" || k < 0 {
		return nil, nil
	}
	cols := d.ColumnsOf(w.ask.By)
	for c, name := range d.Cats[k] {
		names = append(names, name)
		in = append(in, func(i int) bool {
			if c > 0 {
				return d.X[cols[c-1]][i] == 1
			}
			for _, j := range cols {
				if d.X[j][i] == 1 {
					return false
				}
			}
			return true
		})
	}
	return names, in
}
