package answer

import (
	"fmt"
	"time"

	"plybook/analysis/cohort"
)

// period is a calendar month or quarter, or a year from the month with which
// the lab's years begin.
type period struct {
	name       string
	start, end float64 // days since 1970-01-01; end is the first day after it
}

// periodOf is the period of a kind in which a day falls; years begin with a
// month from 1 to 12 (0: January).
func periodOf(day float64, kind string, begins int) period {
	t := dayTime(day)
	y, m := t.Year(), t.Month()
	switch kind {
	case "year":
		name, start, end := cohort.YearOf(day, begins)
		return period{name, start, end}
	case "quarter":
		q := (int(m) - 1) / 3
		return span(fmt.Sprintf("%d Q%d", y, q+1), y, time.Month(3*q+1), 3)
	default:
		return span(fmt.Sprintf("%d-%02d", y, m), y, m, 1)
	}
}

func span(name string, y int, m time.Month, months int) period {
	a := time.Date(y, m, 1, 0, 0, 0, 0, time.UTC)
	b := a.AddDate(0, months, 0)
	return period{name, float64(a.Unix() / 86400), float64(b.Unix() / 86400)}
}

// periodOf is the period of the kind asked for in which a day falls.
func (w *work) periodOf(day float64) period {
	return periodOf(day, w.ask.Period, w.ctx.Front.YearBegins)
}

// periods are all periods of that kind from the one of the first day to the one
// of the last, with none left out.
func (w *work) periods(first, last float64) []period {
	var out []period
	for p := w.periodOf(first); p.start <= last; p = w.periodOf(p.end) {
		out = append(out, p)
	}
	return out
}

// dayTime is a day since 1970-01-01 as a time.
func dayTime(day float64) time.Time { return time.Unix(int64(day)*86400, 0).UTC() }

// words names a period as one says it: "Jan 2026", "2026 Q1", "2026", "2025/26".
func (p period) words() string {
	if len(p.name) == len("2026-01") && p.name[4] == '-' {
		return dayTime(p.start).Format("Jan 2006")
	}
	return p.name
}
