package answer

import (
	"fmt"
	"math"
	"strings"

	"plybook/analysis/forecast"
	"plybook/analysis/stats"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/words"
)

const asBefore = "as before"

func (j *forecastJob) tables() {
	years := tableOf("stretches", text("group"), Column{Name: "from", Type: TypeDate}, Column{Name: "to", Type: TypeDate}, flag("foretold"), count("value"), number("expected", ""), number("low", ""), number("high", ""))
	points := tableOf("points", text("group"), text("period"), flag("foretold"), count("value"), number("expected", ""), number("low", ""), number("high", ""))
	back := tableOf("back_test", text("group"), text("course"), Column{Name: "from", Type: TypeDate}, Column{Name: "to", Type: TypeDate}, count("value"), number("expected", ""), number("low", ""), number("high", ""), flag("inside"))
	terms := tableOf("terms", text("group"), text("term"), number("estimate", ""), number("std_error", ""), number("ratio", ""), number("low", ""), number("high", ""))
	fit := tableOf("fit", text("group"), text("course"), integer("periods"), flag("season"), number("omega", ""), number("level", ""), number("log_likelihood", ""), number("aic", ""), integer("ahead"), integer("tested"), integer("inside"), integer("draws"), integer("seed"))
	nan := math.NaN()
	for _, f := range j.series {
		if f.why != "" {
			continue
		}
		for _, s := range j.stretches(f) {
			years.row(f.group, s.from.start, s.to.end-1, false, int(s.seen), nan, nan, nan)
		}
		t := f.next.Total
		years.row(f.group, f.coming[0].start, f.coming[j.ahead-1].end-1, true, nil, t.Expected, t.Low, t.High)
		if !j.public() {
			for k, p := range f.periods {
				points.row(f.group, p.name, false, int(f.counts[k]), nan, nan, nan)
			}
			for k, p := range f.coming {
				a := f.next.Periods[k]
				points.row(f.group, p.name, true, nil, a.Expected, a.Low, a.High)
			}
		}
		inside := 0
		for _, course := range courses {
			for _, l := range f.looks[course] {
				back.row(f.group, course, f.periods[l.From].start, f.periods[l.To-1].end-1, int(l.Seen), l.Expected, l.Low, l.High, l.Inside)
				if l.Inside && course == j.ask.Course {
					inside++
				}
			}
		}
		for _, l := range f.looks[j.ask.Course] {
			back.row(f.group, asBefore, f.periods[l.From].start, f.periods[l.To-1].end-1, int(l.Seen), l.Before, nan, nan, nil)
		}
		z := stats.NormalQuantile((1 + j.ask.Confidence) / 2)
		season := false
		for _, c := range f.fit.Terms {
			season = season || strings.HasPrefix(c.Name, "season")
			ratio, low, high := nan, nan, nan
			if c.Name == "slope" {
				ratio, low, high = math.Exp(c.Estimate), math.Exp(c.Estimate-z*c.StdErr), math.Exp(c.Estimate+z*c.StdErr)
			}
			terms.row(f.group, c.Name, c.Estimate, c.StdErr, ratio, low, high)
		}
		fit.row(f.group, j.ask.Course, len(f.counts), season, f.fit.Omega, f.fit.Level, f.fit.LogLik, f.fit.AIC, j.ahead, len(f.looks[j.ask.Course]), inside, forecast.Draws, j.ask.Seed)
	}
	j.addTable(years)
	if !j.public() {
		j.addTable(points)
	}
	j.addTable(back)
	j.addTable(terms)
	j.addTable(fit)
}

func (j *forecastJob) figures() {
	w := j.work
	for k, f := range j.series {
		if f.why != "" {
			continue
		}
		id, axis := w.ask.ID, words.Capital(j.counted())
		if j.ask.By != "" {
			id, axis = fmt.Sprintf("%s-%d", id, k+1), axis+", "+j.groupName(f.group)
		}
		spec := figure.ForetoldYearsSpec{ID: id, Title: axis + ": counted, and foretold", ValueAxis: axis, Confidence: w.ask.Confidence}
		looks := f.looks[j.ask.Course]
		past := j.stretches(f)
		for k, s := range past {
			y := figure.ForetoldYear{Label: s.name(), Seen: s.seen, Expected: math.NaN(), Low: math.NaN(), High: math.NaN()}
			if at := k - (len(past) - len(looks)); at >= 0 {
				y.Expected, y.Low, y.High = looks[at].Expected, looks[at].Low, looks[at].High
			}
			spec.Years = append(spec.Years, y)
		}
		t := f.next.Total
		spec.Years = append(spec.Years, figure.ForetoldYear{Label: spanName(f.coming[0], f.coming[j.ahead-1]), Seen: math.NaN(), Expected: t.Expected, Low: t.Low, High: t.High, Coming: true})
		if n := len(spec.Years); n > 9 {
			spec.Years = spec.Years[n-9:]
		}
		w.Figures = append(w.Figures, figure.ForetoldYears(spec))
		if j.public() || j.cycle == 1 {
			continue
		}
		by := figure.ForetoldPeriodsSpec{ID: id + "-over-time", Title: axis + " by " + j.ask.Period, ValueAxis: axis + ", each " + j.ask.Period}
		for k, p := range f.periods {
			by.Periods = append(by.Periods, figure.ForetoldPeriod{Label: p.name, Day: int((p.start + p.end) / 2), Seen: f.counts[k]})
		}
		for k, p := range f.coming {
			a := f.next.Periods[k]
			by.Periods = append(by.Periods, figure.ForetoldPeriod{Label: p.name, Day: int((p.start + p.end) / 2), Seen: math.NaN(), Expected: a.Expected, Low: a.Low, High: a.High})
		}
		w.Figures = append(w.Figures, figure.ForetoldPeriods(by))
	}
}

