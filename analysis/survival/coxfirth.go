package survival

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"plybook/analysis/stats"
)

// FirthCox is a Cox regression fitted by Firth's penalised likelihood. Its
// log likelihoods and AIC are of that likelihood; Var is the inverse of the
// information; Robust, the score tests and Proportionality do not apply.
type FirthCox struct {
	Cox
	Limits []FirthLimits // one per column
	Level  float64
}

// FirthLimits are the limits of a coefficient by penalised profile
// likelihood, and the test that it is 0.
type FirthLimits struct {
	Low, High       float64
	HasLow, HasHigh bool // false where the profile does not fall far enough within reach
	Test            stats.Test
}

// FitCoxFirth maximises l(b) + log det I(b) / 2, l being the log partial
// likelihood and I its information, which takes the first-order bias out of
// the estimate and keeps it finite where a column separates those with the
// event from the others (Firth 1993, Biometrika 80:27; Heinze and Schemper
// 2001, Biometrics 57:114). The limits of a coefficient are the values at
// which twice the fall of the penalised likelihood, the other coefficients
// maximised anew, is the quantile of chi-square; the test compares the value
// at 0. level is the confidence, 0: 0.95.
//
// Clusters are not allowed for, and discrete ties are not available
// (ErrNotDiscrete). The other errors are those of FitCox, *SeparationError
// apart.
func FitCoxFirth(d CoxData, o CoxOptions, level float64) (*FirthCox, error) {
	c, err := fitFirth(d, o, level)
	if err != nil {
		return nil, fmt.Errorf("Cox regression: %w", err)
	}
	return c, nil
}

func fitFirth(d CoxData, o CoxOptions, level float64) (*FirthCox, error) {
	level, err := levelOrDefault(level)
	if err != nil {
		return nil, err
	}
	if o.Ties == Discrete {
		return nil, fmt.Errorf("a penalty by Firth's method: %w", ErrNotDiscrete)
	}
	if o.MaxIterations == 0 {
		o.MaxIterations = 500
	}
	d.Cluster = nil
	o.rowwise = true // what is needed here is made row by row
	m, err := newCoxModel(d, o)
	if err != nil {
		return nil, err
	}
	if err := m.checkColumns(m.likelihood(make([]float64, m.p)).info); err != nil {
		return nil, err
	}
	m.third = true
	f := &firth{model: m, max: o.MaxIterations}
	start := f.at(make([]float64, m.p))
	best, beta, iterations, err := f.climb(start, make([]float64, m.p), -1)
	if err != nil {
		return nil, err
	}
	out := &FirthCox{Level: level, Cox: Cox{
		Names: d.Names, Terms: m.terms, Ties: o.Ties,
		Rows: m.n, Events: m.events, Strata: m.strata, Iterations: iterations,
		Coef: make([]float64, m.p), Var: m.unscaled(best.inverse),
		LogLikNull: start.value, LogLik: best.value, AIC: 2*float64(m.p) - 2*best.value,
		model: m, beta: beta,
	}}
	for j, b := range beta {
		out.Coef[j] = b / m.scale[j]
	}
	df := float64(m.p)
	out.LikelihoodRatio = chiSquare("penalised likelihood-ratio test", math.Max(0, 2*(best.value-start.value)), df)
	x, ok := quadratic(out.Var, out.Coef)
	if !ok {
		return nil, fmt.Errorf("testing all columns: %w", stats.ErrSingular)
	}
	out.Wald = chiSquare("Wald test", x, df)
	fall := math.Pow(stats.NormalQuantile(0.5+level/2), 2) / 2
	for j := range m.p {
		l, err := f.limits(best, beta, j, fall)
		if err != nil {
			return nil, fmt.Errorf("limits of %s: %w", d.Names[j], err)
		}
		out.Limits = append(out.Limits, l)
	}
	m.third = false
	out.Concordance, out.HasConcordance = compare(m.data, out.Predictor(), nil)
	return out, nil
}

// firth climbs the penalised likelihood.
type firth struct {
	model *coxModel
	max   int
}

// firthPoint is the penalised likelihood at some coefficients of the scaled
// columns.
type firthPoint struct {
	ok      bool
	value   float64
	score   []float64
	inverse [][]float64 // of the information
	info    [][]float64
}

