package withhold

import "math"

// slack is how far a number of the simplex method may be from a whole one and
// be taken for it: counts are whole, and what is added up are few of them.
const slack = 1e-6

// solve gives the bounds of one unknown under all sums together, by linear
// programming: least and greatest value, rounded inwards to whole numbers.
// Where a part is too large for that, what single sums told stays.
func (p *part) solve(v int) (low, high int, bounded bool) {
	low, high, bounded = p.low[v], p.high[v], p.high[v] >= 0
	if len(p.sums) == 0 || len(p.sums)*(len(p.low)+len(p.sums)) > mostCells {
		return low, high, bounded
	}
	t := newTableau(p)
	if !t.begin() {
		return low, high, bounded // no solution: the sums are not those of one log
	}
	if x, ok := t.extreme(v, 1); ok {
		low = max(low, int(math.Ceil(x-slack)))
	}
	if x, ok := t.extreme(v, -1); ok {
		if h := int(math.Floor(x + slack)); !bounded || h < high {
			high, bounded = h, true
		}
	}
	return low, high, bounded
}

// mostCells is the largest tableau worked with, in numbers.
const mostCells = 4_000_000

// tableau is the simplex method for unknowns with bounds, in the dense form
// of textbooks (Chvatal V. Linear programming. New York: Freeman; 1983, chapter
// 8), with Bland's rule, so that it ends. Unknowns are measured from their
// lower bounds; behind them stands an artificial one a row.
type tableau struct {
	rows  [][]float64 // B^-1 A
	value []float64   // of the basic unknown of each row
	basic []int       // unknown of each row
	upper []float64   // of each unknown; +Inf: none
	at    []bool      // nonbasic unknowns at their upper bound
	in    []bool      // basic
	low   []int
	n     int // unknowns without the artificial ones
}

func newTableau(p *part) *tableau {
	n, m := len(p.low), len(p.sums)
	t := &tableau{n: n, low: p.low, at: make([]bool, n+m), in: make([]bool, n+m)}
	for v := range n {
		u := math.Inf(1)
		if p.high[v] >= 0 {
			u = float64(max(0, p.high[v]-p.low[v]))
		}
		t.upper = append(t.upper, u)
	}
	for k, e := range p.sums {
		row := make([]float64, n+m)
		right := float64(e.right)
		for _, x := range e.terms {
			row[x.unknown] += float64(x.sign)
			right -= float64(x.sign * p.low[x.unknown])
		}
		if right < 0 {
			right = -right
			for j := range row {
				row[j] = -row[j]
			}
		}
		row[n+k] = 1
		t.in[n+k] = true
		t.rows, t.value, t.basic = append(t.rows, row), append(t.value, right), append(t.basic, n+k)
		t.upper = append(t.upper, math.Inf(1))
	}
	return t
}

// begin finds a first solution; false where there is none.
func (t *tableau) begin() bool {
	cost := make([]float64, len(t.upper))
	for j := t.n; j < len(cost); j++ {
		cost[j] = 1
	}
	if !t.least(cost) {
		return false
	}
	for j := t.n; j < len(cost); j++ {
		if t.at[j] {
			return false
		}
		t.upper[j] = 0
	}
	for i, b := range t.basic {
		if b >= t.n && t.value[i] > slack {
			return false
		}
	}
	return true
}

// extreme is the least (sign 1) or greatest (sign -1) value of an unknown;
// false where there is none.
func (t *tableau) extreme(v int, sign float64) (float64, bool) {
	cost := make([]float64, len(t.upper))
	cost[v] = sign
	if !t.least(cost) {
		return 0, false
	}
	x := 0.0
	if t.at[v] {
		x = t.upper[v]
	}
	for i, b := range t.basic {
		if b == v {
			x = t.value[i]
		}
	}
	return x + float64(t.low[v]), true
}

const tiny = 1e-9

// least goes to the solution of least cost; false where cost falls for ever.
func (t *tableau) least(cost []float64) bool {
	for range mostPivots {
		j, up := t.entering(cost)
		if j < 0 {
			return true
		}
		if !t.move(j, up) {
			return false
		}
	}
	return false
}

// mostPivots ends a method that Bland's rule ends in any case, were it not
// for rounding.
const mostPivots = 20_000

// entering is the first unknown by which the cost falls, and whether it is to
// grow.
func (t *tableau) entering(cost []float64) (int, bool) {
	for j := range t.upper {
		if t.in[j] || t.upper[j] == 0 {
			continue
		}
		d := cost[j]
		for i, b := range t.basic {
			if cost[b] != 0 {
				d -= cost[b] * t.rows[i][j]
			}
		}
		if !t.at[j] && d < -tiny || t.at[j] && d > tiny {
			return j, !t.at[j]
		}
	}
	return -1, false
}

// move changes an unknown as far as the bounds of the others and its own let
// it; false where nothing stops it.
func (t *tableau) move(j int, up bool) bool {
	dir := 1.0
	if !up {
		dir = -1
	}
	most, leave, leaveUp := t.upper[j], -1, false
	for i, b := range t.basic {
		a := dir * t.rows[i][j] // the basic unknown falls by a for each unit
		room, atUpper := math.Inf(1), false
		switch {
		case a > tiny:
			room = t.value[i] / a
		case a < -tiny:
			room, atUpper = (t.upper[b]-t.value[i])/-a, true
		}
		room = math.Max(0, room)
		if room < most-tiny || room < most+tiny && leave >= 0 && b < t.basic[leave] {
			most, leave, leaveUp = math.Min(most, room), i, atUpper
		}
	}
	if math.IsInf(most, 1) {
		return false
	}
	for i := range t.basic {
		t.value[i] -= dir * t.rows[i][j] * most
	}
	if leave < 0 {
		t.at[j] = up
		return true
	}
	from := 0.0
	if !up {
		from = t.upper[j]
	}
	out := t.basic[leave]
	t.in[out], t.at[out] = false, leaveUp
	t.in[j], t.at[j] = true, false
	t.basic[leave], t.value[leave] = j, from+dir*most
	t.pivot(leave, j)
	return true
}

func (t *tableau) pivot(r, j int) {
	row := t.rows[r]
	f := row[j]
	for k := range row {
		row[k] /= f
	}
	row[j] = 1
	for i, other := range t.rows {
		g := other[j]
		if i == r || g == 0 {
			continue
		}
		for k, x := range row {
			if x != 0 {
				other[k] -= g * x
			}
		}
		other[j] = 0
	}
}
