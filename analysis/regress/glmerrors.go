package regress

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"
)

// inference fills Cov and Coef, and makes ready the sums of coefficients.
//
// CR2 is that of a linear model in the rows scaled by the root of their
// working weights, with Pearson residuals: the adjustment (I - H)^(-1/2) of a
// cluster takes as true that its rows are independent with the model's
// variance.
func (m *GLM) inference(at *glmPoint) error {
	g := m.model
	identity := square(g.p)
	for j := range identity {
		identity[j][j] = 1
	}
	s := &sums{coef: g.unscaled(at.beta), l: g.unscaledRoot(at.root), middle: identity, used: m.Used, level: m.Level, clusters: g.clusters, tiny: 1e-24}
	m.sums = s
	m.Cov.Model = s.covariance(identity)
	if m.gee != nil {
		m.Cov.Model = scaled(m.Cov.Model, m.Scale)
	}
	if g.cluster != nil && m.Used >= CR0 {
		if m.Used == CR2 && g.clusters > manyClusters {
			m.Used, s.used = CR1, CR1
		}
		var cr0, cr2 [][]float64
		if m.Used == CR2 {
			s.blocks = m.blocks(at)
			cr0, cr2 = clustered(s.blocks, g.p)
			m.Cov.CR2 = s.covariance(cr2)
		} else if m.gee != nil {
			cr0, _ = clustered(m.blocks(at), g.p)
		} else {
			cr0 = g.scores(at)
		}
		c := float64(g.clusters)
		cr1 := scaled(cr0, c/(c-1))
		m.Cov.CR0, m.Cov.CR1 = s.covariance(cr0), s.covariance(cr1)
		s.middle = map[Robust][][]float64{CR0: cr0, CR1: cr1, CR2: cr2}[m.Used]
		if g.clusters < 40 {
			m.warn("few-clusters", fmt.Sprintf("Only %d clusters: their differences, on which the errors rest, are known roughly.", g.clusters), "")
		}
	}
	return m.coefficients()
}

// row writes the row of the scaled columns of pattern k, the constant first,
// times the root of the information.
func (g *glmModel) row(k int, root [][]float64, out []float64) {
	copy(out, root[0])
	for j, c := range g.z {
		floats.AddScaled(out, c[k], root[j+1])
	}
}

// scaledRow writes row i of Q, times the root of the row's weight, and returns
// its Pearson residual times the same.
func (g *glmModel) scaledRow(at *glmPoint, eta []float64, i int, q []float64) float64 {
	k := int(g.of[i])
	g.row(k, at.root, q)
	mu, w, slope := g.mean(eta[k])
	if !(w > 0) {
		floats.Scale(0, q)
		return 0
	}
	r := math.Sqrt(w * g.weight(i))
	floats.Scale(r, q)
	return (g.data.Y[i] - mu) * r / slope
}

func (g *glmModel) etas(beta []float64) []float64 {
	eta := make([]float64, g.size)
	both(g.size, func(_, lo, hi int) { g.linear(beta, lo, hi, eta[lo:hi]) })
	return eta
}

func (m *GLM) blocks(at *glmPoint) []block {
	if m.gee != nil {
		return m.gee.blocks(at)
	}
	return m.model.blocks(at)
}

// blocks are what the clusters bring to CR2.
func (g *glmModel) blocks(at *glmPoint) []block {
	eta := g.etas(at.beta)
	return blocksOf(g.cluster, g.clusters, g.p, func(i int, q []float64) float64 { return g.scaledRow(at, eta, i, q) })
}

// scores is the middle matrix of CR0, without the pieces that CR2 needs.
func (g *glmModel) scores(at *glmPoint) [][]float64 {
	eta := g.etas(at.beta)
	sum := make([]float64, g.clusters*g.p)
	q := make([]float64, g.p)
	for i, c := range g.cluster {
		e := g.scaledRow(at, eta, i, q)
		floats.AddScaled(sum[c*g.p:(c+1)*g.p], e, q)
	}
	out := square(g.p)
	for c := range g.clusters {
		addOuter(out, 1, sum[c*g.p:(c+1)*g.p])
	}
	return out
}

// coefficients fills Coef.
func (m *GLM) coefficients() error {
	g := m.model
	m.Coef = make([]Coefficient, g.p)
	for j := range m.Coef {
		c := make([]float64, g.p)
		c[j] = 1
		e, err := m.sums.contrast(c)
		if err != nil {
			return err
		}
		row := Coefficient{Name: "intercept", Term: -1, Estimate: e.Estimate, Tested: e.Tested, ModelSE: math.Sqrt(m.Cov.Model[j][j]),
			SE: e.SE, DF: e.DF, T: e.T, P: e.P, Low: e.Low, High: e.High}
		if j > 0 {
			row.Name, row.Term = g.data.Names[j-1], j-1
			if g.data.Terms != nil {
				row.Term = g.data.Terms[j-1]
			}
		}
		m.Coef[j] = row
		switch {
		case !e.Tested:
			m.warn("one-cluster-decides", fmt.Sprintf("The coefficient of %s rests on one cluster alone; clusters cannot show its error.", row.Name), row.Name)
		case m.Used == CR2 && e.DF < 4:
			m.warn("low-df", fmt.Sprintf("So few clusters bear on %s (%.1f degrees of freedom) that its p-value and interval are rough.", row.Name, e.DF), row.Name)
		}
	}
	return nil
}

// Contrast returns the sum of c times the coefficients, c in the order of
// Coef, with the covariance used.
func (m *GLM) Contrast(c []float64) (Contrast, error) { return m.sums.contrast(c) }

// Wald tests that all the weighted sums of coefficients in the rows of c are
// 0; see Linear.Wald. Without clusters the statistic is a chi-square with DF1
// degrees of freedom and DF2 is 0.
func (m *GLM) Wald(c [][]float64) (FTest, error) { return m.sums.wald(c) }

// covariance is L M L' for a middle matrix M.
func (s *sums) covariance(middle [][]float64) [][]float64 {
	out := square(len(s.l))
	v := make([]float64, len(s.l))
	for j := range out {
		times(middle, s.l[j], v)
		for k := range out {
			out[j][k] = floats.Dot(v, s.l[k])
		}
	}
	for j := range out { // symmetric to the last bit
		for k := range j {
			out[j][k] = out[k][j]
		}
	}
	return out
}
