package answer

import (
	"fmt"
	"slices"
	"sort"

	"plybook/analysis/rhythm"
	"plybook/analysis/table"
	"plybook/reports/figure"
	"plybook/reports/words"
)

// repeatable is the smallest change of the outcome that measuring tells from
// none, in percent of the volume, and whose it is; ok is false where the
// outcome is no volume.
func (p *pattern) repeatable() (least float64, whose string, ok bool) {
	if p.y.Own || p.y.Name != "volume_ml" && p.y.Name != "volume_change_pct" {
		return 0, "", false
	}
	if v := p.ctx.Front.VolumeRepeatability; v > 0 {
		return v, "the smallest change that measuring in this lab tells from none", true
	}
	return sameMeasurer, "which measuring an unchanged limb twice with a tape commonly gives", true
}

// shareOfVolume is the change in percent of the volume.
func (p *pattern) shareOfVolume() float64 {
	if p.y.Name == "volume_change_pct" {
		return p.ends.Change.Value
	}
	return p.percent()
}

func (p *pattern) cautions() {
	one := p.one
	_, many := p.nouns()
	if p.fit.Groups < fewLimbs {
		p.caution("few-groups", "%s: how much they differ from one another is known only roughly.", p.only(p.fit.Groups, one, one+"s"))
	}
	if p.noPace {
		p.caution("no-pace", "No %s has %s enough for a pace of its own: the trend is that of all %ss together.", one, many, one)
	}
	if p.between == nil {
		if p.differ() {
			p.caution("between-unknown", "There are too few %ss to tell what varies between them from what varies within one: those seen at one time of the %s may simply differ from those seen at another.", one, p.ask.Cycle)
		}
	} else if p.between.P < 0.05 {
		p.caution("between", "%ss usually seen at one time of the %s differ from those usually seen at another by something else than the pattern (p %s). That is not told here: the curve is what varies within a %s.", words.Capital(one), p.ask.Cycle, words.P(p.between.P), one)
	}
	p.unseen()
	if least, whose, ok := p.repeatable(); ok {
		if share := p.shareOfVolume(); share < least {
			p.caution("small-change", "From the lowest to the highest time the volume changes by %s%% of it, less than %s%%, %s: in a single %s such a change could not be seen.", words.Fixed(share, 1), words.Plain(least), whose, one)
		}
	}
	if f, ok := p.secondWave(); ok && f.P < 0.05 {
		p.caution("second-wave", "One wave does not tell all of it: a second that turns twice a %s would add to it (p %s). Ask `waves: 2`, and look at the means beside the curve.", p.ask.Cycle, words.P(f.P))
	}
	if p.cycle == figure.Year {
		p.seasonCautions()
	}
}

// differ says whether limbs were seen at other times of the cycle than others.
func (p *pattern) differ() bool {
	for _, c := range rhythm.Columns(p.places, p.cycle.Length(), p.ask.Waves) {
		if scatter(p.limbMeans(c)) <= spreadOfMeans*scatter(c) {
			return false
		}
	}
	return true
}

// unseen warns where much of the cycle was not seen, so that the whole wave
// rests on its shape.
func (p *pattern) unseen() {
	if p.seen.Count >= mostSeen {
		return
	}
	_, many := p.nouns()
	text := fmt.Sprintf("The %s lie from %s to %s, in %d of 12 parts of the %s. What the curve does there is told by them; amplitude and peak of the whole wave rest on its shape being a cosine where nothing was seen.", many, p.moment(p.seen.Arc.From), p.moment(p.seen.Arc.To), p.seen.Count, p.ask.Cycle)
	if w, err := p.curve.Wave(1); err == nil && p.ask.Waves == 1 && p.told() && !p.seen.Arc.Holds(w.Peak.Value, p.cycle.Length()) {
		text += fmt.Sprintf(" The wave would be highest at %s, where nothing was seen.", p.moment(w.Peak.Value))
	}
	p.caution("unseen-times", "%s", text)
}

// seasonCautions warn of what may pass for a season.
func (p *pattern) seasonCautions() {
	_, many := p.nouns()
	span := slices.Max(p.dates) - slices.Min(p.dates)
	if span < 2*table.DaysPerYear-1 {
		p.caution("under-two-years", "The %s span %s, so that most parts of the year came round but once: what was so in that one year, such as a change of materials or staff, looks like a season.", many, words.Span(span))
	}
	if p.timeName == "" {
		p.caution("no-trend", "No trend is allowed for (`time: none`): %ss that change with the time since delivery or amputation, and were seen over part of a year, look as if they changed with the season.", p.one)
	}
	first, last := map[int]float64{}, map[int]float64{}
	for k, g := range p.data.Group {
		d := p.dates[k]
		if _, ok := first[g]; !ok {
			first[g], last[g] = d, d
		}
		first[g], last[g] = min(first[g], d), max(last[g], d)
	}
	var spans []float64
	for g, f := range first {
		spans = append(spans, last[g]-f)
	}
	sort.Float64s(spans)
	if m := spans[len(spans)/2]; m < table.DaysPerYear-1 {
		p.caution("short-follow-up", "Half of the %ss were followed for less than %s: within one of them season and trend run side by side, and are told apart only by %ss that began at other times of the year, whose trends are taken to be straight. `scale: log-weeks` allows for a fast start.", p.one, words.Span(table.DaysPerYear), p.one)
	}
}

