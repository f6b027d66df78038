package mixed

import (
	"math"
	"sort"

	"plybook/analysis/stats"
)

// slope is the criterion as something to descend on.
func (m *layers) slope() slope { return slope{value: m.value, size: m.size} }

// size is the scale on which a coordinate of a point is judged: that of a
// relative standard deviation by itself, but no less than a tenth; logarithms
// as they are.
func (m *layers) size(t []float64, j int) float64 {
	a, b, c, _, _ := m.counts()
	if j >= a+b+c {
		return 1
	}
	return math.Max(math.Abs(t[j]), 0.1)
}

// diagonal are the coordinates that are standard deviations: those whose sign
// does not matter, each with all coordinates of its column of Lambda.
func (m *layers) diagonal() [][]int {
	var out [][]int
	a, _, _, _, _ := m.counts()
	triangle := func(from, q int) {
		if m.p.opts.Uncorrelated {
			for j := range q {
				out = append(out, []int{from + j})
			}
			return
		}
		for j := range q {
			var column []int
			for i := j; i < q; i++ {
				column = append(column, from+i*(i+1)/2+j)
			}
			out = append(out, column)
		}
	}
	triangle(0, len(m.p.z))
	_, b, c, _, _ := m.counts()
	if m.above != nil {
		triangle(a, len(m.above.z))
	}
	for k := range c {
		out = append(out, []int{a + b + k})
	}
	return out
}

// manyBlocks is the number of blocks from which on a search starts with a
// sample of them, of a third to a half of that number.
const manyBlocks = 1000

// sample is the model of some of the blocks, nil where they are few or would
// not show all kinds of rows.
func (m *layers) sample() *layers {
	if len(m.blocks) <= manyBlocks {
		return nil
	}
	out := *m
	out.kept, out.fold, out.blocks, out.rows, out.evaluations = map[string]*reduced{}, nil, nil, 0, 0
	kinds := make([]int, len(m.kinds))
	// An odd step does not keep to one side where they stand in pairs.
	step := len(m.blocks)*2/manyBlocks | 1
	for b := 0; b < len(m.blocks); b += step {
		out.blocks = append(out.blocks, m.blocks[b])
		for _, g := range m.blocks[b].groups {
			out.rows += m.p.size(g)
			if m.spread == nil {
				continue
			}
			for _, i := range m.p.rowsOf(g) {
				kinds[m.spread[i]]++
			}
		}
	}
	const fewest = 20
	for _, n := range kinds {
		if n < fewest {
			return nil
		}
	}
	out.ridge = 1e-6 * float64(out.rows) / float64(m.rows)
	return &out
}

// minimise finds the point of the smallest criterion, from the best points of
// a coarse grid, and once more from the best optimum with each component that
// came out as none opened and each other one closed, since a criterion of
// several components can have more than one valley.
//
// Of many blocks all that is done on a sample of them, which has the same
// valleys; from where it settles, components of none opened, the search goes on
// with all, and once more with each that then is none.
func (m *layers) minimise() (*layerState, int, error) {
	o := m.slope()
	columns := m.diagonal()
	var best []float64
	var found [][]float64
	value, steps := math.Inf(1), 0
	near := func(t []float64, v float64) bool {
		if v > value+1e-3 {
			return false
		}
		for _, f := range found {
			if m.close(upright(t, columns), f) {
				return true
			}
		}
		return false
	}
	try := func(t []float64) {
		t, v, n := o.quick(t, near)
		steps += n
		t = upright(t, columns)
		found = append(found, t)
		if v < value-1e-4 || best == nil {
			best, value = t, v
		}
	}
	whole := true
	if s := m.sample(); s != nil {
		if at, n, err := s.minimise(); err == nil {
			whole, steps = false, n
			t := append([]float64(nil), at.point...)
			for _, c := range columns {
				if math.Abs(t[c[0]]) < 0.01 {
					t[c[0]] = 0.1
				}
			}
			t, v, n := o.descend(t)
			best, value, steps = upright(t, columns), v, steps+n
			found = append(found, best)
		}
	}
	if whole {
		for _, t := range m.starts() {
			try(t)
		}
	}
	if math.IsInf(value, 0) {
		return nil, steps, stats.ErrConvergence
	}
	for _, c := range columns {
		t := append([]float64(nil), best...)
		switch {
		case math.Abs(t[c[0]]) < 0.01:
			t[c[0]] = 1
		case !whole:
			continue
		default:
			for _, j := range c {
				t[j] = 0
			}
		}
		try(t)
	}
	best, value, n := o.descend(best)
	steps += n
	// A component of next to nothing is none, where that costs nothing.
	for _, c := range columns {
		if v := math.Abs(best[c[0]]); v == 0 || v > 10*zero {
			continue
		}
		t := append([]float64(nil), best...)
		t[c[0]] = 0
		if t, v, n := o.descend(t); v <= value+1e-9*(1+math.Abs(value)) {
			best, value = t, v
			steps += n
		}
	}
	return m.at(upright(best, columns)), steps, nil
}

