package maturation

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"

	"plybook/analysis/mixed"
	"plybook/analysis/stats"
)

// Value is an estimate with its standard error and interval. Its interval is
// Student's, with Model.DF.
type Value struct {
	Estimate, SE, Low, High float64
}

func (p *problem) finish(s *state, m *mixed.Model, rounds int) (*Model, error) {
	out := &Model{Form: p.opts.Form, Level: p.opts.Level, Coef: m.Coef, Cov: m.Cov, RandomNames: m.RandomNames, Variance: m.Variance,
		RandomCov: m.RandomCov, Sigma: m.Sigma, Singular: m.Singular, LogLikelihood: m.LogLikelihood, AIC: m.AIC, Parameters: m.Parameters,
		Rows: m.Rows, Groups: m.Groups, Last: p.last, Rounds: rounds, Warnings: m.Warnings, p: p}
	out.DF = math.Max(1, float64(m.Rows-m.Groups-p.p+1))
	final := &state{beta: append([]float64(nil), s.beta...)}
	for j, c := range m.Coef {
		final.beta[j] = c.Estimate
	}
	for g := range p.rows {
		final.b = append(final.b, append([]float64(nil), m.Effects[g].Mode...))
	}
	out.beta = final.beta
	out.Fitted = make([]float64, len(p.data.Y))
	root, err := rootOf(m)
	if err != nil {
		return nil, err
	}
	_, x, z := p.tangent(final)
	for g, rows := range p.rows {
		last := rows[len(rows)-1]
		l := Limb{Group: p.labels[g], Rows: len(rows), First: p.data.Time[rows[0]], Last: p.data.Time[last], LastVolume: p.data.Y[last],
			Curve: p.curveOf(final, g), Effect: m.Effects[g].Mode, SE: m.Effects[g].SE}
		out.Limbs = append(out.Limbs, l)
		for _, i := range rows {
			out.Fitted[i], _ = p.opts.Form.value(l.Curve, p.data.Time[i])
		}
		pt, err := newPart(rows, x, z, root, m.Sigma)
		if err != nil {
			return nil, err
		}
		q := len(p.vary)
		cross, cond := make([]float64, p.p*q), make([]float64, q*q)
		for k := range q {
			for j := range p.p {
				cross[j*q+k] = floats.Dot(pt.vx[j], pt.zg[k])
			}
			vz := pt.solve(append([]float64(nil), pt.zg[k]...))
			for j := range q {
				cond[j*q+k] = m.RandomCov[j][k] - floats.Dot(pt.zg[j], vz)
			}
		}
		out.cross, out.cond = append(out.cross, cross), append(out.cond, cond)
	}
	return out, nil
}

// limbAt finds a limb by its label.
func (m *Model) limbAt(label int) (int, error) {
	for g, l := range m.Limbs {
		if l.Group == label {
			return g, nil
		}
	}
	return 0, fmt.Errorf("limb %d: %w", label, ErrInput)
}

// error2 is the variance of a quantity of limb g whose slopes in plateau, drop
// and log rate are given: that of the coefficients, of the limb's own effects,
// and what they have in common (Henderson's equations).
func (m *Model) error2(g int, slope [3]float64) float64 {
	p, q := m.p.p, len(m.p.vary)
	d := m.direction(m.p.rows[g][0], slope)
	z := make([]float64, q)
	for k, v := range m.p.vary {
		z[k] = slope[v]
	}
	v := 0.0
	for k := range q {
		for j := range q {
			v += z[j] * m.cond[g][j*q+k] * z[k]
		}
		for j := range p {
			d[j] -= m.cross[g][j*q+k] * z[k]
		}
	}
	for j := range p {
		v += d[j] * floats.Dot(m.Cov[j], d)
	}
	return math.Max(0, v)
}

// direction is a slope in the coefficients, with the covariates of row i.
func (m *Model) direction(i int, slope [3]float64) []float64 {
	d := []float64{slope[0]}
	for _, x := range m.p.data.X {
		d = append(d, slope[0]*x[i])
	}
	return append(d, slope[1], slope[2])
}

func (m *Model) interval(est, variance float64) Value {
	se := math.Sqrt(variance)
	t := stats.StudentQuantile(1-(1-m.Level)/2, m.DF)
	return Value{Estimate: est, SE: se, Low: est - t*se, High: est + t*se}
}

// At is the volume of a limb's curve at a time.
func (m *Model) At(limb int, t float64) (Value, error) {
	g, err := m.limbAt(limb)
	if err != nil {
		return Value{}, err
	}
	v, slope := m.Form.value(m.Limbs[g].Curve, t)
	return m.interval(v, m.error2(g, slope)), nil
}

// Next is the reading to be expected of a limb at a time, with its prediction
// interval: the error of its curve and the scatter of one reading.
func (m *Model) Next(limb int, t float64) (Value, error) {
	g, err := m.limbAt(limb)
	if err != nil {
		return Value{}, err
	}
	v, slope := m.Form.value(m.Limbs[g].Curve, t)
	return m.interval(v, m.error2(g, slope)+m.Sigma*m.Sigma), nil
}

// Plateau is the volume at which a limb's curve ends.
func (m *Model) Plateau(limb int) (Value, error) {
	g, err := m.limbAt(limb)
	if err != nil {
		return Value{}, err
	}
	return m.interval(m.Limbs[g].Curve[0], m.error2(g, [3]float64{1, 0, 0})), nil
}

