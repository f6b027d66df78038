package survival

import (
	"math"
	"sort"
)

// inconsistency is by how much the masses change in one step of Turnbull's
// self-consistency equations (1976, J R Stat Soc B 38:290, with late entry):
// each mass is the mean over rows of the chance that the row's event lies
// there given its interval, with for each row that entered late the rows that
// would have had the event before and so were never seen. At the maximum it
// is 0. It is worked out from the rows and the finished curve alone, knowing
// nothing of how the curve was found. Rows to whose interval the curve gives
// no chance, as after a risk set was emptied, are left out.
func inconsistency(rows []intervalRow, masses []Mass) float64 {
	before := make([]float64, len(masses)+1)
	for j, m := range masses {
		before[j+1] = before[j] + m.Mass
	}
	// The first mass that lies after a closed or open left end, or an entry.
	from := func(e edge) int {
		return sort.Search(len(masses), func(j int) bool { return massLeft(masses[j]).compare(e) >= 0 })
	}
	to := func(e edge) int {
		return sort.Search(len(masses), func(j int) bool { return (edge{masses[j].Right, edgeRight}).compare(e) > 0 })
	}
	// gain[j] is the change of what mass j is multiplied by, from j on.
	gain, total := make([]float64, len(masses)+1), 0.0
	for i := range rows {
		r := &rows[i]
		a, b := from(r.left), to(r.right)
		if b <= a || !(before[b]-before[a] > 0) {
			continue
		}
		x := r.weight / (before[b] - before[a])
		gain[a] += x
		gain[b] -= x
		total += r.weight
		if r.entry.time <= 0 {
			continue
		}
		e := from(edge{r.entry.time, edgeOpenLeft})
		watched := before[len(masses)] - before[e]
		if e == 0 || !(watched > 0) {
			continue
		}
		gain[0] += r.weight / watched
		gain[e] -= r.weight / watched
		total += r.weight * before[e] / watched
	}
	worst, factor := 0.0, 0.0
	for j, m := range masses {
		factor += gain[j]
		if total > 0 {
			worst = math.Max(worst, math.Abs(m.Mass*factor/total-m.Mass))
		}
	}
	return worst
}

func massLeft(m Mass) edge {
	if m.Left == m.Right {
		return edge{m.Left, edgeClosedLeft}
	}
	return edge{m.Left, edgeOpenLeft}
}
