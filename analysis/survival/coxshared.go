package survival

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"plybook/analysis/stats"
)

// sharedCox is a Cox model in which the rows of a group share a random
// effect u. Vectors hold the coefficients of the p scaled columns first, then
// the effect of each group.
type sharedCox struct {
	e      *coxEach
	dist   Frailty
	p      int // columns; 0: none but the random effect
	groups int
	group  []int32   // of each row
	events []float64 // of each group
	max    int       // steps
}

// sharedPoint is the penalised log likelihood at a vector.
type sharedPoint struct {
	x        []float64
	each     *coxEachPoint
	value    float64   // log partial likelihood less the penalty
	gradient []float64 // of value
	bend     []float64 // of each group: the second derivative of the penalty
}

// predictor is the linear predictor of each row.
func (s *sharedCox) predictor(x []float64) []float64 {
	m := s.e.m
	eta := make([]float64, m.n)
	for i := range eta {
		eta[i] = m.offset(i)
	}
	s.spread(x, eta)
	return eta
}

// spread adds to v, one number a row, the columns times the coefficients and
// the effect of the row's group.
func (s *sharedCox) spread(x, v []float64) {
	m := s.e.m
	for i := range v {
		z := m.full().z[i*m.p : i*m.p+s.p]
		for j, b := range x[:s.p] {
			v[i] += b * z[j]
		}
		v[i] += x[s.p+int(s.group[i])]
	}
}

// gather is what spread is the transpose of.
func (s *sharedCox) gather(v []float64) []float64 {
	m := s.e.m
	x := make([]float64, s.p+s.groups)
	for i, y := range v {
		z := m.full().z[i*m.p : i*m.p+s.p]
		for j := range z {
			x[j] += z[j] * y
		}
		x[s.p+int(s.group[i])] += y
	}
	return x
}

// at works out the penalised likelihood with the variance theta of the random
// effect. The penalty of a gamma frailty exp(u) is (exp(u) - 1 - u) / theta,
// that of a log-normal one u^2 / (2 theta); both are 0 at u = 0.
func (s *sharedCox) at(x []float64, theta float64) (*sharedPoint, bool) {
	each, ok := s.e.at(s.predictor(x))
	if !ok {
		return nil, false
	}
	p := &sharedPoint{x: x, each: each, value: each.loglik, gradient: s.gather(each.slope), bend: make([]float64, s.groups)}
	for g, u := range x[s.p:] {
		switch s.dist {
		case GammaFrailty:
			rise := math.Expm1(u)
			p.value -= (rise - u) / theta
			p.gradient[s.p+g] -= rise / theta
			p.bend[g] = (1 + rise) / theta
		default:
			p.value -= u * u / (2 * theta)
			p.gradient[s.p+g] -= u / theta
			p.bend[g] = 1 / theta
		}
	}
	return p, finite(p.value)
}

// times is the penalised information times a vector.
func (s *sharedCox) times(p *sharedPoint, x []float64) []float64 {
	v := make([]float64, len(s.group))
	s.spread(x, v)
	out := s.gather(p.each.times(v))
	for g, b := range p.bend {
		out[s.p+g] += b * x[s.p+g]
	}
	return out
}

// rough is the penalised information with the block of the groups taken as
// diagonal, made ready to be solved. It is never smaller than the true one.
type rough struct {
	s      *sharedCox
	cross  [][]float64 // of each column: its information with each group
	middle []float64   // diagonal of the groups
	chol   mat.Cholesky
}

func (s *sharedCox) rough(p *sharedPoint) (*rough, bool) {
	r := &rough{s: s, middle: append([]float64(nil), p.bend...)}
	for i, g := range s.group {
		r.middle[g] += p.each.risk[i] * p.each.hazard[i]
	}
	if s.p == 0 {
		return r, true
	}
	left := mat.NewSymDense(s.p, nil)
	for j := range s.p {
		unit := make([]float64, s.p+s.groups)
		unit[j] = 1
		col := s.times(p, unit)
		r.cross = append(r.cross, col[s.p:])
		for k := range j + 1 {
			v := col[k]
			for g, d := range r.middle {
				v -= r.cross[k][g] * r.cross[j][g] / d
			}
			left.SetSym(k, j, v)
		}
	}
	return r, r.chol.Factorize(left)
}

func (r *rough) solve(b []float64) []float64 {
	s := r.s
	x := make([]float64, len(b))
	if s.p > 0 {
		right := mat.NewVecDense(s.p, append([]float64(nil), b[:s.p]...))
		for j := range s.p {
			v := right.AtVec(j)
			for g, d := range r.middle {
				v -= r.cross[j][g] * b[s.p+g] / d
			}
			right.SetVec(j, v)
		}
		var y mat.VecDense
		if r.chol.SolveVecTo(&y, right) != nil {
			return nil
		}
		for j := range s.p {
			x[j] = y.AtVec(j)
		}
	}
	for g, d := range r.middle {
		v := b[s.p+g]
		for j := range s.p {
			v -= r.cross[j][g] * x[j]
		}
		x[s.p+g] = v / d
	}
	return x
}

