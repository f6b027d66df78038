package ingest

import (
	"slices"
	"sort"
	"strings"
)

// pick is a column taken for a field.
type pick struct {
	*guessColumn
	p float64
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
	share   *rowShare   // nil where a row is about one limb and one socket
	visit   *visitGroup // of a socket that shares its rows: the visit at its date
}

// newDrafts makes a draft of a table, or one for each of the limbs or sockets
// that stand side by side on its rows.
func newDrafts(t *foundTable) []*draft {
	var out []*draft
	for _, s := range t.shares() {
		out = append(out, newDraft(t, s, t.columnsOf(s)))
	}
	if out == nil {
		out = []*draft{newDraft(t, nil, t.columns())}
	}
	return out
}

func newDraft(t *foundTable, share *rowShare, cols []*guessColumn) *draft {
	d := &draft{t: t, cols: cols, share: share, fields: map[string]map[string]pick{}}
	for _, table := range Tables() {
		d.fields[table] = map[string]pick{}
	}
	d.takeShare()
	d.takeRegions()
	d.takeGirths()
	d.takeGroups()
	if d.visit != nil {
		d.first = nil
		d.groups = append([]*visitGroup{d.visit}, d.groups...)
	}
	d.takeFields()
	d.takeByContents()
	d.tidy()
	d.doubtCommon()
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
		if len(d.girths) > 0 && bare && !g.taken && len(g.cells) > 0 && g.fit(TableStations, field, d.t.raw.commas) >= 0.6 {
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
			if m.score < 0.6 || m.table == TableVisits && len(d.groups) > 0 && m.field != "seen_by" || m.field == "limb_mm" && len(d.girths) > 0 {
				continue
			}
			field := schema[m.table][fieldIndex(m.table, m.field)]
			fit := g.fit(m.table, field, commas)
			if m.field == "limb" && g.holdsSides() {
				continue // "Limb" heads a column of sides
			}
			if m.field == "side" && !g.holdsSides() && fit > 0.35 && fit != 0.5 && g.fit(TableLimbs, schema[TableLimbs][fieldIndex(TableLimbs, "limb")], commas) >= 0.8 {
				continue // or of identifiers that end in a side, "P014-L"
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

// holdsSides says whether a column holds sides, not identifiers that end in
// one.
func (g *guessColumn) holdsSides() bool {
	field := schema[TableLimbs][fieldIndex(TableLimbs, "side")]
	return len(g.cells) > 0 && g.share(func(c cell) bool {
		_, ok := readWord(field, c.text)
		return ok && !strings.ContainsAny(c.text, "0123456789")
	}) >= 0.8
}

// takeByContents gives columns whose headings say too little to fields whose
// values they hold: a heading with one word of the field in it, or, where no
// column is headed as the person's, the first column of codes.
func (d *draft) takeByContents() {
	commas := d.t.raw.commas
	for _, g := range d.cols {
		if g.taken || len(g.cells) == 0 {
			continue
		}
		best := wordMatch{}
		for _, m := range append(columnMatches(g.header, g.lowest), misspelt(g.header)...) {
			field := schema[m.table][fieldIndex(m.table, m.field)]
			telling := field.Kind == KindDate || field.Kind == KindWord || field.Kind == KindWords || field.Kind == KindScore || m.slip
			if m.score < 0.5 || m.score <= best.score || !telling || d.has(m.table, m.field) || m.table == TableVisits && len(d.groups) > 0 {
				continue
			}
			if fit := g.fit(m.table, field, commas); fit >= 0.9 {
				best = m
			}
		}
		if best.score > 0 {
			d.take(best.table, best.field, g, 0.62*best.score+0.3)
		}
	}
	if d.has(TableLimbs, "person") || d.has(TableLimbs, "limb") || d.has(TableSockets, "socket") || len(d.fields[TableLimbs]) == 0 {
		return
	}
	for _, g := range d.cols { // names in columns of their own tell people apart where nothing better does
		if !g.taken && len(g.cells) > 0 && isPartOfName(g.header) {
			d.take(TableLimbs, "person", g, 0.8)
			return
		}
	}
	for _, g := range d.cols { // the first that no heading claims
		var texts []string
		for _, c := range g.cells {
			texts = append(texts, c.text)
		}
		if !g.taken && 10*len(g.cells) >= 9*len(d.t.rows) && LooksLikeCode(texts) && g.share(isDateCell) == 0 && 3*g.distinct >= len(g.cells) {
			d.take(TableLimbs, "person", g, 0.6)
		}
		if !strings.HasPrefix(g.header, "column ") {
			return
		}
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
	// sockets of limbs that another sheet lists
	if !d.has(TableLimbs, "person") && (d.has(TableSockets, "kind") || d.has(TableSockets, "delivered")) {
		d.move(TableLimbs, "limb", TableSockets, "limb")
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
