package survival

import (
	"fmt"
	"math"

	"plybook/analysis/stats"
)

// PredictedShare is the share that has not had the event by a time.
type PredictedShare struct {
	Time      float64
	Survival  float64
	StdErr    float64
	Low, High float64
}

// PredictedTime is the time by which a share has had the event.
type PredictedTime struct {
	Quantile  float64
	Time      float64
	StdErr    float64
	Low, High float64 // High is +Inf where it is too large for a number
}

// LogRatio is the logarithm of a ratio with its error.
type LogRatio struct {
	Estimate, StdErr float64
}

func (f *Parametric) profile(x []float64) ([]float64, error) {
	if len(x) != len(f.Names) {
		return nil, fmt.Errorf("%d values, but there are %d columns", len(x), len(f.Names))
	}
	for j, v := range x {
		if !finite(v) {
			return nil, fmt.Errorf("%s is not a finite number", f.Names[j])
		}
	}
	return append([]float64{1}, x...), nil
}

func (f *Parametric) predictor(x []float64) float64 {
	v := f.Coef[0]
	for j, c := range x {
		v += c * f.Coef[j+1]
	}
	return v
}

func (f *Parametric) law() law { return f.Distribution.law(f.Shape) }

// byShape adds to the gradient g that by the shape, where there is one:
// factor times how far z moves with it for the share beyond z to stay as it
// is.
func (f *Parametric) byShape(g []float64, factor, z float64) []float64 {
	if l, ok := f.law().(*gammaLaw); ok {
		return append(g, factor*l.shift(z))
	}
	return g
}

// spread is the standard error of a function with the gradient g, ordered as
// the covariance.
func (f *Parametric) spread(g []float64) float64 {
	v := f.Covariance()
	sum := 0.0
	for i := range v {
		for j := range v {
			sum += g[i] * v[i][j] * g[j]
		}
	}
	return math.Sqrt(math.Max(0, sum))
}

// Survival is the share of those with the values x, one per column, who have
// not had the event by each of the times (above 0). The interval is made by
// the delta method on z = (log t - x'b)/s, so that it stays within 0 and 1,
// and with the robust covariance where clustered. level 0 is 0.95.
func (f *Parametric) Survival(x, times []float64, level float64) ([]PredictedShare, error) {
	full, err := f.profile(x)
	if err != nil {
		return nil, fmt.Errorf("predicted survival: %w", err)
	}
	if level, err = levelOrDefault(level); err != nil {
		return nil, fmt.Errorf("predicted survival: %w", err)
	}
	q := stats.NormalQuantile(0.5 + level/2)
	eta, w := f.predictor(x), f.law()
	var out []PredictedShare
	for _, t := range times {
		if !finite(t) || t <= 0 {
			return nil, fmt.Errorf("predicted survival: the time %g is not above 0", t)
		}
		z := (math.Log(t) - eta) / f.Scale
		g := make([]float64, len(full)+1)
		for j, v := range full {
			g[j] = -v / f.Scale
		}
		g[len(full)] = -z
		se := f.spread(f.byShape(g, -1, z))
		density, _, _ := w.density(z)
		p := PredictedShare{Time: t, Survival: upper(w, z), StdErr: math.Exp(density) * se, Low: upper(w, z+q*se), High: upper(w, z-q*se)}
		if !finite(p.StdErr) || math.IsNaN(p.Survival) || math.IsNaN(p.Low) || math.IsNaN(p.High) {
			return nil, fmt.Errorf("predicted survival: %w", errOverflow)
		}
		out = append(out, p)
	}
	return out, nil
}

func upper(w law, z float64) float64 {
	log, _, _ := w.survival(z)
	return math.Exp(log)
}

