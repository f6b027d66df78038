package answer

import (
	"errors"
	"math"
	"strings"

	"plybook/analysis/design"
	"plybook/analysis/mixed"
	"plybook/analysis/stats"
	"plybook/analysis/table"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// usualTime is the clock that most questions about visits mean.
const usualTime = "days_since_delivery"

// mixedJob is a mixed model in the making.
type mixedJob struct {
	*work
	y         *table.Column
	design    *design.Design
	data      mixed.Data
	options   mixed.Options
	fit       *mixed.Model
	tests     []mixed.VarianceTest
	timeName  string
	rawTime   *table.Column // time before its scale; nil without
	clock     *table.Column // what times of one group are told apart by: the date of a row, else the time before its scale
	within    string        // the column of what is seen several times
	one       string        // what one is in words: "limb"
	names     []string      // of them, by their number in the model
	groupings []grouping    // as in the fit: within, nested_in, crossed
	kinds     []string      // values of scatter_by, by their number in the model
}

// mixedModel answers how a number changes over time, limbs being random.
func mixedModel(w *work) error {
	j := &mixedJob{work: w, within: w.ask.Within, one: nounOf(w.ask.Within)}
	if err := j.prepare(); err != nil {
		return err
	}
	fit, err := mixed.Fit(j.data, j.options)
	if err != nil {
		return j.failed(err)
	}
	j.fit = fit
	w.warnings(fit.Warnings)
	if w.ask.TestRandom {
		if j.tests, err = fit.VarianceTests(); err != nil {
			return j.failed(err)
		}
	}
	d := j.design
	es := mixedEstimates(fit, d)
	w.termTable(es, false)
	if err := j.termTests(); err != nil {
		return err
	}
	j.varianceTable()
	j.testTable()
	j.fitTable()
	j.limbTable()
	k := mixedCombiner(fit, len(d.X))
	k.design, k.measure, k.unit = d, "difference in "+label(j.y), j.y.Unit
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
	j.cautions()
	j.words(es, w.curvePhrases(k))
	w.compared(k)
	return j.forecast()
}

// prepare makes the columns of the model.
func (j *mixedJob) prepare() error {
	w := j.work
	y, err := w.outcome()
	if err != nil {
		return err
	}
	j.y = y
	if Measured(w.ask) {
		w.holding(y)
	}
	raw := w.table
	t, timeName, err := w.scaledTime()
	if err != nil {
		return err
	}
	w.table, j.timeName = t, timeName
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
	j.rawTime, _ = raw.Col(timeName)
	clock := "date" // days since a delivery begin anew with each socket
	if c, ok := raw.Col(clock); !ok || c.Kind != table.Date {
		clock = timeName
	}
	j.clock, _ = raw.Col(clock)
	also := []string{w.ask.Outcome, j.within}
	type named struct {
		key     string
		columns []string
	}
	for _, k := range []named{{"within", []string{j.within}}, {"nested_in", []string{w.ask.NestedIn}}, {"crossed", w.ask.Crossed}, {"scatter_by", []string{w.ask.ScatterBy}},
		{"slopes", w.ask.Slopes}, {"nested_slopes", w.ask.NestedSlopes}} {
		for _, n := range k.columns {
			if n == "" {
				continue
			}
			c, err := w.column(k.key, n)
			if err != nil {
				return err
			}
			if strings.HasSuffix(k.key, "slopes") && c.Kind != table.Number {
				return w.at(k.key, n, notebook.CodeImpossible, "%s is not a number and can have no slope", n)
			}
			also = append(also, n)
		}
	}
	if w.ask.Correlation == "ar1" {
		also = append(also, clock)
	}
	d, err := design.Build(w.table, w.rows, spec, also...)
	if err != nil {
		return err
	}
	j.design = d
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
	j.data = mixed.Data{X: d.X, Names: d.Names(), Terms: d.Term, TermNames: d.TermNames, Intercept: true, RandomIntercept: true}
	for _, i := range d.Rows {
		j.data.Y = append(j.data.Y, y.Num[i])
	}
	j.data.Z, j.data.ZNames = j.slopes(w.ask.Slopes)
	if err := j.group(); err != nil {
		return err
	}
	j.names = j.groupings[0].names
	j.options = mixed.Options{ML: w.ask.Estimate == "ml", Level: w.ask.Confidence, Uncorrelated: w.ask.RandomEffects == "uncorrelated"}
	if j.adjusted() {
		j.options.Freedom = mixed.KenwardRoger
	}
	if w.ask.Correlation == "ar1" {
		j.options.Correlation = mixed.ContinuousAR1
		for _, i := range d.Rows {
			j.data.Time = append(j.data.Time, j.clock.Num[i])
		}
		return j.tied()
	}
	return nil
}

// tied refuses rows of one group at the same time, which a correlation that
// fades with time would have to make equal.
func (j *mixedJob) tied() error {
	type at struct {
		group int
		time  float64
	}
	seen := map[at]bool{}
	for k, g := range j.data.Group {
		a := at{g, j.data.Time[k]}
		if seen[a] {
			_, many := j.nouns()
			return j.at("correlation", j.ask.Correlation, "tied-times", "two %s of one %s have the same %s, so that how alike %s are cannot be taken from the time between them; keep one of the two with `keep`, or leave out `correlation`",
				many, j.one, j.columnLabel(j.clock.Name), many)
		}
		seen[a] = true
	}
	return nil
}

// failed is the fault of a fit, with what to do about it.
func (j *mixedJob) failed(err error) error {
	var s *mixed.SingularError
	switch {
	case errors.As(err, &s):
		return j.modelError(err, j.design, "mixed model", nil)
	case errors.Is(err, stats.ErrConvergence):
		return err
	}
	if err := j.groupingFault(err); err != nil {
		return err
	}
	if err := j.freedomFault(err); err != nil {
		return err
	}
	text := tooFewRows(err, j.design)
	if text == "" {
		text = strings.TrimPrefix(err.Error(), "mixed model: ")
	}
	return &notebook.Error{Pos: j.ask.Pos, Code: "model", Text: text}
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
	lost, days := 0, 1.0 // in a unit of the column
	switch c.Unit {
	case "months":
		days = table.DaysPerMonth
	case "years":
		days = table.DaysPerYear
	}
	for _, i := range w.rows {
		if out.Missing[i] {
			continue
		}
		if w.ask.Scale == "months" {
			out.Num[i] *= days / table.DaysPerMonth
			continue
		}
		if out.Num[i] <= 0 {
			lost++
		}
		out.SetNum(i, math.Log(out.Num[i]*days/7))
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
