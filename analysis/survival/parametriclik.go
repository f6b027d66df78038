package survival

import (
	"fmt"
	"math"

	"plybook/analysis/stats"
)

// parametricLikelihood is the likelihood at one set of parameters.
type parametricLikelihood struct {
	loglik float64
	score  []float64
	info   [][]float64
	ok     bool // the numbers are finite
}

// slopes are what one row adds, without its weight: its log likelihood, and
// with z = slope t - eta at its time or times t, so that z is linear in the
// parameters, the coefficients of the score and of the information. The
// score is -first[0] times the columns, and first[1] for the slope; the
// information is second[0] times the products of columns, -second[1] times
// the columns for the slope with them, second[2] for the slope.
type slopes struct {
	loglik float64
	first  [2]float64
	second [3]float64
}

// add adds the derivative of the log likelihood by z at the time t, and
// minus the second derivative.
func (s *slopes) add(t, first, second float64) {
	s.first[0] += first
	s.first[1] += first * t
	s.second[0] += second
	s.second[1] += second * t
	s.second[2] += second * t * t
}

// density adds that of log slope, which comes with a density of log time.
func (s *slopes) density(slope float64) {
	s.loglik += math.Log(slope)
	s.first[1] += 1 / slope
	s.second[2] += 1 / (slope * slope)
}

// square adds the product of the score's coefficients with themselves, which
// the logarithm brings into the information.
func (s *slopes) square(g0, g1 float64) {
	s.second[0] += g0 * g0
	s.second[1] += g0 * g1
	s.second[2] += g1 * g1
}

// row works out what row i adds.
func (m *parametricModel) row(i int, eta, slope float64) slopes {
	var s slopes
	if e := m.entry[i]; !math.IsInf(e, -1) {
		log, h, h1 := m.law.survival(slope*e - eta)
		s.loglik = -log
		s.add(e, h, -h1)
	}
	l, r := m.left[i], m.right[i]
	switch {
	case !math.IsNaN(m.exact[i]):
		log, f1, f2 := m.law.density(slope*l - eta)
		s.loglik += log - m.exact[i]
		s.add(l, f1, -f2)
		s.density(slope)
	case math.IsInf(r, 1):
		log, h, h1 := m.law.survival(slope*l - eta)
		s.loglik += log
		s.add(l, -h, h1)
	case math.IsInf(l, -1):
		log, v, v1 := m.law.below(slope*r - eta)
		s.loglik += log
		s.add(r, v, -v1)
	default:
		m.between(&s, l, r, eta, slope)
	}
	return s
}

// between adds an event in an interval. The probabilities of the ends of a
// narrow one are so alike that their difference has few digits: it is then
// the mean of the density within, by Gauss and Legendre.
func (m *parametricModel) between(s *slopes, l, r, eta, slope float64) {
	zl, zr := slope*l-eta, slope*r-eta
	fl, fl1, _ := m.law.density(zl)
	fr, fr1, _ := m.law.density(zr)
	if (zr-zl)*max(1, math.Abs(fl1), math.Abs(fr1)) > narrow {
		log := between(m.law, zl, zr)
		a, b := math.Exp(fl-log), math.Exp(fr-log)
		s.loglik += log
		s.add(l, -a, a*fl1)
		s.add(r, b, -b*fr1)
		s.square(b-a, b*r-a*l)
		return
	}
	total, top := 0.0, math.Max(fl, fr)
	var g [2]float64
	var h [3]float64
	for k, node := range legendreNodes {
		t := l + (r-l)*node
		log, f1, f2 := m.law.density(slope*t - eta)
		p := legendreWeights[k] * math.Exp(log-top)
		total += p
		g[0] += p * f1
		g[1] += p * f1 * t
		for j, x := range []float64{1, t, t * t} {
			h[j] -= p * (f2 + f1*f1) * x
		}
	}
	s.loglik += top + math.Log(total) + math.Log(r-l)
	for j := range g {
		g[j] /= total
		s.first[j] += g[j]
	}
	for j := range h {
		s.second[j] += h[j] / total
	}
	s.square(g[0], g[1])
	s.density(slope)
}

