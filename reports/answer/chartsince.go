package answer

import (
	"fmt"
	"sort"

	"plybook/analysis/quality"
	"plybook/reports/words"
)

// stand is what a chart shows over some of its points.
type stand struct {
	points   int
	num, den float64
	values   []float64
}

// sinceDecisions says what the chart shows since each decision, and before.
func (j *chartJob) sinceDecisions() {
	w, s := j.work, j.s
	if len(j.made) == 0 {
		return
	}
	t := tableOf("decisions", Column{Name: "on", Type: TypeDate}, text("what"), flag("new_phase"), integer("points_before"), number("before", ""), integer("points_since"), number("since", ""), integer("signals_since"))
	for _, d := range j.made {
		var before, since stand
		signals := 0
		for k, p := range j.chart.Points {
			if !p.HasValue || p.Provisional {
				continue
			}
			to := &since
			switch {
			case s.periods[k].start >= d.On:
			case s.periods[k].end <= d.On:
				to = &before
			default:
				continue // begun before the decision, ended after it
			}
			to.points++
			to.values = append(to.values, p.Value)
			if !j.gaps() {
				to.num, to.den = to.num+s.num[k], to.den+s.den[k]
			}
		}
		for _, g := range j.chart.Signals {
			if s.periods[g.To].start >= d.On {
				signals++
			}
		}
		what := "no complete period since"
		if j.gaps() {
			what = "no event since whose gap began after it"
		}
		if since.points > 0 {
			what = j.standWords(since)
			if before.points > 0 {
				what += "; before " + j.standWords(before)
			}
			what += fmt.Sprintf(" (%s)", j.periodWords(since.points))
			if signals > 0 {
				what += "; " + words.N(signals, "signal", "signals")
			} else {
				what += "; no signal"
			}
		}
		if w.Since == nil {
			w.Since = map[int]string{}
		}
		w.Since[d.Pos.Line] = what
		t.row(d.On, d.What, d.NewPhase, before.points, j.standValue(before), since.points, j.standValue(since), signals)
	}
	w.addTable(t)
}

// level is the value over all points of a stand: the share, the rate, the
// mean of the means or counts, the median of the gaps.
func (j *chartJob) level(x stand) float64 {
	switch j.kind {
	case quality.KindP, quality.KindU:
		return x.num / x.den
	case quality.KindG, quality.KindT:
		v := append([]float64(nil), x.values...)
		sort.Float64s(v)
		n := len(v)
		return (v[(n-1)/2] + v[n/2]) / 2
	}
	sum := 0.0
	for _, v := range x.values {
		sum += v
	}
	return sum / float64(len(x.values))
}

// standValue is the level for the numbers, withheld where it stands for few.
func (j *chartJob) standValue(x stand) any {
	if x.points == 0 || j.few(x) {
		return nil
	}
	return finite(j.level(x))
}

// few says whether the level stands for few people.
func (j *chartJob) few(x stand) bool {
	w := j.work
	switch j.kind {
	case quality.KindP:
		return w.hiddenCount(int(x.num)) || w.hiddenCount(int(x.den-x.num)) || w.hiddenCount(int(x.den))
	case quality.KindG, quality.KindT:
		return false
	case quality.KindXmR:
		if j.y != nil {
			return w.hiddenCount(int(x.den))
		}
	}
	return w.hiddenCount(int(x.num))
}

func (j *chartJob) standWords(x stand) string {
	switch {
	case j.few(x):
		return "hidden, since it stands for few"
	case j.kind == quality.KindP:
		return j.share(int(x.num), int(x.den)) + " of " + words.Fixed(x.den, 0)
	case j.kind == quality.KindU:
		return words.Plain(j.level(x)) + " per " + j.perWords()
	case j.gaps():
		return "median " + j.show(j.level(x))
	}
	return "mean " + j.show(j.level(x))
}

