package answer

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"plybook/analysis/cohort"
	"plybook/analysis/quality"
	"plybook/analysis/stats"
	"plybook/analysis/table"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// funnelJob is a comparison of units in the making.
type funnelJob struct {
	*chartJob
	unit   *table.Column
	strata []*table.Column
	rows   []int           // of the table: those counted or counted among
	chance map[int]float64 // by row: expected of it
	names  []string        // the units, in the order of the alphabet
	units  []*unitCount    // in that order
	how    string          // the expected numbers came about
	auc    float64         // of the model; NaN without one

	f       *quality.Funnel
	withold []bool // by unit: not shown
}

// unitCount is what a unit comes to.
type unitCount struct {
	name     string
	rows     []int
	observed int
	exposure float64
	expected float64 // where there is an exposure
}

// funnel answers whether units differ more than chance would make them.
func funnel(w *work) error {
	j := &funnelJob{chartJob: &chartJob{work: w, stated: true}, auc: math.NaN()}
	if err := j.counted(); err != nil {
		return err
	}
	if err := j.expect(); err != nil {
		return err
	}
	if err := j.compareUnits(); err != nil {
		return err
	}
	j.hideUnits()
	if err := j.anyShown(); err != nil {
		return err
	}
	j.funnelCautions()
	j.funnelTables()
	j.funnelFigure()
	j.funnelRead()
	j.attendUnits()
	return nil
}

// counted finds the rows, the units and what the rows are stratified by.
func (j *funnelJob) counted() error {
	w := j.work
	var err error
	if j.unit, err = w.column("by", w.ask.By); err != nil {
		return err
	}
	if j.unit.Kind != table.Text {
		return w.at("by", w.ask.By, notebook.CodeImpossible, "%s is %s; units are a column of names or codes", w.ask.By, map[table.Kind]string{table.Number: "a number", table.Date: "a date"}[j.unit.Kind])
	}
	if identifiers[w.ask.By] {
		return w.at("by", w.ask.By, notebook.CodeImpossible, "%s is a single %s, and a funnel compares units of many rows", w.ask.By, w.ask.By)
	}
	for _, n := range w.ask.Strata {
		c, err := w.column("strata", n)
		if err != nil {
			return err
		}
		if c.Kind != table.Text {
			return w.at("strata", n, notebook.CodeImpossible, "strata are columns of words, but %s is %s; use adjust", n, map[table.Kind]string{table.Number: "a number", table.Date: "a date"}[c.Kind])
		}
		if err := j.knownEarly("strata", c); err != nil {
			return err
		}
		j.strata = append(j.strata, c)
	}
	n := w.ask.Numerator
	j.hit = make([]bool, w.table.Rows())
	for i := range j.hit {
		j.hit[i] = true
	}
	if !n.All {
		if j.hit, err = w.matches("numerator", n.Condition, w.table); err != nil {
			return err
		}
	}
	among := make([]bool, w.table.Rows())
	for i := range among {
		among[i] = w.ask.Exposure == "" || j.hit[i]
	}
	if d := w.ask.Denominator; d != nil && !d.All && w.ask.Exposure == "" {
		if among, err = w.matches("denominator", d.Condition, w.table); err != nil {
			return err
		}
	}
	any := among
	if w.ask.Exposure != "" {
		any = slices.Repeat([]bool{true}, w.table.Rows())
	}
	if err := w.dropUnknown(any, j.hit, w.ask.Exposure == ""); err != nil {
		return err
	}
	missing := 0
	for _, i := range w.rows {
		if !among[i] {
			continue
		}
		if j.unit.Missing[i] || j.stratumMissing(i) {
			missing++
			continue
		}
		j.rows = append(j.rows, i)
	}
	if missing > 0 {
		one, many := w.nouns()
		w.caution("missing", "%s left out because %s is not recorded.", words.Capital(w.n(missing, one+" was", many+" were")), words.List(append([]string{label(j.unit)}, labels(j.strata)...)))
	}
	w.steps = append(w.steps, cohort.Step{Step: "counted, of a known unit", Rows: len(j.rows), Excluded: len(w.rows) - len(j.rows), Reason: "not counted among, or not recorded: " + label(j.unit)})
	if len(j.rows) == 0 {
		return stats.ErrNoRows
	}
	return nil
}

