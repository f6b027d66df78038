package agreement

import (
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Error is how far readings of one thing scatter about their mean.
type Error struct {
	Things, Readings int
	SD               Estimate // within-thing standard deviation: the technical error of measurement
	Change           Estimate // smallest change between two single readings that exceeds it
	ICC              Estimate // one-way, of a single reading, for unequal numbers too
}

// FitError returns the measurement error from the readings of each thing, in
// any number; things read once are passed over. SD is the root of the mean
// square within things; for pairs it is Dahlberg's root of the summed squared
// differences over 2n. Change is z sqrt(2) SD, of a share `level` of repeated
// readings (Bland and Altman 1996, BMJ 313: 744). The intraclass correlation
// allows for unequal numbers by n0 (Donner 1986, Int Stat Rev 54: 67), its
// interval is exact where numbers are equal. Needs three things read twice, else
// ErrFewPairs; ErrNoSpread where all readings are one.
func FitError(things [][]float64, level float64) (*Error, error) {
	e := &Error{}
	var sum, squares, within float64
	same, first := true, math.NaN()
	type part struct{ mean, n float64 }
	var parts []part
	for _, x := range things {
		if len(x) < 2 {
			continue
		}
		if e.Things == 0 {
			first = x[0]
		}
		m := 0.0
		for _, v := range x {
			m += v / float64(len(x))
			same = same && v == first
		}
		for _, v := range x {
			within += (v - m) * (v - m)
		}
		n := float64(len(x))
		e.Things++
		e.Readings += len(x)
		sum += n * m
		squares += n * n
		parts = append(parts, part{m, n})
	}
	if e.Things < 3 {
		return nil, ErrFewPairs
	}
	if same {
		return nil, ErrNoSpread
	}
	k, n := float64(e.Things), float64(e.Readings)
	tail := (1 - level) / 2
	df := n - k
	within /= df
	low, high := varianceBounds(within, df, tail)
	e.SD = Estimate{math.Sqrt(within), math.Sqrt(low), math.Sqrt(high)}
	z := math.Sqrt2 * distuv.UnitNormal.Quantile(1-tail)
	e.Change = Estimate{z * e.SD.Value, z * e.SD.Low, z * e.SD.High}

	between := 0.0
	for _, p := range parts {
		between += p.n * (p.mean - sum/n) * (p.mean - sum/n)
	}
	between /= k - 1
	n0 := (n - squares/n) / (k - 1)
	e.ICC = Estimate{ratio(between-within, between+(n0-1)*within), math.NaN(), math.NaN()}
	if within > 0 {
		f := between / within
		e.ICC.Low = single(f/distuv.F{D1: k - 1, D2: df}.Quantile(1-tail), n0)
		e.ICC.High = single(f*distuv.F{D1: df, D2: k - 1}.Quantile(1-tail), n0)
	}
	return e, nil
}
