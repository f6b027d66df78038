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
	"plybook/reports/document"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// outcomeFit is a model of yes or no, or of counts, as an answer uses it.
type outcomeFit struct {
	*regress.GLM
	table     *table.Table // that the design's rows are of
	design    *design.Design
	data      regress.GLMData
	cluster   string        // what the errors allow for; empty: nothing
	separated []int         // columns without a finite estimate by the plain likelihood
	measure   string        // what a ratio is of: "odds ratio", "rate ratio"
	y         string        // what the outcome is called
	id        *table.Column // names the rows of table; nil: the rows-table does
}

// fitOutcome fits as the question says: penalised where it asks for that, and
// where it leaves the choice open and no finite estimate exists otherwise.
func (w *work) fitOutcome(family regress.Family, f *outcomeFit) error {
	o := regress.GLMOptions{Level: w.ask.Confidence, Profile: w.ask.Intervals == "profile"}
	if kind := correlations[w.ask.Correlation]; kind != regress.Independent {
		if f.data.Cluster != nil {
			o.Correlation = kind
			f.data.Order = w.orderOf(f)
		} else {
			one, many := w.nouns()
			w.caution("no-repeats", "No %s stands in several of these %s, so that `correlation` has nothing to describe and is left out.", clusterNoun(w.ask.Cluster), plural(len(f.data.Y), one, many))
		}
	}
	if o.Profile && f.data.Cluster != nil {
		f.data.Cluster, f.cluster = nil, ""
		w.repeatsIgnored(f.table, f.design, "by intervals of the profile likelihood")
	}
	asked := w.ask.Penalty == "firth"
	var err error
	if !asked {
		f.GLM, err = regress.FitGLM(family, f.data, o)
		var sep *regress.SeparationError
		if errors.As(err, &sep) {
			f.separated = sep.Columns
		}
		if f.separated == nil || w.ask.Penalty == "none" || family == regress.NegativeBinomial {
			return w.outcomeError(err, f)
		}
	}
	o = regress.GLMOptions{Level: w.ask.Confidence, Firth: true}
	f.data.Cluster, f.cluster = nil, ""
	f.GLM, err = regress.FitGLM(family, f.data, o)
	return w.outcomeError(err, f)
}

var correlations = map[string]regress.Correlation{"exchangeable": regress.Exchangeable, "ar1": regress.Serial}

// orderOf is the date that puts the rows of a cluster in order; nil where the
// rows have none.
func (w *work) orderOf(f *outcomeFit) []float64 {
	for _, name := range []string{"date", "delivered"} {
		if c, ok := f.table.Col(name); ok && c.Kind == table.Date && !c.Own {
			return pickNum(c, f.design.Rows)
		}
	}
	return nil
}

// noLikelihood says whether the estimates are of equations with a working
// correlation.
func (f *outcomeFit) noLikelihood() bool { return f.Correlation != regress.Independent }

// correlationWords are those of the methods sentence.
func (w *work) correlationWords(f *outcomeFit) string {
	if !f.noLikelihood() {
		return ""
	}
	w.References = append(w.References, "Liang KY, Zeger SL. Longitudinal data analysis using generalized linear models. Biometrika 1986; 73: 13-22.")
	_, many := w.nouns()
	how := "the same between any two"
	if f.Correlation == regress.Serial {
		how = "falling off from one to the next by date"
	}
	return fmt.Sprintf(" Estimates are by generalised estimating equations with a working correlation of the %s of one %s, %s (%s).", many, f.cluster, how, words.Fixed(f.Alpha, 2))
}

// outcomeError turns a fault of the fit into one at its place.
func (w *work) outcomeError(err error, f *outcomeFit) error {
	var sep *regress.SeparationError
	var singular *regress.SingularError
	switch {
	case err == nil:
		return nil
	case errors.As(err, &sep):
		e := w.modelError(sep, f.design, "", sep.Columns)
		var at *notebook.Error
		if errors.As(e, &at) {
			at.Code = "separation"
			more := ""
			if w.ask.Penalty == "none" {
				more = "; without `penalty: none` the estimates are penalised"
			} else if w.ask.Method == "negative-binomial" {
				more = "; with method poisson the estimates are penalised"
			}
			at.Text = fmt.Sprintf("no finite estimate fits %s: %s; leave the column out, or group its categories%s",
				words.List(comparisons(f.design, sep.Columns)), w.oneSided(), more)
		}
		return e
	case errors.As(err, &singular):
		return w.modelError(err, f.design, f.familyName(w)+" model", nil)
	case errors.Is(err, stats.ErrConvergence):
		return err
	}
	if text := tooFewRows(err, f.design); text != "" {
		return &notebook.Error{Pos: w.ask.Pos, Code: "few-rows", Text: text}
	}
	return &notebook.Error{Pos: w.ask.Pos, Code: "model", Text: strings.TrimPrefix(err.Error(), f.familyName(w)+" model: ")}
}

