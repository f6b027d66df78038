package ingest

import (
	"context"
	"fmt"
	"slices"
	"strings"
)

// rowRecords are the records of a row that others of the row refer to.
type rowRecords struct {
	limb, socket *record
	visits       []*record
}

// rowState is a row in the ledger.
type rowState struct {
	recs   []*record // records of its own
	merged []*record // records put together with one of another row
}

// read makes the records of all blocks: limbs and sockets first, since the
// rows of other sheets may refer to them.
func (n *intakeReader) read(ctx context.Context) error {
	if n == nil {
		return nil
	}
	for bi, b := range n.blocks {
		for _, row := range b.rows {
			n.ctx[[2]int{bi, row.n}] = &rowRecords{visits: make([]*record, b.visits())}
			key := [2]int{b.index, row.n}
			if n.rows[key] == nil {
				n.rows[key] = &rowState{}
			}
		}
	}
	// Limbs without a side can only be found among those with one.
	for _, pass := range []struct {
		table string
		side  bool
	}{{TableLimbs, true}, {TableLimbs, false}, {TableSockets, true}, {TableVisits, true}, {TableStations, true}, {TableFindings, true}, {TableForming, true}} {
		for bi, b := range n.blocks {
			if err := ctx.Err(); err != nil {
				return fmt.Errorf("read the log: %w", err)
			}
			for i := range b.rows {
				row := &b.rows[i]
				for _, v := range b.views {
					if v.table == pass.table && (pass.table != TableLimbs || (v.has["side"] || v.has["limb"]) == pass.side) {
						n.record(bi, b, v, row)
					}
				}
			}
		}
	}
	for _, table := range []string{TableLimbs, TableSockets, TableVisits} {
		for _, rec := range n.r.recs[table] {
			if rec.sheet.block != nil && !rec.aside {
				n.r.requireValues(rec)
			}
		}
	}
	n.emptyRows()
	return nil
}

func (b *block) visits() int {
	k := 0
	for _, v := range b.views {
		if v.table == TableVisits {
			k++
		}
	}
	return max(k, 1)
}

// gives says whether a row has something to say for a view.
func (v *view) gives(row *rawRow) bool {
	if v.always {
		return true
	}
	for _, c := range v.drivers {
		text := strings.TrimSpace(row.cell(c).text)
		if row.cell(c).kind == cellNoValue {
			return true
		}
		if v.table == TableFindings && len(v.part.At) > 0 {
			code, marked := v.over[fieldIndex(TableFindings, "finding")][wordKey(text)]
			if marked && text != "" {
				return code != NoRecord
			}
		}
		if text != "" && !isMissing(text) {
			return true
		}
	}
	return false
}

func (n *intakeReader) record(bi int, b *block, v *view, row *rawRow) {
	if !v.gives(row) {
		return
	}
	r := n.r
	rec := r.newRecord(v.sheetData, row)
	for f := range rec.vals {
		if v.cols[f] >= 0 || v.fixed[f] != "" {
			r.parse(rec, f)
		}
	}
	r.fillDefaults(rec)
	at := n.ctx[[2]int{bi, row.n}]
	state := n.rows[[2]int{b.index, row.n}]
	switch v.table {
	case TableLimbs:
		n.soleLimb(rec)
		rec = n.together(rec, state, "limb")
		at.limb = rec
		return
	case TableSockets:
		n.refer(rec, v, "limb", at.limb, TableLimbs)
		n.nameSocket(rec, v)
		rec = n.together(rec, state, "socket")
		at.socket = rec
		return
	case TableVisits:
		if v.inUse {
			n.socketInUse(rec, at.limb)
		} else {
			n.refer(rec, v, "socket", at.socket, TableSockets)
		}
		n.nameVisit(rec)
		if b.together {
			rec = n.together(rec, state, "visit")
			at.visits[v.visit] = rec
			return
		}
		at.visits[v.visit] = rec
	case TableStations:
		n.refer(rec, v, "limb", at.limb, TableLimbs)
		if v.inUse {
			n.socketInUse(rec, at.limb)
		}
		if visit := at.visits[v.part.OfVisit-1]; !v.has["date"] && visit != nil {
			f := rec.index("date")
			rec.set(f, visit.get("date"))
		}
	case TableFindings:
		n.refer(rec, v, "visit", at.visits[v.part.OfVisit-1], TableVisits)
	case TableForming:
		if v.inUse {
			n.socketInUse(rec, at.limb)
		} else {
			n.refer(rec, v, "socket", at.socket, TableSockets)
		}
	}
	if !rec.aside {
		r.requireValues(rec)
	}
	state.recs = append(state.recs, rec)
	r.recs[v.table] = append(r.recs[v.table], rec)
}

