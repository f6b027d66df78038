// Package words turns numbers into print: every rounding of the project is
// in this file, and every phrase that more than one reading needs is beside
// it. Numbers for programs never pass through here.
package words

import (
	"math"
	"strconv"
	"strings"
	"time"
)

// Minus is the sign set before negative numbers in print.
const Minus = "−"

// NotComputed is printed where a number could not be had.
const NotComputed = "not computed"

// Fixed prints x with the given decimals, a true minus sign and a thin
// structure a reader expects: thousands are set apart by a comma.
func Fixed(x float64, decimals int) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return NotComputed
	}
	s := strconv.FormatFloat(math.Abs(x), 'f', decimals, 64)
	neg := x < 0 && strings.Trim(s, "0.") != ""
	whole, frac, hasFrac := strings.Cut(s, ".")
	if len(whole) > 4 {
		var b strings.Builder
		for i, r := range whole {
			if i > 0 && (len(whole)-i)%3 == 0 {
				b.WriteByte(',')
			}
			b.WriteRune(r)
		}
		whole = b.String()
	}
	if hasFrac {
		whole += "." + frac
	}
	if neg {
		return Minus + whole
	}
	return whole
}

// DecimalsFor gives the decimals at which an estimate whose interval is
// width wide is printed: two figures of the width, no more than maxDecimals.
func DecimalsFor(width float64, maxDecimals int) int {
	if !(width > 0) || math.IsInf(width, 0) {
		return min(2, maxDecimals)
	}
	d := 1 - int(math.Floor(math.Log10(width)))
	return max(0, min(d, maxDecimals))
}

// Value prints an estimate at the precision its interval allows.
func Value(x, low, high float64) string { return Fixed(x, DecimalsFor(high-low, 4)) }

// Interval prints "low to high" at the precision of its own width.
func Interval(low, high float64) string {
	d := DecimalsFor(high-low, 4)
	return Fixed(low, d) + " to " + Fixed(high, d)
}

// Plain prints a number that has no interval with up to four figures.
func Plain(x float64) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return NotComputed
	}
	a := math.Abs(x)
	switch {
	case a == math.Trunc(a) && a < 1e15:
		return Fixed(x, 0)
	case a >= 1000:
		return Fixed(x, 0)
	case a >= 10:
		return Fixed(x, 1)
	case a >= 0.1:
		return Fixed(x, 2)
	case a >= 0.01:
		return Fixed(x, 3)
	default:
		return strings.Replace(strconv.FormatFloat(x, 'g', 3, 64), "-", Minus, 1)
	}
}

// Percent prints a share (0 to 1): whole percents where n is under 100, one
// decimal from there on.
func Percent(share float64, n int) string {
	if math.IsNaN(share) || math.IsInf(share, 0) {
		return NotComputed
	}
	d := 0
	if n >= 100 {
		d = 1
	}
	return Fixed(100*share, d) + "%"
}

// PercentRange prints "low% to high%", or "low to high%" in one unit.
func PercentRange(low, high float64, n int) string {
	return strings.TrimSuffix(Percent(low, n), "%") + " to " + Percent(high, n)
}

// P prints a p-value: three decimals, or two figures when small.
func P(p float64) string {
	switch {
	case math.IsNaN(p):
		return NotComputed
	case p < 0.0001:
		return "< 0.0001"
	case p < 0.001:
		return Fixed(p, 4)
	default:
		return Fixed(p, 3)
	}
}

// PEquals prints "p = 0.012" or "p < 0.0001".
func PEquals(p float64) string {
	s := P(p)
	if strings.HasPrefix(s, "<") {
		return "p " + s
	}
	return "p = " + s
}

// Ratio prints a ratio with its interval, two decimals below ten.
func Ratio(x float64) string {
	switch {
	case math.IsNaN(x) || math.IsInf(x, 0):
		return NotComputed
	case x != 0 && x < 0.01:
		return "< 0.01"
	case x < 10:
		return Fixed(x, 2)
	case x < 1000:
		return Fixed(x, 1)
	default:
		return "> 1,000"
	}
}

