package survival

import (
	"context"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync"

	"plybook/analysis/stats"
)

// Resampled is what fitting a landmark model anew to samples of persons says
// of it.
type Resampled struct {
	Draws, Failed int
	// Optimism is by how much each measure looks better on the rows fitted
	// than on others: the mean, over samples, of the measure of the model of
	// the sample on the sample less that on all rows (Harrell, Lee and Mark
	// 1996, Stat Med 15:361). Corrected is the measure less its optimism.
	Optimism, Corrected Scores
	// StdErr is the standard deviation, over samples, of each measure of the
	// first model on the sample: by how much it would vary with other persons.
	// Low and High are Corrected less and plus as many of them as the level
	// says.
	StdErr, Low, High Scores
	// RiskErr is the error of the complementary log-log of each risk asked
	// for: the distance between the quarters of those of the samples over
	// 1.349, as of a normal curve. A risk that is 0 in some samples, where none
	// of theirs had the event at such times, so does no harm to the others.
	RiskErr []float64
}

// Subject is a life at risk at a time, with its values.
type Subject struct {
	At float64
	X  []float64
}

// Resample fits the model anew to samples of clusters drawn with replacement,
// each with a stream of its own, so that the outcome does not hang on how many
// run at once; each fit has the columns of the first. of are lives of which
// the interval of the risk is wanted. Fits that do not settle are left out and
// counted; where fewer than half settle it is stats.ErrConvergence. It stops at the
// context's end with its error.
func (l *Landmark) Resample(ctx context.Context, draws int, seed uint64, of []Subject) (*Resampled, error) {
	if draws < 2 {
		return nil, fmt.Errorf("%d samples are too few", draws)
	}
	type one struct {
		ok               bool
		app, test, first Scores
		risk             []float64
	}
	got := make([]one, draws)
	cluster, clusters, _ := numberClusters(l.data.Cluster, l.Rows)
	next := make(chan int)
	var wait sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), draws) {
		wait.Go(func() {
			times, weight := make([]int, clusters), make([]float64, l.Rows)
			for k := range next {
				rng := rand.New(rand.NewPCG(seed, uint64(k)))
				clear(times)
				for range clusters {
					times[rng.IntN(clusters)]++
				}
				for i, g := range cluster {
					weight[i] = float64(times[g])
				}
				base, part, w, err := l.refit(weight)
				if err != nil {
					continue
				}
				seen := newLandmarkSeen(part, l.Ahead, w)
				x := one{ok: true, test: l.seen.scores(base.risks(l.data)), app: seen.scores(base.risks(part)), first: seen.scores(someOf(l.risk, weight))}
				for _, s := range of {
					x.risk = append(x.risk, base.at(s.At, func(j int) float64 { return s.X[j] }))
				}
				got[k] = x
			}
		})
	}
	for k := range draws {
		select {
		case next <- k:
			continue
		case <-ctx.Done():
		}
		break
	}
	close(next)
	wait.Wait()
	if err := ctx.Err(); err != nil {
		return nil, fmt.Errorf("sampling persons: %w", err)
	}
	out := &Resampled{Draws: draws, RiskErr: make([]float64, len(of))}
	for _, x := range got {
		if !x.ok {
			out.Failed++
		}
	}
	if 2*out.Failed > draws {
		return nil, fmt.Errorf("%d of %d samples of persons have no fit: %w", out.Failed, draws, stats.ErrConvergence)
	}
	z := stats.NormalQuantile(0.5 + l.Level/2)
	for m := range Measures {
		var gain, first []float64
		for _, x := range got {
			if x.ok && x.app.Has[m] && x.test.Has[m] && x.first.Has[m] {
				gain, first = append(gain, x.app.Value[m]-x.test.Value[m]), append(first, x.first.Value[m])
			}
		}
		if !l.all.Has[m] || 2*len(gain) < draws {
			continue
		}
		mean, _ := meanSD(gain)
		_, sd := meanSD(first)
		out.Optimism.set(m, mean)
		out.StdErr.set(m, sd)
		out.Corrected.set(m, l.all.Value[m]-mean)
		out.Low.set(m, l.all.Value[m]-mean-z*sd)
		out.High.set(m, l.all.Value[m]-mean+z*sd)
	}
	for i := range of {
		var xs []float64
		for _, x := range got {
			if x.ok {
				xs = append(xs, logLog(x.risk[i]))
			}
		}
		slices.Sort(xs)
		out.RiskErr[i] = (quantileOf(xs, 0.75) - quantileOf(xs, 0.25)) / 1.349
	}
	return out, nil
}

// refit is the model of the rows with a weight, and these rows.
func (l *Landmark) refit(weight []float64) (*landmarkBase, LandmarkData, []float64, error) {
	part, w := l.data.some(weight)
	fit := func(cause int) (*Cox, error) {
		m, err := newCoxModel(part.cox(cause, l.Ahead, l.TimeColumns, w, nil), CoxOptions{Ties: Breslow})
		if err != nil {
			return nil, err
		}
		return m.fit(CoxOptions{Ties: Breslow, MaxIterations: 50})
	}
	event, err := fit(1)
	if err != nil {
		return nil, part, w, err
	}
	var competing *Cox
	if l.Competing != nil {
		if competing, err = fit(2); err != nil {
			return nil, part, w, err
		}
	}
	b := &landmarkBase{}
	return b, part, w, b.from(part, event, competing, l.Ahead, l.TimeColumns, w)
}

// someOf are the values of the rows with a weight.
func someOf(x, weight []float64) []float64 {
	var out []float64
	for i, w := range weight {
		if w > 0 {
			out = append(out, x[i])
		}
	}
	return out
}

func meanSD(xs []float64) (mean, sd float64) {
	for _, x := range xs {
		mean += x / float64(len(xs))
	}
	for _, x := range xs {
		sd += (x - mean) * (x - mean) / float64(len(xs)-1)
	}
	return mean, math.Sqrt(sd)
}

// Bounds is the interval of a risk whose complementary log-log has the error
// stdErr; not ok where there is none. Over 150 drawings of 200 persons, 93
// percent of such intervals held the truth, 90 percent of those between the
// quantiles of the samples themselves.
func (l *Landmark) Bounds(risk, stdErr float64) (low, high float64, ok bool) {
	if !(stdErr > 0) || !finite(stdErr) || risk <= nearlyNone || risk >= nearlyAll {
		return 0, 0, false
	}
	z, x := stats.NormalQuantile(0.5+l.Level/2), logLog(risk)
	return backLogLog(x - z*stdErr), backLogLog(x + z*stdErr), true
}

// quantileOf is a quantile of sorted values, interpolated between the order
// statistics around 1 + (n-1)p.
func quantileOf(sorted []float64, p float64) float64 {
	h := float64(len(sorted)-1) * p
	k := min(int(h), len(sorted)-1)
	if k == len(sorted)-1 {
		return sorted[k]
	}
	return sorted[k] + (h-float64(k))*(sorted[k+1]-sorted[k])
}
