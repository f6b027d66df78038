package mixed

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/floats"

	"plybook/analysis/internal/lsq"
	"plybook/analysis/stats"
)

// Coefficient is one fixed effect.
type Coefficient struct {
	Name     string
	Term     int // number of the term; -1 for the intercept
	Estimate float64
	SE       float64
	// DF are degrees of freedom by Options.Freedom; 0 where they could not be
	// had and the normal distribution stands in, which a warning says.
	DF        float64
	T, P      float64
	Low, High float64
}

// FTest is a test against Fisher's F with DF1 and DF2 degrees of freedom;
// DF2 is 0 where it could not be had and is taken as without limit. Scale is
// the factor that the method of Kenward and Roger has put into Statistic, 1
// otherwise.
type FTest struct {
	Name      string
	Statistic float64
	DF1, DF2  float64
	Scale     float64
	P         float64
}

// Component is a row of the table of variances. Where With is empty it is
// the variance of Term; else it is the covariance of Term and With, and
// Correlation is theirs if HasCorrelation is set (a component of zero has
// none). The residual has Group "residual" and no Term.
type Component struct {
	Group, Term, With string
	Variance          float64 // or covariance
	SD                float64 // 0 for covariances
	Correlation       float64
	HasCorrelation    bool
}

// Effect is what the model believes of one group.
type Effect struct {
	Group int // label
	Rows  int
	// Mode is the conditional mode (best linear unbiased prediction) of each
	// random effect, as a difference from the fixed effects, in the order of
	// RandomNames. SE is its conditional standard error given the estimated
	// fixed effects and variances; SEAll lets the fixed effects be uncertain
	// as well (Henderson 1975, Biometrics 31:423). Both take the variances as
	// known.
	Mode, SE, SEAll []float64
}

// Convergence tells how the fit was found.
type Convergence struct {
	Steps       int
	Evaluations int
	Gradient    float64 // largest slope of the criterion in a component's relative size
}

// Model is a finished mixed model.
type Model struct {
	Coef  []Coefficient
	Terms []FTest     // one per term of several columns, but for those of ErrFewToAdjust
	Cov   [][]float64 // of the fixed effects, given the variances; adjusted with KenwardRoger
	Level float64
	ML    bool

	RandomNames []string
	Variance    []Component // groups' components, then the residual
	RandomCov   [][]float64 // covariance of the random effects, in the order of RandomNames
	Sigma       float64     // residual standard deviation, unit of the response
	Singular    bool        // a component, or a mix of them, came out as zero
	// Range is the time over which the correlation of residuals falls to
	// 1/e, in the unit of Data.Time, and Phi the correlation at one unit of
	// time; both are 0 where residuals are independent or came out as such.
	Range, Phi float64
	Effects    []Effect // in ascending order of label

	// LogLikelihood is the restricted one unless ML; all constants included.
	// AIC counts fixed effects and variance parameters.
	LogLikelihood, AIC float64
	Parameters         int
	Rows, Groups       int

	// ICC is the share of the variance left by the fixed effects that lies
	// between groups, averaged over the rows where slopes are random.
	// R2Marginal is the share of the whole variance that the fixed effects
	// explain, R2Conditional that of fixed and random effects together.
	ICC, R2Marginal, R2Conditional float64

	Convergence Convergence
	Warnings    []stats.Warning

	// Layers are the groupings: the groups, those above them, the crossed
	// ones. Spread are the residual standard deviations of the kinds of rows,
	// by label; Sigma then is the root of their mean square over the rows.
	// ICCAbove is the share of the variance that lies between the groups above.
	Layers   []Layer
	Spread   []Scatter
	ICCAbove float64

	p      *problem
	f      *lsq.Factor
	beta   []float64
	sat    freedom
	obj    *objective // with one grouping
	layers *layers    // with several
	unit   float64    // residual standard deviation of the rows that the criterion counts as of size 1

	stateAt *state      // the optimum, with one grouping
	layerAt *layerState // with several
	ols     []float64   // least-squares coefficients
	size    float64     // by which the least-squares residual is divided
	later   *adjusted
}

// Fit fits a mixed model by restricted or, on request, full maximum
// likelihood. Unusable data give the errors of this package, a
// *SingularError, or stats.ErrNoRows; stats.ErrConvergence if no optimum was
// found. A component of zero is an answer, flagged by Singular and a warning.
func Fit(d Data, o Options) (*Model, error) {
	m, err := fit(d, o)
	if err != nil {
		return nil, fmt.Errorf("mixed model: %w", err)
	}
	return m, nil
}

