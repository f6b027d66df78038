package maturation

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"plybook/analysis/mixed"
	"plybook/analysis/stats"
)

// least is the penalised nonlinear least-squares step: with the variances of
// m it makes sum (y-f)^2 + sigma^2 b'G^-1 b as small as it goes, over
// coefficients and limbs together, by Gauss-Newton steps that are halved where
// they overshoot.
func (p *problem) least(s *state, m *mixed.Model) error {
	root, err := rootOf(m)
	if err != nil {
		return err
	}
	p.project(s, root)
	value := p.penalised(s, root, m.Sigma)
	last := math.Inf(1)
	for range 100 {
		target, err := p.solve(s, root, m.Sigma)
		if err != nil {
			return err
		}
		moved := false
		for f := 1.0; f > 1e-6; f /= 2 {
			next := s.towards(target, f)
			v, size := p.penalised(next, root, m.Sigma), s.distance(next, m)
			// Close to the end a fall is lost in rounding; there a full step is
			// taken as long as steps become shorter.
			if v < value || f == 1 && v <= value*(1+1e-10) && size < 0.9*last {
				*s, moved, last = *next, true, size
				if size < 1e-10 {
					return nil
				}
				value = math.Min(value, v)
				break
			}
		}
		if !moved {
			return nil
		}
	}
	return nil
}

func (s *state) towards(t *state, f float64) *state {
	mix := func(a, b []float64) []float64 {
		out := append([]float64(nil), a...)
		for j := range out {
			out[j] += f * (b[j] - a[j])
		}
		return out
	}
	out := &state{beta: mix(s.beta, t.beta)}
	for g := range s.b {
		out.b = append(out.b, mix(s.b[g], t.b[g]))
	}
	return out
}

// distance is the largest move of a coefficient against its error.
func (s *state) distance(t *state, m *mixed.Model) float64 {
	d := 0.0
	for j := range s.beta {
		d = math.Max(d, math.Abs(s.beta[j]-t.beta[j])/m.Coef[j].SE)
	}
	return d
}

// rootOf is a root of the covariance of the effects, which may be singular:
// G = R R'.
func rootOf(m *mixed.Model) (*mat.Dense, error) {
	q := len(m.RandomCov)
	sym := mat.NewSymDense(q, nil)
	scale := make([]float64, q)
	for j := range q {
		scale[j] = math.Sqrt(m.RandomCov[j][j])
		if scale[j] == 0 {
			scale[j] = 1
		}
	}
	for j := range q {
		for k := j; k < q; k++ {
			sym.SetSym(j, k, m.RandomCov[j][k]/(scale[j]*scale[k]))
		}
	}
	var e mat.EigenSym
	if !e.Factorize(sym, true) {
		return nil, stats.ErrConvergence
	}
	var v mat.Dense
	e.VectorsTo(&v)
	values := e.Values(nil)
	out := mat.NewDense(q, q, nil)
	for k, l := range values {
		if l < 1e-12 { // what rounding leaves of a direction without variance
			continue
		}
		for j := range q {
			out.Set(j, k, v.At(j, k)*math.Sqrt(l)*scale[j])
		}
	}
	return out, nil
}

// cause is the u with b = R u of limb g. The columns of R are orthogonal once
// the effects are scaled to a variance of one.
func (p *problem) cause(s *state, root *mat.Dense, g, k int) float64 {
	num, den := 0.0, 0.0
	for j := range p.vary {
		w := p.weight(root, j)
		num += root.At(j, k) * s.b[g][j] / w
		den += root.At(j, k) * root.At(j, k) / w
	}
	if den == 0 {
		return 0
	}
	return num / den
}

// project keeps the effects to what the covariance can make, which matters
// where it has become singular.
func (p *problem) project(s *state, root *mat.Dense) {
	for g := range s.b {
		b := make([]float64, len(p.vary))
		for k := range b {
			u := p.cause(s, root, g, k)
			for j := range b {
				b[j] += root.At(j, k) * u
			}
		}
		s.b[g] = b
	}
}

// penalised is the criterion of the least-squares step.
func (p *problem) penalised(s *state, root *mat.Dense, sigma float64) float64 {
	sum := 0.0
	for g, rows := range p.rows {
		c := p.curveOf(s, g)
		for _, i := range rows {
			v, _ := p.opts.Form.value(c, p.data.Time[i])
			sum += (p.data.Y[i] - v) * (p.data.Y[i] - v)
		}
		for k := range p.vary {
			u := p.cause(s, root, g, k)
			sum += sigma * sigma * u * u
		}
	}
	if math.IsNaN(sum) {
		return math.Inf(1)
	}
	return sum
}

