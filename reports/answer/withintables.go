package answer

import (
	"math"
	"slices"

	"plybook/analysis/design"
	"plybook/analysis/quadrature"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// withinTables adds the tables of the whole fit and of the groups.
func (w *work) withinTables(f *withinFit) {
	within := w.ask.Within
	if f.levels != nil {
		t := tableOf("thresholds", text("cut"), number("estimate", ""), number("std_error", ""), number("low", ""), number("high", ""))
		for _, c := range f.Model.Coef {
			if c.Cut >= 0 {
				t.row(f.levels.cutName(c.Cut), c.Estimate, c.SE, c.Low, c.High)
			}
		}
		w.addTable(t)
	}
	t := tableOf("variance", text("group"), text("term"), text("with"), number("variance", ""), number("std_dev", ""), number("correlation", ""))
	t.row(within, "intercept", nil, f.SD*f.SD, f.SD, nil)
	w.addTable(t)
	t = tableOf("between", text("group"), number("std_dev", ""), number("low", ""), number("high", ""), number("median_ratio", ""), number("median_ratio_low", ""), number("median_ratio_high", ""),
		number("icc", ""), number("icc_low", ""), number("icc_high", ""), number("log_likelihood_without", ""), number("statistic", ""), number("p", ""))
	row := []any{within, f.SD, when(f.Model.Low.Has, f.Model.Low.Value), when(f.High.Has, f.High.Value)}
	for _, of := range []func(float64) float64{quadrature.MedianRatio, quadrature.Correlation} {
		if f.counts != nil && len(row) > 4 { // counts have no scale behind them
			row = append(row, nil, nil, nil)
			break
		}
		row = append(row, of(f.SD), when(f.Model.Low.Has, of(f.Model.Low.Value)), when(f.High.Has, of(f.High.Value)))
	}
	t.row(append(row, f.LogLikPlain, f.Between.Statistic, f.Between.P)...)
	w.addTable(t)
	columns := []Column{count("rows"), count("groups"), number("log_likelihood", ""), number("aic", ""), integer("parameters"), integer("nodes"), flag("singular")}
	values := []any{f.Model.Rows, f.Groups, f.Model.LogLik, f.Model.AIC, len(f.Model.Coef) + 1, f.Nodes, f.AtZero}
	if f.levels != nil {
		columns, values = slices.Insert(columns, 1, integer("levels")), slices.Insert(values, 1, any(len(f.levels.levels)))
	} else {
		columns, values = slices.Insert(columns, 1, count("events")), slices.Insert(values, 1, any(int(f.Events)))
	}
	if f.counts != nil {
		exposure := any(nil)
		if f.counts.over != "" {
			sum := 0.0
			for _, v := range f.counts.exposure {
				sum += v
			}
			exposure = sum
		}
		columns, values = slices.Insert(columns, 2, number("exposure", "")), slices.Insert(values, 2, exposure)
	}
	t = tableOf("fit", columns...)
	t.row(values...)
	w.addTable(t)
	t = tableOf("limbs", text("group"), text("term"), number("estimate", ""), number("std_error", ""))
	if !w.ctx.Names.Show {
		w.caution("limbs-hidden", "%s", w.ctx.Names.Why)
	} else {
		for _, e := range f.Effects {
			t.row(f.names[e.Group], "intercept", e.Mode, when(!f.AtZero, e.SE))
		}
	}
	w.addTable(t)
}

// quantity is what an answer speaks of beside ratios: a share, a rate or the
// mean of levels.
type quantity struct {
	what   string // "share with pain", "falls a year", "mean comfort"
	axis   string // of a figure
	unit   string
	scale  float64 // by which it is multiplied in figures
	levels bool    // tables hold the levels beside it
	share  bool
}

func (w *work) quantityOf(f *withinFit) quantity {
	switch {
	case f.counts != nil:
		what := f.counts.what + " " + f.counts.per
		return quantity{what: what, axis: words.Capital(what), scale: 1}
	case f.levels == nil:
		return quantity{what: "share with " + f.y, axis: "Share with " + f.y, unit: "%", scale: 100, share: true}
	case f.levels.numbers:
		return quantity{what: "mean " + f.y, axis: "Mean " + f.y, unit: f.levels.y.Unit, scale: 1, levels: true}
	}
	top := f.levels.levels[len(f.levels.levels)-1]
	return quantity{what: "share at " + top, axis: "Share at " + top, unit: "%", scale: 100, levels: true, share: true}
}

// print writes a value and its interval.
func (q quantity) print(v quadrature.Value) (string, string) {
	switch {
	case q.share && !v.Tested:
		return words.Percent(v.Estimate, 100), words.NotComputed
	case q.share:
		return words.PercentWithin(v.Estimate, v.Low, v.High), words.PercentRange(v.Low, v.High)
	case !v.Tested:
		return words.Plain(v.Estimate), words.NotComputed
	}
	return words.Value(v.Estimate, v.Low, v.High), words.Interval(v.Low, v.High)
}

// expected is what is expected for one row of values, or over whole columns.
type expected struct {
	quadrature.Pair
	shares *quadrature.Shares
}

// expectedAt works that out for the columns x of one row.
func (f *withinFit) expectedAt(x []float64) (expected, error) {
	if f.levels == nil {
		p, err := f.Model.Predict(x)
		return expected{Pair: p}, err
	}
	s, err := f.Model.PredictLevels(x, f.levels.values)
	return f.ofLevels(s), err
}

// expectedOver averages over the rows with columns x.
func (f *withinFit) expectedOver(x [][]float64) (expected, error) {
	if f.levels == nil {
		p, err := f.Model.Average(x)
		return expected{Pair: p}, err
	}
	s, err := f.Model.AverageLevels(x, f.levels.values)
	return f.ofLevels(s), err
}

func (f *withinFit) ofLevels(s *quadrature.Shares) expected {
	switch {
	case s == nil:
		return expected{}
	case f.levels.numbers:
		return expected{s.Mean, s}
	}
	return expected{s.Levels[len(s.Levels)-1], s}
}

// The two kinds of limbs that a row of a table is about.
var overKinds = []struct {
	name string
	of   func(quadrature.Pair) quadrature.Value
}{{"typical", func(p quadrature.Pair) quadrature.Value { return p.Typical }}, {"all", func(p quadrature.Pair) quadrature.Value { return p.All }}}

func expectedColumns(first string) []Column {
	return []Column{text(first), text("over"), number("estimate", ""), number("std_error", ""), number("low", ""), number("high", "")}
}

func (e expected) rows(t *Table, name string, p ...any) {
	for _, k := range overKinds {
		v := k.of(e.Pair)
		t.row(append([]any{name, k.name, v.Estimate, when(v.Tested, v.SE), when(v.Tested, v.Low), when(v.Tested, v.High)}, p...)...)
	}
}

func levelsTable(name, first string) *Table {
	return tableOf(name, text(first), text("over"), text("level"), number("estimate", ""), number("std_error", ""), number("low", ""), number("high", ""), number("at_or_above", ""))
}

// levelRows adds the levels of what is expected.
func (f *withinFit) levelRows(t *Table, name string, e expected) {
	for _, k := range overKinds {
		for y, p := range e.shares.Levels {
			v, above := k.of(p), 1.0
			if y > 0 {
				above = k.of(e.shares.Above[y-1]).Estimate
			}
			t.row(name, k.name, f.levels.levels[y], v.Estimate, when(v.Tested, v.SE), when(v.Tested, v.Low), when(v.Tested, v.High), above)
		}
	}
}

// withinSide is one category of `by`, were all rows of it; or all rows as they
// are.
type withinSide struct {
	name string
	expected
}

// withinSides averages over the rows for each category of `by`, and compares
// them with the first.
func (w *work) withinSides(f *withinFit, q quantity) ([]withinSide, error) {
	names, groups := []string{"all"}, [][][]float64{f.design.X}
	if hasCategories(f.design, w.ask.By) {
		s, err := w.standardRows(f.design)
		if err != nil {
			return nil, err
		}
		names, groups = s.names, s.groups
	}
	t, l := tableOf("averaged", append(expectedColumns("group"), number("p", ""))...), levelsTable("averaged_levels", "group")
	var out []withinSide
	for g, name := range names {
		e, err := f.expectedOver(groups[g])
		if err != nil {
			return nil, err
		}
		out = append(out, withinSide{name, e})
		e.rows(t, name, nil)
		if q.levels {
			f.levelRows(l, name, e)
		}
	}
	for _, x := range out[1:] {
		for _, k := range overKinds {
			d, err := f.Difference(k.of(x.Pair), k.of(out[0].Pair))
			if err != nil {
				return nil, err
			}
			t.row(x.name+" - "+out[0].name, k.name, d.Estimate, when(d.Tested, d.SE), when(d.Tested, d.Low), when(d.Tested, d.High), when(d.Tested, d.P))
		}
	}
	w.addTable(t)
	if q.levels {
		w.addTable(l)
	}
	return out, nil
}

// hasCategories says whether a column is a term of categories.
func hasCategories(d *design.Design, name string) bool {
	k := slices.Index(d.TermNames, name)
	return name != "" && k >= 0 && len(d.Cats[k]) > 0
}

// withinProfiles adds the table of what is expected for the profiles.
func (w *work) withinProfiles(f *withinFit, q quantity) ([]withinSide, error) {
	t, l := tableOf("predicted", expectedColumns("profile")...), levelsTable("predicted_levels", "profile")
	var out []withinSide
	for _, p := range w.ask.Profiles {
		x, err := w.profileRow(p, f.design)
		if err != nil {
			return nil, err
		}
		e, err := f.expectedAt(x)
		if err != nil {
			return nil, &notebook.Error{Pos: p.Pos, Code: "profile", Text: "what is expected for " + profileName(p) + " could not be worked out: " + err.Error()}
		}
		out = append(out, withinSide{profileName(p), e})
		e.rows(t, profileName(p))
		if q.levels {
			f.levelRows(l, profileName(p), e)
		}
	}
	w.addTable(t)
	if q.levels {
		w.addTable(l)
	}
	return out, nil
}

// withinSteps is into how many steps the time is cut that figures run over.
const withinSteps = 48

// timed is what is expected at one time.
type timed struct {
	time float64
	expected
}

// overTime is what is expected as time runs, other columns at their means,
// with its table; nil without a time that varies.
func (w *work) overTime(f *withinFit) ([]timed, error) {
	if f.time == "" {
		return nil, nil
	}
	t := tableOf("over_time", number("time", ""), text("over"), number("estimate", ""), number("std_error", ""), number("low", ""), number("high", ""))
	c, _ := f.table.Col(f.time)
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, i := range f.design.Rows {
		lo, hi = math.Min(lo, c.Num[i]), math.Max(hi, c.Num[i])
	}
	at := make([]float64, len(f.design.X))
	for j := range at {
		at[j] = average(f.design.X[j])
	}
	var out []timed
	for k := range withinSteps + 1 {
		x := lo + (hi-lo)*float64(k)/withinSteps
		f.design.SetNumber(at, f.time, x)
		if err := w.fillProducts(at, f.design); err != nil {
			return nil, err
		}
		e, err := f.expectedAt(at)
		if err != nil {
			return nil, err
		}
		out = append(out, timed{x, e})
		for _, o := range overKinds {
			v := o.of(e.Pair)
			t.row(x, o.name, v.Estimate, when(v.Tested, v.SE), when(v.Tested, v.Low), when(v.Tested, v.High))
		}
	}
	w.addTable(t)
	return out, nil
}
