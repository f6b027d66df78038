package answer

import (
	"fmt"
	"math"
	"strings"

	"plybook/analysis/table"
	"plybook/reports/words"
)

// mostTold is how many terms of a model a reading tells; the table has all.
const mostTold = 4

// What the readings of models end with: what their numbers do not show.
const (
	notCause      = "Such comparisons do not show what causes a difference."
	notHowMany    = "A hazard ratio compares how fast, not how many in the end, and does not show the cause."
	notHowOften   = "A hazard ratio compares how often, not how many in the end, and does not show the cause."
	notHowFar     = "A ratio tells which way the share goes, not how far, and does not show the cause."
	notTimesOften = "An odds ratio says which way, not how many times as often, and does not show the cause."
)

// ratioSides are what a ratio above and below 1 means, as the end of a sentence.
type ratioSides struct {
	measure, above, below string
	silent                bool // the interval does not tell which way
}

// comparedIn names what the coefficient of a term compares.
func comparedIn(e estimate) string {
	switch {
	case e.column.Category != "" && e.column.Reference == "":
		return e.column.Label + " " + e.column.Category
	case strings.HasPrefix(strings.ToLower(e.column.Category), strings.ToLower(e.column.Label)+" "): // "grade A"
		return fmt.Sprintf("%s against %s", e.column.Category, e.column.Reference)
	case e.column.Category != "":
		return fmt.Sprintf("%s %s against %s", e.column.Label, e.column.Category, e.column.Reference)
	case e.column.Unit == "":
		return "each further unit of " + e.column.Label
	}
	unit := perUnit(e.column.Unit)
	for _, head := range []string{e.column.Unit + " ", "time since "} { // "months since amputation" is not told twice
		if rest, ok := strings.CutPrefix(e.column.Label, head); ok {
			return "each further " + unit + " " + map[bool]string{true: "since "}[head == "time since "] + rest
		}
	}
	return "each further " + unit + " of " + e.column.Label
}

// ratioNumber prints a ratio with what is known of its interval, the first of
// a reading with the name of the interval.
func (w *work) ratioNumber(e estimate, first bool) string {
	r, lo, hi := math.Exp(e.value), math.Exp(e.low), math.Exp(e.high)
	name := ""
	if first {
		name = w.confidenceWords() + " "
	}
	switch {
	case e.noInterval && math.IsNaN(e.low) && math.IsNaN(e.high):
		return words.Ratio(r) + " (interval not computed)"
	case math.IsNaN(e.low):
		return fmt.Sprintf("%s (%sup to %s)", words.Ratio(r), name, words.Ratio(hi))
	case math.IsNaN(e.high):
		return fmt.Sprintf("%s (%sfrom %s)", words.Ratio(r), name, words.Ratio(lo))
	}
	return fmt.Sprintf("%s (%s%s)", words.RatioWithin(r, lo, hi), name, words.RatioRange(lo, hi))
}

// way ends a sentence with the side on which an interval lies; empty where
// there is none.
func (s ratioSides) way(e estimate) string {
	switch {
	case s.silent || e.noInterval && math.IsNaN(e.low) && math.IsNaN(e.high):
		return ""
	case e.low > 0:
		return ": " + s.above
	case e.high < 0:
		return ": " + s.below
	}
	return ", which could be either way"
}

// ratioSentence says one ratio of a reading: the number with its interval,
// what it compares, which way it points.
func (w *work) ratioSentence(k int, e estimate, s ratioSides) string {
	if k == 0 {
		return fmt.Sprintf("The %s for %s is %s%s.", s.measure, comparedIn(e), w.ratioNumber(e, true), s.way(e))
	}
	return fmt.Sprintf("For %s it is %s%s.", comparedIn(e), w.ratioNumber(e, false), s.way(e))
}

// ratioSentences says the ratios of the first term, or of the first rows.
func (w *work) ratioSentences(es []estimate, s ratioSides) []string {
	told := w.termsTold(es)
	var out []string
	for k, e := range told {
		out = append(out, w.ratioSentence(k, e, s))
	}
	return out
}

// termsTold are the estimates that a reading tells: those of the column that
// groups the rows, or the first few.
func (w *work) termsTold(es []estimate) []estimate {
	var out []estimate
	for _, e := range whole(es) {
		if e.intercept {
			continue
		}
		if w.ask.By != "" && e.column.Term != w.ask.By && len(out) > 0 || len(out) == mostTold {
			break
		}
		out = append(out, e)
	}
	return out
}

// slopeSentences says differences of a mean: the number with its interval and
// what it compares.
func (w *work) slopeSentences(es []estimate, y *table.Column) []string {
	var out []string
	for _, e := range es {
		lead := "For " + comparedIn(e) + " it differs"
		if len(out) == 0 {
			lead = fmt.Sprintf("%s differs", words.Capital(label(y)))
		}
		s := fmt.Sprintf("%s by %s", lead, w.slopeNumber(e, y, len(out) == 0))
		if len(out) == 0 {
			s += " for " + comparedIn(e)
		}
		if !e.noInterval && e.low <= 0 && e.high >= 0 {
			s += ", which may be no difference"
		}
		out = append(out, s+".")
	}
	return out
}

// slopeNumber prints a difference with its interval.
func (w *work) slopeNumber(e estimate, y *table.Column, first bool) string {
	one, many := pointNouns(y.Unit)
	if e.noInterval {
		return words.With(words.SignedPlain(e.value), one, many) + " (interval not computed)"
	}
	name := ""
	if first {
		name = w.confidenceWords() + " "
	}
	return fmt.Sprintf("%s (%s%s)", words.With(words.Signed(e.value, e.low, e.high), one, many), name, words.Interval(e.low, e.high))
}

// pointNouns are the unit of a difference of one and of several.
func pointNouns(unit string) (one, many string) {
	switch unit {
	case "of 10", "0 to 3":
		return "point", "points"
	case "%":
		return "percentage point", "percentage points"
	case "days", "years", "months", "socks":
		return perUnit(unit), unit
	}
	return unit, unit
}

// shortOfTerms answers in short by the first terms, two at most, and by what
// they rest on.
func (w *work) shortOfTerms(told []string, rests string) {
	w.Short = strings.Join(append(append([]string{}, told[:min(2, len(told))]...), rests), " ")
}

// sentence ends a phrase as a sentence.
func sentence(phrase string) string { return words.Capital(phrase) + "." }

// besideEachOther parts the numbers of groups in one sentence: of more than
// two by semicolons.
func besideEachOther(n int) string {
	if n > 2 {
		return "; "
	}
	return ", "
}

// itIs agrees with how many numbers a reading has told.
func itIs(n int, one, many string) string {
	if n == 1 {
		return "The " + one + " is"
	}
	return "The " + many + " are"
}
