package answer

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"

	"plybook/analysis/design"
	"plybook/analysis/impute"
	"plybook/analysis/table"
	"plybook/reports/document"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

const (
	// mostFilled is how many categories a column to be filled in may have.
	mostFilled = 12
	// muchMissing is from which share on a column is hardly known. Common
	// practice, no source.
	muchMissing = 0.4
)

// filled is a table completed several times.
type filled struct {
	table   *table.Table // as it was
	rows    []int        // its rows that are used
	whole   []int        // of these, with nothing missing
	columns []string     // with something missing
	missing []int        // how much, by column
	kinds   []string
	tables  []*table.Table // completed, a row for each of rows
	spec    design.Spec    // with every reference named
}

// fill completes the columns of a model over rows of a table. among are
// further columns that are known in each row and tell of those missing: the
// outcome, strata. Nothing is done (nil) where nothing is missing.
func (w *work) fill(t *table.Table, rows []int, spec design.Spec, among []impute.Column) (*filled, error) {
	f := &filled{table: t, rows: rows, spec: spec}
	factor := map[string]bool{}
	for _, n := range spec.Factors {
		factor[n] = true
	}
	var cols []impute.Column
	var levels [][]string // of categories, by column
	for _, n := range spec.Terms {
		c, ok := t.Col(n)
		if !ok || c.Kind == table.Date {
			return nil, nil // the design says what is wrong with it
		}
		col, of, gone := columnToFill(c, rows, factor[n])
		if gone > 0 {
			f.columns, f.missing = append(f.columns, n), append(f.missing, gone)
			kind := "number"
			if col.Kind == impute.Category {
				kind = "category"
			}
			f.kinds = append(f.kinds, kind)
			if len(of) > mostFilled {
				return nil, w.at("missing", "", notebook.CodeImpossible, "%s has %d categories, too many to fill in; group them first", n, len(of))
			}
		}
		cols, levels = append(cols, col), append(levels, of)
	}
	if len(f.columns) == 0 {
		return nil, nil
	}
	for k := range rows {
		whole := true
		for _, n := range f.columns {
			c, _ := t.Col(n)
			whole = whole && !c.Missing[rows[k]]
		}
		if whole {
			f.whole = append(f.whole, rows[k])
		}
	}
	got, err := impute.Complete(w.run, append(cols, among...), impute.Options{Sets: w.ask.Imputations, Seed: uint64(w.ask.Seed)})
	var col *impute.ColumnError
	switch {
	case errors.As(err, &col) && errors.Is(err, impute.ErrNothingKnown):
		return nil, w.at("adjust", col.Name, "never-known", "%s is known of no row used, so that nothing can be filled in", col.Name)
	case errors.As(err, &col):
		return nil, w.at("missing", "", "not-filled", "%s cannot be filled in: the other columns give no model of it", col.Name)
	case err != nil:
		return nil, err
	}
	f.spec.Reference = f.references(levels, cols)
	base := t.Pick(rows)
	for _, set := range got.Sets {
		one := base
		for j, n := range spec.Terms {
			if !slices.Contains(f.columns, n) {
				continue
			}
			c, _ := base.Col(n)
			if one, err = one.With(completedColumn(c, set[j], levels[j])); err != nil {
				return nil, err
			}
		}
		f.tables = append(f.tables, one)
	}
	return f, nil
}

// columnToFill is a column as the filling sees it, its categories in order,
// and how much is missing.
func columnToFill(c *table.Column, rows []int, factor bool) (impute.Column, []string, int) {
	out, gone := impute.Column{Name: c.Name}, 0
	if c.Kind == table.Number && !factor {
		for _, i := range rows {
			out.Num = append(out.Num, c.Num[i])
			if c.Missing[i] {
				out.Num[len(out.Num)-1] = math.NaN()
				gone++
			}
		}
		return out, nil, gone
	}
	seen := map[string]bool{}
	var of []string
	for _, i := range rows {
		if v := valueText(c, i); !c.Missing[i] && !seen[v] {
			seen[v] = true
			of = append(of, v)
		}
	}
	sortGroups(of)
	at := map[string]int{}
	for k, v := range of {
		at[v] = k
	}
	out.Kind, out.Cats = impute.Category, len(of)
	for _, i := range rows {
		if c.Missing[i] {
			out.Cat = append(out.Cat, -1)
			gone++
			continue
		}
		out.Cat = append(out.Cat, at[valueText(c, i)])
	}
	return out, of, gone
}

