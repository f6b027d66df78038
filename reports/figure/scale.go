package figure

import (
	"math"
	"slices"
	"strings"
	"time"

	"gonum.org/v1/plot/vg"

	"plybook/reports/words"
)

func sortFloats(xs []float64) { slices.Sort(xs) }

// scale maps values to a stretch of the page.
type scale struct {
	lo, hi   float64 // values
	from, to vg.Length
	log      bool
}

func (s scale) at(v float64) vg.Length {
	lo, hi := s.lo, s.hi
	if s.log {
		v, lo, hi = math.Log(v), math.Log(lo), math.Log(hi)
	}
	return s.from + vg.Length((v-lo)/(hi-lo))*(s.to-s.from)
}

// in puts a value on the scale, held within its ends.
func (s scale) in(v float64) vg.Length { return s.at(min(max(v, s.lo), s.hi)) }

func (s scale) holds(v float64) bool { return v >= s.lo && v <= s.hi }

// tick is a place on an axis and its label.
type tick struct {
	value float64
	label string
}

func labels(ts []tick) []string {
	out := make([]string, len(ts))
	for i, t := range ts {
		out[i] = t.label
	}
	return out
}

// niceStep is the smallest of 1, 2, 2.5, 5 times a power of ten that cuts the
// span into at most n parts.
func niceStep(span float64, n int) float64 {
	raw := span / float64(n)
	mag := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, m := range []float64{1, 2, 2.5, 5, 10} {
		if m*mag >= raw*(1-1e-9) {
			return m * mag
		}
	}
	return 10 * mag
}

// spread widens a range of no width, so that a constant can be drawn.
func spread(lo, hi float64) (float64, float64) {
	if hi > lo && (hi-lo) > 1e-12*math.Max(math.Abs(lo), math.Abs(hi)) {
		return lo, hi
	}
	d := math.Max(math.Abs(lo)*0.1, 0.5)
	return lo - d, hi + d
}

// linearTicks gives round values from lo to hi, both within the range.
func linearTicks(lo, hi float64, n int) []tick {
	step := niceStep(hi-lo, n)
	first := math.Ceil(lo/step - 1e-9)
	var out []tick
	for k := first; k*step <= hi+1e-9*step && len(out) < 50; k++ {
		out = append(out, tick{k * step, stepLabel(k*step, step)})
	}
	return out
}

// roundOut widens a range to whole steps, so that the axis ends on ticks.
func roundOut(lo, hi float64, n int) (float64, float64) {
	lo, hi = spread(lo, hi)
	step := niceStep(hi-lo, n)
	return math.Floor(lo/step+1e-9) * step, math.Ceil(hi/step-1e-9) * step
}

// stepLabel writes a tick with the decimals that its step needs.
func stepLabel(v, step float64) string {
	if math.Abs(v) < step*1e-9 {
		return "0"
	}
	if math.Abs(v) >= 1e7 || step < 1e-4 {
		return bare(v)
	}
	d := 0
	for s := step; d < 6 && math.Abs(s-math.Round(s)) > 1e-6*s; s *= 10 {
		d++
	}
	return decimal(v, d)
}

// decimal writes a number with d decimals. Rounding is done where all
// printed numbers of the project are rounded.
func decimal(v float64, d int) string { return words.Fixed(v, d) }

// bare writes a number without zeros at its end, millions by their name.
func bare(v float64) string {
	if math.Abs(v) >= 1e7 {
		return words.AsWritten(v/1e6) + " million"
	}
	return words.AsWritten(v)
}

func count(n int) string { return decimal(float64(n), 0) }

// percent writes a share of one as a percentage: one decimal below ten
// percent, none above.
func percent(v float64) string {
	p := 100 * v
	if p != 0 && math.Abs(p) < 9.95 {
		return decimal(p, 1) + "%"
	}
	return decimal(p, 0) + "%"
}

// brief writes a number to three figures, as a label beside a mark.
func brief(v float64) string {
	a := math.Abs(v)
	switch {
	case !finite(v):
		return "–"
	case a == 0:
		return "0"
	case a >= 1e7:
		return words.Plain(v/1e6) + " million"
	case a < 1e-3:
		return words.Plain(v)
	case a >= 99.95:
		return decimal(v, 0)
	case a >= 9.995:
		return decimal(v, 1)
	case a >= 0.0995:
		return decimal(v, 2)
	}
	return decimal(v, 3)
}

// trimmed drops decimals that are all zero.
func trimmed(t string) string {
	if whole, frac, dot := strings.Cut(t, "."); dot && strings.Trim(frac, "0") == "" {
		return whole
	}
	return t
}