func fit(d Data, o Options) (*Model, error) {
	p, err := prepare(d, o)
	if err != nil {
		return nil, err
	}
	n := len(d.Y)
	f, err := factored(d)
	if err != nil {
		return nil, err
	}
	ols, residual, err := f.Solve(d.Y)
	if err != nil {
		return nil, err
	}
	size := floats.Norm(residual, 2) / math.Sqrt(float64(n))
	if size <= 1e-13*floats.Norm(d.Y, math.Inf(1)) {
		return nil, ErrNoScatter
	}
	m := &Model{p: p, f: f, Level: p.opts.Level, ML: o.ML, Rows: n, Groups: p.count(), RandomNames: p.rnames, ols: ols, size: size, later: new(adjusted)}
	if d.layered() {
		y := append([]float64(nil), residual...)
		floats.Scale(1/size, y)
		return m.fitLayers(y, residual, size)
	}
	obj := newObjective(p, f, residual, size, false)
	if err := obj.criterion(0).separable(); err != nil {
		return nil, err
	}
	s, err := m.search(obj)
	if err != nil {
		return nil, err
	}
	c := s.c
	m.stateAt = s
	m.LogLikelihood = -s.value / 2
	m.Parameters = f.P + len(s.point) + 1
	m.AIC = s.value + 2*float64(m.Parameters)
	m.Sigma = size * math.Sqrt(s.rss/c.free)
	m.unit = m.Sigma
	m.beta = m.coefficients(s.gamma)
	if o.Freedom == KenwardRoger {
		if m.sat, err = newKenward(s.moments()); err != nil {
			return nil, err
		}
	} else {
		m.sat = newSatterthwaite(m.obj, s)
	}
	m.Cov = f.Cov(m.sat.middle(m.Sigma * m.Sigma))
	if !m.sat.known() {
		m.warnNormal()
	}
	m.components(s)
	m.effects(c, s, size)
	if len(p.z) > 0 {
		m.Layers = []Layer{{Name: p.data.GroupName, RandomNames: p.rnames, Cov: m.RandomCov, Effects: m.Effects}}
	}
	m.shares(s, residual)
	return m, m.fixed()
}

// manyRows is the number of rows from which on the factored design, which
// takes as much memory as the columns themselves, is not kept.
const manyRows = 1 << 15

func factored(d Data) (*lsq.Factor, error) {
	if len(d.Y) >= manyRows && !d.layered() {
		if f, ok := lsq.Lean(d.X, len(d.Y), d.Intercept); ok {
			return f, nil
		}
	}
	return lsq.New(d.X, d.Names, len(d.Y), d.Intercept, nil)
}

// alike refuses fixed effects in whose span the random ones lie. The factored
// design must be kept.
func (p *problem) alike(f *lsq.Factor) error {
	for j, z := range p.z {
		if p.left(func(row int) float64 { return p.scaled(j, z, row) }, f.Q) < 1e-9 {
			return fmt.Errorf("%s: %w", p.data.GroupName, ErrNoneAlike)
		}
	}
	return nil
}

// search finds the optimum: with correlation in time if asked for, without if
// that came out as none.
func (m *Model) search(obj *objective) (*state, error) {
	p := m.p
	m.obj = obj
	serial := p.opts.Correlation == ContinuousAR1
	if serial {
		m.obj = newObjective(p, m.f, obj.residual, obj.scale, true)
	}
	s, steps, err := m.obj.minimise()
	if err != nil {
		return nil, err
	}
	if serial {
		logRange := s.point[len(s.point)-1]
		none, err := p.settleSerial(logRange)
		switch {
		case err != nil:
			return nil, err
		case none:
			m.warn("no-serial-correlation", noSerial, "")
			m.obj = obj
			if s, steps, err = obj.minimise(); err != nil {
				return nil, err
			}
		default:
			m.Range = math.Exp(logRange)
			m.Phi = math.Exp(-1 / m.Range)
		}
	}
	m.Convergence = Convergence{Steps: steps, Gradient: m.obj.steepness(s), Evaluations: m.obj.evaluations}
	// A slope of this size moves no estimate by more than its own rounding
	// in print; above it the search has not settled.
	if !(m.Convergence.Gradient <= 1e-4) {
		return nil, stats.ErrConvergence
	}
	return s, nil
}

// separable refuses data in which scatter within groups cannot be told from
// differences between them.
func (c *criterion) separable() error {
	if c.rank >= c.n {
		return fmt.Errorf("%d rows, %d groups with %d random effects each: %w", c.n, len(c.ranks), c.q, ErrNotSeparable)
	}
	for j := range c.q { // as alike does, from what is kept of the groups
		total, inside, in := 0.0, 0.0, make([]float64, c.p)
		for _, l := range c.lots {
			c.parts(l, func(_ int, pt part) {
				clear(in)
				for a := range pt.k {
					r := pt.r[a*c.q+j]
					total += r * r
					add(in, r, pt.x[a*c.p:(a+1)*c.p])
				}
				inside += dot(in, in)
			})
		}
		if 1-inside/total < 1e-9 {
			return ErrNoneAlike
		}
	}
	values, vectors, ok := eigen(c.sxx)
	if !ok {
		return stats.ErrConvergence
	}
	within, rss := 0, c.syy
	for k, v := range values {
		if v > 1e-10 {
			b := floats.Dot(vectors[k], c.sxy)
			rss -= b * b / v
			within++
		}
	}
	if c.rank+within >= c.n {
		return fmt.Errorf("%d rows, %d groups with %d random effects each and %d fixed effects within groups: %w",
			c.n, len(c.ranks), c.q, within, ErrNotSeparable)
	}
	// The response has a mean square of 1 here; what rounding leaves is about
	// 1e-30 of it.
	if rss <= 1e-22*float64(c.n) {
		return ErrNoScatter
	}
	return nil
}

// noSerial says that a correlation in time came out as none.
const noSerial = "Rows close in time resemble each other no more than rows far apart; the correlation in time is estimated as zero and left out."

func (m *Model) warnNormal() {
	m.warn("normal-df", "Degrees of freedom could not be worked out; p-values and intervals use the normal distribution and are a little too narrow where groups are few.", "")
}

func (m *Model) warn(code, text, about string) {
	m.Warnings = append(m.Warnings, stats.Warning{Code: code, Text: text, About: about})
}