// refer points a record at the one of its row, where no column names it.
func (n *intakeReader) refer(rec *record, v *view, field string, to *record, table string) {
	if v.has[field] || rec.aside {
		return
	}
	f := rec.index(field)
	noun := strings.TrimSuffix(table, "s")
	if to != nil {
		if id := to.get(noun); id.ok {
			rec.set(f, value{ok: true, text: id.text})
			return
		}
	}
	n.aside(rec, f, CodeReferenceAside, "a "+noun+" on the same row", fmt.Sprintf("the row gives no %s that this could belong to", noun))
}

// aside sets a record aside, whether or not its table is put together.
func (n *intakeReader) aside(rec *record, f int, code, want, text string) {
	rec.set(f, value{})
	n.r.dropRow(rec, f, code, want, text)
}

// soleLimb finds the limb of a row that names a person and no side: the only
// one of that person.
func (n *intakeReader) soleLimb(rec *record) {
	limb, person := rec.get("limb"), rec.get("person")
	if limb.ok || !person.ok || rec.get("side").ok || rec.text(rec.index("side")) != "" {
		return
	}
	var only *record
	for _, other := range n.r.recs[TableLimbs] {
		if wordKey(other.get("person").text) == wordKey(person.text) && other.get("limb").ok {
			if only != nil {
				return
			}
			only = other
		}
	}
	if only != nil {
		rec.set(rec.index("limb"), value{ok: true, text: only.get("limb").text})
	}
}

// nameSocket makes the identifier of a socket.
func (n *intakeReader) nameSocket(rec *record, v *view) {
	f := rec.index("socket")
	if v.cols[f] >= 0 || v.fixed[f] != "" || rec.aside {
		return
	}
	from := v.made
	if len(from) == 0 {
		from = []string{"limb", "delivered"}
	}
	var parts []string
	for _, name := range from {
		val := rec.get(name)
		text := spell(rec, name)
		if name == "delivered" && !val.ok { // not delivered yet
			for _, other := range []string{"cast_on", "ordered", "number"} {
				if text = spell(rec, other); text != "" {
					text = strings.ReplaceAll(other, "_on", "") + " " + text
					break
				}
			}
		}
		if text == "" {
			n.aside(rec, f, CodeMissingValue, "a value for "+name, fmt.Sprintf("the socket cannot be named, since %s is missing", name))
			return
		}
		parts = append(parts, text)
	}
	rec.set(f, value{ok: true, text: strings.Join(parts, " ")})
}

// spell writes a value for use in an identifier.
func spell(rec *record, name string) string {
	val := rec.get(name)
	switch kind := schema[rec.sheet.table][rec.index(name)].Kind; {
	case !val.ok:
		return ""
	case kind == KindDate:
		return val.date().String()
	case val.code != "":
		return val.code
	case val.text != "":
		return val.text
	default:
		return plain(val.num)
	}
}

// nameVisit makes the identifier of a visit: socket, date and time.
func (n *intakeReader) nameVisit(rec *record) {
	f := rec.index("visit")
	socket, date := rec.get("socket"), rec.get("date")
	if rec.known(f) || !socket.ok || !date.ok {
		return
	}
	name := socket.text + " " + date.date().String()
	if t := rec.get("time"); t.ok {
		name += fmt.Sprintf(" %02d:%02d", int(t.num)/60, int(t.num)%60)
	}
	rec.set(f, value{ok: true, text: name})
}

