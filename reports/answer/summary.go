package answer

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"plybook/analysis/describe"
	"plybook/analysis/stats"
	"plybook/analysis/table"
	"plybook/reports/document"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// summary answers who or what is in the cohort.
func summary(w *work) error {
	for _, n := range w.ask.Columns {
		if _, err := w.column("columns", n); err != nil {
			return err
		}
	}
	if w.ask.By != "" {
		if _, err := w.column("by", w.ask.By); err != nil {
			return err
		}
	}
	if len(w.rows) == 0 {
		return stats.ErrNoRows
	}
	w.Answer.Rows = len(w.rows)
	b, err := describe.New(w.table.Pick(w.rows), w.ask.Columns, describe.Options{By: w.ask.By})
	if err != nil {
		if errors.Is(err, describe.ErrGroups) {
			return w.at("by", w.ask.By, notebook.CodeImpossible, "%s has more than %d values, too many for columns of a table", w.ask.By, describe.MaxGroups)
		}
		return err
	}
	w.warnings(b.Warnings)
	w.summaryTable(b)
	w.print(w.summaryPrint(b))
	w.summaryWords(b)
	return nil
}

func (w *work) summaryTable(b *describe.Baseline) {
	t := tableOf("rows", text("column"), text("category"), text("unit"), text("group"), count("rows"), count("count"), number("percent", "%"), count("missing"),
		number("mean", ""), number("std_dev", ""), number("median", ""), number("lower_quartile", ""), number("upper_quartile", ""),
		number("minimum", ""), number("maximum", ""), number("standardised_difference", ""))
	for _, v := range b.Variables {
		diff := any(nil)
		if v.Difference != nil {
			diff = finite(v.Difference.Value)
		}
		for k := -1; k < len(b.Groups); k++ {
			s, name, rows := v.Overall, "all", b.Rows
			if k >= 0 {
				s, name, rows = v.Groups[k], b.Groups[k].Name, b.Groups[k].Rows
			}
			if v.Kind == table.Text {
				for _, l := range s.Levels {
					t.row(v.Column, l.Value, orNil(v.Unit), name, rows, l.Count, l.Percent, s.Missing, nil, nil, nil, nil, nil, nil, nil, diff)
				}
				continue
			}
			ends := w.ctx.Front.HideBelow <= 1 // the least and the greatest are one person's
			t.row(v.Column, nil, orNil(v.Unit), name, rows, s.N, nil, s.Missing, when(s.HasValues, s.Mean), when(s.HasSD, s.SD),
				when(s.HasValues, s.Median), when(s.HasValues, s.Q1), when(s.HasValues, s.Q3), when(s.HasValues && ends, s.Min), when(s.HasValues && ends, s.Max), diff)
		}
	}
	w.addTable(t)
}

func (w *work) summaryPrint(b *describe.Baseline) document.Block {
	_, many := w.nouns()
	t := document.Table{ID: w.ask.ID + "-summary", Caption: words.Capital(many) + " described", Columns: []document.TableColumn{{Head: "", Wide: true}}}
	head := func(name string, n int) string { return name + " (n = " + w.cell(n) + ")" }
	t.Columns = append(t.Columns, document.TableColumn{Head: head("All", b.Rows), Align: document.Right})
	for _, g := range b.Groups {
		t.Columns = append(t.Columns, document.TableColumn{Head: head(words.Capital(g.Name), g.Rows), Align: document.Right})
	}
	if len(b.Groups) > 1 {
		t.Columns = append(t.Columns, document.TableColumn{Head: "Std. difference", Align: document.Right})
	}
	for _, v := range b.Variables {
		name := w.variable(v)
		diff := ""
		if v.Difference != nil {
			diff = words.Fixed(v.Difference.Value, 2)
		}
		all := append([]describe.Summary{v.Overall}, v.Groups...)
		missing := false
		for _, s := range all {
			missing = missing || s.Missing > 0
		}
		if v.Kind == table.Text {
			t.Strong = append(t.Strong, len(t.Rows))
			t.Rows = append(t.Rows, w.summaryRow(words.Capital(name), diff, len(b.Groups), all, func(describe.Summary) string { return "" }))
			for k, l := range v.Overall.Levels {
				t.Rows = append(t.Rows, w.summaryRow("  "+l.Value, "", len(b.Groups), all, func(s describe.Summary) string {
					x := s.Levels[k]
					if share := w.share(x.Count, s.N); share != "hidden" {
						return w.cell(x.Count) + " (" + share + ")"
					}
					return w.cell(x.Count)
				}))
			}
		} else {
			unit := ""
			if v.Unit != "" {
				unit = ", " + v.Unit
			}
			d := quartileDecimals(all)
			if v.Unit != "" && strings.Contains(strings.ToLower(name), strings.ToLower(v.Unit)) {
				unit = "" // "months since amputation" says it
			}
			t.Rows = append(t.Rows, w.summaryRow(words.Capital(name)+unit+": median (quartiles)", diff, len(b.Groups), all, func(s describe.Summary) string {
				switch {
				case !s.HasValues:
					return "no value"
				case v.Kind == table.Date:
					return words.ISODate(s.Median)
				}
				return words.Fixed(s.Median, d) + " (" + words.Fixed(s.Q1, d) + " to " + words.Fixed(s.Q3, d) + ")"
			}))
		}
		if missing {
			t.Rows = append(t.Rows, w.summaryRow("  not recorded", "", len(b.Groups), all, func(s describe.Summary) string { return w.cell(s.Missing) }))
		}
	}
	t.Notes = []string{"Shares are of the rows with a value."}
	if b := w.ctx.Front.HideBelow; b > 1 {
		t.Notes[0] += fmt.Sprintf(" Counts from 1 to %d, and shares that would tell them, are not given.", b-1)
	}
	if len(b.Groups) > 1 {
		t.Notes = append(t.Notes, "Standardised difference: the difference between groups in units of their standard deviation; the largest between any two groups. Values above 0.1 are often taken as worth a look.")
	}
	return t
}

