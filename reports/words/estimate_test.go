package words

import (
	"math"
	"strconv"
	"strings"
	"testing"
)

func TestEstimates(t *testing.T) {
	both := func(value, interval string) string { return value + " (" + interval + ")" }
	free := func(x, low, high float64) string { return both(Value(x, low, high), Interval(low, high)) }
	rate := func(x, low, high float64) string { return both(Rate(x, low, high), RateRange(low, high)) }
	ratio := func(x, low, high float64) string { return both(RatioWithin(x, low, high), RatioRange(low, high)) }
	share := func(x, low, high float64) string { return both(PercentWithin(x, low, high), PercentRange(low, high)) }
	span := func(x, low, high float64) string { return both(SpanWithin(x, low, high), SpanRange(low, high)) }
	month := inMonths.days
	tests := []struct{ name, got, want string }{
		{"two figures of the width", free(12.3456, 11, 13), "12.3 (11.0 to 13.0)"},
		{"of a narrow interval", free(0.123456, 0.1220, 0.1249), "0.1235 (0.1220 to 0.1249)"},
		{"of a wide one", free(123.456, 20, 400), "123 (20 to 400)"},
		{"of a huge one", free(12345.6, 10000, 15000), "12,346 (10,000 to 15,000)"},
		{"width of just under ten", free(10, 5.2, 15.196), "10 (5 to 15)"},
		{"no negative zero", free(-0.01, -0.6, 0.6), "0.0 (−0.6 to 0.6)"},
		{"a limit above 0 does not look like 0", free(-0.08, -0.22, -0.004), "−0.080 (−0.220 to −0.004)"},
		{"but not at any price", free(1, 0.00001, 2.1), "1.0 (0.0 to 2.1)"},
		{"a limit of 0 is 0", free(1, 0, 2.1), "1.0 (0.0 to 2.1)"},
		{"tiny numbers", free(2e-6, 1e-6, 3e-6), "0.0000020 (0.0000010 to 0.0000030)"},
		{"no width", free(3.5, 3.5, 3.5), "3.50 (3.50 to 3.50)"},
		{"signed", Signed(0.31, -0.14, 0.76), "+0.31"},
		{"signed below", Signed(-0.31, -0.76, 0.14), Minus + "0.31"},
		{"signed nothing", Signed(0.001, -0.5, 0.5), "0.0"},
		{"signed, not known", SignedFixed(math.NaN(), 1), NotComputed},
		{"a rate", rate(14.34, 12.93, 15.88), "14.3 (12.9 to 15.9)"},
		{"a rate whose limit is above 0", rate(0.04, 0.001, 0.22), "0.04 (< 0.01 to 0.22)"},
		{"a rate of none", rate(0, 0, 3.69), "0.0 (0.0 to 3.7)"},
		{"a hazard ratio", ratio(0.7214, 0.551, 0.9432), "0.72 (0.55 to 0.94)"},
		{"a ratio with long arms", ratio(6.17, 2.41, 15.8), "6.2 (2.4 to 15.8)"},
		{"a ratio whose limit is not 1", ratio(1.5, 1.04, 2.2), "1.50 (1.04 to 2.20)"},
		{"a ratio of a narrow interval", ratio(1.0021, 0.9884, 1.0152), "1.002 (0.988 to 1.015)"},
		{"a ratio that may be anything", ratio(3e7, 1e-9, 1e12), "> 1000 (< 0.01 to > 1000)"},
		{"a ratio near nothing", ratio(0.03, 0.004, 0.19), "0.03 (< 0.01 to 0.19)"},
		{"a ratio whose lower limit is below 1", ratio(1.06, 0.42, 2.65), "1.06 (0.42 to 2.65)"},
		{"nothing but the seventh figure", free(1.2, 1.19999995, 1.20000005), "1.20000 (1.20000 to 1.20000)"},
		{"a share of a very narrow interval", share(0.99999, 0.99998, 0.999999), "> 99.99% (> 99.99 to > 99.99%)"},
		{"a share", share(0.547, 0.471, 0.616), "55% (47 to 62%)"},
		{"a share of a narrow interval", share(0.18, 0.136, 0.228), "18.0% (13.6 to 22.8%)"},
		{"nearly all", share(0.98, 0.90, 0.9999), "98% (90 to > 99%)"},
		{"nearly all, as it seems", share(0.9996, 0.97, 0.99999), "> 99.9% (97.0 to > 99.9%)"},
		{"nearly none", share(0.0002, 0.00001, 0.03), "< 0.1% (< 0.1 to 3.0%)"},
		{"none", share(0, 0, 0.071), "0% (0 to 7.1%)"},
		{"all", share(1, 0.81, 1), "100% (81 to 100%)"},
		{"months", span(27.1*month, 22.7*month, 34.7*month), "27 months (23 to 35 months)"},
		{"months, narrow", span(16.4*month, 14.3*month, 17.6*month), "16.4 months (14.3 to 17.6 months)"},
		{"years", span(2.52*365.25, 2.02*365.25, 3.31*365.25), "2.5 years (2.0 to 3.3 years)"},
		{"days", span(10.8, -43.1, 64.7), "11 days (−43 to 65 days)"},
		{"one day", span(1, -20, 22), "1 day (−20 to 22 days)"},
		{"a lower limit only", TimesFrom(15.3*month, 7.6*month, 0).Of(15.3 * month), "15 months"},
		{"share without interval, nearly all", Percent(0.9996, 243), "> 99.9%"},
		{"share without interval, nearly none", Percent(0.0004, 40), "< 1%"},
		{"all of them", Percent(1, 243), "100%"},
		{"none of them", Percent(0, 243), "0%"},
		{"p near 1", PEquals(0.9997), "p > 0.999"},
		{"p of 1", PEquals(1), "p = 1.000"},
		{"a small plain number", Plain(0.00001234), "0.0000123"},
		{"ratio without interval", Ratio(12.34), "12.3"},
	}
	for _, tt := range tests {
		if tt.got != tt.want {
			t.Errorf("%s: got %q, want %q", tt.name, tt.got, tt.want)
		}
	}
}

