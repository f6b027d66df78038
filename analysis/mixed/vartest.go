package mixed

import (
	"errors"
	"math"

	"plybook/analysis/stats"
)

// VarianceTest is a test by likelihood ratio of whether part of what is
// random in a model is there at all.
type VarianceTest struct {
	Group string // what the random effect belongs to; "residual" for the correlation in time
	Term  string // the random effect, or "correlation in time"
	// Statistic is twice the difference of the log-likelihoods, restricted if
	// the model is fitted so. NaN where the smaller model could not be fitted.
	Statistic float64
	// DFLow and DFHigh are the degrees of freedom of the two chi-square
	// distributions that are mixed half and half; the first is the number of
	// covariances that fall away with the variance.
	DFLow, DFHigh int
	P             float64
}

// TimeTerm is the Term of a test of the correlation in time.
const TimeTerm = "correlation in time"

// VarianceTests tests each random slope, the intercept where it stands alone
// or is uncorrelated with the slopes, and the correlation of residuals in
// time, by fitting the model without it. Without a variance that cannot be
// below zero the likelihood ratio has not a chi-square distribution but one
// mixed half and half of two, with the degrees of freedom of the covariances
// that go with it and one more (Self & Liang 1987, J Am Stat Assoc 82:605;
// Stram & Lee 1994, Biometrics 50:1171). A correlation that dies out with time
// and cannot be below zero is one number at the end of its range in the same way.
//
// An intercept that is correlated with slopes is not tested: without it, the
// slopes would have a zero of time in which all groups agree, which nobody
// asked for.
func (m *Model) VarianceTests() ([]VarianceTest, error) {
	var out []VarianceTest
	d, o := m.p.data, m.p.opts
	q := len(m.p.z)
	low := q - 1
	if o.Uncorrelated {
		low = 0
	}
	add := func(group, term string, low int, d Data, o Options) error {
		t, err := m.against(d, o)
		if err != nil {
			return err
		}
		t.Group, t.Term, t.DFLow, t.DFHigh = group, term, low, low+1
		t.P = Mixture(t.Statistic, low)
		out = append(out, t)
		return nil
	}
	if d.RandomIntercept && (len(d.Z) == 0 || o.Uncorrelated) {
		small := d
		small.RandomIntercept = false
		if err := add(d.GroupName, "intercept", low, small, o); err != nil {
			return nil, err
		}
	}
	for j, name := range d.ZNames {
		small := d
		small.Z, small.ZNames = without(d.Z, j), without(d.ZNames, j)
		if err := add(d.GroupName, name, low, small, o); err != nil {
			return nil, err
		}
	}
	if o.Correlation == ContinuousAR1 {
		small := o
		small.Correlation = Independent
		if err := add("residual", TimeTerm, 0, d, small); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// against compares the model with a smaller one.
func (m *Model) against(d Data, o Options) (VarianceTest, error) {
	ll := m.floor()
	if len(d.Z) > 0 || d.RandomIntercept || o.Correlation != Independent {
		small, err := fit(d, o)
		switch {
		case errors.Is(err, stats.ErrConvergence) || errors.Is(err, ErrLongRange) || errors.Is(err, ErrNotSeparable):
			return VarianceTest{Statistic: math.NaN()}, nil
		case err != nil:
			return VarianceTest{}, err
		}
		ll = small.LogLikelihood
	}
	x := 2 * (m.LogLikelihood - ll)
	if x < 1e-9*(1+math.Abs(ll)) { // rounding of two sums of this size
		x = 0
	}
	return VarianceTest{Statistic: x}, nil
}

// floor is the log-likelihood of the model with nothing random but
// independent residuals.
func (m *Model) floor() float64 {
	o := &objective{p: m.p, f: m.f, residual: m.obj.residual, scale: m.obj.scale, base: m.obj.base, kept: map[float64]*criterion{}}
	return -o.at(make([]float64, o.criterion(0).parameters())).value / 2
}

// Mixture is the chance of a value of at least x under chi-square with low
// degrees of freedom and with one more, each half the time; chi-square with
// none is always 0.
func Mixture(x float64, low int) float64 {
	switch {
	case math.IsNaN(x):
		return x
	case x <= 0:
		return 1
	}
	p := stats.ChiSquareP(x, float64(low+1)) / 2
	if low > 0 {
		p += stats.ChiSquareP(x, float64(low)) / 2
	}
	return p
}

func without[T any](list []T, j int) []T {
	return append(append([]T(nil), list[:j]...), list[j+1:]...)
}
