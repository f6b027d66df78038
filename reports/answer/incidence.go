package answer

import (
	"fmt"
	"math"
	"strings"

	"plybook/analysis/stats"
	"plybook/analysis/survival"
	"plybook/reports/document"
	"plybook/reports/figure"
	"plybook/reports/words"
)

// incidence is a group with its curves, one a cause.
type incidence struct {
	group
	fit *survival.Incidence
}

// cumulativeIncidence answers which reason ends sockets, the others and
// death competing.
func cumulativeIncidence(w *work) error {
	l, err := w.buildLives(true)
	if err != nil {
		return err
	}
	cluster, clusterName, err := w.clusters(l)
	if err != nil {
		return err
	}
	gs, err := w.groups(l, cluster)
	if err != nil {
		return err
	}
	if len(gs) == 0 || len(l.Time) == 0 {
		return stats.ErrNoRows
	}
	o := survival.CurveOptions{Level: w.ask.Confidence, Bounds: scales[w.ask.Bounds]}
	var fits []incidence
	for _, g := range gs {
		f, err := survival.CumulativeIncidence(g.data, len(l.causes), o)
		if err != nil {
			return fmt.Errorf("group %s: %w", g.name, err)
		}
		fits = append(fits, incidence{g, f})
		w.warnings(f.Warnings)
	}
	w.incidenceCurves(l, fits)
	w.incidenceTimes(l, fits)
	if w.Events == 0 {
		w.caution("no-events", "No socket had any of the events asked for.")
	} else if w.Events < 10 {
		w.caution("few-events", "Only %s: the shares rest on few events.", w.n(w.Events, "event", "events"))
	}
	w.unknownCaution(l)
	w.incidenceFigures(l, fits)
	w.Reading = w.incidenceReading(l, fits)
	w.print(w.incidencePrint(l, fits))
	w.incidenceMethods(l, clusterName)
	return nil
}

func (w *work) unknownCaution(l *lives) {
	k := 0
	for _, r := range l.EndReason {
		if r == "unknown" {
			k++
		}
	}
	if k > 0 {
		w.caution("reason-unknown", "The reason for the end is not known for %s. They are not counted with any cause asked for, so each share could be larger.", w.n(k, "socket", "sockets"))
	}
}

func (w *work) incidenceCurves(l *lives, fits []incidence) {
	t := tableOf("curve", append([]Column{text("group"), text("cause")}, curveColumns...)...)
	for _, f := range fits {
		for k, c := range l.causes {
			for _, p := range w.publicPoints(f.fit.Causes[k]) {
				t.row(append([]any{f.name, c.name}, pointValues(p)...)...)
			}
		}
		for _, p := range w.publicPoints(f.fit.EventFree) {
			t.row(append([]any{f.name, eventFree}, pointValues(p)...)...)
		}
	}
	w.addTable(t)
}

// eventFree names the share without any ending.
const eventFree = "still in use"

func (w *work) incidenceTimes(l *lives, fits []incidence) {
	t := tableOf("at_times", append([]Column{text("group"), text("cause")}, curveColumns...)...)
	for _, f := range fits {
		for _, at := range w.ask.Times {
			ps, free, ok := f.fit.At(at.Days)
			if !ok {
				w.caution("beyond-follow-up", "%s: nobody was still at risk at %s, so nothing can be said of that time.", w.groupName(f.name), words.At(at.Days))
				continue
			}
			for k, c := range l.causes {
				t.row(append([]any{f.name, c.name}, pointValues(ps[k])...)...)
			}
			t.row(append([]any{f.name, eventFree}, pointValues(free)...)...)
		}
	}
	w.addTable(t)
}

func (w *work) incidenceFigures(l *lives, fits []incidence) {
	spec := figure.CurvesSpec{ID: w.ask.ID, Title: "Share of sockets ended, by reason" + byWords(w.ask.By), Direction: figure.Up, ValueAxis: "Share ended so",
		TimeAxis: w.timeAxis(), Rows: "sockets", Confidence: w.ask.Confidence, HideBelow: w.ctx.Front.HideBelow}
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
			cv := figure.Curve{Steps: figureSteps(f.fit.Causes[k])}
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
	st := figure.StackedSpec{ID: w.ask.ID + "-stacked", Title: "What became of the sockets", ValueAxis: "Share of sockets", TimeAxis: w.timeAxis(), Rest: eventFree, HideBelow: w.ctx.Front.HideBelow}
	for k, c := range l.causes {
		st.Layers = append(st.Layers, figure.Layer{Name: causeLabel(c.name), Steps: figureSteps(fits[0].fit.Causes[k])})
	}
	w.Figures = append(w.Figures, figure.Stacked(st))
}

