package answer

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"plybook/analysis/design"
	"plybook/reports/words"
)

// wayOut says what can be asked instead of one ratio that changes over time,
// in the words of a notebook: the same question split at a time, and one that
// needs no ratio.
func (w *work) wayOut(terms []string, r *coxRows, d *design.Design) string {
	var out []string
	var split, grouped, already []string
	for _, t := range terms {
		switch {
		case w.isSplit(t):
			already = append(already, w.columnLabel(t))
		case w.canSplit(t):
			if at, ok := middleEvent(r, d); ok {
				split = append(split, fmt.Sprintf("%s: %dd", t, at))
			}
		}
		if w.hasGroups(t, d) {
			grouped = append(grouped, t)
		}
	}
	const why = "To see the ratio before and after the day by which half of the events had come, add "
	switch keys := w.notWithSplit(); {
	case len(split) == 0:
	case len(w.ask.Split) > 0:
		out = append(out, fmt.Sprintf(why+"`%s` to `split`.", strings.Join(split, ", ")))
	case len(keys) > 0:
		out = append(out, fmt.Sprintf(why+"`split: {%s}` to this question and leave out %s.", strings.Join(split, ", "), words.List(keys)))
	default:
		out = append(out, fmt.Sprintf(why+"`split: {%s}` to this question.", strings.Join(split, ", ")))
	}
	if len(already) > 0 {
		out = append(out, fmt.Sprintf("The ratio for %s changes even within the parts of `split`: try other times%s.", words.List(already), w.orPicture(", or look at `diagnostics: yes` without `split`")))
	}
	switch {
	case len(grouped) == 0:
	case w.ask.Repeats != "":
		out = append(out, fmt.Sprintf("Or compare the mean number of events by each time, which needs no such ratio: ask with `method: mean-cumulative` and `by: %s` in place of cox and its columns.", grouped[0]))
	default:
		text := fmt.Sprintf("Or compare the time lost within a period, which needs no such ratio: ask with `method: kaplan-meier`, `by: %s`", grouped[0])
		if last := shortestWatch(grouped[0], r, d); last >= 1 {
			text += fmt.Sprintf(" and `until: %dd`", int(last))
		}
		out = append(out, text+" in place of cox and its columns, and read its table of time lost.")
	}
	if len(out) == 0 {
		return w.orPicture(" How it changes is drawn with `diagnostics: yes`.")
	}
	return " " + strings.Join(out, " ")
}

// orPicture is text where the picture of effects over time can be had.
func (w *work) orPicture(text string) string {
	if w.ask.Repeats != "" || len(w.ask.Varying) > 0 || w.ask.Frailty != "" || w.ask.Diagnostics {
		return ""
	}
	return text
}

func (w *work) isSplit(term string) bool {
	for _, s := range w.ask.Split {
		if s.Column == term {
			return true
		}
	}
	return false
}

// canSplit says whether `split` takes a term: not a product or a curve, nor
// one that is compared.
func (w *work) canSplit(term string) bool {
	for _, s := range w.ask.Spline {
		if s.Column == term {
			return false
		}
	}
	for _, x := range w.ask.Interact {
		if x[0] == term || x[1] == term {
			return false
		}
	}
	for _, c := range w.ask.Contrasts {
		if c.Column == term || slices.Contains(c.Given.Columns, term) {
			return false
		}
	}
	return (term == w.ask.By || contains(w.ask.Adjust, term) || contains(w.ask.Varying, term)) && w.ask.Frailty == ""
}

// notWithSplit are the keys of the question that do not go with `split`.
func (w *work) notWithSplit() []string {
	var out []string
	if len(w.ask.Profiles) > 0 {
		out = append(out, "`profiles`")
	}
	if w.ask.Adjusted {
		out = append(out, "`adjusted`")
	}
	if w.ask.Diagnostics {
		out = append(out, "`diagnostics`")
	}
	return out
}

// hasGroups says whether a term can be the groups of a curve.
func (w *work) hasGroups(term string, d *design.Design) bool {
	k := slices.Index(d.TermNames, term)
	return k >= 0 && d.Cats[k] != nil && !contains(w.ask.Varying, term) && !w.ownFactor(term)
}

// ownFactor says that a term is a number taken as categories, of which curves
// would be drawn value by value.
func (w *work) ownFactor(term string) bool { return contains(w.ask.Factors, term) }

// middleEvent is the day by which half of the events had come, where events
// came before and after it.
func middleEvent(r *coxRows, d *design.Design) (day int, ok bool) {
	var at []float64
	for _, j := range d.Rows {
		if r.event[j] {
			at = append(at, r.time[j])
		}
	}
	if len(at) < 4 {
		return 0, false
	}
	slices.Sort(at)
	// At most half lie before it, and the last lies after it.
	day = int(math.Floor(at[(len(at)-1)/2]))
	if float64(day) < at[0] || float64(day) >= at[len(at)-1] || day < 1 {
		return 0, false
	}
	return day, true
}

// shortestWatch is the least, over the categories of a term, of the last day
// at which a socket of it was watched.
func shortestWatch(term string, r *coxRows, d *design.Design) float64 {
	c, ok := r.table.Col(term)
	if !ok {
		return 0
	}
	last := map[string]float64{}
	for _, j := range d.Rows {
		v := valueText(c, j)
		last[v] = math.Max(last[v], r.time[j])
	}
	least := math.Inf(1)
	for _, t := range last {
		least = math.Min(least, t)
	}
	if math.IsInf(least, 1) {
		return 0
	}
	return math.Floor(least)
}

// curveMethod is the method that draws what the model is about.
func (w *work) curveMethod() string {
	if w.ask.Repeats != "" {
		return "mean-cumulative"
	}
	return "kaplan-meier"
}
