package survival

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"plybook/analysis/stats"
)

// Frailty is the distribution of what multiplies the hazard of a group.
type Frailty int

// The distributions.
const (
	GammaFrailty     Frailty = iota // mean 1, variance the parameter
	LogNormalFrailty                // its logarithm has mean 0 and the parameter as variance
)

func (f Frailty) String() string {
	if f < GammaFrailty || f > LogNormalFrailty {
		return fmt.Sprintf("frailty %d", int(f))
	}
	return [...]string{"gamma", "log-normal"}[f]
}

// FrailtyOptions are the settings of a shared frailty.
type FrailtyOptions struct {
	Distribution Frailty
	Level        float64 // of the limits of the variance; 0: 0.95
}

// FrailtyCox is a Cox regression in which all rows of a group share a random
// factor of the hazard. Coef are conditional on it: of two rows of one group,
// or of groups equally frail. Var is the block of the coefficients in the
// inverse of the whole penalised information; it takes the variance as known.
// LogLik and LogLikNull are marginal, each at its own variance, the second
// without columns; the AIC counts the variance. Concordance is that of the
// columns alone. Predictor, Baseline and Proportionality hold the frailties at
// their estimates, the baseline being that of a frailty of 1. Robust and the
// score tests do not apply.
type FrailtyCox struct {
	Cox
	Distribution Frailty
	Level        float64

	Variance        float64 // 0: no difference between groups was found
	Low, High       float64 // by profile of the marginal likelihood
	HasLow, HasHigh bool    // false where it does not fall far enough within reach
	LogLikWithout   float64 // of the model without frailty
	Test            stats.Test
	DF              float64 // effective degrees of freedom of the frailties
	HasDF           bool    // false with more than MaxFrailtyGroups groups

	Groups []FrailtyGroup // ascending by the number of the group

	held *Cox // the fit with the frailties as an offset
}

// Proportionality is that of Cox with the frailties held at their estimates.
func (f *FrailtyCox) Proportionality(scale TimeScale) (*Proportionality, error) {
	return f.held.Proportionality(scale)
}

// FrailtyGroup is one group of a shared frailty.
type FrailtyGroup struct {
	Rows   int
	Events int
	Effect float64 // logarithm of the frailty, at the mode
	StdErr float64 // of Effect; takes the variance as known
	HasErr bool    // false with more than MaxFrailtyGroups groups
}

// MaxFrailtyGroups is the number of groups up to which a log-normal frailty
// is fitted and errors of single frailties are made: both need a matrix of
// groups by groups.
const MaxFrailtyGroups = 1500

// Errors of FitCoxFrailty.
var (
	ErrOneGroup       = errors.New("all rows are of one group")
	ErrManyGroups     = fmt.Errorf("a log-normal frailty is fitted to %d groups at most", MaxFrailtyGroups)
	ErrUnboundFrailty = errors.New("the variance between groups grows beyond all bounds")
)

// FitCoxFrailty fits a shared frailty. For each value of its variance the
// partial likelihood less a penalty on the logarithms u of the frailties is
// maximised over coefficients and frailties together (Therneau, Grambsch and
// Pankratz 2003, J Comput Graph Stat 12:156): for a gamma frailty this gives
// the very estimates of the EM algorithm, and the marginal likelihood follows
// in closed form; for a log-normal one the marginal likelihood is Laplace's
// approximation to the partial likelihood averaged over u (Ripatti and
// Palmgren 2000, Biometrics 56:1016). The variance is where the marginal
// likelihood is highest (ML, not REML), its limits are by profile, and the
// test that it is 0 halves the p value of chi-square on 1 degree of freedom,
// since 0 lies at the edge of what is possible (Self and Liang 1987, J Am
// Stat Assoc 82:605).
//
// The Newton steps use the whole information, solved by conjugate gradients,
// so that the time of a step grows with the rows whatever the number of
// groups. Rows that enter late are taken to have, at entry, frailties of the
// same distribution.
//
// group holds any numbers, rows of one group sharing theirs. Discrete ties
// (ErrNotDiscrete) and weights are not available; clusters are ignored. The
// other errors are those of FitCox, ErrOneGroup, ErrManyGroups and
// ErrUnboundFrailty.
func FitCoxFrailty(d CoxData, group []int, o CoxOptions, f FrailtyOptions) (*FrailtyCox, error) {
	c, err := fitFrailty(d, group, o, f)
	if err != nil {
		return nil, fmt.Errorf("Cox regression: %w", err)
	}
	return c, nil
}

