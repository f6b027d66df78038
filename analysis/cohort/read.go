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
	d.shift = append(d.shift, c.set.Shift[id])
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
	d.linerMM = r.num("liner_mm")
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
		if all, ok := t.Col("end_reasons"); ok { // known where the first is
			named := all.Pick(identity(n))
			for i, v := range d.reason {
				if v != col.Text[i] || col.Missing[i] {
					named.SetText(i, v)
				}
			}
			if err := t.Add(named); err != nil {
				return err
			}
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

func (c *Cohort) readVisits() error {
	t := c.in.Visits
	r := &reader{t: t}
	d := &c.visits
	d.id, d.purpose, d.accepted, d.skinChecked = r.text("visit"), r.text("purpose"), r.text("accepted"), r.text("skin_checked")
	d.date, d.ply, d.plyLeft = r.num("date"), r.num("ply"), r.num("ply_left")
	d.minute = make([]float64, t.Rows())
	if col, ok := t.Col("time"); ok && col.Kind != table.Text {
		d.minute, d.timed = r.num("time"), true
	}
	d.socks, d.socksLeft = socksOf(t, SockList), socksOf(t, SockListLeft)
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

// earliest is the earlier of two days, either of which may be missing.
func earliest(a, b float64) float64 {
	if math.IsNaN(a) || b < a {
		return b
	}
	return a
}
