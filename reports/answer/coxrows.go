package answer

import (
	"errors"
	"strings"

	"plybook/analysis/cohort"
	"plybook/analysis/design"
	"plybook/analysis/stats"
	"plybook/analysis/survival"
	"plybook/analysis/table"
	"plybook/reports/notebook"
)

// coxRows are the rows of a Cox regression: lives, or, where something
// varies or repeats, the spells of lives or of watches.
type coxRows struct {
	table       *table.Table // a row each, with every column of the model
	entry, time []float64
	event       []bool
	subject     []int // the life or the watch
	cluster     []int // nil: none
	clusterName string

	lives     *lives    // nil with repeats
	repeated  *repeated // nil without
	cut       bool      // rows are spells
	spells    []cohort.Spell
	histories []*cohort.History // of the columns of `varying`, in order
	sameDay   int               // repeated events not counted, being of one day
}

// eventNumber is the stratum that numbers repeated events.
const eventNumber = "event_number"

// coxRows gathers the rows that an ask of cox is about, with the columns of
// the model.
func (w *work) coxRows(spec design.Spec) (*coxRows, error) {
	r := &coxRows{cut: w.ask.Repeats != "" || len(w.ask.Varying) > 0}
	keyOf := w.coxColumns(spec)
	if w.ask.Repeats != "" {
		return r, w.repeatedRows(r, keyOf)
	}
	if w.table.Name != "sockets" {
		return nil, w.at("rows", w.table.Name, notebook.CodeImpossible, "cox answers questions about sockets; %s go with `repeats`", w.table.Name)
	}
	l, err := w.buildLives(false)
	if err != nil {
		return nil, err
	}
	if l.Len() == 0 {
		return nil, stats.ErrNoRows
	}
	r.lives = l
	cluster, name, err := w.clusters(l)
	if err != nil {
		return nil, err
	}
	r.clusterName = name
	fixed, err := w.lifeTable(l, keyOf)
	if err != nil {
		return nil, err
	}
	if err := w.findHistories(r, l.History); err != nil {
		return nil, err
	}
	r.spells = l.Spells(r.histories)
	return r, r.lay(fixed, cluster)
}

// coxColumns says under which key each column of the model stands that does
// not vary.
func (w *work) coxColumns(spec design.Spec) map[string]string {
	keyOf := map[string]string{}
	for _, c := range [][2]string{{"weights", w.ask.Weights}, {"offset", w.ask.Offset}, {"shared_by", w.ask.SharedBy}} {
		if c[1] != "" {
			keyOf[c[1]] = c[0]
		}
	}
	for _, n := range w.ask.Strata {
		if n != eventNumber {
			keyOf[n] = "strata"
		}
	}
	for _, n := range spec.Terms {
		keyOf[n] = "adjust"
		if n == w.ask.By {
			keyOf[n] = "by"
		}
	}
	for _, n := range w.ask.Varying {
		delete(keyOf, n)
	}
	return keyOf
}

var clocks = map[string]cohort.Clock{"total-time": cohort.TotalTime, "gap-time": cohort.GapTime, "marginal": cohort.Marginal}

// repeatedRows gathers the watches of limbs, persons or sockets.
func (w *work) repeatedRows(r *coxRows, keyOf map[string]string) error {
	got, err := w.repeatedEvents()
	if err != nil {
		return err
	}
	r.repeated = got
	cluster, name, err := w.repeatClusters(got)
	if err != nil {
		return err
	}
	_, many := w.nouns()
	switch {
	case w.ask.Cluster == "none":
		w.caution("not-clustered", "Several events of one %s are taken as independent because the question says so. The intervals may be too narrow.", strings.TrimSuffix(many, "s"))
	case cluster == nil:
		cluster, name = got.Person, "person"
	}
	r.clusterName = name
	fixed := table.New(w.table.Name, len(got.Row))
	for _, n := range sortedKeysOf(keyOf) {
		c, err := w.watchColumn(got, keyOf[n], n)
		if err != nil {
			return err
		}
		if err := fixed.Add(c); err != nil {
			return err
		}
	}
	if err := w.findHistories(r, got.History); err != nil {
		return err
	}
	r.spells, r.sameDay = got.Spells(r.histories, clocks[w.ask.Repeats])
	return r.lay(fixed, cluster)
}

func sortedKeysOf(m map[string]string) []string {
	counts := map[string]int{}
	for k := range m {
		counts[k] = 1
	}
	return sortedKeys(counts)
}

// watchColumn is a column that explains repeated events, one value a watch.
func (w *work) watchColumn(r *repeated, key, name string) (*table.Column, error) {
	c, err := w.column(key, name)
	if err != nil {
		return nil, err
	}
	var late *cohort.LaterError
	if err := w.ctx.Cohort.CheckKnown([]string{name}, w.table, false); errors.As(err, &late) {
		return nil, w.at(key, name, "known-later", "%s is known only after the watch begins and cannot explain what follows", name)
	} else if err != nil {
		return nil, err
	}
	out := *c.Pick(w.rowsOf(r))
	out.Name = name
	return &out, nil
}

// findHistories finds the columns of `varying`.
func (w *work) findHistories(r *coxRows, find func(string) (*cohort.History, error)) error {
	for _, name := range w.ask.Varying {
		if staffColumns[name] && !w.ctx.Names.Staff {
			return w.at("varying", name, "staff-hidden", "%s", w.staffHidden(name))
		}
		if identifiers[name] {
			return w.at("varying", name, "identifying", "%s names single %s and cannot explain what happens to them", name, plainName(name)+"s")
		}
		h, err := find(name)
		var fixed *cohort.FixedError
		var missing *table.ConditionError
		switch {
		case errors.As(err, &fixed) && fixed.Clock:
			return w.at("varying", name, notebook.CodeImpossible, "%s tells only how much time has passed, which the clock of this model does already", name)
		case errors.As(err, &fixed):
			return w.at("varying", name, notebook.CodeImpossible, "%s is recorded once and does not vary over a life; name it in adjust", name)
		case errors.As(err, &missing):
			return &notebook.Error{Pos: w.ask.At("varying", name), Code: "unknown-column", Nearest: missing.Nearest,
				Text: noColumn(name, "visits", missing.Nearest)}
		case err != nil:
			return err
		}
		r.histories = append(r.histories, h)
	}
	return nil
}

