package ingest

import (
	"fmt"
	"math"
)

const wantDate = "a date such as 2024-03-05"

func (r *reader) parseDate(rec *record, f int) {
	field := &rec.sheet.fields[f]
	c, text := rec.cell(f), rec.text(f)
	year := field.Kind == KindYear
	set := func(d Date) {
		v := value{ok: true, num: float64(d)}
		if year {
			y, _, _ := d.Split()
			v.num = float64(y)
		}
		rec.set(f, v)
	}
	switch c.kind {
	case cellDate, cellMonthYear:
		if d, ok := rec.serial(f); ok {
			if y := num(text); year && y >= 1900 && y <= 2100 {
				rec.set(f, value{ok: true, num: float64(y)})
				r.keep(rec, f, CodeNumberDate, "a year", "the cell holds a year but is formatted as a date, so the sheet shows a day of 1905; the year was read")
				return
			}
			set(d)
			if _, _, day := d.Split(); c.kind == cellMonthYear && day == 1 && !year {
				r.keep(rec, f, CodeApproximateDate, wantDate, fmt.Sprintf("%s shows month and year only, as where a spreadsheet turns \"March 24\" into a date; the first of the month was read, as stored", r.quote(rec, f)))
			}
			return
		}
		r.drop(rec, f, CodeBadDate, wantDate, fmt.Sprintf("the cell is shown as a date but holds %s, which is none", r.quote(rec, f)))
		return
	case cellNumber, cellTime:
		r.numberDate(rec, f, set)
		return
	case cellBool:
		r.drop(rec, f, CodeBadDate, wantDate, r.quote(rec, f)+" is not a date")
		return
	}
	if isMissing(text) {
		return
	}
	read, err := readDate(text)
	if err != nil {
		r.drop(rec, f, CodeBadDate, wantDate, r.quote(rec, f)+" is not a date")
		return
	}
	if year {
		y := read.year
		if read.short && y < 2050 {
			// The two digits of a child born in 2019 and of a person born in
			// 1919 look alike; only a century that would lie ahead is certain.
			if r.opts.Today.OK {
				if now, _, _ := r.opts.Today.Value.Split(); y > now {
					y -= 100
				}
			}
			r.keep(rec, f, CodeShortYear, "a year with four digits", fmt.Sprintf("the year of birth has two digits and was read as %d; please write four", y))
		}
		rec.set(f, value{ok: true, num: float64(y)})
		return
	}
	if d, ok := read.resolve(rec.sheet.orders[f]); ok {
		set(d)
		return
	}
	if field.Name == "amputated" && (read.form == dateMonthYear || read.form == dateYearOnly || read.form == dateMonthShort) {
		month, day, what := read.month, 15, "the middle of the month"
		if read.form == dateYearOnly {
			month, day, what = 7, 1, "the middle of the year"
		}
		if d, ok := NewDate(read.year, month, day); ok {
			set(d)
			r.keep(rec, f, CodeApproximateDate, wantDate, fmt.Sprintf("%s is no full date; %s was used", r.quote(rec, f), what))
			return
		}
	}
	switch {
	case read.form == dateMonthShort && read.day <= 31 && read.day > 0:
		r.drop(rec, f, CodeBadDate, wantDate, fmt.Sprintf("%s could be the month of %d, without a day, or a day without its year", r.quote(rec, f), read.year))
	case read.form == dateNoYear:
		r.drop(rec, f, CodeBadDate, wantDate, r.quote(rec, f)+" has no year")
	case read.form == dateOrdered && rec.sheet.orders[f] == orderYearAsked:
		first, _ := read.resolve(orderYearFirst)
		last, _ := read.resolve(orderDayFirst)
		r.drop(rec, f, CodeAmbiguousDate, wantDate, fmt.Sprintf("%s could be %s or %s, and no date of this column says which; does the year stand first?", r.quote(rec, f), first, last))
	case read.form == dateOrdered && (rec.sheet.orders[f] == orderYearFirst) != read.yearOnlyFirst():
		this, rest := "year last", "year first"
		if read.yearOnlyFirst() {
			this, rest = rest, this
		}
		r.drop(rec, f, CodeAmbiguousDate, wantDate, fmt.Sprintf("%s can only be %s, while the column is %s", r.quote(rec, f), this, rest))
	case read.form == dateOrdered && rec.sheet.orders[f] == orderMixed:
		r.drop(rec, f, CodeAmbiguousDate, wantDate, fmt.Sprintf("%s could be %s: some dates of this column can only be day first and others only month first", r.quote(rec, f), twoWays(read)))
	case read.form == dateOrdered && rec.sheet.orders[f] == orderUnknown:
		r.drop(rec, f, CodeAmbiguousDate, wantDate, fmt.Sprintf("%s could be %s, and no date of this column says which; %s", r.quote(rec, f), twoWays(read), rec.sheet.askOrder()))
	case read.form == dateOrdered:
		this, rest := "day first", "month first"
		if rec.sheet.orders[f] == orderDayFirst {
			this, rest = rest, this
		}
		r.drop(rec, f, CodeAmbiguousDate, wantDate, fmt.Sprintf("%s can only be %s, while the column is %s", r.quote(rec, f), this, rest))
	default:
		r.drop(rec, f, CodeBadDate, wantDate, r.quote(rec, f)+" has no day")
	}
}

