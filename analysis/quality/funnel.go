package quality

import (
	"fmt"
	"math"
	"sort"

	"gonum.org/v1/gonum/stat/distuv"

	"plybook/analysis/stats"
)

// The tails of a funnel's limits on each side: 95% to watch, 99.8% to act on.
const (
	TailWatch = 0.025
	TailAct   = 0.001
)

// LeastOfUnit is the number expected of a unit, of rows that count and of
// rows that do not, below which it is not judged.
const LeastOfUnit = 5

// UnitsForDispersion is the number of units from which on the spread between
// them is estimated: with fewer, one outlier alone would widen the limits that
// should show it.
const UnitsForDispersion = 8

// FunnelUnit is a unit with what was seen of it and what was expected.
type FunnelUnit struct {
	Name     string
	Observed float64
	// Chances are the chances expected of its rows, each above 0 and below 1:
	// the number that count is then a sum of unequal trials. Nil where events
	// are counted over an exposure: the number is then Poisson.
	Chances []float64
	// Mean is the number expected where Chances is nil.
	Mean float64
}

// Beyond says where a unit lies.
type Beyond int

// The places of a unit.
const (
	Within Beyond = iota
	Watch         // outside the 95% limits
	Act           // outside the 99.8% limits
)

// FunnelResult is a unit, judged.
type FunnelResult struct {
	Name      string
	Rows      int // 0 where there are no rows
	Observed  float64
	Expected  float64
	Variance  float64 // of the number, by chance alone
	Z         float64 // (observed - expected) / standard deviation
	Lower95   float64 // limits of the number, as drawn; a number on or below is outside
	Upper95   float64 // on or above
	Lower998  float64
	Upper998  float64
	Beyond    Beyond
	Above     bool
	TooFew    bool // not judged: under LeastOfUnit expected
	TailBelow float64
	TailAbove float64 // P(number >= observed) by chance alone
}

// Funnel is a finished comparison of units.
type Funnel struct {
	Units []FunnelResult // in the order given

	Judged     int
	Dispersion float64 // mean of the squared z, their outer tenths drawn in
	HasSpread  bool    // false under 2 judged units
	SpreadP    float64 // of more spread than chance, chi-square with Judged degrees of freedom
	Widened    float64 // by how much the limits are widened; 1: not
}

// FunnelOptions are the choices of a funnel.
type FunnelOptions struct {
	// Overdispersed widens the limits by the square root of Dispersion where
	// that is above 1. Auto does so where at least UnitsForDispersion units are
	// judged and SpreadP is below 0.05.
	Overdispersed, Auto bool
}