// at works out the likelihood. The derivative of the information by the
// coefficient of column r is the sum over events of the third central moments
// of the columns with r, over those at risk.
func (f *firth) at(beta []float64) *firthPoint {
	m := f.model
	p := &firthPoint{score: make([]float64, m.p), info: square(m.p)}
	risk, ok := m.risks(beta)
	if !ok {
		return p
	}
	slope := make([][]float64, m.p) // of the information, upper triangle row by row
	for r := range slope {
		slope[r] = make([]float64, m.p*(m.p+1)/2)
	}
	mean, second := make([]float64, m.p), square(m.p)
	m.sweep(risk, func(r *riskSet) {
		p.value += m.scoreAt(r, risk, p.score)
		m.informationAt(r, func(i, j int, v float64) { p.info[i][j] += v })
		for _, x := range r.pieces {
			k := 0
			for a := range m.p {
				mean[a] = r.mean(x, a)
				for b := a; b < m.p; b++ {
					second[a][b] = (r.all.s2[k] - x.share*r.dead.s2[k]) / x.s0
					second[b][a] = second[a][b]
					k++
				}
			}
			k = 0
			for a := range m.p {
				for b := a; b < m.p; b++ {
					for c := b; c < m.p; c++ {
						third := (r.all.s3[k] - x.share*r.dead.s3[k]) / x.s0
						k++
						v := x.count * (third - mean[a]*second[b][c] - mean[b]*second[a][c] - mean[c]*second[a][b] + 2*mean[a]*mean[b]*mean[c])
						slope[c][packed(m.p, a, b)] += v
						if c != b {
							slope[b][packed(m.p, a, c)] += v
						}
						if b != a {
							slope[a][packed(m.p, b, c)] += v
						}
					}
				}
			}
		}
	})
	for i := range p.info {
		for j := range i {
			p.info[i][j] = p.info[j][i]
		}
	}
	half, ok := logDet(p.info)
	if !ok {
		return p
	}
	if p.inverse, ok = inverse(p.info); !ok {
		return p
	}
	p.value += half / 2
	for _, s := range m.scale { // of the columns as given
		p.value += math.Log(s)
	}
	for r := range slope {
		trace := 0.0
		for a := range m.p {
			for b := a; b < m.p; b++ {
				v := p.inverse[a][b] * slope[r][packed(m.p, a, b)]
				if a != b {
					v *= 2
				}
				trace += v
			}
		}
		p.score[r] += trace / 2
	}
	p.ok = finite(p.value)
	return p
}

// packed is the place of entry a, b of an upper triangle kept row by row.
func packed(p, a, b int) int { return a*p - a*(a-1)/2 + b - a }

// logDet is the log determinant of a positive definite matrix.
func logDet(v [][]float64) (float64, bool) {
	n := len(v)
	s := mat.NewSymDense(n, nil)
	for i := range n {
		for j := i; j < n; j++ {
			s.SetSym(i, j, v[i][j])
		}
	}
	var c mat.Cholesky
	if !c.Factorize(s) {
		return 0, false
	}
	return c.LogDet(), true
}

// climb maximises over all coefficients but that of column fixed (-1: none)
// from a point on, by scoring with the information and halved steps.
func (f *firth) climb(at *firthPoint, beta []float64, fixed int) (*firthPoint, []float64, int, error) {
	if !at.ok {
		return nil, nil, 0, fmt.Errorf("the information cannot be inverted: %w", stats.ErrConvergence)
	}
	settled := 1e-20
	if fixed >= 0 {
		settled = 1e-15 // of a profile only the height is used
	}
	for it := 1; it <= f.max; it++ {
		step, gain, ok := f.step(at, fixed)
		if !ok {
			return nil, nil, it, fmt.Errorf("the information cannot be inverted: %w", stats.ErrConvergence)
		}
		if gain < settled*(1+math.Abs(at.value)) {
			return at, beta, it, nil
		}
		var next *firthPoint
		var moved []float64
		for h := 1.0; h > 1e-6; h /= 2 {
			moved = make([]float64, len(beta))
			for j := range beta {
				moved[j] = beta[j] + h*step[j]
			}
			if next = f.at(moved); next.ok && next.value >= at.value-1e-13*(1+math.Abs(at.value)) {
				break
			}
			next = nil
		}
		if next == nil {
			if gain < 1e-9*(1+math.Abs(at.value)) {
				return at, beta, it, nil
			}
			return nil, nil, it, fmt.Errorf("no step improves the penalised likelihood: %w", stats.ErrConvergence)
		}
		at, beta = next, moved
	}
	// Scoring converges slowly where the penalty rules; what is left must not
	// matter.
	if _, gain, ok := f.step(at, fixed); ok && gain < 1e-13*(1+math.Abs(at.value)) {
		return at, beta, f.max, nil
	}
	return nil, nil, f.max, fmt.Errorf("%d iterations: %w", f.max, stats.ErrConvergence)
}

