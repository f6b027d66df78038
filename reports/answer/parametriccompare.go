package answer

import (
	"fmt"
	"math"
	"slices"

	"plybook/analysis/stats"
	"plybook/analysis/survival"
	"plybook/reports/figure"
	"plybook/reports/words"
)

// comparison holds the curves that `compare` names against one another and
// against what was seen of all rows.
type curveComparison struct {
	curves   []comparedCurve // by AIC, the least first
	unfitted []survival.Distribution
	seen     *modelGroup // all rows together; nil where it would tell hidden counts
	last     float64     // the last time drawn
}

// comparedCurve is one of them.
type comparedCurve struct {
	*survival.Parametric
	weight  float64 // Akaike's
	bic     float64 // above the least
	half    float64 // days by which half of the rows had the event by its mean; infinite beyond numbers
	apart   float64 // farthest from what was seen, said less seen; NaN: not held against it
	apartAt float64
	misfits bool // leaves what was seen by more than a tenth and by more than chance
}

// compareCurves fills the comparison where it is asked for.
func (p *parametricWork) compareCurves() error {
	if len(p.ask.Compare) == 0 {
		return nil
	}
	c := &curveComparison{}
	var aics, bics []float64
	for _, m := range notebookOrder(p.ask.Method, p.ask.Compare) {
		f := p.others[distributions[m]]
		if f == nil {
			c.unfitted = append(c.unfitted, distributions[m])
			continue
		}
		c.curves = append(c.curves, comparedCurve{Parametric: f, apart: math.NaN()})
		aics, bics = append(aics, f.AIC), append(bics, f.BIC)
	}
	rows := indices(len(p.data.Left))
	least := slices.Min(bics)
	for k, w := range stats.AkaikeWeights(aics) {
		x := &c.curves[k]
		x.weight, x.bic = w, x.BIC-least
		half, err := x.MeanQuantile(rows, 0.5)
		if err != nil {
			return fmt.Errorf("half by the %v curve: %w", x.Distribution, err)
		}
		x.half = half
	}
	slices.SortStableFunc(c.curves, func(a, b comparedCurve) int {
		switch {
		case a.AIC < b.AIC:
			return -1
		case a.AIC > b.AIC:
			return 1
		}
		return 0
	})
	if err := p.seenTogether(c); err != nil {
		return err
	}
	p.held = c
	p.comparedTables()
	return nil
}

// notebookOrder is the method asked for, then those that it is held against.
func notebookOrder(method string, compare []string) []string {
	out := []string{method}
	for _, m := range compare {
		if m != method {
			out = append(out, m)
		}
	}
	return out
}

// seenTogether finds what was seen of all rows, and how far each curve leaves
// it. Beside the curves of groups it would tell what is hidden of a small one,
// so that public reports do without it there.
func (p *parametricWork) seenTogether(c *curveComparison) error {
	c.last = p.fit.LastTime
	switch {
	case len(p.groups) == 1 && p.groups[0].name == "all":
		c.seen = &p.groups[0]
	case p.public():
		return nil
	default:
		g := modelGroup{name: "all", rows: indices(len(p.data.Left))}
		look := p.exactSteps
		if p.seen {
			look = p.intervalSteps
		}
		if err := look(&g); err != nil {
			return fmt.Errorf("curve of all: %w", err)
		}
		c.seen = &g
	}
	if n := len(c.seen.steps); n > 0 {
		c.last = c.seen.steps[n-1].Time
	}
	for k := range c.curves {
		x := &c.curves[k]
		for j, said := range x.MeanSurvival(c.seen.rows, timesOf(c.seen.points)) {
			q := c.seen.points[j]
			apart := said - q.Estimate
			if !c.seen.open.allow(q.Time, q.AtRisk) {
				continue
			}
			x.misfits = x.misfits || math.Abs(apart) > 0.1 && (said < q.Low || said > q.High)
			if math.IsNaN(x.apart) || math.Abs(apart) > math.Abs(x.apart) {
				x.apart, x.apartAt = apart, q.Time
			}
		}
	}
	return nil
}

// comparedTables are the tables of the numbers.
func (p *parametricWork) comparedTables() {
	t := tableOf("compared", text("distribution"), integer("parameters"), number("log_likelihood", ""), number("aic", ""), number("aic_above_best", ""),
		number("aic_weight", ""), number("bic", ""), number("bic_above_best", ""), number("half", "days"), number("farthest", ""), number("farthest_at", "days"))
	at := tableOf("compared_at", text("distribution"), number("time", "days"), number("estimate", ""), number("seen", ""))
	for _, x := range p.held.curves {
		known := !math.IsNaN(x.apart)
		t.row(x.Distribution.String(), x.Parameters, x.LogLik, x.AIC, x.AIC-p.held.curves[0].AIC, x.weight, x.BIC, x.bic, when(!math.IsInf(x.half, 1), x.half),
			when(known, x.apart), when(known, x.apartAt))
		for k, y := range x.MeanSurvival(indices(len(p.data.Left)), p.times()) {
			seen, ok := p.seenAt(p.times()[k])
			at.row(x.Distribution.String(), p.times()[k], y, when(ok, seen))
		}
	}
	for _, d := range p.held.unfitted {
		t.row(d.String(), nil, nil, nil, nil, nil, nil, nil, nil, nil, nil)
	}
	p.addTable(t)
	p.addTable(at)
}

