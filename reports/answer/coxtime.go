package answer

import (
	"fmt"
	"strings"

	"plybook/analysis/design"
	"plybook/analysis/table"
	"plybook/reports/document"
	"plybook/reports/words"
)

// changesOf is what is known of a column that varies.
type changesOf struct {
	name     string
	rows     int     // lives or watches with a value before their end
	changes  int     // of the value, of those
	varied   int     // lives or watches whose value changed
	days     float64 // watched with a value
	without  float64 // watched before the first value
	recorded int     // values in force at some time
}

// changesSeen goes through the spells for each column that varies.
func (r *coxRows) changesSeen(names []string) []changesOf {
	out := make([]changesOf, len(names))
	for i, name := range names {
		x := changesOf{name: name}
		h := r.histories[i]
		last, lastRow, varied := -1, -1, map[int]bool{}
		for k, s := range r.spells {
			row := s.At[i]
			length := r.time[k] - r.entry[k]
			if r.subject[k] != last {
				last, lastRow = r.subject[k], -1
			}
			if row < 0 {
				x.without += length
				continue
			}
			x.days += length
			switch {
			case lastRow < 0:
				x.rows++
				x.recorded++
			case row != lastRow:
				x.recorded++
				if !h.Same(row, lastRow) {
					x.changes++
					varied[s.Of] = true
				}
			}
			lastRow = row
		}
		x.varied = len(varied)
		out[i] = x
	}
	return out
}

// varyingWords says how much is known of the columns that vary.
func (w *work) varyingWords(r *coxRows) {
	if len(w.ask.Varying) == 0 {
		return
	}
	one, many := w.nouns()
	seen := r.changesSeen(w.ask.Varying)
	t := tableOf("changes", text("term"), count("rows"), count("rows_changed"), count("changes"), number("years", one+"-years"), number("years_without", one+"-years"))
	p := document.Table{ID: w.ask.ID + "-changes", Caption: "How often what varies changed", Columns: []document.TableColumn{
		{Head: "Column", Wide: true}, {Head: words.Capital(many) + " with a value", Align: document.Right}, {Head: "Of these, changed", Align: document.Right},
		{Head: "Changes", Align: document.Right}, {Head: words.Capital(one) + "-years with a value", Align: document.Right}, {Head: "Before the first", Align: document.Right}}}
	var names []string
	for _, x := range seen {
		cells := []string{words.Capital(w.columnLabel(x.name)), w.cell(x.rows), w.cell(x.varied), w.cell(x.changes),
			words.Fixed(x.days/table.DaysPerYear, 1), words.Fixed(x.without/table.DaysPerYear, 1)}
		if w.hiddenCount(x.rows) || w.hiddenCount(x.varied) || w.hiddenCount(x.rows-x.varied) || w.hiddenCount(x.changes) {
			w.withhold(t, 1, []any{x.name})
			for k := range cells[1:] {
				cells[k+1] = "hidden"
			}
		} else {
			t.row(x.name, x.rows, x.varied, x.changes, x.days/table.DaysPerYear, x.without/table.DaysPerYear)
		}
		p.Rows = append(p.Rows, cells)
		names = append(names, w.columnLabel(x.name))
		if x.changes == 0 {
			w.caution("no-changes", "%s has one value for each %s here and does not vary: the ratio is one between %s, as with adjust.", words.Capital(w.columnLabel(x.name)), one, many)
		}
	}
	w.addTable(t)
	p.Notes = []string{"A value holds from the day after it was recorded until the next one; what was recorded on the day of an event explains nothing of it."}
	w.print(p)
	every := 0.0
	for _, x := range seen {
		every = max(every, x.days/float64(max(x.recorded, 1)))
	}
	w.caution("carried-forward", "%s %s known only on the days of visits and measurements; each value is carried forward to the next, %s on average. What happened in between is not seen, and draws the ratio toward no difference.",
		words.Capital(words.List(names)), plural(len(names), "is", "are"), words.Span(every))
	w.caution("internal", "%s %s recorded only while a socket is worn, and may already show what is about to happen. The ratio says what a value goes with, not what changing it would do, and no curve can be predicted from it.",
		words.Capital(words.List(names)), plural(len(names), "is", "are"))
}

