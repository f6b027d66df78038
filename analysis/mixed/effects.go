package mixed

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// effects fills the conditional modes b = Lambda Lambda' R'K^-1(y - X gamma)
// and their covariance sigma^2 Lambda (I + Lambda'R'R Lambda)^-1 Lambda'.
func (m *Model) effects(c *criterion, s *state, size float64) {
	q := c.q
	back := m.p.back()
	half := square(q) // back times Lambda
	for j := range half {
		for i, t := range back[j] {
			floats.AddScaled(half[j], t, s.lambda[i])
		}
	}
	m.Effects = make([]Effect, m.p.count())
	numbers := make([]float64, 3*q*len(m.Effects))
	together(len(c.lots), func(l int) {
		w := s.sloping()
		k, row, b, fixed := square(q), make([]float64, q), make([]float64, q), make([]float64, c.p)
		c.parts(c.lots[l], func(g int, pt part) {
			at := numbers[3*q*g:]
			e := Effect{Group: m.p.labels[g], Rows: m.p.size(g), Mode: at[:q:q], SE: at[q : 2*q : 2*q], SEAll: at[2*q : 3*q : 3*q]}
			w.own(pt)
			w.design(pt)
			clear(b) // Lambda'u
			for i := range q {
				add(b[:i+1], w.u[i], s.lambda[i])
			}
			// I + Lambda'R'R Lambda
			for j := range k {
				clear(k[j])
				k[j][j] = 1
			}
			for a := range pt.k {
				clear(row)
				for j := range q {
					add(row[:j+1], pt.r[a*q+j], s.lambda[j])
				}
				for j, v := range row {
					add(k[j][:j+1], v, row)
				}
			}
			cholesky(k)
			for j := range q {
				e.Mode[j] = size * dot(half[j], b)
				copy(row, half[j])
				lower(k, row)
				e.SE[j] = m.Sigma * math.Sqrt(dot(row, row))
				// What uncertain fixed effects add: Lambda Lambda' V.
				clear(fixed)
				for i := range q {
					add(fixed, dot(s.lambda[i], half[j]), w.v[i*c.p:(i+1)*c.p])
				}
				e.SEAll[j] = math.Hypot(e.SE[j], m.Sigma*math.Sqrt(dot(fixed, fixed)))
			}
			m.Effects[g] = e
		})
	})
}

// FittedFixed returns the value of each row by the fixed effects alone.
func (m *Model) FittedFixed() []float64 {
	d := m.p.data
	out, low := make([]float64, m.Rows), make([]float64, m.Rows)
	for j, b := range m.beta {
		if d.Intercept {
			if j--; j < 0 {
				for i := range out {
					out[i] = b
				}
				continue
			}
		}
		// The rounding of products and sums is carried along, so that columns
		// far from zero do not cost digits.
		for i, v := range d.X[j] {
			p := v * b
			e := math.FMA(v, b, -p)
			s := out[i] + p
			t := s - out[i]
			low[i] += (out[i] - (s - t)) + (p - t) + e
			out[i] = s
		}
	}
	floats.Add(out, low)
	return out
}

// Fitted returns the value of each row by fixed and random effects.
func (m *Model) Fitted() []float64 {
	out := m.FittedFixed()
	if m.layers != nil {
		m.layerFitted(out)
		return out
	}
	for g, e := range m.Effects {
		for at := m.p.start[g]; at < m.p.start[g+1]; at++ {
			i := m.p.row(at)
			for j, z := range m.p.z {
				if z == nil {
					out[i] += e.Mode[j]
				} else {
					out[i] += z[i] * e.Mode[j]
				}
			}
		}
	}
	return out
}

// Residuals returns the response of each row less Fitted.
func (m *Model) Residuals() []float64 {
	out := m.Fitted()
	for i, y := range m.p.data.Y {
		out[i] = y - out[i]
	}
	return out
}

// shares fills ICC and R2. With random slopes the variance between groups
// depends on the row; its mean over the rows is used (Johnson 2014). residual
// is that of least squares.
func (m *Model) shares(s *state, residual []float64) {
	n := float64(m.Rows)
	// What the fixed effects say is what least squares left to be said of the
	// response, and a difference of coefficients times the columns.
	d := m.p.data
	change := make([]float64, 0, len(d.X))
	for j := range m.beta {
		b := m.obj.scale * floats.Dot(m.f.L[j], s.gamma)
		if j > 0 || !d.Intercept {
			change = append(change, b)
		}
	}
	fixed, mean := 0.0, 0.0
	for pass := range 2 {
		sum := 0.0
		for i, y := range d.Y {
			v := y - residual[i]
			for j, b := range change {
				v += b * d.X[j][i]
			}
			if pass == 0 {
				sum += v
			} else {
				fixed += (v - mean) * (v - mean) / (n - 1)
			}
		}
		if pass == 0 {
			mean = sum / n
		}
	}
	// The mean of z'Gz over the rows is the trace of G and the mean of zz';
	// on the scaled columns neither has digits that cancel.
	random := 0.0
	for j, z := range m.p.z {
		for k, v := range m.p.z[:j+1] {
			mean := 0.0
			for i := range d.Y {
				mean += m.p.scaled(j, z, i) * m.p.scaled(k, v, i)
			}
			mean /= n
			if k < j {
				mean *= 2
			}
			random += mean * m.Sigma * m.Sigma * floats.Dot(s.lambda[j], s.lambda[k])
		}
	}
	rest := m.Sigma * m.Sigma
	m.ICC = random / (random + rest)
	m.R2Marginal = fixed / (fixed + random + rest)
	m.R2Conditional = (fixed + random) / (fixed + random + rest)
}

// scaled is the value of random-effect column j, z, in row i on the scale on
// which it is estimated.
func (p *problem) scaled(j int, z []float64, i int) float64 {
	if z == nil {
		return 1
	}
	return (z[i] - p.shift[j]) / p.scale[j]
}
