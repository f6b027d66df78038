package quadrature

import (
	"errors"
	"fmt"
	"math"
	"sort"

	"plybook/analysis/regress"
	"plybook/analysis/stats"
)

// Coefficient is one of the fixed part: a constant, a threshold or a column's.
type Coefficient struct {
	Estimate, SE float64
	Z, P         float64
	Low, High    float64 // Wald
	Column       int     // of X; -1 for the constant or a threshold
	Cut          int     // of a threshold: between level Cut and Cut+1; else -1
}

// Effect is the level of one group, on the scale of the linear predictor.
type Effect struct {
	Group int // as given
	Rows  int
	Mode  float64 // of its distribution given the group's rows and the estimates
	SE    float64 // from the curvature there; the estimates are taken as known
}

// Limit is one end of an interval; Has is false where none was found.
type Limit struct {
	Value float64
	Has   bool
}

// Model is a finished model.
type Model struct {
	Family Family
	// Coef are the constant (Ordinal: the thresholds) and the coefficients in
	// the order of X. They are those of one group: of a typical one.
	Coef  []Coefficient
	Level float64

	// SD is the standard deviation of the groups' levels, with limits by
	// profile likelihood. It is 0 where the likelihood is highest there: then
	// the fit is that of a model without groups, and AtZero is true.
	SD        float64
	Low, High Limit
	AtZero    bool

	Rows, Groups, Classes int // Classes: groups that differ in their rows
	Events                float64
	LogLik, LogLikPlain   float64 // with and without the groups' levels; all constants
	AIC                   float64
	// Between compares the two: the likelihood ratio, whose p value is halved
	// since a variance of 0 lies at the limit of what a variance can be (Self &
	// Liang 1987, J Am Stat Assoc 82:605).
	Between    stats.Test
	Effects    []Effect // by group, ascending
	Nodes      int
	Moved      float64 // by how much the log likelihood moved when the nodes were last doubled; 0 where they were given
	Iterations int

	problem *problem
	at      *point
	theta   []float64   // of columns as given: constants, coefficients, SD
	cov     [][]float64 // of theta; the SD's row is 0 where AtZero
	plain   []float64   // the parameters of scaled columns without levels
}

// firstNodes and mostNodes bound the search for a number of nodes.
const (
	firstNodes = 11
	mostNodes  = 191
)

// Fit fits the model by maximum likelihood. Errors are *regress.SingularError
// and *regress.SeparationError of the columns, those of this package, and
// stats.ErrNoRows or stats.ErrConvergence.
func Fit(family Family, d Data, o Options) (*Model, error) {
	m, err := fit(family, d, o)
	if err != nil {
		return nil, fmt.Errorf("%v model with groups: %w", family, err)
	}
	return m, nil
}

func fit(family Family, d Data, o Options) (*Model, error) {
	if o.Level == 0 {
		o.Level = 0.95
	}
	if o.MaxIterations == 0 {
		o.MaxIterations = 100
	}
	if !(o.Level > 0 && o.Level < 1) || o.Nodes < 0 || o.Nodes > 200 {
		return nil, fmt.Errorf("level %g, %d nodes: %w", o.Level, o.Nodes, ErrInput)
	}
	if err := d.check(family); err != nil {
		return nil, err
	}
	start, err := plain(family, d)
	if err != nil {
		return nil, err
	}
	g := prepare(family, d)
	m := &Model{Family: family, Level: o.Level, Rows: len(d.Y), Groups: len(g.labels), Classes: len(g.classes), Nodes: o.Nodes, problem: g}
	for _, y := range d.Y {
		m.Events += y
	}
	// Without levels every node sees the same: one will do.
	begin := g.scaled(start)
	none, err := g.climb(begin, g.dim-1, hermite(1), settled, o.MaxIterations, &m.Iterations)
	if err != nil {
		return nil, err
	}
	m.LogLikPlain, m.plain = none.ll, none.theta
	if o.Nodes == 0 {
		m.Nodes = firstNodes
	}
	at, err := g.rise(none.theta, hermite(m.Nodes), o.MaxIterations, &m.Iterations)
	if err != nil {
		return nil, err
	}
	for o.Nodes == 0 && m.Nodes < mostNodes {
		more, err := g.climb(at.theta, g.dim, hermite(2*m.Nodes+1), settled, o.MaxIterations, &m.Iterations)
		if err != nil {
			return nil, err
		}
		m.Moved, m.Nodes, at = math.Abs(more.ll-at.ll), 2*m.Nodes+1, more
		if m.Moved < 1e-6+1e-11*math.Abs(at.ll) {
			break
		}
	}
	if !(at.ll > none.ll+1e-8*(1+1e-3*math.Abs(none.ll))) || at.theta[g.dim-1] < 1e-6 {
		m.AtZero = true
		at = g.likelihood(none.theta, hermite(1))
	}
	m.at, m.LogLik = at, at.ll
	return m, m.finish(o)
}

// rise climbs from a model without levels, with levels of one size and, where
// that leads back to none, of another.
func (g *problem) rise(from []float64, r rule, most int, count *int) (*point, error) {
	var best *point
	var fault error
	for k, sd := range []float64{1, 0.3} {
		to := append([]float64(nil), from...)
		to[g.dim-1] = sd
		if g.family != Poisson { // levels draw the averages together
			for j := range g.dim - 1 {
				to[j] *= math.Sqrt(1 + 0.35*sd*sd)
			}
		}
		at, err := g.climb(to, g.dim, r, settled, most, count)
		if err != nil {
			fault = err
			continue
		}
		if best == nil || at.ll > best.ll {
			best = at
		}
		if k == 0 && at.theta[g.dim-1] > 1e-3 {
			break
		}
	}
	if best == nil {
		return nil, fault
	}
	return best, nil
}

