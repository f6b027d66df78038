package answer

import (
	"fmt"
	"math"
	"strings"

	"plybook/analysis/survival"
	"plybook/reports/words"
)

// notOneSocket ends the readings of how long sockets last.
const notOneSocket = "This tells of many sockets together, not what one of them will do."

// kaplanMeierReading says the curves, what they rest on and how they differ.
func (w *work) kaplanMeierReading(fits []fitted, ev cause, until float64, diffs []survival.Difference, tests *compared) string {
	var s []string
	n := 0
	for _, f := range fits {
		n += f.curve.Rows
	}
	at, like, difference := w.commonTime(fits), longestMedian(fits), ""
	for k, f := range fits {
		if k == 4 {
			s = append(s, "The table gives the other groups.")
			break
		}
		s = append(s, w.curveSentence(f, ev, at, like))
	}
	s = append(s, fmt.Sprintf("Of %s, %s %s %s.", w.n(n, "socket", "sockets"), w.countOnly(w.Events), w.agree(w.Events, "was", "were"), ev.past))
	s = append(s, w.comparedSentences(tests, ev)...)
	if len(fits) == 2 && len(diffs) == 1 && diffs[0].HasTest {
		d := diffs[0]
		a, b, x := w.display(fits[0].name), w.display(fits[1].name), d.Estimate
		lo, hi := d.Low, d.High
		if x < 0 {
			a, b, x, lo, hi = b, a, -x, -hi, -lo
		}
		difference = fmt.Sprintf("Within %s, %s lasted %s longer on average than %s (%s %s).",
			words.Span(until), "the group "+b, words.SpanWithin(x, lo, hi), "the group "+a, w.confidenceWords(), words.SpanRange(lo, hi))
		s = append(s, difference)
	}
	w.Short = w.curvesInShort(fits, ev, at, difference, tests)
	return strings.Join(append(s, notOneSocket), " ")
}

// curvesInShort sets the curves of two to four groups side by side at one
// time, with how they differ; empty where there is no such time.
func (w *work) curvesInShort(fits []fitted, ev cause, at float64, difference string, tests *compared) string {
	if len(fits) < 2 || len(fits) > 4 || at < 0 {
		return ""
	}
	var parts []string
	for _, f := range fits {
		p, _ := f.curve.At(at)
		parts = append(parts, fmt.Sprintf("%s in the group %s", shareWords(p, f.curve.Rows), w.display(f.name)))
	}
	if difference == "" {
		difference = strings.Join(w.comparedSentences(tests, ev), " ")
	}
	return strings.TrimSpace(fmt.Sprintf("At %s, %s had not been %s. %s", words.At(at), words.List(parts), ev.past, difference))
}

// countOnly is a count without a noun.
func (w *work) countOnly(k int) string {
	w.mayPrint(k)
	about, rounded := w.about(k)
	switch {
	case w.smallCount(k):
		return fmt.Sprintf("fewer than %d", w.ctx.Front.HideBelow)
	case rounded:
		return "about " + about
	case w.withheld(k) != Told:
		return "a withheld number"
	case k == 0:
		return "none"
	}
	return words.Fixed(float64(k), 0)
}

// commonTime is the last of the times asked for that every curve reaches and may
// show, so that a sentence compares groups at one time; negative for none.
func (w *work) commonTime(fits []fitted) float64 {
	times := sortedTimes(w.ask.Times)
	for i := len(times) - 1; i >= 0; i-- {
		all := true
		for _, f := range fits {
			p, ok := f.curve.At(times[i].Days)
			all = all && ok && f.shown[times[i].Days] && (p.AtRisk > 0 || i == 0)
		}
		if all {
			return times[i].Days
		}
	}
	return -1
}

