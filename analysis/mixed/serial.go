package mixed

import (
	"fmt"
	"math"

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
	p.sort(d.Time)
	for g := range p.count() {
		lo, hi := p.start[g], p.start[g+1]
		for i := lo + 1; i < hi; i++ {
			gap := d.Time[p.row(i)] - d.Time[p.row(i-1)]
			if gap == 0 {
				return fmt.Errorf("%s %d, time %g: %w", d.GroupName, p.labels[g], d.Time[p.row(i)], ErrTiedTimes)
			}
			p.gap = math.Min(p.gap, gap)
		}
		p.span = math.Max(p.span, d.Time[p.row(hi-1)]-d.Time[p.row(lo)])
	}
	if p.span == 0 {
		return fmt.Errorf("one row per %s: %w", d.GroupName, ErrNotSeparable)
	}
	return nil
}

// whiten takes a correlation exp(-time/length) out of the columns of group g,
// whose rows are in the order of time, and returns the log determinant of
// the correlation matrix. The process is Markov, so that each row needs only
// the one before (Jones & Boadi-Boateng 1991, Biometrics 47:161).
func (p *problem) whiten(g int, cols [][]float64, length float64) float64 {
	det := 0.0
	for i := p.size(g) - 1; i > 0; i-- {
		at := p.start[g] + int32(i)
		gap := (p.data.Time[p.row(at)] - p.data.Time[p.row(at-1)]) / length
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

// unprofiledCurvature is the second derivative of the unprofiled criterion in
// theta, the log range and the log of the residual standard deviation, by
// differences.
func (o *objective) unprofiledCurvature(s *state) [][]float64 {
	k := len(s.point)
	at := append(append([]float64(nil), s.point...), math.Log(s.rss/s.c.free)/2)
	return differences(at, append(o.steps(s.point), 1e-3), true, func(t []float64) []float64 {
		u := o.at(append([]float64(nil), t[:k]...))
		s2 := math.Exp(2 * t[k])
		g := u.c.gather(product(u.middle(s2), u.lambda, 2))
		g = append(g, o.alongRange(t[:k], func(v *state) float64 { return v.unprofiled(s2) }))
		return append(g, 2*u.c.free-2*u.rss/s2)
	})
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
