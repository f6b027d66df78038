// Package agreement holds the mathematics of measuring the same thing more
// than once: limits of agreement, intraclass correlations, measurement error
// and kappa. Readings come in as plain slices, one element a reading or pair;
// the finished values go out in the unit of the readings.
package agreement

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// The errors of data that say nothing about agreement.
var (
	ErrFewPairs  = errors.New("fewer than three things were measured twice")
	ErrNoSpread  = errors.New("every reading is the same")
	ErrOneRating = errors.New("all ratings fall into one category")
)

// Estimate is a number with its interval, NaN where it could not be had.
type Estimate struct{ Value, Low, High float64 }

// Pair is one thing measured by the first way and by the second. Cluster
// numbers the person whose thing it was.
type Pair struct {
	First, Second float64
	Cluster       int
}

// Limits are the limits of agreement between two ways of measuring.
type Limits struct {
	Pairs, Clusters int
	// Repeated says that clusters hold several pairs, so that the variance of
	// the differences has a part between and a part within clusters.
	Repeated bool
	Bias     Estimate // mean of first less second, each cluster counting once
	SD       float64  // of the difference of one new pair
	Between  float64  // SD of the differences between clusters; 0 unless Repeated
	Within   float64  // SD of the differences within clusters; 0 unless Repeated
	Lower    Estimate // Bias less z SD
	Upper    Estimate // Bias plus z SD
	// Slope is that of the difference on the mean of the two, with its p value
	// from errors that allow for clusters (t on Clusters - 1 degrees of
	// freedom where Repeated): agreement that depends on size.
	Slope, SlopeP float64
	// Spread is the slope of the size of the difference, its distance from
	// Bias, on the mean of the two, and its p value likewise (Bland and Altman
	// 1999, Stat Methods Med Res 8: 135, section 3.2).
	Spread, SpreadP float64
}

// FitLimits returns the limits within which the difference of a share `level`
// of new pairs lies.
//
// One pair a cluster: Bland and Altman 1986, Lancet i: 307. Several: the
// variance of one difference is that of the cluster means plus (1 - 1/m) of
// that within clusters, m being the harmonic mean of the pairs a cluster
// (Bland and Altman 2007, J Biopharm Stat 17: 571, where the true value
// varies). Intervals of the limits are put together from those of the mean
// (t) and of the variances (chi-squared) by Zou 2013, Stat Methods Med Res 22:
// 630. Needs three clusters, else ErrFewPairs; ErrNoSpread where no two
// readings differ.
func FitLimits(pairs []Pair, level float64) (*Limits, error) {
	var n int
	for _, p := range pairs {
		n = max(n, p.Cluster+1)
	}
	sum, count := make([]float64, n), make([]float64, n)
	same := true
	for _, p := range pairs {
		sum[p.Cluster] += p.First - p.Second
		count[p.Cluster]++
		same = same && p.First == pairs[0].First && p.Second == pairs[0].First
	}
	var means []float64
	inverse := 0.0
	for k := range sum {
		if count[k] > 0 {
			sum[k] /= count[k]
			means = append(means, sum[k])
			inverse += 1 / count[k]
		}
	}
	k := float64(len(means))
	if len(means) < 3 {
		return nil, ErrFewPairs
	}
	if same {
		return nil, ErrNoSpread
	}
	l := &Limits{Pairs: len(pairs), Clusters: len(means), Repeated: len(pairs) > len(means)}
	bias, vMean := meanVar(means)
	share := 1 - inverse/k // 1 - 1/m, m the harmonic mean
	var within, dfWithin float64
	if l.Repeated {
		for _, p := range pairs {
			d := p.First - p.Second - sum[p.Cluster]
			within += d * d
		}
		dfWithin = float64(len(pairs)) - k
		within /= dfWithin
		l.Within = math.Sqrt(within)
		l.Between = math.Sqrt(math.Max(0, vMean-within*inverse/k))
	}
	total := vMean + share*within
	l.SD = math.Sqrt(total)

	tail := (1 - level) / 2
	z := distuv.UnitNormal.Quantile(1 - tail)
	t := distuv.StudentsT{Nu: k - 1, Sigma: 1}.Quantile(1 - tail)
	se := math.Sqrt(vMean / k)
	l.Bias = Estimate{bias, bias - t*se, bias + t*se}
	down, up := varianceBounds(vMean, k-1, tail)
	down2, up2 := 0.0, 0.0
	if l.Repeated {
		down2, up2 = varianceBounds(within, dfWithin, tail)
	}
	low := total - math.Hypot(vMean-down, share*(within-down2))
	high := total + math.Hypot(up-vMean, share*(up2-within))
	inner := math.Hypot(t*se, z*(l.SD-math.Sqrt(math.Max(0, low))))
	outer := math.Hypot(t*se, z*(math.Sqrt(high)-l.SD))
	l.Lower = Estimate{bias - z*l.SD, bias - z*l.SD - outer, bias - z*l.SD + inner}
	l.Upper = Estimate{bias + z*l.SD, bias + z*l.SD - inner, bias + z*l.SD + outer}
	l.Slope, l.SlopeP = slope(pairs, n, func(d float64) float64 { return d })
	l.Spread, l.SpreadP = slope(pairs, n, func(d float64) float64 { return math.Abs(d - bias) })
	return l, nil
}

// varianceBounds is the interval of a variance of df degrees of freedom.
func varianceBounds(v, df, tail float64) (low, high float64) {
	c := distuv.ChiSquared{K: df}
	return v * df / c.Quantile(1-tail), v * df / c.Quantile(tail)
}

func meanVar(x []float64) (mean, variance float64) {
	for _, v := range x {
		mean += v
	}
	mean /= float64(len(x))
	for _, v := range x {
		variance += (v - mean) * (v - mean)
	}
	return mean, variance / float64(len(x)-1)
}

// slope regresses y of the difference on the mean of the two, with the
// residuals of a cluster summed before they are squared, times n/(n-1) of the
// clusters.
func slope(pairs []Pair, clusters int, y func(difference float64) float64) (b, p float64) {
	var mx, my float64
	n := float64(len(pairs))
	for _, q := range pairs {
		mx += (q.First + q.Second) / 2 / n
		my += y(q.First-q.Second) / n
	}
	var sxx, sxy float64
	for _, q := range pairs {
		x := (q.First+q.Second)/2 - mx
		sxx += x * x
		sxy += x * (y(q.First-q.Second) - my)
	}
	if sxx <= 1e-12*mx*mx*n || sxx == 0 {
		return math.NaN(), math.NaN()
	}
	b = sxy / sxx
	score := make([]float64, clusters)
	seen := make([]bool, clusters)
	for _, q := range pairs {
		x := (q.First+q.Second)/2 - mx
		score[q.Cluster] += x * (y(q.First-q.Second) - my - b*x)
		seen[q.Cluster] = true
	}
	g, meat := 0.0, 0.0
	for k, s := range score {
		if seen[k] {
			g++
			meat += s * s
		}
	}
	se := math.Sqrt(meat*g/(g-1)) / sxx
	if !(se > 1e-12*math.Abs(b)) {
		return b, math.NaN()
	}
	return b, 2 * distuv.StudentsT{Nu: g - 1, Sigma: 1}.CDF(-math.Abs(b)/se)
}
