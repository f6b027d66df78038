package answer

import (
	"fmt"
	"math"

	"plybook/analysis/stats"
	"plybook/analysis/survival"
	"plybook/reports/figure"
	"plybook/reports/words"
)

// modelGroup is what was seen of a group and what the model says of the same
// rows.
type modelGroup struct {
	name   string
	rows   []int // of the data of the fit
	open   *disclosure
	points []survival.Point // to hold the model against: determined, with an interval and at least 10 at risk
	steps  []figure.Step
	falls  []figure.Stretch
	model  []figure.XY
	at     func(t float64) (float64, bool) // the share seen at a time, where it is determined
}

// enoughWatched is how many must be watched for a curve seen to say that
// another does not fit.
const enoughWatched = 10

// groupCurves holds the model against the curve of each group that `by`
// makes, or of all where it makes none.
func (p *parametricWork) groupCurves() error {
	for _, g := range p.split() {
		if p.smallCount(len(g.rows)) {
			continue
		}
		var err error
		if p.seen {
			err = p.intervalSteps(&g)
		} else {
			err = p.exactSteps(&g)
		}
		if err != nil {
			return fmt.Errorf("curve of %s: %w", g.name, err)
		}
		last := g.steps[len(g.steps)-1].Time
		for k, y := range p.fit.MeanSurvival(g.rows, evenTimes(last)) {
			g.model = append(g.model, figure.XY{X: evenTimes(last)[k], Y: y})
		}
		p.groups = append(p.groups, g)
	}
	return nil
}

// evenTimes are the times at which a smooth curve is drawn up to the last.
func evenTimes(last float64) []float64 {
	const pieces = 120
	out := make([]float64, pieces+1)
	for k := range out {
		out[k] = last * float64(k) / pieces
	}
	return out
}

// split gives the rows of each category of `by`, references first as in the
// table; all together where there is no such column, or it is a number.
func (p *parametricWork) split() []modelGroup {
	for k, term := range p.design.TermNames {
		if term != p.ask.By || len(p.design.Cats[k]) == 0 || len(p.design.Cats[k]) > maxGroups {
			continue
		}
		var out []modelGroup
		for _, v := range p.design.Cats[k] {
			g := modelGroup{name: v}
			for i := range p.data.Left {
				if p.categoryOf(term, i) == v {
					g.rows = append(g.rows, i)
				}
			}
			out = append(out, g)
			if len(g.rows) < 5 {
				p.caution("small-group", "The group %s has only %s.", p.display(v), p.n(len(g.rows), "socket", "sockets"))
			}
		}
		return out
	}
	return []modelGroup{{name: "all", rows: indices(len(p.data.Left))}}
}

// categoryOf is the category of a row of the design in a term.
func (p *parametricWork) categoryOf(term string, row int) string {
	reference := ""
	for j, c := range p.design.Columns {
		if c.Term != term {
			continue
		}
		reference = c.Reference
		if p.design.X[j][row] == 1 {
			return c.Category
		}
	}
	return reference
}

func (p *parametricWork) exactSteps(g *modelGroup) error {
	var d survival.Data
	for _, i := range g.rows {
		j := p.design.Rows[i]
		d.Entry, d.Time, d.Cause = append(d.Entry, p.Entry[j]), append(d.Time, p.Time[j]), append(d.Cause, p.Cause[j])
		if p.data.Cluster != nil {
			d.Cluster = append(d.Cluster, p.data.Cluster[i])
		}
	}
	c, err := survival.KaplanMeier(d, survival.CurveOptions{Level: p.ask.Confidence})
	if err != nil {
		return err
	}
	g.open = p.disclose(c.Points)
	g.at = func(t float64) (float64, bool) {
		q, ok := c.At(t)
		return q.Estimate, ok
	}
	for _, q := range c.Points {
		if q.HasBounds && q.Events > 0 && q.AtRisk >= enoughWatched {
			g.points = append(g.points, q)
		}
	}
	g.steps = figureSteps(g.open.thin(c.Points))
	return nil
}

