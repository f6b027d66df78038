package words

import (
	"math"
	"strings"
)

// An estimate and its limits are printed at the same decimals: as many as
// leave two figures of the interval's width. Of a ratio it is the width that
// the interval would have if both of its arms, which are equal on the
// logarithm, were as long as the lower one, with two decimals at least where
// that lies below 1. Three things add to that:
//
//   - a limit that is not the value of no difference (0 of a difference, 1 of
//     a ratio) is not printed as that value, where up to two decimals more
//     help it;
//   - what is above 0 is never printed as 0 and what is under 100% never as
//     100%: it is printed as below or above the last value that can stand at
//     these decimals ("< 0.1", "> 99%");
//   - a whole number is the coarsest print.

// mostDecimals bounds the decimals of a print.
const mostDecimals = 9

// noDifference is how many decimals more are given to show on which side of
// no difference a limit lies.
const noDifference = 2

// hugeRatio is the ratio beyond which a number tells no more.
const hugeRatio = 1000

// DecimalsFor gives the decimals at which a number that is known to within an
// interval of the given width is printed, no more than most. Without a width
// there are two.
func DecimalsFor(width float64, most int) int {
	if !(width > 0) || math.IsInf(width, 0) {
		return min(2, most)
	}
	d := 1 - int(math.Floor(math.Log10(width)))
	if d > 0 && math.Round(width*math.Pow10(d)) >= 100 { // 0.996 is 1.0
		d--
	}
	return max(0, min(d, most))
}

// freeDecimals are the decimals of a number that may be of either sign.
func freeDecimals(low, high float64) int {
	if low == high {
		return plainDecimals(low)
	}
	return apart(DecimalsFor(high-low, figuresFor(low, high)), 0, low, high)
}

// figuresFor bounds the decimals of numbers of this size: an interval so
// narrow that it differs in the seventh figure only is not told.
func figuresFor(low, high float64) int {
	size := math.Max(math.Abs(low), math.Abs(high))
	return max(0, min(mostDecimals, 5-int(math.Floor(math.Log10(size)))))
}

// apart adds decimals until no limit looks like the value of no difference.
func apart(d int, none float64, limits ...float64) int {
	for k := d; k <= min(d+noDifference, mostDecimals); k++ {
		looks := false
		for _, x := range limits {
			looks = looks || x != none && Fixed(x, k) == Fixed(none, k)
		}
		if !looks {
			return k
		}
	}
	return d
}

// Value prints an estimate that may be of either sign, such as a mean or a
// difference, as its interval allows.
func Value(x, low, high float64) string { return Fixed(x, freeDecimals(low, high)) }

// Interval prints "low to high" at the decimals of Value.
func Interval(low, high float64) string {
	d := freeDecimals(low, high)
	return Fixed(low, d) + " to " + Fixed(high, d)
}

// Signed prints a difference with its sign, + or −, and none where it comes
// to 0.
func Signed(x, low, high float64) string { return withSign(Value(x, low, high)) }

// SignedFixed prints a number with its sign and the given decimals.
func SignedFixed(x float64, decimals int) string { return withSign(Fixed(x, decimals)) }

// SignedPlain prints a difference that has no interval with its sign.
func SignedPlain(x float64) string { return withSign(Plain(x)) }

func withSign(s string) string {
	if strings.HasPrefix(s, Minus) || strings.Trim(s, "0.,") == "" || s == NotComputed {
		return s
	}
	return "+" + s
}

// Rate prints an estimate that cannot be below 0, such as a rate or a
// standard deviation, as its interval allows.
func Rate(x, low, high float64) string { return positive(x, rateDecimals(low, high)) }

// RateRange prints "low to high" at the decimals of Rate.
func RateRange(low, high float64) string {
	d := rateDecimals(low, high)
	return positive(low, d) + " to " + positive(high, d)
}

func rateDecimals(low, high float64) int {
	if low == high {
		return plainDecimals(low)
	}
	return DecimalsFor(high-low, figuresFor(low, high))
}

// positive prints what is above 0 never as 0.
func positive(x float64, d int) string {
	if s := Fixed(x, d); x <= 0 || math.IsNaN(x) || strings.Trim(s, "0.") != "" {
		return s
	}
	return "< " + Fixed(math.Pow10(-d), d)
}

// Ratio prints a ratio that has no interval: two decimals below ten.
func Ratio(x float64) string {
	switch {
	case x < 9.995:
		return ratio(x, 2)
	case x < 99.95:
		return ratio(x, 1)
	}
	return ratio(x, 0)
}

// RatioWithin prints a ratio as its interval allows.
func RatioWithin(x, low, high float64) string { return ratio(x, ratioDecimals(low, high)) }

// RatioRange prints "low to high" at the decimals of RatioWithin.
func RatioRange(low, high float64) string {
	d := ratioDecimals(low, high)
	return ratio(low, d) + " to " + ratio(high, d)
}

func ratioDecimals(low, high float64) int {
	if !(low >= 0 && high > low) || math.IsInf(high, 0) {
		return 2
	}
	small, large := math.Max(low, 0.01), math.Min(high, hugeRatio)
	d := DecimalsFor(2*(math.Sqrt(small*large)-small), figuresFor(low, high))
	switch {
	case low < small:
		d = 2
	case low < 1:
		d = max(d, 2)
	}
	return apart(d, 1, low, high)
}

