package answer

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"plybook/analysis/quality"
	"plybook/analysis/stats"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// controlChart answers whether the lab is getting better or it is noise.
func controlChart(w *work) error {
	j := &chartJob{work: w, made: w.followed()}
	if err := j.prepare(); err != nil {
		return err
	}
	if err := j.choose(); err != nil {
		return err
	}
	j.settle()
	if err := j.tooFewToShow(); err != nil {
		return err
	}
	j.noCountBelowZero()
	j.unfitForRuns()
	for _, x := range j.chart.Warnings {
		if j.singly() {
			x.Text = strings.NewReplacer("periods", "cases", " A longer period may help.", "").Replace(x.Text)
		}
		w.phaseWarnings([]stats.Warning{x})
	}
	j.cautions()
	j.tables()
	j.figure()
	j.read()
	j.sinceDecisions()
	j.printed()
	j.methods()
	return nil
}

// tooFewToShow refuses what would show nothing, or tell too much, where small
// counts are hidden.
func (j *chartJob) tooFewToShow() error {
	w := j.work
	if !w.HasEvents || !w.smallCount(w.Events) && !(j.kind == quality.KindP && w.smallCount(w.Answer.Rows-w.Events)) {
		return nil
	}
	return &notebook.Error{Pos: w.ask.Pos, Code: "too-few-to-show",
		Text: fmt.Sprintf("this report hides counts below %d, and over all periods together fewer than %d rows were counted, or all but fewer than that, so the chart would show nothing or tell too much", w.ctx.Front.HideBelow, w.ctx.Front.HideBelow)}
}

// cautions are those of the chart chosen, beside those of its limits.
func (j *chartJob) cautions() {
	w, s := j.work, j.s
	if len(s.pending) > 0 && !j.gaps() {
		why := "The period had not ended by the data cut."
		if j.days > 0 {
			why = fmt.Sprintf("Their last rows could not yet be followed for %s by the data cut.", words.At(j.days))
		}
		w.caution("incomplete-periods", "Not yet complete and not drawn: %s. %s", words.List(s.pending), why)
	}
	if len(s.pending) > 0 && j.gaps() {
		why := "not all rows of those days may be written down yet"
		if j.days > 0 {
			why = fmt.Sprintf("they could not yet be followed for %s", words.At(j.days))
		}
		w.caution("incomplete-periods", "Not counted: %s, since %s.", words.List(s.pending), why)
	}
	if b := j.ask.BaselinePoints; b > 0 && b > j.chart.Phases[0].LimitPoints {
		w.caution("baseline-longer", "The key `baseline_points` asks for %d %s, and there are %d%s: all of them set the limits, so that none is held against what came before.", b, j.things(), j.chart.Phases[0].LimitPoints, map[bool]string{true: " in the first phase"}[len(j.chart.Phases) > 1])
	}
	if s.provisional > 0 {
		first := s.periods[len(s.periods)-s.provisional]
		w.caution("late-entry", "From %s on rows may still come in, up to %s late. Those %s are marked and not judged.",
			first.name, words.At(j.lag), j.ask.Period+"s")
	}
	if 10*s.tied > len(s.periods) && s.tied > 1 && j.singly() {
		w.caution("same-day", "%s of %d cases share their day with others. Their order on that day is as in the log, and the limits, which come from neighbours, hang on it.", words.Fixed(float64(s.tied), 0), len(s.periods))
	} else if 10*s.tied > len(s.periods) && s.tied > 1 {
		w.caution("same-day", "%s of %d events share their day with other cases. Their order on that day is as in the log, so the counts between can be off by a few.", words.Fixed(float64(s.tied), 0), len(s.periods))
	}
	if j.kind == quality.KindC {
		j.unevenExposure()
	}
	if j.moved {
		w.caution("chart-chosen", "The chart was chosen from the data (%s chart), and more data may choose another. Write chart: %s to keep it.", j.kindWords(), j.kind)
	}
}

// unevenExposure warns where a count per period is drawn though the sockets
// in use, which give rise to what is counted, were far from steady.
func (j *chartJob) unevenExposure() {
	if j.work.table.Name == "persons" || j.work.table.Name == "limbs" {
		return
	}
	all := &chartJob{work: &work{Answer: &Answer{}, ctx: j.ctx, ask: &notebook.Ask{}, table: j.work.table}}
	e, err := all.socketMonths()
	if err != nil {
		return
	}
	least, most := math.Inf(1), 0.0
	for _, p := range j.s.periods {
		x := e.over(p.start, p.end) / (p.end - p.start)
		least, most = math.Min(least, x), math.Max(most, x)
	}
	if least > 0 && most > 1.25*least {
		j.caution("uneven-exposure", "The number of sockets in use was not steady: at its most %s times its least. A count rises with it; chart: u with exposure: socket-months allows for that.", words.Fixed(most/least, 1))
	}
}

