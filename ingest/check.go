package ingest

import (
	"fmt"
	"hash/maphash"
	"slices"
	"strings"
)

// fieldIndex finds a field of a table by name; -1 for an unknown one.
func fieldIndex(table, name string) int {
	for i, f := range schema[table] {
		if f.Name == name {
			return i
		}
	}
	return -1
}

// get returns a value of a record by field name.
func (rec *record) get(name string) value { return rec.val(fieldIndex(rec.sheet.table, name)) }

func (rec *record) index(name string) int { return fieldIndex(rec.sheet.table, name) }

// used are the records of a table not set aside so far. The list is not to be
// changed: where no record is aside it is the one that the reader keeps.
func (r *reader) used(table string) []*record {
	all := r.recs[table]
	first := slices.IndexFunc(all, func(rec *record) bool { return rec.aside })
	if first < 0 {
		return all[:len(all):len(all)]
	}
	out := append(make([]*record, 0, len(all)-1), all[:first]...)
	for _, rec := range all[first:] {
		if !rec.aside {
			out = append(out, rec)
		}
	}
	return out
}

// check compares rows with each other and with what can be. Its order
// matters: a row set aside early no longer stands for anything later.
func (r *reader) check() {
	for _, table := range Tables() {
		r.checkDuplicates(table)
	}
	r.checkSpan()
	for _, table := range Tables() {
		r.checkRows(table)
	}
	r.unifyPersons()
	r.checkIDs(TableLimbs, "limb")
	limbs := r.limbTarget()
	r.checkReference(TableSockets, "limb", limbs, CodeUnknownLimb)
	r.checkIDs(TableSockets, "socket")
	sockets := r.target(TableSockets, "socket")
	r.checkReference(TableStations, "limb", limbs, CodeUnknownLimb)
	r.checkReference(TableStations, "socket", sockets, CodeUnknownSocket)
	r.checkReference(TableVisits, "socket", sockets, CodeUnknownSocket)
	r.checkReference(TableForming, "socket", sockets, CodeUnknownSocket)
	r.nameVisits()
	r.checkIDs(TableVisits, "visit")
	if len(r.recs[TableFindings]) > 0 {
		r.checkReference(TableFindings, "visit", r.target(TableVisits, "visit"), CodeUnknownVisit)
	}
	if f := fieldIndex(TableSockets, "replaces"); slices.ContainsFunc(r.used(TableSockets), func(s *record) bool { return s.known(f) }) {
		r.checkReference(TableSockets, "replaces", r.target(TableSockets, "socket"), CodeUnknownReplaced)
	}
	r.checkFacts()
	r.checkUnits()
	r.unifyWords()
	r.checkRepeats()
	for _, table := range Tables() {
		r.noteDates(table)
	}
}

// checkDuplicates sets aside rows identical in every field, own columns
// included, to an earlier row of the table in any file.
func (r *reader) checkDuplicates(table string) {
	recs := r.used(table)
	for i, prior := range r.priors(recs, 0) {
		rec := recs[i]
		r.dropRow(rec, r.firstField(rec), CodeDuplicateRow, "each row once", fmt.Sprintf("the row is identical in every field to %s", prior.where(rec)))
	}
}

func (r *reader) firstField(rec *record) int {
	for f, c := range rec.sheet.cols {
		if c >= 0 {
			return f
		}
	}
	return 0
}

// checkIDs sets aside a second row that bears an identifier already given.
func (r *reader) checkIDs(table, field string) {
	recs, f := r.used(table), fieldIndex(table, field)
	seed := maphash.MakeSeed()
	keys := keysOf(len(recs), func(i int) uint64 { return maphash.String(seed, recs[i].storedText(f)) })
	same := newSameKeys(keys, func(i, j int) bool { return recs[i].storedText(f) == recs[j].storedText(f) })
	for i, rec := range recs {
		at := same.first(i)
		if at < 0 {
			continue
		}
		prior := recs[at]
		r.dropRow(rec, f, CodeSameID, "each identifier once", fmt.Sprintf("%s stands already in %s with other values, and the first is used", r.name(rec, f, field), prior.cellAt(f, rec)))
	}
}

// name shows an identifier, or only its kind where it reveals a person.
func (r *reader) name(rec *record, f int, kind string) string {
	if r.hides(rec, f) {
		return "this " + kind
	}
	return fmt.Sprintf("%s %q", kind, shorten(rec.val(f).text))
}

