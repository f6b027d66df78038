package survival

import (
	"fmt"
	"math"
	"sort"
)

// Residuals are the residuals of a Cox regression, one entry per row of the
// data unless said otherwise.
type Residuals struct {
	Martingale []float64   // events less events expected
	Deviance   []float64   // martingale residuals made more symmetric
	Score      [][]float64 // by row, by column: what the row adds to the score
	DFBeta     [][]float64 // by row, by column: roughly how much the coefficient would change without the row
}

// SchoenfeldResidual is, for one event, each column less its mean over those
// at risk (Schoenfeld 1982, Biometrika 69:239), averaged over tied events.
type SchoenfeldResidual struct {
	Row     int
	Stratum int
	Time    float64
	Value   []float64
}

// Residuals works out the residuals. With discrete ties they are not
// available (ErrNotDiscrete).
func (c *Cox) Residuals() (*Residuals, error) {
	m := c.model
	if m.ties == Discrete {
		return nil, fmt.Errorf("residuals: %w", ErrNotDiscrete)
	}
	score, expected, ok := m.scoreResiduals(c.beta)
	if !ok {
		return nil, fmt.Errorf("residuals: %w", errOverflow)
	}
	r := &Residuals{Martingale: make([]float64, m.n), Score: score, DFBeta: make([][]float64, m.n), Deviance: make([]float64, m.n)}
	for i := range m.n {
		r.Martingale[i] = -expected[i]
		dev := expected[i]
		if m.data.Event[i] {
			r.Martingale[i]++
			dev = expected[i] - 1 - math.Log(expected[i])
		}
		r.Deviance[i] = math.Copysign(math.Sqrt(math.Max(0, 2*dev)), r.Martingale[i])
		r.DFBeta[i] = make([]float64, m.p)
		for j := range m.p {
			for k := range m.p {
				r.DFBeta[i][j] += c.Var[j][k] * score[i][k]
			}
		}
	}
	return r, nil
}

var errOverflow = fmt.Errorf("the linear predictor is too large for a number")

// scoreResiduals are for the columns as given, per unit of weight; expected
// is the number of events expected of each row.
func (m *coxModel) scoreResiduals(beta []float64) (score [][]float64, expected []float64, ok bool) {
	risk, ok := m.risks(beta)
	if !ok {
		return nil, nil, false
	}
	score, expected = make([][]float64, m.n), make([]float64, m.n)
	all := make([]float64, m.n*m.p)
	for i := range score {
		score[i] = all[i*m.p : (i+1)*m.p : (i+1)*m.p]
	}
	// Hazards and hazard-weighted means, one entry per time with events, in
	// the order of the sweep (backwards in time).
	type at struct {
		time, hazard float64
		mean         []float64
		stays        float64 // of the hazard, as those who linger meet it
		staysMean    []float64
	}
	times := make([][]at, len(m.blocks))
	m.sweep(risk, func(r *riskSet) {
		now := at{time: r.time, mean: make([]float64, m.p)}
		spared := 0.0
		sparedMean, average := make([]float64, m.p), make([]float64, m.p)
		for _, x := range r.pieces {
			h := x.count / x.s0
			now.hazard += h
			spared += h * x.share
			for j := range m.p {
				mean := r.mean(x, j)
				now.mean[j] += h * mean
				sparedMean[j] += h * x.share * mean
				average[j] += x.count / r.weight * mean
			}
		}
		for _, i := range r.events {
			expected[i] -= risk[i] * spared
			for j := range m.p {
				z := m.full().z[i*m.p+j]
				score[i][j] += z - average[j] + risk[i]*(z*spared-sparedMean[j])
			}
		}
		if m.lingering != nil {
			g := m.lingering.stays(r.time)
			now.stays, now.staysMean = g*now.hazard, make([]float64, m.p)
			for j, x := range now.mean {
				now.staysMean[j] = g * x
			}
		}
		times[r.stratum] = append(times[r.stratum], now)
	})
	for b := range m.blocks {
		// Turn them into sums from the first time on.
		ts := times[b]
		for k := len(ts) - 2; k >= 0; k-- {
			ts[k].hazard += ts[k+1].hazard
			for j := range m.p {
				ts[k].mean[j] += ts[k+1].mean[j]
			}
			if m.lingering != nil {
				ts[k].stays += ts[k+1].stays
				for j := range m.p {
					ts[k].staysMean[j] += ts[k+1].staysMean[j]
				}
			}
		}
		if m.lingering != nil && len(ts) > 0 {
			for k, i := range m.lingering.rows {
				h, v := ts[0].stays, make([]float64, m.p)
				copy(v, ts[0].staysMean)
				if e := sort.Search(len(ts), func(k int) bool { return ts[k].time <= m.data.Time[i] }); e < len(ts) {
					h -= ts[e].stays
					for j := range v {
						v[j] -= ts[e].staysMean[j]
					}
				}
				f := risk[i] / m.lingering.stayed[k]
				expected[i] += f * h
				for j := range v {
					score[i][j] -= f * (m.full().z[i*m.p+j]*h - v[j])
				}
			}
		}
		upTo := func(t float64) (float64, []float64) {
			k := sort.Search(len(ts), func(k int) bool { return ts[k].time <= t })
			if k == len(ts) {
				return 0, nil
			}
			return ts[k].hazard, ts[k].mean
		}
		for _, i := range m.full().byTime[b] {
			h1, v1 := upTo(m.data.Time[i])
			h0, v0 := upTo(m.from(i))
			expected[i] += risk[i] * (h1 - h0)
			for j := range m.p {
				v := 0.0
				if v1 != nil {
					v = v1[j]
				}
				if v0 != nil {
					v -= v0[j]
				}
				score[i][j] -= risk[i] * (m.full().z[i*m.p+j]*(h1-h0) - v)
				score[i][j] *= m.scale[j]
			}
		}
	}
	return score, expected, true
}

