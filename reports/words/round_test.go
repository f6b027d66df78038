package words

import (
	"math"
	"testing"
)

func TestPrint(t *testing.T) {
	tests := []struct{ name, got, want string }{
		{"thousands", Fixed(12345.678, 1), "12,345.7"},
		{"four digits stand alone", Fixed(1234, 0), "1234"},
		{"minus", Fixed(-3.14159, 2), "−3.14"},
		{"no negative zero", Fixed(-0.0001, 2), "0.00"},
		{"not a number", Fixed(math.NaN(), 2), NotComputed},
		{"infinite", Plain(math.Inf(1)), NotComputed},
		{"percent few", Percent(0.3333, 42), "33%"},
		{"percent many", Percent(0.3333, 420), "33.3%"},
		{"p small", PEquals(1e-9), "p < 0.0001"},
		{"p four", PEquals(0.00042), "p = 0.0004"},
		{"p", PEquals(0.0421), "p = 0.042"},
		{"ratio", Ratio(1.5094), "1.51"},
		{"ratio huge", Ratio(1e7), "> 1000"},
		{"days", Span(61), "61 days"},
		{"months", Span(365.25), "12 months"},
		{"years", Span(4 * 365.25), "4 years"},
		{"time point years", At(730.5), "2 years"},
		{"time point days", At(90), "90 days"},
		{"time point months", At(6 * 30.4375), "6 months"},
		{"one", N(1, "socket", "sockets"), "1 socket"},
		{"many", N(1200, "socket", "sockets"), "1200 sockets"},
		{"date", Date(20454), "1 January 2026"},
		{"before the epoch", ISODate(-1), "1969-12-31"},
		{"list", List([]string{"a", "b", "c"}), "a, b and c"},
	}
	for _, tt := range tests {
		if tt.got != tt.want {
			t.Errorf("%s: got %q, want %q", tt.name, tt.got, tt.want)
		}
	}
}