// narrow is the width of an interval, by how much the density changes within,
// up to which its mean is taken.
const narrow = 0.02

// The rule of five points on (0, 1).
var (
	legendreNodes   = [...]float64{0.046910077030668, 0.2307653449471585, 0.5, 0.7692346550528415, 0.953089922969332}
	legendreWeights = [...]float64{0.1184634425280945, 0.2393143352496833, 0.2844444444444444, 0.2393143352496833, 0.1184634425280945}
)

// eta is the linear predictor of row i, b/s times its columns.
func (m *parametricModel) eta(i int, at []float64) float64 {
	k := m.p + 1
	v := 0.0
	for j, x := range m.x[i*k : (i+1)*k] {
		v += x * at[j]
	}
	return v
}

func (m *parametricModel) slope(at []float64) float64 {
	if m.fixed {
		return 1
	}
	return at[m.p+1]
}

func (m *parametricModel) likelihood(at []float64) *parametricLikelihood {
	n, k := m.size(), m.p+1
	out := &parametricLikelihood{score: make([]float64, n), info: square(n)}
	slope := m.slope(at)
	if !(slope > 0) {
		return out
	}
	for i := range m.n {
		s, w := m.row(i, m.eta(i, at), slope), m.w[i]
		out.loglik += w * s.loglik
		x := m.x[i*k : (i+1)*k]
		for a := range x {
			out.score[a] -= w * s.first[0] * x[a]
			for b := 0; b <= a; b++ {
				out.info[a][b] += w * s.second[0] * x[a] * x[b]
			}
		}
		if m.fixed {
			continue
		}
		out.score[k] += w * s.first[1]
		for a := range x {
			out.info[k][a] -= w * s.second[1] * x[a]
		}
		out.info[k][k] += w * s.second[2]
	}
	out.ok = finite(out.loglik)
	for a := range n {
		out.ok = out.ok && finite(out.score[a])
		for b := 0; b <= a; b++ {
			out.info[b][a] = out.info[a][b]
			out.ok = out.ok && finite(out.info[a][b])
		}
	}
	return out
}

// scoreProducts is the sum over clusters of the products of their scores.
func (m *parametricModel) scoreProducts(at []float64, of []int32, count int) [][]float64 {
	n, k := m.size(), m.p+1
	g, shaped := m.law.(*gammaLaw)
	if shaped {
		n++
	}
	slope := m.slope(at)
	sums := make([]float64, count*n)
	for i := range m.n {
		s := m.row(i, m.eta(i, at), slope)
		u := sums[int(of[i])*n : (int(of[i])+1)*n]
		for a, x := range m.x[i*k : (i+1)*k] {
			u[a] -= m.w[i] * s.first[0] * x
		}
		if !m.fixed {
			u[k] += m.w[i] * s.first[1]
		}
		if shaped {
			u[k+1] += m.w[i] * m.shapeRow(g, i, m.eta(i, at), slope).q
		}
	}
	out := square(n)
	for g := range count {
		u := sums[g*n : (g+1)*n]
		for a := range n {
			for b := range n {
				out[a][b] += u[a] * u[b]
			}
		}
	}
	return out
}

