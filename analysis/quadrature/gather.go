package quadrature

import (
	"cmp"
	"encoding/binary"
	"math"
	"slices"
	"sort"
)

// prepare scales the columns and gathers the rows; the data are known to fit
// together.
func prepare(family Family, d Data) *problem {
	g := &problem{family: family, data: d, cuts: 1, p: len(d.X)}
	if family == Ordinal {
		g.cuts = d.Levels - 1
		g.gaps = make([]float64, d.Levels)
	}
	g.dim = g.cuts + g.p + 1
	n := len(d.Y)
	z := make([]float64, n*g.p)
	g.centre, g.scale = make([]float64, g.p), make([]float64, g.p)
	for j, c := range d.X {
		m, ss := 0.0, 0.0
		for range 2 {
			s := 0.0
			for _, v := range c {
				s += v - m
			}
			m += s / float64(n)
		}
		for _, v := range c {
			ss += (v - m) * (v - m)
		}
		g.centre[j], g.scale[j] = m, math.Sqrt(ss/float64(n))
		if !(g.scale[j] > 0) {
			g.scale[j] = 1 // a column of one value is refused elsewhere
		}
		for i, v := range c {
			z[i*g.p+j] = (v - m) / g.scale[j]
		}
	}
	rows := make([]int, n)
	for i := range rows {
		rows[i] = i
	}
	slices.SortStableFunc(rows, func(a, b int) int {
		return cmp.Or(cmp.Compare(d.Group[a], d.Group[b]), slices.Compare(z[a*g.p:(a+1)*g.p], z[b*g.p:(b+1)*g.p]))
	})
	same := map[string]int{}
	var key []byte
	for lo := 0; lo < n; {
		hi := lo
		for hi < n && d.Group[rows[hi]] == d.Group[rows[lo]] {
			hi++
		}
		from := len(g.items)
		for a := lo; a < hi; {
			b := a
			for b < hi && slices.Equal(z[rows[a]*g.p:(rows[a]+1)*g.p], z[rows[b]*g.p:(rows[b]+1)*g.p]) {
				b++
			}
			g.gather(rows[a:b], z[rows[a]*g.p:(rows[a]+1)*g.p])
			a = b
		}
		key = appendKey(key[:0], g.items[from:])
		g.labels = append(g.labels, d.Group[rows[lo]])
		if k, ok := same[string(key)]; ok {
			g.items = g.items[:from]
			g.classes[k].weight++
			g.of = append(g.of, k)
		} else {
			same[string(key)] = len(g.classes)
			g.of = append(g.of, len(g.classes))
			g.classes = append(g.classes, class{lo: from, hi: len(g.items), weight: 1, rows: hi - lo})
			g.widest = max(g.widest, len(g.items)-from)
		}
		lo = hi
	}
	g.mode, g.spread = make([]float64, len(g.classes)), make([]float64, len(g.classes))
	return g
}

// gather makes items of rows of one group that have the same columns.
func (g *problem) gather(rows []int, z []float64) {
	switch g.family {
	case Logistic:
		offsets := map[float64]int{}
		from := len(g.items)
		for _, i := range rows {
			o := 0.0
			if g.data.Offset != nil {
				o = g.data.Offset[i]
			}
			k, ok := offsets[o]
			if !ok {
				k = len(g.items)
				offsets[o] = k
				g.items = append(g.items, item{offset: o, z: z})
			}
			g.items[k].n++
			g.items[k].s += g.data.Y[i]
		}
		added := g.items[from:]
		sort.Slice(added, func(a, b int) bool { return added[a].offset < added[b].offset })
	case Poisson:
		it := item{z: z}
		for _, i := range rows {
			o := 0.0
			if g.data.Offset != nil {
				o = g.data.Offset[i]
			}
			it.n += math.Exp(o)
			it.s += g.data.Y[i]
			lg, _ := math.Lgamma(g.data.Y[i] + 1)
			g.fixed += g.data.Y[i]*o - lg
		}
		g.items = append(g.items, it)
	default:
		// The chance of level y is F(a)(1-F(b))(1-e^(b-a)) for F logistic, a
		// and b its upper and lower cut less the predictor: it factors into a
		// row of 0 at the upper cut, one of 1 at the lower, and a term that
		// the predictor does not enter.
		at := make([][2]float64, g.cuts)
		for _, i := range rows {
			y := int(g.data.Y[i])
			g.gaps[y]++
			if y < g.cuts {
				at[y][0]++
			}
			if y > 0 {
				at[y-1][0]++
				at[y-1][1]++
			}
		}
		for k, v := range at {
			if v[0] > 0 {
				g.items = append(g.items, item{n: v[0], s: v[1], cut: k, z: z})
			}
		}
	}
}

// appendKey writes what makes items the same.
func appendKey(to []byte, items []item) []byte {
	put := func(v float64) { to = binary.LittleEndian.AppendUint64(to, math.Float64bits(v)) }
	for _, it := range items {
		put(it.n)
		put(it.s)
		put(it.offset)
		put(float64(it.cut))
		for _, v := range it.z {
			put(v)
		}
	}
	return to
}
