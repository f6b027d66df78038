package answer

import (
	"errors"
	"fmt"
	"math"

	"plybook/analysis/survival"
	"plybook/analysis/table"
	"plybook/reports/figure"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// smoothed adds the rate by time in use, its table and its figure, where it
// is asked for, and returns what the reading says of it.
func (w *work) smoothed(fits []fitted, ev cause, o survival.CurveOptions) ([]string, error) {
	if w.ask.Hazard == nil {
		return nil, nil
	}
	var said []string
	t := tableOf("hazard", text("group"), number("time", "days"), count("at_risk"), number("estimate", "per 100 socket-years"),
		number("std_error", ""), number("low", ""), number("high", ""))
	defer func() { w.addTable(t) }()
	spec := figure.TrajectoriesSpec{ID: w.ask.ID + "-rate", Title: "How often sockets were " + ev.past + ", by time in use" + byWords(w.ask.By),
		XAxis: w.timeAxis(), XDays: true, YAxis: words.Capital(ev.past) + " a year, per 100 sockets in use", Confidence: w.ask.Confidence}
	for _, f := range fits {
		points, err := w.rateByTime(f, o)
		if err != nil {
			return nil, err
		}
		if f.counted() < 10 {
			w.caution("few-events-rate", "%s: the rate by time in use rests on fewer than 10 events, and its rises and falls say little.", w.groupName(f.name))
		}
		g := figure.GroupLine{Name: w.display(f.name)}
		if f.name == "all" && w.ask.By == "" {
			g.Name = "all sockets"
		}
		const unit = 100 * table.DaysPerYear
		for _, p := range points {
			t.row(f.name, p.Time, p.AtRisk, unit*p.Estimate, when(p.HasBounds, unit*p.StdErr), when(p.HasBounds, unit*p.Low), when(p.HasBounds, unit*p.High))
			b := figure.BandPoint{X: p.Time, Y: unit * p.Estimate, Low: math.NaN(), High: math.NaN()}
			if p.HasBounds {
				b.Low, b.High = unit*p.Low, unit*p.High
			}
			g.Line = append(g.Line, b)
		}
		spec.Groups = append(spec.Groups, g)
		if x := w.rateSentence(f, points, ev); x != "" && len(said) < 3 {
			said = append(said, x)
		}
	}
	if len(t.Rows) == 0 {
		w.caution("no-rate", "The rate by time in use is not shown: at no time were enough sockets at risk, or enough events within %s of it.", words.At(w.ask.Hazard.Days))
		return nil, nil
	}
	w.Figures = append(w.Figures, figure.Trajectories(spec))
	sum, err := w.cumulativeFigure(fits, ev, o)
	if err != nil {
		return nil, err
	}
	w.Figures = append(w.Figures, sum)
	return said, nil
}

// cumulativeFigure draws the rate summed up over time (Nelson and Aalen), of
// which the smoothed rate is the slope: what is smoothed away can be seen in
// it.
func (w *work) cumulativeFigure(fits []fitted, ev cause, o survival.CurveOptions) (*figure.Figure, error) {
	spec := figure.CurvesSpec{ID: w.ask.ID + "-cumulative", Title: "The rate summed up (Nelson-Aalen)" + byWords(w.ask.By), Direction: figure.Up, Plain: true,
		ValueAxis: "Cumulative rate of being " + ev.past, Unit: "per socket", TimeAxis: w.timeAxis(), Rows: "sockets", EventWord: "events",
		Confidence: w.ask.Confidence, HideBelow: w.ctx.Front.HideBelow, Sparse: w.public()}
	for _, f := range fits {
		h, err := survival.NelsonAalen(f.data, survival.CurveOptions{Level: o.Level, Jackknife: o.Jackknife})
		if err != nil {
			return nil, fmt.Errorf("group %s: %w", f.name, err)
		}
		c := figure.Curve{Steps: figureSteps(f.open.thin(h.Points))}
		if w.ask.By != "" {
			c.Group = w.display(f.name)
		}
		spec.Curves = append(spec.Curves, c)
	}
	return figure.Curves(spec), nil
}

// rateSentence says the rate near the start and the end of what is shown.
func (w *work) rateSentence(f fitted, points []survival.Point, ev cause) string {
	var known []survival.Point
	for _, p := range points {
		if p.HasBounds {
			known = append(known, p)
		}
	}
	if len(known) < 2 {
		return ""
	}
	const unit = 100 * table.DaysPerYear
	say := func(p survival.Point) string {
		return fmt.Sprintf("%s a year (%s) at %s", words.Rate(unit*p.Estimate, unit*p.Low, unit*p.High), words.RateRange(unit*p.Low, unit*p.High), words.Span(p.Time))
	}
	who := "in use"
	if f.name != "all" || w.ask.By != "" {
		who = "in use in the group " + w.display(f.name)
	}
	return fmt.Sprintf("Of 100 sockets %s, %s were %s and %s.", who, say(known[0]), ev.past, say(known[len(known)-1]))
}

// rateByTime is the smoothed hazard of a group, from half a bandwidth after
// the start to half a bandwidth before the end, or to where fewer than 10 are
// at risk. A public audience is shown a point each quarter of a year that
// rests on enough events and sockets.
func (w *work) rateByTime(f fitted, o survival.CurveOptions) ([]survival.Point, error) {
	h, err := survival.NelsonAalen(f.data, survival.CurveOptions{Level: o.Level, Jackknife: o.Jackknife})
	if err != nil {
		return nil, err
	}
	b := w.ask.Hazard.Days
	last := h.LastTime - b/2
	if tail := tailStart(f.curve, 10); tail >= 0 && f.curve.Rows >= 10 {
		last = math.Min(last, tail)
	}
	var times []float64
	const steps = 80
	switch {
	case w.public():
		for q := 1.0; q*table.DaysPerYear/4 <= last; q++ {
			times = append(times, q*table.DaysPerYear/4)
		}
	case last > b/2:
		for i := range steps + 1 {
			times = append(times, b/2+(last-b/2)*float64(i)/steps)
		}
	}
	points, err := h.Smooth(times, b)
	var wide *survival.BandwidthError
	if errors.As(err, &wide) {
		return nil, w.at("hazard", "", notebook.CodeImpossible, "the rate by time in use cannot be smoothed over %s to either side: %s was watched for %s only; take at most half of that",
			words.At(b), w.groupInSentence(f.name), words.Span(h.LastTime))
	}
	if err != nil {
		return nil, err
	}
	var out []survival.Point
	for _, p := range points {
		if w.public() && (w.hiddenCount(int(p.Events)) || p.AtRisk < float64(w.ctx.Front.HideBelow)) {
			continue
		}
		out = append(out, p)
	}
	return out, nil
}

// groupInSentence is a group within a sentence.
func (w *work) groupInSentence(name string) string {
	if name == "all" && w.ask.By == "" {
		return "the longest socket"
	}
	return "the longest socket of the group " + w.display(name)
}