// noCountBelowZero keeps the limits of what cannot be negative from saying
// that it could.
func (j *chartJob) noCountBelowZero() {
	for i := range j.chart.Points {
		j.chart.Points[i].Lower = j.floor(j.chart.Points[i].Lower)
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
func (j *chartJob) unfitForRuns() {
	w, c := j.work, j.chart
	if w.ask.Outcome != "" || j.gaps() {
		return
	}
	for k, ph := range c.Phases {
		none, full := 0, 0
		for i := ph.From; i <= ph.To; i++ {
			p := c.Points[i]
			switch {
			case !p.HasValue || p.Provisional:
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

func (j *chartJob) chartError(err error) error {
	w, s := j.work, j.s
	switch {
	case errors.Is(err, quality.ErrFewPoints) && j.gaps():
		return &notebook.Error{Pos: w.ask.Pos, Code: "few-points", Text: fmt.Sprintf("only %s, and a chart of what lies between needs at least %d; use kaplan-meier or cumulative-incidence for the share of sockets, or wait",
			words.N(s.events, "event is dated and complete", "events are dated and complete"), quality.MinPoints+1)}
	case errors.Is(err, quality.ErrFewPoints):
		return &notebook.Error{Pos: w.ask.Pos, Code: "few-points", Text: fmt.Sprintf("only %s complete with rows to count, and a chart needs at least %d; choose a shorter period or wait",
			words.N(len(s.periods), w.ask.Period+" is", w.ask.Period+"s are"), quality.MinPoints)}
	case errors.Is(err, quality.ErrNoDenominator):
		return &notebook.Error{Pos: w.ask.Pos, Code: "no-exposure", Text: "there was nothing to count among in any period: no row meets the denominator, or nothing was in use"}
	case errors.Is(err, quality.ErrZeroGap):
		return w.at("chart", "t", "zero-gap", "two events fall on the same day, and a t chart cannot take a time of 0; use chart: g with between: days, which counts whole days, or a c or u chart by %s", "month")
	case errors.Is(err, quality.ErrNoVariation):
		return &notebook.Error{Pos: w.ask.Pos, Code: "no-variation", Text: "the values never change from one point to the next, so no limits follow"}
	case errors.Is(err, quality.ErrOptions):
		_, text, _ := strings.Cut(err.Error(), " chart: ")
		return w.at("baseline_points", "", notebook.CodeBadValue, "%s", text)
	}
	return err
}

// unsuitable refuses a chart whose numbers are too small for it, and names
// the one to use instead; gaps are those between events, where they could be
// drawn.
func (j *chartJob) unsuitable(bad *quality.Unsuitable, s, gaps *series) error {
	code := "few-expected"
	if errors.Is(bad.Err, quality.ErrMedianZero) {
		code = "median-zero"
	}
	instead := "a longer period"
	if longer := map[string]string{"month": "quarter", "quarter": "year"}[j.ask.Period]; longer != "" {
		instead = "period: " + longer
	}
	enough := s.events > quality.MinPoints && !bad.Full && !j.public()
	if gaps != nil {
		enough = len(gaps.values) >= quality.MinPoints
		for _, v := range gaps.values {
			enough = enough && (v > 0 || j.kind == quality.KindG)
		}
	}
	switch {
	case enough && (bad.Kind == quality.KindP):
		instead = "chart: g, the rows between one event and the next, or " + instead
	case enough && bad.Kind == quality.KindU:
		instead = "chart: t, the days from one event to the next, or " + instead
	case enough:
		instead = "chart: t, the days from one event to the next (or g with between: days where two fall on one day), or " + instead
	case !bad.Full && !j.public():
		instead += "; there are too few events for a chart of what lies between them"
	}
	return &notebook.Error{Pos: j.ask.At("chart", j.ask.Chart), Code: code, Text: unsuitableWords(bad, j.work) + "; use " + instead}
}

// unsuitableWords says why numbers are too small for a chart of periods.
func unsuitableWords(bad *quality.Unsuitable, w *work) string {
	if errors.Is(bad.Err, quality.ErrMedianZero) {
		at := "nothing was counted"
		if bad.Full {
			at = "every row counted"
		}
		return fmt.Sprintf("in %d of %d %ss %s, more than half, so that the middle of the %ss lies at the end of the scale and runs about it mean nothing", bad.At, bad.Periods, w.ask.Period, at, w.ask.Period)
	}
	return fmt.Sprintf("on average %s expected in a %s, fewer than %d, too few for limits to mean anything", words.Plain(bad.Expected)+" are", w.ask.Period, quality.LeastExpected)
}
