package maturation

import (
	"errors"
	"math"

	"plybook/analysis/mixed"
	"plybook/analysis/stats"
)

// Limb is what the model believes of one limb.
type Limb struct {
	Group       int     // label
	Rows        int     // measurements
	First, Last float64 // times of the first and last measurement
	LastVolume  float64 // as measured
	// Curve holds plateau, drop (or volume at amputation) and log rate of
	// the limb. Effect and SE are its random effects and their conditional
	// standard errors, in the order of RandomNames.
	Curve      [3]float64
	Effect, SE []float64
}

// Model is a finished fit.
type Model struct {
	Form  Form
	Level float64
	// Coef holds plateau, its covariates, drop or initial, log_rate.
	Coef        []mixed.Coefficient
	Cov         [][]float64 // of the coefficients, given the variances
	RandomNames []string
	Variance    []mixed.Component
	RandomCov   [][]float64
	Sigma       float64 // scatter of readings about their limb's curve
	Singular    bool
	// LogLikelihood is that of the linear model reached, all constants
	// included; AIC counts coefficients and variance parameters.
	LogLikelihood, AIC float64
	Parameters         int
	Rows, Groups       int
	Limbs              []Limb // in ascending order of label
	Fitted             []float64
	Last               float64 // latest time seen
	Rounds             int     // of the two steps taken in turn
	Warnings           []stats.Warning

	p       *problem
	beta    []float64
	tangent *mixed.Model // by restricted likelihood, at the end of the search
}

// state is where the search stands.
type state struct {
	beta []float64
	b    [][]float64 // effects of each limb, as long as problem.vary
}

// Limits of the search: rounds of the two steps, and the relative change
// below which they stand still.
const (
	mostRounds   = 200
	directRounds = 10
	still        = 1e-7
)

// Fit fits the model by maximum likelihood. Unusable data give the errors of
// this package and of package mixed, a search that does not settle
// stats.ErrConvergence.
func Fit(d Data, o Options) (*Model, error) {
	p, err := prepare(d, o)
	if err != nil {
		return nil, err
	}
	s, err := p.start()
	if err != nil {
		return nil, err
	}
	m, err := p.search(s)
	if !errors.Is(err, stats.ErrConvergence) || o.Form == Initial {
		return m, err
	}
	// The volume at amputation enters as a straight line does, so that its
	// search seldom strays; where it ends is a start for the share.
	o.Form = Initial
	other, e := Fit(d, o)
	if e != nil {
		return nil, err
	}
	if again, e := p.search(p.shares(other)); e == nil {
		return again, nil
	}
	return nil, err
}

// shares is where a fit with volumes at amputation stands, told as shares.
func (p *problem) shares(m *Model) *state {
	s := &state{beta: append([]float64(nil), m.beta...)}
	i := p.p - 2
	drop := func(c [3]float64) float64 { return c[1]/c[0] - 1 }
	mean := 0.0
	for _, l := range m.Limbs {
		mean += drop(l.Curve) / float64(len(m.Limbs))
	}
	s.beta[i] = mean
	for _, l := range m.Limbs {
		b := append([]float64(nil), l.Effect...)
		for k, v := range p.vary {
			if v == 1 {
				b[k] = drop(l.Curve) - mean
			}
		}
		s.b = append(s.b, b)
	}
	return s
}

// search takes the two steps in turn from s until both stand still.
func (p *problem) search(s *state) (*Model, error) {
	var m, taken *mixed.Model
	rounds := 0
	for {
		rounds++
		next, err := p.linear(s)
		if err != nil {
			return nil, p.noCurve(s.beta, err)
		}
		done := m != nil && settled(m, next)
		m = next
		if done {
			break
		}
		if rounds == mostRounds {
			if e := p.ranOff(s.beta); e != nil {
				return nil, e
			}
			return nil, stats.ErrConvergence
		}
		taken = between(taken, m, rounds)
		if err := p.least(s, taken); err != nil {
			return nil, err
		}
		if e := p.ranOff(s.beta); e != nil && rounds > 3 {
			return nil, e
		}
	}
	return p.finish(s, m, rounds)
}

