// Package cohort turns the tables of a log into the rows that questions are
// asked of: sockets, visits, limbs, stations, findings, persons and forming,
// each joined with what is known of its limb, socket and person and with the
// columns worked out from them (see Derived). It also turns sockets into
// lives: when each began, when and why it ended, and from when to when it
// was watched.
//
// What is dated after Settings.To is not yet known: such rows are dropped
// and counted, such dates are missing. Rows dated before Settings.From are
// dropped from the tables asked of, but still serve as baselines (the first
// measurement after a cast, the ply at delivery); sockets stay, being at
// risk from From.
//
// # Own columns
//
// A column of the lab's own comes in, and stands in every table, as own.NAME
// with Own set. It is reached by its bare NAME as well, unless a column of
// the log or a derived column has that name on any table. Where tables that
// are joined have own columns of one name, the table asked of wins and the
// other is own.TABLE.NAME.
package cohort

import (
	"errors"
	"fmt"
	"sort"
	"sync"

	"plybook/analysis/limb"
	"plybook/analysis/table"
)

// Tables are the six tables of a log. The columns bear the log's field
// names; dates are days since 1970-01-01, yes/no is text. A nil table is an
// empty one and an absent column is all missing.
type Tables struct {
	Limbs, Sockets, Stations, Visits, Findings, Forming *table.Table
}

// Settings are the facts that the cohort needs and does not know by itself.
type Settings struct {
	From     *float64 // days since 1970-01-01; nil: open
	To       *float64 // nil: the latest date of any row of the log
	LogSince *float64 // from when every socket in use was recorded; nil: not said
	// Shift moves all dates of a person by so many days, by the person's
	// identifier; nil moves nothing. It does not go with From, To and
	// LogSince, which are days of the calendar.
	Shift map[string]float64

	YearBegins      int             // the month with which a year begins, 1 to 12; 0: January
	EarlyRemakeDays float64         // a remake up to this many days from delivery is early; 0: 90
	CheckWindowDays float64         // a check socket leads to a definitive delivered within; 0: 180
	CastWindowDays  float64         // a measurement this near the cast is the cast's; 0: 14
	UnseenDays      float64         // open sockets not seen for longer than this are counted; 0: 365.25
	Remake          []string        // codes of end reasons: made anew
	Making          []string        // of these, errors in the making
	LimbChange      []string        // of these, changes of the limb
	Untraced        []string        // nothing is known of the person or socket any more
	Socks           limb.Thickness  // how thick socks are; zero: limb.OneMaterial
	BonyRegions     map[string]bool // region code -> true bony, false soft; others are unknown
}

// The defaults of Settings.
const (
	DefaultEarlyRemakeDays = 90
	DefaultCheckWindowDays = 180
	DefaultCastWindowDays  = 14
	DefaultUnseenDays      = table.DaysPerYear
)

// The words of the log that the rules turn on.
const (
	KindCheck       = "check"
	KindPreparatory = "preparatory"
	KindDefinitive  = "definitive"

	PurposeCheckFitting = "check fitting"
	PurposeDelivery     = "delivery"

	AcceptedYes      = "yes"
	AcceptedAdjusted = "adjusted"

	ReasonDied    = "died"
	ReasonUnknown = "unknown" // ended, and why is not known
)

// The names of the tables of rows.
const (
	Limbs    = "limbs"
	Sockets  = "sockets"
	Stations = "stations"
	Visits   = "visits"
	Findings = "findings"
	Forming  = "forming"
	Persons  = "persons"
)

// Errors of Build and Rows.
var (
	// ErrKind reports a log column of the wrong type.
	ErrKind = errors.New("column has the wrong type")
	// ErrDuplicate reports two limbs, sockets or visits of one identifier.
	ErrDuplicate = errors.New("identifier stands twice")
	// ErrPeriod reports a From later than To.
	ErrPeriod = errors.New("the period ends before it begins")
	// ErrNoSuchRows reports a name that is not one of the tables of rows.
	ErrNoSuchRows = errors.New("no such table of rows")
)

// Step is a step in the making of a set of rows: what was done, how many
// rows were left after it, how many it took away and why.
type Step struct {
	Step     string
	Rows     int
	Excluded int
	Reason   string // empty where nothing was taken away
	// Out are the rows taken away, of the table that the steps began with; nil
	// where they were never rows of it.
	Out []int
}

