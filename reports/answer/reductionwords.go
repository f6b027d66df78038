package answer

import (
	"fmt"
	"math"
	"strings"

	"plybook/reports/words"
)

// reading says how much smaller models were, how near to their targets, and
// what the first fittings said, of the series with most sockets.
func (j *reductionJob) reading() {
	wholes := j.wholes()
	main := j.series[0]
	for _, s := range j.series {
		if len(wholes) > 0 && wholes[0].from == s {
			main = s
			break
		}
	}
	var out []string
	n := 0
	for _, b := range wholes {
		if b.from != main {
			continue
		}
		if n++; n > 4 {
			out = append(out, "The table gives the other groups.")
			break
		}
		of := fmt.Sprintf(", in %s (%s)", j.n(len(b.models), "socket", "sockets"), main.words())
		s := "Models were " + j.meanWords(b) + of
		if j.ask.By != "" {
			s = j.groupWords(b.group) + ": models were " + j.meanWords(b) + of
		}
		if j.ask.By == "" {
			s += j.regionWords(b)
		}
		out = append(out, s+".")
		if j.ask.By == "" {
			out = append(out, j.lessWords(b)...)
		}
	}
	if s := j.mainSaid(); s != nil {
		out = append(out, j.saidWords(s)...)
	}
	j.Reading = strings.Join(out, " ")
}

func (j *reductionJob) meanWords(b bandOf) string {
	what := "smaller"
	v, lo, hi := b.got.Mean, b.got.Low, b.got.High
	if v < 0 {
		what, v, lo, hi = "larger", -v, -hi, -lo
	}
	if math.IsNaN(lo) {
		return fmt.Sprintf("%s%% %s than the limb on average", words.Plain(v), what)
	}
	return fmt.Sprintf("%s%% %s than the limb on average (%s %s%%)", words.Value(v, lo, hi), what, j.confidenceWords(), words.Interval(lo, hi))
}

// regionWords gives the mean of each region.
func (j *reductionJob) regionWords(of bandOf) string {
	var parts []string
	for _, r := range j.regions {
		for _, b := range j.bands {
			if b.from == of.from && b.group == of.group && b.region == r && !b.withheld {
				parts = append(parts, fmt.Sprintf("%s%% in the %s", reductionText(b.got), r))
			}
		}
	}
	if len(parts) == 0 || j.ask.Region != "" && len(parts) > 4 {
		return ""
	}
	if j.ask.Region != "" {
		for k := range parts {
			parts[k] = strings.Replace(parts[k], " in the ", " where it is called ", 1)
		}
	}
	return "; " + words.List(parts)
}

func (j *reductionJob) lessWords(b bandOf) []string {
	if b.less == nil || j.few(b.targets, len(b.models)) {
		return nil
	}
	l := b.less
	return []string{fmt.Sprintf("Averaged over its stations, a model differed from its target by %s mm in the mean, and %s of models by between %s mm.",
		words.Value(l.Bias.Value, l.Lower.Value, l.Upper.Value), percentOf(j.ask.Confidence), strings.Replace(words.Interval(l.Lower.Value, l.Upper.Value), " to ", " and ", 1))}
}

func (j *reductionJob) saidWords(s *seriesSaid) []string {
	var out []string
	told, yes := len(s.yes)+len(s.no), len(s.yes)
	if told > 0 && !j.few(yes, told) {
		out = append(out, fmt.Sprintf("At the first fitting %s accepted, as they were or adjusted.", words.Fixed(float64(yes), 0)+" of "+words.N(told, "model", "models")+map[bool]string{true: " was", false: " were"}[yes == 1]))
	}
	var parts []string
	if s.fit != nil {
		ratio, low, high := s.ratio()
		parts = append(parts, fmt.Sprintf("the odds of a first-time fit were multiplied by %s (%s %s)", words.RatioWithin(ratio, low, high), j.confidenceWords(), words.RatioRange(low, high)))
	}
	if s.comfort != nil {
		parts = append(parts, s.comfortWords(j.confidenceWords()))
	}
	if len(parts) > 0 {
		out = append(out, "For each percentage point more of reduction, "+strings.Join(parts, ", and ")+".")
	}
	return out
}