func (p *pattern) words() {
	one := p.one
	_, many := p.nouns()
	row, _ := p.nouns()
	unit := pointWords(p.y.Unit)
	c := p.ends.Change
	seen := fmt.Sprintf("from %s to %s", p.moment(p.seen.Arc.From), p.moment(p.seen.Arc.To))
	if p.seen.Arc.Whole {
		seen = "all of it seen"
	}
	size := fmt.Sprintf("%s%s", words.Value(c.Value, c.Low, c.High), unit)
	of := ""
	if p.level() > 0 && p.y.Unit != "%" {
		of = fmt.Sprintf("; %s%% of its mean", words.Fixed(p.percent(), 1))
	}
	p.Reading = fmt.Sprintf("Over the %s (%s), %s of one %s changes by %s between its lowest and its highest time (%s %s%s), by %s of %s.",
		p.ask.Cycle, seen, label(p.y), one, size, p.confidenceWords(), words.Interval(c.Low, c.High), of, p.n(p.fit.Rows, row, many), p.n(p.fit.Groups, one, one+"s"))
	test := fmt.Sprintf("test of any such pattern: F %s, %s", words.Fixed(p.test.Statistic, 2), words.PEquals(p.test.P))
	if !p.told() {
		p.Reading += fmt.Sprintf(" Chance alone would often show as much (%s), so that no time of a peak is told.", test)
	} else {
		p.Reading += fmt.Sprintf(" It is highest %s and lowest %s (%s). The pattern accounts for %s of how the values of one %s scatter around its own line.",
			p.turnWords(p.ends.Highest), p.turnWords(p.ends.Lowest), test, words.Fixed(100*p.explained(), 1)+"%", one)
	}
	if least, whose, ok := p.repeatable(); ok && p.shareOfVolume() >= least {
		p.Reading += fmt.Sprintf(" That is more than %s%%, %s.", words.Plain(least), whose)
	}
	p.methods()
}

// turnWords say when the curve is highest or lowest.
func (p *pattern) turnWords(t rhythm.Turn) string {
	switch {
	case t.Edge:
		return fmt.Sprintf("at the edge of what was seen (%s)", p.moment(t.Time.Value))
	case toldTime(t.Time, p.told()):
		return fmt.Sprintf(map[figure.Cycle]string{figure.Day: "at", figure.Year: "in"}[p.cycle]+" %s (%s %s to %s)", p.moment(t.Time.Value), p.confidenceWords(), p.moment(t.Time.Low), p.moment(t.Time.High))
	}
	return fmt.Sprintf("about %s, though other times would fit nearly as well", p.moment(t.Time.Value))
}

// methods writes the sentence for a paper.
func (p *pattern) methods() {
	one := p.one
	waves := fmt.Sprintf("cosine and sine of the time of the %s", p.ask.Cycle)
	if p.ask.Waves > 1 {
		waves += " and of twice that angle (two harmonics)"
	} else {
		waves += " (one harmonic)"
	}
	p.Methods = fmt.Sprintf("A linear mixed model of %s had %s", label(p.y), waves)
	if l := termLabels(p.design); len(l) > 0 {
		p.Methods += " beside " + words.List(l)
	}
	p.Methods += fmt.Sprintf(", and a random intercept%s for each %s (cosinor regression).", map[bool]string{true: " and a random slope for the trend", false: ""}[len(p.data.Z) > 0], one)
	if p.hasMeans() {
		p.Methods += fmt.Sprintf(" The means of these columns for each %s were added, so that the waves are those within %ss.", one, one)
		p.References = append(p.References, "Mundlak Y. On the pooling of time series and cross section data. Econometrica 1978; 46: 69-85.")
	}
	p.Methods += fmt.Sprintf(" It was fitted by restricted maximum likelihood. %s The pattern was tested by an F test of all its coefficients; amplitude and differences between times have intervals by the delta method, times of highest and lowest values hold those at which the slope is not told from 0 (Fieller), and none is given where the pattern is not told from none. Means of parts of the %s come from the same model with the parts in place of the waves. Rows with missing values were left out.", p.freedomWords(), p.ask.Cycle)
	p.References = append(p.References, "Halberg F, Tong YL, Johnson EA. Circadian system phase: an aspect of temporal morphology. In: von Mayersbach H (ed). The cellular aspects of biorhythms. Berlin: Springer; 1967: 20-48.",
		"Nelson W, Tong YL, Lee JK, Halberg F. Methods for cosinor-rhythmometry. Chronobiologia 1979; 6: 305-323.",
		"Fieller EC. Some problems in interval estimation. J R Stat Soc B 1954; 16: 175-185.",
		"Laird NM, Ware JH. Random-effects models for longitudinal data. Biometrics 1982; 38: 963-974.")
}
