package example

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"

	"plybook/ingest"
)

// Draw draws the clean log of the invented lab: the records as they would be
// read if nobody had ever mistyped anything, with the lab's own column
// first_definitive (yes, no) on sockets. The same seed gives the same
// records.
func Draw(seed uint64) *ingest.Log { return Known().Draw(seed) }

// Draw draws a clean log from this truth.
func (t Truth) Draw(seed uint64) *ingest.Log {
	d := &drawer{t: t, r: rand.New(rand.NewPCG(seed, 0x6c696d62))}
	d.stations = make([]ingest.Station, 0, 50*t.Persons)
	d.visits = make([]visitDraft, 0, 25*t.Persons)
	for i := range t.Persons {
		d.person(i + 1)
	}
	return d.finish()
}

type drawer struct {
	t        Truth
	r        *rand.Rand
	limbs    []ingest.Limb
	sockets  []socketDraft
	stations []ingest.Station
	visits   []visitDraft
	forming  []ingest.Forming
}

// socketDraft is a socket and its value in the own column.
type socketDraft struct {
	ingest.Socket
	first string // yes, no; empty where the socket is no definitive
}

// visitDraft is a visit with its findings, before visits are numbered.
type visitDraft struct {
	ingest.Visit
	findings []ingest.Finding
}

// exitKind is why a person's follow-up ends.
type exitKind int

const (
	exitCall   exitKind = iota // still followed: last seen in the closing weeks
	exitDeath                  // died
	exitLost                   // out of touch, nothing written on the sockets
	exitNoted                  // out of touch, written on the sockets
	exitMoved                  // known to have moved away
	callWindow = 23            // days before the close in which calls are made
)

// person is what a person's limbs share.
type person struct {
	code      string
	cause     string
	site      string
	born      int
	sex       string
	activity  string
	programme string
	worn      bool // established when the log opens
	entry     ingest.Date
	exit      ingest.Date
	how       exitKind
	comfort   float64 // person effect
	mass      float64
	massYear  float64 // change a year
}

// limb is a limb while its story is told.
type limb struct {
	*person
	code      string
	level     string
	amputated ingest.Date
	vInf      float64
	drop      float64
	ply0      float64
	hours0    float64
	hoursRate float64
	made      int // sockets so far, for their codes
}

func (d *drawer) person(n int) {
	t, r := d.t, d.r
	p := &person{
		code:     fmt.Sprintf("P%03d", n),
		cause:    d.pick(t.Causes),
		site:     d.pick(t.Sites),
		comfort:  t.ComfortPersonSD * r.NormFloat64(),
		mass:     clamp(79+14*r.NormFloat64(), 46, 130),
		massYear: 1.2 * r.NormFloat64(),
	}
	p.sex = d.pick([]Share{{"male", 0.68}, {"female", 0.32}})
	p.activity = d.pick([]Share{{"K1", 0.14}, {"K2", 0.36}, {"K3", 0.38}, {"K4", 0.12}})
	p.programme = d.pick([]Share{{"day clinic", 0.6}, {"rehabilitation ward", 0.25}, {"foot programme", 0.15}})
	age := clamp(47+14*r.NormFloat64(), 19, 88)
	if t.DeathsPerYear[p.cause] > 0.06 {
		age = clamp(66+10*r.NormFloat64(), 40, 91)
	}

	// The share of worn-in persons is kept by raising the chance of those
	// who are not born without the limb, who always are.
	born := shareOf(t.Causes, "congenital")
	p.worn = p.cause == "congenital" || r.Float64() < (t.Established-born)/(1-born)
	p.entry = t.Opens
	if !p.worn {
		p.entry += ingest.Date(r.IntN(int(t.Closes-t.Opens) - 60))
	}
	p.born = dateOf(p.entry).Year() - int(age)

	p.exit, p.how = t.Closes-ingest.Date(r.IntN(callWindow)), exitCall
	if died := p.entry + wait(r, t.DeathsPerYear[p.cause]); died < p.exit {
		p.exit, p.how = died, exitDeath
	}
	if lost := p.entry + wait(r, t.LossPerYear); lost < p.exit {
		p.exit, p.how = lost, exitLost
		switch u := r.Float64(); {
		case u < t.MovedAway:
			p.how = exitMoved
		case u < t.MovedAway+0.3:
			p.how = exitNoted
		}
	}

	// The first BothSided of every stride are both-sided, so that the number
	// of limbs does not hang on the seed.
	both := n*t.BothSided/t.Persons != (n-1)*t.BothSided/t.Persons
	sides := []string{"left", "right"}
	if r.IntN(2) == 0 {
		sides[0], sides[1] = sides[1], sides[0]
	}
	if !both {
		sides = sides[:1]
	}
	first := ingest.Date(0)
	for i, side := range sides {
		l := d.limb(p, side, i == 1)
		if i == 0 {
			first = l.amputated
		} else if !p.worn && l.amputated > p.exit-80 {
			l.amputated = first
		}
		d.record(l, side)
		d.story(l)
	}
}

