package survival

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"gonum.org/v1/gonum/mat"

	"plybook/analysis/stats"
)

// intervalFit is the maximum for some rows.
type intervalFit struct {
	masses        []Mass
	logLikelihood float64
	iterations    int
	kkt           float64
	unique        bool // looked at only where asked
	emptied       bool // the curve falls to 0 while rows come under observation later
}

// The constrained Newton method settles well within these.
const (
	kktTolerance  = 1e-9
	maxIterations = 500
)

// fitIntervals maximises the likelihood of the rows.
func fitIntervals(rows []intervalRow, lookAtUnique bool) (*intervalFit, error) {
	s := newSupport(rows)
	m := len(s.left)
	// Where no row is known to have come through, all who are left have the
	// event: the increment is infinite, and rows whose interval holds it are
	// explained whatever the rest.
	certain := make([]int, m+1)
	for k := range m {
		certain[k+1] = certain[k]
		if s.through[k] == 0 {
			certain[k+1]++
		}
	}
	var open []run
	for _, u := range s.runs {
		if certain[u.to] == certain[u.from] {
			open = append(open, u)
		}
	}
	p := newProblem(s, open)
	fit := &intervalFit{unique: true}
	if err := p.maximise(fit); err != nil {
		return nil, err
	}
	if lookAtUnique {
		fit.unique = p.unique()
	}
	fit.logLikelihood = p.value(p.increment)
	share := 1.0
	for k := range m {
		left, right := s.left[k].time, s.right[k].time
		if s.through[k] == 0 {
			fit.masses = append(fit.masses, Mass{Left: left, Right: right, Mass: share})
			share = 0
			for i := range rows {
				fit.emptied = fit.emptied || rows[i].entry.time >= right
			}
			break
		}
		j := p.at[k]
		if j < 0 {
			continue
		}
		if after := share * math.Exp(-p.increment[j]); after < share {
			fit.masses = append(fit.masses, Mass{Left: left, Right: s.right[p.upTo[j]].time, Mass: share - after, After: after})
			share = after
		}
	}
	if share > 0 {
		fit.masses = append(fit.masses, Mass{Left: s.lastLeft, Right: math.Inf(1), Mass: share})
	}
	return fit, nil
}

// intervalProblem is the concave problem in the increments of the cumulative
// hazard.
type intervalProblem struct {
	open      []run     // runs not explained already, in terms of the increments
	cost      []float64 // of each increment
	increment []float64 // at least 0
	at        []int     // increment of each candidate; -1: none
	upTo      []int     // the last candidate among which an increment's place is open
}

// newProblem keeps one increment for the candidates that lie in the same
// runs: the one of the least cost. Where several cost as little, the mass
// lies anywhere from the first of them to the last.
func newProblem(s *support, open []run) *intervalProblem {
	m := len(s.left)
	edge, in := make([]bool, m+1), make([]int, m+1)
	for _, u := range open {
		edge[u.from], edge[u.to] = true, true
		in[u.from]++
		in[u.to]--
	}
	p := &intervalProblem{at: slices.Repeat([]int{-1}, m)}
	index := make([]int, m+1) // increments before each candidate
	n := 0
	for k := 0; k < m; {
		n += in[k]
		end := k + 1
		for end < m && !edge[end] {
			end++
		}
		for j := k; j < end; j++ {
			index[j] = len(p.cost)
		}
		if n > 0 {
			first, last := k, k
			for j := k + 1; j < end; j++ {
				switch d := s.cost[j] - s.cost[first]; {
				case d < -1e-12*s.cost[first]:
					first, last = j, j
				case d <= 1e-12*s.cost[first]:
					last = j
				}
			}
			p.at[first] = len(p.cost)
			p.cost, p.upTo = append(p.cost, s.cost[first]), append(p.upTo, last)
		}
		k = end
	}
	index[m] = len(p.cost)
	p.increment = make([]float64, len(p.cost))
	for _, u := range open {
		p.open = append(p.open, run{index[u.from], index[u.to], u.weight})
	}
	return p
}

// maximise finds the increments.
func (p *intervalProblem) maximise(fit *intervalFit) error {
	if len(p.open) == 0 {
		return nil
	}
	p.start()
	for fit.iterations = 1; fit.iterations <= maxIterations; fit.iterations++ {
		g := p.gradient()
		if fit.kkt = p.violation(g); fit.kkt <= kktTolerance {
			return nil
		}
		if !p.newton(g) {
			if fit.kkt <= 1e-6 {
				return nil // as near as the arithmetic allows
			}
			break
		}
	}
	return fmt.Errorf("%w: the Kuhn-Tucker conditions are missed by %.2g after %d steps", stats.ErrConvergence, fit.kkt, fit.iterations)
}

