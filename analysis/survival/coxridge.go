package survival

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"plybook/analysis/stats"
)

// RidgeOptions are the settings of a ridge penalty.
type RidgeOptions struct {
	// Size is the size of the penalty; 0: it is chosen by the marginal
	// likelihood.
	Size float64
	// Spread is the unit of each column, above 0; nil: the standard deviation
	// of its values over the rows, weighted, with n - 1.
	Spread []float64
}

// RidgeCox is a Cox regression with a ridge penalty. Var is the inverse of the
// penalised information: the covariance that the coefficients would have by
// Bayes' theorem, were they, per Spread, draws of a normal distribution with
// mean 0 and variance 1/Size. It is not that of repeated samples, since the
// estimates are drawn toward 0 on purpose. LogLikNull and LogLik are of the
// plain partial likelihood; AIC, tests and Proportionality do not apply.
type RidgeCox struct {
	Cox
	Size     float64
	Chosen   bool      // Size was chosen by the marginal likelihood
	Spread   []float64 // of each column
	Marginal float64   // Laplace's approximation of the marginal log likelihood
	DF       float64   // effective number of coefficients
}

// ErrNoRidge reports that the marginal likelihood is highest where all
// coefficients are 0.
var ErrNoRidge = errors.New("no size of effects is better supported than none")

// FitCoxRidge maximises the log partial likelihood less half of Size times
// the sum of squares of the coefficients, each times the Spread of its column
// (Hoerl and Kennard 1970, Technometrics 12:55; Verweij and van Houwelingen
// 1994, Stat Med 13:2427). Where Size is not given, its inverse is the
// variance at which the marginal likelihood is highest, the coefficients being
// normal draws that are averaged out by Laplace's approximation, as the random
// effects of FitCoxFrailty are.
//
// Columns may repeat one another, and separation needs no special care.
// Clusters are ignored, and discrete ties are not available (ErrNotDiscrete).
// The other errors are those of FitCox, ErrNoRidge, and ErrUnboundRidge where
// the marginal likelihood asks for no penalty at all.
func FitCoxRidge(d CoxData, o CoxOptions, r RidgeOptions) (*RidgeCox, error) {
	c, err := fitRidge(d, o, r)
	if err != nil {
		return nil, fmt.Errorf("Cox regression: %w", err)
	}
	return c, nil
}

// ErrUnboundRidge reports effects so large that every penalty costs more than
// it spares.
var ErrUnboundRidge = errors.New("the effects grow beyond all bounds as the penalty falls")

// ridge is a model with the weight of each squared scaled coefficient.
type ridge struct {
	m      *coxModel
	weight []float64
	max    int
}

func fitRidge(d CoxData, o CoxOptions, opt RidgeOptions) (*RidgeCox, error) {
	switch {
	case o.Ties == Discrete:
		return nil, fmt.Errorf("a ridge penalty: %w", ErrNotDiscrete)
	case opt.Size < 0 || !finite(opt.Size):
		return nil, fmt.Errorf("a penalty of size %g", opt.Size)
	case opt.Spread != nil && len(opt.Spread) != len(d.X):
		return nil, fmt.Errorf("%d columns but %d spreads", len(d.X), len(opt.Spread))
	}
	d.Cluster = nil
	m, err := newCoxModel(d, o)
	if err != nil {
		return nil, err
	}
	f := &ridge{m: m, max: o.MaxIterations, weight: make([]float64, m.p)}
	if f.max == 0 {
		f.max = 200
	}
	zero := m.likelihood(make([]float64, m.p))
	if err := m.checkVarying(zero.info); err != nil {
		return nil, err
	}
	spread := opt.Spread
	if spread == nil {
		spread = m.spreads()
	}
	for j, s := range spread {
		if !(s > 0) || !finite(s) {
			return nil, fmt.Errorf("a spread of %g of %s", s, d.Names[j])
		}
		f.weight[j] = math.Pow(s/m.scale[j], 2)
	}
	out := &RidgeCox{Size: opt.Size, Chosen: opt.Size == 0, Spread: append([]float64(nil), spread...)}
	if out.Chosen {
		peak, err := peakOfVariance(zero.loglik, true, f.marginal)
		switch {
		case errors.Is(err, errUnbounded):
			return nil, ErrUnboundRidge
		case err != nil:
			return nil, err
		case peak.at == 0:
			return nil, ErrNoRidge
		}
		out.Size = 1 / peak.at
	}
	if out.Marginal, err = f.marginal(1 / out.Size); err != nil {
		return nil, err
	}
	l, beta, it, err := f.climb(out.Size)
	if err != nil {
		return nil, err
	}
	bent := f.bent(l, out.Size)
	cov, ok := inverse(bent)
	if !ok {
		return nil, fmt.Errorf("the information cannot be inverted: %w", stats.ErrConvergence)
	}
	out.DF = float64(m.p)
	for j := range cov {
		out.DF -= cov[j][j] * out.Size * f.weight[j]
	}
	out.Cox = Cox{Names: d.Names, Terms: m.terms, Ties: o.Ties, Rows: m.n, Events: m.events, Strata: m.strata,
		Iterations: it, Coef: make([]float64, m.p), Var: m.unscaled(cov), LogLikNull: zero.loglik, LogLik: l.loglik,
		model: m, beta: beta}
	for j, b := range beta {
		out.Coef[j] = b / m.scale[j]
	}
	out.Concordance, out.HasConcordance = compare(m.data, out.Predictor(), nil)
	return out, nil
}

