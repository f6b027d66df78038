package ingest

import (
	"fmt"
	"regexp"
	"slices"
	"sort"
	"strconv"
	"strings"
)

// pick is a column taken for a field.
type pick struct {
	*guessColumn
	p float64
}

// visitGroup are the columns of one of several visits on a row.
type visitGroup struct {
	key    string
	fields map[string]pick
	hits   int
}

type girthColumn struct {
	*guessColumn
	distance float64
	unit     string
}

type regionColumn struct {
	*guessColumn
	code, key string
}

// draft is what the proposal makes of one table found.
type draft struct {
	t       *foundTable
	cols    []*guessColumn
	fields  map[string]map[string]pick // table -> field
	groups  []*visitGroup
	first   *visitGroup // at delivery, dated by the column of deliveries
	girths  []girthColumn
	regions []regionColumn
	own     []*guessColumn
}

func newDraft(t *foundTable) *draft {
	d := &draft{t: t, cols: t.columns(), fields: map[string]map[string]pick{}}
	for _, table := range Tables() {
		d.fields[table] = map[string]pick{}
	}
	d.takeRegions()
	d.takeGirths()
	d.takeGroups()
	d.takeFields()
	d.tidy()
	return d
}

func (d *draft) has(table, field string) bool { _, ok := d.fields[table][field]; return ok }

func (d *draft) take(table, field string, g *guessColumn, p float64) {
	g.taken = true
	d.fields[table][field] = pick{g, p}
}

// takeGirths finds columns of girths at distances from a landmark.
func (d *draft) takeGirths() {
	field := schema[TableStations][fieldIndex(TableStations, "limb_mm")]
	for _, g := range d.cols {
		v, unit, ok := girthHeader(g.header)
		if !ok || g.taken || len(g.cells) == 0 || g.fit(TableStations, field, d.t.raw.commas) < 0.6 {
			continue
		}
		d.girths = append(d.girths, girthColumn{g, v, unit})
	}
	if len(d.girths) < 2 {
		d.girths = nil
	}
	// "MPT" beside "MPT +2" is the landmark itself.
	for _, g := range d.cols {
		bare := len(headerTokens(g.header)) > 0 && len(headerTokens(g.header)) <= 3 && landmarkIn(g.header) != "" && !strings.ContainsAny(g.header, "0123456789")
		if len(d.girths) > 0 && bare && !g.taken && len(g.cells) > 0 && g.fit(TableStations, field, d.t.raw.commas) >= 0.8 {
			d.girths = append(d.girths, girthColumn{g, 0, ""})
		}
	}
	sort.SliceStable(d.girths, func(i, j int) bool { return d.girths[i].col < d.girths[j].col })
	for _, g := range d.girths {
		g.taken = true
	}
}

// takeRegions finds columns that are headed by a region and hold marks.
func (d *draft) takeRegions() {
	for _, g := range d.cols {
		code, key := regionOf(g.header)
		if code == "" || len(g.cells) == 0 || g.distinct > 12 || slices.ContainsFunc(columnMatches(g.header, g.lowest), func(m wordMatch) bool { return m.score > 0.95 }) {
			continue // "Pt" is a patient before it is a patellar tendon
		}
		short := g.share(func(c cell) bool {
			return c.kind == cellText && (len([]rune(c.text)) <= 3 && !strings.ContainsAny(c.text, "0123456789") || isKnown(findings, c.text)) || clearMarks[strings.ToLower(c.text)]
		})
		if short >= 0.8 {
			g.taken = true
			d.regions = append(d.regions, regionColumn{g, code, key})
		}
	}
}

var groupNoise = map[string]bool{"visit": true, "v": true, "appt": true, "appointment": true, "review": true, "no": true, "at": true, "on": true, "the": true, "of": true, "for": true, "fu": true, "follow": true, "up": true, "seen": true, "in": true}