// other is name for an identifier of another row.
func (r *reader) other(rec *record, f int, kind string) string {
	if r.hides(rec, f) {
		return "another " + kind
	}
	return r.name(rec, f, kind)
}

// target is what references to one kind of identifier can point to.
type target struct {
	table  string
	byID   map[string]string // identifier -> itself
	byKey  map[string]string // folded identifier -> identifier; empty where two fold alike
	person map[string]string // limbs: person -> only limb of that person
	aside  map[string]*record
	ids    []string
	given  map[string]bool // limbs: names made from person and side, which nobody typed
}

func (r *reader) target(table, field string) target {
	t := target{table: table, byID: map[string]string{}, byKey: map[string]string{}, person: map[string]string{}, aside: map[string]*record{}}
	f := fieldIndex(table, field)
	for _, rec := range r.recs[table] {
		id := rec.storedText(f)
		if id == "" {
			continue
		}
		if rec.aside {
			if t.aside[id] == nil {
				t.aside[id] = rec
			}
			continue
		}
		t.byID[id] = id
		t.ids = append(t.ids, id)
		key := wordKey(id)
		if other, ok := t.byKey[key]; ok && other != id {
			t.byKey[key] = ""
		} else {
			t.byKey[key] = id
		}
	}
	return t
}

func (r *reader) limbTarget() target {
	t := r.target(TableLimbs, "limb")
	t.given = map[string]bool{}
	for _, rec := range r.used(TableLimbs) {
		person := rec.get("person").text
		if _, ok := t.person[person]; ok {
			t.person[person] = ""
		} else {
			t.person[person] = rec.get("limb").text
		}
		if f := rec.index("limb"); wordKey(rec.text(f)) != wordKey(rec.val(f).text) {
			t.given[rec.val(f).text] = true
		}
		// "P014 left" and "P014 L" are the limb of that person and side
		side := rec.get("side").code
		for _, suffix := range []string{side, side[:1]} {
			if key := wordKey(person + suffix); t.byKey[key] == "" {
				if _, taken := t.byKey[key]; !taken {
					t.byKey[key] = rec.get("limb").text
				}
			}
		}
	}
	return t
}

// checkReference resolves a field that names a row of another table.
func (r *reader) checkReference(table, field string, t target, code string) {
	if len(r.recs[table]) > 0 && len(r.recs[t.table]) == 0 && schema[table][fieldIndex(table, field)].Required {
		r.onLog(CodeMissingTable, "a sheet or file named "+t.table, fmt.Sprintf("the table %s is missing, so no row of %s can be used", t.table, table))
	}
	noun := strings.TrimSuffix(t.table, "s")
	spellings := spellingNotes{r: r, at: map[string]int{}, count: map[string]int{}}
	defer spellings.close()
	f := fieldIndex(table, field)
	for _, rec := range t.unresolved(r.used(table), f) {
		v := rec.val(f)
		want := fmt.Sprintf("a %s of the table %s", noun, t.table)
		if prior := t.aside[v.text]; prior != nil {
			r.dropReference(rec, f, CodeReferenceAside, want, fmt.Sprintf("%s was itself set aside (%s)", r.name(rec, f, noun), prior.where(rec)))
			r.problems[len(r.problems)-1].Because = Some(prior.place())
			continue
		}
		if id := t.byKey[wordKey(v.text)]; id != "" {
			sentence := "the identifier is spelled differently from the one it must mean"
			if !r.hides(rec, f) {
				sentence = fmt.Sprintf("%q was taken for %q", shorten(v.text), id)
			}
			typed := v.text
			rec.setText(f, id)
			if !t.given[id] {
				spellings.note(rec, f, typed, want, sentence)
			}
			continue
		}
		if id := t.person[v.text]; id != "" {
			sentence := "the cell names a person, who has one limb; that limb was taken"
			if !r.hides(rec, f) {
				sentence = fmt.Sprintf("%q is a person with one limb; %q was taken", shorten(v.text), id)
			}
			typed := v.text
			rec.setText(f, id)
			if !t.given[id] {
				spellings.note(rec, f, typed, want, sentence)
			}
			continue
		}
		sentence := fmt.Sprintf("%s is not in the table %s", r.name(rec, f, noun), t.table)
		if _, isPerson := t.person[v.text]; isPerson {
			sentence = fmt.Sprintf("%s is a person with more than one limb, so the limb is not known", r.quote(rec, f))
		} else if near := t.nearest(v.text); near != "" && !r.hides(rec, f) {
			sentence += fmt.Sprintf("; is it %q?", near)
		}
		r.dropReference(rec, f, code, want, sentence)
	}
}