// methods writes the sentence for a paper.
func (j *chartJob) methods() {
	w, c := j.work, j.chart
	from := "the binomial distribution at each period's own size"
	if j.kind == quality.KindU {
		from = "the Poisson distribution at each period's own exposure"
	}
	var m, ref string
	switch j.kind {
	case quality.KindP, quality.KindU:
		what := map[quality.Kind]string{quality.KindP: "share", quality.KindU: "rate"}[j.kind]
		m = fmt.Sprintf("The %s of each period was drawn on a %s chart with three-standard-deviation limits from %s", what, j.kind, from)
		if j.over {
			m += ", widened by the spread of the periods that set them beyond chance, from the moving range of their standardised values"
			w.References = append(w.References, "Laney DB. Improved control charts for attributes. Quality Engineering 2002; 14: 531-537.")
		}
		m += "."
		if j.expo != nil {
			m += j.exposureWords()
		}
	case quality.KindC:
		m = "The count of each period was drawn on a c chart with three-standard-deviation limits from the Poisson distribution."
	case quality.KindG:
		m = "The number of rows between one event and the next was drawn on a g chart, with the median as its centre and the 0.135% and 99.865% quantiles of the geometric distribution of the same mean as limits."
		if w.ask.Between == "days" {
			m = "The number of days from one event to the next was drawn on a g chart, with the median as its centre and the 0.135% and 99.865% quantiles of the geometric distribution of the same mean as limits."
		}
		ref = "Benneyan JC. Number-between g-type statistical quality control charts for monitoring adverse events. Health Care Management Science 2001; 4: 305-318."
	case quality.KindT:
		m = "The days from one event to the next were raised to the power 1/3.6 and drawn on a chart of individual values with limits at the centre plus and minus 2.66 times the mean moving range, all taken back to days."
		ref = "Nelson LS. A control chart for parts-per-million nonconforming items. Journal of Quality Technology 1994; 26: 239-240."
	default:
		m = "The value of each " + map[bool]string{true: "case", false: "period"}[j.singly()] + " was drawn on a chart of individual values with limits at the centre plus and minus 2.66 times the mean moving range."
	}
	if w.ask.BaselinePoints > 0 {
		things := j.things()
		m += fmt.Sprintf(" Limits are frozen at the first %d %s of a phase.", w.ask.BaselinePoints, things)
	}
	if len(c.Phases) > 1 {
		m += " A new phase starts only where a decision asks for one; the earlier limits are carried on faintly."
	}
	m += " One set of rules was applied: a point beyond the limits, a run on one side of the centre longer than log2(n) + 3, fewer crossings of the centre than chance gives in 95 of 100 series."
	switch {
	case j.gaps():
		m += " The stretch since the last event is told and not drawn."
	case !j.singly():
		m += " Periods not yet complete are listed and not drawn."
	}
	if j.lag > 0 && !j.gaps() {
		m += fmt.Sprintf(" Rows may be written down up to %s late; periods so recent are shaded and not judged.", words.At(j.lag))
	}
	w.Methods = m
	w.References = append([]string{"Shewhart WA. Economic control of quality of manufactured product. New York: Van Nostrand, 1931."}, w.References...)
	if ref != "" {
		w.References = append(w.References, ref)
	}
	w.References = append(w.References, "Anhøj J, Olesen AV. Run charts revisited: a simulation study of run chart rules for detection of non-random variation in health care processes. PLoS One 2014; 9: e113825.")
}

// exposureWords says in the methods sentence what a rate is a rate of.
func (j *chartJob) exposureWords() string {
	switch j.ask.Exposure {
	case exposureMonths:
		return fmt.Sprintf(" The exposure is the months during which %s in use, from delivery to the end or the data cut, unless the person was known to have moved away, been lost or died.", j.n(j.expo.units, "socket was", "sockets were"))
	case exposureVisits:
		return fmt.Sprintf(" The exposure is the %s at which the skin was checked or something was found.", j.n(j.expo.units, "visit", "visits"))
	}
	return " The exposure is the sum of " + label(j.expo.column) + "."
}
