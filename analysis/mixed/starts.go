package mixed

import (
	"math"
	"sort"

	"gonum.org/v1/gonum/floats"
)

// many is the number of groups above which a search starts on a sample, of
// about half as many.
const many = 4096

// sample is the objective of an evenly spread part of many groups, nil where
// they are few. Sums over what is orthogonal to the random effects, and the
// number of rows, are taken to be the same part of the whole: the search ends
// with all groups.
func (o *objective) sample() *objective {
	groups := o.p.count()
	if o.serial || o.few || groups <= many {
		return nil
	}
	// An odd step does not keep to one side where limbs stand in pairs.
	step := groups/(many/2) | 1
	c := o.criterion(0)
	s := *c
	s.numbers, s.ranks, s.rank = nil, nil, 0
	for _, l := range c.lots {
		c.parts(l, func(g int, pt part) {
			if g%step != 0 {
				return
			}
			s.numbers = append(append(append(s.numbers, pt.r...), pt.x...), pt.y...)
			s.ranks = append(s.ranks, uint16(pt.k))
			s.rank += pt.k
		})
	}
	s.lots = lots(len(s.ranks))
	at := 0
	for k := range s.lots {
		s.lots[k].at = at
		for _, rank := range s.ranks[s.lots[k].from:s.lots[k].to] {
			at += int(rank) * (s.q + s.p + 1)
		}
	}
	part := float64(len(s.ranks)) / float64(groups)
	s.n = int(part * float64(c.n))
	s.free = part*float64(c.n) - (float64(c.n) - c.free)
	s.syy = part * c.syy
	s.sxx, s.sxy = square(c.p), make([]float64, c.p)
	floats.AddScaled(s.sxy, part, c.sxy)
	for j := range s.sxx {
		floats.AddScaled(s.sxx[j], part, c.sxx[j])
		// A column may be zero in all groups of the sample.
		s.sxx[j][j] += 1e-6 * part
	}
	return &objective{p: o.p, f: o.f, few: true, kept: map[float64]*criterion{0: &s}}
}

// starts are moment estimates and the three best points of a grid over the
// relative sizes of the random effects and ranges from the shortest gap to
// the longest span, no two of them neighbours, so that they do not all lie in
// one valley.
func (o *objective) starts() [][]float64 {
	c0 := o.criterion(o.firstRange())
	sizes := []float64{0.1, 0.3, 1, 3, 10, 30}
	if c0.q > 2 {
		sizes = []float64{0.1, 1, 10, 50}
	}
	ranges := []float64{0}
	if o.serial {
		ranges = nil
		for k := range 6 {
			ranges = append(ranges, o.firstRange()+float64(k)/5*math.Log(4*o.p.span/o.p.gap))
		}
	}
	type point struct {
		t     []float64
		value float64
	}
	var grid []point
	for _, r := range ranges {
		c := o.criterion(r)
		each(c.q, len(sizes), func(index []int) {
			l := square(c.q)
			for j := range l {
				l[j][j] = sizes[index[j]]
			}
			t := c.gather(l)
			if o.serial {
				t = append(t, r)
			}
			grid = append(grid, point{t, o.at(t).value})
		})
	}
	sort.SliceStable(grid, func(a, b int) bool { return grid[a].value < grid[b].value })
	var out [][]float64
	for _, t := range c0.moments() {
		if o.serial {
			t = append(t, grid[0].t[len(t)])
		}
		out = append(out, t)
	}
	most := len(out) + 3
	for _, p := range grid {
		near := false
		for _, other := range out {
			near = near || neighbours(p.t, other)
		}
		if !near && !math.IsInf(p.value, 0) && len(out) < most {
			out = append(out, p.t)
		}
	}
	return out
}

// moments are starts from the groups' own least-squares effects: the median
// of the square of each, against the scatter within groups, by itself and
// with what that scatter alone would give taken off. They find the narrow
// valleys of effects that are large and nearly cancel. Nothing where no group
// has an estimate of every effect.
func (c *criterion) moments() [][]float64 {
	if c.q == 0 || c.n <= c.rank {
		return nil
	}
	s2 := c.syy / float64(c.n-c.rank)
	raw, net := make([][]float64, c.q), make([][]float64, c.q)
	effects := func(_ int, pt part) {
		if pt.k < c.q {
			return
		}
		// R is upper triangular: b = R^-1 y, noise of b_j is s2 |row j of R^-1|^2.
		b := append([]float64(nil), pt.y...)
		inv := square(c.q)
		for j := c.q - 1; j >= 0; j-- {
			inv[j][j] = 1
			for m := j + 1; m < c.q; m++ {
				b[j] -= pt.r[j*c.q+m] * b[m]
				floats.AddScaled(inv[j], -pt.r[j*c.q+m], inv[m])
			}
			b[j] /= pt.r[j*c.q+j]
			floats.Scale(1/pt.r[j*c.q+j], inv[j])
		}
		for j, v := range b {
			raw[j] = append(raw[j], v*v/s2)
			net[j] = append(net[j], v*v/s2-floats.Dot(inv[j], inv[j]))
		}
	}
	for _, l := range c.lots {
		c.parts(l, effects)
	}
	var out [][]float64
	for _, squares := range [][][]float64{raw, net} {
		l := square(c.q)
		for j, v := range squares {
			if len(v) == 0 {
				return nil
			}
			sort.Float64s(v)
			// The median of a squared normal is 0.455 of its mean.
			l[j][j] = math.Sqrt(math.Min(math.Max(v[len(v)/2]/0.455, 1e-2), 1e8))
		}
		out = append(out, c.gather(l))
	}
	return out
}

// firstRange is the shortest log range of the grid, 0 without correlation.
func (o *objective) firstRange() float64 {
	if !o.serial {
		return 0
	}
	return math.Log(o.p.gap / 2)
}

// each calls fn with every choice of one of k values for each of the first
// three of q places; places after the third follow it, which keeps the number
// of choices in hand.
func each(q, k int, fn func([]int)) {
	free := min(q, 3)
	total := 1
	for range free {
		total *= k
	}
	for n := range total {
		index := make([]int, q)
		for j, m := 0, n; j < q; j++ {
			if j < free {
				index[j], m = m%k, m/k
			} else {
				index[j] = index[free-1]
			}
		}
		fn(index)
	}
}

// neighbours says whether no coordinate of two grid points is more than about
// one step of the finer grid apart.
func neighbours(a, b []float64) bool {
	for j := range a {
		if math.Abs(a[j]-b[j]) > 2.5*math.Min(math.Abs(a[j]), math.Abs(b[j])) && a[j] != b[j] {
			return false
		}
	}
	return true
}
