package answer

import (
	"fmt"
	"math"

	"plybook/analysis/agreement"
	"plybook/reports/words"
)

// wayName names a way of measuring in a sentence.
func (m *remeasured) wayName(level int) string {
	n := m.levels[level]
	if isDigits(n) {
		return "reading " + n
	}
	return n
}

// sameWords lists the columns that tell what was measured.
func (w *work) sameWords() string {
	cols, err := w.sameColumns()
	if err != nil {
		return "the columns of `same`"
	}
	var names []string
	for _, c := range cols {
		names = append(names, label(c))
	}
	return words.List(names)
}

// fewThings is below how many things limits of agreement are wide (common
// practice; Bland and Altman 1986 give the error that it comes from).
const fewThings = 30

// agreementCautions raises what the readings leave in doubt.
func (w *work) agreementCautions(ms *measures) {
	if n := len(ms.things); n < fewThings {
		w.caution("few-rows", "%s measured again: the limits are themselves uncertain, as their intervals show.", w.only(n, "case was", "cases were"))
	}
	if ms.persons != nil && ms.many < 20 {
		w.caution("few-clusters", "The readings are of %s: intervals from so few are too narrow.", w.n(ms.many, plainName(ms.cluster), plainName(ms.cluster)+"s"))
	}
	if l := ms.limits; l != nil {
		if l.Bias.Low > 0 || l.Bias.High < 0 {
			more, less := ms.way(0), ms.way(1)
			if l.Bias.Value < 0 {
				more, less = less, more
			}
			w.caution("bias", "%s gives more than %s on average: a change between a reading of one and a reading of the other holds that difference too. Follow a limb in one way.", words.Capital(more), less)
		}
		apart := "ask of small and of large ones apart"
		advice := func(up bool) string {
			switch {
			case w.ask.Percent && !up:
				return "ask without `percent`, or of small and of large ones apart"
			case !w.ask.Percent && up:
				return "ask with `percent: yes`"
			}
			return apart
		}
		if l.SlopeP < 0.05 {
			w.caution("size", "Which of the two gives more depends on size: differences go %s from the small to the large (%s), so that one pair of limits does not fit all; %s.", upDown(l.Slope), words.PEquals(l.SlopeP), apart)
		}
		if l.SpreadP < 0.05 {
			w.caution("size", "How far readings lie apart depends on size: it goes %s from the small to the large (%s), so that the limits are too wide for some and too narrow for others; %s.", upDown(l.Spread), words.PEquals(l.SpreadP), advice(l.Spread > 0))
		}
	}
	if ms.icc != nil && ms.icc.OneWay.Value >= 0.9 {
		w.caution("spread", "Correlations near 1 say that cases differ far more from one another than readings of one case do. They do not say that a change of one limb can be seen: for that, go by the smallest change.")
	}
	w.leftOut(ms.remeasured)
}

func upDown(slope float64) string {
	if slope < 0 {
		return "down"
	}
	return "up"
}

// leftOut says which readings could not be used.
func (w *work) leftOut(m *remeasured) {
	if m.alone > 0 {
		w.caution("measured-once", "%s in one way only and %s not used. If they were chosen to be measured again because they were hard, or easy, the error is not that of every day.", words.Capital(w.n(m.alone, "case was measured", "cases were measured")), w.agree(m.alone, "is", "are"))
	}
	if m.again > 0 {
		w.caution("further-readings", "%s of a case in the same way: the first is used.", words.Capital(w.n(m.again, "row is a further reading", "rows are further readings")))
	}
	if m.unknown > 0 {
		w.caution("missing", "%s not say what was measured, or by what way, and %s left out.", words.Capital(w.n(m.unknown, "row does", "rows do")), w.agree(m.unknown, "is", "are"))
	}
}

