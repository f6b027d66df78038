package survival

import (
	"cmp"
	"math"
	"slices"
)

// rowsByStratum lists the rows of each stratum, and the strata, ascending.
// With no strata all rows are of stratum 0.
func rowsByStratum(of []int, n int) (map[int][]int, []int) {
	if len(of) == 0 {
		if n == 0 {
			return map[int][]int{}, nil
		}
		return map[int][]int{0: order(n)}, []int{0}
	}
	rows := map[int][]int{}
	var strata []int
	for i, s := range of {
		if _, ok := rows[s]; !ok {
			strata = append(strata, s)
		}
		rows[s] = append(rows[s], i)
	}
	slices.Sort(strata)
	return rows, strata
}

// sortByTime puts rows in ascending order of time, those of one time in the
// order in which they stand. Whole times that span little more than there
// are rows, as days do, are counted into their places.
func sortByTime(rows []int, time []float64) {
	if len(rows) < 2 {
		return
	}
	lo, hi, whole := math.Inf(1), math.Inf(-1), true
	for _, i := range rows {
		t := time[i]
		lo, hi = min(lo, t), max(hi, t)
		whole = whole && t == math.Trunc(t)
	}
	if !whole || hi-lo > float64(2*len(rows)+1024) {
		was := slices.Clone(rows)
		for k, at := range sortedPlaces(len(rows), func(k int) float64 { return time[was[k]] }) {
			rows[k] = was[at]
		}
		return
	}
	from := make([]int, int(hi-lo)+2)
	for _, i := range rows {
		from[int(time[i]-lo)+1]++
	}
	for k := 1; k < len(from); k++ {
		from[k] += from[k-1]
	}
	for _, i := range slices.Clone(rows) {
		k := int(time[i] - lo)
		rows[from[k]] = i
		from[k]++
	}
}

// reverseTies turns rows in ascending order of time into descending order,
// those of one time still in the order in which they stood.
func reverseTies(rows []int, time []float64) {
	slices.Reverse(rows)
	for lo := 0; lo < len(rows); {
		hi := lo
		for hi < len(rows) && time[rows[hi]] == time[rows[lo]] {
			hi++
		}
		slices.Reverse(rows[lo:hi])
		lo = hi
	}
}

// ranks numbers the distinct values from the least up, and gives the number
// of each value and how many there are.
func ranks(values []float64) (of []int32, distinct int) {
	of = make([]int32, len(values))
	seen := map[float64]int32{}
	var all []float64
	for i, v := range values {
		k, ok := seen[v]
		if !ok {
			k = int32(len(all))
			seen[v] = k
			all = append(all, v)
		}
		of[i] = k
	}
	by := order(len(all))
	slices.SortFunc(by, func(a, b int) int { return cmp.Compare(all[a], all[b]) })
	rank := make([]int32, len(all))
	for r, k := range by {
		rank[k] = int32(r)
	}
	for i, k := range of {
		of[i] = rank[k]
	}
	return of, len(all)
}
