package mixed

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"plybook/analysis/stats"
)

// Layer is one grouping of a fitted model with what is believed of its groups.
type Layer struct {
	Name        string
	RandomNames []string
	Cov         [][]float64 // of the random effects, in the order of RandomNames
	Effects     []Effect    // in ascending order of label
}

// fitLayers finishes a model with several groupings or several sizes of
// residuals. y is the least-squares residual over its spread size.
func (m *Model) fitLayers(y, residual []float64, size float64) (*Model, error) {
	p := m.p
	l, err := newLayers(p, m.f, y, size)
	if err != nil {
		return nil, err
	}
	s, steps, err := l.minimise()
	if err != nil {
		return nil, err
	}
	if l.serial {
		at := len(s.point) - 1 - max(0, len(l.kinds)-1)
		none, err := p.settleSerial(s.point[at])
		switch {
		case err != nil:
			return nil, err
		case none:
			m.warn("no-serial-correlation", noSerial, "")
			l.serial, l.kept = false, map[string]*reduced{}
			if s, steps, err = l.minimise(); err != nil {
				return nil, err
			}
		default:
			m.Range = math.Exp(s.point[at])
			m.Phi = math.Exp(-1 / m.Range)
		}
	}
	if s.rss <= 1e-22*float64(m.f.N) {
		return nil, ErrNoScatter
	}
	if _, logs := l.residual(s.point); logs != nil {
		for k, v := range logs {
			if v < slices.Max(logs)-scatterless {
				return nil, fmt.Errorf("kind %d: %w", l.kinds[k], ErrKindWithoutScatter)
			}
		}
	}
	m.layers, m.layerAt = l, s
	m.Convergence = Convergence{Steps: steps, Gradient: l.steepness(s.point), Evaluations: l.evaluations}
	if !(m.Convergence.Gradient <= 1e-4*(1+1e-3*math.Abs(s.value))) {
		return nil, stats.ErrConvergence
	}
	m.LogLikelihood = -s.value / 2
	m.Parameters = m.f.P + len(s.point) + 1
	m.AIC = s.value + 2*float64(m.Parameters)
	m.Sigma = size * math.Sqrt(s.rss/l.free())
	m.unit = m.Sigma
	m.beta = m.coefficients(s.gamma)
	if p.opts.Freedom == KenwardRoger {
		if m.sat, err = newLayerKenward(s); err != nil {
			return nil, err
		}
	} else {
		m.sat = newLayerFreedom(s)
	}
	m.Cov = m.f.Cov(m.sat.middle(m.Sigma * m.Sigma))
	if !m.sat.known() {
		m.warnNormal()
	}
	m.layerComponents(s)
	m.layerEffects(s, size)
	m.layerShares(s, residual, size)
	return m, m.fixed()
}

// layerComponents fills the variances and says where one is none.
func (m *Model) layerComponents(s *layerState) {
	l := s.m
	inner, above, crossed := l.lambdas(s.point)
	m.Variance = nil
	add := func(p *problem, lambda [][]float64) [][]float64 {
		if len(p.z) == 0 {
			return nil
		}
		cov := m.covariance(p, lambda)
		m.listed(p, cov)
		m.singularIn(p, lambda)
		return cov
	}
	m.RandomCov = add(l.p, inner)
	if len(l.p.z) > 0 {
		m.Layers = append(m.Layers, Layer{Name: l.p.data.GroupName, RandomNames: l.p.rnames, Cov: m.RandomCov})
	}
	if l.above != nil {
		m.Layers = append(m.Layers, Layer{Name: l.above.data.GroupName, RandomNames: l.above.rnames, Cov: add(l.above, above)})
	}
	for k, c := range l.p.data.Crossed {
		v := crossed[k] * m.Sigma
		m.Variance = append(m.Variance, Component{Group: c.Name, Term: "intercept", Variance: v * v, SD: math.Abs(v)})
		m.Layers = append(m.Layers, Layer{Name: c.Name, RandomNames: []string{"intercept"}, Cov: [][]float64{{v * v}}})
		if math.Abs(crossed[k]) <= zero {
			m.Singular = true
			m.warn("singular", noneBetween(c.Name), c.Name)
		}
	}
	_, logs := l.residual(s.point)
	if logs == nil {
		m.Variance = append(m.Variance, Component{Group: "residual", Variance: m.Sigma * m.Sigma, SD: m.Sigma})
		return
	}
	for k, v := range logs {
		sd := m.Sigma * math.Exp(v)
		m.Spread = append(m.Spread, Scatter{Kind: l.kinds[k], SD: sd})
		m.Variance = append(m.Variance, Component{Group: "residual", Variance: sd * sd, SD: sd})
	}
	// One number for all: the root of the mean variance over the rows.
	mean := 0.0
	for _, k := range l.spread {
		m.Spread[k].Rows++
		mean += m.Spread[k].SD * m.Spread[k].SD / float64(len(l.spread))
	}
	m.Sigma = math.Sqrt(mean)
}