// lay makes the table of spells: the columns that stay, those that vary, and
// the number of the event.
func (r *coxRows) lay(fixed *table.Table, cluster []int) error {
	of := make([]int, len(r.spells))
	number := table.NewNumber(eventNumber, "", len(of))
	number.Label = "number of the event"
	for k, s := range r.spells {
		of[k] = s.Of
		number.SetNum(k, float64(s.Number))
		r.entry, r.time, r.event = append(r.entry, s.Entry), append(r.time, s.Time), append(r.event, s.Event)
		if cluster != nil {
			r.cluster = append(r.cluster, cluster[s.Of])
		}
	}
	r.subject = of
	r.table = table.New(fixed.Name, len(of))
	for _, c := range fixed.Columns() {
		if err := r.table.Add(c.Pick(of)); err != nil {
			return err
		}
	}
	for i, h := range r.histories {
		at := make([]int, len(of))
		for k, s := range r.spells {
			at[k] = s.At[i]
		}
		if err := r.table.Add(h.Column.Pick(at)); err != nil {
			return err
		}
	}
	if r.repeated != nil {
		return r.table.Add(number)
	}
	return nil
}

// subjects counts the lives or watches among some rows.
func (r *coxRows) subjects(rows []int) int {
	seen := map[int]bool{}
	for _, k := range rows {
		seen[r.subject[k]] = true
	}
	return len(seen)
}

// recount makes the counts of a design those of lives or watches, which may
// stand in several rows: a category of one that varies counts all that ever
// had it.
func (r *coxRows) recount(d *design.Design) {
	for k, name := range d.TermNames {
		if d.Cats[k] == nil {
			continue
		}
		c, ok := r.table.Col(name)
		if !ok {
			continue
		}
		had := map[string]map[int]bool{}
		for _, j := range d.Rows {
			v := valueText(c, j)
			if had[v] == nil {
				had[v] = map[int]bool{}
			}
			had[v][r.subject[j]] = true
		}
		for i, v := range d.Cats[k] {
			d.Counts[k][i] = len(had[v])
		}
	}
}

// coxData are the rows that a design uses, for the fit. It counts rows
// and events of the answer.
func (w *work) coxData(r *coxRows, d *design.Design) (survival.CoxData, error) {
	data := survival.CoxData{X: d.X, Names: d.Names()}
	for j, k := range d.Term {
		if k == len(data.Terms) {
			data.Terms = append(data.Terms, survival.Term{Name: d.TermNames[k]})
		}
		data.Terms[k].Columns = append(data.Terms[k].Columns, j)
	}
	w.Answer.Rows, w.Events = r.subjects(d.Rows), 0
	for _, j := range d.Rows {
		data.Entry = append(data.Entry, r.entry[j])
		data.Time = append(data.Time, r.time[j])
		data.Event = append(data.Event, r.event[j])
		if r.event[j] {
			w.Events++
		}
		if r.cluster != nil {
			data.Cluster = append(data.Cluster, r.cluster[j])
		}
	}
	var err error
	if data.Weight, err = w.numbersOf(r, d, "weights", w.ask.Weights); err != nil {
		return data, err
	}
	data.Offset, err = w.numbersOf(r, d, "offset", w.ask.Offset)
	return data, err
}

// numbersOf are the values of a column of numbers named by a key; nil where
// none is named.
func (w *work) numbersOf(r *coxRows, d *design.Design, key, name string) ([]float64, error) {
	if name == "" {
		return nil, nil
	}
	c, _ := r.table.Col(name)
	if c.Kind != table.Number {
		return nil, w.at(key, name, notebook.CodeImpossible, "%s holds no numbers, which `%s` needs", name, key)
	}
	out := make([]float64, len(d.Rows))
	bad := map[int]bool{}
	for k, j := range d.Rows {
		out[k] = c.Num[j]
		if key == "weights" && (!(out[k] > 0) || out[k] > 1e6) {
			bad[r.subject[j]] = true
		}
		if key == "weights" && w.ask.Ties == "discrete" && out[k] != float64(int(out[k])) {
			return nil, w.at(key, name, notebook.CodeImpossible, "with discrete ties a weight is a whole number of equal rows, and %s is not always one", name)
		}
	}
	if len(bad) > 0 {
		one, many := w.nouns()
		return nil, w.at(key, name, notebook.CodeImpossible, "a weight lies above 0 and up to a million, and %s of %s does not; leave such %s out with keep", w.columnLabel(name), w.n(len(bad), one, many), many)
	}
	return out, nil
}

// also are the further columns that a row must have.
func (w *work) coxAlso() []string {
	out := append([]string(nil), w.ask.Strata...)
	for _, n := range []string{w.ask.Weights, w.ask.Offset, w.ask.SharedBy} {
		if n != "" {
			out = append(out, n)
		}
	}
	return out
}

// lastRows are, of the rows used, the last of each life or watch.
func (r *coxRows) lastRows(rows []int) []int {
	last := map[int]int{}
	for _, k := range rows {
		last[r.subject[k]] = k
	}
	var out []int
	for _, k := range rows {
		if last[r.subject[k]] == k {
			out = append(out, k)
		}
	}
	return out
}