func labels(cs []*table.Column) []string {
	var out []string
	for _, c := range cs {
		out = append(out, label(c))
	}
	return out
}

func (j *funnelJob) stratumMissing(i int) bool {
	for _, c := range j.strata {
		if c.Missing[i] {
			return true
		}
	}
	return false
}

// stratumOf is the stratum of a row, of the table that the columns are of.
func stratumOf(cs []*table.Column, i int) string {
	parts := make([]string, len(cs))
	for k, c := range cs {
		parts[k] = c.Text[i]
	}
	return strings.Join(parts, "\x00")
}

// expect works out what is expected of each unit.
func (j *funnelJob) expect() error {
	w := j.work
	if w.ask.Exposure != "" {
		return j.expectRates()
	}
	switch {
	case len(w.ask.Adjust) > 0:
		if err := j.expectModel(); err != nil {
			return err
		}
	default:
		j.expectStrata()
	}
	by := map[string]*unitCount{}
	for _, i := range j.rows {
		u := by[j.unit.Text[i]]
		if u == nil {
			u = &unitCount{name: j.unit.Text[i]}
			by[u.name] = u
			j.names = append(j.names, u.name)
		}
		u.rows = append(u.rows, i)
		if j.hit[i] {
			u.observed++
		}
	}
	j.sortUnits(by)
	w.Answer.Rows, w.HasEvents, w.Events = len(j.rows), true, 0
	for _, u := range j.units {
		w.Events += u.observed
	}
	one, many := w.nouns()
	if w.Events == 0 || w.Events == len(j.rows) {
		return &notebook.Error{Pos: w.ask.Pos, Code: "no-events", Text: fmt.Sprintf("of %s none, or all, count, so that no unit can differ from another", w.n(len(j.rows), one, many))}
	}
	if w.smallCount(w.Events) || w.smallCount(len(j.rows)-w.Events) {
		return w.tooFew(1)
	}
	return nil
}

func (j *funnelJob) sortUnits(by map[string]*unitCount) {
	sortGroups(j.names)
	for _, n := range j.names {
		j.units = append(j.units, by[n])
	}
}

// expectStrata expects of each row the share of its stratum over all units;
// without strata, of all rows.
func (j *funnelJob) expectStrata() {
	hits, all := map[string]int{}, map[string]int{}
	for _, i := range j.rows {
		s := stratumOf(j.strata, i)
		all[s]++
		if j.hit[i] {
			hits[s]++
		}
	}
	j.chance = map[int]float64{}
	small := 0
	for _, i := range j.rows {
		s := stratumOf(j.strata, i)
		j.chance[i] = float64(hits[s]) / float64(all[s])
	}
	for _, n := range all {
		if n < 20 {
			small++
		}
	}
	if small > 0 && len(j.strata) > 0 {
		j.caution("small-strata", "%s of %d strata have fewer than 20 rows: what is expected there is little more than what the unit itself did.", words.Capital(words.Fixed(float64(small), 0)), len(all))
	}
	j.how = "the overall share"
	if len(j.strata) > 0 {
		j.how = "the share of each stratum over all units, by " + words.List(labels(j.strata))
	}
}

// expectModel expects of each row the chance that a logistic model of its
// columns gives it.
func (j *funnelJob) expectModel() error {
	m, err := j.modelChances(j.rows, len(j.rows), j.hit)
	if err != nil {
		return err
	}
	j.rows, j.chance, j.auc, j.how = m.rows, m.chance, m.auc, m.how
	return nil
}
