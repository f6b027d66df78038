package cohort

import (
	"errors"
	"fmt"
	"math"
	"sort"

	"plybook/analysis/table"
)

// Errors of Lives.
var (
	// ErrNotSockets reports rows that are not sockets of this cohort.
	ErrNotSockets = errors.New("lives are made from rows of sockets")
	// ErrOverlap reports an end reason that stands in two causes.
	ErrOverlap = errors.New("an end reason can be of one cause only")
	// ErrNotDate reports a start or end column that holds no dates, or an
	// entry column that holds neither dates nor numbers.
	ErrNotDate = errors.New("column holds no dates")
)

// Count is a kind of ending with how many lives had it.
type Count struct {
	Kind  string
	Count int
}

// KindInUse is the kind of a life that had not ended when last heard of.
const KindInUse = "still in use when last heard of"

// KindLate is the kind of a life that ended in a cause's reason, but after
// the cause's limit of days.
const KindLate = "ended after the limit of days"

// Lives are sockets as observations of time to an event. The slices are
// parallel, one entry per life, in the order of the rows they came from.
// Times are in days since the life's start (since the landmark, after
// Landmark).
type Lives struct {
	Row  []int // row of the table that Lives was given
	Time []float64
	// Entry is when the life came under observation: 0 for those watched
	// from the start, among which a life of 0 days (Time 0) may stand, which
	// was at risk at time 0 and is to be counted there. Where Entry is above
	// 0 it is always below Time.
	Entry []float64
	Cause []int // 0 censored, else an index into Causes plus 1
	// EndReason is the code of the end reason, of censored endings too;
	// empty for a socket still in use when last heard of.
	EndReason []string
	Basis     []Basis // what dated the end
	Person    []int   // from 0, equal for lives of one person
	Start     []float64
	// Unseen marks sockets still in use whose person was last heard of more
	// than Settings.UnseenDays before To.
	Unseen []bool
	// IfPresent is the time had every socket still in use been followed to
	// To, unless the person was known to have moved away, been lost or died.
	IfPresent []float64

	Causes      []Cause // events first, then competing, then the rest
	Events      int     // how many of Causes are events
	Persons     int
	Flow        []Step
	Negative    []int   // rows set aside because they ended before they began
	ZeroDays    int     // lives of 0 days, which are kept
	Censored    []Count // by kind, most frequent first
	Dated       []Count // endings by what dated them, in the order of Basis
	LandmarkDay float64 // 0: none

	cohort *Cohort
	socket []int // index of the socket in the log
	rest   bool  // the last of Causes takes every other ending
}

// Len is the number of lives.
func (l *Lives) Len() int { return len(l.Row) }