// CompareUnits judges units against what is expected of them. The limits are
// exact: a unit is outside on the upper side where chance alone gives its
// number or more with a probability of at most 2.5% (99.8%: 0.1%), and on the
// lower side likewise. Between whole numbers the limits are interpolated, so
// that they are smooth in the size of a unit: below at r - a, above at
// r - a + 1, with r the smallest number with F(r) >= prob and
// a = (F(r) - prob) / (F(r) - F(r-1)). (Spiegelhalter draws both at r - a.)
//
// Where units differ more than chance explains, limits may be widened by the
// square root of the mean squared z, the outer tenths of the z drawn in to
// their quantiles of 10% and 90%.
//
// Source: Spiegelhalter DJ. Funnel plots for comparing institutional
// performance. Stat Med 2005;24:1185-1202; Handling over-dispersion of
// performance indicators. Qual Saf Health Care 2005;14:347-351.
func CompareUnits(units []FunnelUnit, o FunnelOptions) (*Funnel, error) {
	f := &Funnel{Widened: 1}
	var z []float64
	for _, u := range units {
		r := FunnelResult{Name: u.Name, Observed: u.Observed, Rows: len(u.Chances)}
		if !(u.Observed >= 0) || u.Observed != math.Trunc(u.Observed) || u.Chances != nil && u.Observed > float64(len(u.Chances)) {
			return nil, fmt.Errorf("funnel: %v observed of %d in unit %q: %w", u.Observed, len(u.Chances), u.Name, ErrBadValue)
		}
		var d counts
		if u.Chances == nil {
			if !(u.Mean > 0) || u.Mean > 1e9 {
				return nil, fmt.Errorf("funnel: %v expected of unit %q: %w", u.Mean, u.Name, ErrBadValue)
			}
			r.Expected, r.Variance = u.Mean, u.Mean
			d = poissonCounts(u.Mean)
			r.TooFew = u.Mean < LeastOfUnit-1e-9 // sums of shares end a hair off whole numbers
		} else {
			for _, p := range u.Chances {
				if !(p > 0) || !(p < 1) {
					return nil, fmt.Errorf("funnel: a chance of %v in unit %q: %w", p, u.Name, ErrBadValue)
				}
				r.Expected += p
				r.Variance += p * (1 - p)
			}
			d = trials(u.Chances)
			r.TooFew = math.Min(r.Expected, float64(len(u.Chances))-r.Expected) < LeastOfUnit-1e-9
		}
		if r.Variance > 0 {
			r.Z = (r.Observed - r.Expected) / math.Sqrt(r.Variance)
		}
		r.TailBelow, r.TailAbove = d.upTo(int(r.Observed)), d.from(int(r.Observed))
		r.Lower95, r.Upper95 = d.limits(TailWatch)
		r.Lower998, r.Upper998 = d.limits(TailAct)
		if !r.TooFew {
			f.Judged++
			z = append(z, r.Z)
		}
		f.Units = append(f.Units, r)
	}
	f.spread(z)
	if f.HasSpread && f.Dispersion > 1 && (o.Overdispersed || o.Auto && f.Judged >= UnitsForDispersion && f.SpreadP < 0.05) {
		f.Widened = math.Sqrt(f.Dispersion)
	}
	for i := range f.Units {
		f.Units[i].judge(f.Widened)
	}
	return f, nil
}

func (f *Funnel) spread(z []float64) {
	if len(z) < 2 {
		return
	}
	sorted := append([]float64(nil), z...)
	sort.Float64s(sorted)
	lo, hi := quantile7(sorted, 0.1), quantile7(sorted, 0.9)
	sum := 0.0
	for _, x := range z {
		x = math.Max(lo, math.Min(hi, x))
		sum += x * x
	}
	f.HasSpread = true
	f.Dispersion = sum / float64(len(z))
	f.SpreadP = stats.ChiSquareP(sum, float64(len(z)))
}

// quantile7 is the quantile of sorted values, by linear interpolation between
// them at 1 + (n-1) p.
func quantile7(sorted []float64, p float64) float64 {
	h := float64(len(sorted)-1) * p
	i := int(math.Floor(h))
	if i+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (h-float64(i))*(sorted[i+1]-sorted[i])
}

func (r *FunnelResult) judge(widened float64) {
	for _, l := range []*float64{&r.Lower95, &r.Upper95, &r.Lower998, &r.Upper998} {
		*l = r.Expected + widened*(*l-r.Expected)
	}
	r.Lower95, r.Lower998 = math.Max(0, r.Lower95), math.Max(0, r.Lower998)
	if r.TooFew {
		return
	}
	// The lines pass through whole numbers at the edge of what they say; what
	// rounding does there must not decide.
	const hair = 1e-9
	r.Above = r.Observed > r.Expected
	out := func(lower, upper float64) bool {
		return r.Observed >= upper-hair || r.Observed < lower-hair
	}
	switch {
	case out(r.Lower998, r.Upper998):
		r.Beyond = Act
	case out(r.Lower95, r.Upper95):
		r.Beyond = Watch
	}
}

// FunnelLimits are the limits of the share of n rows that count, each with
// the chance p: those that are drawn.
func FunnelLimits(n int, p float64, widened float64) FunnelResult {
	r := FunnelResult{Rows: n, Expected: float64(n) * p}
	d := binomialCounts(n, p)
	r.Lower95, r.Upper95 = d.limits(TailWatch)
	r.Lower998, r.Upper998 = d.limits(TailAct)
	r.TooFew = true // nothing was observed
	r.judge(widened)
	return r
}

