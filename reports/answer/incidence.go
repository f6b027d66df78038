package answer

import (
	"fmt"
	"math"
	"strings"

	"plybook/analysis/survival"
	"plybook/analysis/table"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/words"
)

// incidence is a group with its curves, one a cause.
type incidence struct {
	group
	fit   *survival.Incidence
	open  *disclosure
	shown map[float64]bool // of `times`: reached by the curves, and not withheld
}

// cumulativeIncidence answers which reason ends sockets, the others and
// death competing.
func cumulativeIncidence(w *work) error {
	l, gs, clusterName, err := w.groupedLives(true)
	if err != nil {
		return err
	}
	o := survival.CurveOptions{Level: w.ask.Confidence, Bounds: scales[w.ask.Bounds]}
	var fits []incidence
	for _, g := range gs {
		f, err := survival.CumulativeIncidence(g.data, len(l.causes), o)
		if err != nil {
			return fmt.Errorf("group %s: %w", g.name, err)
		}
		fits = append(fits, incidence{group: g, fit: f, open: w.disclose(f.Causes...), shown: map[float64]bool{}})
		w.groupWarnings(g, f.Warnings)
	}
	w.incidenceTimes(l, fits)
	w.incidenceCurves(l, fits)
	lost, err := w.incidenceLost(l, fits)
	if err != nil {
		return err
	}
	if w.Events == 0 {
		w.caution("no-events", "No socket had any of the events asked for.")
	} else if w.Events < 10 {
		w.caution("few-events", "%s: the shares rest on few and move much with each.", w.only(w.Events, "event", "events"))
	}
	tests, err := w.incidenceTests(l, fits, clusterName)
	if err != nil {
		return err
	}
	w.unknownCaution(l)
	w.incidenceNotSeenTwice(l)
	for _, f := range fits {
		if last := f.fit.EventFree[len(f.fit.EventFree)-1]; last.AtRisk < 10 && f.fit.Rows >= 10 {
			w.tailCaution("Curves are drawn faint where fewer than 10 sockets are at risk: chance rules there.")
			break
		}
	}
	w.incidenceFigures(l, fits)
	w.Reading = w.incidenceReading(l, fits) + incidenceVerdict(tests) + " " + notOneSocket
	shown := w.incidencePrint(l, fits)
	shown.Notes = append(shown.Notes, w.unseenNote(l, gs))
	w.print(shown)
	if len(lost.Rows) > 0 {
		w.print(lost)
	}
	w.incidenceMethods(l, clusterName, tests)
	return nil
}

func (w *work) unknownCaution(l *lives) {
	k := 0
	for j, r := range l.EndReason {
		if r == "unknown" && l.Cause[j] == 0 {
			k++
		}
	}
	if k > 0 {
		w.caution("reason-unknown", "The reason for the end is not known for %s. Such endings are counted with no cause asked for, so each share could be larger.", w.n(k, "socket", "sockets"))
	}
}

// incidenceNotSeenTwice gives the share of the first cause at the first of
// `times` twice where many open sockets have not been seen for long.
func (w *work) incidenceNotSeenTwice(l *lives) {
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
	fa, errA := survival.CumulativeIncidence(a, len(l.causes), survival.CurveOptions{})
	fb, errB := survival.CumulativeIncidence(b, len(l.causes), survival.CurveOptions{})
	if errA != nil || errB != nil {
		return
	}
	at := math.Min(table.DaysPerYear, math.Floor(fa.LastTime))
	if times := sortedTimes(w.ask.Times); len(times) > 0 {
		at = times[0].Days
	}
	pa, free, okA := fa.At(at)
	pb, _, okB := fb.At(at)
	if !okA || !okB || !w.disclose(fa.Causes...).allow(at, free.AtRisk) {
		return
	}
	x, y := words.Percent(pa[0].Estimate, fa.Rows), words.Percent(pb[0].Estimate, fb.Rows)
	if x != y {
		w.caution("not-seen-twice", "By %s, %s had been %s when everyone is followed to the last record. It is %s if all who were not seen again are taken to be still wearing the socket on the day of the data cut. The truth lies between.",
			words.At(at), x, l.causes[0].past, y)
	}
}

func (w *work) incidenceCurves(l *lives, fits []incidence) {
	t := tableOf("curve", append([]Column{text("group"), text("cause")}, curveColumns...)...)
	for _, f := range fits {
		for k, c := range l.causes {
			for _, p := range f.open.thin(f.fit.Causes[k]) {
				t.row(append([]any{f.name, c.name}, pointValues(p)...)...)
			}
		}
		for _, p := range f.open.thin(f.fit.EventFree) {
			t.row(append([]any{f.name, eventFree}, pointValues(p)...)...)
		}
	}
	w.addTable(t)
}