// newShared checks what FitCoxFrailty is given and lays it out.
func newShared(d CoxData, group []int, o CoxOptions, f FrailtyOptions) (*sharedCox, error) {
	switch {
	case f.Distribution < GammaFrailty || f.Distribution > LogNormalFrailty:
		return nil, fmt.Errorf("unknown distribution of frailty %d", f.Distribution)
	case o.Ties == Discrete:
		return nil, fmt.Errorf("a frailty: %w", ErrNotDiscrete)
	case len(group) != len(d.Time):
		return nil, &RowError{-1, fmt.Sprintf("%d times but %d groups", len(d.Time), len(group))}
	case len(d.Weight) > 0:
		return nil, errors.New("a frailty takes no weights")
	}
	o.rowwise = true
	m, err := newCoxModel(d, o)
	if err != nil {
		return nil, err
	}
	s := &sharedCox{dist: f.Distribution, p: m.p, group: make([]int32, m.n), max: o.MaxIterations}
	if s.max == 0 {
		s.max = 100
	}
	rows, groups := rowsByStratum(group, m.n)
	s.groups = len(groups)
	if s.groups < 2 {
		return nil, ErrOneGroup
	}
	if s.dist == LogNormalFrailty && s.groups > MaxFrailtyGroups {
		return nil, ErrManyGroups
	}
	s.events = make([]float64, s.groups)
	for g, number := range groups {
		for _, i := range rows[number] {
			s.group[i] = int32(g)
			if d.Event[i] {
				s.events[g]++
			}
		}
	}
	s.e = newCoxEach(m)
	return s, nil
}

func fitFrailty(d CoxData, group []int, o CoxOptions, f FrailtyOptions) (*FrailtyCox, error) {
	level, err := levelOrDefault(f.Level)
	if err != nil {
		return nil, err
	}
	d.Cluster = nil
	s, err := newShared(d, group, o, f)
	if err != nil {
		return nil, err
	}
	plain, err := fitCox(d, o)
	if err != nil {
		return nil, err
	}
	out := &FrailtyCox{Distribution: f.Distribution, Level: level, LogLikWithout: plain.LogLik}
	start := append(append([]float64(nil), plain.beta...), make([]float64, s.groups)...)
	steps := 0
	at := func(v float64) (*sharedPoint, error) {
		p, it, err := s.climb(start, v)
		if err != nil {
			return nil, err
		}
		start = p.x
		steps += it
		return p, nil
	}
	marginal := func(v float64) (float64, error) {
		p, err := at(v)
		if err != nil {
			return 0, err
		}
		return s.marginal(p, v)
	}
	peak, err := peakOfVariance(plain.LogLik, true, marginal)
	if err != nil {
		return nil, frailtyError(err)
	}
	fall := math.Pow(stats.NormalQuantile(0.5+level/2), 2) / 2
	if err := peak.addLimits(fall, plain.LogLik, marginal); err != nil {
		return nil, frailtyError(err)
	}
	out.Variance, out.Low, out.High, out.HasLow, out.HasHigh = peak.at, peak.low, peak.high, peak.hasLow, peak.hasHigh
	x := 2 * math.Max(0, peak.value-plain.LogLik)
	out.Test = stats.Test{Name: "likelihood-ratio test of the frailty, at the edge", Statistic: x, DF: 1, P: 1}
	if x > 0 {
		out.Test.P = stats.ChiSquareP(x, 1) / 2
	}
	if peak.at == 0 {
		out.Cox, out.held = *plain, plain
		out.HasDF = true
		out.Groups = s.describe(make([]float64, s.groups))
		for g := range out.Groups {
			out.Groups[g].HasErr = true
		}
	} else {
		p, err := at(peak.at)
		if err != nil {
			return nil, err
		}
		if err := s.finish(out, p, d, o); err != nil {
			return nil, err
		}
	}
	out.Score, out.LogLik, out.Iterations = stats.Test{}, peak.value, steps
	out.AIC = 2*float64(s.p+1) - 2*out.LogLik
	if out.LogLikNull, err = s.withoutColumns(plain.LogLikNull); err != nil {
		return nil, err
	}
	out.LikelihoodRatio = chiSquare("likelihood-ratio test", 2*math.Max(0, out.LogLik-out.LogLikNull), float64(s.p))
	w, ok := quadratic(out.Var, out.Coef)
	if !ok {
		return nil, fmt.Errorf("testing all columns: %w", stats.ErrSingular)
	}
	out.Wald = chiSquare("Wald test", w, float64(s.p))
	return out, nil
}

