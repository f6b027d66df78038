package answer

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"

	"plybook/analysis/stats"
	"plybook/reports/figure"
	"plybook/reports/words"
)

// mostCaterpillars is how many random effects are drawn limb by limb; the
// table has them all.
const mostCaterpillars = 3

// caterpillars draw what is believed of each limb, a figure for each random
// effect that is not none. Reports that hide small counts have none.
func (j *mixedJob) caterpillars() []*figure.Figure {
	if j.ctx.Front.HideBelow > 1 {
		return nil
	}
	var out []*figure.Figure
	for k, name := range j.fit.RandomNames {
		if j.none(k) || len(out) == mostCaterpillars {
			continue
		}
		out = append(out, j.caterpillar(k, name))
	}
	return out
}

// none says whether random effect k came out as no more than rounding: what
// it adds to a row has less than a ten-thousandth of the scatter of one limb.
func (j *mixedJob) none(k int) bool {
	size := 1.0
	if name := j.fit.RandomNames[k]; name != "intercept" {
		for c, n := range j.data.ZNames {
			if n == name {
				size = floats.Norm(j.data.Z[c], 2) / math.Sqrt(float64(len(j.data.Y)))
			}
		}
	}
	return math.Sqrt(j.fit.RandomCov[k][k])*size <= 1e-4*j.fit.Sigma
}

func (j *mixedJob) caterpillar(k int, name string) *figure.Figure {
	spec := figure.CaterpillarSpec{ID: j.ask.ID + "-limbs", Each: j.group, Unit: j.y.Unit, Confidence: j.ask.Confidence}
	if k > 0 {
		spec.ID = fmt.Sprintf("%s-%d", spec.ID, k+1)
	}
	spec.Title, spec.Measure = j.effectWords(name)
	z := stats.NormalQuantile(1 - (1-j.ask.Confidence)/2)
	for _, e := range j.fit.Effects {
		r := figure.CaterpillarRow{Estimate: e.Mode[k], Low: e.Mode[k] - z*e.SEAll[k], High: e.Mode[k] + z*e.SEAll[k]}
		if j.ctx.Names.Show {
			r.Name = j.names[e.Group]
		}
		spec.Rows = append(spec.Rows, r)
	}
	return figure.Caterpillar(spec)
}

// effectWords are the title of the figure of a random effect and what its
// axis shows.
func (j *mixedJob) effectWords(name string) (title, measure string) {
	y := label(j.y)
	if name != "intercept" {
		per := j.columnLabel(name)
		if c, ok := j.table.Col(name); ok && c.Unit != "" {
			per += " in " + c.Unit
		}
		return fmt.Sprintf("%ss by their own change of %s", words.Capital(j.group), y),
			fmt.Sprintf("Difference in the change of %s per unit of %s from the average %s", y, per, j.group)
	}
	measure = fmt.Sprintf("Difference in %s from the average %s", y, j.group)
	if len(j.ask.Slopes) > 0 {
		var at []string
		for _, s := range j.ask.Slopes {
			at = append(at, j.columnLabel(s))
		}
		measure += " where " + words.List(at) + plural(len(at), " is 0", " are 0")
	}
	return fmt.Sprintf("%ss by their own level of %s", words.Capital(j.group), y), measure
}
