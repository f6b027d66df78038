package survival

import (
	"errors"
	"fmt"
	"math"
	"sort"

	"plybook/analysis/stats"
)

// FineGrayData holds the rows of a Fine-Gray regression, one entry per row:
// each row is one whole life, with the same covariates all along.
type FineGrayData struct {
	Entry   []float64   // nil: all 0
	Time    []float64   // end of the row
	Cause   []int       // why it ended: 0 censored, 1 to K the cause
	X       [][]float64 // one slice per column, each as long as Time
	Names   []string    // of the columns
	Terms   []Term      // nil: every column is a term
	Cluster []int       // rows of one person share a number; nil: each row on its own
	Weight  []float64   // how many rows it stands for, above 0; nil: all 1
}

// FineGrayOptions are the settings of a Fine-Gray regression. The zero value
// is the default.
type FineGrayOptions struct {
	Ties          Ties // Efron or Breslow
	MaxIterations int  // 0: 50
}

// FineGray is a fitted Fine-Gray regression. It is never changed after the
// fit, and keeps the slices it was fitted to: they must not be changed
// either.
type FineGray struct {
	Names []string
	Terms []Term
	Ties  Ties

	Rows      int
	Events    float64 // weight of events of the cause
	Competing float64 // weight of events of other causes
	Clusters  int     // 0 without clusters

	Coef   []float64   // log ratios of the subdistribution hazard
	Var    [][]float64 // inverse of the information: too small or too large, since the weights are not of rows
	Robust [][]float64 // sandwich of score residuals, grouped by cluster where given; no small-sample factor
	// RobustWeights is Robust with what estimating the weights adds (Fine and
	// Gray 1999, section 3.2). It is nil where rows enter late.
	RobustWeights [][]float64

	LogLikNull, LogLik float64 // of the weighted partial likelihood: a likelihood in form only
	AIC                float64
	LikelihoodRatio    stats.Test // as if the weighted likelihood were one
	Wald               stats.Test // robust
	RobustScore        stats.Test // HasRobustScore says whether it could be made
	HasRobustScore     bool

	LargestWeight float64 // of a row after a competing ending; at most 1 unless rows enter late
	Iterations    int
	Warnings      []stats.Warning

	cox *Cox
}

// FitFineGray fits proportional hazards of the subdistribution of a cause
// (Fine and Gray 1999, J Am Stat Assoc 94:496): 1 - F(t|x) is taken as
// (1 - F(t|0)) to the power exp(x'b), F being the cumulative incidence of
// the cause. Rows ended by another cause at s stay at risk at t > s with the
// weight G(t)/G(s), G being the chance not to be censored before. A censoring
// at the time of an event counts as after it. Where rows enter late, G is
// multiplied with the chance to have entered (Geskus 2011, Biometrics 67:39).
//
// A ratio above 1 says that the share ever ended by the cause rises with the
// column. It is not a ratio of rates among those still at risk.
//
// Its errors are those of FitCox and *EntryError.
func FitFineGray(d FineGrayData, cause int, o FineGrayOptions) (*FineGray, error) {
	f, err := fitFineGray(d, cause, o)
	if err != nil {
		return nil, fmt.Errorf("Fine-Gray regression: %w", err)
	}
	return f, nil
}

// newFineGrayModel is the data of a Cox regression of the cause in which those
// ended by another linger. Without clusters each row is its own.
func newFineGrayModel(d FineGrayData, cause int, o CoxOptions) (*coxModel, error) {
	switch {
	case cause < 1:
		return nil, fmt.Errorf("there is no cause %d", cause)
	case len(d.Cause) != len(d.Time):
		return nil, &RowError{-1, fmt.Sprintf("%d times but %d causes", len(d.Time), len(d.Cause))}
	case o.Ties == Discrete:
		return nil, fmt.Errorf("a subdistribution: %w", ErrNotDiscrete)
	}
	cd := CoxData{Entry: d.Entry, Time: d.Time, Event: make([]bool, len(d.Time)), X: d.X, Names: d.Names, Terms: d.Terms, Cluster: d.Cluster, Weight: d.Weight, competing: make([]bool, len(d.Time))}
	for i, c := range d.Cause {
		if c < 0 {
			return nil, &RowError{i, fmt.Sprintf("cause %d is below 0", c)}
		}
		cd.Event[i] = c == cause
		cd.competing[i] = c > 0 && c != cause
	}
	if cd.Cluster == nil {
		cd.Cluster = order(len(d.Time))
	}
	m, err := newCoxModel(cd, o)
	if err != nil {
		return nil, err
	}
	if m.lingering, err = m.newLingering(d.Cause, cause); err != nil {
		return nil, err
	}
	if m.fast != nil {
		m.fast.linger(m.lingering)
	}
	return m, nil
}

