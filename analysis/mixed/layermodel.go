package mixed

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"

	"plybook/analysis/stats"
)

// Layer is one grouping of a fitted model with what is believed of its groups.
type Layer struct {
	Name        string
	RandomNames []string
	Cov         [][]float64 // of the random effects, in the order of RandomNames
	Effects     []Effect    // in ascending order of label
}

// fitLayers finishes a model with several groupings or several sizes of
// residuals. y is the least-squares residual over its spread size.
func (m *Model) fitLayers(y, ols, residual []float64, size float64) (*Model, error) {
	p := m.p
	l, err := newLayers(p, m.f, y, size)
	if err != nil {
		return nil, err
	}
	s, steps, err := l.minimise()
	if err != nil {
		return nil, err
	}
	if l.serial {
		at := len(s.point) - 1 - max(0, len(l.kinds)-1)
		none, err := p.settleSerial(s.point[at])
		switch {
		case err != nil:
			return nil, err
		case none:
			m.warn("no-serial-correlation", noSerial, "")
			l.serial, l.kept = false, map[string]*reduced{}
			if s, steps, err = l.minimise(); err != nil {
				return nil, err
			}
		default:
			m.Range = math.Exp(s.point[at])
			m.Phi = math.Exp(-1 / m.Range)
		}
	}
	if s.rss <= 1e-22*float64(m.f.N) {
		return nil, ErrNoScatter
	}
	m.layers = l
	m.Convergence = Convergence{Steps: steps, Gradient: l.steepness(s.point), Evaluations: l.evaluations}
	if m.Convergence.Gradient > 1e-4*(1+1e-3*math.Abs(s.value)) {
		return nil, stats.ErrConvergence
	}
	m.LogLikelihood = -s.value / 2
	m.Parameters = m.f.P + len(s.point) + 1
	m.AIC = s.value + 2*float64(m.Parameters)
	m.Sigma = size * math.Sqrt(s.rss/l.free())
	m.unit = m.Sigma
	m.beta = make([]float64, m.f.P)
	for j := range m.beta {
		m.beta[j] = ols[j] + size*floats.Dot(m.f.L[j], s.gamma)
	}
	m.sat = newLayerFreedom(s)
	m.Cov = m.f.Cov(m.sat.middle(m.Sigma * m.Sigma))
	if !m.sat.known() {
		m.warnNormal()
	}
	m.layerComponents(s)
	m.layerEffects(s, size)
	m.layerShares(s, residual, size)
	return m, m.fixed()
}

// layerComponents fills the variances and says where one is none.
func (m *Model) layerComponents(s *layerState) {
	l := s.m
	inner, above, crossed := l.lambdas(s.point)
	m.Variance = nil
	add := func(p *problem, lambda [][]float64) [][]float64 {
		if len(p.z) == 0 {
			return nil
		}
		cov := m.covariance(p, lambda)
		m.listed(p, cov)
		m.singularIn(p, lambda)
		return cov
	}
	m.RandomCov = add(l.p, inner)
	if len(l.p.z) > 0 {
		m.Layers = append(m.Layers, Layer{Name: l.p.data.GroupName, RandomNames: l.p.rnames, Cov: m.RandomCov})
	}
	if l.above != nil {
		m.Layers = append(m.Layers, Layer{Name: l.above.data.GroupName, RandomNames: l.above.rnames, Cov: add(l.above, above)})
	}
	for k, c := range l.p.data.Crossed {
		v := crossed[k] * m.Sigma
		m.Variance = append(m.Variance, Component{Group: c.Name, Term: "intercept", Variance: v * v, SD: math.Abs(v)})
		m.Layers = append(m.Layers, Layer{Name: c.Name, RandomNames: []string{"intercept"}, Cov: [][]float64{{v * v}}})
		if math.Abs(crossed[k]) <= zero {
			m.Singular = true
			m.warn("singular", noneBetween(c.Name), c.Name)
		}
	}
	_, logs := l.residual(s.point)
	if logs == nil {
		m.Variance = append(m.Variance, Component{Group: "residual", Variance: m.Sigma * m.Sigma, SD: m.Sigma})
		return
	}
	for k, v := range logs {
		sd := m.Sigma * math.Exp(v)
		m.Spread = append(m.Spread, Scatter{Kind: l.kinds[k], SD: sd})
		m.Variance = append(m.Variance, Component{Group: "residual", Variance: sd * sd, SD: sd})
	}
	// One number for all: the root of the mean variance over the rows.
	mean := 0.0
	for _, k := range l.spread {
		m.Spread[k].Rows++
		mean += m.Spread[k].SD * m.Spread[k].SD / float64(len(l.spread))
	}
	m.Sigma = math.Sqrt(mean)
}

// Scatter is the residual standard deviation of one kind of rows.
type Scatter struct {
	Kind int // label in Data.Spread
	SD   float64
	Rows int
}

