package answer

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"plybook/analysis/design"
	"plybook/analysis/regress"
	"plybook/analysis/stats"
	"plybook/analysis/table"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// mostLevels is the number of levels beyond which an outcome is a number
// measured rather than rated.
const mostLevels = 21

// levelFit is a model of ordered levels as an answer uses it.
type levelFit struct {
	*regress.Ordinal
	design  *design.Design
	data    regress.OrdinalData
	table   *table.Table
	y       *table.Column
	levels  []string  // lowest first
	values  []float64 // what they are as numbers; of words, 0, 1, 2...
	numbers bool      // the levels are numbers, so that they have a mean
	cluster string
	tests   []regress.OddsTest
}

// ordinalModel answers what moves rows to higher or lower levels.
func ordinalModel(w *work) error {
	f := &levelFit{table: w.table}
	y, err := w.column("outcome", w.ask.Outcome)
	if err != nil {
		return err
	}
	f.y = y
	spec, err := w.designSpec()
	if err != nil {
		return err
	}
	if slices.Contains(spec.Terms, w.ask.Outcome) {
		return w.at("adjust", w.ask.Outcome, notebook.CodeImpossible, "%s is both the outcome and a term", w.ask.Outcome)
	}
	o := &outcomeFit{table: w.table, y: label(y)}
	cluster, err := w.outcomeRows(o, spec, w.ask.Outcome)
	if err != nil {
		return err
	}
	f.design = o.design
	if err := w.levelsOf(f); err != nil {
		return err
	}
	f.data.X, f.data.Names, f.data.Terms, f.data.Weight = f.design.X, f.design.Names(), f.design.Term, o.data.Weight
	if err := w.clusterOutcome(o, cluster); err != nil {
		return err
	}
	f.data.Cluster, f.cluster = o.data.Cluster, o.cluster
	if err := w.unequalColumns(f); err != nil {
		return err
	}
	if f.Ordinal, err = regress.FitOrdinal(f.data, regress.OrdinalOptions{Level: w.ask.Confidence}); err != nil {
		return w.ordinalError(err, f)
	}
	for _, x := range f.Warnings {
		if x.Code == "few-clusters" {
			w.caution("few-clusters", "%s stand behind these rows. Errors that allow for several rows of one %s are too small when there are fewer than 40 of them.", w.only(f.Clusters, f.cluster, f.cluster+"s"), f.cluster)
		}
	}
	if f.tests, err = f.Proportional(); err != nil {
		return err
	}
	w.levelTables(f)
	w.levelCautions(f)
	k := levelCombiner(f)
	if err := w.termTests(&outcomeFit{}, k); err != nil {
		return err
	}
	if err := w.compare(k); err != nil {
		return err
	}
	if err := w.levelPredicted(f); err != nil {
		return err
	}
	sides, contrasts, err := w.levelSides(f)
	if err != nil {
		return err
	}
	w.levelWords(f, sides, contrasts, w.curvePhrases(k))
	w.compared(k)
	w.levelsShown(f, sides, contrasts)
	return nil
}

// levelsOf orders the levels of the outcome and numbers the rows by them.
func (w *work) levelsOf(f *levelFit) error {
	rows := f.design.Rows
	name := w.ask.Outcome
	switch f.y.Kind {
	case table.Date:
		return w.at("outcome", name, notebook.CodeImpossible, "%s is a date, and ordinal explains ordered levels", name)
	case table.Number:
		if len(w.ask.Order) > 0 {
			return w.at("order", w.ask.Order[0], notebook.CodeImpossible, "%s is a number, and its order is that of its size; leave out `order`", label(f.y))
		}
		f.numbers = true
		for _, i := range rows {
			f.values = append(f.values, f.y.Num[i])
		}
		slices.Sort(f.values)
		f.values = slices.Compact(f.values)
		if len(f.values) > mostLevels {
			return w.at("outcome", name, notebook.CodeImpossible, "%s takes %d different values, too many for levels; use linear, or round it in a column of your own", label(f.y), len(f.values))
		}
		for _, v := range f.values {
			f.levels = append(f.levels, words.Plain(v))
		}
		for _, i := range rows {
			k, _ := slices.BinarySearch(f.values, f.y.Num[i])
			f.data.Y = append(f.data.Y, k)
		}
	default:
		if len(w.ask.Order) == 0 {
			return w.at("outcome", name, notebook.CodeMissingKey, "%s is text, and nothing says which level is higher; give `order`, the lowest first", name)
		}
		has := map[string]bool{}
		for _, i := range rows {
			has[f.y.Text[i]] = true
		}
		at := map[string]int{}
		for _, o := range w.ask.Order {
			if !has[o] {
				near := table.Nearest(o, sortedKeysOf(mapOf(has)))
				text := fmt.Sprintf("no row used has %s %q", label(f.y), o)
				if near != "" {
					text += fmt.Sprintf("; did you mean %q?", near)
				} else {
					text += "; leave it out of `order`"
				}
				return &notebook.Error{Pos: w.ask.At("order", o), Code: notebook.CodeBadValue, Text: text, Nearest: near}
			}
			at[o] = len(f.levels)
			f.levels, f.values = append(f.levels, o), append(f.values, float64(len(f.levels)))
		}
		for _, i := range rows {
			k, ok := at[f.y.Text[i]]
			if !ok {
				return w.at("order", w.ask.Order[0], notebook.CodeBadValue, "%q is among the values of %s and not in `order`; add it, or leave such rows out with keep", f.y.Text[i], label(f.y))
			}
			f.data.Y = append(f.data.Y, k)
		}
	}
	f.data.Levels = len(f.levels)
	if f.data.Levels < 2 {
		one, many := w.nouns()
		return w.at("outcome", name, "no-variation", "%s is %s in every %s used (%s), so there is nothing to explain", label(f.y), f.levels[0], one, w.n(len(rows), one, many))
	}
	return nil
}

