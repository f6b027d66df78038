package mixed

import (
	"runtime"
	"slices"
	"sort"
	"sync"
)

// grouping is which rows belong to which group. The places start[g] up to
// start[g+1] are those of group g; a place is the row itself where the rows
// stand group by group, which saves the list of them.
type grouping struct {
	labels []int   // in ascending order
	start  []int32 // one more than labels
	order  []int32 // row of each place; nil: the place itself
}

// newGrouping sorts rows by their group. Within a group they keep their order.
func newGrouping(group []int) grouping {
	lo, hi, sorted := group[0], group[0], true
	for i, v := range group[1:] {
		sorted = sorted && v >= group[i]
		lo, hi = min(lo, v), max(hi, v)
	}
	var g grouping
	if sorted {
		count := 1
		for i, v := range group[1:] {
			if v != group[i] {
				count++
			}
		}
		g.labels, g.start = make([]int, 0, count), make([]int32, 0, count+1)
		for i, v := range group {
			if i == 0 || v != group[i-1] {
				g.labels, g.start = append(g.labels, v), append(g.start, int32(i))
			}
		}
		g.start = append(g.start, int32(len(group)))
		return g
	}
	// Labels that lie close are numbered in a list, others in a map.
	var number func(int) int32
	if span := uint64(hi) - uint64(lo); span <= uint64(len(group)) {
		list := make([]int32, span+1)
		count := 0
		for _, v := range group {
			if list[v-lo] == 0 {
				list[v-lo] = 1
				count++
			}
		}
		g.labels = make([]int, 0, count)
		for k, used := range list {
			if used == 1 {
				list[k] = int32(len(g.labels))
				g.labels = append(g.labels, lo+k)
			}
		}
		number = func(v int) int32 { return list[v-lo] }
	} else {
		list := map[int]int32{}
		for _, v := range group {
			if _, ok := list[v]; !ok {
				list[v] = 0
				g.labels = append(g.labels, v)
			}
		}
		sort.Ints(g.labels)
		for k, v := range g.labels {
			list[v] = int32(k)
		}
		number = func(v int) int32 { return list[v] }
	}
	// start[g+1] is where the next row of group g goes, until all are placed.
	g.start = make([]int32, len(g.labels)+2)
	for _, v := range group {
		g.start[number(v)+2]++
	}
	for k := 2; k < len(g.start); k++ {
		g.start[k] += g.start[k-1]
	}
	g.order = make([]int32, len(group))
	for i, v := range group {
		k := number(v) + 1
		g.order[g.start[k]] = int32(i)
		g.start[k]++
	}
	g.start = g.start[:len(g.labels)+1]
	return g
}

// count is the number of groups, size that of the rows of one.
func (g *grouping) count() int     { return len(g.labels) }
func (g *grouping) size(k int) int { return int(g.start[k+1] - g.start[k]) }

// row is the row at a place.
func (g *grouping) row(place int32) int {
	if g.order == nil {
		return int(place)
	}
	return int(g.order[place])
}

// left says what share of the sum of squares of a column's parts, one for each
// group, is outside the span of the orthonormal columns q.
func (g *grouping) left(column func(row int) float64, q [][]float64) float64 {
	total, inside := 0.0, 0.0
	for k := range g.count() {
		for at := g.start[k]; at < g.start[k+1]; at++ {
			v := column(g.row(at))
			total += v * v
		}
		for _, c := range q {
			s := 0.0
			for at := g.start[k]; at < g.start[k+1]; at++ {
				row := g.row(at)
				s += column(row) * c[row]
			}
			inside += s * s
		}
	}
	return 1 - inside/total
}

// take copies the values of group k's rows into out; a nil column is 1
// throughout.
func (g *grouping) take(out, column []float64, k int) {
	lo, hi := g.start[k], g.start[k+1]
	switch {
	case column == nil:
		for i := range out {
			out[i] = 1
		}
	case g.order == nil:
		copy(out, column[lo:hi])
	default:
		for i, row := range g.order[lo:hi] {
			out[i] = column[row]
		}
	}
}

// sort puts the rows of every group in the order of a value.
func (g *grouping) sort(by []float64) {
	for k := range g.count() {
		lo, hi := g.start[k], g.start[k+1]
		for i := lo + 1; i < hi && g.order == nil; i++ {
			if by[i] < by[i-1] {
				g.order = make([]int32, len(by))
				for j := range g.order {
					g.order[j] = int32(j)
				}
			}
		}
		if g.order != nil {
			slices.SortStableFunc(g.order[lo:hi], func(a, b int32) int {
				switch {
				case by[a] < by[b]:
					return -1
				case by[a] > by[b]:
					return 1
				}
				return 0
			})
		}
	}
}

// lot is a run of groups that are worked on together. Sums are made lot by
// lot and added in their order, so that they do not depend on how many are
// worked on at a time.
type lot struct {
	from, to int // groups
	at       int // place of the first among the numbers of a criterion
}

// lotSize is the number of groups in a lot.
const lotSize = 1024

func lots(groups int) []lot {
	out := make([]lot, 0, groups/lotSize+1)
	for from := 0; from < groups; from += lotSize {
		out = append(out, lot{from: from, to: min(from+lotSize, groups)})
	}
	return out
}

// together calls work for 0 to n-1, as many at a time as there are
// processors.
func together(n int, work func(int)) {
	workers := min(runtime.GOMAXPROCS(0), n)
	if workers < 2 {
		for i := range n {
			work(i)
		}
		return
	}
	var wait sync.WaitGroup
	next := make(chan int, n)
	for i := range n {
		next <- i
	}
	close(next)
	for range workers {
		wait.Add(1)
		go func() {
			defer wait.Done()
			for i := range next {
				work(i)
			}
		}()
	}
	wait.Wait()
}
