package answer

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"plybook/analysis/survival"
	"plybook/reports/document"
	"plybook/reports/words"
)

// lookedReading says the curves in a few sentences.
func (w *work) lookedReading(fits []looked, ev cause) string {
	n := 0
	for _, f := range fits {
		n += f.curve.Rows
	}
	s := []string{fmt.Sprintf("Of %s looked at during visits, %s %s %s.", w.n(n, "socket", "sockets"), w.countOnly(w.Events), w.agree(w.Events, "was", "were"), ev.past)}
	for k, f := range fits {
		if k == 4 {
			s = append(s, "The table gives the other groups.")
			break
		}
		s = append(s, w.lookedSentence(f, ev))
	}
	return strings.Join(append(s, "When it came about between two visits, and what followed the last visit, the log cannot say."), " ")
}

func (w *work) lookedSentence(f looked, ev cause) string {
	half, still, who := "Half of them", "Fewer than half of them", "Half or more of them"
	if f.name != "all" {
		in := "In the group " + w.display(f.name)
		half, still, who = in+", half", in+", fewer than half", in+", half or more"
	}
	q := w.intervalQuantile(f.curve, 0.5)
	var out string
	switch {
	case !w.tellsTimes(f.seen):
		out = fmt.Sprintf("%s, so few had come to this that no time is given", still)
	case !q.Right.OK:
		out = fmt.Sprintf("%s had come to this within the time watched", still)
	case q.Right.Value == 0:
		out = who + " were found so on the very day that the clock starts"
	case words.Span(q.Left.Value) == words.Span(q.Right.Value):
		out = fmt.Sprintf("%s had come to this by %s%s", half, words.Span(q.Right.Value), w.lookedLimits(q))
	default:
		out = fmt.Sprintf("%s had come to this at some time between %s%s", half, between(q.Left.Value, q.Right.Value), w.lookedLimits(q))
	}
	times := sortedTimes(w.ask.Times)
	for i := len(times) - 1; i >= 0; i-- {
		p, ok := f.curve.At(times[i].Days)
		if !ok || !f.shown[times[i].Days] {
			continue
		}
		out += fmt.Sprintf("; at %s, %s had not", words.At(times[i].Days), shareRange(p.Lowest, p.Highest, f.curve.Rows))
		if p.HasBounds {
			out += fmt.Sprintf(" (%s %s)", w.confidenceWords(), words.PercentRange(p.Low, p.High))
		}
		break
	}
	return out + "."
}

// between is two lengths of time as the ends of a stretch.
func between(from, to float64) string {
	return strings.Replace(words.SpanRange(from, to), " to ", " and ", 1)
}

func (w *work) lookedLimits(q survival.IntervalQuantile) string {
	switch {
	case q.Low.OK && q.High.OK:
		return fmt.Sprintf(" (%s %s)", w.confidenceWords(), words.SpanRange(q.Low.Value, q.High.Value))
	case q.Low.OK:
		return fmt.Sprintf(" (%s from %s, upper end not reached)", w.confidenceWords(), words.Span(q.Low.Value))
	}
	return ""
}

// shareRange is a share that may be undetermined.
func shareRange(lowest, highest float64, n int) string {
	if a, b := words.Percent(lowest, n), words.Percent(highest, n); a == b {
		return a
	}
	return strings.TrimSuffix(words.Percent(lowest, n), "%") + " to " + words.Percent(highest, n)
}

// lookedPrint is the printed table: groups side by side where they are few.
func (w *work) lookedPrint(fits []looked) document.Block {
	heads := []string{"", "Sockets", "Found", "Median gap between visits", "Half had come to it"}
	for _, at := range sortedTimes(w.ask.Times) {
		heads = append(heads, "Not yet at "+words.At(at.Days))
	}
	cells := [][]string{heads}
	for _, f := range fits {
		cells = append(cells, w.lookedCells(f))
	}
	t := document.Table{ID: w.ask.ID + "-table", Caption: "Time until it was found" + byWords(w.ask.By)}
	if len(fits) <= 3 {
		cells = transposed(cells)
	}
	t.Columns, t.Rows = headed(cells)
	t.Notes = []string{"In brackets: " + w.confidenceWords() + ". Where a stretch or a range stands, the visits do not tell more. The gap is between visits that could tell.", lookedCheck(fits)}
	return t
}

