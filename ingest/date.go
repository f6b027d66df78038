package ingest

import (
	"errors"
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"
)

// NewDate returns the day; ok is false where the calendar has no such day.
func NewDate(year, month, day int) (d Date, ok bool) {
	t := time.Date(year, time.Month(month), day, 0, 0, 0, 0, time.UTC)
	if t.Year() != year || int(t.Month()) != month || t.Day() != day {
		return 0, false
	}
	return Date(int(math.Floor(float64(t.Unix()) / 86400))), true
}

// Split returns year, month and day.
func (d Date) Split() (year, month, day int) {
	t := time.Unix(int64(d)*86400, 0).UTC()
	return t.Year(), int(t.Month()), t.Day()
}

// String writes the day as 2024-03-05.
func (d Date) String() string {
	y, m, day := d.Split()
	return fmt.Sprintf("%04d-%02d-%02d", y, m, day)
}

// dateForm says how much a text fixes of a day.
type dateForm int

const (
	dateExact     dateForm = iota // day, month and year are certain
	dateOrdered                   // a/b/y: day first or month first
	dateMonthYear                 // no day
	dateYearOnly                  // no month
)

// dateRead is a date text taken apart. With dateOrdered, a and b stand in
// the order written; otherwise month and day are set.
type dateRead struct {
	form             dateForm
	year, month, day int
	a, b             int
	short            bool // the year was written with two digits
	dotted           bool // written 12.03.2024, which is day first everywhere
}

var (
	isoDate   = regexp.MustCompile(`^(\d{4})[-/.](\d{1,2})[-/.](\d{1,2})(?:[T ]\s*\d{1,2}:\d{2}(?::\d{2}(?:\.\d+)?)?(?:Z|[+-]\d{2}:?\d{2})?)?$`)
	compact   = regexp.MustCompile(`^(\d{4})(\d{2})(\d{2})$`)
	threeNums = regexp.MustCompile(`^(\d{1,2})\s*([-/. ])\s*(\d{1,2})\s*[-/. ]\s*(\d{4}|\d{2})(?: \d{1,2}:\d{2}(?::\d{2})?(?: ?[ap]m)?)?$`)
	dayName   = regexp.MustCompile(`^(\d{1,2})(?:st|nd|rd|th)?[ \-./]*(?:of )?([a-z]{3,9})\.?[ ,\-./]*(\d{4}|'?\d{2})$`)
	nameDay   = regexp.MustCompile(`^([a-z]{3,9})\.?[ \-./]*(\d{1,2})(?:st|nd|rd|th)?[ ,\-./]+(\d{4}|'?\d{2})$`)
	yearName  = regexp.MustCompile(`^(\d{4})[ \-./]*([a-z]{3,9})\.?[ \-./]*(\d{1,2})$`)
	nameYear  = regexp.MustCompile(`^([a-z]{3,9})\.?[ ,\-./]*(\d{4}|'\d{2})$`)
	numYear   = regexp.MustCompile(`^(\d{1,2})[-/.](\d{4})$`)
	yearNum   = regexp.MustCompile(`^(\d{4})[-/.](\d{1,2})$`)
	yearOnly  = regexp.MustCompile(`^(?:ca\.? ?|c\.? ?|~ ?)?((?:18|19|20|21)\d{2})$`)
	weekday   = regexp.MustCompile(`^(?:mon|tue|tues|wed|thu|thur|thurs|fri|sat|sun)(?:day|sday|nesday|rsday|urday)?[ ,.]+`)
	shortDay  = regexp.MustCompile(`^(\d{1,2})[ \-/.]([a-z]{3,9})$`)
	dayShort  = regexp.MustCompile(`^([a-z]{3,9})[ \-/.](\d{1,2})$`)
)

var monthNames = map[string]int{
	"jan": 1, "january": 1, "feb": 2, "february": 2, "mar": 3, "march": 3, "apr": 4, "april": 4, "may": 5, "jun": 6, "june": 6,
	"jul": 7, "july": 7, "aug": 8, "august": 8, "sep": 9, "sept": 9, "september": 9, "oct": 10, "october": 10, "nov": 11, "november": 11, "dec": 12, "december": 12,
}

var errNotDate = errors.New("not a date")

// readDate takes a date text apart without deciding the order of day and
// month. A two-digit year is read between 1950 and 2049.
func readDate(text string) (dateRead, error) {
	s := strings.ToLower(tidyText(text))
	s = weekday.ReplaceAllString(s, "")
	if m := isoDate.FindStringSubmatch(strings.ToUpper(s)); m != nil {
		return exactDate(num(m[1]), num(m[2]), num(m[3]), false)
	}
	if m := compact.FindStringSubmatch(s); m != nil {
		return exactDate(num(m[1]), num(m[2]), num(m[3]), false)
	}
	if m := threeNums.FindStringSubmatch(s); m != nil {
		year, short := century(m[4])
		r := dateRead{form: dateOrdered, a: num(m[1]), b: num(m[3]), year: year, short: short, dotted: m[2] == "."}
		_, dmy := NewDate(year, r.b, r.a)
		_, mdy := NewDate(year, r.a, r.b)
		if !dmy && !mdy {
			return dateRead{}, errNotDate
		}
		if r.a == r.b {
			return exactDate(year, r.a, r.b, short)
		}
		return r, nil
	}
	if m := dayName.FindStringSubmatch(s); m != nil && monthNames[m[2]] > 0 {
		year, short := century(m[3])
		return exactDate(year, monthNames[m[2]], num(m[1]), short)
	}
	if m := nameDay.FindStringSubmatch(s); m != nil && monthNames[m[1]] > 0 {
		year, short := century(m[3])
		return exactDate(year, monthNames[m[1]], num(m[2]), short)
	}
	if m := yearName.FindStringSubmatch(s); m != nil && monthNames[m[2]] > 0 {
		return exactDate(num(m[1]), monthNames[m[2]], num(m[3]), false)
	}
	if m := nameYear.FindStringSubmatch(s); m != nil && monthNames[m[1]] > 0 {
		year, short := century(m[2])
		return dateRead{form: dateMonthYear, year: year, month: monthNames[m[1]], short: short}, nil
	}
	if m := numYear.FindStringSubmatch(s); m != nil && num(m[1]) >= 1 && num(m[1]) <= 12 {
		return dateRead{form: dateMonthYear, year: num(m[2]), month: num(m[1])}, nil
	}
	if m := yearNum.FindStringSubmatch(s); m != nil && num(m[2]) >= 1 && num(m[2]) <= 12 {
		return dateRead{form: dateMonthYear, year: num(m[1]), month: num(m[2])}, nil
	}
	if m := yearOnly.FindStringSubmatch(s); m != nil {
		return dateRead{form: dateYearOnly, year: num(m[1])}, nil
	}
	return dateRead{}, errNotDate
}

