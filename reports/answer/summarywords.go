package answer

import (
	"fmt"
	"sort"
	"strings"

	"plybook/analysis/describe"
	"plybook/analysis/table"
	"plybook/reports/words"
)

// variable is what a column described is called in print.
func (w *work) variable(v describe.Variable) string { return w.columnLabel(v.Column) }

// columnLabel is the label of a column of the rows-table.
func (w *work) columnLabel(name string) string {
	if c, err := w.table.Lookup(name); err == nil {
		return label(c)
	}
	if w.ask.Landmark != nil || len(w.ask.Varying) > 0 { // the column may be one of the visits
		if t, err := w.ctx.Cohort.Rows("visits"); err == nil {
			if c, err := t.Lookup(name); err == nil {
				return label(c)
			}
		}
	}
	return plainName(name)
}

// firstVariable says the first column asked for in a sentence, unless that
// would tell a count that stands for few.
func (w *work) firstVariable(v describe.Variable) string {
	s, name := v.Overall, w.variable(v)
	if s.N == 0 || w.hiddenCount(s.N) || w.hiddenCount(s.Missing) {
		return ""
	}
	if v.Kind == table.Text {
		said, k := "", -1
		for _, l := range s.Levels {
			if l.Value == "yes" || k < 0 {
				said, k = l.Value, l.Count
			}
		}
		if w.hiddenCount(k) || w.hiddenCount(s.N-k) {
			return ""
		}
		return fmt.Sprintf(" %s: %s in %s of %s (%s).", words.Capital(name), said, w.cell(k), w.cell(s.N), w.share(k, s.N))
	}
	if v.Kind == table.Date {
		return ""
	}
	return fmt.Sprintf(" %s: half between %s and %s%s, median %s.", words.Capital(name), words.Plain(s.Q1), words.Plain(s.Q3), unitWords(v.Unit), words.Plain(s.Median))
}

func (w *work) summaryWords(b *describe.Baseline) {
	one, many := w.nouns()
	w.Reading = fmt.Sprintf("%s described", words.Capital(w.n(b.Rows, one+" is", many+" are")))
	if len(b.Groups) > 1 {
		w.Reading += fmt.Sprintf(" in %d groups by %s", len(b.Groups), w.columnLabel(b.By))
	}
	w.Reading += "."
	if len(b.Variables) > 0 {
		w.Reading += w.firstVariable(b.Variables[0])
	}
	if len(b.Groups) > 1 {
		w.Reading += " " + w.differenceWords(b)
	}
	most, name := 0, ""
	for _, v := range b.Variables {
		if v.Overall.Missing > most {
			most, name = v.Overall.Missing, w.variable(v)
		}
	}
	if 10*most > b.Rows {
		w.caution("missing", "%s is not recorded for %s.", words.Capital(name), w.of(most, b.Rows, one, many))
	}
	w.Methods = "Numbers are given as median and quartiles (linear interpolation between order statistics), categories as counts and shares of the rows with a value."
	w.References = append(w.References, "Hyndman RJ, Fan Y. Sample quantiles in statistical packages. Am Stat 1996; 50: 361-365.")
	if len(b.Groups) > 1 {
		w.Methods += " Groups are compared by absolute standardised differences."
		w.References = append(w.References, "Austin PC. Balance diagnostics for comparing the distribution of baseline covariates between treatment groups in propensity-score matched samples. Stat Med 2009; 28: 3083-3107.",
			"Yang D, Dalton JE. A unified approach to measuring the effect size between two groups. SAS Global Forum 2012; paper 335.")
	}
}

// differenceWords says in what the groups differ, and in what that could not
// be told.
func (w *work) differenceWords(b *describe.Baseline) string {
	var apart []describe.Variable
	var untold, hidden []string
	alike := false
	for _, v := range b.Variables {
		switch {
		case v.Column == b.By:
		case v.Difference != nil && w.differenceHidden(v):
			hidden = append(hidden, w.variable(v))
		case v.Difference == nil || len(v.Differences) < len(b.Groups)*(len(b.Groups)-1)/2:
			untold = append(untold, w.variable(v))
		case v.Difference.Value > 0.1:
			apart = append(apart, v)
		default:
			alike = true
		}
	}
	sort.SliceStable(apart, func(a, b int) bool { return apart[a].Difference.Value > apart[b].Difference.Value })
	var s []string
	if len(apart) > 0 {
		var names []string
		for k, v := range apart {
			if k == 5 {
				break
			}
			names = append(names, w.variable(v)+" ("+words.Fixed(v.Difference.Value, 2)+")")
		}
		s = append(s, "By standardised difference the groups differ most in "+words.List(names)+".")
	} else if alike && len(untold)+len(hidden) == 0 {
		s = append(s, "The groups are alike in all of it (no standardised difference above 0.1).")
	} else if alike {
		s = append(s, "In what can be compared the groups are alike (no standardised difference above 0.1).")
	}
	if len(untold) > 0 {
		s = append(s, fmt.Sprintf("For %s no standardised difference can be given: some groups have too few values, or no value in common.", words.List(untold)))
	}
	if len(hidden) > 0 {
		s = append(s, fmt.Sprintf("The standardised difference of %s is not shown: it would tell counts that are hidden.", words.List(hidden)))
	}
	return strings.Join(s, " ")
}