// Cohort is a log as known on one day. It never changes once built; tables
// of rows are made when first asked for and shared afterwards, so they must
// not be changed by the caller. Several goroutines may use it at once.
type Cohort struct {
	in  Tables
	set Settings
	// to is the day on which the log is read; -Inf for an empty log, +Inf
	// where dates are shifted: then cutOf gives it, and nothing is later.
	to   float64
	last float64 // the same day on the calendar

	remake   map[string]bool
	untraced map[string]bool

	limbs    limbData
	sockets  socketData
	visits   visitData
	stations stationData
	findings findingData
	forming  formingData
	persons  personData
	sets     []measureSet // by row order of their first station
	measures measureIndex

	base map[string]*table.Table // input with later dates masked

	derivedSockets, derivedVisits []*table.Column // one row per row of the log

	mu         sync.Mutex // guards what is made when first asked for
	flow       map[string][]Step
	tables     map[string]*table.Table
	visitTable *table.Table // visits and their columns, unjoined, every row of the log
}

// Build reads the tables and works out what links their rows. Errors:
// ErrKind, ErrDuplicate, ErrPeriod, ErrShift.
func Build(in Tables, set Settings) (*Cohort, error) {
	for _, d := range []struct {
		field *float64
		value float64
	}{
		{&set.EarlyRemakeDays, DefaultEarlyRemakeDays}, {&set.CheckWindowDays, DefaultCheckWindowDays},
		{&set.CastWindowDays, DefaultCastWindowDays}, {&set.UnseenDays, DefaultUnseenDays},
	} {
		if *d.field == 0 {
			*d.field = d.value
		}
	}
	if !set.Socks.Known() {
		set.Socks = limb.OneMaterial()
	}
	c := &Cohort{
		in: in, set: set, remake: setOf(set.Remake), untraced: setOf(set.Untraced),
		flow: map[string][]Step{}, base: map[string]*table.Table{}, tables: map[string]*table.Table{},
	}
	for _, t := range []struct {
		p    **table.Table
		name string
	}{
		{&c.in.Limbs, Limbs}, {&c.in.Sockets, Sockets}, {&c.in.Stations, Stations},
		{&c.in.Visits, Visits}, {&c.in.Findings, Findings}, {&c.in.Forming, Forming},
	} {
		if *t.p == nil {
			*t.p = table.New(t.name, 0)
		}
	}
	c.last = c.lastDay()
	c.to = c.last
	if set.From != nil && set.To != nil && *set.From > *set.To {
		return nil, fmt.Errorf("cohort from %s to %s: %w", table.FormatDate(*set.From), table.FormatDate(*set.To), ErrPeriod)
	}
	if err := c.shift(); err != nil {
		return nil, err
	}
	for _, read := range []func() error{c.readLimbs, c.readSockets, c.readVisits, c.readFindings, c.readStations, c.readForming} {
		if err := read(); err != nil {
			return nil, fmt.Errorf("cohort: %w", err)
		}
	}
	c.gatherEvidence()
	c.linkChecks()
	c.endSockets()
	c.countSequence()
	c.measure()
	c.derivedSockets = c.socketColumns()
	c.derivedVisits = c.visitColumns()
	return c, nil
}

// To is the day on which the log is read: Settings.To, else the latest date
// of any row. ok is false for a log without dates. Where dates are shifted it
// is still a day of the calendar, on nobody's clock: not to be shown.
func (c *Cohort) To() (day float64, ok bool) { return c.last, c.last > minusInf }

// Flow lists how the rows of the named table came about: rows read, and the
// rows dropped with the reason. It is empty for a name that is no table.
func (c *Cohort) Flow(name string) []Step {
	if _, err := c.Rows(name); err != nil {
		return nil
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	return append([]Step(nil), c.flow[name]...)
}

// Names lists the names of the tables of rows.
func Names() []string {
	return []string{Persons, Limbs, Sockets, Visits, Findings, Stations, Forming}
}

// Rows returns the named table of rows, joined and with its derived columns,
// in the order of the log. Errors: ErrNoSuchRows.
func (c *Cohort) Rows(name string) (*table.Table, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if t, ok := c.tables[name]; ok {
		return t, nil
	}
	var t *table.Table
	var err error
	switch name {
	case Limbs:
		t, err = c.limbRows()
	case Sockets:
		t, err = c.socketRows()
	case Visits:
		t, err = c.visitRows()
	case Findings:
		t, err = c.findingRows()
	case Stations:
		t, err = c.stationRows()
	case Forming:
		t, err = c.formingRows()
	case Persons:
		t, err = c.personRows()
	default:
		return nil, fmt.Errorf("rows %q (nearest: %q): %w", name, table.Nearest(name, Names()), ErrNoSuchRows)
	}
	if err != nil {
		return nil, fmt.Errorf("rows of %s: %w", name, err)
	}
	c.tables[name] = t
	return t, nil
}

func setOf(words []string) map[string]bool {
	m := make(map[string]bool, len(words))
	for _, w := range words {
		m[w] = true
	}
	return m
}

func sortedKeys[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	return keys
}
