package numbers

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"plybook/analysis/withhold"
	"plybook/reports/answer"
)

// opaque adds the counts of an answer of which it is not known which rows of
// the log they count.
func (r *register) opaque(k int, raw, shown *answer.Answer, also map[int]answer.How) {
	if raw.Error != nil {
		return
	}
	for _, t := range raw.Tables {
		if isCurve(t) {
			continue // see curves
		}
		for row := range t.Rows {
			for col, c := range t.Columns {
				n, ok := raw.CountAt(&t, row, col)
				at := placeOf{k, t.Name, row, c.Name}
				if _, have := r.place[at]; !ok || have {
					continue
				}
				i := len(r.cells)
				r.cells = append(r.cells, entry{of: fmt.Sprint("one of its own ", i), by: [][]string{{"-"}}, answers: []int{k}, Cell: withhold.Cell{Count: n}})
				r.place[at] = placed{i, nil}
				st := tableOf(shown, t.Name)
				r.cells[i].stands(r.isShown(shown, st, row, col, n, also), lossOfCell*(1+goesWith(*st, row, col, r.few(n))), also[n])
			}
		}
	}
}

// figures relates counts by their numbers.
func (r *register) figures(k int, a, shown *answer.Answer) {
	for _, t := range a.Tables {
		if isCurve(t) || len(t.Rows) == 0 {
			continue
		}
		r.alongRows(k, t)
		for label, c := range t.Columns {
			if c.Type == answer.TypeText {
				r.downColumns(k, shown, t, label)
			}
		}
		if t.Name == "steps" {
			r.alongSteps(k, t)
		}
	}
}

// mostParts is the greatest number of columns that are tried as parts of
// another.
const mostParts = 5

// alongRows finds columns that are sums of others in every row.
func (r *register) alongRows(k int, t answer.Table) {
	var columns []string
	for _, c := range t.Columns {
		if c.Type == answer.TypeCount {
			columns = append(columns, c.Name)
		}
	}
	cell := func(row int, column string) int {
		if p, ok := r.place[placeOf{k, t.Name, row, column}]; ok {
			return p.cell
		}
		return -1
	}
	for _, whole := range columns {
		for set := range 1 << len(columns) {
			var parts []string
			for j, c := range columns {
				if set>>j&1 == 1 {
					parts = append(parts, c)
				}
			}
			if len(parts) < 2 || len(parts) > mostParts || slices.Contains(parts, whole) {
				continue
			}
			var found [][]int
			for row := range t.Rows {
				w := cell(row, whole)
				if w < 0 {
					continue
				}
				left := r.cells[w].Count
				one := []int{w}
				for _, c := range parts {
					p := cell(row, c)
					if p < 0 || slices.Contains(one, p) {
						one = nil
						break
					}
					left -= r.cells[p].Count
					one = append(one, p)
				}
				if one == nil {
					continue
				}
				if left != 0 {
					found = nil
					break
				}
				found = append(found, one)
			}
			for _, one := range found {
				r.relate(one[0], one[1:])
			}
		}
	}
}

// downColumns finds cells that differ in one label and add up to that of all,
// to the answer's own number, or to the rows beside them.
func (r *register) downColumns(k int, shown *answer.Answer, t answer.Table, label int) {
	for _, c := range t.Columns {
		if c.Type != answer.TypeCount {
			continue
		}
		classes := map[string][]int{}
		var order []string
		for row, values := range t.Rows {
			if _, ok := r.place[placeOf{k, t.Name, row, c.Name}]; !ok || values[label] == nil {
				continue
			}
			key := ""
			for j, v := range values {
				if s, ok := v.(string); ok && j != label && t.Columns[j].Type == answer.TypeText && t.Columns[j].Name != "place" {
					key += t.Columns[j].Name + "=" + s + "\x00"
				}
			}
			if classes[key] == nil {
				order = append(order, key)
			}
			classes[key] = append(classes[key], row)
		}
		for _, key := range order {
			var parts []int
			var wholes [][]int // a whole, with what is left to it beside the parts
			sum := 0
			for _, row := range classes[key] {
				i := r.place[placeOf{k, t.Name, row, c.Name}].cell
				if t.Rows[row][label] == "all" {
					wholes = append(wholes, []int{i})
					continue
				}
				if slices.Contains(parts, i) {
					continue
				}
				parts = append(parts, i)
				sum += r.cells[i].Count
				if beside, ok := r.place[placeOf{k, t.Name, row, "rows"}]; ok && c.Name != "rows" {
					wholes = append(wholes, []int{beside.cell})
					if gone, ok := r.place[placeOf{k, t.Name, row, "missing"}]; ok {
						wholes = append(wholes, []int{beside.cell, gone.cell})
					}
				}
			}
			if len(parts) < 2 {
				continue
			}
			for _, own := range []string{"rows", "events"} {
				if p, ok := r.place[placeOf{k, "", -1, own}]; ok {
					wholes = append(wholes, []int{p.cell})
				}
			}
			if tellsWhole(t, *tableOf(shown, t.Name), classes[key], c.Name, sum) {
				wholes = append(wholes, []int{len(r.cells)})
				r.cells = append(r.cells, entry{of: "what shares are of", by: [][]string{{"-"}}, Cell: withhold.Cell{Count: sum, Low: sum, High: sum}})
			}
			for _, w := range wholes {
				left := r.cells[w[0]].Count - sum
				for _, i := range w[1:] {
					left -= r.cells[i].Count
				}
				if left == 0 && !slices.ContainsFunc(w, func(i int) bool { return slices.Contains(parts, i) }) {
					r.relate(w[0], append(slices.Clone(parts), w[1:]...))
				}
			}
		}
	}
}

// tellsWhole reports whether the shares that go with counts are of their sum,
// and one is shown with its count, so that the sum follows from them.
func tellsWhole(t, shown answer.Table, rows []int, count string, sum int) bool {
	col := column(t, count)
	for j, c := range t.Columns {
		if c.Type != answer.TypeNumber || !strings.Contains(c.Name, "percent") && !strings.Contains(c.Name, "share") {
			continue
		}
		of, both := true, false
		for _, row := range rows {
			n, ok := countOf(t.Rows[row][col])
			share, have := t.Rows[row][j].(float64)
			if !ok || !have {
				continue
			}
			part := float64(n) / float64(sum)
			of = of && (math.Abs(share-part) < 1e-9 || math.Abs(share-100*part) < 1e-9)
			both = both || n > 0 && shown.Rows[row][col] != nil && shown.Rows[row][j] != nil
		}
		if of && both {
			return true
		}
	}
	return false
}

// alongSteps relates what is left after each step of a flow with what was
// left before and what it excludes.
func (r *register) alongSteps(k int, t answer.Table) {
	for row := 1; row < len(t.Rows); row++ {
		before, ok1 := r.place[placeOf{k, t.Name, row - 1, "rows"}]
		after, ok2 := r.place[placeOf{k, t.Name, row, "rows"}]
		gone, ok3 := r.place[placeOf{k, t.Name, row, "excluded"}]
		if ok1 && ok2 && ok3 && before.cell != after.cell && r.cells[before.cell].Count == r.cells[after.cell].Count+r.cells[gone.cell].Count {
			r.relate(before.cell, []int{after.cell, gone.cell})
		}
	}
}
