package cohort

import (
	"fmt"
	"math"
	"sort"

	"plybook/analysis/table"
)

var (
	nan      = math.NaN()
	minusInf = math.Inf(-1)
)

// The dates of each table that say something was known on that day.
var (
	limbDates   = []string{"amputated", "last_seen", "died"}
	socketDates = []string{"referred", "ordered", "cast_on", "delivered", "remake_decided", "ended"}
)

// Slices below are parallel, one entry per row of the input; a missing
// number or date is NaN, a missing text empty, a missing link -1.

type limbData struct {
	id                              []string
	person                          []int
	amputated, born, lastSeen, died []float64
	index                           map[string]int
}

type socketData struct {
	id, kind, use, reason, replaces            []string
	limb, person                               []int
	number, referred, ordered, cast, delivered []float64
	decided, ended                             []float64 // NaN where later than To
	index                                      map[string]int
	hidden                                     []bool    // every date is later than To
	visits                                     [][]int32 // known by To, in time order
	firstFitting                               []float64
	replacedOn                                 []float64 // delivery of what replaced it, known by To
	leadsTo                                    []int     // check socket -> what it became
	checks                                     [][]int   // the reverse, in time order
	end                                        []float64
	endReason                                  []string
	endBasis                                   []Basis
	sequence                                   []float64
}

type visitData struct {
	id, purpose, accepted, skinChecked []string
	socket                             []int
	date, minute, ply, plyLeft         []float64
	index                              map[string]int
	known                              []bool // dated and not after To
	looked                             []bool // skin checked, or a finding recorded
}

type findingData struct {
	visit  []int
	region []string
}

type stationData struct {
	limb, socket            []int
	date, mm, girth, model  []float64
	landmark, over, rep, by []string
	known                   []bool
}

type formingData struct {
	socket []int
	date   []float64
}

type personData struct {
	id       []string  // empty for the stand-in of a limb without a person
	evidence []float64 // last day not after To of any row; -Inf if none
	died     []float64 // NaN unless known by To
	lost     []float64 // last day on which an ending says the person went out of sight
	index    map[string]int
}

// reader takes typed slices from a table and keeps the first error.
type reader struct {
	t   *table.Table
	err error
}

func (r *reader) column(name string, ok func(table.Kind) bool) *table.Column {
	col, has := r.t.Col(name)
	if !has {
		return nil
	}
	if !ok(col.Kind) {
		if r.err == nil {
			r.err = fmt.Errorf("%s of %s is %s: %w", name, r.t.Name, col.Kind, ErrKind)
		}
		return nil
	}
	return col
}

func (r *reader) num(name string) []float64 {
	col := r.column(name, func(k table.Kind) bool { return k != table.Text })
	out := make([]float64, r.t.Rows())
	for i := range out {
		out[i] = nan
		if col != nil && !col.Missing[i] {
			out[i] = col.Num[i]
		}
	}
	return out
}

func (r *reader) text(name string) []string {
	col := r.column(name, func(k table.Kind) bool { return k == table.Text })
	if col == nil {
		return make([]string, r.t.Rows())
	}
	return col.Text
}

// index maps identifiers to rows; a second row of one identifier is an error.
func (r *reader) index(ids []string) map[string]int {
	m := make(map[string]int, len(ids))
	for i, id := range ids {
		if id == "" {
			continue
		}
		if _, ok := m[id]; ok && r.err == nil {
			r.err = fmt.Errorf("%s of %s: %w", id, r.t.Name, ErrDuplicate)
		}
		m[id] = i
	}
	return m
}

func link(ids []string, index map[string]int) []int {
	out := make([]int, len(ids))
	for i, id := range ids {
		out[i] = -1
		if j, ok := index[id]; ok {
			out[i] = j
		}
	}
	return out
}

// lastDay is Settings.To, else the latest date of any row.
func (c *Cohort) lastDay() float64 {
	if c.set.To != nil {
		return *c.set.To
	}
	day := minusInf
	for _, s := range []struct {
		t     *table.Table
		dates []string
	}{
		{c.in.Limbs, limbDates}, {c.in.Sockets, socketDates}, {c.in.Visits, []string{"date"}},
		{c.in.Stations, []string{"date"}}, {c.in.Forming, []string{"date"}},
	} {
		for _, name := range s.dates {
			if col, ok := s.t.Col(name); ok && col.Kind != table.Text {
				for i, v := range col.Num {
					if !col.Missing[i] {
						day = max(day, v)
					}
				}
			}
		}
	}
	return day
}

// masked returns the table with the named dates missing where they are later
// than To, and how many were masked.
func (c *Cohort) masked(t *table.Table, dates []string) (*table.Table, int, error) {
	out := table.New(t.Name, t.Rows())
	copy(out.Origin, t.Origin)
	is := setOf(dates)
	n := 0
	for _, col := range t.Columns() {
		if is[col.Name] && col.Kind != table.Text {
			late := false
			for i, v := range col.Num {
				late = late || !col.Missing[i] && v > c.to
			}
			if late {
				col = col.Pick(identity(t.Rows()))
				for i, v := range col.Num {
					if !col.Missing[i] && v > c.to {
						col.SetNum(i, nan)
						n++
					}
				}
			}
		}
		if err := out.Add(col); err != nil {
			return nil, 0, err
		}
	}
	return out, n, nil
}

