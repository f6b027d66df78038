package cohort

import (
	"math"
	"sort"
)

// linkChecks finds the socket that each check socket became: the socket that
// it leads to through `replaces`, over further check sockets if need be,
// else the limb's next definitive within Settings.CheckWindowDays.
func (c *Cohort) linkChecks() {
	s := &c.sockets
	n := len(s.id)
	next := make([]int, n) // the socket that names this one in `replaces`
	for i := range next {
		next[i] = -1
	}
	for j, id := range s.replaces {
		if i, ok := s.index[id]; ok && i != j && !s.hidden[j] && (next[i] < 0 || c.socketBefore(j, next[i])) {
			next[i] = j
		}
	}
	definitives := c.byLimb(func(i int) bool { return s.kind[i] == KindDefinitive && !math.IsNaN(s.delivered[i]) })
	s.leadsTo = make([]int, n)
	s.checks = make([][]int, n)
	for i := range s.leadsTo {
		s.leadsTo[i] = -1
		if s.kind[i] != KindCheck || s.hidden[i] {
			continue
		}
		j := next[i]
		// A chain longer than the log goes round in a circle.
		for hops := 0; j >= 0 && s.kind[j] == KindCheck && hops <= n; hops++ {
			if next[j] < 0 {
				j = c.nextDefinitive(j, definitives)
				break
			}
			j = next[j]
		}
		if j >= 0 && s.kind[j] == KindCheck {
			j = -1
		}
		if j < 0 && next[i] < 0 {
			j = c.nextDefinitive(i, definitives)
		}
		s.leadsTo[i] = j
	}
	for i, j := range s.leadsTo {
		if j >= 0 {
			s.checks[j] = append(s.checks[j], i)
		}
	}
	for _, group := range s.checks {
		sort.Slice(group, func(a, b int) bool { return c.socketBefore(group[a], group[b]) })
	}
}

// nextDefinitive is the limb's first definitive delivered on or after the
// day of the check socket and within the window; -1 if none.
func (c *Cohort) nextDefinitive(check int, definitives map[int][]int) int {
	s := &c.sockets
	day := c.socketDay(check)
	if math.IsNaN(day) || s.limb[check] < 0 {
		return -1
	}
	for _, j := range definitives[s.limb[check]] {
		if s.delivered[j] >= day {
			if s.delivered[j] <= day+c.set.CheckWindowDays {
				return j
			}
			break
		}
	}
	return -1
}

// byLimb lists the sockets that pass, by limb and in time order.
func (c *Cohort) byLimb(pass func(i int) bool) map[int][]int {
	s := &c.sockets
	out := map[int][]int{}
	for i, l := range s.limb {
		if l >= 0 && !s.hidden[i] && pass(i) {
			out[l] = append(out[l], i)
		}
	}
	for _, group := range out {
		sort.Slice(group, func(a, b int) bool { return c.socketBefore(group[a], group[b]) })
	}
	return out
}

// socketDay is the day that places a socket in time: its start, else its
// delivery, cast or order.
func (c *Cohort) socketDay(i int) float64 {
	s := &c.sockets
	for _, day := range []float64{c.start(i), s.delivered[i], s.cast[i], s.ordered[i]} {
		if !math.IsNaN(day) {
			return day
		}
	}
	return nan
}

// socketBefore orders sockets by day, everyday sockets first of a day, then
// by identifier, so that the order of rows does not matter.
func (c *Cohort) socketBefore(a, b int) bool {
	s := &c.sockets
	da, db := c.socketDay(a), c.socketDay(b)
	switch {
	case math.IsNaN(da) != math.IsNaN(db):
		return math.IsNaN(db)
	case da != db && !math.IsNaN(da):
		return da < db
	}
	ea, eb := s.use[a] == "everyday", s.use[b] == "everyday"
	if ea != eb {
		return ea
	}
	return s.id[a] < s.id[b]
}

// start is the day from which a socket's life counts: its delivery, or the
// first check fitting of a check socket. NaN where not known by To.
func (c *Cohort) start(i int) float64 {
	if c.sockets.kind[i] == KindCheck {
		return c.sockets.firstFitting[i]
	}
	return c.sockets.delivered[i]
}

// countSequence numbers the definitives of each limb: by `number` where it
// is given, else by delivery, but only on limbs whose amputation follows
// LogSince, since of the others earlier sockets may be unrecorded.
func (c *Cohort) countSequence() {
	s := &c.sockets
	s.sequence = make([]float64, len(s.id))
	for i := range s.sequence {
		s.sequence[i] = nan
	}
	definitives := c.byLimb(func(i int) bool { return s.kind[i] == KindDefinitive && !math.IsNaN(s.delivered[i]) })
	for l, group := range definitives {
		if c.set.LogSince == nil || !(c.limbs.amputated[l] >= *c.set.LogSince) {
			continue
		}
		for k, i := range group {
			s.sequence[i] = float64(k + 1)
		}
	}
	for i, number := range s.number {
		if s.kind[i] == KindDefinitive && !math.IsNaN(number) {
			s.sequence[i] = number
		}
	}
}

// fitting is how a socket came to be accepted.
type fitting struct {
	known bool    // something tells of check fittings, or that there were none
	count float64 // check fittings up to delivery
	first string  // yes, no, or empty where it cannot be told
	clean string
	at    int // the first of them, a row of the visits; -1 without
}

// fittings gathers the check fittings that led to socket i: those of the
// check sockets that became it and those written under the socket itself.
func (c *Cohort) fittings(i int) fitting {
	s, v := &c.sockets, &c.visits
	if s.kind[i] == KindCheck || math.IsNaN(s.delivered[i]) {
		return fitting{at: -1}
	}
	var visits []int
	checks, fitted := 0, 0
	gather := func(k int) bool {
		any := false
		for _, j := range s.visits[k] {
			if v.purpose[j] == PurposeCheckFitting && v.date[j] <= s.delivered[i] {
				visits = append(visits, int(j))
				any = true
			}
		}
		return any
	}
	gather(i)
	for _, k := range s.checks[i] {
		if day := c.socketDay(k); day > s.delivered[i] {
			continue
		}
		checks++
		if gather(k) {
			fitted++
		}
	}
	f := fitting{known: len(visits) > 0 || checks == 0, count: float64(len(visits)), at: -1}
	if len(visits) == 0 {
		return f
	}
	first := visits[0]
	for _, j := range visits[1:] {
		if c.visitBefore(j, first) {
			first = j
		}
	}
	f.at = first
	switch accepted := v.accepted[first]; {
	case checks > 1, accepted == "no":
		f.first, f.clean = "no", "no"
	case accepted == AcceptedYes:
		f.first, f.clean = "yes", "yes"
	case accepted == AcceptedAdjusted:
		f.first, f.clean = "yes", "no"
	}
	return f
}