// seenAt is the share of all rows seen at a time; public reports have it in
// the figure alone.
func (p *parametricWork) seenAt(t float64) (float64, bool) {
	if p.public() || p.held.seen == nil || t > p.held.last {
		return 0, false
	}
	return p.held.seen.at(t)
}

// comparedFigure draws the curves over what was seen of all rows.
func (p *parametricWork) comparedFigure() *figure.Figure {
	ev := p.causes[0]
	spec := figure.FittedSpec{ID: p.ask.ID + "-compared", Title: "Sockets not yet " + ev.past + ", seen and by each curve",
		ValueAxis: "Sockets not yet " + ev.past, TimeAxis: p.timeAxis(), Confidence: p.ask.Confidence, HideBelow: p.ctx.Front.HideBelow}
	if g := p.held.seen; g != nil {
		spec.Seen, spec.Open = g.steps, g.falls
	}
	for _, t := range p.ask.Times {
		spec.Landmarks = append(spec.Landmarks, t.Days)
	}
	rows := indices(len(p.data.Left))
	for _, x := range p.held.curves {
		c := figure.FittedCurve{Name: x.Distribution.String()}
		times := evenTimes(p.held.last)
		for k, y := range x.MeanSurvival(rows, times) {
			c.Points = append(c.Points, figure.BandPoint{X: times[k], Y: y, Low: math.NaN(), High: math.NaN()})
		}
		spec.Curves = append(spec.Curves, c)
	}
	return figure.Fitted(spec)
}

// closeCurves are those within 2 of the least AIC, which the rows do not tell
// apart.
func (c *curveComparison) closeCurves() []comparedCurve {
	var out []comparedCurve
	for _, x := range c.curves {
		if x.AIC-c.curves[0].AIC < 2 {
			out = append(out, x)
		}
	}
	return out
}

// comparedCautions warns where curves that the rows do not tell apart say
// different things, and where none of them follows what was seen.
func (p *parametricWork) comparedCautions() {
	c, ev := p.held, p.causes[0]
	near := c.closeCurves()
	if len(near) > 1 {
		low, high := near[0], near[0]
		for _, x := range near {
			if x.half < low.half {
				low = x
			}
			if x.half > high.half {
				high = x
			}
		}
		if high.half > 1.2*low.half {
			p.caution("curves-disagree", "These rows do not tell %s apart (AIC within 2). Yet half of the sockets are %s by %s by the one and by %s by the other: take the range, not one curve.",
				words.List(curveNames(near)), ev.past, halfWords(low.half)+" ("+low.Distribution.String()+")", halfWords(high.half)+" ("+high.Distribution.String()+")")
		}
	}
	all := c.seen != nil
	for _, x := range c.curves {
		all = all && x.misfits
	}
	if all {
		x := c.curves[0]
		said, seen := 0.0, 0.0
		if v, ok := c.seen.at(x.apartAt); ok {
			seen, said = v, v+x.apart
		}
		p.caution("none-fits", "None of the curves compared follows what was seen: at %s even the one of the least AIC (%s) says %s and the sockets seen say %s. AIC only ranks them; read %s instead.",
			words.Span(x.apartAt), x.Distribution, words.Percent(said, 50), words.Percent(seen, 50), p.stepMethod())
	}
	if len(c.unfitted) > 0 {
		var names []string
		for _, d := range c.unfitted {
			names = append(names, "the "+d.String()+" curve")
		}
		p.caution("not-fitted", "%s could not be fitted to these rows and %s left out of the comparison.", words.Capital(words.List(names)), plural(len(names), "is", "are"))
	}
	var beyond []string
	for _, x := range c.curves {
		if x.half > p.fit.LastTime {
			beyond = append(beyond, x.Distribution.String())
		}
	}
	if len(beyond) > 0 {
		p.caution("compared-beyond", "By %s, half of the sockets are %s only after %s, when nothing is known any more: how the curves go on from there is their shape alone, and AIC does not judge it.",
			words.List(beyond), ev.past, words.Span(p.fit.LastTime))
	}
}

func curveNames(curves []comparedCurve) []string {
	var out []string
	for _, x := range curves {
		out = append(out, x.Distribution.String())
	}
	return out
}

func halfWords(days float64) string {
	if days > farTime {
		return "more than 100 years"
	}
	return words.Span(days)
}

// stepMethod is the method that draws what was seen.
func (p *parametricWork) stepMethod() string {
	return map[bool]string{true: "turnbull", false: "kaplan-meier"}[p.seen]
}