// Quantile is the time by which the share p (between 0 and 1) of those with
// the values x has had the event; p = 0.5 is the median. The interval is made
// by the delta method on the logarithm of the time. level 0 is 0.95.
func (f *Parametric) Quantile(x []float64, p, level float64) (PredictedTime, error) {
	out := PredictedTime{Quantile: p}
	full, err := f.profile(x)
	if err != nil {
		return out, fmt.Errorf("quantile: %w", err)
	}
	if level, err = levelOrDefault(level); err != nil {
		return out, fmt.Errorf("quantile: %w", err)
	}
	if !(p > 0 && p < 1) {
		return out, fmt.Errorf("quantile: %g is not between 0 and 1", p)
	}
	w := f.law().quantile(p)
	g := f.byShape(append(full, f.Scale*w), f.Scale, w)
	log, se := f.predictor(x)+f.Scale*w, f.spread(g)
	q := stats.NormalQuantile(0.5 + level/2)
	out.Time, out.StdErr = math.Exp(log), math.Exp(log)*se
	out.Low, out.High = math.Exp(log-q*se), math.Exp(log+q*se)
	if !finite(out.Time) || !finite(out.StdErr) || math.IsNaN(out.High) {
		return out, fmt.Errorf("quantile: %w", errOverflow)
	}
	return out, nil
}

// HazardRatio is the log hazard ratio of each column, -b/s, with its error by
// the delta method; ok is false where hazards are not proportional.
func (f *Parametric) HazardRatio() (ratios []LogRatio, ok bool) {
	if !f.Distribution.Proportional() {
		return nil, false
	}
	for j := range f.Names {
		g := make([]float64, len(f.Coef)+1)
		g[j+1] = -1 / f.Scale
		g[len(f.Coef)] = f.Coef[j+1] / f.Scale
		ratios = append(ratios, LogRatio{-f.Coef[j+1] / f.Scale, f.spread(g)})
	}
	return ratios, true
}

// MeanSurvival is the predicted survival at each time, averaged by weight over
// the given rows of the data: what the model says of just these rows, to be
// held against what was seen of them. It is 1 without rows and by time 0.
func (f *Parametric) MeanSurvival(rows []int, times []float64) []float64 {
	w, out := f.law(), make([]float64, len(times))
	etas := f.predictors(rows)
	for k, t := range times {
		if t <= 0 || len(rows) == 0 {
			out[k] = 1
			continue
		}
		y, total := math.Log(t), 0.0
		for j, i := range rows {
			total += f.data.weight(i)
			out[k] += f.data.weight(i) / total * (upper(w, (y-etas[j])/f.Scale) - out[k])
		}
	}
	return out
}

// MeanQuantile is the time by which the share p of the given rows has had the
// event, by the mean of their predicted survival; +Inf where it is too large
// for a number.
func (f *Parametric) MeanQuantile(rows []int, p float64) (float64, error) {
	if !(p > 0 && p < 1) || len(rows) == 0 {
		return 0, fmt.Errorf("quantile of the mean of %d rows: %g is not between 0 and 1", len(rows), p)
	}
	etas, z := f.predictors(rows), f.law().quantile(p)
	// It lies between those of the single rows.
	low, high := math.Inf(1), math.Inf(-1)
	for _, e := range etas {
		low, high = math.Min(low, e+f.Scale*z), math.Max(high, e+f.Scale*z)
	}
	for range 60 {
		if high-low < 1e-12*(1+math.Abs(high)) {
			break
		}
		mid := low + (high-low)/2
		if t := math.Exp(mid); math.IsInf(t, 1) || f.MeanSurvival(rows, []float64{t})[0] <= 1-p {
			high = mid
		} else {
			low = mid
		}
	}
	return math.Exp(high), nil
}

// predictors are the linear predictors of rows of the data.
func (f *Parametric) predictors(rows []int) []float64 {
	out := make([]float64, len(rows))
	for k, i := range rows {
		out[k] = f.Coef[0]
		for j, x := range f.data.X {
			out[k] += x[i] * f.Coef[j+1]
		}
	}
	return out
}
