package answer

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"plybook/analysis/cohort"
	"plybook/analysis/stats"
	"plybook/analysis/survival"
	"plybook/analysis/table"
	"plybook/reports/figure"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// looked is a group of lives looked at during visits, with its curve.
type looked struct {
	group
	curve   *survival.IntervalCurve
	points  []survival.Point // at each time at which a life ended, for the numbers still watched
	open    *disclosure
	shown   map[float64]bool // of `times`: reached by the curve, and not withheld
	seen    int
	gap     float64 // median days between looks
	hasGaps bool
}

// turnbull answers how long it is until something is seen that only visits
// can show.
func turnbull(w *work) error {
	l, seen, err := w.seenLives()
	if err != nil {
		return err
	}
	cluster, clusterName, err := w.clusters(l)
	if err != nil {
		return err
	}
	gs, err := w.groups(l, cluster)
	if err != nil {
		return err
	}
	if len(gs) == 0 || len(l.Time) == 0 {
		return stats.ErrNoRows
	}
	if gs, err = w.leaveOutSmall(l, gs); err != nil {
		return err
	}
	fits := make([]looked, len(gs))
	for k, g := range gs {
		if fits[k], err = w.looked(g, seen, cluster); err != nil {
			return fmt.Errorf("group %s: %w", g.name, err)
		}
		w.groupWarnings(g, fits[k].curve.Warnings)
	}
	ev := l.causes[0]
	w.lookedTimes(fits)
	w.lookedIntervals(fits)
	w.lookedQuantiles(fits)
	w.lookedFit(fits)
	w.competingCaution(l, ev)
	w.gapCaution(fits)
	if w.Events == 0 {
		w.caution("no-events", "No socket was %s, so the curve stays at 100%% and says only how long the sockets were watched.", ev.past)
	} else if w.Events < 10 {
		w.caution("few-events", "Only %s: the curve rests on few events and moves much with each.", w.n(w.Events, "socket was "+ev.past, "sockets were "+ev.past))
	}
	for _, f := range fits {
		if f.curve.Rows >= 10 && tailStart(&survival.Curve{Points: f.points}, 10) >= 0 {
			w.tailCaution("Curves are drawn faint where fewer than 10 sockets are still watched: chance rules there.")
			break
		}
	}
	if w.Events > 0 && aboutBrokenSkin(*w.ask.Event.Condition) {
		w.caution("skin", skinText)
	}
	w.Figures = append(w.Figures, w.lookedFigure(fits, ev))
	w.Reading = w.lookedReading(fits, ev)
	w.print(w.lookedPrint(fits))
	w.lookedMethods(l, ev, clusterName)
	return nil
}

// seenLives are the lives of an ask whose event is seen at visits.
func (w *work) seenLives() (*lives, *cohort.SeenLives, error) {
	if w.ask.Event == nil || w.ask.Event.Condition == nil {
		return nil, nil, w.at("event", "", notebook.CodeImpossible, "turnbull is for what is seen at visits only, such as {finding: ulcer}; the day of an ending is known, so ask kaplan-meier")
	}
	cond := *w.ask.Event.Condition
	for _, cl := range allClauses(cond) {
		if err := w.mayTest("event", cl); err != nil {
			return nil, nil, err
		}
	}
	for _, k := range [][2]string{{"start", w.ask.Start}, {"entry", w.ask.Entry}} {
		if k[1] == "" {
			continue
		}
		c, err := w.column(k[0], k[1])
		if err != nil {
			return nil, nil, err
		}
		if c.Kind != table.Date && (k[0] != "entry" || c.Kind == table.Text) {
			return nil, nil, w.at(k[0], k[1], notebook.CodeImpossible, "%s holds no dates", k[1])
		}
	}
	name := w.seenWords(cond)
	l := &lives{picked: w.table.Pick(w.rows), causes: []cause{{name: name, past: "found with " + name}}}
	all, err := w.ctx.Cohort.SeenLives(l.picked, cond, cohort.LifeSpec{Start: w.ask.Start, Entry: w.ask.Entry})
	if err != nil {
		if findings, ferr := w.ctx.Cohort.Rows("findings"); ferr == nil {
			err = w.conditionError("event", err, findings)
		}
		return nil, nil, err
	}
	got := all.Watched()
	l.Lives = &got.Lives
	w.steps = append(w.steps, got.Flow...)
	w.Answer.Rows, w.HasEvents = got.Len(), true
	w.restsOnSeen(l, cond)
	w.countEvents(l, indices(got.Len()))
	if n := got.ZeroDays; n > 0 {
		half := ""
		if w.takesIntervals() {
			half = ", and taken as half a day, since these curves know no time of 0"
		}
		w.caution("zero-days", "%s found so on the very day that the clock starts%s.", words.Capital(w.n(n, "socket was", "sockets were")), half)
		got.ZeroDays = 0 // else it would be said of them that they ended
	}
	w.lifeCautions(l)
	if gone := all.Len() - got.Len(); gone > 0 {
		w.caution("not-looked-at", "%s left out, since no visit could tell: nothing was recorded of it after delivery, or it was there when a socket that came under observation late was first looked at.",
			words.Capital(w.n(gone, "socket was", "sockets were")))
	}
	return l, got, nil
}