// FunnelLimitsPoisson are those of a number of which mean are expected.
func FunnelLimitsPoisson(mean, widened float64) FunnelResult {
	r := FunnelResult{Expected: mean}
	d := poissonCounts(mean)
	r.Lower95, r.Upper95 = d.limits(TailWatch)
	r.Lower998, r.Upper998 = d.limits(TailAct)
	r.TooFew = true
	r.judge(widened)
	return r
}

// counts is the distribution of a number: the probabilities of first,
// first+1, ...; what lies outside has less than 1e-15 together.
type counts struct {
	first int
	p     []float64
}

// upTo is P(X <= k), from is P(X >= k).
func (d counts) upTo(k int) float64 {
	sum := 0.0
	for i := 0; i < len(d.p) && d.first+i <= k; i++ {
		sum += d.p[i]
	}
	return math.Min(sum, 1)
}

func (d counts) from(k int) float64 {
	sum := 0.0
	for i := len(d.p) - 1; i >= 0 && d.first+i >= k; i-- {
		sum += d.p[i]
	}
	return math.Min(sum, 1)
}

// limits are those at a tail on each side, as CompareUnits says.
func (d counts) limits(tail float64) (lower, upper float64) {
	cum := 0.0
	for i, p := range d.p {
		if cum+p >= tail {
			lower = float64(d.first+i) - (cum+p-tail)/p
			break
		}
		cum += p
	}
	// From above, where small tails are summed without loss: the largest r
	// with P(X >= r) > tail is the smallest with F(r) >= 1 - tail.
	cum = 0
	for i := len(d.p) - 1; i >= 0; i-- {
		if cum+d.p[i] > tail {
			// F(r) - (1 - tail) = tail - P(X > r).
			upper = float64(d.first+i) - (tail-cum)/d.p[i] + 1
			break
		}
		cum += d.p[i]
	}
	return math.Max(0, lower), upper
}

// trials is the distribution of the number of successes of unequal trials,
// built up one trial at a time; ends of less than 1e-20 are dropped, at most
// 2 a trial.
func trials(chances []float64) counts {
	same := true
	for _, p := range chances {
		same = same && p == chances[0]
	}
	if same && len(chances) > 0 {
		return binomialCounts(len(chances), chances[0])
	}
	d := counts{p: []float64{1}}
	for _, p := range chances {
		d.p = append(d.p, 0)
		for i := len(d.p) - 1; i > 0; i-- {
			d.p[i] = d.p[i]*(1-p) + d.p[i-1]*p
		}
		d.p[0] *= 1 - p
		for len(d.p) > 1 && d.p[0] < 1e-20 {
			d.p = d.p[1:]
			d.first++
		}
		for len(d.p) > 1 && d.p[len(d.p)-1] < 1e-20 {
			d.p = d.p[:len(d.p)-1]
		}
	}
	return d
}

func binomialCounts(n int, p float64) counts {
	logN, _ := math.Lgamma(float64(n) + 1)
	return around(int(float64(n)*p), n, func(k int) float64 {
		a, _ := math.Lgamma(float64(k) + 1)
		b, _ := math.Lgamma(float64(n-k) + 1)
		return math.Exp(logN - a - b + float64(k)*math.Log(p) + float64(n-k)*math.Log1p(-p))
	})
}

func poissonCounts(mean float64) counts {
	d := distuv.Poisson{Lambda: mean}
	return around(int(mean), math.MaxInt32, func(k int) float64 { return d.Prob(float64(k)) })
}

// around gathers the probabilities about the middle of a distribution, as far
// as they are above 1e-20.
func around(middle, most int, p func(k int) float64) counts {
	d := counts{first: middle}
	var below []float64
	for k := middle - 1; k >= 0; k-- {
		x := p(k)
		if x < 1e-20 {
			break
		}
		below = append(below, x)
	}
	for i := len(below) - 1; i >= 0; i-- {
		d.p = append(d.p, below[i])
	}
	d.first -= len(below)
	for k := middle; k <= most; k++ {
		x := p(k)
		if x < 1e-20 && k > middle {
			break
		}
		d.p = append(d.p, x)
	}
	return d
}