// repeatsWords says how many events of each number there were.
func (w *work) repeatsWords(r *coxRows, d *design.Design) {
	if r.repeated == nil {
		return
	}
	one, many := w.nouns()
	type count3 struct {
		rows   map[int]bool
		events int
		days   float64
	}
	var by []count3
	for _, j := range d.Rows {
		n := r.spells[j].Number
		for len(by) < n {
			by = append(by, count3{rows: map[int]bool{}})
		}
		x := &by[n-1]
		x.rows[r.subject[j]] = true
		x.days += r.time[j] - r.entry[j]
		if r.event[j] {
			x.events++
		}
	}
	t := tableOf("events_by_number", integer("number"), count("rows"), count("events"), number("years", one+"-years"))
	p := document.Table{ID: w.ask.ID + "-numbers", Caption: words.Capital(r.repeated.what) + " by their number", Columns: []document.TableColumn{
		{Head: "Number", Align: document.Right}, {Head: words.Capital(many) + " at risk", Align: document.Right}, {Head: "Events", Align: document.Right},
		{Head: words.Capital(one) + "-years at risk", Align: document.Right}}}
	few, hide := 0, false
	for n, x := range by {
		hide = hide || w.hiddenCount(len(x.rows)) || w.hiddenCount(x.events) || w.hiddenCount(len(x.rows)-x.events)
		t.row(n+1, len(x.rows), x.events, x.days/table.DaysPerYear)
		p.Rows = append(p.Rows, []string{fmt.Sprint(n + 1), w.cell(len(x.rows)), w.cell(x.events), words.Fixed(x.days/table.DaysPerYear, 1)})
		if x.events > 0 && x.events < 5 && few == 0 && n > 0 {
			few = n + 1
		}
	}
	if hide { // the counts follow from one another
		t.Rows = nil
		w.caution("numbers-hidden", "How many came first, second and so on is not shown: some of these numbers stand for fewer than %d %s.", w.ctx.Front.HideBelow, many)
	} else {
		w.print(p)
	}
	w.addTable(t)
	if few > 0 && contains(w.ask.Strata, eventNumber) {
		w.caution("few-repeats", "From event %d on there are fewer than 5 events of a number, and those strata say next to nothing.", few)
	}
	if r.sameDay > 0 {
		w.caution("same-day", "%s of one %s on a day on which it had another; events of a day count once.", words.Capital(w.n(r.sameDay, "event was", "events were")), one)
	}
	late := 0
	for _, e := range r.repeated.Entry {
		if e > 0 {
			late++
		}
	}
	if late > 0 {
		w.caution("late-numbers", "%s under observation only some time after the first delivery: earlier events are not counted%s.",
			words.Capital(w.n(late, one+" came", many+" came")), w.lateMeans())
	}
	if r.repeated.Outside > 0 {
		w.caution("outside", "%s not counted: before the watch began, or after it ended.", words.Capital(w.n(r.repeated.Outside, "event was", "events were")))
	}
	if w.ask.Event.Condition != nil && aboutBrokenSkin(*w.ask.Event.Condition) {
		w.caution("skin", skinText)
	}
}

// lateMeans is what events before the watch change in an answer.
func (w *work) lateMeans() string {
	out := ""
	if contains(w.ask.Strata, eventNumber) {
		out += ", and events are numbered from then on"
	}
	if w.ask.Repeats == "gap-time" {
		out += ", and the first gap runs from the delivery"
	}
	return out
}

// asKnown says of which time the values are, where they vary.
func (w *work) asKnown() string {
	if len(w.ask.Varying) == 0 {
		return ""
	}
	var names []string
	for _, n := range w.ask.Varying {
		names = append(names, w.columnLabel(n))
	}
	return fmt.Sprintf(" and %s taken as last recorded before each day", words.List(names))
}

func contains(words []string, w string) bool {
	for _, x := range words {
		if x == w {
			return true
		}
	}
	return false
}

// ways are what a ratio above and below 1 means.
func (w *work) ways(ev cause) (above, below string) {
	_, many := w.nouns()
	switch w.ask.Repeats {
	case "":
		return "such sockets are " + ev.past + " sooner", "such sockets go longer before being " + ev.past
	case "gap-time":
		return "the next one comes sooner in such " + many, "the next one comes later in such " + many
	}
	return "they come more often in such " + many, "they come less often in such " + many
}