// groupKey folds what a header says beside the field: "visit 2", "v2" and
// "2nd" are 2.
func groupKey(rest string) string {
	var out []string
	words := strings.Fields(rest)
	for i, w := range words {
		if i > 0 && slices.Contains([]string{"st", "nd", "rd", "th"}, w) && strings.Trim(words[i-1], "0123456789") == "" {
			continue
		}
		if !groupNoise[w] {
			out = append(out, w)
		}
	}
	return strings.Join(out, " ")
}

// deliveryWord is in the headings of what was found at delivery.
var deliveryWord = regexp.MustCompile(`\b(?:delivery|delivered|del|supply|issue|handover)\b`)

var groupFields = []string{"date", "ply", "comfort", "ply_left", "comfort_left", "hours", "mass_kg", "purpose", "action", "skin_checked", "accepted", "seen_by"}

// takeGroups finds the columns of several visits on one row: "Date 1, Ply 1,
// SCS 1, Date 2, ...".
func (d *draft) takeGroups() {
	type member struct {
		g     *guessColumn
		field string
		p     float64
	}
	byKey := map[string][]member{}
	var order []string
	for _, g := range d.cols {
		if g.taken {
			continue
		}
		best, key := member{}, ""
		full := 0.0
		for _, m := range columnMatches(g.header, g.lowest) {
			if m.table != TableVisits {
				full = max(full, m.score)
				continue
			}
			if !slices.Contains(groupFields, m.field) {
				continue
			}
			field := schema[TableVisits][fieldIndex(TableVisits, m.field)]
			fit := g.fit(TableVisits, field, d.t.raw.commas)
			rest := groupKey(m.rest)
			if fit < 0.5 {
				continue
			}
			if p := 0.5*m.score + 0.5*fit; p > best.p {
				best, key = member{g, m.field, p}, rest
			}
		}
		if best.g == nil || full >= 0.99 {
			continue
		}
		if len(byKey[key]) == 0 {
			order = append(order, key)
		}
		byKey[key] = append(byKey[key], best)
	}
	// Keys that stand for visits: a date and something else under each, or
	// numbers.
	var keys, atDelivery []string
	count := map[string]int{} // field -> keys
	for _, k := range order {
		seen := map[string]bool{}
		for _, m := range byKey[k] {
			if !seen[m.field] {
				count[m.field]++
			}
			seen[m.field] = true
		}
		switch {
		case seen["date"] && len(seen) >= 2:
			keys = append(keys, k)
		case !seen["date"] && (seen["ply"] || seen["comfort"]) && deliveryWord.MatchString(k):
			atDelivery = append(atDelivery, k)
		}
	}
	if len(keys)+len(atDelivery) < 2 || len(keys) == 0 {
		return
	}
	for _, k := range append(atDelivery[:min(1, len(atDelivery))], keys...) {
		vg := &visitGroup{key: k, fields: map[string]pick{}}
		for _, m := range byKey[k] {
			if _, ok := vg.fields[m.field]; ok || count[m.field] < 2 && m.field != "date" {
				continue
			}
			m.g.taken = true
			vg.fields[m.field] = pick{m.g, min(0.95, m.p+0.1)}
			vg.hits += len(m.g.cells)
		}
		if slices.Contains(atDelivery, k) {
			d.first = vg
			continue
		}
		d.groups = append(d.groups, vg)
	}
}

