package answer

import (
	"errors"
	"fmt"
	"math"

	"plybook/analysis/cohort"
	"plybook/analysis/stats"
	"plybook/analysis/survival"
	"plybook/analysis/table"
	"plybook/reports/figure"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// counted is a group of subjects with repeated events, with its curve.
type counted struct {
	name  string
	data  survival.RecurrentData
	curve *survival.MeanCurve
	rate  survival.Rate // a year of the subject
	none  int           // subjects without an event
	open  *disclosure
	shown map[float64]bool // of `times`: reached by the curve, and not withheld
}

// repeated is what the ask counts.
type repeated struct {
	*cohort.Repeats
	what     string // plural: "remakes", "walk-in visits"
	terminal []bool // no event can come after the subject's exit
	ends     string // what those are
}

// meanCumulative answers how many of something limbs come to, on average.
func meanCumulative(w *work) error {
	r, err := w.repeatedEvents()
	if err != nil {
		return err
	}
	cluster, clusterName, err := w.repeatClusters(r)
	if err != nil {
		return err
	}
	fits, err := w.countedGroups(r, cluster)
	if err != nil {
		return err
	}
	for k := range fits {
		f := &fits[k]
		if f.curve, err = survival.MeanCumulative(f.data, survival.CurveOptions{Level: w.ask.Confidence}); err != nil {
			return fmt.Errorf("group %s: %w", f.name, err)
		}
		if f.rate, err = survival.PoissonRate(f.curve.Events, f.curve.Watched/table.DaysPerYear, w.ask.Confidence); err != nil {
			return fmt.Errorf("group %s: %w", f.name, err)
		}
		f.shown = map[float64]bool{}
		f.open = w.disclose(f.curve.Points, f.deaths())
		w.groupWarnings(group{name: f.name}, f.curve.Warnings)
	}
	w.countedTimes(fits)
	w.countedCurves(fits)
	w.countedRates(fits)
	test, err := w.countedTest(fits, clusterName)
	if err != nil {
		return err
	}
	w.countedCautions(r, fits)
	w.Figures = append(w.Figures, w.countedFigure(r, fits))
	w.Reading = w.countedReading(r, fits, test)
	w.print(w.countedPrint(r, fits))
	w.countedMethods(r, fits, clusterName, test)
	return nil
}

// deaths are the deaths as the steps of a curve.
func (f *counted) deaths() []survival.Point {
	out := make([]survival.Point, len(f.curve.Points))
	for i, p := range f.curve.Points {
		out[i] = survival.Point{Time: p.Time, AtRisk: p.AtRisk, Events: f.curve.Deaths[i]}
	}
	return out
}

func (w *work) countedGroups(r *repeated, cluster []int) ([]counted, error) {
	one, many := w.nouns()
	index := map[string][]int{}
	if w.ask.By == "" {
		index["all"] = indices(len(r.Row))
	} else {
		c, err := w.column("by", w.ask.By)
		if err != nil {
			return nil, err
		}
		var late *cohort.LaterError
		if err := w.ctx.Cohort.CheckKnown([]string{w.ask.By}, w.table, false); errors.As(err, &late) {
			return nil, w.at("by", w.ask.By, "known-later", "%s is known only after the watch begins and cannot explain what follows", w.ask.By)
		} else if err != nil {
			return nil, err
		}
		c = c.Pick(w.rowsOf(r))
		missing := 0
		for j := range r.Row {
			if c.Missing[j] {
				missing++
				continue
			}
			index[valueText(c, j)] = append(index[valueText(c, j)], j)
		}
		if missing > 0 {
			w.caution("missing", "%s left out because %s is not recorded.", words.Capital(w.n(missing, one+" was", many+" were")), label(c))
			w.Answer.Rows -= missing
		}
		if len(index) > maxGroups {
			return nil, w.at("by", w.ask.By, notebook.CodeImpossible, "%s has %d groups, more than the %d that can be told apart; group them first", w.ask.By, len(index), maxGroups)
		}
	}
	names := make([]string, 0, len(index))
	for k := range index {
		names = append(names, k)
	}
	sortGroups(names)
	var out []counted
	var gone []string
	w.Events = 0
	for _, name := range names {
		if w.smallCount(len(index[name])) && w.ask.By != "" {
			gone = append(gone, w.display(name))
			w.Answer.Rows -= len(index[name])
			continue
		}
		g := counted{name: name}
		for _, j := range index[name] {
			g.data.Entry, g.data.Exit = append(g.data.Entry, r.Entry[j]), append(g.data.Exit, r.Exit[j])
			g.data.Died = append(g.data.Died, r.terminal[j])
			var at []float64
			for _, e := range r.Events[j] {
				at = append(at, e.Time)
			}
			g.data.Events = append(g.data.Events, at)
			if cluster != nil {
				g.data.Cluster = append(g.data.Cluster, cluster[j])
			}
			w.Events += len(at)
			if len(at) == 0 {
				g.none++
			}
		}
		if len(index[name]) < 5 && w.ask.By != "" {
			w.caution("small-group", "The group %s has only %s.", w.display(name), w.n(len(index[name]), one, many))
		}
		out = append(out, g)
	}
	if len(gone) > 0 {
		w.caution("groups-hidden", "Left out, since this report hides counts below %d: %s.", w.ctx.Front.HideBelow, words.List(gone))
	}
	if len(out) == 0 {
		if len(gone) > 0 {
			return nil, w.tooFew(1)
		}
		return nil, stats.ErrNoRows
	}
	return out, w.tooFew(w.Answer.Rows)
}

func (w *work) countedCurves(fits []counted) {
	t := tableOf("curve", append([]Column{text("group")}, curveColumns...)...)
	for _, f := range fits {
		for _, p := range f.open.thin(f.curve.Points) {
			t.row(append([]any{f.name}, pointValues(p)...)...)
		}
	}
	w.addTable(t)
}

func (w *work) countedTimes(fits []counted) {
	_, many := w.nouns()
	t := tableOf("at_times", append([]Column{text("group")}, curveColumns...)...)
	withheld := false
	for _, f := range fits {
		for _, at := range sortedTimes(w.ask.Times) {
			p, ok := f.curve.At(at.Days)
			switch {
			case !ok:
				w.caution("beyond-follow-up", "%s: none of the %s was still watched at %s, so nothing can be said of that time.", w.groupName(f.name), many, words.At(at.Days))
				t.row(f.name, at.Days, 0, nil, nil, nil, nil, nil, nil)
			case f.open.allow(at.Days, p.AtRisk):
				f.shown[at.Days] = true
				t.row(append([]any{f.name}, pointValues(p)...)...)
			default:
				withheld = true
				w.withhold(t, 2, []any{f.name, at.Days})
			}
		}
	}
	if withheld {
		w.caution("times-hidden", "Means are hidden at times up to which, or since the time shown before, fewer than %d events happened or fewer than that were left: the mean would tell the count.", w.ctx.Front.HideBelow)
	}
	w.addTable(t)
}

// countedRates are events for a hundred years of a subject.
func (w *work) countedRates(fits []counted) {
	one, _ := w.nouns()
	t := tableOf("rates", text("group"), count("rows"), count("events"), number("years", one+"-years"), number("estimate", "per 100 "+one+"-years"), number("low", ""), number("high", ""))
	for _, f := range fits {
		if w.hiddenCount(int(f.curve.Events)) {
			w.withhold(t, 2, []any{f.name, f.curve.Rows})
			continue
		}
		t.row(f.name, f.curve.Rows, int(f.curve.Events), f.rate.Watched, when(f.rate.HasRate, 100*f.rate.Estimate), when(f.rate.HasRate, 100*f.rate.Low), when(f.rate.HasRate, 100*f.rate.High))
	}
	w.addTable(t)
}

// countedTest compares the groups.
func (w *work) countedTest(fits []counted, cluster string) (*stats.Test, error) {
	t := tableOf("tests", text("test"), number("statistic", ""), integer("df"), number("p", ""))
	defer func() { w.addTable(t) }()
	if len(fits) < 2 {
		return nil, nil
	}
	var data []survival.RecurrentData
	for _, f := range fits {
		data = append(data, f.data)
	}
	x, err := survival.MeanTest(data)
	if errors.Is(err, survival.ErrNoComparison) || errors.Is(err, stats.ErrSingular) {
		w.caution("no-comparison", "The groups could not be compared: too few events were seen while more than one group was watched, or in too few persons.")
		return nil, nil
	}
	if err != nil {
		return nil, err
	}
	if cluster != "" {
		x.Name += " grouped by " + cluster
	}
	t.row(x.Name, x.Statistic, int(x.DF), x.P)
	if len(fits) > 2 {
		w.caution("many-comparisons", "With %d groups there are %d differences to look at; the largest of them looks more striking than it is. The test of all groups together comes first.",
			len(fits), len(fits)*(len(fits)-1)/2)
	}
	return &x, nil
}

func (w *work) countedCautions(r *repeated, fits []counted) {
	_, many := w.nouns()
	if w.Events == 0 {
		w.caution("no-events", "There were no %s, so the mean stays at 0 and says only how long the %s were watched.", r.what, many)
	} else if w.Events < 10 {
		w.caution("few-events", "Only %s: the mean rests on few events and moves much with each.", w.n(w.Events, "event was counted", "events were counted"))
	}
	for _, f := range fits {
		if f.curve.Rows >= 10 && tailStart(&survival.Curve{Points: f.curve.Points}, 10) >= 0 {
			w.tailCaution("Curves are drawn faint where fewer than 10 %s are watched: chance rules there.", many)
			break
		}
	}
	if r.Outside > 0 {
		w.caution("outside", "%s not counted: before the watch began, or after it ended.", words.Capital(w.n(r.Outside, "event was", "events were")))
	}
	if w.Events > 0 && w.ask.Event.Condition != nil && aboutBrokenSkin(*w.ask.Event.Condition) {
		w.caution("skin", skinText)
	}
}

func (w *work) countedFigure(r *repeated, fits []counted) *figure.Figure {
	one, many := w.nouns()
	spec := figure.CurvesSpec{
		ID: w.ask.ID, Title: "Mean number of " + r.what + " a " + one + byWords(w.ask.By), Direction: figure.Up, Plain: true, Repeated: true,
		ValueAxis: "Mean number of " + r.what + " a " + one, TimeAxis: "Time since " + w.watchZero(), Rows: many,
		Confidence: w.ask.Confidence, HideBelow: w.ctx.Front.HideBelow, Sparse: w.public(),
	}
	for _, t := range w.ask.Times {
		spec.Landmarks = append(spec.Landmarks, t.Days)
	}
	for _, f := range fits {
		c := figure.Curve{Steps: figureSteps(f.open.thin(f.curve.Points))}
		for k := range c.Steps {
			if k > 0 && math.IsNaN(c.Steps[k].Low) && c.Steps[k].Estimate == 0 {
				c.Steps[k].Low, c.Steps[k].High = 0, 0
			}
		}
		if len(fits) > 1 || f.name != "all" {
			c.Group = w.display(f.name)
		}
		spec.Curves = append(spec.Curves, c)
	}
	return figure.Curves(spec)
}

// watchZero is what the clock of a subject starts at.
func (w *work) watchZero() string {
	if w.table.Name == "sockets" {
		return w.timeZero()
	}
	return "the first delivery"
}