// solve is the vector that the penalised information turns into b, by
// conjugate gradients with the rough information as preconditioner. What is
// left undone is a share of b below short.
func (s *sharedCox) solve(p *sharedPoint, r *rough, b []float64, short float64) ([]float64, error) {
	x := make([]float64, len(b))
	left := append([]float64(nil), b...)
	z := r.solve(left)
	if z == nil {
		return nil, stats.ErrConvergence
	}
	d := append([]float64(nil), z...)
	size := dot(left, z)
	for from, it := size, 0; size > short*short*from && it < 20*(s.p+50); it++ {
		ad := s.times(p, d)
		bend := dot(d, ad)
		if !(bend > 0) {
			return nil, fmt.Errorf("the information cannot be inverted: %w", stats.ErrConvergence)
		}
		f := size / bend
		for i := range x {
			x[i] += f * d[i]
			left[i] -= f * ad[i]
		}
		if z = r.solve(left); z == nil {
			return nil, stats.ErrConvergence
		}
		next := dot(left, z)
		for i := range d {
			d[i] = z[i] + next/size*d[i]
		}
		size = next
	}
	if !finite(size) {
		return nil, stats.ErrConvergence
	}
	return x, nil
}

func dot(a, b []float64) float64 {
	sum := 0.0
	for i, x := range a {
		sum += x * b[i]
	}
	return sum
}

// climb maximises the penalised likelihood from x on by Newton's method. The
// likelihood is concave, so that there is one maximum.
func (s *sharedCox) climb(x []float64, theta float64) (*sharedPoint, int, error) {
	const settled = 1e-19
	at, ok := s.at(x, theta)
	if !ok {
		return nil, 0, errOverflow
	}
	for it := 1; it <= s.max; it++ {
		r, ok := s.rough(at)
		if !ok {
			return nil, it, fmt.Errorf("the information cannot be inverted: %w", stats.ErrConvergence)
		}
		step, err := s.solve(at, r, at.gradient, 1e-8)
		if err != nil {
			return nil, it, err
		}
		gain := dot(step, at.gradient)
		var next *sharedPoint
		for f := 1.0; f > 1e-6; f /= 2 {
			moved := append([]float64(nil), at.x...)
			for i, d := range step {
				moved[i] += f * d
			}
			if next, ok = s.at(moved, theta); ok && next.value >= at.value-1e-13*(1+math.Abs(at.value)) {
				break
			}
			next = nil
		}
		switch {
		case gain < settled*(1+math.Abs(at.value)) && next != nil:
			return next, it, nil
		case next == nil && gain < 1e-9*(1+math.Abs(at.value)):
			return at, it, nil
		case next == nil:
			return nil, it, fmt.Errorf("no step improves the penalised likelihood: %w", stats.ErrConvergence)
		}
		at = next
	}
	return nil, s.max, fmt.Errorf("%d iterations: %w", s.max, stats.ErrConvergence)
}

// marginal is the log likelihood with the random effects averaged out, at the
// maximum of the penalised one. For a gamma frailty it is exact given the
// baseline hazard; for a log-normal one it is Laplace's approximation.
func (s *sharedCox) marginal(p *sharedPoint, theta float64) (float64, error) {
	out := p.value
	if s.dist == GammaFrailty {
		for _, d := range s.events {
			out += d - (1/theta+d)*math.Log1p(d*theta)
			for k := 0.0; k < d; k++ {
				out += math.Log1p(k * theta)
			}
		}
		return out, nil
	}
	v := s.block(p)
	for g := range s.groups {
		for h := g; h < s.groups; h++ {
			v.SetSym(g, h, theta*v.At(g, h))
		}
		v.SetSym(g, g, 1+v.At(g, g))
	}
	var c mat.Cholesky
	if !c.Factorize(v) {
		return 0, fmt.Errorf("the information cannot be inverted: %w", stats.ErrConvergence)
	}
	return out - c.LogDet()/2, nil
}

// block is the information of the groups, without the penalty.
func (s *sharedCox) block(p *sharedPoint) *mat.SymDense {
	v := mat.NewSymDense(s.groups, nil)
	d := make([]float64, len(s.group))
	rows := make([][]int32, s.groups)
	for i, g := range s.group {
		rows[g] = append(rows[g], int32(i))
	}
	for g := range rows {
		for _, i := range rows[g] {
			d[i] = 1
		}
		col := p.each.times(d)
		for _, i := range rows[g] {
			d[i] = 0
		}
		sums := make([]float64, s.groups)
		for i, x := range col {
			sums[s.group[i]] += x
		}
		for h := range g + 1 {
			v.SetSym(h, g, sums[h])
		}
	}
	return v
}
