package answer

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"plybook/analysis/cohort"
	"plybook/analysis/design"
	"plybook/analysis/maturation"
	"plybook/analysis/mixed"
	"plybook/analysis/stats"
	"plybook/analysis/table"
	"plybook/reports/notebook"
)

// matured is an answer of maturation in the making.
type matured struct {
	*work
	y, t   *table.Column
	days   float64 // days in one unit of the time column; 0: its unit is not known
	within string  // what is followed, in words: "limb"
	d      *design.Design
	data   maturation.Data
	names  []string  // of the limbs, by label
	mean   []float64 // covariates of the average limb
	fit    *maturation.Model
	last   []int // row of the last measurement of each limb, by label
	line   *logWeeks
}

// maturationOf answers how volume settles to a plateau, limbs being random.
func maturationOf(w *work) error {
	m := &matured{work: w, within: plainName(w.ask.Within)}
	if err := m.read(); err != nil {
		return err
	}
	if err := w.tooFew(len(m.d.Rows)); err != nil {
		return err
	}
	w.Answer.Rows = len(m.d.Rows)
	if err := m.estimate(); err != nil {
		return err
	}
	m.termsTable()
	w.matureVariance(m.fit, w.ask.Within)
	m.fitTable()
	m.settlingTable()
	m.logWeeks()
	m.averagePrint()
	if err := m.limbs(); err != nil {
		return err
	}
	m.figure()
	if err := m.forecast(); err != nil {
		return err
	}
	m.cautions()
	m.words()
	return nil
}

// numberColumn finds a column of numbers for a key.
func (m *matured) numberColumn(key, name string) (*table.Column, error) {
	c, err := m.column(key, name)
	if err != nil {
		return nil, err
	}
	if c.Kind != table.Number {
		return nil, m.at(key, name, notebook.CodeImpossible, "%s must be numbers, but %s is %s", key, name, kindWords(c.Kind))
	}
	return c, nil
}

// read gathers volumes, times and covariates.
func (m *matured) read() error {
	w := m.work
	var err error
	if m.y, err = m.numberColumn("outcome", w.ask.Outcome); err != nil {
		return err
	}
	if m.t, err = m.numberColumn("time", w.ask.Time); err != nil {
		return err
	}
	if w.ask.Outcome == w.ask.Time {
		return w.at("time", w.ask.Time, notebook.CodeImpossible, "%s is the outcome and cannot be its own time", w.ask.Time)
	}
	if _, err := w.column("within", w.ask.Within); err != nil {
		return err
	}
	spec, err := w.designSpec()
	if err != nil {
		return err
	}
	w.holding(m.y)
	m.oneSpan()
	m.inDays()
	if m.d, err = design.Build(w.table, w.rows, spec, w.ask.Outcome, w.ask.Time, w.ask.Within); err != nil {
		return err
	}
	w.missingCaution(m.d)
	if len(m.d.Rows) == 0 {
		return stats.ErrNoRows
	}
	w.modelCautions(m.d)
	gc, _ := w.table.Col(w.ask.Within)
	m.names, m.data.Group = namesOf(gc, m.d.Rows)
	if len(m.names) == 1 {
		return w.at("within", w.ask.Within, "one-group", "all measurements are of one %s, and how it will settle is told from how several have", m.within)
	}
	m.data.X, m.data.Names, m.data.GroupName = m.d.X, m.d.Names(), m.within
	m.last = make([]int, len(m.names))
	for g := range m.last {
		m.last[g] = -1
	}
	for k, i := range m.d.Rows {
		m.data.Y, m.data.Time = append(m.data.Y, m.y.Num[i]), append(m.data.Time, m.t.Num[i])
		if j := m.last[m.data.Group[k]]; j < 0 || m.t.Num[i] >= m.t.Num[j] {
			m.last[m.data.Group[k]] = i
		}
	}
	for j := range m.d.X {
		m.mean = append(m.mean, average(m.d.X[j]))
	}
	return nil
}

