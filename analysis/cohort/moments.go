package cohort

import "math"

// Moment is a life at a time while it was under observation.
type Moment struct {
	Of   int     // index of the life
	Time float64 // days since its start
	// At is, for each history, the row of its column with the last value
	// recorded up to the end of that day; -1 before the first value.
	At []int
}

// Moments are the lives at 0 and at every so many days after their start, as
// long as each was under observation: it had come under it by then, and ended
// or was last heard of later.
func (l *Lives) Moments(hs []*History, every float64) []Moment {
	if !(every > 0) {
		return nil
	}
	last := 0.0
	for _, t := range l.Time {
		last = math.Max(last, t)
	}
	var out []Moment
	for k := 0; float64(k)*every < last; k++ {
		at := float64(k) * every
		for j := range l.Row {
			if l.Entry[j] <= at && at < l.Time[j] {
				out = append(out, moment(hs, j, at))
			}
		}
	}
	return out
}

func moment(hs []*History, j int, at float64) Moment {
	m := Moment{Of: j, Time: at, At: make([]int, len(hs))}
	for i, h := range hs {
		m.At[i] = h.at(j, at, false)
	}
	return m
}

// Now are the lives not known to have ended, on the day on which the log is
// read, with what was last recorded of each.
func (l *Lives) Now(hs []*History) []Moment {
	var out []Moment
	for j := range l.Row {
		if l.Basis[j] == BasisOpen {
			out = append(out, moment(hs, j, l.Cut(j)-l.Start[j]))
		}
	}
	return out
}

// LastVisit is the latest visit of a life's socket known by the day on which
// the log is read: its day and identifier; not ok without any.
func (l *Lives) LastVisit(j int) (day float64, visit string, ok bool) {
	c := l.cohort
	vs := c.sockets.visits[l.socket[j]]
	if len(vs) == 0 {
		return 0, "", false
	}
	v := vs[len(vs)-1]
	return c.visits.date[v], c.visits.id[v], true
}
