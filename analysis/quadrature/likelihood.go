package quadrature

import (
	"math"
	"runtime"
	"sync"
	"sync/atomic"

	"gonum.org/v1/gonum/integrate/quad"
)

// rule are the nodes of Gauss-Hermite quadrature, and the logarithms of their
// weights times e^(z^2).
type rule struct{ z, logw []float64 }

func hermite(n int) rule {
	r := rule{make([]float64, n), make([]float64, n)}
	quad.Hermite{}.FixedLocations(r.z, r.logw, math.Inf(-1), math.Inf(1))
	for k, w := range r.logw {
		r.logw[k] = math.Log(w) + r.z[k]*r.z[k]
	}
	return r
}

// point is the likelihood at some parameters.
type point struct {
	ok    bool
	theta []float64
	ll    float64
	grad  []float64
	info  [][]float64 // less the second derivatives
}

func newPoint(theta []float64) *point {
	d := len(theta)
	at := &point{theta: theta, grad: make([]float64, d), info: make([][]float64, d)}
	for j := range at.info {
		at.info[j] = make([]float64, d)
	}
	return at
}

// blocks is into how many stretches the classes are cut. The number does not
// depend on the machine, so that neither do the sums.
const blocks = 64

// likelihood works out value, gradient and information.
func (g *problem) likelihood(theta []float64, r rule) *point {
	at := newPoint(theta)
	if !g.gapTerms(at) {
		return at
	}
	parts := make([]*point, blocks)
	var next atomic.Int32
	var wait sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), blocks) {
		wait.Add(1)
		go func() {
			defer wait.Done()
			s := newScratch(g, len(r.z))
			for {
				b := int(next.Add(1)) - 1
				if b >= blocks {
					return
				}
				part := newPoint(theta)
				part.ok = true
				for c := b * len(g.classes) / blocks; c < (b+1)*len(g.classes)/blocks; c++ {
					g.class(c, r, s, part)
				}
				parts[b] = part
			}
		}()
	}
	wait.Wait()
	at.ok = true
	for _, p := range parts {
		at.ok = at.ok && p.ok
		at.ll += p.ll
		for j := range at.grad {
			at.grad[j] += p.grad[j]
			for k := range at.info {
				at.info[j][k] += p.info[j][k]
			}
		}
	}
	at.ll += g.fixed
	for j := range at.info {
		for k := range j {
			at.info[j][k] = at.info[k][j]
		}
		at.ok = at.ok && !math.IsNaN(at.grad[j]) && !math.IsInf(at.grad[j], 0)
	}
	at.ok = at.ok && !math.IsNaN(at.ll) && !math.IsInf(at.ll, 0)
	return at
}

// gapTerms adds, for levels between two cuts, what does not depend on the
// predictor; false where the cuts are not in order.
func (g *problem) gapTerms(at *point) bool {
	for y := 1; y < g.cuts; y++ {
		gap := at.theta[y-1] - at.theta[y] // constants fall from cut to cut
		if !(gap > 0) {
			return false
		}
		n := g.gaps[y]
		at.ll += n * math.Log(-math.Expm1(-gap))
		e := math.Expm1(gap)
		first, second := n/e, n*(1+e)/(e*e)
		if math.IsInf(e, 1) {
			second = 0
		}
		at.grad[y-1] += first
		at.grad[y] -= first
		at.info[y-1][y-1] += second
		at.info[y][y] += second
		at.info[y-1][y] -= second
	}
	return true
}

// scratch is room for the work on one class.
type scratch struct {
	base           []float64 // predictor at u = 0
	first, second  []float64 // by node and item: derivatives by the predictor
	f1, f2, f3     []float64 // the same at the mode
	u, t, sum      []float64 // by node
	score          []float64
	mean, row, two []float64
}

func newScratch(g *problem, nodes int) *scratch {
	w := g.widest
	return &scratch{base: make([]float64, w), first: make([]float64, w*nodes), second: make([]float64, w*nodes),
		f1: make([]float64, w), f2: make([]float64, w), f3: make([]float64, w),
		u: make([]float64, nodes), t: make([]float64, nodes), sum: make([]float64, nodes),
		score: make([]float64, g.dim), mean: make([]float64, g.dim), row: make([]float64, w), two: make([]float64, w)}
}

// cumulant is A(x) with its first three derivatives.
func (g *problem) cumulant(x float64) (a1, a2, a3 float64) {
	if g.family == Poisson {
		e := math.Exp(x)
		return e, e, e
	}
	e := math.Exp(-math.Abs(x))
	f := 1 / (1 + e)
	p := f
	if x < 0 {
		p = e * f
	}
	v := e * f * f
	return p, v, v * (1 - 2*p)
}

// findMode maximises the integrand of a class over u, from where the mode was
// last: the derivative falls at a slope of 1 or more, so that the mode lies no
// farther off than the derivative is large.
func (g *problem) findMode(items []item, base []float64, sigma, from float64) (m float64, ok bool) {
	if sigma == 0 {
		return 0, true
	}
	m = from
	lo, hi := math.Inf(-1), math.Inf(1)
	for range 200 {
		d, h := -m, 1.0
		for j, it := range items {
			a1, a2, _ := g.cumulant(base[j] + sigma*m)
			d += sigma * (it.s - it.n*a1)
			h += sigma * sigma * it.n * a2
		}
		if math.IsNaN(d) || math.IsInf(d, 0) || math.IsInf(h, 0) {
			if m == 0 {
				return 0, false
			}
			m, lo, hi = 0, math.Inf(-1), math.Inf(1)
			continue
		}
		if d > 0 {
			lo, hi = m, min(hi, m+d)
		} else {
			lo, hi = max(lo, m+d), m
		}
		next := m + d/h
		if math.Abs(d) < 1e-7*math.Sqrt(h) || !(hi > lo) {
			return next, true
		}
		if !(next >= lo && next <= hi) {
			next = (lo + hi) / 2
		}
		m = next
	}
	return m, false
}

// nodesOf fills the terms of the integrand and the derivatives at the nodes.
func (g *problem) nodesOf(items []item, sigma float64, s *scratch) {
	w := len(items)
	for k, u := range s.u {
		first, second := s.first[k*w:(k+1)*w], s.second[k*w:(k+1)*w]
		ll, product, sum := 0.0, 1.0, 0.0
		for j := range items {
			it := &items[j]
			x := s.base[j] + sigma*u
			if g.family == Poisson {
				e := it.n * math.Exp(x)
				ll += it.s*x - e
				first[j], second[j] = it.s-e, e
				sum += first[j]
				continue
			}
			e := math.Exp(-math.Abs(x))
			f := 1 / (1 + e)
			p := f
			if x < 0 {
				p = e * f
				ll += it.s * x
			} else {
				ll += (it.s - it.n) * x
			}
			if it.n == 1 { // one logarithm for many rows
				product *= 1 + e
				if product > 1e290 {
					ll -= math.Log(product)
					product = 1
				}
			} else {
				ll -= it.n * math.Log1p(e)
			}
			first[j], second[j] = it.s-it.n*p, it.n*e*f*f
			sum += first[j]
		}
		s.t[k], s.sum[k] = ll-math.Log(product), sum
	}
}
