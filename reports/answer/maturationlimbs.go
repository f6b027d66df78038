package answer

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"plybook/analysis/maturation"
	"plybook/analysis/mixed"
	"plybook/analysis/table"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// limbsPrinted is how many limbs are listed in print, those with most still to
// lose first.
const limbsPrinted = 25

// mostHalves is how many half times are drawn where limbs were seen for much
// longer: after 12 less than one part in 4000 is left.
const mostHalves = 12

// logWeeks is the straight line on the logarithm of weeks that stands beside
// the plateau.
type logWeeks struct {
	rows               int
	ll, aic            float64
	slope              mixed.Coefficient
	first              float64 // volume of the average limb at one week
	decline, low, high float64 // percent of first per unit of the logarithm
}

// logWeeks fits volume against the logarithm of weeks, limbs with a level and
// a slope of their own, by maximum likelihood on the same rows.
func (m *matured) logWeeks() {
	t := tableOf("log_weeks", count("rows"), number("log_likelihood", ""), number("aic", ""), number("aic_above_plateau", ""), number("first_volume", m.y.Unit),
		number("slope", ""), number("std_error", ""), number("decline", "%"), number("low", "%"), number("high", "%"))
	defer func() { m.addTable(t) }()
	if m.days == 0 {
		return
	}
	d := mixed.Data{Intercept: true, RandomIntercept: true, Names: []string{"log_weeks"}, ZNames: []string{"log_weeks"}, X: [][]float64{nil}, Z: [][]float64{nil}}
	d.Names = append(d.Names, m.data.Names...)
	d.X = append(d.X, make([][]float64, len(m.data.X))...)
	mean := make([]float64, len(m.data.X))
	for k, day := range m.data.Time {
		if day <= 0 {
			continue
		}
		d.Y, d.Group = append(d.Y, m.data.Y[k]), append(d.Group, m.data.Group[k])
		d.X[0] = append(d.X[0], math.Log(day/7))
		for j, x := range m.data.X {
			d.X[1+j] = append(d.X[1+j], x[k])
			mean[j] += x[k]
		}
	}
	d.Z[0] = d.X[0]
	fit, err := mixed.Fit(d, mixed.Options{ML: true, Level: m.ask.Confidence})
	if err != nil {
		return // the plateau is what was asked for
	}
	l := &logWeeks{rows: len(d.Y), ll: fit.LogLikelihood, aic: fit.AIC, slope: fit.Coef[1], first: fit.Coef[0].Estimate}
	grad := []float64{1, 0}
	for j := range mean {
		l.first += fit.Coef[2+j].Estimate * mean[j] / float64(len(d.Y))
		grad = append(grad, mean[j]/float64(len(d.Y)))
	}
	// The decline is -100 slope/first; its error by the delta method.
	r := l.slope.Estimate / l.first
	grad[1] = 0
	for j := range grad {
		grad[j] *= -r / l.first
	}
	grad[1] = 1 / l.first
	v := 0.0
	for a := range grad {
		for b := range grad {
			v += grad[a] * fit.Cov[a][b] * grad[b]
		}
	}
	se := 100 * math.Sqrt(math.Max(0, v))
	half := se * (l.slope.High - l.slope.Low) / (2 * l.slope.SE)
	l.decline = -100 * r
	l.low, l.high = l.decline-half, l.decline+half
	m.line = l
	t.row(l.rows, l.ll, l.aic, when(l.rows == m.fit.Rows, l.aic-m.fit.AIC), l.first, l.slope.Estimate, l.slope.SE, l.decline, l.low, l.high)
}

// settledLimb is what is told of one limb.
type settledLimb struct {
	name       string
	limb       maturation.Limb
	plateau    maturation.Value
	left       maturation.Value // percent of its present volume still to be lost
	amount     maturation.Value // the same in ml
	settled    maturation.Value // time by which no more than the share is left
	on         float64          // the day of it; NaN where days are not known
	rule       string           // of the lab: "met", "not met", "too short" or ""
	beyond     bool             // the time lies beyond any that was seen
	amputation float64          // day of time 0; NaN where days are not known
}

