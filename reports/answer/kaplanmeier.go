package answer

import (
	"fmt"
	"math"
	"strings"

	"plybook/analysis/survival"
	"plybook/reports/figure"
)

var scales = map[string]survival.Scale{
	"complementary-log-log": survival.ComplementaryLogLog,
	"log":                   survival.Log,
	"untransformed":         survival.Untransformed,
	"logit":                 survival.Logit,
}

// fitted is a group with its curve, and which times of it may be shown.
type fitted struct {
	group
	curve *survival.Curve
	open  *disclosure
	shown map[float64]bool // of `times`: reached by the curve, and not withheld
}

// kaplanMeier answers how long sockets last.
func kaplanMeier(w *work) error {
	l, gs, clusterName, err := w.groupedLives(false)
	if err != nil {
		return err
	}
	shares, err := w.weigh(l, gs)
	if err != nil {
		return err
	}
	o := survival.CurveOptions{Level: w.ask.Confidence, Bounds: scales[w.ask.Bounds], Jackknife: shares}
	fits := make([]fitted, len(gs))
	last := math.Inf(1)
	for k, g := range gs {
		c, err := survival.KaplanMeier(g.data, o)
		if err != nil {
			return fmt.Errorf("group %s: %w", g.name, err)
		}
		fits[k] = fitted{group: g, curve: c, open: w.disclose(c.Points), shown: map[float64]bool{}}
		last = math.Min(last, c.LastTime)
		w.groupWarnings(g, c.Warnings)
	}
	until := w.periodEnd(fits, last)
	if w.ask.Until != nil {
		until = w.ask.Until.Days
	}
	ev := l.causes[0]
	w.atTimesTable(fits)
	w.curveTable(fits)
	w.quantileTable(fits)
	diffs, err := w.rmstTable(fits, until)
	if err != nil {
		return err
	}
	if err := w.timeLostTable(fits, until); err != nil {
		return err
	}
	tests, err := w.survivalTests(l, fits, clusterName != "", shares)
	if err != nil {
		return err
	}
	if err := w.hazardTable(fits, o); err != nil {
		return err
	}
	watched, err := w.watchedTables(l, fits, o)
	if err != nil {
		return err
	}
	w.competingCaution(l, ev)
	w.unknownEndings(l, ev)
	w.notSeenTwice(l, ev)
	if w.Events == 0 {
		w.caution("no-events", "No socket was %s, so the curve stays at 100%% and says only how long the sockets were watched.", ev.past)
	} else if w.Events < 10 {
		w.caution("few-events", "%s: the curve rests on few events and moves much with each.", w.only(w.Events, "socket was "+ev.past, "sockets were "+ev.past))
	}
	for _, f := range fits {
		if tail := tailStart(f.curve, 10); tail >= 0 && f.curve.Rows >= 10 {
			w.tailCaution("Curves are drawn faint where fewer than 10 sockets are at risk: chance rules there.")
			break
		}
	}
	w.Figures = append(w.Figures, w.curvesFigure(fits, ev))
	rates, err := w.smoothed(fits, ev, o)
	if err != nil {
		return err
	}
	w.Reading = strings.Join(append([]string{w.kaplanMeierReading(fits, ev, until, diffs, tests)}, rates...), " ")
	shown := w.survivalPrint(fits, until)
	shown.Notes = append(shown.Notes, w.unseenNote(l, gs))
	w.print(shown, watched)
	w.kaplanMeierMethods(l, ev, clusterName, tests)
	w.Methods += w.weightedMethods(shares)
	return nil
}

// tailCaution explains faint lines; a report that hides small counts has none.
func (w *work) tailCaution(format string, args ...any) {
	if w.ctx.Front.HideBelow <= 1 {
		w.caution("tail", format, args...)
	}
}

func tailStart(c *survival.Curve, below float64) float64 {
	for _, p := range c.Points[1:] {
		if p.AtRisk < below {
			return p.Time
		}
	}
	return -1
}

func (w *work) curvesFigure(fits []fitted, ev cause) *figure.Figure {
	spec := figure.CurvesSpec{
		ID: w.ask.ID, Title: "Sockets not yet " + ev.past + byWords(w.ask.By), Direction: figure.Down,
		ValueAxis: "Sockets not yet " + ev.past, TimeAxis: w.timeAxis(), Rows: "sockets",
		EventWord: "events", Confidence: w.ask.Confidence,
	}
	for _, t := range w.ask.Times {
		spec.Landmarks = append(spec.Landmarks, t.Days)
	}
	for _, f := range fits {
		c := figure.Curve{Steps: figureSteps(f.open.thin(f.curve.Points))}
		if len(fits) > 1 || f.name != "all" {
			c.Group = w.display(f.name)
		}
		spec.Curves = append(spec.Curves, c)
	}
	spec.HideBelow, spec.Sparse = w.ctx.Front.HideBelow, w.public()
	return figure.Curves(spec)
}

// figureSteps are the steps of a curve; the figure itself withholds what
// stands for few.
func figureSteps(points []survival.Point) []figure.Step {
	out := make([]figure.Step, len(points))
	for i, p := range points {
		s := figure.Step{Time: p.Time, Estimate: p.Estimate, Low: math.NaN(), High: math.NaN(),
			AtRisk: int(math.Round(p.AtRisk)), Events: int(math.Round(p.Events)), Censored: int(math.Round(p.Censored))}
		if p.HasBounds {
			s.Low, s.High = p.Low, p.High
		}
		out[i] = s
	}
	return out
}