func identity(n int) []int {
	out := make([]int, n)
	for i := range out {
		out[i] = i
	}
	return out
}

func (c *Cohort) readLimbs() error {
	t, _, err := c.masked(c.in.Limbs, limbDates)
	if err != nil {
		return err
	}
	c.base[Limbs] = t
	r := &reader{t: t}
	d := &c.limbs
	d.id, d.amputated, d.born, d.lastSeen, d.died = r.text("limb"), r.num("amputated"), r.num("born"), r.num("last_seen"), r.num("died")
	d.index = r.index(d.id)
	c.persons.index = map[string]int{}
	d.person = make([]int, t.Rows())
	for i, p := range r.text("person") {
		d.person[i] = c.person(p)
	}
	return r.err
}

// person returns the number of a person; no name gives a new one each time,
// so that rows of unknown persons are never taken as one person's.
func (c *Cohort) person(id string) int {
	d := &c.persons
	if i, ok := d.index[id]; ok && id != "" {
		return i
	}
	i := len(d.id)
	if id != "" {
		d.index[id] = i
	}
	d.id, d.evidence, d.died, d.lost = append(d.id, id), append(d.evidence, minusInf), append(d.died, nan), append(d.lost, nan)
	return i
}

func (c *Cohort) readSockets() error {
	t, _, err := c.masked(c.in.Sockets, socketDates)
	if err != nil {
		return err
	}
	r := &reader{t: t}
	raw := &reader{t: c.in.Sockets}
	d := &c.sockets
	d.id, d.kind, d.use, d.replaces = r.text("socket"), r.text("kind"), r.text("use"), r.text("replaces")
	d.number, d.referred, d.ordered, d.cast = r.num("number"), r.num("referred"), r.num("ordered"), r.num("cast_on")
	d.delivered, d.decided, d.ended = r.num("delivered"), r.num("remake_decided"), r.num("ended")
	d.index = r.index(d.id)
	limbID := r.text("limb")
	d.limb = link(limbID, c.limbs.index)
	n := t.Rows()
	d.person = make([]int, n)
	stray := map[string]int{}
	for i, l := range d.limb {
		switch p, ok := stray[limbID[i]]; {
		case l >= 0:
			d.person[i] = c.limbs.person[l]
		case ok && limbID[i] != "":
			d.person[i] = p
		default:
			d.person[i] = c.person("")
			stray[limbID[i]] = d.person[i]
		}
	}
	d.hidden = make([]bool, n)
	var dates [][]float64
	for _, name := range socketDates {
		dates = append(dates, raw.num(name))
	}
	for i := range d.hidden {
		dated, known := false, false
		for _, col := range dates {
			dated = dated || !math.IsNaN(col[i])
			known = known || col[i] <= c.to
		}
		d.hidden[i] = dated && !known
	}
	d.reason = append([]string(nil), r.text("end_reason")...)
	if err := firstError(r, raw); err != nil {
		return err
	}
	c.hideLaterReasons(raw.num("ended"), raw.num("remake_decided"), raw.num("delivered"))
	if col, ok := t.Col("end_reason"); ok {
		known := col.Pick(identity(n))
		for i, v := range d.reason {
			known.SetText(i, v)
		}
		if err := t.Add(known); err != nil {
			return err
		}
	}
	c.base[Sockets] = t
	return nil
}

func firstError(rs ...*reader) error {
	for _, r := range rs {
		if r.err != nil {
			return r.err
		}
	}
	return nil
}

// hideLaterReasons empties the end reasons that were not known by To: the
// ending they explain is dated later. A remake decided by To is known, and
// so is its reason, though the socket was worn on.
func (c *Cohort) hideLaterReasons(ended, decided, delivered []float64) {
	d := &c.sockets
	replaced := make([]float64, len(d.id))
	for i := range replaced {
		replaced[i] = nan
	}
	for j, id := range d.replaces {
		if i, ok := d.index[id]; ok {
			replaced[i] = earliest(replaced[i], delivered[j])
		}
	}
	for i, reason := range d.reason {
		if reason == "" {
			continue
		}
		when := ended[i]
		if math.IsNaN(when) || c.remake[reason] && decided[i] < when {
			if !math.IsNaN(decided[i]) {
				when = decided[i]
			} else {
				when = replaced[i]
			}
		}
		if when > c.to {
			d.reason[i] = ""
		}
	}
}

