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

// PredictIncidence is the cumulative incidence of the cause for somebody
// with the values x, one per column, at each of the times. It is not known
// (HasEstimate false) after the last time at which anybody was at risk. The
// error is the infinitesimal jackknife, grouped by cluster where given, the
// weights taken as known.
func (f *FineGray) PredictIncidence(x, times []float64, o CurveOptions) ([]PredictedIncidence, error) {
	p, err := f.predict(x, times, o)
	if err != nil {
		return nil, fmt.Errorf("predicted incidence: %w", err)
	}
	return p, nil
}

// PredictedIncidence is a predicted cumulative incidence at one time.
type PredictedIncidence struct {
	Time        float64
	Estimate    float64
	HasEstimate bool
	StdErr      float64 // 0 without HasBounds
	Low, High   float64
	HasBounds   bool
}

func (f *FineGray) predict(x, times []float64, o CurveOptions) ([]PredictedIncidence, error) {
	c := f.cox
	m := c.model
	o, err := o.withDefaults()
	if err != nil {
		return nil, err
	}
	if len(x) != m.p {
		return nil, fmt.Errorf("%d values, but there are %d columns", len(x), m.p)
	}
	z, eta := make([]float64, m.p), 0.0
	for j, v := range x {
		if !finite(v) {
			return nil, fmt.Errorf("%s is not a finite number", c.Names[j])
		}
		z[j] = (v - m.blocks[0].mean[j]) / m.scale[j]
		eta += z[j] * c.beta[j]
	}
	h, err := c.hazards()
	if err != nil {
		return nil, err
	}
	res, err := c.Residuals()
	if err != nil {
		return nil, err
	}
	moves, err := c.baselineMoves(times)
	if err != nil {
		return nil, err
	}
	of, clusters := m.clusters()
	ratio := math.Exp(eta)
	var out []PredictedIncidence
	for k, at := range times {
		p := PredictedIncidence{Time: at}
		if math.IsNaN(at) || at < 0 || at > h[0].last {
			out = append(out, p)
			continue
		}
		p.HasEstimate = true
		e := sort.Search(len(h[0].time), func(e int) bool { return h[0].time[e] > at }) - 1
		sum, mean := 0.0, make([]float64, m.p)
		if e >= 0 {
			sum, mean = h[0].sum[e], h[0].mean[e]
		}
		by := make([]float64, clusters)
		for i := range m.n {
			d := moves[k][i]
			for j := range m.p {
				d += (z[j]*sum - mean[j]) * res.DFBeta[i][j] * m.scale[j]
			}
			by[of[i]] += m.weight(i) * d
		}
		square := 0.0
		for _, d := range by {
			square += d * d
		}
		hazard := ratio * sum
		if !finite(hazard) || !finite(square) {
			return nil, errOverflow
		}
		q := Point{Time: at, Events: 1, Estimate: -math.Expm1(-hazard)}
		q.bound(math.Exp(-hazard)*ratio*math.Sqrt(square), o)
		if e < 0 {
			q = Point{}
		}
		p.Estimate, p.StdErr, p.Low, p.High, p.HasBounds = q.Estimate, q.StdErr, q.Low, q.High, q.HasBounds
		out = append(out, p)
	}
	return out, nil
}

// baselineMoves is, for each time asked and each row, how much a unit more
// of the row's weight moves the cumulative hazard at the columns' means, the
// coefficients staying as they are.
func (c *Cox) baselineMoves(times []float64) ([][]float64, error) {
	m := c.model
	risk, ok := m.risks(c.beta)
	if !ok {
		return nil, errOverflow
	}
	// Sums from the first time on of dL/S, and of the same times stays; and
	// what each event adds for itself.
	type at struct{ time, square, stays float64 }
	var ts []at
	own := make([]float64, m.n)
	m.sweep(risk, func(r *riskSet) {
		now := at{time: r.time}
		add, spared := 0.0, 0.0
		for _, x := range r.pieces {
			now.square += x.count / (x.s0 * x.s0)
			add += x.count / r.weight / x.s0
			spared += x.count * x.share / (x.s0 * x.s0)
		}
		now.stays = m.lingering.stays(r.time) * now.square
		for _, i := range r.events {
			own[i] = add + risk[i]*spared
		}
		ts = append(ts, now)
	})
	for k := len(ts) - 2; k >= 0; k-- {
		ts[k].square += ts[k+1].square
		ts[k].stays += ts[k+1].stays
	}
	upTo := func(t float64) at {
		k := sort.Search(len(ts), func(k int) bool { return ts[k].time <= t })
		if k == len(ts) {
			return at{}
		}
		return ts[k]
	}
	out := make([][]float64, len(times))
	for k, t := range times {
		out[k] = make([]float64, m.n)
		for i, end := range m.data.Time {
			if end <= t {
				out[k][i] += own[i]
			}
			if m.from(i) < t {
				out[k][i] -= risk[i] * (upTo(math.Min(end, t)).square - upTo(m.from(i)).square)
			}
		}
		last := upTo(t).stays
		for e, i := range m.lingering.rows {
			if s := m.data.Time[i]; s < t {
				out[k][i] -= risk[i] / m.lingering.stayed[e] * (last - upTo(s).stays)
			}
		}
	}
	return out, nil
}
