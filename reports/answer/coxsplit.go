package answer

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"plybook/analysis/design"
	"plybook/analysis/stats"
	"plybook/analysis/survival"
	"plybook/reports/notebook"
	"plybook/reports/words"
)

// splitTerm is a column whose effect is let differ between parts: stretches
// of time, or the first, second and later events.
type splitTerm struct {
	name, label string
	number      bool // by the number of the event
	parts       []splitPart
	same        *stats.Test // that the effect is one; nil: not tested
	pooled      []pooledRatio
}

// splitPart is one part, with who was at risk in it.
type splitPart struct {
	name     string
	from, to float64 // days; to is +Inf for the last. 0 by number
	number   int     // of the event; 0 by time
	subjects map[int]bool
	kinds    map[string]map[int]bool // of a column of categories: subjects by category
	events   int
}

// pooledRatio is one effect drawn together from those of all numbers.
type pooledRatio struct {
	column design.Column
	combined
}

// fewInPart is the number of events below which a part says little. Common
// practice, no source.
const fewInPart = 10

// mostRead is how many numbers of an event the reading goes through.
const mostRead = 4

// splitRows cuts the rows of a model at the times of `split` and gives the
// columns named there an effect for each part. Without `split` all stays as
// it is.
func (w *work) splitRows(r *coxRows, d *design.Design) (*coxRows, *design.Design, []*splitTerm, error) {
	if len(w.ask.Split) == 0 {
		return r, d, nil, nil
	}
	var cuts []float64
	for _, s := range w.ask.Split {
		for _, at := range s.At {
			cuts = append(cuts, at.Days)
		}
	}
	slices.Sort(cuts)
	cuts = slices.Compact(cuts)
	entry, time, event := pick(r.entry, d.Rows), pick(r.time, d.Rows), pick(r.event, d.Rows)
	cut, err := survival.SplitRows(entry, time, event, cuts)
	if err != nil {
		return nil, nil, nil, err
	}
	of, rows := make([]int, len(cut)), make([]int, len(cut))
	out := &coxRows{cut: r.cut, clusterName: r.clusterName, lives: r.lives, repeated: r.repeated, histories: r.histories, sameDay: r.sameDay}
	for i, s := range cut {
		of[i], rows[i] = s.Row, d.Rows[s.Row]
		out.entry, out.time, out.event = append(out.entry, s.Entry), append(out.time, s.Time), append(out.event, s.Event)
	}
	out.table, out.subject, out.spells = r.table.Pick(rows), pick(r.subject, rows), pick(r.spells, rows)
	if r.cluster != nil {
		out.cluster = pick(r.cluster, rows)
	}
	parts := map[string]design.Parts{}
	var terms []*splitTerm
	for _, s := range w.ask.Split {
		t := &splitTerm{name: s.Column, label: w.columnLabel(s.Column), number: s.Number}
		p := t.divide(s, out, len(d.InPart(s.Column, "")))
		if err := w.emptyPart(t); err != nil {
			return nil, nil, nil, err
		}
		parts[s.Column], terms = p, append(terms, t)
	}
	w.splits = terms
	return out, d.Split(of, parts), terms, nil
}

func pick[T any](xs []T, at []int) []T {
	out := make([]T, len(at))
	for k, i := range at {
		out[k] = xs[i]
	}
	return out
}

