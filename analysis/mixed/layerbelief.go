package mixed

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

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
	return new(folder).eliminate(s, lambda, &logProduct{v: 1})
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
			place := l.blocks[b].place
			parent := top.of(place[:len(place)-1])
			if above != nil {
				f := new(folder)
				sum, ok := f.groupsOut(&rb, inner, &logProduct{v: 1})
				if !ok {
					continue
				}
				la, wa, ok := f.eliminate(sum, above, &logProduct{v: 1})
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
