package cohort

import (
	"errors"
	"fmt"
	"math"

	"plybook/analysis/table"
)

// hits says of every visit of the log whether it meets a condition on
// visits or on findings, and whether it could tell: the columns tested are
// known, or, for findings, the skin was looked at. Rows dated before From
// are judged too: they are the past of what is at risk from then.
func (c *Cohort) hits(cond table.Condition) (hit, tells []bool, err error) {
	n := len(c.visits.id)
	hit, tells = make([]bool, n), make([]bool, n)
	rows := c.dated(Visits, c.visits.date, true)
	t, err := c.visitTableOf(rows)
	if err != nil {
		return nil, nil, err
	}
	onVisits := true
	for _, name := range cond.Columns() {
		onVisits = onVisits && (t.Has(name) || t.Has(table.OwnPrefix+name))
	}
	if onVisits {
		met, err := cond.Match(t)
		if err != nil {
			return nil, nil, err
		}
		known, err := knownRows(cond, t)
		if err != nil {
			return nil, nil, err
		}
		for j, i := range rows {
			hit[i], tells[i] = met[j], met[j] || known[j]
		}
		return hit, tells, nil
	}
	found := c.dated(Findings, c.findingDates(), true)
	if t, err = c.findingTableOf(found); err != nil {
		return nil, nil, err
	}
	met, err := cond.Match(t)
	if err != nil {
		return nil, nil, err
	}
	for _, i := range rows {
		tells[i] = c.visits.looked[i]
	}
	for j, i := range found {
		if met[j] {
			hit[c.findings.visit[i]] = true
		}
	}
	return hit, tells, nil
}

// knownRows marks the rows in which every column that the condition
// compares has a value.
func knownRows(cond table.Condition, t *table.Table) ([]bool, error) {
	known := make([]bool, t.Rows())
	for i := range known {
		known[i] = true
	}
	var mark func(cond table.Condition) error
	mark = func(cond table.Condition) error {
		for _, cl := range cond.Clauses {
			if cl.Test == table.IsMissing || cl.Test == table.IsKnown {
				continue // a missing value answers these
			}
			col, err := t.Lookup(cl.Column)
			if err != nil {
				return err
			}
			for i, missing := range col.Missing {
				known[i] = known[i] && !missing
			}
		}
		for _, alt := range cond.Any {
			if err := mark(alt); err != nil {
				return err
			}
		}
		return nil
	}
	return known, mark(cond)
}

// SeenLives are lives whose event is a condition met at a visit. The event
// came about after Left and by Right, both in days since the life's start:
// the last visit that could tell and was without it (0 if none), and the
// first with it (+Inf if it was never seen). A life that met it on the very
// day of its start has Left = Right = 0.
//
// Time is Right where the event was seen, else Left: what is unknown after
// the last visit that could tell is not time without the event. Cause 1 is
// the event; causes after it are the competing endings of the spec.
type SeenLives struct {
	Lives
	Left, Right []float64
	// Looks are the days since the start of each visit that could tell while
	// the life was under observation, in order; the last is Right where the
	// event was seen.
	Looks [][]float64
}

