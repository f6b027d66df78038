package mixed

import (
	"math"

	"plybook/analysis/internal/lsq"
)

// objective is the criterion as a function of all that is searched for:
// theta, and behind it the log of the range where residuals are correlated
// in time. For each range the rows are reduced anew.
type objective struct {
	p           *problem
	f           *lsq.Factor
	residual    []float64
	scale       float64 // by which residuals are divided
	base        float64 // constant of the criterion without the correlation's
	serial      bool
	few         bool                   // a sample already
	kept        map[float64]*criterion // by log range
	evaluations int
}

func newObjective(p *problem, f *lsq.Factor, residual []float64, size float64, serial bool) *objective {
	o := &objective{p: p, f: f, residual: residual, scale: size, serial: serial, kept: map[float64]*criterion{}}
	o.base = 2 * float64(f.N) * math.Log(size)
	if !p.opts.ML {
		o.base = 2*float64(f.N-f.P)*math.Log(size) + f.LogDet
	}
	return o
}

// criterion for a log range; without correlation there is one only.
func (o *objective) criterion(logRange float64) *criterion {
	if c, ok := o.kept[logRange]; ok {
		return c
	}
	length := 0.0
	if o.serial {
		length = math.Exp(logRange)
	}
	c := o.p.reduce(o.f, o.residual, o.scale, length)
	c.constant += o.base
	if len(o.kept) > 20 { // more than one step of the search uses again
		clear(o.kept)
	}
	o.kept[logRange] = c
	return c
}

// split parts a point into theta and the log range (0 where there is none).
func (o *objective) split(t []float64) (theta []float64, logRange float64) {
	if !o.serial {
		return t, 0
	}
	return t[:len(t)-1], t[len(t)-1]
}

// at works out the criterion at a point.
func (o *objective) at(t []float64) *state {
	o.evaluations++
	theta, logRange := o.split(t)
	if o.serial && (logRange < math.Log(o.p.gap/100) || logRange > math.Log(1e4*o.p.span)) {
		return &state{point: t, value: math.Inf(1)}
	}
	s := o.criterion(logRange).at(theta)
	s.point = t
	return s
}

// gradient of the profiled criterion.
func (o *objective) gradient(s *state) []float64 {
	g := s.c.gradient(s)
	if o.serial {
		g = append(g, o.alongRange(s.point, func(u *state) float64 { return u.value }))
	}
	return g
}

// curvature of the profiled criterion: exact in theta; with correlation in
// time from differences of gradients, good to about six digits, which is
// enough to steer by.
func (o *objective) curvature(s *state) [][]float64 {
	if !o.serial {
		return profiled(s.c.curvature(s))
	}
	return differences(s.point, o.steps(s.point), false, func(t []float64) []float64 { return o.gradient(o.at(t)) })
}

// alongRange is the derivative in the log range of a value at a point.
func (o *objective) alongRange(t []float64, value func(*state) float64) float64 {
	theta, logRange := o.split(t)
	return derivative(width, func(w float64) float64 {
		o.evaluations++
		return value(o.criterion(logRange + w).at(theta))
	})
}

// size is the scale on which a step or slope in coordinate j of a point is
// judged: components of theta by their own size, the log range as it is.
func (o *objective) size(t []float64, j int) float64 {
	if o.serial && j == len(t)-1 {
		return 1
	}
	return math.Max(math.Abs(t[j]), zero)
}

// steps are the widths of differences of gradients.
func (o *objective) steps(t []float64) []float64 {
	w := make([]float64, len(t))
	for j := range w {
		w[j] = 1e-3 * math.Max(math.Abs(t[j]), 0.01)
	}
	if o.serial {
		w[len(t)-1] = width
	}
	return w
}