// completedColumn puts a completed column back among its values.
func completedColumn(c *table.Column, from impute.Column, levels []string) *table.Column {
	out := c.Pick(indices(c.Len()))
	for i := range out.Missing {
		switch {
		case !out.Missing[i]:
		case from.Kind == impute.Number:
			out.SetNum(i, from.Num[i])
		case c.Kind == table.Text:
			out.SetText(i, levels[from.Cat[i]])
		default:
			x, _ := strconv.ParseFloat(levels[from.Cat[i]], 64)
			out.SetNum(i, x)
		}
	}
	return out
}

// references names the reference of each column of categories, so that all
// tables have the same: that asked for, else the most frequent as known.
func (f *filled) references(levels [][]string, cols []impute.Column) map[string]string {
	out := map[string]string{}
	for n, v := range f.spec.Reference {
		out[n] = v
	}
	for j, n := range f.spec.Terms {
		if levels[j] == nil || out[n] != "" {
			continue
		}
		count := make([]int, len(levels[j]))
		best := 0
		for _, v := range cols[j].Cat {
			if v >= 0 {
				count[v]++
			}
		}
		for v := range count {
			if count[v] > count[best] {
				best = v
			}
		}
		if len(levels[j]) > 0 {
			out[n] = levels[j][best]
		}
	}
	return out
}

// part is a weighted sum of the coefficients of one table's model: the sum,
// its variance, and its degrees of freedom without anything missing (+Inf:
// normal). It is not ok without an error.
type part func(c []float64) (value, variance, df float64, ok bool)

// pooledFit is a model put together from completed tables.
type pooledFit struct {
	parts   []part      // by table
	columns int         // coefficients, the constant among them
	plain   [][]float64 // model-based variances by table; nil: those of the parts are such
	pooled  []impute.Pooled
	known   []bool // whether each has an error
}

// sum puts the sums of all tables together.
func (p *pooledFit) sum(c []float64) (impute.Pooled, bool, error) {
	var est, v []float64
	df, all := 0.0, true
	for _, one := range p.parts {
		x, u, f, ok := one(c)
		est, v = append(est, x), append(v, u)
		df += f / float64(len(p.parts))
		all = all && ok
	}
	out, err := impute.Pool(est, v, df)
	return out, all, err
}

func (p *pooledFit) pool() error {
	for j := range p.columns {
		c := make([]float64, p.columns)
		c[j] = 1
		one, ok, err := p.sum(c)
		if err != nil {
			return err
		}
		p.pooled, p.known = append(p.pooled, one), append(p.known, ok)
	}
	return nil
}

// modelErr is the pooled model-based error of coefficient j.
func (p *pooledFit) modelErr(j int) float64 {
	if p.plain == nil {
		return p.pooled[j].StdErr
	}
	within := 0.0
	for m := range p.plain {
		within += p.plain[m][j] / float64(len(p.plain))
	}
	return math.Sqrt(within + (1+1/float64(len(p.plain)))*p.pooled[j].Between)
}

// estimateOf is coefficient j as a row of the table of terms.
func (p *pooledFit) estimateOf(j int, level float64) estimate {
	x := p.pooled[j]
	e := estimate{value: x.Estimate, stdErr: p.modelErr(j), robust: math.NaN(), df: x.DF}
	if p.plain != nil {
		e.robust = x.StdErr
	}
	var ok bool
	if e.low, e.high, e.stat, e.p, ok = x.Interval(level); !ok || !p.known[j] {
		e.noInterval, e.low, e.high, e.stat, e.p = true, math.NaN(), math.NaN(), math.NaN(), math.NaN()
	}
	return e
}

