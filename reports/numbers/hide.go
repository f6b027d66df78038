package numbers

import (
	"slices"
	"strings"

	"plybook/reports/answer"
	"plybook/reports/figure"
)

// HideSmall returns the answers with every count of 1 to below-1 withheld,
// and with it what the count could be worked out from; the answers given are
// not changed. With below 0 or 1 nothing is withheld. A withheld value is
// nil in its table and named in Hidden.
//
// The rule, table by table:
//
//  1. A cell of a count column (persons, sockets, visits, events) that holds
//     1 to below-1 is withheld. Zero is shown.
//  2. In a row with a withheld count every measured number goes too (percent,
//     cumulative percent, estimate, interval), since the count could be
//     worked out from it. What only says where the row stands (time, until,
//     quantile, phase and the like) stays. In the table fit only those go
//     that come from counts alone: the log-likelihood without terms, rates
//     and shares.
//  3. Where exactly one cell of a count column was withheld and the column's
//     sum is known, the next smallest count is withheld as well, with its
//     row as in 2. The sum is known where the table has a total row, where
//     it shows shares, or where another number of the answer equals it. If
//     nothing else can be withheld, the total is. Zero never serves: it
//     would not hide anything.
//  4. Cumulative shares leave a trail: where one is withheld, all of that
//     column are.
//  5. Curves (tables with time, at_risk, events and censored) are kept only
//     at times between which each kind of ending either did not happen or
//     happened at least below times, with at least below at risk: each step
//     between would be one person's day. Times that were asked for (table
//     at_times) are chosen first. Elsewhere all but group, cause and time is
//     withheld.
//  6. In a flow (table steps) an exclusion that stands for few is withheld
//     with others, and with the numbers left between them, until those
//     withheld together come to at least below.
//
// An answer's own number of rows or events that stands for few is withheld
// too: see WriteJSON.
func HideSmall(answers []answer.Answer, below int) []answer.Answer {
	return Hide(answers, below, nil)
}

// Hide is HideSmall with counts that are withheld for the sake of others: they
// are treated as small ones. Where also is not nil it is Together that says
// what goes with small counts, in place of the third rule, so that the page
// and the numbers withhold the same.
func Hide(answers []answer.Answer, below int, also answer.Withheld) []answer.Answer {
	out := make([]answer.Answer, len(answers))
	for i, a := range answers {
		out[i] = hideAnswer(a, below, also[a.ID], also != nil)
	}
	return out
}

func hideAnswer(a answer.Answer, below int, also map[int]answer.How, together bool) answer.Answer {
	if below <= 1 || a.Error != nil {
		return a
	}
	h := hider{below: below, also: also, together: together, a: &a, known: map[int]bool{}}
	tables := make([]answer.Table, len(a.Tables))
	for i, t := range a.Tables {
		rows := make([][]any, len(t.Rows))
		for k, r := range t.Rows {
			rows[k] = slices.Clone(r)
		}
		tables[i] = answer.Table{Name: t.Name, Columns: t.Columns, Rows: rows}
	}
	a.Tables = tables
	a.Hidden = slices.Clone(a.Hidden)
	h.totals()
	for _, n := range []struct {
		name  string
		value int
		use   bool
	}{{"rows", a.Rows, true}, {"events", a.Events, a.HasEvents}} {
		if n.use && h.small(n.value) && !withheld(a, n.name) {
			a.Hidden = append(a.Hidden, answer.HiddenCell{Row: -1, Column: n.name})
		}
	}
	h.curves()
	for i := range a.Tables {
		t := &a.Tables[i]
		switch {
		case isCurve(*t):
		case t.Name == "steps":
			h.steps(t)
		default:
			h.table(t)
		}
	}
	return a
}

type hider struct {
	below int
	also  map[int]answer.How // counts withheld for the sake of other answers
	// together: what goes with small counts is in also
	together bool
	a        *answer.Answer
	known    map[int]bool // counts shown elsewhere in the answer
}

// few says whether a count stands for few people, small whether it is to be
// withheld for that or for another reason.
func (h *hider) few(n int) bool { return n > 0 && n < h.below }

func (h *hider) small(n int) bool { return h.few(n) || h.also[n] != answer.Told }

// totals gathers the counts that a column's sum may be compared with.
func (h *hider) totals() {
	know := func(n int) {
		if h.also[n] == answer.Told {
			h.known[n] = true
		}
	}
	know(h.a.Rows)
	if h.a.HasEvents {
		know(h.a.Events)
	}
	for _, t := range h.a.Tables {
		for j, c := range t.Columns {
			if c.Type != answer.TypeCount {
				continue
			}
			for _, r := range t.Rows {
				if n, ok := countOf(r[j]); ok && n >= h.below {
					know(n)
				}
			}
		}
	}
}

func countOf(v any) (int, bool) {
	switch x := v.(type) {
	case int:
		return x, true
	case int64:
		return int(x), true
	case float64:
		return int(x), x == float64(int(x))
	}
	return 0, false
}

// drop withholds one cell.
func (h *hider) drop(t *answer.Table, row, col int) {
	if t.Rows[row][col] == nil {
		return
	}
	t.Rows[row][col] = nil
	h.a.Hidden = append(h.a.Hidden, answer.HiddenCell{Table: t.Name, Row: row, Column: t.Columns[col].Name})
}