// upright turns columns of Lambda so that their diagonals are not negative.
func upright(t []float64, columns [][]int) []float64 {
	out := append([]float64(nil), t...)
	for _, c := range columns {
		if out[c[0]] < 0 {
			for _, j := range c {
				out[j] = -out[j]
			}
		}
	}
	return out
}

// close says whether two points are within the last steps of settling.
func (m *layers) close(t, f []float64) bool {
	for j := range t {
		if math.Abs(t[j]-f[j]) > 0.01*m.size(f, j) {
			return false
		}
	}
	return true
}

// starts are the two best points of a grid over the relative sizes of the
// components, those of one grouping alike, and over ranges from the shortest
// gap to the longest span, no two of them neighbours.
func (m *layers) starts() [][]float64 {
	a, b, c, d, e := m.counts()
	sizes := []float64{0.2, 0.7, 2.5, 9}
	groupings := c
	if a > 0 {
		groupings++
	}
	if b > 0 {
		groupings++
	}
	ranges := []float64{0}
	if d > 0 {
		ranges = nil
		for k := range 4 {
			ranges = append(ranges, math.Log(m.p.gap/2)+float64(k)/3*math.Log(4*m.p.span/m.p.gap))
		}
	}
	type candidate struct {
		t     []float64
		value float64
	}
	var grid []candidate
	for _, r := range ranges {
		each(groupings, len(sizes), func(index []int) {
			t := make([]float64, 0, a+b+c+d+e)
			fill := func(q int, n int) {
				if n == 0 {
					return
				}
				part := make([]float64, n)
				for j := range q {
					at := j
					if !m.p.opts.Uncorrelated {
						at = j*(j+1)/2 + j
					}
					part[at] = sizes[index[0]]
				}
				index = index[1:]
				t = append(t, part...)
			}
			fill(len(m.p.z), a)
			if m.above != nil {
				fill(len(m.above.z), b)
			}
			for range c {
				fill(1, 1)
			}
			if d > 0 {
				t = append(t, r)
			}
			t = append(t, make([]float64, e)...)
			grid = append(grid, candidate{t, m.value(t)})
		})
	}
	sort.SliceStable(grid, func(i, j int) bool { return grid[i].value < grid[j].value })
	var out [][]float64
	for _, g := range grid {
		near := false
		for _, other := range out {
			near = near || neighbours(g.t, other)
		}
		if !near && !math.IsInf(g.value, 0) && len(out) < 2 {
			out = append(out, g.t)
		}
	}
	return out
}

// steepness is the largest slope of the criterion at a point, by the size of
// the coordinates.
func (m *layers) steepness(t []float64) float64 {
	steep := 0.0
	for j, g := range m.slope().gradient(t) {
		steep = math.Max(steep, math.Abs(g)*m.size(t, j))
	}
	return steep
}