func (w *work) curveSentence(f fitted, ev cause, at, like float64) string {
	who, still := "Half of the sockets", "Fewer than half of the sockets"
	if f.name != "all" {
		who = "In the group " + w.display(f.name) + ", half"
		still = "In the group " + w.display(f.name) + ", fewer than half"
	}
	name := ""
	q := w.quantile(f.curve, 0.5)
	var out string
	switch {
	case !w.tellsTimes(f.counted()):
		out = fmt.Sprintf("%s, so few had been %s that no time is given", still, ev.past)
	case !q.Estimate.OK:
		out = fmt.Sprintf("%s had been %s within the time observed", still, ev.past)
		name = w.confidenceWords() + " "
	case q.Low.OK && q.High.OK:
		show := words.TimesWithin(q.Low.Value, q.High.Value, like)
		out = fmt.Sprintf("%s had been %s by %s (%s %s)", who, ev.past, show.Of(q.Estimate.Value), w.confidenceWords(), show.Range(q.Low.Value, q.High.Value))
	case q.Low.OK:
		show := words.TimesFrom(q.Estimate.Value, q.Low.Value, like)
		out = fmt.Sprintf("%s had been %s by %s (%s from %s, upper end not reached)", who, ev.past, show.Of(q.Estimate.Value), w.confidenceWords(), show.Of(q.Low.Value))
	default:
		out = fmt.Sprintf("%s had been %s by %s", who, ev.past, words.SpanIn(q.Estimate.Value, like))
	}
	if p, ok := f.curve.At(at); ok && at >= 0 {
		out += fmt.Sprintf("; at %s, %s had not", words.At(at), shareWords(p, f.curve.Rows))
		if hasWidth(p) {
			out += fmt.Sprintf(" (%s%s)", name, words.PercentRange(p.Low, p.High))
		}
	}
	return out + "."
}

// competingCaution counts the endings that are not the event, by kind, and
// warns where they are common enough to make the curve a poor forecast.
func (w *work) competingCaution(l *lives, ev cause) {
	is, untraced := map[string]bool{}, map[string]bool{}
	for _, r := range ev.reasons {
		is[r] = true
	}
	for _, r := range w.ctx.Sets["untraced"] {
		untraced[r] = true
	}
	other, gone := map[string]int{}, map[string]int{}
	others, lost, late := 0, 0, 0
	for j, r := range l.EndReason {
		switch {
		case r == "" || l.Cause[j] != 0 || r == "unknown": // the last has a caution of its own
		case untraced[r]:
			gone[r]++
			lost++
		case is[r]:
			late++
		default:
			other[r]++
			others++
		}
	}
	kinds := func(m map[string]int) string {
		var names []string
		var counts []int
		for _, r := range sortedKeys(m) {
			names, counts = append(names, causeLabel(r)), append(counts, m[r])
		}
		return w.parts(names, counts)
	}
	n := float64(len(l.Time))
	if others > 0 {
		what := fmt.Sprintf("%s ended for another reason (%s) and %s followed up to then, as if still in use but out of sight.",
			words.Capital(w.n(others, "socket", "sockets")), kinds(other), w.agree(others, "is", "are"))
		code := "ended-otherwise"
		if float64(others) > 0.1*n {
			code = "competing"
			what += " Such endings are common here: the answer says how long sockets would last if nothing else ended them."
			if w.ask.Event.Condition == nil {
				what += " To forecast how many will be " + ev.past + ", use cumulative-incidence."
			}
		}
		w.caution(code, "%s", what)
	}
	if late > 0 {
		w.caution("ended-later", "%s remade more than %s after delivery and %s followed up to then.",
			words.Capital(w.n(late, "socket was", "sockets were")), words.At(w.ctx.Front.EarlyRemakeDays), w.agree(late, "is", "are"))
	}
	if lost > 0 {
		what := fmt.Sprintf("%s lost from sight (%s) and %s followed up to then.", words.Capital(w.n(lost, "socket was", "sockets were")), kinds(gone), w.agree(lost, "is", "are"))
		if float64(lost) > 0.1*n {
			what += " That is more than one in ten: if those lost fare worse or better than those still seen, the answer is wrong by it."
		}
		w.caution("lost", "%s", what)
	}
}

// unknownEndings warns of endings whose reason is not known, with the answer
// if all of them were the event.
func (w *work) unknownEndings(l *lives, ev cause) {
	if w.ask.Event.Condition != nil {
		return // what is seen at visits does not hang on why a socket ended
	}
	k := 0
	for j, r := range l.EndReason {
		if r == "unknown" && l.Cause[j] == 0 && l.countsBy(j, ev, w.landmarkDays()) {
			k++
		}
	}
	if k > 0 {
		w.caution("reason-unknown", "%s", w.unknownReason(l, ev, k))
	}
}

// countsBy says whether the ending of life j came within the days in which
// an event counts.
func (l *lives) countsBy(j int, ev cause, landmark float64) bool {
	return ev.within == 0 || l.Time[j]+landmark <= ev.within
}