// eventFree names the share without any ending.
const eventFree = "still in use"

func (w *work) incidenceTimes(l *lives, fits []incidence) {
	t := tableOf("at_times", append([]Column{text("group"), text("cause")}, curveColumns...)...)
	withheld := false
	for _, f := range fits {
		for _, at := range sortedTimes(w.ask.Times) {
			ps, free, ok := f.fit.At(at.Days)
			if !ok {
				w.caution("beyond-follow-up", "%s: nobody was still at risk at %s, so nothing can be said of that time.", w.groupName(f.name), words.At(at.Days))
				continue
			}
			if !f.open.allow(at.Days, free.AtRisk) {
				withheld = true
				for _, c := range l.causes {
					w.withhold(t, 3, []any{f.name, c.name, at.Days})
				}
				w.withhold(t, 3, []any{f.name, eventFree, at.Days})
				continue
			}
			f.shown[at.Days] = true
			for k, c := range l.causes {
				t.row(append([]any{f.name, c.name}, pointValues(ps[k])...)...)
			}
			t.row(append([]any{f.name, eventFree}, pointValues(free)...)...)
		}
	}
	if withheld {
		w.caution("times-hidden", "%s", w.timesHidden())
	}
	w.addTable(t)
}

func (w *work) incidenceFigures(l *lives, fits []incidence) {
	spec := figure.CurvesSpec{ID: w.ask.ID, Title: "Share of sockets ended, by reason" + byWords(w.ask.By), Direction: figure.Up, ValueAxis: "Share ended so",
		TimeAxis: w.timeAxis(), Rows: "sockets", Confidence: w.ask.Confidence, HideBelow: w.ctx.Front.HideBelow, Sparse: w.public()}
	shown := 0
	for _, c := range l.causes {
		if !c.competes {
			shown++
		}
	}
	for _, at := range w.ask.Times {
		spec.Landmarks = append(spec.Landmarks, at.Days)
	}
	for _, f := range fits {
		for k, c := range l.causes {
			if c.competes {
				continue
			}
			cv := figure.Curve{Steps: figureSteps(f.open.thin(f.fit.Causes[k]))}
			if len(fits) > 1 {
				cv.Group = w.display(f.name)
			}
			if shown > 1 || len(fits) == 1 {
				cv.Cause = causeLabel(c.name)
			}
			spec.Curves = append(spec.Curves, cv)
		}
	}
	spec.NoBands = len(spec.Curves) > 4
	w.Figures = append(w.Figures, figure.Curves(spec))
	if len(fits) != 1 || len(l.causes) < 2 {
		return
	}
	st := figure.StackedSpec{ID: w.ask.ID + "-stacked", Title: "What became of the sockets", ValueAxis: "Share of sockets", TimeAxis: w.timeAxis(), Rest: eventFree, HideBelow: w.ctx.Front.HideBelow, Sparse: w.public()}
	for k, c := range l.causes {
		st.Layers = append(st.Layers, figure.Layer{Name: causeLabel(c.name), Steps: figureSteps(fits[0].open.thin(fits[0].fit.Causes[k]))})
	}
	w.Figures = append(w.Figures, figure.Stacked(st))
}

// causeLabel is a cause as a line of a figure says it.
func causeLabel(name string) string {
	switch name {
	case "early-remake", "limb-change":
		return strings.ReplaceAll(name, "-", " ")
	case "making":
		return "error in the making"
	}
	return strings.TrimPrefix(name, "remake: ")
}

func (w *work) incidenceReading(l *lives, fits []incidence) string {
	var s []string
	for k, f := range fits {
		if k == 4 {
			s = append(s, "The table gives the other groups.")
			break
		}
		who := fmt.Sprintf("Of %s", w.n(f.fit.Rows, "socket", "sockets"))
		if f.name != "all" {
			who += " in the group " + w.display(f.name)
		}
		at, ok := w.readAt(f, fits)
		if !ok {
			s = append(s, who+", no share is given: too few ended, or were followed, for it to be shown.")
			continue
		}
		ps, free, _ := f.fit.At(at)
		var parts []string
		for k, c := range l.causes {
			if c.competes {
				continue
			}
			p := fmt.Sprintf("%s had been %s", shareWords(ps[k], f.fit.Rows), c.past)
			if hasWidth(ps[k]) { // else none had it yet
				p += fmt.Sprintf(" (%s %s)", w.confidenceWords(), words.PercentRange(ps[k].Low, ps[k].High))
			}
			parts = append(parts, p)
		}
		rest := 1 - free.Estimate
		for k, c := range l.causes {
			if !c.competes {
				rest -= ps[k].Estimate
			}
		}
		out := fmt.Sprintf("%s, by %s %s; %s were still in use", who, words.At(at), words.List(parts), words.Percent(free.Estimate, f.fit.Rows))
		if rest > 1e-9 {
			out += ", and the rest had ended otherwise"
		}
		s = append(s, out+".")
	}
	return strings.Join(s, " ")
}

