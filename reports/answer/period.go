package answer

import (
	"fmt"
	"time"
)

// period is a calendar month, quarter or year.
type period struct {
	name       string
	start, end float64 // days since 1970-01-01; end is the first day after it
}

// periodOf is the period of a kind in which a day falls.
func periodOf(day float64, kind string) period {
	t := dayTime(day)
	y, m := t.Year(), t.Month()
	switch kind {
	case "year":
		return span(fmt.Sprintf("%d", y), y, 1, 12)
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

// periods are all periods of a kind from the one of the first day to the one
// of the last, with none left out.
func periods(first, last float64, kind string) []period {
	var out []period
	for p := periodOf(first, kind); p.start <= last; p = periodOf(p.end, kind) {
		out = append(out, p)
	}
	return out
}

// dayTime is a day since 1970-01-01 as a time.
func dayTime(day float64) time.Time { return time.Unix(int64(day)*86400, 0).UTC() }

// words names a period as one says it: "Jan 2026", "2026 Q1", "2026".
func (p period) words() string {
	if len(p.name) == len("2026-01") && p.name[4] == '-' {
		return dayTime(p.start).Format("Jan 2006")
	}
	return p.name
}