func (d *drawer) limb(p *person, side string, second bool) *limb {
	t, r := d.t, d.r
	l := &limb{person: p, code: p.code + map[string]string{"left": "L", "right": "R"}[side], level: d.pick(t.Levels)}
	l.vInf = t.VolumeMean[l.level] + t.VolumeSD[l.level]*r.NormFloat64()
	l.drop = t.VolumeMean[l.level] * (t.DropMean + t.DropSD*r.NormFloat64())
	l.ply0 = t.PlyMean + t.PlySD*r.NormFloat64()
	l.hours0 = t.HoursIntercept + t.HoursInterceptSD*r.NormFloat64()
	l.hoursRate = t.HoursPerMonth + t.HoursSlopeSD*r.NormFloat64()
	switch {
	case p.cause == "congenital":
		l.amputated = day(p.born, 7, 1)
	case p.worn:
		since := 550 + r.IntN(20*365)
		l.amputated = max(p.entry-ingest.Date(since), day(p.born+16, 1, 1))
	default:
		l.amputated = p.entry - ingest.Date(20+r.IntN(50))
		if second && r.Float64() < 0.6 {
			l.amputated += ingest.Date(30 + r.IntN(220))
		}
	}
	return l
}

func (d *drawer) record(l *limb, side string) {
	row := ingest.Limb{
		Person: l.person.code, Limb: l.code, Side: coded(side), Level: coded(l.level), Cause: coded(l.cause),
		Amputated: ingest.Some(l.amputated), Born: ingest.Some(l.born), Sex: coded(l.sex),
		Activity: coded(l.activity), Programme: l.programme,
	}
	if l.cause == "congenital" {
		row.Amputated = ingest.Opt[ingest.Date]{}
	}
	if l.how == exitDeath {
		row.Died = ingest.Some(l.exit)
	} else {
		row.LastSeen = ingest.Some(l.exit)
	}
	d.limbs = append(d.limbs, row)
}

// volume is the limb's true volume in ml on a day.
func (l *limb) volume(t Truth, on ingest.Date) float64 {
	return l.vInf + l.drop*math.Exp(-t.ShrinkPerDay*float64(on-l.amputated))
}

// finish sorts the rows as a lab would have written them and numbers the
// visits.
func (d *drawer) finish() *ingest.Log {
	log := &ingest.Log{Limbs: d.limbs, Stations: d.stations, Forming: d.forming}
	d.sockets = byDate(d.sockets, written)
	log.Stations = byDate(log.Stations, func(s *ingest.Station) ingest.Date { return s.Date })
	log.Forming = byDate(log.Forming, func(f *ingest.Forming) ingest.Date { return f.Date })
	d.visits = byDate(d.visits, func(v *visitDraft) ingest.Date { return v.Date })

	log.Sockets = make([]ingest.Socket, 0, len(d.sockets))
	log.Visits = make([]ingest.Visit, 0, len(d.visits))
	own := ingest.OwnColumn{Name: OwnFirst, Kind: ingest.OwnText}
	for _, s := range d.sockets {
		log.Sockets = append(log.Sockets, s.Socket)
		own.Num = append(own.Num, 0)
		own.Text = append(own.Text, s.first)
		own.OK = append(own.OK, s.first != "")
	}
	log.Own = map[string][]ingest.OwnColumn{ingest.TableSockets: {own}}
	for i, v := range d.visits {
		v.Visit.Visit = fmt.Sprintf("V%05d", i+1)
		log.Visits = append(log.Visits, v.Visit)
		for _, f := range v.findings {
			f.Visit = v.Visit.Visit
			log.Findings = append(log.Findings, f)
		}
	}
	place(log)
	return log
}