func (j *reductionJob) cautions() {
	j.caution("not-a-trial", "Whoever shaped a model chose its reduction for the limb on the bench: a soft limb is often given more than a firm one, and a limb that is hard to fit more care. First-time fit and comfort therefore differ between reductions for other reasons than the reduction. These numbers record what was done; they recommend no reduction, which is for the clinician who has the limb in hand.")
	wholes := j.wholes()
	var few []string
	one := false
	for _, b := range wholes {
		if len(b.models) < 20 && !j.public() {
			name := b.from.words()
			if j.ask.By != "" {
				name = j.groupWords(b.group) + ", " + name
			}
			few = append(few, fmt.Sprintf("%s (%d)", name, len(b.models)))
		}
		one = one || b.got.Clusters == 1 && len(b.models) > 1
	}
	if len(few) > 0 {
		j.caution("few-sockets", "Fewer than 20 sockets stand behind: %s. Means and limits of so few are rough.", strings.Join(few, "; "))
	}
	if one {
		j.caution("one-person", "All sockets of a group or landmark are of one person, so no interval is given for them.")
	}
	if len(j.series) > 1 {
		j.caution("series-apart", "Girths were taken from %s; they are told apart and never compared. First-time fit and comfort are printed of the one with most sockets (%s); keep one landmark or level to ask of another.",
			words.N(len(j.series), "landmark or layer", "different landmarks or over different layers"), j.series[0].words())
	}
	if j.elsewhere > 0 {
		j.caution("series-left", "%s measured from another landmark or over another layer too. Of each, the set with most stations is used.", words.Capital(j.n(j.elsewhere, "socket was", "sockets were")))
	}
	j.tapeCaution()
	j.intervalsCaution()
	j.lackingCaution()
	if s := j.mainSaid(); s != nil {
		if s.whyNot != "" && !j.public() {
			j.caution("no-curve", "No curve of first-time fit is given: %s.", s.whyNot)
		}
		if s.fit != nil && min(len(s.yes), len(s.no)) < 10 && !j.public() {
			j.caution("few-events", "Only %s %s: the curve of first-time fit is shaky.", words.N(min(len(s.yes), len(s.no)), "model", "models"), map[bool]string{true: "fitted the first time", false: "did not fit the first time"}[len(s.yes) < len(s.no)])
		}
		if s.bendP < 0.05 {
			j.caution("bends", "First-time fit does not go one way with the reduction (test of a bend: %s): the shares by stretch tell more than the odds ratio.", words.PEquals(s.bendP))
		}
		if s.bend2P < 0.05 {
			j.caution("comfort-bends", "Comfort does not go one way with the reduction (test of a bend: %s): the points tell more than the line.", words.PEquals(s.bend2P))
		}
	}
}

// tapeCaution sets reductions beside what reading a girth twice differs by.
func (j *reductionJob) tapeCaution() {
	if j.tape == nil {
		j.caution("tape-unknown", "Fewer than %d girths were measured twice in this log, so how far the tape itself differs is not known. A reduction of a few millimetres at one station may be no more than that.", fewestTwice)
		return
	}
	all, small := 0, 0
	for _, b := range j.bands {
		if b.region == "" && !b.withheld {
			all += len(b.models)
			small += b.smallerThan
		}
	}
	if 20*small > all {
		j.caution("repeatability", "At %s the model differs from the limb by less than %s mm, which two readings of one girth in this log must differ by before they show a difference. Single reductions of that size say nothing; means of many may.",
			j.of(small, all, "station", "stations"), words.Plain(j.tape.Change.Value))
	}
}

// intervalsCaution warns of reading much into one of many intervals.
func (j *reductionJob) intervalsCaution() {
	n := 0
	for _, b := range j.bands {
		if b.region != "all" && !b.withheld && !math.IsNaN(b.got.Low) {
			n++
		}
	}
	if n > 5 {
		j.caution("many-comparisons", "There are %d intervals by region and station, each right %s of the time by itself: some will miss, and neighbouring stations miss together.", n, percentOf(j.ask.Confidence))
	}
}

// lackingCaution says what is not recorded.
func (j *reductionJob) lackingCaution() {
	var parts []string
	if j.unnamed > 0 {
		parts = append(parts, fmt.Sprintf("%s the girth of a model but no socket, and %s left out", j.n(j.unnamed, "measurement has", "measurements have"), j.agree(j.unnamed, "is", "are")))
	}
	if j.ungrouped > 0 {
		parts = append(parts, fmt.Sprintf("%s left out because %s is not recorded", j.n(j.ungrouped, "socket was", "sockets were"), j.columnLabel(j.ask.By)))
	}
	if j.short > 0 && j.ask.Region == "" {
		parts = append(parts, fmt.Sprintf("%s fewer than three stations and no thirds", j.n(j.short, "socket has", "sockets have")))
	}
	targets, unknown := 0, 0
	for _, m := range j.models {
		has := false
		for _, s := range m.stations {
			has = has || !math.IsNaN(s.target)
		}
		if !has {
			targets++
		}
		if answerCode(m.fitted.Accepted) == 3 {
			unknown++
		}
	}
	if 10*targets > len(j.models) {
		parts = append(parts, fmt.Sprintf("%s no target", j.n(targets, "socket has", "sockets have")))
	}
	if 10*unknown > len(j.models) {
		parts = append(parts, fmt.Sprintf("of %s it is not known what the first fitting said", j.n(unknown, "socket", "sockets")))
	}
	if len(parts) > 0 {
		j.caution("missing", "%s.", words.Capital(strings.Join(parts, "; ")))
	}
}