// takeFields gives the other columns to fields, the surest first.
func (d *draft) takeFields() {
	type candidate struct {
		g            *guessColumn
		table, field string
		p            float64
		order        int
	}
	var cands []candidate
	commas := d.t.raw.commas
	for _, g := range d.cols {
		if g.taken {
			continue
		}
		for _, m := range columnMatches(g.header, g.lowest) {
			if m.score < 0.6 || m.table == TableVisits && len(d.groups) > 0 && m.field != "seen_by" {
				continue
			}
			field := schema[m.table][fieldIndex(m.table, m.field)]
			fit := g.fit(m.table, field, commas)
			if m.field == "limb" && g.fit(TableLimbs, schema[TableLimbs][fieldIndex(TableLimbs, "side")], commas) >= 0.8 {
				continue // "Limb" heads a column of sides
			}
			if fit < 0.35 || field.Kind == KindDate && fit < 0.5 {
				continue
			}
			cands = append(cands, candidate{g, m.table, m.field, 0.62*m.score + 0.37*fit, g.col})
		}
		for _, f := range []struct{ table, field string }{{TableLimbs, "level"}, {TableLimbs, "cause"}, {TableLimbs, "side"}, {TableSockets, "kind"}, {TableSockets, "end_reason"}} {
			field := schema[f.table][fieldIndex(f.table, f.field)]
			fit := g.fit(f.table, field, commas)
			letters := g.share(func(c cell) bool { return len(strings.Trim(c.text, "0123456789.,-/?")) >= 2 })
			if len(g.cells) > 0 && fit >= 0.8 && (letters > 0.7 || f.field == "side" && g.distinct >= 2 && letters < 0.7 && fit > 0.95 && g.share(func(c cell) bool { return !plainNumber.MatchString(c.text) }) == 1) {
				cands = append(cands, candidate{g, f.table, f.field, 0.4 + 0.2*fit, g.col})
			}
		}
	}
	sort.SliceStable(cands, func(i, j int) bool {
		if cands[i].p != cands[j].p {
			return cands[i].p > cands[j].p
		}
		return cands[i].order < cands[j].order
	})
	for _, c := range cands {
		if !c.g.taken && !d.has(c.table, c.field) {
			d.take(c.table, c.field, c.g, c.p)
		}
	}
}

func (d *draft) move(table, field, toTable, toField string) {
	if p, ok := d.fields[table][field]; ok {
		delete(d.fields[table], field)
		if _, taken := d.fields[toTable][toField]; toField == "" || taken {
			p.taken = false
			return
		}
		d.fields[toTable][toField] = p
	}
}

// tidy settles what single columns cannot say.
func (d *draft) tidy() {
	limbs, visits := d.fields[TableLimbs], d.fields[TableVisits]
	if p, ok := d.fields[TableSockets]["delivered"]; d.first != nil {
		if ok {
			d.first.fields["date"] = pick{p.guessColumn, 0.85}
			d.groups = append([]*visitGroup{d.first}, d.groups...)
		} else {
			for _, p := range d.first.fields {
				p.taken = false
			}
		}
	}
	// one column for side and level: "R BKA"
	combine := func(have, want string) {
		p, ok := limbs[have]
		field := schema[TableLimbs][fieldIndex(TableLimbs, want)]
		if !d.has(TableLimbs, want) && ok && len(p.cells) > 0 && p.share(func(c cell) bool { _, ok := readWord(field, c.text); return ok }) >= 0.8 {
			limbs[want] = pick{p.guessColumn, 0.8}
		}
	}
	combine("side", "level")
	combine("level", "side")
	// a socket's number within its limb is no identifier
	if s, ok := d.fields[TableSockets]["socket"]; ok && d.has(TableLimbs, "person") && d.shared(s.col, limbs["person"].col) {
		d.move(TableSockets, "socket", TableSockets, "number")
	}
	if v, ok := visits["visit"]; ok && v.distinct < len(v.cells) {
		d.move(TableVisits, "visit", "", "")
	}
	// whose date is "Date"?
	onlyDate := true
	for f := range visits {
		if f != "date" && f != "seen_by" && f != "time" {
			onlyDate = false
		}
	}
	stations := len(d.girths) > 0 || d.has(TableStations, "limb_mm")
	forming := d.has(TableForming, "oven_c") || d.has(TableForming, "sheet_mm")
	if onlyDate && len(d.regions) == 0 && len(d.fields[TableFindings]) == 0 && len(d.groups) == 0 {
		switch {
		case forming && !d.has(TableForming, "date"):
			d.move(TableVisits, "date", TableForming, "date")
			d.move(TableVisits, "seen_by", TableForming, "formed_by")
		case stations && !d.has(TableStations, "date"):
			d.move(TableVisits, "date", TableStations, "date")
			d.move(TableVisits, "seen_by", TableStations, "measured_by")
		case !d.has(TableSockets, "delivered") && len(d.fields[TableSockets]) > 1:
			d.move(TableVisits, "date", TableSockets, "delivered")
		}
		d.drop(TableVisits)
	}
	if !forming {
		d.move(TableForming, "formed_by", TableVisits, "seen_by")
		d.drop(TableForming)
	}
	if !stations {
		d.move(TableStations, "date", TableVisits, "date")
		d.drop(TableStations)
	}
	if !d.has(TableFindings, "finding") || !d.has(TableFindings, "region") {
		d.drop(TableFindings)
	}
	if !d.has(TableVisits, "date") && len(d.groups) == 0 {
		d.drop(TableVisits)
	}
	if len(d.groups) > 0 {
		d.drop(TableVisits)
	}
}

