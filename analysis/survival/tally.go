package survival

import (
	"math"
	"sort"
	"sync"
)

// step is what happened at one distinct time.
type step struct {
	time     float64
	atRisk   float64   // weight under observation just before
	rows     int       // rows under observation just before
	ends     int       // rows that end
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
	data     Data
	late     []int32   // rows that entered late, by entry, ascending
	entered  []float64 // weight of those who did not, and of so many of those who did
	left     []float64 // weight of the rows that ended before each step, and of all
	ended    []int     // how many these are
	lastTime float64

	ordered sync.Once
	byTime  []int32 // rows by time, ascending
}

// count counts the data at each distinct time of an event or a censoring.
// The data must be valid and no cause above causes. Whole times that span
// little more than there are rows, as days do, are counted without being
// sorted.
func count(d Data, causes int) *tally {
	t := &tally{data: d}
	if first, last, ok := wholeSpan(d.Time); ok {
		t.countWhole(causes, first, int(last-first)+1)
	} else {
		t.countSorted(causes)
	}
	t.left, t.ended = make([]float64, len(t.steps)+1), make([]int, len(t.steps)+1)
	for k := range t.steps {
		s := &t.steps[k]
		t.left[k+1], t.ended[k+1] = t.left[k]+s.events+s.censored, t.ended[k]+s.ends
	}
	t.lastTime = t.steps[len(t.steps)-1].time
	t.countEntries()
	t.countAtRisk()
	return t
}

// wholeSpan is the first and the last of times that are whole and span little
// more than there are of them; ok is false for others.
func wholeSpan(times []float64) (first, last float64, ok bool) {
	var from, to [2]float64
	var whole [2]bool
	both(len(times), func(half, lo, hi int) {
		from[half], to[half], whole[half] = math.Inf(1), math.Inf(-1), true
		for _, t := range times[lo:hi] {
			if t != math.Trunc(t) {
				whole[half] = false
				return
			}
			from[half], to[half] = min(from[half], t), max(to[half], t)
		}
	})
	first, last = min(from[0], from[1]), max(to[0], to[1])
	return first, last, whole[0] && whole[1] && last-first < float64(2*len(times)+1024)
}

// cells are sums at each of some times, and by cause at each of them.
type cells struct {
	ends, eventN     []int32
	events, censored []float64
	byCause          []float64
}

func newCells(times, causes int) *cells {
	return &cells{make([]int32, times), make([]int32, times), make([]float64, times), make([]float64, times), make([]float64, times*causes)}
}

func (c *cells) add(k, cause, causes int, w float64) {
	c.ends[k]++
	if cause == 0 {
		c.censored[k] += w
		return
	}
	c.eventN[k]++
	c.events[k] += w
	if causes > 0 {
		c.byCause[k*causes+cause-1] += w
	}
}

// countWhole has a cell for each whole time from first on.
func (t *tally) countWhole(causes int, first float64, width int) {
	d := t.data
	var part [2]*cells
	both(len(d.Time), func(half, lo, hi int) {
		c := newCells(width, causes)
		for i := lo; i < hi; i++ {
			c.add(int(d.Time[i]-first), d.Cause[i], causes, d.weight(i))
		}
		part[half] = c
	})
	a, b := part[0], part[1]
	distinct := 0
	for k, n := range b.ends {
		a.ends[k] += n
		a.eventN[k] += b.eventN[k]
		a.events[k] += b.events[k]
		a.censored[k] += b.censored[k]
		if a.ends[k] > 0 {
			distinct++
		}
	}
	for k, x := range b.byCause {
		a.byCause[k] += x
	}
	t.steps = make([]step, 0, distinct)
	for k, n := range a.ends {
		if n > 0 {
			t.addStep(first+float64(k), a, k, causes)
		}
	}
}

func (t *tally) addStep(time float64, c *cells, k, causes int) {
	t.steps = append(t.steps, step{time: time, ends: int(c.ends[k]), eventN: int(c.eventN[k]), events: c.events[k], censored: c.censored[k],
		byCause: c.byCause[k*causes : (k+1)*causes : (k+1)*causes]})
}