// printedNumber reads a print back: the number, the unit of its last place,
// and whether it is a bound (-1 below, 1 above).
func printedNumber(t *testing.T, s string) (x, unit float64, bound int) {
	t.Helper()
	if after, ok := strings.CutPrefix(s, "< "); ok {
		s, bound = after, -1
	} else if after, ok := strings.CutPrefix(s, "> "); ok {
		s, bound = after, 1
	}
	s = strings.ReplaceAll(strings.ReplaceAll(s, ",", ""), Minus, "-")
	x, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatalf("%q is no number", s)
	}
	_, frac, _ := strings.Cut(s, ".")
	return x, math.Pow10(-len(frac)), bound
}

// holdsEstimate fails where a print of an estimate and its limits misleads.
func holdsEstimate(t *testing.T, value, interval string, x, low, high float64, share bool) {
	t.Helper()
	a, b, ok := strings.Cut(interval, " to ")
	if !ok {
		t.Fatalf("%q is no interval", interval)
	}
	where := value + " (" + interval + ")"
	px, ux, bx := printedNumber(t, value)
	pl, ul, bl := printedNumber(t, a)
	ph, uh, bh := printedNumber(t, b)
	if bx == 0 && bl == 0 && bh == 0 {
		if pl > px || px > ph {
			t.Errorf("%s: the estimate lies outside of its limits (%g, %g, %g)", where, x, low, high)
		}
		exact := func(s string) bool { return s == "0" || s == "100" } // stand without decimals
		for _, other := range []struct {
			s string
			u float64
		}{{a, ul}, {b, uh}} {
			if other.u != ux && !exact(other.s) && !exact(value) {
				t.Errorf("%s: decimals differ", where)
			}
		}
	}
	for _, p := range []struct {
		shown, unit float64
		bound       int
		true        float64
	}{{px, ux, bx, x}, {pl, ul, bl, low}, {ph, uh, bh, high}} {
		switch {
		case p.bound < 0 && p.true >= p.shown, p.bound > 0 && p.true <= p.shown:
			t.Errorf("%s: %g lies on the other side", where, p.true)
		case p.bound == 0 && math.Abs(p.shown-p.true) > p.unit/2*(1+1e-9)+1e-12*math.Abs(p.true):
			t.Errorf("%s: %g is off by more than half of the last place", where, p.true)
		}
	}
	if strings.Contains(where, Minus+"0 ") || strings.HasPrefix(where, Minus+"0.0 ") {
		t.Errorf("%s: a negative zero", where)
	}
	if a == b && bl == 0 && bh == 0 && high-low > 1e-4*math.Max(math.Abs(low), math.Abs(high)) && (!share || high-low > 0.02) {
		t.Errorf("%s: limits look the same (%g, %g)", where, low, high)
	}
}

func FuzzEstimates(f *testing.F) {
	for _, s := range [][3]float64{{0, 1, 2}, {-1, 0.5, 3}, {1e-6, 2e-6, 1}, {0.97, 0.9996, 0.99999}, {1, 1, 1}, {-0.04, 0, 0.06}, {9.95, 9.995, 10}, {1e5, 2e6, 3e7}} {
		f.Add(s[0], s[1], s[2])
	}
	f.Fuzz(func(t *testing.T, a, b, c float64) {
		for _, x := range []float64{a, b, c} {
			if math.IsNaN(x) || math.Abs(x) > 1e12 || x != 0 && math.Abs(x) < 1e-7 {
				t.Skip()
			}
		}
		low, high := min(a, b, c), max(a, b, c)
		x := a + b + c - low - high
		x = min(max(x, low), high)
		holdsEstimate(t, Value(x, low, high), Interval(low, high), x, low, high, false)
		holdsEstimate(t, strings.TrimPrefix(Signed(x, low, high), "+"), Interval(low, high), x, low, high, false)
		days := TimesWithin(low, high, 0)
		holdsEstimate(t, days.Bare(x), days.Bare(low)+" to "+days.Bare(high), x/days.unit.days, low/days.unit.days, high/days.unit.days, false)
		if low >= 0 {
			holdsEstimate(t, Rate(x, low, high), RateRange(low, high), x, low, high, false)
			holdsEstimate(t, RatioWithin(x, low, high), RatioRange(low, high), x, low, high, false)
			squeeze := func(x float64) float64 { return x / (1 + x) }
			holdsShare(t, squeeze(x), squeeze(low), squeeze(high))
			holdsShare(t, 1-squeeze(x), 1-squeeze(high), 1-squeeze(low))
		}
	})
}

func holdsShare(t *testing.T, x, low, high float64) {
	t.Helper()
	value, interval := PercentWithin(x, low, high), PercentRange(low, high)
	holdsEstimate(t, strings.TrimSuffix(value, "%"), strings.TrimSuffix(interval, "%"), 100*x, 100*low, 100*high, true)
	for k, p := range []string{value, strings.Split(interval, " to ")[0] + "%", strings.Split(interval, " to ")[1]} {
		of := []float64{x, low, high}[k]
		if of < 1 && p == "100%" || of > 0 && strings.Trim(p, "0.%") == "" {
			t.Errorf("%g is printed as %s", of, p)
		}
	}
}