// addRobust adds what clustering changes: the covariance and the score test.
func (c *Cox) addRobust(start *coxLikelihood, cov [][]float64) error {
	m := c.model
	_, n := m.clusters()
	c.Clusters = n
	at, err := m.grouped(c.beta, make([]float64, m.p))
	if err != nil {
		return err
	}
	c.Robust = sandwich(m.unscaled(cov), at[0].meat)
	blankVanished(c.Robust, c.Var)
	if x, ok := quadratic(at[1].meat, at[1].total); ok && n > m.p {
		c.RobustScore = chiSquare("score test allowing for clusters", x, float64(m.p))
		c.HasRobustScore = true
	}
	return nil
}

// blankVanished makes NaN what a robust covariance has of a column whose
// scores cancel out within every cluster, as they do where there is one
// cluster, or where all events fall at one time: what is left is the error of
// the sums, a millionth of the model's standard error or less, and no error of
// the estimate.
func blankVanished(robust, model [][]float64) {
	for j := range robust {
		if robust[j][j] > 1e-12*model[j][j] {
			continue
		}
		for k := range robust {
			robust[j][k], robust[k][j] = math.NaN(), math.NaN()
		}
	}
}

// vanished says that the covariance to use was left blank for a column.
func (c *Cox) vanished() bool {
	v := c.Covariance()
	for j := range v {
		if math.IsNaN(v[j][j]) {
			return true
		}
	}
	return false
}

// groupedScore is the sum over clusters of the products of their scores, and
// the sum of their scores.
type groupedScore struct {
	meat  [][]float64
	total []float64
}

// grouped are the scores at some coefficients, grouped by cluster.
func (m *coxModel) grouped(betas ...[]float64) ([]groupedScore, error) {
	of, clusters := m.clusters()
	if m.fast != nil {
		var at []*lived
		for _, beta := range betas {
			g, ok := m.fast.lived(beta)
			if !ok {
				return nil, fmt.Errorf("errors grouped by cluster: %w", errOverflow)
			}
			at = append(at, g)
		}
		return m.fast.grouped(at, of, clusters), nil
	}
	var out []groupedScore
	for _, beta := range betas {
		score, _, ok := m.scoreResiduals(beta)
		if !ok {
			return nil, fmt.Errorf("errors grouped by cluster: %w", errOverflow)
		}
		out = append(out, m.meat(score, of, clusters))
	}
	return out, nil
}

// meat sums the scores, a row per row of the data and unit of weight.
func (m *coxModel) meat(score [][]float64, of []int32, clusters int) groupedScore {
	u := make([]float64, clusters*m.p)
	out := groupedScore{square(m.p), make([]float64, m.p)}
	for i, s := range score {
		to := u[int(of[i])*m.p : (int(of[i])+1)*m.p]
		for j, x := range s {
			to[j] += m.weight(i) * x
			out.total[j] += m.weight(i) * x
		}
	}
	for g := range clusters {
		for i := range m.p {
			for j := range m.p {
				out.meat[i][j] += u[g*m.p+i] * u[g*m.p+j]
			}
		}
	}
	return out
}

// sandwich is v meat v.
func sandwich(v, meat [][]float64) [][]float64 {
	p := len(v)
	out, half := square(p), square(p)
	for i := range p {
		for j := range p {
			for k := range p {
				half[i][j] += v[i][k] * meat[k][j]
			}
		}
	}
	for i := range p {
		for j := i; j < p; j++ {
			for k := range p {
				out[i][j] += half[i][k] * v[k][j]
			}
			out[j][i] = out[i][j]
		}
	}
	return out
}

// Schoenfeld is one residual per event, by stratum and time.
func (c *Cox) Schoenfeld() ([]SchoenfeldResidual, error) {
	m := c.model
	if m.ties == Discrete {
		return nil, fmt.Errorf("Schoenfeld residuals: %w", ErrNotDiscrete)
	}
	risk, ok := m.risks(c.beta)
	if !ok {
		return nil, fmt.Errorf("Schoenfeld residuals: %w", errOverflow)
	}
	var out []SchoenfeldResidual
	m.sweep(risk, func(r *riskSet) {
		for _, i := range r.events {
			v := make([]float64, m.p)
			for j := range v {
				v[j] = m.full().z[i*m.p+j]
				for _, x := range r.pieces {
					v[j] -= x.count / r.weight * r.mean(x, j)
				}
				v[j] *= m.scale[j]
			}
			out = append(out, SchoenfeldResidual{Row: i, Stratum: m.strata[r.stratum], Time: r.time, Value: v})
		}
	})
	sort.SliceStable(out, func(a, b int) bool {
		x, y := out[a], out[b]
		if x.Stratum != y.Stratum {
			return x.Stratum < y.Stratum
		}
		if x.Time != y.Time {
			return x.Time < y.Time
		}
		return x.Row < y.Row
	})
	return out, nil
}