// seenWords is a condition on visits as what was found: of a finding its
// bare name.
func (w *work) seenWords(c table.Condition) string {
	if len(c.Any) == 0 && len(c.Clauses) == 1 && c.Clauses[0].Column == "finding" && len(c.Clauses[0].Values) > 0 {
		return strings.Join(c.Clauses[0].Values, " or ")
	}
	return w.conditionWords(c)
}

func aboutBrokenSkin(c table.Condition) bool {
	for _, cl := range allClauses(c) {
		for _, v := range cl.Values {
			if cl.Column == "finding" && brokenSkin[v] {
				return true
			}
		}
	}
	return false
}

// looked fits the curve of a group.
func (w *work) looked(g group, seen *cohort.SeenLives, cluster []int) (looked, error) {
	f := looked{group: g, shown: map[float64]bool{}}
	var d survival.IntervalData
	var gaps []float64
	ended := map[float64]*survival.Point{}
	for _, j := range g.index {
		d.Entry, d.Left, d.Right = append(d.Entry, seen.Entry[j]), append(d.Left, seen.Left[j]), append(d.Right, seen.Right[j])
		if cluster != nil {
			d.Cluster = append(d.Cluster, cluster[j])
		}
		at := math.Min(seen.Right[j], math.Max(seen.Left[j], seen.Entry[j]))
		event := !math.IsInf(seen.Right[j], 1)
		if event {
			at = seen.Right[j]
			f.seen++
		}
		p := ended[at]
		if p == nil {
			p = &survival.Point{Time: at}
			ended[at] = p
		}
		if event {
			p.Events++
		} else {
			p.Censored++
		}
		last := seen.Entry[j]
		for _, day := range seen.Looks[j] {
			if day > last {
				gaps = append(gaps, day-last)
				last = day
			}
		}
	}
	var err error
	if f.curve, err = survival.Turnbull(d, survival.TurnbullOptions{Level: w.ask.Confidence, Seed: uint64(w.ask.Seed)}); err != nil {
		return f, err
	}
	if len(gaps) > 0 {
		f.gap, f.hasGaps = median(gaps), true
	}
	for _, m := range f.curve.Masses {
		if !math.IsInf(m.Right, 1) && ended[m.Right] == nil {
			ended[m.Right] = &survival.Point{Time: m.Right}
		}
	}
	f.points = f.pointsAt(ended)
	f.open = w.disclose(f.points)
	return f, nil
}

// pointsAt is the curve at time 0 and wherever a life ended. Within an
// undetermined stretch the share is read off the slope.
func (f *looked) pointsAt(ended map[float64]*survival.Point) []survival.Point {
	if ended[0] == nil {
		ended[0] = &survival.Point{}
	}
	var out []survival.Point
	for _, p := range ended {
		out = append(out, *p)
	}
	sort.Slice(out, func(a, b int) bool { return out[a].Time < out[b].Time })
	for i := range out {
		f.at(&out[i])
	}
	return out
}

// at fills a point with the curve at its time.
func (f *looked) at(p *survival.Point) {
	p.AtRisk = float64(f.curve.AtRisk(p.Time))
	x, ok := f.curve.At(p.Time)
	if !ok {
		return
	}
	p.Estimate, p.Low, p.High, p.HasBounds = f.slope(p.Time), x.Low, x.High, x.HasBounds
}

// slope is the share at a time, drawn straight through undetermined
// stretches.
func (f *looked) slope(time float64) float64 {
	lowest, highest := 1.0, 1.0
	if x, ok := f.curve.At(time); ok {
		lowest, highest = x.Lowest, x.Highest
	}
	for _, m := range f.curve.Masses {
		if m.Left < time && time < m.Right && !math.IsInf(m.Right, 1) {
			return highest + (lowest-highest)*(time-m.Left)/(m.Right-m.Left)
		}
	}
	return lowest
}

func (w *work) lookedIntervals(fits []looked) {
	t := tableOf("intervals", text("group"), number("left", "days"), number("right", "days"), number("mass", ""), number("estimate", ""))
	for i := range fits {
		f := &fits[i]
		if !w.public() {
			for _, m := range f.curve.Masses {
				if math.IsInf(m.Right, 1) {
					t.row(f.name, m.Left, nil, m.Mass, nil)
					continue
				}
				t.row(f.name, m.Left, m.Right, m.Mass, m.After)
			}
			continue
		}
		points := f.publicPoints()
		for k := 1; k < len(points); k++ {
			a, b := points[k-1], points[k]
			t.row(f.name, a.Time, b.Time, a.Estimate-b.Estimate, b.Estimate)
		}
	}
	w.addTable(t)
}

