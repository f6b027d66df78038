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
	return time.Unix(int64(d)*86400, 0).UTC().Format(time.DateOnly)
}

// dateForm says how much a text fixes of a day.
type dateForm int

const (
	dateExact      dateForm = iota // day, month and year are certain
	dateOrdered                    // a/b/y: day first or month first
	dateMonthYear                  // no day
	dateYearOnly                   // no month
	dateMonthShort                 // March 24: the year's last digits, or a day without a year
	dateNoYear                     // 5 March: no year
)

// dateRead is a date text taken apart. With dateOrdered, a and b stand in
// the order written; otherwise month and day are set. With short, c holds the
// last two digits, which year first (24-03-05) makes the day.
type dateRead struct {
	form             dateForm
	year, month, day int
	a, b, c          int
	short            bool     // the year was written with two digits
	dotted           bool     // written 12.03.2024, which is day first everywhere
	minute           Opt[int] // the time of day written behind, or missing
}

var (
	isoDate   = regexp.MustCompile(`^(\d{4})[-/. ](\d{1,2})[-/. ](\d{1,2})$`)
	clockTail = regexp.MustCompile(`^(.*[^ ,])(?:[ ,]+(?:at )?|(?:^|\d)[tT])(\d{1,2}:\d{2})(?::\d{2}(?:[.,]\d+)?)? ?([ap]\.?m\.?|h|hrs|uhr|z|[+-]\d{2}:?\d{2})?$`)
	compact   = regexp.MustCompile(`^(\d{4})(\d{2})(\d{2})$`)
	threeNums = regexp.MustCompile(`^(\d{1,2})\s*([-/. ])\s*(\d{1,2})\s*[-/. ]\s*(\d{4}|'?\d{2})$`)
	dayName   = regexp.MustCompile(`^(\d{1,2})(?:st|nd|rd|th)?[ \-./]*(?:of )?([a-z]{3,9})\.?[ ,\-./]*(\d{4}|'?\d{2})$`)
	nameDay   = regexp.MustCompile(`^([a-z]{3,9})\.?[ \-./]*(\d{1,2})(?:st|nd|rd|th)?[ ,\-./]+(\d{4}|'?\d{2})$`)
	yearName  = regexp.MustCompile(`^(\d{4})[ \-./]*([a-z]{3,9})\.?[ \-./]*(\d{1,2})$`)
	nameYear  = regexp.MustCompile(`^([a-z]{3,9})\.?[ ,\-./]*(\d{4}|'\d{2})$`)
	numYear   = regexp.MustCompile(`^(\d{1,2})[-/.](\d{4})$`)
	yearNum   = regexp.MustCompile(`^(\d{4})[-/.](\d{1,2})$`)
	yearOnly  = regexp.MustCompile(`^(?:ca\.? ?|c\.? ?|~ ?)?((?:18|19|20|21)\d{2})$`)
	weekday   = regexp.MustCompile(`^(?:mon|tue|tues|wed|thu|thur|thurs|fri|sat|sun)(?:day|sday|nesday|rsday|urday)?[ ,.]+`)
	shortDay  = regexp.MustCompile(`^(\d{1,2})(?:st|nd|rd|th)?[ \-/.]+([a-z]{3,9})\.?$`)
	dayShort  = regexp.MustCompile(`^([a-z]{3,9})\.?[ \-/.]+(\d{1,2})$`)
)

var monthNames = map[string]int{
	"jan": 1, "january": 1, "feb": 2, "february": 2, "mar": 3, "march": 3, "apr": 4, "april": 4, "may": 5, "jun": 6, "june": 6,
	"jul": 7, "july": 7, "aug": 8, "august": 8, "sep": 9, "sept": 9, "september": 9, "oct": 10, "october": 10, "nov": 11, "november": 11, "dec": 12, "december": 12,
}

var errNotDate = errors.New("not a date")

// readDate takes a date text apart without deciding the order of day and
// month. A two-digit year is read between 1950 and 2049. A time of day behind
// the date is kept apart from it; midnight counts as none, since that is how
// programs write a date without one.
func readDate(text string) (dateRead, error) {
	if y, m, d, ok := plainDay(text); ok {
		return exactDate(y, m, d, false)
	}
	s := strings.ToLower(tidyText(text))
	s = weekday.ReplaceAllString(s, "")
	if day, minute, ok := cutClock(s); ok {
		r, err := readDay(day)
		if minute != 0 {
			r.minute = Some(minute)
		}
		return r, err
	}
	return readDay(s)
}

