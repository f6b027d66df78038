package mixed

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/floats"

	"plybook/analysis/internal/lsq"
)

// Unknown is the level of a crossed grouping, or the kind of residual, of a
// reading of which it is not known.
const Unknown = math.MinInt

// Reading is a reading to come of one group.
type Reading struct {
	X     []float64 // the fixed effects' columns, with the constant where the model has one, in the order of Coef
	Z     []float64 // of the group's random slopes (Data.Z)
	Above []float64 // of the slopes of the group above (Data.Above.Z)
	Time  float64   // which only ContinuousAR1 reads
	// Crossed are the labels of its levels of the crossed groupings, Unknown
	// where one not yet seen is as likely as any; nil: all unknown.
	Crossed []int
	// Kind is the label of its kind of residual, which only a model with
	// Data.Spread reads. Unknown: it scatters by the root of the mean square
	// over the rows (Model.Sigma).
	Kind int
}

// Foretold is a reading to come of one group.
type Foretold struct {
	// Estimate is the best linear unbiased prediction of the reading: the fixed
	// effects, the group's conditional modes, those of the crossed levels that
	// are known and, where residuals are correlated in time, what is left of the
	// group's last ones.
	Estimate float64
	// Line is what the group's own line says, without crossed levels and
	// residual, and LineSE its error; SE is the error of a new reading. Both let
	// the fixed effects, the group's own and the variances be uncertain.
	Line, LineSE, SE float64
	// DF and LineDF are the degrees of freedom of the two errors. The limits
	// are Student's on them.
	DF, LineDF        float64
	Low, High         float64 // of a new reading
	LineLow, LineHigh float64 // of the line
	// Known says that the variances had to be taken as known: the data tell too
	// little of how far they are off. DF then are those of the scatter within
	// groups: rows less groups and less fixed effects, the intercept apart.
	Known bool
}

// Foreteller foretells readings of one group.
type Foreteller struct {
	m     *Model
	label int
	at    outlook
	few   allowance // nil: variances are taken as known
}

// outlook says what a model has to say of a reading at one set of its variance
// parameters.
type outlook interface {
	// predict is the prediction of a reading, or of the group's line without
	// crossed levels and residual, and its variance of error with the variances
	// taken as known, over the residual variance.
	predict(r Reading, reading bool) (at, variance float64)
	// scatter is the residual variance.
	scatter() float64
}

// allowance is what variances that are estimates add to a variance of error
// over the residual variance, and the degrees of freedom of the whole.
type allowance interface {
	allow(r Reading, reading bool) (more, df float64)
}

// Foreteller makes ready to foretell readings of a group that is among those
// fitted, by its label.
//
// With V the covariance of the rows, c theirs with the new reading and v its
// own, the prediction is x'b + c'V^-1 (y - Xb) and its error, the variances
// taken as known, v - c'V^-1 c + d' Cov(b) d with d = x - X'V^-1 c (Goldberger
// 1962, J Am Stat Assoc 57:369; Henderson 1975, Biometrics 31:423). That
// variances are estimates adds twice the sum over pairs of them of their
// covariance times l_r'V l_s, l_r being the derivative of V^-1 c: once since
// the prediction moves with them, and once since an error that takes them as
// known is too small by as much (Kackar & Harville 1984, J Am Stat Assoc
// 79:853; Prasad & Rao 1990, J Am Stat Assoc 85:163). Cov(b) is adjusted, and
// the covariance of the variances found, by the method of Kenward & Roger 1997;
// degrees of freedom are Satterthwaite's, of the whole error. With residuals
// correlated in time or of several sizes and with crossed groupings the
// derivatives are those of the prediction itself, by differences, and the
// covariance of the variances is from the curvature of the likelihood.
func (m *Model) Foreteller(label int) (*Foreteller, error) {
	d := &m.p.data
	if _, own := slices.BinarySearch(m.p.labels, label); !own {
		return nil, fmt.Errorf("no row is of %s %d: %w", d.GroupName, label, ErrInput)
	}
	f := &Foreteller{m: m, label: label}
	s := m.setting()
	if len(d.Crossed) > 0 {
		b, ok := m.newBelieved(m.layerAt, label)
		if !ok {
			return nil, fmt.Errorf("covariance of the effects: %w", ErrInput)
		}
		f.at, f.few = b, m.byDifferences(b, func(t []float64) outlook {
			b, ok := m.newBelieved(m.layers.at(t), label)
			if !ok {
				return nil
			}
			return b
		})
		return f, nil
	}
	k := m.kinOf(s, label)
	f.at = k
	if m.Range > 0 || d.Spread != nil {
		f.few = m.byDifferences(k, func(t []float64) outlook { return m.kinOf(m.settingAt(t), label) })
	} else if w := m.adjustment(); w != nil {
		f.few = &closely{k, w}
	}
	return f, nil
}