// OwnFirst is the lab's own column on sockets that says whether a definitive
// socket is the first of its limb.
const OwnFirst = "first_definitive"

// byDate returns the rows in the order of their dates, rows of one day in the
// order they were drawn. Sorting keys and moving each wide row once is what
// keeps a draw fast.
func byDate[T any](rows []T, at func(*T) ingest.Date) []T {
	keys := make([]int64, len(rows))
	for i := range rows {
		keys[i] = int64(at(&rows[i]))<<32 | int64(i)
	}
	slices.Sort(keys)
	out := make([]T, len(rows))
	for i, k := range keys {
		out[i] = rows[k&0xffffffff]
	}
	return out
}

func written(s *socketDraft) ingest.Date {
	for _, at := range []ingest.Opt[ingest.Date]{s.Ordered, s.CastOn, s.Delivered} {
		if at.OK {
			return at.Value
		}
	}
	return 0
}

// place numbers rows as if each table were one sheet, in the order of
// the log's tables, and sets the ledger and the span of the log.
func place(log *ingest.Log) {
	names := []string{ingest.TableLimbs, ingest.TableSockets, ingest.TableStations, ingest.TableVisits, ingest.TableFindings, ingest.TableForming}
	counts := []int{len(log.Limbs), len(log.Sockets), len(log.Stations), len(log.Visits), len(log.Findings), len(log.Forming)}
	for i, name := range names {
		log.Sheets = append(log.Sheets, ingest.Sheet{File: "drawn", Sheet: name, Table: name, Read: counts[i], Used: counts[i]})
	}
	at := func(sheet, i int) ingest.Place { return ingest.Place{Sheet: sheet, Row: i + 2} }
	var first, last ingest.Opt[ingest.Date]
	see := func(on ingest.Date) {
		if !first.OK || on < first.Value {
			first = ingest.Some(on)
		}
		if !last.OK || on > last.Value {
			last = ingest.Some(on)
		}
	}
	maybe := func(on ingest.Opt[ingest.Date]) {
		if on.OK {
			see(on.Value)
		}
	}
	for i := range log.Limbs {
		l := &log.Limbs[i]
		l.Place = at(0, i)
		maybe(l.Amputated)
		maybe(l.LastSeen)
		maybe(l.Died)
	}
	for i := range log.Sockets {
		s := &log.Sockets[i]
		s.Place = at(1, i)
		for _, on := range []ingest.Opt[ingest.Date]{s.Referred, s.Ordered, s.CastOn, s.Delivered, s.RemakeDecided, s.Ended} {
			maybe(on)
		}
	}
	for i := range log.Stations {
		log.Stations[i].Place = at(2, i)
		see(log.Stations[i].Date)
	}
	for i := range log.Visits {
		log.Visits[i].Place = at(3, i)
		see(log.Visits[i].Date)
	}
	for i := range log.Findings {
		log.Findings[i].Place = at(4, i)
	}
	for i := range log.Forming {
		log.Forming[i].Place = at(5, i)
		see(log.Forming[i].Date)
	}
	log.First, log.Last = first, last
}

func coded(code string) ingest.Coded { return ingest.Coded{Code: code, Text: code} }

func (d *drawer) pick(list []Share) string {
	total := 0.0
	for _, s := range list {
		total += s.Value
	}
	u := d.r.Float64() * total
	for _, s := range list {
		if u -= s.Value; u < 0 {
			return s.Code
		}
	}
	return list[len(list)-1].Code
}

func (d *drawer) one(list ...string) string { return list[d.r.IntN(len(list))] }

func (d *drawer) chance(p float64) bool { return d.r.Float64() < p }

// wait draws an exponential time at a hazard per year, in days rounded up.
func wait(r *rand.Rand, perYear float64) ingest.Date {
	days := math.Ceil(r.ExpFloat64() / perYear * daysPerYear)
	if !(days < 1e6) { // a hazard of 0 never comes
		return 1e6
	}
	return ingest.Date(max(days, 1))
}

func clamp(x, low, high float64) float64 { return math.Min(math.Max(x, low), high) }
