package ingest

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
)

// Trace tells of a person, limb, socket or visit where each of its stored
// values comes from and what was done to it.
type Trace struct {
	Matches []TraceMatch // all that the code names, at least one
	// Fresh is how many random codes were given out that the file of codes
	// lacks; they are others in the next call.
	Fresh int
}

// TraceMatch is one thing that the code names.
type TraceMatch struct {
	Kind string // person, limb, socket or visit
	Name string // as outputs call it; empty where it may tell who the person is
	How  string // how the code was understood
	Rows []TraceRow
}

// TraceRow is a row of a table, in the order of the log.
type TraceRow struct {
	Table  string
	At     string   // file, or file:sheet, and the row
	Aside  bool     // set aside: its values are not in the log
	Why    []string // why it was set aside, and what else was said of the row as a whole
	Joined []string // rows of other tables that it was joined to
	Values []TraceValue
}

// TraceValue is a value and its cell.
type TraceValue struct {
	Column string // field, or heading of an own column
	Own    bool   // a column of the lab's own
	Value  string // as the log has it, with its unit; empty where nothing is stored
	At     string // file!cell or file:sheet!cell; empty where no cell gives the value
	Text   string // what the cell holds
	Hidden string // why Text, or Value too, is not shown
	Done   []string
}

// AsItStands is what was done to a value that is what its cell holds.
const AsItStands = "as it stands"

// ErrNotInLog is returned where a code names nothing in the log.
var ErrNotInLog = errors.New("no person, limb, socket or visit of the log is called so")

// ReadTrace reads a log as Read does and tells of what code names where its
// values come from. The code is an identifier as the log has it, or what
// reports call it by the codes of opts. An unknown one is an ErrNotInLog with
// the nearest codes. Texts that may tell who a person is are left out.
func ReadTrace(ctx context.Context, paths []string, opts Options, code string) (*Trace, error) {
	r, err := load(ctx, paths, opts)
	if err != nil {
		return nil, err
	}
	return newTracer(r).trace(strings.TrimSpace(code))
}

// tracer looks at the records of a reader that has read all and let go of
// nothing.
type tracer struct {
	r        *reader
	person   func(string) string // codes; give nothing without a file of codes
	staff    func(string) string
	coded    bool // there is a file of codes
	problems map[tracePlace][]pending
	used     map[string]map[string]*record // table -> identifier -> record in use
	limbCode map[string]string             // limb -> as reports call it
	names    []string                      // folded, of persons not to be shown
	own      map[string][]*ownGroup
	at       map[*record]int      // place among the records in use of its table
	again    map[*record][][2]int // rows put together with a record
}

type tracePlace struct {
	sheet, row int
	table      string
}

func newTracer(r *reader) *tracer {
	none := func(string) string { return "" }
	t := &tracer{r: r, person: none, staff: none, problems: map[tracePlace][]pending{}, used: map[string]map[string]*record{}, limbCode: map[string]string{},
		own: map[string][]*ownGroup{}, at: map[*record]int{}, again: map[*record][][2]int{}}
	if c := r.opts.Codes; c != nil {
		t.person, t.staff, t.coded = c.Codes().Persons(), c.Codes().StaffCodes(), true
	}
	for _, p := range r.problems {
		key := tracePlace{p.Sheet, p.Row, p.table}
		t.problems[key] = append(t.problems[key], p)
	}
	for table, field := range map[string]string{TableLimbs: "limb", TableSockets: "socket", TableVisits: "visit"} {
		t.used[table] = map[string]*record{}
		for _, rec := range r.used(table) {
			t.used[table][rec.get(field).text] = rec
		}
	}
	for _, table := range Tables() {
		t.own[table] = r.ownGroups(table)
		for i, rec := range r.used(table) {
			t.at[rec] = i
		}
	}
	t.callLimbs()
	if r.identifying[TableLimbs+".person"] {
		for _, rec := range r.recs[TableLimbs] {
			if rec.sheet.coded[0] == nil {
				if key := wordKey(t.ref(rec, "person")); len(key) > 1 && !slices.Contains(t.names, key) {
					t.names = append(t.names, key)
				}
			}
		}
	}
	return t
}

// callLimbs finds what reports call the limbs: the person's code and the
// side, and a number from the second of both alike.
func (t *tracer) callLimbs() {
	taken := map[string]bool{}
	for _, rec := range t.r.used(TableLimbs) {
		base := t.person(rec.get("person").text)
		if base == "" {
			continue
		}
		if side := rec.get("side").code; side != "" {
			base += "-" + strings.ToUpper(side[:1])
		}
		code := base
		for k := 2; taken[code]; k++ {
			code = fmt.Sprintf("%s-%d", base, k)
		}
		taken[code] = true
		t.limbCode[rec.get("limb").text] = code
	}
}

