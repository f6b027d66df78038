package regress

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"

	"plybook/analysis/stats"
)

// ordinalModel is the data of a model of levels made ready, with the layout of
// its parameters: thresholds, shared coefficients, coefficients by cut.
type ordinalModel struct {
	data     OrdinalData
	cuts     int
	p        int
	most     int
	w        []float64
	total    float64
	count    []float64
	cluster  []int
	clusters int

	column, cut   []int   // of each parameter
	shared        []int   // columns with one coefficient
	sharedAt      []int   // where that stands
	apart         []int   // columns with a coefficient for each cut
	apartAt       [][]int // by cut: where those stand
	z             [][]float64
	centre, scale []float64
	span          []float64
}

// lay gives every parameter its place.
func (g *ordinalModel) lay() {
	add := func(column, cut int) int {
		g.column, g.cut = append(g.column, column), append(g.cut, cut)
		g.p++
		return g.p - 1
	}
	for k := range g.cuts {
		add(-1, k)
	}
	for j := range g.data.X {
		if g.data.Unequal == nil || !g.data.Unequal[j] {
			g.shared = append(g.shared, j)
			g.sharedAt = append(g.sharedAt, add(j, -1))
		} else {
			g.apart = append(g.apart, j)
		}
	}
	for k := range g.cuts {
		var at []int
		for _, j := range g.apart {
			at = append(at, add(j, k))
		}
		g.apartAt = append(g.apartAt, at)
	}
}

// scaleColumns centres and scales; the columns are known to vary.
func (g *ordinalModel) scaleColumns() {
	for _, c := range g.data.X {
		z := append([]float64(nil), c...)
		m := c[0]
		for range 2 {
			s := 0.0
			for i, v := range c {
				s += g.w[i] * (v - m)
			}
			m += s / g.total
		}
		ss := 0.0
		for i := range z {
			z[i] -= m
			ss += g.w[i] * z[i] * z[i]
		}
		s := math.Sqrt(ss / g.total)
		floats.Scale(1/s, z)
		g.z, g.centre, g.scale = append(g.z, z), append(g.centre, m), append(g.scale, s)
		g.span = append(g.span, floats.Max(z)-floats.Min(z))
	}
}

// start are the thresholds of the levels as they are, all coefficients 0.
func (g *ordinalModel) start() []float64 {
	out := make([]float64, g.p)
	below := 0.0
	for k := range g.cuts {
		below += g.count[k]
		out[k] = math.Log(below / (g.total - below))
	}
	return out
}

// gap is, of row i, a cut's threshold less the linear predictor.
func (g *ordinalModel) gap(b []float64, z [][]float64, i, k int) float64 {
	a := b[k]
	for s, j := range g.shared {
		a -= b[g.sharedAt[s]] * z[j][i]
	}
	for s, j := range g.apart {
		a -= b[g.apartAt[k][s]] * z[j][i]
	}
	return a
}

// logistic is the distribution function, its complement, density and the
// density's slope.
func logisticAt(a float64) (below, above, f, slope float64) {
	e := math.Exp(-math.Abs(a))
	below, above = 1/(1+e), e/(1+e)
	if a < 0 {
		below, above = above, below
	}
	f = below * above
	return below, above, f, f * (above - below)
}

// level is the chance of row i's level, and its derivatives by the gaps at the
// cuts above (u) and below (l) it: first and second.
func (g *ordinalModel) level(b []float64, z [][]float64, i, y int) (p, du, dl, duu, dll, dul float64) {
	var fu, su, fl, sl float64
	upper, lower := 1.0, 0.0
	var upperC, lowerC float64 = 0, 1 // complements
	if y < g.cuts {
		upper, upperC, fu, su = logisticAt(g.gap(b, z, i, y))
	}
	if y > 0 {
		lower, lowerC, fl, sl = logisticAt(g.gap(b, z, i, y-1))
	}
	p = upper - lower
	if upper > 0.5 && lower > 0.5 { // the same from the other end keeps its digits
		p = lowerC - upperC
	}
	if !(p > 0) {
		return p, 0, 0, 0, 0, 0
	}
	du, dl = fu/p, -fl/p
	return p, du, dl, su/p - du*du, -sl/p - dl*dl, -du * dl
}

// pieces hands over the derivative of the gap at cut k by each parameter that
// it has, for row i.
func (g *ordinalModel) pieces(z [][]float64, i, k int, do func(at int, v float64)) {
	do(k, 1)
	for s, j := range g.shared {
		do(g.sharedAt[s], -z[j][i])
	}
	for s, j := range g.apart {
		do(g.apartAt[k][s], -z[j][i])
	}
}

// rowScore adds the derivative of the log likelihood of row i.
func (g *ordinalModel) rowScore(b []float64, i int, to []float64, w float64) {
	y := g.data.Y[i]
	_, du, dl, _, _, _ := g.level(b, g.z, i, y)
	if y < g.cuts {
		g.pieces(g.z, i, y, func(at int, v float64) { to[at] += w * du * v })
	}
	if y > 0 {
		g.pieces(g.z, i, y-1, func(at int, v float64) { to[at] += w * dl * v })
	}
}

