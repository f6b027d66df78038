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
	t := newTableau(p)
	if t == nil || t.col[v] < 0 {
		return low, high, bounded
	}
	if x, ok := t.extreme(v, 1, math.Inf(-1)); ok {
		low = max(low, int(math.Ceil(x-slack)))
	}
	if x, ok := t.extreme(v, -1, math.Inf(1)); ok && x < farAway/2 {
		if h := int(math.Floor(x + slack)); !bounded || h < high {
			high, bounded = h, true
		}
	}
	return low, high, bounded
}

// mostCells is the largest tableau worked with, in numbers.
const mostCells = 4_000_000

// farAway stands for a bound where there is none, far above the counts of any
// log.
const farAway = 1e9

// tableau is the simplex method for unknowns with bounds, in the dense form
// of textbooks (Chvatal V. Linear programming. New York: Freeman; 1983, chapter
// 8). Unknowns are measured from their lower bounds; those with one value left
// are put in. Behind the others stands an artificial one a row, whose column
// is not kept, since once it has left it does not come back.
type tableau struct {
	p     *part
	col   []int       // of each unknown of the part; -1: put in
	of    []int       // unknown of each column
	rows  [][]float64 // B^-1 A
	cost  []float64   // what a unit of each column costs, the basis adapting
	value []float64   // of the basic column of each row
	basic []int       // column of each row
	upper []float64   // of each column, then of each artificial one
	at    []bool      // nonbasic columns at their upper bound
	row   []int       // of basic columns; -1: not basic
}

// newTableau sets out the sums of a part with a first solution; nil where the
// part is too large, has no sums, or none was found.
func newTableau(p *part) *tableau {
	if len(p.sums) == 0 || len(p.sums)*len(p.low) > mostCells {
		return nil
	}
	t := &tableau{p: p, col: make([]int, len(p.low))}
	for v := range p.low {
		t.col[v] = -1
		if p.high[v] == p.low[v] {
			continue
		}
		t.col[v] = len(t.of)
		t.of = append(t.of, v)
		u := farAway
		if p.high[v] >= 0 {
			u = float64(max(0, p.high[v]-p.low[v]))
		}
		t.upper = append(t.upper, u)
	}
	n := len(t.of)
	t.cost, t.at, t.row = make([]float64, n), make([]bool, n), make([]int, n)
	for j := range t.row {
		t.row[j] = -1
	}
	for _, e := range p.sums {
		row := make([]float64, n)
		right, some := float64(e.right), false
		for _, x := range e.terms {
			right -= float64(x.sign * p.low[x.unknown])
			if j := t.col[x.unknown]; j >= 0 {
				row[j] += float64(x.sign)
				some = true
			}
		}
		if !some {
			continue
		}
		if right < 0 {
			right = -right
			for j := range row {
				row[j] = -row[j]
			}
		}
		for j, x := range row {
			t.cost[j] -= x // of the artificial ones, which are to go
		}
		t.basic = append(t.basic, n+len(t.rows))
		t.rows, t.value = append(t.rows, row), append(t.value, right)
		t.upper = append(t.upper, math.Inf(1))
	}
	if !t.least(func() bool { return false }) {
		return nil
	}
	for i, b := range t.basic {
		if b >= n && t.value[i] > slack {
			return nil // the sums are not those of one log
		}
	}
	for j := n; j < len(t.upper); j++ {
		t.upper[j] = 0
	}
	return t
}

// now is the value of an unknown in the solution at hand.
func (t *tableau) now(v int) float64 {
	x := float64(t.p.low[v])
	switch j := t.col[v]; {
	case j < 0:
	case t.row[j] >= 0:
		x += t.value[t.row[j]]
	case t.at[j]:
		x += t.upper[j]
	}
	return x
}

// extreme is the least (sign 1) or greatest (sign -1) value of an unknown, or
// one that goes as far as enough; false where it was not found.
func (t *tableau) extreme(v int, sign, enough float64) (float64, bool) {
	j := t.col[v]
	if j < 0 {
		return t.now(v), true
	}
	clear(t.cost)
	if r := t.row[j]; r >= 0 {
		for k, x := range t.rows[r] {
			t.cost[k] = -sign * x
		}
		t.cost[j] = 0
	} else {
		t.cost[j] = sign
	}
	ok := t.least(func() bool { return sign*t.now(v) <= sign*enough+slack/2 })
	return t.now(v), ok
}

const tiny = 1e-9

// mostPivots ends the method; from a tenth of it on Bland's rule holds, with
// which it ends in any case, were it not for rounding.
const mostPivots = 20_000

// least goes to the solution of least cost, or until one is good enough; false
// where neither was found.
func (t *tableau) least(enough func() bool) bool {
	for n := range mostPivots {
		if enough() {
			return true
		}
		j := t.entering(n < mostPivots/10)
		if j < 0 {
			return true
		}
		if !t.move(j, !t.at[j]) {
			return false
		}
	}
	return false
}

// entering is a column by which the cost falls: that by which it falls fastest,
// or the first.
func (t *tableau) entering(fastest bool) int {
	best, by := -1, tiny
	for j, d := range t.cost {
		if t.at[j] {
			d = -d
		}
		if -d <= by || t.row[j] >= 0 || t.upper[j] == 0 {
			continue
		}
		if best = j; !fastest {
			break
		}
		by = -d
	}
	return best
}

// move changes a column as far as the bounds of the others and its own let
// it; false where nothing stops it.
func (t *tableau) move(j int, up bool) bool {
	dir := 1.0
	if !up {
		dir = -1
	}
	most, leave, leaveUp := t.upper[j], -1, false
	for i, b := range t.basic {
		a := dir * t.rows[i][j] // the basic column falls by a for each unit
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
	if out := t.basic[leave]; out < len(t.of) {
		t.row[out], t.at[out] = -1, leaveUp
	}
	t.row[j], t.at[j] = leave, false
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
	take := func(from []float64) {
		g := from[j]
		if g == 0 {
			return
		}
		for k, x := range row {
			if x != 0 {
				from[k] -= g * x
			}
		}
		from[j] = 0
	}
	for i, other := range t.rows {
		if i != r {
			take(other)
		}
	}
	take(t.cost)
}