// FineGrayScore is the score test that no column of a Fine-Gray regression
// matters, with score residuals grouped by cluster where given. Nothing is
// fitted, so that it can be had where a group had no event. Besides the
// errors of FitFineGray it returns ErrFewClusters.
func FineGrayScore(d FineGrayData, cause int, o FineGrayOptions) (stats.Test, error) {
	t, err := fineGrayScore(d, cause, o)
	if err != nil {
		return stats.Test{}, fmt.Errorf("Fine-Gray score test: %w", err)
	}
	return t, nil
}

// ErrFewClusters reports that there are no more clusters than columns, so that
// no joint test can allow for them.
var ErrFewClusters = errors.New("too few clusters for a joint test")

func fineGrayScore(d FineGrayData, cause int, o FineGrayOptions) (stats.Test, error) {
	m, err := newFineGrayModel(d, cause, CoxOptions{Ties: o.Ties})
	if err != nil {
		return stats.Test{}, err
	}
	zero := make([]float64, m.p)
	if err := m.checkColumns(m.likelihood(zero).info); err != nil {
		return stats.Test{}, err
	}
	_, n := m.clusters()
	at, err := m.grouped(zero)
	if err != nil {
		return stats.Test{}, err
	}
	x, ok := quadratic(at[0].meat, at[0].total)
	if !ok || n <= m.p {
		return stats.Test{}, ErrFewClusters
	}
	return chiSquare("score test allowing for clusters", x, float64(m.p)), nil
}

func fitFineGray(d FineGrayData, cause int, o FineGrayOptions) (*FineGray, error) {
	if o.MaxIterations == 0 {
		o.MaxIterations = 50
	}
	co := CoxOptions{Ties: o.Ties, MaxIterations: o.MaxIterations}
	m, err := newFineGrayModel(d, cause, co)
	if err != nil {
		return nil, err
	}
	c, err := m.fit(co)
	if err != nil {
		return nil, err
	}
	f := &FineGray{
		Names: c.Names, Terms: c.Terms, Ties: c.Ties, Rows: c.Rows, Events: c.Events,
		Coef: c.Coef, Var: c.Var, Robust: c.Robust,
		LogLikNull: c.LogLikNull, LogLik: c.LogLik, AIC: c.AIC, LikelihoodRatio: c.LikelihoodRatio, Wald: c.Wald,
		RobustScore: c.RobustScore, HasRobustScore: c.HasRobustScore,
		Iterations: c.Iterations, Warnings: c.Warnings, cox: c,
	}
	if d.Cluster != nil {
		f.Clusters = c.Clusters
	}
	for _, i := range m.lingering.rows {
		f.Competing += m.weight(i)
	}
	f.LargestWeight = m.largestWeight()
	if len(m.lingering.entered) == 0 {
		if f.RobustWeights, err = c.robustWeights(d.Cause); err != nil {
			return nil, err
		}
	}
	return f, nil
}

// largestWeight is the largest weight that a row has after a competing
// ending.
func (m *coxModel) largestWeight() float64 {
	l, largest, least, next := m.lingering, 0.0, math.Inf(1), 0
	if f := m.fast; f != nil {
		for b := len(f.bins) - 1; b >= 0; b-- {
			bin := &f.bins[b]
			if bin.lo < bin.mid && finite(least) {
				largest = math.Max(largest, f.stays[b]/least)
			}
			if bin.mid < bin.out {
				least = math.Min(least, f.stays[b])
			}
		}
		return largest
	}
	times := m.full().byTime[0]
	for k := len(times) - 1; k >= 0; k-- {
		at := m.data.Time[times[k]]
		for ; next < len(l.rows) && m.data.Time[l.rows[next]] < at; next++ {
			least = math.Min(least, l.stayed[next])
		}
		if m.data.Event[times[k]] && next > 0 {
			largest = math.Max(largest, l.stays(at)/least)
		}
	}
	return largest
}