// unresolved are the records whose reference is not an identifier as it
// stands. Most are, so they are passed over on all cores.
func (t target) unresolved(recs []*record, f int) []*record {
	out := make([][]*record, parts(len(recs)))
	inParts(len(recs), func(part, from, to int) {
		for _, rec := range recs[from:to] {
			if !rec.known(f) {
				continue
			}
			if _, ok := t.byID[rec.storedText(f)]; !ok {
				out[part] = append(out[part], rec)
			}
		}
	})
	return slices.Concat(out...)
}

// dropReference sets a reference aside that leads nowhere, and with it the
// row that is nothing without: by now no other row can give it.
func (r *reader) dropReference(rec *record, f int, code, want, text string) {
	if !rec.sheet.fields[f].Required {
		r.drop(rec, f, code, want, text)
		return
	}
	rec.set(f, value{text: rec.val(f).text})
	r.dropRow(rec, f, code, want, text)
}

// spellingNotes reports each odd spelling of an identifier once for a sheet,
// with the number of its further cells: a lab that writes another form
// throughout would else read of nothing else.
type spellingNotes struct {
	r     *reader
	at    map[string]int // sheet and spelling -> index of the problem
	count map[string]int
}

func (n *spellingNotes) note(rec *record, f int, typed, want, sentence string) {
	key := fmt.Sprintf("%d %s", rec.sheet.index, typed)
	if _, ok := n.at[key]; ok {
		n.count[key]++
		return
	}
	n.at[key] = len(n.r.problems)
	n.r.keep(rec, f, CodeIDSpelling, want, sentence)
}

func (n *spellingNotes) close() {
	for key, i := range n.at {
		if c := n.count[key]; c > 0 {
			cells := "cells"
			if c == 1 {
				cells = "cell"
			}
			p := &n.r.problems[i].Problem
			p.Text = fmt.Sprintf("%s, as in %d further %s of the column.", strings.TrimSuffix(p.Text, "."), c, cells)
		}
	}
}

// nearest suggests an identifier: the same apart from leading zeros, else the
// only one a letter away.
func (t target) nearest(id string) string {
	key, found := wordKey(id), ""
	if len(t.ids) > 20000 {
		return ""
	}
	bare := strings.TrimLeft(key, "0")
	for _, other := range t.ids {
		k := wordKey(other)
		if bare != "" && strings.TrimLeft(k, "0") == bare {
			return other
		}
		if len(key) >= 3 && within1(key, k) {
			if found != "" {
				return ""
			}
			found = other
		}
	}
	return found
}

// unifyPersons takes spellings of a person that differ only in case, spaces
// or punctuation for the same person.
func (r *reader) unifyPersons() {
	first := map[string]string{}
	for _, rec := range r.used(TableLimbs) {
		f := rec.index("person")
		v := rec.val(f)
		key := wordKey(v.text)
		known, ok := first[key]
		if !ok {
			first[key] = v.text
			continue
		}
		if known == v.text {
			continue
		}
		sentence := "the person is spelled differently in an earlier row; both were taken for the same person"
		if !r.hides(rec, f) {
			sentence = fmt.Sprintf("%q was taken for the person %q", shorten(v.text), known)
		}
		limb := rec.get("limb")
		if limb.text == v.text+"-L" || limb.text == v.text+"-R" {
			rec.setText(rec.index("limb"), known+limb.text[len(limb.text)-2:])
		}
		rec.setText(f, known)
		r.keep(rec, f, CodeIDSpelling, "one spelling for each person", sentence)
	}
}

// nameVisits gives visits without a name the default: socket, date and time.
func (r *reader) nameVisits() {
	f := fieldIndex(TableVisits, "visit")
	for _, rec := range r.used(TableVisits) {
		if rec.known(f) {
			continue
		}
		name := rec.get("socket").text + " " + rec.get("date").date().String()
		if t := rec.get("time"); t.ok {
			name += fmt.Sprintf(" %02d:%02d", int(t.num)/60, int(t.num)%60)
		}
		rec.set(f, value{ok: true, text: name})
	}
}