// each limb's plateau, what it has still to lose and by when, and the lab's
// own rule.
func (m *matured) eachLimb() ([]settledLimb, error) {
	dates := m.dates()
	var out []settledLimb
	for g, l := range m.fit.Limbs {
		s := settledLimb{name: m.names[g], limb: l, on: math.NaN(), amputation: math.NaN()}
		var err error
		get := func(to *maturation.Value, v maturation.Value, e error) {
			*to = v
			if err == nil {
				err = e
			}
		}
		v, e := m.fit.Plateau(g)
		get(&s.plateau, v, e)
		v, e = m.fit.Change(g, l.Last, math.Inf(1))
		get(&s.left, maturation.Value{Estimate: -v.Estimate, SE: v.SE, Low: -v.High, High: -v.Low}, e)
		v, e = m.fit.Amount(g, l.Last)
		get(&s.amount, maturation.Value{Estimate: -v.Estimate, SE: v.SE, Low: -v.High, High: -v.Low}, e)
		v, e = m.fit.Settled(g, m.left())
		get(&s.settled, v, e)
		if err != nil {
			return nil, err
		}
		if dates != nil && m.days == 1 && !dates.Missing[m.last[g]] {
			s.amputation = dates.Num[m.last[g]] - l.Last
			s.on = math.Ceil(s.amputation + s.settled.Estimate)
		}
		s.beyond = s.settled.Estimate > m.fit.Last
		s.rule = m.rule(g)
		out = append(out, s)
	}
	return out, nil
}

// dates are the days of the rows; nil where no true day may be told.
func (m *matured) dates() *table.Column {
	c, ok := m.table.Col("date")
	if !ok || c.Kind != table.Date || m.ctx.Front.ShiftDates != 0 {
		return nil
	}
	return c
}

// rule applies the lab's own rule to what was measured: the last reading, the
// latest one that lies far enough before it, and all between.
func (m *matured) rule(g int) string {
	r := m.ask.Settled
	if r == nil || m.days == 0 {
		return ""
	}
	type reading struct{ t, y float64 }
	var rs []reading
	for k, i := range m.data.Group {
		if i == g {
			rs = append(rs, reading{m.data.Time[k], m.data.Y[k]})
		}
	}
	sort.SliceStable(rs, func(a, b int) bool { return rs[a].t < rs[b].t })
	last := rs[len(rs)-1]
	from := -1
	for k, x := range rs {
		if x.t <= last.t-r.Over.Days {
			from = k
		}
	}
	if from < 0 {
		return "too short"
	}
	for _, x := range rs[from:] {
		if math.Abs(x.y-last.y) > r.Change*last.y {
			return "not met"
		}
	}
	return "met"
}

// limbs lists what is told of each limb, where limbs may be shown.
func (m *matured) limbs() error {
	t := tableOf("limbs", text("group"), integer("rows"), number("first", m.t.Unit), number("last", m.t.Unit), number("last_volume", m.y.Unit),
		number("plateau", m.y.Unit), number("plateau_low", m.y.Unit), number("plateau_high", m.y.Unit), number("left", "%"), number("left_low", "%"), number("left_high", "%"),
		number("left_amount", m.y.Unit), number("settled", m.t.Unit), number("settled_low", m.t.Unit), number("settled_high", m.t.Unit), Column{Name: "settled_on", Type: TypeDate}, text("rule"))
	defer func() { m.addTable(t) }()
	if !m.ctx.Names.Show {
		m.caution("limbs-hidden", "%s", m.ctx.Names.Why)
		return nil
	}
	all, err := m.eachLimb()
	if err != nil {
		return err
	}
	for _, s := range all {
		on := any(nil)
		if !math.IsNaN(s.on) {
			on = s.on
		}
		t.row(s.name, s.limb.Rows, s.limb.First, s.limb.Last, s.limb.LastVolume, s.plateau.Estimate, s.plateau.Low, s.plateau.High, s.left.Estimate, s.left.Low, s.left.High,
			s.amount.Estimate, s.settled.Estimate, s.settled.Low, s.settled.High, on, orNil(s.rule))
	}
	m.print(m.limbsPrint(all))
	return nil
}

