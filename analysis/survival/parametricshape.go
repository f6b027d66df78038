package survival

import (
	"errors"
	"fmt"
	"math"

	"plybook/analysis/stats"
)

// ErrShape reports that the times do not tell the shape of a generalised
// gamma distribution: the likelihood goes on growing as it becomes more and
// more lopsided.
var ErrShape = errors.New("the times do not tell the shape of the curve")

// mostShape is how lopsided a law may become: beyond it one end of the log
// times is all but a wall.
const mostShape = 12

// rowShape is what one row adds by the shape: the derivative of its log
// likelihood, the derivatives of slopes.first by the shape, and the second
// derivative.
type rowShape struct {
	q     float64
	cross [2]float64
	qq    float64
}

func (s *rowShape) add(t, sign float64, b shapeSlopes) {
	s.q += sign * b.q
	s.cross[0] += sign * b.qz
	s.cross[1] += sign * b.qz * t
	s.qq += sign * b.qq
}

// shapeRow works out what row i adds by the shape.
func (m *parametricModel) shapeRow(g *gammaLaw, i int, eta, slope float64) rowShape {
	var s rowShape
	if e := m.entry[i]; !math.IsInf(e, -1) {
		s.add(e, -1, g.survivalByShape(slope*e-eta))
	}
	l, r := m.left[i], m.right[i]
	switch {
	case !math.IsNaN(m.exact[i]):
		s.add(l, 1, g.densityByShape(slope*l-eta))
	case math.IsInf(r, 1):
		s.add(l, 1, g.survivalByShape(slope*l-eta))
	case math.IsInf(l, -1):
		s.add(r, 1, g.belowByShape(slope*r-eta))
	default:
		m.shapeBetween(&s, g, l, r, eta, slope)
	}
	return s
}

// shapeBetween adds an event in an interval, as between does for the other
// parameters.
func (m *parametricModel) shapeBetween(s *rowShape, g *gammaLaw, l, r, eta, slope float64) {
	zl, zr := slope*l-eta, slope*r-eta
	fl, fl1, _ := g.density(zl)
	fr, fr1, _ := g.density(zr)
	if (zr-zl)*max(1, math.Abs(fl1), math.Abs(fr1)) > narrow {
		log := between(g, zl, zr)
		dl, dr := g.densityByShape(zl), g.densityByShape(zr)
		a, b := math.Exp(fl-log), math.Exp(fr-log)
		// The tail that keeps more digits.
		sl, sr, pl, pr := shapeSlopes{}, shapeSlopes{}, 0.0, 0.0
		if over, _, _ := g.survival(zl); over > -0.7 {
			ul, _, _ := g.below(zl)
			ur, _, _ := g.below(zr)
			sl, sr, pl, pr = g.belowByShape(zl), g.belowByShape(zr), -math.Exp(ul-log), math.Exp(ur-log)
		} else {
			ur, _, _ := g.survival(zr)
			sl, sr, pl, pr = g.survivalByShape(zl), g.survivalByShape(zr), math.Exp(over-log), -math.Exp(ur-log)
		}
		q := pl*sl.q + pr*sr.q
		s.q += q
		s.qq += pl*(sl.qq+sl.q*sl.q) + pr*(sr.qq+sr.q*sr.q) - q*q
		s.cross[0] += b*(dr.q-q) - a*(dl.q-q)
		s.cross[1] += b*r*(dr.q-q) - a*l*(dl.q-q)
		return
	}
	total, q, qq := 0.0, 0.0, 0.0
	var first, cross [2]float64
	top := math.Max(fl, fr)
	for k, node := range legendreNodes {
		t := l + (r-l)*node
		log, f1, _ := g.density(slope*t - eta)
		d := g.densityByShape(slope*t - eta)
		p := legendreWeights[k] * math.Exp(log-top)
		total += p
		q += p * d.q
		qq += p * (d.qq + d.q*d.q)
		for j, x := range []float64{1, t} {
			first[j] += p * f1 * x
			cross[j] += p * (d.qz + f1*d.q) * x
		}
	}
	q /= total
	s.q += q
	s.qq += qq/total - q*q
	for j := range cross {
		s.cross[j] += (cross[j] - first[j]*q) / total
	}
}

// shaped is the likelihood at the other parameters with the score and the
// information of the shape as the last.
func (m *parametricModel) shaped(g *gammaLaw, now *parametricLikelihood, at []float64) *parametricLikelihood {
	n, k := m.size(), m.p+1
	out := &parametricLikelihood{loglik: now.loglik, score: make([]float64, n+1), info: square(n + 1), ok: now.ok}
	copy(out.score, now.score)
	for a := range n {
		copy(out.info[a], now.info[a])
	}
	slope := m.slope(at)
	last := out.info[n]
	for i := range m.n {
		s, w := m.shapeRow(g, i, m.eta(i, at), slope), m.w[i]
		out.score[n] += w * s.q
		for a, x := range m.x[i*k : (i+1)*k] {
			last[a] += w * s.cross[0] * x
		}
		last[k] -= w * s.cross[1]
		last[n] -= w * s.qq
	}
	out.ok = out.ok && finite(out.score[n])
	for a := range n + 1 {
		out.info[a][n] = last[a]
		out.ok = out.ok && finite(last[a])
	}
	return out
}

