package survival

import (
	"cmp"
	"math"
	"slices"
	"sort"
)

// edge is an end of an interval in the order of time: at one time, a closed
// left end comes before a right end, and that before an open left end.
type edge struct {
	time float64
	at   int8
}

// The places of an edge at its time.
const (
	edgeClosedLeft int8 = iota
	edgeRight
	edgeOpenLeft
)

func (a edge) compare(b edge) int {
	if c := cmp.Compare(a.time, b.time); c != 0 {
		return c
	}
	return cmp.Compare(a.at, b.at)
}

// intervalRow is a row: known without the event from entry to left, and with
// it by right.
type intervalRow struct {
	entry, left, right edge
	weight             float64
}

func rowOf(entry, left, right, weight float64) intervalRow {
	r := intervalRow{entry: edge{riskFrom(entry), edgeRight}, left: edge{left, edgeOpenLeft}, right: edge{right, edgeRight}, weight: weight}
	if left == right {
		r.left.at = edgeClosedLeft
	}
	return r
}

func (r *intervalRow) seen() bool { return !math.IsInf(r.right.time, 1) }

// run is a set of rows with the same candidates in their interval.
type run struct {
	from, to int // candidates from to to-1
	weight   float64
}

// support is where mass can lie, and what the rows say of it.
type support struct {
	left, right []edge    // of each candidate, in time order
	cost        []float64 // weight of rows watched through the candidate without the event
	through     []int     // how many rows those are
	runs        []run
	lastLeft    float64 // the last look without the event
}

// newSupport finds the innermost intervals: a left end followed at once by a
// right end or an entry, within the interval of some row that had the event.
func newSupport(rows []intervalRow) *support {
	type mark struct {
		edge
		left bool
	}
	marks := make([]mark, 0, 3*len(rows))
	s := &support{}
	for i := range rows {
		r := &rows[i]
		marks = append(marks, mark{r.left, true})
		if r.seen() {
			marks = append(marks, mark{r.right, false})
		}
		if r.entry.time > 0 {
			marks = append(marks, mark{r.entry, false})
		}
		if t := r.left.time; t > s.lastLeft {
			s.lastLeft = t
		}
	}
	slices.SortFunc(marks, func(a, b mark) int { return a.compare(b.edge) })
	for k := 0; k+1 < len(marks); k++ {
		if marks[k].left && !marks[k+1].left {
			s.left, s.right = append(s.left, marks[k].edge), append(s.right, marks[k+1].edge)
		}
	}
	s.dropUncovered(rows)
	s.count(rows)
	return s
}

// within are the candidates that lie between two edges.
func (s *support) within(from, to edge) (a, b int) {
	a = sort.Search(len(s.left), func(k int) bool { return s.left[k].compare(from) >= 0 })
	b = sort.Search(len(s.right), func(k int) bool { return s.right[k].compare(to) > 0 })
	return a, max(a, b)
}

// dropUncovered leaves out candidates in no row's interval.
func (s *support) dropUncovered(rows []intervalRow) {
	cover := make([]int, len(s.left)+1)
	for i := range rows {
		if rows[i].seen() {
			a, b := s.within(rows[i].left, rows[i].right)
			cover[a]++
			cover[b]--
		}
	}
	n, kept := 0, 0
	for k := range s.left {
		n += cover[k]
		if n > 0 {
			s.left[kept], s.right[kept] = s.left[k], s.right[k]
			kept++
		}
	}
	s.left, s.right = s.left[:kept], s.right[:kept]
}

// count adds up the costs and gathers rows that say the same.
func (s *support) count(rows []intervalRow) {
	m := len(s.left)
	s.cost, s.through = make([]float64, m), make([]int, m)
	weight, number := make([]float64, m+1), make([]int, m+1)
	split := make([]bool, m+1) // some row tells this candidate from the one before
	for i := range rows {
		r := &rows[i]
		a, b := s.within(edge{r.entry.time, edgeOpenLeft}, r.left)
		weight[a] += r.weight
		weight[b] -= r.weight
		number[a]++
		number[b]--
		if a < b {
			split[a], split[b] = true, true
		}
		if r.seen() {
			from, to := s.within(r.left, r.right)
			split[from], split[to] = true, true
			s.runs = append(s.runs, run{from, to, r.weight})
		}
	}
	sum, n := 0.0, 0
	for k := range s.cost {
		sum, n = sum+weight[k], n+number[k]
		if s.through[k] = n; n > 0 {
			s.cost[k] = sum // else it would hold what rounding left
		}
	}
	s.merge(split)
	slices.SortFunc(s.runs, func(a, b run) int {
		if a.to != b.to {
			return a.to - b.to
		}
		return a.from - b.from
	})
	kept := 0
	for k, u := range s.runs {
		if k > 0 && s.runs[kept-1].from == u.from && s.runs[kept-1].to == u.to {
			s.runs[kept-1].weight += u.weight
			continue
		}
		s.runs[kept] = u
		kept++
	}
	s.runs = s.runs[:kept]
}

// merge joins candidates that no row tells apart into one.
func (s *support) merge(split []bool) {
	m := len(s.left)
	at := make([]int, m+1)
	kept := -1
	for k := range m {
		if k == 0 || split[k] {
			kept++
			s.left[kept], s.cost[kept], s.through[kept] = s.left[k], s.cost[k], s.through[k]
		}
		s.right[kept], at[k] = s.right[k], kept
	}
	kept++
	at[m] = kept
	s.left, s.right, s.cost, s.through = s.left[:kept], s.right[:kept], s.cost[:kept], s.through[:kept]
	for i, u := range s.runs {
		s.runs[i].from, s.runs[i].to = at[u.from], at[u.to]
	}
}