// publicPoints are the points of a group that may be shown to a public
// audience.
func (f *looked) publicPoints() []survival.Point {
	points := f.open.thin(f.points)
	out := append([]survival.Point(nil), points...)
	for i := range out {
		x, ok := f.curve.At(out[i].Time)
		out[i].Estimate = f.slope(out[i].Time)
		out[i].Low, out[i].High, out[i].HasBounds = x.Low, x.High, ok && x.HasBounds
	}
	return out
}

func (w *work) lookedQuantiles(fits []looked) {
	qs := w.ask.Quantiles
	if len(qs) == 0 {
		qs = []float64{0.25, 0.5, 0.75}
	}
	t := tableOf("quantiles", text("group"), number("quantile", ""), number("estimate", "days"), number("low", "days"), number("high", "days"),
		number("left", "days"), number("right", "days"))
	for _, f := range fits {
		for _, p := range qs {
			if !w.tellsTimes(f.seen) {
				w.withhold(t, 2, []any{f.name, p})
				continue
			}
			q := w.intervalQuantile(f.curve, p)
			middle := q.Left.OK && q.Right.OK
			t.row(f.name, p, when(middle, (q.Left.Value+q.Right.Value)/2), when(middle && q.Low.OK, q.Low.Value), when(middle && q.High.OK, q.High.Value),
				when(middle, q.Left.Value), when(middle, q.Right.Value))
		}
	}
	w.addTable(t)
}

func (w *work) lookedTimes(fits []looked) {
	t := tableOf("at_times", text("group"), number("time", "days"), count("at_risk"), number("lowest", ""), number("highest", ""), number("low", ""), number("high", ""))
	withheld := false
	for i := range fits {
		f := &fits[i]
		for _, at := range sortedTimes(w.ask.Times) {
			p, ok := f.curve.At(at.Days)
			switch {
			case !ok:
				w.caution("beyond-follow-up", "%s: no socket was watched up to %s, so nothing can be said of that time.", w.groupName(f.name), words.At(at.Days))
				t.row(f.name, at.Days, 0, nil, nil, nil, nil)
			case f.open.allow(at.Days, float64(p.AtRisk)):
				f.shown[at.Days] = true
				t.row(f.name, at.Days, p.AtRisk, p.Lowest, p.Highest, when(p.HasBounds, p.Low), when(p.HasBounds, p.High))
			default:
				withheld = true
				w.withhold(t, 2, []any{f.name, at.Days})
			}
		}
	}
	if withheld {
		w.caution("times-hidden", "%s", w.timesHidden())
	}
	w.addTable(t)
}

// unequalGaps is the ratio of median gaps between visits from which groups
// count as seen unequally often.
const unequalGaps = 1.25

// gapCaution warns where one group is seen less often than another.
func (w *work) gapCaution(fits []looked) {
	var short, long *looked
	for i := range fits {
		f := &fits[i]
		if !f.hasGaps {
			continue
		}
		if short == nil || f.gap < short.gap {
			short = f
		}
		if long == nil || f.gap > long.gap {
			long = f
		}
	}
	if short == nil || long.gap < unequalGaps*short.gap {
		return
	}
	w.caution("visit-gaps", "The groups are not seen equally often: the median gap between visits that could tell is %s in the group %s and %s in the group %s. A group seen less often is found out later and so looks better by the day of the visit; its curve is undetermined for longer instead. Who is seen more often because of trouble is not allowed for.",
		words.Span(short.gap), w.display(short.name), words.Span(long.gap), w.display(long.name))
}

func (w *work) lookedFigure(fits []looked, ev cause) *figure.Figure {
	spec := figure.CurvesSpec{
		ID: w.ask.ID, Title: "Sockets not yet " + ev.past + byWords(w.ask.By), Direction: figure.Down,
		ValueAxis: "Sockets not yet " + ev.past, TimeAxis: w.timeAxis(), Rows: "sockets",
		EventWord: "found", Confidence: w.ask.Confidence, HideBelow: w.ctx.Front.HideBelow, Sparse: w.public(),
	}
	for _, t := range w.ask.Times {
		spec.Landmarks = append(spec.Landmarks, t.Days)
	}
	for i := range fits {
		f := &fits[i]
		var c figure.Curve
		if w.public() {
			c.Steps = figureSteps(f.publicPoints())
		} else {
			points := append([]survival.Point(nil), f.points...)
			for k, p := range points {
				if x, ok := f.curve.At(p.Time); ok {
					points[k].Estimate = x.Highest // the fall is drawn by its stretch
				}
			}
			c.Steps = figureSteps(points)
			for _, m := range f.curve.Masses {
				if m.Left < m.Right && !math.IsInf(m.Right, 1) {
					c.Open = append(c.Open, figure.Stretch{From: m.Left, To: m.Right})
				}
			}
		}
		if len(fits) > 1 || f.name != "all" {
			c.Group = w.display(f.name)
		}
		spec.Curves = append(spec.Curves, c)
	}
	return figure.Curves(spec)
}