// shared says whether values of one column stand with several values of
// another, as the numbers 1, 2, 3 of each limb's sockets do.
func (d *draft) shared(col, with int) bool {
	seen, many := map[string]string{}, map[string]bool{}
	for _, r := range d.t.rows {
		a, b := strings.TrimSpace(r.cell(col).text), wordKey(r.cell(with).text)
		if a == "" || b == "" {
			continue
		}
		if prior, ok := seen[a]; ok && prior != b {
			many[a] = true
		} else if !ok {
			seen[a] = b
		}
	}
	return len(many) > 0 && 3*len(many) >= len(seen)
}

// drop frees the columns of a table of which too little was found.
func (d *draft) drop(table string) {
	for _, p := range d.fields[table] {
		p.taken = false
	}
	d.fields[table] = map[string]pick{}
}

// dateOrder is the order that the date texts of the table speak for. It is
// a question where some could be read both ways and none decides, and empty
// where there is nothing to decide.
func (d *draft) dateOrder() (order, why string) {
	s := &sheetData{raw: *d.t.raw, header: d.t.end, block: &block{rows: d.t.rows, spec: &IntakeSheet{}}}
	var open []string
	for _, g := range d.dates() {
		found, _ := columnOrder(s, g.col)
		if m := inBrackets.FindStringSubmatch(g.header); m != nil && found == orderUnknown && orderNote(m[2]) != orderUnknown {
			continue // its header says it
		}
		ordered := false
		for _, c := range g.cells {
			if r, err := readDate(c.text); c.kind == cellText && err == nil && r.form == dateOrdered {
				ordered = true
			}
		}
		switch {
		case found == orderDayFirst:
			return DayFirst, fmt.Sprintf("%s has days after the 12th, or dots", g.header)
		case found == orderMonthFirst:
			return MonthFirst, fmt.Sprintf("%s has days after the 12th", g.header)
		case ordered:
			open = append(open, g.header)
		}
	}
	if len(open) > 0 {
		return question, fmt.Sprintf("day-first or month-first; nothing in %s decides", strings.Join(shortList(open, 3), ", "))
	}
	return "", ""
}

// dates are the columns taken for dates, in order.
func (d *draft) dates() []*guessColumn {
	var out []*guessColumn
	add := func(table string, fields map[string]pick) {
		for name, p := range fields {
			if k := schema[table][fieldIndex(table, name)].Kind; k == KindDate {
				out = append(out, p.guessColumn)
			}
		}
	}
	for table, fields := range d.fields {
		add(table, fields)
	}
	for _, g := range d.groups {
		add(TableVisits, g.fields)
	}
	slices.SortFunc(out, func(a, b *guessColumn) int { return a.col - b.col })
	return out
}

var legendForm = regexp.MustCompile(`(?:^|[\s,;(])([A-Za-z]{1,3})\s*[=:]\s*([A-Za-z][A-Za-z -]+)`)

