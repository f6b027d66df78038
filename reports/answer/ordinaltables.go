package answer

import (
	"fmt"
	"math"
	"slices"

	"plybook/analysis/regress"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// cutName says a cut: "above 6".
func (f *levelFit) cutName(k int) string {
	if k < 0 {
		return ""
	}
	return "above " + f.levels[k]
}

// levelEstimates are the coefficients in the order of the terms, without the
// thresholds.
func (f *levelFit) estimates() (es []estimate, cuts []int) {
	for j := range f.design.Columns {
		for _, c := range f.Coef {
			if c.Column != j {
				continue
			}
			e := estimate{column: f.design.Columns[j], value: c.Estimate, stdErr: c.ModelSE, robust: math.NaN(), df: math.NaN(), low: c.Low, high: c.High, stat: c.T, p: c.P, ratio: true}
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
			es, cuts = append(es, e), append(cuts, c.Cut)
		}
	}
	return es, cuts
}

func (w *work) levelTables(f *levelFit) {
	clustered := f.Used != regress.ModelBased
	columns := termColumns(clustered)
	t := tableOf("terms", slices.Insert(slices.Clone(columns), 3, text("cut"))...)
	es, cuts := f.estimates()
	for i, e := range es {
		t.row(slices.Insert(termRow(e, clustered), 3, orNil(f.cutName(cuts[i])))...)
	}
	w.addTable(t)
	t = tableOf("thresholds", text("cut"), number("estimate", ""), number("std_error", ""), number("low", ""), number("high", ""))
	for _, c := range f.Coef[:f.data.Levels-1] {
		t.row(f.cutName(c.Cut), c.Estimate, when(c.Tested, c.SE), when(c.Tested, c.Low), when(c.Tested, c.High))
	}
	w.addTable(t)
	t = tableOf("fit", count("rows"), integer("levels"), count("clusters"), number("log_likelihood", ""), number("log_likelihood_null", ""), number("aic", ""), number("likelihood_ratio", ""), integer("likelihood_ratio_df"), number("likelihood_ratio_p", ""), text("errors"))
	clusters := any(nil)
	if f.data.Cluster != nil {
		clusters = f.Clusters
	}
	t.row(int(f.Total), f.data.Levels, clusters, f.LogLik, f.LogLikNull, f.AIC, f.LikelihoodRatio.Statistic, int(f.LikelihoodRatio.DF), f.LikelihoodRatio.P, f.Used.String())
	w.addTable(t)
	t = tableOf("levels", text("level"), count("rows"), number("estimate", ""))
	grid := make([]int, f.data.Levels)
	for k, n := range f.Count {
		grid[k] = int(n)
	}
	for k, n := range f.Count {
		open := !w.hiddenCount(int(n))
		t.row(f.levels[k], int(n), when(open && !w.anyHidden(grid), n/f.Total))
	}
	w.addTable(t)
	t = tableOf("equal_ratios", text("term"), text("test"), number("statistic", ""), number("df", ""), number("df_residual", ""), number("p", ""))
	for _, x := range f.tests {
		name := "global"
		if x.Term >= 0 {
			name = f.design.TermNames[x.Term]
		}
		t.row(name, orNil(x.Name), when(x.Tested, x.Statistic), when(x.Tested, x.DF1), when(x.Tested && x.DF2 > 0, x.DF2), when(x.Tested, x.P))
	}
	w.addTable(t)
}

// anyHidden says whether any of some counts may not be told: shares of all
// would then tell it.
func (w *work) anyHidden(counts []int) bool { return slices.ContainsFunc(counts, w.hiddenCount) }

func (w *work) levelCautions(f *levelFit) {
	one, many := w.nouns()
	sum := 0.0
	for _, n := range f.Count {
		sum += n * n * n
	}
	effective := f.Total - sum/(f.Total*f.Total)
	if n := len(f.design.X); effective < 10*float64(n) {
		w.caution("few-rows", "%s over %s tell as much as %s of yes or no do: fewer than 10 for each of %s, so the estimates are shaky.",
			words.Capital(w.n(int(f.Total), one, many)), words.N(f.data.Levels, "level", "levels"), words.Fixed(math.Floor(effective), 0), words.N(n, "term", "terms"))
	}
	var uneven []string
	for _, x := range f.tests {
		if x.Term < 0 || !x.Tested || x.P >= 0.05 {
			continue
		}
		name := f.design.TermNames[x.Term]
		if !slices.Contains(w.ask.Unequal, name) {
			uneven = append(uneven, fmt.Sprintf("%s (%s)", w.termName(name), words.PEquals(x.P)))
		}
	}
	if len(uneven) > 0 {
		w.caution("unequal", "The odds ratio of %s seems to differ from level to level, so that the one ratio is an average over them. Named in `unequal`, it is given for each cut.", words.List(uneven))
	}
	untested := 0
	for _, x := range f.tests {
		if !x.Tested {
			untested++
		}
	}
	if untested > 0 {
		w.caution("unequal-not-tested", "Whether the ratios are the same at every level could not be tested for %s: too few rows in some level.", words.N(untested, "term", "terms"))
	}
}

// levelPredicted adds the table of what is expected for the profiles.
func (w *work) levelPredicted(f *levelFit) error {
	t := tableOf("predicted_levels", text("profile"), text("level"), number("estimate", ""), number("std_error", ""), number("low", ""), number("high", ""), number("at_or_above", ""))
	m := tableOf("predicted", text("profile"), number("time", "days"), number("estimate", ""), number("std_error", ""), number("low", ""), number("high", ""))
	for _, p := range w.ask.Profiles {
		x, err := w.profileRow(p, f.design)
		if err != nil {
			return err
		}
		s, err := f.Predict(x, f.values)
		if err != nil {
			return &notebook.Error{Pos: p.Pos, Code: "profile", Text: "what is expected for " + profileName(p) + " could not be worked out: " + err.Error()}
		}
		f.levelRows(t, profileName(p), s)
		if f.numbers {
			m.row(profileName(p), nil, s.Mean.Estimate, when(s.Mean.Tested, s.Mean.SE), when(s.Mean.Tested, s.Mean.Low), when(s.Mean.Tested, s.Mean.High))
		}
	}
	w.addTable(m)
	w.addTable(t)
	return nil
}

func (f *levelFit) levelRows(t *Table, name string, s *regress.LevelShares) {
	for k, a := range s.Levels {
		above := 1.0
		if k > 0 {
			above = s.Above[k-1].Estimate
		}
		t.row(name, f.levels[k], a.Estimate, when(a.Tested, a.SE), when(a.Tested, a.Low), when(a.Tested, a.High), above)
	}
}

// levelSide is one category of `by`, were all rows of it.
type levelSide struct {
	name string
	rows int
	*regress.LevelShares
}

// levelSides averages the levels over the rows for each category of `by`, and
// compares the means.
func (w *work) levelSides(f *levelFit) ([]levelSide, []regress.AverageContrast, error) {
	if !w.sharesWanted(&outcomeFit{design: f.design}) {
		return nil, nil, nil
	}
	s, err := w.standardRows(f.design)
	if err != nil {
		return nil, nil, err
	}
	var out []levelSide
	levels, means := tableOf("adjusted_levels", text("group"), text("level"), number("estimate", ""), number("std_error", ""), number("low", ""), number("high", ""), number("at_or_above", "")), adjustedTable()
	for g, name := range s.names {
		x, err := f.Standardise(s.groups[g], f.values)
		if err != nil {
			return nil, nil, err
		}
		out = append(out, levelSide{name, s.rows[g], x})
		f.levelRows(levels, name, x)
		if m := x.Mean; f.numbers {
			means.row(name, nil, m.Estimate, when(m.Tested, m.SE), when(m.Tested && m.DF > 0, m.DF), when(m.Tested, m.Low), when(m.Tested, m.High), nil)
		}
	}
	contrasts := make([]regress.AverageContrast, len(out))
	for g := range out[1:] {
		c, err := f.Compare(out[g+1].Mean, out[0].Mean)
		if err != nil {
			return nil, nil, err
		}
		contrasts[g+1] = c
		if d := c.Difference; f.numbers {
			means.row(out[g+1].name+" - "+out[0].name, nil, d.Estimate, when(d.Tested, d.SE), when(d.Tested && d.DF > 0, d.DF), when(d.Tested, d.Low), when(d.Tested, d.High), when(d.Tested, d.P))
		}
	}
	if f.numbers {
		w.addTable(means)
	}
	w.addTable(levels)
	return out, contrasts, nil
}
