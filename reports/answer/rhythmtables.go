package answer

import (
	"fmt"
	"math"
	"sort"
	"time"

	"plybook/analysis/rhythm"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/words"
)

// mostJoined is how many thin lines are told apart in a figure: beyond it the
// values stand alone.
const mostJoined = 60

// toldTime says whether the interval of a time may be told: not where the pattern,
// or the wave, is not told from none, since any time would then do.
func toldTime(e rhythm.Estimate, told bool) bool { return told && !math.IsNaN(e.Low) }

func (p *pattern) tables() {
	unit := p.y.Unit
	turn := p.cycle.Length()
	first := func(e rhythm.Estimate) float64 { return e.Value - turn*math.Floor(e.Value/turn) }
	h, l, c := p.ends.Highest, p.ends.Lowest, p.ends.Change
	t := tableOf("pattern", text("cycle"), integer("waves"), count("rows"), count("groups"), integer("parts"), number("from", ""), number("to", ""), number("statistic", ""), number("df1", ""), number("df2", ""), number("p", ""),
		number("change", unit), number("change_std_error", unit), number("change_low", unit), number("change_high", unit), number("change_percent", "%"), number("explained", ""),
		number("highest", ""), number("highest_std_error", ""), number("highest_low", ""), number("highest_high", ""), number("lowest", ""), number("lowest_std_error", ""), number("lowest_low", ""), number("lowest_high", ""))
	hk, lk := toldTime(h.Time, p.told()), toldTime(l.Time, p.told())
	t.row(p.ask.Cycle, p.ask.Waves, p.fit.Rows, p.fit.Groups, p.seen.Count, p.seen.Arc.From, p.seen.Arc.To, p.test.Statistic, p.test.DF1, when(p.test.DF2 > 0, p.test.DF2), p.test.P,
		c.Value, c.SE, c.Low, c.High, when(p.level() > 0, p.percent()), p.explained(),
		first(h.Time), when(hk, h.Time.SE), when(hk, h.Time.Low), when(hk, h.Time.High), first(l.Time), when(lk, l.Time.SE), when(lk, l.Time.Low), when(lk, l.Time.High))
	p.addTable(t)
	p.waveTable()
	d := p.patternColumns()
	p.termTable(mixedEstimates(p.fit, d), false)
	p.varianceTable()
	q := tableOf("parts", number("from", ""), number("to", ""), count("rows"), number("estimate", unit), number("std_error", unit), number("low", unit), number("high", unit), number("curve", unit))
	size := turn / rhythm.Parts
	for _, x := range p.parts {
		at := size * float64(x.number)
		v, err := p.curve.At(x.at)
		x.told = x.told && !p.smallCount(x.rows)
		q.row(at, at+size, p.partRows(x), when(x.told, x.estimate.Estimate), when(x.told, x.estimate.SE), when(x.told, x.estimate.Low), when(x.told, x.estimate.High), when(err == nil, v.Value))
	}
	p.addTable(q)
	f := tableOf("fit", count("rows"), count("groups"), number("sigma", unit), number("log_likelihood", ""), number("between_statistic", ""), number("between_df1", ""), number("between_df2", ""), number("between_p", ""), flag("pace"), flag("singular"), text("freedom"))
	b := []any{nil, nil, nil, nil}
	if p.between != nil {
		b = []any{p.between.Statistic, p.between.DF1, when(p.between.DF2 > 0, p.between.DF2), p.between.P}
	}
	row := append([]any{p.fit.Rows, p.fit.Groups, p.fit.Sigma, p.fit.LogLikelihood}, b...)
	f.row(append(row, len(p.data.Z) > 0, p.fit.Singular, p.ask.Freedom)...)
	p.addTable(f)
}

// partRows is the number of rows of a part, nothing where small counts are
// hidden: those of the parts add up to a number that is shown.
func (p *pattern) partRows(x cyclePart) any {
	if p.ctx.Front.HideBelow > 1 {
		return nil
	}
	return x.rows
}

