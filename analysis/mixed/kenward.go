package mixed

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/floats"
)

// Freedom is how degrees of freedom of fixed effects are found.
type Freedom int

// KenwardRoger adjusts the covariance of the fixed effects for the variances
// being estimated and finds degrees of freedom (with several coefficients a
// factor for F as well) from the expected information (Kenward & Roger 1997,
// Biometrics 53:983). It takes restricted likelihood and a covariance of the
// rows that is linear in what is estimated: no correlation in time. Residuals
// of several sizes are not offered with it.
const (
	Satterthwaite Freedom = iota
	KenwardRoger
)

// Errors of adjusted tests.
var (
	// ErrNoAdjustment reports a request for KenwardRoger where it does not
	// apply.
	ErrNoAdjustment = errors.New("degrees of freedom by the method of Kenward and Roger need restricted likelihood, residuals that are independent, and one size of them")
	// ErrManyLevels reports crossed groupings of more than 300 levels.
	ErrManyLevels = errors.New("too many levels cut across the groups for the method of Kenward and Roger")
	// ErrFewToAdjust reports data that hold too little for the adjustment:
	// adjusted errors come out as none, or degrees of freedom below a tenth,
	// with which an interval has no use.
	ErrFewToAdjust = errors.New("too few groups for the method of Kenward and Roger")
)

// kenward is the method of Kenward and Roger in the coordinates in which the
// unadjusted covariance of the fixed effects is the residual variance.
type kenward struct {
	l     [][]float64   // Cholesky factor of the crossproduct of the fixed effects
	t     [][][]float64 // by parameter: the crossproduct's derivative, less its sign
	w     [][]float64   // covariance of the parameters, in units of their own
	extra [][]float64   // I and what the adjustment adds
}

// mostLevels is the number of crossed levels up to which adjusted errors are
// offered: they cost its cube for each pair of parameters.
const mostLevels = 300

func newLayerKenward(s *layerState) (*kenward, error) {
	if len(s.crossed) > mostLevels {
		return nil, ErrManyLevels
	}
	return newKenward(s.moments())
}

// newKenward makes the adjustment from the moments of the fixed effects, in
// the coordinates of the factored design.
func newKenward(m *moments) (*kenward, error) {
	p, params := m.n, len(m.t)
	k := &kenward{l: square(p), w: square(params), extra: square(p)}
	for i := range p {
		copy(k.l[i], m.a[i*p:i*p+i+1])
	}
	if !cholesky(k.l) {
		return nil, ErrFewToAdjust
	}
	// x becomes L^-1 x L^-T.
	turned := func(x []float64) [][]float64 {
		out := square(p)
		for i := range p {
			copy(out[i], x[i*p:(i+1)*p])
			lower(k.l, out[i])
		}
		for j := range p {
			c := make([]float64, p)
			for i := range p {
				c[i] = out[i][j]
			}
			lower(k.l, c)
			for i := range p {
				out[i][j] = c[i]
			}
		}
		return out
	}
	for _, t := range m.t {
		k.t = append(k.t, turned(t))
	}
	left := make([][][][]float64, params) // Q less P Phi P
	for r := range params {
		left[r] = make([][][]float64, r+1)
		for s := range r + 1 {
			q, pp := turned(m.q[r][s]), product(k.t[r], k.t[s], 1)
			v := m.k[r][s]
			for i := range p {
				v += pp[i][i] - 2*q[i][i]
				floats.Sub(q[i], pp[i])
			}
			left[r][s] = q
			k.w[r][s], k.w[s][r] = v, v
		}
	}
	if k.w = inverted(k.w); k.w == nil {
		return nil, ErrFewToAdjust
	}
	for r := range params {
		for s := range r + 1 {
			for i := range p {
				for j := range p {
					v := left[r][s][i][j]
					if s < r {
						v += left[r][s][j][i]
					}
					k.extra[i][j] += 2 * k.w[r][s] * v
				}
			}
		}
	}
	for i := range p {
		k.extra[i][i]++
	}
	// Errors that shrink to a thirtieth or grow a thousand times over come of
	// variances of which the rows tell next to nothing.
	if values, _, ok := eigen(k.extra); !ok || !(values[0] > 1e-3) || !(values[p-1] < 1e6) {
		return nil, ErrFewToAdjust
	}
	return k, nil
}