func (m *matured) limbsPrint(all []settledLimb) document.Table {
	p := document.Table{ID: m.ask.ID + "-limbs", Caption: fmt.Sprintf("How settled each %s is, those with most still to lose first", m.within), Columns: []document.TableColumn{
		{Head: words.Capital(m.within), Wide: true}, {Head: "Measured", Align: document.Right}, {Head: "Last" + inUnit(m.y.Unit), Align: document.Right},
		{Head: "Plateau" + inUnit(m.y.Unit), Align: document.Right}, {Head: "Still to lose", Align: document.Right}, {Head: words.Capital(m.confidenceWords()), Align: document.Right},
		{Head: fmt.Sprintf("Under %s left", sharePercent(m.left())), Align: document.Right}}}
	if m.ask.Settled != nil {
		p.Columns = append(p.Columns, document.TableColumn{Head: "Lab's rule"})
	}
	sorted := append([]settledLimb(nil), all...)
	sort.SliceStable(sorted, func(a, b int) bool { return sorted[a].left.Estimate > sorted[b].left.Estimate })
	foretold := false
	for k, s := range sorted {
		if k == limbsPrinted {
			break
		}
		when := m.settledWords(s)
		foretold = foretold || strings.HasSuffix(when, " *")
		row := []string{s.name, words.N(s.limb.Rows, "time", "times"), words.Plain(s.limb.LastVolume), words.Value(s.plateau.Estimate, s.plateau.Low, s.plateau.High),
			words.Value(s.left.Estimate, s.left.Low, s.left.High) + "%", words.Interval(s.left.Low, s.left.High), when}
		if m.ask.Settled != nil {
			row = append(row, s.rule)
		}
		p.Rows = append(p.Rows, row)
	}
	p.Notes = []string{"Still to lose: of the volume expected at the last measurement, down to the plateau; below 0 the limb is expected to gain."}
	if foretold {
		p.Notes = append(p.Notes, fmt.Sprintf("* Later after amputation than any %s was seen: an extrapolation.", m.within))
	}
	if n := len(sorted); n > limbsPrinted {
		p.Notes = append(p.Notes, fmt.Sprintf("%d of %d %ss; all are in the numbers.", limbsPrinted, n, m.within))
	}
	return p
}

// settledWords is when a limb has no more than the share left.
func (m *matured) settledWords(s settledLimb) string {
	text := ""
	switch {
	case s.settled.Estimate <= s.limb.Last:
		return "already"
	case !math.IsNaN(s.on):
		text = words.Date(s.on)
	case m.days == 1:
		text = words.SpanWithin(s.settled.Estimate, s.settled.Low, s.settled.High)
	default:
		text = words.Value(s.settled.Estimate, s.settled.Low, s.settled.High) + unitWords(m.t.Unit)
	}
	if s.beyond {
		text += " *"
	}
	return text
}

// sharePercent is a share in percent, as one would write it.
func sharePercent(x float64) string { return words.Plain(100*x) + "%" }

// figure draws each limb's volumes, the average curve with its band and its
// plateau.
func (m *matured) figure() {
	spec := figure.TrajectoriesSpec{ID: m.ask.ID, Title: words.Capital(label(m.y)) + " settling to a plateau", XAxis: words.Capital(label(m.t)), XUnit: m.t.Unit, XDays: m.days == 1,
		YAxis: words.Capital(label(m.y)), YUnit: m.y.Unit, Each: m.within, LineName: "average " + m.within, Confidence: m.ask.Confidence}
	first, last := math.Inf(1), m.fit.Last
	// Limbs amputated long ago would press the years in which limbs settle
	// against the axis.
	if end := mostHalves * m.half().Estimate; m.days != 0 && last > 2*end {
		last = end
		spec.Title += ", the first " + words.At(math.Round(end/table.DaysPerMonth)*table.DaysPerMonth)
	}
	paths := make([][]figure.XY, len(m.names))
	for k, g := range m.data.Group {
		if m.data.Time[k] > last {
			continue
		}
		paths[g] = append(paths[g], figure.XY{X: m.data.Time[k], Y: m.data.Y[k]})
		first = math.Min(first, m.data.Time[k])
	}
	if m.ctx.Front.HideBelow <= 1 {
		for _, p := range paths {
			if len(p) == 0 {
				continue
			}
			sort.SliceStable(p, func(a, b int) bool { return p[a].X < p[b].X })
			spec.Paths = append(spec.Paths, figure.Path{Points: p})
		}
	}
	const grid = 80
	for k := 0; k <= grid; k++ {
		t := first + (last-first)*float64(k)/grid
		v, _ := m.fit.Average(m.mean, t)
		spec.Line = append(spec.Line, figure.BandPoint{X: t, Y: v.Estimate, Low: v.Low, High: v.High})
	}
	p, _ := m.fit.AveragePlateau(m.mean)
	spec.Guides = []figure.Guide{{Name: "its plateau", Points: []figure.XY{{X: first, Y: p.Estimate}, {X: last, Y: p.Estimate}}}}
	m.Figures = append(m.Figures, figure.Trajectories(spec))
}