func (p *pattern) waveTable() {
	unit := p.y.Unit
	t := tableOf("waves", integer("wave"), number("amplitude", unit), number("std_error", unit), number("low", unit), number("high", unit), number("peak", ""), number("peak_std_error", ""), number("peak_low", ""), number("peak_high", ""),
		number("statistic", ""), number("df1", ""), number("df2", ""), number("p", ""))
	for k, f := range p.each {
		w, err := p.curve.Wave(k + 1)
		if err != nil {
			continue
		}
		a, at := w.Amplitude, w.Peak
		told := toldTime(at, f.P < 1-p.ask.Confidence)
		t.row(k+1, a.Value, a.SE, a.Low, a.High, at.Value, when(told, at.SE), when(told, at.Low), when(told, at.High), f.Statistic, f.DF1, when(f.DF2 > 0, f.DF2), f.P)
	}
	p.addTable(t)
}

// level is the mean of the outcome over the rows.
func (p *pattern) level() float64 { return average(p.data.Y) }

// percent is the change from the lowest to the highest time in percent of the
// mean.
func (p *pattern) percent() float64 { return 100 * p.ends.Change.Value / p.level() }

// moment is a time of the cycle in words.
func (p *pattern) moment(v float64) string { return p.cycle.Words(v) }

// figures draw the curve with the means of parts, and what was seen of each
// limb; the second not where small counts are hidden.
func (p *pattern) figures() {
	spec := figure.RhythmSpec{ID: p.ask.ID, Title: fmt.Sprintf("%s over the %s: the average %s", words.Capital(label(p.y)), p.ask.Cycle, p.one), Cycle: p.cycle,
		YAxis: words.Capital(label(p.y)) + ", difference from the average", YUnit: p.y.Unit, Confidence: p.ask.Confidence}
	const grid = 96
	arc := p.seen.Arc
	for k := 0; k <= grid; k++ {
		x := arc.From + (arc.To-arc.From)*float64(k)/grid
		if v, err := p.curve.At(x); err == nil {
			spec.Line = append(spec.Line, figure.BandPoint{X: x, Y: v.Value, Low: v.Low, High: v.High})
		}
	}
	for _, x := range p.parts {
		if x.told && !p.smallCount(x.rows) {
			spec.Parts = append(spec.Parts, figure.BandPoint{X: min(max(x.at, arc.From), arc.To), Y: x.estimate.Estimate, Low: x.estimate.Low, High: x.estimate.High})
		}
	}
	p.Figures = append(p.Figures, figure.Rhythm(spec))
	if p.ctx.Front.HideBelow > 1 {
		return
	}
	spec.ID, spec.Parts = spec.ID+"-"+p.one+"s", nil
	spec.Title = fmt.Sprintf("%s over the %s: what was seen, less each %s's own line", words.Capital(label(p.y)), p.ask.Cycle, p.one)
	spec.YAxis = words.Capital(label(p.y)) + ", difference from the " + p.one + "'s own line"
	spec.Each, spec.Many = p.one, p.one+"s"
	if p.cycle == figure.Year {
		spec.Each, spec.Many = "year of one "+p.one, "years of one "+p.one+" each"
	}
	if len(p.names) <= mostJoined {
		spec.Paths = p.paths()
	} else {
		for k, v := range p.left() {
			spec.Points = append(spec.Points, figure.XY{X: p.places[k], Y: v})
		}
	}
	p.Figures = append(p.Figures, figure.Rhythm(spec))
}

// paths are the values of each limb by their time of the cycle, a line for each
// year of the calendar where the cycle is the year.
func (p *pattern) paths() []figure.Path {
	type of struct{ group, year int }
	values := map[of][]figure.XY{}
	var keys []of
	for k, v := range p.left() {
		o := of{group: p.data.Group[k]}
		if p.cycle == figure.Year {
			o.year = time.Unix(int64(p.dates[k])*86400, 0).UTC().Year()
		}
		if values[o] == nil {
			keys = append(keys, o)
		}
		values[o] = append(values[o], figure.XY{X: p.places[k], Y: v})
	}
	sort.Slice(keys, func(a, b int) bool {
		if keys[a].group != keys[b].group {
			return keys[a].group < keys[b].group
		}
		return keys[a].year < keys[b].year
	})
	var out []figure.Path
	for _, o := range keys {
		sort.SliceStable(values[o], func(a, b int) bool { return values[o][a].X < values[o][b].X })
		out = append(out, figure.Path{Points: values[o]})
	}
	return out
}