// At foretells a reading. Errors: ErrInput.
func (f *Foreteller) At(r Reading) (Foretold, error) {
	if err := f.m.fits(r); err != nil {
		return Foretold{}, err
	}
	var o Foretold
	o.Line, o.LineSE, o.LineDF = f.one(r, false)
	o.Estimate, o.SE, o.DF = f.one(r, true)
	o.Known = f.few == nil
	half := o.SE * lsq.TQuantile(0.5+f.m.Level/2, o.DF)
	o.Low, o.High = o.Estimate-half, o.Estimate+half
	half = o.LineSE * lsq.TQuantile(0.5+f.m.Level/2, o.LineDF)
	o.LineLow, o.LineHigh = o.Line-half, o.Line+half
	return o, nil
}

// one is a prediction with its error and degrees of freedom.
func (f *Foreteller) one(r Reading, reading bool) (at, se, df float64) {
	m := f.m
	at, v := f.at.predict(r, reading)
	df = math.Max(1, float64(m.Rows-m.Groups-m.f.P+1))
	if f.few != nil {
		more, d := f.few.allow(r, reading)
		v += more
		// Below 2 degrees of freedom limits say nothing, and there are no more
		// than the rows leave: both come of a variance that is hardly above none.
		if d > 0 {
			df = math.Min(math.Max(2, d), math.Max(2, float64(m.Rows-m.f.P)))
		}
	}
	return at, math.Sqrt(math.Max(0, v) * f.at.scatter()), df
}

// fits says whether a reading has as many columns as the model.
func (m *Model) fits(r Reading) error {
	d := &m.p.data
	upper := 0
	if d.Above != nil {
		upper = len(d.Above.Z)
	}
	if len(r.X) != m.f.P || len(r.Z) != len(d.Z) || len(r.Above) != upper || r.Crossed != nil && len(r.Crossed) != len(d.Crossed) {
		return fmt.Errorf("a reading of %d, %d, %d and %d columns for a model of %d, %d, %d and %d: %w", len(r.X), len(r.Z), len(r.Above), len(r.Crossed), m.f.P, len(d.Z), upper, len(d.Crossed), ErrInput)
	}
	for _, v := range append(append(append([]float64{r.Time}, r.X...), r.Z...), r.Above...) {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("a reading holds a value that is not a number: %w", ErrInput)
		}
	}
	return nil
}

// setting is what a model is at one set of its variance parameters. Random
// effects are on the scaled columns, covariances over the residual variance.
type setting struct {
	own, up [][]float64 // covariance of the effects of groups and of those above; nil without
	length  float64     // time over which the correlation of residuals falls to 1/e; 0 without
	logs    []float64   // log residual standard deviation of each kind, that of the first 0
	beta    []float64
	a       [][]float64 // Cholesky factor of the crossproduct of the fixed effects, on the factored design
	s2      float64     // residual variance
}

// setting is that of the fit.
func (m *Model) setting() setting {
	if m.layers != nil {
		return m.ofLayers(m.layerAt)
	}
	return m.ofState(m.stateAt)
}

// settingAt is that at another point.
func (m *Model) settingAt(t []float64) setting {
	if m.layers != nil {
		return m.ofLayers(m.layers.at(t))
	}
	return m.ofState(m.obj.at(t))
}

func (m *Model) ofState(s *state) setting {
	out := setting{own: squared(s.lambda), a: s.a, s2: m.size * m.size * s.rss / s.c.free, beta: m.coefficients(s.gamma)}
	if m.Range > 0 {
		out.length = math.Exp(s.point[len(s.point)-1])
	}
	return out
}

func (m *Model) ofLayers(s *layerState) setting {
	l := s.m
	inner, above, _ := l.lambdas(s.point)
	out := setting{own: squared(inner), a: s.a, s2: m.size * m.size * s.rss / l.free(), beta: m.coefficients(s.gamma)}
	if l.above != nil {
		out.up = squared(above)
	}
	logRange, logs := l.residual(s.point)
	if out.logs = logs; l.serial {
		out.length = math.Exp(logRange)
	}
	return out
}

// coefficients are the fixed effects for coefficients of the factored design.
func (m *Model) coefficients(gamma []float64) []float64 {
	out := append([]float64(nil), m.ols...)
	for j := range out {
		out[j] += m.size * floats.Dot(m.f.L[j], gamma)
	}
	return out
}

// squared is Lambda Lambda'.
func squared(lambda [][]float64) [][]float64 {
	out := square(len(lambda))
	for i := range out {
		for j := range out {
			out[i][j] = floats.Dot(lambda[i], lambda[j])
		}
	}
	return out
}
