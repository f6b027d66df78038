package maturation

import (
	"fmt"
	"math"

	"plybook/analysis/mixed"
	"plybook/analysis/stats"
)

// Value is an estimate with its standard error and interval, Student's with
// degrees of freedom of its own.
type Value struct {
	Estimate, SE, Low, High float64
}

func (p *problem) finish(s *state, m *mixed.Model, rounds int) (*Model, error) {
	out := &Model{Form: p.opts.Form, Level: p.opts.Level, Coef: m.Coef, Cov: m.Cov, RandomNames: m.RandomNames, Variance: m.Variance,
		RandomCov: m.RandomCov, Sigma: m.Sigma, Singular: m.Singular, LogLikelihood: m.LogLikelihood, AIC: m.AIC, Parameters: m.Parameters,
		Rows: m.Rows, Groups: m.Groups, Last: p.last, Rounds: rounds, Warnings: m.Warnings, p: p}
	final := &state{beta: append([]float64(nil), s.beta...)}
	for j, c := range m.Coef {
		final.beta[j] = c.Estimate
	}
	for g := range p.rows {
		final.b = append(final.b, append([]float64(nil), m.Effects[g].Mode...))
	}
	out.beta = final.beta
	out.Fitted = make([]float64, len(p.data.Y))
	out.doubts(final, m)
	for g, rows := range p.rows {
		last := rows[len(rows)-1]
		l := Limb{Group: p.labels[g], Rows: len(rows), First: p.data.Time[rows[0]], Last: p.data.Time[last], LastVolume: p.data.Y[last],
			Curve: p.curveOf(final, g), Effect: m.Effects[g].Mode, SE: m.Effects[g].SE}
		out.Limbs = append(out.Limbs, l)
		for _, i := range rows {
			out.Fitted[i], _ = p.opts.Form.value(l.Curve, p.data.Time[i])
		}
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

// doubts fits the tangent at the end of the search by restricted likelihood,
// with the method of Kenward and Roger: errors of what the likelihood found
// then allow for the variances being estimates. Where that cannot be had they
// are those of the likelihood, and a warning says so.
func (out *Model) doubts(final *state, m *mixed.Model) {
	p := out.p
	for _, how := range []mixed.Freedom{mixed.KenwardRoger, mixed.Satterthwaite} {
		t, err := p.linearBy(final, mixed.Options{Level: p.opts.Level, Freedom: how})
		if err != nil {
			continue
		}
		coef := append([]mixed.Coefficient(nil), m.Coef...)
		out.tangent, out.Cov = t, t.Cov
		for j := range coef {
			d := make([]float64, p.p)
			d[j] = 1
			v, e := out.fixedly(m.Coef[j].Estimate, d)
			if e != nil {
				err = e
				break
			}
			c := &coef[j]
			c.SE, c.DF, c.Low, c.High = v.SE, t.Coef[j].DF, v.Low, v.High
			c.T = c.Estimate / c.SE
			c.P = stats.StudentP(c.T, orNone(c.DF))
		}
		if err == nil {
			out.Coef = coef
			return
		}
	}
	out.tangent, out.Cov = m, m.Cov
	out.Warnings = append(out.Warnings, stats.Warning{Code: "errors-of-likelihood", Text: "The last linear model could not be fitted by restricted likelihood; errors are those of maximum likelihood, and intervals too narrow where limbs are few."})
}

// orNone makes degrees of freedom that could not be had those of the normal
// distribution.
func orNone(df float64) float64 {
	if df == 0 {
		return math.Inf(1)
	}
	return df
}

// fixedly is an estimate whose slopes in the coefficients are d.
func (m *Model) fixedly(est float64, d []float64) (Value, error) {
	c, err := m.tangent.Contrast(d)
	if err != nil {
		return Value{}, err
	}
	return m.interval(est, c.SE, orNone(c.DF)), nil
}

// ownly is a quantity of limb g whose slopes in plateau, drop and log rate are
// given; reading adds the scatter of one reading.
func (m *Model) ownly(g int, est float64, slope [3]float64, reading bool) (Value, error) {
	f, err := m.tangent.Foreteller(m.Limbs[g].Group)
	if err != nil {
		return Value{}, err
	}
	r := mixed.Reading{X: m.direction(m.p.rows[g][0], slope)}
	for _, v := range m.p.vary {
		r.Z = append(r.Z, slope[v])
	}
	told, err := f.At(r)
	if err != nil {
		return Value{}, err
	}
	if reading {
		return m.interval(est, told.SE, told.DF), nil
	}
	return m.interval(est, told.LineSE, told.LineDF), nil
}

// direction is a slope in the coefficients, with the covariates of row i.
func (m *Model) direction(i int, slope [3]float64) []float64 {
	d := []float64{slope[0]}
	for _, x := range m.p.data.X {
		d = append(d, slope[0]*x[i])
	}
	return append(d, slope[1], slope[2])
}

func (m *Model) interval(est, se, df float64) Value {
	t := stats.StudentQuantile(1-(1-m.Level)/2, df)
	return Value{Estimate: est, SE: se, Low: est - t*se, High: est + t*se}
}

// At is the volume of a limb's curve at a time.
func (m *Model) At(limb int, t float64) (Value, error) {
	g, err := m.limbAt(limb)
	if err != nil {
		return Value{}, err
	}
	v, slope := m.Form.value(m.Limbs[g].Curve, t)
	return m.ownly(g, v, slope, false)
}

// Next is the reading to be expected of a limb at a time, with its prediction
// interval: the error of its curve and the scatter of one reading.
func (m *Model) Next(limb int, t float64) (Value, error) {
	g, err := m.limbAt(limb)
	if err != nil {
		return Value{}, err
	}
	v, slope := m.Form.value(m.Limbs[g].Curve, t)
	return m.ownly(g, v, slope, true)
}

// Plateau is the volume at which a limb's curve ends.
func (m *Model) Plateau(limb int) (Value, error) {
	g, err := m.limbAt(limb)
	if err != nil {
		return Value{}, err
	}
	return m.ownly(g, m.Limbs[g].Curve[0], [3]float64{1, 0, 0}, false)
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
	return m.ownly(g, 100*(b/a-1), slope, false)
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
	return m.ownly(g, m.Limbs[g].Curve[0]-a, slope, false)
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
	out, err := m.ownly(g, v, slope, false)
	out.Low = math.Max(0, out.Low)
	return out, err
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
// interval of an estimate with the given slopes.
func (m *Model) average(x []float64) (curve, func(float64, [3]float64) (Value, error), error) {
	if len(x) != len(m.p.data.X) {
		return curve{}, nil, fmt.Errorf("%d values for %d covariates: %w", len(x), len(m.p.data.X), ErrInput)
	}
	p := m.p.p
	c := curve{m.beta[0], m.beta[p-2], m.beta[p-1]}
	for j, v := range x {
		c[0] += v * m.beta[1+j]
	}
	return c, func(est float64, slope [3]float64) (Value, error) {
		d := []float64{slope[0]}
		for _, v := range x {
			d = append(d, slope[0]*v)
		}
		return m.fixedly(est, append(d, slope[1], slope[2]))
	}, nil
}

// Average is the volume of the average limb (all random effects 0) with the
// covariates x at a time.
func (m *Model) Average(x []float64, t float64) (Value, error) {
	c, told, err := m.average(x)
	if err != nil {
		return Value{}, err
	}
	v, slope := m.Form.value(c, t)
	return told(v, slope)
}

// AveragePlateau, AverageDrop and AverageSettled are the plateau, what is lost
// from amputation on as a share of the volume at amputation, and the time by
// which no more than a share is left, of the average limb.
func (m *Model) AveragePlateau(x []float64) (Value, error) {
	c, told, err := m.average(x)
	if err != nil {
		return Value{}, err
	}
	return told(c[0], [3]float64{1, 0, 0})
}

// AverageDrop: see AveragePlateau.
func (m *Model) AverageDrop(x []float64) (Value, error) {
	c, told, err := m.average(x)
	if err != nil {
		return Value{}, err
	}
	if m.Form == Initial {
		return told(1-c[0]/c[1], [3]float64{-1 / c[1], c[0] / (c[1] * c[1]), 0})
	}
	return told(c[1]/(1+c[1]), [3]float64{0, 1 / ((1 + c[1]) * (1 + c[1])), 0})
}

// AverageSettled: see AveragePlateau.
func (m *Model) AverageSettled(x []float64, share float64) (Value, error) {
	c, told, err := m.average(x)
	if err != nil {
		return Value{}, err
	}
	v, slope, ok := m.settled(c, share)
	if !ok {
		return Value{}, nil
	}
	out, err := told(v, slope)
	out.Low = math.Max(0, out.Low)
	return out, err
}