// between is the model whose variances the next least-squares step takes. The
// two steps taken in turn can overshoot one another without end; after some
// rounds the variances half way from the last ones are taken, which stand
// still at the same point.
func between(last, m *mixed.Model, rounds int) *mixed.Model {
	if last == nil || rounds <= directRounds {
		return m
	}
	out := *m
	out.Sigma = math.Sqrt((last.Sigma*last.Sigma + m.Sigma*m.Sigma) / 2)
	out.RandomCov = make([][]float64, len(m.RandomCov))
	for j := range out.RandomCov {
		for k := range m.RandomCov {
			out.RandomCov[j] = append(out.RandomCov[j], (last.RandomCov[j][k]+m.RandomCov[j][k])/2)
		}
	}
	return &out
}

// ranOff says whether the rate has left what the times can show: straight
// lines over the time seen, or all over within the shortest gap.
func (p *problem) ranOff(beta []float64) error {
	r := math.Exp(beta[p.p-1])
	switch {
	case r*p.span < 0.02:
		return ErrNoPlateau
	case r*p.gap > 40:
		return ErrNoChange
	}
	return nil
}

// noCurve says in the model's words why its tangent cannot be fitted. The
// covariates were looked at before, so that columns which repeat one another
// are those of a curve that is straight or already over.
func (p *problem) noCurve(beta []float64, err error) error {
	if errors.Is(err, mixed.ErrConstantSlope) || errors.Is(err, stats.ErrSingular) {
		if math.Exp(beta[p.p-1])*p.span < 1 {
			return ErrNoPlateau
		}
		return ErrNoChange
	}
	return err
}

// settled compares the variances of two rounds and the coefficients.
func settled(a, b *mixed.Model) bool {
	if math.Abs(a.Sigma-b.Sigma) > still*b.Sigma || math.Abs(a.LogLikelihood-b.LogLikelihood) > still*(1+math.Abs(b.LogLikelihood)) {
		return false
	}
	for j := range a.RandomCov {
		for k := range a.RandomCov {
			size := math.Sqrt(b.RandomCov[j][j] * b.RandomCov[k][k])
			if math.Abs(a.RandomCov[j][k]-b.RandomCov[j][k]) > 10*still*size+1e-12*b.Sigma*b.Sigma {
				return false
			}
		}
	}
	for j := range a.Coef {
		if math.Abs(a.Coef[j].Estimate-b.Coef[j].Estimate) > still*b.Coef[j].SE {
			return false
		}
	}
	return true
}

// curveOf is the curve of limb g.
func (p *problem) curveOf(s *state, g int) curve {
	c := curve{s.beta[0], s.beta[p.p-2], s.beta[p.p-1]}
	i := p.rows[g][0]
	for j, x := range p.data.X {
		c[0] += s.beta[1+j] * x[i]
	}
	for k, v := range p.vary {
		c[v] += s.b[g][k]
	}
	return c
}

// tangent is the model made linear about the curve of each limb: y - f +
// X beta + Z b is linear in beta and b.
func (p *problem) tangent(s *state) (w []float64, x, z [][]float64) {
	n := len(p.data.Y)
	w = make([]float64, n)
	x, z = make([][]float64, p.p), make([][]float64, len(p.vary))
	for j := range x {
		x[j] = make([]float64, n)
	}
	for j := range z {
		z[j] = make([]float64, n)
	}
	for g, rows := range p.rows {
		c := p.curveOf(s, g)
		for _, i := range rows {
			v, slope := p.opts.Form.value(c, p.data.Time[i])
			x[0][i] = slope[0]
			for j, col := range p.data.X {
				x[1+j][i] = slope[0] * col[i]
			}
			x[p.p-2][i], x[p.p-1][i] = slope[1], slope[2]
			w[i] = p.data.Y[i] - v
			for j := range x {
				w[i] += x[j][i] * s.beta[j]
			}
			for k, q := range p.vary {
				z[k][i] = slope[q]
				w[i] += slope[q] * s.b[g][k]
			}
		}
	}
	return w, x, z
}

// linear fits the linear mixed model of the tangent.
func (p *problem) linear(s *state) (*mixed.Model, error) {
	return p.linearBy(s, mixed.Options{ML: true, Level: p.opts.Level})
}

func (p *problem) linearBy(s *state, o mixed.Options) (*mixed.Model, error) {
	w, x, z := p.tangent(s)
	var names []string
	for _, k := range p.vary {
		names = append(names, p.varyName(k))
	}
	return mixed.Fit(mixed.Data{Y: w, X: x, Names: p.names(), Group: p.data.Group, GroupName: p.data.GroupName, Z: z, ZNames: names}, o)
}