// Change is the change of a limb's curve from one time to another, in percent
// of its volume at the first; negative for a loss. An infinite second time is
// the plateau.
func (m *Model) Change(limb int, from, to float64) (Value, error) {
	g, err := m.limbAt(limb)
	if err != nil {
		return Value{}, err
	}
	a, sa := m.Form.value(m.Limbs[g].Curve, from)
	b, sb := m.Limbs[g].Curve[0], [3]float64{1, 0, 0}
	if !math.IsInf(to, 1) {
		b, sb = m.Form.value(m.Limbs[g].Curve, to)
	}
	var slope [3]float64
	for k := range slope {
		slope[k] = 100 * (sb[k] - b/a*sa[k]) / a
	}
	return m.interval(100*(b/a-1), m.error2(g, slope)), nil
}

// Amount is the change of a limb's curve from a time to its plateau, in the
// unit of the volumes; negative for a loss.
func (m *Model) Amount(limb int, from float64) (Value, error) {
	g, err := m.limbAt(limb)
	if err != nil {
		return Value{}, err
	}
	a, sa := m.Form.value(m.Limbs[g].Curve, from)
	var slope [3]float64
	for k := range slope {
		slope[k] = -sa[k]
	}
	slope[0]++
	return m.interval(m.Limbs[g].Curve[0]-a, m.error2(g, slope)), nil
}

// Settled is the time by which a limb's curve has no more than a share (of one)
// of the volume it then has still to lose: t with (V(t) - A) / V(t) = share. It
// is 0 where there never was so much to lose. The interval is Student's on the
// scale of time, cut at 0; it is unbounded above where the rate is as uncertain
// as it is large, which the caller sees from the error.
func (m *Model) Settled(limb int, share float64) (Value, error) {
	g, err := m.limbAt(limb)
	if err != nil {
		return Value{}, err
	}
	v, slope, ok := m.settled(m.Limbs[g].Curve, share)
	if !ok {
		return Value{}, nil
	}
	out := m.interval(v, m.error2(g, slope))
	out.Low = math.Max(0, out.Low)
	return out, nil
}

// settled is the time itself and its slopes; ok is false where it is 0.
func (m *Model) settled(c curve, share float64) (t float64, slope [3]float64, ok bool) {
	r := math.Exp(c[2])
	k := share / (1 - share)
	drop := c[1]
	if m.Form == Initial {
		drop = (c[1] - c[0]) / c[0]
	}
	if !(drop > k) {
		return 0, slope, false
	}
	t = math.Log(drop/k) / r
	slope[1], slope[2] = 1/(drop*r), -t
	if m.Form == Initial {
		// drop = S/A - 1
		slope[0] = slope[1] * -c[1] / (c[0] * c[0])
		slope[1] /= c[0]
	}
	return t, slope, true
}

// average is the curve of the average limb with the covariates x, and the
// variance of a quantity with the given slopes.
func (m *Model) average(x []float64) (curve, func([3]float64) float64, error) {
	if len(x) != len(m.p.data.X) {
		return curve{}, nil, fmt.Errorf("%d values for %d covariates: %w", len(x), len(m.p.data.X), ErrInput)
	}
	p := m.p.p
	c := curve{m.beta[0], m.beta[p-2], m.beta[p-1]}
	for j, v := range x {
		c[0] += v * m.beta[1+j]
	}
	return c, func(slope [3]float64) float64 {
		d := []float64{slope[0]}
		for _, v := range x {
			d = append(d, slope[0]*v)
		}
		d = append(d, slope[1], slope[2])
		v := 0.0
		for j := range d {
			v += d[j] * floats.Dot(m.Cov[j], d)
		}
		return math.Max(0, v)
	}, nil
}

// Average is the volume of the average limb (all random effects 0) with the
// covariates x at a time.
func (m *Model) Average(x []float64, t float64) (Value, error) {
	c, variance, err := m.average(x)
	if err != nil {
		return Value{}, err
	}
	v, slope := m.Form.value(c, t)
	return m.interval(v, variance(slope)), nil
}

// AveragePlateau, AverageDrop and AverageSettled are the plateau, what is lost
// from amputation on as a share of the volume at amputation, and the time by
// which no more than a share is left, of the average limb.
func (m *Model) AveragePlateau(x []float64) (Value, error) {
	c, variance, err := m.average(x)
	if err != nil {
		return Value{}, err
	}
	return m.interval(c[0], variance([3]float64{1, 0, 0})), nil
}

// AverageDrop: see AveragePlateau.
func (m *Model) AverageDrop(x []float64) (Value, error) {
	c, variance, err := m.average(x)
	if err != nil {
		return Value{}, err
	}
	if m.Form == Initial {
		return m.interval(1-c[0]/c[1], variance([3]float64{-1 / c[1], c[0] / (c[1] * c[1]), 0})), nil
	}
	return m.interval(c[1]/(1+c[1]), variance([3]float64{0, 1 / ((1 + c[1]) * (1 + c[1])), 0})), nil
}

// AverageSettled: see AveragePlateau.
func (m *Model) AverageSettled(x []float64, share float64) (Value, error) {
	c, variance, err := m.average(x)
	if err != nil {
		return Value{}, err
	}
	v, slope, ok := m.settled(c, share)
	if !ok {
		return Value{}, nil
	}
	out := m.interval(v, variance(slope))
	out.Low = math.Max(0, out.Low)
	return out, nil
}
