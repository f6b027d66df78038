package mixed

import (
	"errors"
	"math"

	"plybook/analysis/stats"
)

// VarianceTest is a test by likelihood ratio of whether part of what is
// random in a model is there at all.
type VarianceTest struct {
	Group string // what the random effect belongs to, or "residual"
	Term  string // the random effect, TimeTerm or SpreadTerm
	// Statistic is twice the difference of the log-likelihoods, restricted if
	// the model is fitted so. NaN where the smaller model could not be fitted.
	Statistic float64
	// DFLow and DFHigh are the degrees of freedom of the two chi-square
	// distributions that are mixed half and half; the first is the number of
	// covariances that fall away with the variance. Where they are the same
	// nothing lies at the end of its range, and there is one distribution.
	DFLow, DFHigh int
	P             float64
}

// TimeTerm is the Term of a test of the correlation in time, SpreadTerm that of
// a test of residuals of several sizes.
const (
	TimeTerm   = "correlation in time"
	SpreadTerm = "scatter by kind"
)

// VarianceTests tests each random slope, the intercept of a grouping where it
// stands alone or is uncorrelated with the slopes, the correlation of residuals
// in time and their several sizes, by fitting the model without it. Without a variance that cannot be
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
	for _, c := range m.smaller() {
		t, err := m.against(c.data, c.options)
		if err != nil {
			return nil, err
		}
		t.Group, t.Term, t.DFLow, t.DFHigh = c.group, c.term, c.low, c.high
		t.P = Mixture(t.Statistic, c.low)
		if c.low == c.high {
			t.P = chiSquare(t.Statistic, c.low)
		}
		out = append(out, t)
	}
	return out, nil
}

// lesser is the model without one part of what is random.
type lesser struct {
	group, term string
	low, high   int
	data        Data
	options     Options
}

func (m *Model) smaller() []lesser {
	var out []lesser
	d, o := m.p.data, m.p.opts
	o.Freedom = Satterthwaite // only likelihoods are compared
	low := func(q int) int {
		if o.Uncorrelated {
			return 0
		}
		return q - 1
	}
	add := func(group, term string, low, high int, change func(*Data, *Options)) {
		c := lesser{group, term, low, high, d, o}
		change(&c.data, &c.options)
		out = append(out, c)
	}
	q := len(m.p.z)
	if d.RandomIntercept && (len(d.Z) == 0 || o.Uncorrelated) {
		add(d.GroupName, "intercept", low(q), low(q)+1, func(d *Data, _ *Options) { d.RandomIntercept = false })
	}
	for j, name := range d.ZNames {
		add(d.GroupName, name, low(q), low(q)+1, func(d *Data, _ *Options) { d.Z, d.ZNames = without(d.Z, j), without(d.ZNames, j) })
	}
	if a := d.Above; a != nil {
		q := len(a.Z) + 1
		if q == 1 {
			add(a.Name, "intercept", 0, 1, func(d *Data, _ *Options) { d.Above = nil })
		}
		for j, name := range a.ZNames {
			add(a.Name, name, low(q), low(q)+1, func(d *Data, _ *Options) {
				less := *a
				less.Z, less.ZNames = without(a.Z, j), without(a.ZNames, j)
				d.Above = &less
			})
		}
	}
	for j, c := range d.Crossed {
		add(c.Name, "intercept", 0, 1, func(d *Data, _ *Options) { d.Crossed = without(d.Crossed, j) })
	}
	if o.Correlation == ContinuousAR1 {
		add("residual", TimeTerm, 0, 1, func(_ *Data, o *Options) { o.Correlation = Independent })
	}
	if k := len(m.Spread) - 1; k > 0 {
		add("residual", SpreadTerm, k, k, func(d *Data, _ *Options) { d.Spread = nil })
	}
	return out
}

// against compares the model with a smaller one.
func (m *Model) against(d Data, o Options) (VarianceTest, error) {
	ll := m.floor()
	if len(d.Z) > 0 || d.RandomIntercept || o.Correlation != Independent || d.layered() {
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
	n, base := float64(m.f.N), 0.0
	if m.layers != nil {
		base = m.layers.base
	} else {
		base = m.obj.base
	}
	free := n
	if !m.ML {
		free -= float64(m.f.P)
	}
	// The response of the criterion is the least-squares residual with a mean
	// square of 1.
	return -(free*(math.Log(2*math.Pi*n/free)+1) + base) / 2
}

func chiSquare(x float64, df int) float64 {
	if math.IsNaN(x) {
		return x
	}
	return stats.ChiSquareP(x, float64(df))
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
