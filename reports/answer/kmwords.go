package answer

import (
	"fmt"
	"math"
	"strings"

	"plybook/analysis/stats"
	"plybook/analysis/survival"
	"plybook/reports/words"
)

// kaplanMeierReading says the curves in one to three sentences.
func (w *work) kaplanMeierReading(fits []fitted, ev cause, until float64, diffs []survival.Difference, tests []stats.Test) string {
	var s []string
	n := 0
	for _, f := range fits {
		n += f.curve.Rows
	}
	s = append(s, fmt.Sprintf("Of %s, %s were seen to be %s.", w.n(n, "socket", "sockets"), w.countOnly(w.Events), ev.past))
	for k, f := range fits {
		if k == 4 {
			s = append(s, "The table gives the other groups.")
			break
		}
		s = append(s, w.curveSentence(f, ev))
	}
	if len(tests) > 0 {
		t := tests[len(tests)-1]
		verdict := "The curves differ by more than chance alone would often give"
		if t.P >= 0.05 {
			verdict = "The difference between the curves is no larger than chance often gives"
		}
		s = append(s, fmt.Sprintf("%s (%s, %s).", verdict, t.Name, words.PEquals(t.P)))
	}
	if len(fits) == 2 && len(diffs) == 1 && diffs[0].HasTest {
		d := diffs[0]
		a, b, x := w.display(fits[0].name), w.display(fits[1].name), d.Estimate
		lo, hi := d.Low, d.High
		if x < 0 {
			a, b, x, lo, hi = b, a, -x, -hi, -lo
		}
		s = append(s, fmt.Sprintf("Within %s, %s lasted %s longer on average than %s (%s %s).",
			words.Span(until), "the group "+b, words.Span(x), "the group "+a, w.confidenceWords(), words.SpanRange(lo, hi)))
	}
	return strings.Join(s, " ")
}

// countOnly is a count without a noun.
func (w *work) countOnly(k int) string {
	if w.hiddenCount(k) {
		return fmt.Sprintf("fewer than %d", w.ctx.Front.HideBelow)
	}
	if k == 0 {
		return "none"
	}
	return words.Fixed(float64(k), 0)
}

func (w *work) curveSentence(f fitted, ev cause) string {
	who := "Half of them"
	still := "Of them"
	if f.name != "all" {
		who = "Of the group " + w.display(f.name) + ", half"
		still = "Of the group " + w.display(f.name)
	}
	q := f.curve.Quantile(0.5)
	var out string
	switch {
	case !q.Estimate.OK:
		out = fmt.Sprintf("%s, fewer than half had been %s within the time observed", still, ev.past)
	case q.Low.OK && q.High.OK:
		out = fmt.Sprintf("%s had been %s by %s (%s %s)", who, ev.past, words.Span(q.Estimate.Value), w.confidenceWords(), words.SpanRange(q.Low.Value, q.High.Value))
	default:
		out = fmt.Sprintf("%s had been %s by %s", who, ev.past, words.Span(q.Estimate.Value))
		if q.Low.OK {
			out += fmt.Sprintf(" (%s from %s, upper end not reached)", w.confidenceWords(), words.Span(q.Low.Value))
		}
	}
	for i := len(w.ask.Times) - 1; i >= 0; i-- {
		p, ok := f.curve.At(w.ask.Times[i].Days)
		if !ok {
			continue
		}
		out += fmt.Sprintf("; at %s, %s had not", words.At(w.ask.Times[i].Days), words.Percent(p.Estimate, f.curve.Rows))
		if p.HasBounds {
			out += fmt.Sprintf(" (%s)", words.PercentRange(p.Low, p.High, f.curve.Rows))
		}
		break
	}
	return out + "."
}

// competingCaution warns where other endings are common enough to make the
// complement of the curve too large a forecast.
func (w *work) competingCaution(l *lives, ev cause) {
	kinds := map[string]int{}
	total := 0
	is := map[string]bool{}
	for _, r := range ev.reasons {
		is[r] = true
	}
	for _, r := range w.ctx.Sets["untraced"] {
		is[r] = true
	}
	for j, r := range l.EndReason {
		if r != "" && l.Cause[j] == 0 && !is[r] {
			kinds[r]++
			total++
		}
	}
	if total == 0 {
		return
	}
	var parts []string
	for _, r := range sortedKeys(kinds) {
		parts = append(parts, fmt.Sprintf("%s %s", r, w.cell(kinds[r])))
	}
	what := fmt.Sprintf("%s ended for another reason (%s) and are followed up to then, as if still in use but out of sight.",
		words.Capital(w.n(total, "socket", "sockets")), strings.Join(parts, ", "))
	if float64(total) > 0.1*float64(len(l.Time)) {
		what += " Such endings are common here: the curve says how long sockets would last if nothing else ended them. To forecast how many will be " + ev.past + ", use cumulative-incidence."
		w.caution("competing", "%s", what)
	} else {
		w.caution("ended-otherwise", "%s", what)
	}
}

