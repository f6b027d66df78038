package cohort

import "math"

// Basis says what dated the end of a socket.
type Basis int

// The bases of the date of an end, and the two ways to have none.
const (
	BasisOpen     Basis = iota // no end known by To
	BasisDecided               // the day on which the remake was decided
	BasisEnded                 // the day that the log gives
	BasisReplaced              // the delivery of the socket that replaced it
	BasisDied                  // the day the person died
	BasisGiven                 // a column named in the question
	BasisSeen                  // a condition seen at a visit
	BasisUndated               // ended for a stated reason on a day not recorded
)

func (b Basis) String() string {
	return [...]string{"no end known", "remake decided", "ended", "replacement delivered", "person died", "column given", "seen at a visit", "end not dated"}[b]
}

// endSockets reads the end of every socket, as known by To: `ended` with its
// reason; else the delivery of the socket that names it in `replaces`; else
// a remake decided; else the person's death. A socket is never ended merely
// because a later one exists.
func (c *Cohort) endSockets() {
	s := &c.sockets
	n := len(s.id)
	c.findReplacements()
	s.end, s.endReason, s.endBasis = make([]float64, n), make([]string, n), make([]Basis, n)
	for i := range s.id {
		s.end[i], s.endReason[i], s.endBasis[i] = c.endOf(i)
		if !c.outOfSight(s.endReason[i]) {
			continue
		}
		day := s.end[i]
		if math.IsNaN(day) {
			day = math.Inf(1) // gone on a day not recorded: not seen since
		}
		if who := s.person[i]; !(c.persons.lost[who] >= day) {
			c.persons.lost[who] = day
		}
	}
}

// outOfSight says whether an end reason tells that the person moved away or
// was lost, rather than that a reason is not known.
func (c *Cohort) outOfSight(reason string) bool {
	return reason != ReasonUnknown && c.untraced[reason]
}

func (c *Cohort) endOf(i int) (day float64, reason string, basis Basis) {
	s := &c.sockets
	reason = s.reason[i]
	died := c.persons.died[s.person[i]]
	remake := c.remake[reason] || reason == "" || reason == ReasonUnknown
	decided := !math.IsNaN(s.decided[i]) && remake
	switch {
	case !math.IsNaN(s.ended[i]):
		day, basis = s.ended[i], BasisEnded
	case !math.IsNaN(s.replacedOn[i]):
		day, basis = s.replacedOn[i], BasisReplaced
	case decided:
	case !math.IsNaN(died) && (reason == "" || reason == ReasonDied):
		return died, ReasonDied, BasisDied
	case reason != "":
		return nan, reason, BasisUndated
	default:
		return nan, "", BasisOpen
	}
	if reason == "" {
		reason = ReasonUnknown
	}
	if decided {
		// The date of a remake is the day it was decided; an end whose
		// reason was left out, after a remake was decided, is taken so too.
		day, basis = s.decided[i], BasisDecided
	}
	return day, reason, basis
}

// findReplacements dates, for each socket, the delivery of what replaced it.
// A check socket replaces nothing that is worn: where one stands between two
// sockets in `replaces`, the delivery of the later one counts.
func (c *Cohort) findReplacements() {
	s := &c.sockets
	n := len(s.id)
	s.replacedOn = make([]float64, n)
	for i := range s.replacedOn {
		s.replacedOn[i] = nan
	}
	for j := range s.id {
		i, ok := s.index[s.replaces[j]]
		day := c.start(j)
		if !ok || math.IsNaN(day) {
			continue
		}
		if s.kind[j] == KindCheck {
			// Only an earlier check socket ends with a check fitting.
			if s.kind[i] == KindCheck && i != j {
				s.replacedOn[i] = earliest(s.replacedOn[i], day)
			}
			continue
		}
		for hops := 0; ok && i != j && hops <= n; hops++ {
			s.replacedOn[i] = earliest(s.replacedOn[i], day)
			if s.kind[i] != KindCheck {
				break
			}
			i, ok = s.index[s.replaces[i]]
		}
	}
}
