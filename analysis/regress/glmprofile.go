package regress

import (
	"errors"
	"fmt"
	"math"

	"plybook/analysis/stats"
)

// profile fills Limits.
func (m *GLM) profile(best *glmPoint) error {
	g := m.model
	fall := math.Pow(stats.NormalQuantile(0.5+m.Level/2), 2) / 2
	for j := range g.p {
		l, err := g.limits(best, j, fall)
		if err != nil {
			return fmt.Errorf("limits of %s: %w", m.Coef[j].Name, err)
		}
		m.Limits = append(m.Limits, l)
	}
	return nil
}

// held is the likelihood with one coefficient of the columns as given held at
// a value, the others at their best.
type held struct {
	g     *glmModel
	j     int
	beta  []float64 // warm start, of the scaled columns
	best  float64
	tries int
}

// fallAt is by how much the likelihood lies below its top; ok is false where
// the others come to no top.
//
// The constant of the columns as given is not one of the scaled columns: it is
// held by letting it follow the others.
func (h *held) fallAt(value float64) (float64, bool, error) {
	g := h.g
	beta := append([]float64(nil), h.beta...)
	var at *glmPoint
	var err error
	if h.j > 0 {
		beta[h.j] = value * g.scale[h.j-1]
		at, err = g.climbHeld(beta, func(k int) bool { return k != h.j })
	} else {
		at, err = g.climbTied(beta, value)
	}
	h.tries++
	var sep *SeparationError
	switch {
	case errors.As(err, &sep) || errors.Is(err, stats.ErrConvergence) || errors.Is(err, stats.ErrSingular):
		return 0, false, nil
	case err != nil:
		return 0, false, err
	}
	h.beta = at.beta
	return h.best - at.loglik, true, nil
}

// limits finds where the profile of coefficient j has fallen by so much.
func (g *glmModel) limits(best *glmPoint, j int, fall float64) (Limits, error) {
	out := Limits{}
	coef := g.unscaled(best.beta)
	root := g.unscaledRoot(best.root)
	se := 0.0
	for _, v := range root[j] {
		se += v * v
	}
	se = math.Sqrt(se)
	var err error
	if out.Low, out.HasLow, err = g.limit(best, j, coef[j], -se, fall); err != nil {
		return out, err
	}
	if out.High, out.HasHigh, err = g.limit(best, j, coef[j], se, fall); err != nil {
		return out, err
	}
	h := &held{g: g, j: j, beta: best.beta, best: best.loglik}
	if d, ok, err := h.fallAt(0); err != nil {
		return out, err
	} else if ok {
		out.Test = stats.Test{Name: "likelihood-ratio test", Statistic: math.Max(0, 2*d), DF: 1, P: stats.ChiSquareP(2*d, 1)}
	} else {
		out.Test = stats.Test{Name: "likelihood-ratio test", Statistic: math.NaN(), DF: 1, P: math.NaN()}
	}
	return out, nil
}

// limit looks on one side: outwards by steps of a standard error until the
// profile has fallen enough, then between. The root of the fall is nearly
// straight in the coefficient, which the search uses.
func (g *glmModel) limit(best *glmPoint, j int, from, se, fall float64) (float64, bool, error) {
	const farthest = 60 // standard errors
	h := &held{g: g, j: j, beta: best.beta, best: best.loglik}
	goal := math.Sqrt(fall)
	root := func(x float64) (float64, bool, error) {
		d, ok, err := h.fallAt(x)
		return math.Sqrt(math.Max(0, d)) - goal, ok, err
	}
	inner, innerValue := from, -goal
	outer, outerValue := from+math.Sqrt(2*fall)*se, 0.0
	for {
		v, ok, err := root(outer)
		if err != nil || !ok {
			return 0, false, err
		}
		if v >= 0 {
			outerValue = v
			break
		}
		next := outer + (outer-inner)*math.Max(0.25, math.Min(2, -1.1*v/(v-innerValue)))
		inner, innerValue = outer, v
		if outer = next; math.Abs(outer-from) > farthest*math.Abs(se) {
			return 0, false, nil
		}
	}
	for range 100 {
		x := inner + (outer-inner)*(-innerValue)/(outerValue-innerValue)
		// A share of the bracket from either end, so that both ends close in.
		edge := 1e-3 * (outer - inner)
		if math.Abs(x-inner) < math.Abs(edge) {
			x = inner + edge
		} else if math.Abs(outer-x) < math.Abs(edge) {
			x = outer - edge
		}
		v, ok, err := root(x)
		if err != nil || !ok {
			return 0, false, err
		}
		if math.Abs(v) < 1e-12*goal || math.Abs(outer-inner) < 1e-11*(1+math.Abs(x)) {
			return x, true, nil
		}
		if v < 0 {
			inner, innerValue = x, v
		} else {
			outer, outerValue = x, v
		}
	}
	return inner + (outer-inner)*(-innerValue)/(outerValue-innerValue), true, nil
}

// climbHeld maximises over the free coefficients, and over Theta anew.
func (g *glmModel) climbHeld(beta []float64, free func(int) bool) (*glmPoint, error) {
	it, t := 0, *g
	if g.family == NegativeBinomial && !math.IsInf(g.theta, 1) {
		return t.settle(t.likelihood(beta), free, &it)
	}
	return t.climb(t.likelihood(beta), free, &it)
}

// climbTied maximises with the constant of the columns as given held at a
// value: the constant of the scaled columns is that plus what the centring of
// the columns takes off, so that the columns enter without centring.
func (g *glmModel) climbTied(beta []float64, value float64) (*glmPoint, error) {
	// Columns x/scale instead of (x-centre)/scale, the constant fixed.
	t := *g
	t.z = make([][]float64, len(g.z))
	t.centre = make([]float64, len(g.z))
	for j, c := range g.z {
		shift := g.centre[j] / g.scale[j]
		t.z[j] = make([]float64, len(c))
		for i, v := range c {
			t.z[j][i] = v + shift
		}
	}
	start := append([]float64(nil), beta...)
	start[0] = value
	at, err := t.climbHeld(start, func(k int) bool { return k != 0 })
	if err != nil {
		return nil, err
	}
	out := *at
	out.beta = append([]float64(nil), at.beta...)
	for j := range g.z {
		out.beta[0] += out.beta[j+1] * g.centre[j] / g.scale[j]
	}
	return &out, nil
}