func (w *work) landmarkDays() float64 {
	if w.ask.Landmark == nil {
		return 0
	}
	return w.ask.Landmark.Days
}

// unknownReason gives the answer if every ending of unknown reason were the
// event.
func (w *work) unknownReason(l *lives, ev cause, k int) string {
	out := fmt.Sprintf("The reason for the end is not known for %s.", w.n(k, "socket", "sockets"))
	d := l.data(indices(len(l.Time)), nil)
	for j, r := range l.EndReason {
		if r == "unknown" && d.Cause[j] == 0 && l.countsBy(j, ev, w.landmarkDays()) {
			d.Cause[j] = 1
		}
	}
	c, err := survival.KaplanMeier(d, survival.CurveOptions{})
	if err != nil || w.hiddenCount(k) {
		return out
	}
	if p, at, ok := w.firstTime(c); ok && w.disclose(c.Points).allow(at, p.AtRisk) {
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
	} else if at > c.LastTime {
		at = math.Floor(c.LastTime)
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
	if !okA || !okB || !w.disclose(ca.Points).allow(at, pa.AtRisk) {
		return
	}
	a1, b1 := words.Percent(pa.Estimate, ca.Rows), words.Percent(pb.Estimate, cb.Rows)
	if a1 == b1 {
		w.caution("not-seen-twice", "At %s, %s had not been %s. That is so whether everyone is followed to the last record or all who were not seen again are taken to be still wearing the socket on the day of the data cut.",
			words.At(at), a1, ev.past)
	} else {
		w.caution("not-seen-twice", "At %s, %s had not been %s when everyone is followed to the last record. It is %s if all who were not seen again are taken to be still wearing the socket on the day of the data cut. The truth lies between.",
			words.At(at), a1, ev.past, b1)
	}
}

// scaleWords is the scale on which limits are made, in words.
func scaleWords(bounds string) string {
	if bounds == "complementary-log-log" {
		return "complementary log-log"
	}
	return strings.ReplaceAll(bounds, "-", " ")
}

func (w *work) kaplanMeierMethods(l *lives, ev cause, cluster string, tests *compared) {
	var s strings.Builder
	fmt.Fprintf(&s, "Time from %s until the socket was %s was estimated by the Kaplan-Meier method; sockets were followed to the person's last record, and every other ending was censored. ",
		w.timeZero(), ev.past)
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
	fmt.Fprintf(&s, "Standard errors are by %s; %s limits of the curve were made on the %s scale, and those of quantiles by inverting them.", errs, strings.TrimSuffix(w.confidenceWords(), " interval"), scaleWords(w.ask.Bounds))
	s.WriteString(w.comparedMethods(tests))
	s.WriteString(w.watchedMethods(cluster))
	s.WriteString(w.datedWords(l))
	if w.ownColumns() {
		s.WriteString(" The lab's own columns of sockets are taken as known at delivery.")
	}
	w.Methods = s.String()
	w.References = append(w.References,
		"Kaplan EL, Meier P. Nonparametric estimation from incomplete observations. J Am Stat Assoc 1958; 53: 457-481.",
		"Brookmeyer R, Crowley J. A confidence interval for the median survival time. Biometrics 1982; 38: 29-41.")
	w.References = append(w.References, w.comparedReferences(tests)...)
	w.References = append(w.References, w.watchedReferences()...)
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

// hasWidth says whether an interval tells anything: before the first event
// both its ends are 1 by definition.
func hasWidth(p survival.Point) bool { return p.HasBounds && p.High > p.Low }

// shareWords prints the share of a curve as its interval allows.
func shareWords(p survival.Point, rows int) string {
	if hasWidth(p) {
		return words.PercentWithin(p.Estimate, p.Low, p.High)
	}
	return words.Percent(p.Estimate, rows)
}

// longestMedian is the longest time among the medians of curves and their
// limits: medians that stand together are printed in the unit that suits it.
func longestMedian(fits []fitted) float64 {
	longest := 0.0
	for _, f := range fits {
		q := f.curve.Quantile(0.5)
		for _, l := range []survival.Limit{q.Estimate, q.Low, q.High} {
			if l.OK {
				longest = math.Max(longest, l.Value)
			}
		}
	}
	return longest
}