// oneSpan keeps, of each limb, the volumes of the stretch measured most often:
// those of another stretch, landmark or layer are another quantity.
func (m *matured) oneSpan() {
	if m.ask.Outcome != "volume_ml" {
		return
	}
	var by []*table.Column
	for _, name := range []string{"landmark", "over", "volume_from_mm", "volume_to_mm"} {
		if c, ok := m.table.Col(name); ok {
			by = append(by, c)
		}
	}
	gc, ok := m.table.Col(m.ask.Within)
	if !ok || len(by) == 0 {
		return
	}
	spans := map[string]map[string]int{}
	of := func(i int) (limb, span string) {
		var parts []string
		for _, c := range by {
			parts = append(parts, valueText(c, i))
		}
		return valueText(gc, i), strings.Join(parts, "\x00")
	}
	for _, i := range m.rows {
		l, s := of(i)
		if spans[l] == nil {
			spans[l] = map[string]int{}
		}
		spans[l][s]++
	}
	usual := map[string]string{}
	for l, n := range spans {
		usual[l] = sortedKeys(n)[0]
	}
	var rows []int
	for _, i := range m.rows {
		if l, s := of(i); usual[l] == s {
			rows = append(rows, i)
		}
	}
	if n := len(m.rows) - len(rows); n > 0 {
		m.caution("other-span", "%s left out: taken over another stretch of the limb, from another landmark or over another layer than most of that limb's, which makes them volumes of something else.",
			m.n(n, "measurement was", "measurements were"))
		m.steps = append(m.steps, cohort.Step{Step: "over one stretch of each limb", Rows: len(rows), Excluded: n, Reason: "measured over another stretch, landmark or layer"})
	}
	m.rows = rows
}

// inDays turns a time in months into days; one of the lab's own columns keeps
// its unit.
func (m *matured) inDays() {
	switch m.t.Unit {
	case "days":
		m.days = 1
	case "months":
		m.days = 1
		c := *m.t
		c.Unit, c.Label = "days", "time since amputation"
		if m.t.Name != "months_since_amputation" {
			c.Label = label(m.t)
		}
		c.Num = slices.Clone(m.t.Num)
		for i := range c.Num {
			c.Num[i] *= table.DaysPerMonth
			if r := math.Round(c.Num[i]); math.Abs(c.Num[i]-r) < 1e-6 {
				c.Num[i] = r // both were whole days before they were months
			}
		}
		if t, err := m.table.With(&c); err == nil {
			m.table, m.t = t, &c
		}
	}
}

// estimate fits the model.
func (m *matured) estimate() error {
	o := maturation.Options{Level: m.ask.Confidence, VaryInitial: slices.Contains(m.ask.Vary, "initial"), VaryRate: slices.Contains(m.ask.Vary, "rate")}
	if m.ask.Initial == "volume" {
		o.Form = maturation.Initial
	}
	fit, err := maturation.Fit(m.data, o)
	if err == nil {
		m.fit = fit
		for _, x := range fit.Warnings {
			if x.Code != "singular" {
				m.warnings([]stats.Warning{x})
			}
		}
		if fit.Singular {
			m.caution("singular", "The %ss do not seem to differ in all that `vary` names, or what they differ in goes wholly together; what is told of one %s leans on that. Fewer words under `vary` may do.", m.within, m.within)
		}
		return nil
	}
	var singular *mixed.SingularError
	text := ""
	switch {
	case errors.Is(err, maturation.ErrVaries):
		text = strings.TrimPrefix(err.Error(), "maturation: ") + "; name columns that stay the same for each " + m.within
	case errors.Is(err, maturation.ErrNegativeTime):
		text = "some measurements lie before time 0, where no curve of settling begins; leave them out with keep"
	case errors.Is(err, maturation.ErrNoPlateau), errors.Is(err, maturation.ErrNoChange), errors.Is(err, maturation.ErrOneTime), errors.Is(err, maturation.ErrTimes):
		text = err.Error()
	case errors.Is(err, stats.ErrConvergence):
		text = fmt.Sprintf("the search for a plateau and a rate did not settle: the %ss were followed too briefly, too seldom or too late after amputation to tell them; use more %ss, or fewer words under vary", m.within, m.within)
	case errors.As(err, &singular):
		return m.modelError(err, m.d, "settling", nil)
	default:
		text = tooFewRows(err, m.d)
		if text == "" {
			text = strings.TrimPrefix(err.Error(), "mixed model: ")
		}
	}
	return &notebook.Error{Pos: m.ask.Pos, Code: "model", Text: text}
}