// likelihood works out value, score and observed information.
func (g *ordinalModel) likelihood(b []float64) *glmPoint {
	at := &glmPoint{beta: b, score: make([]float64, g.p), info: square(g.p)}
	vu, vl := make([]float64, g.p), make([]float64, g.p)
	var iu, il []int
	for i, y := range g.data.Y {
		p, du, dl, duu, dll, dul := g.level(b, g.z, i, y)
		if !(p > 0) {
			return at
		}
		w := g.w[i]
		at.loglik += w * math.Log(p)
		iu, il = iu[:0], il[:0]
		if y < g.cuts {
			g.pieces(g.z, i, y, func(k int, v float64) { vu[k] = v; iu = append(iu, k) })
		}
		if y > 0 {
			g.pieces(g.z, i, y-1, func(k int, v float64) { vl[k] = v; il = append(il, k) })
		}
		for _, j := range iu {
			at.score[j] += w * du * vu[j]
			row, f := at.info[j], -w*duu*vu[j]
			for _, k := range iu {
				row[k] += f * vu[k]
			}
			f = -w * dul * vu[j]
			for _, k := range il {
				row[k] += f * vl[k]
			}
		}
		for _, j := range il {
			at.score[j] += w * dl * vl[j]
			row, f := at.info[j], -w*dll*vl[j]
			for _, k := range il {
				row[k] += f * vl[k]
			}
			f = -w * dul * vl[j]
			for _, k := range iu {
				row[k] += f * vu[k]
			}
		}
	}
	_, ok := at.factor()
	at.ok = ok && !math.IsNaN(at.loglik) && !math.IsInf(at.loglik, 0)
	return at
}

// climb maximises from a start.
func (g *ordinalModel) climb(from []float64, iterations *int) (*glmPoint, error) {
	const settled = 1e-17
	at := g.likelihood(from)
	if !at.ok {
		return nil, fmt.Errorf("the information cannot be inverted: %w", stats.ErrSingular)
	}
	for range g.most {
		*iterations++
		step, gain := at.step()
		if gain < 1e-5 {
			if err := g.separated(step); err != nil {
				return nil, err
			}
		}
		var next *glmPoint
		for f := 1.0; f > 1e-9; f /= 2 {
			to := append([]float64(nil), at.beta...)
			floats.AddScaled(to, f, step)
			if x := g.likelihood(to); x.ok && x.loglik >= at.loglik-1e-13*(1+math.Abs(at.loglik)) {
				next = x
				break
			}
		}
		switch {
		case next == nil && gain < 1e-9*(1+math.Abs(at.loglik)):
			return at, nil
		case next == nil:
			if err := g.separated(step); err != nil {
				return nil, err
			}
			return nil, fmt.Errorf("no step improves the likelihood: %w", stats.ErrConvergence)
		}
		at = next
		if gain < settled*(1+math.Abs(at.loglik)) {
			return at, nil
		}
	}
	return nil, fmt.Errorf("%d iterations: %w", g.most, stats.ErrConvergence)
}

// separated names the columns through which a step still moves the predictor
// by more than a twentieth although it promises next to nothing: along it the
// likelihood has become flat.
func (g *ordinalModel) separated(step []float64) error {
	e := &SeparationError{}
	seen := map[int]bool{}
	for k, j := range g.column {
		if j >= 0 && !seen[j] && math.Abs(step[k])*g.span[j] > 0.05 {
			seen[j] = true
			e.Columns = append(e.Columns, j)
			e.Names = append(e.Names, g.data.Names[j])
		}
	}
	if len(e.Columns) == 0 {
		return nil
	}
	return e
}

// unscaled turns parameters of the scaled columns into those of the data.
func (g *ordinalModel) unscaled(b []float64) []float64 {
	rows := make([][]float64, g.p)
	for j, v := range b {
		rows[j] = []float64{v}
	}
	out := make([]float64, g.p)
	for j, r := range g.unscaledRoot(rows) {
		out[j] = r[0]
	}
	return out
}

// unscaledRoot does the same to the columns of a matrix.
func (g *ordinalModel) unscaledRoot(l [][]float64) [][]float64 {
	out := make([][]float64, g.p)
	for j := range out {
		out[j] = append([]float64(nil), l[j]...)
	}
	for s, j := range g.shared {
		floats.Scale(1/g.scale[j], out[g.sharedAt[s]])
		for k := range g.cuts {
			floats.AddScaled(out[k], g.centre[j], out[g.sharedAt[s]])
		}
	}
	for k, at := range g.apartAt {
		for s, j := range g.apart {
			floats.Scale(1/g.scale[j], out[at[s]])
			floats.AddScaled(out[k], g.centre[j], out[at[s]])
		}
	}
	return out
}

// scores is the middle matrix of CR0: the sums of score by cluster, in the
// coordinates of the root.
func (g *ordinalModel) scores(at *glmPoint) [][]float64 {
	sum := make([][]float64, g.clusters)
	for c := range sum {
		sum[c] = make([]float64, g.p)
	}
	for i, c := range g.cluster {
		g.rowScore(at.beta, i, sum[c], g.w[i])
	}
	out, q := square(g.p), make([]float64, g.p)
	for _, s := range sum {
		for j := range q {
			q[j] = 0
		}
		for j, v := range s {
			floats.AddScaled(q, v, at.root[j])
		}
		addOuter(out, 1, q)
	}
	return out
}