// concordanceWords says how well the model tells who comes first; columns says
// that it is by its columns alone, without the frailties.
func (w *work) concordanceWords(c float64, columns bool) string {
	share := words.Percent(c, 50)
	_, many := w.nouns()
	by := "the model names"
	if columns {
		by = "the columns alone name"
	}
	switch {
	case w.ask.Repeats != "":
		return fmt.Sprintf("Of two %s watched when one of them has an event, %s that one in %s of pairs (50%% would be guessing).", many, by, share)
	case len(w.ask.Varying) > 0:
		return fmt.Sprintf("Of two sockets in use when one of them ends, %s that one in %s of pairs (50%% would be guessing).", by, share)
	}
	return fmt.Sprintf("Of two sockets, %s the one that ends first in %s of pairs (50%% would be guessing).", by, share)
}

// spellMethods are the sentences for a paper on what varies and repeats.
func (w *work) spellMethods(r *coxRows) string {
	_, many := w.nouns()
	var m strings.Builder
	if len(w.ask.Varying) > 0 {
		var names []string
		for _, n := range w.ask.Varying {
			names = append(names, w.columnLabel(n))
		}
		fmt.Fprintf(&m, " %s entered as time-varying covariates in counting-process form: the last value recorded before each day, carried forward; times before the first value are left out.", words.Capital(words.List(names)))
	}
	if r.repeated == nil {
		return m.String()
	}
	switch w.ask.Repeats {
	case "total-time":
		fmt.Fprintf(&m, " All %s of each of the %s were taken, on one clock from %s through all of them (total time, Andersen and Gill).", r.repeated.what, many, w.watchZero())
	case "gap-time":
		fmt.Fprintf(&m, " All %s of each of the %s were taken, on a clock that starts anew after each (gap time).", r.repeated.what, many)
	default:
		fmt.Fprintf(&m, " All %s of each of the %s were taken, each %s being at risk of the first, second and later ones from %s on (the marginal model of Wei, Lin and Weissfeld).", r.repeated.what, many, strings.TrimSuffix(many, "s"), w.watchZero())
	}
	if contains(w.ask.Strata, eventNumber) && w.ask.Repeats != "marginal" {
		m.WriteString(" Events were compared only with those of the same number (Prentice, Williams and Peterson).")
	}
	m.WriteString(" The watch ends with the person's last record; a death ends it too, so that the ratios are of what happens to the living.")
	if w.table.Name != "sockets" {
		m.WriteString(" Check sockets are left out.")
	}
	return m.String()
}

// weightMethods are the sentences on weights and offset.
func (w *work) weightMethods() string {
	m := ""
	_, many := w.nouns()
	if w.ask.Weights != "" {
		m += fmt.Sprintf(" Rows were weighted by %s, each standing for so many equal %s; the counts here are of rows.", w.columnLabel(w.ask.Weights), many)
	}
	if w.ask.Offset != "" {
		m += fmt.Sprintf(" %s was added to the linear predictor as an offset, its coefficient held at 1.", words.Capital(w.columnLabel(w.ask.Offset)))
	}
	return m
}

var repeatsReferences = map[string]string{
	"total-time": "Andersen PK, Gill RD. Cox's regression model for counting processes: a large sample study. Ann Stat 1982; 10: 1100-1120.",
	"gap-time":   "Prentice RL, Williams BJ, Peterson AV. On the regression analysis of multivariate failure time data. Biometrika 1981; 68: 373-379.",
	"marginal":   "Wei LJ, Lin DY, Weissfeld L. Regression analysis of multivariate incomplete failure time data by modeling marginal distributions. J Am Stat Assoc 1989; 84: 1065-1073.",
}

// spellReferences are the references on what varies and repeats.
func (w *work) spellReferences() []string {
	var out []string
	if ref := repeatsReferences[w.ask.Repeats]; ref != "" {
		out = append(out, ref)
	}
	if w.ask.Repeats == "total-time" && contains(w.ask.Strata, eventNumber) {
		out = append(out, repeatsReferences["gap-time"])
	}
	if len(w.ask.Varying) > 0 {
		out = append(out, "Fisher LD, Lin DY. Time-dependent covariates in the Cox proportional-hazards regression model. Annu Rev Public Health 1999; 20: 145-157.")
	}
	return out
}

// clusteredNoun is what one cluster may have several of.
func (w *work) clusteredNoun() string {
	if w.ask.Repeats != "" {
		return "events"
	}
	return "sockets"
}

// coxEvents counts the events, and says of what where they repeat.
func (w *work) coxEvents(r *coxRows) string {
	if r.repeated != nil {
		return w.eventsCounted(w.Events, r.repeated.what)
	}
	return w.n(w.Events, "event", "events")
}
