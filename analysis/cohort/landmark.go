package cohort

import (
	"errors"
	"fmt"
	"math"

	"plybook/analysis/table"
)

// LaterError reports a column whose values are known only after the start
// of a socket's life and which can therefore not explain it.
type LaterError struct {
	Column string
	Never  bool // not even known at a landmark: it follows from the ending
}

func (e *LaterError) Error() string {
	if e.Never {
		return fmt.Sprintf("column %q follows from the end of the socket and cannot explain it", e.Column)
	}
	return fmt.Sprintf("column %q is known only after delivery and cannot explain what follows from then; use a landmark, or let it vary", e.Column)
}

// The columns known later that tell of the ending itself.
var ofTheEnding = map[string]bool{
	"remake_decided": true, "ended": true, "end_reason": true, "end_reasons": true, "last_seen": true, "died": true, "follow_up_days": true, EarlyRemake: true,
}

// CheckKnown refuses columns of rows of sockets that are known only after
// the life began. With a landmark, columns of the socket or its visits that
// have a value by then are allowed (take them from Lives.Column). Errors: a
// *LaterError, a *table.ConditionError for a column that does not exist.
func (c *Cohort) CheckKnown(cols []string, rows *table.Table, landmark bool) error {
	for _, name := range cols {
		col, err := rows.Lookup(name)
		if err != nil {
			// A column of the visits is a socket's only as time goes by.
			if rows.Name != Sockets || rows.Has(name) || rows.Has(table.OwnPrefix+name) {
				return err
			}
			if _, errVisit := c.visitColumn(name); errVisit != nil {
				return err
			}
			if !landmark {
				return &LaterError{Column: name}
			}
			continue
		}
		if col.Known != table.Later {
			continue
		}
		if ofTheEnding[name] && !col.Own {
			return &LaterError{Column: name, Never: true}
		}
		if !landmark {
			return &LaterError{Column: name}
		}
	}
	return nil
}

// ErrLandmark reports a landmark that is not a number of days above 0, or a
// second one.
var ErrLandmark = errors.New("a landmark is a number of days above 0, set once")

// Landmark keeps the lives at risk so many days after their start and
// restarts the clock there: those that had ended or were last heard of by
// then, and those not yet under observation, are left out and counted.
func (l *Lives) Landmark(days float64) (*Lives, error) {
	if !(days > 0) || math.IsInf(days, 0) || l.LandmarkDay != 0 {
		return nil, fmt.Errorf("landmark of %g days: %w", days, ErrLandmark)
	}
	out := &Lives{Causes: l.Causes, Events: l.Events, Negative: l.Negative, LandmarkDay: days, cohort: l.cohort, rest: l.rest}
	var over, late []int
	codes := map[int]int{}
	for i := range l.Row {
		switch {
		case l.Time[i] <= days:
			over = append(over, l.Row[i])
			continue
		case l.Entry[i] > days:
			late = append(late, l.Row[i])
			continue
		}
		who, ok := codes[l.Person[i]]
		if !ok {
			who = len(codes)
			codes[l.Person[i]] = who
		}
		out.Row, out.socket = append(out.Row, l.Row[i]), append(out.socket, l.socket[i])
		out.Person, out.Cause = append(out.Person, who), append(out.Cause, l.Cause[i])
		out.Start = append(out.Start, l.Start[i]+days)
		out.Entry, out.Time = append(out.Entry, 0), append(out.Time, l.Time[i]-days)
		out.EndReason, out.Basis = append(out.EndReason, l.EndReason[i]), append(out.Basis, l.Basis[i])
		out.Unseen = append(out.Unseen, l.Unseen[i])
		out.IfPresent = append(out.IfPresent, l.IfPresent[i]-days)
	}
	out.Persons = len(codes)
	f := &flow{left: l.Len(), steps: append([]Step(nil), l.Flow...)}
	f.stepOut(fmt.Sprintf("still followed after %g days", days), over, fmt.Sprintf("ended, or last heard of, within %g days of the start", days))
	f.stepOut(fmt.Sprintf("under observation at %g days", days), late, fmt.Sprintf("came under observation later than %g days from the start", days))
	out.Flow = f.steps
	out.count()
	return out, nil
}

// Column returns the values of a column of sockets, one for each life: as it
// stands in rows (the table that Lives was given), or, after Landmark, for a
// column known only later, the last value up to the landmark. Columns of
// visits (ply, comfort, mass_kg, own ones...) are the last value recorded
// for the socket from its start to the landmark. Errors: *LaterError,
// *table.ConditionError.
func (l *Lives) Column(rows *table.Table, name string) (*table.Column, error) {
	if err := l.cohort.CheckKnown([]string{name}, rows, l.LandmarkDay > 0); err != nil {
		return nil, err
	}
	col, errRows := rows.Lookup(name)
	if errRows == nil && col.Known != table.Later {
		return col.Pick(l.Row), nil
	}
	if errRows == nil && col.Own {
		return nil, &LaterError{Column: name}
	}
	if errRows == nil {
		out := derived(name, Sockets, l.Len())
		for j, i := range l.socket {
			switch name {
			case "ply_change":
				out.SetNum(j, l.cohort.plyChangeBy(i, l.Start[j]))
			case "volume_change_pct":
				out.SetNum(j, l.cohort.volumeChangeBy(i, l.Start[j]))
			default:
				return nil, &LaterError{Column: name, Never: true}
			}
		}
		return out, nil
	}
	visit, err := l.cohort.visitColumn(name)
	if err != nil {
		return nil, err
	}
	rowsAt := make([]int, l.Len())
	for j, i := range l.socket {
		rowsAt[j] = -1
		for _, v := range l.cohort.sockets.visits[i] {
			date := l.cohort.visits.date[v]
			if date >= l.cohort.start(i) && date <= l.Start[j] && !visit.Missing[v] {
				rowsAt[j] = int(v)
			}
		}
	}
	return visit.Pick(rowsAt), nil
}

// visitColumn finds a column of the visits themselves, one entry per visit
// of the log.
func (c *Cohort) visitColumn(name string) (*table.Column, error) {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.visitTable == nil {
		t, err := c.assemble(Visits, c.visitLayer(identity(len(c.visits.id))))
		if err != nil {
			return nil, err
		}
		c.visitTable = t
	}
	return c.visitTable.Lookup(name)
}

// setEndedWithin sets row j of a column for socket i: whether it ended for
// one of the reasons within so many days of its start. It stays missing
// where the socket was not followed for so long, is not delivered, or ended
// by then for a reason or on a day not recorded.
func (c *Cohort) setEndedWithin(col *table.Column, j, i int, of map[string]bool, days float64) {
	s := &c.sockets
	switch life := c.lastDayOf(i) - c.start(i); {
	case s.endBasis[i] == BasisUndated || !(life >= 0) || life <= days && s.endReason[i] == ReasonUnknown && !of[ReasonUnknown]:
	case of[s.endReason[i]] && life <= days:
		col.SetBool(j, true)
	case life >= days || s.endBasis[i] != BasisOpen && !c.untraced[s.endReason[i]] && s.endReason[i] != ReasonDied:
		// Ended otherwise before then: it can no longer end so.
		col.SetBool(j, false)
	}
}
