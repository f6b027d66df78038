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
		if order != orderUnknown || s.orders[f] == orderUnknown {
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
	var reads []dateRead
	low, high, late := 0, 0, 0
	for row := range s.rowsBelow() {
		c := row.cell(col)
		switch c.kind {
		case cellDate:
			v, _, err := readDigits(c.text, false)
			if d, _, ok := serialDate(v, s.raw.date1904); err == nil && ok {
				if _, _, day := d.Split(); day <= 12 {
					low++
				} else {
					high++
				}
			}
		case cellText:
			if read, err := readDate(c.text); err == nil {
				reads = append(reads, read)
				if read.form == dateOrdered && (read.a > 12 || read.b > 12) {
					late++
				}
			}
		}
	}
	order = decideOrder(reads)
	return order, low >= 5 && high == 0 && late >= 2 && late == len(reads)
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