// weight is the variance of effect j, in whose units the columns of the root
// are orthogonal.
func (p *problem) weight(root *mat.Dense, j int) float64 {
	w := 0.0
	for k := range p.vary {
		w += root.At(j, k) * root.At(j, k)
	}
	if w == 0 {
		return 1
	}
	return w
}

// solve is one Gauss-Newton step: generalised least squares for the
// coefficients and best linear unbiased prediction of the effects in the
// tangent.
func (p *problem) solve(s *state, root *mat.Dense, sigma float64) (*state, error) {
	w, x, z := p.tangent(s)
	a := mat.NewSymDense(p.p, nil)
	h := make([]float64, p.p)
	parts := make([]*part, len(p.rows))
	scale := make([]float64, p.p)
	for j := range x {
		if scale[j] = floats.Norm(x[j], 2); scale[j] == 0 {
			return nil, stats.ErrConvergence
		}
	}
	for g, rows := range p.rows {
		pt, err := newPart(rows, x, z, root, sigma)
		if err != nil {
			return nil, err
		}
		parts[g] = pt
		vw := pt.solve(pick(w, rows))
		for j := range p.p {
			for k, i := range rows {
				h[j] += x[j][i] * vw[k] / scale[j]
			}
			for l := j; l < p.p; l++ {
				sum := 0.0
				for k, i := range rows {
					sum += x[j][i] * pt.vx[l][k]
				}
				a.SetSym(j, l, a.At(j, l)+sum/(scale[j]*scale[l]))
			}
		}
	}
	var ch mat.Cholesky
	if !ch.Factorize(a) {
		return nil, stats.ErrConvergence
	}
	var sol mat.VecDense
	if err := ch.SolveVecTo(&sol, mat.NewVecDense(p.p, h)); err != nil {
		var cond mat.Condition
		if !errors.As(err, &cond) {
			return nil, stats.ErrConvergence
		}
	}
	out := &state{}
	for j := range p.p {
		out.beta = append(out.beta, sol.AtVec(j)/scale[j])
	}
	for g, rows := range p.rows {
		r := pick(w, rows)
		for j := range x {
			for k, i := range rows {
				r[k] -= x[j][i] * out.beta[j]
			}
		}
		v := parts[g].solve(r)
		b := make([]float64, len(p.vary))
		for k := range b {
			b[k] = floats.Dot(parts[g].zg[k], v)
		}
		out.b = append(out.b, b)
	}
	return out, nil
}

// part is one limb of the tangent: V = Z G Z' + sigma^2 I, factorised.
type part struct {
	v  mat.Cholesky
	zg [][]float64 // column k of Z G
	vx [][]float64 // V^-1 times the columns of X
	n  int
}

func newPart(rows []int, x, z [][]float64, root *mat.Dense, sigma float64) (*part, error) {
	n, q := len(rows), len(z)
	zr := mat.NewDense(n, q, nil)
	for k, i := range rows {
		for c := range q {
			sum := 0.0
			for j := range q {
				sum += z[j][i] * root.At(j, c)
			}
			zr.Set(k, c, sum)
		}
	}
	var zrz, zg mat.Dense
	zrz.Mul(zr, zr.T())
	zg.Mul(zr, root.T())
	v := mat.NewSymDense(n, nil)
	for a := range n {
		for b := a; b < n; b++ {
			e := zrz.At(a, b)
			if a == b {
				e += sigma * sigma
			}
			v.SetSym(a, b, e)
		}
	}
	pt := &part{n: n}
	if !pt.v.Factorize(v) {
		return nil, stats.ErrConvergence
	}
	for k := range q {
		pt.zg = append(pt.zg, mat.Col(nil, k, &zg))
	}
	for _, c := range x {
		pt.vx = append(pt.vx, pt.solve(pick(c, rows)))
	}
	return pt, nil
}

func (pt *part) solve(y []float64) []float64 {
	var out mat.VecDense
	_ = pt.v.SolveVecTo(&out, mat.NewVecDense(pt.n, y)) // only a poor condition is reported, which rounding of the data exceeds
	return out.RawVector().Data
}

func pick(v []float64, rows []int) []float64 {
	out := make([]float64, len(rows))
	for k, i := range rows {
		out[k] = v[i]
	}
	return out
}