// StdErr is the model-based standard error of each coefficient.
func (f *FineGray) StdErr() []float64 { return rootDiagonal(f.Var) }

// RobustStdErr is the robust standard error of each coefficient.
func (f *FineGray) RobustStdErr() []float64 { return rootDiagonal(f.Robust) }

// Contrast is the sum of the coefficients times by, and its robust standard
// error. by has one number per column.
func (f *FineGray) Contrast(by []float64) (estimate, stdErr float64, err error) {
	return f.cox.Contrast(by)
}

// WaldTest tests that the coefficients of the columns given are all 0, with
// the robust covariance.
func (f *FineGray) WaldTest(name string, columns []int) (stats.Test, error) {
	return f.cox.WaldTest(name, columns)
}

// ScoreResiduals are, by row and by column, what each row adds to the score,
// the weights taken as known.
func (f *FineGray) ScoreResiduals() ([][]float64, error) {
	r, err := f.cox.Residuals()
	if err != nil {
		return nil, err
	}
	return r.Score, nil
}

// robustWeights is the sandwich with score residuals that allow for the
// estimated chance of censoring. Let P_k(c) be the sum over those with a
// competing ending up to c of risk z^k / G(s), and A and B the sums after c
// of G dL and of G times the mean of z times dL, L being the baseline. A
// censoring at c moves the score by (P_1 A - P_0 B)/(Y (1 - dC/Y)) times its
// martingale, dN - dC/Y for everybody who could be censored then.
func (c *Cox) robustWeights(cause []int) ([][]float64, error) {
	m := c.model
	l := m.lingering
	of, n := m.clusters()
	if m.fast != nil {
		g, ok := m.fast.lived(c.beta)
		if !ok {
			return nil, errOverflow
		}
		g.moveWeights(l)
		return sandwich(c.Var, m.fast.grouped([]*lived{g}, of, n)[0].meat), nil
	}
	score, _, ok := m.scoreResiduals(c.beta)
	if !ok {
		return nil, errOverflow
	}
	risk, _ := m.risks(c.beta)
	// A and B after each time with events, times descending.
	type tail struct {
		time, a float64
		b       []float64
	}
	var tails []tail
	a, b := 0.0, make([]float64, m.p)
	m.sweep(risk, func(r *riskSet) {
		g := l.stays(r.time)
		for _, x := range r.pieces {
			h := g * x.count / x.s0
			a += h
			for j := range b {
				b[j] += h * r.mean(x, j)
			}
		}
		tails = append(tails, tail{r.time, a, append([]float64(nil), b...)})
	})
	// What a unit of the martingale at each censoring moves, and its sum over
	// the expected part.
	move := make([][]float64, len(l.censored))
	sum := make([][]float64, len(l.censored)+1)
	sum[0] = make([]float64, m.p)
	p0, p1, next := 0.0, make([]float64, m.p), 0
	for k, at := range l.censored {
		for ; next < len(l.rows) && m.data.Time[l.rows[next]] <= at; next++ {
			i := l.rows[next]
			f := m.weight(i) * risk[i] / l.stayed[next]
			p0 += f
			for j := range p1 {
				p1[j] += f * m.full().z[i*m.p+j]
			}
		}
		move[k], sum[k+1] = make([]float64, m.p), append([]float64(nil), sum[k]...)
		e := sort.Search(len(tails), func(e int) bool { return tails[e].time <= at })
		if e == 0 || l.fall[k] >= 1 {
			continue
		}
		t := tails[e-1]
		for j := range m.p {
			move[k][j] = (p1[j]*t.a - p0*t.b[j]) / (l.atRisk[k] * (1 - l.fall[k])) * m.scale[j]
			sum[k+1][j] += move[k][j] * l.fall[k]
		}
	}
	for i, t := range m.data.Time {
		// An event comes before a censoring at the same time.
		k := sort.SearchFloat64s(l.censored, t)
		if cause[i] == 0 {
			k++
		}
		for j := range m.p {
			score[i][j] -= sum[k][j]
			if cause[i] == 0 {
				score[i][j] += move[k-1][j]
			}
		}
	}
	return sandwich(c.Var, m.meat(score, of, n).meat), nil
}