func (t *tally) countSorted(causes int) {
	d := t.data
	by := t.rowsByTime()
	distinct := 1
	for k := 1; k < len(by); k++ {
		if d.Time[by[k]] != d.Time[by[k-1]] {
			distinct++
		}
	}
	c := newCells(distinct, causes)
	t.steps = make([]step, 0, distinct)
	at := 0
	for k, i := range by {
		if k > 0 && d.Time[i] != d.Time[by[k-1]] {
			t.addStep(d.Time[by[k-1]], c, at, causes)
			at++
		}
		c.add(at, d.Cause[i], causes, d.weight(int(i)))
	}
	t.addStep(d.Time[by[len(by)-1]], c, at, causes)
}

// rowsByTime lists the rows by time, ascending, those of one time as they
// stand.
func (t *tally) rowsByTime() []int32 {
	t.ordered.Do(func() {
		d := t.data
		first, last, ok := wholeSpan(d.Time)
		if !ok {
			t.byTime = sortedPlaces(len(d.Time), func(i int) float64 { return d.Time[i] })
			return
		}
		from := make([]int32, int(last-first)+2)
		for _, x := range d.Time {
			from[int(x-first)+1]++
		}
		for k := 1; k < len(from); k++ {
			from[k] += from[k-1]
		}
		t.byTime = make([]int32, len(d.Time))
		for i, x := range d.Time {
			to := &from[int(x-first)]
			t.byTime[*to] = int32(i)
			*to++
		}
	})
	return t.byTime
}

// rowsOf are the rows that end at a step.
func (t *tally) rowsOf(k int) []int32 { return t.rowsByTime()[t.ended[k]:t.ended[k+1]] }

func (t *tally) countEntries() {
	d := t.data
	early := 0.0
	for i := range d.Time {
		if d.from(i) >= 0 {
			t.late = append(t.late, int32(i))
		} else if len(d.Weight) > 0 {
			early += d.Weight[i]
		}
	}
	if len(d.Weight) == 0 {
		early = float64(len(d.Time) - len(t.late))
	}
	if len(t.late) > 0 {
		by := sortedPlaces(len(t.late), func(k int) float64 { return d.Entry[t.late[k]] })
		sorted := make([]int32, len(by))
		for k, at := range by {
			sorted[k] = t.late[at]
		}
		t.late = sorted
	}
	t.entered = make([]float64, len(t.late)+1)
	t.entered[0] = early
	for k, i := range t.late {
		t.entered[k+1] = t.entered[k] + d.weight(int(i))
	}
}

// entrants goes through the rows by entry, those who did not enter late
// first.
type entrants struct {
	t    *tally
	next int // of those who entered late; -1: the others are still to come
}

func (t *tally) entrants() *entrants { return &entrants{t, -1} }

// before shows the rows that enter before a time and were not shown yet.
func (e *entrants) before(at float64, row func(i int)) {
	d := e.t.data
	if e.next < 0 {
		for i := range d.Time {
			if d.from(i) < 0 {
				row(i)
			}
		}
		e.next = 0
	}
	for ; e.next < len(e.t.late) && d.Entry[e.t.late[e.next]] < at; e.next++ {
		row(int(e.t.late[e.next]))
	}
}

// countAtRisk goes backwards in time: without late entry nothing is then
// ever subtracted, and the small risk sets of the tail stay exact.
func (t *tally) countAtRisk() {
	d := t.data
	rows, weight := 0, 0.0
	out := len(t.late) - 1
	for k := len(t.steps) - 1; k >= 0; k-- {
		s := &t.steps[k]
		rows += s.ends
		weight += s.events + s.censored
		for ; out >= 0 && d.Entry[t.late[out]] >= s.time; out-- {
			rows--
			weight -= d.weight(int(t.late[out]))
		}
		s.rows, s.atRisk = rows, weight
	}
}

// weight is that of all rows.
func (t *tally) weight() float64 { return t.left[len(t.left)-1] }

// atRisk is the weight under observation just before the time at. A row that
// did not enter late is from before every time.
func (t *tally) atRisk(at float64) float64 {
	d := t.data
	in := sort.Search(len(t.late), func(k int) bool { return d.Entry[t.late[k]] >= at })
	out := sort.Search(len(t.steps), func(k int) bool { return t.steps[k].time >= at })
	if len(d.Time)-len(t.late)+in == t.ended[out] {
		return 0
	}
	return t.entered[in] - t.left[out]
}

// nobodyAtStart says that every row entered late.
func (t *tally) nobodyAtStart() bool { return len(t.late) == len(t.data.Time) }

// atRiskAfter reports that some row enters at or after the time at.
func (t *tally) atRiskAfter(at float64) bool {
	return len(t.late) > 0 && t.data.Entry[t.late[len(t.late)-1]] >= at
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