// intervalSteps is the curve that takes the stretches between visits for what
// they are (Turnbull), without intervals.
func (p *parametricWork) intervalSteps(g *modelGroup) error {
	var d survival.IntervalData
	ended := map[float64]*survival.Point{}
	tally := func(t float64) *survival.Point {
		if ended[t] == nil {
			ended[t] = &survival.Point{Time: t}
		}
		return ended[t]
	}
	for _, i := range g.rows {
		d.Entry, d.Left, d.Right = append(d.Entry, p.data.Entry[i]), append(d.Left, p.data.Left[i]), append(d.Right, p.data.Right[i])
		if r := p.data.Right[i]; math.IsInf(r, 1) {
			tally(p.data.Left[i]).Censored++
		} else {
			tally(r).Events++
		}
	}
	c, err := survival.Turnbull(d, survival.TurnbullOptions{Draws: -1})
	if err != nil {
		return err
	}
	for _, m := range c.Masses {
		if !math.IsInf(m.Right, 1) {
			tally(m.Right)
			if m.Left < m.Right && !p.public() {
				g.falls = append(g.falls, figure.Stretch{From: m.Left, To: m.Right})
			}
		}
	}
	g.at = func(t float64) (float64, bool) {
		x, ok := c.At(t)
		return x.Lowest, ok && x.Lowest == x.Highest
	}
	f := looked{curve: c}
	f.points = f.pointsAt(ended)
	f.open = p.disclose(f.points)
	g.open = f.open
	z := stats.NormalQuantile(0.5 + p.ask.Confidence/2)
	for _, q := range f.points {
		x, ok := c.At(q.Time)
		if !ok || x.Lowest < x.Highest || q.AtRisk < enoughWatched || q.Time == 0 {
			continue
		}
		// No interval was made: that of as many watched to this day.
		half := z * math.Sqrt(x.Lowest*(1-x.Lowest)/q.AtRisk)
		q.Estimate, q.Low, q.High = x.Lowest, x.Lowest-half, x.Lowest+half
		g.points = append(g.points, q)
	}
	if p.public() {
		g.steps = figureSteps(f.publicPoints())
		return nil
	}
	for k, q := range f.points {
		if x, ok := c.At(q.Time); ok {
			f.points[k].Estimate = x.Highest // the fall is drawn by its stretch
		}
	}
	g.steps = figureSteps(f.points)
	return nil
}

func (p *parametricWork) curvesFigure() *figure.Figure {
	ev := p.causes[0]
	spec := figure.CurvesSpec{
		ID: p.ask.ID, Title: "Sockets not yet " + ev.past + ", seen and fitted" + byWords(p.ask.By), Direction: figure.Down,
		ValueAxis: "Sockets not yet " + ev.past, TimeAxis: p.timeAxis(), Rows: "sockets", EventWord: "events",
		Confidence: p.ask.Confidence, HideBelow: p.ctx.Front.HideBelow, Sparse: p.public(), NoBands: p.seen,
	}
	if p.seen {
		spec.EventWord = "found"
	}
	for _, t := range p.ask.Times {
		spec.Landmarks = append(spec.Landmarks, t.Days)
	}
	if len(p.groups) == 1 && p.groups[0].name == "all" {
		spec.Title = "Sockets not yet " + ev.past + ", seen and fitted"
	}
	for _, g := range p.groups {
		c := figure.Curve{Steps: g.steps, Open: g.falls, Model: g.model}
		if g.name != "all" || len(p.groups) > 1 {
			c.Group = p.display(g.name)
		}
		spec.Curves = append(spec.Curves, c)
	}
	return figure.Curves(spec)
}

func timesOf(points []survival.Point) []float64 {
	out := make([]float64, len(points))
	for k, q := range points {
		out[k] = q.Time
	}
	return out
}

// misfit warns where the fitted curve of a group leaves what was seen, with
// at least 10 still watched, by more than a tenth and by more than chance
// would.
func (p *parametricWork) misfit() {
	type gap struct {
		group      string
		at         float64
		seen, said float64
	}
	var worst gap
	for _, g := range p.groups {
		for k, said := range p.fit.MeanSurvival(g.rows, timesOf(g.points)) {
			q := g.points[k]
			apart := math.Abs(said - q.Estimate)
			if said >= q.Low && said <= q.High || apart <= 0.1 || apart <= math.Abs(worst.said-worst.seen) || !g.open.allow(q.Time, q.AtRisk) {
				continue
			}
			worst = gap{g.name, q.Time, q.Estimate, said}
		}
	}
	if worst.at > 0 {
		where := ""
		if worst.group != "all" {
			where = " in the group " + p.display(worst.group)
		}
		p.caution("misfit", "At %s the fitted curve%s says %s and the sockets seen say %s: the shape does not follow them there. Read %s beside it.",
			words.Span(worst.at), where, words.Percent(worst.said, 50), words.Percent(worst.seen, 50), map[bool]string{true: "turnbull", false: "kaplan-meier"}[p.seen])
	}
}
