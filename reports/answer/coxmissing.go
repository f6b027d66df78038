package answer

import (
	"fmt"
	"strings"

	"plybook/analysis/cohort"
	"plybook/analysis/design"
	"plybook/reports/words"
)

// spellsMissing counts what values not yet recorded cost.
func (w *work) spellsMissing(r *coxRows, d *design.Design) {
	one, many := w.nouns()
	used := map[int]bool{}
	for _, j := range d.Rows {
		used[j] = true
	}
	all, kept := map[int]bool{}, map[int]bool{}
	late := map[int]bool{} // in part
	events, lost, days, lostDays := 0, 0, 0.0, 0.0
	for j := range r.subject {
		all[r.subject[j]] = true
		days += r.time[j] - r.entry[j]
		if r.event[j] {
			events++
		}
		if used[j] {
			kept[r.subject[j]] = true
			continue
		}
		late[r.subject[j]] = true
		lostDays += r.time[j] - r.entry[j]
		if r.event[j] {
			lost++
		}
	}
	if len(late) == 0 {
		return
	}
	part := 0
	for s := range late {
		if kept[s] {
			part++
		}
	}
	gone := len(all) - len(kept)
	var lacking []string
	for _, m := range d.Missing {
		who := map[int]bool{}
		c, _ := r.table.Col(m.Column)
		for j := range r.subject {
			if c.Missing[j] {
				who[r.subject[j]] = true
			}
		}
		lacking = append(lacking, w.columnLabel(m.Column)+" "+w.cell(len(who)))
	}
	var said []string
	if gone > 0 {
		said = append(said, fmt.Sprintf("%s left out whole", w.n(gone, one+" was", many+" were")))
	}
	if part > 0 {
		said = append(said, fmt.Sprintf("%s left out up to the day on which every value was there", w.n(part, one+" was", many+" were")))
	}
	w.caution("missing", "%s, because a value is missing (%s). With them went %s and %s of the time watched. The answer holds for all only if what is missing does not depend on the outcome.",
		words.Capital(words.List(said)), strings.Join(lacking, ", "), w.of(lost, events, "event", "events"), words.Percent(lostDays/max(days, 1), 100))
	w.steps = append(w.steps, cohort.Step{Step: "complete for the model", Rows: len(kept), Excluded: gone, Reason: "a value is missing: " + strings.Join(lacking, ", ")})
}

// neverSeen refuses a column of which nothing was known before any end.
func (w *work) neverSeen(r *coxRows) error {
	one, _ := w.nouns()
	for i, name := range w.ask.Varying {
		known, later := false, false
		for j, s := range r.spells {
			known = known || s.At[i] >= 0
			later = later || len(r.histories[i].Changes[r.subject[j]]) > 0
		}
		switch {
		case known:
		case later:
			return w.at("varying", name, "never-known", "%s was recorded only on the day on which the watch of a %s ended, or not while it was watched, so that it was never known before an event and can explain none", name, one)
		default:
			return w.at("varying", name, "never-known", "%s was never recorded while any %s was watched, so it can explain nothing", name, one)
		}
	}
	return nil
}