// divide says which part each row falls into, and counts. columns is how many
// the term has.
func (t *splitTerm) divide(s notebook.SplitTerm, r *coxRows, columns int) design.Parts {
	if s.Number {
		t.byNumber(r, columns)
	} else {
		from := 0.0
		for k, at := range s.At {
			name := "up to " + words.At(at.Days)
			if k > 0 {
				name = betweenTimes(from, at.Days)
			}
			t.parts = append(t.parts, splitPart{name: name, from: from, to: at.Days, subjects: map[int]bool{}})
			from = at.Days
		}
		t.parts = append(t.parts, splitPart{name: "after " + words.At(from), from: from, to: math.Inf(1), subjects: map[int]bool{}})
	}
	p := design.Parts{Of: make([]int, len(r.time))}
	c, _ := r.table.Col(t.name)
	for _, x := range t.parts {
		p.Names = append(p.Names, x.name)
	}
	for i, at := range r.time {
		k := 0
		if s.Number {
			k = min(r.spells[i].Number, len(t.parts)) - 1
		} else {
			for k+1 < len(t.parts) && at > t.parts[k].to {
				k++
			}
		}
		p.Of[i] = k
		part := &t.parts[k]
		part.subjects[r.subject[i]] = true
		if c != nil {
			v := valueText(c, i)
			if part.kinds == nil {
				part.kinds = map[string]map[int]bool{}
			}
			if part.kinds[v] == nil {
				part.kinds[v] = map[int]bool{}
			}
			part.kinds[v][r.subject[i]] = true
		}
		if r.event[i] {
			part.events++
		}
	}
	return p
}

// byNumber makes a part of each number of an event that came often enough; the
// later ones share a part, and so do those who wait for one event more than
// there ever was, which are compared with nobody's.
func (t *splitTerm) byNumber(r *coxRows, columns int) {
	var events []int // by number
	for i, x := range r.spells {
		for len(events) < x.Number {
			events = append(events, 0)
		}
		if r.event[i] {
			events[x.Number-1]++
		}
	}
	for len(events) > 0 && events[len(events)-1] == 0 {
		events = events[:len(events)-1]
	}
	own, later, least := 0, 0, fewInPart*columns
	for own < len(events) && events[own] >= least {
		own++
	}
	for _, n := range events[own:] {
		later += n
	}
	if later > 0 && (own == 0 || later >= least) {
		own++
	}
	for k := 1; k <= own; k++ {
		name := fmt.Sprintf("event %d", k)
		if k == own && k < len(events) {
			name += " and later"
		}
		t.parts = append(t.parts, splitPart{name: name, number: k, subjects: map[int]bool{}})
	}
}

// betweenTimes names the time between two, with the unit once where it is one.
func betweenTimes(from, to float64) string {
	a, b := words.At(from), words.At(to)
	short, unit, ok := strings.Cut(a, " ")
	if _, other, ok2 := strings.Cut(b, " "); ok && ok2 && strings.TrimSuffix(unit, "s") == strings.TrimSuffix(other, "s") {
		a = short
	}
	return a + " to " + b
}

// emptyPart refuses parts in which nothing happened, and a split that leaves
// one part.
func (w *work) emptyPart(t *splitTerm) error {
	if len(t.parts) < 2 {
		return w.at("split", notebook.ByNumber, notebook.CodeImpossible, "too few second and later events were seen to tell a ratio of %s for them from that for the first; leave out `split`", t.label)
	}
	for _, p := range t.parts {
		if p.events == 0 {
			return w.at("split", t.name, notebook.CodeImpossible, "no event was seen %s, so %s can have no ratio there; split at other times", w.partWords(p), t.label)
		}
	}
	return nil
}

// partWords names a part within a sentence.
func (w *work) partWords(p splitPart) string {
	switch {
	case p.number == 0 && p.from > 0 && !math.IsInf(p.to, 1):
		return "from " + p.name
	case p.number > 0:
		return "of " + p.name
	}
	return p.name
}