// agreementWords writes the reading and the sentence for a paper.
func (w *work) agreementWords(ms *measures) {
	unit := unitWords(ms.unit)
	level := percentOf(w.ask.Confidence)
	rng := func(e agreement.Estimate) string {
		if math.IsNaN(e.Low) || math.IsNaN(e.High) {
			return ""
		}
		return fmt.Sprintf(" (%s interval %s)", level, words.Interval(e.Low, e.High))
	}
	value := func(e agreement.Estimate) string {
		if math.IsNaN(e.Low) {
			return words.Plain(e.Value)
		}
		return words.Value(e.Value, e.Low, e.High)
	}
	of := w.n(len(ms.things), "case", "cases")
	if ms.persons != nil {
		of += " of " + w.n(ms.many, plainName(ms.cluster), plainName(ms.cluster)+"s")
	}
	text := fmt.Sprintf("%s was measured more than once in %s. ", words.Capital(label(ms.y)), of)
	if l := ms.limits; l != nil {
		size, more, less := l.Bias, ms.way(0), ms.way(1)
		if l.Bias.Value < 0 {
			size = agreement.Estimate{Value: -l.Bias.Value, Low: -l.Bias.High, High: -l.Bias.Low}
			more, less = less, more
		}
		text += fmt.Sprintf("%s came out %s%s more than %s on average%s, and %s of pairs differ by between %s and %s%s. ",
			words.Capital(more), value(size), unit, less, rng(size), level, words.Value(l.Lower.Value, l.Lower.Low, l.Lower.High), words.Value(l.Upper.Value, l.Upper.Low, l.Upper.High), unit)
	}
	text += fmt.Sprintf("One reading is typically off by %s%s%s. Two readings must differ by more than %s%s%s before they show a change; less than that, measuring an unchanged limb again can give.",
		value(ms.error.SD), unit, rng(ms.error.SD), value(ms.error.Change), unit, rng(ms.error.Change))
	if ms.y.Name == "volume_ml" && w.ask.Percent {
		text += fmt.Sprintf(" To have cautions use it, write `volume_repeatability: %s` at the head of the notebook.", words.Fixed(ms.error.Change.Value, 1))
	}
	w.Reading = text
	w.Methods = fmt.Sprintf("Measurement error is the standard deviation of readings of one case; the smallest change is what %s of differences between two readings of an unchanged limb stay below.", level)
	if w.ask.Percent {
		w.Methods += " Differences are in percent of the mean of the readings of a case."
	}
	if l := ms.limits; l != nil {
		w.Methods += fmt.Sprintf(" Limits of agreement hold %s of differences", level)
		if l.Repeated {
			w.Methods += ", with the variance between and within persons added up"
			w.References = append(w.References, "Bland JM, Altman DG. Agreement between methods of measurement with multiple observations per individual. J Biopharm Stat 2007; 17: 571-582.")
		}
		w.Methods += "; their intervals are put together from those of mean and variance."
		w.References = append(w.References, "Bland JM, Altman DG. Statistical methods for assessing agreement between two methods of clinical measurement. Lancet 1986; i: 307-310.",
			"Zou GY. Confidence interval estimation for the Bland-Altman limits of agreement with multiple observations per individual. Stat Methods Med Res 2013; 22: 630-642.")
	} else {
		w.References = append(w.References, "Bland JM, Altman DG. Measurement error. BMJ 1996; 313: 744.")
	}
	if ms.icc != nil {
		w.References = append(w.References, "Shrout PE, Fleiss JL. Intraclass correlations: uses in assessing rater reliability. Psychol Bull 1979; 86: 420-428.")
	}
	w.resamplingWords(ms.remeasured)
}

// resamplingWords says how intervals allow for several things of one person.
func (w *work) resamplingWords(m *remeasured) {
	if m.persons == nil {
		return
	}
	w.Methods += fmt.Sprintf(" Other intervals are percentiles of %s samples of whole %ss.", words.Fixed(agreement.Draws, 0), plainName(m.cluster))
	w.References = append(w.References, "Efron B, Tibshirani RJ. An introduction to the bootstrap. New York: Chapman and Hall; 1993.")
}
