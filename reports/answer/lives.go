package answer

import (
	"errors"
	"fmt"
	"sort"

	"plybook/analysis/cohort"
	"plybook/analysis/survival"
	"plybook/analysis/table"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// lives are the sockets' lives of an ask, with what its event is called.
type lives struct {
	*cohort.Lives
	picked *table.Table // the sockets that keep chose; Lives.Row points into it
	causes []cause      // in order of Cause 1, 2, ...
}

// buildLives makes the lives of an ask. One cause where split is false (every
// named cause is the same event), else a cause each.
func (w *work) buildLives(split bool) (*lives, error) {
	if w.ask.Event == nil {
		return nil, w.at("event", "", notebook.CodeMissingKey, "%s needs an event", w.ask.Method)
	}
	for _, k := range [][2]string{{"start", w.ask.Start}, {"end", w.ask.End}, {"entry", w.ask.Entry}} {
		if k[1] == "" {
			continue
		}
		c, err := w.column(k[0], k[1])
		if err != nil {
			return nil, err
		}
		if c.Kind != table.Date && (k[0] != "entry" || c.Kind == table.Text) {
			return nil, w.at(k[0], k[1], notebook.CodeImpossible, "%s holds no dates", k[1])
		}
	}
	l := &lives{picked: w.table.Pick(w.rows)}
	spec := cohort.LifeSpec{Start: w.ask.Start, End: w.ask.End, Entry: w.ask.Entry}
	cond := w.ask.Event.Condition
	var err error
	if cond != nil {
		if split {
			return nil, &notebook.Error{Pos: w.ask.Event.Pos, Code: notebook.CodeImpossible,
				Text: w.ask.Method + " takes end reasons as events, not a condition on visits"}
		}
		name := w.conditionWords(*cond)
		l.causes = []cause{{name: name, past: "found with " + name}}
		spec.Events = []cohort.Cause{{Name: name}}
	} else {
		if l.causes, err = w.eventCauses(split); err != nil {
			return nil, err
		}
		for _, c := range l.causes {
			cc := cohort.Cause{Name: c.name, Codes: c.reasons, Within: c.within}
			if c.competes {
				spec.Competing = append(spec.Competing, cc)
			} else {
				spec.Events = append(spec.Events, cc)
			}
		}
	}
	var got *cohort.Lives
	if cond != nil {
		got, err = w.livesUntilSeen(l.picked, *cond, spec)
	} else {
		got, err = w.ctx.Cohort.Lives(l.picked, spec)
	}
	if err != nil {
		return nil, err
	}
	if w.ask.Landmark != nil {
		if got, err = got.Landmark(w.ask.Landmark.Days); err != nil {
			return nil, w.at("landmark", "", notebook.CodeBadValue, "%v", err)
		}
	}
	l.Lives = got
	w.steps = append(w.steps, got.Flow...)
	w.restsOnLives(l)
	w.Answer.Rows = got.Len()
	w.HasEvents = true
	w.countEvents(l, indices(got.Len()))
	w.lifeCautions(l)
	return l, nil
}

// restsOnLives notes the rows that have a life, and those that ended with
// each event and with any.
func (w *work) restsOnLives(l *lives) {
	rows := l.logRows(w)
	by := append(w.keepColumns(), "start")
	w.rests(rows, by...)
	var all []int
	for c := range l.causes {
		var some []int
		for j, k := range l.Cause {
			if k == c+1 {
				some = append(some, rows[j])
			}
		}
		w.happened(some, "end_reason")
		if !l.causes[c].competes {
			all = append(all, some...)
		}
	}
	w.happened(all, "end_reason")
}

// restsOnSeen notes the rows whose life was watched at visits, and those in
// which the condition was found.
func (w *work) restsOnSeen(l *lives, cond table.Condition) {
	rows := l.logRows(w)
	var columns []string
	by := append(w.keepColumns(), "start")
	for _, c := range allClauses(cond) {
		columns = append(columns, c.Column)
		by = append(by, LookedAt+c.Column)
	}
	w.rests(rows, by...)
	var found []int
	for j, k := range l.Cause {
		if k > 0 {
			found = append(found, rows[j])
		}
	}
	w.happened(found, columns...)
}

// countEvents counts the events asked for among some lives.
func (w *work) countEvents(l *lives, index []int) {
	w.Events = 0
	for _, j := range index {
		if c := l.Cause[j]; c > 0 && !l.causes[c-1].competes {
			w.Events++
		}
	}
}

// livesUntilSeen are lives that end at the first visit that meets the
// condition, and are followed to the last visit that could tell.
func (w *work) livesUntilSeen(picked *table.Table, cond table.Condition, spec cohort.LifeSpec) (*cohort.Lives, error) {
	if w.ask.End != "" {
		return nil, w.at("end", w.ask.End, notebook.CodeImpossible, "the event is seen at a visit, so the visit ends the life and no other end can be given")
	}
	if err := w.mayBeSeen(cond); err != nil {
		return nil, err
	}
	spec.Events = nil
	all, err := w.ctx.Cohort.SeenLives(picked, cond, spec)
	if err != nil {
		return nil, err
	}
	got := all.Watched()
	if n := got.ZeroDays; n > 0 {
		w.caution("zero-days", "%s found so on the very day that the clock starts.", words.Capital(w.n(n, "socket was", "sockets were")))
		got.ZeroDays = 0 // else it would be said of them that they ended
	}
	if gone := all.Len() - got.Len(); gone > 0 {
		w.caution("not-looked-at", "%s left out, since no visit could tell: nothing was recorded after delivery, or it was there when a socket that came under observation late was first looked at.",
			words.Capital(w.n(gone, "socket was", "sockets were")))
	}
	return &got.Lives, nil
}

// mayBeSeen checks a condition on visits or findings that is the event.
func (w *work) mayBeSeen(c table.Condition) error {
	if !w.ask.SeenAsExact && w.ask.Method != "flow" { // a flow counts, and dates nothing
		return &notebook.Error{Pos: w.ask.Event.Pos, Code: "interval-censored",
			Text: fmt.Sprintf("what is seen at a visit happened some time since the visit before, so %s cannot date it; write seen_as_exact: true to date it on the visit", w.ask.Method)}
	}
	t, err := w.ctx.Cohort.Rows("visits")
	if err != nil {
		return err
	}
	for _, cl := range allClauses(c) {
		if !t.Has(cl.Column) && !t.Has(table.OwnPrefix+cl.Column) {
			if t, err = w.ctx.Cohort.Rows("findings"); err != nil {
				return err
			}
			break
		}
	}
	hit, err := w.matches("event", c, t)
	if err != nil {
		return err
	}
	if f, ok := t.Col("finding"); ok {
		for i, h := range hit {
			if h && brokenSkin[f.Text[i]] {
				w.caution("skin", skinText)
				break
			}
		}
	}
	if w.ask.Method != "flow" {
		w.caution("seen-as-exact", "The event is seen only at visits but dated on the visit at which it was first seen. It happened earlier, by up to the gap between visits, so the times here are too long.")
	}
	return nil
}

func allClauses(c table.Condition) []table.Clause {
	out := append([]table.Clause(nil), c.Clauses...)
	for _, a := range c.Any {
		out = append(out, allClauses(a)...)
	}
	return out
}

// data is the survival data of some lives.
func (l *lives) data(index []int, cluster []int) survival.Data {
	var d survival.Data
	for _, j := range index {
		d.Entry = append(d.Entry, l.Entry[j])
		d.Time = append(d.Time, l.Time[j])
		d.Cause = append(d.Cause, l.Cause[j])
		if cluster != nil {
			d.Cluster = append(d.Cluster, cluster[j])
		}
	}
	return d
}

// logRows are the rows of the rows-table that the lives came from.
func (l *lives) logRows(w *work) []int {
	out := make([]int, l.Len())
	for j, i := range l.Row {
		out[j] = w.rows[i]
	}
	return out
}

// lifeColumn is a column that explains lives, one value a life. A column
// known only after the start is refused unless a landmark starts the clock
// later.
func (w *work) lifeColumn(l *lives, key, name string) (*table.Column, error) {
	if staffColumns[name] && !w.ctx.Names.Staff {
		return nil, w.at(key, name, "staff-hidden", "%s", w.staffHidden(name))
	}
	if identifiers[name] && !w.ctx.Names.Show && !shownNowhere[key] {
		return nil, w.at(key, name, "identifying", "%s", w.identifying(name))
	}
	c, err := l.Column(l.picked, name)
	var late *cohort.LaterError
	switch {
	case errors.As(err, &late) && late.Never:
		return nil, w.at(key, name, "known-later", "%s follows from the end of the socket and cannot explain it", name)
	case errors.As(err, &late):
		return nil, w.at(key, name, "known-later", "%s is known only after delivery and cannot explain what follows from then; write landmark: 90d (or another time) to start the clock later", name)
	case err != nil:
		if _, err := w.column(key, name); err != nil {
			return nil, err
		}
		return nil, err
	}
	out := *c
	out.Name = name
	return &out, nil
}

// lifeTable is a table with one row a life and the columns named.
func (w *work) lifeTable(l *lives, keyOf map[string]string) (*table.Table, error) {
	t := table.New("sockets", l.Len())
	names := make([]string, 0, len(keyOf))
	for n := range keyOf {
		names = append(names, n)
	}
	sort.Strings(names)
	for _, n := range names {
		c, err := w.lifeColumn(l, keyOf[n], n)
		if err != nil {
			return nil, err
		}
		if err := t.Add(c); err != nil {
			return nil, err
		}
	}
	return t, nil
}