// shapeFit is the maximum of the likelihood for one shape.
type shapeFit struct {
	law *gammaLaw
	at  []float64
	now *parametricLikelihood
}

// withShape climbs for one shape. The model keeps its law where that fails.
func (m *parametricModel) withShape(q float64, from []float64, maxIterations int) (*shapeFit, int, error) {
	was := m.law
	g := newGammaLaw(q)
	m.law = g
	now, at, n, err := m.newton(from, maxIterations)
	if err != nil {
		m.law = was
		return nil, n, fmt.Errorf("shape %g: %w", q, err)
	}
	return &shapeFit{g, at, now}, n, nil
}

// withoutShape fits log-normal curves, without the columns and with them, for
// the faults that they report.
func (m *parametricModel) withoutShape(maxIterations int) error {
	null := m.without()
	f, _, err := null.withShape(0, null.start(), maxIterations)
	if err != nil || m.p == 0 {
		return err
	}
	_, _, err = m.withShape(0, m.from(f.at), maxIterations)
	return err
}

// shapedNewton climbs over the other parameters and the shape. It looks at
// shapes far apart first, since the likelihood may have several tops over
// them, then climbs from the best by Newton's method on the likelihood at its
// maximum for each shape, halving steps that do not climb. Its likelihood has
// the shape as last parameter; the model keeps the law found.
func (m *parametricModel) shapedNewton(from []float64, maxIterations int) (*parametricLikelihood, []float64, int, error) {
	var best *shapeFit
	var fault error
	total, start := 0, from
	for _, q := range []float64{0, 1, 2.5, 5, -1, -2.5} {
		if q == -1 && best != nil {
			start = best.at
		}
		f, n, err := m.withShape(q, start, maxIterations)
		total += n
		if err != nil {
			fault = err
			continue
		}
		start = f.at
		if best == nil || f.now.loglik > best.now.loglik {
			best = f
		}
	}
	if best == nil {
		return nil, nil, total, fault
	}
	const settled = 1e-9 // of the shape: Newton's next step would be its square
	for range maxIterations {
		full := m.shaped(best.law, best.now, best.at)
		slope, bend, ok := profile(full)
		if !ok {
			return nil, nil, total, fmt.Errorf("the information gave out at the shape %g: %w", best.law.q, stats.ErrConvergence)
		}
		q := best.law.q
		step := math.Copysign(0.5, slope)
		if bend > 0 {
			step = math.Min(math.Max(slope/bend, -1), 1)
			if math.Abs(step) < settled*(1+math.Abs(q)) {
				m.law = best.law
				return full, best.at, total, nil
			}
			// Far on for next to nothing: the error of such a shape is above 100.
			if slope*step < 1e-6 && math.Abs(step) > 0.1 {
				return nil, nil, total, ErrShape
			}
		}
		next, n := m.betterShape(best, step, maxIterations)
		total += n
		switch {
		case next != nil:
			best = next
		case bend > 0 && slope*step < 1e-10*(1+math.Abs(full.loglik)):
			m.law = best.law
			return full, best.at, total, nil // the optimum to rounding
		default:
			return nil, nil, total, fmt.Errorf("no shape near %g is better: %w", q, ErrShape)
		}
		if math.Abs(best.law.q) > mostShape {
			return nil, nil, total, ErrShape
		}
	}
	return nil, nil, total, fmt.Errorf("%d shapes: %w", maxIterations, stats.ErrConvergence)
}

// betterShape takes the step from a shape, or as much of it as does not lose
// likelihood; nil where none does.
func (m *parametricModel) betterShape(best *shapeFit, step float64, maxIterations int) (*shapeFit, int) {
	total := 0
	for f := 1.0; f > 1e-8; f /= 2 {
		next, n, err := m.withShape(best.law.q+f*step, best.at, maxIterations)
		total += n
		if err == nil && next.now.loglik >= best.now.loglik-1e-13*(1+math.Abs(best.now.loglik)) {
			return next, total
		}
	}
	return nil, total
}

// profile is the slope by the shape of the likelihood at its maximum for each
// shape, and minus its second derivative.
func profile(full *parametricLikelihood) (slope, bend float64, ok bool) {
	n := len(full.score) - 1
	inner, cross := square(n), make([]float64, n)
	for a := range n {
		copy(inner[a], full.info[a][:n])
		cross[a] = full.info[a][n]
	}
	moved, _, ok := solve(inner, cross)
	if !ok || !full.ok {
		return 0, 0, false
	}
	bend = full.info[n][n]
	for a := range n {
		bend -= cross[a] * moved[a]
	}
	return full.score[n], bend, true
}