func (k *kenward) known() bool { return true }

// solve is the adjusted covariance, for a residual variance of 1, times d.
func (k *kenward) solve(d []float64) []float64 {
	u, out := append([]float64(nil), d...), make([]float64, len(d))
	lower(k.l, u)
	for i, row := range k.extra {
		out[i] = floats.Dot(row, u)
	}
	upper(k.l, out)
	return out
}

func (k *kenward) middle(s2 float64) [][]float64 {
	m := square(len(k.l))
	for j := range m {
		m[j][j] = s2
		m[j] = k.solve(m[j])
	}
	return m
}

// leastFreedom is the fewest degrees of freedom with which anything is said.
const leastFreedom = 0.1

func (k *kenward) df(d []float64) float64 {
	_, a := k.pulled([][]float64{d})
	if !(a > 0) {
		return 0
	}
	return 2 / a
}

// pulled are A1 and A2 of Kenward & Roger for the directions in dirs.
func (k *kenward) pulled(dirs [][]float64) (a1, a2 float64) {
	// An orthonormal basis of the directions, twice over for its digits.
	var basis [][]float64
	for _, d := range dirs {
		u := append([]float64(nil), d...)
		lower(k.l, u)
		floats.Scale(1/floats.Norm(u, 2), u)
		for range 2 {
			for _, b := range basis {
				floats.AddScaled(u, -floats.Dot(u, b), b)
			}
		}
		floats.Scale(1/floats.Norm(u, 2), u)
		basis = append(basis, u)
	}
	q := len(basis)
	m, traces := make([][]float64, len(k.t)), make([]float64, len(k.t))
	for r, t := range k.t {
		for i := range q {
			for j := range q {
				v := 0.0
				for x, row := range t {
					v += basis[i][x] * floats.Dot(row, basis[j])
				}
				m[r] = append(m[r], v)
				if i == j {
					traces[r] += v
				}
			}
		}
	}
	for r := range m {
		for s := range m {
			a1 += k.w[r][s] * traces[r] * traces[s]
			a2 += k.w[r][s] * floats.Dot(m[r], m[s])
		}
	}
	return a1, a2
}

// joint is the factor by which F of several directions is multiplied and its
// denominator degrees of freedom, so that its first two moments are those of
// F, and exactly so where an exact F test exists (Kenward & Roger 1997,
// section 3).
func (k *kenward) joint(dirs [][]float64) (scale, df float64, err error) {
	q := float64(len(dirs))
	a1, a2 := k.pulled(dirs)
	if q == 1 {
		if !(2/a2 >= leastFreedom) {
			return 0, 0, ErrFewToAdjust
		}
		return 1, 2 / a2, nil
	}
	b := (a1 + 6*a2) / (2 * q)
	g := ((q+1)*a1 - (q+4)*a2) / ((q + 2) * a2)
	d := 3*q + 2*(1-g)
	v0, v1, v2 := 1+g/d*b, 1-(q-g)/d*b, 1-(q+2-g)/d*b
	// Of an exact test with 2 degrees of freedom both are 0, and their ratio 1.
	ratio := (1 - a2/q) / v1
	if math.Abs(1-a2/q) < 1e-8 && math.Abs(v1) < 1e-8 {
		ratio = 1
	}
	rho := ratio * ratio * v0 / v2 / q
	df = 4 + (q+2)/(q*rho-1)
	// The factor goes to 1 beside 2 degrees of freedom where the test is exact;
	// elsewhere it has no value there.
	scale = 1
	if math.Abs(df-2) >= 1e-2 {
		scale = df * (1 - a2/q) / (df - 2)
	}
	if !(df >= leastFreedom) || math.IsInf(df, 0) || !(scale > 0) || math.IsInf(scale, 0) {
		return 0, 0, ErrFewToAdjust
	}
	return scale, df, nil
}