// socketInUse finds the limb's socket delivered last by the record's date.
func (n *intakeReader) socketInUse(rec *record, limb *record) {
	f := rec.index("socket")
	date := rec.get("date")
	if rec.aside || !date.ok {
		return
	}
	want := "a socket of the limb, delivered by then"
	if limb == nil || !limb.get("limb").ok {
		n.aside(rec, f, CodeReferenceAside, want, "the row gives no limb whose socket this could be about")
		return
	}
	var best *record
	for _, s := range n.r.recs[TableSockets] {
		d := s.get("delivered")
		if s.aside || !d.ok || d.date() > date.date() || wordKey(s.get("limb").text) != wordKey(limb.get("limb").text) {
			continue
		}
		if best == nil || d.date() >= best.get("delivered").date() {
			best = s
		}
	}
	if best == nil {
		n.aside(rec, f, CodeNoSocketYet, want, fmt.Sprintf("no socket of the limb had been delivered by %s", date.date()))
		return
	}
	rec.set(f, value{ok: true, text: best.get("socket").text})
}

// together puts a record together with an earlier one of the same
// identifier: values are added, and a value that differs from an earlier one
// is set aside. It returns the record that stands for both.
func (n *intakeReader) together(rec *record, state *rowState, field string) *record {
	table := rec.sheet.table
	id := rec.get(field)
	if n.canon[table] == nil {
		n.canon[table] = map[string]*record{}
	}
	lead := n.canon[table][wordKey(id.text)]
	if !id.ok || rec.aside || lead == nil {
		if id.ok && !rec.aside {
			n.canon[table][wordKey(id.text)] = rec
		}
		state.recs = append(state.recs, rec)
		n.r.recs[table] = append(n.r.recs[table], rec)
		return rec
	}
	state.merged = append(state.merged, lead)
	for f := range rec.vals {
		v := rec.val(f)
		name := schema[table][f].Name
		if !v.ok || name == field {
			continue
		}
		first := lead.val(f)
		switch {
		case !first.ok:
			lead.set(f, v)
			if lead.sheet.lent == nil {
				lead.sheet.lent = map[lentValue]*record{}
			}
			lead.sheet.lent[lentValue{lead, f}] = rec
		case !sameValue(first, v):
			noun := strings.TrimSuffix(table, "s")
			n.r.add(rec, f, CodeConflict, "the same "+name+" wherever the "+noun+" stands", ValueSetAside,
				fmt.Sprintf("%s differs from %s, where the same %s stands; the first is used", name, lead.cellAt(f, rec), noun))
		}
	}
	for _, o := range lead.sheet.own {
		n.ownConflict(lead, rec, o)
	}
	return lead
}

// ownConflict reports an own column that differs between rows put together.
func (n *intakeReader) ownConflict(lead, rec *record, o ownCol) {
	for _, p := range rec.sheet.own {
		a, b := strings.TrimSpace(lead.raw.cell(o.col).text), strings.TrimSpace(rec.raw.cell(p.col).text)
		if headerKey(o.name) != headerKey(p.name) || a == b || b == "" {
			continue
		}
		noun := strings.TrimSuffix(rec.sheet.table, "s")
		n.r.onSheet(rec.sheet, p.col, rec.row(), CodeConflict, rec.sheet.headers[p.col], "", "the same value wherever the "+noun+" stands", ValueSetAside,
			fmt.Sprintf("the value differs from %s, where the same %s stands; the first is used", placeName(lead.sheet, rec.sheet, cellName(o.col, lead.row())), noun))
	}
}

func sameValue(a, b value) bool {
	switch {
	case a.ply != nil && b.ply != nil:
		return a.ply.Total == b.ply.Total && slices.Equal(a.ply.Socks, b.ply.Socks)
	case a.code != "" || b.code != "":
		return a.code == b.code
	case a.text != "" || b.text != "":
		return wordKey(a.text) == wordKey(b.text)
	}
	return a.num == b.num
}
