package figure

import (
	"fmt"
	"math"
	"strings"
	"testing"
)

func sampleForetold() ForetoldYearsSpec {
	nan := math.NaN()
	return ForetoldYearsSpec{ID: "next", ValueAxis: "Definitive sockets", Years: []ForetoldYear{
		{Label: "Jul 2022 to Jun 2023", Seen: 9, Expected: nan, Low: nan, High: nan},
		{Label: "Jul 2023 to Jun 2024", Seen: 88, Expected: nan, Low: nan, High: nan},
		{Label: "Jul 2024 to Jun 2025", Seen: 103, Expected: 92, Low: 71, High: 118},
		{Label: "Jul 2025 to Jun 2026", Seen: 99, Expected: 101, Low: 78, High: 127},
		{Label: "Jul 2026 to Jun 2027", Seen: nan, Expected: 102, Low: 79, High: 128, Coming: true}}}
}

func sampleForetoldPeriods() ForetoldPeriodsSpec {
	s := ForetoldPeriodsSpec{ID: "next-over-time", ValueAxis: "Definitive sockets, each month"}
	for i := range 48 {
		day := dayOfMonth(2023+i/12, i%12+1)
		p := ForetoldPeriod{Label: fmt.Sprintf("%d-%02d", 2023+i/12, i%12+1), Day: day, Seen: float64(6 + (i*7)%5), Expected: math.NaN()}
		if i >= 36 {
			p.Seen, p.Expected, p.Low, p.High = math.NaN(), 8, 3, 14+float64(i-36)/6
		}
		s.Periods = append(s.Periods, p)
	}
	return s
}

func sampleTiles() TilesSpec {
	return TilesSpec{ID: "strip", Axis: "Recorded", Goal: 0.9, Heads: []string{"All", "2023", "2024", "2025", "2026 *"}, Rows: []TileRow{
		{"Comfort (0 to 10)", []Tile{{0.82, "82%", true}, {0.7, "70%", true}, {0.85, "85%", true}, {0.95, "95%", false}, {math.NaN(), "most", false}}},
		{"Time since the socket came off, in minutes, before the first girth was taken", []Tile{{0.1, "10%", true}, {0, "0%", true}, {0.05, "5%", true}, {0.4, "40%", true}, {math.NaN(), "few", false}}},
		{"Sock ply", []Tile{{1, "100%", false}, {1, "100%", false}, {1, "100%", false}, {1, "100%", false}, {math.NaN(), "–", false}}}}}
}

func TestForetoldInWords(t *testing.T) {
	f := ForetoldYears(sampleForetold())
	if !strings.Contains(f.Description, "102 are foretold, between 79 and 128") {
		t.Error(f.Description)
	}
	if !strings.Contains(f.Long, "Jul 2024 to Jun 2025: 103 counted, 92 foretold (71 to 118)") {
		t.Error(f.Long)
	}
	if f := ForetoldPeriods(sampleForetoldPeriods()); !strings.Contains(f.Description, "36 periods counted, and 12 periods foretold") {
		t.Error(f.Description)
	}
}