// belief is what is believed of a set of random or fixed effects: their
// values and their covariance for a residual variance of 1.
type belief struct {
	at  []float64
	cov [][]float64
}

// topBelief is that of the crossed effects and the coordinates of the fixed
// ones. With given the fixed effects are taken as known.
func (s *layerState) topBelief(given bool) (belief, bool) {
	c, p := len(s.crossed), s.m.f.P
	n := c + p
	full := square(n)
	for j := range n {
		for k := range j + 1 {
			v := s.top[j][k]
			if j < c {
				v *= s.crossed[j]
			}
			if k < c {
				v *= s.crossed[k]
			}
			full[j][k] = v
		}
		if j < c {
			full[j][j]++
		}
	}
	b := belief{at: make([]float64, n), cov: square(n)}
	known := n // how many are uncertain
	right := make([]float64, n)
	for j := range n {
		right[j] = s.top[n][j]
		if j < c {
			right[j] *= s.crossed[j]
		}
	}
	whole := square(n)
	for j := range full {
		copy(whole[j], full[j])
	}
	if !cholesky(whole) {
		return b, false
	}
	lower(whole, right)
	upper(whole, right)
	copy(b.at, right)
	if given {
		known = c
	}
	part := square(known)
	for j := range part {
		copy(part[j], full[j][:known])
	}
	if !cholesky(part) {
		return b, false
	}
	for j := range known {
		e := make([]float64, known)
		e[j] = 1
		lower(part, e)
		upper(part, e)
		copy(b.cov[j], e)
	}
	for j := range c { // from spherical to natural effects
		b.at[j] *= s.crossed[j]
		for k := range n {
			b.cov[j][k] *= s.crossed[j]
			b.cov[k][j] *= s.crossed[j]
		}
	}
	return b, true
}

// of picks some of the effects.
func (b belief) of(which []int) belief {
	out := belief{at: make([]float64, len(which)), cov: square(len(which))}
	for j, a := range which {
		out.at[j] = b.at[a]
		for k, c := range which {
			out.cov[j][k] = b.cov[a][c]
		}
	}
	return out
}

// below joins the effects of one group to those that it hangs on. l and w are
// what eliminate returns of it: w has the effects that it hangs on and, last,
// the response. The group's natural effects stand first in what is returned.
func (b belief) below(l, w, lambda [][]float64) belief {
	q, n := len(l), len(b.at)
	out := belief{at: make([]float64, q+n), cov: square(q + n)}
	u := append([]float64(nil), w[n]...)
	for j, v := range b.at {
		floats.AddScaled(u, -v, w[j])
	}
	upper(l, u)
	half := square(q) // Lambda L^-T
	for i := range q {
		for j := range q {
			out.at[i] += lambda[i][j] * u[j]
		}
		copy(half[i], lambda[i])
		lower(l, half[i])
	}
	copy(out.at[q:], b.at)
	// pull is half W', which says how the group's effects move with the rest.
	pull := make([][]float64, q)
	for i := range q {
		pull[i] = make([]float64, n)
		for j := range n {
			pull[i][j] = floats.Dot(half[i], w[j])
		}
	}
	for j := range n {
		copy(out.cov[q+j][q:], b.cov[j])
		for i := range q {
			v := -floats.Dot(pull[i], b.cov[j])
			out.cov[i][q+j], out.cov[q+j][i] = v, v
		}
	}
	for i := range q {
		for k := range q {
			out.cov[i][k] = floats.Dot(half[i], half[k])
			for j := range n {
				out.cov[i][k] -= pull[i][j] * out.cov[q+j][k]
			}
		}
	}
	return out
}

// partOut is eliminate for one group.
func (pt groupPart) partOut(lambda [][]float64, width int) (l, w [][]float64, ok bool) {
	q := len(lambda)
	s := square(q + width)
	for a := range pt.k {
		r, lead := pt.r[a*q:(a+1)*q], pt.lead[a*width:(a+1)*width]
		for j := range q {
			floats.AddScaled(s[j][:q], r[j], r)
		}
		for c, v := range lead {
			floats.AddScaled(s[q+c][:q], v, r)
		}
	}
	l, w, _, ok = eliminate(s, lambda)
	return l, w, ok
}

