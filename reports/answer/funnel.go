package answer

import (
	"errors"
	"fmt"
	"math"
	"sort"
	"strings"

	"plybook/analysis/cohort"
	"plybook/analysis/design"
	"plybook/analysis/quality"
	"plybook/analysis/regress"
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
	missing, taken := 0, 0
	for _, i := range w.rows {
		if !among[i] {
			continue
		}
		taken++
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

// knownEarly refuses what is known only after delivery as a reason to expect
// something of a socket.
func (j *funnelJob) knownEarly(key string, c *table.Column) error {
	if j.table.Name == "sockets" && c.Known == table.Later {
		return j.at(key, c.Name, "known-later", "%s is known only after delivery and cannot say what was to be expected of a socket", c.Name)
	}
	return nil
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
	if w.hiddenCount(w.Events) || w.hiddenCount(len(j.rows)-w.Events) {
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
	ask := *j.ask
	ask.By = ""
	sub := *j.work
	sub.ask, sub.rows = &ask, j.rows
	for _, n := range ask.Adjust {
		c, err := sub.column("adjust", n)
		if err != nil {
			return err
		}
		if err := j.knownEarly("adjust", c); err != nil {
			return err
		}
	}
	spec, err := sub.designSpec()
	if err != nil {
		return err
	}
	d, err := design.Build(j.table, j.rows, spec)
	if err != nil {
		return err
	}
	sub.missingCaution(d)
	j.work.Cautions = sub.Cautions
	if len(d.Rows) == 0 {
		return stats.ErrNoRows
	}
	j.rows = d.Rows
	data := regress.GLMData{X: d.X, Names: d.Names(), Terms: d.Term, TermNames: d.TermNames}
	for _, i := range d.Rows {
		y := 0.0
		if j.hit[i] {
			y = 1
		}
		data.Y = append(data.Y, y)
	}
	fit, err := regress.FitGLM(regress.Logistic, data, regress.GLMOptions{})
	var apart *regress.SeparationError
	if errors.As(err, &apart) {
		fit, err = regress.FitGLM(regress.Logistic, data, regress.GLMOptions{Firth: true})
		j.caution("separation", "The model of what is expected was penalised, since some category has the outcome always or never.")
	}
	if err != nil {
		return j.modelFault(err)
	}
	j.chance = map[int]float64{}
	p := make([]float64, len(d.Rows))
	for k, r := range fit.RowsOf() {
		p[k] = math.Min(math.Max(r.Fitted, 1e-9), 1-1e-9)
	}
	// Penalised chances do not add up to what was observed; scaled on the log
	// odds they do, as those of a plain model do by themselves.
	p = summingTo(p, sumOf(data.Y))
	for k, i := range d.Rows {
		j.chance[i] = p[k]
	}
	j.auc = concordance(p, data.Y)
	var names []string
	for _, n := range ask.Adjust {
		c, _ := j.table.Lookup(n)
		names = append(names, label(c))
	}
	j.how = "a logistic model of " + words.List(names)
	if per := math.Min(sumOf(data.Y), float64(len(data.Y))-sumOf(data.Y)) / math.Max(1, float64(len(d.X))); per < 10 {
		j.caution("few-events", "The model of what is expected has %.1f events a term, fewer than 10: it may follow chance.", per)
	}
	if j.auc < 0.55 {
		j.caution("weak-model", "The model of what is expected tells rows apart hardly better than chance (concordance %s): units are nearly compared as they are.", words.Fixed(j.auc, 2))
	}
	return nil
}

func (j *funnelJob) modelFault(err error) error {
	switch {
	case errors.Is(err, regress.ErrConstantResponse):
		return &notebook.Error{Pos: j.ask.Pos, Code: "no-events", Text: "none of the rows, or all of them, count, so that no unit can differ from another"}
	case errors.Is(err, stats.ErrSingular), errors.Is(err, regress.ErrTooFewRows):
		return j.at("adjust", "", "bad-term", "the columns of adjust repeat one another, never vary, or are too many for so few rows; use fewer")
	}
	return err
}

func sumOf(v []float64) float64 {
	s := 0.0
	for _, x := range v {
		s += x
	}
	return s
}

// summingTo moves chances on the scale of log odds until they sum to a total.
func summingTo(p []float64, total float64) []float64 {
	if math.Abs(sumOf(p)-total) <= 1e-9*total {
		return p
	}
	out := make([]float64, len(p))
	lo, hi := -30.0, 30.0
	for range 200 {
		mid := (lo + hi) / 2
		for i, x := range p {
			out[i] = 1 / (1 + math.Exp(-(math.Log(x/(1-x)) + mid)))
		}
		if sumOf(out) < total {
			lo = mid
		} else {
			hi = mid
		}
	}
	return out
}

// concordance is the chance that of two rows, one that counts and one that
// does not, the former was expected more; ties count half.
func concordance(p, y []float64) float64 {
	order := make([]int, len(p))
	for i := range order {
		order[i] = i
	}
	sort.Slice(order, func(a, b int) bool { return p[order[a]] < p[order[b]] })
	var below, sum, yes, no float64
	for i := 0; i < len(order); {
		k := i
		var tiedYes, tiedNo float64
		for ; k < len(order) && p[order[k]] == p[order[i]]; k++ {
			if y[order[k]] == 1 {
				tiedYes++
			} else {
				tiedNo++
			}
		}
		sum += tiedYes * (below + tiedNo/2)
		below += tiedNo
		yes, no = yes+tiedYes, no+tiedNo
		i = k
	}
	return sum / (yes * no)
}