func (f *firth) step(at *firthPoint, fixed int) (step []float64, gain float64, ok bool) {
	if fixed < 0 {
		return solve(at.info, at.score)
	}
	n := len(at.score)
	step = make([]float64, n)
	if n == 1 {
		return step, 0, true
	}
	info, score := square(n-1), make([]float64, 0, n-1)
	var free []int
	for j := range n {
		if j != fixed {
			free = append(free, j)
		}
	}
	for a, i := range free {
		score = append(score, at.score[i])
		for b, j := range free {
			info[a][b] = at.info[i][j]
		}
	}
	part, gain, ok := solve(info, score)
	for a, i := range free {
		if ok {
			step[i] = part[a]
		}
	}
	return step, gain, ok
}

// limits finds where the profile of column j has fallen by fall, on either
// side, and tests 0.
func (f *firth) limits(best *firthPoint, beta []float64, j int, fall float64) (FirthLimits, error) {
	m := f.model
	var l FirthLimits
	// profile is the fall at a value of the coefficient, and the other
	// coefficients there.
	profile := func(value float64, near []float64) (float64, []float64, error) {
		from := append([]float64(nil), near...)
		from[j] = value
		p := f.at(from)
		if !p.ok {
			return math.Inf(1), from, nil
		}
		p, at, _, err := f.climb(p, from, j)
		if err != nil {
			return 0, nil, err
		}
		return best.value - p.value, at, nil
	}
	zero, _, err := profile(0, beta)
	if err != nil {
		return l, err
	}
	l.Test = chiSquare("penalised likelihood-ratio test", math.Max(0, 2*zero), 1)
	for _, side := range []float64{-1, 1} {
		step := side * math.Sqrt(best.inverse[j][j])
		inside, outside, near := beta[j], beta[j], beta
		below, above := -fall, 0.0 // how far the profile has fallen past fall there
		reached := false
		for k := 0; k < 12 && math.Abs(outside*m.span[j]) < 250; k++ {
			outside += step
			d, at, err := profile(outside, near)
			if err != nil {
				return l, err
			}
			above = d - fall
			if reached = d >= fall; reached {
				break
			}
			inside, near, below = outside, at, above
			step *= 1.5
		}
		if !reached {
			continue
		}
		// False position, the end that stays counting half (Illinois), with a
		// halving in between so that the bracket is sure to shrink.
		moved := 0 // the end that moved last
		for k := 1; math.Abs(outside-inside) > 1e-11*(1+math.Abs(inside)); k++ {
			middle := (inside + outside) / 2
			if k%4 != 0 && finite(above) {
				middle = (inside*above - outside*below) / (above - below)
			}
			d, at, err := profile(middle, near)
			if err != nil {
				return l, err
			}
			if math.Abs(d-fall) < 1e-12*(1+fall) {
				inside = middle
				break
			}
			if d >= fall {
				outside, above = middle, d-fall
				if moved == 1 {
					below /= 2
				}
				moved = 1
			} else {
				inside, near, below = middle, at, d-fall
				if moved == -1 {
					above /= 2
				}
				moved = -1
			}
		}
		if v := inside / m.scale[j]; side < 0 {
			l.Low, l.HasLow = v, true
		} else {
			l.High, l.HasHigh = v, true
		}
	}
	return l, nil
}