// layerEffects fills what is believed of the groups of every grouping.
func (m *Model) layerEffects(s *layerState, size float64) {
	l := s.m
	inner, above, _ := l.lambdas(s.point)
	red := l.reduce(s.point)
	sigma := size * math.Sqrt(s.rss/l.free())
	groups := make([]Effect, l.p.count())
	var persons []Effect
	if l.above != nil {
		persons = make([]Effect, l.above.count())
	}
	crossed := make([][]Effect, len(l.cross))
	write := func(to *Effect, p *problem, b belief, all bool) {
		back := p.back()
		q := len(p.z)
		se := make([]float64, q)
		for j := range q {
			v := 0.0
			for i := range q {
				v += back[j][i] * floats.Dot(b.cov[i][:q], back[j])
			}
			se[j] = sigma * math.Sqrt(math.Max(0, v))
		}
		if all {
			to.SEAll = se
			return
		}
		to.SE, to.Mode = se, make([]float64, q)
		for j := range q {
			to.Mode[j] = size * floats.Dot(back[j], b.at[:q])
		}
	}
	for _, given := range []bool{true, false} {
		top, ok := s.topBelief(given)
		if !ok {
			continue
		}
		for k := range crossed {
			if given {
				crossed[k] = make([]Effect, len(l.names[k]))
			}
			for v := range crossed[k] {
				at := l.first[k] + v
				e := &crossed[k][v]
				se := []float64{sigma * math.Sqrt(math.Max(0, top.cov[at][at]))}
				if given {
					e.Group, e.Mode, e.SE = l.names[k][v], []float64{size * top.at[at]}, se
					for _, c := range l.cross[k] {
						if c == v {
							e.Rows++
						}
					}
				} else {
					e.SEAll = se
				}
			}
		}
		for b, rb := range red.blocks {
			place := l.place(b)
			parent := top.of(place[:len(place)-1])
			if above != nil {
				sum, _, ok := rb.groupsOut(inner)
				if !ok {
					continue
				}
				la, wa, _, ok := eliminate(sum, above)
				if !ok {
					continue
				}
				parent = parent.below(la, wa, above)
				persons[b].Group, persons[b].Rows = l.above.labels[b], l.above.size(b)
				write(&persons[b], l.above, parent, !given)
			}
			if len(inner) == 0 {
				continue
			}
			for k, pt := range rb.parts {
				g := l.blocks[b].groups[k]
				lg, wg, ok := pt.partOut(inner, len(rb.rest))
				if !ok {
					continue
				}
				groups[g].Group, groups[g].Rows = l.p.labels[g], l.p.size(g)
				write(&groups[g], l.p, parent.below(lg, wg, inner), !given)
			}
		}
	}
	all := crossed
	if l.above != nil {
		all = append([][]Effect{persons}, all...)
	}
	if len(inner) > 0 {
		m.Effects = groups
		all = append([][]Effect{groups}, all...)
	}
	for k := range m.Layers {
		m.Layers[k].Effects = all[k]
	}
}

// layerShares fills the shares of the variance. residual is that of least
// squares.
func (m *Model) layerShares(s *layerState, residual []float64, size float64) {
	l := s.m
	n := m.Rows
	said := make([]float64, n) // by the fixed effects
	for i, y := range m.p.data.Y {
		said[i] = y - residual[i]
		for k, q := range m.f.Q {
			said[i] += size * s.gamma[k] * q[i]
		}
	}
	between, rest := 0.0, 0.0 // mean variances over the rows: of the nested groupings, of the crossed ones
	at := 0
	nested := func(p *problem) float64 {
		sum, cov := 0.0, m.Layers[at].Cov
		at++
		z := make([]float64, len(p.z))
		for i := range n {
			for j, c := range p.z {
				z[j] = 1
				if c != nil {
					z[j] = c[i]
				}
			}
			for j := range z {
				sum += z[j] * floats.Dot(cov[j], z) / float64(n)
			}
		}
		return math.Max(sum, 0)
	}
	if len(l.p.z) > 0 {
		between += nested(l.p)
	}
	if l.above != nil {
		v := nested(l.above)
		between += v
		m.ICCAbove = v
	}
	for range l.cross {
		rest += m.Layers[at].Cov[0][0]
		at++
	}
	mean, fixed := floats.Sum(said)/float64(n), 0.0
	for _, v := range said {
		fixed += (v - mean) * (v - mean) / float64(n-1)
	}
	random, scatter := between+rest, m.Sigma*m.Sigma
	m.ICC = between / (random + scatter)
	m.ICCAbove /= random + scatter
	m.R2Marginal = fixed / (fixed + random + scatter)
	m.R2Conditional = (fixed + random) / (fixed + random + scatter)
}

// layerFitted adds what is believed of every grouping to the values of rows.
func (m *Model) layerFitted(out []float64) {
	l, at := m.layers, 0
	nested := func(p *problem) {
		for g := range p.count() {
			for _, i := range p.rowsOf(g) {
				for j, c := range p.z {
					v := m.Layers[at].Effects[g].Mode[j]
					if c != nil {
						v *= c[i]
					}
					out[i] += v
				}
			}
		}
		at++
	}
	if len(l.p.z) > 0 {
		nested(l.p)
	}
	if l.above != nil {
		nested(l.above)
	}
	for _, levels := range l.cross {
		for i, v := range levels {
			out[i] += m.Layers[at].Effects[v].Mode[0]
		}
		at++
	}
}

// noneBetween says that a grouping has a variance of zero.
func noneBetween(group string) string {
	return fmt.Sprintf("The data show no more variation between %ss than measurement scatter would give: the variance between them is estimated as zero.", group)
}
