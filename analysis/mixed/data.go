package mixed

import (
	"errors"
	"fmt"
	"math"

	"plybook/analysis/internal/lsq"
	"plybook/analysis/stats"
)

// Errors of this package beside those of package stats. Test with errors.Is.
var (
	// ErrInput reports lengths that differ, values that are not finite or a
	// confidence level outside 0 to 1.
	ErrInput = lsq.ErrInput
	// ErrOneGroup reports that all rows belong to one group.
	ErrOneGroup = errors.New("all rows belong to one group, so that nothing shows how groups differ")
	// ErrNoneAlike reports fixed effects that tell every group from every other,
	// so that no two groups are left to differ at random.
	ErrNoneAlike = errors.New("the fixed effects tell every group from every other, so that nothing shows how far groups differ beyond them")
	// ErrNotSeparable reports that no group has more rows than random
	// effects, so that differences between groups and scatter within them
	// cannot be told apart.
	ErrNotSeparable = errors.New("too few rows per group to tell differences between groups from scatter within them")
	// ErrNoScatter reports rows that the model passes through exactly within
	// every group, so that there is no scatter to measure anything against.
	ErrNoScatter = errors.New("no scatter is left within the groups")
	// ErrConstantResponse reports a response with one value only.
	ErrConstantResponse = errors.New("the response has the same value in every row")
	// ErrConstantSlope reports a column of random slopes that never varies
	// within a group.
	ErrConstantSlope = errors.New("the column never varies within a group, so that groups cannot have slopes of their own on it")
	// ErrTiedTimes reports two rows of a group at the same time, whose
	// residuals a correlation that depends on time alone would make equal.
	ErrTiedTimes = errors.New("two rows of one group have the same time")
	// ErrLongRange reports residuals whose correlation outlasts the time over
	// which the groups were seen, so that it cannot be told from differences
	// between groups or from a trend.
	ErrLongRange = errors.New("the correlation in time outlasts the time over which groups were seen; leave it out")
	// ErrTooFewRows reports that there are not more rows than coefficients.
	ErrTooFewRows = errors.New("not more rows than coefficients")
)

// SingularError names the columns that repeat one another or never vary. It
// wraps stats.ErrSingular; reach it with errors.As.
type SingularError = lsq.SingularError

// Data is the data of a mixed model. Rows must be complete; their order does
// not matter.
type Data struct {
	Y         []float64
	X         [][]float64 // fixed effects, one slice per column, each as long as Y
	Names     []string    // one per column of X
	Terms     []int       // term of each column of X, so that a factor is one term; nil: each column its own
	TermNames []string    // names of the terms, by number; nil: the columns' names
	Intercept bool        // adds a constant as the first fixed effect, named "intercept"

	Group     []int  // label of the group of each row; any numbers will do
	GroupName string // what a group is, singular, for words: "limb"; empty: "group"

	// Z holds the columns on which groups have slopes of their own, ZNames
	// their names. RandomIntercept gives each group an intercept of its own,
	// named "intercept" and first among the random effects; a constant column
	// in Z does the same.
	Z               [][]float64
	ZNames          []string
	RandomIntercept bool

	// Above is a grouping in which the groups lie, each in one of its groups:
	// persons above limbs. Crossed are groupings that cut across the groups,
	// with an intercept for each of their levels: those who measure. Spread
	// labels the kinds of rows whose residuals have a standard deviation of
	// their own. All may be empty.
	Above   *Level
	Crossed []Level
	Spread  []int

	// Time of each row, which only ContinuousAR1 reads; any unit.
	Time []float64
}

// Correlation is how the residuals of one group hang together.
type Correlation int

// The correlations. ContinuousAR1 lets that of two rows of a group fall off
// exponentially with the time between them, exp(-time/range); random effects
// then are not needed, though one group's rows must all have different times.
const (
	Independent Correlation = iota
	ContinuousAR1
)

// Options are the settings of Fit.
type Options struct {
	// ML maximises the likelihood, which models with different fixed effects
	// need in order to be compared; the default is restricted likelihood.
	ML bool
	// Uncorrelated keeps the random effects of a group independent of one
	// another. What that means depends on where the columns have their zero.
	Uncorrelated bool
	Correlation  Correlation
	Freedom      Freedom
	Level        float64 // confidence level of the intervals; 0 means 0.95
}

// problem is the data made ready.
type problem struct {
	data   Data
	opts   Options
	names  []string    // fixed effects, with the intercept
	terms  []int       // with the intercept as -1
	rnames []string    // random effects
	z      [][]float64 // a nil column is 1 throughout
	grouping
	// Random effects are estimated on columns (z - shift)/scale, which makes
	// the criterion well conditioned; back undoes it.
	shift, scale []float64
	intercept    int // position of the intercept among the random effects, -1 for none
	// Shortest time between rows of a group and longest time from its first
	// row to its last; only with ContinuousAR1.
	gap, span float64
}

