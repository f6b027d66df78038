package survival

import (
	"fmt"
	"math"
)

// Distribution is the family of a parametric regression: what the error W of
// log T = x'b + s W is, and so what T is.
type Distribution int

// The distributions.
const (
	WeibullLife          Distribution = iota // W has the smallest extreme value distribution
	ExponentialLife                          // the same with s fixed at 1: a constant hazard
	LogNormalLife                            // W is standard normal
	LogLogisticLife                          // W is standard logistic
	GeneralisedGammaLife                     // W has the law of Prentice with a shape of its own, estimated too
)

// Distributions are all of them, in order.
func Distributions() []Distribution {
	return []Distribution{WeibullLife, ExponentialLife, LogNormalLife, LogLogisticLife, GeneralisedGammaLife}
}

func (d Distribution) String() string {
	if d < WeibullLife || d > GeneralisedGammaLife {
		return fmt.Sprintf("distribution %d", int(d))
	}
	return [...]string{"Weibull", "exponential", "log-normal", "log-logistic", "generalised gamma"}[d]
}

// FixedScale says whether s is 1 and not estimated.
func (d Distribution) FixedScale() bool { return d == ExponentialLife }

// Proportional says whether a ratio of times is a ratio of hazards that
// stays the same for all time.
func (d Distribution) Proportional() bool { return d == WeibullLife || d == ExponentialLife }

// Shaped says whether W has a shape that is estimated.
func (d Distribution) Shaped() bool { return d == GeneralisedGammaLife }

// law is that of W; q is the shape of one that has a shape.
func (d Distribution) law(q float64) law {
	switch d {
	case LogNormalLife:
		return normalLaw{}
	case LogLogisticLife:
		return logisticLaw{}
	case GeneralisedGammaLife:
		return newGammaLaw(q)
	}
	return extremeLaw{}
}

// law is a standard distribution on the whole line with a log-concave
// density. Logarithms and ratios are worked out so that they hold in the
// tails, where the probabilities themselves are 0 or 1 in a number.
type law interface {
	density(z float64) (log, first, second float64)  // log density and its derivatives
	survival(z float64) (log, hazard, first float64) // log P(W>z), density over it, and the derivative of that
	below(z float64) (log, reversed, first float64)  // log P(W<=z), density over it, and the derivative of that
	quantile(p float64) float64                      // z with P(W<=z) = p
}

type extremeLaw struct{}

func (extremeLaw) density(z float64) (log, first, second float64) {
	w := math.Exp(z)
	return z - w, 1 - w, -w
}

func (extremeLaw) survival(z float64) (log, hazard, first float64) {
	w := math.Exp(z)
	return -w, w, w
}

func (extremeLaw) below(z float64) (log, reversed, first float64) {
	w := math.Exp(z)
	switch {
	case w < 1e-8: // to first order; the next terms are below rounding
		return z - w/2, 1 - w/2, -w / 2
	case w > 700:
		return 0, 0, 0
	}
	r := w / math.Expm1(w)
	return math.Log(-math.Expm1(-w)), r, r * (1 - w - r)
}

func (extremeLaw) quantile(p float64) float64 { return math.Log(-math.Log1p(-p)) }

type normalLaw struct{}

var logRoot2Pi = 0.5 * math.Log(2*math.Pi)

func (normalLaw) density(z float64) (log, first, second float64) {
	return -z*z/2 - logRoot2Pi, -z, -1
}

func (normalLaw) survival(z float64) (log, hazard, first float64) {
	if z < 8 {
		s := 0.5 * math.Erfc(z/math.Sqrt2)
		h := math.Exp(-z*z/2-logRoot2Pi) / s
		return math.Log(s), h, h * (h - z)
	}
	// Laplace's continued fraction z + 1/(z + 2/(z + 3/...)) for the hazard;
	// tail is what comes after the first z, so that hazard - z keeps its
	// digits.
	tail := 0.0
	for k := 60; k >= 1; k-- {
		tail = float64(k) / (z + tail)
	}
	h := z + tail
	return -z*z/2 - logRoot2Pi - math.Log(h), h, h * tail
}

func (n normalLaw) below(z float64) (log, reversed, first float64) {
	log, h, h1 := n.survival(-z)
	return log, h, -h1
}

func (normalLaw) quantile(p float64) float64 { return -math.Sqrt2 * math.Erfcinv(2*p) }

type logisticLaw struct{}

// softPlus is log(1 + exp z).
func softPlus(z float64) float64 {
	if z > 0 {
		return z + math.Log1p(math.Exp(-z))
	}
	return math.Log1p(math.Exp(z))
}

func (logisticLaw) density(z float64) (log, first, second float64) {
	p, q := 1/(1+math.Exp(-z)), 1/(1+math.Exp(z))
	return z - 2*softPlus(z), q - p, -2 * p * q
}

func (logisticLaw) survival(z float64) (log, hazard, first float64) {
	p, q := 1/(1+math.Exp(-z)), 1/(1+math.Exp(z))
	return -softPlus(z), p, p * q
}

func (logisticLaw) below(z float64) (log, reversed, first float64) {
	p, q := 1/(1+math.Exp(-z)), 1/(1+math.Exp(z))
	return -softPlus(-z), q, -p * q
}

func (logisticLaw) quantile(p float64) float64 { return math.Log(p) - math.Log1p(-p) }

// between is the log of P(l < W <= r).
func between(w law, l, r float64) float64 {
	sl, _, _ := w.survival(l)
	if sl > -0.7 { // below the median: the lower tail keeps more digits
		bl, _, _ := w.below(l)
		br, _, _ := w.below(r)
		return br + logOneMinusExp(bl-br)
	}
	sr, _, _ := w.survival(r)
	return sl + logOneMinusExp(sr-sl)
}

// logOneMinusExp is log(1 - exp x) for x below 0.
func logOneMinusExp(x float64) float64 {
	if x > -math.Ln2 {
		return math.Log(-math.Expm1(x))
	}
	return math.Log1p(-math.Exp(x))
}
