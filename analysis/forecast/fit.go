package forecast

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"

	"plybook/analysis/stats"
)

// Errors of Fit.
var (
	// ErrFew reports fewer periods than two years, or than MinPeriods.
	ErrFew = errors.New("too few periods to foretell from")
	// ErrEmpty reports a series with no count above zero before its last
	// third: there is nothing to learn a level from.
	ErrEmpty = errors.New("nothing was counted")
)

// MinPeriods is the fewest periods that anything is foretold from, beside the
// two years that are always needed.
const MinPeriods = 8

// Series is one count a period, without gaps.
type Series struct {
	Count []float64 // whole numbers from 0
	First int       // number of the first period, counted from a year's start: the season follows from it
	Cycle int       // periods in a year
}

// Options say which model it is. The zero value is a level that drifts.
type Options struct {
	Season bool // one sine and one cosine over the year
	Slope  bool // the level also grows or shrinks at a steady pace
}

// Term is a coefficient on the logarithm of the level.
type Term struct {
	Name             string // season_cos, season_sin, slope (per year)
	Estimate, StdErr float64
}

// Fit is a finished fit.
type Fit struct {
	Omega  float64 // weight that a period keeps when the next has gone by; 1: the level never drifts
	Terms  []Term
	LogLik float64 // of all counts after the first above zero
	AIC    float64
	Used   int     // counts that LogLik is of
	Level  float64 // per period, at the end of the series, the season apart

	series  Series
	options Options
	grid    []gridPoint
}

// gridPoint is the fit at one omega.
type gridPoint struct {
	omega  float64
	weight float64 // of belief, summing to 1
	at     state
	chol   *mat.Cholesky // of the information about the coefficients; nil without
}

// state is what one pass over the series gives.
type state struct {
	coef   []float64
	logLik float64
	a, b   float64 // the gamma distribution of the level after the last count
	used   int
	grad   []float64
	hess   *mat.SymDense
}

// omegas is the grid over which what is not known of omega is averaged, even
// in the root of 1 - omega, which goes with how far the level drifts in a
// period. Below a half nothing older than a few periods counts, and no lab's
// series is so.
func omegas() []float64 {
	const steps, far = 20, 0.7
	out := make([]float64, steps+1)
	for i := range out {
		u := far * float64(steps-i) / steps
		out[i] = 1 - u*u
	}
	return out
}

// New fits the model. Its likelihood is maximised over the coefficients by
// Newton's method at each omega, and over omega by a search.
func New(s Series, o Options) (*Fit, error) {
	n := len(s.Count)
	if s.Cycle < 1 {
		return nil, fmt.Errorf("a year of %d periods", s.Cycle)
	}
	if n < max(2*s.Cycle, MinPeriods) {
		return nil, ErrFew
	}
	first := -1
	for k, y := range s.Count {
		if math.IsNaN(y) || y < 0 || y != math.Floor(y) {
			return nil, fmt.Errorf("%g is no count", y)
		}
		if y > 0 && first < 0 {
			first = k
		}
	}
	if first < 0 || first > n-1-n/3 {
		return nil, ErrEmpty
	}
	if s.Cycle == 1 {
		o.Season = false
	}
	f := &Fit{series: s, options: o}
	x := f.covariates(0, n)
	var start []float64
	for _, w := range omegas() {
		at, err := maximise(s.Count, x, w, start)
		if err != nil {
			return nil, fmt.Errorf("fitting the counts: %w", err)
		}
		start = at.coef
		p := gridPoint{omega: w, at: at}
		if len(at.coef) > 0 {
			p.chol = information(at.hess)
			if p.chol == nil {
				return nil, fmt.Errorf("fitting the counts: %w", stats.ErrConvergence)
			}
		}
		f.grid = append(f.grid, p)
	}
	f.weigh()
	best := f.search(x)
	f.Omega, f.LogLik, f.Used = best.omega, best.at.logLik, best.at.used
	f.AIC = -2*f.LogLik + 2*float64(1+len(best.at.coef))
	f.Level = best.at.a / best.at.b
	names := f.names()
	if len(names) > 0 {
		var cov mat.SymDense
		chol := information(best.at.hess)
		if chol == nil || chol.InverseTo(&cov) != nil {
			return nil, fmt.Errorf("fitting the counts: %w", stats.ErrConvergence)
		}
		for j, name := range names {
			f.Terms = append(f.Terms, Term{name, best.at.coef[j], math.Sqrt(cov.At(j, j))})
		}
	}
	return f, nil
}

func (f *Fit) names() []string {
	var out []string
	if f.options.Season {
		out = append(out, "season_cos", "season_sin")
	}
	if f.options.Slope {
		out = append(out, "slope")
	}
	return out
}

// covariates are those of n periods from the k-th of the series on. The slope
// is counted in years from the last period of the series, so that Level is the
// level at its end.
func (f *Fit) covariates(k, n int) [][]float64 {
	out := make([][]float64, n)
	for i := range out {
		t := k + i
		if f.options.Season {
			turn := 2 * math.Pi * float64(f.series.First+t) / float64(f.series.Cycle)
			out[i] = append(out[i], math.Cos(turn), math.Sin(turn))
		}
		if f.options.Slope {
			out[i] = append(out[i], float64(t-len(f.series.Count)+1)/float64(f.series.Cycle))
		}
	}
	return out
}

// weigh gives each omega of the grid its share of belief: the likelihood, the
// coefficients integrated out by Laplace's approximation, times a prior that
// is even in the root of 1 - omega, as is usual for the size of a drift
// (Gelman A. Bayesian Analysis 2006; 1: 515-534).
func (f *Fit) weigh() {
	top := math.Inf(-1)
	logs := make([]float64, len(f.grid))
	for i, p := range f.grid {
		logs[i] = p.at.logLik
		if p.chol != nil {
			logs[i] -= p.chol.LogDet() / 2
		}
		if i == 0 || i == len(f.grid)-1 {
			logs[i] -= math.Ln2 // an end of the trapezium rule
		}
		top = math.Max(top, logs[i])
	}
	sum := 0.0
	for i := range f.grid {
		f.grid[i].weight = math.Exp(logs[i] - top)
		sum += f.grid[i].weight
	}
	for i := range f.grid {
		f.grid[i].weight /= sum
	}
}

// search finds the omega of the greatest likelihood, starting from the best of
// the grid, by the golden section between its neighbours.
func (f *Fit) search(x [][]float64) gridPoint {
	best := 0
	for i := range f.grid {
		if f.grid[i].at.logLik > f.grid[best].at.logLik {
			best = i
		}
	}
	found := f.grid[best]
	lo, hi := f.grid[max(best-1, 0)].omega, f.grid[min(best+1, len(f.grid)-1)].omega
	try := func(w float64) (gridPoint, bool) {
		at, err := maximise(f.series.Count, x, w, found.at.coef)
		return gridPoint{omega: w, at: at}, err == nil
	}
	const part = 0.6180339887498949
	left, right := hi-part*(hi-lo), lo+part*(hi-lo)
	a, okA := try(left)
	b, okB := try(right)
	for hi-lo > 1e-9 && okA && okB {
		if a.at.logLik > b.at.logLik {
			hi, right, b = right, left, a
			left = hi - part*(hi-lo)
			a, okA = try(left)
		} else {
			lo, left, a = left, right, b
			right = lo + part*(hi-lo)
			b, okB = try(right)
		}
	}
	for _, p := range []gridPoint{a, b} {
		if okA && okB && p.at.logLik > found.at.logLik {
			found = p
		}
	}
	return found
}
