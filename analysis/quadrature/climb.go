package quadrature

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/mat"

	"plybook/analysis/stats"
)

// furthest is the standard deviation of the groups' levels beyond which the
// likelihood is taken to let it grow without end.
const furthest = 60

// settled is the gain, as a share of the log likelihood, below which one more
// step ends a climb: near the top the error that is left after it is the
// square of the one before.
const settled = 1e-12

// climb maximises over the first free parameters, those after them held, from
// a start, until a step promises less than enough.
func (g *problem) climb(from []float64, free int, r rule, enough float64, most int, count *int) (*point, error) {
	at := g.likelihood(from, r)
	if !at.ok {
		return nil, fmt.Errorf("the likelihood cannot be worked out at the start: %w", stats.ErrConvergence)
	}
	last := g.dim - 1
	for range most {
		*count++
		step, gain, err := at.step(free)
		if err != nil {
			return nil, err
		}
		if free == g.dim {
			// A variance is approached over orders of size, not in one leap.
			if far := 2*at.theta[last] + 1; math.Abs(step[last]) > far {
				floats.Scale(far/math.Abs(step[last]), step)
			}
		}
		var next *point
		for f := 1.0; f > 1e-7; f /= 2 {
			to := append([]float64(nil), at.theta...)
			floats.AddScaled(to[:free], f, step)
			to[last] = math.Abs(to[last])
			if x := g.likelihood(to, r); x.ok && x.ll >= at.ll-1e-12*(1+math.Abs(at.ll)) {
				next = x
				break
			}
		}
		if next == nil {
			if gain < 1e-9*(1+math.Abs(at.ll)) {
				return at, nil
			}
			return nil, fmt.Errorf("no step improves the likelihood: %w", stats.ErrConvergence)
		}
		at = next
		if at.theta[last] > furthest {
			return nil, ErrRunsOff
		}
		if gain < enough*(1+math.Abs(at.ll)) || at.theta[last] < 1e-7 && free == g.dim {
			return at, nil
		}
	}
	return nil, fmt.Errorf("%d iterations: %w", most, stats.ErrConvergence)
}

// step is Newton's step in the first free parameters, and the gain that it
// promises. Where the likelihood is not curved downward, as it is not near a
// variance of 0, directions of the wrong curvature are walked uphill all the
// same.
func (at *point) step(free int) (step []float64, gain float64, err error) {
	d := make([]float64, free)
	for j := range d {
		d[j] = math.Sqrt(math.Abs(at.info[j][j]))
		if !(d[j] > 0) || math.IsInf(d[j], 0) {
			d[j] = 1
		}
	}
	c := mat.NewSymDense(free, nil)
	for j := range d {
		for k := j; k < free; k++ {
			c.SetSym(j, k, at.info[j][k]/(d[j]*d[k]))
		}
	}
	var e mat.EigenSym
	if !e.Factorize(c, true) {
		return nil, 0, fmt.Errorf("the information has no eigenvalues: %w", stats.ErrConvergence)
	}
	values := e.Values(nil)
	var v mat.Dense
	e.VectorsTo(&v)
	step = make([]float64, free)
	for k, l := range values {
		l = math.Max(math.Abs(l), 1e-9)
		s := 0.0
		for j := range step {
			s += v.At(j, k) * at.grad[j] / d[j]
		}
		for j := range step {
			step[j] += v.At(j, k) * s / l / d[j]
		}
		gain += s * s / l / 2
	}
	return step, gain, nil
}

// inverse is that of the information of the first free parameters.
func (at *point) inverse(free int) ([][]float64, error) {
	d := make([]float64, free)
	for j := range d {
		if !(at.info[j][j] > 0) {
			return nil, stats.ErrSingular
		}
		d[j] = math.Sqrt(at.info[j][j])
	}
	c := mat.NewSymDense(free, nil)
	for j := range d {
		for k := j; k < free; k++ {
			c.SetSym(j, k, at.info[j][k]/(d[j]*d[k]))
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(c) || chol.Cond() > 1e13 {
		return nil, stats.ErrSingular
	}
	var inv mat.SymDense
	if err := chol.InverseTo(&inv); err != nil {
		return nil, fmt.Errorf("information: %w", stats.ErrSingular)
	}
	out := make([][]float64, free)
	for j := range out {
		out[j] = make([]float64, free)
		for k := range out[j] {
			out[j][k] = inv.At(j, k) / (d[j] * d[k])
		}
	}
	return out, nil
}