// quartileDecimals are the decimals that the quartiles of all groups are
// printed with: those that the spread carries, none where all are whole.
func quartileDecimals(all []describe.Summary) int {
	d, whole := 0, true
	for _, s := range all {
		if !s.HasValues {
			continue
		}
		d = max(d, words.DecimalsFor(s.Q3-s.Q1, 2))
		for _, x := range []float64{s.Median, s.Q1, s.Q3} {
			whole = whole && x == math.Trunc(x)
		}
	}
	if whole {
		return 0
	}
	return d
}

func (w *work) summaryRow(name, diff string, groups int, all []describe.Summary, cell func(describe.Summary) string) []string {
	row := []string{name}
	for _, s := range all {
		row = append(row, cell(s))
	}
	if groups > 1 {
		row = append(row, diff)
	}
	return row
}

// variable is what a column described is called in print.
func (w *work) variable(v describe.Variable) string { return w.columnLabel(v.Column) }

// columnLabel is the label of a column of the rows-table.
func (w *work) columnLabel(name string) string {
	if c, err := w.table.Lookup(name); err == nil {
		return label(c)
	}
	return plainName(name)
}

func (w *work) summaryWords(b *describe.Baseline) {
	one, many := w.nouns()
	w.Reading = fmt.Sprintf("%s described", words.Capital(w.n(b.Rows, one+" is", many+" are")))
	if len(b.Groups) > 1 {
		w.Reading += fmt.Sprintf(" in %d groups by %s", len(b.Groups), w.columnLabel(b.By))
	}
	w.Reading += "."
	if len(b.Groups) > 1 {
		var apart []string
		for _, v := range b.Variables {
			if v.Difference != nil && v.Difference.Value > 0.1 {
				apart = append(apart, w.variable(v)+" ("+words.Fixed(v.Difference.Value, 2)+")")
			}
		}
		if len(apart) == 0 {
			w.Reading += " The groups are alike in all of it (no standardised difference above 0.1)."
		} else {
			w.Reading += " The groups differ most in " + words.List(apart) + " (standardised differences)."
		}
	}
	most, name := 0, ""
	for _, v := range b.Variables {
		if v.Overall.Missing > most {
			most, name = v.Overall.Missing, w.variable(v)
		}
	}
	if 10*most > b.Rows {
		w.caution("missing", "%s is not recorded for %s of %s.", words.Capital(name), w.cell(most), w.n(b.Rows, one, many))
	}
	w.Methods = "Numbers are given as median and quartiles (linear interpolation between order statistics), categories as counts and shares of the rows with a value."
	w.References = append(w.References, "Hyndman RJ, Fan Y. Sample quantiles in statistical packages. Am Stat 1996; 50: 361-365.")
	if len(b.Groups) > 1 {
		w.Methods += " Groups are compared by absolute standardised differences."
		w.References = append(w.References, "Austin PC. Balance diagnostics for comparing the distribution of baseline covariates between treatment groups in propensity-score matched samples. Stat Med 2009; 28: 3083-3107.",
			"Yang D, Dalton JE. A unified approach to measuring the effect size between two groups. SAS Global Forum 2012; paper 335.")
	}
}
