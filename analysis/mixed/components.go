package mixed

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
)

// components fills the variances and says in words where one is zero.
func (m *Model) components(s *state) {
	p := m.p
	q := len(p.z)
	back, s2 := p.back(), m.Sigma*m.Sigma
	half := square(q)
	for j := range half {
		for i, t := range back[j] {
			floats.AddScaled(half[j], t*m.Sigma, s.lambda[i])
		}
	}
	m.RandomCov = square(q)
	for j := range half {
		for k := range half {
			m.RandomCov[j][k] = floats.Dot(half[j], half[k])
		}
	}
	sd := make([]float64, q)
	for j := range sd {
		sd[j] = math.Sqrt(m.RandomCov[j][j])
		m.Variance = append(m.Variance, Component{Group: p.data.GroupName, Term: p.rnames[j], Variance: m.RandomCov[j][j], SD: sd[j]})
	}
	for j := 0; j < q && !p.opts.Uncorrelated; j++ {
		for k := range j {
			c := Component{Group: p.data.GroupName, Term: p.rnames[k], With: p.rnames[j], Variance: m.RandomCov[j][k]}
			if sd[j] > 0 && sd[k] > 0 {
				c.Correlation, c.HasCorrelation = c.Variance/(sd[j]*sd[k]), true
				c.Correlation = math.Max(-1, math.Min(1, c.Correlation))
			}
			m.Variance = append(m.Variance, c)
		}
	}
	m.Variance = append(m.Variance, Component{Group: "residual", Variance: s2, SD: m.Sigma})
	m.singular(s)
}

// singular flags components of zero. They are judged on the scaled columns,
// where all components are of the size of their effect on the response.
func (m *Model) singular(s *state) {
	p := m.p
	group := p.data.GroupName
	var none []string
	for j := range s.lambda {
		if floats.Norm(s.lambda[j], 2) > zero {
			continue
		}
		none = append(none, p.rnames[j])
		m.Singular = true
		text := fmt.Sprintf("The data show no more variation between %ss than measurement scatter would give: the variance between them is estimated as zero.", group)
		if j != p.intercept {
			text = fmt.Sprintf("The data show no more variation between %ss in the slope of %s than measurement scatter would give: that variance is estimated as zero.", group, p.rnames[j])
		}
		m.warn("singular", text, p.rnames[j])
	}
	if len(none) > 0 || len(s.lambda) < 2 {
		return
	}
	rel := square(len(s.lambda))
	for j := range rel {
		for k := range rel {
			rel[j][k] = floats.Dot(s.lambda[j], s.lambda[k])
		}
	}
	if values, _, ok := eigen(rel); ok && values[0] < zero*zero {
		m.Singular = true
		m.warn("singular", fmt.Sprintf("The data cannot tell the random effects of the %ss apart: one of them is estimated to follow exactly from the others (correlation of 1 or -1). A model with fewer random effects describes them as well.", group), "")
	}
}