func (p *pattern) prints() {
	unit := inUnit(p.y.Unit)
	t := document.Table{ID: p.ask.ID + "-parts", Caption: words.Capital(label(p.y)) + " by time of the " + p.ask.Cycle + ", difference from the average" + unit, Columns: []document.TableColumn{
		{Head: "Time", Wide: true}, {Head: "Mean", Align: document.Right}, {Head: words.Capital(p.confidenceWords()), Align: document.Right}, {Head: "Curve", Align: document.Right}}}
	size := p.cycle.Length() / rhythm.Parts
	for _, x := range p.parts {
		if p.smallCount(x.rows) {
			continue
		}
		from := size * float64(x.number)
		name := fmt.Sprintf("%s to %s", p.moment(from), p.moment(from+size))
		if p.cycle == figure.Year {
			name = figure.MonthName(x.number)
		}
		mean, iv := words.NotComputed, words.NotComputed
		if e := x.estimate; x.told {
			mean, iv = words.Value(e.Estimate, e.Low, e.High), words.Interval(e.Low, e.High)
		}
		on := words.NotComputed
		if v, err := p.curve.At(x.at); err == nil {
			on = words.Value(v.Value, v.Low, v.High)
			if e := x.estimate; x.told { // with as many decimals as the mean beside it
				on = words.Value(v.Value, e.Low, e.High)
			}
		}
		t.Rows = append(t.Rows, []string{name, mean, iv, on})
	}
	t.Notes = []string{fmt.Sprintf("Of one %s at one time against another: what differs between %ss is taken out, and so is each %s's own level%s.", p.one, p.one, p.one, map[bool]string{true: " and trend", false: ""}[len(p.data.Z) > 0])}
	p.print(t)
	p.wavesPrint()
}

// wavesPrint prints each wave: half its height, and when it is highest.
func (p *pattern) wavesPrint() {
	t := document.Table{ID: p.ask.ID + "-waves", Caption: "The waves that the curve is made of", Columns: []document.TableColumn{
		{Head: "Wave", Wide: true}, {Head: "Amplitude" + inUnit(p.y.Unit), Align: document.Right}, {Head: words.Capital(p.confidenceWords()), Align: document.Right}, {Head: "Peak", Align: document.Right},
		{Head: words.Capital(p.confidenceWords()), Align: document.Right}, {Head: "p", Align: document.Right}}}
	for k, f := range p.each {
		w, err := p.curve.Wave(k + 1)
		if err != nil {
			continue
		}
		name := "once a " + p.ask.Cycle
		if k > 0 {
			name = "twice a " + p.ask.Cycle
		}
		at, iv := "not told", "not told"
		if toldTime(w.Peak, f.P < 1-p.ask.Confidence) {
			at, iv = p.moment(w.Peak.Value), p.moment(w.Peak.Low)+" to "+p.moment(w.Peak.High)
		}
		a := w.Amplitude
		amplitude, range0 := words.NotComputed, words.NotComputed
		if !math.IsNaN(a.Low) {
			amplitude, range0 = words.Value(a.Value, a.Low, a.High), words.Interval(a.Low, a.High)
		}
		t.Rows = append(t.Rows, []string{name, amplitude, range0, at, iv, words.P(f.P)})
	}
	t.Notes = []string{"The amplitude is half the way from the lowest to the highest of the whole wave, unseen times included. It comes out above 0 where there is no pattern at all, and no time of the peak is told then, since any would do."}
	p.print(t)
}