// unequalColumns marks the columns whose ratio may differ from cut to cut.
func (w *work) unequalColumns(f *levelFit) error {
	if len(w.ask.Unequal) == 0 {
		return nil
	}
	if f.data.Levels == 2 {
		return w.at("unequal", w.ask.Unequal[0], notebook.CodeImpossible, "with two levels there is one cut, so that nothing can differ between cuts; leave out `unequal`")
	}
	f.data.Unequal = make([]bool, len(f.design.Columns))
	for j, c := range f.design.Columns {
		f.data.Unequal[j] = slices.Contains(w.ask.Unequal, c.Term)
	}
	return nil
}

func (w *work) ordinalError(err error, f *levelFit) error {
	var sep *regress.SeparationError
	var singular *regress.SingularError
	switch {
	case errors.As(err, &sep):
		e := w.modelError(sep, f.design, "", sep.Columns)
		var at *notebook.Error
		if errors.As(e, &at) {
			at.Code = "separation"
			at.Text = fmt.Sprintf("no finite estimate fits %s: on one side of the comparison every row lies at one end of the levels; leave the column out, or group its categories", words.List(comparisons(f.design, sep.Columns)))
			if len(w.ask.Unequal) > 0 {
				at.Text += ", or leave out `unequal`"
			}
		}
		return e
	case errors.As(err, &singular):
		return w.modelError(err, f.design, "ordinal model", nil)
	case errors.Is(err, stats.ErrConvergence):
		return err
	}
	if text := tooFewRows(err, f.design); text != "" || errors.Is(err, regress.ErrTooFewRows) {
		if text == "" {
			text = fmt.Sprintf("%s with all values known: too few for %s and %s; use fewer columns, or group the levels", words.Capital(words.N(len(f.design.Rows), "row", "rows")), words.N(len(f.design.X), "term", "terms"), words.N(f.data.Levels, "level", "levels"))
		}
		return &notebook.Error{Pos: w.ask.Pos, Code: "few-rows", Text: text}
	}
	return &notebook.Error{Pos: w.ask.Pos, Code: "model", Text: strings.TrimPrefix(err.Error(), "ordinal model: ")}
}

// levelCombiner offers sums of the coefficients that all cuts share.
func levelCombiner(f *levelFit) combiner {
	spread := func(c []float64) ([]float64, error) {
		out := make([]float64, len(f.Coef))
		for j, v := range c {
			if v == 0 {
				continue
			}
			at := f.At(j, -1)
			if at < 0 {
				return nil, fmt.Errorf("%s differs from level to level, so that no one ratio compares it; leave it out of `unequal`: %w", f.design.Columns[j].Label, errNoTest)
			}
			out[at] = v
		}
		return out, nil
	}
	return combiner{design: f.design, measure: "odds ratio", ratio: true,
		sum: func(c []float64) (combined, error) {
			row, err := spread(c)
			if err != nil {
				return combined{}, err
			}
			x, err := f.Contrast(row)
			if x.DF == 0 {
				x.DF = math.NaN()
			}
			return combined{x.Estimate, x.SE, x.DF, x.Low, x.High, x.T, x.P, x.Tested}, err
		},
		test: func(which []int) (joint, error) {
			var rows [][]float64
			for j, c := range f.Coef {
				if c.Column >= 0 && slices.Contains(which, c.Column) {
					r := make([]float64, len(f.Coef))
					r[j] = 1
					rows = append(rows, r)
				}
			}
			x, err := f.Wald(rows)
			if err != nil {
				return joint{}, fmt.Errorf("%w: %w", errNoTest, err)
			}
			if x.DF2 == 0 {
				x.DF2 = math.NaN()
			}
			return joint{x.Name, x.Statistic, x.DF1, x.DF2, x.P}, nil
		},
	}
}