// spreads are the standard deviations of the columns.
func (m *coxModel) spreads() []float64 {
	out := make([]float64, m.p)
	total, weight := float64(m.n), m.data.Weight
	if len(weight) == 0 {
		weight = nil
	} else {
		total = 0
		for _, w := range weight {
			total += w
		}
	}
	for j, x := range m.data.X {
		out[j] = spreadOf(values{x, 1, weight, nil}, m.n, 1).rms * math.Sqrt(total/(total-1))
	}
	return out
}

// bent is the penalised information.
func (f *ridge) bent(l *coxLikelihood, size float64) [][]float64 {
	out := square(f.m.p)
	for i := range out {
		copy(out[i], l.info[i])
		out[i][i] += size * f.weight[i]
	}
	return out
}

// climb maximises the penalised likelihood by Newton's method.
func (f *ridge) climb(size float64) (*coxLikelihood, []float64, int, error) {
	const settled = 1e-19
	value := func(l *coxLikelihood, beta []float64) float64 {
		out := l.loglik
		for j, b := range beta {
			out -= size * f.weight[j] * b * b / 2
		}
		return out
	}
	beta := make([]float64, f.m.p)
	at := f.m.likelihood(beta)
	for it := 1; it <= f.max; it++ {
		slope := append([]float64(nil), at.score...)
		for j, b := range beta {
			slope[j] -= size * f.weight[j] * b
		}
		step, gain, ok := solve(f.bent(at, size), slope)
		if !ok {
			return nil, nil, it, fmt.Errorf("the information cannot be inverted: %w", stats.ErrConvergence)
		}
		here := value(at, beta)
		var next *coxLikelihood
		var moved []float64
		for h := 1.0; h > 1e-6; h /= 2 {
			moved = make([]float64, len(beta))
			for j := range beta {
				moved[j] = beta[j] + h*step[j]
			}
			if next = f.m.likelihood(moved); next.ok && value(next, moved) >= here-1e-13*(1+math.Abs(here)) {
				break
			}
			next = nil
		}
		switch {
		case next == nil && gain < 1e-9*(1+math.Abs(here)):
			return at, beta, it, nil
		case next == nil:
			return nil, nil, it, fmt.Errorf("no step improves the penalised likelihood: %w", stats.ErrConvergence)
		case gain < settled*(1+math.Abs(here)):
			return next, moved, it, nil
		}
		at, beta = next, moved
	}
	return nil, nil, f.max, fmt.Errorf("%d iterations: %w", f.max, stats.ErrConvergence)
}

// marginal is the log likelihood with coefficients of variance v averaged
// out by Laplace's approximation.
func (f *ridge) marginal(v float64) (float64, error) {
	l, beta, _, err := f.climb(1 / v)
	if err != nil {
		return 0, err
	}
	out := l.loglik
	s := mat.NewSymDense(f.m.p, nil)
	for i, b := range beta {
		out -= f.weight[i] * b * b / (2 * v)
		for j := range i + 1 {
			s.SetSym(j, i, v*l.info[j][i]/math.Sqrt(f.weight[i]*f.weight[j]))
		}
		s.SetSym(i, i, 1+s.At(i, i))
	}
	var c mat.Cholesky
	if !c.Factorize(s) {
		return 0, fmt.Errorf("the information cannot be inverted: %w", stats.ErrConvergence)
	}
	return out - c.LogDet()/2, nil
}