// termsTable lists plateau, its covariates, drop or volume at amputation, and
// the logarithm of the rate.
func (m *matured) termsTable() {
	t := tableOf("terms", termColumns(false)...)
	for j, c := range m.fit.Coef {
		df := any(finite(c.DF))
		if c.DF == 0 {
			df = nil
		}
		term, category, reference := c.Name, any(nil), any(nil)
		if j > 0 && j <= len(m.d.Columns) {
			k := m.d.Columns[j-1]
			term, category, reference = k.Term, orNil(k.Category), orNil(k.Reference)
		}
		t.row(term, category, reference, c.Estimate, c.SE, df, nil, c.Low, c.High, c.T, c.P)
	}
	m.addTable(t)
}

// matureVariance lists how limbs differ, and the scatter of readings.
func (w *work) matureVariance(fit *maturation.Model, within string) {
	t := tableOf("variance", text("group"), text("term"), text("with"), number("variance", ""), number("std_dev", ""), number("correlation", ""))
	for _, c := range fit.Variance {
		g := within
		if c.Group == "residual" {
			g = "residual"
		}
		sd := any(nil)
		if c.With == "" {
			sd = finite(c.SD)
		}
		t.row(g, orNil(c.Term), orNil(c.With), c.Variance, sd, when(c.HasCorrelation, c.Correlation))
	}
	w.addTable(t)
}

func (m *matured) fitTable() {
	t := tableOf("fit", count("rows"), count("groups"), number("sigma", m.y.Unit), number("log_likelihood", ""), number("aic", ""), integer("parameters"), integer("rounds"), flag("singular"))
	f := m.fit
	t.row(f.Rows, f.Groups, f.Sigma, f.LogLikelihood, f.AIC, f.Parameters, f.Rounds, f.Singular)
	m.addTable(t)
}

// left is the share of its volume at which a limb counts as nearly settled:
// asked for, else what measuring in this lab tells from none, else what
// measuring an unchanged limb twice commonly gives.
func (m *matured) left() float64 {
	switch {
	case m.ask.Left != nil:
		return *m.ask.Left
	case m.ctx.Front.VolumeRepeatability > 0:
		return math.Min(m.ctx.Front.VolumeRepeatability/100, 0.49)
	}
	return sameMeasurer / 100.0
}

// settlingTable tells the average limb: its plateau, what it loses, how fast,
// and the time by which no more than a share is left.
func (m *matured) settlingTable() {
	t := tableOf("settling", text("quantity"), number("estimate", ""), number("low", ""), number("high", ""), text("unit"))
	add := func(name string, v maturation.Value, scale float64, unit string) {
		t.row(name, v.Estimate*scale, v.Low*scale, v.High*scale, orNil(unit))
	}
	p, _ := m.fit.AveragePlateau(m.mean) // the covariates are as many as the model's
	add("plateau", p, 1, m.y.Unit)
	lost, _ := m.fit.AverageDrop(m.mean)
	add("lost_since_amputation", lost, 100, "%")
	h := m.half()
	add("half_lost", h, 1, m.t.Unit)
	s, _ := m.fit.AverageSettled(m.mean, m.left())
	add("settled", s, 1, m.t.Unit)
	m.addTable(t)
}

// half is the time by which half of what is lost is lost: ln 2 over the rate.
func (m *matured) half() maturation.Value {
	c := m.fit.Coef[len(m.fit.Coef)-1]
	return maturation.Value{Estimate: math.Ln2 / math.Exp(c.Estimate), Low: math.Ln2 / math.Exp(c.High), High: math.Ln2 / math.Exp(c.Low)}
}