func ratio(x float64, d int) string {
	if x > hugeRatio && !math.IsInf(x, 0) {
		return "> " + Fixed(hugeRatio, 0)
	}
	return positive(x, d)
}

// Percent prints a share (0 to 1) that has no interval: whole percents where
// n is under 100, one decimal from there on.
func Percent(share float64, n int) string {
	d := 0
	if n >= 100 {
		d = 1
	}
	return percent(share, d)
}

// PercentWithin prints a share (0 to 1) as its interval allows.
func PercentWithin(share, low, high float64) string { return percent(share, shareDecimals(low, high)) }

// PercentRange prints "low to high%" at the decimals of PercentWithin.
func PercentRange(low, high float64) string {
	d := shareDecimals(low, high)
	return strings.TrimSuffix(percent(low, d), "%") + " to " + percent(high, d)
}

func shareDecimals(low, high float64) int {
	if low == high && (low == 0 || low == 1) {
		return 0
	}
	return min(rateDecimals(100*low, 100*high), 2)
}

func percent(share float64, d int) string {
	if math.IsNaN(share) || math.IsInf(share, 0) {
		return NotComputed
	}
	if share < 1 && Fixed(100*share, d) == Fixed(100, d) {
		return "> " + Fixed(100-math.Pow10(-d), d) + "%"
	}
	if share == 0 || share == 1 {
		d = 0
	}
	return positive(100*share, d) + "%"
}

// unit is the unit in which a time is told, and how many days it has.
type unit struct {
	one, many string
	days      float64
}

var (
	inDays   = unit{"day", "days", 1}
	inMonths = unit{"month", "months", 30.4375}
	inYears  = unit{"year", "years", 365.25}
)

// unitFor is the unit that a person would use for a length of time like this
// one: days up to 90, months to three years, years beyond.
func unitFor(like float64) unit {
	switch m := math.Abs(like); {
	case m >= 3*inYears.days:
		return inYears
	case m >= 91:
		return inMonths
	}
	return inDays
}

// Span prints a length of time in days that has no interval, in the unit a
// person would use.
func Span(days float64) string { return SpanIn(days, days) }

// SpanIn prints a length of time that has no interval in the unit that suits
// a length of like, with a decimal where the unit is longer than a day and
// the number is not whole.
func SpanIn(days, like float64) string {
	if math.IsNaN(days) || math.IsInf(days, 0) {
		return NotComputed
	}
	u := unitFor(like)
	return Count(days/u.days, u.one, u.many)
}

// Times prints lengths of time as their interval allows, in one unit.
type Times struct {
	unit     unit
	decimals int
}

// TimesWithin gives the print of a length of time whose interval is low to
// high (in days), in the unit that suits a length of like; with like 0 in that
// of the longer limit.
func TimesWithin(low, high, like float64) Times {
	if like == 0 {
		like = math.Max(math.Abs(low), math.Abs(high))
	}
	u := unitFor(like)
	return Times{u, freeDecimals(low/u.days, high/u.days)}
}

// TimesFrom gives the print of a length of time whose interval has a lower
// limit only: as if the upper arm were as long.
func TimesFrom(x, low, like float64) Times { return TimesWithin(low, 2*x-low, like) }

// Of prints "4.1 months".
func (t Times) Of(days float64) string {
	return With(t.Bare(days), t.unit.one, t.unit.many)
}

// Bare prints "4.1", where the unit stands already.
func (t Times) Bare(days float64) string { return Fixed(days/t.unit.days, t.decimals) }

// Range prints "3.6 to 4.8 months".
func (t Times) Range(low, high float64) string {
	return t.Bare(low) + " to " + t.Bare(high) + " " + t.unit.many
}

// SpanWithin prints a length of time as its interval allows.
func SpanWithin(days, low, high float64) string { return TimesWithin(low, high, 0).Of(days) }

// SpanRange prints "low to high" at the unit and decimals of SpanWithin.
func SpanRange(low, high float64) string { return TimesWithin(low, high, 0).Range(low, high) }

// plainDecimals are the decimals of a number that has no interval: up to four
// figures.
func plainDecimals(x float64) int {
	switch a := math.Abs(x); {
	case a == math.Trunc(a) || a >= 1000 || math.IsInf(a, 0) || math.IsNaN(a):
		return 0
	case a >= 10:
		return 1
	case a >= 0.1:
		return 2
	case a >= 0.01:
		return 3
	default:
		return min(2-int(math.Floor(math.Log10(a))), 15)
	}
}

// Plain prints a number that has no interval with up to four figures.
func Plain(x float64) string { return Fixed(x, plainDecimals(x)) }

// P prints a p-value: three decimals, four below 0.001, and no more.
func P(p float64) string {
	switch {
	case math.IsNaN(p):
		return NotComputed
	case p < 0.0001:
		return "< 0.0001"
	case p < 0.001:
		return Fixed(p, 4)
	case p < 1 && p >= 0.9995:
		return "> 0.999"
	default:
		return Fixed(p, 3)
	}
}

// PEquals prints "p = 0.012" or "p < 0.0001".
func PEquals(p float64) string {
	s := P(p)
	if strings.HasPrefix(s, "<") || strings.HasPrefix(s, ">") {
		return "p " + s
	}
	return "p = " + s
}
