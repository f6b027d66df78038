package mixed

import (
	"math"

	"gonum.org/v1/gonum/floats"
)

// fittedFixed returns the value of each row by the fixed effects alone.
func (m *Model) fittedFixed() []float64 {
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

// fitted returns the value of each row by fixed and random effects.
func (m *Model) fitted() []float64 {
	out := m.fittedFixed()
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

// residuals returns the response of each row less fitted.
func (m *Model) residuals() []float64 {
	out := m.fitted()
	for i, y := range m.p.data.Y {
		out[i] = y - out[i]
	}
	return out
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
