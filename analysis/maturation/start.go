package maturation

import (
	"math"

	"gonum.org/v1/gonum/floats"

	"plybook/analysis/internal/lsq"
)

// start finds where the search begins: for each rate of a grid the limbs'
// levels and a common drop are linear, so that the rate with the least scatter
// about them can be looked up and then narrowed down.
func (p *problem) start() (*state, error) {
	lo, hi := math.Log(0.1/p.span), math.Log(8/p.gap)
	best, at := math.Inf(1), 0
	const grid = 80
	point := func(k int) float64 { return lo + (hi-lo)*float64(k)/grid }
	for k := 0; k <= grid; k++ {
		if rss, _, _ := p.within(point(k)); rss < best {
			best, at = rss, k
		}
	}
	if math.IsInf(best, 1) {
		return nil, ErrNoChange
	}
	a, b := point(max(at-1, 0)), point(min(at+1, grid))
	golden := (math.Sqrt(5) - 1) / 2
	for range 40 {
		c, d := b-golden*(b-a), a+golden*(b-a)
		rc, _, _ := p.within(c)
		rd, _, _ := p.within(d)
		if rc < rd {
			b = d
		} else {
			a = c
		}
	}
	l := (a + b) / 2
	_, drop, level := p.within(l)
	s := &state{beta: make([]float64, p.p)}
	f, err := lsq.New(p.firsts(), p.data.Names, len(p.rows), true, nil)
	if err != nil {
		return nil, err
	}
	coef, _, err := f.Solve(level)
	if err != nil {
		return nil, err
	}
	copy(s.beta, coef)
	mean := floats.Sum(level) / float64(len(level))
	s.beta[p.p-2], s.beta[p.p-1] = drop/mean, l
	if p.opts.Form == Initial {
		s.beta[p.p-2] = mean + drop
	}
	for range p.rows {
		s.b = append(s.b, make([]float64, len(p.vary)))
	}
	return s, nil
}

// firsts are the covariates by limb.
func (p *problem) firsts() [][]float64 {
	var out [][]float64
	for _, x := range p.data.X {
		c := make([]float64, len(p.rows))
		for g, rows := range p.rows {
			c[g] = x[rows[0]]
		}
		out = append(out, c)
	}
	return out
}

// within fits limbs' levels and a common drop for one log rate: the sum of
// squares left, the drop, the levels.
func (p *problem) within(l float64) (rss, drop float64, level []float64) {
	r := math.Exp(l)
	var see, sey, syy float64
	type mean struct{ e, y float64 }
	means := make([]mean, len(p.rows))
	for g, rows := range p.rows {
		for _, i := range rows {
			means[g].e += math.Exp(-r*p.data.Time[i]) / float64(len(rows))
			means[g].y += p.data.Y[i] / float64(len(rows))
		}
		for _, i := range rows {
			e, y := math.Exp(-r*p.data.Time[i])-means[g].e, p.data.Y[i]-means[g].y
			see, sey, syy = see+e*e, sey+e*y, syy+y*y
		}
	}
	if see < 1e-12 {
		return math.Inf(1), 0, nil
	}
	drop = sey / see
	for _, m := range means {
		level = append(level, m.y-drop*m.e)
	}
	return math.Max(0, syy-drop*sey), drop, level
}
