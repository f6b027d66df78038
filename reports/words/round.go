// Package words turns numbers into print: every rounding of the project is
// here, of estimates and their limits in estimate.go and of all else in this
// file, and every phrase that more than one reading needs is beside it.
// Numbers for programs never pass through here.
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

// AsWritten prints a number that somebody gave as they would write it: "0.5",
// "80", to twelve figures.
func AsWritten(x float64) string {
	short, err := strconv.ParseFloat(strconv.FormatFloat(x, 'g', 12, 64), 64)
	if err != nil {
		short = x
	}
	return strings.Replace(strconv.FormatFloat(short, 'f', -1, 64), "-", Minus, 1)
}

// Count prints a number with its noun in the right number.
func Count(x float64, one, many string) string { return With(number1(x), one, many) }

// With sets the noun, if any, behind a printed number in the right number.
func With(printed, one, many string) string {
	noun := many
	if s := strings.TrimPrefix(strings.TrimPrefix(printed, "+"), Minus); s == "1" {
		noun = one
	}
	return strings.TrimSuffix(printed+" "+noun, " ")
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
