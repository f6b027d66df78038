package ingest

import (
	"fmt"
	"slices"
	"sort"
	"strings"
)

// named is one thing that a code names.
type named struct{ kind, id, how string }

// traceKinds are what a code can name, and where it stands.
var traceKinds = []struct{ kind, table string }{
	{"person", TableLimbs}, {"limb", TableLimbs}, {"socket", TableSockets}, {"visit", TableVisits},
}

// find gives all that a code names: as the log writes it and as reports do;
// where there is neither, apart from case, spaces and punctuation; else what
// rows set aside refer to.
func (t *tracer) find(code string) []named {
	if code == "" {
		return nil
	}
	var out []named
	have := map[[2]string]bool{}
	add := func(kind, id, how string) {
		if id != "" && !have[[2]string{kind, id}] {
			have[[2]string{kind, id}] = true
			out = append(out, named{kind, id, how})
		}
	}
	for _, k := range traceKinds {
		for _, rec := range t.r.recs[k.table] {
			if t.ref(rec, k.kind) == code {
				add(k.kind, code, "as the log has it")
			}
		}
	}
	if t.coded {
		const how = "as reports call it"
		for _, rec := range t.r.recs[TableLimbs] {
			if person := t.ref(rec, "person"); t.person(person) == code {
				add("person", person, how)
			}
			if limb := rec.get("limb").text; !rec.aside && t.limbCode[limb] == code {
				add("limb", limb, how)
			}
		}
		for _, k := range traceKinds[2:] {
			for i, rec := range t.r.used(k.table) {
				if t.number(k.kind, i) == code {
					add(k.kind, rec.get(k.kind).text, how)
				}
			}
		}
	}
	if len(out) > 0 {
		return out
	}
	for _, k := range traceKinds {
		for _, rec := range t.r.recs[k.table] {
			if id := t.ref(rec, k.kind); wordKey(id) == wordKey(code) {
				add(k.kind, id, "apart from case, spaces and punctuation")
			}
		}
	}
	if len(out) > 0 {
		return out
	}
	for _, ref := range []struct{ table, field string }{
		{TableSockets, "limb"}, {TableStations, "limb"}, {TableVisits, "socket"}, {TableForming, "socket"}, {TableFindings, "visit"},
	} {
		for _, rec := range t.r.recs[ref.table] {
			if t.ref(rec, ref.field) == code {
				add(ref.field, code, "which rows name, but which is not in its own table")
			}
		}
	}
	return out
}

// number is what reports call the socket or visit at a place, from 0, of
// those in use, where they use codes.
func (t *tracer) number(kind string, i int) string {
	return fmt.Sprintf("%s%d", strings.ToUpper(kind[:1]), i+1)
}

// unknown is the error of a code that names nothing, with up to five that are
// near; names of persons are not among them.
func (t *tracer) unknown(code string) error {
	const mostLooked, most = 50000, 5
	type near struct {
		id string
		d  int
	}
	var list []near
	seen, looked := map[string]bool{}, 0
	key := wordKey(code)
	look := func(id string) {
		if id == "" || seen[id] || looked == mostLooked {
			return
		}
		seen[id] = true
		looked++
		k := wordKey(id)
		limit := max(2, len(key)/3)
		if diff := len(k) - len(key); diff > limit || -diff > limit {
			return
		}
		if d := editDistance(key, k); d <= limit && d < len(k) {
			list = append(list, near{id, d})
		}
	}
	for _, k := range traceKinds {
		for _, rec := range t.r.recs[k.table] {
			look(t.showID(k.kind, t.ref(rec, k.kind)))
		}
	}
	sort.SliceStable(list, func(i, j int) bool {
		return list[i].d < list[j].d || list[i].d == list[j].d && list[i].id < list[j].id
	})
	err := fmt.Errorf("%w: %q", ErrNotInLog, shorten(code))
	if len(list) == 0 {
		return err
	}
	var ids []string
	for _, n := range list[:min(most, len(list))] {
		ids = append(ids, fmt.Sprintf("%q", n.id))
	}
	return fmt.Errorf("%w; near to it: %s", err, strings.Join(ids, ", "))
}

// showID is an identifier as it may be shown: itself, a code where it may
// tell who the person is, or nothing.
func (t *tracer) showID(kind, id string) string {
	table, field := TableLimbs, kind
	switch kind {
	case "socket":
		table = TableSockets
	case "visit":
		table = TableVisits
	}
	if !t.r.identifying[table+"."+field] && !t.reveals(id) {
		return id
	}
	switch kind {
	case "person":
		return t.person(id)
	case "limb":
		return t.limbCode[id]
	}
	if rec := t.used[table][id]; rec != nil && t.coded {
		return t.number(kind, t.at[rec])
	}
	return ""
}

// reveals says whether a text holds what persons are called in the log, where
// that is not a code.
func (t *tracer) reveals(text string) bool {
	if len(t.names) == 0 {
		return false
	}
	key := wordKey(text)
	return slices.ContainsFunc(t.names, func(n string) bool { return strings.Contains(key, n) })
}
