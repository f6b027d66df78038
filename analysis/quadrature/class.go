package quadrature

import "math"

// class adds the integral of one class of groups to a point, with its
// derivatives.
func (g *problem) class(c int, r rule, s *scratch, to *point) {
	if !to.ok {
		return
	}
	cl := g.classes[c]
	items := g.items[cl.lo:cl.hi]
	theta := to.theta
	beta, sigma := theta[g.cuts:g.cuts+g.p], theta[g.dim-1]
	for j := range items {
		x := items[j].offset + theta[items[j].cut]
		for k, b := range beta {
			x += b * items[j].z[k]
		}
		s.base[j] = x
	}
	m, ok := g.findMode(items, s.base, sigma, g.mode[c])
	if !ok {
		to.ok = false
		return
	}
	// The scale is 1/sqrt(-g'), g being the derivative of the integrand's
	// logarithm by u.
	var f1, f2, f3 float64
	for j, it := range items {
		a1, a2, a3 := g.cumulant(s.base[j] + sigma*m)
		s.f1[j], s.f2[j], s.f3[j] = it.s-it.n*a1, -it.n*a2, -it.n*a3
		f1 += s.f1[j]
		f2 += s.f2[j]
		f3 += s.f3[j]
	}
	spread := 1 / math.Sqrt(1-sigma*sigma*f2)
	g.mode[c], g.spread[c] = m, spread
	for k, z := range r.z {
		s.u[k] = m + math.Sqrt2*spread*z
	}
	g.nodesOf(items, sigma, s)
	top := math.Inf(-1)
	for k, u := range s.u {
		s.t[k] += r.logw[k] - u*u/2
		top = max(top, s.t[k])
	}
	total := 0.0
	for k, t := range s.t {
		s.t[k] = math.Exp(t - top)
		total += s.t[k]
	}
	if !(total > 0) || math.IsInf(top, 0) {
		to.ok = false
		return
	}
	to.ll += cl.weight * (top + math.Log(total) + math.Log(spread) - math.Log(math.Pi)/2)
	var move, stretch float64 // by how much the sum changes with mode and scale
	for k := range s.t {
		s.t[k] /= total
		if s.t[k] < 1e-40 { // where derivatives may have run over
			s.t[k] = 0
			continue
		}
		q := sigma*s.sum[k] - s.u[k]
		move += s.t[k] * q
		stretch += s.t[k] * q * math.Sqrt2 * r.z[k]
	}
	stretch += 1 / spread
	g.derivatives(cl, s, to, sigma, m, spread, f1, f2, f3, move, stretch)
}

// derivatives adds those of one class. Mode m and scale v move with the
// parameters: dm = v^2 dg, dv = v^3/2 of what its slope changes by, g being the derivative of
// the integrand's logarithm by u.
func (g *problem) derivatives(cl class, s *scratch, to *point, sigma, m, v, f1, f2, f3, move, stretch float64) {
	items := g.items[cl.lo:cl.hi]
	w := len(items)
	curve := sigma * sigma * sigma * f3 // the second derivative of the slope
	byG, byCurve := v*v*(move+stretch*v*v*v/2*curve), stretch*v*v*v/2
	weight := cl.weight
	last := g.dim - 1
	for j := range items {
		s.row[j], s.two[j] = 0, 0
	}
	clear(s.mean)
	cross := 0.0
	for k, p := range s.t {
		if p == 0 {
			continue
		}
		first, second := s.first[k*w:(k+1)*w], s.second[k*w:(k+1)*w]
		clear(s.score)
		u := s.u[k]
		curved := 0.0
		for j := range items {
			it := &items[j]
			d := first[j]
			s.score[it.cut] += d
			for a, z := range it.z {
				s.score[g.cuts+a] += d * z
			}
			s.row[j] += p * second[j]
			s.two[j] += p * u * second[j]
			curved += second[j]
		}
		s.score[last] = u * s.sum[k]
		cross += p * u * u * curved
		for a, x := range s.score {
			if x == 0 {
				continue
			}
			s.mean[a] += p * x
			x *= p * weight
			row := to.info[a]
			for b := a; b <= last; b++ {
				row[b] -= x * s.score[b]
			}
		}
	}
	for a, x := range s.mean {
		to.grad[a] += weight * x
		row := to.info[a]
		for b := a; b <= last; b++ {
			row[b] += weight * x * s.mean[b]
		}
	}
	for j := range items {
		it := &items[j]
		d := weight * (byG*sigma*s.f2[j] + byCurve*sigma*sigma*s.f3[j])
		h, hu := weight*s.row[j], weight*s.two[j]
		c := it.cut
		to.grad[c] += d
		to.info[c][c] += h
		to.info[c][last] += hu
		row := to.info[c]
		for a, z := range it.z {
			at := g.cuts + a
			to.grad[at] += d * z
			row[at] += h * z
			to.info[at][last] += hu * z
			x, below := h*z, to.info[at]
			for b := a; b < len(it.z); b++ {
				below[g.cuts+b] += x * it.z[b]
			}
		}
	}
	to.info[last][last] += weight * cross
	to.grad[last] += weight * (byG*(f1+sigma*m*f2) + byCurve*(2*sigma*f2+sigma*sigma*m*f3))
}
