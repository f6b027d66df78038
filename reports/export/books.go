package export

import "plybook/reports/numbers"

// logZero is day 0 of every person on the calendar of log.xlsx, 1 January
// 2000, in days since 1970-01-01.
const logZero = 10957

// plain is a sheet of cells; the first row is the head. days says of each
// column whether its numbers are days of the calendar of log.xlsx.
func plain(name string, rows [][]cell, days []bool) numbers.PlainSheet {
	s := numbers.PlainSheet{Name: name}
	for _, c := range rows[0] {
		s.Head = append(s.Head, c.text)
	}
	for _, r := range rows[1:] {
		row := make([]any, len(r))
		for c, x := range r {
			switch {
			case x.missing():
			case !x.number:
				row[c] = x.text
			case days != nil && days[c]:
				row[c] = numbers.Day(x.num + logZero)
			default:
				row[c] = x.num
			}
		}
		s.Rows = append(s.Rows, row)
	}
	return s
}

// dataBook is the data set in one workbook, with its dictionary.
func (m *maker) dataBook(dictionary, changes [][]cell) ([]byte, error) {
	var sheets []numbers.PlainSheet
	for _, s := range m.sheets {
		sheets = append(sheets, plain(s.name, s.rowsOf(), nil))
	}
	return numbers.PlainBook(append(sheets, plain("dictionary", dictionary, nil), plain("changes", changes, nil)))
}

// logBook is the data set as a log: the columns and words of a log, and days
// as dates of a calendar on which day 0 of everybody is 1 January 2000.
func (m *maker) logBook() ([]byte, error) {
	var sheets []numbers.PlainSheet
	for _, s := range m.sheets {
		var head []cell
		var cols []*column
		var days []bool
		for _, c := range s.cols {
			if c.field != "" {
				head, cols, days = append(head, textCell(c.field)), append(cols, c), append(days, c.kind == "days")
			}
		}
		rows := [][]cell{head}
		for j := range s.rows {
			row := make([]cell, len(cols))
			for i, c := range cols {
				row[i] = c.cells[j]
				if c.inLog != nil {
					row[i] = c.inLog[j]
				}
			}
			rows = append(rows, row)
		}
		sheets = append(sheets, plain(s.name, rows, days))
	}
	return numbers.PlainBook(sheets)
}
