package quadrature

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"

	"plybook/analysis/stats"
)

// Value is an estimate with its Wald interval, made on the scale of the linear
// predictor for shares and rates.
type Value struct {
	Estimate, SE float64
	Low, High    float64
	Tested       bool // false: only Estimate holds

	gradient []float64
}

// Pair is what is expected of a typical group, whose own level is 0, and over
// all groups as they differ. A share is nearer to one half over all groups
// than in a typical one, and a rate higher.
type Pair struct{ Typical, All Value }

// Shares are what is expected of ordered levels.
type Shares struct {
	Levels []Pair // by level
	Above  []Pair // by cut: in a level above it
	Mean   Pair   // of the values given to the levels
}

type scaleOf int

const (
	plainScale scaleOf = iota
	shareScale         // log odds
	rateScale          // logarithm
)

// Predict is the share, or the rate per unit of exposure, where the columns
// have the values x and the offset is 0.
func (m *Model) Predict(x []float64) (Pair, error) {
	if len(x) != m.problem.p || m.Family == Ordinal {
		return Pair{}, fmt.Errorf("%d values for %d columns: %w", len(x), m.problem.p, ErrInput)
	}
	return m.pair(columns(x), 0, nil, nil), nil
}

// Average averages over the rows of the data, with the columns x in place of
// their own and each with its own offset: shares, or the count expected over
// the exposure of all rows.
func (m *Model) Average(x [][]float64) (Pair, error) {
	if err := m.columnsFit(x); err != nil || m.Family == Ordinal {
		return Pair{}, fmt.Errorf("averages: %w", ErrInput)
	}
	d := m.problem.data
	if m.Family == Poisson {
		w := make([]float64, len(d.Y))
		for i := range w {
			w[i] = 1
			if d.Offset != nil {
				w[i] = math.Exp(d.Offset[i])
			}
		}
		return m.pair(x, 0, w, nil), nil
	}
	return m.pair(x, 0, nil, d.Offset), nil
}

// PredictLevels are the shares of the levels where the columns have the values
// x, and the mean of the values that the levels have.
func (m *Model) PredictLevels(x, values []float64) (*Shares, error) {
	if len(x) != m.problem.p {
		return nil, fmt.Errorf("%d values for %d columns: %w", len(x), m.problem.p, ErrInput)
	}
	return m.shares(columns(x), values)
}

// AverageLevels does so over the rows of the data with the columns x.
func (m *Model) AverageLevels(x [][]float64, values []float64) (*Shares, error) {
	if err := m.columnsFit(x); err != nil {
		return nil, err
	}
	return m.shares(x, values)
}

func columns(x []float64) [][]float64 {
	out := make([][]float64, len(x))
	for j, v := range x {
		out[j] = []float64{v}
	}
	return out
}

func (m *Model) columnsFit(x [][]float64) error {
	if len(x) != m.problem.p {
		return fmt.Errorf("%d columns for %d: %w", len(x), m.problem.p, ErrInput)
	}
	for _, c := range x {
		if len(c) != len(m.problem.data.Y) {
			return fmt.Errorf("%d rows for %d: %w", len(c), len(m.problem.data.Y), ErrInput)
		}
	}
	return nil
}

// pair is the mean over rows of columns x; weights nil: 1 each.
func (m *Model) pair(x [][]float64, cut int, weights, offset []float64) Pair {
	scale := shareScale
	if m.Family == Poisson {
		scale = rateScale
	}
	a, b := m.response(x, cut, weights, offset)
	return Pair{m.valued(a.Estimate, a.gradient, scale), m.valued(b.Estimate, b.gradient, scale)}
}

// response is the weighted mean over rows of the response, and its gradient by
// constants, coefficients and standard deviation: at level 0, and over the
// levels of groups. The integral over levels is by the trapezoid rule, whose
// error falls off as e^(-2 pi^2/(s h)) for a step h, the response having its
// nearest pole at pi/s (Trefethen & Weideman 2014, SIAM Rev 56:385).
func (m *Model) response(x [][]float64, cut int, weights, offset []float64) (typical, all Value) {
	g := m.problem
	last := g.dim - 1
	typical.gradient, all.gradient = make([]float64, g.dim), make([]float64, g.dim)
	rows := 1
	if g.p > 0 {
		rows = len(x[0])
	} else if weights != nil {
		rows = len(weights)
	} else if offset != nil {
		rows = len(offset)
	}
	h := 0.8 / math.Max(1, m.SD)
	half := int(math.Ceil(8.5 / h))
	total := 0.0
	for i := range rows {
		w, eta := 1.0, m.theta[cut]
		if weights != nil {
			w = weights[i]
		}
		if offset != nil {
			eta += offset[i]
		}
		for j := range g.p {
			eta += m.theta[g.cuts+j] * x[j][i]
		}
		total += w
		var value, slope, bySD float64
		if m.Family == Poisson {
			e := math.Exp(eta)
			typical.add(w*e, w*e, g, x, i, cut)
			value = math.Exp(eta + m.SD*m.SD/2)
			slope, bySD = value, m.SD*value
		} else {
			p, v, _ := g.cumulant(eta)
			typical.add(w*p, w*v, g, x, i, cut)
			if m.SD == 0 {
				value, slope = p, v
			} else {
				mass := 0.0
				for k := -half; k <= half; k++ {
					u := float64(k) * h
					f := math.Exp(-u * u / 2)
					p, v, _ := g.cumulant(eta + m.SD*u)
					mass += f
					value += f * p
					slope += f * v
					bySD += f * u * v
				}
				value, slope, bySD = value/mass, slope/mass, bySD/mass
			}
		}
		all.add(w*value, w*slope, g, x, i, cut)
		all.gradient[last] += w * bySD
	}
	for _, v := range []*Value{&typical, &all} {
		v.Estimate /= total
		floats.Scale(1/total, v.gradient)
	}
	return typical, all
}

