package agreement

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// ICC holds the intraclass correlations of n things, each measured once in
// each of k ways, as Shrout and Fleiss 1979, Psychol Bull 86: 420, name them.
// "Single" is of one reading, "mean" of the mean of k.
type ICC struct {
	Things, Ways int
	// The mean squares: between things, within things, between ways, and what
	// is left.
	Between, Within, Ways2, Error float64
	Bias                          []float64 // mean of each way less the mean of all

	OneWay, OneWayMean           Estimate // (1,1) and (1,k): each thing by ways of its own
	Agreement, AgreementMean     Estimate // (2,1) and (2,k): the ways are a sample of many
	Consistency, ConsistencyMean Estimate // (3,1) and (3,k): these ways and no others
}

// FitICC returns the correlations from readings[thing][way], all rows of one
// length of 2 or more. Intervals: from the F distribution; those of (2,1)
// with Satterthwaite's degrees of freedom (Shrout and Fleiss 1979, page 424).
// Needs three things, else ErrFewPairs; ErrNoSpread where all readings are one.
func FitICC(readings [][]float64, level float64) (*ICC, error) {
	n := len(readings)
	if n < 3 {
		return nil, ErrFewPairs
	}
	k := len(readings[0])
	nf, kf := float64(n), float64(k)
	grand := 0.0
	things, ways := make([]float64, n), make([]float64, k)
	for i, row := range readings {
		for j, v := range row {
			things[i] += v / kf
			ways[j] += v / nf
			grand += v / (nf * kf)
		}
	}
	r := &ICC{Things: n, Ways: k}
	for _, m := range things {
		r.Between += kf * (m - grand) * (m - grand) / (nf - 1)
	}
	for _, m := range ways {
		r.Ways2 += nf * (m - grand) * (m - grand) / (kf - 1)
		r.Bias = append(r.Bias, m-grand)
	}
	for i, row := range readings {
		for j, v := range row {
			e := v - things[i]
			r.Within += e * e / (nf * (kf - 1))
			e -= ways[j] - grand
			r.Error += e * e / ((nf - 1) * (kf - 1))
		}
	}
	// What only rounding leaves is nothing.
	least := 1e-24 * (r.Between + r.Within + r.Ways2 + grand*grand)
	for _, m := range []*float64{&r.Between, &r.Within, &r.Ways2, &r.Error} {
		if *m < least {
			*m = 0
		}
	}
	if r.Between == 0 && r.Within == 0 {
		return nil, ErrNoSpread
	}
	tail := (1 - level) / 2
	f := func(num, den, df1, df2 float64) (low, high float64) { // bounds of num/den by F
		d := distuv.F{D1: df1, D2: df2}
		e := distuv.F{D1: df2, D2: df1}
		return num / den / d.Quantile(1-tail), num / den * e.Quantile(1-tail)
	}
	oneLow, oneHigh := f(r.Between, r.Within, nf-1, nf*(kf-1))
	r.OneWay = Estimate{ratio(r.Between-r.Within, r.Between+(kf-1)*r.Within), single(oneLow, kf), single(oneHigh, kf)}
	r.OneWayMean = Estimate{ratio(r.Between-r.Within, r.Between), 1 - 1/oneLow, 1 - 1/oneHigh}
	conLow, conHigh := f(r.Between, r.Error, nf-1, (nf-1)*(kf-1))
	r.Consistency = Estimate{ratio(r.Between-r.Error, r.Between+(kf-1)*r.Error), single(conLow, kf), single(conHigh, kf)}
	r.ConsistencyMean = Estimate{ratio(r.Between-r.Error, r.Between), 1 - 1/conLow, 1 - 1/conHigh}
	r.agreement(tail)
	return r, nil
}

// agreement fills in the two forms in which the ways are a sample.
func (r *ICC) agreement(tail float64) {
	n, k := float64(r.Things), float64(r.Ways)
	v := ratio(r.Between-r.Error, r.Between+(k-1)*r.Error+k*(r.Ways2-r.Error)/n)
	r.Agreement = Estimate{v, math.NaN(), math.NaN()}
	r.AgreementMean = Estimate{ratio(r.Between-r.Error, r.Between+(r.Ways2-r.Error)/n), math.NaN(), math.NaN()}
	if r.Error == 0 {
		return // the degrees of freedom are of nothing
	}
	fj := r.Ways2 / r.Error
	a := k*v*fj + n*(1+(k-1)*v) - k*v
	df := (k - 1) * (n - 1) * a * a / ((n-1)*k*k*v*v*fj*fj + (n*(1+(k-1)*v)-k*v)*(n*(1+(k-1)*v)-k*v))
	if !(df > 0) {
		return
	}
	up := distuv.F{D1: n - 1, D2: df}.Quantile(1 - tail)
	down := distuv.F{D1: df, D2: n - 1}.Quantile(1 - tail)
	rest := k*r.Ways2 + (k*n-k-n)*r.Error
	low := n * (r.Between - up*r.Error) / (up*rest + n*r.Between)
	high := n * (down*r.Between - r.Error) / (rest + n*down*r.Between)
	r.Agreement.Low, r.Agreement.High = low, high
	r.AgreementMean.Low, r.AgreementMean.High = k*low/(1+(k-1)*low), k*high/(1+(k-1)*high)
}

// single is the correlation of one reading where the ratio of mean squares is f.
func single(f, k float64) float64 {
	if math.IsInf(f, 1) {
		return 1
	}
	return (f - 1) / (f + k - 1)
}

// ratio is a/b, not a number where b is 0.
func ratio(a, b float64) float64 {
	if b == 0 {
		return math.NaN()
	}
	return a / b
}