// unknownEndings warns of endings whose reason is not known, with the answer
// if all of them were the event.
func (w *work) unknownEndings(l *lives, ev cause) {
	k := 0
	for j, r := range l.EndReason {
		if r == "unknown" && l.Cause[j] == 0 {
			k++
		}
	}
	if k > 0 {
		w.caution("reason-unknown", "%s", w.unknownReason(l, ev, k))
	}
}

// unknownReason gives the answer if every ending of unknown reason were the
// event.
func (w *work) unknownReason(l *lives, ev cause, k int) string {
	out := fmt.Sprintf("The reason for the end is not known for %s.", w.n(k, "socket", "sockets"))
	d := l.data(indices(len(l.Time)), nil)
	for j, r := range l.EndReason {
		if r == "unknown" && d.Cause[j] == 0 {
			d.Cause[j] = 1
		}
	}
	c, err := survival.KaplanMeier(d, survival.CurveOptions{})
	if err != nil {
		return out
	}
	if p, at, ok := w.firstTime(c); ok {
		out += fmt.Sprintf(" If all of them had been %s, %s would not have been by %s.", ev.past, words.Percent(p.Estimate, c.Rows), words.At(at))
	}
	return out
}

func indices(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

// firstTime is the curve at the first of `times` that it reaches, or at one
// year.
func (w *work) firstTime(c *survival.Curve) (survival.Point, float64, bool) {
	at := 365.25
	if len(w.ask.Times) > 0 {
		at = w.ask.Times[0].Days
	}
	p, ok := c.At(at)
	return p, at, ok
}

// notSeenTwice gives the first of `times` twice where many open sockets have
// not been seen for long: censored at the last evidence, and followed to the
// data cut.
func (w *work) notSeenTwice(l *lives, ev cause) {
	open, unseen := l.openUnseen()
	if open == 0 || float64(unseen) <= 0.1*float64(open) {
		return
	}
	a := l.data(indices(len(l.Time)), nil)
	b := a
	b.Time = append([]float64(nil), a.Time...)
	for j := range b.Time {
		b.Time[j] = math.Max(b.Time[j], l.IfPresent[j])
	}
	ca, errA := survival.KaplanMeier(a, survival.CurveOptions{})
	cb, errB := survival.KaplanMeier(b, survival.CurveOptions{})
	if errA != nil || errB != nil {
		return
	}
	pa, at, okA := w.firstTime(ca)
	pb, _, okB := w.firstTime(cb)
	if okA && okB {
		w.caution("not-seen-twice", "At %s, %s had not been %s when everyone is followed to the last record, and %s if all who were not seen again are taken to be still wearing the socket on the day of the data cut. The truth lies between.",
			words.At(at), words.Percent(pa.Estimate, ca.Rows), ev.past, words.Percent(pb.Estimate, cb.Rows))
	}
}

func (w *work) kaplanMeierMethods(l *lives, ev cause, cluster string, tests []stats.Test) {
	var s strings.Builder
	fmt.Fprintf(&s, "Time from %s until the socket was %s was estimated by the Kaplan-Meier method; sockets were followed to the person's last record, and every other ending was censored. ",
		strings.ToLower(strings.TrimPrefix(w.timeAxis(), "Time since ")), ev.past)
	late := false
	for _, e := range l.Entry {
		late = late || e > 0
	}
	if late {
		s.WriteString("Sockets that came under observation after the start count as at risk only from then on (delayed entry). ")
	}
	errs := "Greenwood's formula"
	if cluster != "" {
		errs = "the infinitesimal jackknife grouped by " + cluster
	}
	fmt.Fprintf(&s, "Standard errors are by %s; %s limits of the curve were made on the %s scale, and those of quantiles by inverting them.", errs, strings.TrimSuffix(w.confidenceWords(), " interval"), strings.ReplaceAll(w.ask.Bounds, "-", " "))
	for _, t := range tests {
		fmt.Fprintf(&s, " Groups were compared by the %s.", strings.TrimPrefix(t.Name, "the "))
	}
	s.WriteString(w.datedWords(l))
	if w.ownColumns() {
		s.WriteString(" The lab's own columns of sockets are taken as known at delivery.")
	}
	w.Methods = s.String()
	w.References = append(w.References,
		"Kaplan EL, Meier P. Nonparametric estimation from incomplete observations. J Am Stat Assoc 1958; 53: 457-481.",
		"Brookmeyer R, Crowley J. A confidence interval for the median survival time. Biometrics 1982; 38: 29-41.")
	if len(tests) > 0 {
		w.References = append(w.References, "Mantel N. Evaluation of survival data and two new rank order statistics arising in its consideration. Cancer Chemother Rep 1966; 50: 163-170.")
	}
}

// ownColumns says whether the ask explains with one of the lab's own columns.
func (w *work) ownColumns() bool {
	names := append([]string{w.ask.By}, w.ask.Adjust...)
	for _, n := range append(names, w.ask.Strata...) {
		if c, ok := w.table.Col(n); ok && c.Own {
			return true
		}
	}
	return false
}