// causeLabel is a cause as a line of a figure says it.
func causeLabel(name string) string {
	return strings.TrimPrefix(strings.ReplaceAll(name, "-", " "), "remake: ")
}

func (w *work) incidenceReading(l *lives, fits []incidence) string {
	last := math.Inf(1)
	for _, f := range fits {
		last = math.Min(last, f.fit.LastTime)
	}
	at := math.Min(365.25, last)
	for _, t := range w.ask.Times {
		if t.Days <= last {
			at = t.Days
		}
	}
	var s []string
	for k, f := range fits {
		if k == 4 {
			s = append(s, "The table gives the other groups.")
			break
		}
		ps, free, ok := f.fit.At(at)
		if !ok {
			s = append(s, fmt.Sprintf("%s: nobody was still at risk at %s.", w.groupName(f.name), words.At(at)))
			continue
		}
		var parts []string
		for k, c := range l.causes {
			if c.competes {
				continue
			}
			p := fmt.Sprintf("%s had been %s", words.Percent(ps[k].Estimate, f.fit.Rows), c.past)
			if ps[k].HasBounds {
				p += fmt.Sprintf(" (%s %s)", w.confidenceWords(), words.PercentRange(ps[k].Low, ps[k].High, f.fit.Rows))
			}
			parts = append(parts, p)
		}
		who := fmt.Sprintf("Of %s", w.n(f.fit.Rows, "socket", "sockets"))
		if f.name != "all" {
			who += " in the group " + w.display(f.name)
		}
		s = append(s, fmt.Sprintf("%s, by %s %s; %s were still in use, and the rest had ended otherwise.", who, words.At(at), words.List(parts), words.Percent(free.Estimate, f.fit.Rows)))
	}
	return strings.Join(s, " ")
}

func (w *work) incidencePrint(l *lives, fits []incidence) document.Block {
	t := document.Table{ID: w.ask.ID + "-table", Caption: "Share ended, by reason", Columns: []document.TableColumn{{Head: "Group"}, {Head: "Reason", Wide: true}, {Head: "Sockets ended so", Align: document.Right}}}
	for _, at := range w.ask.Times {
		t.Columns = append(t.Columns, document.TableColumn{Head: "By " + words.At(at.Days), Align: document.Right})
	}
	for _, f := range fits {
		for k, c := range l.causes {
			row := []string{w.groupName(f.name), words.Capital(causeLabel(c.name)), w.cell(int(f.fit.Events[k]))}
			for _, at := range w.ask.Times {
				ps, _, ok := f.fit.At(at.Days)
				if !ok {
					row = append(row, "no one at risk")
					continue
				}
				cell := words.Percent(ps[k].Estimate, f.fit.Rows)
				if ps[k].HasBounds && ps[k].Estimate > 0 {
					cell += " (" + words.PercentRange(ps[k].Low, ps[k].High, f.fit.Rows) + ")"
				}
				row = append(row, cell)
			}
			t.Rows = append(t.Rows, row)
		}
	}
	t.Notes = []string{"In brackets: " + w.confidenceWords() + ". Each share is of all sockets of the group, with the other endings competing."}
	return t
}

func (w *work) incidenceMethods(l *lives, cluster string) {
	var events, rest []string
	for _, c := range l.causes {
		if c.competes {
			rest = append(rest, c.name)
		} else {
			events = append(events, c.name)
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
	fmt.Fprintf(&s, "; %s limits were made on the %s scale.", strings.TrimSuffix(w.confidenceWords(), " interval"), strings.ReplaceAll(w.ask.Bounds, "-", " "))
	w.Methods = s.String() + w.datedWords(l)
	w.References = append(w.References, "Aalen OO, Johansen S. An empirical transition matrix for non-homogeneous Markov chains based on censored observations. Scand J Stat 1978; 5: 141-150.")
}
