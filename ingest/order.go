package ingest

import "fmt"

// decideOrders settles for each date column, from all its values, whether
// day or month comes first. A note in the header, such as (dd/mm/yyyy),
// settles it as well unless a value contradicts.
func (r *reader) decideOrders(s *sheetData) {
	for f, field := range schema[s.table] {
		if s.cols[f] < 0 || field.Kind != KindDate && field.Kind != KindYear {
			continue
		}
		order, swapped := columnOrder(s, s.cols[f])
		if order != orderUnknown && order != orderYearAsked || s.orders[f] == orderUnknown {
			s.orders[f] = order
		}
		s.orders[f] = s.block.order(s, f, s.orders[f])
		if swapped && field.Kind == KindDate {
			r.onSheet(s, s.cols[f], s.raw.rows[s.header].n, CodeSwappedDates, s.headers[s.cols[f]], "", "true dates or texts, not both", Kept,
				fmt.Sprintf("the dates stored as text in %q all have a day after the 12th and the true dates all a day up to the 12th: the spreadsheet has probably swapped day and month in the true dates; they were read as stored", s.headers[s.cols[f]]))
		}
	}
	for i := range s.own {
		s.own[i].order, _ = columnOrder(s, s.own[i].col)
		s.own[i].order = s.block.order(s, -1, s.own[i].order)
	}
}

// columnOrder reads all date texts of a column. swapped is true where true
// dates and texts divide exactly as a spreadsheet divides them that expects
// the other order: it takes 05/03 for a date and leaves 25/03 as text.
func columnOrder(s *sheetData, col int) (order dateOrder, swapped bool) {
	rows := s.below()
	out := make([]columnDates, parts(len(rows)))
	inParts(len(rows), func(part, from, to int) {
		var d columnDates
		for i := from; i < to; i++ {
			d.note(rows[i].cell(col), s.raw.date1904)
		}
		out[part] = d
	})
	all := out[0]
	for _, d := range out[1:] {
		all.reads = append(all.reads, d.reads...)
		all.low, all.high, all.late, all.texts = all.low+d.low, all.high+d.high, all.late+d.late, all.texts+d.texts
	}
	return decideOrder(all.reads), all.low >= 5 && all.high == 0 && all.late >= 2 && all.late == all.texts
}

// columnDates is what the dates of a column look like.
type columnDates struct {
	reads     []dateRead // texts in which the order matters
	low, high int        // true dates with a day up to the 12th, and after it
	late      int        // texts with a number that can only be the day
	texts     int
}

func (n *columnDates) note(c cell, date1904 bool) {
	switch c.kind {
	case cellDate:
		if n.high > 0 { // swapped dates are past; the rest tells nothing more
			return
		}
		v, _, err := readDigits(c.text, false)
		if d, _, ok := serialDate(v, date1904); err == nil && ok {
			if _, _, day := d.Split(); day <= 12 {
				n.low++
			} else {
				n.high++
			}
		}
	case cellText:
		if read, err := readDate(c.text); err == nil {
			n.texts++
			if read.form != dateOrdered {
				return // says nothing about the order
			}
			n.reads = append(n.reads, read)
			if read.a > 12 || read.b > 12 {
				n.late++
			}
		}
	}
}

// askOrder is the question that an undecided column leaves, with what the
// other columns of the sheet suggest.
func (s *sheetData) askOrder() string {
	day, month := 0, 0
	for _, o := range s.orders {
		switch o {
		case orderDayFirst:
			day++
		case orderMonthFirst:
			month++
		}
	}
	switch {
	case day > 0 && month == 0:
		return "is it day first, as in the other columns of the sheet?"
	case month > 0 && day == 0:
		return "is it month first, as in the other columns of the sheet?"
	}
	return "is it day first or month first?"
}

// dateOrder is what a column's values say about the order of day and month.
type dateOrder int

const (
	orderUnknown dateOrder = iota // no value decides
	orderDayFirst
	orderMonthFirst
	orderMixed     // some values can only be day first, others only month first
	orderYearFirst // 24-03-05
	orderYearAsked // year first or day first, and no value says which
)

// clear is how many times more values must speak for one order than for the
// other for the others to be taken for slips.
const clear = 10

// decideOrder looks at all texts of a column. A value above 12 decides. Where
// values contradict each other the column is mixed, unless one order has ten
// times as many as the other. Dates written with dots are day first unless a
// value contradicts. Two-digit years may stand first (decideYear).
func decideOrder(reads []dateRead) dateOrder {
	if order := decideYear(reads); order != orderUnknown {
		return order
	}
	var day, month, dots int
	for _, r := range reads {
		if r.form != dateOrdered || r.yearOnlyFirst() {
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

// yearOnlyFirst says that a date of three numbers is none with its year last.
func (r dateRead) yearOnlyFirst() bool {
	_, last := r.yearPlaces(false)
	return r.form == dateOrdered && !last
}

// yearSpread is how many years a column must spread over, and days must not,
// for its first numbers to be years rather than its last. Logs of a quarter
// of a century are rare; days of the month that keep within 10 are too.
const yearSpread = 12

// decideYear settles where the years of two-digit years stand: first where a
// value can only be read so (99-03-05) and none contradicts. Where all can be
// read both ways and the first numbers look like years (close together, above
// 12) while the last run over the month, it is a question. Else it says
// nothing, and years stand last.
func decideYear(reads []dateRead) dateOrder {
	first, last, n := 0, 0, 0
	lowA, highA, lowC, highC := 99, 0, 99, 0
	for _, r := range reads {
		if r.form != dateOrdered {
			continue
		}
		n++
		switch {
		case r.yearOnlyFirst():
			first++
		case r.c == 0:
			last++
		}
		lowA, highA, lowC, highC = min(lowA, r.a), max(highA, r.a), min(lowC, r.c), max(highC, r.c)
	}
	switch {
	case first > 0 && (last == 0 || first >= clear*last):
		return orderYearFirst
	case first == 0 && last == 0 && n >= 4 && lowA > 12 && highA-lowA <= yearSpread && highC-lowC > yearSpread:
		return orderYearAsked
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
		if order == orderYearFirst {
			if r.c == 0 {
				return 0, false
			}
			y, _ := century(fmt.Sprintf("%02d", r.a))
			return NewDate(y, r.b, r.c)
		}
		if order == orderYearAsked {
			return 0, false
		}
		if r.a == r.b && order != orderMixed {
			return NewDate(r.year, r.a, r.b)
		}
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
