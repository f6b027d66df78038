package mixed

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
)

// components fills the variances and says in words where one is zero.
func (m *Model) components(s *state) {
	m.RandomCov = m.covariance(m.p, s.lambda)
	m.listed(m.p, m.RandomCov)
	m.Variance = append(m.Variance, Component{Group: "residual", Variance: m.Sigma * m.Sigma, SD: m.Sigma})
	m.singularIn(m.p, s.lambda)
}

// covariance of the random effects of a grouping on the columns as given.
func (m *Model) covariance(p *problem, lambda [][]float64) [][]float64 {
	back, q := p.back(), len(p.z)
	half, cov := square(q), square(q)
	for j := range half {
		for i, t := range back[j] {
			floats.AddScaled(half[j], t*m.Sigma, lambda[i])
		}
	}
	for j := range half {
		for k := range half {
			cov[j][k] = floats.Dot(half[j], half[k])
		}
	}
	return cov
}

// listed adds the variances and covariances of a grouping to the table.
func (m *Model) listed(p *problem, cov [][]float64) {
	q := len(p.z)
	sd := make([]float64, q)
	for j := range sd {
		sd[j] = math.Sqrt(cov[j][j])
		m.Variance = append(m.Variance, Component{Group: p.data.GroupName, Term: p.rnames[j], Variance: cov[j][j], SD: sd[j]})
	}
	for j := 0; j < q && !p.opts.Uncorrelated; j++ {
		for k := range j {
			c := Component{Group: p.data.GroupName, Term: p.rnames[k], With: p.rnames[j], Variance: cov[j][k]}
			if sd[j] > 0 && sd[k] > 0 {
				c.Correlation, c.HasCorrelation = c.Variance/(sd[j]*sd[k]), true
				c.Correlation = math.Max(-1, math.Min(1, c.Correlation))
			}
			m.Variance = append(m.Variance, c)
		}
	}
}

// singularIn flags components of zero. They are judged on the scaled columns,
// where all components are of the size of their effect on the response.
func (m *Model) singularIn(p *problem, lambda [][]float64) {
	group := p.data.GroupName
	var none []string
	for j := range lambda {
		if floats.Norm(lambda[j], 2) > zero {
			continue
		}
		none = append(none, p.rnames[j])
		m.Singular = true
		text := noneBetween(group)
		if j != p.intercept {
			text = fmt.Sprintf("The data show no more variation between %ss in the slope of %s than measurement scatter would give: that variance is estimated as zero.", group, p.rnames[j])
		}
		m.warn("singular", text, p.rnames[j])
	}
	if len(none) > 0 || len(lambda) < 2 {
		return
	}
	rel := square(len(lambda))
	for j := range rel {
		for k := range rel {
			rel[j][k] = floats.Dot(lambda[j], lambda[k])
		}
	}
	if values, _, ok := eigen(rel); ok && values[0] < zero*zero {
		m.Singular = true
		m.warn("singular", fmt.Sprintf("The data cannot tell the random effects of the %ss apart: one of them is estimated to follow exactly from the others (correlation of 1 or -1). A model with fewer random effects describes them as well.", group), "")
	}
}
