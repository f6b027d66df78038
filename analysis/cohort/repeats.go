package cohort

import (
	"errors"
	"fmt"
	"math"
	"sort"

	"plybook/analysis/table"
)

// RepeatSpec says which repeated events are counted.
type RepeatSpec struct {
	// Events are endings of sockets; nil with a nil Seen: the set remake.
	Events []Cause
	// Seen, if not nil, is a condition on visits or findings: each visit
	// that meets it is an event, and Events must be empty.
	Seen *table.Condition
	// Sockets chooses the sockets whose endings or visits count; the zero
	// Condition: all but check sockets, and in rows of sockets all.
	Sockets table.Condition
}

// Event is one of the repeated events of a subject.
type Event struct {
	Time  float64 // days since the subject's start
	Cause int     // index into Repeats.Causes plus 1
}

// Repeats are subjects with repeated events. The slices are parallel, one
// entry per subject, in the order of the rows.
type Repeats struct {
	Row   []int
	Entry []float64 // days since the start from which the subject was watched; 0 from the start
	Exit  []float64 // last day of the watch; above Entry, or equal to it at 0
	Died  []bool    // the watch ended with the person's death, after which no event can come
	// EndReason, of sockets, is why the watch ended, where with the end of
	// the socket; else empty, as of limbs and persons.
	EndReason []string
	Events    [][]Event // in time order, within (Entry, Exit], or from 0 where Entry is 0
	Person    []int
	Start     []float64

	Causes  []Cause // one named seen where a condition is the event
	Persons int
	Outside int // events before the watch began or after a death, not counted
	Flow    []Step

	cohort  *Cohort
	sockets [][]int // of each subject, the sockets of the log that count
}

// Errors of Repeats.
var (
	// ErrNotSubjects reports rows that cannot have repeated events.
	ErrNotSubjects = errors.New("repeated events belong to rows of limbs, persons or sockets")
	// ErrBothEvents reports endings and a condition asked for at once.
	ErrBothEvents = errors.New("repeated events are endings or a condition, not both")
)

// Repeats gathers the repeated events of limbs, persons or sockets. The
// clock of a limb or person starts with the first delivery of a socket that
// counts, that of a socket with its delivery; the watch begins at the latest
// of that, From and LogSince and ends with the person's last evidence (a
// socket's also with its own end). Errors: ErrNotSubjects, ErrBothEvents,
// ErrOverlap, *table.ConditionError.
func (c *Cohort) Repeats(rows *table.Table, spec RepeatSpec) (*Repeats, error) {
	out, err := c.repeats(rows, spec)
	if err != nil {
		return nil, fmt.Errorf("repeated events: %w", err)
	}
	return out, nil
}