func twoWays(read dateRead) string {
	a, _ := read.resolve(orderDayFirst)
	b, _ := read.resolve(orderMonthFirst)
	return fmt.Sprintf("%s or %s", a, b)
}

// numberDate reads a bare number in a date column: a year, a compact date
// (20240305) or a spreadsheet's day number.
func (r *reader) numberDate(rec *record, f int, set func(Date)) {
	field, text := &rec.sheet.fields[f], rec.text(f)
	v, _, err := readDigits(text, false)
	if err == nil && v == float64(int(v)) {
		if n := int(v); field.Kind == KindYear && n >= 1850 && n <= 2150 {
			rec.set(f, value{ok: true, num: v})
			return
		}
		if m := compact.FindStringSubmatch(text); m != nil {
			if d, ok := NewDate(num(m[1]), num(m[2]), num(m[3])); ok {
				set(d)
				return
			}
		}
		if n := int(v); field.Name == "amputated" && n >= 1900 && n <= 2150 {
			d, _ := NewDate(n, 7, 1)
			set(d)
			r.keep(rec, f, CodeApproximateDate, wantDate, fmt.Sprintf("%s is only a year; the middle of the year was used", r.quote(rec, f)))
			return
		}
	}
	if d, _, ok := serialDate(v, rec.sheet.raw.date1904); err == nil && ok && v >= 7306 && v < 73051 { // 1920 to 2099
		set(d)
		text := fmt.Sprintf("%s is a bare day number; it was read as %s", r.quote(rec, f), d)
		if r.hides(rec, f) {
			text = "the cell holds a bare day number; it was read as a date"
		}
		r.keep(rec, f, CodeNumberDate, wantDate, text)
		return
	}
	r.drop(rec, f, CodeBadDate, wantDate, r.quote(rec, f)+" is not a date")
}

func (r *reader) parseTime(rec *record, f int) {
	c, text := rec.cell(f), rec.text(f)
	if isMissing(text) {
		return
	}
	m, err := parseClock(text, c.kind == cellTime || c.kind == cellDate || c.kind == cellNumber)
	if err != nil {
		r.drop(rec, f, CodeBadTime, "a time such as 14:30", r.quote(rec, f)+" is not a time of day")
		return
	}
	rec.set(f, value{ok: true, num: float64(m)})
}

var visitDate, visitTime = fieldIndex(TableVisits, "date"), fieldIndex(TableVisits, "time")

// timeOfDate takes the time of day that stands with the date of a visit for
// its time where no other is given: what a form or a clock writes in one cell
// are two things.
func (r *reader) timeOfDate(rec *record) {
	f, t := visitDate, visitTime
	minute := clockOfDate(rec, f)
	if !minute.OK || !rec.known(f) {
		return
	}
	clock := rec.val(t)
	switch {
	case !clock.ok && rec.text(t) == "":
		rec.set(t, value{ok: true, num: float64(minute.Value)})
	case clock.ok && clock.num != float64(minute.Value):
		r.keep(rec, t, CodeTwoTimes, "one time of day", fmt.Sprintf("the time is %s, but the date, %s, says %02d:%02d; the time was believed", r.quote(rec, t), r.quote(rec, f), minute.Value/60, minute.Value%60))
	}
}

// clockOfDate is the time of day that stands with a date, to the minute;
// missing at midnight, as programs write dates without a time.
func clockOfDate(rec *record, f int) Opt[int] {
	c := rec.cell(f)
	switch c.kind {
	case cellDate, cellMonthYear:
		if v, _, err := readDigits(rec.text(f), false); err == nil {
			if _, fraction, ok := serialDate(v, rec.sheet.raw.date1904); ok {
				if m := int(math.Round(fraction * 1440)); m > 0 && m < 1440 {
					return Some(m)
				}
			}
		}
	case cellText, cellISO:
		if _, _, _, bare := plainDay(c.text); bare {
			break
		}
		if read, err := readDate(c.text); err == nil {
			return read.minute
		}
	}
	return Opt[int]{}
}