// RatioWithin prints a ratio at the precision its interval allows, at least
// two decimals below ten.
func RatioWithin(x, low, high float64) string {
	if d := DecimalsFor(high-low, 4); d > 2 && x < 10 && x >= 0.01 {
		return Fixed(x, d)
	}
	return Ratio(x)
}

// RatioRange prints "low to high" of a ratio.
func RatioRange(low, high float64) string {
	return RatioWithin(low, low, high) + " to " + RatioWithin(high, low, high)
}

// Span prints a length of time given in days in the unit a person would
// use: days up to 90, months to three years, years beyond.
func Span(days float64) string {
	switch {
	case math.IsNaN(days) || math.IsInf(days, 0):
		return NotComputed
	case math.Abs(days) < 91:
		return Count(days, "day", "days")
	case math.Abs(days) < 3*365.25:
		return Count(days/30.4375, "month", "months")
	default:
		return Count(days/365.25, "year", "years")
	}
}

// SpanRange prints "4.1 to 6.0 months" in the unit of the longer.
func SpanRange(low, high float64) string { return SpanRangeIn(low, high, math.Max(low, high)) }

// SpanRangeIn prints a range in the unit that suits a length of like, so that
// ranges which stand together share a unit.
func SpanRangeIn(low, high, like float64) string {
	unit, div := "days", 1.0
	switch m := like; {
	case m >= 3*365.25:
		unit, div = "years", 365.25
	case m >= 91:
		unit, div = "months", 30.4375
	}
	a, b := number1(low/div), number1(high/div)
	if strings.Contains(a, ".") != strings.Contains(b, ".") { // both to the same decimals
		a, b = Fixed(low/div, 1), Fixed(high/div, 1)
	}
	return a + " to " + b + " " + unit
}

// SpanWithin prints a length of time in the unit in which SpanRange prints
// its interval.
func SpanWithin(days, low, high float64) string { return SpanIn(days, math.Max(low, high)) }

// SpanIn prints a length of time in the unit that suits a length of like.
func SpanIn(days, like float64) string {
	if math.IsNaN(days) || math.IsInf(days, 0) {
		return NotComputed
	}
	switch m := like; {
	case m >= 3*365.25:
		return Count(days/365.25, "year", "years")
	case m >= 91:
		return Count(days/30.4375, "month", "months")
	}
	return Count(days, "day", "days")
}

// At prints a time point as it would be asked for: "90 days", "1 year".
func At(days float64) string {
	for _, u := range []struct {
		d         float64
		one, many string
	}{{365.25, "year", "years"}, {30.4375, "month", "months"}} {
		if q := days / u.d; q >= 1 && math.Abs(q-math.Round(q)) < 1e-9 {
			return Count(math.Round(q), u.one, u.many)
		}
	}
	return Count(days, "day", "days")
}

// Count prints a number with its noun in the right number.
func Count(x float64, one, many string) string {
	s := number1(x)
	if s == "1" || s == Minus+"1" {
		return s + " " + one
	}
	return s + " " + many
}

// N prints a whole number with its noun in the right number.
func N(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return Fixed(float64(n), 0) + " " + many
}

// number1 prints at most one decimal and none where it would be zero.
func number1(x float64) string {
	return strings.TrimSuffix(Fixed(x, 1), ".0")
}

// Date prints days since 1970-01-01 as 2 January 2026.
func Date(days float64) string { return day(days).Format("2 January 2006") }

// ISODate prints days since 1970-01-01 as 2026-01-02.
func ISODate(days float64) string { return day(days).Format("2006-01-02") }

func day(days float64) time.Time {
	return time.Unix(int64(days)*86400, 0).UTC()
}

// List joins phrases with commas and a final "and".
func List(items []string) string {
	switch len(items) {
	case 0:
		return ""
	case 1:
		return items[0]
	}
	return strings.Join(items[:len(items)-1], ", ") + " and " + items[len(items)-1]
}

// Capital sets the first letter large.
func Capital(s string) string {
	if s == "" {
		return s
	}
	r := []rune(s)
	return strings.ToUpper(string(r[0])) + string(r[1:])
}