func (c *Cohort) repeats(rows *table.Table, spec RepeatSpec) (*Repeats, error) {
	if spec.Seen != nil && spec.Events != nil {
		return nil, ErrBothEvents
	}
	subjectOf, n, err := c.subjects(rows)
	if err != nil {
		return nil, err
	}
	counts, err := c.countingSockets(spec.Sockets, rows.Name == Sockets)
	if err != nil {
		return nil, err
	}
	l, err := c.newLives(LifeSpec{Events: spec.Events})
	if err != nil {
		return nil, err
	}
	var hit []bool
	if spec.Seen != nil {
		l.Causes = []Cause{{Name: "seen"}}
		if hit, _, err = c.hits(*spec.Seen); err != nil {
			return nil, err
		}
	}
	members := make([][]int, n)
	for k, j := range subjectOf {
		if j >= 0 && counts[k] && !math.IsNaN(c.start(k)) {
			members[j] = append(members[j], k)
		}
	}
	out := &Repeats{Causes: l.Causes, cohort: c}
	codes := map[int]int{}
	var never, outside int
	for j, sockets := range members {
		if len(sockets) == 0 {
			never++
			continue
		}
		start := nan
		for _, k := range sockets {
			start = earliest(start, c.start(k))
		}
		person := c.sockets.person[sockets[0]]
		exit, died := c.persons.evidence[person], c.persons.died[person] <= c.to
		if died {
			exit = c.persons.died[person]
		}
		reason := ""
		if rows.Name == Sockets {
			if day := c.sockets.end[sockets[0]]; day <= exit {
				died = died && day == exit
				exit, reason = day, c.sockets.endReason[sockets[0]]
			}
		}
		entry := c.beginWatch(start, nil, 0) - start
		exit -= start
		if exit < 0 || entry > 0 && exit <= entry {
			outside++
			continue
		}
		var events []Event
		for _, k := range sockets {
			events = append(events, c.eventsOf(k, start, l, hit)...)
		}
		sort.Slice(events, func(a, b int) bool {
			if events[a].Time != events[b].Time {
				return events[a].Time < events[b].Time
			}
			return events[a].Cause < events[b].Cause
		})
		kept := events[:0]
		for _, e := range events {
			switch {
			case e.Time < 0 || entry > 0 && e.Time <= entry || e.Time > exit:
				out.Outside++
			default:
				kept = append(kept, e)
			}
		}
		who, ok := codes[person]
		if !ok {
			who = len(codes)
			codes[person] = who
		}
		out.Row, out.Person = append(out.Row, j), append(out.Person, who)
		out.sockets = append(out.sockets, sockets)
		out.Entry, out.Exit = append(out.Entry, entry), append(out.Exit, exit)
		out.EndReason = append(out.EndReason, reason)
		out.Died, out.Events, out.Start = append(out.Died, died), append(out.Events, kept), append(out.Start, start)
	}
	out.Persons = len(codes)
	f := &flow{left: n}
	f.step(rows.Name+" asked of", 0, "")
	f.step("with a socket delivered", never, "no socket that counts was delivered by "+c.day(c.to))
	f.step("under observation", outside, "last heard of before coming under observation"+c.watchReason(LifeSpec{}))
	out.Flow = f.steps
	return out, nil
}

// eventsOf lists the events of one socket on its subject's clock.
func (c *Cohort) eventsOf(k int, start float64, l *Lives, hit []bool) []Event {
	var out []Event
	if hit != nil {
		for _, v := range c.sockets.visits[k] {
			if hit[v] {
				out = append(out, Event{c.visits.date[v] - start, 1})
			}
		}
		return out
	}
	s := &c.sockets
	if cause := l.causeOf(s.endReason[k], s.end[k]-c.start(k)); cause > 0 && !math.IsNaN(s.end[k]) {
		out = append(out, Event{s.end[k] - start, cause})
	}
	return out
}

// subjects says to which of the rows each socket of the log belongs.
func (c *Cohort) subjects(rows *table.Table) (of []int, n int, err error) {
	key := map[string]string{Limbs: "limb", Persons: "person", Sockets: "socket"}[rows.Name]
	col, ok := rows.Col(key)
	if !ok || col.Kind != table.Text {
		return nil, 0, fmt.Errorf("rows of %s: %w", rows.Name, ErrNotSubjects)
	}
	row := make(map[string]int, rows.Rows())
	for j, id := range col.Text {
		if !col.Missing[j] {
			row[id] = j
		}
	}
	of = make([]int, len(c.sockets.id))
	for k := range of {
		id := c.sockets.id[k]
		switch l := c.sockets.limb[k]; {
		case rows.Name == Limbs && l >= 0:
			id = c.limbs.id[l]
		case rows.Name == Persons:
			id = c.persons.id[c.sockets.person[k]]
		case rows.Name == Limbs:
			id = ""
		}
		of[k] = -1
		if j, ok := row[id]; ok && id != "" {
			of[k] = j
		}
	}
	return of, rows.Rows(), nil
}

// countingSockets marks the sockets of the log that a condition chooses.
func (c *Cohort) countingSockets(cond table.Condition, checksToo bool) ([]bool, error) {
	counts := make([]bool, len(c.sockets.id))
	if len(cond.Clauses) == 0 && len(cond.Any) == 0 {
		for k := range counts {
			counts[k] = checksToo || c.sockets.kind[k] != KindCheck
		}
		return counts, nil
	}
	t, err := c.Rows(Sockets)
	if err != nil {
		return nil, err
	}
	met, err := cond.Match(t)
	if err != nil {
		return nil, err
	}
	at, err := c.socketsOf(t)
	if err != nil {
		return nil, err
	}
	for j, k := range at {
		counts[k] = met[j]
	}
	return counts, nil
}