// forecast foretells one limb: the next reading after each of the times asked
// for, counted from its last measurement, with its own history.
func (m *matured) forecast() error {
	code := m.ask.Limb
	if code == "" {
		return nil
	}
	if !m.ctx.Names.Show {
		return m.at("limb", code, "identifying", "one %s is not foretold here. %s", m.within, m.ctx.Names.Why)
	}
	if m.days == 0 {
		return m.at("times", "", notebook.CodeImpossible, "times are lengths of days, months or years, but the unit of %s is not one of them", m.ask.Time)
	}
	g := -1
	for k, n := range m.names {
		if n == code {
			g = k
		}
	}
	if g < 0 {
		near := notebook.Nearest(code, m.names)
		text := fmt.Sprintf("no measurement used is of the %s %q", m.within, code)
		if near != "" {
			text += fmt.Sprintf("; did you mean %q?", near)
		}
		return &notebook.Error{Pos: m.ask.At("limb", code), Code: "unknown-limb", Text: text, Nearest: near}
	}
	l := m.fit.Limbs[g]
	t := tableOf("forecast", text("group"), number("ahead", "days"), number("time", "days"), Column{Name: "date", Type: TypeDate}, number("estimate", m.y.Unit), number("low", m.y.Unit), number("high", m.y.Unit),
		number("curve_low", m.y.Unit), number("curve_high", m.y.Unit), number("change", "%"), flag("extrapolated"))
	p := document.Table{ID: m.ask.ID + "-forecast", Caption: fmt.Sprintf("The next %s of %s %s", label(m.y), m.within, code), Columns: []document.TableColumn{
		{Head: "After its last measurement", Wide: true}, {Head: "On", Align: document.Right}, {Head: words.Capital(label(m.y)) + inUnit(m.y.Unit), Align: document.Right},
		{Head: fmt.Sprintf("%s%% of next readings", words.AsWritten(100*m.ask.Confidence)), Align: document.Right}, {Head: "Change of its curve", Align: document.Right}}}
	dates := m.dates()
	far := false
	ahead := append([]notebook.Duration(nil), m.ask.Times...)
	sort.SliceStable(ahead, func(a, b int) bool { return ahead[a].Days < ahead[b].Days })
	for _, a := range ahead {
		at := l.Last + a.Days
		next, err := m.fit.Next(g, at)
		if err != nil {
			return err
		}
		curve, _ := m.fit.At(g, at)
		change, _ := m.fit.Change(g, l.Last, at)
		on, day := any(nil), words.NotComputed
		if dates != nil && !dates.Missing[m.last[g]] {
			d := math.Round(dates.Num[m.last[g]] + a.Days)
			on, day = d, words.Date(d)
		}
		beyond := at > m.fit.Last
		far = far || beyond
		t.row(code, a.Days, at, on, next.Estimate, next.Low, next.High, curve.Low, curve.High, change.Estimate, beyond)
		name := a.Words()
		if beyond {
			name += " *"
		}
		p.Rows = append(p.Rows, []string{name, day, words.Value(next.Estimate, next.Low, next.High), words.Interval(next.Low, next.High), words.Value(change.Estimate, change.Low, change.High) + "%"})
	}
	p.Notes = []string{"What a next reading would be, its own error of measuring included, if the limb goes on as it has and nothing happens to it."}
	if far {
		p.Notes = append(p.Notes, fmt.Sprintf("* Later after amputation than any %s was seen: an extrapolation.", m.within))
	}
	m.addTable(t)
	m.print(p)
	m.forecastFigure(g, ahead[len(ahead)-1].Days)
	return nil
}

// forecastFigure draws the limb's own readings, its curve and the band in which
// next readings are expected.
func (m *matured) forecastFigure(g int, ahead float64) {
	l := m.fit.Limbs[g]
	spec := figure.FitSpec{ID: m.ask.ID + "-forecast", Title: fmt.Sprintf("%s of %s %s: seen, and foretold", words.Capital(label(m.y)), m.within, m.names[g]), XAxis: words.Capital(label(m.t)), XUnit: m.t.Unit, XDays: true,
		YAxis: words.Capital(label(m.y)), YUnit: m.y.Unit, LineName: "its curve", Confidence: m.ask.Confidence, BandName: "in which a next reading is expected", Known: l.Last, KnownName: "last measured"}
	for k, i := range m.data.Group {
		if i == g {
			spec.Points = append(spec.Points, figure.XY{X: m.data.Time[k], Y: m.data.Y[k]})
		}
	}
	end := l.Last + ahead
	const grid = 80
	for k := 0; k <= grid; k++ {
		t := l.First + (end-l.First)*float64(k)/grid
		v, _ := m.fit.Next(g, t)
		spec.Line = append(spec.Line, figure.BandPoint{X: t, Y: v.Estimate, Low: v.Low, High: v.High})
	}
	spec.Guides = []figure.Guide{{Name: "its plateau", Points: []figure.XY{{X: l.First, Y: l.Curve[0]}, {X: end, Y: l.Curve[0]}}}}
	m.Figures = append(m.Figures, figure.Fit(spec))
}