func prepare(d Data, o Options) (*problem, error) {
	if o.Level == 0 {
		o.Level = 0.95
	}
	if d.GroupName == "" {
		d.GroupName = "group"
	}
	n := len(d.Y)
	switch {
	case !(o.Level > 0 && o.Level < 1):
		return nil, fmt.Errorf("confidence level %g: %w", o.Level, ErrInput)
	case n == 0:
		return nil, stats.ErrNoRows
	case n > math.MaxInt32:
		return nil, fmt.Errorf("%d rows, more than %d: %w", n, math.MaxInt32, ErrInput)
	case len(d.Names) != len(d.X):
		return nil, fmt.Errorf("%d names for %d columns: %w", len(d.Names), len(d.X), ErrInput)
	case len(d.X) == 0 && !d.Intercept:
		return nil, fmt.Errorf("no fixed effect and no intercept: %w", ErrInput)
	case d.Terms != nil && len(d.Terms) != len(d.X):
		return nil, fmt.Errorf("%d terms for %d columns: %w", len(d.Terms), len(d.X), ErrInput)
	case d.Terms == nil && d.TermNames != nil && len(d.TermNames) != len(d.X):
		return nil, fmt.Errorf("%d term names for %d columns: %w", len(d.TermNames), len(d.X), ErrInput)
	case len(d.Group) != n:
		return nil, fmt.Errorf("%d group labels for %d rows: %w", len(d.Group), n, ErrInput)
	case len(d.ZNames) != len(d.Z):
		return nil, fmt.Errorf("%d names for %d columns of random effects: %w", len(d.ZNames), len(d.Z), ErrInput)
	case o.Correlation != Independent && o.Correlation != ContinuousAR1:
		return nil, fmt.Errorf("correlation %d is not known: %w", o.Correlation, ErrInput)
	case o.Freedom != Satterthwaite && o.Freedom != KenwardRoger:
		return nil, fmt.Errorf("degrees of freedom %d are not known: %w", o.Freedom, ErrInput)
	case o.Freedom == KenwardRoger && (o.ML || o.Correlation != Independent || d.Spread != nil):
		return nil, ErrNoAdjustment
	case len(d.Z) == 0 && !d.RandomIntercept && o.Correlation == Independent && !d.layered():
		return nil, fmt.Errorf("no random effect: %w", ErrInput)
	}
	for j, t := range d.Terms {
		if t < 0 || d.TermNames != nil && t >= len(d.TermNames) {
			return nil, fmt.Errorf("column %s: term %d is out of range: %w", d.Names[j], t, ErrInput)
		}
	}
	p := &problem{data: d, opts: o}
	if d.Intercept {
		p.names, p.terms = []string{"intercept"}, []int{-1}
	}
	p.names = append(p.names, d.Names...)
	for j := range d.X {
		t := j
		if d.Terms != nil {
			t = d.Terms[j]
		}
		p.terms = append(p.terms, t)
	}
	if n <= len(p.names) {
		return nil, fmt.Errorf("%d rows for %d coefficients: %w", n, len(p.names), ErrTooFewRows)
	}
	if constant(d.Y) {
		return nil, fmt.Errorf("it is %g: %w", d.Y[0], ErrConstantResponse)
	}
	p.grouping = newGrouping(d.Group)
	if p.count() == 1 {
		return nil, ErrOneGroup
	}
	if o.Correlation == ContinuousAR1 {
		if err := p.times(); err != nil {
			return nil, err
		}
	}
	return p, p.random()
}

func constant(v []float64) bool {
	for _, x := range v {
		if x != v[0] {
			return false
		}
	}
	return true
}

// random checks the columns of random effects and finds shift and scale.
func (p *problem) random() error {
	d := p.data
	n := len(d.Y)
	if d.RandomIntercept {
		p.z, p.rnames = append(p.z, nil), append(p.rnames, "intercept")
	}
	p.z, p.rnames = append(p.z, d.Z...), append(p.rnames, d.ZNames...)
	p.intercept = -1
	if _, ok := lsq.Lean(d.Z, n, d.RandomIntercept); !ok {
		if _, err := lsq.New(d.Z, d.ZNames, n, d.RandomIntercept, nil); err != nil {
			return fmt.Errorf("random effects: %w", err)
		}
	}
	for j, c := range p.z {
		if c == nil || constant(c) {
			p.intercept = j
			continue
		}
		if !p.varies(c) {
			return fmt.Errorf("%s: %w", p.rnames[j], ErrConstantSlope)
		}
	}
	p.shift, p.scale = make([]float64, len(p.z)), make([]float64, len(p.z))
	for j, c := range p.z {
		if c == nil {
			p.scale[j] = 1
			continue
		}
		if p.intercept >= 0 && j != p.intercept && !p.opts.Uncorrelated {
			for range 2 {
				s := 0.0
				for _, v := range c {
					s += v - p.shift[j]
				}
				p.shift[j] += s / float64(n)
			}
		}
		// Dividing by the largest first keeps the squares from overflowing.
		largest, s := 0.0, 0.0
		for _, v := range c {
			largest = math.Max(largest, math.Abs(v-p.shift[j]))
		}
		for _, v := range c {
			u := (v - p.shift[j]) / largest
			s += u * u
		}
		p.scale[j] = largest * math.Sqrt(s/float64(n))
	}
	return nil
}

// varies says whether a column varies within any group.
func (p *problem) varies(c []float64) bool {
	for k := range p.count() {
		first := c[p.row(p.start[k])]
		for i := p.start[k] + 1; i < p.start[k+1]; i++ {
			if c[p.row(i)] != first {
				return true
			}
		}
	}
	return false
}

// level is the value of the constant column of random effects.
func (p *problem) level() float64 {
	if c := p.z[p.intercept]; c != nil {
		return c[0]
	}
	return 1
}

// back returns the matrix T that turns random effects on the scaled columns
// into random effects on the columns as given.
func (p *problem) back() [][]float64 {
	t := square(len(p.z))
	for j := range p.z {
		t[j][j] = 1 / p.scale[j]
		if p.intercept >= 0 && j != p.intercept {
			// (z-m)/s of the constant c: c b0 - m/s b_j, in units of the constant.
			t[p.intercept][j] = -p.shift[j] / p.scale[j] / p.level()
		}
	}
	return t
}

func square(n int) [][]float64 {
	m := make([][]float64, n)
	flat := make([]float64, n*n)
	for j := range m {
		m[j] = flat[j*n : (j+1)*n]
	}
	return m
}