// splitTables tests whether the effects differ between parts, and writes down
// the parts.
func (w *work) splitTables(fit *coxFitted, d *design.Design, terms []*splitTerm) {
	if len(terms) == 0 {
		return
	}
	parts := tableOf("split", text("term"), text("part"), number("from", "days"), number("to", "days"), integer("number"), count("rows"), count("events"))
	tests := tableOf("split_tests", text("term"), text("test"), number("statistic", ""), integer("df"), number("p", ""))
	pooled := tableOf("pooled", text("term"), text("category"), text("reference"), number("estimate", ""), number("std_error", ""), number("ratio", ""), number("low", ""), number("high", ""), number("p", ""))
	hide := w.partsHidden(terms)
	for _, t := range terms {
		for _, p := range t.parts {
			cells := []any{t.name, p.name, p.from, p.to, nil}
			if math.IsInf(p.to, 1) {
				cells[3] = nil
			}
			if t.number {
				cells[2], cells[3], cells[4] = nil, nil, p.number
			}
			if hide {
				w.withhold(parts, 5, cells)
				continue
			}
			parts.row(append(cells, len(p.subjects), p.events)...)
		}
		w.testParts(fit, d, t)
		if t.same != nil {
			tests.row(t.name, t.same.Name, t.same.Statistic, int(t.same.DF), t.same.P)
		}
		for _, x := range t.pooled {
			pooled.row(x.column.Term, orNil(x.column.Category), orNil(x.column.Reference), x.value, x.stdErr, math.Exp(x.value), math.Exp(x.low), math.Exp(x.high), x.p)
		}
		w.fewInParts(t, d)
	}
	w.addTable(parts)
	w.addTable(tests)
	w.addTable(pooled)
}

// partsHidden says whether the parts' counts would tell small ones: they add
// up to what is shown of all.
func (w *work) partsHidden(terms []*splitTerm) bool {
	for _, t := range terms {
		for _, p := range t.parts {
			if w.hiddenCount(len(p.subjects)) || w.hiddenCount(p.events) || w.hiddenCount(len(p.subjects)-p.events) {
				w.caution("parts-hidden", "How many were at risk in each part, and had the event in it, is not shown: some of these numbers are below %d.", w.ctx.Front.HideBelow)
				return true
			}
		}
	}
	return false
}

// partCount is how many of a category were at risk in a part; empty where that
// is not shown.
func (w *work) partCount(c design.Column) string {
	for _, t := range w.splits {
		if t.name != c.Term || w.partsHidden(w.splits) || c.Category == "" {
			continue
		}
		for _, p := range t.parts {
			if p.name == c.Part {
				return w.cell(len(p.kinds[c.Category]))
			}
		}
	}
	return ""
}

func (w *work) testParts(fit *coxFitted, d *design.Design, t *splitTerm) {
	if fit.firth != nil {
		w.caution("parts-not-tested", "Whether the ratios for %s differ between the parts is not tested where the estimates are penalised.", t.label)
		return
	}
	var groups [][]int
	for _, p := range t.parts {
		groups = append(groups, d.InPart(t.name, p.name))
	}
	test, err := fit.SameTest("the same in all parts", groups)
	if err != nil {
		w.caution("parts-not-tested", "Whether the ratios for %s differ between the parts could not be tested: too few %s bear on it.", t.label, w.bearers())
		return
	}
	t.same = &test
	if !t.number {
		return
	}
	z := stats.NormalQuantile(0.5 + w.ask.Confidence/2)
	for k := range groups[0] {
		var columns []int
		for _, g := range groups {
			columns = append(columns, g[k])
		}
		b, se, _, err := fit.Pooled(columns)
		if errors.Is(err, stats.ErrSingular) {
			continue
		}
		column := d.Columns[columns[0]]
		column.Part = ""
		t.pooled = append(t.pooled, pooledRatio{column, combined{value: b, stdErr: se, low: b - z*se, high: b + z*se, stat: b / se, p: stats.NormalP(b / se), tested: true}})
	}
}

func (w *work) fewInParts(t *splitTerm, d *design.Design) {
	var few []string
	for _, p := range t.parts {
		if p.events < fewInPart*len(d.InPart(t.name, p.name)) {
			few = append(few, w.partWords(p))
		}
	}
	if len(few) > 0 {
		much := fmt.Sprintf("Fewer than %d events for each ratio", fewInPart)
		if w.public() {
			much = "Few events"
		}
		w.caution("few-in-part", "%s were seen %s: what is said of %s there is shaky.", much, words.List(few), t.label)
	}
}