// logTicks gives 1-2-5 values, or powers of ten where the range is wide, or
// halvings where it is narrow.
func logTicks(lo, hi float64, n int) []tick {
	for _, m := range [][]float64{{1, 1.2, 1.5, 2, 2.5, 3, 4, 5, 6, 8}, {1, 1.5, 2, 3, 4, 6, 8}, {1, 2, 5}, {1, 3}, {1}} {
		var out []tick
		for e := math.Floor(math.Log10(lo)) - 1; e <= math.Ceil(math.Log10(hi)); e++ {
			for _, k := range m {
				if v := k * math.Pow(10, e); v >= lo*(1-1e-9) && v <= hi*(1+1e-9) {
					out = append(out, tick{v, logLabel(v)})
				}
			}
		}
		if len(out) <= n && len(out) > 0 || len(m) == 1 {
			for len(out) > n {
				out = every(out, 2)
			}
			return out
		}
	}
	return nil
}

// logLabel writes a tick of a logarithmic axis in full, as far as anybody
// reads zeros.
func logLabel(v float64) string {
	if v >= 1000 && v < 1e7 {
		return decimal(v, 0)
	}
	return bare(v)
}

func every(ts []tick, k int) []tick {
	var out []tick
	for i := 0; i < len(ts); i += k {
		out = append(out, ts[i])
	}
	return out
}

const (
	daysPerMonth = 30.4375
	daysPerYear  = 365.25
)

// timeUnit is the unit in which a span of days is read.
type timeUnit struct {
	name  string // "months"
	days  float64
	steps []float64
}

var timeUnits = []timeUnit{
	{"days", 1, []float64{1, 2, 5, 10, 15, 30, 60}},
	{"months", daysPerMonth, []float64{1, 2, 3, 6, 12}},
	{"years", daysPerYear, []float64{0.5, 1, 2, 5, 10, 20, 50, 100, 500}},
}

// unitFor picks days up to four months, months up to three years, years
// beyond.
func unitFor(until float64) timeUnit {
	switch {
	case until <= 4*daysPerMonth:
		return timeUnits[0]
	case until <= 3.05*daysPerYear:
		return timeUnits[1]
	}
	return timeUnits[2]
}

// timeTicks gives ticks in the unit from zero to until (days); values are
// days. At most n of them.
func timeTicks(until float64, u timeUnit, n int) []tick {
	span := until / u.days
	step := u.steps[len(u.steps)-1]
	for _, s := range u.steps {
		if span/s <= float64(n) {
			step = s
			break
		}
	}
	if span < u.steps[0] {
		step = niceStep(span, 4)
	}
	if span/step > float64(n) {
		step = niceStep(span, n)
	}
	var out []tick
	for k := 0.0; k*step <= span*(1+1e-9); k++ {
		out = append(out, tick{k * step * u.days, stepLabel(k*step, step)})
	}
	return out
}

// dateOf is the date of a day number (days since 1970-01-01).
func dateOf(day int) time.Time { return time.Unix(int64(day)*86400, 0).UTC() }

// dayOf is the day number of a date.
func dayOf(t time.Time) int { return int(math.Floor(float64(t.Unix()) / 86400)) }

// dateTicks places ticks on calendar marks: whole years where the span is
// long, quarters or months where it is short. The year is written at its
// first tick and at each January.
func dateTicks(lo, hi int, n int) []tick {
	span := float64(hi - lo)
	steps := []int{1, 2, 3, 6, 12, 24, 60, 120, 240, 600, 1200}
	step := steps[len(steps)-1]
	for _, s := range steps {
		if span/daysPerMonth/float64(s) <= float64(n) {
			step = s
			break
		}
	}
	if span < 45 {
		var out []tick
		each := max(1, int(math.Ceil(span/float64(n))))
		for d := lo; d <= hi; d += each {
			out = append(out, tick{float64(d), dateOf(d).Format("2 Jan 2006")})
		}
		return out
	}
	t := dateOf(lo)
	m := t.Year()*12 + int(t.Month()) - 1
	m = m / step * step
	var out []tick
	for k := 0; k < 400; k++ {
		d := dayOf(time.Date(m/12, time.Month(m%12+1), 1, 0, 0, 0, 0, time.UTC))
		if d > hi {
			break
		}
		if d >= lo {
			date := dateOf(d)
			label := date.Format("Jan")
			switch {
			case step >= 12:
				label = date.Format("2006")
			case len(out) == 0 || date.Month() == time.January:
				label = date.Format("Jan 2006")
			}
			out = append(out, tick{float64(d), label})
		}
		m += step
	}
	return out
}