// readAt is the time at which a group is read: the last of `times` that all
// groups reach and that may be shown, else a year or the end of the curve.
func (w *work) readAt(f incidence, fits []incidence) (float64, bool) {
	last := math.Inf(1)
	for _, x := range fits {
		last = math.Min(last, x.fit.LastTime)
	}
	times := sortedTimes(w.ask.Times)
	for i := len(times) - 1; i >= 0; i-- {
		if times[i].Days <= last && f.shown[times[i].Days] {
			return times[i].Days, true
		}
	}
	at := math.Min(table.DaysPerYear, math.Floor(last))
	_, free, ok := f.fit.At(at)
	return at, ok && f.open.allow(at, free.AtRisk)
}

func (w *work) incidencePrint(l *lives, fits []incidence) document.Table {
	t := document.Table{ID: w.ask.ID + "-table", Caption: "Share ended, by reason" + byWords(w.ask.By), Columns: []document.TableColumn{{Head: "Reason", Wide: true}, {Head: "Sockets ended so", Align: document.Right}}}
	for _, at := range w.ask.Times {
		t.Columns = append(t.Columns, document.TableColumn{Head: "By " + words.At(at.Days), Align: document.Right})
	}
	for _, f := range fits {
		in := ""
		if len(fits) > 1 {
			t.Strong = append(t.Strong, len(t.Rows))
			t.Rows = append(t.Rows, []string{w.groupName(f.name)})
			in = "  "
		}
		for k, c := range l.causes {
			row := []string{in + words.Capital(causeLabel(c.name)), w.cell(int(f.fit.Events[k]))}
			for _, at := range w.ask.Times {
				ps, _, ok := f.fit.At(at.Days)
				if !ok {
					row = append(row, "no one at risk")
					continue
				}
				if !f.shown[at.Days] {
					row = append(row, "hidden")
					continue
				}
				cell := shareWords(ps[k], f.fit.Rows)
				if ps[k].HasBounds && ps[k].Estimate > 0 {
					cell += " (" + words.PercentRange(ps[k].Low, ps[k].High) + ")"
				}
				row = append(row, cell)
			}
			t.Rows = append(t.Rows, row)
		}
	}
	t.Notes = []string{"In brackets: " + w.confidenceWords() + ". Each share is of all sockets of the group, with the other endings competing."}
	return t
}

func (w *work) incidenceMethods(l *lives, cluster string, tests []causeTest) {
	var events, rest []string
	for _, c := range l.causes {
		if c.competes {
			rest = append(rest, causeWords(c.name))
		} else {
			events = append(events, causeWords(c.name))
		}
	}
	var s strings.Builder
	fmt.Fprintf(&s, "The cumulative incidence of %s was estimated by the Aalen-Johansen method", words.List(events))
	if len(rest) > 0 {
		fmt.Fprintf(&s, ", with %s competing", words.List(rest))
	}
	s.WriteString("; sockets still in use or lost from sight were censored at the person's last record. Standard errors are by the infinitesimal jackknife")
	if cluster != "" {
		s.WriteString(" grouped by " + cluster)
	}
	fmt.Fprintf(&s, "; %s limits were made on the %s scale.", strings.TrimSuffix(w.confidenceWords(), " interval"), scaleWords(w.ask.Bounds))
	if w.ask.Until != nil {
		s.WriteString(" The mean time lost to each reason is the area under its curve up to " + words.At(w.ask.Until.Days) + "; its limits were made on the logarithm.")
		w.References = append(w.References, "Andersen PK. Decomposition of number of life years lost according to causes of death. Stat Med 2013; 32: 5278-5285.")
	}
	w.Methods = s.String() + testWords(tests, cluster) + w.datedWords(l)
	w.References = append(w.References, "Aalen OO, Johansen S. An empirical transition matrix for non-homogeneous Markov chains based on censored observations. Scand J Stat 1978; 5: 141-150.")
	if len(tests) > 0 {
		w.References = append(w.References, testReferences[0])
	}
	if len(tests) > 1 && tests[1].grouped {
		w.References = append(w.References, testReferences[1])
	}
}