// legend are the meanings of marks that the sheet itself explains, such as
// "R = redness fading, B = blister".
func (d *draft) legend() map[string]string {
	out := map[string]string{}
	for _, r := range d.t.raw.rows {
		for _, c := range r.cells {
			if !strings.ContainsAny(c.text, "=:") || c.kind != cellText {
				continue
			}
			for _, m := range legendForm.FindAllStringSubmatch(c.text, -1) {
				out[wordKey(m[1])] = strings.TrimSpace(m[2])
			}
		}
	}
	return out
}

// marks proposes what the marks in the columns of regions mean.
func (d *draft) marks() []IntakeWord {
	legend := d.legend()
	count := map[string]int{}
	first := map[string]string{}
	for _, rc := range d.regions {
		for _, c := range rc.cells {
			k := wordKey(c.text)
			if count[k]++; first[k] == "" {
				first[k] = c.text
			}
		}
	}
	keys := make([]string, 0, len(count))
	for k := range count {
		keys = append(keys, k)
	}
	sort.Slice(keys, func(i, j int) bool {
		if count[keys[i]] != count[keys[j]] {
			return count[keys[i]] > count[keys[j]]
		}
		return keys[i] < keys[j]
	})
	var out []IntakeWord
	for _, k := range keys {
		w := IntakeWord{Text: first[k]}
		times := timesWord(count[k])
		said := legend[k]
		m := findings.Lookup(first[k])
		lm := findings.Lookup(said)
		switch {
		case said != "" && (lm.How == Exact || lm.How == Near):
			w.Code, w.note = lm.Code, fmt.Sprintf("%s; the sheet says %q; certain (95%%)", times, said)
		case clearMarks[strings.ToLower(first[k])]:
			w.Code, w.note = "none", times+"; looked at, nothing found: likely (80%); write \"no record\" if it only means not looked at"
		case m.How == Exact:
			w.Code, w.note = m.Code, times+"; certain (95%)"
		case markWords[k] != "":
			w.Code, w.note = markWords[k], times+"; a guess (60%)"
		case isMissing(first[k]):
			w.Code, w.note = NoRecord, times
		case len(splitWords(first[k])) > 1:
			continue // several marks in one cell are read one by one
		default:
			w.Code = question
			w.note = times + "; which finding? " + strings.Join(shortList(findings.Codes(), 14), ", ") + "; or no record"
			if said != "" {
				w.note = fmt.Sprintf("%s; the sheet says %q: redness fading, redness persisting or which other?", times, said)
			}
		}
		out = append(out, w)
	}
	return out
}

func timesWord(n int) string {
	if n == 1 {
		return "once"
	}
	return strconv.Itoa(n) + " times"
}

func isKnown(v Vocabulary, text string) bool {
	_, ok := v.known(text)
	return ok
}

// fillDown finds columns in which facts of a person are written on the first
// row of several only: the person's, and those blank on the same rows.
func (d *draft) fillDown() []string {
	person, ok := d.fields[TableLimbs]["person"]
	date, dated := d.fields[TableVisits]["date"]
	if !ok || !dated {
		return nil
	}
	blank := func(r rawRow, c int) bool { return strings.TrimSpace(r.cell(c).text) == "" }
	var later []rawRow // rows with a visit and no person
	for i, r := range d.t.rows {
		if blank(r, person.col) && !blank(r, date.col) {
			if i == 0 {
				return nil
			}
			later = append(later, r)
		}
	}
	if 5*len(later) < len(d.t.rows) || len(later) < 2 {
		return nil
	}
	out := []string{person.header}
	for _, g := range d.cols {
		facts := false
		for _, table := range []string{TableLimbs, TableSockets} {
			for _, p := range d.fields[table] {
				facts = facts || p.col == g.col && g.col != person.col && g.col != date.col
			}
		}
		if facts && !slices.ContainsFunc(later, func(r rawRow) bool { return !blank(r, g.col) }) {
			out = append(out, g.header)
		}
	}
	return out
}