func exactDate(y, m, d int, short bool) (dateRead, error) {
	if _, ok := NewDate(y, m, d); !ok {
		return dateRead{}, errNotDate
	}
	return dateRead{form: dateExact, year: y, month: m, day: d, short: short}, nil
}

func num(s string) int {
	n, err := strconv.Atoi(s)
	if err != nil {
		return -1
	}
	return n
}

func century(s string) (year int, short bool) {
	s = strings.TrimPrefix(s, "'")
	y := num(s)
	if len(s) != 2 {
		return y, false
	}
	if y < 50 {
		return 2000 + y, true
	}
	return 1900 + y, true
}

// dateOrder is what a column's values say about the order of day and month.
type dateOrder int

const (
	orderUnknown dateOrder = iota // no value decides
	orderDayFirst
	orderMonthFirst
	orderMixed // some values can only be day first, others only month first
)

// clear is how many times more values must speak for one order than for the
// other for the others to be taken for slips.
const clear = 10

// decideOrder looks at all texts of a column. A value above 12 decides. Where
// values contradict each other the column is mixed, unless one order has ten
// times as many as the other. Dates written with dots are day first unless a
// value contradicts.
func decideOrder(reads []dateRead) dateOrder {
	var day, month, dots int
	for _, r := range reads {
		if r.form != dateOrdered {
			continue
		}
		switch {
		case r.a > 12:
			day++
		case r.b > 12:
			month++
		case r.dotted:
			dots++
		}
	}
	switch {
	case day > 0 && month > 0 && day < clear*month && month < clear*day:
		return orderMixed
	case day > month:
		return orderDayFirst
	case month > day:
		return orderMonthFirst
	case dots > 0:
		return orderDayFirst
	}
	return orderUnknown
}

// resolve makes a day of a date text; ok is false where the order of day and
// month stays open, goes against the column's, or the text has no day.
func (r dateRead) resolve(order dateOrder) (Date, bool) {
	switch r.form {
	case dateExact:
		return NewDate(r.year, r.month, r.day)
	case dateOrdered:
		dayFirst, monthFirst := r.a > 12, r.b > 12
		if dayFirst && order == orderMonthFirst || monthFirst && order == orderDayFirst {
			return 0, false
		}
		if dayFirst || order == orderDayFirst {
			return NewDate(r.year, r.b, r.a)
		}
		if monthFirst || order == orderMonthFirst {
			return NewDate(r.year, r.a, r.b)
		}
	}
	return 0, false
}

// serialDate turns a spreadsheet's day number into a day and a fraction of
// it. ok is false outside the years 1900 to 9999.
func serialDate(serial float64, date1904 bool) (d Date, fraction float64, ok bool) {
	if math.IsNaN(serial) || serial < 0 || serial > 2958465 {
		return 0, 0, false
	}
	whole := math.Floor(serial + 1e-9)
	fraction = math.Max(0, serial-whole)
	epoch := -25569 // 1899-12-30, so that days after the missing 1900-02-29 are right
	if date1904 {
		epoch = -24107 // 1904-01-01
	} else if whole < 60 {
		epoch = -25568
	}
	return Date(int(whole) + epoch), fraction, true
}

// pairFromDate returns the two numbers that a spreadsheet turned into a date:
// day and month, or month and year for a date shown without its day.
func pairFromDate(d Date, monthYear bool) (lo, hi int) {
	y, m, day := d.Split()
	a, b := m, day
	if monthYear {
		a, b = m, y%100
	}
	if a > b {
		a, b = b, a
	}
	return a, b
}

// pairFromText does the same for a text such as 5-Mar or Mar-05.
func pairFromText(text string) (lo, hi int, ok bool) {
	s := strings.ToLower(tidyText(text))
	a, b := 0, 0
	if m := shortDay.FindStringSubmatch(s); m != nil {
		a, b = num(m[1]), monthNames[m[2]]
	} else if m := dayShort.FindStringSubmatch(s); m != nil {
		a, b = num(m[2]), monthNames[m[1]]
	} else if r, err := readDate(s); err == nil && r.form == dateOrdered {
		a, b = r.a, r.b
	} else if err == nil && r.form == dateExact {
		a, b = r.month, r.day
	}
	if a < 1 || b < 1 {
		return 0, 0, false
	}
	return min(a, b), max(a, b), true
}