// places are numbers that say where a row stands, not what was found.
var places = []string{"time", "until", "quantile", "left", "right", "phase", "period", "station_mm", "day", "date", "x", "df"}

// fromCounts reports whether a number of a row can give a count away.
func fromCounts(table string, c answer.Column) bool {
	if c.Type != answer.TypeNumber || slices.Contains(places, c.Name) {
		return false
	}
	if table != "fit" {
		return true
	}
	for _, part := range []string{"log_likelihood_null", "percent", "share", "rate", "per_", "prevalence"} {
		if strings.Contains(c.Name, part) {
			return true
		}
	}
	return false
}

// dropCount withholds a count and what in its row it could be worked out
// from.
func (h *hider) dropCount(t *answer.Table, row, col int) {
	n, _ := countOf(t.Rows[row][col])
	h.drop(t, row, col)
	for j := range t.Columns {
		if tells(*t, col, j, h.few(n)) {
			h.drop(t, row, j)
		}
	}
}

// tells reports whether a number of a row can give a count of it away, which
// stands for few or not.
func tells(t answer.Table, count, number int, few bool) bool {
	if !few && t.Columns[count].Name == "rows" && overTime(t) {
		return false
	}
	return fromCounts(t.Name, t.Columns[number])
}

// goesWith is how many numbers of a row go with a count that is withheld.
func goesWith(t answer.Table, row, count int, few bool) int {
	n := 0
	for j := range t.Columns {
		if tells(t, count, j, few) && t.Rows[row][j] != nil {
			n++
		}
	}
	return n
}

// overTime reports whether the numbers of a table are events and time watched
// against each other, so that how many rows there are does not follow from
// them.
func overTime(t answer.Table) bool {
	return slices.ContainsFunc(t.Columns, func(c answer.Column) bool { return strings.HasSuffix(c.Name, "years") })
}

func isTotal(t answer.Table, r []any) bool {
	for j, c := range t.Columns {
		if c.Type != answer.TypeText {
			continue
		}
		s, _ := r[j].(string)
		switch strings.ToLower(s) {
		case "total", "all", "overall", "together":
			return true
		}
	}
	return false
}

func (h *hider) table(t *answer.Table) {
	type column struct {
		col  int
		was  []int // the counts before anything was withheld; -1: none
		sums bool
	}
	var columns []column
	shares, cumulative := false, -1
	for j, c := range t.Columns {
		shares = shares || strings.Contains(c.Name, "percent") || strings.Contains(c.Name, "share")
		if strings.HasPrefix(c.Name, "cumulative_") {
			cumulative = j
		}
		if c.Type != answer.TypeCount {
			continue
		}
		k := column{col: j}
		sum, totals := 0, 0
		for _, r := range t.Rows {
			n, ok := countOf(r[j])
			if !ok {
				n = -1
			}
			k.was = append(k.was, n)
			switch {
			case n < 0:
			case isTotal(*t, r):
				totals++
			default:
				sum += n
			}
		}
		k.sums = shares || totals > 0 && totals < len(t.Rows) || h.known[sum]
		columns = append(columns, k)
	}
	for _, k := range columns {
		for i, n := range k.was {
			if h.small(n) {
				h.dropCount(t, i, k.col)
			}
		}
	}
	// One column's second cell is in a row of the others: go round until
	// nothing more is to be withheld.
	for again := !h.together; again; {
		again = false
		for _, k := range columns {
			if !k.sums {
				continue
			}
			gone, next, total := 0, -1, -1
			for i, n := range k.was {
				switch {
				case n < 0:
				case t.Rows[i][k.col] == nil:
					gone++
				case isTotal(*t, t.Rows[i]):
					total = i
				case n > 0 && (next < 0 || n < k.was[next]):
					next = i
				}
			}
			if gone != 1 {
				continue
			}
			if next < 0 {
				next = total
			}
			if next >= 0 {
				h.dropCount(t, next, k.col)
				again = true
			}
		}
	}
	if cumulative < 0 {
		return
	}
	for i := range t.Rows {
		if t.Rows[i][cumulative] == nil {
			for k := range t.Rows {
				h.drop(t, k, cumulative)
			}
			return
		}
	}
}

// steps withholds exclusions in a flow.
func (h *hider) steps(t *answer.Table) {
	rows, excluded := -1, -1
	for j, c := range t.Columns {
		switch c.Name {
		case "rows":
			rows = j
		case "excluded":
			excluded = j
		}
	}
	if rows < 0 || excluded < 0 || len(t.Rows) == 0 {
		h.table(t)
		return
	}
	var out []int
	shown := []bool{false} // before the first step nothing is printed
	for _, r := range t.Rows {
		e, _ := countOf(r[excluded])
		n, ok := countOf(r[rows])
		out = append(out, e)
		shown = append(shown, ok && !h.small(n))
	}
	hide, keep := figure.MaskExclusions(out, shown, h.below)
	for i := range t.Rows {
		if hide[i] {
			h.dropCount(t, i, excluded)
		}
		if !keep[i+1] {
			h.dropCount(t, i, rows)
		}
	}
}
