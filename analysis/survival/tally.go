package survival

import (
	"cmp"
	"slices"
	"sort"
)

// step is what happened at one distinct time.
type step struct {
	time     float64
	atRisk   float64   // weight under observation just before
	rows     int       // rows under observation just before
	events   float64   // weight of events of any cause
	eventN   int       // rows with an event
	byCause  []float64 // weight of events by cause, cause 1 first
	censored float64   // weight of rows censored
}

// exhausted reports that everybody at risk had the event. It goes by rows,
// since sums of weights need not cancel exactly.
func (s *step) exhausted() bool { return s.eventN > 0 && s.eventN == s.rows }

// tally is a data set counted by distinct time, ascending.
type tally struct {
	steps    []step
	byTime   []int // rows by time, ascending
	byEntry  []int // rows by entry, ascending
	entered  []float64
	left     []float64
	from     []float64 // entries in the order of byEntry
	times    []float64 // times in the order of byTime
	lastTime float64
}

// count counts the data at each distinct time of an event or a censoring.
// The data must be valid and no cause above causes.
func count(d Data, causes int) *tally {
	n := len(d.Time)
	t := &tally{byTime: order(n), byEntry: order(n)}
	slices.SortStableFunc(t.byTime, func(a, b int) int { return cmp.Compare(d.Time[a], d.Time[b]) })
	slices.SortStableFunc(t.byEntry, func(a, b int) int { return cmp.Compare(d.from(a), d.from(b)) })
	t.entered, t.left = make([]float64, n+1), make([]float64, n+1)
	t.from, t.times = make([]float64, n), make([]float64, n)
	for k := range n {
		i, j := t.byEntry[k], t.byTime[k]
		t.from[k], t.times[k] = d.from(i), d.Time[j]
		t.entered[k+1] = t.entered[k] + d.weight(i)
		t.left[k+1] = t.left[k] + d.weight(j)
	}
	t.lastTime = t.times[n-1]

	for k := 0; k < n; {
		s := step{time: t.times[k], byCause: make([]float64, causes)}
		for ; k < n && t.times[k] == s.time; k++ {
			i := t.byTime[k]
			w := d.weight(i)
			if c := d.Cause[i]; c > 0 {
				s.events += w
				s.eventN++
				if causes > 0 {
					s.byCause[c-1] += w
				}
			} else {
				s.censored += w
			}
		}
		t.steps = append(t.steps, s)
	}
	t.countAtRisk(d)
	return t
}

// countAtRisk goes backwards in time: without late entry nothing is then
// ever subtracted, and the small risk sets of the tail stay exact.
func (t *tally) countAtRisk(d Data) {
	n := len(t.times)
	rows, weight := 0, 0.0
	in, out := n-1, n-1
	for k := len(t.steps) - 1; k >= 0; k-- {
		s := &t.steps[k]
		for ; in >= 0 && t.times[in] >= s.time; in-- {
			rows++
			weight += d.weight(t.byTime[in])
		}
		for ; out >= 0 && t.from[out] >= s.time; out-- {
			rows--
			weight -= d.weight(t.byEntry[out])
		}
		s.rows, s.atRisk = rows, weight
	}
}

// atRisk is the weight under observation just before the time at.
func (t *tally) atRisk(at float64) float64 {
	in := sort.SearchFloat64s(t.from, at)
	out := sort.SearchFloat64s(t.times, at)
	if in == out {
		return 0
	}
	return t.entered[in] - t.left[out]
}

// last is the index of the last step at or before the time at, or -1.
func (t *tally) last(at float64) int {
	return sort.Search(len(t.steps), func(k int) bool { return t.steps[k].time > at }) - 1
}

func order(n int) []int {
	o := make([]int, n)
	for i := range o {
		o[i] = i
	}
	return o
}