// newton climbs from a start, halving steps that do not climb. It stops once
// the step promises a gain below rounding; that last step is still taken.
func (m *parametricModel) newton(from []float64, maxIterations int) (*parametricLikelihood, []float64, int, error) {
	const settled = 1e-17
	at, now := from, m.likelihood(from)
	if !now.ok {
		return nil, nil, 0, fmt.Errorf("the likelihood cannot be computed at the start: %w", stats.ErrConvergence)
	}
	for it := 1; it <= maxIterations; it++ {
		step, gain, ok := ascent(now.info, now.score)
		if !ok {
			return nil, nil, it, fmt.Errorf("the information gave out at iteration %d: %w", it, stats.ErrConvergence)
		}
		// A step that still moves some row although it promises next to
		// nothing: the likelihood has become flat in that direction.
		if gain < 1e-6 {
			if err := m.runaway(step); err != nil {
				return nil, nil, it, err
			}
		}
		// An event pinned to a point gains without end as s falls to 0.
		if !m.fixed && at[m.p+1]*m.reach() > 1e7 {
			return nil, nil, it, ErrNoSpread
		}
		next, moved := m.climb(now, at, step)
		if gain < settled*(1+math.Abs(now.loglik)) {
			if moved != nil {
				return next, moved, it, nil
			}
			return now, at, it, nil
		}
		if moved == nil {
			if gain < 1e-9*(1+math.Abs(now.loglik)) {
				return now, at, it, nil // the optimum to rounding
			}
			return nil, nil, it, fmt.Errorf("no step improves the likelihood: %w", stats.ErrConvergence)
		}
		now, at = next, moved
	}
	return nil, nil, maxIterations, fmt.Errorf("%d iterations: %w", maxIterations, stats.ErrConvergence)
}

// ascent is the Newton step and twice the gain it promises. Where late entry
// has left the likelihood convex in some direction the information is
// stiffened until the step climbs.
func ascent(info [][]float64, score []float64) (step []float64, gain float64, ok bool) {
	if step, gain, ok = solve(info, score); ok {
		return step, gain, true
	}
	n := len(score)
	for stiff := 1e-4; stiff < 1e8; stiff *= 10 {
		v := square(n)
		for i := range n {
			copy(v[i], info[i])
			v[i][i] += stiff * math.Max(math.Abs(info[i][i]), 1)
		}
		if step, gain, ok = solve(v, score); ok {
			return step, gain, true
		}
	}
	return nil, 0, false
}

// climb takes the step, or as much of it as does not lose likelihood beyond
// rounding. moved is nil where none does.
func (m *parametricModel) climb(now *parametricLikelihood, at, step []float64) (next *parametricLikelihood, moved []float64) {
	for f := 1.0; f > 1e-12; f /= 2 {
		moved = make([]float64, len(at))
		for j := range at {
			moved[j] = at[j] + f*step[j]
		}
		next = m.likelihood(moved)
		if next.ok && next.loglik >= now.loglik-1e-13*(1+math.Abs(now.loglik)) {
			return next, moved
		}
	}
	return nil, nil
}

// reach is the range of the log times, entries aside.
func (m *parametricModel) reach() float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for i := range m.n {
		for _, t := range []float64{m.left[i], m.right[i]} {
			if !math.IsInf(t, 0) {
				lo, hi = math.Min(lo, t), math.Max(hi, t)
			}
		}
	}
	return math.Max(hi-lo, 1e-3)
}

// runaway is the error of a step along which the likelihood is flat although
// it moves z of some row; nil where it moves none, as between columns that
// nearly repeat one another.
func (m *parametricModel) runaway(step []float64) error {
	const much = 0.05
	k := m.p + 1
	most := 0.0
	for i := range m.n {
		eta := m.eta(i, step)
		for _, t := range []float64{m.left[i], m.right[i]} {
			switch {
			case math.IsInf(t, 0):
			case m.fixed:
				most = math.Max(most, math.Abs(eta))
			default:
				most = math.Max(most, math.Abs(step[k]*t-eta))
			}
		}
	}
	if most <= much {
		return nil
	}
	e := &SeparationError{}
	for j := range m.p {
		lo, hi := math.Inf(1), math.Inf(-1)
		for i := range m.n {
			v := m.x[i*k+j+1]
			lo, hi = math.Min(lo, v), math.Max(hi, v)
		}
		if math.Abs(step[j+1])*(hi-lo) > much {
			e.Columns = append(e.Columns, j)
			e.Names = append(e.Names, m.data.Names[j])
		}
	}
	if len(e.Columns) > 0 {
		return e
	}
	return ErrNoSpread
}