func (c *Cohort) readVisits() error {
	t := c.in.Visits
	r := &reader{t: t}
	d := &c.visits
	d.id, d.purpose, d.accepted, d.skinChecked = r.text("visit"), r.text("purpose"), r.text("accepted"), r.text("skin_checked")
	d.date, d.ply, d.plyLeft = r.num("date"), r.num("ply"), r.num("ply_left")
	d.minute = make([]float64, t.Rows())
	if col, ok := t.Col("time"); ok && col.Kind != table.Text {
		d.minute = r.num("time")
	}
	d.index = r.index(d.id)
	d.socket = link(r.text("socket"), c.sockets.index)
	d.known = known(d.date, c.to)
	d.looked = make([]bool, t.Rows())
	for i, v := range d.skinChecked {
		d.looked[i] = v == "yes"
	}
	s := &c.sockets
	s.visits = make([][]int32, len(s.id))
	for i, k := range d.socket {
		if k >= 0 && d.known[i] {
			s.visits[k] = append(s.visits[k], int32(i))
		}
	}
	s.firstFitting = make([]float64, len(s.id))
	for k, vs := range s.visits {
		sort.Slice(vs, func(a, b int) bool { return c.visitBefore(int(vs[a]), int(vs[b])) })
		s.firstFitting[k] = nan
		for _, v := range vs {
			if d.purpose[v] == PurposeCheckFitting {
				s.firstFitting[k] = d.date[v]
				break
			}
		}
	}
	c.base[Visits] = t
	return r.err
}

// visitBefore orders visits by day, time of day and identifier.
func (c *Cohort) visitBefore(a, b int) bool {
	d := &c.visits
	if d.date[a] != d.date[b] {
		return d.date[a] < d.date[b]
	}
	if d.minute[a] != d.minute[b] {
		// A visit without a time comes last of its day.
		return d.minute[a] < d.minute[b] || math.IsNaN(d.minute[b]) && !math.IsNaN(d.minute[a])
	}
	return d.id[a] < d.id[b]
}

func known(dates []float64, to float64) []bool {
	out := make([]bool, len(dates))
	for i, v := range dates {
		out[i] = v <= to // false for a missing date
	}
	return out
}

func (c *Cohort) readFindings() error {
	r := &reader{t: c.in.Findings}
	d := &c.findings
	d.visit, d.region = link(r.text("visit"), c.visits.index), r.text("region")
	for _, v := range d.visit {
		if v >= 0 {
			c.visits.looked[v] = true
		}
	}
	c.base[Findings] = c.in.Findings
	return r.err
}

func (c *Cohort) readStations() error {
	r := &reader{t: c.in.Stations}
	d := &c.stations
	d.limb, d.socket = link(r.text("limb"), c.limbs.index), link(r.text("socket"), c.sockets.index)
	d.date, d.mm, d.girth, d.model = r.num("date"), r.num("station_mm"), r.num("limb_mm"), r.num("model_mm")
	d.landmark, d.over, d.by = r.text("landmark"), r.text("over"), r.text("measured_by")
	if col, ok := c.in.Stations.Col("repeat"); ok && col.Kind != table.Text {
		// A lab that numbers its repeats may hand them over as numbers.
		d.rep = make([]string, c.in.Stations.Rows())
		for i, v := range col.Num {
			if !col.Missing[i] {
				d.rep[i] = fmt.Sprintf("%g", v)
			}
		}
	} else {
		d.rep = r.text("repeat")
	}
	d.known = known(d.date, c.to)
	c.base[Stations] = c.in.Stations
	return r.err
}

func (c *Cohort) readForming() error {
	r := &reader{t: c.in.Forming}
	c.forming.socket, c.forming.date = link(r.text("socket"), c.sockets.index), r.num("date")
	c.base[Forming] = c.in.Forming
	return r.err
}

// gatherEvidence finds the last day, not after To, on which anything was
// recorded of each person, and the deaths known by To.
func (c *Cohort) gatherEvidence() {
	p := &c.persons
	seen := func(person int, day float64) {
		if day <= c.to && day > p.evidence[person] {
			p.evidence[person] = day
		}
	}
	l := &c.limbs
	for i, who := range l.person {
		for _, day := range []float64{l.amputated[i], l.lastSeen[i], l.died[i]} {
			seen(who, day)
		}
		p.died[who] = earliest(p.died[who], l.died[i])
	}
	s := &c.sockets
	for i, who := range s.person {
		for _, day := range []float64{s.referred[i], s.ordered[i], s.cast[i], s.delivered[i], s.decided[i], s.ended[i]} {
			seen(who, day)
		}
	}
	for i, k := range c.visits.socket {
		if k >= 0 {
			seen(s.person[k], c.visits.date[i])
		}
	}
	for i, k := range c.stations.limb {
		if k >= 0 {
			seen(l.person[k], c.stations.date[i])
		}
	}
	for i, k := range c.forming.socket {
		if k >= 0 {
			seen(s.person[k], c.forming.date[i])
		}
	}
}

// earliest is the earlier of two days, either of which may be missing.
func earliest(a, b float64) float64 {
	if math.IsNaN(a) || b < a {
		return b
	}
	return a
}