func frailtyError(err error) error {
	if errors.Is(err, errUnbounded) {
		return ErrUnboundFrailty
	}
	return err
}

// withoutColumns is the marginal likelihood of the frailty alone.
func (s *sharedCox) withoutColumns(zero float64) (float64, error) {
	alone := *s
	alone.p = 0
	x := make([]float64, s.groups)
	peak, err := peakOfVariance(zero, false, func(v float64) (float64, error) {
		p, _, err := alone.climb(x, v)
		if err != nil {
			return 0, err
		}
		x = p.x
		return alone.marginal(p, v)
	})
	if err != nil {
		return 0, fmt.Errorf("the frailty without columns: %w", frailtyError(err))
	}
	return peak.value, nil
}

func (s *sharedCox) describe(u []float64) []FrailtyGroup {
	out := make([]FrailtyGroup, s.groups)
	for _, g := range s.group {
		out[g].Rows++
	}
	for g := range out {
		out[g].Events, out[g].Effect = int(s.events[g]), u[g]
	}
	return out
}

// finish makes the coefficients, the frailties and their errors.
func (s *sharedCox) finish(out *FrailtyCox, p *sharedPoint, d CoxData, o CoxOptions) error {
	m := s.e.m
	// The same coefficients fit where the frailties are an offset: what goes
	// with them, the baseline and tests of proportionality, follows from it.
	u := p.x[s.p:]
	held := d
	held.Offset = make([]float64, m.n)
	for i, g := range s.group {
		held.Offset[i] = u[g]
		if len(d.Offset) > 0 {
			held.Offset[i] += d.Offset[i]
		}
	}
	c, err := fitCox(held, o)
	if err != nil {
		return err
	}
	out.Cox, out.held = *c, c
	for j := range out.Coef {
		out.Coef[j] = p.x[j] / m.scale[j]
	}
	r, ok := s.rough(p)
	if !ok {
		return fmt.Errorf("the information cannot be inverted: %w", stats.ErrConvergence)
	}
	cov, beside := square(s.p), make([][]float64, s.p)
	for j := range s.p {
		unit := make([]float64, s.p+s.groups)
		unit[j] = 1
		x, err := s.solve(p, r, unit, 1e-12)
		if err != nil {
			return err
		}
		copy(cov[j], x[:s.p])
		beside[j] = x[s.p:] // covariance with the frailties
	}
	for i := range cov {
		for j := range i {
			cov[i][j] = (cov[i][j] + cov[j][i]) / 2
			cov[j][i] = cov[i][j]
		}
	}
	out.Var = m.unscaled(cov)
	out.Groups = s.describe(u)
	columns := &Cox{Coef: out.Coef, model: m}
	out.Concordance, out.HasConcordance = compare(m.data, columns.Predictor(), nil)
	if s.groups > MaxFrailtyGroups {
		return nil
	}
	// The inverse of the block of the frailties, and what not knowing the
	// coefficients adds to it.
	v := s.block(p)
	for g, b := range p.bend {
		v.SetSym(g, g, v.At(g, g)+b)
	}
	var chol mat.Cholesky
	var inv mat.SymDense
	if !chol.Factorize(v) || chol.InverseTo(&inv) != nil {
		return fmt.Errorf("the information cannot be inverted: %w", stats.ErrConvergence)
	}
	within, ok := inverse(cov)
	if !ok {
		return fmt.Errorf("the information cannot be inverted: %w", stats.ErrConvergence)
	}
	out.DF, out.HasDF = float64(s.groups), true
	for g := range out.Groups {
		x := inv.At(g, g)
		for i := range s.p {
			for j := range s.p {
				x += beside[i][g] * within[i][j] * beside[j][g]
			}
		}
		out.Groups[g].StdErr, out.Groups[g].HasErr = math.Sqrt(x), true
		out.DF -= x * p.bend[g]
	}
	return nil
}