// SeenLives turns rows of sockets into lives that end when a condition on
// visits or findings is first seen. Of spec, Events and End do not apply and
// must be empty. Sockets that met the condition before they came under
// observation are left out and counted. Errors: as Lives, and ErrSeenSpec.
func (c *Cohort) SeenLives(rows *table.Table, cond table.Condition, spec LifeSpec) (*SeenLives, error) {
	if spec.Events != nil || spec.End != "" {
		return nil, fmt.Errorf("lives until a condition is seen: %w", ErrSeenSpec)
	}
	spec.Events = []Cause{{Name: "seen"}}
	lives, err := c.Lives(rows, spec)
	if err != nil {
		return nil, err
	}
	hit, tells, err := c.hits(cond)
	if err != nil {
		return nil, fmt.Errorf("lives until a condition is seen: %w", err)
	}
	out := &SeenLives{Lives: Lives{Causes: lives.Causes, Events: 1, Negative: lives.Negative, cohort: c, rest: lives.rest}}
	var before, unwatched []int
	codes := map[int]int{}
	for i, k := range lives.socket {
		start, end := lives.Start[i], lives.Start[i]+lives.Time[i]
		left, right := 0.0, math.Inf(1)
		var looks []float64
		for _, v := range c.sockets.visits[k] {
			day := c.visits.date[v]
			if day < start || day > end {
				continue
			}
			if tells[v] && day-start >= lives.Entry[i] {
				looks = append(looks, day-start)
			}
			if hit[v] {
				right = day - start
				break
			}
			if tells[v] {
				left = day - start
			}
		}
		entry := lives.Entry[i]
		x := life{row: lives.Row[i], socket: k, start: start, entry: entry, cause: lives.Cause[i],
			reason: lives.EndReason[i], basis: lives.Basis[i]}
		left = max(left, entry)
		switch {
		case !math.IsInf(right, 1):
			// A visit earlier on the day of the event was still without it.
			left, x.time, x.cause = min(left, right), right, 1
			x.reason, x.basis = "", BasisSeen
		case x.cause > 0:
			x.time = lives.Time[i] // ended otherwise
		default:
			x.time = left
		}
		if entry > 0 && x.time <= entry {
			if x.cause == 1 {
				before = append(before, lives.Row[i])
			} else {
				unwatched = append(unwatched, lives.Row[i])
			}
			continue
		}
		who, ok := codes[lives.Person[i]]
		if !ok {
			who = len(codes)
			codes[lives.Person[i]] = who
		}
		x.person = who
		out.add(x)
		out.Left, out.Right, out.Looks = append(out.Left, left), append(out.Right, right), append(out.Looks, looks)
		// How long it would have been followed says nothing where nobody
		// looked.
		out.IfPresent[out.Len()-1] = x.time
		out.Unseen[out.Len()-1] = lives.Unseen[i] && x.cause == 0
	}
	out.Persons = len(codes)
	f := &flow{left: lives.Len(), steps: lives.Flow}
	f.stepOut("without it on coming under observation", before, "had met the condition before coming under observation")
	f.stepOut("looked at while under observation", unwatched, "no visit that could tell after coming under observation")
	out.Flow = f.steps
	out.count()
	return out, nil
}

// Watched are the lives of which the looks tell something. A life that came
// under observation late enters at the first look at which it was without
// the event: nothing says whether it had it before, so that one with the
// event at its first look is left out, and so is one never looked at
// afterwards. The rest is as it was; those left out are counted in Flow.
func (l *SeenLives) Watched() *SeenLives {
	out := &SeenLives{Lives: Lives{Causes: l.Causes, Events: l.Events, Negative: l.Negative, cohort: l.cohort, rest: l.rest}}
	var never, already []int
	codes := map[int]int{}
	for i := range l.Row {
		entry, looks := l.Entry[i], l.Looks[i]
		if entry > 0 && len(looks) > 0 {
			entry = looks[0]
		}
		seen := !math.IsInf(l.Right[i], 1)
		switch {
		case seen && l.Entry[i] > 0 && entry == l.Right[i]:
			already = append(already, l.Row[i])
			continue
		case !seen && (len(looks) == 0 || l.Left[i] <= entry):
			never = append(never, l.Row[i])
			continue
		}
		who, ok := codes[l.Person[i]]
		if !ok {
			who = len(codes)
			codes[l.Person[i]] = who
		}
		out.add(life{row: l.Row[i], socket: l.socket[i], person: who, start: l.Start[i], entry: entry, time: l.Time[i],
			cause: l.Cause[i], reason: l.EndReason[i], basis: l.Basis[i]})
		last := out.Len() - 1
		out.Unseen[last], out.IfPresent[last] = l.Unseen[i], l.IfPresent[i]
		out.Left, out.Right, out.Looks = append(out.Left, l.Left[i]), append(out.Right, l.Right[i]), append(out.Looks, looks)
	}
	out.Persons = len(codes)
	f := &flow{left: l.Len(), steps: append([]Step(nil), l.Flow...)}
	f.stepOut("without it when first looked at", already, "had met the condition at the first visit after coming under observation, and perhaps before")
	f.stepOut("looked at later", never, "no later visit that could tell")
	out.Flow = f.steps
	out.count()
	return out
}

// ErrSeenSpec reports settings that do not go with a condition as the event.
var ErrSeenSpec = errors.New("a condition as the event takes no other events and no other end")
