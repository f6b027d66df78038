package survival

import (
	"fmt"
	"slices"
	"sort"
)

// lingering is the rows that stay at risk after an ending that competes with
// the event, with a weight that falls as it becomes less likely that they
// would still be watched.
type lingering struct {
	rows   []int     // those with a competing ending, by time, ascending
	stayed []float64 // stays at the time of that ending

	censored []float64 // times of censorings, ascending
	atRisk   []float64 // weight that could be censored at each
	fall     []float64 // share of it that was
	left     []float64 // product of 1 - fall up to and including each

	entered []float64 // times of late entries, ascending
	before  []float64 // product of 1 - share entering, from each entry on
}

// stays is the chance to be watched at time at: not censored before it, and
// entered before it. Ratios of it are the weights of those who linger.
func (l *lingering) stays(at float64) float64 {
	p := 1.0
	if k := sort.SearchFloat64s(l.censored, at); k > 0 {
		p = l.left[k-1]
	}
	if k := sort.SearchFloat64s(l.entered, at); k < len(l.entered) {
		p *= l.before[k]
	}
	return p
}

// EntryError reports that late entries leave a time from which nobody was
// followed on, so that those who had a competing ending by then can be given
// no weight afterwards.
type EntryError struct{ Time float64 }

func (e *EntryError) Error() string {
	return fmt.Sprintf("nobody was followed on from before time %g, so those with another ending until then cannot be weighted afterwards", e.Time)
}

// newLingering estimates the two chances: that of not being censored as a
// Kaplan-Meier curve of the censorings, those at the time of an event coming
// after it, and that of having entered as the same in reversed time (Geskus
// 2011, Biometrics 67:39).
func (m *coxModel) newLingering(cause []int, event int) (*lingering, error) {
	d, l := m.data, &lingering{}
	byTime := order(m.n)
	sortByTime(byTime, d.Time)
	byEntry := order(m.n)
	if len(d.Entry) > 0 {
		sortByTime(byEntry, d.Entry) // those who do not enter late have 0 there, the least
	}

	// Backwards, so that the small risk sets of the tail stay exact.
	weight, rows, out := 0.0, 0, m.n-1
	for k := m.n - 1; k >= 0; {
		at := d.Time[byTime[k]]
		for ; out >= 0 && m.from(byEntry[out]) >= at; out-- {
			weight -= m.weight(byEntry[out])
			rows--
		}
		gone, goneRows, ended, endedRows := 0.0, 0, 0.0, 0
		for ; k >= 0 && d.Time[byTime[k]] == at; k-- {
			i := byTime[k]
			if cause[i] == 0 {
				gone += m.weight(i)
				goneRows++
			} else {
				ended += m.weight(i)
				endedRows++
			}
		}
		if goneRows > 0 {
			l.censored = append(l.censored, at)
			l.atRisk = append(l.atRisk, weight+gone)
			share := gone / (weight + gone)
			if rows == 0 {
				share = 1
			}
			l.fall = append(l.fall, share)
		}
		weight += gone + ended
		rows += goneRows + endedRows
	}
	slices.Reverse(l.censored)
	slices.Reverse(l.atRisk)
	slices.Reverse(l.fall)
	p := 1.0
	for _, f := range l.fall {
		p *= 1 - f
		l.left = append(l.left, p)
	}
	l.addEntries(m, byTime, byEntry)

	for _, i := range byTime {
		if cause[i] == 0 || cause[i] == event {
			continue
		}
		s := l.stays(d.Time[i])
		if !(s > 0) {
			return nil, &EntryError{d.Time[i]}
		}
		l.rows, l.stayed = append(l.rows, i), append(l.stayed, s)
	}
	return l, nil
}

func (l *lingering) addEntries(m *coxModel, byTime, byEntry []int) {
	d := m.data
	// Those at risk just after an entry: in by then, and not ended by then.
	weight, rows, gone := 0.0, 0, 0
	var share []float64
	for k := 0; k < m.n; {
		at := m.from(byEntry[k])
		in, inRows := 0.0, 0
		for ; k < m.n && m.from(byEntry[k]) == at; k++ {
			in += m.weight(byEntry[k])
			inRows++
		}
		for ; gone < m.n && d.Time[byTime[gone]] <= at; gone++ {
			weight -= m.weight(byTime[gone])
			rows--
		}
		weight += in
		rows += inRows
		if at < 0 {
			continue
		}
		l.entered = append(l.entered, at)
		if rows == inRows {
			share = append(share, 1)
		} else {
			share = append(share, in/weight)
		}
	}
	l.before = make([]float64, len(share))
	p := 1.0
	for k := len(share) - 1; k >= 0; k-- {
		p *= 1 - share[k]
		l.before[k] = p
	}
}

// lingeringMoments are, for each time with events, the moments of those who
// linger, still to be multiplied with stays at that time. They are summed
// forwards in time: nothing is ever subtracted.
func (m *coxModel) lingeringMoments(risk []float64) []moments {
	l := m.lingering
	if l == nil {
		return nil
	}
	var out []moments
	run, next, last := newMoments(m.p), 0, 0.0
	times := m.full().byTime[0]
	for k := len(times) - 1; k >= 0; k-- {
		i := times[k]
		at := m.data.Time[i]
		if !m.data.Event[i] || (len(out) > 0 && at == last) {
			continue
		}
		last = at
		for ; next < len(l.rows) && m.data.Time[l.rows[next]] < at; next++ {
			j := l.rows[next]
			run.add(m.full().z[j*m.p:(j+1)*m.p], m.weight(j)*risk[j]/l.stayed[next])
		}
		now := newMoments(m.p)
		now.set(&run)
		out = append(out, now)
	}
	return out
}