func (j *forecastJob) printed() {
	right := func(h string) document.TableColumn {
		return document.TableColumn{Head: h, Align: document.Right}
	}
	t := document.Table{ID: j.ask.ID + "-foretold", Caption: "What is foretold, beside what came last"}
	if j.ask.By != "" {
		t.Columns = append(t.Columns, document.TableColumn{Head: words.Capital(j.columnLabel(j.ask.By)), Wide: true})
	}
	t.Columns = append(t.Columns, document.TableColumn{Head: "Time", Wide: true}, right("Counted before"), right("Foretold"), right(j.confidenceWords()), right("Level now, a "+j.ask.Period))
	b := document.Table{ID: j.ask.ID + "-back-test", Caption: "The same foretold of past times, from the counts before each"}
	if j.ask.By != "" {
		b.Columns = append(b.Columns, document.TableColumn{Head: words.Capital(j.columnLabel(j.ask.By)), Wide: true})
	}
	b.Columns = append(b.Columns, document.TableColumn{Head: "Time", Wide: true}, right("Foretold"), right(j.confidenceWords()), right("Counted"), right("Missed by"), document.TableColumn{Head: "In the interval"}, right("The time before"))
	for _, f := range j.series {
		lead := func(row ...string) []string {
			if j.ask.By != "" {
				return append([]string{j.groupName(f.group)}, row...)
			}
			return row
		}
		if f.why != "" {
			why := f.why
			if f.withheld {
				why = "withheld"
			}
			t.Rows = append(t.Rows, lead(words.Capital(why), "–", "–", "–", "–"))
			continue
		}
		past := j.stretches(f)
		a := f.next.Total
		before := "–"
		if len(past) > 0 {
			before = j.cell(int(past[len(past)-1].seen))
		}
		t.Rows = append(t.Rows, lead(spanName(f.coming[0], f.coming[j.ahead-1]), before, words.Rate(a.Expected, a.Low, a.High), words.RateRange(a.Low, a.High), words.Fixed(f.fit.Level, 1)))
		for _, l := range f.looks[j.ask.Course] {
			in := "no"
			if l.Inside {
				in = "yes"
			}
			off := "–"
			if l.Seen > 0 {
				off = words.SignedFixed(100*(l.Expected-l.Seen)/l.Seen, 0) + "%"
			}
			b.Rows = append(b.Rows, lead(spanName(f.periods[l.From], f.periods[l.To-1]), words.Rate(l.Expected, l.Low, l.High), words.RateRange(l.Low, l.High), j.cell(int(l.Seen)), off, in, j.cell(int(l.Before))))
		}
	}
	j.print(t)
	if len(b.Rows) > 0 {
		b.Notes = append(b.Notes, "The time before: what was counted in the time of the same length just before, which a lab would expect without a model.")
		j.print(b)
	}
}

func (j *forecastJob) reading() {
	var said []string
	for _, f := range j.series {
		if f.why != "" {
			continue
		}
		a := f.next.Total
		past := j.stretches(f)
		about := words.Fixed(a.Expected, 0)
		if about == "1" { // what is counted stands in the plural
			about = words.Fixed(a.Expected, 1)
		}
		text := fmt.Sprintf("About %s %s%s are expected from %s (%s %s to %s)", about, j.counted(), j.inGroup(f), spanName(f.coming[0], f.coming[j.ahead-1]), j.confidenceWords(), words.Fixed(a.Low, 0), words.Fixed(a.High, 0))
		if n := len(past); n > 0 {
			text += fmt.Sprintf(", after %s from %s", words.Fixed(past[n-1].seen, 0), past[n-1].name())
		}
		looks := f.looks[j.ask.Course]
		if len(looks) > 0 {
			in := 0
			for _, l := range looks {
				if l.Inside {
					in++
				}
			}
			held, off := fmt.Sprintf("%s of %s past times lay in the interval", words.Fixed(float64(in), 0), words.Fixed(float64(len(looks)), 0)), " on average"
			if len(looks) == 1 {
				held, off = "the one past time that could be tested lay "+map[int]string{0: "outside the interval", 1: "in the interval"}[in], ""
			}
			text += ". Foretold in the same way, " + held
			if m := missed(looks, expectedOf); !math.IsNaN(m) {
				text += fmt.Sprintf(", and the middle was off by %s%%%s", words.Fixed(100*m, 0), off)
			}
		}
		said = append(said, text+".")
	}
	j.Reading = strings.Join(said, " ") + " All of it holds if things go on as they do."
}