func (f *outcomeFit) familyName(w *work) string {
	return map[string]string{"logistic": "logistic", "poisson": "Poisson", "negative-binomial": "negative binomial"}[w.ask.Method]
}

// oneSided says what separation means.
func (w *work) oneSided() string {
	if w.ask.Method == "logistic" {
		return "on one side of the comparison the outcome is the same in every row"
	}
	return "on one side of the comparison nothing at all was counted"
}

// outcomeEstimates are the coefficients as rows of a table of terms.
func outcomeEstimates(f *outcomeFit) []estimate {
	var es []estimate
	for j, c := range f.Coef {
		e := estimate{value: c.Estimate, stdErr: c.ModelSE, robust: math.NaN(), df: math.NaN(), low: c.Low, high: c.High, stat: c.T, p: c.P, ratio: true}
		if j == 0 {
			e.intercept, e.ratio = true, false
		} else {
			e.column = f.design.Columns[j-1]
		}
		if c.DF > 0 {
			e.df = c.DF
		}
		if f.Used != regress.ModelBased {
			e.robust = c.SE
		}
		if !c.Tested {
			e.noInterval = true
			e.low, e.high, e.stat, e.p, e.df, e.robust = math.NaN(), math.NaN(), math.NaN(), math.NaN(), math.NaN(), math.NaN()
		}
		if f.Limits != nil {
			l := f.Limits[j]
			e.low, e.high = math.NaN(), math.NaN()
			e.noInterval = !l.HasLow || !l.HasHigh
			if l.HasLow {
				e.low = l.Low
			}
			if l.HasHigh {
				e.high = l.High
			}
			e.stat, e.p, e.df = math.Copysign(math.Sqrt(l.Test.Statistic), c.Estimate), l.Test.P, math.NaN()
		}
		es = append(es, e)
	}
	return es
}