// start puts mass at the fewest candidates that explain every run, each as
// if the runs it explains were events and the rest had come through.
func (p *intervalProblem) start() {
	last := -1
	for _, u := range p.open { // by right end
		if u.from > last {
			last = u.to - 1
		}
		p.increment[last] += u.weight
	}
	for j, w := range p.increment {
		if w > 0 {
			p.increment[j] = math.Log1p(w / p.cost[j])
		}
	}
}

// sums are the increments added up before each candidate.
func (p *intervalProblem) sums(increment []float64) []float64 {
	sum := make([]float64, len(increment)+1)
	for j, v := range increment {
		sum[j+1] = sum[j] + v
	}
	return sum
}

// value is the log likelihood; -Inf where a run is given no mass.
func (p *intervalProblem) value(increment []float64) float64 {
	sum := p.sums(increment)
	f := 0.0
	for _, u := range p.open {
		f += u.weight * math.Log(-math.Expm1(sum[u.from]-sum[u.to]))
	}
	for j, v := range increment {
		f -= p.cost[j] * v
	}
	return f
}

func (p *intervalProblem) gradient() []float64 {
	sum := p.sums(p.increment)
	steps := make([]float64, len(p.increment)+1)
	for _, u := range p.open {
		v := u.weight / math.Expm1(sum[u.to]-sum[u.from])
		steps[u.from] += v
		steps[u.to] -= v
	}
	g := steps[:len(p.increment)]
	s := 0.0
	for j := range g {
		s += g[j]
		g[j] = s - p.cost[j]
	}
	return g
}

// violation is the largest departure from: gradient 0 where the increment is
// above 0, at most 0 elsewhere; relative to the candidate's cost.
func (p *intervalProblem) violation(g []float64) float64 {
	worst := 0.0
	for j, v := range g {
		v /= p.cost[j]
		if p.increment[j] > 0 {
			v = math.Abs(v)
		}
		worst = math.Max(worst, v)
	}
	return worst
}

// newton makes one step on the support and the candidates of the largest
// gradient between. It reports whether the likelihood rose.
func (p *intervalProblem) newton(g []float64) bool {
	var set []int
	best := -1
	for j, v := range g {
		if p.increment[j] > 0 {
			if best >= 0 {
				set = append(set, best)
			}
			set = append(set, j)
			best = -1
			continue
		}
		if v > 0 && (best < 0 || v > g[best]) {
			best = j
		}
	}
	if best >= 0 {
		set = append(set, best)
	}
	h := p.information(set)
	now, slope := make([]float64, len(set)), make([]float64, len(set))
	for k, j := range set {
		now[k], slope[k] = p.increment[j], g[j]
	}
	to := nonNegative(h, now, slope)
	gain := 0.0
	for k := range set {
		gain += slope[k] * (to[k] - now[k])
	}
	f := p.value(p.increment)
	next := make([]float64, len(p.increment))
	for step := 1.0; step > 1e-12; step /= 2 {
		copy(next, p.increment)
		for k, j := range set {
			next[j] = math.Max(0, now[k]+step*(to[k]-now[k]))
		}
		if v := p.value(next); v > f+1e-4*step*gain || step == 1 && v >= f-1e-13*math.Abs(f) && !slices.Equal(next, p.increment) {
			p.increment = next
			return true
		}
	}
	return false
}

// information is minus the second derivative by the increments of a set.
func (p *intervalProblem) information(set []int) *mat.SymDense {
	n := len(set)
	sum := p.sums(p.increment)
	// A run adds the same number to a square block: its four corners are
	// marked, and the marks added up.
	corner := square(n + 1)
	for _, u := range p.open {
		a, b := sort.SearchInts(set, u.from), sort.SearchInts(set, u.to)
		if a == b {
			continue
		}
		e := math.Expm1(sum[u.to] - sum[u.from])
		c := u.weight * (1 + 1/e) / e
		corner[a][a] += c
		corner[a][b] -= c
		corner[b][a] -= c
		corner[b][b] += c
	}
	h := mat.NewSymDense(n, nil)
	for i := range n {
		row := 0.0
		for j := range n {
			row += corner[i][j]
			v := row
			if i > 0 {
				v += corner[i-1][j]
			}
			corner[i][j] = v
			if j >= i {
				h.SetSym(i, j, v)
			}
		}
	}
	return h
}

// open are settled: their information is not singular.
func (p *intervalProblem) unique() bool {
	var set []int
	for j, v := range p.gradient() {
		if p.increment[j] > 0 || v > -1e-6*p.cost[j] {
			set = append(set, j)
		}
	}
	if len(set) < 2 {
		return true
	}
	h := p.information(set)
	scaled := mat.NewSymDense(len(set), nil)
	for i := range set {
		for j := i; j < len(set); j++ {
			d := math.Sqrt(h.At(i, i) * h.At(j, j))
			if d == 0 {
				return false
			}
			scaled.SetSym(i, j, h.At(i, j)/d)
		}
	}
	var c mat.Cholesky
	return c.Factorize(scaled) && c.Cond() < 1e12
}
