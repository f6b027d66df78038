package quality

import (
	"errors"
	"fmt"
	"math"
)

// Errors of Suits.
var (
	// ErrMedianZero reports that more than half of the periods stand at
	// nothing (or at all rows), so that runs about the middle mean nothing.
	ErrMedianZero = errors.New("more than half of the periods stand at one end")
	// ErrFewExpected reports fewer than LeastExpected events a period on
	// average.
	ErrFewExpected = errors.New("too few events in a period")
)

// LeastExpected is the average number of events a period (rows that count,
// or in a p chart rows that do not, whichever is fewer) below which a chart
// of periods is refused: with fewer than 1, more than a third of the periods
// have none by chance alone, and a single event can lie outside the limits.
// Between it and MinExpected a chart is drawn with a warning.
const LeastExpected = 1

// Unsuitable says why counts do not suit a chart of periods.
type Unsuitable struct {
	Kind     Kind
	At       int     // periods that stand at the end, of
	Periods  int     // those with a value
	Full     bool    // the end is all rows, not none
	Expected float64 // events a period on average
	Err      error   // ErrMedianZero or ErrFewExpected
}

func (u *Unsuitable) Error() string {
	if errors.Is(u.Err, ErrMedianZero) {
		return fmt.Sprintf("%s chart: %d of %d periods stand at one end: %v", u.Kind, u.At, u.Periods, u.Err)
	}
	return fmt.Sprintf("%s chart: %.2g expected: %v", u.Kind, u.Expected, u.Err)
}

func (u *Unsuitable) Unwrap() error { return u.Err }

// Suits says whether counts suit a chart of periods (p, u, c, or xmr of
// counts, whose denominators do not matter): nil, or an *Unsuitable. The
// counts are those of PChart; periods without a denominator are passed over.
//
// Source: the rules for runs take either side of the median as equally
// likely (Anhoej and Olesen 2014, see applyRules); the bound on the events
// expected is common practice, no source.
func Suits(kind Kind, numerator, denominator []float64) *Unsuitable {
	u := &Unsuitable{Kind: kind}
	none, full, num, den := 0, 0, 0.0, 0.0
	for i, d := range denominator {
		if d <= 0 {
			continue
		}
		n := numerator[i]
		u.Periods++
		num, den = num+n, den+d
		switch {
		case n == 0:
			none++
		case kind == KindP && n == d:
			full++
		}
	}
	if u.Periods == 0 {
		return nil
	}
	few := num
	if kind == KindP {
		few = math.Min(num, den-num)
	}
	u.Expected = few / float64(u.Periods)
	u.At, u.Full = none, false
	if full > none {
		u.At, u.Full = full, true
	}
	switch {
	case 2*u.At > u.Periods:
		u.Err = ErrMedianZero
	case kind != KindXmR && u.Expected < LeastExpected:
		u.Err = ErrFewExpected
	default:
		return nil
	}
	return u
}