// Scatter is the residual standard deviation of one kind of rows.
type Scatter struct {
	Kind int // label in Data.Spread
	SD   float64
	Rows int
}

// layerShares fills the shares of the variance. residual is that of least
// squares.
func (m *Model) layerShares(s *layerState, residual []float64, size float64) {
	l := s.m
	n := m.Rows
	said := make([]float64, n) // by the fixed effects
	for i, y := range m.p.data.Y {
		said[i] = y - residual[i]
		for k, q := range m.f.Q {
			said[i] += size * s.gamma[k] * q[i]
		}
	}
	between, rest := 0.0, 0.0 // mean variances over the rows: of the nested groupings, of the crossed ones
	at := 0
	nested := func(p *problem) float64 {
		sum, cov := 0.0, m.Layers[at].Cov
		at++
		z := make([]float64, len(p.z))
		for i := range n {
			for j, c := range p.z {
				z[j] = 1
				if c != nil {
					z[j] = c[i]
				}
			}
			for j := range z {
				sum += z[j] * floats.Dot(cov[j], z) / float64(n)
			}
		}
		return math.Max(sum, 0)
	}
	if len(l.p.z) > 0 {
		between += nested(l.p)
	}
	if l.above != nil {
		v := nested(l.above)
		between += v
		m.ICCAbove = v
	}
	for range l.cross {
		rest += m.Layers[at].Cov[0][0]
		at++
	}
	mean, fixed := floats.Sum(said)/float64(n), 0.0
	for _, v := range said {
		fixed += (v - mean) * (v - mean) / float64(n-1)
	}
	random, scatter := between+rest, m.Sigma*m.Sigma
	m.ICC = between / (random + scatter)
	m.ICCAbove /= random + scatter
	m.R2Marginal = fixed / (fixed + random + scatter)
	m.R2Conditional = (fixed + random) / (fixed + random + scatter)
}

// layerFitted adds what is believed of every grouping to the values of rows.
func (m *Model) layerFitted(out []float64) {
	l, at := m.layers, 0
	nested := func(p *problem) {
		for g := range p.count() {
			for _, i := range p.rowsOf(g) {
				for j, c := range p.z {
					v := m.Layers[at].Effects[g].Mode[j]
					if c != nil {
						v *= c[i]
					}
					out[i] += v
				}
			}
		}
		at++
	}
	if len(l.p.z) > 0 {
		nested(l.p)
	}
	if l.above != nil {
		nested(l.above)
	}
	for _, levels := range l.cross {
		for i, v := range levels {
			out[i] += m.Layers[at].Effects[v].Mode[0]
		}
		at++
	}
}

// noneBetween says that a grouping has a variance of zero.
func noneBetween(group string) string {
	return fmt.Sprintf("The data show no more variation between %ss than measurement scatter would give: the variance between them is estimated as zero.", group)
}
