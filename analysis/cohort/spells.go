package cohort

import (
	"math"
	"sort"
)

// Spell is a stretch (Entry, Time] of a life or a watch over which nothing
// that varies changes.
type Spell struct {
	Of          int // index of the life or subject
	Entry, Time float64
	Event       bool // it ends with the event
	Number      int  // the event it is at risk of: 1 for the first
	// At is, for each history, the row of its column in force throughout: the
	// last recorded up to Entry, so that nothing recorded on the day of an
	// event, or after it, explains it. -1 before the first value.
	At []int
}

// Clock says how the time of repeated events runs.
type Clock int

// The clocks.
const (
	TotalTime Clock = iota // from the start of the watch, through all events
	GapTime                // anew from 0 after each event
	// Marginal lets each subject be at risk of the first, second, ... event
	// from the start on, whether or not the earlier ones have come: a row for
	// each number up to the greatest seen of anybody.
	Marginal
)

// afterStart is a moment after time 0 and before every other: who enters
// then was not there for an event at 0.
const afterStart = math.SmallestNonzeroFloat64

// Spells cuts each life wherever one of the histories changes. Without
// histories each life is one spell.
func (l *Lives) Spells(hs []*History) []Spell {
	var out []Spell
	atZero := false // only then does it matter who was there at 0, and what was known of them
	for j := range l.Row {
		atZero = atZero || l.Time[j] == 0 && l.Cause[j] > 0
	}
	for j := range l.Row {
		s := Spell{Of: j, Entry: l.Entry[j], Time: l.Time[j], Event: l.Cause[j] > 0, Number: 1}
		out = cut(out, hs, s, 0, atZero)
	}
	return out
}

// Spells cuts each watch at its events and wherever a history changes.
// Events of one subject on one day count once; sameDay is how many did not.
func (r *Repeats) Spells(hs []*History, clock Clock) (out []Spell, sameDay int) {
	events := make([][]float64, len(r.Row))
	most, atZero := 0, false
	for j, all := range r.Events {
		for _, e := range all {
			if n := len(events[j]); n > 0 && events[j][n-1] == e.Time {
				sameDay++
				continue
			}
			events[j] = append(events[j], e.Time)
		}
		most = max(most, len(events[j]))
		atZero = atZero || len(events[j]) > 0 && events[j][0] == 0
	}
	for j, at := range events {
		if clock == Marginal {
			for k := range most {
				s := Spell{Of: j, Entry: r.Entry[j], Time: r.Exit[j], Number: k + 1}
				if k < len(at) {
					s.Time, s.Event = at[k], true
				}
				out = cut(out, hs, s, 0, atZero)
			}
			continue
		}
		from := r.Entry[j]
		for k := 0; k <= len(at); k++ {
			s := Spell{Of: j, Entry: from, Time: r.Exit[j], Number: k + 1}
			if k < len(at) {
				s.Time, s.Event = at[k], true
			}
			if k > 0 && s.Time <= from {
				break // the watch ended with the event
			}
			zero := 0.0
			if clock == GapTime && k > 0 {
				zero = from
			} else if k > 0 && from == 0 {
				s.Entry = afterStart
			}
			out = cut(out, hs, s, zero, atZero && k == 0)
			from = s.Time
		}
	}
	return out, sameDay
}

// cut appends a spell, cut where a history changes, on a clock that starts
// at zero. With atZero, what was recorded on the day of the start does not
// hold at its time 0.
func cut(out []Spell, hs []*History, s Spell, zero float64, atZero bool) []Spell {
	var times []float64
	for _, h := range hs {
		for _, x := range h.Changes[s.Of] {
			if x.Time > s.Entry && x.Time < s.Time {
				times = append(times, x.Time)
			}
		}
	}
	sort.Float64s(times)
	now := make([]int, len(hs))
	for i, h := range hs {
		now[i] = h.at(s.Of, s.Entry, s.Time == s.Entry || atZero && s.Entry == 0)
	}
	from := s.Entry
	add := func(to float64, event bool) {
		x := s
		x.Entry, x.Time, x.Event, x.At = from-zero, to-zero, event, append([]int(nil), now...)
		out = append(out, x)
		from = to
	}
	split := func(t float64) {
		var next []int
		changed := false
		for i, h := range hs {
			next = append(next, h.at(s.Of, t, false))
			changed = changed || !h.Same(now[i], next[i])
		}
		if changed {
			add(t, false)
			now = next
		}
	}
	if atZero && s.Entry == 0 && s.Time > 0 {
		n := len(out)
		split(0)
		if len(out) > n {
			from = afterStart
		}
	}
	for _, t := range times {
		split(t)
	}
	add(s.Time, s.Event)
	return out
}
