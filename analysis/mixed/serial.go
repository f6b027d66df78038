package mixed

import (
	"fmt"
	"math"
	"sort"

	"gonum.org/v1/gonum/floats"
)

// times puts the rows of each group in the order of time and finds the
// shortest and the longest time between them.
func (p *problem) times() error {
	d := p.data
	if len(d.Time) != len(d.Y) {
		return fmt.Errorf("%d times for %d rows: %w", len(d.Time), len(d.Y), ErrInput)
	}
	for _, t := range d.Time {
		if math.IsNaN(t) || math.IsInf(t, 0) {
			return fmt.Errorf("a time is not a number: %w", ErrInput)
		}
	}
	p.gap = math.Inf(1)
	for g, rows := range p.rows {
		sort.SliceStable(rows, func(a, b int) bool { return d.Time[rows[a]] < d.Time[rows[b]] })
		for i := 1; i < len(rows); i++ {
			gap := d.Time[rows[i]] - d.Time[rows[i-1]]
			if gap == 0 {
				return fmt.Errorf("%s %d, time %g: %w", d.GroupName, p.labels[g], d.Time[rows[i]], ErrTiedTimes)
			}
			p.gap = math.Min(p.gap, gap)
		}
		p.span = math.Max(p.span, d.Time[rows[len(rows)-1]]-d.Time[rows[0]])
	}
	if p.span == 0 {
		return fmt.Errorf("one row per %s: %w", d.GroupName, ErrNotSeparable)
	}
	return nil
}

// whiten takes a correlation exp(-time/length) out of the columns of a group,
// whose rows are in the order of time, and returns the log determinant of
// the correlation matrix. The process is Markov, so that each row needs only
// the one before (Jones & Boadi-Boateng 1991, Biometrics 47:161).
func (p *problem) whiten(rows []int, cols [][]float64, length float64) float64 {
	det := 0.0
	for i := len(rows) - 1; i > 0; i-- {
		gap := (p.data.Time[rows[i]] - p.data.Time[rows[i-1]]) / length
		r, s := math.Exp(-gap), math.Sqrt(-math.Expm1(-2*gap))
		det += 2 * math.Log(s)
		for _, c := range cols {
			c[i] = (c[i] - r*c[i-1]) / s
		}
	}
	return det
}

// derivative of fn at 0 from five points, the two innermost at distance w.
func derivative(w float64, fn func(float64) float64) float64 {
	return (8*(fn(w)-fn(-w)) - (fn(2*w) - fn(-2*w))) / (12 * w)
}

// width is the step in the log range with which derivatives are taken. The
// criterion is smooth on the scale of 1, so that the error of a derivative
// is near 1e-9 and its rounding below that.
const width = 1e-2

// settleSerial judges a fit with correlation in time: one that dies out
// within the shortest gap is none, one that outlasts the groups is an error.
// It says whether the fit must be made again without.
func (p *problem) settleSerial(logRange float64) (none bool, err error) {
	length := math.Exp(logRange)
	switch {
	case length > 30*p.span:
		return false, ErrLongRange
	case math.Exp(-p.gap/length) < 1e-3:
		return true, nil
	}
	return false, nil
}

// middleSlope is the derivative in the log range of the inverse of the
// crossproduct of the fixed effects.
func middleSlope(o *objective, at []float64) [][]float64 {
	n := len(at) - 1
	inverse := func(w float64) [][]float64 {
		t := append([]float64(nil), at...)
		t[n] += w
		s := o.at(t)
		m := square(s.c.p)
		for j := range m {
			m[j][j] = 1
			lower(s.a, m[j])
			upper(s.a, m[j])
		}
		return m
	}
	out := square(o.f.P)
	for _, c := range []struct{ step, weight float64 }{{1, 8}, {-1, -8}, {2, -1}, {-2, 1}} {
		for j, row := range inverse(c.step * width) {
			floats.AddScaled(out[j], c.weight/(12*width), row)
		}
	}
	return out
}
