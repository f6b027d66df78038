package answer

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"plybook/analysis/quality"
	"plybook/analysis/stats"
	"plybook/reports/figure"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// controlChart answers whether the lab is getting better or it is noise.
func controlChart(w *work) error {
	kind, err := w.chartKind()
	if err != nil {
		return err
	}
	dated, err := w.datedColumn()
	if err != nil {
		return err
	}
	s, err := w.series(kind, dated)
	if err != nil {
		return err
	}
	followed := w.followed()
	w.decisionPhases(s, followed)
	o := quality.Options{BaselinePoints: w.ask.BaselinePoints, Phases: s.phases}
	var c *quality.Chart
	if kind == "p" {
		c, err = quality.PChart(s.num, s.den, o)
	} else {
		c, err = quality.XmR(s.values, o)
	}
	if err != nil {
		return w.chartError(err, kind, s)
	}
	if w.HasEvents && (w.hiddenCount(w.Events) || kind == "p" && w.hiddenCount(w.Answer.Rows-w.Events)) {
		return &notebook.Error{Pos: w.ask.Pos, Code: "too-few-to-show",
			Text: fmt.Sprintf("this report hides counts below %d, and over all periods together fewer than %d rows were counted, or all but fewer than that, so the chart would show nothing or tell too much", w.ctx.Front.HideBelow, w.ctx.Front.HideBelow)}
	}
	w.noCountBelowZero(c)
	w.unfitForRuns(c)
	w.phaseWarnings(c.Warnings)
	if len(s.pending) > 0 {
		why := "The period had not ended by the data cut."
		if s.horizon > 0 {
			why = fmt.Sprintf("Their last rows could not yet be followed for %s by the data cut.", words.At(s.horizon))
		}
		w.caution("incomplete-periods", "Not yet complete and not drawn: %s. %s", words.List(s.pending), why)
	}
	w.chartTables(c, s, kind)
	w.chartFigure(c, s, kind, followed)
	w.chartReading(c, s, kind)
	w.sinceDecisions(c, s, kind, followed)
	w.chartMethods(kind, c)
	return nil
}

// noCountBelowZero keeps the limits of what cannot be negative from saying
// that it could.
func (w *work) noCountBelowZero(c *quality.Chart) {
	for i := range c.Points {
		c.Points[i].Lower = w.floor(c.Points[i].Lower)
	}
}

// floor is a lower limit, not below 0 where the chart is of counts.
func (w *work) floor(x float64) float64 {
	if w.ask.Outcome == "" {
		return math.Max(0, x)
	}
	return x
}

// unfitForRuns takes back what the run rules said of a phase in which more
// than half of the periods stand at 0 or at the full share: the rules take
// either side of the centre as equally likely, which they are not there.
func (w *work) unfitForRuns(c *quality.Chart) {
	if w.ask.Outcome != "" {
		return
	}
	for k, ph := range c.Phases {
		none, full := 0, 0
		for i := ph.From; i <= ph.To; i++ {
			p := c.Points[i]
			switch {
			case !p.HasValue:
			case p.Value == 0:
				none++
			case c.Kind == quality.KindP && p.Value == 1:
				full++
			}
		}
		if !ph.RunsTested || 2*max(none, full) <= ph.Points {
			continue
		}
		c.Phases[k].RunsTested = false
		for i := ph.From; i <= ph.To; i++ {
			if c.Points[i].Signal == quality.LongRun {
				c.Points[i].Signal = quality.NoSignal
			}
		}
		c.Signals = slices.DeleteFunc(c.Signals, func(g quality.Signal) bool { return g.Phase == k && g.Rule != quality.BeyondLimits })
		at := "none"
		if full > none {
			at = "all"
		}
		about := ""
		if len(c.Phases) > 1 {
			about = fmt.Sprintf("phase %d", k+1)
		}
		w.phaseWarnings([]stats.Warning{{Code: "runs-not-tested", About: about,
			Text: fmt.Sprintf("In more than half of the periods %s of the rows counted, so runs on one side of the centre and crossings were not judged. A longer period would serve better.", at)}})
	}
}

func (w *work) chartError(err error, kind string, s *series) error {
	switch {
	case errors.Is(err, quality.ErrFewPoints):
		return &notebook.Error{Pos: w.ask.Pos, Code: "few-points", Text: fmt.Sprintf("only %s complete with rows to count, and a chart needs at least %d; choose a shorter period or wait",
			words.N(len(s.periods), w.ask.Period+" is", w.ask.Period+"s are"), quality.MinPoints)}
	case errors.Is(err, quality.ErrNoVariation):
		return &notebook.Error{Pos: w.ask.Pos, Code: "no-variation", Text: "the values never change from one period to the next, so no limits follow"}
	case errors.Is(err, quality.ErrOptions):
		return w.at("baseline_points", "", notebook.CodeBadValue, "%s", strings.TrimPrefix(strings.TrimPrefix(err.Error(), "p chart: "), "xmr chart: "))
	}
	return err
}

