package cohort

import (
	"testing"
	"time"
)

// A year that begins in July runs to the end of June and bears both numbers,
// also over the turn of a century.
func TestYearOf(t *testing.T) {
	for _, c := range []struct {
		day      string
		begins   int
		name     string
		from, to string
	}{
		{"2026-06-30", 0, "2026", "2026-01-01", "2027-01-01"},
		{"2026-06-30", 1, "2026", "2026-01-01", "2027-01-01"},
		{"2026-06-30", 7, "2025/26", "2025-07-01", "2026-07-01"},
		{"2026-07-01", 7, "2026/27", "2026-07-01", "2027-07-01"},
		{"2024-02-29", 3, "2023/24", "2023-03-01", "2024-03-01"},
		{"2024-12-31", 12, "2024/25", "2024-12-01", "2025-12-01"},
		{"2099-07-01", 7, "2099/00", "2099-07-01", "2100-07-01"},
		{"1969-12-31", 4, "1969/70", "1969-04-01", "1970-04-01"},
	} {
		days := func(s string) float64 {
			d, err := time.Parse("2006-01-02", s)
			if err != nil {
				t.Fatal(err)
			}
			return float64(d.Unix() / 86400)
		}
		name, from, to := YearOf(days(c.day), c.begins)
		if name != c.name || from != days(c.from) || to != days(c.to) {
			t.Errorf("%s, years from month %d: %s, %v to %v", c.day, c.begins, name, from, to)
		}
	}
}
