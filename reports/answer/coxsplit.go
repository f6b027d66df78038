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
	"plybook/reports/document"
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

// splitPhrase says the ratios of one category, or of a number, part by part.
func (w *work) splitPhrase(es []estimate, ev cause, terms []*splitTerm) string {
	var t *splitTerm
	for _, x := range terms {
		if x.name == es[0].column.Term {
			t = x
		}
	}
	var out []string
	for k, e := range es {
		if t.number && len(es) > mostRead && k >= mostRead-1 {
			out = append(out, "the other events stand in the table")
			break
		}
		whole := e
		whole.column.Part = ""
		phrase := w.hazardPhrase(whole, ev)
		what, ratio, _ := strings.Cut(phrase, ", hazard ratio ")
		p := w.partWords(t.parts[k])
		if t.number {
			p = fmt.Sprintf("for %s", t.parts[k].name)
		}
		if k == 0 {
			ratio = what + ", hazard ratio " + p + " " + ratio
		} else {
			ratio = p + " " + ratio
		}
		out = append(out, ratio)
	}
	s := strings.Join(out, "; ")
	for _, x := range t.pooled {
		if x.column.Category == es[0].column.Category {
			lo, hi := math.Exp(x.low), math.Exp(x.high)
			s += fmt.Sprintf("; drawn together over all events, %s (%s to %s)", words.RatioWithin(math.Exp(x.value), lo, hi), words.Ratio(lo), words.Ratio(hi))
		}
	}
	return s
}

// splitVerdict says whether the ratios of a column differ between parts; empty
// where it is not split or that is not tested.
func splitVerdict(term string, terms []*splitTerm) string {
	for _, t := range terms {
		if t.name != term || t.same == nil {
			continue
		}
		verdict := "differ from part to part by more than chance alone would often give"
		if t.same.P >= 0.05 {
			verdict = "do not differ from part to part by more than chance alone would often give"
		}
		return fmt.Sprintf("the ratios for %s %s (%s)", t.label, verdict, words.PEquals(t.same.P))
	}
	return ""
}

// splitPrint is the printed table of the parts.
func (w *work) splitPrint(terms []*splitTerm) {
	if len(terms) == 0 {
		return
	}
	_, many := w.nouns()
	out := document.Table{ID: w.ask.ID + "-split", Caption: "Parts in which effects are let differ", Columns: []document.TableColumn{
		{Head: "Term", Wide: true}, {Head: "Part"}, {Head: words.Capital(many) + " at risk", Align: document.Right}, {Head: "Events", Align: document.Right}}}
	hide := w.partsHidden(terms)
	byTime := false
	for _, t := range terms {
		byTime = byTime || !t.number
		for _, p := range t.parts {
			cells := []string{words.Capital(t.label), words.Capital(p.name), "hidden", "hidden"}
			if !hide {
				cells[2], cells[3] = w.cell(len(p.subjects)), w.cell(p.events)
			}
			out.Rows = append(out.Rows, cells)
		}
		if t.same != nil {
			out.Notes = append(out.Notes, fmt.Sprintf("Test that the effect of %s is the same in all parts: p %s.", t.label, words.P(t.same.P)))
		}
		for _, x := range t.pooled {
			lo, hi := math.Exp(x.low), math.Exp(x.high)
			name := t.label
			if x.column.Category != "" {
				name += " " + x.column.Category
			}
			out.Notes = append(out.Notes, fmt.Sprintf("Drawn together over all events, the hazard ratio for %s is %s (%s %s).", name, words.RatioWithin(math.Exp(x.value), lo, hi), w.confidenceWords(), words.RatioRange(lo, hi)))
		}
	}
	if byTime {
		out.Notes = append(out.Notes, "Where times were chosen after looking at the curves, such a test finds differences too easily.")
	}
	w.print(out)
}

// splitMethods is the sentence for a paper.
func (w *work) splitMethods(terms []*splitTerm, clustered bool) string {
	var byTime, byNumber []string
	tested, pooled := false, false
	for _, t := range terms {
		tested, pooled = tested || t.same != nil, pooled || len(t.pooled) > 0
		if t.number {
			byNumber = append(byNumber, t.label)
			continue
		}
		var at []string
		for _, p := range t.parts[1:] {
			at = append(at, words.At(p.from))
		}
		byTime = append(byTime, fmt.Sprintf("%s at %s", t.label, words.List(at)))
	}
	var m strings.Builder
	if len(byTime) > 0 {
		fmt.Fprintf(&m, " The effect of %s was let differ between stretches of time, split for %s: rows were cut there (counting-process form) and the column entered once for each stretch.", words.List(labelsOf(terms, false)), words.List(byTime))
	}
	if len(byNumber) > 0 {
		fmt.Fprintf(&m, " The effect of %s was let differ between the first, second and later events; numbers with fewer than %d events for each ratio share one with the later ones.", words.List(byNumber), fewInPart)
	}
	if tested {
		m.WriteString(" That it is the same in all parts was tested by Wald's test")
		if clustered {
			m.WriteString(" with the robust covariance")
		}
		m.WriteString(".")
	}
	if pooled {
		m.WriteString(" Effects of all numbers were drawn together with the weights that make the error least (Wei, Lin and Weissfeld).")
	}
	return m.String()
}

func labelsOf(terms []*splitTerm, number bool) []string {
	var out []string
	for _, t := range terms {
		if t.number == number {
			out = append(out, t.label)
		}
	}
	return out
}

func (w *work) splitReferences(terms []*splitTerm) []string {
	var out []string
	if len(labelsOf(terms, false)) > 0 {
		out = append(out, "Therneau TM, Grambsch PM. Modeling survival data: extending the Cox model. New York: Springer; 2000.")
	}
	if len(labelsOf(terms, true)) > 0 && w.ask.Repeats != "marginal" {
		out = append(out, repeatsReferences["marginal"])
	}
	return out
}

// together gathers estimates of one column and category, in whatever parts.
func together(es []estimate) [][]estimate {
	var out [][]estimate
	at := map[[2]string]int{}
	for _, e := range es {
		key := [2]string{e.column.Term, e.column.Category}
		k, ok := at[key]
		if !ok || e.column.Part == "" {
			k = len(out)
			at[key], out = k, append(out, nil)
		}
		out[k] = append(out[k], e)
	}
	return out
}