func (w *work) chartTables(c *quality.Chart, s *series, kind string) {
	_, unit := w.chartValue()
	t := tableOf("points", text("series"), text("period"), number("value", unit), count("numerator"), count("denominator"),
		number("centre", unit), number("lower", unit), number("upper", unit), integer("phase"), text("signal"))
	for k, p := range c.Points {
		num, den := any(nil), any(int(s.den[k]))
		if w.HasEvents {
			num = int(s.num[k])
		}
		t.row("all", s.periods[k].name, when(p.HasValue, p.Value), num, den, when(p.HasLimits, p.Centre), when(p.HasLimits, p.Lower), when(p.HasLimits, p.Upper), p.Phase+1, orNil(string(p.Signal)))
	}
	w.addTable(t)
	t = tableOf("phases", text("series"), integer("phase"), text("from"), text("to"), number("centre", unit), integer("points"))
	for k, p := range c.Phases {
		t.row("all", k+1, s.periods[p.From].name, s.periods[p.To].name, when(p.HasLimits, p.Centre), p.Points)
	}
	w.addTable(t)
	t = tableOf("signals", text("series"), text("period"), text("rule"))
	for _, g := range c.Signals {
		t.row("all", s.periods[g.To].name, string(g.Rule))
	}
	w.addTable(t)
}

func (w *work) chartFigure(c *quality.Chart, s *series, kind string, ds []*notebook.Decision) {
	spec := figure.ControlSpec{ID: w.ask.ID, Percent: kind == "p", Goal: w.ask.Goal, Pending: s.pending}
	what, unit := w.chartValue()
	spec.ValueAxis, spec.Unit = words.Capital(what), unit
	spec.Title = words.Capital(what) + " by " + w.ask.Period
	if g := w.ask.Goal; g != nil && kind == "p" {
		x := goalShare(*g)
		spec.Goal = &x
	}
	switch w.ask.Better {
	case "lower":
		spec.Better = figure.BetterLower
	case "higher":
		spec.Better = figure.BetterHigher
	}
	signals := map[int][]string{}
	for _, g := range c.Signals {
		switch g.Rule {
		case quality.BeyondLimits:
			signals[g.To] = append(signals[g.To], "beyond the limits")
		case quality.LongRun:
			signals[g.To] = append(signals[g.To], fmt.Sprintf("%d on one side", g.Count))
		}
	}
	hidden := 0
	for k, p := range c.Points {
		if !p.HasValue {
			continue
		}
		if w.hiddenPoint(s, k) {
			hidden++
			spec.Points = append(spec.Points, figure.ControlPoint{Label: s.periods[k].name, Day: int(s.periods[k].start), Hidden: true})
			continue
		}
		ph := c.Phases[p.Phase]
		cp := figure.ControlPoint{Label: s.periods[k].name, Day: int(s.periods[k].start), Value: p.Value,
			Centre: math.NaN(), Lower: math.NaN(), Upper: math.NaN(), Phase: p.Phase + 1, Signals: signals[k]}
		if p.HasLimits {
			cp.Centre, cp.Lower, cp.Upper = p.Centre, p.Lower, p.Upper
		}
		cp.Baseline = w.ask.BaselinePoints > 0 && ph.LimitPoints > 0 && w.inBaseline(c, k)
		spec.Points = append(spec.Points, cp)
	}
	if hidden > 0 {
		w.caution("points-hidden", "%s not drawn, since %s for few people. A longer period would show more.", words.Capital(words.N(hidden, "point is", "points are")), plural(hidden, "it stands", "they stand"))
	}
	for k := 1; k < len(c.Phases); k++ {
		from := c.Phases[k].From
		lo, hi, ok := c.LimitsOf(k-1, from)
		if ok {
			spec.Old = append(spec.Old, figure.OldLimits{FromDay: int(s.periods[from].start), ToDay: int(s.periods[c.Phases[k].To].start),
				Centre: c.Phases[k-1].Centre, Lower: w.floor(lo), Upper: hi})
		}
	}
	for _, d := range ds {
		spec.Decisions = append(spec.Decisions, figure.Decision{Day: int(d.On), Text: d.What})
	}
	for _, p := range c.Phases {
		spec.TrialLimits = spec.TrialLimits || p.HasLimits && p.LimitPoints < quality.TrialPoints
	}
	w.Figures = append(w.Figures, figure.Control(spec))
}

// hiddenPoint says whether a point of a chart would tell a count that stands
// for few people.
func (w *work) hiddenPoint(s *series, k int) bool {
	if w.HasEvents {
		return w.hiddenCount(int(s.num[k])) || w.hiddenCount(int(s.den[k]-s.num[k]))
	}
	return w.hiddenCount(int(s.den[k]))
}

// goalShare reads a goal of a p chart, written as a share or in percent.
func goalShare(g float64) float64 {
	if g > 1 {
		return g / 100
	}
	return g
}

// inBaseline says whether point k is one of those that set the limits.
func (w *work) inBaseline(c *quality.Chart, k int) bool {
	ph := c.Phases[c.Points[k].Phase]
	seen := 0
	for i := ph.From; i <= k; i++ {
		if c.Points[i].HasValue {
			seen++
		}
	}
	return seen <= ph.LimitPoints
}