// plain fits the model without levels: it finds fault with the columns, and
// gives the coefficients to start from, constants first.
func plain(family Family, d Data) ([]float64, error) {
	var out []float64
	if family == Ordinal {
		y := make([]int, len(d.Y))
		for i, v := range d.Y {
			y[i] = int(v)
		}
		m, err := regress.FitOrdinal(regress.OrdinalData{Y: y, Levels: d.Levels, X: d.X, Names: d.Names}, regress.OrdinalOptions{})
		if err != nil {
			return nil, err
		}
		for _, c := range m.Coef {
			v := c.Estimate
			if c.Column < 0 {
				v = -v
			}
			out = append(out, v)
		}
		return out, nil
	}
	f := regress.Logistic
	if family == Poisson {
		f = regress.Poisson
	}
	if len(d.X) == 0 {
		return constant(family, d)
	}
	m, err := regress.FitGLM(f, regress.GLMData{Y: d.Y, X: d.X, Names: d.Names, Offset: d.Offset}, regress.GLMOptions{})
	if err != nil {
		return nil, err
	}
	for _, c := range m.Coef {
		out = append(out, c.Estimate)
	}
	return out, nil
}

// constant begins where there are no columns.
func constant(family Family, d Data) ([]float64, error) {
	y, n := 0.0, 0.0
	for i, v := range d.Y {
		y += v
		if family == Poisson && d.Offset != nil {
			n += math.Exp(d.Offset[i])
		} else {
			n++
		}
	}
	if y == 0 || family == Logistic && y == n {
		return nil, fmt.Errorf("the outcome never varies: %w", stats.ErrNoEvents)
	}
	if family == Poisson {
		return []float64{math.Log(y / n)}, nil
	}
	return []float64{math.Log(y / (n - y))}, nil
}

// scaled turns coefficients of the columns as given into parameters of the
// scaled ones, without levels.
func (g *problem) scaled(c []float64) []float64 {
	out := make([]float64, g.dim)
	for j := range g.p {
		b := c[g.cuts+j]
		out[g.cuts+j] = b * g.scale[j]
		for k := range g.cuts {
			out[k] += b * g.centre[j]
		}
	}
	for k := range g.cuts {
		out[k] += c[k]
	}
	return out
}

// unscale does the opposite to a vector of parameters.
func (g *problem) unscale(theta []float64) []float64 {
	out := append([]float64(nil), theta...)
	for j := range g.p {
		out[g.cuts+j] /= g.scale[j]
		for k := range g.cuts {
			out[k] -= out[g.cuts+j] * g.centre[j]
		}
	}
	return out
}

// finish works out what is told of the estimates.
func (m *Model) finish(o Options) error {
	g := m.problem
	free := g.dim
	if m.AtZero {
		free--
	}
	inv, err := m.at.inverse(free)
	if err != nil {
		return fmt.Errorf("the information cannot be inverted: %w", errors.Join(err, stats.ErrConvergence))
	}
	full := make([][]float64, g.dim) // unscaled on both sides
	for j := range full {
		row := make([]float64, g.dim)
		if j < free {
			copy(row, inv[j])
		}
		full[j] = g.unscale(row)
	}
	m.cov = make([][]float64, g.dim)
	for j := range m.cov {
		m.cov[j] = make([]float64, g.dim)
	}
	column := make([]float64, g.dim)
	for k := range g.dim {
		for j := range column {
			column[j] = full[j][k]
		}
		for j, v := range g.unscale(column) {
			m.cov[j][k] = v
		}
	}
	m.theta = g.unscale(m.at.theta)
	m.SD = m.at.theta[g.dim-1]
	if m.AtZero {
		m.SD = 0
	}
	half := stats.NormalQuantile(0.5 + m.Level/2)
	for j := range g.dim - 1 {
		c := Coefficient{Estimate: m.theta[j], SE: math.Sqrt(m.cov[j][j]), Column: j - g.cuts, Cut: -1}
		if j < g.cuts {
			c.Column = -1
			if m.Family == Ordinal {
				c.Cut, c.Estimate = j, -c.Estimate
			}
		}
		c.Z = c.Estimate / c.SE
		c.P = stats.NormalP(c.Z)
		c.Low, c.High = c.Estimate-half*c.SE, c.Estimate+half*c.SE
		m.Coef = append(m.Coef, c)
	}
	m.AIC = -2*m.LogLik + 2*float64(g.dim)
	stat := math.Max(0, 2*(m.LogLik-m.LogLikPlain))
	m.Between = stats.Test{Name: "likelihood-ratio test", Statistic: stat, DF: 1, P: stats.ChiSquareP(stat, 1) / 2}
	if m.AtZero {
		m.Between.Statistic, m.Between.P = 0, 1
	}
	m.effects()
	m.limits(o)
	return nil
}

// effects are the levels of the groups at the estimates.
func (m *Model) effects() {
	g := m.problem
	for i, label := range g.labels {
		c := g.of[i]
		e := Effect{Group: label, Rows: g.classes[c].rows}
		if !m.AtZero {
			e.Mode, e.SE = m.SD*g.mode[c], m.SD*g.spread[c]
		}
		m.Effects = append(m.Effects, e)
	}
	sort.Slice(m.Effects, func(a, b int) bool { return m.Effects[a].Group < m.Effects[b].Group })
}