// plainDay reads a text of the form 2024-03-05, which is that of most dates in
// large logs and needs no more than its digits.
func plainDay(text string) (y, m, d int, ok bool) {
	if len(text) != 10 || text[4] != '-' || text[7] != '-' {
		return 0, 0, 0, false
	}
	var parts [3]int
	part := 0
	for i := range len(text) {
		switch c := text[i]; {
		case i == 4 || i == 7:
			part++
		case c < '0' || c > '9':
			return 0, 0, 0, false
		default:
			parts[part] = 10*parts[part] + int(c-'0')
		}
	}
	return parts[0], parts[1], parts[2], true
}

// cutClock parts a time of day from the end of a date text. ok is false where
// there is none, or none that a clock shows.
func cutClock(s string) (day string, minute int, ok bool) {
	m := clockTail.FindStringSubmatchIndex(s)
	if m == nil {
		return "", 0, false
	}
	day = s[:m[4]] // up to the clock
	day = strings.TrimRight(strings.TrimSuffix(strings.TrimRight(day, " "), "at"), " ,")
	if n := len(day); n > 1 && day[n-1] == 't' && day[n-2] >= '0' && day[n-2] <= '9' {
		day = day[:n-1]
	}
	half := ""
	if m[6] >= 0 {
		if half = strings.ReplaceAll(s[m[6]:m[7]], ".", ""); half != "am" && half != "pm" {
			half = ""
		}
	}
	minute, err := parseClock(s[m[4]:m[5]]+half, false)
	return day, minute, err == nil
}

// readDay is readDate of a text without a time of day.
func readDay(s string) (dateRead, error) {
	if m := isoDate.FindStringSubmatch(s); m != nil {
		return exactDate(num(m[1]), num(m[2]), num(m[3]), false)
	}
	if m := compact.FindStringSubmatch(s); m != nil {
		return exactDate(num(m[1]), num(m[2]), num(m[3]), false)
	}
	if m := threeNums.FindStringSubmatch(s); m != nil {
		year, short := century(m[4])
		r := dateRead{form: dateOrdered, a: num(m[1]), b: num(m[3]), year: year, short: short, dotted: m[2] == "."}
		if short {
			r.c = year % 100
		}
		first, last := r.yearPlaces(len(m[1]) == 2 && m[4][0] != '\'')
		if !last && !first {
			return dateRead{}, errNotDate
		}
		if !first {
			r.c = 0
		}
		if r.a == r.b && !first {
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
	if m := dayShort.FindStringSubmatch(s); m != nil && monthNames[m[1]] > 0 && len(m[2]) == 2 {
		year, _ := century(m[2])
		return dateRead{form: dateMonthShort, year: year, month: monthNames[m[1]], day: num(m[2]), short: true}, nil
	}
	if m := dayShort.FindStringSubmatch(s); m != nil && monthNames[m[1]] > 0 && num(m[2]) > 0 {
		return dateRead{form: dateNoYear, month: monthNames[m[1]], day: num(m[2])}, nil
	}
	if m := shortDay.FindStringSubmatch(s); m != nil && monthNames[m[2]] > 0 && num(m[1]) >= 1 && num(m[1]) <= 31 {
		return dateRead{form: dateNoYear, month: monthNames[m[2]], day: num(m[1])}, nil
	}
	return dateRead{}, errNotDate
}

// yearPlaces says whether a date of three numbers can be read with its year
// first (24-03-05), and with its year last. two is false where the first
// number has one digit, which no year has.
func (r dateRead) yearPlaces(two bool) (first, last bool) {
	if r.short && two {
		y, _ := century(fmt.Sprintf("%02d", r.a))
		_, first = NewDate(y, r.b, r.c)
	}
	_, dmy := NewDate(r.year, r.b, r.a)
	_, mdy := NewDate(r.year, r.a, r.b)
	return first, dmy || mdy
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

// mostRange is the upper end of a range of ply beyond which a date is one and
// no range that a spreadsheet turned into it: labs act at about 15 ply (common
// practice, no source), and the days and years of dates lie above.
const mostRange = 15

// pairFromDate returns the two numbers that a spreadsheet turned into a date:
// its day and month. A date shown as a month alone (Mar-24) tells only where
// it has a day other than the first, which was typed: else a month was meant.
func pairFromDate(d Date, monthAlone bool) (lo, hi int, ok bool) {
	_, m, day := d.Split()
	if monthAlone && day == 1 {
		return 0, 0, false
	}
	lo, hi = min(m, day), max(m, day)
	return lo, hi, hi <= mostRange
}

// pairFromText does the same for a text such as 5-Mar or Mar-05.
func pairFromText(text string) (lo, hi int, ok bool) {
	s := strings.ToLower(tidyText(text))
	a, b := 0, 0
	if r, err := readDate(s); err == nil && r.form == dateMonthShort {
		a, b = r.month, r.day
	} else if m := shortDay.FindStringSubmatch(s); m != nil {
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