func (t *tracer) trace(code string) (*Trace, error) {
	found := t.find(code)
	if len(found) == 0 {
		return nil, t.unknown(code)
	}
	out := &Trace{}
	for _, m := range found {
		match := TraceMatch{Kind: m.kind, Name: t.showID(m.kind, m.id), How: m.how}
		for _, rec := range t.kin(m) {
			match.Rows = append(match.Rows, t.row(rec))
		}
		out.Matches = append(out.Matches, match)
	}
	if t.coded {
		out.Fresh = t.r.opts.Codes.Fresh()
	}
	return out, nil
}

// ref is the identifier that a record has in a field; of one that was dropped
// or never read what its cell holds.
func (t *tracer) ref(rec *record, field string) string {
	f := rec.index(field)
	if text := rec.storedText(f); text != "" || rec.sheet.coded[f] != nil {
		return text
	}
	return strings.Join(strings.Fields(rec.text(f)), " ")
}

// same compares an identifier with what a record has in a field. Those of
// rows set aside were not always put into the spelling of the others.
func (t *tracer) same(rec *record, field string, ids map[string]bool) bool {
	id := t.ref(rec, field)
	if ids[id] && id != "" {
		return true
	}
	return rec.aside && id != "" && ids[foldedID(id)]
}

// foldedID is the key of an identifier apart from its spelling, which no
// identifier is mistaken for.
func foldedID(id string) string { return "\x00" + wordKey(id) }

type idSet map[string]bool

func (s idSet) add(id string) {
	if id != "" {
		s[id], s[foldedID(id)] = true, true
	}
}

// kin are the records that belong to a match: its own, and those of later
// tables that refer to them; in the order of tables and of the log.
func (t *tracer) kin(m named) []*record {
	persons, limbs, sockets, visits := idSet{}, idSet{}, idSet{}, idSet{}
	map[string]idSet{"person": persons, "limb": limbs, "socket": sockets, "visit": visits}[m.kind].add(m.id)
	have := map[*record]bool{}
	var out []*record
	for _, table := range []string{TableLimbs, TableSockets, TableStations, TableVisits, TableFindings, TableForming} {
		for _, rec := range t.r.recs[table] {
			limb, socket, visit := t.onRow(rec)
			in := false
			switch table {
			case TableLimbs:
				in = t.same(rec, "person", persons) || t.same(rec, "limb", limbs)
				if in && m.kind == "person" {
					limbs.add(rec.get("limb").text)
					limbs[foldedID(t.ref(rec, "person"))] = true // rows set aside may name the person
				}
			case TableSockets:
				in = t.same(rec, "socket", sockets) || t.same(rec, "limb", limbs) || t.ref(rec, "limb") == "" && have[limb]
				if in && m.kind != "socket" {
					sockets.add(rec.get("socket").text)
				}
			case TableStations:
				in = t.same(rec, "limb", limbs) || t.same(rec, "socket", sockets) || t.ref(rec, "limb") == "" && have[limb]
			case TableVisits:
				in = t.same(rec, "visit", visits) || t.same(rec, "socket", sockets) || t.ref(rec, "socket") == "" && (have[limb] || have[socket])
				if in && m.kind != "visit" {
					visits.add(rec.get("visit").text)
				}
			case TableFindings:
				in = t.same(rec, "visit", visits) || t.ref(rec, "visit") == "" && have[visit]
			case TableForming:
				in = t.same(rec, "socket", sockets) || t.ref(rec, "socket") == "" && (have[limb] || have[socket])
			}
			if in {
				have[rec] = true
				out = append(out, rec)
			}
		}
	}
	return out
}

// onRow are the records of the same row of a sheet read by an intake, and
// nil without one.
func (t *tracer) onRow(rec *record) (limb, socket, visit *record) {
	v := rec.view()
	if v == nil {
		return nil, nil, nil
	}
	n := t.r.intake
	at := n.ctx[[2]int{slices.Index(n.blocks, rec.sheet.block), rec.row()}]
	if at == nil {
		return nil, nil, nil
	}
	if k := v.part.OfVisit - 1; k >= 0 && k < len(at.visits) {
		visit = at.visits[k]
	}
	return at.limb, at.socket, visit
}

// view is the part of an intake's entry that a record was read by; nil in the
// plain layout.
func (rec *record) view() *view {
	if rec.sheet.block == nil {
		return nil
	}
	for _, v := range rec.sheet.block.views {
		if v.sheetData == rec.sheet {
			return v
		}
	}
	return nil
}