func (w *work) lookedCells(f looked) []string {
	row := []string{w.groupName(f.name), w.cell(f.curve.Rows), w.cell(f.seen), words.NotComputed, "not reached"}
	if f.hasGaps {
		row[3] = words.Span(f.gap)
	}
	if !w.tellsTimes(f.seen) {
		row[4] = "hidden"
	} else if q := w.intervalQuantile(f.curve, 0.5); q.Right.OK {
		row[4] = words.SpanRange(q.Left.Value, q.Right.Value)
		if words.Span(q.Left.Value) == words.Span(q.Right.Value) {
			row[4] = words.Span(q.Right.Value)
		}
		switch {
		case q.Low.OK && q.High.OK:
			row[4] += " (" + words.SpanRange(q.Low.Value, q.High.Value) + ")"
		case q.Low.OK:
			row[4] += " (from " + words.Span(q.Low.Value) + ")"
		}
	}
	for _, at := range sortedTimes(w.ask.Times) {
		p, ok := f.curve.At(at.Days)
		switch {
		case !ok:
			row = append(row, "no one watched")
		case !f.shown[at.Days]:
			row = append(row, "hidden")
		case !p.HasBounds:
			row = append(row, shareRange(p.Lowest, p.Highest, f.curve.Rows))
		default:
			row = append(row, shareRange(p.Lowest, p.Highest, f.curve.Rows)+" ("+words.PercentRange(p.Low, p.High)+")")
		}
	}
	return row
}

func (w *work) lookedMethods(l *lives, ev cause, cluster string) {
	var s strings.Builder
	fmt.Fprintf(&s, "Time from %s until the socket was %s is known only to lie between the last visit without it and the first with it; its distribution was estimated by nonparametric maximum likelihood for such intervals (Turnbull), with the Kuhn-Tucker conditions and self-consistency checked. "+
		"Sockets were followed to the last visit that could tell, and every ending was censored there. ", w.timeZero(), ev.past)
	for _, e := range l.Entry {
		if e > 0 {
			s.WriteString("Sockets that came under observation after the start count from the first visit at which they were without it (delayed entry). ")
			break
		}
	}
	unit := "socket"
	if cluster != "" {
		unit = cluster
	}
	seed := w.ask.Seed
	if seed == 0 {
		seed = 1
	}
	fmt.Fprintf(&s, "%s limits are percentiles of %d bootstrap samples drawn by %s (seed %d); they are approximate, and span what the visits leave undetermined.",
		strings.TrimSuffix(w.confidenceWords(), " interval"), survival.DefaultDraws, unit, seed)
	if w.ownColumns() {
		s.WriteString(" The lab's own columns of sockets are taken as known at delivery.")
	}
	w.Methods = s.String()
	w.References = append(w.References,
		"Turnbull BW. The empirical distribution function with arbitrarily grouped, censored and truncated data. J R Stat Soc B 1976; 38: 290-295.",
		"Wang Y. Dimension-reduced nonparametric maximum likelihood computation for interval-censored data. Comput Stat Data Anal 2008; 52: 2388-2402.")
}

// lookedFit says of each curve how it was found and how it stands up.
func (w *work) lookedFit(fits []looked) {
	t := tableOf("fit", text("group"), count("rows"), count("events"), integer("iterations"), number("log_likelihood", ""), number("kuhn_tucker", ""),
		number("self_consistency", ""), text("unique"), integer("draws"))
	for _, f := range fits {
		unique := "yes"
		if !f.curve.Unique {
			unique = "no"
		}
		if w.hiddenCount(f.seen) || w.hiddenCount(f.curve.Rows-f.seen) {
			w.withhold(t, 2, []any{f.name, f.curve.Rows})
			continue
		}
		t.row(f.name, f.curve.Rows, f.seen, f.curve.Iterations, f.curve.LogLikelihood, f.curve.KKT, f.curve.Inconsistency, unique, f.curve.Draws)
	}
	w.addTable(t)
}

// lookedCheck says that the curves are what they should be: the most likely
// ones, and unchanged by a step of self-consistency.
func lookedCheck(fits []looked) string {
	worst, step := 0.0, 0.0
	for _, f := range fits {
		worst, step = math.Max(worst, f.curve.KKT), math.Max(step, f.curve.Inconsistency)
	}
	out := fmt.Sprintf("Check of the curve: it is the most likely one to within %s of the conditions for it (below 0.000001 is converged)", power(worst))
	if len(fits) > 1 {
		out = fmt.Sprintf("Check of the curves: they are the most likely ones to within %s of the conditions for it (below 0.000001 is converged)", power(worst))
	}
	return out + fmt.Sprintf("; one more step of self-consistency would move no share by more than %s.", power(step))
}

// power is the power of ten that a small number stays below.
func power(x float64) string {
	if x < 1e-12 {
		return "a millionth of a millionth"
	}
	for _, s := range []struct {
		limit float64
		words string
	}{{1e-9, "a thousand-millionth"}, {1e-6, "a millionth"}, {1e-4, "a ten-thousandth"}} {
		if x < s.limit {
			return s.words
		}
	}
	return words.Plain(x)
}

func median(xs []float64) float64 {
	xs = append([]float64(nil), xs...)
	sort.Float64s(xs)
	n := len(xs)
	return (xs[(n-1)/2] + xs[n/2]) / 2
}