// combiner puts sums of coefficients together, each as an estimate of its own;
// skip is how many coefficients stand before those of the design.
func (p *pooledFit) combiner(level float64, skip int) combiner {
	return combiner{
		sum: func(c []float64) (combined, error) {
			x, ok, err := p.sum(append(make([]float64, skip), c...))
			if err != nil {
				return combined{}, err
			}
			out := combined{value: x.Estimate, df: x.DF}
			if out.low, out.high, out.stat, out.p, out.tested = x.Interval(level); out.tested && ok {
				out.stdErr = x.StdErr
			} else {
				out.tested = false
			}
			return out, nil
		},
		test: func([]int) (joint, error) { return joint{}, errNoTest },
	}
}

// imputedTables are what was filled in, and how the answers were put
// together.
func (w *work) imputedTables(f *filled, p *pooledFit, es []estimate) {
	t := tableOf("imputed", text("column"), text("kind"), count("missing"), number("share", ""))
	out := document.Table{ID: w.ask.ID + "-imputed", Caption: fmt.Sprintf("Values filled in, %d times", len(f.tables)), Columns: []document.TableColumn{
		{Head: "Column", Wide: true}, {Head: "Missing", Align: document.Right}, {Head: "Share", Align: document.Right}},
		Notes: []string{"Numbers are filled in with values that occur, categories by their chances, given all the other columns and the outcome; each table differs, and how much is part of the intervals."}}
	for k, n := range f.columns {
		share := float64(f.missing[k]) / float64(len(f.rows))
		t.row(n, f.kinds[k], f.missing[k], share)
		out.Rows = append(out.Rows, []string{words.Capital(w.columnLabel(n)), w.cell(f.missing[k]), w.share(f.missing[k], len(f.rows))})
	}
	w.addTable(t)
	pool := tableOf("pooling", text("term"), text("category"), number("within", ""), number("between", ""), number("increase", ""), number("share", ""),
		number("missing_information", ""), number("df", ""), number("monte_carlo_error", ""))
	for j, e := range es {
		x := p.pooled[j]
		term := e.column.Term
		if e.intercept {
			term = "intercept"
		}
		pool.row(term, orNil(e.column.Category), x.Within, x.Between, x.Increase, x.Share, x.Information, x.DF, x.MonteCarlo)
	}
	w.addTable(pool)
	w.print(out)
}

// imputedCautions raises what filling in leaves in doubt. whole holds the
// estimates of the rows with every value; nil where these have none.
func (w *work) imputedCautions(f *filled, p *pooledFit, es, whole []estimate, repeats bool) {
	one, many := w.nouns()
	gone := len(f.rows) - len(f.whole)
	lost := w.of(gone, len(f.rows), one, many)
	if w.hiddenCount(gone) {
		lost = w.n(gone, one, many)
	}
	w.caution("imputed", "In %s a value was missing and was filled in (%d times, and the answers put together). That takes for granted that what is missing depends on nothing but what is recorded here. Nothing in the data can show whether it is so: think of why values are missing, and read the answer beside that of the rows with every value.",
		lost, len(f.tables))
	for k, n := range f.columns {
		if float64(f.missing[k]) > muchMissing*float64(len(f.rows)) {
			w.caution("much-missing", "%s is missing in more than %s of the rows: what is said of it rests on the model that filled it in.", words.Capital(w.columnLabel(n)), words.Percent(muchMissing, 50))
		}
	}
	if repeats {
		w.caution("imputed-alone", "Several rows of one person are filled in as if they were of different persons.")
	}
	most := 0.0
	for _, x := range p.pooled {
		most = math.Max(most, x.Share)
	}
	if need := int(math.Ceil(100 * most)); need > len(f.tables) {
		w.caution("few-imputations", "%d tables are few where what is missing makes up %s of the variance of an estimate: another seed would give other last digits. Set imputations to %d or more.",
			len(f.tables), words.Percent(most, 50), need)
	}
	if whole == nil {
		return
	}
	for j, e := range es {
		if e.intercept || whole[j].noInterval || e.noInterval {
			continue
		}
		if math.Abs(e.value-whole[j].value) > useErr(whole[j]) {
			w.caution("imputed-differs", "With values filled in, the estimate for %s lies more than a standard error from that of the rows with every value. Find out why before either is believed.", columnName(e.column))
		}
	}
}

// useErr is the error that the interval of an estimate is made from.
func useErr(e estimate) float64 {
	if !math.IsNaN(e.robust) {
		return e.robust
	}
	return e.stdErr
}
