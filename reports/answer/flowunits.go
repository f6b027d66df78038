package answer

import (
	"fmt"

	"plybook/analysis/table"
	"plybook/reports/figure"
	"plybook/reports/words"
)

// unitNames are what a flow counts beside its rows.
var unitNames = [][2]string{{"person", "persons"}, {"limb", "limbs"}, {"socket", "sockets"}}

// unitCounts are how many persons, limbs and sockets are left after each step;
// -1 where that is not known, since what a step took away never stood in the
// table, or where the rows are of no such thing.
type unitCounts [][3]int

// flowUnits counts persons, limbs and sockets along the steps: of the table,
// of the rows chosen, and of those the lives leave. lives is the number of
// steps before those of lives.
func (w *work) flowUnits(lives int) unitCounts {
	out := make(unitCounts, len(w.steps))
	for i := range out {
		out[i] = [3]int{-1, -1, -1}
	}
	all := make([]int, w.table.Rows())
	for i := range all {
		all[i] = i
	}
	// The steps before the choice of rows made the table.
	made := len(w.ctx.Cohort.Flow(w.table.Name))
	for i := made - 1; i >= 0; i-- {
		out[i] = w.unitsOf(all)
		if w.steps[i].Excluded > 0 {
			break
		}
	}
	left := w.rows
	if made < lives {
		out[made] = w.unitsOf(left)
	}
	// Those of lives count by their place among the rows chosen.
	place := map[int]bool{}
	for j := range left {
		place[j] = true
	}
	for i := lives; i < len(w.steps); i++ {
		for _, j := range w.steps[i].Out {
			delete(place, j)
		}
		if len(place) != w.steps[i].Rows {
			break // not followed row by row
		}
		rows := make([]int, 0, len(place))
		for j, r := range left {
			if place[j] {
				rows = append(rows, r)
			}
		}
		out[i] = w.unitsOf(rows)
		w.rests(rows, append(w.keepColumns(), fmt.Sprintf("left after step %d", i))...)
	}
	return out
}

// unitsOf counts the persons, limbs and sockets of some rows.
func (w *work) unitsOf(rows []int) [3]int {
	var out [3]int
	for u, name := range unitNames {
		c, ok := w.table.Col(name[0])
		if !ok || c.Kind != table.Text || c.Own || w.table.Name == "persons" && u > 0 {
			out[u] = -1
			continue
		}
		seen := map[string]bool{}
		for _, i := range rows {
			if !c.Missing[i] {
				seen[c.Text[i]] = true
			}
		}
		out[u] = len(seen)
	}
	return out
}

// shownUnits says which numbers of persons, limbs and sockets may be printed
// after each step, so that no few of them can be told from two; those withheld
// for what other answers tell are not.
func (w *work) shownUnits(units unitCounts) [][3]bool {
	out := make([][3]bool, len(units))
	for u := range unitNames {
		var lost, at []int
		shown := []bool{false}
		last := -1
		for i, n := range units {
			if n[u] < 0 {
				continue
			}
			gone := 0
			if last >= 0 {
				gone = last - n[u]
			}
			last = n[u]
			lost, at = append(lost, gone), append(at, i)
			shown = append(shown, !w.hiddenCount(n[u]) && w.withheld(n[u]) == Told)
		}
		_, keep := figure.MaskExclusions(lost, shown, w.ctx.Front.HideBelow)
		for j, i := range at {
			out[i][u] = keep[j+1]
		}
	}
	return out
}

// ownersAtEnd says, of the rows analysed, of how many limbs and persons they
// are, as far as that may be told.
func (w *work) ownersAtEnd(units unitCounts, may [][3]bool) string {
	var said []string
	for _, u := range []int{1, 0} {
		end := len(units) - 1
		if n := units[end][u]; n > 0 && may[end][u] && unitNames[u][1] != w.table.Name {
			said = append(said, words.N(n, unitNames[u][0], unitNames[u][1]))
		}
	}
	if len(said) == 0 {
		return ""
	}
	return ", of " + words.List(said)
}

// unitWords says in brackets how many persons and limbs stand behind the rows
// of a step.
func (w *work) unitWords(n [3]int, shown [3]bool) string {
	var said []string
	for u, name := range unitNames {
		if n[u] >= 0 && shown[u] && name[1] != w.table.Name {
			said = append(said, words.N(n[u], name[0], name[1]))
		}
	}
	if len(said) == 0 {
		return ""
	}
	return " of " + words.List(said)
}