// Lives turns rows of sockets (all of them, or those picked by a condition)
// into lives. A socket is at risk from the latest of its start, its entry,
// Settings.From and Settings.LogSince, and is censored on the last day on
// which anything was recorded of the person, never on To. Those left out
// are counted in Flow. Errors: ErrNotSockets, ErrOverlap, ErrNotDate, a
// *table.ConditionError for a column that does not exist.
func (c *Cohort) Lives(rows *table.Table, spec LifeSpec) (*Lives, error) {
	l, err := c.newLives(spec)
	if err != nil {
		return nil, fmt.Errorf("lives of sockets: %w", err)
	}
	at, err := c.socketsOf(rows)
	if err != nil {
		return nil, fmt.Errorf("lives of sockets: %w", err)
	}
	var start, end, entry *table.Column
	for _, want := range []struct {
		name string
		col  **table.Column
	}{{spec.Start, &start}, {spec.End, &end}, {spec.Entry, &entry}} {
		if want.name == "" {
			continue
		}
		col, err := rows.Lookup(want.name)
		if err != nil {
			return nil, fmt.Errorf("lives of sockets: %w", err)
		}
		if col.Kind != table.Date && (want.col != &entry || col.Kind == table.Text) {
			return nil, fmt.Errorf("lives of sockets: column %q holds %ss: %w", want.name, col.Kind, ErrNotDate)
		}
		*want.col = col
	}
	var noStart, undated, outside []int
	codes := map[int]int{}
	for row, i := range at {
		from := c.start(i)
		if start != nil {
			from = notAfter(start, row, c.cutOf(c.sockets.person[i]))
		}
		day, reason, basis := c.sockets.end[i], c.sockets.endReason[i], c.sockets.endBasis[i]
		if end != nil {
			day, reason, basis = c.givenEnd(i, notAfter(end, row, c.cutOf(c.sockets.person[i])))
		}
		last := day
		if basis == BasisOpen {
			last = c.persons.evidence[c.sockets.person[i]]
		}
		begin := c.beginWatch(from, entry, row)
		switch {
		case math.IsNaN(from):
			noStart = append(noStart, row)
			continue
		case basis == BasisUndated:
			undated = append(undated, row)
			continue
		case last < from:
			l.Negative = append(l.Negative, row)
			continue
		case begin > from && last <= begin:
			outside = append(outside, row)
			continue
		}
		who, ok := codes[c.sockets.person[i]]
		if !ok {
			who = len(codes)
			codes[c.sockets.person[i]] = who
		}
		l.add(life{
			row: row, socket: i, person: who, start: from, entry: max(0, begin-from), time: last - from,
			reason: reason, basis: basis, cause: l.causeOf(reason, day-c.start(i)),
		})
	}
	l.Persons = len(codes)
	f := &flow{left: len(at)}
	f.step("sockets asked of", 0, "")
	f.stepOut("with a known start", noStart, c.noStartReason(spec))
	f.stepOut("with a dated end", undated, "ended for a stated reason on a day not recorded")
	f.stepOut("that end after they begin", l.Negative, "ended before they began")
	f.stepOut("under observation", outside, "ended, or last heard of, before coming under observation"+c.watchReason(spec))
	l.Flow = f.steps
	l.count()
	return l, nil
}

func (c *Cohort) noStartReason(spec LifeSpec) string {
	if spec.Start != "" {
		return "no " + spec.Start + " by " + c.day(c.to)
	}
	return "not delivered, or no check fitting, by " + c.day(c.to)
}

func (c *Cohort) watchReason(spec LifeSpec) string {
	s := ""
	if spec.Entry != "" {
		s += ", " + spec.Entry
	}
	if c.set.From != nil {
		s += ", from " + c.day(*c.set.From)
	}
	if c.set.LogSince != nil {
		s += ", log kept since " + c.day(*c.set.LogSince)
	}
	if s == "" {
		return ""
	}
	return " (" + s[2:] + ")"
}

// notAfter is the date in a column, missing where later than the day on
// which the log is read.
func notAfter(col *table.Column, row int, to float64) float64 {
	if col.Missing[row] || col.Num[row] > to {
		return nan
	}
	return col.Num[row]
}

// givenEnd reads an end from a column of the question. A death known by then
// still ends what the column leaves open.
func (c *Cohort) givenEnd(i int, day float64) (float64, string, Basis) {
	if !math.IsNaN(day) {
		reason := c.sockets.reason[i] // as written: a death is later than this day
		if reason == "" {
			reason = ReasonUnknown
		}
		return day, reason, BasisGiven
	}
	if died := c.persons.died[c.sockets.person[i]]; !math.IsNaN(died) {
		return died, ReasonDied, BasisDied
	}
	return nan, "", BasisOpen
}

// beginWatch is the latest of the start, the entry, From and LogSince.
func (c *Cohort) beginWatch(start float64, entry *table.Column, row int) float64 {
	day := start
	if entry != nil && !entry.Missing[row] {
		at := entry.Num[row]
		if entry.Kind == table.Number {
			at += start
		}
		day = max(day, at)
	}
	for _, limit := range []*float64{c.set.From, c.set.LogSince} {
		if limit != nil {
			day = max(day, *limit)
		}
	}
	return day
}

// socketsOf finds the sockets of the log behind rows of sockets.
func (c *Cohort) socketsOf(rows *table.Table) ([]int, error) {
	col, ok := rows.Col("socket")
	if rows.Name != Sockets || !ok || col.Kind != table.Text {
		return nil, fmt.Errorf("rows of %s: %w", rows.Name, ErrNotSockets)
	}
	at := make([]int, rows.Rows())
	for j, id := range col.Text {
		i, ok := c.sockets.index[id]
		if !ok {
			return nil, fmt.Errorf("row %d has no socket of this log: %w", j, ErrNotSockets)
		}
		at[j] = i
	}
	return at, nil
}

