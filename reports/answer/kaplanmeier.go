package answer

import (
	"errors"
	"fmt"
	"math"

	"plybook/analysis/stats"
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
	o := survival.CurveOptions{Level: w.ask.Confidence, Bounds: scales[w.ask.Bounds]}
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
	until := last
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
	tests, err := w.survivalTests(fits, clusterName != "")
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
	w.Reading = w.kaplanMeierReading(fits, ev, until, diffs, tests)
	shown := w.survivalPrint(fits, until)
	shown.Notes = append(shown.Notes, w.unseenNote(l, gs))
	w.print(shown)
	w.kaplanMeierMethods(l, ev, clusterName, tests)
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

// survivalTests compares the groups: the log-rank test, and where persons
// repeat the score test that allows for it.
func (w *work) survivalTests(fits []fitted, clustered bool) ([]stats.Test, error) {
	t := tableOf("tests", text("test"), number("statistic", ""), integer("df"), number("p", ""))
	defer func() { w.addTable(t) }()
	if len(fits) < 2 {
		return nil, nil
	}
	var data []survival.Data
	var names []string
	for _, f := range fits {
		data, names = append(data, f.data), append(names, f.name)
	}
	r, err := survival.LogRank(data, names, survival.LogRankOptions{})
	if err != nil {
		if errors.Is(err, survival.ErrNoComparison) || errors.Is(err, stats.ErrNoEvents) {
			w.caution("no-comparison", "The groups could not be compared: no event was seen while more than one group was at risk.")
			return nil, nil
		}
		return nil, err
	}
	out := []stats.Test{r.Test}
	if clustered {
		if s, err := clusteredScore(fits); err == nil {
			out = append(out, s)
			w.caution("test-not-clustered", "The log-rank test takes sockets of one person as independent. The clustered score test beside it does not; read that one.")
		} else {
			w.caution("no-clustered-test", "The log-rank test takes sockets of one person as independent, and the score test that does not could not be computed: too few persons, or a group without events. Read its p-value with care.")
		}
	}
	for _, x := range out {
		t.row(x.Name, x.Statistic, int(x.DF), x.P)
	}
	if len(fits) > 2 {
		w.caution("many-comparisons", "With %d groups there are %d differences to look at; the largest of them looks more striking than it is. The test of all groups together comes first.",
			len(fits), len(fits)*(len(fits)-1)/2)
	}
	return out, nil
}

// clusteredScore is the score test of a Cox model with the groups as terms,
// with grouped score residuals.
func clusteredScore(fits []fitted) (stats.Test, error) {
	var d survival.CoxData
	for k, f := range fits {
		for i := range f.data.Time {
			d.Entry = append(d.Entry, f.data.Entry[i])
			d.Time = append(d.Time, f.data.Time[i])
			d.Event = append(d.Event, f.data.Cause[i] > 0)
			d.Cluster = append(d.Cluster, f.data.Cluster[i])
		}
		if k > 0 {
			d.Names = append(d.Names, f.name)
		}
	}
	for k := 1; k < len(fits); k++ {
		x := make([]float64, 0, len(d.Time))
		for j, f := range fits {
			for range f.data.Time {
				if j == k {
					x = append(x, 1)
				} else {
					x = append(x, 0)
				}
			}
		}
		d.X = append(d.X, x)
	}
	c, err := survival.FitCox(d, survival.CoxOptions{})
	if err != nil {
		return stats.Test{}, err
	}
	if !c.HasRobustScore {
		return stats.Test{}, errors.New("too few persons")
	}
	t := c.RobustScore
	t.Name = "score test grouped by person"
	return t, nil
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