// outcomeCombiner offers sums of coefficients to comparisons and curves.
func outcomeCombiner(f *outcomeFit) combiner {
	return combiner{design: f.design, measure: f.measure, ratio: true,
		sum: func(c []float64) (combined, error) {
			x, err := f.Contrast(append([]float64{0}, c...))
			for _, j := range f.separated { // a symmetric error says nothing of those
				x.Tested = x.Tested && c[j] == 0
			}
			if x.DF == 0 {
				x.DF = math.NaN()
			}
			return combined{x.Estimate, x.SE, x.DF, x.Low, x.High, x.T, x.P, x.Tested}, err
		},
		test: func(which []int) (joint, error) {
			if among(f.separated, which) {
				return joint{}, errNoTest
			}
			x, err := f.Wald(unitRows(which, len(f.design.X)))
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

// among says whether any of some columns is one of others.
func among(some, others []int) bool {
	for _, j := range some {
		if slices.Contains(others, j) {
			return true
		}
	}
	return false
}

// termTests tests each term of several columns as a whole.
func (w *work) termTests(f *outcomeFit, k combiner) error {
	t := tableOf("term_tests", text("term"), text("test"), number("statistic", ""), number("df", ""), number("df_residual", ""), number("p", ""))
	for _, term := range k.design.TermNames {
		cols := k.design.ColumnsOf(term)
		if len(cols) < 2 || k.design.Splines[term] != nil || among(f.separated, cols) {
			continue
		}
		x, err := k.test(cols)
		if err != nil {
			if !notTestable(err) {
				return err
			}
			w.caution("term-not-tested", "%s is not tested as a whole: too few %s bear on it.", words.Capital(w.termName(term)), w.bearers())
			continue
		}
		t.row(term, x.name, x.statistic, x.df, x.dfRest, x.p)
		w.joints = append(w.joints, fmt.Sprintf("%s as a whole: %s", w.termName(term), words.PEquals(x.p)))
	}
	w.addTable(t)
	return nil
}

// termName is a term in words, a product too.
func (w *work) termName(term string) string {
	parts := strings.Split(term, " × ")
	for i, p := range parts {
		parts[i] = w.columnLabel(p)
	}
	return strings.Join(parts, " × ")
}

// penaltySaid warns that estimates are penalised, and what that leaves out.
func (w *work) penaltySaid(f *outcomeFit) {
	if !f.Firth {
		return
	}
	if f.separated != nil {
		w.caution("separation", "No finite %s fits %s: %s. All estimates of this model are therefore penalised (Firth's method): drawn a little toward no difference, which keeps them finite. Such a ratio tells which way, hardly how far; read its interval, which is wide and reaches further on one side. Group rare categories where that makes sense.",
			f.measure, words.List(comparisons(f.design, f.separated)), w.oneSided())
	}
	w.repeatsIgnored(f.table, f.design, "where estimates are penalised")
	if w.ask.Adjusted || len(w.ask.Profiles)+len(w.ask.Contrasts)+len(w.ask.Spline) > 0 {
		w.caution("penalised-errors", "What is averaged, compared, predicted or drawn as a curve here rests on the penalised estimates with symmetric errors, which are rougher than the intervals of the terms.")
	}
}

// averaged are the values of each category of `by`, were all rows of it.
type averaged struct {
	names    []string
	rows     []int
	each     []regress.Average
	contrast []regress.AverageContrast // from the reference; the first is empty
}

// averages works out what `adjusted` asks for, and its table. scale turns
// estimates into what is shown.
func (w *work) averages(f *outcomeFit) (*averaged, error) {
	s, err := w.standardRows(f.design)
	if err != nil {
		return nil, err
	}
	out := &averaged{names: s.names, rows: s.rows}
	t := adjustedTable()
	for g, name := range s.names {
		a, err := f.Standardise(s.groups[g])
		if err != nil {
			return nil, err
		}
		out.each = append(out.each, a)
		t.row(name, nil, a.Estimate, when(a.Tested, a.SE), when(a.Tested && a.DF > 0, a.DF), when(a.Tested, a.Low), when(a.Tested, a.High), nil)
	}
	out.contrast = make([]regress.AverageContrast, len(s.names))
	add := func(name string, c regress.Contrast) {
		t.row(name, nil, c.Estimate, when(c.Tested, c.SE), when(c.Tested && c.DF > 0, c.DF), when(c.Tested, c.Low), when(c.Tested, c.High), when(c.Tested, c.P))
	}
	for g, name := range s.names[1:] {
		c, err := f.Compare(out.each[g+1], out.each[0])
		if err != nil {
			return nil, err
		}
		out.contrast[g+1] = c
		add(name+" - "+s.names[0], c.Difference)
		add(name+" / "+s.names[0], c.Ratio)
	}
	w.addTable(t)
	return out, nil
}

// predictedFor adds the table of what is expected for the profiles.
func (w *work) predictedFor(f *outcomeFit) error {
	t := tableOf("predicted", text("profile"), number("time", "days"), number("estimate", ""), number("std_error", ""), number("low", ""), number("high", ""))
	for _, p := range w.ask.Profiles {
		x, err := w.profileRow(p, f.design)
		if err != nil {
			return err
		}
		m, err := f.Predict(x)
		if err != nil {
			return &notebook.Error{Pos: p.Pos, Code: "profile", Text: "what is expected for " + profileName(p) + " could not be worked out: " + err.Error()}
		}
		t.row(profileName(p), nil, m.Estimate, when(m.Tested, m.SE), when(m.Tested, m.Low), when(m.Tested, m.High))
	}
	w.addTable(t)
	return nil
}

// predictedShown prints what is expected for the profiles; show writes a
// value with its interval.
func (w *work) predictedShown(caption string, head string, show func(v, low, high float64, tested bool) (string, string), note string) {
	out := document.Table{ID: w.ask.ID + "-predicted", Caption: caption, Columns: []document.TableColumn{
		{Head: "For", Wide: true}, {Head: head, Align: document.Right}, {Head: words.Capital(w.confidenceWords()), Align: document.Right}}, Notes: []string{note}}
	for _, t := range w.Tables {
		if t.Name != "predicted" {
			continue
		}
		for _, r := range t.Rows {
			v, ok := r[2].(float64)
			if !ok {
				continue
			}
			low, ok1 := r[4].(float64)
			high, ok2 := r[5].(float64)
			a, b := show(v, low, high, ok1 && ok2)
			out.Rows = append(out.Rows, []string{r[0].(string), a, b})
		}
	}
	if len(out.Rows) > 0 {
		w.print(out)
	}
}