func (j *forecastJob) cautions() {
	for _, f := range j.series {
		if f.why != "" {
			if j.ask.By != "" {
				why := f.why
				if f.withheld {
					why = "this report shows no counts that stand for few people"
				}
				j.caution("not-foretold", "Nothing is foretold of %s: %s.", j.groupName(f.group), why)
			}
			continue
		}
		looks := f.looks[j.ask.Course]
		switch n := len(looks); {
		case n == 0:
			j.caution("not-tested", "No past time could be foretold%s to see how well it goes: that takes %s before it. Hold the interval for a guess.", j.inGroup(f), words.N(max(2*j.cycle, forecast.MinPeriods), j.ask.Period, j.ask.Period+"s"))
		case n < 3:
			j.caution("few-tests", "Only %s could be foretold%s to see how well it goes, which says little of how often the interval will be right.", words.N(n, "past time", "past times"), j.inGroup(f))
		}
		out := 0
		for _, l := range looks {
			if !l.Inside {
				out++
			}
		}
		if out > 0 && float64(out) > (1-j.ask.Confidence)*float64(len(looks)) {
			j.caution("missed-before", "%s of %s past times%s lay outside of what would have been foretold: something moves these counts that they do not tell of, and the interval is too narrow for it.", words.Capital(words.Fixed(float64(out), 0)), words.Fixed(float64(len(looks)), 0), j.inGroup(f))
		}
		j.betterBy(f)
		if j.ask.Course == "trend" {
			j.caution("carried-on", "The growth or decline of the past%s is carried on into a time of which nothing is known. course: level does without.", j.inGroup(f))
		}
		if f.fit.Omega < 0.85 && f.fit.Omega > 0 {
			weigh := math.Log(0.5) / math.Log(f.fit.Omega)
			j.caution("drifts", "The level%s moves so much that counts older than about %s weigh less than half of the newest: the forecast rests on few %ss.", j.inGroup(f), words.Count(math.Ceil(weigh), j.ask.Period, j.ask.Period+"s"), j.ask.Period)
		}
		for _, d := range j.followed() {
			if d.On > f.periods[max(0, len(f.periods)-j.cycle)].start {
				j.caution("recent-change", "Something was decided on %s, and the counts before it may not tell of what comes.", words.ISODate(d.On))
			}
		}
		if len(f.s.pending) > 0 && !j.public() {
			j.caution("not-complete", "Not counted%s, because not complete: %s.", j.inGroup(f), words.List(f.s.pending))
		}
	}
}

// betterBy says where another way of foretelling came nearer in the past.
func (j *forecastJob) betterBy(f *foretold) {
	looks := f.looks[j.ask.Course]
	if len(looks) < 2 {
		return
	}
	mine := missed(looks, expectedOf)
	best, name := mine, ""
	for _, course := range courses {
		if other := f.looks[course]; course != j.ask.Course && len(other) == len(looks) {
			if m := missed(other, expectedOf); m < best {
				best, name = m, "course: "+course
			}
		}
	}
	if m := missed(looks, beforeOf); m < best {
		best, name = m, "the count of the time before"
	}
	// A gain of a hundredth is no reason to choose.
	if name != "" && mine-best > 0.01 {
		j.caution("another-came-nearer", "In the past %s came nearer%s: off by %s%% on average, against %s%%. With %s that may be chance.", name, j.inGroup(f), words.Fixed(100*best, 0), words.Fixed(100*mine, 0), words.N(len(looks), "past time", "past times"))
	}
}

func (j *forecastJob) methods() {
	season := ""
	for _, f := range j.series {
		if f.why == "" && len(f.fit.Terms) > 1 {
			season = ", times a sine and a cosine over the year"
		}
	}
	slope := ""
	if j.ask.Course == "trend" {
		slope = ", times a steady growth or decline"
	}
	j.Methods = fmt.Sprintf("Counts by %s of %s (each by its %s) were foretold by the model of Harvey and Fernandes: Poisson counts about a level with a gamma distribution%s%s, what is known of the level being discounted by a factor from %s to %s. "+
		"The factor and the coefficients maximise the likelihood; for the intervals they were drawn too, the factor with a prior even in the root of one less it, and %s futures drawn from the model with seed %d. "+
		"For the back-test each past time was foretold from the counts before it alone. The first %s of a log without a stated beginning, and those not complete, were left out.",
		j.ask.Period, j.counted(), dateWords(j.dated), season, slope, j.ask.Period, j.ask.Period, words.Fixed(forecast.Draws, 0), j.ask.Seed, j.ask.Period)
	j.References = append(j.References, "Harvey AC, Fernandes C. Time series models for count or qualitative observations. Journal of Business and Economic Statistics 1989; 7: 407-417.",
		"Gelman A. Prior distributions for variance parameters in hierarchical models. Bayesian Analysis 2006; 1: 515-534.")
}