func (c *Cohort) newLives(spec LifeSpec) (*Lives, error) {
	events := spec.Events
	if events == nil {
		remake, _ := c.Named("remake")
		events = []Cause{remake}
	}
	l := &Lives{cohort: c, Events: len(events)}
	l.Causes = append(append(l.Causes, events...), spec.Competing...)
	taken := map[string]string{}
	for _, cause := range l.Causes {
		for _, code := range cause.Codes {
			if other, ok := taken[code]; ok {
				return nil, fmt.Errorf("%q stands in %q and in %q: %w", code, other, cause.Name, ErrOverlap)
			}
			// A limit of days leaves the later endings to other causes.
			if cause.Within == 0 {
				taken[code] = cause.Name
			}
		}
	}
	if spec.Rest != "" {
		l.Causes = append(l.Causes, Cause{Name: spec.Rest})
		l.rest = true
	}
	return l, nil
}

// causeOf finds the cause of an ending so many days after the start: the
// first that takes it, else the rest if there is one, else 0.
func (l *Lives) causeOf(reason string, days float64) int {
	if reason == "" {
		return 0
	}
	for k, cause := range l.Causes {
		if l.rest && k == len(l.Causes)-1 {
			if !l.cohort.untraced[reason] {
				return k + 1
			}
			return 0
		}
		if cause.Within > 0 && !(days <= cause.Within) {
			continue
		}
		for _, code := range cause.Codes {
			if code == reason {
				return k + 1
			}
		}
	}
	return 0
}

type life struct {
	row, socket, person, cause int
	start, entry, time         float64
	reason                     string
	basis                      Basis
}

func (l *Lives) add(x life) {
	c := l.cohort
	l.Row, l.socket = append(l.Row, x.row), append(l.socket, x.socket)
	l.Person, l.Cause = append(l.Person, x.person), append(l.Cause, x.cause)
	l.Start, l.Entry, l.Time = append(l.Start, x.start), append(l.Entry, x.entry), append(l.Time, x.time)
	l.EndReason, l.Basis = append(l.EndReason, x.reason), append(l.Basis, x.basis)
	last := x.start + x.time
	present := x.time
	who := c.sockets.person[x.socket]
	if x.basis == BasisOpen && !(c.persons.lost[who] >= last) && !(c.persons.died[who] <= c.to) {
		present = c.cutOf(who) - x.start
	}
	l.IfPresent = append(l.IfPresent, present)
	l.Unseen = append(l.Unseen, x.basis == BasisOpen && last < c.cutOf(who)-c.set.UnseenDays)
}

// count fills the counts that follow from the lives.
func (l *Lives) count() {
	censored, dated := map[string]int{}, map[Basis]int{}
	l.ZeroDays = 0
	for i := range l.Row {
		if l.Time[i] == 0 {
			l.ZeroDays++
		}
		dated[l.Basis[i]]++
		if l.Cause[i] > 0 {
			continue
		}
		switch reason := l.EndReason[i]; {
		case reason == "":
			censored[KindInUse]++
		case l.inSomeCause(reason):
			censored[KindLate]++
		default:
			censored[reason]++
		}
	}
	l.Censored, l.Dated = nil, nil
	for _, kind := range sortedKeys(censored) {
		l.Censored = append(l.Censored, Count{kind, censored[kind]})
	}
	sort.SliceStable(l.Censored, func(a, b int) bool { return l.Censored[a].Count > l.Censored[b].Count })
	for b := BasisDecided; b <= BasisUndated; b++ {
		if dated[b] > 0 {
			l.Dated = append(l.Dated, Count{b.String(), dated[b]})
		}
	}
}

func (l *Lives) inSomeCause(reason string) bool {
	for _, cause := range l.Causes {
		for _, code := range cause.Codes {
			if code == reason {
				return true
			}
		}
	}
	return false
}