func (v *Value) add(value, slope float64, g *problem, x [][]float64, i, cut int) {
	v.Estimate += value
	v.gradient[cut] += slope
	for j := range g.p {
		v.gradient[g.cuts+j] += slope * x[j][i]
	}
}

// shares are those of the levels.
func (m *Model) shares(x [][]float64, values []float64) (*Shares, error) {
	g := m.problem
	if m.Family != Ordinal || len(values) != g.cuts+1 {
		return nil, fmt.Errorf("%d values for %d levels: %w", len(values), g.cuts+1, ErrInput)
	}
	out := &Shares{Levels: make([]Pair, g.cuts+1), Above: make([]Pair, g.cuts)}
	raw := make([][2]Value, g.cuts)
	for k := range raw {
		raw[k][0], raw[k][1] = m.response(x, k, nil, nil)
	}
	side := func(s int, to func(p *Pair) *Value) {
		mean, slope := values[0], make([]float64, g.dim)
		for k, r := range raw {
			*to(&out.Above[k]) = m.valued(r[s].Estimate, r[s].gradient, shareScale)
			mean += (values[k+1] - values[k]) * r[s].Estimate
			floats.AddScaled(slope, values[k+1]-values[k], r[s].gradient)
		}
		for y := range out.Levels {
			v, grad := 1.0, make([]float64, g.dim)
			if y > 0 {
				v = raw[y-1][s].Estimate
				copy(grad, raw[y-1][s].gradient)
			}
			if y < g.cuts {
				v -= raw[y][s].Estimate
				floats.Sub(grad, raw[y][s].gradient)
			}
			*to(&out.Levels[y]) = m.valued(math.Max(0, v), grad, shareScale)
		}
		*to(&out.Mean) = m.valued(mean, slope, plainScale)
	}
	side(0, func(p *Pair) *Value { return &p.Typical })
	side(1, func(p *Pair) *Value { return &p.All })
	return out, nil
}

// error is the standard error of a sum with some gradient.
func (m *Model) error(gradient []float64) float64 {
	v := 0.0
	for j, a := range gradient {
		if a != 0 {
			v += a * floats.Dot(m.cov[j], gradient)
		}
	}
	return math.Sqrt(math.Max(0, v))
}

func (m *Model) valued(value float64, gradient []float64, scale scaleOf) Value {
	out := Value{Estimate: value, gradient: gradient}
	se := m.error(gradient)
	if !(se > 0) || scale != plainScale && !(value > 0) || scale == shareScale && !(value < 1) {
		return out
	}
	out.SE, out.Tested = se, true
	half := stats.NormalQuantile(0.5+m.Level/2) * se
	switch scale {
	case shareScale:
		half /= value * (1 - value)
		odds := math.Log(value) - math.Log1p(-value)
		out.Low, out.High = expit(odds-half), expit(odds+half)
	case rateScale:
		out.Low, out.High = value*math.Exp(-half/value), value*math.Exp(half/value)
	default:
		out.Low, out.High = value-half, value+half
	}
	return out
}

func expit(x float64) float64 {
	e := math.Exp(-math.Abs(x))
	if x < 0 {
		return e / (1 + e)
	}
	return 1 / (1 + e)
}

// Difference compares value a with b of the same model.
func (m *Model) Difference(a, b Value) (Contrast, error) {
	if len(a.gradient) != m.problem.dim || len(b.gradient) != m.problem.dim {
		return Contrast{}, fmt.Errorf("values of another model: %w", ErrInput)
	}
	c := append([]float64(nil), a.gradient...)
	floats.Sub(c, b.gradient)
	return m.tested(a.Estimate-b.Estimate, m.error(c)), nil
}
