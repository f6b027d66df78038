package cohort

import (
	"fmt"
	"time"
)

// YearOf names the year in which a day (since 1970-01-01) falls, where years
// begin with a month from 1 to 12 (0: January), and gives the first day of it
// and of the next. A year of the calendar is "2025"; one that begins later
// bears both of the calendar years it lies in, "2025/26".
func YearOf(day float64, begins int) (name string, start, end float64) {
	begins = max(begins, 1)
	t := time.Unix(int64(day)*86400, 0).UTC()
	y := t.Year()
	if int(t.Month()) < begins {
		y--
	}
	first := func(year int) float64 {
		return float64(time.Date(year, time.Month(begins), 1, 0, 0, 0, 0, time.UTC).Unix() / 86400)
	}
	name = fmt.Sprintf("%d", y)
	if begins > 1 {
		name += fmt.Sprintf("/%02d", (y+1)%100)
	}
	return name, first(y), first(y + 1)
}
