package answer

import (
	"fmt"
	"math"
	"strings"

	"gonum.org/v1/gonum/floats"

	"plybook/analysis/mixed"
	"plybook/analysis/stats"
	"plybook/reports/figure"
	"plybook/reports/words"
)

// mostCaterpillars is how many random effects are drawn limb by limb; the
// table has them all.
const mostCaterpillars = 4

// caterpillars draw what is believed of each limb, a figure for each random
// effect that is not none, and of each group of another grouping. Reports that
// hide small counts have none, and those that name no staff none of staff.
func (j *mixedJob) caterpillars() []*figure.Figure {
	if j.ctx.Front.HideBelow > 1 {
		return nil
	}
	var out []*figure.Figure
	for g, l := range j.fit.Layers {
		column := j.groupings[g].column
		if staffColumns[column] && j.groupings[g].hidden {
			continue
		}
		for k, name := range l.RandomNames {
			if j.none(l, k) || len(out) == mostCaterpillars {
				continue
			}
			out = append(out, j.caterpillar(g, l, k, name))
		}
	}
	return out
}

// none says whether random effect k of a grouping came out as no more than
// rounding: what it adds to a row has less than a ten-thousandth of the
// scatter of one limb.
func (j *mixedJob) none(l mixed.Layer, k int) bool {
	size := 1.0
	if name := l.RandomNames[k]; name != "intercept" {
		z, _ := j.slopes([]string{name})
		size = floats.Norm(z[0], 2) / math.Sqrt(float64(len(j.data.Y)))
	}
	return math.Sqrt(l.Cov[k][k])*size <= 1e-4*j.fit.Sigma
}

func (j *mixedJob) caterpillar(g int, l mixed.Layer, k int, name string) *figure.Figure {
	spec := figure.CaterpillarSpec{ID: j.ask.ID + "-" + strings.ReplaceAll(plainName(j.groupings[g].column), " ", "-") + "s", Each: l.Name, Unit: j.y.Unit, Confidence: j.ask.Confidence}
	if k > 0 {
		spec.ID = fmt.Sprintf("%s-%d", spec.ID, k+1)
	}
	slopes := j.ask.Slopes
	switch {
	case g == 1 && j.data.Above != nil:
		slopes = j.ask.NestedSlopes
	case g > 0:
		slopes = nil
	}
	spec.Title, spec.Measure = j.effectWords(l.Name, name, slopes)
	z := stats.NormalQuantile(1 - (1-j.ask.Confidence)/2)
	for _, e := range l.Effects {
		r := figure.CaterpillarRow{Estimate: e.Mode[k], Low: e.Mode[k] - z*e.SEAll[k], High: e.Mode[k] + z*e.SEAll[k]}
		if !j.groupings[g].hidden {
			r.Name = j.groupings[g].names[e.Group]
		}
		spec.Rows = append(spec.Rows, r)
	}
	return figure.Caterpillar(spec)
}

// effectWords are the title of the figure of a random effect and what its
// axis shows.
func (j *mixedJob) effectWords(one, name string, slopes []string) (title, measure string) {
	y := label(j.y)
	if name != "intercept" {
		per := j.columnLabel(name)
		if c, ok := j.table.Col(name); ok && c.Unit != "" {
			per += " in " + c.Unit
		}
		return fmt.Sprintf("%ss by their own change of %s", words.Capital(one), y),
			fmt.Sprintf("Difference in the change of %s per unit of %s from the average %s", y, per, one)
	}
	measure = fmt.Sprintf("Difference in %s from the average %s", y, one)
	if len(slopes) > 0 {
		var at []string
		for _, s := range slopes {
			at = append(at, j.columnLabel(s))
		}
		measure += " where " + words.List(at) + plural(len(at), " is 0", " are 0")
	}
	return fmt.Sprintf("%ss by their own level of %s", words.Capital(one), y), measure
}
