package cohort

import (
	"fmt"
	"math"

	"plybook/analysis/table"
)

// Steps are the dates of a socket on its way, in their usual order.
const (
	StepReferred     = "referred"
	StepOrdered      = "ordered"
	StepCast         = "cast_on"
	StepCheckFitting = "check_fitting"
	StepDelivered    = "delivered"
)

// WaySteps lists the steps of a socket's way in order.
func WaySteps() []string {
	return []string{StepReferred, StepOrdered, StepCast, StepCheckFitting, StepDelivered}
}

// Way is how far one socket has come on its way to delivery. Days are NaN
// where not recorded by To.
type Way struct {
	Row    int // into the table of sockets
	Person int
	Check  bool // a check socket that has led to no socket yet
	// CheckFitting is the first check fitting, of the socket or of a check
	// socket that led to it.
	CheckFitting float64
	// Referred, Ordered and Cast are the earliest of the socket and of the
	// check sockets that led to it: a new cast on the way is no new beginning.
	Referred, Ordered, Cast float64
	// Open is the last day on which a wait of this socket that is not over is
	// known to have been open: the data cut on the person's clock or, where
	// that came first, the end of the socket or the person's death. For a check
	// socket it is at most Settings.CheckWindowDays after its day, since a
	// later socket would no longer count as the one it led to.
	Open float64
}

// Ways gives the ways of the chosen rows of a table of sockets: one for each
// socket that is no check socket, and one for each check socket that nothing
// has come of yet. Other check sockets are steps of another's way; their
// number is returned.
func (c *Cohort) Ways(sockets *table.Table, rows []int) (ways []Way, steps int, err error) {
	ids, err := sockets.Lookup("socket")
	if err != nil {
		return nil, 0, fmt.Errorf("ways of sockets: %w", err)
	}
	s := &c.sockets
	followed := map[string]bool{}
	for j, id := range s.replaces {
		if id != "" && !s.hidden[j] && s.id[j] != id {
			followed[id] = true
		}
	}
	for _, row := range rows {
		i, ok := s.index[ids.Text[row]]
		if !ok || ids.Missing[row] {
			continue
		}
		w := Way{Row: row, Person: s.person[i], Check: s.kind[i] == KindCheck, CheckFitting: s.firstFitting[i],
			Referred: s.referred[i], Ordered: s.ordered[i], Cast: s.cast[i], Open: c.cutOf(s.person[i])}
		if w.Check {
			if s.leadsTo[i] >= 0 || followed[s.id[i]] {
				steps++
				continue
			}
			w.Open = earliest(w.Open, c.socketDay(i)+c.set.CheckWindowDays)
		}
		for _, k := range s.checks[i] {
			w.CheckFitting = earliest(w.CheckFitting, s.firstFitting[k])
			w.Referred, w.Ordered, w.Cast = earliest(w.Referred, s.referred[k]), earliest(w.Ordered, s.ordered[k]), earliest(w.Cast, s.cast[k])
		}
		if day := s.delivered[i]; w.CheckFitting > day {
			w.CheckFitting = nan // fitted after delivery: no step on the way to it
		}
		w.Open = earliest(w.Open, earliest(s.end[i], c.persons.died[w.Person]))
		if math.IsInf(w.Open, 0) {
			w.Open = c.last
		}
		ways = append(ways, w)
	}
	return ways, steps, nil
}

// Placed gives the day that places each of the chosen rows of a table of
// sockets in time: its delivery, for a check socket its first check fitting or
// else its cast. NaN where not known.
func (c *Cohort) Placed(sockets *table.Table, rows []int) ([]float64, error) {
	ids, err := sockets.Lookup("socket")
	if err != nil {
		return nil, fmt.Errorf("days of sockets: %w", err)
	}
	out := make([]float64, len(rows))
	for k, row := range rows {
		out[k] = nan
		i, ok := c.sockets.index[ids.Text[row]]
		switch {
		case !ok || ids.Missing[row]:
		case c.sockets.kind[i] != KindCheck:
			out[k] = c.sockets.delivered[i]
		case !math.IsNaN(c.sockets.firstFitting[i]):
			out[k] = c.sockets.firstFitting[i]
		default:
			out[k] = c.sockets.cast[i]
		}
	}
	return out, nil
}
